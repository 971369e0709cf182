//! Places as standards want them: characters and not bytes, addresses and not paths, and a mark by which
//! a finding is known again.

use crate::finding::{Excerpt, Finding};
use crate::text::{Name, clean, clean_with_span};

/// Columns of a place, in Unicode code points from 1; the end is one past the last.
pub(super) struct Columns {
    pub start: usize,
    /// None for a place without length.
    pub end: Option<usize>,
}

/// The columns of a place; none where the front of its line was not kept.
///
/// A stray byte counts as one character, as a reader that replaces each with U+FFFD counts it.
pub(super) fn columns(excerpt: &Excerpt) -> Option<Columns> {
    if excerpt.clipped_front {
        return None;
    }
    let (text, span) = clean_with_span(&excerpt.text, excerpt.span());
    let count = |range| text.get(range).map_or(0, |text: &str| text.chars().count());
    let (start, length) = (count(0..span.start) + 1, count(span));
    Some(Columns {
        start,
        end: (length > 0).then_some(start + length),
    })
}

/// The address of a job (RFC 3986): relative as given, or with the scheme `file`. None for a stream.
pub(super) fn address(name: &Name) -> Option<String> {
    let bytes = match name {
        Name::StandardInput => return None,
        Name::Given(name) => name.as_bytes(),
        Name::Path(path) => path.as_encoded_bytes(),
    };
    let mut address = String::with_capacity(bytes.len() + 8);
    if bytes.starts_with(b"/") {
        address.push_str("file://");
    }
    for &byte in bytes {
        if byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte) {
            address.push(char::from(byte));
        } else {
            address.push_str(&format!("%{byte:02X}"));
        }
    }
    Some(address)
}

/// A digest by which a finding is known again when lines that have nothing to do with it come, go or
/// move: of the requirement, the sheet's key and the words at its first place, less line number and
/// checksum. `nth` tells apart findings that are alike in all of that.
pub(super) fn fingerprint(finding: &Finding, nth: usize) -> String {
    let mut hasher = blake3::Hasher::new();
    hasher.update(base(finding).as_bytes());
    hasher.update(format!("\0{nth}").as_bytes());
    let hex = hasher.finalize().to_hex();
    hex.get(..32).unwrap_or(&hex).to_owned()
}

/// What a fingerprint is made of.
pub(super) fn base(finding: &Finding) -> String {
    let whose = finding.limit.as_ref().map_or("", |limit| &limit.whose);
    let words = finding
        .extent
        .first
        .as_ref()
        .map_or_else(String::new, |at| unnumbered(&clean(&at.text)).to_owned());
    format!("{}\0{whose}\0{words}", finding.requirement)
}

/// A line without the number before it and the checksum behind it: both change when other lines do.
fn unnumbered(line: &str) -> &str {
    let line = line.trim();
    let line = match line.strip_prefix(['N', 'n']) {
        Some(rest) if rest.starts_with(|letter: char| letter.is_ascii_digit()) => {
            rest.trim_start_matches(|letter: char| letter.is_ascii_digit())
        }
        _ => line,
    };
    match line.rsplit_once('*') {
        Some((words, sum)) if !sum.is_empty() && sum.bytes().all(|byte| byte.is_ascii_digit()) => {
            words.trim()
        }
        _ => line.trim(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_are_percent_encoded() {
        let of = |path: &str| address(&Name::Path(path.into()));
        assert_eq!(of("jobs/lid.gcode").as_deref(), Some("jobs/lid.gcode"));
        assert_eq!(of("a b#c%.g").as_deref(), Some("a%20b%23c%25.g"));
        assert_eq!(of("c:lid").as_deref(), Some("c%3Alid"));
        assert_eq!(of("/x/ü").as_deref(), Some("file:///x/%C3%BC"));
        assert_eq!(address(&Name::StandardInput), None);
    }

    #[test]
    fn columns_count_characters() {
        let excerpt = |text: &[u8], span| Excerpt::new(3, 100, text, span);
        let of = |text: &[u8], span| {
            let columns = columns(&excerpt(text, span)).unwrap();
            (columns.start, columns.end)
        };
        assert_eq!(of(b"G1 X10 F9", 3..6), (4, Some(7)));
        assert_eq!(of("; ü X1".as_bytes(), 5..7), (5, Some(7)));
        assert_eq!(of(b"\xff\xfe X1", 3..5), (4, Some(6)));
        assert_eq!(of(b"G1", 2..2), (3, None));
    }

    #[test]
    fn a_line_number_and_a_checksum_are_not_its_words() {
        assert_eq!(unnumbered("N12 M104 S250*97"), "M104 S250");
        assert_eq!(unnumbered("M117 5*6 Nm"), "M117 5*6 Nm");
        assert_eq!(unnumbered("Nozzle"), "Nozzle");
    }
}
