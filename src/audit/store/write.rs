//! Writing into the store.

use super::totals::count;
use crate::audit::Error;
use crate::audit::line::{Job, Record, Site, path_of};
use rusqlite::{Connection, OptionalExtension, params};
use std::collections::BTreeMap;
use std::path::Path;
use std::time::{Duration, Instant};

/// How many files one transaction holds at most (chosen: a kill loses no more than these).
const BATCH: u32 = if cfg!(test) { 4 } else { 256 };

/// How long a transaction stays open at most (chosen: what another audit has to wait).
const LONGEST: Duration = Duration::from_secs(1);

/// What a run did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Jobs that were inspected.
    pub inspected: u64,
    /// Files that were known, and not read.
    pub known: u64,
    /// Files whose bytes were known from another place or time.
    pub copied: u64,
    /// Files that are gone.
    pub gone: u64,
    /// Of those, files that are found elsewhere.
    pub moved: u64,
}

/// A store, open for one run.
#[derive(Debug)]
pub struct Store {
    connection: Connection,
    run: i64,
    /// The last run before this that came to its end.
    last_whole: i64,
    /// Files in the open transaction, and when it began.
    pending: Option<(u32, Instant)>,
}

/// A file as the store knows it.
struct Row {
    id: i64,
    digest: Option<String>,
    terms: String,
    size: Option<u64>,
    modified: Option<i64>,
    run: i64,
    is_gone: bool,
}

impl Store {
    /// Opens the store, makes it where there is none, and begins a run at the time `now`.
    ///
    /// # Errors
    ///
    /// Where it cannot be opened or is no store, or one of a newer program.
    pub fn begin(path: &Path, now: &str) -> Result<Self, Error> {
        let connection = super::open(path)?;
        connection.execute(
            "INSERT INTO _run (began, version) VALUES (?1, ?2)",
            params![now, env!("CARGO_PKG_VERSION")],
        )?;
        let run = connection.last_insert_rowid();
        let last_whole = connection.query_row(
            "SELECT coalesce(max(id), 0) FROM _run WHERE whole = 1 AND id < ?1",
            [run],
            |row| row.get(0),
        )?;
        Ok(Self {
            connection,
            run,
            last_whole,
            pending: None,
        })
    }

    /// The run's number.
    #[must_use]
    pub const fn run(&self) -> i64 {
        self.run
    }

    /// Begins a transaction where none is open.
    fn ready(&mut self) -> Result<(), Error> {
        if self.pending.is_none() {
            self.connection.execute_batch("BEGIN IMMEDIATE")?;
            self.pending = Some((0, Instant::now()));
        }
        Ok(())
    }

    /// Counts a file as done; true where the transaction is due.
    fn done(&mut self) -> bool {
        let Some((files, began)) = &mut self.pending else {
            return false;
        };
        *files += 1;
        *files >= BATCH || began.elapsed() >= LONGEST
    }

    /// Makes all that was put so far last.
    ///
    /// # Errors
    ///
    /// Where the store cannot be written; then nothing of the transaction is in it.
    pub fn commit(&mut self) -> Result<(), Error> {
        if self.pending.take().is_some() {
            self.connection.execute_batch("COMMIT")?;
        }
        Ok(())
    }

    /// Puts a file with all its jobs in the place of what was known of it; the file's number, and
    /// whether the transaction is due.
    ///
    /// # Errors
    ///
    /// Where the store cannot be written.
    pub fn put(&mut self, site: &Site, jobs: &[Job]) -> Result<(i64, bool), Error> {
        self.ready()?;
        let row = self.row(&site.key())?;
        if let Some(row) = &row
            && row.run == self.run
            && !row.is_gone
            && row.is(site)
        {
            // Named twice in one run.
            return Ok((row.id, self.done()));
        }
        let before = self.take_out(row.as_ref())?;
        let id = self.put_file(site, row.as_ref())?;
        for job in jobs {
            self.put_job(id, job)?;
        }
        self.put_in(id, site, row.as_ref(), &before)?;
        Ok((id, self.done()))
    }

