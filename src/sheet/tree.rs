//! Places in a sheet's TOML: from a key to its bytes and back.

use super::fault::is_hidden;
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// Where the first text with a control character stands.
pub(super) fn hidden(table: &DeTable<'_>) -> Option<Range<usize>> {
    let bad = |text: &str| {
        text.chars()
            .any(|c| (c.is_control() && c != '\n' && c != '\t') || is_hidden(c))
    };
    let mut first: Option<Range<usize>> = None;
    walk(table, &mut String::new(), &mut |_, key, value| {
        let span = match value.get_ref() {
            _ if key.as_ref().is_some_and(|(key, _)| bad(key)) => key.map(|(_, span)| span),
            DeValue::String(text) if bad(text) => Some(value.span()),
            _ => None,
        };
        if let Some(span) = span
            && first.as_ref().is_none_or(|first| span.start < first.start)
        {
            first = Some(span);
        }
    });
    first
}

/// The key whose name or value covers the span most closely.
pub(super) fn key_at(table: &DeTable<'_>, at: &Range<usize>) -> Option<String> {
    let mut best: Option<(usize, String)> = None;
    walk(table, &mut String::new(), &mut |path, key, value| {
        for span in [Some(value.span()), key.map(|(_, span)| span)]
            .into_iter()
            .flatten()
        {
            let covers = span.start <= at.start && at.end <= span.end;
            if covers
                && best
                    .as_ref()
                    .is_none_or(|(length, _)| span.len() <= *length)
            {
                best = Some((span.len(), path.to_owned()));
            }
        }
    });
    best.map(|(_, path)| path)
}

/// Where the value of a key stands: within `{ value = … }` that value.
pub(super) fn value_span(text: &str, key: &str) -> Option<Range<usize>> {
    let tree = DeTable::parse(text).ok()?;
    let (mut plain, mut inner) = (None, None);
    walk(tree.get_ref(), &mut String::new(), &mut |path, _, value| {
        if path == key {
            plain = Some(value.span());
        } else if path.strip_prefix(key) == Some(".value") {
            inner = Some(value.span());
        }
    });
    inner.or(plain)
}

/// Takes a key with its value out of the tree; false where there is none. Entries of lists are
/// not taken out, what lies in them is.
pub(super) fn leave_out(table: &mut DeTable<'_>, path: &str) -> bool {
    let found = table.keys().find_map(|key| {
        let rest = path.strip_prefix(key.get_ref().as_ref())?;
        (rest.is_empty() || rest.starts_with(['.', '[']))
            .then(|| (key.get_ref().to_string(), rest.to_owned()))
    });
    let Some((name, rest)) = found else {
        return false;
    };
    if rest.is_empty() {
        return table.remove(name.as_str()).is_some();
    }
    table
        .get_mut(name.as_str())
        .is_some_and(|value| leave_out_within(value.get_mut(), &rest))
}

fn leave_out_within(value: &mut DeValue<'_>, rest: &str) -> bool {
    match value {
        DeValue::Table(table) => rest
            .strip_prefix('.')
            .is_some_and(|rest| leave_out(table, rest)),
        DeValue::Array(values) => {
            let Some((index, rest)) = rest.strip_prefix('[').and_then(|rest| rest.split_once(']'))
            else {
                return false;
            };
            let index = index.parse().unwrap_or(usize::MAX);
            values
                .get_mut(index)
                .is_some_and(|value| leave_out_within(value.get_mut(), rest))
        }
        _ => false,
    }
}

/// What [`walk`] hands over: the path, the last key with its place, the value.
type Visit<'v> = dyn FnMut(&str, Option<(&str, Range<usize>)>, &toml::Spanned<DeValue<'_>>) + 'v;

/// Visits every value with its path; the nesting of TOML is bounded by its parser.
fn walk(table: &DeTable<'_>, path: &mut String, visit: &mut Visit<'_>) {
    for (key, value) in table {
        let length = path.len();
        if !path.is_empty() {
            path.push('.');
        }
        path.push_str(key.get_ref());
        visit(path, Some((key.get_ref(), key.span())), value);
        deeper(value, path, visit);
        path.truncate(length);
    }
}

fn deeper(value: &toml::Spanned<DeValue<'_>>, path: &mut String, visit: &mut Visit<'_>) {
    match value.get_ref() {
        DeValue::Table(table) => walk(table, path, visit),
        DeValue::Array(values) => {
            for (index, value) in values.iter().enumerate() {
                let length = path.len();
                path.push_str(&format!("[{index}]"));
                visit(path, None, value);
                deeper(value, path, visit);
                path.truncate(length);
            }
        }
        _ => {}
    }
}
