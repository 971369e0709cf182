//! The gate at a folder: what has finished arriving is taken, answered, and brought with its record to
//! one side or the other.
//!
//! Events of the file system only say that there is something to look at; what there is, a look at the
//! whole folder says. So nothing hangs on an event that is lost, or never comes from a network folder.

mod arrival;
mod hold;
mod status;

#[cfg(test)]
mod tests;

use super::{Asked, Became, Gate, Stamping, failed};
use crate::concession::Date;
use crate::job::deliver::{Real, Seen};
use crate::job::{Source, To};
use crate::report::Failed;
use crate::report::gated::{Answer, Gated};
use crate::report::record::{GateRecord, moment};
use crate::text::Name;
use arrival::{Arrivals, Arrived};
use hold::{Along, Hold, LOCK, Taken};
use notify::event::{ModifyKind, RenameMode};
use notify::{EventKind, RecursiveMode, Watcher};
use status::Status;
use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

/// The gates' folder in the inbox.
const FOLDER: &str = ".meltgauge";

/// The first pause after the system refused something (chosen).
const PAUSE: Duration = Duration::from_millis(500);

/// The longest (chosen).
const LONGEST_PAUSE: Duration = Duration::from_secs(60);

/// How many gates a job may have stopped that were inspecting it, before none does any more (chosen: the
/// power may fail a few times by chance).
const MOST_TRIES: u32 = 5;

/// A gate at a folder.
pub struct Watch<'a> {
    pub gate: Gate,
    pub inbox: PathBuf,
    pub released: PathBuf,
    pub held: PathBuf,
    /// How jobs are stamped on their way out; none where they are not. No stamp is trusted here.
    pub stamping: Option<Stamping>,
    /// Whether the original of a reworked job goes beside it.
    pub keep_original: bool,
    /// Where its status is written.
    pub status: Option<PathBuf>,
    /// How long a file must not change before it is taken, unless it was renamed in.
    pub settle: Duration,
    /// How often the inbox is looked at where nothing says that it changed.
    pub poll: Duration,
    /// Where its lines go.
    pub log: &'a dyn Fn(&GateRecord),
}

/// Why the gate looks at the inbox.
enum Wake {
    /// Something changed.
    Changed,
    /// A file was renamed to this.
    Renamed(PathBuf),
    /// It is told to stop.
    Stop,
}

/// A job that was taken and has not gone yet.
struct Waiting {
    hold: Hold<Real>,
    taken: Taken,
    /// What it was like when it was taken.
    seen: Option<Seen>,
    /// When it is tried next, and how long the pause after that is.
    next: Instant,
    pause: Duration,
    /// Its answer, where only its way is not finished.
    gated: Option<Gated>,
    /// How often a gate was stopped while it inspected it.
    tries: u32,
}

/// A folder of taken jobs that this gate answers for as long as it has its lock.
struct Owned {
    hold: Hold<Real>,
    folder: PathBuf,
    _lock: File,
}

struct Running<'a> {
    watch: Watch<'a>,
    own: Owned,
    adopted: Vec<Owned>,
    waiting: VecDeque<Waiting>,
    number: u64,
    arrivals: Arrivals,
    status: Status,
    stop: Arc<AtomicBool>,
    /// No job is taken before: the disk is full.
    full_until: Option<Instant>,
}

impl Watch<'_> {
    /// Watches until the process is told to stop.
    ///
    /// # Errors
    ///
    /// Where the gate cannot begin; afterwards it goes on whatever the system refuses.
    pub fn run(self) -> io::Result<()> {
        let (wake, woken) = channel();
        let stop = Arc::new(AtomicBool::new(false));
        {
            let (wake, stop) = (wake.clone(), Arc::clone(&stop));
            // A rework heeds being told to stop too; whoever comes first is heard.
            let heeded = ctrlc::set_handler(move || {
                stop.store(true, Ordering::SeqCst);
                let _ = wake.send(Wake::Stop);
            });
            heeded.map_err(io::Error::other)?;
        }
        let watcher = watcher(&self.inbox, wake);
        let mut running = Running {
            own: Owned::new(&self.inbox)?,
            adopted: Vec::new(),
            waiting: VecDeque::new(),
            number: 0,
            arrivals: Arrivals::new(self.settle),
            status: Status {
                started: now(),
                ..Status::default()
            },
            stop,
            full_until: None,
            watch: self,
        };
        running.say("the gate watches");
        if let Err(fault) = &watcher {
            running.say(&format!(
                "no events come, and the folder is polled: {fault}"
            ));
        }
        running.go(&woken);
        running.say("the gate is closed");
        Ok(())
    }
}

