//! Upright cuts: slices of a region one behind the other, and what beads and outlines add to them.
//!
//! A bead that passes many cuts is not laid into each: what each has of it is a polynomial of the cut's
//! place, which begins at one cut and ends at another, and is summed up as the layer closes.

use super::cuts::{Cut, Level};
use super::path::{least, most};
use crate::physics::section::Section;

/// The most cuts along one axis.
pub(super) const UPRIGHT_CAP: i64 = 256;

/// A bead is summed up by its polynomial where it passes so many cuts whole (chosen).
const STRETCH: usize = 4;

/// Fewer cuts than this are gone through two at once, whether a bead reaches the second or not: nobody could
/// guess that of a short one, and what it adds where it does not reach is nothing.
const ALIKE: usize = 3;

/// A square's share of its own mean square distance from its middle.
const TWELFTH: f64 = 1.0 / 12.0;

/// A line is no steeper along the way than it would be over so little of it, mm.
const STEEPEST: f64 = 1e-9;

/// What a cut is made of.
#[derive(Debug, Clone, Copy)]
pub(super) enum Stuff {
    /// Walls and skins.
    Solid,
    /// Sparse infill.
    Sparse,
    /// One more wall.
    Wall,
    /// The solid of the same outline.
    Outline,
}

const STUFFS: [Stuff; 4] = [Stuff::Solid, Stuff::Sparse, Stuff::Wall, Stuff::Outline];

/// Something of each stuff.
#[derive(Debug, Clone, Copy, Default)]
struct Each<T>([T; STUFFS.len()]);

impl<T> Each<T> {
    const fn of(&mut self, stuff: Stuff) -> &mut T {
        let [solid, sparse, wall, outline] = &mut self.0;
        match stuff {
            Stuff::Solid => solid,
            Stuff::Sparse => sparse,
            Stuff::Wall => wall,
            Stuff::Outline => outline,
        }
    }
}

/// Area in an upright cut, and its first and second moments along the cut.
type Moments = [f64; 3];

fn add(sum: &mut Moments, other: Moments) {
    for (sum, other) in sum.iter_mut().zip(other) {
        *sum += other;
    }
}

/// A bead as upright cuts see it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Strip {
    /// Where its middle line begins and ends, along the way that is cut.
    start: f64,
    end: f64,
    /// Where that is aside of the way, and how much further it gets to there.
    near: f64,
    more: f64,
    /// How far it reaches past both ends.
    half: f64,
    /// Mean square distance from its middle line, as a cut sees it, mm².
    spread: f64,
    /// What of a cut it fills, mm³.
    volume: f64,
}

impl Strip {
    /// A bead's middle line along the way and aside of it, mm; its width over its length, and its volume, mm³.
    pub fn new(along: [f64; 2], aside: [f64; 2], wide: f64, volume: f64) -> Self {
        let ([start, end], [near, far]) = if along[0] <= along[1] {
            (along, aside)
        } else {
            ([along[1], along[0]], [aside[1], aside[0]])
        };
        let across = wide * (end - start);
        Self {
            start,
            end,
            near,
            more: far - near,
            half: wide * (far - near).abs() / 2.0,
            spread: across * across * TWELFTH,
            volume,
        }
    }

    /// From where to where it reaches along the way.
    pub fn reach(&self) -> [f64; 2] {
        [self.start - self.half, self.end + self.half]
    }

    /// What of it lies between two places along the way, from the first on if there is anything.
    fn slices(&self) -> impl Fn(f64, f64) -> Moments + '_ {
        let each = self.volume / (self.end - self.start + 2.0 * self.half);
        let slope = self.more / most(self.end - self.start, STEEPEST);
        let (low, high) = (least(self.more, 0.0), most(self.more, 0.0));
        // Of its middle line, what lies within the slice or half a width from it.
        let at = move |place: f64| {
            let further = (place - self.start) * slope;
            self.near + least(most(further, low), high)
        };
        move |from, to| {
            let (one, other) = (at(from - self.half), at(to + self.half));
            let (middle, wide) = (0.5 * (one + other), other - one);
            let volume = each * most(to - from, 0.0);
            let square = middle * middle + wide * wide * TWELFTH + self.spread;
            [volume, volume * middle, volume * square]
        }
    }

    /// What lies in each of the cuts that it passes whole: their thickness, and the middle of the first of
    /// all, mm.
    fn going(&self, every: f64, first: f64) -> Going {
        let slope = self.more / (self.end - self.start);
        let by = slope * every;
        let middle = self.near + slope * (first - self.start);
        let wide = slope * (every + 2.0 * self.half);
        let volume = self.volume * every / (self.end - self.start + 2.0 * self.half);
        let square = middle * middle + wide * wide * TWELFTH + self.spread;
        Going {
            beads: 1,
            of: [
                volume,
                volume * middle,
                volume * by,
                volume * square,
                2.0 * volume * middle * by,
                volume * by * by,
            ],
        }
    }
}

