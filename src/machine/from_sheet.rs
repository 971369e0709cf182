//! From a machine sheet to what the machine needs to know.

use super::planner::{Corner, Rates};
use super::pm;
use super::setup::{Area, HeatModel, MacroMeaning, Setup, Span, ToolSetup};
use crate::command::{Dialect, DwellUnit, ToolChange};
use crate::physics::bead::filament_area;
use crate::physics::chamber::Chamber;
use crate::quantity::{Millimetres, MillimetresPerSecond, MillimetresPerSecondSquared, Seconds};
use crate::sheet::{self, BedShape, ChamberKind, Cited, G10Meaning, Machine, MacroHeat};

fn figure<T: Copy, N>(cited: &Option<Cited<T>>, read: impl Fn(T) -> N) -> Option<N> {
    cited.as_ref().map(|cited| read(cited.value))
}

fn point<const N: usize>(cited: &Option<Cited<[Millimetres; N]>>) -> Option<[i64; N]> {
    cited
        .as_ref()
        .map(|cited| cited.value.map(|length| pm(length.get())))
}

impl Setup {
    /// The setup that a machine sheet describes; what it does not say keeps its default.
    #[must_use]
    pub fn from_sheet(sheet: &Machine) -> Self {
        let plain = Self::default();
        let ambient = sheet.ambient().get();
        let tools: Vec<ToolSetup> = sheet
            .tools
            .iter()
            .map(|tool| tool_setup(tool, ambient))
            .collect();
        let home = point(&sheet.home);
        let height = figure(&sheet.height, Millimetres::get);
        Self {
            dialect: dialect(&sheet.control),
            area: area(&sheet.bed),
            reach: reach(sheet),
            axis_speed: [
                &sheet.speed.x,
                &sheet.speed.y,
                &sheet.speed.z,
                &sheet.speed.e,
            ]
            .map(|speed| figure(speed, |speed| speed.get())),
            rates: rates(sheet),
            homing: [
                (&sheet.allowance.homing.x, plain.homing[0]),
                (&sheet.allowance.homing.y, plain.homing[1]),
                (&sheet.allowance.homing.z, plain.homing[2]),
            ]
            .map(|(said, else_)| figure(said, Seconds::get).unwrap_or(else_)),
            probing: figure(&sheet.allowance.probing, Seconds::get).unwrap_or(plain.probing),
            tool_change: figure(&sheet.allowance.tool_change, Seconds::get)
                .unwrap_or(plain.tool_change),
            tools: if tools.is_empty() { plain.tools } else { tools },
            one_hotend: sheet.control.one_hotend,
            bed: model(
                figure(&sheet.bed.heating_rate, |rate| rate.get()),
                figure(&sheet.bed.time_constant, |tau| tau.get()),
                figure(&sheet.bed.reachable, |top| top.get()),
                ambient,
                HeatModel::BED,
            ),
            chamber: chamber(sheet, ambient),
            chamber_heater: (figure(&sheet.chamber.kind, |kind| kind) == Some(ChamberKind::Heated))
                .then_some(HeatModel::CHAMBER),
            homes_up: match (home, height) {
                (Some([_, _, z]), Some(height)) => z > pm(height / 2.0),
                _ => false,
            },
            longest_line: sheet
                .control
                .longest_line
                .map_or(plain.longest_line, |bytes| bytes as usize),
            home: home.unwrap_or(plain.home),
            ambient,
            part_fans: sheet.part_fans().to_vec(),
            macros: sheet
                .control
                .macros
                .iter()
                .map(|(name, told)| meaning(name, told))
                .collect(),
        }
    }
}

/// The limits that motion is planned within, where the sheet says enough for that.
fn rates(sheet: &Machine) -> Result<Rates, &'static str> {
    let speed = &sheet.speed;
    let speed = [&speed.x, &speed.y, &speed.z, &speed.e]
        .map(|said| figure(said, |speed| speed.get()).unwrap_or(f64::INFINITY));
    let axis = &sheet.acceleration;
    let axis = [&axis.x, &axis.y, &axis.z, &axis.e].map(|said| figure(said, |said| said.get()));
    let [Some(x), Some(y), ..] = axis else {
        return Err("the machine sheet does not say acceleration.x and acceleration.y");
    };
    let usual = x.min(y);
    let said = &sheet.control.acceleration;
    let along = |said: Option<MillimetresPerSecondSquared>| said.map(|said| said.get());
    Ok(Rates {
        speed,
        axis: axis.map(|said| said.unwrap_or(f64::INFINITY)),
        print: along(said.print).unwrap_or(usual),
        travel: along(said.travel).unwrap_or(usual),
        retract: along(said.retract).unwrap_or(axis[3].unwrap_or(usual)),
        corner: corner(sheet).ok_or("the machine sheet does not say control.cornering")?,
    })
}

fn corner(sheet: &Machine) -> Option<Corner> {
    let said = sheet.control.cornering?;
    let speed = |said: Option<MillimetresPerSecond>| said.map(|speed| speed.get());
    match said.kind {
        sheet::CorneringKind::Deviation => Some(Corner::Deviation(said.deviation?.get())),
        sheet::CorneringKind::Vector => Some(Corner::Vector(said.speed?.get())),
        sheet::CorneringKind::PerAxis => {
            let x = speed(said.x)?;
            let y = speed(said.y).unwrap_or(x);
            let other = |said| speed(said).unwrap_or(f64::INFINITY);
            Some(Corner::PerAxis([x, y, other(said.z), other(said.e)]))
        }
    }
}

