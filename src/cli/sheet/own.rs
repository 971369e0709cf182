//! Sheets of one's own: written, changed, compared, and where to start with two of them.

use super::{Sheet, load};
use crate::cli::console::Console;
use crate::cli::requirement::print;
use crate::cli::settings::today;
use crate::cli::{Exit, Fault};
use crate::qualify::{Question, Standing, Verdict, start};
use crate::report::paint::{Look, Tone};
use crate::report::terminal;
use crate::sheet::overlay::{Made, changed, overlay};
use crate::sheet::{Application, Row, load_machine, load_material};
use crate::text::clean;
use std::ffi::{OsStr, OsString};
use std::io::Write;
use std::path::Path;

/// The arguments of `sheet new`.
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct New {
    /// The sheet that it lies over: a name of the library, or a file as it lies from the new one
    #[arg(long, value_name = "SHEET")]
    pub from: String,
    /// What it is called
    #[arg(long)]
    pub name: String,
    /// The role of its author, such as `workshop lead`
    #[arg(long, value_name = "ROLE")]
    pub by: String,
    /// Why it differs
    #[arg(long)]
    pub reason: String,
    /// Where to write it; a file that is there is not written over
    #[arg(long, short = 'o', value_name = "FILE")]
    pub output: OsString,
    /// What differs: `"hotend.print=250 °C to 270 °C"`
    #[arg(value_name = "KEY=VALUE")]
    pub values: Vec<String>,
}

fn fault(message: &str, help: &str, console: &Console) -> Fault {
    Fault(terminal::fault(message, Some(help), &console.err))
}

/// `KEY=VALUE`, each apart.
fn pairs<'a>(values: &'a [String], console: &Console) -> Result<Vec<(&'a str, &'a str)>, Fault> {
    values
        .iter()
        .map(|typed| {
            typed
                .split_once('=')
                .map(|(key, value)| (key.trim(), value.trim()))
                .ok_or_else(|| {
                    let help = "write it as KEY=VALUE: \"hotend.print=250 °C to 270 °C\"";
                    fault(
                        &format!("`{}` is no key with its value", typed.trim()),
                        help,
                        console,
                    )
                })
        })
        .collect()
}

pub(super) fn new(typed: &New, console: &Console) -> Result<Exit, Fault> {
    let path = Path::new(&typed.output);
    if path.exists() {
        let help = "name another file, or change it with `meltgauge sheet set`";
        return Err(fault(
            &format!("{} is there already", path.display()),
            help,
            console,
        ));
    }
    let date = today(&console.err)?.to_string();
    let made = Made {
        date: &date,
        by: &typed.by,
        reason: &typed.reason,
    };
    let values = pairs(&typed.values, console)?;
    let help = "`meltgauge sheet show` lists the keys of a sheet";
    let text = overlay(&typed.name, &typed.from, &made, &values)
        .map_err(|why| fault(&why, help, console))?;
    keep(path, &text, console)
}

pub(super) fn set(file: &OsStr, values: &[String], console: &Console) -> Result<Exit, Fault> {
    let path = Path::new(file);
    let unreadable = |cause: std::io::Error| {
        fault(
            &format!("{} cannot be read: {cause}", path.display()),
            "check the path",
            console,
        )
    };
    // What is no sheet now is not made one by a change.
    load(file).map_err(|(_, error)| super::fault(&error, &console.err))?;
    let text = std::fs::read_to_string(path).map_err(unreadable)?;
    let values = pairs(values, console)?;
    let help = "`meltgauge sheet show` lists the keys of a sheet";
    let text = changed(&text, &values).map_err(|why| fault(&why, help, console))?;
    keep(path, &text, console)
}

/// Puts a sheet in its place once it reads back; beside it first, so that a fault leaves the old one.
fn keep(path: &Path, text: &str, console: &Console) -> Result<Exit, Fault> {
    let shown = path.display();
    let unwritten = |cause: std::io::Error| {
        fault(
            &format!("{shown} cannot be written: {cause}"),
            "check the folder and its permissions",
            console,
        )
    };
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let mut file = tempfile::Builder::new()
        .prefix(".sheet")
        .suffix(".toml")
        .tempfile_in(folder)
        .map_err(unwritten)?;
    file.write_all(text.as_bytes()).map_err(unwritten)?;
    let sheet =
        load(file.path().as_os_str()).map_err(|(_, error)| super::fault(&error, &console.err))?;
    let permissions = std::fs::metadata(path).map(|old| old.permissions());
    if let Ok(permissions) = permissions {
        std::fs::set_permissions(file.path(), permissions).map_err(unwritten)?;
    }
    file.as_file().sync_all().map_err(unwritten)?;
    file.persist(path).map_err(|fault| unwritten(fault.error))?;
    print(
        console,
        &super::checked(path.as_os_str(), &sheet, &console.out),
    )
}

