//! What another sheet would change.
//!
//! A job that was not held against the sheet in question, or that was held against just this one, or
//! against several, stays what it is: the store is enough. Every other is read again, since a sheet's figures work
//! together; the answer says how many those were. The store is not changed.

use super::desk::Desk;
use super::line::{Job, path_of};
use super::store::Reader;
use super::walk::Found;
use super::{Error, Watch};
use crate::job::{Rule, Rules};
use crate::sheet::{Machine, Material};
use crossbeam_channel::bounded;
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
}

/// A job that has to be read again.
struct Task {
    path: PathBuf,
    member: String,
    state: String,
    digest: Option<String>,
}

/// Finds what would change if `sheet` were in the place of the sheet called `instead_of`. The rules
/// are those that the store was audited by.
///
/// # Errors
///
/// Where the store cannot be read, or no job in it was held against a sheet of that name.
pub fn what_if(
    store: &Path,
    rules: &Rules,
    (sheet, instead_of): (&Sheet, &str),
    threads: usize,
    watch: &dyn Watch,
) -> Result<Answer, Error> {
    let reader = Reader::open(store)?;
    let (column, digest) = match sheet {
        Sheet::Material(material) => ("material", &material.digest),
        Sheet::Machine(machine) => ("machine", &machine.digest),
    };
    let connection = reader.connection();
    let count = |condition: &str| {
        let question = format!(
            "SELECT count(*) FROM _job JOIN _file ON _file.id = file WHERE gone_run IS NULL AND {condition}"
        );
        connection.query_row(&question, [], |row| row.get::<_, u64>(0))
    };
    // A job of several materials has all their names there, and stays what it is here.
    let concerned = format!("{column} = ?1 AND state <> 'failed'");
    let mut answer = Answer {
        jobs: count("1")?,
        ..Answer::default()
    };
    let rules = replaced(rules, sheet, instead_of);
    let desk = Desk::new(&rules);
    let (give, take) = bounded::<Task>(threads.max(1) * 4);
    let (tell, told) = bounded::<Option<[String; 4]>>(64);
    std::thread::scope(|scope| {
        for _ in 0..threads.max(1) {
            let (take, tell, desk) = (take.clone(), tell.clone(), &desk);
            scope.spawn(move || {
                for task in take {
                    if watch.is_stopped() || tell.send(look(desk, task)).is_err() {
                        return;
                    }
                }
            });
        }
        drop((take, tell));
        let asker = scope.spawn({
            let concerned = &concerned;
            move || -> Result<(u64, u64), Error> {
                let reader = Reader::open(store)?;
                let question = format!(
                    "SELECT key, member, state, digest, {column}_digest FROM _job \
                     JOIN _file ON _file.id = file WHERE gone_run IS NULL AND {concerned}"
                );
                let mut ask = reader.connection().prepare(&question)?;
                let mut rows = ask.query([instead_of])?;
                let (mut reread, mut same) = (0, 0);
                while let Some(row) = rows.next()? {
                    let held: Option<String> = row.get(4)?;
                    if digest.is_some() && held == *digest {
                        same += 1;
                        continue;
                    }
                    let key: Vec<u8> = row.get(0)?;
                    let task = Task {
                        path: path_of(&key),
                        member: row.get(1)?,
                        state: row.get(2)?,
                        digest: row.get(3)?,
                    };
                    reread += 1;
                    if give.send(task).is_err() {
                        break;
                    }
                }
                Ok((reread, same))
            }
        });
        for outcome in told {
            match outcome {
                None => answer.lost += 1,
                Some(changed) if changed[2] != changed[3] => answer.changed.push(changed),
                Some(_) => {}
            }
        }
        let (reread, same) = asker.join().map_err(|_| Error::Stopped)??;
        if reread + same == 0 {
            return Err(Error::Question(format!(
                "no job is held against a sheet called `{instead_of}`"
            )));
        }
        answer.reread = reread;
        answer.from_store = answer.jobs - reread;
        Ok(())
    })?;
    answer.changed.sort();
    Ok(answer)
}

/// Looks at one job under the other sheet; none where it is no longer what was audited.
fn look(desk: &Desk<'_>, task: Task) -> Option<[String; 4]> {
    let found = Found::named(task.path.clone()).ok()?;
    let mut after = None;
    let (site, _) = desk.examine(&found, "", &mut |(_, member, outcome, no_rule)| {
        if member == task.member {
            after = Job::of(member, outcome, no_rule).ok();
        }
    });
    let after = after.filter(|_| site.digest == task.digest)?;
    if after.state() == "failed" {
        return None;
    }
    let path = task.path.to_string_lossy().into_owned();
    Some([path, task.member, task.state, after.state().to_owned()])
}

/// The rules with the one sheet in the place of the other.
fn replaced(rules: &Rules, sheet: &Sheet, instead_of: &str) -> Rules {
    let one = |rule: &Rule| {
        let mut rule = rule.clone();
        match sheet {
            Sheet::Material(material) => match &mut rule.settings.materials {
                // The job was asked: those that declare this material are held against the sheet.
                None => rule.settings.materials = Some(vec![Some(Arc::clone(material))]),
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
