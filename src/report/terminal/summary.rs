//! The survey in a few entries: time, filament, layers, part, flow.

use crate::report::{grouped, lasting, rounded, tidy};
use crate::survey::{Cost, Pace, Survey, Told};
use crate::text::clean;
use std::borrow::Cow;

/// Label and text of each entry. That a sheet has no price is said only where a survey is `asked` for.
pub(in crate::report) fn entries(survey: &Survey, asked: bool) -> Vec<(&'static str, String)> {
    let mut entries = vec![
        ("time", time(survey)),
        ("filament", filament(survey, asked)),
        ("layers", layers(survey)),
    ];
    if let Some([x, y, z]) = survey.part {
        let span = |[least, most]: [f64; 2]| format!("{} to {}", tidy(least), tidy(most));
        entries.push((
            "part",
            format!("X {}, Y {}, Z {} mm", span(x), span(y), span(z)),
        ));
    }
    // Where there is no time there is no flow: said once.
    if let Ok(flow) = &survey.flow {
        let text = format!(
            "at most {} mm³/s in the part, {} mm³/s over any second",
            rounded(flow.peak, 1),
            rounded(flow.sustained, 1)
        );
        entries.push(("flow", text));
    }
    entries
}

/// A stretch of time that is not broken at a line's end.
pub(super) fn together(seconds: f64) -> String {
    lasting(seconds).replace(' ', "\u{a0}")
}

pub(super) fn unknown(why: &str) -> String {
    format!("unknown: {}", clean(why.as_bytes()))
}

fn time(survey: &Survey) -> String {
    let pace = match &survey.time {
        Ok(pace) => pace,
        Err(why) => return unknown(why),
    };
    let parts: Vec<String> = parts(pace)
        .into_iter()
        .filter(|(_, seconds)| *seconds >= 0.5)
        .map(|(label, seconds)| format!("{label} {}", together(seconds)))
        .collect();
    let whole = together(pace.seconds());
    let mut text = if parts.is_empty() {
        whole
    } else {
        format!("{whole}: {}", parts.join(", "))
    };
    if let Some(word) = &survey.own_limits {
        text += &format!(
            "; by the machine sheet's limits, since only the job's own control knows those that {} \
             sets",
            clean(word.as_bytes())
        );
    }
    text
}

/// Where the time goes.
fn parts(pace: &Pace) -> [(&'static str, f64); 5] {
    [
        ("printing", pace.print),
        ("travel", pace.travel),
        ("retraction", pace.retract),
        ("heating", pace.heating),
        ("waiting", pace.waiting),
    ]
}

fn filament(survey: &Survey, asked: bool) -> String {
    let mut text = format!("{} mm", rounded(survey.filament_mm, 2));
    let by_tool: Vec<String> = survey
        .filament_by_tool_mm
        .iter()
        .enumerate()
        .filter(|(_, length)| **length > 0.0)
        .map(|(tool, length)| format!("T{tool} {} mm", rounded(*length, 2)))
        .collect();
    if by_tool.len() > 1 {
        text.push_str(&format!(" ({})", by_tool.join(", ")));
    }
    let factored = survey.filament_factored_mm;
    if (factored - survey.filament_mm).abs() > 1e-4 * survey.filament_mm {
        text.push_str(&format!(
            ", {} mm with the flow factor",
            rounded(factored, 2)
        ));
    }
    if survey.tools.is_empty() {
        return text;
    }
    let told: [(&str, Told<String>); 3] = [
        (
            "volume",
            survey
                .volume_mm3
                .clone()
                .map(|volume| format!("{} cm³", rounded(volume / 1000.0, 2))),
        ),
        (
            "mass",
            survey
                .mass_g
                .clone()
                .map(|mass| format!("{} g", rounded(mass, 2))),
        ),
        ("cost", survey.cost.clone().map(|cost| money(&cost))),
    ];
    let mut missing: Vec<(Cow<'static, str>, Vec<&str>)> = Vec::new();
    for (what, told) in told {
        match told {
            Ok(known) => text.push_str(&format!(", {known}")),
            Err(_) if what == "cost" && survey.mass_g.is_ok() && !asked => {}
            Err(why) => match missing.iter_mut().find(|(known, _)| *known == why) {
                Some((_, whats)) => whats.push(what),
                None => missing.push((why, vec![what])),
            },
        }
    }
    for (reason, whats) in missing {
        text.push_str(&format!(
            "; {} unknown: {}",
            match whats.as_slice() {
                [one, other, last] => format!("{one}, {other} and {last}"),
                whats => whats.join(" and "),
            },
            clean(reason.as_bytes())
        ));
    }
    text
}

/// An amount of money.
pub(super) fn money(cost: &Cost) -> String {
    let currency = clean(cost.currency.as_bytes());
    format!("{:.2} {currency}", cost.amount)
}

fn layers(survey: &Survey) -> String {
    let mut text = match &survey.layers {
        Ok(count) => grouped(*count),
        Err(why) => unknown(why),
    };
    if let Some(first) = survey.first_layer_mm {
        text.push_str(&format!(", the first {} mm high", tidy(first)));
        if let Ok(speed) = &survey.first_layer_speed {
            text.push_str(&format!(" at up to {} mm/s", rounded(*speed, 1)));
        }
    }
    if let Ok(quick) = &survey.quickest {
        text.push_str(&format!(
            ", the quickest takes {} (Z\u{a0}{} mm)",
            together(quick.seconds),
            tidy(quick.z)
        ));
    }
    text
}
