//! Filament: how much of which tool goes where, and what it weighs and costs.

use super::stroke::Deposit;
use super::told::{Cost, Diameter, Share, Told, ToolShare};
use crate::machine::{State, mm};
use crate::physics::bead::{filament_area, mass};
use crate::quantity::Grams;
use crate::sheet::{Machine, Material};
use std::sync::Arc;

/// The most tools told apart; what further ones push counts with the last.
const TOOLS: usize = 32;

/// Every class of deposit, in the order they are told.
pub(super) const CLASSES: [Deposit; 7] = [
    Deposit::Part,
    Deposit::Support,
    Deposit::Raft,
    Deposit::Brim,
    Deposit::Skirt,
    Deposit::Purge,
    Deposit::Tower,
];

/// What this volume (mm³) of a material weighs, g. The volume is the job's: in another material it
/// stays, and the mass differs.
///
/// # Errors
///
/// Where the sheet does not say the density.
pub fn weigh(volume: f64, material: &Material) -> Told<f64> {
    match &material.density {
        Some(density) => Ok(mass(volume, density.value.get())),
        None => Err(format!("the material sheet {} does not say density", material.name).into()),
    }
}

/// What this volume (mm³) of a material costs.
///
/// # Errors
///
/// Where the sheet does not say the density or the price.
pub fn price(volume: f64, material: &Material) -> Told<Cost> {
    let grams = weigh(volume, material)?;
    match &material.price {
        Some(price) => Ok(Cost {
            amount: price.value.of(Grams::new(grams)),
            currency: price.value.currency().to_owned(),
        }),
        None => Err(format!("the material sheet {} does not say price", material.name).into()),
    }
}

/// The sheets that say what filament there is.
#[derive(Debug, Clone, Default)]
pub(super) struct Sheets {
    pub materials: Vec<Option<Arc<Material>>>,
    pub machine: Option<Arc<Machine>>,
}

impl Sheets {
    /// The material of a tool; one alone is that of every tool.
    pub fn material(&self, tool: u32) -> Option<&Material> {
        match self.materials.as_slice() {
            [one] => one.as_deref(),
            many => many.get(tool as usize)?.as_deref(),
        }
    }

    /// The diameter of a tool's filament, mm: by the machine sheet, which the flow is worked out by,
    /// or else by the material sheet.
    pub fn diameter(&self, tool: u32) -> Option<Diameter> {
        let machine = self.machine.as_ref().map(|machine| {
            let tools = &machine.tools;
            let tool = tools.get(tool as usize).or_else(|| tools.first());
            match tool.and_then(|tool| tool.filament_diameter.as_ref()) {
                Some(diameter) => Diameter {
                    mm: diameter.value.get(),
                    by: "machine sheet",
                },
                None => Diameter {
                    mm: 1.75,
                    by: "assumed",
                },
            }
        });
        machine.or_else(|| {
            let diameter = self.material(tool)?.filament_diameter.as_ref()?;
            Some(Diameter {
                mm: diameter.value.get(),
                by: "material sheet",
            })
        })
    }

    /// A tool's bore, mm.
    pub fn bore(&self, tool: u32) -> Option<f64> {
        let tool = self.machine.as_ref()?.tools.get(tool as usize)?;
        tool.bore.as_ref().map(|bore| bore.value.get())
    }
}

/// What a tool's filament goes into, flow factors included, mm.
#[derive(Debug, Clone, Copy, Default)]
struct Reel {
    factored: f64,
    by_class: [f64; CLASSES.len()],
}

/// Adds up what is pushed.
#[derive(Debug)]
pub(super) struct Pushed {
    reels: Vec<Reel>,
    /// Filament accounted for by tool, pm.
    settled: Vec<i64>,
    /// The tool and the flow factor since.
    tool: usize,
    flow: f64,
}

impl Default for Pushed {
    fn default() -> Self {
        Self {
            reels: Vec::new(),
            settled: Vec::new(),
            tool: 0,
            flow: 1.0,
        }
    }
}

impl Pushed {
    /// Takes a stroke's filament with the flow factor, mm.
    pub fn lay(&mut self, tool: u32, deposit: Deposit, laid: f64) {
        let class = CLASSES.iter().position(|class| *class == deposit);
        let reel = self.reel(tool as usize);
        if let Some(sum) = class
            .zip(reel)
            .and_then(|(class, reel)| reel.by_class.get_mut(class))
        {
            *sum += laid;
        }
    }

    fn reel(&mut self, tool: usize) -> Option<&mut Reel> {
        let tool = tool.min(TOOLS - 1);
        if self.reels.len() <= tool {
            self.reels.resize(tool + 1, Reel::default());
        }
        self.reels.get_mut(tool)
    }

