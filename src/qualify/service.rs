//! The finished part in heat and under load.

use super::figures::tenth;
use super::{Margin, Point, Question, Side, Standing};
use crate::physics::service::{self, Judgement};
use crate::quantity::Celsius;
use crate::sheet::{Cited, Load};

/// What the sheet's figures leave out, said wherever a part is loaded in heat.
const TEST: &str = "test it under its own load at that temperature before you rely on it; parts that carry load or \
     protect people need somebody licensed to judge them";

fn is_sustained(q: &Question<'_>) -> bool {
    q.application
        .service
        .load
        .as_ref()
        .is_some_and(|load| load.value == Load::Sustained)
}

const fn standing(judgement: Judgement) -> Standing {
    match judgement {
        Judgement::Go => Standing::Fits,
        Judgement::Test => Standing::Trial,
        Judgement::NoGo => Standing::Stops,
    }
}

/// A temperature in use against one limit of the sheet.
fn held(
    q: &Question<'_>,
    (id, asked_key, asked): (&'static str, &str, &Cited<Celsius>),
    (key, limit): (&str, &Cited<Celsius>),
) -> (Point, Judgement) {
    let room = service::room(limit.value.get(), asked.value.get());
    let judgement = room.judge(is_sustained(q));
    let says = match judgement {
        Judgement::NoGo => format!(
            "{} is {} K above the {} that the sheet gives",
            q.heat(asked.value),
            tenth(-room.kelvins),
            q.heat(limit.value)
        ),
        Judgement::Test if is_sustained(q) => format!(
            "{} K below the limit, but plastics creep under sustained load, which that figure does not cover",
            tenth(room.kelvins)
        ),
        Judgement::Test => format!(
            "{} K below the limit, within {} % of it on the Celsius scale: too near to be sure",
            tenth(room.kelvins),
            tenth(service::TEST_WITHIN)
        ),
        Judgement::Go => format!("{} K below the limit", tenth(room.kelvins)),
    };
    let mut point = Point::new(id, standing(judgement), says)
        .needs(Side::asked(
            q.application,
            asked_key,
            asked,
            q.heat(asked.value),
        ))
        .has(Side::material(q.material, key, limit, q.heat(limit.value)));
    point.margin = Some(Margin {
        value: room.kelvins,
        unit: "K",
        percent: room.percent,
    });
    if judgement == Judgement::Test {
        point.action = Some(TEST.to_owned());
    }
    (point, judgement)
}

/// The temperature it is at for long.
pub(super) fn continuous(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "service";
    let asked = q.application.service.continuous.as_ref()?;
    let of = (ID, "service.continuous", asked);
    let sheet = &q.material.service;
    let Some(limit) = &sheet.continuous else {
        let needs = Side::asked(
            q.application,
            "service.continuous",
            asked,
            q.heat(asked.value),
        );
        return Some(Point::unsaid(ID, "material sheet", "service.continuous").needs(needs));
    };
    let (mut point, judgement) = held(q, of, ("service.continuous", limit));
    if judgement == Judgement::NoGo {
        if let Some(upper) = sheet
            .continuous_upper
            .as_ref()
            .filter(|upper| asked.value <= upper.value)
        {
            point.standing = Standing::Trial;
            point.says = format!(
                "above the {} that every grade stands, and within the {} that good ones do: it depends on the \
                 grade",
                q.heat(limit.value),
                q.heat(upper.value)
            );
            point.has = Some(Side::material(
                q.material,
                "service.continuous and service.continuous_upper",
                upper,
                format!(
                    "{} to {}, by grade",
                    q.heat(limit.value),
                    q.heat(upper.value)
                ),
            ));
            point.action = Some(format!(
                "take the figure from the data sheet of the spool at hand, and {TEST}"
            ));
        } else {
            let for_short = sheet
                .short_term
                .as_ref()
                .filter(|short| asked.value <= short.value);
            point.action = Some(match for_short {
                Some(short) => format!(
                    "take a material that stands more for long; the sheet gives {} for a short time only",
                    q.heat(short.value)
                ),
                None => "take a material that stands more".to_owned(),
            });
        }
    }
    Some(point)
}

/// The temperature it sees for a short time.
pub(super) fn short_term(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "service-peak";
    let asked = q.application.service.short_term.as_ref()?;
    let of = (ID, "service.short_term", asked);
    let sheet = &q.material.service;
    // What it stands for long it stands for a short time.
    let by_long = [&sheet.continuous_upper, &sheet.continuous]
        .into_iter()
        .flatten()
        .find(|_| sheet.short_term.is_none())
        .filter(|limit| asked.value <= limit.value);
    let (limit, key) = match (&sheet.short_term, by_long) {
        (Some(limit), _) => (limit, "service.short_term"),
        (None, Some(limit)) => (limit, "service.continuous"),
        (None, None) => {
            let needs = Side::asked(
                q.application,
                "service.short_term",
                asked,
                q.heat(asked.value),
            );
            return Some(Point::unsaid(ID, "material sheet", "service.short_term").needs(needs));
        }
    };
    let (mut point, judgement) = held(q, of, (key, limit));
    if judgement == Judgement::NoGo {
        point.action = Some("take a material that stands more".to_owned());
    }
    Some(point)
}

/// Heat deflection at the stress that is borne, or at those that the sheet gives.
pub(super) fn deflection(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "heat-deflection";
    let of = &q.application.service;
    let hottest = [&of.continuous, &of.short_term]
        .into_iter()
        .flatten()
        .max_by(|one, other| one.value.get().total_cmp(&other.value.get()))?;
    let is_loaded = of
        .load
        .as_ref()
        .is_some_and(|load| load.value != Load::None);
    if !is_loaded && of.stress.is_none() {
        return None;
    }
    let needs = Side::asked(
        q.application,
        "service",
        hottest,
        format!("{} under load", q.heat(hottest.value)),
    );
    let mut points: Vec<_> = q.material.service.heat_deflection.iter().collect();
    points.sort_by(|one, other| one.stress.get().total_cmp(&other.stress.get()));
    if points.is_empty() {
        return Some(Point::unsaid(ID, "material sheet", "service.heat_deflection").needs(needs));
    }
    // The least stress of the sheet that is no less than what is borne; unasked, the greatest.
    let stress = of.stress.as_ref().map(|stress| stress.value);
    let Some(held) = (match stress {
        Some(stress) => points.iter().find(|point| point.stress >= stress).copied(),
        None => points.last().copied(),
    }) else {
        let says = "the part bears more stress than any heat deflection figure of the sheet was measured at";
        return Some(
            Point::new(
                ID,
                Standing::Unknown,
                format!("{says}: the sheet does not say"),
            )
            .needs(needs)
            .action(TEST),
        );
    };
    let room = service::room(held.temperature.value.get(), hottest.value.get());
    let judgement = match room.judge(true) {
        // Nobody said what stress it bears: past the greatest stress of the sheet it may yet hold.
        Judgement::NoGo if stress.is_none() => Judgement::Test,
        other => other,
    };
    let says = format!(
        "a bar bends noticeably at {} under {}{}",
        q.heat(held.temperature.value),
        held.stress,
        match judgement {
            Judgement::NoGo => ": the part gives way",
            _ => "; infill, layers and time under load are not in that figure",
        }
    );
    let action = match judgement {
        Judgement::NoGo => {
            "take a material that holds its shape in more heat, or lower the stress".to_owned()
        }
        _ => TEST.to_owned(),
    };
    let mut point = Point::new(ID, standing(judgement), says)
        .needs(needs)
        .has(Side::material(
            q.material,
            "service.heat_deflection",
            &held.temperature,
            format!("{} at {}", q.heat(held.temperature.value), held.stress),
        ))
        .action(action);
    point.margin = Some(Margin {
        value: room.kelvins,
        unit: "K",
        percent: room.percent,
    });
    Some(point)
}

/// Water in parts of polyamide: no fault of the print.
pub(super) fn water_in_use(q: &Question<'_>) -> Option<Point> {
    let is_polyamide = q.material.family.as_deref() == Some("PA");
    let of = &q.application;
    let in_use =
        of.service.continuous.is_some() || of.service.load.is_some() || !of.exposed.is_empty();
    (is_polyamide && in_use).then(|| {
        let held = q.material.water.equilibrium.first();
        let amount = held.map_or_else(String::new, |point| {
            format!(", {} by mass at {} humidity", point.content.value, point.humidity)
        });
        let point = Point::new(
            "water-in-use",
            Standing::Told,
            format!(
                "a finished part takes up water from the air{amount}: it gets tougher, softer and a little \
                 larger, which is no fault of the print; values measured dry do not hold then"
            ),
        )
        .action("let parts take up their water before they are fitted or measured; a coat slows it and does not stop it");
        match held {
            Some(held) => point.has(Side::material(
                q.material,
                "water.equilibrium",
                &held.content,
                format!("{} at {}", held.content.value, held.humidity),
            )),
            None => point,
        }
    })
}
