//! A glance at a job: what its comments declare, with nothing carried out.
//!
//! Which material a job is held against may stand in the job itself, often on its last lines. A glance costs
//! a small part of a round; what a round then says itself is what counts, since comments behind the end of
//! a program are seen here too.

use super::Declared;
use crate::command::hint::{self, Hint};
use crate::finding::Excerpt;
use crate::grammar::{Kind, Words, read_line};
use crate::text::Blocks;

/// Goes over a job's comments.
#[derive(Debug, Default)]
pub struct Glance {
    blocks: Blocks,
    words: Words,
    declared: Declared,
}

impl Glance {
    /// The buffer to append the next piece to; then call [`Glance::go_on`].
    pub const fn buffer(&mut self) -> &mut Vec<u8> {
        self.blocks.buffer()
    }

    /// Whether the bytes can be no job, so that the rest need not be read.
    #[must_use]
    pub const fn is_hopeless(&self) -> bool {
        self.blocks.has_cut()
    }

    /// Looks at the lines that are whole.
    pub fn go_on(&mut self) {
        self.look(false);
    }

    /// What was declared. The places are left out.
    #[must_use]
    pub fn finish(mut self) -> Declared {
        self.look(true);
        self.declared
    }

    fn look(&mut self, at_end: bool) {
        let Self {
            blocks,
            words,
            declared,
        } = self;
        blocks.give(at_end, |block| {
            let mut behind = 0;
            // No comment is without one of these.
            for mark in memchr::memchr2_iter(b';', b'(', block) {
                if mark < behind {
                    continue;
                }
                let before = block.get(behind..mark).unwrap_or_default();
                let start =
                    memchr::memrchr2(b'\n', b'\r', before).map_or(0, |end| end + 1) + behind;
                let line = block.get(start..).unwrap_or_default();
                behind = block.len() - read_line(line, words).len();
                for word in words.iter() {
                    if matches!(word.kind, Kind::Comment | Kind::Remark) {
                        hint::read(word.bytes(line), &mut |hint| {
                            if let Hint::Setting(key, value) = hint {
                                declared.add(key, value, Excerpt::default());
                            }
                        });
                    }
                }
            }
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command::hint::Key;
    use crate::inspection::{Held, inspect};
    use proptest::prelude::*;

    const KEYS: [Key; 5] = [
        Key::Material,
        Key::LayerHeight,
        Key::Walls,
        Key::FilamentDiameter,
        Key::InfillPercent,
    ];

    fn glance(job: &[u8], piece: usize) -> Declared {
        let mut glance = Glance::default();
        for piece in job.chunks(piece) {
            glance.buffer().extend_from_slice(piece);
            glance.go_on();
        }
        glance.finish()
    }

    fn said(declared: &Declared) -> Vec<Option<String>> {
        let once = |key| declared.get(key).map(|(value, _)| value.to_owned());
        let sure = |key| declared.sure(key).map(|(value, _)| value.to_owned());
        KEYS.iter()
            .flat_map(|key| [once(*key), sure(*key)])
            .collect()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(3_000))]

        #[test]
        fn a_glance_sees_what_a_round_sees(
            lines in proptest::collection::vec(prop_oneof![
                "; material: (PLA|PA6-CF|ABS)",
                "; layer_height = 0\\.[1-3]",
                ";walls = [1-4]",
                "(infill: [1-4]0 %)",
                "G1 X[0-9]{1,3} E1 ; layer height: 0\\.[1-3]",
                "M117 ; material: PLA",
                "SET A=\"x;material: PETG\"",
                "G1 X1 (material: ABS) Y2",
                "%",
                "[ -~]{0,30}",
            ], 0..12),
            ending in prop::sample::select(vec!["\n", "\r\n", "\r"]),
            piece in 1..50_usize,
        ) {
            let job = lines.join(ending);
            let inspected = inspect(job.as_bytes(), Held::default());
            prop_assert_eq!(said(&glance(job.as_bytes(), piece)), said(&inspected.declared));
        }
    }
}
