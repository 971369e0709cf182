//! Reading from the store.

use crate::audit::Error;
use rusqlite::{Connection, OptionalExtension, params, types::ValueRef};
use std::path::Path;

/// A store, open for reading alone.
#[derive(Debug)]
pub struct Reader(Connection);

/// A file as the store knows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Known {
    /// Its number.
    pub id: i64,
    /// Its length in bytes.
    pub size: Option<u64>,
    /// When it was last written, ns since 1970; none where that is not to be trusted.
    pub modified: Option<i64>,
    /// BLAKE3 of its bytes as stored.
    pub digest: Option<String>,
    /// The terms of its verdicts.
    pub terms: String,
    /// Whether it is gone.
    pub is_gone: bool,
}

/// A value of a row.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing.
    Null,
    /// A whole number.
    Whole(i64),
    /// A number.
    Real(f64),
    /// A text, lossless only where it was UTF-8; bytes in hexadecimal.
    Text(String),
}

impl Reader {
    /// Opens the store.
    ///
    /// # Errors
    ///
    /// Where there is none, or it cannot be opened or is of a newer program.
    pub fn open(path: &Path) -> Result<Self, Error> {
        super::open_to_read(path).map(Self)
    }

    /// What the store knows of the file whose path has these bytes.
    ///
    /// # Errors
    ///
    /// Where the store cannot be read.
    pub fn known(&self, key: &[u8]) -> Result<Option<Known>, Error> {
        let mut ask = self.0.prepare_cached(
            "SELECT id, size, modified, digest, terms, gone_run IS NOT NULL FROM _file WHERE key = ?1",
        )?;
        let known = ask.query_row([key], |row| {
            Ok(Known {
                id: row.get(0)?,
                size: row.get(1)?,
                modified: row.get(2)?,
                digest: row.get(3)?,
                terms: row.get(4)?,
                is_gone: row.get(5)?,
            })
        });
        Ok(known.optional()?)
    }

    /// Whether a file of this size, from before the run, is known under these terms.
    ///
    /// # Errors
    ///
    /// Where the store cannot be read.
    pub fn has_size(&self, size: u64, terms: &str, run: i64) -> Result<bool, Error> {
        let mut ask = self.0.prepare_cached(
            "SELECT 1 FROM _file WHERE size = ?1 AND terms = ?2 AND first_run < ?3 LIMIT 1",
        )?;
        Ok(ask.exists(params![size, terms, run])?)
    }

    /// A file from before the run that holds these bytes under these terms. One that failed is
    /// none: what is said of it names its path.
    ///
    /// # Errors
    ///
    /// Where the store cannot be read.
    pub fn with_digest(&self, digest: &str, terms: &str, run: i64) -> Result<Option<i64>, Error> {
        let mut ask = self.0.prepare_cached(
            "SELECT id FROM _file WHERE digest = ?1 AND terms = ?2 AND first_run < ?3 AND NOT EXISTS \
             (SELECT 1 FROM _job WHERE file = _file.id AND state IN ('failed', 'no-rule')) \
             ORDER BY id LIMIT 1",
        )?;
        Ok(ask
            .query_row(params![digest, terms, run], |row| row.get(0))
            .optional()?)
    }

    /// Asks a question in SQL: `head` is given the names of the columns, then `each` every row. It
    /// cannot write: the connection only reads.
    ///
    /// # Errors
    ///
    /// Where the question cannot be answered, and whatever `head` and `each` return.
    pub fn ask(
        &self,
        question: &str,
        head: impl FnOnce(&[String]) -> Result<(), Error>,
        mut each: impl FnMut(Vec<Cell>) -> Result<(), Error>,
    ) -> Result<(), Error> {
        let wrong = |fault: rusqlite::Error| Error::Question(fault.to_string());
        let mut ask = self.0.prepare(question).map_err(wrong)?;
        if ask.column_count() == 0 || !ask.readonly() {
            return Err(Error::Question("it does not only read".to_owned()));
        }
        let names: Vec<String> = ask.column_names().map(str::to_owned).collect();
        head(&names)?;
        let width = names.len();
        let mut rows = ask.query([]).map_err(wrong)?;
        while let Some(row) = rows.next().map_err(wrong)? {
            let cells = (0..width).map(|at| Ok(cell(row.get_ref(at)?)));
            each(cells.collect::<rusqlite::Result<_>>().map_err(wrong)?)?;
        }
        Ok(())
    }

    /// The connection, for the reports of this room.
    pub(in crate::audit) const fn connection(&self) -> &Connection {
        &self.0
    }
}

fn cell(value: ValueRef<'_>) -> Cell {
    match value {
        ValueRef::Null => Cell::Null,
        ValueRef::Integer(number) => Cell::Whole(number),
        ValueRef::Real(number) => Cell::Real(number),
        ValueRef::Text(text) => Cell::Text(String::from_utf8_lossy(text).into_owned()),
        ValueRef::Blob(bytes) => {
            Cell::Text(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
        }
    }
}
