//! From what was found to the record.

use super::parts::{
    Concession, ConcessionRemark, Declared, Error, Extent, Finding, Given, Job, Limit, Machine,
    Macro, Material, NotHeld, Place, Record, Related, Setpoint, Tool, Uses,
};
use super::survey::{LayerRow, Survey, SurveyRecord};
use super::{NAME, SURVEY_NAME, SURVEY_VERSION, VERSION};
use crate::command::hint::Key;
use crate::finding::{self, Excerpt};
use crate::inspection;
use crate::report::{Checked, Failed, NamedBy, Outcome};
use crate::text::{Name, clean};
use std::collections::BTreeMap;

impl Record {
    /// The record of one job.
    #[must_use]
    pub fn of(outcome: &Outcome) -> Self {
        match outcome {
            Outcome::Checked(checked) => checked_job(checked),
            Outcome::Failed(failed) => failed_job(failed),
        }
    }
}

pub(super) const TOOL: Tool = Tool {
    name: env!("CARGO_PKG_NAME"),
    version: env!("CARGO_PKG_VERSION"),
};

impl SurveyRecord {
    /// The record of one job's survey, with the table of its layers where that is asked for.
    #[must_use]
    pub fn of(outcome: &Outcome, layers: bool) -> Self {
        let Record {
            job,
            material,
            machine,
            error,
            survey,
            ..
        } = Record::of(outcome);
        let rows = match outcome {
            Outcome::Checked(checked) if layers => Some(&checked.inspected.survey.rows),
            _ => None,
        };
        Self {
            schema: SURVEY_NAME,
            version: SURVEY_VERSION,
            tool: TOOL,
            job,
            material,
            machine,
            error,
            survey,
            layers_each: rows.map(crate::survey::Rows::each),
            layers: rows.map(|rows| rows.iter().map(LayerRow::of).collect()),
        }
    }
}

/// A figure; JSON has none for what is not finite.
pub(super) fn finite(number: f64) -> Option<f64> {
    number.is_finite().then_some(number)
}

pub(super) fn shown(text: &str) -> String {
    clean(text.as_bytes()).into_owned()
}

fn failed_job(failed: &Failed) -> Record {
    Record {
        schema: NAME,
        version: VERSION,
        tool: TOOL,
        job: job(&failed.name),
        material: Vec::new(),
        machine: None,
        hold_from: None,
        verdict: None,
        error: Some(Error {
            message: shown(&failed.message),
            help: shown(&failed.help),
        }),
        findings: Vec::new(),
        not_held: Vec::new(),
        concessions: Vec::new(),
        uses: None,
        declared: BTreeMap::new(),
        held_values: BTreeMap::new(),
        survey: None,
    }
}

fn checked_job(checked: &Checked) -> Record {
    let inspected = &checked.inspected;
    let not_held = |left: &finding::NotHeld| NotHeld {
        requirement: left.requirement,
        reason: shown(&left.reason),
    };
    Record {
        schema: NAME,
        version: VERSION,
        tool: TOOL,
        job: read_job(checked),
        material: materials(checked),
        machine: machine(checked),
        hold_from: Some(checked.hold_from),
        verdict: Some(checked.settlement.verdict),
        error: None,
        findings: findings(checked),
        not_held: inspected.not_held.iter().map(not_held).collect(),
        concessions: concessions(checked),
        uses: Some(uses(&inspected.uses)),
        declared: declared(&inspected.declared),
        held_values: inspected.values.clone(),
        survey: Some(Survey::of(&inspected.survey)),
    }
}

/// A job that was read.
pub(super) fn read_job(checked: &Checked) -> Job {
    let (inspected, stored) = (&checked.inspected, &checked.stored);
    Job {
        bytes: Some(stored.bytes_unpacked),
        stored_bytes: Some(stored.bytes_stored),
        packing: Some(stored.packing.word()),
        lines: Some(inspected.lines),
        ends_on: inspected.ends_on,
        unread: inspected.ends_on.map(|_| inspected.unread),
        digest: stored.digest_hex.clone(),
        ..job(&checked.name)
    }
}

