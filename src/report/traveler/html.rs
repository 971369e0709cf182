//! A small writer of HTML. Names are the program's own; every text goes through one place that cleans,
//! cuts and escapes it, whatever it comes from.

use crate::text::clean;

/// A longer text is cut, with a word on how much is missing, in characters (chosen).
pub const TEXT_CAP: usize = 1200;

/// Names and values of attributes.
pub type Attributes<'a> = &'a [(&'static str, &'a str)];

/// A page in the making.
#[derive(Debug, Default)]
pub struct Html {
    text: String,
}

impl Html {
    /// How long it is so far, in bytes.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.text.len()
    }

    /// The page.
    #[must_use]
    pub fn done(self) -> String {
        self.text
    }

    /// An element without content: `meta`, `input`, `line`.
    pub fn void(&mut self, name: &'static str, attributes: Attributes<'_>) {
        self.open(name, attributes);
    }

    /// An element with what `inside` writes.
    pub fn within(
        &mut self,
        name: &'static str,
        attributes: Attributes<'_>,
        inside: impl FnOnce(&mut Self),
    ) {
        self.open(name, attributes);
        inside(self);
        self.text.push_str("</");
        self.text.push_str(name);
        self.text.push('>');
    }

    /// An element of a class (none where that is empty) with a text.
    pub fn put(&mut self, name: &'static str, class: &str, text: &str) {
        let class = [("class", class)];
        let attributes = if class.iter().any(|(_, class)| class.is_empty()) {
            &[][..]
        } else {
            &class[..]
        };
        self.within(name, attributes, |page| page.say(text));
    }

    /// A text. Cleaned of control bytes and marks of direction, cut where it is very long.
    pub fn say(&mut self, text: &str) {
        let text = clean(text.as_bytes());
        match text.char_indices().nth(TEXT_CAP) {
            None => self.escape(&text),
            Some((at, _)) => {
                let (kept, rest) = text.split_at(at);
                self.escape(kept);
                let left = super::super::grouped(rest.chars().count() as u64);
                self.escape(&format!(" … ({left} more characters are left out)"));
            }
        }
    }

    /// A section with its heading.
    pub fn section(&mut self, id: &'static str, title: &str, inside: impl FnOnce(&mut Self)) {
        let heading = format!("{id}-title");
        let attributes = [("id", id), ("aria-labelledby", &heading)];
        self.within("section", &attributes, |page| {
            page.within("h2", &[("id", &heading)], |page| page.say(title));
            inside(page);
        });
    }

    /// Labels and texts.
    pub fn entries<'a>(&mut self, entries: impl IntoIterator<Item = (&'a str, String)>) {
        self.within("dl", &[], |page| {
            for (label, text) in entries {
                page.within("div", &[], |page| {
                    page.put("dt", "", label);
                    page.put("dd", "", &text);
                });
            }
        });
    }

    /// What is the page's own: its style, its script. Never anything that is read.
    pub fn verbatim(&mut self, name: &'static str, own: &'static str) {
        self.open(name, &[]);
        self.text.push_str(own);
        self.text.push_str("</");
        self.text.push_str(name);
        self.text.push('>');
    }

    /// The first line of every page.
    pub fn doctype(&mut self) {
        self.text.push_str("<!DOCTYPE html>\n");
    }

    /// A line of the source ends.
    pub fn newline(&mut self) {
        self.text.push('\n');
    }

    fn open(&mut self, name: &'static str, attributes: Attributes<'_>) {
        self.text.push('<');
        self.text.push_str(name);
        for (name, value) in attributes {
            self.text.push(' ');
            self.text.push_str(name);
            self.text.push_str("=\"");
            self.escape(&clean(value.as_bytes()));
            self.text.push('"');
        }
        self.text.push('>');
    }

    fn escape(&mut self, text: &str) {
        for letter in text.chars() {
            match letter {
                '&' => self.text.push_str("&amp;"),
                '<' => self.text.push_str("&lt;"),
                '>' => self.text.push_str("&gt;"),
                '"' => self.text.push_str("&quot;"),
                '\'' => self.text.push_str("&#39;"),
                other => self.text.push(other),
            }
        }
    }
}

/// A sentence out of a message: a capital at its beginning, a stop at its end.
#[must_use]
pub fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let mut said: String = match letters.next() {
        // A material's name or a word of the job stays as it is written.
        Some(first) if letters.clone().next().is_some_and(char::is_uppercase) => {
            std::iter::once(first).chain(letters).collect()
        }
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => return String::new(),
    };
    if !said.ends_with(['.', '!', '?', ':']) {
        said.push('.');
    }
    said
}
