//! Layers that are laid on too soon: which they are, for the requirement and for the repair.

use super::Held;
use super::lapse::{Lapses, own_seconds};
use crate::finding::{Excerpt, Mark};
use crate::machine::mm;
use crate::survey::Layer;

/// A slicing program reckons its times with other ramps than the control has: within this share of
/// the limit nothing is said (chosen).
const SLACK: f64 = 0.1;

/// So many quick layers on top of one another count: one or two give their heat to the cool stack
/// below (chosen).
const RUN: u64 = 3;

/// A layer that is laid on too soon.
#[derive(Clone)]
pub(crate) struct Quick {
    pub tool: u32,
    number: u64,
    /// The first line of its part.
    pub at: Excerpt,
    pub z: f64,
    /// Seconds until the next layer is laid on it.
    pub seconds: f64,
    /// Seconds in which it is laid.
    pub print: f64,
    /// Seconds in which filament alone moves meanwhile.
    pub drawn: f64,
    /// The mean commanded speed, mm/s.
    pub speed: f64,
    pub fan: f64,
}

/// Watches for layers that are laid on too soon.
pub(crate) struct Quicks {
    held: Held,
    lapses: Lapses<Quick>,
    /// The run at hand: layers not counted yet, and how many there are in all.
    run: Vec<Quick>,
    length: u64,
    last: Option<u64>,
}

fn least(held: &Held, tool: u32) -> Option<f64> {
    let limit = held.material(tool)?.layer.time_least.as_ref()?;
    Some(limit.value.get())
}

impl Quicks {
    pub fn new(held: &Held) -> Self {
        Self {
            held: held.clone(),
            lapses: Lapses::default(),
            run: Vec::new(),
            length: 0,
            last: None,
        }
    }

    /// Takes a layer; tells of every one before that counts as laid on too soon.
    pub fn layer(&mut self, layer: &Layer, quick: &mut impl FnMut(Quick)) {
        let candidate = self.candidate(layer);
        let mut lapses = std::mem::take(&mut self.lapses);
        lapses.take(layer, candidate, |one, seconds| {
            if least(&self.held, one.tool).is_some_and(|limit| seconds < limit * (1.0 - SLACK)) {
                self.note(Quick { seconds, ..one }, quick);
            }
        });
        self.lapses = lapses;
    }

    /// The layer as one that may be too quick; None for the first on the bed, and where it takes
    /// long enough by itself.
    pub fn candidate(&self, layer: &Layer) -> Option<Quick> {
        if layer.number == 0 || layer.height >= layer.z {
            return None;
        }
        let seconds = own_seconds(layer)?;
        let (tool, limit) = layer
            .settings()
            .filter_map(|stroke| {
                let tool = self.held.alike(stroke.conditions.tool);
                Some((tool, least(&self.held, tool)?))
            })
            .max_by(|(_, one), (_, other)| one.total_cmp(other))?;
        if seconds >= limit * (1.0 - SLACK) {
            return None;
        }
        let mut at = Excerpt::default();
        layer.show(layer.part().next()?.start).write(&mut at);
        let (mut length, mut commanded, mut print, mut fan) = (0.0, 0.0, 0.0, f64::INFINITY);
        for stroke in layer.part() {
            length += stroke.length;
            commanded += stroke.seconds;
            print += stroke.pace.map_or(0.0, |pace| pace.print);
            fan = stroke.conditions.fan.min(fan);
        }
        Some(Quick {
            tool,
            number: layer.number,
            at,
            z: mm(layer.z),
            seconds,
            print,
            drawn: layer.pace?.retract,
            speed: length / commanded,
            fan,
        })
    }

    fn note(&mut self, quick: Quick, counted: &mut impl FnMut(Quick)) {
        let continues = self.last.is_some_and(|last| quick.number == last + 1);
        self.last = Some(quick.number);
        if !continues {
            self.run.clear();
            self.length = 0;
        }
        self.length += 1;
        self.run.push(quick);
        if self.length < RUN {
            return;
        }
        std::mem::take(&mut self.run).into_iter().for_each(counted);
    }
}
