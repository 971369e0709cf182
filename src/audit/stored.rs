//! What of a question about another sheet the store answers by itself.
//!
//! It does so only where nothing else has changed since the audit (the job's terms are those of the
//! rules at hand), the old sheet is still at hand, and what the old sheet would give by the stored values is
//! what was found.

use super::Error;
use super::desk::Desk;
use super::line::path_of;
use super::store::Reader;
use super::what_if::Sheet;
use crate::finding::Class;
use crate::inspection::{Held, Stored, anew, requirement, touched};
use crate::job::Rules;
use crate::sheet::{Machine, Material, library};
use rusqlite::Rows;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

/// A sheet in the place of another, put to a store.
pub(super) struct Question<'a> {
    desk: Desk<'a>,
    instead_of: &'a str,
    /// The column of the sheet's name, and the new sheet's digest.
    column: &'static str,
    digest: Option<&'a str>,
    /// By the old sheet's digest.
    swaps: HashMap<String, Swap>,
    machines: HashMap<String, Arc<Machine>>,
}

/// One sheet in the place of one other.
struct Swap {
    old: Arc<Material>,
    new: Arc<Material>,
    touched: Vec<&'static str>,
}

/// A job that is held against the old sheet.
pub(super) struct Row<'r> {
    pub key: &'r [u8],
    pub member: &'r str,
    pub state: &'r str,
    pub digest: Option<&'r str>,
    sheet: Option<&'r str>,
    machine: Option<&'r str>,
    hold_from: Option<&'r str>,
    declared: Option<&'r str>,
    held: Option<&'r str>,
    terms: &'r str,
}

/// A finding as the store has it.
#[derive(Debug, Clone, Copy)]
struct Finding {
    requirement: &'static str,
    class: Class,
    is_conceded: bool,
}

impl<'a> Question<'a> {
    /// A question; with `all_anew` none that the store answers.
    pub fn new(rules: &'a Rules, sheet: &'a Sheet, instead_of: &'a str, all_anew: bool) -> Self {
        let (column, digest) = match sheet {
            Sheet::Material(material) => ("material", material.digest.as_deref()),
            Sheet::Machine(machine) => ("machine", machine.digest.as_deref()),
        };
        let mut question = Self {
            desk: Desk::new(rules),
            instead_of,
            column,
            digest: digest.filter(|_| !all_anew),
            swaps: HashMap::new(),
            machines: HashMap::new(),
        };
        let settings = || rules.list.iter().map(|rule| &rule.settings);
        for machine in settings().filter_map(|settings| settings.machine.as_ref()) {
            if let Some(digest) = &machine.digest {
                question
                    .machines
                    .insert(digest.clone(), Arc::clone(machine));
            }
        }
        let (Sheet::Material(new), false) = (sheet, all_anew) else {
            return question;
        };
        let named = settings().filter_map(|settings| settings.materials.as_ref());
        let named = named.flatten().flatten().cloned();
        let library = library::materials().iter().cloned().map(Arc::new);
        for old in named.chain(library).filter(|old| old.name == instead_of) {
            let (Some(digest), Some(touched)) = (&old.digest, touched(&old, new)) else {
                continue;
            };
            // A concession may cover what was not found so far, or hold for one sheet's name alone.
            let is_open = settings()
                .flat_map(|settings| settings.concessions.iter())
                .any(|one| {
                    touched.contains(&one.requirement.as_str())
                        || one.material.is_some() && new.name != old.name
                });
            if !is_open {
                let (digest, new) = (digest.clone(), Arc::clone(new));
                question.swaps.insert(digest, Swap { old, new, touched });
            }
        }
        question
    }