    /// Puts one job of a file beside those that are known of the same bytes; whether the
    /// transaction is due. Twice is once.
    ///
    /// # Errors
    ///
    /// Where the store cannot be written.
    pub fn fold(&mut self, site: &Site, job: &Job) -> Result<bool, Error> {
        self.ready()?;
        let row = self.row(&site.key())?;
        let same = row.as_ref().is_some_and(|row| !row.is_gone && row.is(site));
        if !same {
            return Ok(self.put(site, std::slice::from_ref(job))?.1);
        }
        let Some(row) = row else {
            return Ok(self.done());
        };
        let known: Option<String> = self
            .connection
            .prepare_cached("SELECT state FROM _job WHERE file = ?1 AND member = ?2")?
            .query_row(params![row.id, job.member], |row| row.get(0))
            .optional()?;
        if known.as_deref() != Some(job.state()) {
            let before = self.states(row.id)?;
            count(&self.connection, row.id, -1)?;
            self.drop_jobs(row.id, Some(&job.member))?;
            self.put_job(row.id, job)?;
            self.put_in(row.id, site, Some(&row), &before)?;
        }
        Ok(self.done())
    }

    /// Puts a file whose bytes and terms are those of the file `from`; its number, and whether the
    /// transaction is due.
    ///
    /// # Errors
    ///
    /// Where the store cannot be written.
    pub fn copy(&mut self, site: &Site, from: i64) -> Result<(i64, bool), Error> {
        self.ready()?;
        let row = self.row(&site.key())?;
        if let Some(row) = &row
            && row.id == from
        {
            // The same file, written anew with the same bytes, or back again.
            let before = self.take_out_count(row)?;
            let id = self.put_file(site, Some(row))?;
            self.connection
                .prepare_cached("UPDATE _file SET jobs = (SELECT count(*) FROM _job WHERE file = ?1) WHERE id = ?1")?
                .execute([id])?;
            self.put_in(id, site, Some(row), &before)?;
            return Ok((id, self.done()));
        }
        let before = self.take_out(row.as_ref())?;
        let id = self.put_file(site, row.as_ref())?;
        self.copy_jobs(from, id)?;
        self.put_in(id, site, row.as_ref(), &before)?;
        Ok((id, self.done()))
    }

    /// Notes what could not be looked into: a folder, or a path that leads nowhere.
    ///
    /// # Errors
    ///
    /// Where the store cannot be written.
    pub fn trouble(&mut self, path: &str, message: &str) -> Result<(), Error> {
        self.ready()?;
        self.connection
            .prepare_cached(
                "INSERT OR REPLACE INTO _trouble (run, path, message) VALUES (?1, ?2, ?3)",
            )?
            .execute(params![self.run, path, message])?;
        Ok(())
    }

    fn row(&self, key: &[u8]) -> Result<Option<Row>, Error> {
        let mut ask = self.connection.prepare_cached(
            "SELECT id, digest, terms, size, modified, run, gone_run IS NOT NULL FROM _file WHERE key = ?1",
        )?;
        let row = ask.query_row([key], |row| {
            Ok(Row {
                id: row.get(0)?,
                digest: row.get(1)?,
                terms: row.get(2)?,
                size: row.get(3)?,
                modified: row.get(4)?,
                run: row.get(5)?,
                is_gone: row.get(6)?,
            })
        });
        Ok(row.optional()?)
    }

