//! What a store has to tell: the sum of a run, and ready reports.

use super::{Error, Reader};

/// How many lines a sum shows of a list (chosen).
const SHOWN: i64 = 10;

/// A ready report: what a store is often asked.
#[derive(Debug, Clone, Copy)]
pub struct Report {
    /// Its name.
    pub name: &'static str,
    /// What it tells, for a list of reports.
    pub about: &'static str,
    /// The question, in SQL.
    pub question: &'static str,
    /// The column that a bar shows on a terminal.
    pub bar: Option<&'static str>,
}

/// The ready reports.
pub const REPORTS: &[Report] = &[
    Report {
        name: "totals",
        about: "all jobs, in sum",
        question: "SELECT jobs, released, conceded, held, failed AS not_inspected, no_rule, findings, \
                   critical, major, minor, observations, round(bytes / 1e9, 3) AS gigabytes FROM totals \
                   WHERE kind = 'all'",
        bar: None,
    },
    Report {
        name: "requirements",
        about: "how many jobs do not fulfil each requirement",
        question: "SELECT name AS requirement, jobs, held, findings FROM totals WHERE kind = 'requirement' \
                   ORDER BY jobs DESC, name",
        bar: Some("jobs"),
    },
    Report {
        name: "materials",
        about: "jobs by material sheet",
        question: "SELECT name AS material, jobs, released + conceded AS released, held, findings \
                   FROM totals WHERE kind = 'material' ORDER BY jobs DESC, name",
        bar: Some("jobs"),
    },
    Report {
        name: "machines",
        about: "jobs by machine sheet",
        question: "SELECT name AS machine, jobs, released + conceded AS released, held, findings \
                   FROM totals WHERE kind = 'machine' ORDER BY jobs DESC, name",
        bar: Some("jobs"),
    },
    Report {
        name: "months",
        about: "jobs by the month in which their files were written",
        question: "SELECT name AS month, jobs, released + conceded AS released, held, findings \
                   FROM totals WHERE kind = 'month' ORDER BY name",
        bar: Some("jobs"),
    },
    Report {
        name: "worst",
        about: "the twenty jobs with the most harmful findings",
        question: "SELECT state, critical, major, minor, path, member FROM jobs \
                   WHERE critical + major + minor > 0 \
                   ORDER BY critical DESC, major DESC, minor DESC, path, member LIMIT 20",
        bar: None,
    },
    Report {
        name: "changes",
        about: "what the last run found changed",
        question: "SELECT what, before, after, path, member FROM changes \
                   WHERE run = (SELECT max(id) FROM runs) ORDER BY path, member",
        bar: None,
    },
    Report {
        name: "usage",
        about: "filament and time, by material; jobs whose sheets do not say are left out of a sum",
        question: "SELECT name AS material, jobs, round(time_ms / 3.6e6, 1) AS hours, \
                   round(filament_um / 1e6, 1) AS filament_m, round(filament_mg / 1e6, 3) AS filament_kg \
                   FROM totals WHERE kind = 'material' ORDER BY filament_mg DESC, name",
        bar: Some("filament_kg"),
    },
];

/// A ready report by its name.
#[must_use]
pub fn report(name: &str) -> Option<&'static Report> {
    REPORTS.iter().find(|report| report.name == name)
}

/// All jobs in a store, in sum.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Summary {
    /// Jobs that are there.
    pub jobs: u64,
    /// Of them released.
    pub released: u64,
    /// Released by concession.
    pub conceded: u64,
    /// Held.
    pub held: u64,
    /// Not inspected.
    pub failed: u64,
    /// That no rule fits.
    pub no_rule: u64,
    /// The requirements that most jobs do not fulfil, and how many.
    pub requirements: Vec<(String, u64)>,
    /// The first paths that the run could not look into, and why.
    pub troubles: Vec<(String, String)>,
}

/// The sum of a store after a run.
///
/// # Errors
///
/// Where the store cannot be read.
pub fn summary(reader: &Reader, run: i64) -> Result<Summary, Error> {
    let connection = reader.connection();
    let mut sum = Summary::default();
    let mut ask = connection.prepare(
        "SELECT jobs, released, conceded, held, failed, no_rule FROM _total WHERE kind = 'all'",
    )?;
    let mut rows = ask.query([])?;
    if let Some(row) = rows.next()? {
        sum = Summary {
            jobs: row.get(0)?,
            released: row.get(1)?,
            conceded: row.get(2)?,
            held: row.get(3)?,
            failed: row.get(4)?,
            no_rule: row.get(5)?,
            ..sum
        };
    }
    let mut ask = connection.prepare(
        "SELECT name, jobs FROM totals WHERE kind = 'requirement' ORDER BY jobs DESC, name LIMIT ?1",
    )?;
    let rows = ask.query_map([SHOWN], |row| Ok((row.get(0)?, row.get(1)?)))?;
    sum.requirements = rows.collect::<Result<_, _>>()?;
    let mut ask = connection
        .prepare("SELECT path, message FROM _trouble WHERE run = ?1 ORDER BY path LIMIT ?2")?;
    let rows = ask.query_map([run, SHOWN], |row| Ok((row.get(0)?, row.get(1)?)))?;
    sum.troubles = rows.collect::<Result<_, _>>()?;
    Ok(sum)
}
