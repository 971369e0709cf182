//! From a symptom to its likely causes, by what the job, the sheets and the machine show.
//!
//! A sign is something that was found: a requirement that is not fulfilled, a point that does not fit, a
//! value near its limit. Causes are ranked by the weight of their signs, and among equals by how often
//! they are the cause (common practice, no source). A cause without a sign is not claimed.

use super::{Answer, Standing};
use crate::finding::Class;
use crate::inspection::Inspected;
use crate::sheet::Material;

/// What is seen on the part or the machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Symptom {
    /// Threads between parts of the print.
    Stringing,
    /// Corners that lift.
    Warping,
    /// Layers that part.
    WeakLayers,
    /// A nozzle that blocks.
    Clogging,
    /// A first layer that does not hold.
    PoorAdhesion,
    /// Walls that are rough.
    RoughSurface,
    /// Pops, hiss or steam at the nozzle.
    Popping,
    /// Gaps, thin or missing beads.
    UnderExtrusion,
    /// Overhangs and tips that sag or curl.
    Sagging,
    /// A part that is too small or too large.
    WrongSize,
    /// Layers that stand beside each other.
    ShiftedLayers,
}

impl Symptom {
    /// Every symptom.
    pub const ALL: [Self; 11] = [
        Self::Stringing,
        Self::Warping,
        Self::WeakLayers,
        Self::Clogging,
        Self::PoorAdhesion,
        Self::RoughSurface,
        Self::Popping,
        Self::UnderExtrusion,
        Self::Sagging,
        Self::WrongSize,
        Self::ShiftedLayers,
    ];

    /// The word for it, in kebab case.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Stringing => "stringing",
            Self::Warping => "warping",
            Self::WeakLayers => "weak-layers",
            Self::Clogging => "clogging",
            Self::PoorAdhesion => "poor-adhesion",
            Self::RoughSurface => "rough-surface",
            Self::Popping => "popping",
            Self::UnderExtrusion => "under-extrusion",
            Self::Sagging => "sagging",
            Self::WrongSize => "wrong-size",
            Self::ShiftedLayers => "shifted-layers",
        }
    }

    /// The causes it usually has, most frequent first (common practice, no source).
    #[must_use]
    pub const fn causes(self) -> &'static [Cause] {
        use Cause as C;
        match self {
            Self::Stringing => &[C::Wet, C::TooHot, C::NotDrawnBack, C::HotIdle],
            Self::Warping => &[C::Draught, C::ColdBed, C::Surface, C::Fan, C::FirstLayer],
            Self::WeakLayers => &[
                C::TooCold,
                C::Fan,
                C::TooMuchFlow,
                C::Wet,
                C::SlowLayers,
                C::Draught,
                C::TallLayers,
            ],
            Self::Clogging => &[
                C::NarrowNozzle,
                C::WarmBox,
                C::HotIdle,
                C::DrawnBackTooFar,
                C::TooCold,
                C::Liner,
            ],
            Self::PoorAdhesion => &[
                C::ColdBed,
                C::Surface,
                C::FirstLayer,
                C::Fan,
                C::TooCold,
                C::Draught,
            ],
            Self::RoughSurface => &[
                C::Wet,
                C::WornNozzle,
                C::TooMuchFlow,
                C::QuickLayers,
                C::TooHot,
            ],
            Self::Popping => &[C::Wet, C::TooHot],
            Self::UnderExtrusion => &[
                C::TooMuchFlow,
                C::TooCold,
                C::Filament,
                C::DrawnBackTooFar,
                C::NarrowNozzle,
                C::WornNozzle,
                C::WarmBox,
                C::SpoolShort,
            ],
            Self::Sagging => &[
                C::QuickLayers,
                C::WeakFan,
                C::TooHot,
                C::WarmBox,
                C::TallLayers,
            ],
            Self::WrongSize => &[C::Shrinkage, C::Filament, C::Beads, C::WornNozzle, C::Wet],
            Self::ShiftedLayers => &[C::TooFast, C::Reach, C::Draught],
        }
    }
}