    /// What the jobs of a file came to, by member.
    fn states(&self, file: i64) -> Result<Vec<(String, String)>, Error> {
        let mut ask = self
            .connection
            .prepare_cached("SELECT member, state FROM _job WHERE file = ?1 ORDER BY member")?;
        let rows = ask.query_map([file], |row| Ok((row.get(0)?, row.get(1)?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Takes a file out of the totals; what its jobs came to.
    fn take_out_count(&self, row: &Row) -> Result<Vec<(String, String)>, Error> {
        count(&self.connection, row.id, -1)?;
        if row.is_gone {
            Ok(Vec::new())
        } else {
            self.states(row.id)
        }
    }

    /// Takes a file's jobs out of the totals and out of the store; what they came to.
    fn take_out(&self, row: Option<&Row>) -> Result<Vec<(String, String)>, Error> {
        let Some(row) = row else {
            return Ok(Vec::new());
        };
        let before = self.take_out_count(row)?;
        self.drop_jobs(row.id, None)?;
        Ok(before)
    }

    fn drop_jobs(&self, file: i64, member: Option<&str>) -> Result<(), Error> {
        let which = "(SELECT id FROM _job WHERE file = ?1 AND member = coalesce(?2, member))";
        for what in [
            format!("DELETE FROM _finding WHERE job IN {which}"),
            "DELETE FROM _job WHERE file = ?1 AND member = coalesce(?2, member)".to_owned(),
        ] {
            self.connection
                .prepare_cached(&what)?
                .execute(params![file, member])?;
        }
        Ok(())
    }

    /// Writes a file's row; its number.
    fn put_file(&self, site: &Site, row: Option<&Row>) -> Result<i64, Error> {
        let modified = site.modified_ns;
        if let Some(row) = row {
            self.connection
                .prepare_cached(
                    "UPDATE _file SET path = ?2, size = ?3, modified = ?4, month = ?5, digest = ?6, \
                     terms = ?7, jobs = ?8, run = ?9, gone_run = NULL WHERE id = ?1",
                )?
                .execute(params![
                    row.id, site.path, site.size, modified, site.month, site.digest, site.terms,
                    site.jobs, self.run
                ])?;
            return Ok(row.id);
        }
        self.connection
            .prepare_cached(
                "INSERT INTO _file (key, path, size, modified, month, digest, terms, jobs, first_run, run) \
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?9)",
            )?
            .execute(params![
                site.key(), site.path, site.size, modified, site.month, site.digest, site.terms,
                site.jobs, self.run
            ])?;
        Ok(self.connection.last_insert_rowid())
    }

    /// Puts a file's jobs into the totals, and what has changed into the history.
    fn put_in(
        &self,
        id: i64,
        site: &Site,
        row: Option<&Row>,
        before: &[(String, String)],
    ) -> Result<(), Error> {
        count(&self.connection, id, 1)?;
        let after = self.states(id)?;
        let find = |list: &[(String, String)], member: &str| {
            let at = list.iter().find(|(name, _)| name == member);
            at.map(|(_, state)| state.clone())
        };
        let was_gone = row.is_some_and(|row| row.is_gone);
        let is_new_text = row.is_some_and(|row| row.digest != site.digest);
        for (member, state) in &after {
            let before = find(before, member);
            let what = match &before {
                None if was_gone => "back",
                None => "new",
                Some(before) if before != state || is_new_text => "changed",
                Some(_) => continue,
            };
            self.change(&site.path, member, what, before.as_deref(), Some(state))?;
        }
        for (member, state) in before {
            if find(&after, member).is_none() {
                self.change(&site.path, member, "gone", Some(state), None)?;
            }
        }
        Ok(())
    }

    fn change(
        &self,
        path: &str,
        member: &str,
        what: &str,
        before: Option<&str>,
        after: Option<&str>,
    ) -> Result<(), Error> {
        self.connection
            .prepare_cached(
                "INSERT INTO _change (run, path, member, what, before, after) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            )?
            .execute(params![self.run, path, member, what, before, after])?;
        Ok(())
    }

    fn put_job(&self, file: i64, job: &Job) -> Result<(), Error> {
        let record = &job.record;
        let of_class = |class: &str| {
            let all = record.findings.iter();
            all.filter(|finding| finding.class == class).count() as u64
        };
        let named = |sheets: &mut dyn Iterator<Item = &str>| {
            let mut names: Vec<&str> = sheets.collect();
            names.dedup();
            (!names.is_empty()).then(|| names.join(","))
        };
        let materials = &record.material;
        let machine = record.machine.as_ref();
        let survey = record.survey.as_ref();
        let thousandths = |value: Option<f64>| value.map(|value| (value * 1e3).round() as i64);
        let not_held: Vec<&str> = record
            .not_held
            .iter()
            .map(|left| left.requirement.as_str())
            .collect();
        self.connection
            .prepare_cached(
                "INSERT INTO _job (file, member, state, error, material, material_digest, material_by, \
                 machine, machine_digest, hold_from, critical, major, minor, observations, not_held, \
                 bytes, lines, packing, time_ms, filament_um, filament_mg, layers, first_layer_mm, \
                 first_layer_mm_s, quickest_layer_s, peak_flow_mm3_s, sustained_flow_mm3_s, \
                 footprint_x_mm, footprint_y_mm, longest_side_mm, declared, held) VALUES (?1, ?2, ?3, \
                 ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20, ?21, \
                 ?22, ?23, ?24, ?25, ?26, ?27, ?28, ?29, ?30, ?31, ?32)",
            )?
            .execute(params![
                file,
                job.member,
                job.state(),
                record.error.as_ref().map(|said| &said.message),
                named(&mut materials.iter().map(|sheet| sheet.name.as_str())),
                named(&mut materials.iter().filter_map(|sheet| sheet.digest.as_deref())),
                materials.first().and_then(|sheet| sheet.named_by.as_ref()),
                machine.map(|sheet| &sheet.name),
                machine.and_then(|sheet| sheet.digest.as_ref()),
                record.hold_from,
                of_class("critical"),
                of_class("major"),
                of_class("minor"),
                of_class("observation"),
                not_held.join(" "),
                record.job.bytes,
                record.job.lines,
                record.job.packing,
                thousandths(survey.and_then(|survey| survey.time_s)),
                thousandths(survey.and_then(|survey| survey.filament_factored_mm)),
                thousandths(survey.and_then(|survey| survey.filament_g)),
                survey.and_then(|survey| survey.layers),
                survey.and_then(|survey| survey.first_layer.height_mm),
                survey.and_then(|survey| survey.first_layer.speed_mm_s),
                survey.and_then(|survey| survey.quickest_layer_s),
                survey.and_then(|survey| survey.peak_flow_mm3_s),
                survey.and_then(|survey| survey.sustained_flow_mm3_s),
                survey.and_then(|survey| survey.footprint_mm).map(|[x, _]| x),
                survey.and_then(|survey| survey.footprint_mm).map(|[_, y]| y),
                survey.and_then(|survey| survey.longest_side_mm),
                record.declared.get("material").map(|said| &said.value),
                (!record.held_values.is_empty()).then(|| json(&record.held_values)),
            ])?;
        let id = self.connection.last_insert_rowid();
        self.put_findings(id, record)
    }

    fn put_findings(&self, job: i64, record: &Record) -> Result<(), Error> {
        let mut put = self.connection.prepare_cached(
            "INSERT INTO _finding (job, number, requirement, class, count, counts, line, amount, \
             limit_value, unit, whose, message, conceded) \
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
        )?;
        for (number, finding) in record.findings.iter().enumerate() {
            let extent = &finding.extent;
            let limit = finding.limit.as_ref();
            put.execute(params![
                job,
                number,
                finding.requirement,
                finding.class,
                extent.count,
                extent.counts,
                extent
                    .worst
                    .as_ref()
                    .or(extent.first.as_ref())
                    .map(|at| at.line),
                finding.amount,
                limit.and_then(|limit| limit.value),
                limit.map(|limit| &limit.unit),
                limit.map(|limit| &limit.whose),
                finding.message,
                finding.conceded.is_some(),
            ])?;
        }
        Ok(())
    }

    fn copy_jobs(&self, from: i64, to: i64) -> Result<(), Error> {
        let columns = "member, state, error, material, material_digest, material_by, machine, \
                       machine_digest, hold_from, critical, major, minor, observations, not_held, bytes, \
                       lines, packing, time_ms, filament_um, filament_mg, layers, first_layer_mm, \
                       first_layer_mm_s, quickest_layer_s, peak_flow_mm3_s, sustained_flow_mm3_s, \
                       footprint_x_mm, footprint_y_mm, longest_side_mm, declared, held";
        let pairs =
            "FROM _job AS old JOIN _job AS new ON new.member = old.member AND new.file = ?2";
        for what in [
            "UPDATE _file SET jobs = (SELECT jobs FROM _file WHERE id = ?1) WHERE id = ?2"
                .to_owned(),
            format!(
                "INSERT INTO _job (file, {columns}) SELECT ?2, {columns} FROM _job WHERE file = ?1"
            ),
            format!(
                "INSERT INTO _finding SELECT new.id, number, requirement, class, count, counts, line, \
                 amount, limit_value, unit, whose, message, conceded {pairs} \
                 JOIN _finding ON _finding.job = old.id WHERE old.file = ?1"
            ),
        ] {
            self.connection.prepare_cached(&what)?.execute([from, to])?;
        }
        Ok(())
    }

    /// Marks as gone the files that `is_gone` says are no more, and finds where they went; how many
    /// are gone, and how many of them were found elsewhere.
    ///
    /// # Errors
    ///
    /// Where the store cannot be written.
    pub fn sweep(
        &mut self,
        mut is_gone: impl FnMut(i64, &Path) -> bool,
    ) -> Result<(u64, u64), Error> {
        self.commit()?;
        let mut gone = Vec::new();
        {
            let mut ask = self
                .connection
                .prepare("SELECT id, key FROM _file WHERE gone_run IS NULL ORDER BY path")?;
            let mut rows = ask.query([])?;
            while let Some(row) = rows.next()? {
                let id = row.get(0)?;
                let key: &[u8] = row.get_ref(1)?.as_blob().unwrap_or_default();
                if is_gone(id, &path_of(key)) {
                    gone.push(id);
                }
            }
        }
        let mut moved = 0;
        let count_gone = gone.len() as u64;
        for id in gone {
            self.ready()?;
            moved += u64::from(self.let_go(id)?);
            if self.done() {
                self.commit()?;
            }
        }
        self.commit()?;
        Ok((count_gone, moved))
    }

    /// Marks a file as gone; whether it was found elsewhere.
    fn let_go(&self, id: i64) -> Result<bool, Error> {
        count(&self.connection, id, -1)?;
        let (path, digest): (String, Option<String>) = self.connection.query_row(
            "UPDATE _file SET gone_run = ?2 WHERE id = ?1 RETURNING path, digest",
            [id, self.run],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )?;
        let found: Option<(i64, String)> = self
            .connection
            .prepare_cached(
                "SELECT id, path FROM _file WHERE digest = ?1 AND gone_run IS NULL AND moved_from IS NULL \
                 AND first_run > ?2 ORDER BY path LIMIT 1",
            )?
            .query_row(params![digest, self.last_whole], |row| {
                Ok((row.get(0)?, row.get(1)?))
            })
            .optional()?;
        if let Some((new, new_path)) = found {
            self.connection
                .prepare_cached("UPDATE _file SET moved_from = ?2 WHERE id = ?1")?
                .execute(params![new, path])?;
            self.connection
                .prepare_cached(
                    "UPDATE _change SET what = 'moved', before = ?2 \
                     WHERE path = ?1 AND what = 'new' AND run > ?3",
                )?
                .execute(params![new_path, path, self.last_whole])?;
            return Ok(true);
        }
        for (member, state) in self.states(id)? {
            self.change(&path, &member, "gone", Some(&state), None)?;
        }
        Ok(false)
    }

    /// Ends the run; `is_whole` where it came to its end.
    ///
    /// # Errors
    ///
    /// Where the store cannot be written.
    pub fn end(mut self, now: &str, is_whole: bool, counts: Counts) -> Result<(), Error> {
        self.commit()?;
        self.connection.execute(
            "UPDATE _run SET ended = ?2, whole = ?3, inspected = ?4, known = ?5, copied = ?6, gone = ?7, \
             moved = ?8 WHERE id = ?1",
            params![
                self.run, now, is_whole, counts.inspected, counts.known, counts.copied, counts.gone,
                counts.moved
            ],
        )?;
        // Folds what was written ahead into the file, where nobody reads just now.
        let _ = self
            .connection
            .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()));
        Ok(())
    }
}

impl Row {
    /// Whether the store knows just this of the file.
    fn is(&self, site: &Site) -> bool {
        self.digest == site.digest
            && self.terms == site.terms
            && self.size == site.size
            && (self.digest.is_some() || self.modified == site.modified_ns)
    }
}

/// Values as SQLite's functions on JSON read them.
fn json(values: &BTreeMap<String, Option<f64>>) -> String {
    serde_json::to_string(values).unwrap_or_default()
}
