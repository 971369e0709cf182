//! Reading a sheet: TOML to the typed sheet, its base under it, contradictions refused.

use super::check::Clash;
use super::fault::{Error, LARGEST, Spot, printable};
use super::part::{Inherit, Part};
use super::tree::{hidden, key_at, leave_out, value_span};
use super::{Application, BedShape, Control, Machine, Material, Origin, name};
use crate::finding::SourceMark;
use serde::Deserialize;
use toml::de::DeTable;

/// What the two kinds of sheet have in common.
pub(super) trait Sheet: Part + Sized + serde::de::DeserializeOwned {
    const KIND: &'static str;
    fn head(&mut self) -> Head<'_>;
    fn clash(&self) -> Option<Clash>;
    /// The library's sheet of that name: its name and text.
    fn library(word: &str) -> Option<(&'static str, &'static str)>;
    /// Names that the word may have meant.
    fn near(word: &str) -> Vec<&'static str>;
    /// Drops of its base what cannot stand beside what it says itself.
    fn clear(&self, base: &mut Self);
    /// What does not merge value by value, from the texts of all layers, the lowest first.
    fn settle(&mut self, layers: &[&str]);
}

/// What a sheet says about itself.
pub(super) struct Head<'a> {
    pub name: &'a mut String,
    pub from: &'a Option<String>,
    pub source: &'a Option<String>,
    pub mark: Option<SourceMark>,
    pub origin: &'a mut Origin,
    pub digest: &'a mut Option<String>,
    pub also: Option<&'a mut Vec<String>>,
    pub cautions: &'a mut Vec<String>,
}

impl Sheet for Material {
    const KIND: &'static str = "material";

    fn head(&mut self) -> Head<'_> {
        Head {
            name: &mut self.name,
            from: &self.from,
            source: &self.source,
            mark: self.mark,
            origin: &mut self.origin,
            digest: &mut self.digest,
            also: Some(&mut self.also),
            cautions: &mut self.cautions,
        }
    }

    fn clash(&self) -> Option<Clash> {
        super::check::material(self)
    }

    fn library(word: &str) -> Option<(&'static str, &'static str)> {
        super::library::material_text(word)
    }

    fn near(word: &str) -> Vec<&'static str> {
        super::library::near_material(word)
    }

    fn clear(&self, _: &mut Self) {}

    fn settle(&mut self, _: &[&str]) {}
}

impl Sheet for Machine {
    const KIND: &'static str = "machine";

    fn head(&mut self) -> Head<'_> {
        Head {
            name: &mut self.name,
            from: &self.from,
            source: &self.source,
            mark: self.mark,
            origin: &mut self.origin,
            digest: &mut self.digest,
            also: None,
            cautions: &mut self.cautions,
        }
    }

    fn clash(&self) -> Option<Clash> {
        super::check::machine(self)
    }

    fn library(word: &str) -> Option<(&'static str, &'static str)> {
        super::library::machine_text(word)
    }

    fn near(word: &str) -> Vec<&'static str> {
        super::library::near_machine(word)
    }

    /// A bed of another shape replaces the base's as a whole.
    fn clear(&self, base: &mut Self) {
        let said = self.bed.shape();
        let said = said.or(self
            .bed
            .printable_from
            .as_ref()
            .map(|_| BedShape::Rectangle));
        let said = said.or(self.bed.printable_to.as_ref().map(|_| BedShape::Rectangle));
        if said.is_some()
            && base
                .bed
                .shape()
                .is_some_and(|of_base| said != Some(of_base))
        {
            base.bed.shape = None;
            base.bed.printable_from = None;
            base.bed.printable_to = None;
            base.bed.diameter = None;
            base.bed.centre = None;
        }
    }

    /// Control's keys have defaults, so only the texts tell what was said.
    fn settle(&mut self, layers: &[&str]) {
        let control = |text: &&str| match text.parse::<toml::Table>().ok()?.remove("control")? {
            toml::Value::Table(control) => Some(control),
            _ => None,
        };
        let Some(merged) = layers.iter().filter_map(control).reduce(lay_over) else {
            return;
        };
        let merged = toml::Value::Table(merged);
        // The texts were read before; only what they say together is read here.
        if let Ok(control) = Control::deserialize(merged) {
            self.control = control;
        }
    }
}

