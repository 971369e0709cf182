//! The page of a requirement or a rework, for a terminal.

use crate::report::paint::{Look, Tone, wrap};
use crate::text::clean;

/// A page as it is written, its headings standing out. With `set_anew`, paragraphs that are wider than
/// the terminal are set anew.
#[must_use]
pub fn page(page: &str, look: &Look, set_anew: bool) -> String {
    let mut text = String::with_capacity(page.len());
    let mut is_job = false;
    let mut lines = page.lines().peekable();
    while let Some(line) = lines.next() {
        let is_words =
            |line: &str| line.starts_with(|first: char| first.is_alphanumeric() || first == '`');
        if !is_job && !line.starts_with("```") && is_words(line) {
            let mut paragraph = vec![line];
            while let Some(next) = lines.next_if(|next| {
                !next.is_empty() && !next.starts_with(['-', '#', '|']) && !next.starts_with("```")
            }) {
                paragraph.push(next.trim());
            }
            let fits = |line: &&str| line.chars().count() <= look.width;
            let set: Vec<String> = if !set_anew || paragraph.iter().all(fits) {
                paragraph.iter().map(|line| (*line).to_owned()).collect()
            } else {
                wrap(&paragraph.join(" "), look.width)
            };
            for line in set {
                text.push_str(&clean(line.as_bytes()));
                text.push('\n');
            }
            continue;
        }
        let tone = if line.starts_with("```") {
            is_job = !is_job;
            Tone::Dim
        } else if is_job && line.starts_with(";!") {
            // A note for the tests.
            continue;
        } else if line.starts_with('#') && !is_job {
            Tone::Bold
        } else {
            Tone::Plain
        };
        text.push_str(&look.paint(tone, &clean(line.as_bytes())));
        text.push('\n');
    }
    text
}
