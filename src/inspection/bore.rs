//! A nozzle's bore, the filament behind it, and limits that are a share of the bore.

use super::held::{limit, of_material};
use super::told::length;
use super::{End, Held};
use crate::command::hint::Key;
use crate::finding::{Limit, SourceMark};
use crate::physics::bead;
use crate::quantity::{Millimetres, Percent};
use crate::sheet::{Cited, Material};

/// What can be a bore at all, mm (chosen).
pub(super) const BORES: std::ops::RangeInclusive<f64> = 0.1..=3.0;

/// Why a share of the bore cannot be held.
pub(super) const UNKNOWN: &str =
    "neither the machine sheet says tools.bore nor the job its nozzle diameter";

/// A bore, mm, and whose figure it is.
#[derive(Debug, Clone)]
pub(super) struct Bore {
    pub mm: f64,
    whose: String,
    source: Option<String>,
    mark: SourceMark,
}

/// The bore of a tool's nozzle: the machine sheet's, or else what the job declares.
pub(super) fn bore(end: &End<'_>, tool: u32) -> Option<Bore> {
    let of_sheet = end.held.machine.as_deref().and_then(|machine| {
        let cited = end.held.tool(tool)?.bore.as_ref()?;
        Some(Bore {
            mm: cited.value.get(),
            whose: format!("machine sheet {}, tools.bore", machine.name),
            source: cited.source.clone(),
            mark: cited.mark,
        })
    });
    of_sheet.or_else(|| {
        let (list, _) = end.declared.sure(Key::NozzleDiameter)?;
        let values: Vec<&str> = list.split(',').collect();
        let value = match values.as_slice() {
            [one] => one,
            many => many.get(tool as usize)?,
        };
        Some(Bore {
            mm: length(value.trim(), BORES)?,
            whose: "the nozzle that the job declares".to_owned(),
            source: None,
            mark: SourceMark::Chosen,
        })
    })
}

/// A share of the bore, %: the material sheet's where it says one.
pub(super) struct Share<'a> {
    pub percent: f64,
    pub said: Option<(&'a Material, &'static str, &'a Cited<Percent>)>,
    /// How far the figure can be trusted where no sheet says one.
    pub mark: SourceMark,
}

impl<'a> Share<'a> {
    /// What the material sheet says under `key`, or else `percent`.
    pub fn of(
        material: Option<&'a Material>,
        key: &'static str,
        read: impl Fn(&'a Material) -> Option<&'a Cited<Percent>>,
        (percent, mark): (f64, SourceMark),
    ) -> Self {
        let said = material.and_then(|material| Some((material, key, read(material)?)));
        Self {
            percent: said.map_or(percent, |(.., share)| share.value.get()),
            said,
            mark,
        }
    }

    /// The share in mm.
    pub fn of_bore(&self, bore: &Bore) -> f64 {
        super::figures::tidy(bore.mm * self.percent / 100.0)
    }

    /// The share in mm as a finding's limit.
    pub fn limit(&self, bore: &Bore) -> Limit {
        let value = self.of_bore(bore);
        match self.said {
            Some((material, key, cited)) => {
                of_material(material, key, cited, Millimetres::new(value))
            }
            None => Limit {
                value,
                unit: "mm",
                whose: format!("{} % of {}", self.percent, bore.whose),
                source: bore.source.clone(),
                mark: match bore.mark {
                    // The less certain of the two.
                    SourceMark::Chosen => SourceMark::Chosen,
                    _ => self.mark,
                },
            },
        }
    }
}

/// The section of the filament that a tool takes, mm²: by the machine sheet, or else by the material
/// sheet.
pub(super) fn filament_area(held: &Held, tool: u32) -> Option<f64> {
    let of_tool = held
        .tool(tool)
        .and_then(|tool| tool.filament_diameter.as_ref());
    let of_material = || held.material(tool)?.filament_diameter.as_ref();
    let diameter = of_tool.or_else(of_material)?.value.get();
    Some(bead::filament_area(diameter))
}

/// Whether some sheet says what filament a tool takes; else why beads cannot be held.
pub(super) fn says_filament(held: &Held) -> Result<(), String> {
    let by_tool = held.machine.as_deref().is_some_and(|machine| {
        machine
            .tools
            .iter()
            .any(|tool| tool.filament_diameter.is_some())
    });
    let by_material = held
        .each_material()
        .any(|material| material.filament_diameter.is_some());
    if by_tool || by_material {
        Ok(())
    } else {
        Err("neither sheet says filament_diameter".to_owned())
    }
}

/// A limit that no sheet says, for a drive that a machine sheet names.
pub(super) fn by_practice(whose: String, value: f64, unit: &'static str) -> Limit {
    let cited = Cited::new(Percent::new(value), None, SourceMark::Practice);
    Limit {
        whose,
        ..limit("", "", &cited, value, unit)
    }
}