impl Sheet for Application {
    const KIND: &'static str = "application";

    fn head(&mut self) -> Head<'_> {
        Head {
            name: &mut self.name,
            from: &self.from,
            source: &self.source,
            mark: self.mark,
            origin: &mut self.origin,
            digest: &mut self.digest,
            also: None,
            cautions: &mut self.cautions,
        }
    }

    fn clash(&self) -> Option<Clash> {
        super::check::application(self)
    }

    fn library(_: &str) -> Option<(&'static str, &'static str)> {
        None
    }

    fn near(_: &str) -> Vec<&'static str> {
        Vec::new()
    }

    fn clear(&self, _: &mut Self) {}

    fn settle(&mut self, _: &[&str]) {}
}

/// Key by key, accelerations too; a macro or a cornering rule that is named again replaces the base's.
fn lay_over(mut base: toml::Table, over: toml::Table) -> toml::Table {
    for (key, value) in over {
        match (key.as_str(), base.remove(&key), value) {
            (
                "macros" | "acceleration",
                Some(toml::Value::Table(mut below)),
                toml::Value::Table(above),
            ) => {
                below.extend(above);
                base.insert(key, toml::Value::Table(below));
            }
            (_, _, value) => {
                base.insert(key, value);
            }
        }
    }
    base
}

/// Reads a sheet from bytes that may be anything.
pub(super) fn bytes<S: Sheet>(name: &str, bytes: &[u8], origin: Origin) -> Result<S, Error> {
    text_of(name, utf8(name, bytes)?, origin)
}

/// The same, over the sheets under it: `under` is the one it lies on first.
#[cfg(feature = "cli")]
pub(super) fn bytes_over<S: Sheet>(
    name: &str,
    bytes: &[u8],
    origin: Origin,
    under: &[Under],
) -> Result<S, Error> {
    text_without(name, utf8(name, bytes)?, origin, &[], under)
}

/// A sheet under another, with its name and text.
#[derive(Debug)]
pub(super) struct Under {
    pub name: String,
    pub text: String,
}

/// What one text says by itself, as rows: nothing of what lies under it.
#[cfg(feature = "cli")]
pub(super) fn alone<S: Sheet>(name: &str, text: &str) -> Result<Vec<super::part::Row>, Error> {
    let sheet: S = typed((name, text), &[])?;
    let mut rows = Vec::new();
    Part::rows(&sheet, "", &mut rows);
    Ok(rows)
}

/// The same, and everything that is wrong where it is no sheet.
#[cfg(feature = "cli")]
pub(super) fn all_of_bytes<S: Sheet>(
    name: &str,
    bytes: &[u8],
    origin: Origin,
    under: &[Under],
) -> Result<S, Vec<Error>> {
    let text = utf8(name, bytes).map_err(|fault| vec![fault])?;
    all_of(name, text, origin, under)
}

fn utf8<'b>(name: &str, bytes: &'b [u8]) -> Result<&'b str, Error> {
    if u64::try_from(bytes.len()).is_ok_and(|length| length > LARGEST) {
        return Err(Error::TooLarge {
            name: printable(name),
        });
    }
    std::str::from_utf8(bytes).map_err(|fault| Error::NotUtf8 {
        name: printable(name),
        byte: fault.valid_up_to(),
    })
}

/// The most faults of one sheet that are stated.
const MOST_FAULTS: usize = 30;