fn rows(sheet: &Sheet) -> (&'static str, &str, Vec<Row>) {
    match sheet {
        Sheet::Material(sheet) => ("material", &sheet.name, sheet.rows()),
        Sheet::Machine(sheet) => ("machine", &sheet.name, sheet.rows()),
        Sheet::Application(sheet) => ("application", &sheet.name, sheet.rows()),
    }
}

/// What two sheets say differently, key by key.
pub(super) fn diff(one: &OsStr, other: &OsStr, console: &Console) -> Result<Exit, Fault> {
    let look = &console.out;
    let read = |named: &OsStr| load(named).map_err(|(_, error)| super::fault(&error, &console.err));
    let (one, other) = (read(one)?, read(other)?);
    let ((kind, first, rows_one), (kind_other, second, rows_other)) = (rows(&one), rows(&other));
    if kind != kind_other {
        let message = format!("a {kind} sheet and a {kind_other} sheet have nothing to compare");
        return Err(fault(&message, "name two sheets of one kind", console));
    }
    let mut text = format!(
        "{} against {}\n\n",
        clean(first.as_bytes()),
        clean(second.as_bytes())
    );
    let value = |rows: &[Row], key: &str| {
        rows.iter()
            .find(|row| row.key == key)
            .map(|row| row.value.clone())
    };
    let keys = rows_one.iter().chain(
        rows_other
            .iter()
            .filter(|row| value(&rows_one, &row.key).is_none()),
    );
    let mut differ = 0;
    for row in keys.filter(|row| row.key != "name" && row.key != "also") {
        let (old, new) = (value(&rows_one, &row.key), value(&rows_other, &row.key));
        if old == new {
            continue;
        }
        differ += 1;
        let said = |value: Option<String>| value.unwrap_or_else(|| "not said".to_owned());
        let entry = format!("{} → {}", said(old), said(new));
        look.entry(
            &mut text,
            (Tone::Note, &clean(row.key.as_bytes())),
            30,
            &clean(entry.as_bytes()),
        );
    }
    if differ == 0 {
        text.push_str("  they say the same\n");
    }
    print(console, &text)
}

/// Settings to start from, and the order in which to calibrate.
pub(super) fn begin(material: &OsStr, machine: &OsStr, console: &Console) -> Result<Exit, Fault> {
    let look = &console.out;
    let material = load_material(material).map_err(|error| super::fault(&error, &console.err))?;
    let machine = load_machine(machine).map_err(|error| super::fault(&error, &console.err))?;
    let application = Application::default();
    let question = Question::new(&material, Some(&machine), &application);
    let answer = crate::qualify::qualify(&question);
    let title = format!("{} on {}: where to start", material.name, machine.name);
    let mut text = format!("{}\n\n", look.paint(Tone::Bold, &clean(title.as_bytes())));
    let verdict = answer.verdict.word().replace('-', " ");
    if matches!(answer.verdict, Verdict::DoesNotSuit | Verdict::Open) {
        // Settings for what cannot work would be bad advice.
        look.entry(&mut text, (Tone::Bad, "verdict"), 15, &verdict);
        for point in answer
            .standing(Standing::Stops)
            .chain(answer.standing(Standing::Unknown))
        {
            look.entry(
                &mut text,
                (Tone::Plain, point.id),
                21,
                &clean(point.says.as_bytes()),
            );
        }
        text.push('\n');
        caution(&mut text, look, &answer.cautions);
        return Ok(Exit::Held.max(print(console, &text)?));
    }
    if answer.verdict == Verdict::SuitsWithChanges {
        let say = format!("{verdict}: see `meltgauge qualify` before you begin");
        look.entry(&mut text, (Tone::Doubt, "verdict"), 15, &say);
    }
    for setting in start::start(&question) {
        look.entry(
            &mut text,
            (Tone::Plain, setting.what),
            15,
            &clean(setting.value.as_bytes()),
        );
    }
    text.push_str(&format!(
        "\n{}\n",
        look.paint(Tone::Bold, "calibrate in this order")
    ));
    for (index, step) in start::ORDER.iter().enumerate() {
        look.entry(
            &mut text,
            (Tone::Plain, &format!("{}.", index + 1)),
            6,
            step,
        );
    }
    text.push('\n');
    caution(&mut text, look, &answer.cautions);
    print(console, &text)
}

fn caution(text: &mut String, look: &Look, cautions: &[String]) {
    for caution in cautions {
        look.entry(
            text,
            (Tone::Doubt, "caution"),
            13,
            &clean(caution.as_bytes()),
        );
    }
    look.entry(text, (Tone::Doubt, "caution"), 13, terminal::NO_CERTIFICATE);
}
