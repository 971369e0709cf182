//! One audit: a thread walks, threads inspect, and the calling thread writes into the store.
//!
//! What waits between them is bounded, so that memory does not grow with the archive. The store is
//! the same in whatever order jobs are done: rows are known by their paths, and sums are of whole
//! numbers.

use super::Error;
use super::desk::{Desk, digest, now, site_of};
use super::line::{Job, Site, spelled};
use super::store::{Counts, Known, Reader, Store};
use super::walk::{Found, Seen, manifest, walk};
use crate::job::Rules;
use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, bounded};
use std::collections::HashSet;
use std::io::BufRead;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::Duration;

/// What to audit.
pub enum What {
    /// Folders and files.
    Paths(Vec<PathBuf>),
    /// Paths that come one by one.
    Manifest {
        /// From where.
        input: Box<dyn BufRead + Send>,
        /// Whether each is ended by a NUL.
        is_nul: bool,
    },
}

/// An audit that is to be made.
pub struct Call<'a> {
    /// What to audit.
    pub what: What,
    /// What jobs are held against.
    pub rules: &'a Rules,
    /// The store.
    pub store: &'a Path,
    /// On how many threads jobs are inspected.
    pub threads: usize,
    /// Whether bytes are compared, and not only sizes and times.
    pub verify: bool,
    /// Who looks on.
    pub watch: &'a dyn Watch,
}

/// A moment of an audit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Point {
    /// The run is in the store.
    Begun,
    /// A file was found that has to be looked at.
    Found,
    /// All files are found.
    Walked,
    /// A file was found that is known.
    Known,
    /// A file was looked at: its length in bytes.
    Examined(u64),
    /// A file is about to be put into the store.
    Putting,
    /// A file is in an open transaction.
    Put,
    /// A transaction is about to become last.
    Committing,
    /// It is last.
    Committed,
    /// All is walked and put; what is gone is about to be looked for.
    Sweeping,
    /// What is gone is marked.
    Swept,
    /// The run is about to be closed.
    Ending,
}

/// Somebody who looks on while an audit goes on, from all its threads.
pub trait Watch: Sync {
    /// Something happened.
    fn at(&self, point: Point);

    /// Whether the audit is to stop: what is being looked at is finished and put.
    fn is_stopped(&self) -> bool {
        false
    }
}

/// What came of an audit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ended {
    /// The run's number.
    pub run: i64,
    /// What it did.
    pub counts: Counts,
    /// Files that were passed over: by their names no jobs, or links, devices and the like.
    pub passed: u64,
    /// Folders and paths that could not be looked into.
    pub troubles: u64,
    /// Whether it was stopped before its end.
    pub is_stopped: bool,
}

/// A file that has to be looked at.
struct Task {
    found: Found,
    terms: Arc<str>,
    /// What the store knows of this path, under the same terms.
    known: Option<Known>,
    /// Whether its bytes may be known from elsewhere.
    may_be_known: bool,
}

/// What the writing thread is told.
enum News {
    /// A file, and what became of its jobs.
    Fresh(Box<Site>, Vec<Job>),
    /// A file whose bytes are those of a known one.
    Same(Box<Site>, i64),
    /// A file whose bytes are still those that are known.
    Known(i64),
    /// A folder or path that could not be looked into.
    Trouble(PathBuf, String),
    /// The store could not be read.
    Fault(Error),
}

/// Numbers of files: a bit for each.
#[derive(Debug, Default)]
struct Bits(Vec<u64>);

impl Bits {
    fn insert(&mut self, id: i64) {
        let Ok(id) = usize::try_from(id) else { return };
        if self.0.len() <= id / 64 {
            self.0.resize(id / 64 + 1, 0);
        }
        if let Some(word) = self.0.get_mut(id / 64) {
            *word |= 1 << (id % 64);
        }
    }

    fn contains(&self, id: i64) -> bool {
        let Ok(id) = usize::try_from(id) else {
            return false;
        };
        self.0
            .get(id / 64)
            .is_some_and(|word| word >> (id % 64) & 1 == 1)
    }
}

