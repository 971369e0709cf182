//! What another sheet would change.
//!
//! A job that was not held against the sheet in question stays what it is. What of the others follows
//! from the values they were held by is told from the store ([`stored`](super::stored)); the rest is read
//! again, and the answer says how many those were. The store is not changed.

use super::desk::Desk;
use super::line::{Job, path_of};
use super::store::Reader;
use super::stored::{Question, Row};
use super::walk::Found;
use super::{Error, Watch};
use crate::job::{Rule, Rules};
use crate::sheet::{Machine, Material};
use crossbeam_channel::{Receiver, Sender, bounded};
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A sheet that is put in the place of another.
#[derive(Debug, Clone)]
pub enum Sheet {
    /// A material sheet.
    Material(Arc<Material>),
    /// A machine sheet.
    Machine(Arc<Machine>),
}

/// What would be otherwise.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Answer {
    /// Jobs in the store.
    pub jobs: u64,
    /// Jobs whose verdict follows from the store alone.
    pub from_store: u64,
    /// Jobs that had to be read again.
    pub reread: u64,
    /// Of those, jobs that could not be read any more, or not as they were.
    pub lost: u64,
    /// Jobs that would come to something else: path, member, state now, state then; by path.
    pub changed: Vec<[String; 4]>,
    /// Jobs that had to be read again: path, member, state now, and state then, or nothing for one that is
    /// lost; by path.
    pub read: Vec<[String; 4]>,
}

/// A file with jobs that have to be read again: each one's name within it, and its state.
struct Task {
    path: PathBuf,
    digest: Option<String>,
    members: Vec<(String, String)>,
}

/// What became of jobs: path, member, state now, and then, or nothing for one that is lost; and whether
/// they were read again.
struct Told(Vec<[String; 4]>, bool);

/// Finds what would change if `sheet` were in the place of the sheet called `instead_of`. The rules
/// are those that the store was audited by. With `all_anew` nothing is told from stored values.
///
/// # Errors
///
/// Where the store cannot be read, or no job in it was held against a sheet of that name.
pub fn what_if(
    store: &Path,
    rules: &Rules,
    (sheet, instead_of): (&Sheet, &str),
    (threads, all_anew): (usize, bool),
    watch: &dyn Watch,
) -> Result<Answer, Error> {
    let threads = threads.max(1);
    let question = Question::new(rules, sheet, instead_of, all_anew);
    let new_rules = replaced(rules, sheet, instead_of);
    let desk = Desk::new(&new_rules);
    let mut answer = Answer::default();
    let (give, take) = bounded::<Task>(threads * 4);
    let (tell, told) = bounded::<Told>(64);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            let (take, tell, desk) = (take.clone(), tell.clone(), &desk);
            scope.spawn(move || look_at_all(desk, &take, &tell, watch));
        }
        drop(take);
        let question = &question;
        let asker = scope.spawn(move || ask(store, question, give, &tell));
        for Told(jobs, is_read) in told {
            for job in jobs {
                let [_, _, now, then] = &job;
                answer.lost += u64::from(then.is_empty());
                if !then.is_empty() && now != then {
                    answer.changed.push(job.clone());
                }
                if is_read {
                    answer.read.push(job);
                }
            }
        }
        let asked = asker.join().map_err(|_| Error::Stopped)??;
        if asked.concerned == 0 {
            return Err(Error::Question(format!(
                "no job is held against a sheet called `{instead_of}`"
            )));
        }
        answer.jobs = asked.jobs;
        answer.reread = asked.reread;
        answer.from_store = asked.jobs - asked.reread;
        Ok(())
    })?;
    answer.changed.sort();
    answer.read.sort();
    Ok(answer)
}

/// How many jobs there are, how many are held against the old sheet, and how many must be read.
#[derive(Default)]
struct Asked {
    jobs: u64,
    concerned: u64,
    reread: u64,
}

