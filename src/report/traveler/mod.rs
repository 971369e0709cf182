//! The traveler: the page that goes with a job through the shop, and to the person who asked.
//!
//! One HTML file that asks for nothing from anywhere: its style and its script are in it, and its content
//! policy names both by their digests and forbids all else. It is whole without scripts; with them, values
//! follow the pointer and findings can be filtered. Its size has a bound for any job.

mod chart;
mod findings;
mod head;
mod html;
mod plans;
mod plots;
mod prepare;
mod rework;
mod shop;
mod values;

use crate::concession::Date;
use crate::course::{Heat, Plan};
use crate::qualify::Answer;
use crate::report::Checked;
use crate::report::reworked::Reworked;
use base64ct::{Base64, Encoding};
use html::Html;
use sha2::{Digest, Sha256};

pub use shop::quoted;

/// The page's style.
const STYLE: &str = include_str!("page.css");

/// The page's script.
const SCRIPT: &str = include_str!("page.js");

/// What is to be prepared for one material.
#[derive(Debug, Clone, PartialEq)]
pub struct Prepared {
    /// The first tool that lays it.
    pub tool: u32,
    /// Its sheet's name.
    pub material: String,
    /// The sheets, held against each other for the part that the job builds.
    pub answer: Answer,
}

/// All that goes with a job.
#[derive(Debug)]
pub struct Traveler {
    /// The job, inspected, and what a rework would make of it.
    pub reworked: Reworked,
    /// Heat along its time.
    pub heat: Heat,
    /// The first layer, and the heights that findings lie at.
    pub plans: Vec<Plan>,
    /// What is to be prepared.
    pub prepared: Vec<Prepared>,
    /// The day of the page.
    pub today: Date,
    /// The options of the call, as a shell reads them: those that a rework has too, and the page's own.
    pub options: [String; 2],
}

impl Traveler {
    /// The job as it is.
    #[must_use]
    pub const fn checked(&self) -> &Checked {
        &self.reworked.before
    }
}

/// A digest as a content policy names it.
fn named(own: &str) -> String {
    format!("'sha256-{}'", Base64::encode_string(&Sha256::digest(own)))
}

/// The whole page.
#[must_use]
pub fn page(traveler: &Traveler) -> String {
    let mut page = Html::default();
    page.doctype();
    page.within("html", &[("lang", "en")], |page| {
        page.within("head", &[], |page| {
            page.void("meta", &[("charset", "utf-8")]);
            let policy = format!(
                "default-src 'none'; style-src {}; script-src {}; base-uri 'none'; form-action 'none'",
                named(STYLE),
                named(SCRIPT)
            );
            page.void(
                "meta",
                &[
                    ("http-equiv", "Content-Security-Policy"),
                    ("content", &policy),
                ],
            );
            page.void(
                "meta",
                &[
                    ("name", "viewport"),
                    ("content", "width=device-width, initial-scale=1"),
                ],
            );
            page.put("title", "", &head::title(traveler));
            page.verbatim("style", STYLE);
        });
        page.newline();
        page.within("body", &[], |page| {
            head::header(traveler, page);
            page.within("main", &[], |page| {
                for write in SECTIONS {
                    write(traveler, page);
                    page.newline();
                }
            });
            shop::footer(traveler, page);
            page.verbatim("script", SCRIPT);
        });
    });
    page.newline();
    page.done()
}

/// The sections, in the order of the page: what the shop acts on and signs, then what it rests on.
const SECTIONS: [fn(&Traveler, &mut Html); 15] = [
    head::verdict,
    head::change,
    prepare::section,
    shop::cautions,
    shop::sign_off,
    shop::job,
    findings::section,
    rework::section,
    plots::section,
    plans::section,
    shop::strength,
    shop::concessions,
    shop::not_held,
    values::section,
    shop::words,
];