/// What the walking thread brings home.
#[derive(Default)]
struct Walked {
    seen: Bits,
    known: u64,
    passed: u64,
    /// Roots that were walked, and what of them could not be looked into.
    roots: Vec<PathBuf>,
    blind: HashSet<PathBuf>,
    /// Files that a manifest names, and that are no more.
    missing: Bits,
}

/// What all threads share.
struct Shared<'a> {
    desk: Desk<'a>,
    store: &'a Path,
    run: i64,
    verify: bool,
    watch: &'a dyn Watch,
    /// Set where the store failed: nobody goes on.
    broken: AtomicBool,
    inspected: AtomicU64,
}

impl Shared<'_> {
    fn is_over(&self) -> bool {
        self.broken.load(Ordering::Relaxed) || self.watch.is_stopped()
    }
}

/// Audits what is named into a store.
///
/// # Errors
///
/// Where the store cannot be opened, read or written. What is wrong with jobs is in the store.
pub fn audit(call: Call<'_>) -> Result<Ended, Error> {
    let mut store = Store::begin(call.store, &now())?;
    call.watch.at(Point::Begun);
    let shared = Shared {
        desk: Desk::new(call.rules),
        store: call.store,
        run: store.run(),
        verify: call.verify,
        watch: call.watch,
        broken: AtomicBool::new(false),
        inspected: AtomicU64::new(0),
    };
    let threads = call.threads.max(1);
    let (tasks, take) = bounded::<Task>(threads * 4);
    let (tell, news) = bounded::<News>(64);
    let mut seen = Bits::default();
    let mut counts = Counts::default();
    let mut troubles = 0;
    let what = call.what;
    let walked = std::thread::scope(|scope| {
        let shared = &shared;
        let walker = {
            let tell = tell.clone();
            std::thread::Builder::new()
                .name("walk".to_owned())
                .spawn_scoped(scope, move || shared.walk(what, &tasks, &tell))
                .map_err(Error::Thread)?
        };
        for _ in 0..threads {
            let (take, tell) = (take.clone(), tell.clone());
            std::thread::Builder::new()
                .name("inspect".to_owned())
                .spawn_scoped(scope, move || shared.work(&take, &tell))
                .map_err(Error::Thread)?;
        }
        drop((take, tell));
        let written = shared.write(&mut store, &news, &mut seen, &mut counts, &mut troubles);
        if written.is_err() {
            shared.broken.store(true, Ordering::Relaxed);
        }
        // Nobody waits for this thread any more.
        drop(news);
        let walked = walker.join().map_err(|_| Error::Stopped)?;
        written.and(walked)
    })?;
    counts.inspected = shared.inspected.load(Ordering::Relaxed);
    counts.known += walked.known;
    let is_stopped = call.watch.is_stopped();
    if !is_stopped {
        call.watch.at(Point::Sweeping);
        let is_seen = |id| seen.contains(id) || walked.seen.contains(id);
        (counts.gone, counts.moved) = store.sweep(|id, path| {
            if is_seen(id) {
                return false;
            }
            let is_below = walked.roots.iter().any(|root| path.starts_with(root));
            let is_blind = path.ancestors().any(|folder| walked.blind.contains(folder));
            (is_below && !is_blind || walked.missing.contains(id)) && is_missing(path)
        })?;
        call.watch.at(Point::Swept);
    }
    call.watch.at(Point::Ending);
    let run = store.run();
    store.end(&now(), !is_stopped, counts)?;
    Ok(Ended {
        run,
        counts,
        passed: walked.passed,
        troubles,
        is_stopped,
    })
}

fn is_missing(path: &Path) -> bool {
    let fault = std::fs::symlink_metadata(path).err();
    fault.is_some_and(|fault| {
        matches!(
            fault.kind(),
            std::io::ErrorKind::NotFound | std::io::ErrorKind::NotADirectory
        )
    })
}