/// Reads a sheet from text and states everything that is wrong with it, in the text's order: after
/// each fault the key it is about is left out, and the rest is read again.
pub(super) fn all_of<S: Sheet>(
    name: &str,
    text: &str,
    origin: Origin,
    under: &[Under],
) -> Result<S, Vec<Error>> {
    let mut without: Vec<String> = Vec::new();
    let mut faults = Vec::new();
    while faults.len() < MOST_FAULTS {
        let fault = match text_without::<S>(name, text, origin.clone(), &without, under) {
            Ok(sheet) if faults.is_empty() => return Ok(sheet),
            Ok(_) => break,
            Err(fault) => fault,
        };
        let Some((key, message)) = fault
            .spot()
            .and_then(|spot| Some((spot.key.clone()?, spot.message.as_str())))
        else {
            faults.push(fault);
            break;
        };
        // What is missing because it was left out here is no fault of the sheet.
        let lacks_what_was_cut = without.iter().any(|cut| {
            cut.strip_prefix(key.as_str())
                .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
        });
        let is_own = lacks_what_was_cut || (message == NO_NAME && !faults.is_empty());
        let cut = match message {
            LEFT_OUT => key.rsplit_once('.').map_or("", |(parent, _)| parent),
            _ => key.as_str(),
        };
        // Of a list one entry is not left out alone: the others would change their numbers.
        let cut = match cut.rsplit_once('[') {
            Some((list, rest)) if rest.ends_with(']') => list,
            _ => cut,
        };
        let cut = cut.to_owned();
        if !is_own {
            faults.push(fault);
        }
        if !can_leave_out(text, &without, &cut) {
            break;
        }
        without.push(cut);
    }
    faults.sort_by_key(|fault: &Error| fault.spot().map(|spot| (spot.line, spot.column)));
    Err(faults)
}

/// Whether leaving out the key changes anything.
fn can_leave_out(text: &str, without: &[String], key: &str) -> bool {
    DeTable::parse(text).is_ok_and(|mut tree| {
        for key in without {
            leave_out(tree.get_mut(), key);
        }
        leave_out(tree.get_mut(), key)
    })
}

const LEFT_OUT: &str = "is left out where it is needed";
const NO_NAME: &str = "the sheet has no name";

/// Reads a sheet from text.
pub(super) fn text_of<S: Sheet>(name: &str, text: &str, origin: Origin) -> Result<S, Error> {
    text_without(name, text, origin, &[], &[])
}

fn text_without<S: Sheet>(
    name: &str,
    text: &str,
    origin: Origin,
    without: &[String],
    under: &[Under],
) -> Result<S, Error> {
    if u64::try_from(text.len()).is_ok_and(|length| length > LARGEST) {
        return Err(Error::TooLarge {
            name: printable(name),
        });
    }
    if text.trim_start_matches('\u{feff}').trim().is_empty() {
        return Err(Error::Empty {
            name: printable(name),
        });
    }
    let mut sheet: S = typed((name, text), without)?;
    let mut texts = vec![text];
    if let Some(word) = sheet.head().from.clone() {
        let base: S = match under {
            [nearest, rest @ ..] => {
                texts.extend(under.iter().map(|sheet| sheet.text.as_str()));
                // Its own base is named in the last of them, where it has one in the library.
                texts.extend(library_text::<S>(under.last()));
                text_without(&nearest.name, &nearest.text, Origin::Unnamed, &[], rest)?
            }
            [] => {
                let (base, base_text) = base_of::<S>((name, text), &word)?;
                texts.push(base_text);
                base
            }
        };
        texts.reverse();
        lay::<S>(&mut sheet, base, &texts);
    }
    let head = sheet.head();
    if head.name.trim().is_empty() {
        let help =
            "write `name = \"…\"` first, or `from = \"…\"` with a name of the library".to_owned();
        let at = value_span(text, "name");
        return Err(Error::Value(Spot::new(
            (name, text),
            at,
            Some("name".into()),
            NO_NAME,
            Some(help),
        )));
    }
    *head.origin = origin;
    *head.digest = digest(&texts);
    if let Some(clash) = sheet.clash() {
        let spot = Spot::new(
            (name, text),
            value_span(text, &clash.key),
            Some(clash.key),
            &clash.message,
            Some(clash.help),
        );
        let other = clash.other.and_then(|key| value_span(text, &key));
        return Err(Error::Contradiction(spot.against(other)));
    }
    Ok(sheet)
}

/// The text of the library sheet that the lowest file lies over.
fn library_text<S: Sheet>(lowest: Option<&Under>) -> Option<&'static str> {
    let table: toml::Table = lowest?.text.parse().ok()?;
    let word = table.get("from")?.as_str()?;
    S::library(word).map(|(_, text)| text)
}