/// Tells of changes in the folder; where events were lost it tells of a change, too.
fn watcher(inbox: &Path, wake: Sender<Wake>) -> notify::Result<notify::RecommendedWatcher> {
    let tell = move |event: notify::Result<notify::Event>| {
        let is_named = |event: &notify::Event| {
            matches!(
                event.kind,
                EventKind::Modify(ModifyKind::Name(RenameMode::To | RenameMode::Both))
            )
        };
        let sent = match event {
            Ok(event) if is_named(&event) => match event.paths.last() {
                Some(path) => wake.send(Wake::Renamed(path.clone())),
                None => wake.send(Wake::Changed),
            },
            Ok(event) if matches!(event.kind, EventKind::Access(_)) => Ok(()),
            _ => wake.send(Wake::Changed),
        };
        let _ = sent;
    };
    let mut watcher = notify::recommended_watcher(tell)?;
    watcher.watch(inbox, RecursiveMode::NonRecursive)?;
    Ok(watcher)
}

impl Owned {
    /// A new folder of this gate's own.
    fn new(inbox: &Path) -> io::Result<Self> {
        let all = inbox.join(FOLDER);
        match std::fs::create_dir(&all) {
            Err(fault) if fault.kind() != ErrorKind::AlreadyExists => return Err(fault),
            _ => {}
        }
        let folder = tempfile::Builder::new().prefix("").tempdir_in(&all)?.keep();
        let lock = File::create(folder.join(LOCK))?;
        lock.try_lock().map_err(io::Error::from)?;
        Ok(Self {
            hold: Hold::new(Real, &folder),
            folder,
            _lock: lock,
        })
    }

    /// A folder whose gate is no more; none where it lives.
    fn adopt(folder: &Path) -> Option<Self> {
        let lock = match File::open(folder.join(LOCK)) {
            Ok(lock) => lock,
            Err(fault) if fault.kind() == ErrorKind::NotFound => {
                // One that was just made, or is nearly taken away: only an empty one goes.
                let _ = std::fs::remove_dir(folder);
                return None;
            }
            Err(_) => return None,
        };
        lock.try_lock().ok()?;
        Some(Self {
            hold: Hold::new(Real, folder),
            folder: folder.to_owned(),
            _lock: lock,
        })
    }

    /// Takes the folder away where no job is in it any more.
    fn close(&self) {
        let is_empty = std::fs::read_dir(&self.folder)
            .is_ok_and(|entries| entries.flatten().all(|entry| entry.file_name() == LOCK));
        if is_empty {
            let _ = std::fs::remove_file(self.folder.join(LOCK));
            let _ = std::fs::remove_dir(&self.folder);
        }
    }
}

