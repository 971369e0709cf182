//! `sheet`: the library, and sheets of one's own.

pub(super) mod own;

use super::args::{SheetCommand, SheetKind};
use super::console::Console;
use super::requirement::print;
use super::{Exit, Fault};
use crate::finding::Class;
use crate::job::guarded;
use crate::report::paint::{Look, Tone, wrap};
use crate::report::shown::Shown;
use crate::report::{figure_of, terminal};
use crate::sheet::{
    Application, Error, Kind, Layer, Machine, Material, Row, check_application, check_machine,
    check_material, library, load_application, load_machine, load_material, machine_layers,
    material_layers, schema,
};
use crate::text::clean;
use miette::Diagnostic;
use std::ffi::OsStr;

/// A sheet of any kind.
enum Sheet {
    Material(Box<Material>),
    Machine(Box<Machine>),
    Application(Box<Application>),
}

pub(super) fn run(command: SheetCommand, console: &Console) -> Result<Exit, Fault> {
    match command {
        SheetCommand::List => print(console, &list(&console.out)),
        SheetCommand::Show { name } => {
            let sheet = load(&name).map_err(|(_, error)| fault(&error, &console.err))?;
            let layers = match &sheet {
                Sheet::Material(_) => material_layers(&name),
                Sheet::Machine(_) => machine_layers(&name),
                Sheet::Application(_) => Ok(Vec::new()),
            };
            let layers = layers.map_err(|error| fault(&error, &console.err))?;
            print(console, &show(&sheet, &layers, &console.out))
        }
        SheetCommand::Check { files } => {
            let mut exit = Exit::Released;
            for file in &files {
                match guarded(|| load(file).map_err(|(kind, first)| faults(file, kind, first))) {
                    Ok(Ok(sheet)) => {
                        exit = exit.max(print(console, &checked(file, &sheet, &console.out))?)
                    }
                    Ok(Err(errors)) => {
                        exit = Exit::Failed;
                        console.say(&refused(&errors, file, &console.err));
                    }
                    Err(panic) => {
                        exit = Exit::Failed;
                        let message = format!("a fault in this program at {panic}");
                        console.say(&terminal::fault(&message, None, &console.err));
                    }
                }
            }
            Ok(exit)
        }
        SheetCommand::New(typed) => own::new(&typed, console),
        SheetCommand::Set { file, values } => own::set(&file, &values, console),
        SheetCommand::Diff { one, other } => own::diff(&one, &other, console),
        SheetCommand::Start { material, machine } => own::begin(&material, &machine, console),
        SheetCommand::Schema { kind } => {
            let kind = match kind {
                SheetKind::Material => Kind::Material,
                SheetKind::Machine => Kind::Machine,
                SheetKind::Application => Kind::Application,
            };
            let text = serde_json::to_string_pretty(&schema(kind)).map_err(|cause| {
                Fault(terminal::fault(
                    &format!("no schema: {cause}"),
                    None,
                    &console.err,
                ))
            })?;
            print(console, &(text + "\n"))
        }
    }
}

/// What is wrong with a sheet, at its place in it.
pub(super) fn fault(error: &Error, look: &Look) -> Fault {
    let help = error.advice();
    let Some((spot, source)) = error.spot().zip(error.source_code()) else {
        let message = match std::error::Error::source(error) {
            Some(cause) => format!("{error}: {cause}"),
            None => error.to_string(),
        };
        return Fault(terminal::fault(&message, help.as_deref(), look));
    };
    let message = match &spot.key {
        Some(key) => format!("`{key}`: {}", spot.message),
        None => spot.message.clone(),
    };
    let mut shown = Shown::new(&message, Class::Major, look.width);
    for label in error.labels().into_iter().flatten() {
        let span = label.offset()..label.offset() + label.len();
        // A sheet is small: with so many lines around the place, all of it.
        if let Ok(whole) = source.read_span(label.inner(), 1 << 20, 1 << 20) {
            let from = whole.span().offset();
            let text = String::from_utf8_lossy(whole.data());
            let within = span.start.saturating_sub(from)..span.end.saturating_sub(from);
            let words = label.label().filter(|words| *words != "here");
            shown.show_in(&spot.name, &text, within, words);
        }
    }
    let mut said = shown.render(look);
    if let Some(help) = help {
        look.entry(&mut said, (Tone::Note, "help:"), 8, &clean(help.as_bytes()));
    }
    Fault(said)
}

/// Every fault of a sheet of this kind.
fn faults(file: &OsStr, kind: Kind, first: Error) -> Vec<Error> {
    let all = match kind {
        Kind::Material => check_material(file).err(),
        Kind::Machine => check_machine(file).err(),
        Kind::Application => check_application(file).err(),
    };
    // A file that was put right in between has no faults left; what was seen is said.
    all.filter(|all| !all.is_empty())
        .unwrap_or_else(|| vec![first])
}