/// What may bring a symptom about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// Water in the filament.
    Wet,
    /// The hotend is too hot.
    TooHot,
    /// The hotend is too cold.
    TooCold,
    /// Filament is not drawn back.
    NotDrawnBack,
    /// Filament is drawn back too far or too fast.
    DrawnBackTooFar,
    /// The hot nozzle waits.
    HotIdle,
    /// Cold air around the part.
    Draught,
    /// The bed is too cold.
    ColdBed,
    /// The build surface.
    Surface,
    /// The fan blows too much.
    Fan,
    /// The fan blows too little.
    WeakFan,
    /// The first layer is laid too fast or too high.
    FirstLayer,
    /// More is pushed than melts.
    TooMuchFlow,
    /// Layers wait too long for the next.
    SlowLayers,
    /// Layers get the next too soon.
    QuickLayers,
    /// Layers are too high for the bore.
    TallLayers,
    /// The bore is too narrow.
    NarrowNozzle,
    /// The nozzle wears out.
    WornNozzle,
    /// The box is too warm for the filament.
    WarmBox,
    /// The liner is too hot.
    Liner,
    /// The filament's diameter.
    Filament,
    /// The beads' width.
    Beads,
    /// The spool runs out.
    SpoolShort,
    /// The material shrinks.
    Shrinkage,
    /// Axes are driven too fast.
    TooFast,
    /// Moves leave the reach.
    Reach,
}

