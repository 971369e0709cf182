//! Several materials beside each other, and the best of many for one machine and use.

use super::{Answer, Question, Standing, Verdict, qualify};
use crate::physics::yields;
use crate::quantity::{Grams, Price};
use crate::sheet::{Application, Cited, Material};

/// A material with its answer.
#[derive(Debug, Clone)]
pub struct Candidate<'a> {
    /// The material.
    pub material: &'a Material,
    /// What it comes to.
    pub answer: Answer,
    /// The application as it was held: the mass of the part is this material's.
    pub application: Application,
    /// How much lighter than the question's material, in per cent; `None` where a sheet does not say its density.
    pub lighter: Option<f64>,
    /// How many more parts a kilogram gives than one of that, in per cent.
    pub more_parts: Option<f64>,
    /// What a part costs, and in what currency; `None` where price or mass are not said.
    pub cost: Option<(f64, String)>,
}

/// Each material's answer to the same question. The question's own material is the reference: a mass of the
/// part that was asked is that material's, and the others weigh as much more or less as they are denser or
/// lighter. Where it does not say its density, no mass is told.
#[must_use]
pub fn beside<'a>(question: &Question<'_>, materials: &[&'a Material]) -> Vec<Candidate<'a>> {
    let first = density(question.material);
    materials
        .iter()
        .map(|material| {
            let own = density(material);
            let mut application = question.application.clone();
            let ratio = own.zip(first).map(|(own, first)| own / first);
            application.part.mass = match (application.part.mass, ratio) {
                (Some(mass), Some(ratio)) => Some(mass.map(|mass| Grams::new(mass.get() * ratio))),
                _ => None,
            };
            let asked = Question {
                material,
                application: &application,
                ..*question
            };
            let answer = qualify(&asked);
            Candidate {
                material,
                answer,
                lighter: own
                    .zip(first)
                    .map(|(own, first)| yields::lighter(own, first)),
                more_parts: own
                    .zip(first)
                    .map(|(own, first)| yields::more_parts(own, first)),
                cost: cost(material.price.as_ref(), &application),
                application,
            }
        })
        .collect()
}

fn density(material: &Material) -> Option<f64> {
    material.density.as_ref().map(|density| density.value.get())
}

fn cost(price: Option<&Cited<Price>>, application: &Application) -> Option<(f64, String)> {
    let (price, mass) = (&price?.value, application.part.mass.as_ref()?.value);
    Some((price.of(mass), price.currency().to_owned()))
}

/// The materials for a question, best first: by verdict, then by how many points stop, change, want a
/// trial or are not known, then by the room of the temperature in use, then by name.
#[must_use]
pub fn find<'a>(question: &Question<'_>, materials: &[&'a Material]) -> Vec<Candidate<'a>> {
    let mut found = beside(question, materials);
    found.sort_by(|one, other| {
        let counts = |of: &Candidate<'_>| {
            [
                Standing::Stops,
                Standing::Change,
                Standing::Trial,
                Standing::Unknown,
            ]
            .map(|standing| of.answer.standing(standing).count())
        };
        let room = |of: &Candidate<'_>| {
            ["service", "service-peak"]
                .iter()
                .filter_map(|id| of.answer.point(id)?.margin)
                .map(|margin| margin.value)
                .fold(f64::INFINITY, f64::min)
        };
        order(one.answer.verdict)
            .cmp(&order(other.answer.verdict))
            .then_with(|| counts(one).cmp(&counts(other)))
            .then_with(|| room(other).total_cmp(&room(one)))
            .then_with(|| one.material.name.cmp(&other.material.name))
    });
    found
}

const fn order(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::Suits => 0,
        Verdict::SuitsWithChanges => 1,
        Verdict::NothingHeld => 2,
        Verdict::Open => 3,
        Verdict::DoesNotSuit => 4,
    }
}
