//! What a store has to tell: the sum of a run, and ready reports.

use super::{Error, Reader};

/// How many lines a sum shows of a list (chosen).
const SHOWN: i64 = 10;

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
    let mut ask =
        connection.prepare("SELECT path, message FROM _trouble WHERE run = ?1 ORDER BY path LIMIT ?2")?;
    let rows = ask.query_map([run, SHOWN], |row| Ok((row.get(0)?, row.get(1)?)))?;
    sum.troubles = rows.collect::<Result<_, _>>()?;
    Ok(sum)
}
