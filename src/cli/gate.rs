//! `gate`: one job is let through, corrected or held, in one line and an exit code made for machines.

use super::args::HoldFrom;
use super::config;
use super::console::Console;
use super::settings::{self, rules};
use super::{Exit, Fault};
use crate::gate::{Asked, Gate, Private, Public, Stamping, Watch, verify};
use crate::job::deliver::{Delivery, Real, Target};
use crate::job::{Rules, Source, To, name_of};
use crate::report::gated::{Answer, Gated};
use crate::report::record::{GateRecord, moment};
use crate::report::terminal;
use crate::rework::Wanted;
use crate::text::{Name, clean};
use clap::ValueEnum;
use std::ffi::{OsStr, OsString};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

/// The arguments of `gate`, as typed.
#[derive(Debug, clap::Args)]
#[command(group(clap::ArgGroup::new("sheets").args(["config", "material", "machine"]).multiple(true)))]
pub(super) struct Typed {
    /// Job, plain, gzip or zstd; `-` is the standard input, which goes to the standard output if it
    /// passes
    #[arg(value_name = "JOB", required_unless_present_any = ["new_key", "watch"], conflicts_with = "watch")]
    job: Option<OsString>,
    /// Configuration with the rules that name sheets; it is not looked for, and may not lie in the
    /// job's folder
    #[arg(long, value_name = "FILE")]
    config: Option<PathBuf>,
    /// Material sheet for every job, in place of rules: a name of the library or a file
    #[arg(long, short = 'm', value_name = "SHEET")]
    material: Option<String>,
    /// Machine sheet for every job, in place of rules: a name of the library or a file
    #[arg(long, short = 'M', value_name = "SHEET")]
    machine: Option<String>,
    /// Hold a job from this class of finding up [default: major]
    #[arg(long, value_enum, value_name = "CLASS")]
    hold_from: Option<HoldFrom>,
    /// Nobody attends the machine: hold what stops for a person
    #[arg(long)]
    unattended: bool,
    /// Put right what can be put right, in the job's own place, where the job passes then
    #[arg(long)]
    rework: bool,
    /// Do repairs too, which alter the print
    #[arg(long, requires = "rework")]
    repair: bool,
    /// Keep the original of a reworked job beside it
    #[arg(long, requires = "rework")]
    keep_original: bool,
    /// Trust and make stamps beside jobs: an unchanged job is not inspected again. With --watch they are
    /// made, and none is trusted
    #[arg(long)]
    stamp: bool,
    /// Sign stamps with the secret key in this file, and trust no other
    #[arg(long, value_name = "KEY")]
    sign: Option<PathBuf>,
    /// Do not inspect: ask whether the job has a stamp that the owner of this public key signed
    #[arg(long, value_name = "KEY", conflicts_with_all = ["sheets", "rework", "stamp", "sign", "unattended", "hold_from"])]
    verify: Option<PathBuf>,
    /// Write the record of the inspection or the rework to this file
    #[arg(long, value_name = "FILE", conflicts_with = "verify")]
    record: Option<PathBuf>,
    /// Watch this folder until told to stop: take what has finished arriving, and bring it with its
    /// record to one side or the other
    #[arg(long, value_name = "INBOX", requires_all = ["released", "held"],
          conflicts_with_all = ["verify", "record"])]
    watch: Option<PathBuf>,
    /// With --watch: where jobs go that pass
    #[arg(long, value_name = "DIR", requires = "watch")]
    released: Option<PathBuf>,
    /// With --watch: where jobs go that are held or could not be inspected
    #[arg(long, value_name = "DIR", requires = "watch")]
    held: Option<PathBuf>,
    /// With --watch: write how the gate fares to this file, in the OpenMetrics text format
    #[arg(long, value_name = "FILE", requires = "watch")]
    status: Option<PathBuf>,
    /// With --watch: how long a file that was not renamed in must not change before it is taken, s
    #[arg(long, value_name = "SECONDS", requires = "watch", default_value_t = 2.0, value_parser = seconds)]
    settle: f64,
    /// With --watch: how often to look at the inbox where no event comes, as on network folders, s
    #[arg(long, value_name = "SECONDS", requires = "watch", default_value_t = 2.0, value_parser = seconds)]
    poll: f64,
    /// Make a secret key for --sign in this file, and the public one beside it
    #[arg(long, value_name = "FILE", exclusive = true)]
    new_key: Option<PathBuf>,
    /// How to write the line for the log
    #[arg(long, value_enum, default_value_t = Log::Text)]
    log: Log,
}