    /// Goes through the jobs that are held against the old sheet, until `each` is false: each with
    /// the state it would come to, or none where it has to be read.
    pub fn each(
        &self,
        reader: &Reader,
        each: &mut dyn FnMut(&Row<'_>, Option<&str>) -> bool,
    ) -> Result<(), Error> {
        let column = self.column;
        // Where several materials are named, their names stand with commas between.
        let question = format!(
            "SELECT _job.id, key, member, state, digest, {column}_digest, machine_digest, \
             hold_from, declared, held, terms FROM _job JOIN _file ON _file.id = file \
             WHERE gone_run IS NULL AND state NOT IN ('failed', 'no-rule') AND \
             ({column} = ?1 OR instr(',' || {column} || ',', ',' || ?1 || ',') > 0) ORDER BY _job.id"
        );
        let mut ask = reader.connection().prepare(&question)?;
        let mut rows = ask.query([self.instead_of])?;
        let is_needed = self.swaps.values().any(|swap| !swap.touched.is_empty());
        let mut ask = reader.connection().prepare(
            "SELECT job, requirement, class, conceded FROM _finding WHERE ?1 ORDER BY job",
        )?;
        let mut findings = Findings {
            rows: ask.query([is_needed])?,
            next: None,
            of_job: Vec::new(),
        };
        while let Some(row) = rows.next()? {
            let text = |at: usize| -> Result<Option<&str>, Error> {
                let text = row.get_ref(at)?.as_str_or_null();
                Ok(text.map_err(rusqlite::Error::from)?)
            };
            let job = Row {
                key: row.get_ref(1)?.as_blob().unwrap_or_default(),
                member: text(2)?.unwrap_or_default(),
                state: text(3)?.unwrap_or_default(),
                digest: text(4)?,
                sheet: text(5)?,
                machine: text(6)?,
                hold_from: text(7)?,
                declared: text(8)?,
                held: text(9)?,
                terms: text(10)?.unwrap_or_default(),
            };
            let found = findings.of(row.get(0)?)?;
            let then = if self.digest.is_some() && job.sheet == self.digest {
                Some(job.state)
            } else {
                self.then(&job, found)
            };
            if !each(&job, then) {
                break;
            }
        }
        Ok(())
    }

    /// What a job would come to under the new sheet; none where it has to be read.
    fn then(&self, job: &Row<'_>, findings: &[Finding]) -> Option<&'static str> {
        let swap = self.swaps.get(job.sheet?)?;
        if *self.desk.terms(&path_of(job.key)) != *job.terms {
            return None;
        }
        if swap.touched.is_empty() {
            return STATES.into_iter().find(|state| *state == job.state);
        }
        let values: BTreeMap<String, Option<f64>> = serde_json::from_str(job.held?).ok()?;
        let machine = match job.machine {
            Some(digest) => Some(Arc::clone(self.machines.get(digest)?)),
            None => None,
        };
        let mut found: Vec<(&str, Class)> = Vec::new();
        for finding in findings {
            match found.iter_mut().find(|(id, _)| *id == finding.requirement) {
                Some((_, class)) => *class = finding.class.max(*class),
                None => found.push((finding.requirement, finding.class)),
            }
        }
        let stored = Stored {
            values: &values,
            declared: job.declared,
            found: &found,
        };
        let under = |sheet: &Arc<Material>| {
            let held = Held {
                materials: vec![Some(Arc::clone(sheet))],
                machine: machine.clone(),
                ..Held::default()
            };
            anew(&swap.touched, &stored, &held)
        };
        let is_touched = |id: &str| swap.touched.contains(&id);
        let mut before = found.clone();
        before.retain(|(id, _)| is_touched(id));
        before.sort_unstable();
        if under(&swap.old)? != before {
            return None;
        }
        let hold_from = class(job.hold_from?)?;
        let (mut is_open, mut is_conceded) = (false, false);
        for (_, class) in under(&swap.new)? {
            is_open |= class >= hold_from;
        }
        for finding in findings.iter().filter(|one| !is_touched(one.requirement)) {
            let holds = finding.class >= hold_from;
            is_open |= holds && !finding.is_conceded;
            is_conceded |= holds && finding.is_conceded;
        }
        Some(match (is_open, is_conceded) {
            (true, _) => "held",
            (false, true) => "released-by-concession",
            (false, false) => "released",
        })
    }
}

/// What inspected jobs come to.
const STATES: [&str; 3] = ["released", "released-by-concession", "held"];

fn class(word: &str) -> Option<Class> {
    Class::ALL.into_iter().find(|class| class.word() == word)
}

/// Findings, job by job in the order of their numbers.
struct Findings<'s> {
    rows: Rows<'s>,
    next: Option<(i64, Finding)>,
    of_job: Vec<Finding>,
}

impl Findings<'_> {
    /// The findings of a job; of one before it none can be asked any more.
    fn of(&mut self, job: i64) -> Result<&[Finding], Error> {
        self.of_job.clear();
        loop {
            match self.next.take() {
                Some((of, finding)) if of == job => self.of_job.push(finding),
                Some((of, finding)) if of > job => {
                    self.next = Some((of, finding));
                    return Ok(&self.of_job);
                }
                _ => {}
            }
            let Some(row) = self.rows.next()? else {
                return Ok(&self.of_job);
            };
            let text = |at| row.get_ref(at).ok().and_then(|text| text.as_str().ok());
            let finding = Finding {
                // Of the same terms there is none that is not registered.
                requirement: text(1).and_then(requirement).map_or("", |known| known.id),
                // What no class is called counts as the most harmful.
                class: text(2).and_then(class).unwrap_or(Class::Critical),
                is_conceded: row.get(3)?,
            };
            self.next = Some((row.get(0)?, finding));
        }
    }
}
