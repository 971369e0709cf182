//! Water in the filament: what a dryer's air can reach, how long drying takes, how long a spool stands
//! open in another room, and how one tells a wet spool.

use super::figures::{plain, round, tenth};
use super::{Dryer, Point, Question, Side, Standing, Weighed};
use crate::physics::moisture::{self, Diffusion};
use crate::quantity::Percent;
use crate::sheet::Material;

/// The room where nobody says: 23 °C and 50 % (ISO 291, memory).
const USUAL_ROOM: (f64, f64) = (23.0, 50.0);

/// The filament of the drying model where neither spool nor drive says, mm (common practice).
const USUAL_DIAMETER: f64 = 1.75;

/// Where the empty spool is not weighed, the filament is taken as half of what is weighed, at least: an
/// empty spool of 250 g with 250 g on it (chosen).
const SPOOL_COUNTED: f64 = 2.0;

/// Room air, and whether it was asked.
fn room(q: &Question<'_>) -> (f64, f64, bool) {
    let of = &q.application.room;
    match (&of.temperature, &of.humidity) {
        (Some(heat), Some(humidity)) => (heat.value.get(), humidity.value.get(), true),
        (Some(heat), None) => (heat.value.get(), USUAL_ROOM.1, false),
        (None, Some(humidity)) => (USUAL_ROOM.0, humidity.value.get(), false),
        (None, None) => (USUAL_ROOM.0, USUAL_ROOM.1, false),
    }
}

/// The sheet's equilibrium as points, the humidity going up.
fn points(material: &Material) -> Vec<(f64, f64)> {
    let mut points: Vec<_> = material
        .water
        .equilibrium
        .iter()
        .map(|point| (point.humidity.get(), point.content.value.get()))
        .collect();
    points.sort_by(|one, other| one.0.total_cmp(&other.0));
    points
}

/// The two ends of the sheet's diffusion figures, the slower first.
fn diffusion(material: &Material) -> Option<[Diffusion; 2]> {
    let water = &material.water;
    let (coefficient, at) = (water.diffusion.as_ref()?, water.at?);
    let energy = water.activation.as_ref()?;
    Some(
        [
            (coefficient.value.least, energy.value.least),
            (coefficient.value.most, energy.value.most),
        ]
        .map(|(coefficient, energy)| Diffusion {
            coefficient: coefficient.get() * 1e-12,
            at: at.get(),
            energy: energy.get() * 1000.0,
        }),
    )
}

/// What the dryer ends at, in % of mass, and the humidity in it.
struct Floor {
    humidity: f64,
    content: f64,
}

fn floor(q: &Question<'_>, dryer: &Dryer) -> Option<Floor> {
    let points = points(q.material);
    if points.is_empty() {
        return None;
    }
    let (heat, humidity, _) = room(q);
    let humidity = if dryer.dries_air {
        0.0
    } else {
        moisture::warmed(humidity, heat, dryer.at.get()).min(100.0)
    };
    Some(Floor {
        humidity,
        content: moisture::equilibrium(&points, humidity)?,
    })
}

/// A dryer that heats room air never dries below what that air holds.
pub(super) fn floor_of_dryer(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "dryer-air";
    let dryer = q.dryer()?;
    let wanted = q.material.drying.highest_moisture.as_ref()?;
    let floor = floor(q, &dryer)?;
    let (heat, humidity, is_asked) = room(q);
    let needs = Side::material(
        q.material,
        "drying.highest_moisture",
        wanted,
        format!("{} of water at most", plain(wanted.value)),
    );
    let has = Side::worked_out(
        format!("{} %", round(floor.content, 2)),
        format!(
            "worked out from material sheet {}, water.equilibrium, and {} air of {} °C and {} %{}",
            q.material.name,
            if is_asked {
                "the room's"
            } else {
                "a usual room's"
            },
            tenth(heat),
            tenth(humidity),
            if is_asked {
                ""
            } else {
                " (ISO 291, from memory)"
            },
        ),
    );
    let room = wanted.value.get() - floor.content;
    let point = if room < 0.0 {
        let says = format!(
            "at {} the room's air is still at {} % humidity: no time in it brings {} under about {} % of water",
            q.heat(dryer.at),
            tenth(floor.humidity),
            q.material.name,
            round(floor.content, 2)
        );
        // Most spools print well above a moulder's limit: what it means is to be seen on the part.
        Point::new(ID, Standing::Trial, says)
            .action("dry it with desiccant or vacuum, or in a drier room; try a part with what the dryer reaches")
    } else {
        Point::new(ID, Standing::Fits, "the air in the dryer is dry enough")
    };
    Some(point.needs(needs).has(has).by(room, "%"))
}

fn hours(seconds: f64) -> String {
    let hours = seconds / 3600.0;
    if hours < 10.0 {
        format!("{} h", tenth(hours))
    } else if hours < 100.0 {
        format!("{} h", hours.round())
    } else {
        format!("{} d", (hours / 24.0).round())
    }
}

