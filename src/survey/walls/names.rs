//! Names that a job's marks give to objects, against the objects that its motion shows.

use super::objects::ObjectFigures;
use crate::command::mark::{Form, Says};
use crate::survey::told::Told;
use std::collections::BTreeMap;

/// The most names told apart.
const NAME_CAP: usize = 512;

/// So many bytes of a name are kept and compared (chosen).
const LENGTH_CAP: usize = 256;

/// A name has a share in an object from this share of the object's deposit on, or of its own (chosen: less
/// is what a path laid before its mark comes to).
const SHARE_FROM: f64 = 0.02;

/// A name, and what is laid under it.
#[derive(Debug, Clone, PartialEq)]
pub struct NameFigures {
    /// As written, the first 256 bytes.
    pub name: Vec<u8>,
    /// The line of its first mark, and of its last.
    pub lines: [u64; 2],
    /// How often it begins.
    pub begun: u64,
    /// What of the part is laid under it, mm³.
    pub volume: f64,
    /// The objects that have a share of it, by their place in the list of objects.
    pub objects: Vec<usize>,
}

#[derive(Debug)]
struct Name {
    form: Form,
    name: Vec<u8>,
    lines: [u64; 2],
    begun: u64,
    /// Whether a mark with its name has ended it: else a comment may have been prose.
    is_ended: bool,
}

/// Marks so far. A name is known by its place in the list, counted from 1; 0 is none.
#[derive(Debug, Default)]
pub struct Names {
    names: Vec<Name>,
    places: BTreeMap<(Form, Vec<u8>), u32>,
    /// The name in force, by each form of marks.
    at_hand: [u32; Form::COUNT],
    is_full: bool,
}

impl Names {
    /// A mark stands on a line: what is laid from here on has the name told.
    pub fn mark(&mut self, form: Form, says: Says<'_>, line: u64) -> u32 {
        match says {
            Says::Declares(name) => {
                self.place(form, name, line);
            }
            Says::Begins(name) => {
                let before = self.at_hand(form);
                if let Some(before) = self.name(before) {
                    before.lines[1] = line;
                }
                let place = self.place(form, name, line);
                if let Some(name) = self.name(place) {
                    name.begun += 1;
                }
                self.set(form, place);
            }
            Says::Calls(called) => {
                let at_hand = self.at_hand(form);
                if let Some(name) = self.name(at_hand) {
                    name.name = clipped(called);
                }
            }
            Says::Ends(name) => self.end(form, name, line),
        }
        // Where a job marks its objects in more ways than one, the surest speaks.
        self.at_hand
            .into_iter()
            .find(|place| *place > 0)
            .unwrap_or_default()
    }

    fn at_hand(&self, form: Form) -> u32 {
        self.at_hand.get(form as usize).copied().unwrap_or_default()
    }

    fn set(&mut self, form: Form, place: u32) {
        if let Some(at_hand) = self.at_hand.get_mut(form as usize) {
            *at_hand = place;
        }
    }

    fn name(&mut self, place: u32) -> Option<&mut Name> {
        self.names.get_mut((place as usize).checked_sub(1)?)
    }

    /// The one at hand ends, if it is the one named.
    fn end(&mut self, form: Form, named: Option<&[u8]>, line: u64) {
        let place = self.at_hand(form);
        let Some(name) = self.name(place) else { return };
        if named.is_none_or(|named| name.name == clip(named)) {
            name.is_ended |= named.is_some();
            name.lines[1] = line;
            self.set(form, 0);
        }
    }

    fn place(&mut self, form: Form, name: &[u8], line: u64) -> u32 {
        let key = (form, clipped(name));
        let place = match self.places.get(&key) {
            Some(place) => *place,
            None if self.names.len() >= NAME_CAP => {
                self.is_full = true;
                0
            }
            None => {
                self.names.push(Name {
                    form,
                    name: key.1.clone(),
                    lines: [line; 2],
                    begun: 0,
                    is_ended: false,
                });
                let place = self.names.len() as u32;
                self.places.insert(key, place);
                place
            }
        };
        if let Some(name) = self.name(place) {
            name.lines[1] = line;
        }
        place
    }

    /// Each name with what is laid under it, and each object with its names. `laid` is what of each object is
    /// laid under which name, mm³.
    pub(super) fn told(
        self,
        laid: &[BTreeMap<u32, f64>],
        objects: &mut [ObjectFigures],
    ) -> Told<Vec<NameFigures>> {
        if self.is_full {
            return Err(format!("the job names more than {NAME_CAP} objects").into());
        }
        let volume = |place: u32| -> f64 { laid.iter().filter_map(|of| of.get(&place)).sum() };
        let counts = |(name, _): &(Name, u32)| name.form != Form::Comment || name.is_ended;
        let mut names: Vec<(Name, u32)> = self.names.into_iter().zip(1..).filter(counts).collect();
        // Where it marks its objects in more ways than one, the surest that anything is laid under speaks.
        let laid_under = |(name, place): &(Name, u32)| (volume(*place) > 0.0).then_some(name.form);
        let form = names.iter().filter_map(laid_under).min();
        let form = form.or_else(|| names.iter().map(|(name, _)| name.form).min());
        names.retain(|(name, _)| Some(name.form) == form);
        if names.is_empty() {
            return Err("no mark names an object".into());
        }
        let figures = names.into_iter().zip(0..).map(|((name, place), at)| {
            let own = volume(place);
            let mut shared = Vec::new();
            for (index, (laid, object)) in laid.iter().zip(&mut *objects).enumerate() {
                let volume = laid.get(&place).copied().unwrap_or_default();
                if volume > 0.0 && volume >= SHARE_FROM * own.min(object.volume) {
                    object.names.push((at, volume));
                    shared.push(index);
                }
            }
            NameFigures {
                name: name.name,
                lines: name.lines,
                begun: name.begun,
                volume: own,
                objects: shared,
            }
        });
        Ok(figures.collect())
    }
}

fn clip(name: &[u8]) -> &[u8] {
    name.get(..LENGTH_CAP).unwrap_or(name)
}

fn clipped(name: &[u8]) -> Vec<u8> {
    clip(name).to_vec()
}