impl Cause {
    /// In a few words.
    #[must_use]
    pub const fn says(self) -> &'static str {
        match self {
            Self::Wet => "water in the filament",
            Self::TooHot => "the hotend is too hot",
            Self::TooCold => "the hotend is too cold",
            Self::NotDrawnBack => "filament is not drawn back",
            Self::DrawnBackTooFar => "filament is drawn back too far, too fast or too often",
            Self::HotIdle => "the hot nozzle stands and cooks what is in it",
            Self::Draught => "the air around the part is too cold",
            Self::ColdBed => "the bed is too cold",
            Self::Surface => "the build surface does not suit the material",
            Self::Fan => "the fan blows too much",
            Self::WeakFan => "the fan blows too little",
            Self::FirstLayer => "the first layer is laid too fast or too high",
            Self::TooMuchFlow => "more is pushed than melts",
            Self::SlowLayers => "layers go cold before the next one",
            Self::QuickLayers => "layers get the next one before they are firm",
            Self::TallLayers => "layers are too high for the bore",
            Self::NarrowNozzle => "the bore is too narrow for the filling",
            Self::WornNozzle => "the filling wears the nozzle out",
            Self::WarmBox => "the filament softens before the hotend",
            Self::Liner => "the liner is hotter than it stands",
            Self::Filament => "the filament is of another diameter, or is ground by the drive",
            Self::Beads => "beads are narrower or wider than the bore lays well",
            Self::SpoolShort => "the spool runs out",
            Self::Shrinkage => "the material shrinks",
            Self::TooFast => "axes are driven faster than the machine follows",
            Self::Reach => "the nozzle is sent where it cannot go, or into the part",
        }
    }

    /// What to try next.
    #[must_use]
    pub const fn next(self) -> &'static str {
        match self {
            Self::Wet => {
                "weigh the spool, dry it as the sheet says, weigh it again, and print from a dry box"
            }
            Self::TooHot => {
                "bring the hotend into the sheet's range, then go down in steps of 5 to 10 K"
            }
            Self::TooCold => {
                "bring the hotend into the sheet's range, then go up in steps of 5 to 10 K"
            }
            Self::NotDrawnBack => "let the slicing program draw filament back before travel",
            Self::DrawnBackTooFar => "draw back less and slower, within the sheet's limits",
            Self::HotIdle => "let the nozzle cool while it waits, and purge before the part begins",
            Self::Draught => {
                "close or enclose the machine, and let it warm up before the part begins"
            }
            Self::ColdBed => {
                "heat the bed into the sheet's range, wait until its surface is there, and clean it"
            }
            Self::Surface => "take a surface that the sheet names, with the adhesive that it names",
            Self::Fan => {
                "slow the fan into the sheet's range, and leave it off on the first layers"
            }
            Self::WeakFan => "let the fan blow up to what the sheet allows",
            Self::FirstLayer => {
                "lay the first layer slower and lower, and measure the gap to the bed again"
            }
            Self::TooMuchFlow => "print slower, or with thinner beads",
            Self::SlowLayers => "print fewer parts at once, or in warmer air",
            Self::QuickLayers => "print slower or two parts at once, so that a layer can set",
            Self::TallLayers => "lay lower layers, or take a wider bore",
            Self::NarrowNozzle => "fit a wider bore",
            Self::WornNozzle => "fit a hard nozzle, and measure the bore of the old one",
            Self::WarmBox => "open door and lid, and turn the chamber heater off",
            Self::Liner => {
                "stop, let it cool, ventilate, and look at the liner; fit a hotend without one"
            }
            Self::Filament => "measure the filament at ten places, and look at the drive for dust",
            Self::Beads => "set the beads to 100 to 150 % of the bore",
            Self::SpoolShort => "weigh the spool before the print",
            Self::Shrinkage => "measure a test part along each axis, and scale by what is missing",
            Self::TooFast => "go down with speed and acceleration",
            Self::Reach => "inspect the job, and look where it homes and travels",
        }
    }

    /// What is a sign of it: requirements, points and values.
    const fn signs(self) -> &'static [&'static str] {
        match self {
            Self::Wet => &["drying", "exposure", "exposure-in-room", "dryer-air"],
            Self::TooHot => &["hotend-above-sheet", "hotend-high"],
            Self::TooCold => &[
                "cold-deposit",
                "hotend-below-sheet",
                "hotend-not-awaited",
                "hotend",
                "hotend-low",
            ],
            Self::NotDrawnBack => &["no-retraction"],
            Self::DrawnBackTooFar => &[
                "retraction-too-long",
                "retraction-too-fast",
                "filament-ground",
            ],
            Self::HotIdle => &["hot-idle"],
            Self::Draught => &[
                "enclosure-missing",
                "chamber-not-warmed",
                "enclosure",
                "chamber",
            ],
            Self::ColdBed => &["bed-below-sheet", "bed-not-awaited", "probed-cold", "bed"],
            Self::Surface => &["surface"],
            Self::Fan => &["fan-above-sheet", "fan-on-first-layers"],
            Self::WeakFan => &["fan-below-sheet"],
            Self::FirstLayer => &["first-layer-fast", "first-layer-tall"],
            Self::TooMuchFlow => &["flow-above-sheet", "flow-above-hotend", "flow-near"],
            Self::SlowLayers => &["layer-too-slow"],
            Self::QuickLayers => &["layer-too-quick"],
            Self::TallLayers => &["layer-too-tall"],
            Self::NarrowNozzle => &["nozzle-narrow", "nozzle-bore"],
            Self::WornNozzle => &["nozzle-soft", "nozzle-hardness"],
            Self::WarmBox => &["enclosure-too-warm", "chamber-above-sheet", "warm-box"],
            Self::Liner => &["hotend-above-liner"],
            Self::Filament => &[
                "filament-diameter-mismatch",
                "filament-diameter",
                "filament-ground",
            ],
            Self::Beads => &["bead-too-narrow", "bead-too-wide"],
            Self::SpoolShort => &["spool-short"],
            Self::Shrinkage => &["shrinkage"],
            Self::TooFast => &["axis-too-fast"],
            Self::Reach => &["travel-outside-reach", "home-over-part", "below-bed"],
        }
    }
}

/// Something that was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sign {
    /// The requirement, point or value.
    pub id: &'static str,
    /// How much it counts: 3 what will likely fail, 2 a risk, 1 a value near its limit.
    pub weight: u8,
    /// What was found, one clause.
    pub says: String,
}

/// A cause that has signs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Likely {
    /// The cause.
    pub cause: Cause,
    /// Its signs, heaviest first.
    pub evidence: Vec<Sign>,
}

