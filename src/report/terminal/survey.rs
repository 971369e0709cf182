//! A survey for a terminal: what a job builds and uses, with no requirement held.

use super::summary::together;
use super::{COLUMN, head, summary, walls};
use crate::report::paint::{Look, Tone};
use crate::report::plot::{Bound, Plot};
use crate::report::{Checked, grouped, layers, rounded, tidy};
use crate::survey::{Bead, Deposit, Row, Survey, ToolShare};

/// Narrower than this no plot can be read, in characters (chosen).
const PLOTS_FROM: usize = 60;

/// How high plots are, in lines (chosen).
const PLOT_ROWS: usize = 6;

/// The whole survey, with a row a layer where asked for, and loads along these axes, 0 to 2, where
/// sections were.
#[must_use]
pub fn survey(checked: &Checked, with_layers: bool, axes: &[usize], look: &Look) -> String {
    let survey = &checked.inspected.survey;
    let mut text = format!("{}\n", look.paint(Tone::Bold, &head::title(&checked.name)));
    head::sheets(checked, look, &mut text);
    text.push('\n');
    let mut add =
        |label: &str, entry: String| look.entry(&mut text, (Tone::Dim, label), COLUMN, &entry);
    for (label, entry) in summary::entries(survey, true) {
        add(label, entry);
    }
    if let Some([x, y, _]) = survey.size() {
        add(
            "size",
            format!(
                "footprint {} by {} mm, longest side {} mm",
                tidy(x),
                tidy(y),
                tidy(survey.longest_side().unwrap_or_default())
            ),
        );
    }
    for tool in &survey.tools {
        add(&goes_label(survey, tool), goes_into(tool));
        if let (Ok(left), Ok(mass)) = (&tool.spool_left, &tool.mass) {
            add("spool", spool(*left, *mass));
        }
    }
    if let Ok(grams) = survey.abrasive_g
        && grams > 0.0
    {
        add(
            "abrasive",
            format!("{} g that wear soft nozzles out", rounded(grams, 2)),
        );
    }
    if let Some(figures) = &survey.walls {
        for (label, entry) in walls::entries(figures) {
            add(label, entry);
        }
    }
    for (label, entry) in survey
        .walls
        .iter()
        .flat_map(|figures| walls::loads(figures, axes))
    {
        add(&label, entry);
    }
    add("bead", bead(survey));
    if let Ok(most) = survey.segments_per_s {
        add("segments", format!("{} a second at most", rounded(most, 0)));
    }
    add("retracted", drawn(survey));
    add("idle", idle(survey));
    if with_layers {
        text.push('\n');
        text.push_str(&layers::table(&survey.rows, look));
    }
    if look.width >= PLOTS_FROM {
        plots(checked, look, &mut text);
    }
    text
}

pub(in crate::report) fn goes_label(survey: &Survey, tool: &ToolShare) -> String {
    if survey.tools.len() > 1 {
        format!("goes T{}", tool.tool)
    } else {
        "goes into".to_owned()
    }
}

const fn class(class: Option<Deposit>) -> &'static str {
    match class {
        Some(Deposit::Part) => "part",
        Some(Deposit::Support) => "support",
        Some(Deposit::Raft) => "raft",
        Some(Deposit::Brim) => "brim",
        Some(Deposit::Skirt) => "skirt",
        Some(Deposit::Purge) => "purge",
        Some(Deposit::Tower) => "tower",
        None => "pushed in one place",
    }
}

pub(in crate::report) fn goes_into(tool: &ToolShare) -> String {
    let share = |share: &crate::survey::Share| {
        let mut text = format!("{} {} mm", class(share.class), rounded(share.filament, 2));
        if let Ok(mass) = &share.mass {
            text.push_str(&format!(" ({} g)", rounded(*mass, 2)));
        }
        text
    };
    tool.shares.iter().map(share).collect::<Vec<_>>().join(", ")
}

pub(in crate::report) fn spool(left: f64, mass: f64) -> String {
    let after = left - mass;
    if after < 0.0 {
        format!(
            "{} g left, {} g too little",
            rounded(left, 1),
            rounded(-after, 1)
        )
    } else {
        format!(
            "{} g left, {} g after this job",
            rounded(left, 1),
            rounded(after, 1)
        )
    }
}

