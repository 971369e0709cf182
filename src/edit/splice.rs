//! The one splice: blocks of whole lines go in, the job as it becomes comes out.

use super::hunk::{Hunk, Hunks};
use super::plan::{Edit, Plan};
use super::restate::Restate;

/// What a splice came to.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Spliced {
    /// What changed, with the lines around.
    pub hunks: Vec<Hunk>,
    /// Hunks beyond the most that are kept.
    pub beyond: u64,
    /// An edit that does not lie within one line: the plan does not fit these bytes, and what came
    /// out is not to be used.
    pub misfit: bool,
}

/// Applies a plan to a job that passes in blocks of whole lines.
#[derive(Debug)]
pub struct Splice<'a> {
    plan: &'a Plan,
    next: usize,
    /// Bytes passed.
    at: u64,
    restate: Option<Restate>,
    /// Whether anything has changed yet.
    has_changed: bool,
    hunks: Hunks,
    misfit: bool,
    ending: &'static str,
    line: Vec<u8>,
}

impl<'a> Splice<'a> {
    /// Before the first block; `numbered` where the job's lines have numbers or checksums, which are
    /// then stated anew from the first change on, or all of them (`restate`).
    #[must_use]
    pub fn new(plan: &'a Plan, numbered: bool, restate: bool) -> Self {
        Self {
            plan,
            next: 0,
            at: 0,
            restate: numbered.then(Restate::default),
            has_changed: restate,
            hunks: Hunks::default(),
            misfit: false,
            ending: "\n",
            line: Vec::new(),
        }
    }

    fn upcoming(&self) -> Option<&'a Edit> {
        self.plan.edits().get(self.next)
    }

    /// Takes a block of whole lines.
    pub fn block(&mut self, block: &[u8], out: &mut impl FnMut(&[u8])) {
        let end = self.at + block.len() as u64;
        // What is put in behind the last line ends as the lines before it.
        if let Some(last) = memchr::memrchr(b'\n', block) {
            let is_crlf = last > 0 && block.get(last - 1) == Some(&b'\r');
            self.ending = if is_crlf { "\r\n" } else { "\n" };
        }
        let is_calm = self
            .upcoming()
            .is_none_or(|edit| !reaches(edit, block, end));
        if is_calm && self.restate.is_none() && !self.hunks.wants_lines() {
            out(block);
            self.hunks
                .pass(block, memchr::memchr_iter(b'\n', block).count() as u64);
            self.at = end;
            return;
        }
        let mut rest = block;
        while !rest.is_empty() {
            // As far as the next edit's line nothing changes.
            let calm = match self.upcoming() {
                Some(edit) => {
                    let until =
                        (edit.change.range.start.saturating_sub(self.at) as usize).min(rest.len());
                    let head = rest.get(..until).unwrap_or_default();
                    if !reaches(edit, rest, end) {
                        until
                    } else {
                        memchr::memrchr(b'\n', head).map_or(0, |end| end + 1)
                    }
                }
                None => rest.len(),
            };
            if calm > 0 && self.restate.is_none() && !self.hunks.wants_lines() {
                let (head, tail) = rest.split_at(calm);
                out(head);
                self.hunks
                    .pass(head, memchr::memchr_iter(b'\n', head).count() as u64);
                self.at += calm as u64;
                rest = tail;
                continue;
            }
            let len = memchr::memchr(b'\n', rest).map_or(rest.len(), |end| end + 1);
            let (line, tail) = rest.split_at(len);
            if calm >= len {
                self.unchanged(line, out);
            } else {
                self.changed(line, out);
            }
            self.at += len as u64;
            rest = tail;
        }
    }

    /// The job has ended: what is put in behind its last line comes out.
    pub fn finish(mut self, out: &mut impl FnMut(&[u8])) -> Spliced {
        if self.upcoming().is_some() {
            self.changed(b"", out);
        }
        Spliced {
            misfit: self.misfit || self.upcoming().is_some(),
            hunks: self.hunks.finish(),
            beyond: self.hunks.beyond,
        }
    }

    fn unchanged(&mut self, line: &[u8], out: &mut impl FnMut(&[u8])) {
        match &mut self.restate {
            Some(restate) if self.has_changed => {
                let now = restate.line(line, false);
                out(now);
                if now == line {
                    self.hunks.same(line);
                } else {
                    // A line whose number alone changed opens no hunk of its own.
                    self.hunks.same(now);
                }
            }
            Some(restate) => {
                restate.note(line);
                out(line);
                self.hunks.same(line);
            }
            None => {
                out(line);
                self.hunks.same(line);
            }
        }
    }

    /// A line that edits change, or the job's end.
    fn changed(&mut self, line: &[u8], out: &mut impl FnMut(&[u8])) {
        self.has_changed = true;
        if line.ends_with(b"\r\n") {
            self.ending = "\r\n";
        }
        let (start, end) = (self.at, self.at + line.len() as u64);
        let first = self.next;
        let mut text = std::mem::take(&mut self.line);
        text.clear();
        let mut at = start;
        // Lines put in before this one.
        let mut before = 0;
        while let Some(edit) = self.upcoming() {
            let range = &edit.change.range;
            let begins_here = reaches(edit, line, end) || (line.is_empty() && range.start == end);
            if !begins_here {
                break;
            }
            if range.start < at || range.end > end {
                self.misfit = true;
                self.next += 1;
                continue;
            }
            let kept = line.get((at - start) as usize..(range.start - start) as usize);
            text.extend_from_slice(kept.unwrap_or_default());
            for (index, part) in edit.change.text.split('\n').enumerate() {
                if index > 0 {
                    text.extend_from_slice(self.ending.as_bytes());
                }
                text.extend_from_slice(part.as_bytes());
            }
            if range.start == start {
                before += edit.change.text.matches('\n').count();
            }
            at = range.end;
            self.next += 1;
        }
        text.extend_from_slice(line.get((at - start) as usize..).unwrap_or_default());
        let mut stated = Vec::new();
        let now: &[u8] = match &mut self.restate {
            Some(restate) => {
                for (index, one) in text.split_inclusive(|byte| *byte == b'\n').enumerate() {
                    let is_new = line.is_empty() || index != before;
                    stated.extend_from_slice(restate.line(one, is_new));
                }
                &stated
            }
            None => &text,
        };
        out(now);
        let lines = now.split_inclusive(|byte| *byte == b'\n').count() as u64;
        self.hunks.change(line, now, lines, first..self.next);
        self.line = text;
    }
}

