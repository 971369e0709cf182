//! Marks of objects: where a job says that what follows is laid for a thing with a name.
//!
//! Read by their shape, from no particular program: an object that begins or ends, and its name, as a
//! macro with a parameter, as an object's number word, or as a comment. The words are common practice,
//! no source.

use crate::grammar::{Kind, Word};

/// The word that numbers objects, as common practice has it (no source).
const NUMBERS: i64 = 486;

/// Words for what is marked.
const NOUNS: [&[u8]; 4] = [b"object", b"part", b"piece", b"model"];

/// Words for its beginning.
const BEGINS: [&[u8]; 8] = [
    b"begin",
    b"begins",
    b"start",
    b"starts",
    b"starting",
    b"print",
    b"printing",
    b"enter",
];

/// Words for its end.
const ENDS: [&[u8]; 9] = [
    b"end",
    b"ends",
    b"ending",
    b"stop",
    b"stops",
    b"finish",
    b"finished",
    b"done",
    b"leave",
];

/// Words that say of a name that there is such an object, and no more.
const DECLARES: [&[u8]; 4] = [b"define", b"declare", b"register", b"list"];

/// Words that may stand before what is marked.
const BESIDE: [&[u8]; 4] = [b"the", b"of", b"next", b"new"];

/// Words that a name follows, behind an equals sign or a colon where it is a comment.
const KEYS: [&[u8]; 4] = [b"name", b"id", b"object", b"label"];

/// The longest word of them.
const LONGEST: usize = 8;

/// How a mark is written. A job may mark its objects in more ways than one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Form {
    /// A word of the language with the object's number.
    Word,
    /// A macro with a name.
    Macro,
    /// A comment.
    Comment,
}

impl Form {
    /// How many there are.
    pub const COUNT: usize = 3;
}

/// What a mark says. A name is told as written, without its quotes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Says<'a> {
    /// There is an object of this name.
    Declares(&'a [u8]),
    /// What follows is laid for it.
    Begins(&'a [u8]),
    /// The object at hand is called so.
    Calls(&'a [u8]),
    /// What follows is laid for it no longer; whatever is at hand where no name is told.
    Ends(Option<&'a [u8]>),
}

/// Tells `tell` every mark of an object on a line, by its parts and bytes. Whatever the bytes, this does
/// not fail; where it is in doubt it tells nothing.
pub fn read<'a>(words: &[Word], line: &'a [u8], tell: &mut dyn FnMut(Form, Says<'a>)) {
    for (index, word) in words.iter().enumerate() {
        let bytes = word.bytes(line);
        match word.kind {
            Kind::Name => {
                if let Some(says) = of_macro(bytes, words, line) {
                    tell(Form::Macro, says);
                }
            }
            Kind::Number if word.letter == b'M' && word.whole() == Some(NUMBERS) => {
                let text = words.get(index + 1).filter(|next| next.kind == Kind::Text);
                let text = text.map(|text| text.bytes(line)).unwrap_or_default();
                of_number(text, &mut |says| tell(Form::Word, says));
            }
            Kind::Comment | Kind::Remark => {
                if let Some(says) = of_comment(bytes) {
                    tell(Form::Comment, says);
                }
            }
            _ => {}
        }
    }
}

/// What a word does in a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    Noun,
    Begins,
    Ends,
    Declares,
    Beside,
}

fn is_in(list: &[&[u8]], word: &[u8]) -> bool {
    word.len() <= LONGEST && list.iter().any(|known| known.eq_ignore_ascii_case(word))
}

fn part(word: &[u8]) -> Option<Part> {
    let parts = [
        (&NOUNS[..], Part::Noun),
        (&BEGINS, Part::Begins),
        (&ENDS, Part::Ends),
        (&DECLARES, Part::Declares),
        (&BESIDE, Part::Beside),
    ];
    let known = parts.into_iter().find(|(list, _)| is_in(list, word));
    known.map(|(_, part)| part)
}

/// What two of them say together: `stop printing` is an end.
fn later(verb: Option<Part>, said: Part) -> Part {
    verb.filter(|verb| *verb == Part::Ends).unwrap_or(said)
}

/// `BEGIN_OBJECT NAME="left half"`: words that are not known may stand in it where it tells a name.
fn of_macro<'a>(name: &[u8], words: &[Word], line: &'a [u8]) -> Option<Says<'a>> {
    let (mut verb, mut has_noun, mut is_plain) = (None, false, true);
    for token in name.split(|byte| matches!(byte, b'_' | b'-' | b'.')) {
        match part(token) {
            Some(Part::Noun) => has_noun = true,
            Some(Part::Beside) => {}
            Some(said) => verb = Some(later(verb, said)),
            None => is_plain = false,
        }
    }
    let named = words.iter().find_map(|word| {
        let is_name = word.kind == Kind::Parameter && is_in(&KEYS, word.key(line));
        is_name.then(|| unquoted(without_sum(words, word.parameter(line))))
    });
    let named = named.filter(|name| !name.is_empty());
    match verb.filter(|_| has_noun)? {
        Part::Begins => named.map(Says::Begins),
        Part::Declares => named.map(Says::Declares),
        Part::Ends if named.is_some() || is_plain => Some(Says::Ends(named)),
        _ => None,
    }
}

