//! Hotend, liner, bed, chamber and enclosure: what the material wants against what the machine reaches.

use super::figures::{plain, tenth};
use super::{Point, Question, Side, Standing};
use crate::inspection::SENSOR_SPREAD;
use crate::machine::Setup;
use crate::physics::chamber::Chamber;
use crate::quantity::{Celsius, Millimetres, Range};
use crate::sheet::{ChamberKind, Cited, DEFAULT_LINER_LIMIT, Machine, Material, Tool};

/// What a hotend may reach: its own limit or its liner's, the lower one.
struct Reach {
    at: Celsius,
    is_liner: bool,
    side: Side,
}

fn reach(q: &Question<'_>, machine: &Machine, tool: &Tool) -> Option<Reach> {
    let liner = tool.liner_limit().map(|at| {
        let cited = tool.liner_limit.clone().unwrap_or_else(|| {
            let source = "the usual limit of a polymer liner".to_owned();
            Cited::new(at, Some(source), crate::finding::SourceMark::Practice)
        });
        let text = format!("{} (liner)", q.heat(at));
        Reach {
            at,
            is_liner: true,
            side: Side::machine(machine, &q.tool_key("liner_limit"), &cited, text),
        }
    });
    let own = tool.limit.as_ref().map(|limit| Reach {
        at: limit.value,
        is_liner: false,
        side: Side::machine(machine, &q.tool_key("limit"), limit, q.heat(limit.value)),
    });
    match (own, liner) {
        (Some(own), Some(liner)) if own.at <= liner.at => Some(own),
        (own, liner) => liner.or(own),
    }
}

/// The hotend's range against its limit and its liner's.
pub(super) fn hotend(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "hotend";
    let machine = q.machine?;
    let Some(range) = &q.material.hotend.print else {
        return Some(Point::unsaid(ID, "material sheet", "hotend.print"));
    };
    let needs = Side::material(q.material, "hotend.print", range, q.heats(&range.value));
    let Some(tool) = q.tool() else {
        return Some(Point::unsaid(ID, "machine sheet", &q.tool_key("limit")).needs(needs));
    };
    let Some(reach) = reach(q, machine, tool) else {
        return Some(Point::unsaid(ID, "machine sheet", &q.tool_key("limit")).needs(needs));
    };
    let Range { least, most } = range.value;
    let room = (reach.at - least).get();
    let what = if reach.is_liner {
        "the liner"
    } else {
        "the hotend"
    };
    let (standing, says, action) = if room < -SENSOR_SPREAD {
        (
            Standing::Stops,
            short(q, &reach, least),
            Some(instead(&reach, q)),
        )
    } else if room < 0.0 {
        let says = format!(
            "{what} ends {} K below the range, about as far as sensors wander: it may flow and \
                 not bond",
            tenth(-room)
        );
        (Standing::Trial, says, Some(instead(&reach, q)))
    } else if room < SENSOR_SPREAD {
        let says = format!(
            "{what} allows only the lowest end of the range, {} K within it, and sensors wander by \
             ±{SENSOR_SPREAD} K",
            tenth(room)
        );
        if reach.is_liner {
            (Standing::Change, says, Some(instead(&reach, q)))
        } else {
            let action =
                "print slowly and at the limit, and test how the layers bond before you rely on it";
            (Standing::Trial, says, Some(action.to_owned()))
        }
    } else if reach.at < most {
        let says = format!(
            "it prints from {} up to {what}'s limit of {}; the rest of the range is out of reach",
            q.heat(least),
            q.heat(reach.at)
        );
        (Standing::Fits, says, None)
    } else {
        (
            Standing::Fits,
            format!("{what} reaches the whole range"),
            None,
        )
    };
    let mut point = Point::new(ID, standing, says)
        .needs(needs)
        .has(reach.side)
        .by(room, "K");
    point.action = action;
    Some(point)
}

/// Why a shortfall of the hotend stops it.
fn short(q: &Question<'_>, reach: &Reach, least: Celsius) -> String {
    let name = &q.material.name;
    let floor = q.material.hotend.extrusion_floor.as_ref();
    let too_cold = floor.is_some_and(|floor| reach.at < floor.value);
    let short = tenth((least - reach.at).get());
    let why = if too_cold {
        "it will not flow: the drive strips the filament, and what does come out will not bond"
    } else {
        "it flows badly, and its layers do not bond; printing slower does not make up for it"
    };
    format!("{short} K short of the least that {name} needs: {why}")
}

