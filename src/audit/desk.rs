//! The desk: from a file that was found to what became of each job in it.

use super::archive::{self, Member};
use super::line::{Site, spelled};
use super::walk::Found;
use crate::concession::{Concession, Date};
use crate::job::{Choice, Rule, Rules, Settings, Source, inspect_source};
use crate::report::{Failed, Outcome};
use crate::text::{Name, Threads};
use std::collections::HashMap;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{SystemTime, UNIX_EPOCH};

/// Within how many nanoseconds before it is looked at a file's time is not to be trusted: it may be
/// written again without its time changing. Chosen: two seconds are the coarsest step of file systems
/// in use (from memory).
const FRESH_NS: i64 = 2_000_000_000;

/// Which rules may fit, and the terms that come of them.
type KnownTerms = HashMap<Vec<usize>, Arc<str>>;

/// Inspects the jobs of files.
#[derive(Debug)]
pub struct Desk<'a> {
    rules: &'a Rules,
    /// Terms by the rules that may fit; those of paths are not kept.
    terms: Mutex<KnownTerms>,
    /// Whether a verdict may hang on the job's own path.
    by_path: bool,
}

/// A job that was looked at: where it lies, its name within an archive, what became of it, and
/// whether no rule fits it.
pub type Examined<'a> = (&'a Site, &'a str, &'a Outcome, bool);

impl<'a> Desk<'a> {
    /// A desk with these rules.
    #[must_use]
    pub fn new(rules: &'a Rules) -> Self {
        let named = |rule: &Rule| {
            rule.settings
                .concessions
                .iter()
                .any(|one| one.job.is_some())
        };
        Self {
            rules,
            terms: Mutex::new(HashMap::new()),
            by_path: rules.list.iter().any(named),
        }
    }

    /// A digest of all that the verdict on a job hangs on besides its bytes.
    #[must_use]
    pub fn terms(&self, path: &Path) -> Arc<str> {
        let open = match self.rules.list.first() {
            Some(rule) if rule.is_for_all() => vec![0],
            _ => self.rules.open_for(Some(path)),
        };
        if self.by_path {
            return self.digest(&open, Some(path)).into();
        }
        let mut known = self.terms.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(terms) = known.get(&open) {
            return Arc::clone(terms);
        }
        let terms: Arc<str> = self.digest(&open, None).into();
        known.insert(open, Arc::clone(&terms));
        terms
    }

    fn digest(&self, open: &[usize], path: Option<&Path>) -> String {
        let mut digest = blake3::Hasher::new();
        let mut say = |text: &str| {
            digest.update(&(text.len() as u64).to_le_bytes());
            digest.update(text.as_bytes());
        };
        say(env!("CARGO_PKG_VERSION"));
        say(&crate::report::record::VERSION.to_string());
        say(&super::line::VERSION.to_string());
        for rule in open.iter().filter_map(|index| self.rules.list.get(*index)) {
            say(&format!("{:?}", rule.declared));
            for text in texts(&rule.settings) {
                say(&text);
            }
        }
        if let Some(path) = path {
            say(&spelled(path).0);
        }
        let hex = digest.finalize().to_hex();
        hex.get(..32).unwrap_or_default().to_owned()
    }