/// A job of which nothing but its name is known.
pub(super) fn job(name: &Name) -> Job {
    let (path, path_bytes) = match name {
        Name::StandardInput => ("-".to_owned(), None),
        Name::Given(name) => (name.clone(), None),
        Name::Path(path) => match path.to_str() {
            Some(path) => (path.to_owned(), None),
            None => {
                let hex = path
                    .as_encoded_bytes()
                    .iter()
                    .map(|byte| format!("{byte:02x}"));
                (path.to_string_lossy().into_owned(), Some(hex.collect()))
            }
        },
    };
    Job {
        path,
        path_bytes,
        bytes: None,
        stored_bytes: None,
        packing: None,
        lines: None,
        ends_on: None,
        unread: None,
        digest: None,
    }
}

fn given(by: &NamedBy) -> Option<Given> {
    match by {
        NamedBy::CommandLine => Some(Given::CommandLine),
        NamedBy::Configuration => Some(Given::Configuration),
        NamedBy::Job { .. } => Some(Given::Job),
        NamedBy::Nobody(_) => None,
    }
}

pub(super) fn materials(checked: &Checked) -> Vec<Material> {
    let materials = &checked.held.materials;
    let is_one = materials.len() == 1;
    let named_by = given(&checked.material_by);
    let declared_on = match checked.material_by {
        NamedBy::Job { line } => Some(line),
        _ => None,
    };
    let each = materials
        .iter()
        .zip(0u32..)
        .filter_map(|(material, tool)| Some((material.as_ref()?, tool)));
    each.map(|(material, tool)| Material {
        tool: (!is_one).then_some(tool),
        name: shown(&material.name),
        origin: shown(&material.origin.to_string()),
        digest: material.digest.clone(),
        named_by,
        declared_on,
    })
    .collect()
}

pub(super) fn machine(checked: &Checked) -> Option<Machine> {
    checked.held.machine.as_ref().map(|machine| Machine {
        name: shown(&machine.name),
        origin: shown(&machine.origin.to_string()),
        digest: machine.digest.clone(),
        named_by: given(&checked.machine_by),
    })
}

pub(super) fn place(excerpt: &Excerpt) -> Place {
    Place {
        line: excerpt.place.line,
        byte: [excerpt.place.start, excerpt.place.end],
        column: excerpt.column(),
        text: clean(&excerpt.text).into_owned(),
    }
}

pub(super) fn limit(limit: &finding::Limit) -> Limit {
    Limit {
        value: finite(limit.value),
        unit: limit.unit,
        whose: shown(&limit.whose),
        source: limit.source.as_deref().map(shown),
        mark: limit.mark,
    }
}

pub(super) fn findings(checked: &Checked) -> Vec<Finding> {
    let one = |(index, found): (usize, &finding::Finding)| Finding {
        requirement: found.requirement,
        class: found.class,
        message: shown(&found.message),
        help: shown(&found.help),
        extent: Extent {
            count: found.extent.count,
            counts: found.extent.counts,
            first: found.extent.first.as_ref().map(place),
            last: found.extent.last.as_ref().map(place),
            worst: found.extent.worst.as_ref().map(|worst| place(&worst.at)),
        },
        limit: found.limit.as_ref().map(limit),
        amount: found.amount.and_then(finite),
        related: found
            .related
            .iter()
            .map(|(excerpt, note)| Related {
                place: place(excerpt),
                note: shown(note),
            })
            .collect(),
        conceded: checked.settlement.conceded(index),
    };
    checked
        .inspected
        .findings
        .iter()
        .enumerate()
        .map(one)
        .collect()
}

