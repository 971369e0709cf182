//! The report on a rework: what changes, hunk by hunk, with the figure behind it; what is left alone
//! and why; what is kept, in numbers; the verdict before and after.

use super::finding::whose;
use super::head::title;
use super::{COLUMN, uses};
use crate::edit::Hunk;
use crate::finding::Limit;
use crate::report::paint::{Look, Tone, cut};
use crate::report::reworked::{Changed, Output, Reworked};
use crate::report::{Checked, grouped, lasting, tidy};
use crate::rework::{Characteristic, NO_REWORK, Proposal, rework as rework_of};
use crate::survey::Pace;
use crate::text::{Bytes, clean};
use similar::{Algorithm, DiffTag, capture_diff_slices};

/// The whole report on a rework.
#[must_use]
pub fn rework(reworked: &Reworked, look: &Look) -> String {
    let mut text = String::new();
    head(reworked, look, &mut text);
    if let Some(change) = &reworked.change {
        hunks(reworked, change, look, &mut text);
    }
    left_alone(reworked, look, &mut text);
    if let Some(change) = &reworked.change {
        kept(reworked, change, look, &mut text);
    }
    verdicts(reworked, look, &mut text);
    if reworked.is_proven() {
        let before = text.len();
        uses::cautions(&reworked.before, look, &mut text);
        if text.len() == before {
            text.push('\n');
        }
        let caution = "stay with a reworked job at its first print, as with any new job; what is released \
                       here is no certificate, and local rules and the makers' instructions come first";
        look.entry(&mut text, (Tone::Doubt, "caution"), COLUMN, caution);
    }
    text
}

/// How many changes there are, as they are counted for a person.
pub(in crate::report) fn changes(reworked: &Reworked) -> String {
    let count = reworked.edits.len();
    let mut text = match (count, reworked.proposals.restate) {
        (0, _) => "checksums".to_owned(),
        (1, _) => "1 change".to_owned(),
        (count, _) => format!("{} changes", grouped(count as u64)),
    };
    if count > 0 && reworked.proposals.restate {
        text.push_str(" and checksums");
    }
    text
}

/// What became of it, and where the result is.
fn head(reworked: &Reworked, look: &Look, into: &mut String) {
    let name = title(&reworked.before.name);
    let is_held = !reworked.is_released();
    let (tone, word, said) = match &reworked.change {
        None if reworked.proposals.refusals.is_empty() => {
            let said = if is_held {
                "held, and no rework answers what holds it"
            } else {
                "released, with no finding that a rework answers"
            };
            let (tone, word) = if is_held {
                (Tone::Doubt, "left as it is")
            } else {
                (Tone::Good, "nothing to do")
            };
            (tone, word, said.to_owned())
        }
        None => {
            let verdict = if is_held { "held" } else { "released" };
            let said = format!("{verdict}, and nothing could be put right");
            (Tone::Doubt, "left as it is", said)
        }
        Some(change) => match &change.proof {
            Ok(_) => (
                Tone::Good,
                match (reworked.output == Output::Shown, reworked.repairs()) {
                    (true, false) => "to rework",
                    (false, false) => "reworked",
                    (true, true) => "to repair",
                    (false, true) => "repaired",
                },
                format!(
                    "{}, proven{}",
                    changes(reworked),
                    if is_held { "; held still" } else { "" }
                ),
            ),
            Err(_) => (Tone::Alarm, "not proven", "nothing is written".to_owned()),
        },
    };
    let plain = format!("{word}  {name}: {said}");
    if plain.chars().count() <= look.width {
        let painted = format!(
            "{}  {}: ",
            look.paint(tone, word),
            look.paint(Tone::Bold, &name)
        );
        into.push_str(&format!("{painted}{said}\n\n"));
    } else {
        let painted = format!(
            "{}  {}:",
            look.paint(tone, word),
            look.paint(Tone::Bold, &name)
        );
        into.push_str(&format!("{painted}\n  {said}\n\n"));
    }
    super::head::entries(&reworked.before, look, into);
    match &reworked.output {
        Output::Nothing => {}
        Output::Shown => look.entry(
            into,
            (Tone::Dim, "output"),
            COLUMN,
            "none: only the changes were asked for",
        ),
        Output::StandardOutput => {
            let text = if reworked.change.is_none() {
                "the standard output, the job as it is"
            } else {
                "the standard output"
            };
            look.entry(into, (Tone::Dim, "output"), COLUMN, text);
        }
        Output::File { name, kept, .. } => {
            let mut text = title(name);
            if reworked.change.is_none() {
                text.push_str(", the job as it is");
            }
            if let Some(kept) = kept {
                text.push_str(&format!("; the original is kept as {}", title(kept)));
            }
            look.entry(into, (Tone::Dim, "output"), COLUMN, &text);
        }
    }
    if let Some(Changed {
        proof: Err(unproven),
        ..
    }) = &reworked.change
    {
        let why = clean(unproven.0.as_bytes());
        look.entry(into, (Tone::Alarm, "why"), COLUMN, &why);
    }
}

