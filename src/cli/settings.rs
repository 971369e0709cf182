//! From arguments and configuration to settings that are ready to use.

use super::args::{HoldFrom, Inspect, Survey};
use super::config::{self, Config};
use super::console::Console;
use super::{Fault, sheet};
use crate::concession::Date;
use crate::finding::Class;
use crate::job::{Rule, Rules, Settings};
use crate::report::NamedBy;
use crate::report::paint::Look;
use crate::report::terminal;
use crate::sheet::{Material, load_machine, load_material};
use crate::text::clean;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

/// The most tools that materials may be named for (chosen).
const TOOLS: usize = 32;

/// What of a call settings come from.
pub(super) struct Typed<'a> {
    pub material: Option<&'a String>,
    pub machine: Option<&'a String>,
    pub config: Option<&'a Path>,
    pub hold_from: Option<HoldFrom>,
}

/// For an inspection.
pub(super) fn inspect(args: &Inspect, console: &Console) -> Result<Settings, Fault> {
    let typed = Typed {
        material: args.material.as_ref(),
        machine: args.machine.as_ref(),
        config: args.config.as_deref(),
        hold_from: args.hold_from,
    };
    Ok(Settings {
        instead: None,
        walls: args.walls,
        ..of(&typed, console)?
    })
}

/// For a survey.
pub(super) fn survey(args: &Survey, console: &Console) -> Result<Settings, Fault> {
    let typed = Typed {
        material: args.material.as_ref(),
        machine: args.machine.as_ref(),
        config: args.config.as_deref(),
        hold_from: None,
    };
    Ok(Settings {
        instead: None,
        walls: args.walls,
        sections: args.section || args.load.is_some(),
        ..of(&typed, console)?
    })
}

/// From what was typed and the configuration.
pub(super) fn of(typed: &Typed<'_>, console: &Console) -> Result<Settings, Fault> {
    let config = config::load(typed.config, &console.err)?;
    settings(typed, &config, None, &console.err)
}

/// The rules of the configuration; where a sheet is named on the command line, or the configuration
/// has no rules, one rule for every job.
pub(super) fn rules(typed: &Typed<'_>, config: &Config, look: &Look) -> Result<Rules, Fault> {
    if config.rules.is_empty() || typed.material.is_some() || typed.machine.is_some() {
        let mut rules = Rules::from(settings(typed, config, None, look)?);
        rules.written.clone_from(&config.written);
        return Ok(rules);
    }
    let rule = |written: &config::Rule| {
        Ok(Rule {
            folder: written
                .folder
                .as_ref()
                .map(|folder| resolved(&config.folder.join(folder), look))
                .transpose()?,
            name: written.name.clone(),
            declared: written.declared.clone(),
            settings: settings(typed, config, Some(written), look)?,
        })
    };
    Ok(Rules {
        list: config.rules.iter().map(rule).collect::<Result<_, _>>()?,
        written: config.written.clone(),
    })
}

/// A rule's folder without links on its way.
fn resolved(folder: &Path, look: &Look) -> Result<PathBuf, Fault> {
    std::fs::canonicalize(folder).map_err(|cause| {
        let shown = clean(folder.as_os_str().as_encoded_bytes()).into_owned();
        let help = "name a folder that is there; a relative one lies beside the configuration";
        let message = format!("a rule's folder `{shown}` cannot be found: {cause}");
        Fault(terminal::fault(&message, Some(help), look))
    })
}

/// The command line goes before a rule, and a rule before what the configuration says for all.
fn settings(
    typed: &Typed<'_>,
    config: &Config,
    rule: Option<&config::Rule>,
    look: &Look,
) -> Result<Settings, Fault> {
    let of_rule = |get: fn(&config::Rule) -> Option<&String>| rule.and_then(get);
    let material = of_rule(|rule| rule.material.as_ref()).or(config.material.as_ref());
    let machine = of_rule(|rule| rule.machine.as_ref()).or(config.machine.as_ref());
    let (material, material_by) = first(typed.material, material);
    let (machine, machine_by) = first(typed.machine, machine);
    let is_ours = |by: &NamedBy| *by == NamedBy::Configuration;
    let materials = match material {
        Some(named) => Some(materials(named, base(config, is_ours(&material_by)), look)?),
        None => None,
    };
    let machine = match machine {
        Some(named) => {
            let named = lies(named, base(config, is_ours(&machine_by)));
            let loaded = load_machine(named.as_ref() as &str);
            Some(Arc::new(
                loaded.map_err(|fault| sheet::fault(&fault, look))?,
            ))
        }
        None => None,
    };
    let hold_from = typed
        .hold_from
        .map(Class::from)
        .or(rule.and_then(|rule| rule.hold_from))
        .or(config.hold_from);
    Ok(Settings {
        materials,
        material_by,
        machine,
        machine_by,
        hold_from: hold_from.unwrap_or(Class::Major),
        concessions: config.concessions.as_slice().into(),
        today: today(look)?,
        instead: None,
        walls: false,
        sections: false,
    })
}

impl From<HoldFrom> for Class {
    fn from(typed: HoldFrom) -> Self {
        match typed {
            HoldFrom::Critical => Self::Critical,
            HoldFrom::Major => Self::Major,
            HoldFrom::Minor => Self::Minor,
            HoldFrom::Observation => Self::Observation,
        }
    }
}

