//! A pull source of a job's bytes: pieces of bounded size, so that memory does not grow with the job.

use super::Error;

/// The most bytes that one call of [`Feed::next`] appends: 256 KiB.
///
/// Chosen: with this size a piece, the words of its lines and a table or two stay in a core's own
/// cache, and the cost of a call no longer shows.
pub const PIECE: usize = 256 * 1024;

/// A source of unpacked bytes.
pub trait Feed {
    /// Appends the next piece, from 1 to some [`PIECE`] bytes, to `into`; `Ok(false)`, and nothing
    /// appended, at the end. What stands in `into` is kept.
    ///
    /// # Errors
    ///
    /// What kept the rest of the job from being read; what could be read before it has been appended
    /// by then. After a fault there is never an end: a job cut short must not look whole.
    fn next(&mut self, into: &mut Vec<u8>) -> Result<bool, Error>;
}

impl<F: Feed + ?Sized> Feed for &mut F {
    fn next(&mut self, into: &mut Vec<u8>) -> Result<bool, Error> {
        (**self).next(into)
    }
}

/// A job that lies in memory, unpacked. What is left of it stands in the field.
#[derive(Debug, Clone, Copy)]
pub struct Slice<'a>(pub &'a [u8]);

impl Feed for Slice<'_> {
    fn next(&mut self, into: &mut Vec<u8>) -> Result<bool, Error> {
        let (piece, rest) = self.0.split_at_checked(PIECE).unwrap_or((self.0, &[]));
        into.extend_from_slice(piece);
        self.0 = rest;
        Ok(!piece.is_empty())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slice_comes_in_pieces_and_keeps_what_is_there() {
        let job: Vec<u8> = (0..PIECE * 2 + 5).map(|at| at as u8).collect();
        let mut feed = Slice(&job);
        let mut into = b"kept".to_vec();
        let mut lengths = Vec::new();
        loop {
            let before = into.len();
            let more = feed.next(&mut into).unwrap();
            assert_eq!(more, into.len() > before);
            if !more {
                break;
            }
            lengths.push(into.len() - before);
        }
        assert_eq!(lengths, [PIECE, PIECE, 5]);
        assert_eq!(&into[..4], b"kept");
        assert_eq!(&into[4..], job);
        assert!(!feed.next(&mut into).unwrap());
    }
}