/// A time that one can wait for, s.
fn seconds(typed: &str) -> Result<f64, String> {
    typed
        .parse()
        .ok()
        .filter(|seconds| (0.01..=3600.0).contains(seconds))
        .ok_or_else(|| "a number of seconds from 0.01 to 3600 is wanted".to_owned())
}

/// How a line for a log is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Log {
    /// As `key=value`
    Text,
    /// As a JSON object
    Json,
}

impl From<Answer> for Exit {
    fn from(answer: Answer) -> Self {
        match answer {
            Answer::Pass => Self::Released,
            Answer::Hold => Self::Held,
            Answer::NotInspected => Self::Failed,
        }
    }
}

pub(super) fn run(args: &Typed, console: &Console) -> Result<Exit, Fault> {
    let fault =
        |message: &str, help: &str| Err(Fault(terminal::fault(message, Some(help), &console.err)));
    let wrong_key = |path: &Path, said: String| {
        let shown = clean(path.as_os_str().as_encoded_bytes()).into_owned();
        let help = "make a pair of keys with `meltgauge gate --new-key FILE`";
        let message = format!("the key `{shown}` cannot be used: {said}");
        Fault(terminal::fault(&message, Some(help), &console.err))
    };
    if let Some(path) = &args.new_key {
        let public = Private::make(path).map_err(|said| wrong_key(path, said))?;
        let public = clean(public.as_os_str().as_encoded_bytes()).into_owned();
        return super::requirement::print(console, &format!("{public}\n"));
    }
    if let (Some(path), Some(job)) = (&args.verify, &args.job) {
        if job == "-" {
            return fault(
                "the standard input has no stamp beside it",
                "name the job's file",
            );
        }
        let key = Public::read(path).map_err(|said| wrong_key(path, said))?;
        let gated = verify(Path::new(job), &key);
        return Ok(log(&gated, args.log, console));
    }
    if args.config.is_none() && args.material.is_none() && args.machine.is_none() {
        return fault(
            "the gate does not know what to hold the job against",
            "name a configuration with --config, or sheets with --material and --machine",
        );
    }
    let key = match &args.sign {
        Some(path) => Some(Private::read(path).map_err(|said| wrong_key(path, said))?),
        None => None,
    };
    let folder = match (&args.watch, &args.job) {
        (Some(inbox), _) => Some(inbox.clone()),
        (None, Some(job)) if job != "-" => Some(folder_of(Path::new(job)).to_owned()),
        _ => None,
    };
    let rules = ready(args, folder.as_deref(), console)?;
    let mut gate = Gate {
        rules,
        unattended: args.unattended,
        rework: args.rework.then(|| Wanted {
            only: Vec::new(),
            repair: args.repair,
        }),
        stamping: (args.stamp || key.is_some()).then_some(Stamping { key }),
    };
    match (&args.watch, &args.job) {
        (Some(inbox), _) => {
            let stamping = gate.stamping.take();
            watch(gate, stamping, inbox, args, console)
        }
        (None, Some(job)) => Ok(log(&pass(&gate, job, args), args.log, console)),
        (None, None) => fault("no job is named", "name the job"),
    }
}

/// Watches a folder until told to stop.
fn watch(
    gate: Gate,
    stamping: Option<Stamping>,
    inbox: &Path,
    args: &Typed,
    console: &Console,
) -> Result<Exit, Fault> {
    let fault =
        |message: &str, help: &str| Fault(terminal::fault(message, Some(help), &console.err));
    let folder = |path: &Path| {
        let there = std::fs::canonicalize(path).and_then(|whole| {
            if whole.is_dir() {
                Ok(whole)
            } else {
                Err(io::ErrorKind::NotADirectory.into())
            }
        });
        there.map_err(|cause| {
            let shown = clean(path.as_os_str().as_encoded_bytes()).into_owned();
            fault(
                &format!("the folder `{shown}` cannot be used: {cause}"),
                "make it first: the gate makes no folders",
            )
        })
    };
    let (Some(released), Some(held)) = (&args.released, &args.held) else {
        return Err(fault("a side is missing", "name --released and --held"));
    };
    let (inbox, released, held) = (folder(inbox)?, folder(released)?, folder(held)?);
    if inbox == released || inbox == held || released == held {
        return Err(fault(
            "inbox, released and held are not three folders",
            "name a folder of its own for each",
        ));
    }
    let say = |record: &GateRecord| say(record, args.log, console);
    let watch = Watch {
        gate,
        inbox,
        released,
        held,
        stamping,
        keep_original: args.keep_original,
        status: args.status.clone(),
        settle: Duration::from_secs_f64(args.settle),
        poll: Duration::from_secs_f64(args.poll),
        log: &|record| {
            say(record);
        },
    };
    watch.run().map(|()| Exit::Released).map_err(|cause| {
        fault(
            &format!("the gate cannot watch: {cause}"),
            "check room and rights in the inbox",
        )
    })
}