/// The library sheet this one lies over.
fn base_of<S: Sheet>((name, text): (&str, &str), word: &str) -> Result<(S, &'static str), Error> {
    let unknown = |message: String, near: &[&str]| {
        let help = match near {
            [] => format!("name a {} sheet of the library", S::KIND),
            near => format!("did you mean `{}`?", near.join("`, `")),
        };
        Error::UnknownBase(Spot::new(
            (name, text),
            value_span(text, "from"),
            Some("from".into()),
            &message,
            Some(help),
        ))
    };
    let Some((base_name, base_text)) = S::library(word) else {
        let near = S::near(word);
        return Err(unknown(
            format!("the library has no {} sheet `{word}`", S::KIND),
            &near,
        ));
    };
    let mut base: S = typed((base_name, base_text), &[])?;
    if base.head().from.is_some() {
        return Err(unknown(
            format!("`{base_name}` itself lies over another sheet"),
            &[],
        ));
    }
    Ok((base, base_text))
}

/// Lays a sheet over its base. It keeps answering to the base's name, and keeps its cautions.
fn lay<S: Sheet>(sheet: &mut S, mut base: S, layers: &[&str]) {
    let (base_name, base_also, base_cautions) = {
        let head = base.head();
        (
            head.name.clone(),
            head.also.map(std::mem::take),
            std::mem::take(head.cautions),
        )
    };
    sheet.clear(&mut base);
    sheet.over(base);
    sheet.settle(layers);
    let head = sheet.head();
    for caution in base_cautions {
        if !head.cautions.contains(&caution) {
            head.cautions.push(caution);
        }
    }
    if head.name.trim().is_empty() {
        head.name.clone_from(&base_name);
    }
    if let (Some(also), Some(more)) = (head.also, base_also) {
        for word in std::iter::once(base_name).chain(more) {
            if *head.name != word && !also.contains(&word) {
                also.push(word);
            }
        }
    }
}

/// TOML to the typed sheet, with the sheet's own source and mark given to its values.
fn typed<S: Sheet>((name, text): (&str, &str), without: &[String]) -> Result<S, Error> {
    let mut tree = DeTable::parse(text).map_err(|fault| {
        let message = fault.message().lines().collect::<Vec<_>>().join(", ");
        if message.contains("duplicate key") {
            let key = fault
                .span()
                .and_then(|span| text.get(span))
                .map(str::to_owned);
            let help = "keep one of the two".to_owned();
            return Error::DuplicateKey(Spot::new(
                (name, text),
                fault.span(),
                key,
                "the key stands twice",
                Some(help),
            ));
        }
        let help = "check quotes, brackets and the `=` on this line; a sheet is TOML".to_owned();
        Error::Syntax(Spot::new(
            (name, text),
            fault.span(),
            None,
            &message,
            Some(help),
        ))
    })?;
    for key in without {
        leave_out(tree.get_mut(), key);
    }
    if let Some(span) = hidden(tree.get_ref()) {
        let key = key_at(tree.get_ref(), &span);
        let message = "the text holds a control character";
        let help = "take it out; texts of a sheet are printed on terminals".to_owned();
        return Err(Error::Value(Spot::new(
            (name, text),
            Some(span),
            key,
            message,
            Some(help),
        )));
    }
    let reader = toml::de::Deserializer::from(tree);
    let mut sheet = S::deserialize(reader).map_err(|fault| untyped((name, text), &fault))?;
    let head = sheet.head();
    let from = Inherit {
        source: head.source.clone(),
        mark: head.mark.unwrap_or_default(),
    };
    sheet.inherit(&from);
    Ok(sheet)
}

