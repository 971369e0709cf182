//! A sheet as rows of key, value and whose figure, for a reader.

use super::part::{Part, Row, Written, join};
use super::{Application, Control, Machine, Material};

impl Material {
    /// Everything the sheet says, in its own order.
    #[must_use]
    pub fn rows(&self) -> Vec<Row> {
        let mut rows = vec![plain("name", self.name.clone())];
        Part::rows(self, "", &mut rows);
        rows
    }
}

impl Machine {
    /// Everything the sheet says, in its own order; then what its control means by its words, the
    /// defaults included.
    #[must_use]
    pub fn rows(&self) -> Vec<Row> {
        let mut rows = vec![plain("name", self.name.clone())];
        Part::rows(self, "", &mut rows);
        control(&self.control, &mut rows);
        rows
    }
}

impl Application {
    /// Everything the sheet says, in its own order.
    #[must_use]
    pub fn rows(&self) -> Vec<Row> {
        let mut rows = vec![plain("name", self.name.clone())];
        Part::rows(self, "", &mut rows);
        rows
    }

    /// Finds what cannot be, or cannot both hold, as reading it from a file would.
    ///
    /// # Errors
    /// The first such thing, and what to do, each as a clause.
    pub fn contradiction(&self) -> Option<(String, String)> {
        super::check::application(self)
            .map(|clash| (format!("`{}`: {}", clash.key, clash.message), clash.help))
    }
}

fn plain(key: &str, value: String) -> Row {
    Row {
        key: key.to_owned(),
        value,
        source: None,
        mark: None,
    }
}

fn control(control: &Control, rows: &mut Vec<Row>) {
    let mut add = |key: &str, value: String| rows.push(plain(&join("control", key), value));
    add("dwell_p", control.dwell_p.written());
    add("g10", control.g10.written());
    add("g28", control.g28.written());
    if !control.program_ends.is_empty() {
        let words: Vec<&str> = control.program_ends.iter().map(|end| end.word()).collect();
        add("program_ends", words.join(", "));
    }
    add("tool_change", control.tool_change.written());
    add("fan_full", control.fan_full.written());
    for (key, flag) in [
        ("e_follows_g90", Some(control.e_follows_g90)),
        ("wait_r_cools", Some(control.wait_r_cools)),
        ("evaluates_braces", Some(control.evaluates_braces)),
        ("one_hotend", Some(control.one_hotend)),
        ("has_probing_words", control.has_probing_words),
        ("has_chamber_words", control.has_chamber_words),
        ("has_arcs", control.has_arcs),
        ("has_retract_words", control.has_retract_words),
    ] {
        if let Some(flag) = flag {
            add(key, flag.written());
        }
    }
    for (key, limit) in [
        ("longest_line", control.longest_line),
        ("segments_per_second", control.segments_per_second),
    ] {
        if let Some(limit) = limit {
            add(key, limit.written());
        }
    }
    for (key, limit) in [
        ("longest_dwell", control.longest_dwell),
        ("idle_timeout", control.idle_timeout),
    ] {
        if let Some(limit) = limit {
            add(key, limit.to_string());
        }
    }
    for (key, words) in [
        ("known_words", &control.known_words),
        ("lacks_words", &control.lacks_words),
    ] {
        if !words.is_empty() {
            add(key, words.join(", "));
        }
    }
    if let Some(rule) = &control.cornering {
        let mut parts = vec![rule.kind.to_string()];
        parts.extend(rule.deviation.map(|deviation| deviation.to_string()));
        parts.extend(rule.speed.map(|speed| speed.to_string()));
        for (axis, speed) in [("X", rule.x), ("Y", rule.y), ("Z", rule.z), ("E", rule.e)] {
            parts.extend(speed.map(|speed| format!("{axis} {speed}")));
        }
        add("cornering", parts.join(", "));
    }
    let held = control.acceleration;
    let mut parts = Vec::new();
    for (word, rate) in [
        ("print", held.print),
        ("travel", held.travel),
        ("retract", held.retract),
    ] {
        parts.extend(rate.map(|rate| format!("{word} {rate}")));
    }
    if !parts.is_empty() {
        add("acceleration", parts.join(", "));
    }
    for (name, does) in &control.macros {
        let mut parts = Vec::new();
        for (word, flag) in [
            ("homes", does.homes),
            ("levels", does.levels),
            ("primes", does.primes),
            ("waits", does.waits),
            ("ends", does.ends),
        ] {
            if flag {
                parts.push(word.to_owned());
            }
        }
        parts.extend(
            does.absolute_e
                .map(|absolute| format!("E {}", if absolute { "absolute" } else { "relative" })),
        );
        for (word, heat) in [
            ("hotend", &does.hotend),
            ("bed", &does.bed),
            ("chamber", &does.chamber),
        ] {
            parts.extend(heat.as_ref().map(|heat| format!("{word} {heat}")));
        }
        add(&join("macros", name), parts.join(", "));
    }
}

/// Everything a sheet says, as rows of key, value, source and mark.
#[must_use]
pub fn show(sheet: &Material) -> Vec<Row> {
    sheet.rows()
}

/// Everything a machine sheet says, as rows of key, value, source and mark.
#[must_use]
pub fn show_machine(sheet: &Machine) -> Vec<Row> {
    sheet.rows()
}
