//! The job was sliced for another material than it is held against.

use super::again::Stored;
use super::told::told_otherwise;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::hint::Key;
use crate::finding::{Class, Extent, Finding};
use crate::sheet::{Material, library};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "material-differs",
    class: Class::Major,
    page: include_str!("material_differs.md"),
    wants: Wants::END,
    // A comment is a hint: what the job really sets is still held against the sheet that was named.
    silences: &[],
    make,
};

struct MaterialDiffers;

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    if held.each_material().next().is_none() {
        return Err("no material is named".to_owned());
    }
    Ok(Box::new(MaterialDiffers))
}

/// Whether a declared word may well mean this material: it does unless every library material that
/// answers to the word is another.
fn fits(held: &Held, tool: u32, word: &str) -> bool {
    held.material(tool)
        .is_none_or(|material| means(material, word))
}

fn means(material: &Material, word: &str) -> bool {
    if material.answers_to(word) {
        return true;
    }
    let mut named = library::materials()
        .iter()
        .filter(|known| known.answers_to(word))
        .peekable();
    // A word of the trade that the library does not know says nothing.
    named.peek().is_none() || named.any(|known| may_be(material, known))
}

/// Whether a sheet may be one of the material `known`: its own name, its base, or a grade of it with
/// something added (`PA6` is said of a spool of `PA6-CF`).
fn may_be(material: &Material, known: &Material) -> bool {
    let names = [Some(&material.name), material.from.as_ref()];
    let is_known = library::materials()
        .iter()
        .any(|sheet| names.iter().flatten().any(|name| sheet.answers_to(name)));
    if !is_known {
        // A sheet of one's own, for something the library lacks: only its family tells.
        return material.family.is_none() || material.family == known.family;
    }
    names.into_iter().flatten().any(|name| {
        let plain = name.split('-').next().unwrap_or(name);
        known.answers_to(name) || known.name.eq_ignore_ascii_case(plain)
    })
}

impl Inspection for MaterialDiffers {
    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        for told in told_otherwise(end, Key::Material, fits) {
            let Some(material) = end.held.material(told.tool) else {
                continue;
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Major,
                message: format!(
                    "the job declares {}, and tool {} is held against {}",
                    told.value, told.tool, material.name
                ),
                help: format!(
                    "hold the job against the material it was sliced for, or slice it for {}",
                    material.name
                ),
                limit: None,
                amount: None,
                extent: Extent::once(told.at.clone()),
                related: Vec::new(),
            });
        }
    }
}

/// The class of its finding under a sheet, on the first tool.
pub(super) fn anew(stored: &Stored<'_>, material: &Material) -> Option<Option<Class>> {
    let Some(declared) = stored.declared else {
        return Some(None);
    };
    // What else is stored is not what stood in the job.
    if !declared.bytes().all(|byte| matches!(byte, b' '..=b'~')) {
        return None;
    }
    let word = declared.split([',', ';']).next().unwrap_or_default().trim();
    Some((!means(material, word)).then_some(Class::Major))
}
