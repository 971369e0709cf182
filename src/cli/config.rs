//! `meltgauge.toml`: defaults for the command line, and concessions.
//!
//! It is looked for upward from the working directory, or named; never beside the job, because jobs
//! come from strangers and a stranger grants no concessions.

use super::Fault;
use crate::command::hint::Key;
use crate::concession::{Bound, Concession, Date};
use crate::finding::Class;
use crate::report::paint::Look;
use crate::report::shown::Shown;
use crate::report::terminal;
use crate::text::clean;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::ops::Range;
use std::path::{Path, PathBuf};
use toml::Spanned;

/// The file's name.
pub(super) const NAME: &str = "meltgauge.toml";

/// The largest configuration that is read, bytes (chosen).
const LARGEST: u64 = 1 << 20;

/// What a configuration says.
#[derive(Debug, Default)]
pub(super) struct Config {
    pub material: Option<String>,
    pub machine: Option<String>,
    pub hold_from: Option<Class>,
    pub concessions: Vec<Concession>,
    /// Which jobs get which sheets, in their order.
    pub rules: Vec<Rule>,
    /// Itself, as it is written.
    pub written: String,
    /// The folder it lies in: sheets that it names by a path lie from there.
    pub folder: PathBuf,
}

/// Sheets for the jobs that fit, as written.
#[derive(Debug)]
pub(super) struct Rule {
    pub folder: Option<PathBuf>,
    pub name: Option<String>,
    pub declared: Vec<(Key, String)>,
    pub material: Option<String>,
    pub machine: Option<String>,
    pub hold_from: Option<Class>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct Written {
    material: Option<String>,
    machine: Option<String>,
    hold_from: Option<Class>,
    #[serde(default)]
    concession: Vec<Granted>,
    #[serde(default)]
    rule: Vec<Spanned<Ruled>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct Ruled {
    folder: Option<PathBuf>,
    name: Option<Spanned<String>>,
    #[serde(default)]
    declared: BTreeMap<Key, Spanned<String>>,
    material: Option<String>,
    machine: Option<String>,
    hold_from: Option<Class>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct Granted {
    requirement: Spanned<String>,
    bound: Option<Spanned<toml::Value>>,
    reason: Spanned<String>,
    by: Spanned<String>,
    until: Option<Spanned<toml::Value>>,
    material: Option<String>,
    machine: Option<String>,
    job: Option<String>,
}

/// What is wrong in a configuration, and where.
#[derive(Debug)]
struct Wrong {
    message: String,
    help: String,
    span: Option<Range<usize>>,
}

fn wrong(message: impl Into<String>, help: &str, span: Range<usize>) -> Wrong {
    Wrong {
        message: message.into(),
        help: help.to_owned(),
        span: Some(span),
    }
}

/// The configuration that is named, or else the nearest upward from the working directory; where
/// there is none, one that says nothing.
pub(super) fn load(named: Option<&Path>, look: &Look) -> Result<Config, Fault> {
    let path = match named {
        Some(path) => path.to_owned(),
        None => match find() {
            Some(path) => path,
            None => return Ok(Config::default()),
        },
    };
    let name = clean(path.as_os_str().as_encoded_bytes()).into_owned();
    let fault = |message: &str, help: &str| Fault(terminal::fault(message, Some(help), look));
    let unreadable = |cause: std::io::Error| {
        let message = match cause.kind() {
            std::io::ErrorKind::NotFound => format!("there is no configuration `{name}`"),
            _ => format!("the configuration `{name}` cannot be read: {cause}"),
        };
        fault(&message, "check the path after --config, or leave it out")
    };
    let metadata = std::fs::metadata(&path).map_err(unreadable)?;
    if !metadata.is_file() {
        return Err(fault(
            &format!("the configuration `{name}` is not a file"),
            "name a TOML file",
        ));
    }
    if metadata.len() > LARGEST {
        let message = format!("the configuration `{name}` is larger than 1 MiB");
        return Err(fault(
            &message,
            "check that it is the configuration and not a job",
        ));
    }
    let bytes = std::fs::read(&path).map_err(unreadable)?;
    let text = String::from_utf8(bytes).map_err(|cause| {
        let message = format!(
            "the configuration `{name}` is not UTF-8 from byte {} on",
            cause.utf8_error().valid_up_to()
        );
        fault(&message, "save it as UTF-8")
    })?;
    let mut config = parse(&text).map_err(|wrong| Fault(wrong.render(&name, &text, look)))?;
    config.folder = path.parent().map(Path::to_owned).unwrap_or_default();
    config.written = text;
    Ok(config)
}

/// The nearest configuration upward from the working directory.
fn find() -> Option<PathBuf> {
    let here = std::env::current_dir().ok()?;
    here.ancestors()
        .map(|folder| folder.join(NAME))
        .find(|path| path.is_file())
}

impl Wrong {
    fn render(&self, name: &str, text: &str, look: &Look) -> String {
        let mut shown = Shown::new(&self.message, Class::Major, look.width);
        if let Some(span) = &self.span {
            shown.show_in(name, text, span.clone(), None);
        }
        let mut said = shown.render(look);
        look.entry(
            &mut said,
            (crate::report::paint::Tone::Note, "help:"),
            8,
            &clean(self.help.as_bytes()),
        );
        said
    }
}

fn parse(text: &str) -> Result<Config, Wrong> {
    let written: Written = toml::from_str(text).map_err(|fault| {
        let message = fault.message().lines().next().unwrap_or("no TOML").to_owned();
        let help = "keys: material, machine, hold-from, [[concession]] with requirement, bound, reason, by, \
                    until, material, machine, job, and [[rule]] with folder, name, declared, material, \
                    machine, hold-from";
        Wrong { message, help: help.to_owned(), span: fault.span() }
    })?;
    let concessions = written
        .concession
        .into_iter()
        .map(granted)
        .collect::<Result<_, _>>()?;
    Ok(Config {
        material: written.material,
        machine: written.machine,
        hold_from: written.hold_from,
        concessions,
        rules: rules(written.rule)?,
        written: String::new(),
        folder: PathBuf::new(),
    })
}

fn rules(written: Vec<Spanned<Ruled>>) -> Result<Vec<Rule>, Wrong> {
    let mut rules: Vec<Rule> = Vec::new();
    for ruled in written {
        if rules.last().is_some_and(Rule::is_for_all) {
            let message = "no job comes to this rule, since the one before it fits every job";
            let help =
                "give the rule before it a folder, a name or what is declared, or put it last";
            return Err(wrong(message, help, ruled.span()));
        }
        let ruled = ruled.into_inner();
        let filled = |key: &str, text: Spanned<String>| {
            if text.get_ref().trim().is_empty() {
                let help = "write a pattern, in which `*` stands for any letters, or leave it out";
                return Err(wrong(
                    format!("the rule's `{key}` is empty"),
                    help,
                    text.span(),
                ));
            }
            Ok(text.into_inner())
        };
        rules.push(Rule {
            folder: ruled.folder,
            name: ruled.name.map(|name| filled("name", name)).transpose()?,
            declared: ruled
                .declared
                .into_iter()
                .map(|(key, text)| Ok((key, filled("declared", text)?)))
                .collect::<Result<_, _>>()?,
            material: ruled.material,
            machine: ruled.machine,
            hold_from: ruled.hold_from,
        });
    }
    Ok(rules)
}

impl Rule {
    fn is_for_all(&self) -> bool {
        self.folder.is_none() && self.name.is_none() && self.declared.is_empty()
    }
}

fn granted(written: Granted) -> Result<Concession, Wrong> {
    let said = |key: &str, text: Spanned<String>, help: &str| {
        if text.get_ref().trim().is_empty() {
            return Err(wrong(
                format!("the concession's `{key}` is empty"),
                help,
                text.span(),
            ));
        }
        Ok(text.into_inner())
    };
    let bound = written.bound.map(bound).transpose()?;
    let until = written.until.map(date).transpose()?;
    Ok(Concession {
        requirement: said(
            "requirement",
            written.requirement,
            "write the id that a finding shows",
        )?,
        bound,
        reason: said(
            "reason",
            written.reason,
            "say why it is granted; whoever reads it later will ask",
        )?,
        by: said("by", written.by, "say who grants it")?,
        until,
        material: written.material,
        machine: written.machine,
        job: written.job,
    })
}

fn bound(written: Spanned<toml::Value>) -> Result<Bound, Wrong> {
    let span = written.span();
    let help = "write how far the worst may go, with its unit: `bound = \"235 °C\"`";
    match written.get_ref() {
        toml::Value::String(text) => text
            .parse::<Bound>()
            .map_err(|fault| wrong(fault.to_string(), help, span)),
        other => {
            let message = format!("a bound has a unit, and {} has none", kind(other));
            Err(wrong(message, help, span))
        }
    }
}

fn date(written: Spanned<toml::Value>) -> Result<Date, Wrong> {
    let span = written.span();
    let help = "write the last day on which it holds: `until = 2027-03-31`";
    let text = match written.get_ref() {
        toml::Value::String(text) => text.clone(),
        toml::Value::Datetime(date) if date.time.is_none() => date.to_string(),
        other => return Err(wrong(format!("{} is no day", kind(other)), help, span)),
    };
    text.parse()
        .map_err(|fault: crate::concession::DateError| wrong(fault.to_string(), help, span))
}

const fn kind(value: &toml::Value) -> &'static str {
    match value {
        toml::Value::String(_) => "a text",
        toml::Value::Integer(_) | toml::Value::Float(_) => "a bare number",
        toml::Value::Boolean(_) => "true or false",
        toml::Value::Datetime(_) => "a date with a time",
        toml::Value::Array(_) => "a list",
        toml::Value::Table(_) => "a table",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = "
material = \"PA6-CF\"
hold-from = \"minor\"
[[concession]]
requirement = \"hotend-below-sheet\"
bound = \"235 °C\"
reason = \"thin, slow part\"
by = \"quality\"
until = 2027-03-31
job = \"lid-*.gcode\"
[[concession]]
requirement = \"first-layer-fast\"
reason = \"brim\"
by = \"shop\"
until = \"2026-12-31\"
";

    #[test]
    fn a_configuration_is_read() {
        let config = parse(GOOD).unwrap();
        assert_eq!(config.material.as_deref(), Some("PA6-CF"));
        assert_eq!(config.hold_from, Some(Class::Minor));
        let [first, second] = &config.concessions[..] else {
            panic!("two are granted")
        };
        assert_eq!(
            first.bound,
            Some(Bound {
                value: 235.0,
                unit: "°C"
            })
        );
        assert_eq!(first.until, Date::new(2027, 3, 31));
        assert_eq!(second.until, Date::new(2026, 12, 31));
        assert_eq!((second.bound, second.job.as_deref()), (None, None));
    }

    #[test]
    fn rules_are_read_in_their_order() {
        let text = "machine = \"open-lined\"\n\
            [[rule]]\nfolder = \"pa\"\nname = \"*.gcode\"\nmaterial = \"PA6-CF\"\n\
            [[rule]]\ndeclared = { material = \"PLA*\", nozzle-diameter = \"0.4\" }\nhold-from = \"minor\"\n\
            [[rule]]\n";
        let config = parse(text).unwrap();
        let [first, second, third] = &config.rules[..] else {
            panic!("three are written")
        };
        assert_eq!(first.folder.as_deref(), Some(Path::new("pa")));
        assert_eq!(first.name.as_deref(), Some("*.gcode"));
        assert_eq!(
            second.declared,
            [
                (Key::NozzleDiameter, "0.4".to_owned()),
                (Key::Material, "PLA*".to_owned())
            ]
        );
        assert_eq!(second.hold_from, Some(Class::Minor));
        assert!(third.is_for_all());
        for (more, words) in [
            ("[[rule]]\nname = \"late\"\n", "no job comes to this rule"),
            ("[[rule]]\ndeclared = { colour = \"red\" }\n", "colour"),
        ] {
            let wrong = parse(&format!("{text}{more}")).unwrap_err();
            assert!(wrong.message.contains(words), "{}", wrong.message);
            assert!(wrong.span.is_some());
        }
        assert!(parse("[[rule]]\nname = \" \"\n").is_err());
    }

    #[test]
    fn what_is_wrong_is_shown_at_its_place() {
        for (change, to, place, words) in [
            ("hold-from", "hold_from", "3:1", "unknown field"),
            ("\"minor\"", "\"all\"", "3:13", "unknown variant"),
            ("\"235 °C\"", "235", "6:9", "a bare number"),
            ("\"235 °C\"", "\"warm\"", "6:9", "warm"),
            ("\"quality\"", "\" \"", "8:6", "`by` is empty"),
            ("2027-03-31", "2027-02-31", "9:9", "2027-02-31"),
            ("\"2026-12-31\"", "\"soon\"", "15:9", "soon"),
            (
                "until = 2027-03-31",
                "until = 2027-03-31T10:00:00",
                "9:9",
                "time",
            ),
        ] {
            let text = GOOD.replacen(change, to, 1);
            let wrong = parse(&text).unwrap_err();
            let look = Look {
                colour: false,
                width: 100,
            };
            let shown = wrong.render("m.toml", &text, &look);
            assert!(
                shown.contains(&format!("[m.toml:{place}]")),
                "{change}: {shown}"
            );
            assert!(shown.contains(words), "{change}: {shown}");
            assert!(shown.contains("help:"), "{shown}");
        }
    }

    #[test]
    fn a_hostile_configuration_cannot_write_to_the_terminal() {
        let text = "material = \"\u{9b}2J\u{202e}\"\nbogus\u{1b}[2J = 1\n";
        let wrong = parse(text).unwrap_err();
        let shown = wrong.render("m.toml", text, &Look::default());
        assert!(
            !shown.replace('\n', "").contains(char::is_control),
            "{shown:?}"
        );
    }
}