/// Whether an edit touches a line or block that ends at `end`. What is put in behind a last line that
/// has no ending belongs to that line.
fn reaches(edit: &Edit, bytes: &[u8], end: u64) -> bool {
    let is_open = !matches!(bytes.last(), None | Some(b'\n' | b'\r'));
    let start = edit.change.range.start;
    start < end || (start == end && is_open)
}

#[cfg(test)]
mod tests {
    use super::super::{Change, Draft};
    use super::*;
    use proptest::prelude::*;

    fn spliced(
        job: &[u8],
        changes: &[(std::ops::Range<u64>, &str)],
        numbered: bool,
    ) -> (String, Spliced) {
        let mut draft = Draft::default();
        for (range, text) in changes {
            draft.propose([Change::new(1, range.clone(), (*text).to_owned())]);
        }
        let plan = draft.settle();
        let mut out = Vec::new();
        let mut splice = Splice::new(&plan, numbered, false);
        splice.block(job, &mut |bytes| out.extend_from_slice(bytes));
        let done = splice.finish(&mut |bytes| out.extend_from_slice(bytes));
        (String::from_utf8(out).unwrap(), done)
    }

    fn at(job: &str, what: &str) -> std::ops::Range<u64> {
        let from = job.find(what).unwrap() as u64;
        from..from + what.len() as u64
    }

    #[test]
    fn words_change_and_lines_are_put_in() {
        let job = "G28\r\nM104 S220 ; heat\r\nG1 X5\r\n";
        let line = at(job, "G1 X5");
        let (out, done) = spliced(
            job.as_bytes(),
            &[
                (at(job, "220"), "245"),
                (line.start..line.start, "M109 S245\n"),
            ],
            false,
        );
        assert_eq!(out, "G28\r\nM104 S245 ; heat\r\nM109 S245\r\nG1 X5\r\n");
        assert!(!done.misfit);
        assert_eq!(done.hunks.len(), 1);
        let hunk = &done.hunks[0];
        assert_eq!((hunk.old_line, hunk.new_line), (1, 1));
        assert_eq!(hunk.old, job.as_bytes());
        assert_eq!(hunk.new, out.as_bytes());
    }

    #[test]
    fn text_goes_behind_the_last_line() {
        let job = "G28\nG1 X5\n";
        let end = job.len() as u64;
        let (out, done) = spliced(job.as_bytes(), &[(end..end, "M104 S0\n")], false);
        assert_eq!(out, "G28\nG1 X5\nM104 S0\n");
        assert!(!done.misfit);
    }

    #[test]
    fn text_behind_the_last_line_ends_as_the_others() {
        let job = "G28\r\nG1 X5\r\nG1 X9";
        let end = job.len() as u64;
        let (out, _) = spliced(job.as_bytes(), &[(end..end, "\nM104 S0\nM140 S0")], false);
        assert_eq!(out, format!("{job}\r\nM104 S0\r\nM140 S0"));
    }

