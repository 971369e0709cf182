//! Totals kept ready: what a file's jobs add to them, and take from them when they change.
//!
//! Sums are of whole numbers, so that what was added can be taken away without a rest.

use rusqlite::Connection;

/// What each state counts as.
const STATES: &str = "count(*), sum(state = 'released'), sum(state = 'released-by-concession'), \
                      sum(state = 'held'), sum(state = 'failed'), sum(state = 'no-rule')";

/// What of jobs is summed up.
const SUMS: &str = "sum(critical + major + minor + observations), sum(critical), sum(major), \
                    sum(minor), sum(observations), total(bytes), total(time_ms), \
                    total(filament_um), total(filament_mg)";

/// The tables behind the jobs of some files.
const FROM: &str = "FROM _job JOIN _file ON _file.id = _job.file";

/// The questions whose rows are totals: kind, name, and the columns of `_total`.
fn questions(which: &str) -> [String; 5] {
    let of_jobs = |kind: &str, name: &str, and: &str| {
        format!("SELECT '{kind}', {name}, {STATES}, {SUMS} {FROM} WHERE {which} {and} GROUP BY 2")
    };
    [
        of_jobs("all", "''", ""),
        of_jobs("material", "material", "AND material IS NOT NULL"),
        of_jobs("machine", "machine", "AND machine IS NOT NULL"),
        of_jobs("month", "month", "AND month IS NOT NULL"),
        format!(
            "SELECT 'requirement', requirement, count(DISTINCT _job.id), \
             count(DISTINCT iif(state = 'released', _job.id, NULL)), \
             count(DISTINCT iif(state = 'released-by-concession', _job.id, NULL)), \
             count(DISTINCT iif(state = 'held', _job.id, NULL)), 0, 0, count(*), \
             sum(class = 'critical'), sum(class = 'major'), sum(class = 'minor'), \
             sum(class = 'observation'), 0, 0, 0, 0 \
             {FROM} JOIN _finding ON _finding.job = _job.id WHERE {which} GROUP BY 2"
        ),
    ]
}

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
    for question in questions("file = ?1 AND gone_run IS NULL") {
        let mut ask = connection.prepare_cached(&question)?;
        let mut rows = ask.query([file])?;
        while let Some(row) = rows.next()? {
            let mut put = connection.prepare_cached(&put)?;
            put.raw_bind_parameter(1, row.get::<_, String>(0)?)?;
            put.raw_bind_parameter(2, row.get::<_, String>(1)?)?;
            for at in 2..17 {
                // A sum of floating-point zeros stays whole: SQLite's total() alone gives floats.
                let number: f64 = row.get::<_, Option<f64>>(at)?.unwrap_or(0.0);
                put.raw_bind_parameter(at + 1, sign * number as i64)?;
            }
            put.raw_execute()?;
        }
    }
    Ok(())
}
