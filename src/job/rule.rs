//! Which sheets a job is held against: those of the first rule that fits it.

use super::inspect::{glance, round};
use super::{Settings, Source};
use crate::command::hint::Key;
use crate::concession::pattern;
use crate::inspection::{Declared, Held};
use crate::report::Failed;
use crate::text::{Name, Threads, clean};
use std::path::{Path, PathBuf};

/// Sheets for the jobs that fit.
#[derive(Debug, Clone)]
pub struct Rule {
    /// The folder that the job lies in, or in a folder of; without links on its way.
    pub folder: Option<PathBuf>,
    /// A pattern with `*` and `?` over the file's name.
    pub name: Option<String>,
    /// What the job declares: a pattern, or a number in the setting's own unit.
    pub declared: Vec<(Key, String)>,
    /// What such a job is held against.
    pub settings: Settings,
}

/// Rules in their order.
#[derive(Debug, Clone)]
pub struct Rules {
    pub list: Vec<Rule>,
    /// The configuration as it is written; empty where there is none.
    pub written: String,
}

/// What the rules say of a job.
#[derive(Debug)]
pub enum Choice<'a> {
    /// The first that fits, by its place among them, counted from 0.
    Fits(usize, &'a Rule),
    /// None does: what the job is, lower case and without a final stop.
    None(String),
}

impl From<Settings> for Rules {
    /// One rule for every job.
    fn from(settings: Settings) -> Self {
        Self {
            list: vec![Rule {
                folder: None,
                name: None,
                declared: Vec::new(),
                settings,
            }],
            written: String::new(),
        }
    }
}

impl Rule {
    /// Whether it fits every job.
    pub const fn is_for_all(&self) -> bool {
        self.folder.is_none() && self.name.is_none() && self.declared.is_empty()
    }

    /// Whether it may fit a job that lies there, whatever the job declares.
    fn fits_place(&self, place: Option<&Path>) -> bool {
        let name = || Some(place?.file_name()?.to_string_lossy());
        let lies_in = |wanted: &PathBuf| {
            place
                .and_then(folder_of)
                .is_some_and(|folder| folder.starts_with(wanted))
        };
        self.folder.as_ref().is_none_or(lies_in)
            && self
                .name
                .as_ref()
                .is_none_or(|wanted| name().is_some_and(|name| pattern::fits(wanted, &name)))
    }

    fn fits_declared(&self, declared: &Declared) -> bool {
        self.declared.iter().all(|(key, wanted)| {
            declared
                .sure(*key)
                .is_some_and(|(written, _)| is_alike(wanted, written))
        })
    }
}

impl Rules {
    /// Whether every job gets the same sheets.
    pub fn is_one_for_all(&self) -> bool {
        matches!(self.list.as_slice(), [rule] if rule.is_for_all())
    }

    /// The places of the rules that may fit a job that lies there, as far as no more than its place
    /// is asked: whatever the job declares, one of them is chosen, or none.
    pub fn open_for(&self, place: Option<&Path>) -> Vec<usize> {
        let mut open = Vec::new();
        for (index, rule) in self.list.iter().enumerate() {
            if rule.fits_place(place) {
                open.push(index);
                if rule.declared.is_empty() {
                    break;
                }
            }
        }
        open
    }

    /// The rule for a job. Its bytes are gone over only where a rule asks for what it declares.
    /// `place` is where the job lies, or lay when it arrived; none for the standard input.
    ///
    /// # Errors
    ///
    /// Where the job has to be read, and cannot be, or is none.
    pub fn choose(
        &self,
        source: &Source,
        name: &Name,
        place: Option<&Path>,
        threads: Threads,
    ) -> Result<Choice<'_>, Failed> {
        let open = self.open_for(place);
        let open: Vec<(usize, &Rule)> = open
            .into_iter()
            .filter_map(|index| Some((index, self.list.get(index)?)))
            .collect();
        match open.as_slice() {
            [] => Ok(Choice::None(unfit(place, None))),
            [(index, rule), ..] if rule.declared.is_empty() => Ok(Choice::Fits(*index, rule)),
            open => {
                let declared = &glance(source, name)?;
                let first = open.iter().find(|(_, rule)| rule.fits_declared(declared));
                if let Some((index, rule)) = first {
                    return Ok(Choice::Fits(*index, rule));
                }
                // Bytes that are no job are said to be none, and not to fit no rule.
                round(source, name, Held::default(), threads)?;
                Ok(Choice::None(unfit(place, Some((declared, open)))))
            }
        }
    }
}

