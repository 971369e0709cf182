//! Symptom, signs and the order of causes, case by case (common practice, no source).

use super::Cause as C;
use super::*;

/// Signs by weight: `3:` what will likely fail, `2:` a risk, `1:` a value near its limit.
fn signs(text: &'static str) -> Vec<Sign> {
    text.split_whitespace()
        .map(|word| {
            let (weight, id) = word.split_once(':').unwrap();
            Sign {
                id,
                weight: weight.parse().unwrap(),
                says: id.to_owned(),
            }
        })
        .collect()
}

#[test]
fn causes_come_in_the_order_that_the_evidence_gives() {
    use Symptom as S;
    let cases: &[(Symptom, &'static str, &[Cause])] = &[
        // Stringing.
        (S::Stringing, "2:drying", &[C::Wet]),
        (S::Stringing, "1:hotend-high", &[C::TooHot]),
        (S::Stringing, "2:drying 1:hotend-high", &[C::Wet, C::TooHot]),
        (
            S::Stringing,
            "1:dryer-air 3:hotend-above-sheet",
            &[C::TooHot, C::Wet],
        ),
        (
            S::Stringing,
            "2:no-retraction 2:drying",
            &[C::Wet, C::NotDrawnBack],
        ),
        (
            S::Stringing,
            "2:no-retraction 1:dryer-air",
            &[C::NotDrawnBack, C::Wet],
        ),
        (S::Stringing, "2:hot-idle", &[C::HotIdle]),
        (S::Stringing, "3:bed-below-sheet", &[]),
        // Warping.
        (
            S::Warping,
            "3:enclosure-missing 2:bed-below-sheet",
            &[C::Draught, C::ColdBed],
        ),
        (
            S::Warping,
            "3:bed-below-sheet 2:fan-above-sheet",
            &[C::ColdBed, C::Fan],
        ),
        (
            S::Warping,
            "2:surface 2:first-layer-fast",
            &[C::Surface, C::FirstLayer],
        ),
        (
            S::Warping,
            "2:fan-on-first-layers 2:fan-above-sheet 2:surface",
            &[C::Fan, C::Surface],
        ),
        (S::Warping, "2:enclosure", &[C::Draught]),
        (S::Warping, "2:drying", &[]),
        // Weak layers.
        (
            S::WeakLayers,
            "3:hotend-below-sheet 2:fan-above-sheet",
            &[C::TooCold, C::Fan],
        ),
        (
            S::WeakLayers,
            "3:fan-above-sheet 1:hotend-low",
            &[C::Fan, C::TooCold],
        ),
        (
            S::WeakLayers,
            "3:flow-above-sheet 3:flow-above-hotend 3:hotend-below-sheet",
            &[C::TooMuchFlow, C::TooCold],
        ),
        (
            S::WeakLayers,
            "2:drying 2:layer-too-slow",
            &[C::Wet, C::SlowLayers],
        ),
        (
            S::WeakLayers,
            "2:layer-too-tall 1:chamber",
            &[C::TallLayers, C::Draught],
        ),
        (
            S::WeakLayers,
            "1:flow-near 1:hotend-low",
            &[C::TooCold, C::TooMuchFlow],
        ),
        // Clogging.
        (
            S::Clogging,
            "3:nozzle-narrow 2:nozzle-bore",
            &[C::NarrowNozzle],
        ),
        (
            S::Clogging,
            "2:warm-box 2:retraction-too-long",
            &[C::WarmBox, C::DrawnBackTooFar],
        ),
        (
            S::Clogging,
            "3:enclosure-too-warm 2:nozzle-bore",
            &[C::WarmBox, C::NarrowNozzle],
        ),
        (
            S::Clogging,
            "3:hotend-above-liner 2:hot-idle",
            &[C::Liner, C::HotIdle],
        ),
        (S::Clogging, "3:cold-deposit", &[C::TooCold]),
        // First layers that do not hold.
        (
            S::PoorAdhesion,
            "3:bed-below-sheet 2:surface 2:first-layer-fast",
            &[C::ColdBed, C::Surface, C::FirstLayer],
        ),
        (
            S::PoorAdhesion,
            "2:first-layer-tall 2:first-layer-fast 2:surface",
            &[C::FirstLayer, C::Surface],
        ),
        (
            S::PoorAdhesion,
            "2:fan-on-first-layers 3:hotend-not-awaited",
            &[C::TooCold, C::Fan],
        ),
        // Rough walls, pops.
        (
            S::RoughSurface,
            "2:nozzle-soft 2:drying",
            &[C::Wet, C::WornNozzle],
        ),
        (
            S::RoughSurface,
            "3:nozzle-soft 2:drying",
            &[C::WornNozzle, C::Wet],
        ),
        (
            S::RoughSurface,
            "2:layer-too-quick 1:hotend-high",
            &[C::QuickLayers, C::TooHot],
        ),
        (
            S::Popping,
            "2:exposure-in-room 1:hotend-high",
            &[C::Wet, C::TooHot],
        ),
        (S::Popping, "3:flow-above-sheet", &[]),
        // Too little.
        (
            S::UnderExtrusion,
            "3:flow-above-hotend 2:filament-ground",
            &[C::TooMuchFlow, C::Filament, C::DrawnBackTooFar],
        ),
        (
            S::UnderExtrusion,
            "3:filament-diameter-mismatch 1:flow-near",
            &[C::Filament, C::TooMuchFlow],
        ),
        (S::UnderExtrusion, "3:spool-short", &[C::SpoolShort]),
        (
            S::UnderExtrusion,
            "3:hotend 2:nozzle-hardness",
            &[C::TooCold, C::WornNozzle],
        ),
        // Sagging, size, shifts.
        (
            S::Sagging,
            "2:layer-too-quick 2:fan-below-sheet",
            &[C::QuickLayers, C::WeakFan],
        ),
        (
            S::Sagging,
            "3:fan-below-sheet 2:layer-too-quick",
            &[C::WeakFan, C::QuickLayers],
        ),
        (
            S::WrongSize,
            "1:shrinkage 3:filament-diameter-mismatch",
            &[C::Filament, C::Shrinkage],
        ),
        (S::WrongSize, "1:shrinkage", &[C::Shrinkage]),
        (
            S::ShiftedLayers,
            "2:axis-too-fast 3:home-over-part",
            &[C::Reach, C::TooFast],
        ),
    ];
    assert!(cases.len() >= 30);
    for (symptom, found, order) in cases {
        let ranked: Vec<Cause> = rank(*symptom, &signs(found))
            .iter()
            .map(|likely| likely.cause)
            .collect();
        assert_eq!(ranked, *order, "{} with {found}", symptom.word());
    }
}

/// Every sign of a cause is a requirement of the register, a point or a value that `values` gives.
#[test]
fn no_sign_is_misspelt() {
    let points = [
        "drying",
        "exposure",
        "exposure-in-room",
        "dryer-air",
        "hotend",
        "enclosure",
        "chamber",
        "bed",
        "surface",
        "nozzle-bore",
        "nozzle-hardness",
        "warm-box",
        "filament-diameter",
        "shrinkage",
    ];
    let values = ["hotend-high", "hotend-low", "no-retraction", "flow-near"];
    for symptom in Symptom::ALL {
        assert!(!symptom.causes().is_empty());
        for cause in symptom.causes() {
            assert!(!cause.says().is_empty() && !cause.next().is_empty());
            for sign in cause.signs() {
                let known = crate::inspection::requirement(sign).is_some()
                    || points.contains(sign)
                    || values.contains(sign);
                assert!(known, "{sign}");
            }
        }
    }
}