/// What is wrong with a sheet, one thing after another; how many, where there are several.
fn refused(errors: &[Error], file: &OsStr, look: &Look) -> String {
    let mut said = String::new();
    for error in errors {
        if !said.is_empty() {
            said.push('\n');
        }
        let Fault(text) = fault(error, look);
        said.push_str(&text);
    }
    if errors.len() > 1 {
        let file = clean(file.as_encoded_bytes()).into_owned();
        let counted = format!("{file}: {} faults", errors.len());
        said.push('\n');
        look.entry(&mut said, (Tone::Bad, "error"), 9, &counted);
    }
    said
}

/// Loads a sheet of whichever kind it is. Where it is neither, the error is that of the kind it comes
/// nearer to: the one that reads further into it.
fn load(named: &OsStr) -> Result<Sheet, (Kind, Error)> {
    let material = match load_material(named) {
        Ok(sheet) => return Ok(Sheet::Material(Box::new(sheet))),
        Err(error) => error,
    };
    let machine = match load_machine(named) {
        Ok(sheet) => return Ok(Sheet::Machine(Box::new(sheet))),
        Err(error) => error,
    };
    // The library has no applications; a word of it is none.
    let application = match (&material, &machine) {
        (Error::UnknownKey(_), Error::UnknownKey(_)) => match load_application(named) {
            Ok(sheet) => return Ok(Sheet::Application(Box::new(sheet))),
            Err(error) => Some(error),
        },
        _ => None,
    };
    let reach = |error: &Error| {
        error
            .spot()
            .and_then(|spot| spot.bytes.as_ref())
            .map(|bytes| bytes.start)
    };
    if let Some(application) = application
        && (!matches!(application, Error::UnknownKey(_))
            || reach(&application) > reach(&machine).max(reach(&material)))
    {
        return Err((Kind::Application, application));
    }
    let is_machine = match (&material, &machine) {
        (Error::Unknown { near, .. }, Error::Unknown { near: others, .. }) => {
            near.is_empty() && !others.is_empty()
        }
        // A key or a base that the one kind does not know speaks for the other.
        (Error::UnknownKey(_) | Error::UnknownBase(_), Error::UnknownKey(_)) => {
            reach(&machine) > reach(&material)
        }
        (Error::UnknownKey(_) | Error::UnknownBase(_), _) => true,
        _ => false,
    };
    Err(if is_machine {
        (Kind::Machine, machine)
    } else {
        (Kind::Material, material)
    })
}

/// The column in which the library's notes begin.
const NOTES: usize = 20;

fn list(look: &Look) -> String {
    let mut text = format!("{}\n", look.paint(Tone::Bold, "materials"));
    for sheet in library::materials() {
        let note = sheet.note.clone().filter(|note| !note.is_empty());
        let note = note.unwrap_or_else(|| sheet.also.join(", "));
        look.entry(&mut text, (Tone::Note, &sheet.name), NOTES, &note);
    }
    text.push_str(&format!("\n{}\n", look.paint(Tone::Bold, "machines")));
    for sheet in library::machines() {
        let note = sheet.note.as_deref().unwrap_or_default();
        look.entry(&mut text, (Tone::Note, &sheet.name), NOTES, note);
    }
    text.push('\n');
    let last = "Figures are for a material or a class of machines as such: your spool's and your \
                machine's own data win.";
    for line in wrap(last, look.width) {
        text.push_str(&line);
        text.push('\n');
    }
    text
}

/// Which layer a value is from, where there are several: the uppermost that says its key.
fn layer<'a>(layers: &'a [Layer], row: &Row) -> Option<&'a str> {
    let (lowest, upper) = layers.split_last()?;
    if upper.is_empty() {
        return None;
    }
    let says = upper
        .iter()
        .find(|layer| layer.rows.iter().any(|said| said.key == row.key));
    Some(says.map_or(lowest.name.as_str(), |layer| layer.name.as_str()))
}

