//! Whole lines from pieces: what the round is fed with.

/// The longest line that is kept whole, bytes. A longer one comes in pieces, each with a word about
/// it: no control has such a buffer, so the file is hardly a job.
pub const LONGEST_LINE: usize = 1 << 20;

/// Takes pieces of a job and gives blocks of whole lines.
///
/// Holds one piece and the rest of a line, never more than [`LONGEST_LINE`] beyond a piece.
#[derive(Debug, Default)]
pub struct Blocks {
    kept: Vec<u8>,
    longest: usize,
    is_cut: bool,
}

impl Blocks {
    /// The buffer to append the next piece to.
    pub const fn buffer(&mut self) -> &mut Vec<u8> {
        &mut self.kept
    }

    /// Whether some line was longer than [`LONGEST_LINE`] and came in pieces.
    #[must_use]
    pub const fn has_cut(&self) -> bool {
        self.is_cut
    }

    /// Hands the whole lines that have come so far to `take`; at the end of the job all that is left.
    pub fn give(&mut self, at_end: bool, take: impl FnOnce(&[u8])) {
        let end = if at_end {
            self.kept.len()
        } else {
            self.whole()
        };
        if end == 0 {
            return;
        }
        take(self.kept.get(..end).unwrap_or_default());
        self.kept.drain(..end);
    }

    /// Puts the whole lines that have come so far into `lines`, in place of what stood there; false where
    /// there are none yet.
    pub fn split_off(&mut self, lines: &mut Vec<u8>) -> bool {
        let end = self.whole();
        lines.clear();
        lines.extend_from_slice(self.kept.get(end..).unwrap_or_default());
        std::mem::swap(&mut self.kept, lines);
        lines.truncate(end);
        end > 0
    }

    /// Takes a piece that lies in memory: its whole lines go to `take` as they lie, only what is
    /// left over is copied.
    pub fn pass(&mut self, piece: &[u8], mut take: impl FnMut(&[u8])) {
        let mut rest = piece;
        if !self.kept.is_empty() {
            let Some(end) = memchr::memchr(b'\n', piece) else {
                self.kept.extend_from_slice(piece);
                self.give(false, take);
                return;
            };
            let (head, tail) = piece.split_at(end + 1);
            self.kept.extend_from_slice(head);
            self.give(false, &mut take);
            rest = tail;
        }
        let end = memchr::memrchr(b'\n', rest).map_or(0, |last| last + 1);
        let (whole, left) = rest.split_at(end);
        if !whole.is_empty() {
            take(whole);
        }
        self.kept.extend_from_slice(left);
        if end == 0 {
            self.give(false, take);
        }
    }

    /// Up to where the lines are whole.
    fn whole(&mut self) -> usize {
        if let Some(last) = memchr::memrchr(b'\n', &self.kept) {
            return last + 1;
        }
        // Lone CR ends a line too, unless LF may still follow it.
        let but_last = self.kept.len().saturating_sub(1);
        if let Some(last) = memchr::memrchr(b'\r', self.kept.get(..but_last).unwrap_or_default()) {
            return last + 1;
        }
        self.longest = self.longest.max(self.kept.len());
        if self.kept.len() > LONGEST_LINE {
            self.is_cut = true;
            return self.kept.len();
        }
        0
    }
}