    /// Looks at every job of a file. `say` is told of each in turn; what it returns is collected.
    pub fn examine<T>(
        &self,
        found: &Found,
        terms: &str,
        say: &mut dyn FnMut(Examined<'_>) -> T,
    ) -> (Site, Vec<T>) {
        let mut site = site(found, terms);
        let name = Name::Path(found.path.clone().into_os_string());
        let head = match found.size {
            Some(_) => head(&found.path).unwrap_or_default(),
            None => Vec::new(),
        };
        if archive::is_archive(&head) {
            site.digest = digest(&found.path).ok();
            let all = match archive::members(&found.path) {
                Ok(members) => self.members(&mut site, &found.path, &members, say),
                Err(why) => {
                    let failed = refused(
                        &name,
                        &format!("{name} is no archive that can be read: {why}"),
                    );
                    vec![say((&site, "", &Outcome::Failed(failed), false))]
                }
            };
            look_again(found, &mut site);
            return (site, all);
        }
        let source = Source::file(&found.path);
        let (mut outcome, no_rule) = self.inspect(&source, &name, &found.path);
        site.digest = match &outcome {
            Outcome::Checked(checked) => checked.stored.digest_hex.clone(),
            // What kept it from being read may pass; then there is no digest, and it is tried again.
            Outcome::Failed(_) => found.size.and_then(|_| digest(&found.path).ok()),
        };
        if found.size.is_none() || site.digest.is_none() {
            site.modified_ns = None;
        }
        if !look_again(found, &mut site) {
            let message = format!("{name} changed while it was inspected");
            let help = "wait until it is written in full, then audit it again";
            outcome = Outcome::Failed(Failed {
                name,
                message,
                help: help.to_owned(),
            });
        }
        let said = say((&site, "", &outcome, no_rule));
        (site, vec![said])
    }

    fn members<T>(
        &self,
        site: &mut Site,
        path: &Path,
        members: &[Member],
        say: &mut dyn FnMut(Examined<'_>) -> T,
    ) -> Vec<T> {
        site.jobs = members.len() as u64;
        let site = &*site;
        let one = |member: &Member| {
            let shown = path.join(&member.name);
            let name = Name::Given(format!("{}, {}", path.to_string_lossy(), member.name));
            let (outcome, no_rule) = match &member.refused {
                Some(why) => (
                    Outcome::Failed(refused(&name, &format!("{name} {why}"))),
                    false,
                ),
                None => {
                    let again = member.clone();
                    let source = Source::made(move || again.open());
                    self.inspect(&source, &name, &place(path, &shown))
                }
            };
            say((site, &member.name, &outcome, no_rule))
        };
        members.iter().map(one).collect()
    }

    /// Inspects one job; the outcome, and whether no rule fits it.
    fn inspect(&self, source: &Source, name: &Name, place: &Path) -> (Outcome, bool) {
        let choice =
            crate::job::guarded(|| self.rules.choose(source, name, Some(place), Threads::One));
        match choice {
            Ok(Ok(Choice::Fits(_, rule))) => {
                let outcome = inspect_source(source, name, &rule.settings, Threads::One);
                (Outcome::from(outcome), false)
            }
            Ok(Ok(Choice::None(why))) => {
                let help = "add a rule to the configuration, or name the sheets";
                let failed = Failed {
                    name: name.clone(),
                    message: why,
                    help: help.to_owned(),
                };
                (Outcome::Failed(failed), true)
            }
            Ok(Err(failed)) => (Outcome::Failed(failed), false),
            Err(panic) => {
                let message =
                    format!("{name} could not be inspected: a fault in this program at {panic}");
                (Outcome::Failed(refused(name, &message)), false)
            }
        }
    }
}

/// What is known of a file before it is read.
fn site(found: &Found, terms: &str) -> Site {
    let (path, path_bytes) = spelled(&found.path);
    Site {
        path,
        path_bytes,
        size: found.size,
        modified_ns: found.modified.filter(|modified| !is_fresh(*modified)),
        month: found.modified.and_then(month),
        digest: None,
        terms: terms.to_owned(),
        jobs: 1,
    }
}

/// The site of a file that was read only for its digest; none where the file changed meanwhile.
pub(super) fn site_of(found: &Found, terms: &str, digest: String) -> Option<Site> {
    let mut site = site(found, terms);
    site.digest = Some(digest);
    look_again(found, &mut site).then_some(site)
}

/// Whether the file is still what it was when it was found; else its site is not to be trusted.
fn look_again(found: &Found, site: &mut Site) -> bool {
    let now = Found::named(found.path.clone()).ok();
    let is_same = now.is_none_or(|now| now.size == found.size && now.modified == found.modified);
    if !is_same {
        site.modified_ns = None;
        site.digest = None;
    }
    is_same
}

/// Where a job within an archive counts as lying: in the archive's folder, under its own last name,
/// wherever its whole name would lead.
fn place(archive: &Path, shown: &Path) -> PathBuf {
    let last = shown.file_name().unwrap_or_default();
    archive.parent().unwrap_or_else(|| Path::new("")).join(last)
}

fn refused(name: &Name, message: &str) -> Failed {
    Failed {
        name: name.clone(),
        message: message.to_owned(),
        help: "give the sliced job itself, as the slicing program wrote it".to_owned(),
    }
}

/// All that settings may change in a verdict.
fn texts(settings: &Settings) -> Vec<String> {
    let materials = settings.materials.as_ref().map(|materials| {
        let digests = materials.iter().map(|material| {
            let material = material.as_ref()?;
            Some((material.name.clone(), material.digest.clone()))
        });
        digests.collect::<Vec<_>>()
    });
    let machine = settings
        .machine
        .as_ref()
        .map(|machine| (&machine.name, &machine.digest));
    let mut texts = vec![
        format!("{materials:?} {:?}", settings.material_by.word()),
        format!("{machine:?} {:?}", settings.machine_by.word()),
        format!("{:?}", settings.hold_from),
    ];
    texts.extend(
        settings
            .concessions
            .iter()
            .map(|one| granted(one, settings.today)),
    );
    texts
}

/// A concession, and whether it is past its last day.
fn granted(concession: &Concession, today: Date) -> String {
    let is_past = concession.until.is_some_and(|until| until < today);
    format!("{concession:?} {is_past}")
}

/// A file's first bytes.
fn head(path: &Path) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    File::open(path)?.take(4).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// BLAKE3 of a file's bytes as stored.
pub(super) fn digest(path: &Path) -> std::io::Result<String> {
    let mut digest = blake3::Hasher::new();
    let mut file = File::open(path)?;
    let mut piece = vec![0; 1 << 18];
    loop {
        let count = file.read(&mut piece)?;
        if count == 0 {
            return Ok(digest.finalize().to_hex().to_string());
        }
        digest.update(piece.get(..count).unwrap_or_default());
    }
}

fn is_fresh(modified: i64) -> bool {
    let now = SystemTime::now().duration_since(UNIX_EPOCH).ok();
    let now = now.and_then(|now| i64::try_from(now.as_nanos()).ok());
    now.is_none_or(|now| modified > now - FRESH_NS)
}

/// The month of a time, `2027-03`.
fn month(since_1970_ns: i64) -> Option<String> {
    let days = u32::try_from(since_1970_ns / 1_000_000_000 / 86_400).ok()?;
    Some(Date::from_days(days)?.to_string().get(..7)?.to_owned())
}

/// The present moment in universal time, `2027-03-31T12:00:00Z`.
#[must_use]
pub fn now() -> String {
    let since = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .unwrap_or_default()
        .as_secs();
    let date = u32::try_from(since / 86_400).ok().and_then(Date::from_days);
    let (hours, minutes, seconds) = (since / 3600 % 24, since / 60 % 60, since % 60);
    let date = date.map(|date| date.to_string()).unwrap_or_default();
    format!("{date}T{hours:02}:{minutes:02}:{seconds:02}Z")
}