/// Goes through the store: tells what follows from it, and gives away what has to be read.
fn ask(
    store: &Path,
    question: &Question<'_>,
    give: Sender<Task>,
    tell: &Sender<Told>,
) -> Result<Asked, Error> {
    let reader = Reader::open(store)?;
    let mut asked = Asked {
        jobs: reader.connection().query_row(
            "SELECT count(*) FROM _job JOIN _file ON _file.id = file WHERE gone_run IS NULL",
            [],
            |row| row.get(0),
        )?,
        ..Asked::default()
    };
    let mut open: Option<(Vec<u8>, Task)> = None;
    let mut is_over = false;
    question.each(&reader, &mut |row: &Row<'_>, then: Option<&str>| {
        asked.concerned += 1;
        let Some(then) = then else {
            asked.reread += 1;
            let member = (row.member.to_owned(), row.state.to_owned());
            match &mut open {
                Some((key, task)) if key == row.key => task.members.push(member),
                open => {
                    let task = Task {
                        path: path_of(row.key),
                        digest: row.digest.map(str::to_owned),
                        members: vec![member],
                    };
                    let before = open.replace((row.key.to_owned(), task));
                    is_over |= before.is_some_and(|(_, task)| give.send(task).is_err());
                }
            }
            return !is_over;
        };
        if then != row.state {
            let path = path_of(row.key).to_string_lossy().into_owned();
            let changed = [
                path,
                row.member.to_owned(),
                row.state.to_owned(),
                then.to_owned(),
            ];
            is_over |= tell.send(Told(vec![changed], false)).is_err();
        }
        !is_over
    })?;
    if let Some((_, task)) = open {
        // Where nobody takes it any more, the answer is stopped.
        let _ = give.send(task);
    }
    Ok(asked)
}

fn look_at_all(desk: &Desk<'_>, take: &Receiver<Task>, tell: &Sender<Told>, watch: &dyn Watch) {
    for task in take {
        if watch.is_stopped() || tell.send(look(desk, task)).is_err() {
            return;
        }
    }
}

/// Looks at jobs under the other sheet; one that is no longer what was audited is lost.
fn look(desk: &Desk<'_>, task: Task) -> Told {
    let path = task.path.to_string_lossy().into_owned();
    let told = |after: &mut dyn FnMut(&str) -> Option<String>| {
        let one = |(member, state): (String, String)| {
            let then = after(&member).unwrap_or_default();
            [path.clone(), member, state, then]
        };
        Told(task.members.into_iter().map(one).collect(), true)
    };
    let Ok(found) = Found::named(task.path.clone()) else {
        return told(&mut |_| None);
    };
    let mut after: HashMap<String, String> = HashMap::new();
    let (site, _) = desk.examine(&found, "", &mut |(_, member, outcome, no_rule)| {
        if let Ok(job) = Job::of(member, outcome, no_rule) {
            after.insert(member.to_owned(), job.state().to_owned());
        }
    });
    let is_same = site.digest == task.digest;
    told(&mut |member| {
        let then = after.remove(member)?;
        (is_same && then != "failed").then_some(then)
    })
}

/// The rules with the one sheet in the place of the other.
fn replaced(rules: &Rules, sheet: &Sheet, instead_of: &str) -> Rules {
    let one = |rule: &Rule| {
        let mut rule = rule.clone();
        match sheet {
            Sheet::Material(material) => match &mut rule.settings.materials {
                // The job is asked: what declares this material is held against the sheet.
                None => {
                    rule.settings.instead = Some((instead_of.to_owned(), Arc::clone(material)));
                }
                Some(materials) => {
                    for slot in materials.iter_mut().flatten() {
                        if slot.name == instead_of {
                            *slot = Arc::clone(material);
                        }
                    }
                }
            },
            Sheet::Machine(machine) => {
                if rule
                    .settings
                    .machine
                    .as_ref()
                    .is_some_and(|held| held.name == instead_of)
                {
                    rule.settings.machine = Some(Arc::clone(machine));
                }
            }
        }
        rule
    };
    Rules {
        list: rules.list.iter().map(one).collect(),
        written: rules.written.clone(),
    }
}
