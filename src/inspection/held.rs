//! What a job is held against: a material for each tool, a machine.

use crate::finding::Limit;
use crate::machine::Setup;
use crate::quantity::{Celsius, Quantity, Range};
use crate::sheet::{Cited, Machine, Material, Tool};
use std::cmp::Ordering;
use std::sync::Arc;

/// Sensors wander, so that no temperature is held within this many kelvin of a sheet's limit
/// (chosen; a set point wanders by ±5 K in common practice).
pub const SENSOR_SPREAD: f64 = 5.0;

/// What a job is held against.
#[derive(Debug, Clone, Default)]
pub struct Held {
    /// The material of each tool, by tool number; one alone is that of every tool.
    pub materials: Vec<Option<Arc<Material>>>,
    /// The machine.
    pub machine: Option<Arc<Machine>>,
    /// Whether walls and infill are told as well: it takes longer.
    pub walls: bool,
    /// Whether what carries loads is told too; that tells walls as well.
    pub sections: bool,
}

/// A range up to the least of some limits, in words.
fn within(range: &Range<Celsius>, limits: [Option<Celsius>; 2]) -> String {
    let most =
        limits.into_iter().flatten().fold(
            range.most,
            |most, limit| {
                if limit < most { limit } else { most }
            },
        );
    match most.partial_cmp(&range.least) {
        Some(Ordering::Greater) => format!("{} to {most}", range.least),
        Some(Ordering::Equal) => format!("{} and no hotter", range.least),
        _ => format!("{} or more", range.least),
    }
}

impl Held {
    /// The material of a tool.
    #[must_use]
    pub fn material(&self, tool: u32) -> Option<&Material> {
        match self.materials.as_slice() {
            [one] => one.as_deref(),
            many => many.get(tool as usize)?.as_deref(),
        }
    }

    /// The lowest tool with this tool's material: what concerns a material is stated once.
    #[must_use]
    pub fn alike(&self, tool: u32) -> u32 {
        let Some(material) = self.material(tool) else {
            return tool;
        };
        (0..tool)
            .find(|other| {
                self.material(*other)
                    .is_some_and(|known| known.name == material.name)
            })
            .unwrap_or(tool)
    }

    /// Every material, with the tools it is for left out.
    pub fn each_material(&self) -> impl Iterator<Item = &Material> {
        self.materials.iter().flatten().map(AsRef::as_ref)
    }

    /// A tool of the machine.
    #[must_use]
    pub fn tool(&self, tool: u32) -> Option<&Tool> {
        self.machine.as_ref()?.tools.get(tool as usize)
    }

    /// What a tool's hotend may be set to in a material's range, in words: no hotter than itself and its liner
    /// stand.
    pub(super) fn hotend_within(&self, tool: u32, range: &Range<Celsius>) -> String {
        let tool = self.tool(tool);
        let limits = [
            tool.and_then(|tool| tool.limit.as_ref())
                .map(|limit| limit.value),
            tool.and_then(Tool::liner_limit),
        ];
        within(range, limits)
    }

    /// The same of the bed.
    pub(super) fn bed_within(&self, range: &Range<Celsius>) -> String {
        let machine = self.machine.as_ref();
        let limit = machine.and_then(|machine| machine.bed.limit.as_ref());
        within(range, [limit.map(|limit| limit.value), None])
    }

    /// The machine, or why it is not there.
    ///
    /// # Errors
    ///
    /// Where no machine is named.
    pub fn machine(&self) -> Result<&Machine, String> {
        self.machine
            .as_deref()
            .ok_or_else(|| "no machine is named".to_owned())
    }

    /// Whether time can be told; else why not.
    ///
    /// # Errors
    ///
    /// Where no machine is named, or its sheet does not say how it moves.
    pub fn timed(&self) -> Result<(), String> {
        let machine = self.machine()?;
        Setup::from_sheet(machine)
            .rates
            .map(|_| ())
            .map_err(str::to_owned)
    }

    /// Whether some material says something; else why the requirement cannot be held.
    ///
    /// # Errors
    ///
    /// Where no material is named, or none says `key`.
    pub fn says<T>(&self, key: &str, read: impl Fn(&Material) -> Option<&T>) -> Result<(), String> {
        if self.each_material().next().is_none() {
            return Err("no material is named".to_owned());
        }
        if self
            .each_material()
            .any(|material| read(material).is_some())
        {
            Ok(())
        } else {
            Err(format!("the material sheet does not say {key}"))
        }
    }

    /// The printer's setup.
    #[must_use]
    pub fn setup(&self) -> Setup {
        self.machine
            .as_deref()
            .map_or_else(Setup::default, Setup::from_sheet)
    }
}

/// A sheet's figure as a finding's limit.
pub(super) fn limit<T>(
    sheet: &str,
    key: &str,
    cited: &Cited<T>,
    value: f64,
    unit: &'static str,
) -> Limit {
    Limit {
        value,
        unit,
        whose: format!("{sheet}, {key}"),
        source: cited.source.clone(),
        mark: cited.mark,
    }
}

/// A figure of a material sheet as a limit.
pub(crate) fn of_material<T>(
    material: &Material,
    key: &str,
    cited: &Cited<T>,
    value: impl Quantity,
) -> Limit {
    let (value, unit) = figure(value);
    limit(
        &format!("material sheet {}", material.name),
        key,
        cited,
        value,
        unit,
    )
}

/// A figure of a machine sheet as a limit.
pub(super) fn of_machine<T>(
    machine: &Machine,
    key: &str,
    cited: &Cited<T>,
    value: impl Quantity,
) -> Limit {
    let (value, unit) = figure(value);
    limit(
        &format!("machine sheet {}", machine.name),
        key,
        cited,
        value,
        unit,
    )
}

fn figure<Q: Quantity>(value: Q) -> (f64, &'static str) {
    (value.figure(), Q::UNIT)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn advice_stays_below_what_the_machine_stands() {
        let range = Range {
            least: Celsius::new(240.0),
            most: Celsius::new(270.0),
        };
        for (limit, said) in [
            (None, "240 °C to 270 °C"),
            (Some(300.0), "240 °C to 270 °C"),
            (Some(255.0), "240 °C to 255 °C"),
            (Some(240.0), "240 °C and no hotter"),
            (Some(235.0), "240 °C or more"),
        ] {
            let said_of = within(&range, [None, limit.map(Celsius::new)]);
            assert_eq!(said_of.replace('\u{a0}', " "), said, "{limit:?}");
        }
    }
}