/// On a numbered line a checksum is no part of a name.
fn without_sum<'a>(words: &[Word], value: &'a [u8]) -> &'a [u8] {
    let is_numbered = words.iter().any(|word| word.kind == Kind::LineNumber);
    let end = value.iter().rposition(|byte| *byte == b'*');
    match end.and_then(|end| value.split_at_checked(end)) {
        Some((name, [_, sum @ ..])) if is_numbered && sum.iter().all(u8::is_ascii_digit) => name,
        _ => value,
    }
}

/// `S2 A"left half"`: the number of the object that begins, below zero where one ends; and its name.
fn of_number<'a>(text: &'a [u8], tell: &mut dyn FnMut(Says<'a>)) {
    let mut rest = text.trim_ascii_start();
    while let [letter, behind @ ..] = rest {
        if letter.eq_ignore_ascii_case(&b'a') {
            let name = unquoted(behind.trim_ascii());
            if !name.is_empty() {
                tell(Says::Calls(name));
            }
            return;
        }
        let end = behind.iter().position(u8::is_ascii_whitespace);
        let (number, after) = behind.split_at(end.unwrap_or(behind.len()));
        if letter.eq_ignore_ascii_case(&b's') {
            match number {
                [b'-', ..] => tell(Says::Ends(None)),
                _ if !number.is_empty() && number.iter().all(u8::is_ascii_digit) => {
                    tell(Says::Begins(number));
                }
                _ => {}
            }
        }
        rest = after.trim_ascii_start();
    }
}

/// `printing object lid`, `end of object lid`, `OBJECT_START name="lid"`. What is no name is prose: a
/// name of a comment counts only once a mark has ended it.
fn of_comment(comment: &[u8]) -> Option<Says<'_>> {
    let marks = |byte: &u8| matches!(byte, b';' | b'(' | b'-' | b'*' | b'=' | b'~' | b' ' | b'\t');
    let skipped = comment.iter().take_while(|byte| marks(byte)).count();
    let mut rest = comment.get(skipped..)?;
    if comment.first() == Some(&b'(') {
        rest = rest.strip_suffix(b")").unwrap_or(rest);
    }
    let (mut verb, mut has_noun) = (None, false);
    loop {
        let (word, after) = first_word(rest);
        match part(word) {
            Some(Part::Noun) if !has_noun => has_noun = true,
            Some(Part::Beside) if !has_noun => {}
            Some(said @ (Part::Begins | Part::Ends | Part::Declares))
                if verb.is_none() || !has_noun =>
            {
                verb = Some(later(verb, said));
            }
            _ if has_noun && verb.is_some() => break,
            _ => return None,
        }
        rest = after;
    }
    let named = name_of(rest);
    match verb? {
        Part::Begins => named.map(Says::Begins),
        Part::Declares => named.map(Says::Declares),
        Part::Ends => Some(Says::Ends(named)),
        _ => None,
    }
}

/// The letters at the front, and what comes behind them and a blank or underscore. A capital behind a
/// small letter begins a new word.
fn first_word(text: &[u8]) -> (&[u8], &[u8]) {
    let mut is_small = false;
    let length = text
        .iter()
        .take_while(|byte| {
            let goes_on = byte.is_ascii_alphabetic() && !(is_small && byte.is_ascii_uppercase());
            is_small = byte.is_ascii_lowercase();
            goes_on
        })
        .count();
    let (word, rest) = text.split_at(length);
    let blanks = rest
        .iter()
        .take_while(|byte| matches!(byte, b' ' | b'\t' | b'_'))
        .count();
    (word, rest.get(blanks..).unwrap_or_default())
}