fn dialect(control: &sheet::Control) -> Dialect {
    let ends = |word| control.program_ends.contains(&word);
    Dialect {
        dwell: match control.dwell_p {
            sheet::DwellUnit::Milliseconds => DwellUnit::Milliseconds,
            sheet::DwellUnit::Seconds => DwellUnit::Seconds,
        },
        g10_retracts: control.g10 == G10Meaning::Retract,
        fan_full: control.fan_full,
        tool: match control.tool_change {
            sheet::ToolChange::AtT => ToolChange::AtT,
            sheet::ToolChange::AtM6 => ToolChange::AtM6,
        },
        e_follows_g90: control.e_follows_g90,
        r_waits_for_cooling: control.wait_r_cools,
        g28_moves_home: control.g28 == sheet::G28Meaning::Move,
        m2_ends: ends(sheet::ProgramEnd::M2),
        m30_ends: ends(sheet::ProgramEnd::M30),
        fence_ends: ends(sheet::ProgramEnd::Fence),
    }
}

fn area(bed: &sheet::MachineBed) -> Option<Area> {
    if bed.shape() == Some(BedShape::Circle) {
        let diameter = figure(&bed.diameter, |length| pm(length.get()))?;
        let centre = point(&bed.centre).unwrap_or([0; 2]);
        return Some(Area::Disc { centre, diameter });
    }
    let [from_x, from_y] = point(&bed.printable_from)?;
    let [to_x, to_y] = point(&bed.printable_to)?;
    Some(Area::Rectangle {
        x: Span {
            least: from_x,
            most: to_x,
        },
        y: Span {
            least: from_y,
            most: to_y,
        },
    })
}

fn reach(sheet: &Machine) -> Option<[Span; 3]> {
    let from = point(&sheet.reach_from)?;
    let to = point(&sheet.reach_to)?;
    let mut spans = [Span { least: 0, most: 0 }; 3];
    for (span, (least, most)) in spans.iter_mut().zip(from.into_iter().zip(to)) {
        *span = Span { least, most };
    }
    Some(spans)
}

fn tool_setup(tool: &sheet::Tool, ambient: f64) -> ToolSetup {
    let diameter = figure(&tool.filament_diameter, Millimetres::get).unwrap_or(1.75);
    ToolSetup {
        offset: point(&tool.offset).unwrap_or([0; 3]),
        heat: model(
            figure(&tool.heating_rate, |rate| rate.get()),
            figure(&tool.time_constant, |tau| tau.get()),
            figure(&tool.reachable, |top| top.get()),
            ambient,
            HeatModel::HOTEND,
        ),
        filament_area: filament_area(diameter),
    }
}

/// Two of rate, time constant and rest give the third: rate = (rest − ambient) / tau.
fn model(
    rate: Option<f64>,
    tau: Option<f64>,
    rest: Option<f64>,
    ambient: f64,
    plain: HeatModel,
) -> HeatModel {
    match (rate, tau, rest) {
        (_, Some(tau), Some(rest)) => HeatModel {
            full_power_rest: rest,
            tau,
        },
        (Some(rate), Some(tau), None) => HeatModel {
            full_power_rest: ambient + rate * tau,
            tau,
        },
        (Some(rate), None, Some(rest)) if rate > 0.0 => HeatModel {
            full_power_rest: rest,
            tau: (rest - ambient) / rate,
        },
        (Some(rate), None, None) if rate > 0.0 => HeatModel {
            full_power_rest: plain.full_power_rest,
            tau: (plain.full_power_rest - ambient) / rate,
        },
        (None, Some(tau), None) => HeatModel { tau, ..plain },
        (None, None, Some(rest)) => HeatModel {
            full_power_rest: rest,
            ..plain
        },
        _ => plain,
    }
}

fn chamber(sheet: &Machine, ambient: f64) -> Option<Chamber> {
    let walls = figure(&sheet.chamber.wall_conductance, |walls| walls.get())?;
    let capacity = figure(&sheet.chamber.contents, |contents| contents.get())?;
    Some(Chamber {
        bed_conductance: figure(&sheet.bed.conductance, |bed| bed.get()).unwrap_or(0.0),
        bed_power: figure(&sheet.bed.power, |power| power.get()),
        heater_power: figure(&sheet.chamber.power, |power| power.get()).unwrap_or(0.0),
        wall_conductance: walls,
        capacity,
        ambient,
    })
}

fn meaning(name: &str, told: &sheet::Macro) -> MacroMeaning {
    let heat = |heat: &Option<MacroHeat>| {
        heat.as_ref().map(|heat| match heat {
            MacroHeat::Parameter(name) => name.clone(),
            MacroHeat::Fixed(temperature) => temperature.get().to_string(),
        })
    };
    MacroMeaning {
        name: name.to_ascii_uppercase(),
        homes: told.homes,
        levels: told.levels,
        primes: told.primes,
        ends: told.ends,
        waits: told.waits,
        hotend: heat(&told.hotend),
        bed: heat(&told.bed),
        chamber: heat(&told.chamber),
        absolute_e: told.absolute_e,
    }
}
