//! Pages: what a requirement means to a reader, and the jobs in it that the tests run.

/// The headings of every page, in order.
pub const HEADINGS: [&str; 6] = [
    "Requirement",
    "Why it matters",
    "Nonconforming",
    "Conforming",
    "Known limits",
    "Concession",
];

/// One section of a page.
#[must_use]
pub fn section<'a>(page: &'a str, heading: &str) -> Option<&'a str> {
    let mark = format!("\n## {heading}\n");
    let from = page.find(&mark)? + mark.len();
    let rest = page.get(from..)?;
    let end = rest.find("\n## ").unwrap_or(rest.len());
    rest.get(..end)
}

/// The first sentence of a page, on one line.
#[must_use]
pub fn summary(page: &str) -> String {
    let words = section(page, "Requirement").unwrap_or_default();
    let line = words.split_whitespace().collect::<Vec<_>>().join(" ");
    let end = line.find(". ").unwrap_or(line.len());
    line.get(..end)
        .unwrap_or_default()
        .trim_end_matches('.')
        .replace('`', "")
}

/// The fenced jobs of one section.
pub fn jobs<'a>(page: &'a str, heading: &str) -> impl Iterator<Item = &'a str> {
    section(page, heading)
        .unwrap_or_default()
        .split("```gcode\n")
        .skip(1)
        .filter_map(|rest| {
            let end = rest.find("```")?;
            rest.get(..end)
        })
}