/// Moments that go on from cut to cut: those of order 0, 1 and 2 are polynomials of degree 0, 1 and 2 of the
/// cut's place.
#[derive(Debug, Clone, Copy, Default)]
struct Going {
    /// Of how many beads.
    beads: i32,
    /// Coefficients, order by order, from degree 0 up.
    of: [f64; 6],
}

impl Going {
    fn add(&mut self, other: &Self) {
        self.beads += other.beads;
        for (one, other) in self.of.iter_mut().zip(other.of) {
            *one += other;
        }
    }

    /// What undoes it.
    fn end(&self) -> Self {
        Self {
            beads: -self.beads,
            of: self.of.map(|one| -one),
        }
    }

    fn at(&self, place: f64) -> Moments {
        let [volume, first, first_by, second, second_by, second_by_square] = self.of;
        [
            volume,
            first + first_by * place,
            second + (second_by + second_by_square * place) * place,
        ]
    }
}

/// The upright cuts along one axis.
#[derive(Debug, Clone)]
pub(super) struct Upright {
    pub cuts: Vec<Cut>,
    /// How far they lie apart, mm.
    every: f64,
    /// How many a millimetre has.
    per: f64,
    /// The first one's place, in cuts.
    first: i64,
    /// What the layer at hand adds to each, times its thickness: to it alone, of which there are a few more
    /// that get nothing, and from it on.
    here: Vec<Each<Moments>>,
    on: Vec<Each<Going>>,
}

impl Upright {
    /// None yet, and how far they will lie apart, mm: a power of two.
    pub const fn new(every: f64) -> Self {
        Self {
            cuts: Vec::new(),
            every,
            per: 1.0 / every,
            first: 0,
            here: Vec::new(),
            on: Vec::new(),
        }
    }

    /// How far they lie apart, mm.
    pub const fn every(&self) -> f64 {
        self.every
    }

    /// Where the first one begins, mm.
    fn origin(&self) -> f64 {
        self.first as f64 * self.every
    }

    /// The cut at a place, which there is.
    fn index(&self, place: f64) -> usize {
        // As thick as a power of two, so that the product is the quotient.
        let index = ((place - self.origin()) * self.per) as usize;
        index.min(self.cuts.len().saturating_sub(1))
    }

    /// Makes sure that there are cuts between two places; false where those would be too many.
    pub fn hold(&mut self, [low, high]: [f64; 2], level: Level) -> bool {
        let origin = self.origin();
        if low >= origin && high < origin + self.cuts.len() as f64 * self.every {
            return true;
        }
        let [from, to] = [low, high].map(|place| (place / self.every).floor() as i64);
        if self.cuts.is_empty() {
            self.first = from;
        }
        let (first, end) = (self.first, self.first + self.cuts.len() as i64);
        let count = end
            .max(to.saturating_add(1))
            .saturating_sub(first.min(from));
        if count > UPRIGHT_CAP {
            return false;
        }
        let new = Cut {
            length: self.every,
            ..Cut::default()
        };
        if from < first {
            // What goes on does so by places from the first cut on.
            self.settle(level);
            let more = (first - from) as usize;
            self.cuts.splice(0..0, std::iter::repeat_n(new, more));
            self.first = from;
        }
        if to >= end {
            let more = (to + 1 - end) as usize;
            self.cuts.extend(std::iter::repeat_n(new, more));
        }
        self.here.resize(self.cuts.len() + ALIKE, Each::default());
        self.on.resize(self.cuts.len(), Each::default());
        true
    }

