//! Holding a job anew under another material sheet, from the values that it was held by: without
//! reading it again.
//!
//! A difference between two sheets that is not listed here, or a value that is not stored, has no
//! answer: the job must be read. `tests/suite/house.rs` keeps the list true: what is said to be read by some
//! requirements, or by none, is read by no others.

use super::fan_bands::Edge;
use super::melt::Whose;
use super::{Held, REGISTER, Requirement};
use crate::finding::Class;
use crate::sheet::Material;
use std::collections::BTreeMap;

/// What is stored of a job: one that pushes its first tool's filament alone.
#[derive(Debug, Clone, Copy)]
pub struct Stored<'a> {
    /// The values it was held by.
    pub values: &'a BTreeMap<String, Option<f64>>,
    /// The material that its comments declare, as written.
    pub declared: Option<&'a str>,
    /// Requirements that it was found not to fulfil, each with the most harmful class.
    pub found: &'a [(&'a str, Class)],
}

impl Stored<'_> {
    /// A value held; none within where there was nothing to hold, none at all where it is not stored.
    pub(super) fn value(&self, name: &str) -> Option<Option<f64>> {
        self.values.get(name).copied()
    }

    /// The class of what was found against a requirement.
    fn class(&self, id: &str) -> Option<Class> {
        let found = self.found.iter().find(|(known, _)| *known == id);
        found.map(|(_, class)| *class)
    }
}

/// The greater of a value and what it was so far.
pub(super) fn above(so_far: Option<f64>, value: f64) -> Option<f64> {
    Some(so_far.map_or(value, |so_far| so_far.max(value)))
}

/// The lesser of a value and what it was so far.
pub(super) fn below(so_far: Option<f64>, value: f64) -> Option<f64> {
    Some(so_far.map_or(value, |so_far| so_far.min(value)))
}

/// The requirements whose answer may differ between two sheets; none where the sheets differ in more
/// than stored values tell.
#[must_use]
pub fn touched(old: &Material, new: &Material) -> Option<Vec<&'static str>> {
    let (mut old, mut new) = (old.clone(), new.clone());
    let mut touched: Vec<&'static str> = Vec::new();
    // What no requirement reads.
    macro_rules! unread {
        ($($field:ident),+ $(,)?) => {
            $(old.$field = Default::default(); new.$field = Default::default();)+
        };
    }
    unread!(
        source, mark, date, by, reason, note, price, drying, exposure, service, water, chemicals,
        uv, flame, charge, shrinkage, changeover, supports, surfaces, finishing, cautions, origin,
        digest,
    );
    // What the named requirements alone read. A key that only one of the two sheets has is another
    // matter: the requirement may not have been held at all.
    macro_rules! read {
        ($($part:ident.$field:ident: $($id:literal),+;)+) => {$(
            let pair = (old.$part.$field.take(), new.$part.$field.take());
            match &pair {
                (Some(old), Some(new)) if old.value == new.value => {}
                (Some(_), Some(_)) => touched.extend([$($id),+]),
                (None, None) => {}
                _ => return None,
            }
        )+};
    }
    // The first layer has the plain range where it has none of its own.
    let firsts = [&mut old, &mut new].map(|sheet| sheet.hotend.first_layer.take());
    let ranges = [&old, &new].map(|sheet| sheet.hotend.print.clone());
    let of_first = |at: usize| {
        let first = firsts.get(at).and_then(Option::as_ref);
        first.or(ranges.get(at)?.as_ref()).map(|range| range.value)
    };
    if of_first(0) != of_first(1) {
        touched.extend(["hotend-above-sheet", "hotend-below-sheet"]);
    }
    let most = |sheet: &Material| sheet.fan.print.as_ref().map(|range| range.value.most);
    if most(&old) != most(&new) {
        touched.push("layer-too-quick");
    }
    read! {
        hotend.print: "hot-idle", "hotend-above-sheet", "hotend-below-sheet", "machine-short-of-sheet";
        bed.print: "bed-above-sheet", "bed-below-sheet", "machine-short-of-sheet";
        first_layer.speed_most: "first-layer-fast";
        fan.print: "fan-above-sheet", "fan-below-sheet";
        fan.bridge: "fan-above-sheet", "fan-below-sheet";
        fan.first_layers_most: "fan-on-first-layers";
        flow.most: "flow-above-hotend", "flow-above-sheet";
    }
    let names = |sheet: &mut Material| {
        let (name, also) = (
            std::mem::take(&mut sheet.name),
            std::mem::take(&mut sheet.also),
        );
        (name, also, sheet.from.take())
    };
    if names(&mut old) != names(&mut new) {
        touched.push("material-differs");
    }
    touched.sort_unstable();
    touched.dedup();
    (old == new).then_some(touched)
}