    #[test]
    fn several_lines_put_in_raise_the_numbers_behind_them() {
        let job = "N1 G28\nN2 G1 X5\nN3 G1 X6\n";
        let line = at(job, "N2");
        let (out, _) = spliced(
            job.as_bytes(),
            &[(line.start..line.start, "M190 S60\nM109 S210\n")],
            true,
        );
        assert_eq!(
            out,
            "N1 G28\nN2 M190 S60\nN3 M109 S210\nN4 G1 X5\nN5 G1 X6\n"
        );
    }

    #[test]
    fn a_word_behind_a_last_line_without_an_ending_is_no_new_line() {
        let job = "N1 G28\nN2 G1 X5";
        let end = job.len() as u64;
        let (out, done) = spliced(
            job.as_bytes(),
            &[(end..end, " F1800"), (end..end, "\nM104 S0")],
            true,
        );
        assert_eq!(out, "N1 G28\nN2 G1 X5 F1800\nN3 M104 S0");
        assert_eq!(done.hunks[0].old, job.as_bytes());
    }

    /// Checksums as in references 2.
    #[test]
    fn numbers_and_checksums_are_stated_anew() {
        let job = "N10 G28*24\nN11 M109 S250*95\nN12 M191 S60*108\nN20 G1 X5*0\n";
        let line = at(job, "N12");
        let (out, _) = spliced(
            job.as_bytes(),
            &[(at(job, "250"), "245"), (line.start..line.start, "G4 S5\n")],
            true,
        );
        let sum = |text: &str| text.bytes().fold(0_u8, |sum, byte| sum ^ byte);
        let expected = ["N11 M109 S245", "N12 G4 S5", "N13 M191 S60"]
            .map(|text| format!("{text}*{}\n", sum(text)))
            .concat();
        // Behind the gap the number was high enough all along.
        let last = format!("N20 G1 X5*{}\n", sum("N20 G1 X5"));
        assert!(out.starts_with("N10 G28*24\n"), "{out}");
        assert!(out.contains(&expected), "{out}");
        assert!(out.ends_with(&last), "{out}");
    }

    #[test]
    fn an_edit_across_lines_does_not_fit() {
        let (_, done) = spliced(b"G28\nG1 X5\n", &[(2..6, "x")], false);
        assert!(done.misfit);
    }

    #[test]
    fn far_changes_are_hunks_of_their_own() {
        let job = format!("M104 S220\n{}M104 S230\n", "G1 X1\n".repeat(40));
        let (_, done) = spliced(
            job.as_bytes(),
            &[(at(&job, "220"), "245"), (at(&job, "230"), "245")],
            false,
        );
        assert_eq!(done.hunks.len(), 2);
        assert_eq!(done.hunks[1].old_line, 39);
        assert_eq!(done.hunks[1].old, b"G1 X1\nG1 X1\nG1 X1\nM104 S230\n");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        /// Bytes outside edits are as they were, whatever the blocks; an empty plan changes nothing.
        #[test]
        fn what_no_edit_names_is_the_same(
            lines in proptest::collection::vec("[A-Z0-9 .;]{0,12}\r?", 1..30),
            picks in proptest::collection::vec((0_usize..30, 0_usize..12, 0_usize..5, "[a-z]{0,6}"), 0..8),
            cut in 0_usize..200,
        ) {
            let job = lines.iter().fold(String::new(), |job, line| format!("{job}{line}\n"));
            let mut draft = Draft::default();
            let starts: Vec<usize> = std::iter::once(0)
                .chain(job.match_indices('\n').map(|(at, _)| at + 1))
                .collect();
            for (line, from, len, text) in &picks {
                let line = line % lines.len();
                let body = lines[line].trim_end_matches('\r').len();
                let from = from % (body + 1);
                let len = (*len).min(body - from);
                let start = (starts[line] + from) as u64;
                draft.propose([Change::new(line as u64 + 1, start..start + len as u64, text.clone())]);
            }
            let plan = draft.settle();
            let mut expected = String::new();
            let mut at = 0;
            for edit in plan.edits() {
                let range = edit.change.range.start as usize..edit.change.range.end as usize;
                expected.push_str(&job[at..range.start]);
                expected.push_str(&edit.change.text);
                at = range.end;
            }
            expected.push_str(&job[at..]);
            // Blocks are whole lines.
            let cut = job[..cut.min(job.len())].rfind('\n').map_or(0, |end| end + 1);
            let mut out = Vec::new();
            let mut splice = Splice::new(&plan, false, false);
            splice.block(&job.as_bytes()[..cut], &mut |bytes| out.extend_from_slice(bytes));
            splice.block(&job.as_bytes()[cut..], &mut |bytes| out.extend_from_slice(bytes));
            let done = splice.finish(&mut |bytes| out.extend_from_slice(bytes));
            prop_assert!(!done.misfit);
            prop_assert_eq!(String::from_utf8(out).unwrap(), expected);
            prop_assert!(picks.is_empty() == done.hunks.is_empty() || plan.is_empty());
        }
    }
}