/// The causes of a symptom that the signs speak for, likeliest first: by the heaviest sign, then by how
/// many there are of that weight, then by how often it is the cause. Empty where no sign speaks for any.
#[must_use]
pub fn rank(symptom: Symptom, signs: &[Sign]) -> Vec<Likely> {
    let mut likely: Vec<Likely> = symptom
        .causes()
        .iter()
        .filter_map(|cause| {
            let mut evidence: Vec<Sign> = signs
                .iter()
                .filter(|sign| cause.signs().contains(&sign.id))
                .cloned()
                .collect();
            evidence.sort_by_key(|sign| std::cmp::Reverse(sign.weight));
            (!evidence.is_empty()).then_some(Likely {
                cause: *cause,
                evidence,
            })
        })
        .collect();
    // A stable sort: among equals the order of practice stays.
    likely.sort_by_key(|one| {
        let heaviest = one.evidence.first().map_or(0, |sign| sign.weight);
        let many = one
            .evidence
            .iter()
            .filter(|sign| sign.weight == heaviest)
            .count();
        std::cmp::Reverse((heaviest, many))
    });
    likely
}

/// From this share of what melts on, the flow counts as near its limit (chosen).
const NEAR_FLOW: f64 = 0.85;

/// Fewer layers say nothing about how filament is drawn back (chosen).
const LAYERS_FROM: u64 = 3;

/// Everything that was found: the job's findings, the points that do not fit, values near their limits.
#[must_use]
pub fn signs(inspected: &Inspected, answer: &Answer, material: &Material) -> Vec<Sign> {
    let of_findings = inspected.findings.iter().map(|finding| Sign {
        id: finding.requirement,
        weight: match finding.class {
            Class::Critical | Class::Major => 3,
            Class::Minor => 2,
            Class::Observation => 1,
        },
        says: finding.message.clone(),
    });
    let of_points = answer.points.iter().filter_map(|point| {
        let weight = match point.standing {
            Standing::Stops => 3,
            Standing::Change => 2,
            Standing::Trial => 1,
            // That a material shrinks is told, and yet a sign.
            Standing::Told if point.id == "shrinkage" => 1,
            _ => return None,
        };
        Some(Sign {
            id: point.id,
            weight,
            says: point.says.clone(),
        })
    });
    of_findings
        .chain(of_points)
        .chain(values(inspected, material))
        .collect()
}

/// Signs of values that no requirement holds, for they are within their limits.
fn values(inspected: &Inspected, material: &Material) -> Vec<Sign> {
    let mut signs = Vec::new();
    let survey = &inspected.survey;
    if let Some(range) = &material.hotend.print {
        let (least, most) = (range.value.least.get(), range.value.most.get());
        let third = (most - least) / 3.0;
        let set = inspected
            .uses
            .hotend
            .iter()
            .map(|(_, set)| set.target)
            .filter(|target| (least..=most).contains(target))
            .reduce(f64::max);
        if let Some(set) = set.filter(|_| third > 0.0) {
            let mut add = |id, part: &str| {
                signs.push(Sign {
                    id,
                    weight: 1,
                    says: format!(
                        "the hotend is set to {set} °C, in the {part} third of {}",
                        range.value
                    ),
                });
            };
            if set > most - third {
                add("hotend-high", "upper");
            } else if set < least + third {
                add("hotend-low", "lower");
            }
        }
    }
    let layers = survey.layers.as_ref().copied().unwrap_or_default();
    if survey.retractions.count == 0 && survey.retractions.by_control == 0 && layers >= LAYERS_FROM
    {
        signs.push(Sign {
            id: "no-retraction",
            weight: 2,
            says: "the job never draws filament back".to_owned(),
        });
    }
    if let (Ok(flow), Some(most)) = (&survey.flow, &material.flow.most) {
        let share = flow.sustained / most.value.get();
        if (NEAR_FLOW..=1.0).contains(&share) {
            signs.push(Sign {
                id: "flow-near",
                weight: 1,
                says: format!(
                    "the flow reaches {:.1} mm³/s of the {} that the sheet gives",
                    flow.sustained, most.value
                ),
            });
        }
    }
    signs
}

#[cfg(test)]
mod tests;