fn show(sheet: &Sheet, layers: &[Layer], look: &Look) -> String {
    let (kind, name, origin, rows) = match sheet {
        Sheet::Material(sheet) => ("material", &sheet.name, &sheet.origin, sheet.rows()),
        Sheet::Machine(sheet) => ("machine", &sheet.name, &sheet.origin, sheet.rows()),
        Sheet::Application(sheet) => ("application", &sheet.name, &sheet.origin, sheet.rows()),
    };
    let (source, mark) = match sheet {
        Sheet::Material(sheet) => (&sheet.source, sheet.mark),
        Sheet::Machine(sheet) => (&sheet.source, sheet.mark),
        Sheet::Application(sheet) => (&sheet.source, sheet.mark),
    };
    let name = clean(name.as_bytes());
    let mut text = format!(
        "{}  {kind} sheet, {}\n",
        look.paint(Tone::Bold, &name),
        clean(origin.to_string().as_bytes())
    );
    let made = match sheet {
        Sheet::Material(sheet) => [&sheet.date, &sheet.by, &sheet.reason],
        Sheet::Machine(sheet) => [&sheet.date, &sheet.by, &sheet.reason],
        Sheet::Application(_) => [&None, &None, &None],
    };
    let made: Vec<&str> = made
        .into_iter()
        .filter_map(|said| said.as_deref())
        .collect();
    if !made.is_empty() {
        let made = format!("written: {}", made.join(", "));
        for line in wrap(&clean(made.as_bytes()), look.width) {
            text.push_str(&format!("{line}\n"));
        }
    }
    // What the sheet says of all its figures is said once.
    let usual = figure_of(source.as_deref(), mark.unwrap_or_default());
    let usual = clean(usual.as_bytes());
    for line in wrap(
        &format!("figures with nothing beside them: {usual}"),
        look.width,
    ) {
        text.push_str(&look.paint(Tone::Dim, &line));
        text.push('\n');
    }
    text.push('\n');
    let rows: Vec<Row> = rows.into_iter().filter(|row| row.key != "name").collect();
    let wide = |of: fn(&Row) -> &str, most: usize| {
        let lengths = rows
            .iter()
            .map(|row| of(row).chars().count())
            .filter(|length| *length <= most);
        lengths.max().unwrap_or_default()
    };
    let (keys, values) = (wide(|row| &row.key, 36), wide(|row| &row.value, 26));
    // No room for columns: key, value and whose figure it is below each other.
    let is_narrow = look.width < keys + values + 26 && look.width < 80;
    for row in &rows {
        let value = clean(row.value.as_bytes());
        let whose = row
            .mark
            .map(|mark| clean(figure_of(row.source.as_deref(), mark).as_bytes()).into_owned())
            .filter(|whose| *whose != usual)
            .unwrap_or_default();
        let whose = match layer(layers, row) {
            Some(layer) if whose.is_empty() => format!("[{}]", clean(layer.as_bytes())),
            Some(layer) => format!("{whose} [{}]", clean(layer.as_bytes())),
            None => whose,
        };
        if is_narrow {
            text.push_str(&format!(
                "  {}\n",
                look.paint(Tone::Note, &clean(row.key.as_bytes()))
            ));
            for (tone, said) in [(Tone::Plain, &*value), (Tone::Dim, whose.as_str())] {
                for line in wrap(said, look.width.saturating_sub(4)) {
                    if !line.is_empty() {
                        text.push_str(&format!("    {}\n", look.paint(tone, &line)));
                    }
                }
            }
            continue;
        }
        let key = format!("{:keys$}", clean(row.key.as_bytes()));
        let column = keys + 4;
        if whose.is_empty() || value.chars().count() > values {
            look.entry(&mut text, (Tone::Note, &key), column, &value);
            if !whose.is_empty() {
                for line in wrap(&whose, look.width.saturating_sub(column).max(20)) {
                    let line = look.paint(Tone::Dim, &line);
                    text.push_str(&format!("{}{line}\n", " ".repeat(column)));
                }
            }
        } else {
            let room = look.width.saturating_sub(column + values + 2).max(20);
            for (index, line) in wrap(&whose, room).iter().enumerate() {
                let line = look.paint(Tone::Dim, line);
                if index == 0 {
                    text.push_str(&format!(
                        "  {}  {value:values$}  {line}\n",
                        look.paint(Tone::Note, &key)
                    ));
                } else {
                    text.push_str(&format!("{}{line}\n", " ".repeat(column + values + 2)));
                }
            }
        }
    }
    text
}

/// One line for a sheet that can be used, and what is odd about it.
fn checked(file: &OsStr, sheet: &Sheet, look: &Look) -> String {
    let (kind, name, rows) = match sheet {
        Sheet::Material(sheet) => ("material", &sheet.name, sheet.rows()),
        Sheet::Machine(sheet) => ("machine", &sheet.name, sheet.rows()),
        Sheet::Application(sheet) => ("application", &sheet.name, sheet.rows()),
    };
    let mut text = format!(
        "{}  {}: {kind} sheet {}, {} value{}\n",
        look.paint(Tone::Good, "good"),
        clean(file.as_encoded_bytes()),
        clean(name.as_bytes()),
        rows.len(),
        if rows.len() == 1 { "" } else { "s" }
    );
    let notes = match sheet {
        Sheet::Material(sheet) => sheet.notes(),
        Sheet::Machine(sheet) => sheet.notes(),
        Sheet::Application(_) => Vec::new(),
    };
    for note in notes {
        look.entry(&mut text, (Tone::Note, "note"), 8, &clean(note.as_bytes()));
    }
    text
}
