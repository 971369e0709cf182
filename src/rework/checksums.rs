//! Checksums that do not fit and line numbers out of order are stated anew.

use super::{Mend, Proposals, Rework};
use crate::grammar::{Fault, Kind};
use crate::inspection::{End, Held};
use crate::machine::{Line, State};

pub(super) static REWORK: Rework = Rework {
    id: "checksums",
    page: include_str!("checksums.md"),
    answers: &["checksum-wrong", "line-number-disorder"],
    alters: &[],
    is_repair: false,
    make: Some(make),
};

#[derive(Default)]
struct Mending {
    wrong: u64,
    last: Option<i64>,
    disordered: u64,
}

fn make(_: &Held) -> Box<dyn Mend> {
    Box::new(Mending::default())
}

impl Mend for Mending {
    fn remark(&mut self, line: &Line<'_>, _: &State) {
        if !line.words.is_numbered() {
            return;
        }
        let is_wrong = |word: &crate::grammar::Word| {
            word.kind == Kind::Checksum && word.fault == Fault::WrongChecksum
        };
        let number = line.words.iter().find(|word| word.kind == Kind::LineNumber);
        // A checksum without a number guards nothing, and is left alone.
        self.wrong += u64::from(number.is_some() && line.words.iter().any(is_wrong));
        let Some(number) = number.filter(|word| word.fault == Fault::None) else {
            return;
        };
        let resets = line
            .words
            .iter()
            .any(|word| word.letter == b'M' && word.whole() == Some(110));
        let follows = self.last.is_none_or(|last| number.value > last);
        self.disordered += u64::from(!follows && !resets);
        self.last = Some(number.value);
    }

    fn propose(&mut self, _: &End<'_>, proposals: &mut Proposals) {
        proposals.restate |= self.wrong > 0 || self.disordered > 0;
    }
}