/// Every hunk under the requirement it answers.
fn hunks(reworked: &Reworked, change: &Changed, look: &Look, into: &mut String) {
    let mut limit_before = None;
    for hunk in &change.hunks {
        into.push('\n');
        // Setpoints of one kind that change alike are said once.
        let mut said: Vec<&Proposal> = Vec::new();
        for index in reworked.of_hunk(hunk) {
            let Some(proposal) = reworked.proposals.list.get(index) else {
                continue;
            };
            let is_alike = |other: &&Proposal| {
                (
                    other.rework,
                    other.requirement,
                    &other.old,
                    &other.new,
                    &other.limit,
                ) == (
                    proposal.rework,
                    proposal.requirement,
                    &proposal.old,
                    &proposal.new,
                    &proposal.limit,
                )
            };
            if !said.iter().any(is_alike) {
                said.push(proposal);
                let speeds = reworked.speeds(hunk, index);
                reason(proposal, &speeds, limit_before, look, into);
                limit_before = proposal.limit.as_ref();
            }
        }
        unified(hunk, look, into);
    }
    if change.beyond > 0 {
        let more = format!("and {} more hunks", grouped(change.beyond));
        into.push_str(&format!("\n{}\n", look.paint(Tone::Dim, &more)));
    }
    if reworked.proposals.restate {
        let text = "every line's number and checksum is stated anew where it does not fit";
        into.push('\n');
        look.entry(into, (Tone::Bold, "checksums"), COLUMN, text);
    }
}

/// Speeds of one hunk: `60 → 45.3 mm/s`, or from the slowest to the fastest of many.
fn lowered(speeds: &[[f32; 2]]) -> String {
    let range = |which: usize| {
        let all = speeds.iter().filter_map(|pair| pair.get(which));
        let least = all.clone().copied().fold(f32::INFINITY, f32::min);
        let most = all.copied().fold(0.0, f32::max);
        let tenth = |speed: f32| tidy((f64::from(speed) * 10.0).round() / 10.0);
        let (least, most) = (tenth(least), tenth(most));
        if least == most {
            least
        } else {
            format!("{least} to {most}")
        }
    };
    format!("{} → {} mm/s", range(0), range(1))
}

/// The rework, the requirement, the values and the limit.
fn reason(
    proposal: &Proposal,
    speeds: &[[f32; 2]],
    before: Option<&Limit>,
    look: &Look,
    into: &mut String,
) {
    let is_repair = rework_of(proposal.rework).is_some_and(|rework| rework.is_repair);
    let rework = look.paint(Tone::Bold, proposal.rework);
    let repair = if is_repair { "repair: " } else { "" };
    into.push_str(&format!("{repair}{rework}, for {}\n", proposal.requirement));
    let has_speeds = || {
        proposal
            .changes
            .iter()
            .any(|change| change.speeds.is_some())
    };
    let values = match speeds {
        // The hunk holds nothing but the word behind the last lowered one.
        [] if has_speeds() => "the feed is as before from here on".to_owned(),
        [] => format!("{} → {}", proposal.old, proposal.new),
        speeds => lowered(speeds),
    };
    look.entry(into, (Tone::Dim, "value:"), 10, &clean(values.as_bytes()));
    if let Some(limit) = &proposal.limit {
        // Many hunks for one cause need its source once.
        let said = if before == Some(limit) {
            "as above".to_owned()
        } else {
            whose(limit)
        };
        look.entry(into, (Tone::Dim, "limit:"), 10, &said);
    }
}

