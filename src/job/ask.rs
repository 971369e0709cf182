//! What a job itself tells of the part that it builds, for whoever qualifies it.

use crate::finding::SourceMark;
use crate::qualify::OF_JOB;
use crate::quantity::{Celsius, Grams, Hours, Millimetres};
use crate::report::{Checked, terminal};
use crate::sheet::{Application, Cited};

/// What the survey of a job tells: the part's size, time and mass, and how hot its bed is kept. What it cannot
/// tell stays unasked.
pub fn ask_of(job: &Checked, of: &mut Application) {
    let source = format!("{OF_JOB}{}", terminal::title(&job.name));
    let survey = &job.inspected.survey;
    let size = survey.size().map(|size| size.map(Millimetres::new));
    let time = survey
        .time
        .as_ref()
        .ok()
        .map(|time| Hours::new(time.seconds() / 3600.0));
    let mass = survey.mass_g.as_ref().ok().map(|mass| Grams::new(*mass));
    if let Some(size) = size.filter(|size| size.iter().all(|side| side.get() > 0.0)) {
        of.part.size = Some(told(size, &source));
    }
    if let Some(time) = time.filter(|time| time.get() > 0.0) {
        of.print.time = Some(told(time, &source));
    }
    if let Some(mass) = mass.filter(|mass| mass.get() > 0.0) {
        of.part.mass = Some(told(mass, &source));
    }
    let beds = survey.rows.iter().filter_map(|row| row.bed);
    let bed = beds.map(|bed| bed.least).reduce(f64::min);
    if let Some(bed) = bed.filter(|bed| *bed > 0.0) {
        of.print.bed = Some(told(Celsius::new(bed), &source));
    }
}

fn told<T>(value: T, source: &str) -> Cited<T> {
    Cited::new(value, Some(source.to_owned()), SourceMark::Measured)
}