/// Writes a line for the log; says whether it could be made.
fn say(record: &GateRecord, form: Log, console: &Console) -> bool {
    let line = match form {
        Log::Text => Ok(record.text()),
        Log::Json => record.json(),
    };
    if let Ok(line) = &line {
        console.say(&format!("{line}\n"));
    }
    line.is_ok()
}

/// The rules of the configuration, which does not lie in the folder of jobs.
fn ready(args: &Typed, jobs: Option<&Path>, console: &Console) -> Result<Rules, Fault> {
    let look = &console.err;
    let config = match &args.config {
        Some(path) => {
            if jobs.is_some_and(|jobs| lies_in(path, jobs)) {
                let help = "keep it elsewhere: whoever may write jobs there could write it too";
                let message = "the configuration lies in the job's folder, and is not read";
                return Err(Fault(terminal::fault(message, Some(help), look)));
            }
            config::load(Some(path), look)?
        }
        None => config::Config::default(),
    };
    let typed = settings::Typed {
        material: args.material.as_ref(),
        machine: args.machine.as_ref(),
        config: None,
        hold_from: args.hold_from,
    };
    rules(&typed, &config, look)
}

/// Whether a file lies in a folder, by name or after all links.
fn lies_in(file: &Path, folder: &Path) -> bool {
    let Ok(folder) = std::fs::canonicalize(folder) else {
        return false;
    };
    let by_name = std::fs::canonicalize(folder_of(file)).ok();
    let whole = std::fs::canonicalize(file).ok();
    let by_link = whole.as_deref().and_then(Path::parent).map(Path::to_owned);
    [by_name, by_link]
        .iter()
        .flatten()
        .any(|other| *other == folder)
}

fn folder_of(file: &Path) -> &Path {
    match file.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Asks the gate, and hands a job that came as a stream on if it passes.
fn pass(gate: &Gate, job: &OsStr, args: &Typed) -> Gated {
    let name = name_of(job);
    let source = match Source::new(job, &name) {
        Ok(source) => source,
        Err(failed) => return Gated::refused(name, Answer::NotInspected, failed.message),
    };
    let is_stream = name == Name::StandardInput;
    let to = if is_stream {
        To::StandardOutput
    } else {
        To::InPlace {
            drop_original: !args.keep_original,
        }
    };
    let (mut gated, became) = gate.answer(&Asked {
        source: &source,
        name: &name,
        place: source.path(),
        to,
    });
    if let Some(path) = &args.record
        && let Some(record) = became.record()
        && let Err(said) = write_record(path, source.path(), &record)
    {
        gated.remark(&format!("no record could be written: {said}"));
    }
    // A rework has handed it on itself.
    if is_stream && gate.rework.is_none() && gated.answer == Answer::Pass {
        let copy = || {
            let mut out = io::stdout().lock();
            io::copy(&mut source.stored()?, &mut out)?;
            out.flush()
        };
        if let Err(fault) = copy() {
            gated.answer = Answer::NotInspected;
            gated.remark(&format!("standard output could not be written: {fault}"));
        }
    }
    gated
}

/// Writes a record in place of an older one, never over the job.
fn write_record(path: &Path, job: Option<&Path>, record: &str) -> Result<(), String> {
    let target = Target::file(path, job, true).map_err(|(message, _)| message)?;
    let put = || {
        let mut delivery = Delivery::begin(Real, &target, false)?;
        delivery.write_all(record.as_bytes())?;
        delivery.write_all(b"\n")?;
        delivery
            .commit(&target, None, || Ok(()))
            .map_err(|undelivered| undelivered.fault)
    };
    put().map_err(|fault: io::Error| fault.to_string())
}

/// The line for the log, and the exit code.
fn log(gated: &Gated, form: Log, console: &Console) -> Exit {
    let now = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .map_or(0, |since| since.as_secs());
    if !say(&GateRecord::of(gated, &moment(now)), form, console) {
        return Exit::Failed;
    }
    gated.answer.into()
}