fn instead(reach: &Reach, q: &Question<'_>) -> String {
    let range = q.material.hotend.print.as_ref().map(|range| range.value);
    let wanted = range.map_or(reach.at, |range| range.least);
    if reach.is_liner {
        // A new hotend should have the whole range within reach.
        let wanted = range.map_or(reach.at, |range| range.most);
        format!(
            "fit a hotend without a liner, rated for {} or more; never run the liner hotter, its fumes \
             are harmful",
            q.heat(wanted)
        )
    } else {
        format!(
            "take a machine whose hotend is rated for {} or more, or a material that prints at {} or \
             below",
            q.heat(wanted),
            q.heat(reach.at)
        )
    }
}

/// Whether there is a liner, where it would matter and the sheet does not say.
pub(super) fn liner(q: &Question<'_>) -> Option<Point> {
    let tool = q.tool()?;
    let range = q.material.hotend.print.as_ref()?;
    let matters = range.value.least.get() > DEFAULT_LINER_LIMIT.get() - SENSOR_SPREAD;
    (tool.lined.is_none() && matters).then(|| {
        let says = format!(
            "the machine sheet does not say {}: a polymer liner would stand about {} only",
            q.tool_key("lined"),
            q.heat(DEFAULT_LINER_LIMIT)
        );
        let key = "hotend.print";
        Point::new("liner", Standing::Unknown, says)
            .needs(Side::material(q.material, key, range, q.heats(&range.value)))
            .action("look whether a tube of polymer reaches down to the nozzle, and say so in the machine sheet")
    })
}

/// The bed's range against its limit.
pub(super) fn bed(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "bed";
    let machine = q.machine?;
    let Some(range) = &q.material.bed.print else {
        return Some(Point::unsaid(ID, "material sheet", "bed.print"));
    };
    let needs = Side::material(q.material, "bed.print", range, q.heats(&range.value));
    let Some(limit) = &machine.bed.limit else {
        return Some(Point::unsaid(ID, "machine sheet", "bed.limit").needs(needs));
    };
    let has = Side::machine(machine, "bed.limit", limit, q.heat(limit.value));
    let Range { least, most } = range.value;
    let room = (limit.value - least).get();
    let point = if room < -SENSOR_SPREAD {
        let says = format!(
            "the bed is {} K short: the first layer lets go and the part warps",
            tenth(-room)
        );
        Point::new(ID, Standing::Stops, says).action(format!(
            "take a machine whose bed is rated for {} or more, or another material",
            q.heat(least)
        ))
    } else if room < SENSOR_SPREAD {
        Point::new(
            ID,
            Standing::Trial,
            "the bed reaches only the lowest end of the range, and its surface runs cooler than its sensor",
        )
        .action("measure the surface, and try with a small part and adhesive")
    } else if limit.value < most {
        Point::new(
            ID,
            Standing::Fits,
            format!("the bed reaches the range up to {}", q.heat(limit.value)),
        )
    } else {
        Point::new(ID, Standing::Fits, "the bed reaches the whole range")
    };
    Some(point.needs(needs).has(has).by(room, "K"))
}

fn kind(machine: &Machine) -> Option<&Cited<ChamberKind>> {
    machine.chamber.kind.as_ref()
}

const fn kind_in_words(kind: ChamberKind) -> &'static str {
    match kind {
        ChamberKind::None => "an open frame",
        ChamberKind::Closed => "a box that its bed warms",
        ChamberKind::Heated => "a box with a heater of its own",
    }
}

/// What the air of a closed box comes to with the bed at this temperature, and how long it takes to
/// `wanted`; by the first-order balance of `physics::chamber`.
struct Air {
    rest: f64,
    seconds: Option<f64>,
    /// Where it would end with walls that let half as much through.
    insulated: f64,
    /// What holds it at `wanted`, W.
    holding: Option<f64>,
}

fn air(machine: &Machine, bed: Celsius, wanted: Option<Celsius>) -> Option<Air> {
    let chamber = Setup::from_sheet(machine).chamber?;
    let rest = chamber.rest(bed.get())?;
    let seconds =
        wanted.and_then(|wanted| chamber.time_to(bed.get(), machine.ambient().get(), wanted.get()));
    let lagged = Chamber {
        wall_conductance: chamber.wall_conductance / 2.0,
        ..chamber
    };
    Some(Air {
        rest,
        seconds,
        insulated: lagged.rest(bed.get())?,
        holding: wanted.map(|wanted| chamber.holding_power(wanted.get())),
    })
}

/// How hot the bed is kept, within what the material wants: as somebody asks, or as hot as may be.
fn kept_bed(q: &Question<'_>, hottest: Celsius) -> Celsius {
    let (Some(asked), Some(range)) = (&q.application.print.bed, &q.material.bed.print) else {
        return hottest;
    };
    let within = asked.value.get().max(range.value.least.get());
    Celsius::new(within.min(hottest.get()))
}

