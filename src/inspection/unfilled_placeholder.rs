//! Something was to be filled in and was not.

use super::named::shown;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::grammar::{Fault, Kind, Word};
use crate::machine::Line;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "unfilled-placeholder",
    class: Class::Critical,
    page: include_str!("unfilled_placeholder.md"),
    wants: Wants {
        braced: true,
        ..Wants::END
    },
    silences: &[],
    make,
};

struct UnfilledPlaceholder {
    /// The control evaluates braces itself.
    evaluates: bool,
    unfilled: Tally,
    example: String,
}

#[allow(clippy::unnecessary_wraps, reason = "the register's form")]
fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(UnfilledPlaceholder {
        evaluates: held
            .machine
            .as_ref()
            .is_some_and(|machine| machine.control.evaluates_braces),
        unfilled: Tally::default(),
        example: String::new(),
    }))
}

/// Functions and operators of RS-274's expressions (NISTIR 6556, 3.3.2.3 and 3.3.2.4).
const FUNCTIONS: [&str; 16] = [
    "abs", "acos", "asin", "atan", "cos", "exp", "fix", "fup", "ln", "round", "sin", "sqrt", "tan",
    "mod", "and", "or",
];

/// Whether what stands in brackets or braces is a name to be replaced, and not a list of numbers or
/// names, an expression of numbers, or a table.
fn is_template(text: &[u8]) -> bool {
    let (Some(open), inside) = (text.first(), text.get(1..).unwrap_or_default()) else {
        return false;
    };
    // `"a":1`, `'a'`: a table or a list of texts.
    let first = inside.iter().find(|byte| !matches!(byte, b' ' | b'\t'));
    if matches!(first, Some(b'"' | b'\'')) {
        return false;
    }
    // `[1,2]`, `[a,b]`: a list.
    if *open == b'[' && inside.contains(&b',') {
        return false;
    }
    inside
        .split(|byte| !byte.is_ascii_alphanumeric() && *byte != b'_')
        .filter(|name| {
            name.first()
                .is_some_and(|byte| byte.is_ascii_alphabetic() || *byte == b'_')
        })
        .any(|name| {
            !FUNCTIONS
                .iter()
                .any(|function| name.eq_ignore_ascii_case(function.as_bytes()))
        })
}

/// The piece in braces or brackets of a word, where it has one.
pub(super) fn braced<'a>(word: &Word, line: &'a [u8]) -> Option<&'a [u8]> {
    let text = match word.kind {
        Kind::Placeholder if word.fault == Fault::None => word.bytes(line),
        Kind::Parameter => word.parameter(line),
        _ => return None,
    };
    let from = match word.kind {
        Kind::Placeholder => text.iter().position(|byte| matches!(byte, b'{' | b'['))?,
        _ => 0,
    };
    text.get(from..)
        .filter(|text| matches!(text.first(), Some(b'{' | b'[')))
}

impl Inspection for UnfilledPlaceholder {
    fn braced(&mut self, line: &Line<'_>) {
        for (index, word) in line.words.iter().enumerate() {
            let Some(text) = braced(word, line.bytes) else {
                continue;
            };
            let is_evaluated = self.evaluates && text.first() == Some(&b'{');
            if is_evaluated || !is_template(text) {
                continue;
            }
            if self.unfilled.is_empty() {
                self.example = shown(word.bytes(line.bytes));
            }
            self.unfilled.mark(&line.word(index));
        }
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        if self.unfilled.is_empty() {
            return;
        }
        let extent = std::mem::take(&mut self.unfilled).close(Counts::Words);
        let more = match extent.count {
            1 => String::new(),
            count => format!(", and so in {} more places", count - 1),
        };
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Critical,
            message: format!("{} was to be filled in and was not{more}", self.example),
            help: "slice again with the name spelled as the slicing program knows it, or put the \
                   number in its place"
                .to_owned(),
            limit: None,
            amount: None,
            extent,
            related: Vec::new(),
        });
    }
}