/// What a job is that no rule fits, and what it declares of the settings that rules ask for.
fn unfit(place: Option<&Path>, asked: Option<(&Declared, &[(usize, &Rule)])>) -> String {
    let mut words = match place {
        Some(place) => {
            let shown = |path: &Path| clean(path.as_os_str().as_encoded_bytes()).into_owned();
            let folder = folder_of(place).unwrap_or_default();
            let name = place.file_name().unwrap_or_default();
            format!(
                "no rule fits `{}` in `{}`",
                shown(Path::new(name)),
                shown(&folder)
            )
        }
        None => "no rule fits the standard input".to_owned(),
    };
    let Some((declared, open)) = asked else {
        return words;
    };
    let mut keys: Vec<Key> = open
        .iter()
        .flat_map(|(_, rule)| rule.declared.iter().map(|(key, _)| *key))
        .collect();
    keys.sort_unstable();
    keys.dedup();
    for key in keys {
        let said = match (declared.sure(key), declared.get(key)) {
            (Some((written, _)), _) => {
                let short: String = written.chars().take(40).collect();
                format!("`{}`", clean(short.as_bytes()))
            }
            (None, Some(_)) => "it twice and differently".to_owned(),
            (None, None) => "none".to_owned(),
        };
        words.push_str(&format!("; {}: the job declares {said}", word(key)));
    }
    words
}

/// A setting as it is written in a rule.
fn word(key: Key) -> String {
    match serde_json::to_value(key) {
        Ok(serde_json::Value::String(word)) => word,
        _ => String::new(),
    }
}

/// The folder of a file, without links on its way.
fn folder_of(file: &Path) -> Option<PathBuf> {
    let folder = match file.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    std::fs::canonicalize(folder)
        .or_else(|_| std::path::absolute(folder))
        .ok()
}

/// Whether a job declares what is wanted: as a number, in whole, or for each of its tools.
fn is_alike(wanted: &str, written: &str) -> bool {
    let fits = |written: &str| match (number(wanted), number(written)) {
        (Some(wanted), Some(written)) => (wanted - written).abs() <= 1e-6 * wanted.abs(),
        _ => pattern::fits(&wanted.to_lowercase(), &written.to_lowercase()),
    };
    let mut parts = written.split([',', ';']).map(|part| {
        part.trim_matches(|letter: char| letter.is_whitespace() || matches!(letter, '"' | '\''))
    });
    fits(written) || parts.all(fits)
}

fn number(text: &str) -> Option<f64> {
    text.trim()
        .parse()
        .ok()
        .filter(|number: &f64| number.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_declared_setting_is_a_number_a_pattern_or_the_same_for_every_tool() {
        for (wanted, written, is) in [
            ("0.4", "0.40", true),
            ("0.4", "0.5", false),
            ("0.4", "0.4,0.4", true),
            ("0.4", "0.4,0.6", false),
            ("PA6-CF", "PA6-CF", true),
            ("pa6*", "PA6-CF", true),
            ("PA6", "PA6-CF", false),
            ("PLA", "PLA;PLA", true),
            ("PLA", "\"PLA\",\"PVAL\"", false),
            ("PLA*PVAL", "PLA,PVAL", true),
        ] {
            assert_eq!(is_alike(wanted, written), is, "{wanted} {written}");
        }
    }
}
