//! Contradictions of an application.

use super::{Clash, HEAT, clash, full, order, positive, value};
use crate::sheet::Application;

/// The first contradiction of an application.
pub(in crate::sheet) fn application(sheet: &Application) -> Option<Clash> {
    let service = &sheet.service;
    let whole = |key: &str, found: Option<Clash>| {
        found.map(|clash| Clash {
            key: key.to_owned(),
            message: clash.message.replace("full speed", "all of it"),
            ..clash
        })
    };
    order(
        ("service.continuous", value(&service.continuous)),
        ("service.short_term", value(&service.short_term)),
        HEAT,
    )
    .or_else(|| {
        whole(
            "room.humidity",
            full("room.humidity", value(&sheet.room.humidity)),
        )
    })
    .or_else(|| {
        whole(
            "batch.scrap",
            full("batch.scrap", value(&sheet.batch.scrap)),
        )
    })
    .or_else(|| positive("part.mass", sheet.part.mass.as_ref()))
    .or_else(|| positive("batch.spool", sheet.batch.spool.as_ref()))
    .or_else(|| positive("print.time", sheet.print.time.as_ref()))
    .or_else(|| positive("print.speed", sheet.print.speed.as_ref()))
    .or_else(|| {
        let size = value(&sheet.part.size)?;
        size.iter().any(|side| side.get() <= 0.0).then(|| {
            clash(
                "part.size",
                None,
                "a part has width, depth and height".into(),
                "write three lengths above zero",
            )
        })?
    })
    .or_else(|| {
        let [width, height] = value(&sheet.print.bead)?;
        (height.get() <= 0.0 || width < height).then(|| {
            let message = format!("a bead of {width} by {height} is narrower than it is high");
            clash(
                "print.bead",
                None,
                message,
                "write width, then height: [\"0.45 mm\", \"0.2 mm\"]",
            )
        })?
    })
    .or_else(|| {
        let room = value(&sheet.room.temperature)?;
        (room.get() < -30.0 || room.get() > 60.0).then(|| {
            clash(
                "room.temperature",
                None,
                format!("{room} is no room"),
                "write the temperature of the room, as \"23 °C\"",
            )
        })?
    })
}