fn concessions(checked: &Checked) -> Vec<Concession> {
    let settlement = &checked.settlement;
    let of = |(index, concession): (usize, &crate::concession::Concession)| {
        let covers = settlement.conceded.iter().filter(|(_, by)| *by == index);
        let remarks = settlement
            .remarks
            .iter()
            .filter(|remarked| remarked.concession == index);
        Concession {
            index,
            requirement: shown(&concession.requirement),
            bound: concession.bound.map(|bound| bound.to_string()),
            reason: shown(&concession.reason),
            by: shown(&concession.by),
            until: concession.until.map(|until| until.to_string()),
            covers: covers.map(|(finding, _)| *finding).collect(),
            remarks: remarks
                .map(|remarked| ConcessionRemark {
                    kind: remarked.remark.word(),
                    message: remarked.remark.to_string(),
                })
                .collect(),
        }
    };
    let all = checked.concessions.iter().enumerate().map(of);
    all.filter(|concession| !concession.covers.is_empty() || !concession.remarks.is_empty())
        .collect()
}

fn uses(uses: &inspection::Uses) -> Uses {
    let setpoint = |tool: Option<u32>, setpoint: &inspection::Setpoint| Setpoint {
        tool,
        target: finite(setpoint.target),
        count: setpoint.count,
        line: setpoint.line,
        waits: setpoint.waits,
    };
    let plain =
        |list: &[inspection::Setpoint]| list.iter().map(|one| setpoint(None, one)).collect();
    Uses {
        hotend: uses
            .hotend
            .iter()
            .map(|(tool, one)| setpoint(Some(*tool), one))
            .collect(),
        bed: plain(&uses.bed),
        chamber: plain(&uses.chamber),
        tools: uses.tools.clone(),
        fan_mean: uses.fan_mean.and_then(finite),
        feed_most_mm_s: finite(uses.feed_most),
        macros: uses
            .macros
            .iter()
            .map(|(name, line)| Macro {
                name: shown(name),
                line: *line,
            })
            .collect(),
    }
}

/// Every setting that a job may declare, with its word.
const KEYS: [(Key, &str); 14] = [
    (Key::LayerHeight, "layer-height"),
    (Key::FirstLayerHeight, "first-layer-height"),
    (Key::FilamentDiameter, "filament-diameter"),
    (Key::NozzleDiameter, "nozzle-diameter"),
    (Key::Material, "material"),
    (Key::FilamentLengthMm, "filament-length-mm"),
    (Key::FilamentMassG, "filament-mass-g"),
    (Key::FilamentDensity, "filament-density"),
    (Key::Layers, "layers"),
    (Key::Walls, "walls"),
    (Key::InfillPercent, "infill-percent"),
    (Key::HotendTemperature, "hotend-temperature"),
    (Key::BedTemperature, "bed-temperature"),
    (Key::PrintTimeS, "print-time-s"),
];

fn declared(declared: &inspection::Declared) -> BTreeMap<String, Declared> {
    let one = |(key, word): (Key, &str)| {
        let (value, at) = declared.get(key)?;
        Some((
            word.to_owned(),
            Declared {
                value: shown(value),
                place: place(at),
            },
        ))
    };
    KEYS.into_iter().filter_map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The words are those that a key has elsewhere, and no key is left out.
    #[test]
    fn every_key_has_its_own_word() {
        for (key, word) in KEYS {
            assert_eq!(serde_json::to_value(key).unwrap(), word);
        }
        let mut words: Vec<&str> = KEYS.iter().map(|(_, word)| *word).collect();
        words.sort_unstable();
        words.dedup();
        assert_eq!(words.len(), KEYS.len());
    }

    #[cfg(unix)]
    #[test]
    fn a_path_that_is_not_utf8_is_kept_without_loss() {
        use std::os::unix::ffi::OsStringExt;
        let name = Name::Path(std::ffi::OsString::from_vec(b"lid\xb0.gcode".to_vec()));
        let job = job(&name);
        assert_eq!(job.path, "lid\u{fffd}.gcode");
        assert_eq!(job.path_bytes.as_deref(), Some("6c6964b02e67636f6465"));
    }
}