/// Paths as they are stored: from the root on, and none within another.
fn roots(paths: &[PathBuf]) -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> = paths
        .iter()
        .map(|path| std::path::absolute(path).unwrap_or_else(|_| path.clone()))
        .collect();
    all.sort();
    all.dedup();
    let mut kept: Vec<PathBuf> = Vec::new();
    for path in all {
        if !kept.iter().any(|root| path.starts_with(root)) {
            kept.push(path);
        }
    }
    kept
}

impl Shared<'_> {
    fn walk(&self, what: What, tasks: &Sender<Task>, tell: &Sender<News>) -> Result<Walked, Error> {
        let reader = Reader::open(self.store)?;
        let mut walked = Walked::default();
        let mut fault = None;
        let mut one = |named: &Path, walked: &mut Walked| {
            let mut passed = 0;
            let is_over = {
                let mut each = |seen: Seen| match self.seen(seen, &reader, walked, tasks, tell) {
                    Ok(flow) => flow,
                    Err(error) => {
                        fault = Some(error);
                        ControlFlow::Break(())
                    }
                };
                passed += walk(named, &mut each);
                fault.is_some() || self.is_over()
            };
            walked.passed += passed;
            if is_over {
                ControlFlow::Break(())
            } else {
                ControlFlow::Continue(())
            }
        };
        match what {
            What::Paths(paths) => {
                walked.roots = roots(&paths);
                for root in walked.roots.clone() {
                    if one(&root, &mut walked).is_break() {
                        break;
                    }
                }
            }
            What::Manifest { input, is_nul } => {
                let mut each = |path: PathBuf| {
                    let path = std::path::absolute(&path).unwrap_or(path);
                    one(&path, &mut walked)
                };
                manifest(input, is_nul, &mut each).map_err(Error::Input)?;
            }
        }
        self.watch.at(Point::Walked);
        match fault {
            Some(error) => Err(error),
            None => Ok(walked),
        }
    }

    /// What is to be done about what the walk came by.
    fn seen(
        &self,
        seen: Seen,
        reader: &Reader,
        walked: &mut Walked,
        tasks: &Sender<Task>,
        tell: &Sender<News>,
    ) -> Result<ControlFlow<()>, Error> {
        if self.is_over() {
            return Ok(ControlFlow::Break(()));
        }
        let found = match seen {
            Seen::File(found) => found,
            Seen::Trouble(path, message) => {
                if is_missing(&path)
                    && let Some(known) = reader.known(path.as_os_str().as_encoded_bytes())?
                    && !known.is_gone
                {
                    walked.missing.insert(known.id);
                } else {
                    walked.blind.insert(path.clone());
                }
                return Ok(flow(tell.send(News::Trouble(path, message)).is_ok()));
            }
        };
        let terms = self.desk.terms(&found.path);
        let known = reader.known(found.path.as_os_str().as_encoded_bytes())?;
        let known = known.filter(|known| known.terms == *terms);
        if let Some(known) = &known
            && !self.verify
            && !known.is_gone
            && known.size == found.size
            && known.modified.is_some()
            && known.modified == found.modified
        {
            walked.seen.insert(known.id);
            walked.known += 1;
            self.watch.at(Point::Known);
            return Ok(ControlFlow::Continue(()));
        }
        let may_be_known = match found.size {
            Some(size) => known.is_some() || reader.has_size(size, &terms, self.run)?,
            None => false,
        };
        self.watch.at(Point::Found);
        let task = Task {
            found,
            terms,
            known,
            may_be_known,
        };
        Ok(flow(tasks.send(task).is_ok()))
    }

    /// Looks at files until there are none left.
    fn work(&self, take: &Receiver<Task>, tell: &Sender<News>) {
        let reader = match Reader::open(self.store) {
            Ok(reader) => reader,
            Err(fault) => {
                let _ = tell.send(News::Fault(fault));
                return;
            }
        };
        for task in take {
            if self.is_over() {
                // What was found and not looked at is found again.
                continue;
            }
            let news = self.examine(&task, &reader).unwrap_or_else(News::Fault);
            self.watch.at(Point::Examined(task.found.size.unwrap_or(0)));
            if tell.send(news).is_err() {
                return;
            }
        }
    }

    fn examine(&self, task: &Task, reader: &Reader) -> Result<News, Error> {
        if task.may_be_known
            && let Some(from) = self.known_bytes(task, reader)?
        {
            return Ok(from);
        }
        let mut broken = None;
        let (site, jobs) = self.desk.examine(&task.found, &task.terms, &mut |(
            _,
            member,
            outcome,
            no_rule,
        )| {
            match Job::of(member, outcome, no_rule) {
                Ok(job) => Some(job),
                Err(fault) => {
                    broken = Some(fault.to_string());
                    None
                }
            }
        });
        if let Some(why) = broken {
            return Err(Error::Line { line: 1, why });
        }
        let jobs: Vec<Job> = jobs.into_iter().flatten().collect();
        self.inspected
            .fetch_add(jobs.len() as u64, Ordering::Relaxed);
        Ok(News::Fresh(Box::new(site), jobs))
    }

    /// A file whose bytes are known, from here or elsewhere, under the same terms.
    fn known_bytes(&self, task: &Task, reader: &Reader) -> Result<Option<News>, Error> {
        let Ok(digest) = digest(&task.found.path) else {
            return Ok(None);
        };
        let here = task
            .known
            .as_ref()
            .filter(|known| known.digest.as_ref() == Some(&digest));
        let from = match here {
            Some(known) => Some(known.id),
            None => reader.with_digest(&digest, &task.terms, self.run)?,
        };
        let (Some(from), Some(site)) = (from, site_of(&task.found, &task.terms, digest)) else {
            return Ok(None);
        };
        let is_as_was =
            here.is_some_and(|known| !known.is_gone && known.modified == site.modified_ns);
        Ok(Some(if is_as_was {
            News::Known(from)
        } else {
            News::Same(Box::new(site), from)
        }))
    }

    /// Writes what comes, until nobody is left who could send.
    fn write(
        &self,
        store: &mut Store,
        news: &Receiver<News>,
        seen: &mut Bits,
        counts: &mut Counts,
        troubles: &mut u64,
    ) -> Result<(), Error> {
        loop {
            let is_due = match news.recv_timeout(Duration::from_millis(500)) {
                Ok(News::Fresh(site, jobs)) => {
                    self.watch.at(Point::Putting);
                    let (id, is_due) = store.put(&site, &jobs)?;
                    seen.insert(id);
                    self.watch.at(Point::Put);
                    is_due
                }
                Ok(News::Same(site, from)) => {
                    self.watch.at(Point::Putting);
                    let (id, is_due) = store.copy(&site, from)?;
                    seen.insert(id);
                    counts.copied += 1;
                    self.watch.at(Point::Put);
                    is_due
                }
                Ok(News::Known(id)) => {
                    seen.insert(id);
                    counts.known += 1;
                    false
                }
                Ok(News::Trouble(path, message)) => {
                    *troubles += 1;
                    store.trouble(&spelled(&path).0, &message)?;
                    false
                }
                Ok(News::Fault(fault)) => return Err(fault),
                Err(RecvTimeoutError::Timeout) => true,
                Err(RecvTimeoutError::Disconnected) => {
                    self.commit(store)?;
                    return Ok(());
                }
            };
            if is_due {
                self.commit(store)?;
            }
        }
    }

    fn commit(&self, store: &mut Store) -> Result<(), Error> {
        self.watch.at(Point::Committing);
        store.commit()?;
        self.watch.at(Point::Committed);
        Ok(())
    }
}

const fn flow(goes_on: bool) -> ControlFlow<()> {
    if goes_on {
        ControlFlow::Continue(())
    } else {
        ControlFlow::Break(())
    }
}