/// A hunk in the unified form.
fn unified(hunk: &Hunk, look: &Look, into: &mut String) {
    let (head, lines) = unified_lines(hunk);
    into.push_str(&format!("{}\n", look.paint(Tone::Note, &head)));
    let mut line = |tone: Tone, mark: char, bytes: &[u8]| {
        let is_ended = bytes.ends_with(b"\n");
        let body = bytes.strip_suffix(b"\n").unwrap_or(bytes);
        // An ending CR is as the job has it, and no news.
        let body = body.strip_suffix(b"\r").unwrap_or(body);
        let shown = cut(&clean(body), look.width.saturating_sub(1).max(20));
        let text = format!("{mark}{shown}");
        into.push_str(look.paint(tone, text.trim_end()).as_str());
        into.push('\n');
        if !is_ended {
            into.push_str(&look.paint(Tone::Dim, "\\ no line ending at the end of the job"));
            into.push('\n');
        }
    };
    for (mark, bytes) in lines {
        let tone = match mark {
            '-' => Tone::Bad,
            '+' => Tone::Good,
            _ => Tone::Plain,
        };
        line(tone, mark, bytes);
    }
}

/// The head of a hunk, and its lines: ` ` stays, `-` goes, `+` comes.
pub(in crate::report) fn unified_lines(hunk: &Hunk) -> (String, Vec<(char, &[u8])>) {
    let (old, new) = (split(&hunk.old), split(&hunk.new));
    let head = format!(
        "@@ -{},{} +{},{} @@",
        hunk.old_line,
        old.len(),
        hunk.new_line,
        new.len()
    );
    let mut lines = Vec::new();
    for operation in capture_diff_slices(Algorithm::Myers, &old, &new) {
        let (tag, before, after) = operation.as_tag_tuple();
        let (before, after) = (
            old.get(before).unwrap_or_default(),
            new.get(after).unwrap_or_default(),
        );
        if tag == DiffTag::Equal {
            lines.extend(before.iter().map(|bytes| (' ', *bytes)));
        } else {
            lines.extend(before.iter().map(|bytes| ('-', *bytes)));
            lines.extend(after.iter().map(|bytes| ('+', *bytes)));
        }
    }
    (head, lines)
}

/// Lines with their endings.
fn split(bytes: &[u8]) -> Vec<&[u8]> {
    bytes.split_inclusive(|byte| *byte == b'\n').collect()
}

/// What is left alone, and why.
fn left_alone(reworked: &Reworked, look: &Look, into: &mut String) {
    let refusals = &reworked.proposals.refusals;
    if refusals.is_empty() {
        return;
    }
    into.push_str(&format!("\n{}\n", look.paint(Tone::Bold, "left alone")));
    for refusal in refusals {
        let of = match refusal.rework {
            NO_REWORK => String::new(),
            rework => format!("{rework}, "),
        };
        let text = format!("{of}for {}: {}", refusal.requirement, refusal.reason);
        look.entry(into, (Tone::Doubt, "·"), 4, &clean(text.as_bytes()));
    }
}

/// `heat, fan and feed`.
fn listed(words: &[&str]) -> String {
    match words {
        [most @ .., before, last] => {
            let most: String = most.iter().map(|word| format!("{word}, ")).collect();
            format!("{most}{before} and {last}")
        }
        _ => words.concat(),
    }
}