pub(in crate::report) fn bead(survey: &Survey) -> String {
    let bead = match &survey.bead {
        Ok(bead) => bead,
        Err(why) => return summary::unknown(why),
    };
    let span = |bead: &Bead, scale: f64, decimals: usize| {
        let [least, usual, most] =
            [bead.least, bead.usual, bead.most].map(|width| rounded(width * scale, decimals));
        if least == most {
            most
        } else {
            format!("{usual} ({least} to {most})")
        }
    };
    let mut text = format!("{} mm wide", span(bead, 1.0, 2));
    if let Ok(share) = &survey.bead_share {
        text.push_str(&format!("; {} % of the bore", span(share, 100.0, 0)));
    }
    text
}

pub(in crate::report) fn drawn(survey: &Survey) -> String {
    let drawn = &survey.retractions;
    let mut parts = Vec::new();
    if drawn.count > 0 {
        let mut text = format!(
            "{} time{}, {} mm in all",
            grouped(drawn.count),
            if drawn.count == 1 { "" } else { "s" },
            rounded(drawn.total, 1)
        );
        if let Some((longest, line)) = drawn.longest {
            text.push_str(&format!(
                ", {} mm at most (line\u{a0}{})",
                tidy(longest),
                grouped(line)
            ));
        }
        if let Some((fastest, line)) = drawn.fastest {
            text.push_str(&format!(
                ", up to {} mm/s (line\u{a0}{})",
                rounded(fastest, 1),
                grouped(line)
            ));
        }
        if drawn.over_one_piece > 1 {
            text.push_str(&format!(
                ", up to {} times over one piece",
                grouped(drawn.over_one_piece.into())
            ));
        }
        parts.push(text);
    }
    if drawn.by_control > 0 {
        parts.push(format!(
            "{} times by the control's own settings",
            grouped(drawn.by_control)
        ));
    }
    if parts.is_empty() {
        "never".to_owned()
    } else {
        parts.join("; ")
    }
}

pub(in crate::report) fn idle(survey: &Survey) -> String {
    match &survey.idle {
        Err(why) => summary::unknown(why),
        Ok(idle) if idle.line == 0 => "the hot nozzle never waits for long".to_owned(),
        Ok(idle) => format!(
            "the hot nozzle waits {} at most (line\u{a0}{})",
            together(idle.seconds),
            grouped(idle.line)
        ),
    }
}

/// Flow, layer time and fan along the height, where they are known and there is a height.
fn plots(checked: &Checked, look: &Look, into: &mut String) {
    let rows = &checked.inspected.survey.rows;
    if rows.iter().count() < 3 {
        return;
    }
    let points = |from: usize, of: &dyn Fn(&Row) -> Option<f64>| -> Vec<(f64, f64)> {
        rows.iter()
            .skip(from)
            .filter_map(|row| Some((row.z, of(row)?)))
            .collect()
    };
    let flow = points(0, &|row| row.sustained_flow);
    // The first layer's time is that of heating and homing.
    let time = points(1, &|row| row.quickest);
    let fan = points(0, &|row| Some(row.fan * 100.0));
    let draw = |title: &str, points: &[(f64, f64)], limit: Option<Bound>, reach: Option<f64>| {
        Plot {
            title,
            points,
            limit,
            reach,
        }
        .drawn(look.width.saturating_sub(2), PLOT_ROWS)
    };
    let drawn = [
        draw(
            "flow over a second in mm³/s",
            &flow,
            flow_limit(checked).map(Bound::Most),
            None,
        ),
        draw(
            "layer time in s, the first left out",
            &time,
            time_limit(checked).map(Bound::Least),
            None,
        ),
        draw("part fan in %", &fan, None, Some(100.0)),
    ];
    for plot in drawn.iter().filter(|plot| !plot.is_empty()) {
        into.push('\n');
        for line in plot.lines() {
            into.push_str(&format!("  {line}\n"));
        }
    }
}

/// The tools that lay something.
pub(in crate::report) fn tools(checked: &Checked) -> impl Iterator<Item = u32> {
    checked.inspected.survey.tools.iter().map(|tool| tool.tool)
}

/// The lowest flow that a hotend or a material's sheet allows.
fn flow_limit(checked: &Checked) -> Option<f64> {
    let held = &checked.held;
    tools(checked)
        .flat_map(|tool| {
            let melts = held
                .tool(tool)
                .and_then(|tool| Some(tool.melt_rate.as_ref()?.value.get()));
            let flows = held
                .material(tool)
                .and_then(|material| Some(material.flow.most.as_ref()?.value.get()));
            [melts, flows]
        })
        .flatten()
        .reduce(f64::min)
}

/// The longest of the least layer times.
fn time_limit(checked: &Checked) -> Option<f64> {
    tools(checked)
        .filter_map(|tool| {
            let material = checked.held.material(tool)?;
            Some(material.layer.time_least.as_ref()?.value.get())
        })
        .reduce(f64::max)
}
