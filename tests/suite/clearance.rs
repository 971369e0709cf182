//! The tool head and what stands: jobs made apart, one part after another, and jobs that must be silent.

use crate::sliced::{Job, Object, Shape};
use meltgauge::finding::Finding;
use meltgauge::inspection::{Held, inspect};
use meltgauge::sheet::Machine;
use std::sync::Arc;

/// A machine whose head reaches so far, mm, from so high above the nozzle on, in mm.
pub fn under(reach: f64, above: f64) -> Held {
    let text = format!(
        "name = \"under\"\nfrom = \"open-lined\"\n[head]\nreach = \"{reach} mm\"\nabove = \"{above} mm\"\n\
         rods_reach = \"{reach} mm\"\nrods_above = \"{above} mm\"\nrods_along = \"x\"\n"
    );
    Held {
        machine: Some(Arc::new(Machine::parse("under", &text).unwrap())),
        ..Held::default()
    }
}

fn hits(job: &[u8], held: Held) -> Vec<Finding> {
    let mut findings = inspect(job, held).findings;
    findings.retain(|finding| finding.requirement == "object-clearance");
    findings
}

/// Two boxes, 20 mm wide, the second of them so far to the right of the first, mm.
fn boxes(apart: f64, behind: f64, heights: [f64; 2], one_after_another: bool) -> Vec<u8> {
    let part = |at: [f64; 2], height: f64| Object {
        shape: Shape::Box { x: 20.0, y: 20.0 },
        at,
        height,
    };
    let second = [60.0 + 20.0 + apart, 60.0 + behind];
    let job = Job {
        one_after_another,
        skirt: 0,
        ..Job::of(&[part([60.0, 60.0], heights[0]), part(second, heights[1])])
    };
    job.slice().text.into_bytes()
}

/// The nozzle's middle runs half a bead within the outlines: 30 mm apart the walls are 30.45 mm.
#[test]
fn jobs_made_apart_are_hit_as_near_as_they_are() {
    let job = boxes(30.0, 0.0, [12.0, 4.0], true);
    let found = hits(&job, under(30.5, 6.0));
    // The head beside it, and what carries it over both.
    assert_eq!(found.len(), 2, "{found:?}");
    let head = found
        .iter()
        .find(|finding| finding.message.starts_with("the tool head"))
        .unwrap();
    assert!((head.amount.unwrap() - 30.45).abs() < 0.01, "{head:?}");
    assert_eq!(hits(&job, under(30.4, 6.0)).len(), 1);
    // The second is 4 mm tall: its first layer lies 11.8 mm below the first one's top.
    assert_eq!(hits(&job, under(30.5, 11.79)).len(), 2);
    assert!(hits(&job, under(30.5, 11.8)).is_empty());
    // Behind it, along Y, nothing hangs over both.
    let behind = boxes(-20.0, 60.0, [12.0, 4.0], true);
    assert!(hits(&behind, under(40.4, 6.0)).is_empty());
    assert_eq!(hits(&behind, under(40.5, 6.0)).len(), 2);
    // The small one first, and layer by layer: nothing stands higher than the nozzle.
    assert!(hits(&boxes(30.0, 0.0, [4.0, 12.0], true), under(30.5, 4.0)).is_empty());
    assert!(hits(&boxes(30.0, 0.0, [12.0, 4.0], false), under(300.0, 0.5)).is_empty());
}

/// Under a head as wide as the bed: what is printed layer by layer is never taller than the nozzle is high.
#[test]
fn honest_jobs_are_silent() {
    for (name, job) in crate::walls::conforming() {
        if name.contains("one-after-another") {
            continue;
        }
        assert_eq!(hits(&job, under(1000.0, 1.0)), [], "{name}");
    }
}