    /// Something other than a motion happened: tool or flow factor may be another.
    #[inline]
    pub fn step(&mut self, state: &State) {
        let (tool, flow) = (state.tool() as usize, state.conditions.flow);
        if tool != self.tool || flow != self.flow {
            self.settle(state);
            self.tool = tool;
            self.flow = flow;
        }
    }

    /// Accounts for what was pushed since the last time.
    fn settle(&mut self, state: &State) {
        let Some(reel) = state.filament.get(self.tool) else {
            return;
        };
        if self.settled.len() <= self.tool {
            self.settled.resize(self.tool + 1, 0);
        }
        let flow = self.flow;
        if let Some(settled) = self.settled.get_mut(self.tool) {
            let pushed = reel.most.saturating_sub(*settled);
            *settled = reel.most;
            if let Some(reel) = self.reel(self.tool) {
                reel.factored += mm(pushed) * flow;
            }
        }
    }

    /// What every tool pushed, and what of it lies in the part, mm. `declared` is the diameter that
    /// the job itself states, mm.
    pub fn finish(
        mut self,
        state: &State,
        sheets: &Sheets,
        declared: Option<f64>,
    ) -> (Vec<ToolShare>, f64) {
        self.settle(state);
        let mut tools = Vec::new();
        let mut part = 0.0;
        for (tool, reel) in (0_u32..).zip(&self.reels) {
            if reel.factored <= 0.0 && reel.by_class.iter().all(|laid| *laid <= 0.0) {
                continue;
            }
            part += reel.by_class.first().copied().unwrap_or_default();
            let diameter = sheets.diameter(tool).or_else(|| {
                let volumetric = state.volumetric.map(|mm| (mm, "the job's M200"));
                let (mm, by) = volumetric.or(declared.map(|mm| (mm, "the job's comments")))?;
                Some(Diameter { mm, by })
            });
            let diameter: Told<Diameter> = diameter.ok_or_else(|| {
                "no machine is named, and nothing else says the filament's diameter".into()
            });
            let volume_of = |length: f64| match &diameter {
                Ok(diameter) => Ok(length * filament_area(diameter.mm)),
                Err(why) => Err(why.clone()),
            };
            let volume = volume_of(reel.factored);
            let material = sheets.material(tool);
            let with = |volume: &Told<f64>| -> Told<(f64, &Material)> {
                let volume = volume.clone()?;
                let material = material.ok_or_else(|| no_material(tool, &sheets.materials))?;
                Ok((volume, material))
            };
            let mass = with(&volume).and_then(|(volume, material)| weigh(volume, material));
            let cost = with(&volume).and_then(|(volume, material)| price(volume, material));
            let spool_left = match material {
                Some(material) => match &material.spool.left {
                    Some(left) => Ok(left.value.get()),
                    None => Err("the material sheet does not say spool.left".into()),
                },
                None => Err(no_material(tool, &sheets.materials)),
            };
            let mut shares: Vec<Share> = CLASSES
                .into_iter()
                .zip(reel.by_class)
                .filter(|(_, laid)| *laid > 0.0)
                .map(|(class, laid)| Share {
                    class: Some(class),
                    filament: laid,
                    volume: volume_of(laid),
                    mass: with(&volume_of(laid))
                        .and_then(|(volume, material)| weigh(volume, material)),
                })
                .collect();
            let laid: f64 = reel.by_class.iter().sum();
            let rest = reel.factored - laid;
            // Sums in another order differ in their last digits.
            if rest > 1e-6 * reel.factored.max(1.0) {
                shares.push(Share {
                    class: None,
                    filament: rest,
                    volume: volume_of(rest),
                    mass: with(&volume_of(rest))
                        .and_then(|(volume, material)| weigh(volume, material)),
                });
            }
            let is_abrasive = material
                .and_then(|material| material.nozzle.abrasive.as_ref())
                .map(|abrasive| abrasive.value);
            tools.push(ToolShare {
                tool,
                material: material.map(|material| material.name.clone()),
                is_abrasive,
                filament: state
                    .filament
                    .get(tool as usize)
                    .map_or(0.0, |reel| mm(reel.most)),
                factored: reel.factored,
                diameter,
                volume,
                mass,
                cost,
                spool_left,
                shares,
            });
        }
        (tools, part)
    }
}

fn no_material(tool: u32, materials: &[Option<Arc<Material>>]) -> std::borrow::Cow<'static, str> {
    if materials.is_empty() {
        "no material is named".into()
    } else {
        format!("no material is named for tool {tool}").into()
    }
}