fn lasting_of(pace: &Pace) -> String {
    lasting(pace.seconds())
}

/// A characteristic as a person is told of it.
const fn words(characteristic: Characteristic) -> &'static str {
    match characteristic {
        Characteristic::Feed => "feeds of deposit",
        Characteristic::Travel => "feeds of travel",
        other => other.word(),
    }
}

/// What is kept, in numbers.
fn kept(reworked: &Reworked, change: &Changed, look: &Look, into: &mut String) {
    let Ok(proof) = &change.proof else {
        return;
    };
    into.push_str(&format!("\n{}\n", look.paint(Tone::Bold, "kept")));
    let mut add = |label: &str, text: &str| look.entry(into, (Tone::Dim, label), COLUMN, text);
    add(
        "path",
        &format!("{} moves, every one as it was", grouped(proof.moves)),
    );
    add(
        "deposit",
        &format!(
            "{} mm of filament in {} pushes, every one as it was",
            tidy((proof.pushed_mm * 1000.0).round() / 1000.0),
            grouped(proof.pushes)
        ),
    );
    let others: Vec<&str> = Characteristic::ALL
        .into_iter()
        .skip(2)
        .filter(|other| proof.kept.contains(other))
        .map(words)
        .collect();
    match others.as_slice() {
        [] => {}
        [one] => add("also", &format!("{one}, as it was")),
        many => add("also", &format!("{}, as they were", listed(many))),
    }
    let changed: Vec<&str> = Characteristic::ALL
        .into_iter()
        .filter(|other| !proof.kept.contains(other))
        .map(words)
        .collect();
    if !changed.is_empty() {
        let altered = if reworked.repairs() {
            ": a repair alters the print"
        } else {
            ""
        };
        add("changed", &format!("{}{altered}", listed(&changed)));
    }
    let lasts = |checked: &Checked| checked.inspected.survey.time.as_ref().ok().map(lasting_of);
    match (lasts(&reworked.before), lasts(&change.after)) {
        (Some(was), Some(is)) if was == is => add("time", &format!("{is}, as before")),
        (Some(was), Some(is)) => add("time", &format!("{was} before, {is} after")),
        _ => {}
    }
    let (was, is) = (
        &reworked.before.stored.bytes_unpacked,
        &change.after.stored.bytes_unpacked,
    );
    let bytes = if reworked.is_numbered {
        format!(
            "{} before, {} after; outside the changes only line numbers and checksums differ",
            Bytes(*was),
            Bytes(*is)
        )
    } else {
        format!(
            "{} before, {} after; outside the changes every byte is copied",
            Bytes(*was),
            Bytes(*is)
        )
    };
    add("bytes", &bytes);
}

/// The verdict before and after, and what holds the job still.
fn verdicts(reworked: &Reworked, look: &Look, into: &mut String) {
    into.push_str(&format!("\n{}\n", look.paint(Tone::Bold, "verdict")));
    let said = |checked: &Checked| {
        let verdict = checked.settlement.verdict;
        let counts = checked.counts_in_words();
        let counts = counts.as_deref().unwrap_or("no findings");
        format!("{}: {counts}", verdict.words())
    };
    let mut add = |text: String, label: &str| look.entry(into, (Tone::Dim, label), COLUMN, &text);
    match &reworked.change {
        None => add(said(&reworked.before), "as it is"),
        Some(change) => {
            add(said(&reworked.before), "before");
            if change.proof.is_ok() {
                add(said(&change.after), "after");
            }
        }
    }
    if let Some(Changed {
        proof: Ok(proof), ..
    }) = &reworked.change
        && !proof.gone.is_empty()
    {
        add(proof.gone.join(", "), "gone");
    }
    let holding: Vec<String> = reworked
        .holding()
        .iter()
        .map(|(id, class)| format!("{id} ({})", class.word()))
        .collect();
    if !holding.is_empty() {
        look.entry(into, (Tone::Alarm, "holding"), COLUMN, &holding.join(", "));
    }
}
