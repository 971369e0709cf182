//! From proposed changes to a plan: sorted edits, none over another.

use std::ops::Range;

/// A change of bytes as it is proposed.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// The line it lies on, from 1.
    pub line: u64,
    /// The bytes it takes the place of, in unpacked bytes of the job; empty where text is put in. Lies
    /// within one line.
    pub range: Range<u64>,
    /// The text that takes their place. Whole lines end with LF here; the splice gives them the
    /// ending of the job's own lines.
    pub text: String,
    /// Where it lowers a speed, that speed before and after, mm/s: each has its own.
    pub speeds: Option<[f32; 2]>,
}

impl Change {
    /// A change of `range` on a line.
    #[must_use]
    pub const fn new(line: u64, range: Range<u64>, text: String) -> Self {
        Self {
            line,
            range,
            text,
            speeds: None,
        }
    }
}

/// A change in a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Edit {
    /// What is changed.
    pub change: Change,
    /// The group it belongs to, counted in the order proposed.
    pub group: usize,
}

/// Changes while they are proposed.
#[derive(Debug, Clone, Default)]
pub struct Draft {
    edits: Vec<Edit>,
    groups: usize,
}

impl Draft {
    /// Proposes changes that belong together; gives the group's number.
    pub fn propose(&mut self, changes: impl IntoIterator<Item = Change>) -> usize {
        let group = self.groups;
        self.groups += 1;
        self.edits
            .extend(changes.into_iter().map(|change| Edit { change, group }));
        group
    }

    /// How many groups were proposed.
    #[must_use]
    pub const fn groups(&self) -> usize {
        self.groups
    }

    /// Sorts the changes. Of two groups that would change the same bytes the later one is refused,
    /// whole; two groups may both put text in at one place, in their order.
    #[must_use]
    pub fn settle(self) -> Plan {
        let Self { mut edits, groups } = self;
        // A word at the end of a last line without an ending comes before new lines behind it.
        edits.sort_by_key(|edit| {
            let Change { range, text, .. } = &edit.change;
            (range.start, range.end, text.starts_with('\n'), edit.group)
        });
        let mut refused = vec![false; groups];
        let is_refused = |refused: &[bool], group: usize| refused.get(group).copied() == Some(true);
        loop {
            let mut clash = None;
            let mut last: Option<&Edit> = None;
            for edit in edits
                .iter()
                .filter(|edit| !is_refused(&refused, edit.group))
            {
                if let Some(before) = last
                    && before.change.range.end > edit.change.range.start
                {
                    clash = Some(before.group.max(edit.group));
                    break;
                }
                // An insertion never covers what comes behind it.
                last = Some(edit);
            }
            match clash.and_then(|group| refused.get_mut(group)) {
                Some(refused) => *refused = true,
                None => break,
            }
        }
        edits.retain(|edit| !is_refused(&refused, edit.group));
        Plan {
            edits,
            refused: (0..groups)
                .filter(|group| is_refused(&refused, *group))
                .collect(),
        }
    }
}

/// Sorted edits, none over another.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Plan {
    edits: Vec<Edit>,
    refused: Vec<usize>,
}

impl Plan {
    /// The edits, by place.
    #[must_use]
    pub fn edits(&self) -> &[Edit] {
        &self.edits
    }

    /// Groups that were refused, since an earlier one changes the same bytes.
    #[must_use]
    pub fn refused(&self) -> &[usize] {
        &self.refused
    }

    /// Whether it changes nothing.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.edits.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn change(range: Range<u64>, text: &str) -> Change {
        Change::new(1, range, text.to_owned())
    }

    #[test]
    fn the_later_of_two_groups_over_the_same_bytes_is_refused_whole() {
        let mut draft = Draft::default();
        draft.propose([change(10..13, "245"), change(40..43, "245")]);
        draft.propose([change(20..22, "60"), change(11..12, "x")]);
        draft.propose([change(20..22, "70")]);
        let plan = draft.settle();
        assert_eq!(plan.refused(), [1]);
        let kept: Vec<_> = plan
            .edits()
            .iter()
            .map(|edit| edit.change.range.start)
            .collect();
        assert_eq!(kept, [10, 20, 40]);
    }

    #[test]
    fn text_put_in_at_one_place_keeps_its_order() {
        let mut draft = Draft::default();
        draft.propose([change(5..5, "\nd")]);
        draft.propose([change(5..5, "a")]);
        draft.propose([change(5..5, "b")]);
        draft.propose([change(5..9, "c")]);
        let plan = draft.settle();
        let texts: Vec<_> = plan
            .edits()
            .iter()
            .map(|edit| edit.change.text.as_str())
            .collect();
        assert_eq!(texts, ["a", "b", "\nd", "c"]);
        assert!(plan.refused().is_empty());
    }
}
