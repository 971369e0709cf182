//! What goes with a job through the shop: its inspection and rework, its course, what to prepare.

use super::{Settings, Source, To, Wish, ask_of, guarded};
use crate::course::{Heat, Plans, measure_of};
use crate::finding::Finding;
use crate::inspection::{Held, Round};
use crate::job::rework::rework_watched;
use crate::qualify::{Question, qualify};
use crate::report::traveler::{Prepared, Traveler};
use crate::report::{Checked, Failed};
use crate::rework::Wanted;
use crate::sheet::Application;
use crate::text::{Feed, Name};
use std::sync::OnceLock;

/// The most heights that are drawn in plan, the first layer among them (chosen: a page's worth).
const PLANS: usize = 6;

/// What is asked of a traveler.
pub struct Travel<'a> {
    /// The part's use, where it is known.
    pub application: &'a Application,
    /// Whether repairs are proposed too.
    pub repair: bool,
    /// The options of the call, as a shell reads them: those that a rework has too, and the page's own.
    pub options: [String; 2],
}

/// Makes a job's traveler.
pub fn traveler(
    source: &Source,
    name: &Name,
    travel: &Travel<'_>,
    settings: &Settings,
) -> Result<Traveler, Failed> {
    let wanted = Wanted {
        repair: travel.repair,
        ..Wanted::default()
    };
    let drawn = OnceLock::new();
    let wish = Wish {
        to: To::Nowhere,
        wanted: &wanted,
        accept: &|_| true,
        brief: true,
        meanwhile: Some(&|before| {
            let _ = drawn.set(guarded(|| plans(source, before)).unwrap_or_default());
        }),
    };
    let (reworked, heat) = rework_watched(source, name, &wish, settings, Heat::default)?;
    let prepared = prepared(&reworked.before, travel);
    Ok(Traveler {
        reworked,
        heat,
        plans: drawn.into_inner().unwrap_or_default(),
        prepared,
        today: settings.today,
        options: travel.options.clone(),
    })
}

/// The lines of findings that lie at some height: the worst, else the first.
fn lines(findings: &[Finding]) -> Vec<u64> {
    let mut lines: Vec<u64> = Vec::new();
    for finding in findings {
        if measure_of(finding.requirement).is_none() {
            continue;
        }
        if let Some(line) = finding.extent.telling_line()
            && !lines.contains(&line)
            && lines.len() < PLANS
        {
            lines.push(line);
        }
    }
    lines
}

/// A third way along the job, no farther than the last height that is wanted. Drawings are not what a job
/// is judged by: where it cannot be read again, there are none.
fn plans(source: &Source, checked: &Checked) -> Vec<crate::course::Plan> {
    let held = Held {
        walls: false,
        sections: false,
        ..checked.held.clone()
    };
    let wanted = Plans::new(&held, &lines(&checked.inspected.findings));
    let mut round = Round::unheld(held, wanted);
    let Ok(mut opened) = source.open_again(&checked.name) else {
        return Vec::new();
    };
    while matches!(opened.next(round.buffer()), Ok(true)) {
        round.go_on();
        if round.tap().is_done() || round.is_hopeless() {
            break;
        }
    }
    // Between the rounds the job may have been written anew: another job's paths are no drawing of this one.
    if source
        .seen()
        .is_some_and(|(path, seen)| seen.is_still(path).is_err())
    {
        return Vec::new();
    }
    let (_, plans) = round.finish_tapped();
    plans.plans()
}

/// What is to be prepared, by tool that lays something and has a material of its own.
fn prepared(checked: &Checked, travel: &Travel<'_>) -> Vec<Prepared> {
    let mut application = travel.application.clone();
    ask_of(checked, &mut application);
    let mut all: Vec<Prepared> = Vec::new();
    for tool in checked.inspected.survey.tools.iter().map(|tool| tool.tool) {
        let Some(material) = checked.held.material(tool) else {
            continue;
        };
        if all.iter().any(|known| known.material == material.name) {
            continue;
        }
        let question = Question {
            tool: tool as usize,
            ..Question::new(material, checked.held.machine.as_deref(), &application)
        };
        all.push(Prepared {
            tool,
            material: material.name.clone(),
            answer: qualify(&question),
        });
    }
    all
}