    /// Adds a bead to the cuts it passes, which there are.
    pub fn lay(&mut self, strip: &Strip, stuff: Stuff) {
        let [low, high] = strip.reach();
        let (from, to) = (self.index(low), self.index(high));
        let (every, origin) = (self.every, self.origin());
        let slice = strip.slices();
        if to - from < ALIKE {
            let start = origin + from as f64 * every;
            let here = self.here.get_mut(from..).unwrap_or_default();
            let lay = |here: &mut Each<Moments>, start: f64| {
                let slice = slice(most(start, low), least(start + every, high));
                add(here.of(stuff), slice);
            };
            if let [one, two, three, ..] = here {
                lay(one, start);
                lay(two, start + every);
                if to - from == ALIKE - 1 {
                    lay(three, start + 2.0 * every);
                }
            }
            return;
        }
        let (mut begin, mut end) = (to + 1, to + 1);
        if to - from > STRETCH {
            // Cuts that lie whole in the bead's stretch, with half a width on both sides.
            let (inner, outer) = (strip.start + strip.half, strip.end - strip.half);
            let whole = [self.index(inner) + 1, self.index(outer.max(inner))];
            if whole[1] >= whole[0] + STRETCH {
                [begin, end] = whole;
                let going = strip.going(self.every, self.origin() + self.every / 2.0);
                for (place, going) in [(begin, going), (end, going.end())] {
                    if let Some(on) = self.on.get_mut(place) {
                        on.of(stuff).add(&going);
                    }
                }
            }
        }
        for part in [from..begin, end..to + 1] {
            let at = part.start as f64;
            let Some(here) = self.here.get_mut(part) else {
                continue;
            };
            let mut start = origin + at * every;
            for here in here {
                let stop = start + every;
                add(here.of(stuff), slice(most(start, low), least(stop, high)));
                start = stop;
            }
        }
    }

    /// Adds what an edge of the outline bounds, from one place along the way and aside of it to another, to
    /// the cuts it passes, which there are: times so much (Green's theorem).
    pub fn bound(&mut self, [fx, fy]: [f64; 2], [tx, ty]: [f64; 2], times: f64) {
        let ([low, high], way) = if fx < tx {
            ([fx, tx], -times)
        } else {
            ([tx, fx], times)
        };
        let slope = (ty - fy) / (tx - fx);
        let (every, from) = (self.every, self.index(low));
        let mut start = self.origin() + from as f64 * every;
        let to = self.index(high);
        for here in self.here.get_mut(from..=to).unwrap_or_default() {
            let stop = start + every;
            let (inner, outer) = (most(start, low), least(stop, high));
            if outer > inner {
                let [a, b] = [inner, outer].map(|x| fy + slope * (x - fx));
                let step = (outer - inner) * way;
                let moments = [
                    0.5 * (a + b) * step,
                    (a * a + a * b + b * b) * (2.0 * TWELFTH * step),
                    (a + b) * (a * a + b * b) * (TWELFTH * step),
                ];
                add(here.of(Stuff::Outline), moments);
            }
            start = stop;
        }
    }

    /// The cuts get what was added in a layer since they last did.
    pub fn settle(&mut self, level: Level) {
        let mut going = Each([Going::default(); STUFFS.len()]);
        let added = self.here.iter_mut().zip(&mut self.on);
        for ((place, cut), (here, on)) in (0_u32..).zip(&mut self.cuts).zip(added) {
            for stuff in STUFFS {
                let (here, on) = (here.of(stuff), on.of(stuff));
                let going = going.of(stuff);
                // One bead may begin where another ends.
                if on.beads != 0 || on.of != [0.0; 6] {
                    going.add(on);
                    *on = Going::default();
                    // What has ended leaves no remainder of rounding behind.
                    if going.beads == 0 {
                        *going = Going::default();
                    }
                }
                if going.beads == 0 && *here == [0.0; 3] {
                    continue;
                }
                let mut moments = std::mem::take(here);
                if going.beads != 0 {
                    add(&mut moments, going.at(f64::from(place)));
                }
                *cut.of(stuff) += level.upright(moments.map(|one| one * self.per));
            }
        }
    }