/// The hottest the bed may be for this material on this machine.
fn hottest_bed(material: &Material, machine: &Machine) -> Option<Celsius> {
    let most = material.bed.print.as_ref()?.value.most;
    Some(match &machine.bed.limit {
        Some(limit) if limit.value < most => limit.value,
        _ => most,
    })
}

/// The air the material wants around the part against what the machine gives.
pub(super) fn chamber(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "chamber";
    let machine = q.machine?;
    let is_required = q.material.chamber.required.as_ref()?.value;
    let range = q.material.chamber.print.as_ref()?;
    let least = range.value.least;
    if !is_required && least <= machine.ambient() {
        return None;
    }
    let needs = Side::material(q.material, "chamber.print", range, q.heats(&range.value));
    let Some(kind) = kind(machine) else {
        return Some(Point::unsaid(ID, "machine sheet", "chamber.kind").needs(needs));
    };
    let shape = Side::machine(machine, "chamber.kind", kind, kind_in_words(kind.value));
    if kind.value == ChamberKind::None {
        if !is_required {
            // How large a part comes out in the open is the point `enclosure`.
            return None;
        }
        let says = format!(
            "{} splits and warps without warm air around it",
            q.material.name
        );
        return Some(
            Point::new(ID, Standing::Stops, says)
                .needs(needs)
                .has(shape)
                .action("take a machine with a heated chamber, or another material"),
        );
    }
    let limit = machine.chamber.limit.as_ref();
    if let Some(limit) = limit.filter(|limit| limit.value.get() < least.get() - SENSOR_SPREAD) {
        let room = (limit.value - least).get();
        let standing = if is_required {
            Standing::Stops
        } else {
            Standing::Trial
        };
        let says = format!(
            "the chamber is {} K short: large parts warp and split",
            tenth(-room)
        );
        return Some(
            Point::new(ID, standing, says)
                .needs(needs)
                .has(Side::machine(
                    machine,
                    "chamber.limit",
                    limit,
                    q.heat(limit.value),
                ))
                .by(room, "K")
                .action("keep parts small, or take a hotter chamber"),
        );
    }
    let reached = hottest_bed(q.material, machine).and_then(|hottest| {
        let bed = kept_bed(q, hottest);
        let of = |bed| air(machine, bed, Some(least));
        Some((bed, of(bed)?, (hottest, of(hottest)?)))
    });
    let Some((bed, air, (hottest, most))) = reached else {
        let point = if kind.value == ChamberKind::Heated && limit.is_some() {
            Point::new(ID, Standing::Fits, "the heated chamber reaches the range")
        } else {
            Point::unsaid(
                ID,
                "machine sheet",
                "chamber.wall_conductance and chamber.contents",
            )
        };
        return Some(point.needs(needs).has(shape));
    };
    let heated = kind.value == ChamberKind::Heated;
    // A heater that is never switched off would go on: its machine switches it off.
    let limit = limit.filter(|limit| heated && limit.value.get() < air.rest);
    let (room, has) = match limit {
        Some(limit) => (
            (limit.value - least).get(),
            Side::machine(
                machine,
                "chamber.limit",
                limit,
                format!("up to {}", q.heat(limit.value)),
            ),
        ),
        None => (
            air.rest - least.get(),
            Side::worked_out(
                q.heat(Celsius::new(air.rest.round())),
                format!(
                    "worked out from machine sheet {}, chamber and bed, with the bed at {}",
                    machine.name,
                    q.heat(bed)
                ),
            ),
        ),
    };
    // A limit that is more than a sensor wanders too low was told above.
    let is_reached = limit.is_some() || room >= 0.0;
    let point = match (is_reached, air.seconds) {
        (true, seconds) => {
            let says = match seconds.map(|seconds| (seconds / 60.0).ceil()) {
                Some(minutes) if minutes >= 1.0 => format!(
                    "{} brings the air to {} in about {} min",
                    if heated {
                        "the heater with the bed"
                    } else {
                        "the bed alone"
                    },
                    q.heat(least),
                    tenth(minutes)
                ),
                _ => format!("the air is at {} from the start", q.heat(least)),
            };
            let says = match air.holding.filter(|watts| *watts >= 1.0) {
                Some(watts) => format!("{says}; about {} W hold it there", tenth(watts.round())),
                None => says,
            };
            Point::new(ID, Standing::Fits, says)
                .action("let the box warm up before the part begins")
        }
        (false, _) => {
            let standing = if is_required {
                Standing::Stops
            } else {
                Standing::Trial
            };
            let says = format!(
                "{} brings the air to about {} and no higher, {} K short: small parts come out, large \
                 ones may warp",
                if heated {
                    "the heater with the bed"
                } else {
                    "the bed alone"
                },
                q.heat(Celsius::new(air.rest.round())),
                tenth(-room)
            );
            let hotter = if most.rest > air.rest + 1.0 {
                format!(
                    "; a bed at {} instead of {} brings it to about {}",
                    q.heat(hottest),
                    q.heat(bed),
                    q.heat(Celsius::new(most.rest.round()))
                )
            } else {
                String::new()
            };
            Point::new(ID, standing, says)
                .action(format!(
                "insulate the box (walls that let half as much through would bring it to about {}), without \
                 covering what must be cooled, and try the largest part first{hotter}",
                q.heat(Celsius::new(air.insulated.round()))
            ))
        }
    };
    Some(point.needs(needs).has(has).by(room, "K"))
}