impl Running<'_> {
    fn go(&mut self, woken: &Receiver<Wake>) {
        let mut looked: Option<Instant> = None;
        while !self.is_stopped() {
            if looked.is_none_or(|looked| looked.elapsed() >= self.watch.poll) {
                self.adopt();
                looked = Some(Instant::now());
            }
            self.retry();
            self.look();
            self.tell();
            if self.is_stopped() {
                break;
            }
            let mut event = match woken.recv_timeout(self.pause()) {
                Ok(event) => Some(event),
                Err(RecvTimeoutError::Timeout) => None,
                Err(RecvTimeoutError::Disconnected) => return,
            };
            while let Some(wake) = event {
                match wake {
                    Wake::Changed => {}
                    Wake::Renamed(path) => self.arrivals.renamed(&path),
                    Wake::Stop => return self.close(),
                }
                event = woken.try_recv().ok();
            }
        }
        self.close();
    }

    fn is_stopped(&self) -> bool {
        self.stop.load(Ordering::SeqCst)
    }

    fn close(&mut self) {
        self.tell();
        for owned in self.adopted.iter().chain([&self.own]) {
            owned.close();
        }
    }

    /// How long to wait for an event.
    fn pause(&self) -> Duration {
        let now = Instant::now();
        let retry = self.waiting.iter().map(|waiting| waiting.next);
        let due = retry.min().map(|next| next.saturating_duration_since(now));
        let settling = (self.arrivals.waiting().0 > 0).then_some(self.watch.settle / 4);
        [Some(self.watch.poll), due, settling]
            .into_iter()
            .flatten()
            .min()
            .unwrap_or(self.watch.poll)
            .max(Duration::from_millis(5))
    }

    /// Finishes what gates that are no more have left.
    fn adopt(&mut self) {
        let folders = match std::fs::read_dir(self.watch.inbox.join(FOLDER)) {
            Ok(entries) => entries.flatten().map(|entry| entry.path()),
            Err(fault) => return self.refused("the gate's folder cannot be read", &fault),
        };
        for folder in folders.collect::<Vec<_>>() {
            let is_known = folder == self.own.folder
                || self.adopted.iter().any(|owned| owned.folder == folder);
            if is_known {
                continue;
            }
            let Some(owned) = Owned::adopt(&folder) else {
                continue;
            };
            let found = match owned.hold.recover() {
                Ok(found) => found,
                Err(fault) => {
                    self.refused("what another gate left cannot be read", &fault);
                    continue;
                }
            };
            for place in found.finished {
                self.gone(None, place);
            }
            for (_, fault) in &found.stuck {
                self.refused("a job cannot be brought to its place yet", fault);
            }
            let stuck = found.stuck.into_iter().map(|(taken, _)| (taken, 0));
            for (taken, tries) in stuck.chain(found.unanswered) {
                let hold = owned.hold.clone();
                self.waiting.push_back(Waiting {
                    tries,
                    ..Waiting::new(hold, taken, None)
                });
            }
            self.adopted.push(owned);
        }
    }

    /// Answers jobs whose time has come.
    fn retry(&mut self) {
        for _ in 0..self.waiting.len() {
            if self.is_stopped() {
                return;
            }
            let Some(waiting) = self.waiting.pop_front() else {
                return;
            };
            if waiting.next <= Instant::now() {
                self.answer(waiting);
            } else {
                self.waiting.push_back(waiting);
            }
        }
        // What is done with goes, and its lock with it.
        let waiting = &self.waiting;
        self.adopted.retain(|owned| {
            let has_jobs = waiting.iter().any(|job| job.hold.folder() == owned.folder);
            if !has_jobs {
                owned.close();
            }
            has_jobs
        });
    }

    /// Takes and answers what has arrived.
    fn look(&mut self) {
        if self.full_until.is_some_and(|until| Instant::now() < until) {
            return;
        }
        let arrived = match self.arrivals.look(&self.watch.inbox) {
            Ok(arrived) => arrived,
            Err(fault) => return self.refused("the inbox cannot be read", &fault),
        };
        for arrived in arrived {
            if self.is_stopped() || self.full_until.is_some_and(|until| Instant::now() < until) {
                return;
            }
            self.take(&arrived);
        }
    }

    fn take(&mut self, arrived: &Arrived) {
        if arrived.seen.is_still(&arrived.path).is_err() || arrived.is_open() {
            // Replaced or written to since the look; the next one sees it.
            return;
        }
        self.number += 1;
        match self.own.hold.take(&arrived.path, self.number) {
            Ok(taken) => {
                self.arrivals.forget(&taken.name);
                let hold = self.own.hold.clone();
                self.answer(Waiting::new(hold, taken, Some(arrived.seen.clone())));
            }
            // Another gate took it, or whoever brought it took it back.
            Err(fault) if fault.kind() == ErrorKind::NotFound => {}
            Err(fault) => self.refused("a job cannot be taken", &fault),
        }
    }

    /// Answers a job and brings it to its side; what cannot be done now is tried again.
    fn answer(&mut self, mut waiting: Waiting) {
        match waiting.hold.resume(&waiting.taken) {
            Ok(None) => {}
            Ok(Some(place)) => return self.gone(waiting.gated, place),
            Err(fault) => return self.not_yet(waiting, &fault),
        }
        let path = waiting.hold.job(&waiting.taken);
        let place = self.watch.inbox.join(&waiting.taken.name);
        let name = Name::Path(place.clone().into_os_string());
        let before = std::fs::metadata(&path).ok();
        if let Some(today) = u32::try_from(now() / 86_400).ok().and_then(Date::from_days) {
            self.watch.gate.today(today);
        }
        let source = match Source::new(path.as_os_str(), &name) {
            Ok(source) => source,
            Err(failed) => return self.refused(&failed.message, &io::Error::other("no source")),
        };
        let asked = Asked {
            source: &source,
            name: &name,
            place: Some(&place),
            to: To::File {
                path: waiting.hold.reworked(&waiting.taken),
                overwrite: true,
            },
        };
        let (mut gated, became) = if waiting.tries < MOST_TRIES {
            waiting.hold.note_tries(&waiting.taken, waiting.tries + 1);
            self.watch.gate.answer(&asked)
        } else {
            given_up(&name)
        };
        waiting.tries = 0;
        // Whoever still writes to it is waited for.
        let is_still = before.as_ref().is_none_or(|before| {
            let seen = waiting.seen.clone().unwrap_or_else(|| Seen::of(before));
            seen.is_still(&path).is_ok()
        });
        if !is_still {
            waiting.seen = None;
            waiting.next = Instant::now() + self.watch.settle;
            return self.put_off(waiting);
        }
        let reworked = became.is_written();
        let Some(record) = became.record() else {
            waiting.later();
            return self.put_off(waiting);
        };
        let stamp = match &self.watch.stamping {
            None => None,
            Some(stamping) => {
                let file = match reworked {
                    true => waiting.hold.reworked(&waiting.taken),
                    false => path,
                };
                let gate = &self.watch.gate;
                stamping
                    .text(gate, Some(&place), &gated, &file)
                    .unwrap_or_else(|fault| {
                        gated.remark(&format!("no stamp could be made: {fault}"));
                        None
                    })
            }
        };
        let along = Along {
            record: &record,
            stamp: stamp.as_deref(),
            reworked,
            original: self.watch.keep_original && gated.changes > 0,
        };
        let side = match gated.answer {
            Answer::Pass => &self.watch.released,
            Answer::Hold | Answer::NotInspected => &self.watch.held,
        };
        match waiting.hold.bring(&waiting.taken, &along, side) {
            Ok(place) => self.gone(Some(gated), place),
            Err(fault) => {
                waiting.gated = Some(gated);
                self.not_yet(waiting, &fault);
            }
        }
    }

    /// A job is where it belongs.
    fn gone(&mut self, gated: Option<Gated>, place: PathBuf) {
        let Some(mut gated) = gated else {
            let place = Name::Path(place.into_os_string());
            return self.say(&format!("what another gate began is finished: {place}"));
        };
        gated.moved_to = Some(place);
        if let Some(count) = self.status.answered.get_mut(gated.answer as usize) {
            *count += 1;
        }
        self.status.last_answer = Some(now());
        (self.watch.log)(&GateRecord::of(&gated, &moment(now())));
    }

    /// A job cannot go where it belongs now.
    fn not_yet(&mut self, mut waiting: Waiting, fault: &io::Error) {
        self.refused("a job cannot be brought to its place yet", fault);
        waiting.later();
        if matches!(
            fault.kind(),
            ErrorKind::StorageFull | ErrorKind::QuotaExceeded
        ) {
            self.full_until = Some(waiting.next);
        }
        self.put_off(waiting);
    }

    /// A job waits for its next turn; its inspection stopped nobody.
    fn put_off(&mut self, waiting: Waiting) {
        waiting.hold.note_tries(&waiting.taken, 0);
        self.waiting.push_back(waiting);
    }

    fn refused(&mut self, what: &str, fault: &io::Error) {
        let said = format!("{what}: {fault}");
        self.say(&said);
        self.status.errors += 1;
        self.status.last_error = Some((said, now()));
    }

    fn say(&self, what: &str) {
        (self.watch.log)(&GateRecord::event(what, &moment(now())));
    }

    /// Writes the status.
    fn tell(&mut self) {
        let Some(path) = &self.watch.status else {
            return;
        };
        let (waiting, since) = self.arrivals.waiting();
        self.status.waiting = waiting;
        self.status.taken = self.waiting.len();
        self.status.oldest = since.map_or(0.0, |since| since.elapsed().as_secs_f64());
        if let Err(fault) = self.status.write(path) {
            let said = format!("the status cannot be written: {fault}");
            let is_new = self
                .status
                .last_error
                .as_ref()
                .is_none_or(|(last, _)| *last != said);
            if is_new {
                self.refused("the status cannot be written", &fault);
            }
        }
    }
}

impl Waiting {
    fn new(hold: Hold<Real>, taken: Taken, seen: Option<Seen>) -> Self {
        Self {
            hold,
            taken,
            seen,
            next: Instant::now(),
            pause: PAUSE,
            gated: None,
            tries: 0,
        }
    }

    /// It is tried again after a pause, each twice as long as the one before.
    fn later(&mut self) {
        self.next = Instant::now() + self.pause;
        self.pause = (self.pause * 2).min(LONGEST_PAUSE);
    }
}

/// The answer for a job that no gate inspects any more.
fn given_up(name: &Name) -> (Gated, Became) {
    failed(Failed {
        name: name.clone(),
        message: format!(
            "{name} has no answer: the gate was stopped {MOST_TRIES} times inspecting it"
        ),
        help: "inspect it by hand; if that ends this program too, report the fault".to_owned(),
    })
}

/// The moment, s since 1970.
fn now() -> u64 {
    SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .map_or(0, |since| since.as_secs())
}