/// How long a single strand takes to dry, by diffusion: a range, since no coefficient is a cited one.
pub(super) fn drying_time(q: &Question<'_>) -> Option<Point> {
    let dryer = q.dryer()?;
    let wanted = q.material.drying.highest_moisture.as_ref()?.value.get();
    let [slow, quick] = diffusion(q.material)?;
    let (_, humidity, _) = room(q);
    let from = moisture::equilibrium(&points(q.material), humidity)?;
    let floor = floor(q, &dryer)?.content;
    let water = q.material.water.diffusion.as_ref()?;
    let diameter = q
        .material
        .filament_diameter
        .as_ref()
        .or_else(|| q.tool()?.filament_diameter.as_ref())
        .map_or(USUAL_DIAMETER, |diameter| diameter.value.get());
    // Where the air does not let it get that dry: to within a tenth of the way to its floor.
    let (target, reaches) = if wanted > floor {
        (wanted, true)
    } else {
        (floor + 0.1 * (from - floor), false)
    };
    let share = (from - target) / (from - floor);
    let takes = |water: Diffusion| water.seconds(diameter, dryer.at.get(), share);
    let (least, most) = (takes(quick)?, takes(slow)?);
    let says = format!(
        "with {} of diffusion at {} °C a single strand goes from {} % of water to {} %{} in {} to {} at {}; on a spool only the outer turns see \
         the air, so that it takes longer: the sheet's time rules",
        water.value,
        tenth(slow.at),
        round(from, 2),
        round(target, 2),
        if reaches {
            ""
        } else {
            ", most of the way to what the air allows,"
        },
        hours(least),
        hours(most),
        q.heat(dryer.at)
    );
    Some(
        Point::new("drying-model", Standing::Told, says).has(Side::material(
            q.material,
            "water.diffusion",
            water,
            format!("{} at 23 °C", water.value),
        )),
    )
}

/// How the sheet's exposure hours change with the room: uptake goes as c·√(D·t) at first, so that hours
/// scale with (c₀/c)²·D₀/D.
pub(super) fn exposure_in_room(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "exposure-in-room";
    let exposure = q.material.exposure.as_ref()?;
    let (heat, humidity, is_asked) = room(q);
    if !is_asked {
        return None;
    }
    let points = points(q.material);
    let usual = moisture::equilibrium(&points, USUAL_ROOM.1)?;
    let here = moisture::equilibrium(&points, humidity)?;
    if here <= 0.0 {
        return None;
    }
    let by_humidity = (usual / here).powi(2);
    let factors = match diffusion(q.material) {
        Some(both) => both.map(|water| by_humidity * water.at(USUAL_ROOM.0) / water.at(heat)),
        None => [by_humidity; 2],
    };
    let scaled = factors.map(|factor| exposure.value.get() * factor);
    let [least, most] =
        [scaled[0].min(scaled[1]), scaled[0].max(scaled[1])].map(|hours| round(hours, 1));
    let span = if least == most {
        format!("{least} h")
    } else {
        format!("{least} to {most} h")
    };
    let says = format!(
        "the sheet's {} are for 23 °C and 50 %; a room of {} °C and {} % makes about {span} of them. The model only \
         scales the sheet's hours: a moulder's limits taken at face value would give minutes",
        plain(exposure.value),
        tenth(heat),
        tenth(humidity)
    );
    let side = Side::material(q.material, "exposure", exposure, format!("about {span}"));
    let tightest = scaled[0].min(scaled[1]);
    let Some(time) = &q.application.print.time else {
        return Some(Point::new(ID, Standing::Told, says).has(side));
    };
    let needs = Side::asked(
        q.application,
        "print.time",
        time,
        format!("{} of printing", plain(time.value)),
    );
    let room = tightest - time.value.get();
    let point = if room < 0.0 {
        Point::new(ID, Standing::Change, says)
            .action("print from a closed box with desiccant, or from the dryer")
    } else {
        Point::new(ID, Standing::Fits, says)
    };
    Some(point.needs(needs).has(side).by(room, "h"))
}

/// How one tells whether a spool is wet.
pub(super) fn is_it_wet(q: &Question<'_>) -> Option<Point> {
    let drying = &q.material.drying;
    drying.required.as_ref().filter(|required| required.value)?;
    let holds: Option<Percent> = q
        .material
        .water
        .equilibrium
        .first()
        .map(|point| point.content.value);
    let gram = holds.map_or_else(String::new, |holds| {
        format!("; a spool that lay in a room of 50 % for months has lost about {} g of 1 kg when it is dry", tenth(10.0 * holds.get()))
    });
    Some(Point::new(
        "wet-spool",
        Standing::Told,
        format!(
            "a wet spool hisses, steams and strings, and prints rough and weak; weigh it before and after drying \
                 to be sure{gram}"
        ),
    ))
}

/// Wet or dry by weighing a spool before and after drying.
pub(super) fn weighed(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "weighed";
    let Weighed {
        before,
        after,
        empty,
    } = q.weighed?;
    let tare = empty.unwrap_or(0.0);
    let had = moisture::by_weighing(before - tare, after - tare)?;
    let side = Side {
        text: format!("{} g before, {} g after", tenth(before), tenth(after)),
        whose: super::AS_ASKED.to_owned(),
        source: None,
        mark: None,
    };
    let of = match empty {
        Some(_) => "of the filament",
        None => "of filament and spool together, more of the filament alone",
    };
    let lost = format!(
        "it lost {} g of water, {} % {of}",
        round(before - after, 2),
        round(had, 2)
    );
    let Some(most) = &q.material.drying.highest_moisture else {
        let says = format!("{lost}; the material sheet does not say drying.highest_moisture");
        return Some(Point::new(ID, Standing::Unknown, says).has(side));
    };
    let most_had = if empty.is_some() {
        had
    } else {
        had * SPOOL_COUNTED
    };
    let limit = most.value.get();
    let needs = Side::material(
        q.material,
        "drying.highest_moisture",
        most,
        format!("{} of water at most", plain(most.value)),
    );
    let point = if had > limit {
        Point::new(ID, Standing::Change, format!("it was wet: {lost}"))
            .action("dry it until it loses no more, and print from a closed box")
    } else if most_had > limit {
        Point::new(ID, Standing::Trial, format!("it may have been wet: {lost}"))
            .action("give the mass of the empty spool too: 505g,500g,230g")
    } else {
        Point::new(ID, Standing::Fits, format!("it was dry enough: {lost}"))
    };
    Some(point.needs(needs).has(side).by(limit - had, "%"))
}