/// The name that is all the rest, behind `name =`, a colon, or nothing.
fn name_of(text: &[u8]) -> Option<&[u8]> {
    let (word, rest) = first_word(text);
    let is_mark = |byte: &u8| matches!(byte, b':' | b'=');
    let name = match rest.split_first() {
        Some((mark, value)) if is_mark(mark) && (word.is_empty() || is_in(&KEYS, word)) => value,
        _ => text,
    };
    let name = unquoted(name.trim_ascii());
    (!name.is_empty()).then_some(name)
}

fn unquoted(name: &[u8]) -> &[u8] {
    match name {
        [b'"', inner @ .., b'"'] | [b'\'', inner @ .., b'\''] => inner,
        [b'"', inner @ ..] => inner,
        plain => plain,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::grammar::{Words, read_line};
    use proptest::prelude::*;

    fn marks(line: &[u8]) -> Vec<(Form, Says<'_>)> {
        let mut words = Words::default();
        read_line(line, &mut words);
        let mut told = Vec::new();
        read(&words, line, &mut |form, says| told.push((form, says)));
        told
    }

    #[test]
    fn marks_are_read_by_their_shape() {
        use Form::{Comment, Macro, Word};
        use Says::{Begins, Calls, Declares, Ends};
        let lid = &b"lid"[..];
        let cases: [(&str, &[(Form, Says<'_>)]); 22] = [
            ("STOP_PRINTING_OBJECT NAME=lid", &[(Macro, Ends(Some(lid)))]),
            ("BEGIN_OBJECT NAME=lid", &[(Macro, Begins(lid))]),
            ("MARK_OBJECT_START NAME=\"lid\"", &[(Macro, Begins(lid))]),
            ("part_end name=lid", &[(Macro, Ends(Some(lid)))]),
            ("END_OBJECT", &[(Macro, Ends(None))]),
            ("DEFINE_OBJECT NAME=lid AT=1,2", &[(Macro, Declares(lid))]),
            ("N4 BEGIN_PIECE ID=lid*7", &[(Macro, Begins(lid))]),
            ("M486 S3", &[(Word, Begins(b"3"))]),
            (
                "M486 S3 A\"lid\"",
                &[(Word, Begins(b"3")), (Word, Calls(lid))],
            ),
            ("M486 Alid", &[(Word, Calls(lid))]),
            ("M486 S-1", &[(Word, Ends(None))]),
            ("; printing object lid", &[(Comment, Begins(lid))]),
            ("; stop printing object lid", &[(Comment, Ends(Some(lid)))]),
            (";OBJECT_START name=\"lid\"", &[(Comment, Begins(lid))]),
            ("; object start: lid", &[(Comment, Begins(lid))]),
            ("(begin part lid)", &[(Comment, Begins(lid))]),
            ("; end of the object", &[(Comment, Ends(None))]),
            (
                "; printing object end cap",
                &[(Comment, Begins(b"end cap"))],
            ),
            (";ObjectEnd=lid", &[(Comment, Ends(Some(lid)))]),
            ("G1 X1 ; start part lid", &[(Comment, Begins(lid))]),
            (
                "; print object lid id:0 copy 1",
                &[(Comment, Begins(b"lid id:0 copy 1"))],
            ),
            ("; --- begin object: 'lid' ", &[(Comment, Begins(lid))]),
        ];
        for (line, told) in cases {
            assert_eq!(marks(line.as_bytes()), told, "{line}");
        }
        for line in [
            "",
            ";",
            "BEGIN_OBJECT",
            "START_JOB NAME=lid",
            "PART_FAN_STOP",
            "OBJECT NAME=lid",
            "M486 T4",
            "M486 S",
            "M486 P3",
            "M48 S3",
            "; BEGIN_LAYER_OBJECT z=0.20",
            "; objects printed at once",
            "; the object is printed slowly",
            "; printing objects in order",
            "; object_gap = 0.1",
            "; printing",
            "; start object:",
        ] {
            assert_eq!(marks(line.as_bytes()), [], "{line}");
        }
    }

    proptest! {
        #[test]
        fn any_line_is_read(line in proptest::collection::vec(any::<u8>(), 0..60)) {
            marks(&line);
        }

        #[test]
        fn any_name_comes_back(name in "[a-z0-9][a-z0-9 _.:;#()-]{0,20}[a-z0-9]") {
            let line = format!("BEGIN_OBJECT NAME=\"{name}\"");
            prop_assert_eq!(marks(line.as_bytes()), [(Form::Macro, Says::Begins(name.as_bytes()))]);
        }
    }
}