/// What of the touched requirements would be found under these sheets, each with its most harmful
/// class; none where the stored values do not tell.
#[must_use]
pub fn anew(
    touched: &[&'static str],
    stored: &Stored<'_>,
    held: &Held,
) -> Option<Vec<(&'static str, Class)>> {
    let mut found = Vec::new();
    for id in touched {
        let class = one(id, stored, held)?;
        // What explains other findings away, or is explained away, hangs together.
        let explained = explained(id, touched, stored)?;
        let requirement = super::requirement(id)?;
        if !requirement.silences.is_empty() && class.is_some() != stored.class(id).is_some() {
            return None;
        }
        found.extend(class.filter(|_| !explained).map(|class| (*id, class)));
    }
    Some(found)
}

/// Whether another finding of the job explains what this requirement would say; none where that is not
/// stored.
fn explained(id: &str, touched: &[&'static str], stored: &Stored<'_>) -> Option<bool> {
    let explain = |id: &str| -> Vec<&'static Requirement> {
        let all = REGISTER.iter();
        all.filter(|by| by.id != id && by.silences.contains(&id))
            .collect()
    };
    let speaks = |by: &Requirement| {
        stored
            .class(by.id)
            .is_some_and(|class| class > Class::Observation)
    };
    let mut is_explained = false;
    for by in explain(id) {
        // One that is explained away itself is not stored, and explains all the same.
        if touched.contains(&by.id) || explain(by.id).into_iter().any(speaks) {
            return None;
        }
        is_explained |= speaks(by);
    }
    Some(is_explained)
}

/// The most harmful class of what one requirement would state; none where nobody can tell.
fn one(id: &str, stored: &Stored<'_>, held: &Held) -> Option<Option<Class>> {
    let material = held.material(0)?;
    match id {
        "bed-above-sheet" => super::bed_above_sheet::anew(stored, material),
        "bed-below-sheet" => super::bed_below_sheet::anew(stored, material),
        "fan-above-sheet" => of_fan(id, stored, Edge::Most, material),
        "fan-below-sheet" => of_fan(id, stored, Edge::Least, material),
        "fan-on-first-layers" => super::fan_on_first_layers::anew(stored, material),
        "first-layer-fast" => super::first_layer_fast::anew(stored, material),
        "flow-above-hotend" => super::melt::anew(stored, Whose::Hotend, held),
        "flow-above-sheet" => super::melt::anew(stored, Whose::Sheet, held),
        "hot-idle" => super::hot_idle::anew(stored),
        "hotend-above-sheet" => super::hotend_above_sheet::anew(stored, material),
        "hotend-below-sheet" => super::hotend_below_sheet::anew(stored, material),
        // The fan alone makes no layer quick: it says how much harm that does.
        "layer-too-quick" => stored.class(id).is_none().then_some(None),
        "machine-short-of-sheet" => super::machine_short_of_sheet::anew(held),
        "material-differs" => super::material_differs::anew(stored, material),
        _ => None,
    }
}

fn of_fan(id: &str, stored: &Stored<'_>, end: Edge, material: &Material) -> Option<Option<Class>> {
    let is_found = super::fan_bands::anew(stored, end, material)?;
    Some(
        super::requirement(id)
            .filter(|_| is_found)
            .map(|found| found.class),
    )
}
