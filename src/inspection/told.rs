//! What a job's comments tell of its tools, held against what the tools have.

use super::{End, Held};
use crate::command::hint::Key;
use crate::finding::Excerpt;

/// What a job declares for one tool.
#[derive(Debug, Clone, Copy)]
pub(super) struct Told<'a> {
    /// The tool; the first used where one word is said for several tools.
    pub tool: u32,
    /// The word.
    pub value: &'a str,
    /// Its comment.
    pub at: &'a Excerpt,
}

/// What a job declares for each tool it uses, where that differs from what the tool has. One word for
/// several tools speaks for some of them only, and nobody knows which: it differs where it fits none.
pub(super) fn told_otherwise<'a>(
    end: &'a End<'_>,
    key: Key,
    fits: impl Fn(&Held, u32, &str) -> bool,
) -> Vec<Told<'a>> {
    let Some((list, at)) = end.declared.get(key) else {
        return Vec::new();
    };
    let values: Vec<&str> = list.split([',', ';']).map(str::trim).collect();
    let used = super::figures::tools_used(end.state);
    let told = |tool: u32, value| Told { tool, value, at };
    if let [value] = values.as_slice() {
        return match used.first() {
            Some(first) if !used.iter().any(|tool| fits(end.held, *tool, value)) => {
                vec![told(*first, *value)]
            }
            _ => Vec::new(),
        };
    }
    used.into_iter()
        .filter_map(|tool| Some(told(tool, *values.get(tool as usize)?)))
        .filter(|told| !fits(end.held, told.tool, told.value))
        .collect()
}

/// A length in mm that a job declares, within what such lengths can be.
pub(super) fn length(value: &str, plausible: std::ops::RangeInclusive<f64>) -> Option<f64> {
    value
        .parse()
        .ok()
        .filter(|length| plausible.contains(length))
}
