//! What a job's first bytes say that it is. Names are never asked: a packed job may be called
//! anything.

use super::{Error, Name};

/// How a job was stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Packing {
    /// As text.
    #[default]
    Plain,
    /// As gzip members (RFC 1952, published).
    Gzip,
    /// As Zstandard frames (RFC 8878, published).
    Zstd,
}

impl Packing {
    /// The word for it: `plain`, `gzip`, `zstd`.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Plain => "plain",
            Self::Gzip => "gzip",
            Self::Zstd => "zstd",
        }
    }

    /// The packing that `head`, the first bytes of a job, announces.
    #[must_use]
    pub fn of(head: &[u8]) -> Self {
        match head {
            // RFC 1952, 2.3.1: ID1, ID2.
            [0x1F, 0x8B, ..] => Self::Gzip,
            // RFC 8878, 3.1.1 (a frame) and 3.1.2 (a skippable frame, which may come first).
            [0x28, 0xB5, 0x2F, 0xFD, ..] | [0x50..=0x5F, 0x2A, 0x4D, 0x18, ..] => Self::Zstd,
            _ => Self::Plain,
        }
    }
}

impl std::fmt::Display for Packing {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.word())
    }
}

/// The archive or packing that `head` announces and that is not unpacked here.
///
/// The marks are from memory of the formats' descriptions.
fn foreign(head: &[u8]) -> Option<&'static str> {
    match head {
        [b'P', b'K', 3 | 5, 4 | 6, ..] => Some("a zip archive"),
        [b'B', b'Z', b'h', b'1'..=b'9', 0x31, 0x41, ..] => Some("bzip2"),
        [0xFD, b'7', b'z', b'X', b'Z', 0, ..] => Some("xz"),
        [b'7', b'z', 0xBC, 0xAF, ..] => Some("a 7z archive"),
        [0x04, 0x22, 0x4D, 0x18, ..] => Some("lz4"),
        [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..] => Some("text in UTF-16"),
        _ => None,
    }
}

/// How much of a job's beginning is looked at: 64 KiB. Chosen.
pub const LOOK: usize = 64 * 1024;

/// Whether `head`, the first bytes that came out of a job called `name`, can be a text.
///
/// `packing` is what they came out of, and `stored` how many stored bytes that took: they are only
/// told in the error.
///
/// # Errors
///
/// Where there are no bytes, where they are packed once more, where they belong to another packing,
/// and where too many of them are control bytes.
pub fn admit(head: &[u8], name: &Name, packing: Packing, stored: u64) -> Result<(), Error> {
    let inner = Packing::of(head);
    let name = || name.clone();
    if head.is_empty() {
        Err(Error::Empty {
            name: name(),
            packing,
            stored,
        })
    } else if inner != Packing::Plain {
        Err(Error::PackedTwice {
            name: name(),
            outer: packing,
            inner,
        })
    } else if let Some(what) = foreign(head) {
        Err(Error::Foreign { name: name(), what })
    } else if let Some(controls) = control_bytes(head) {
        Err(Error::Binary {
            name: name(),
            controls,
            looked: head.len().min(LOOK),
        })
    } else {
        Ok(())
    }
}

/// The number of control bytes in `head`, where they are too many for a text.
///
/// Chosen: at least 32 of them, and more than one byte in twenty. Random bytes hold 10 %, UTF-16
/// 50 %, a file that a power cut left full of zeros 100 %; a job with an escape sequence in every
/// message stays below 5 %. Bytes from 0x80 up say nothing: they are letters in old encodings.
fn control_bytes(head: &[u8]) -> Option<usize> {
    let head = head.get(..LOOK).unwrap_or(head);
    let count = head
        .iter()
        .filter(|byte| matches!(byte, 0..=8 | 14..=25 | 28..=31 | 127))
        .count();
    (count >= 32 && count * 20 > head.len()).then_some(count)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn packings_by_their_first_bytes() {
        assert_eq!(Packing::of(b"\x1f\x8b\x08"), Packing::Gzip);
        assert_eq!(Packing::of(b"\x28\xb5\x2f\xfd"), Packing::Zstd);
        assert_eq!(Packing::of(b"\x5a\x2a\x4d\x18"), Packing::Zstd);
        assert_eq!(Packing::of(b"\x1f"), Packing::Plain);
        assert_eq!(Packing::of(b""), Packing::Plain);
        assert_eq!(Packing::of(b"G28\n"), Packing::Plain);
    }

    #[test]
    fn foreign_packings_are_named() {
        assert_eq!(foreign(b"PK\x03\x04rest"), Some("a zip archive"));
        assert_eq!(foreign(b"\xff\xfeG\0"), Some("text in UTF-16"));
        assert_eq!(foreign(b"PKX"), None);
    }

    #[test]
    fn text_with_a_few_control_bytes_is_text() {
        assert_eq!(control_bytes(b"G1 X1\0\n"), None);
        let messages = b"M117 \x1b[31mlayer 3\x07 of 20\n".repeat(100);
        assert_eq!(control_bytes(&messages), None);
        assert_eq!(
            control_bytes(&"; 215 \u{b0}C\n".repeat(99).into_bytes()),
            None
        );
    }

    #[test]
    fn zeros_and_random_bytes_are_no_text() {
        assert_eq!(control_bytes(&[0; 512]), Some(512));
        // A full-period generator modulo 256: every byte equally often, as in packed data.
        let mut byte = 7u8;
        let random: Vec<u8> = (0..4096)
            .map(|_| {
                byte = byte.wrapping_mul(141).wrapping_add(43);
                byte
            })
            .collect();
        assert!(control_bytes(&random).is_some());
    }
}