    /// Makes one cut of every two.
    pub fn coarsen(&mut self, level: Level) {
        self.settle(level);
        let empty = Cut {
            length: self.every,
            ..Cut::default()
        };
        if self.first.rem_euclid(2) == 1 {
            self.cuts.insert(0, empty);
        }
        let pairs = self.cuts.chunks(2).map(|pair| match pair {
            [one, other] => one.joined(*other),
            rest => rest.first().copied().unwrap_or_default().joined(empty),
        });
        self.cuts = pairs.collect();
        self.first = self.first.div_euclid(2);
        self.every *= 2.0;
        self.per /= 2.0;
        self.here.resize(self.cuts.len() + ALIKE, Each::default());
        self.on.resize(self.cuts.len(), Each::default());
    }
}

impl Level {
    /// What lies in a cut at this level: what it adds to the cut's section.
    fn upright(self, [area, first, second]: Moments) -> Section {
        let z = self.middle;
        Section {
            area,
            x: first,
            y: area * z,
            xx: second,
            yy: area * (z * z + self.height * self.height / 12.0),
            xy: first * z,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const LEVEL: Level = Level {
        middle: 0.1,
        height: 0.2,
    };

    type Line = ((f64, f64), (f64, f64), f64);

    fn lines() -> impl Strategy<Value = Vec<Line>> {
        let point = || (-90.0..90.0, -90.0..90.0);
        proptest::collection::vec((point(), point(), 0.05..3.0), 1..12)
    }

    /// Two beads of one volume, aside of each other, the second of which begins at the very cut at which the
    /// first ends: what changes there is their place alone.
    #[test]
    fn a_bead_begins_where_another_ends() {
        let mut upright = Upright::new(0.25);
        for (along, aside) in [([0.0, 5.375], 1.0), ([5.125, 10.5], 7.0)] {
            let strip = Strip::new(along, [aside; 2], 0.4 / 5.375, 0.4);
            assert!(upright.hold(strip.reach(), LEVEL));
            upright.lay(&strip, Stuff::Solid);
        }
        upright.settle(LEVEL);
        let mut count = 0;
        for (place, cut) in (upright.first..).zip(&upright.cuts) {
            // Both lie in part in two of them.
            let aside = match place {
                ..20 => 1.0,
                20 | 21 => continue,
                _ => 7.0,
            };
            if let Some([x, _]) = cut.solid.centroid() {
                assert!((x - aside).abs() < 1e-12, "{place}: {x}");
                count += 1;
            }
        }
        assert_eq!(count, 40);
    }

    proptest! {
        /// Beads summed up as a layer closes come to what they come to cut by cut, however many cuts they
        /// pass, and in the order in which the cuts became known.
        #[test]
        fn polynomials_are_what_each_cut_has(lines in lines(), part in 0.001..1.0_f64) {
            let mut upright = Upright::new(0.25);
            let mut laid = Vec::new();
            for ((fx, fy), (dx, dy), width) in lines {
                let (tx, ty) = (fx + part * dx, fy + part * dy);
                let length = (part * dx).hypot(part * dy);
                let volume = length * width * LEVEL.height;
                let strip = Strip::new([fx, tx], [fy, ty], width / length, volume);
                while !upright.hold(strip.reach(), LEVEL) {
                    upright.coarsen(LEVEL);
                }
                upright.lay(&strip, Stuff::Sparse);
                laid.push(strip);
            }
            upright.settle(LEVEL);
            // What was settled in thinner slices has the mean of two where one has it now.
            let is_fine = upright.every == 0.25;
            for (place, cut) in (upright.first..).zip(&upright.cuts) {
                let [low, high] = [place, place + 1].map(|place| place as f64 * upright.every);
                let mut sum = [0.0; 3];
                for strip in &laid {
                    let [start, end] = strip.reach();
                    if start.max(low) < end.min(high) {
                        add(&mut sum, strip.slices()(most(start, low), least(end, high)));
                    }
                }
                let got = [cut.sparse.area, cut.sparse.x, cut.sparse.xx];
                for (got, sum) in got.into_iter().zip(sum).take(if is_fine { 3 } else { 1 }) {
                    let expected = sum / upright.every;
                    let near = 1e-9 * (1.0 + expected.abs());
                    prop_assert!((got - expected).abs() < near, "{got} {expected}");
                }
            }
        }
    }
}
