//! Totals kept ready: what a file's jobs add to them, and take from them when they change.
//!
//! Sums are of whole numbers, so that what was added can be taken away without a rest.

use rusqlite::Connection;
use std::collections::BTreeMap;

/// The columns that are summed.
const COLUMNS: [&str; 15] = [
    "jobs",
    "released",
    "conceded",
    "held",
    "failed",
    "no_rule",
    "findings",
    "critical",
    "major",
    "minor",
    "observations",
    "bytes",
    "time_ms",
    "filament_um",
    "filament_mg",
];

/// What one kind and name adds up to, by column.
type Sums = [i64; COLUMNS.len()];

/// The jobs of a file that is there: what they are counted under, and what they add.
const JOBS: &str = "SELECT _job.id, state, material, machine, month, critical, major, minor, observations, \
                    coalesce(bytes, 0), coalesce(time_ms, 0), coalesce(filament_um, 0), \
                    coalesce(filament_mg, 0) \
                    FROM _job JOIN _file ON _file.id = file WHERE file = ?1 AND gone_run IS NULL";

/// Their findings.
const FINDINGS: &str = "SELECT requirement, class, job, state FROM _finding JOIN _job ON _job.id = job \
                        JOIN _file ON _file.id = file WHERE file = ?1 AND gone_run IS NULL \
                        ORDER BY requirement, job";

/// The column that a state is counted in, by its place.
fn of_state(state: &str) -> Option<usize> {
    let states = [
        "released",
        "released-by-concession",
        "held",
        "failed",
        "no-rule",
    ];
    states.iter().position(|one| *one == state).map(|at| at + 1)
}

/// The column that a class is counted in, by its place.
fn of_class(class: &str) -> Option<usize> {
    let classes = ["critical", "major", "minor", "observation"];
    classes
        .iter()
        .position(|one| *one == class)
        .map(|at| at + 7)
}

fn add(sums: &mut Sums, at: Option<usize>, number: i64) {
    if let Some(sum) = at.and_then(|at| sums.get_mut(at)) {
        *sum += number;
    }
}

/// What the jobs of a file add up to, by kind and name.
fn sums(
    connection: &Connection,
    file: i64,
) -> rusqlite::Result<BTreeMap<(&'static str, String), Sums>> {
    let mut all: BTreeMap<(&'static str, String), Sums> = BTreeMap::new();
    let mut ask = connection.prepare_cached(JOBS)?;
    let mut rows = ask.query([file])?;
    while let Some(row) = rows.next()? {
        let mut of_job: Sums = [0; COLUMNS.len()];
        add(&mut of_job, Some(0), 1);
        add(&mut of_job, of_state(row.get_ref(1)?.as_str()?), 1);
        for (at, column) in (5..13).zip(7..) {
            let number: i64 = row.get(at)?;
            add(&mut of_job, Some(column), number);
            // Findings of any class.
            add(&mut of_job, (at < 9).then_some(6), number);
        }
        let names = [Some(String::new()), row.get(2)?, row.get(3)?, row.get(4)?];
        for (kind, name) in ["all", "material", "machine", "month"]
            .into_iter()
            .zip(names)
        {
            let Some(name) = name else { continue };
            let sums = all.entry((kind, name)).or_default();
            for (sum, number) in sums.iter_mut().zip(of_job) {
                *sum += number;
            }
        }
    }
    let mut ask = connection.prepare_cached(FINDINGS)?;
    let mut rows = ask.query([file])?;
    let mut last: Option<(String, i64)> = None;
    while let Some(row) = rows.next()? {
        let at: (String, i64) = (row.get(0)?, row.get(2)?);
        let sums = all.entry(("requirement", at.0.clone())).or_default();
        // A job counts once, however many findings it has of one requirement.
        if last.as_ref() != Some(&at) {
            add(sums, Some(0), 1);
            let state = of_state(row.get_ref(3)?.as_str()?);
            add(sums, state.filter(|at| *at < 4), 1);
        }
        add(sums, Some(6), 1);
        add(sums, of_class(row.get_ref(1)?.as_str()?), 1);
        last = Some(at);
    }
    Ok(all)
}

/// Adds the jobs of a file to the totals, or with `sign` -1 takes them away.
pub(super) fn count(connection: &Connection, file: i64, sign: i64) -> rusqlite::Result<()> {
    let grow = COLUMNS.map(|column| format!("{column} = {column} + excluded.{column}"));
    let put = format!(
        "INSERT INTO _total (kind, name, {}) VALUES (?1, ?2, {}) ON CONFLICT DO UPDATE SET {}",
        COLUMNS.join(", "),
        (3..18)
            .map(|at| format!("?{at}"))
            .collect::<Vec<_>>()
            .join(", "),
        grow.join(", ")
    );
    let all = sums(connection, file)?;
    let mut put = connection.prepare_cached(&put)?;
    for ((kind, name), sums) in &all {
        put.raw_bind_parameter(1, kind)?;
        put.raw_bind_parameter(2, name)?;
        for (sum, at) in sums.iter().zip(3..) {
            put.raw_bind_parameter(at, sign * sum)?;
        }
        put.raw_execute()?;
    }
    Ok(())
}