/// Up to this many times the sheet's size a part is of medium size, beyond it is large (chosen).
const MEDIUM: f64 = 2.0;

/// Whether a part of this size needs an enclosure.
pub(super) fn enclosure(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "enclosure";
    let machine = q.machine?;
    let above = q.material.enclosure.needed_above.as_ref()?;
    let needs = Side::material(
        q.material,
        "enclosure.needed_above",
        above,
        format!("one for parts above {}", plain(above.value)),
    );
    let Some(kind) = kind(machine) else {
        return Some(Point::unsaid(ID, "machine sheet", "chamber.kind").needs(needs));
    };
    let has = Side::machine(machine, "chamber.kind", kind, kind_in_words(kind.value));
    if kind.value != ChamberKind::None {
        let says = "draughts stay out, at any size";
        return Some(
            Point::new(ID, Standing::Fits, says)
                .needs(needs)
                .has(has)
                .action("air it before reaching in: it holds fumes until it is opened"),
        );
    }
    let size = q
        .application
        .part
        .size
        .as_ref()
        .map(|size| (size, longest(size.value)));
    let point = match size {
        None => Point::new(
            ID,
            Standing::Told,
            format!(
                "in the open only parts up to {} come out; larger ones warp and split",
                plain(above.value)
            ),
        )
        .action("say how large the part is"),
        Some((_, longest)) if longest > above.value => {
            let class = if longest.get() > MEDIUM * above.value.get() {
                "large"
            } else {
                "of medium size"
            };
            let says = format!(
                "the part is {} at its longest side, {class} for {}: in the open it warps, and splits \
                 between layers",
                plain(longest),
                q.material.name
            );
            Point::new(ID, Standing::Change, says)
                .action("put the machine into an enclosure made for it, or split the part")
                .by((above.value - longest).get(), "mm")
        }
        Some((_, longest)) => {
            let says = format!("a part of {} comes out in the open", plain(longest));
            Point::new(ID, Standing::Fits, says).by((above.value - longest).get(), "mm")
        }
    };
    Some(point.needs(needs).has(has))
}

fn longest(size: [Millimetres; 3]) -> Millimetres {
    Millimetres::new(size.iter().map(|side| side.get()).fold(0.0, f64::max))
}

/// Whether a closed box gets too warm for a filament that softens before the hotend.
pub(super) fn warm_box(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "warm-box";
    let machine = q.machine?;
    let jams = q.material.chamber.jams_above.as_ref()?;
    let kind = kind(machine).filter(|kind| kind.value != ChamberKind::None)?;
    let bed = q.material.bed.print.as_ref()?.value.least;
    let needs = Side::material(
        q.material,
        "chamber.jams_above",
        jams,
        format!("air below {}", q.heat(jams.value)),
    );
    let air = air(machine, bed, None).map(|air| air.rest);
    let open = "leave door and lid open, and leave any chamber heater off";
    let point = match air {
        // Its heater is off for such a material; what the bed gives counts.
        Some(rest) if kind.value == ChamberKind::Closed && rest <= jams.value.get() => Point::new(
            ID,
            Standing::Fits,
            "even closed, the box stays cool enough for the filament",
        )
        .by(jams.value.get() - rest, "K"),
        Some(rest) if kind.value == ChamberKind::Closed => {
            let says = format!(
                "with the bed at {} a closed box warms to about {}: the filament softens before the hotend \
                 and jams",
                q.heat(bed),
                q.heat(Celsius::new(rest.round()))
            );
            Point::new(ID, Standing::Change, says)
                .action(open)
                .by(jams.value.get() - rest, "K")
        }
        _ => {
            let says = format!(
                "{} softens before the hotend and jams in a warm box",
                q.material.name
            );
            Point::new(ID, Standing::Change, says).action(open)
        }
    };
    let has = match air.filter(|_| kind.value == ChamberKind::Closed) {
        Some(rest) => Side::worked_out(
            q.heat(Celsius::new(rest.round())),
            format!(
                "worked out from machine sheet {}, chamber and bed",
                machine.name
            ),
        ),
        None => Side::machine(machine, "chamber.kind", kind, kind_in_words(kind.value)),
    };
    Some(point.needs(needs).has(has))
}