/// The command line goes before the configuration.
fn first<'a>(
    typed: Option<&'a String>,
    configured: Option<&'a String>,
) -> (Option<&'a String>, NamedBy) {
    match (typed, configured) {
        (Some(typed), _) => (Some(typed), NamedBy::CommandLine),
        (None, Some(configured)) => (Some(configured), NamedBy::Configuration),
        (None, None) => (None, NamedBy::Nobody("not named".to_owned())),
    }
}

/// From where a path is meant: a configuration's from its own folder.
fn base(config: &Config, is_ours: bool) -> Option<&Path> {
    is_ours.then_some(config.folder.as_path())
}

/// A sheet as it is to be loaded: a file's path from `base` on, a word of the library as it is.
fn lies<'a>(named: &'a str, base: Option<&Path>) -> std::borrow::Cow<'a, str> {
    let is_file =
        named.contains(std::path::is_separator) || named.to_ascii_lowercase().ends_with(".toml");
    match base {
        Some(base) if is_file && !base.as_os_str().is_empty() => {
            base.join(named).to_string_lossy().into_owned().into()
        }
        _ => named.into(),
    }
}

/// The materials that a text names: one for every tool, or `0=PA6-CF,1=PVAL`.
fn materials(
    named: &str,
    base: Option<&Path>,
    look: &Look,
) -> Result<Vec<Option<Arc<Material>>>, Fault> {
    let load = |named: &str| {
        let named = lies(named, base);
        load_material(named.as_ref() as &str)
            .map(|material| Some(Arc::new(material)))
            .map_err(|fault| sheet::fault(&fault, look))
    };
    let by_tool = by_tool(named).map_err(|message| {
        let help = "name one sheet for every tool, or write `0=PA6-CF,1=PVAL`";
        Fault(terminal::fault(&message, Some(help), look))
    })?;
    let Some(by_tool) = by_tool else {
        return Ok(vec![load(named)?]);
    };
    let mut materials = Vec::new();
    for (tool, named) in by_tool {
        if materials.len() <= tool {
            materials.resize(tool + 1, None);
        }
        if let Some(slot) = materials.get_mut(tool) {
            *slot = load(named)?;
        }
    }
    if materials.len() == 1 {
        // One alone would be the material of every tool.
        materials.push(None);
    }
    Ok(materials)
}

/// Splits `0=PA6-CF,1=PVAL`; none where the text does not begin with a tool.
fn by_tool(named: &str) -> Result<Option<Vec<(usize, &str)>>, String> {
    let begins = named
        .trim_start()
        .trim_start_matches(|letter: char| letter.is_ascii_digit());
    if !begins.starts_with('=') || begins.len() == named.trim_start().len() {
        return Ok(None);
    }
    let mut tools: Vec<(usize, &str)> = Vec::new();
    for part in named.split(',') {
        let (tool, sheet) = part
            .split_once('=')
            .and_then(|(tool, sheet)| Some((tool.trim().parse::<usize>().ok()?, sheet.trim())))
            .filter(|(_, sheet)| !sheet.is_empty())
            .ok_or_else(|| format!("`{}` does not name a tool and its sheet", part.trim()))?;
        if tool >= TOOLS {
            return Err(format!(
                "tool {tool} is beyond the {TOOLS} tools that may be named"
            ));
        }
        if tools.iter().any(|(known, _)| *known == tool) {
            return Err(format!("tool {tool} is named twice"));
        }
        tools.push((tool, sheet));
    }
    Ok(Some(tools))
}

/// Today's date in universal time: the only clock that is asked.
pub(super) fn today(look: &Look) -> Result<Date, Fault> {
    SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .ok()
        .and_then(|since| u32::try_from(since.as_secs() / 86_400).ok())
        .and_then(Date::from_days)
        .ok_or_else(|| {
            let help = "set the clock, since concessions end on a date";
            Fault(terminal::fault(
                "this computer's clock shows no date",
                Some(help),
                look,
            ))
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn materials_are_named_for_all_tools_or_by_tool() {
        assert_eq!(by_tool("PA6-CF"), Ok(None));
        assert_eq!(by_tool("./0=odd.toml"), Ok(None));
        assert_eq!(by_tool("=PLA"), Ok(None));
        assert_eq!(
            by_tool("0=PA6-CF,1=PVAL"),
            Ok(Some(vec![(0, "PA6-CF"), (1, "PVAL")]))
        );
        assert_eq!(by_tool(" 1 = PVAL").unwrap(), None);
        assert!(by_tool("0=PLA,PVAL").is_err());
        assert!(by_tool("0=PLA,0=PVAL").is_err());
        assert!(by_tool("0=").is_err());
        assert!(by_tool("99=PLA").is_err());
        let look = Look::default();
        let held = |named| materials(named, None, &look).ok().expect("library sheets");
        assert_eq!(held("PLA").len(), 1);
        // Named for tool 0 alone, it is not the material of tool 1.
        assert!(matches!(&held("0=PLA")[..], [Some(_), None]));
        assert!(matches!(&held("1=PVAL")[..], [None, Some(_)]));
    }

    #[test]
    fn a_configurations_sheets_lie_beside_it() {
        let folder = Path::new("shop");
        assert_eq!(
            lies("own.toml", Some(folder)),
            Path::new("shop").join("own.toml").to_string_lossy()
        );
        assert_eq!(lies("PA6-CF", Some(folder)), "PA6-CF");
        assert_eq!(lies("own.toml", None), "own.toml");
    }
}
