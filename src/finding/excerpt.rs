//! The piece of a job that a finding shows: its place, and the line's own bytes, clipped.

/// The longest piece of a line that is kept, in bytes.
pub const EXCERPT_CAP: usize = 512;

/// Where something stands in a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Place {
    /// The line's number, from 1.
    pub line: u64,
    /// The first byte, in unpacked bytes from the start of the job.
    pub start: u64,
    /// One past the last byte.
    pub end: u64,
}

/// A place together with the line it stands in, so that a report need not read the job again.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Excerpt {
    /// The words in question.
    pub place: Place,
    /// Where `text` begins, in unpacked bytes from the start of the job.
    pub text_start: u64,
    /// The line's bytes as found, without its line ending, at most [`EXCERPT_CAP`] of them around
    /// the place.
    pub text: Vec<u8>,
    /// Whether something before `text` on the line was left out.
    pub clipped_front: bool,
    /// Whether something after `text` on the line was left out.
    pub clipped_back: bool,
}

impl Excerpt {
    /// Takes the line beginning at byte `line_start`, and in it the bytes `span` (from the line's
    /// start).
    #[must_use]
    pub fn new(line: u64, line_start: u64, bytes: &[u8], span: std::ops::Range<usize>) -> Self {
        let mut excerpt = Self::default();
        excerpt.set(line, line_start, bytes, span);
        excerpt
    }

    /// As [`Excerpt::new`], into the buffers already there.
    pub fn set(&mut self, line: u64, line_start: u64, bytes: &[u8], span: std::ops::Range<usize>) {
        let mut end = bytes.len();
        while end > 0 && matches!(bytes.get(end - 1), Some(b'\n' | b'\r')) {
            end -= 1;
        }
        let (from, to) = (span.start.min(end), span.end.min(bytes.len()).min(end));
        let to = to.max(from);
        let front = if end <= EXCERPT_CAP {
            0
        } else {
            from.saturating_sub(EXCERPT_CAP / 4).min(end - EXCERPT_CAP)
        };
        let back = (front + EXCERPT_CAP).min(end);
        self.place = Place {
            line,
            start: line_start + from as u64,
            end: line_start + to as u64,
        };
        self.text_start = line_start + front as u64;
        self.text.clear();
        self.text
            .extend_from_slice(bytes.get(front..back).unwrap_or_default());
        self.clipped_front = front > 0;
        self.clipped_back = back < end;
    }

    /// The place within `text`.
    #[must_use]
    pub fn span(&self) -> std::ops::Range<usize> {
        let within = |at: u64| (at.saturating_sub(self.text_start) as usize).min(self.text.len());
        within(self.place.start)..within(self.place.end)
    }

    /// The place's column on its line, in bytes from 1; unknown where the front was clipped.
    #[must_use]
    pub fn column(&self) -> Option<u64> {
        (!self.clipped_front).then(|| self.place.start - self.text_start + 1)
    }
}
