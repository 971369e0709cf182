//! The store: one SQLite file that holds what became of every job, and totals kept ready.
//!
//! What belongs together is written in one transaction, the totals with it: whatever kills the
//! process, the file is that of some moment between two of them. Several audits may write at once;
//! each waits for the other's transaction.

mod read;
mod totals;
mod write;

pub use read::{Cell, Known, Reader};
pub use write::{Counts, Store};

use super::Error;
use super::error::name;
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags};
use std::path::Path;
use std::time::{Duration, Instant};

/// Marks the file as a store of ours: `MGau`.
const APPLICATION: i64 = 0x4D47_6175;

/// What brings a store from each version to the next.
const MIGRATIONS: &[&str] = &[include_str!("first.sql"), include_str!("second.sql")];

/// How long to wait for another audit's transaction (chosen: many times the longest).
const PATIENCE: Duration = Duration::from_secs(120);

/// How long until what nobody can wait for is tried again (chosen).
const PAUSE: Duration = Duration::from_millis(5);

/// Opens the store for writing; makes it where there is none, and brings an old one up to date.
fn open(path: &Path) -> Result<Connection, Error> {
    let unopened = |fault: rusqlite::Error| Error::Unopened {
        name: name(path),
        why: fault.to_string(),
    };
    let mut connection = Connection::open(path).map_err(unopened)?;
    connection.busy_timeout(PATIENCE).map_err(unopened)?;
    let known = MIGRATIONS.len() as i64;
    // Written ahead, so that readers go on; a commit is safe against the end of the process, and
    // against that of the computer up to the last transactions.
    let mode = written_ahead(&connection).map_err(unopened)?;
    if mode != "wal" {
        return Err(Error::Unopened {
            name: name(path),
            why: "its disk cannot be shared between processes".to_owned(),
        });
    }
    connection
        .execute_batch(
            "PRAGMA synchronous = NORMAL; PRAGMA cache_size = -16384; PRAGMA temp_store = FILE;",
        )
        .map_err(unopened)?;
    let change = connection
        .transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)
        .map_err(unopened)?;
    let found = version(&change, path)?;
    for step in MIGRATIONS.iter().skip(usize::try_from(found).unwrap_or(0)) {
        change.execute_batch(step).map_err(unopened)?;
    }
    if found < known {
        change
            .execute_batch(&format!(
                "PRAGMA application_id = {APPLICATION}; PRAGMA user_version = {known};"
            ))
            .map_err(unopened)?;
    }
    change.commit().map_err(unopened)?;
    connection.set_prepared_statement_cache_capacity(64);
    // A plan does not hang on the values bound: otherwise each is made anew for every file, which
    // took half of a writer's time.
    connection
        .set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)
        .map_err(unopened)?;
    Ok(connection)
}

/// Has a store written ahead, and gives its mode. Where two audits begin one at once, each holds what the other
/// needs for that, and waiting would not help: so neither is made to wait, and it is tried again.
fn written_ahead(connection: &Connection) -> rusqlite::Result<String> {
    let begin = Instant::now();
    loop {
        let mode = connection.query_row("PRAGMA journal_mode = WAL", [], |row| row.get(0));
        match mode {
            Err(fault)
                if fault.sqlite_error_code() == Some(rusqlite::ErrorCode::DatabaseBusy)
                    && begin.elapsed() < PATIENCE =>
            {
                std::thread::sleep(PAUSE);
            }
            told => return told,
        }
    }
}

/// The version of a store; 0 of a file that holds nothing yet.
fn version(connection: &Connection, path: &Path) -> Result<i64, Error> {
    let ask = |what: &str| connection.query_row(what, [], |row| row.get::<_, i64>(0));
    let (application, found) = (ask("PRAGMA application_id")?, ask("PRAGMA user_version")?);
    let things = ask("SELECT count(*) FROM sqlite_schema")?;
    let known = MIGRATIONS.len() as i64;
    let name = name(path);
    match (application, found) {
        (0, 0) if things == 0 => Ok(0),
        (APPLICATION, found) if found > known => Err(Error::Newer { name, found, known }),
        (APPLICATION, found) if found > 0 => Ok(found),
        _ => Err(Error::Foreign { name }),
    }
}

/// Opens the store for reading alone.
fn open_to_read(path: &Path) -> Result<Connection, Error> {
    if !path.exists() {
        return Err(Error::Missing { name: name(path) });
    }
    let unopened = |fault: rusqlite::Error| Error::Unopened {
        name: name(path),
        why: fault.to_string(),
    };
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags).map_err(unopened)?;
    connection.busy_timeout(PATIENCE).map_err(unopened)?;
    connection
        .execute_batch(
            "PRAGMA query_only = ON; PRAGMA trusted_schema = OFF; PRAGMA cache_size = -16384;",
        )
        .map_err(unopened)?;
    connection
        .set_limit(rusqlite::limits::Limit::SQLITE_LIMIT_ATTACHED, 0)
        .map_err(unopened)?;
    match version(&connection, path) {
        Ok(0) => Err(Error::Foreign { name: name(path) }),
        Ok(found) if found < MIGRATIONS.len() as i64 => {
            // An old store is brought up to date by whoever may write it.
            drop(connection);
            drop(open(path)?);
            open_to_read(path)
        }
        Ok(_) => Ok(connection),
        Err(Error::Store(fault)) => Err(unopened(fault)),
        Err(fault) => Err(fault),
    }
}
