//! What the finished part is exposed to, its flame class, and uses that need licensed judgement.

use super::{Point, Question, Side, Standing};
use crate::sheet::{Charge, Cited, Resistance};

/// Plain words for what a sheet has under one key.
const WORDS: &[(&str, &[&str])] = &[
    (
        "fuel",
        &["petrol", "gasoline", "diesel", "kerosene", "fuels"],
    ),
    ("oil", &["oils", "engine oil", "hydraulic oil", "lubricant"]),
    ("grease", &["greases"]),
    ("acetone", &["ketone", "ketones", "solvent", "solvents"]),
    (
        "alcohol",
        &["alcohols", "ethanol", "isopropanol", "methanol"],
    ),
    ("acids", &["acid", "battery acid"]),
    ("alkalis", &["alkali", "lye", "base", "bases"]),
    ("water", &["rain", "damp", "wet", "water"]),
    ("salt", &["brine", "seawater", "sea water", "road salt"]),
    ("uv", &["sun", "sunlight", "outdoors", "outdoor", "weather"]),
    ("static", &["charge", "sparks", "esd"]),
];

fn key(word: &str) -> &str {
    WORDS
        .iter()
        .find(|(key, words)| *key == word || words.contains(&word))
        .map_or(word, |(key, _)| *key)
}

/// One point for each thing that it is exposed to.
pub(super) fn exposed(q: &Question<'_>) -> Vec<Point> {
    q.application
        .exposed
        .iter()
        .map(|word| match key(word) {
            "uv" => stands(q, word, "uv", q.material.uv.as_ref()),
            "static" => charge(q, word),
            key => {
                let stands_it = q
                    .material
                    .chemicals
                    .get(word)
                    .or_else(|| q.material.chemicals.get(key));
                stands(q, word, &format!("chemicals.{key}"), stands_it)
            }
        })
        .collect()
}

fn needs(word: &str) -> Side {
    Side {
        text: format!("to stand {word}"),
        whose: super::AS_ASKED.to_owned(),
        source: None,
        mark: None,
    }
}

const fn in_words(how: Resistance) -> &'static str {
    match how {
        Resistance::Resists => "stands it",
        Resistance::Limited => "stands it for a while, or with loss",
        Resistance::Attacked => "is attacked",
    }
}

fn stands(q: &Question<'_>, word: &str, key: &str, how: Option<&Cited<Resistance>>) -> Point {
    const ID: &str = "exposed";
    let name = &q.material.name;
    let Some(how) = how else {
        return Point::new(
            ID,
            Standing::Unknown,
            format!("the material sheet does not say how {name} stands {word} ({key})"),
        )
        .needs(needs(word))
        .action("ask the supplier, or lay a test part into it for as long as it is to last");
    };
    let point = match how.value {
        Resistance::Resists => Point::new(
            ID,
            Standing::Fits,
            format!("{name} stands {word}; heat, stress and additives can change that"),
        ),
        Resistance::Limited => Point::new(
            ID,
            Standing::Trial,
            format!("{name} stands {word} for a while, or with loss"),
        )
        .action("test a part in it, at its temperature and load, for as long as it is to last"),
        Resistance::Attacked => Point::new(ID, Standing::Stops, format!("{word} attacks {name}"))
            .action("take a material that stands it, or keep it away from the part"),
    };
    point
        .needs(needs(word))
        .has(Side::material(q.material, key, how, in_words(how.value)))
}

fn charge(q: &Question<'_>, word: &str) -> Point {
    const ID: &str = "exposed";
    let Some(charge) = &q.material.charge else {
        return Point::unsaid(ID, "material sheet", "charge").needs(needs(word));
    };
    let point = match charge.value {
        Charge::Insulates => Point::new(
            ID,
            Standing::Stops,
            "it keeps its charge: sparks can follow",
        )
        .action(
            "take a grade made to let charge go, and have the place judged by somebody licensed",
        ),
        Charge::Dissipates | Charge::Conducts => Point::new(
            ID,
            Standing::Trial,
            "it lets charge go, how well depends on the printed walls",
        )
        .action("measure the printed part, and have the place judged by somebody licensed"),
    };
    point.needs(needs(word)).has(Side::material(
        q.material,
        "charge",
        charge,
        charge.value.word(),
    ))
}

/// The flame class that is asked against the sheet's.
pub(super) fn flame(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "flame";
    let asked = q.application.flame.as_ref()?;
    let needs = Side::asked(q.application, "flame", asked, asked.value.word());
    let Some(class) = &q.material.flame else {
        return Some(Point::unsaid(ID, "material sheet", "flame").needs(needs));
    };
    let point = if class.value.rank() < asked.value.rank() {
        Point::new(
            ID,
            Standing::Stops,
            format!("bars of {} reach only {}", q.material.name, class.value),
        )
        .action("take a grade that is rated for it")
    } else {
        Point::new(
            ID,
            Standing::Trial,
            "bars reach the class; a printed part with its walls and infill burns otherwise",
        )
        .action("where a rule asks for the class, have the printed part tested")
    };
    Some(point.needs(needs).has(Side::material(
        q.material,
        "flame",
        class,
        class.value.word(),
    )))
}

/// Uses in which an error hurts somebody.
pub(super) fn concerns(q: &Question<'_>) -> Vec<Point> {
    q.application
        .concerns
        .iter()
        .map(|concern| {
            let says = match concern.as_str() {
                "food" => "the sheet does not say that it may touch food; gaps between layers hold germs, and nozzles, \
                           colours and fillings are not made for it"
                    .to_owned(),
                "pressure" => "layers leak and let go without warning; no figure of the sheet covers pressure".to_owned(),
                "medical" => "the sheet does not say that it may touch bodies or wounds".to_owned(),
                other => format!("the sheet does not say that it may be used where `{other}` matters"),
            };
            Point::new("concern", Standing::Trial, says)
                .action("have the use judged by somebody licensed for it; local rules come first")
        })
        .collect()
}