/// Says in our own words why TOML that is well formed is no sheet.
fn untyped((name, text): (&str, &str), fault: &toml::de::Error) -> Error {
    let tree = DeTable::parse(text).ok();
    let span = fault.span();
    let mut key = match (&tree, &span) {
        (Some(tree), Some(span)) => key_at(tree.get_ref(), span),
        _ => None,
    };
    let message = fault
        .message()
        .lines()
        .next()
        .unwrap_or_default()
        .to_owned();
    let mut quoted = message.split('`').skip(1).step_by(2);
    if message.starts_with("unknown field") {
        let word = quoted.next().unwrap_or_default().to_owned();
        if word.contains("__toml_private") {
            let help = "write it as text between quotes".to_owned();
            return Error::Value(Spot::new(
                (name, text),
                span,
                key,
                "a date is no value here",
                Some(help),
            ));
        }
        let known: Vec<&str> = quoted.collect();
        let near = name::nearest(&word, known.iter().copied());
        let help = match near.first() {
            Some(meant) => format!("did you mean `{meant}`? Keys here: {}", known.join(", ")),
            None => format!("keys here: {}", known.join(", ")),
        };
        let key = key.or(Some(word));
        return Error::UnknownKey(Spot::new(
            (name, text),
            span,
            key,
            "no sheet has this key",
            Some(help),
        ));
    }
    if let (true, Some(missing)) = (message.starts_with("missing field"), quoted.next()) {
        let key_of = key
            .take()
            .map_or_else(|| missing.to_owned(), |key| format!("{key}.{missing}"));
        let help = format!("write `{missing} = …` into it");
        return Error::Value(Spot::new(
            (name, text),
            span,
            Some(key_of),
            LEFT_OUT,
            Some(help),
        ));
    }
    let (message, help) = match message.split_once("; ") {
        Some((message, help)) => (message.to_owned(), help.to_owned()),
        None => word_fault(&message),
    };
    Error::Value(Spot::new((name, text), span, key, &message, Some(help)))
}

/// A value of the wrong kind, or a word that is none of a closed set.
fn word_fault(message: &str) -> (String, String) {
    if message.starts_with("unknown variant") {
        let mut words = message.split('`').skip(1).step_by(2);
        let word = words.next().unwrap_or_default();
        return (
            format!("`{word}` is none of the words known here"),
            format!("write one of: {}", words.collect::<Vec<_>>().join(", ")),
        );
    }
    match message.split_once(", expected ") {
        Some((wrong, wanted)) => (wrong.to_owned(), format!("write {wanted}")),
        None => (message.to_owned(), "check the value".to_owned()),
    }
}

#[cfg(feature = "cli")]
#[expect(
    clippy::unnecessary_wraps,
    reason = "without the command line there is none"
)]
fn digest(texts: &[&str]) -> Option<String> {
    let mut hasher = blake3::Hasher::new();
    for text in texts {
        hasher.update(text.as_bytes());
    }
    Some(hasher.finalize().to_hex().to_string())
}

#[cfg(not(feature = "cli"))]
const fn digest(_: &[&str]) -> Option<String> {
    None
}

impl Material {
    /// Reads a material sheet. `name` is what messages call the text.
    ///
    /// # Errors
    /// The first thing in it that is no sheet, or two values that cannot both hold.
    pub fn parse(name: &str, text: &str) -> Result<Self, Error> {
        text_of(name, text, Origin::Text(printable(name)))
    }

    /// Reads a material sheet from bytes that may be anything.
    ///
    /// # Errors
    /// As [`Self::parse`], and for bytes that are no UTF-8.
    pub fn parse_bytes(name: &str, bytes: &[u8]) -> Result<Self, Error> {
        self::bytes(name, bytes, Origin::Text(printable(name)))
    }
}

impl Material {
    /// Reads a material sheet, and states everything that is wrong where it is none: at most thirty
    /// faults, those that follow from another left out.
    ///
    /// # Errors
    /// As [`Self::parse`], but all of them, in the text's order.
    pub fn check(name: &str, text: &str) -> Result<Self, Vec<Error>> {
        all_of(name, text, Origin::Text(printable(name)), &[])
    }
}

impl Machine {
    /// As [`Material::check`].
    ///
    /// # Errors
    /// As [`Self::parse`], but all of them, in the text's order.
    pub fn check(name: &str, text: &str) -> Result<Self, Vec<Error>> {
        all_of(name, text, Origin::Text(printable(name)), &[])
    }

    /// Reads a machine sheet. `name` is what messages call the text.
    ///
    /// # Errors
    /// The first thing in it that is no sheet, or two values that cannot both hold.
    pub fn parse(name: &str, text: &str) -> Result<Self, Error> {
        text_of(name, text, Origin::Text(printable(name)))
    }

    /// Reads a machine sheet from bytes that may be anything.
    ///
    /// # Errors
    /// As [`Self::parse`], and for bytes that are no UTF-8.
    pub fn parse_bytes(name: &str, bytes: &[u8]) -> Result<Self, Error> {
        self::bytes(name, bytes, Origin::Text(printable(name)))
    }
}
