//! Unpacking: gzip with all its members, zstd with all its frames, within limits of memory and of
//! size.

use super::source::Source;
use crate::text::{Error, PIECE, Packing, clean};
use flate2::{Decompress, FlushDecompress, Status};
use zstd::stream::raw::{DParameter, InBuffer, Operation, OutBuffer};

/// The base-2 logarithm of the largest zstd window: 8 MiB. Chosen, so that a job is inspected within
/// 32 MiB whatever it asks for; RFC 8878, 3.1.1.1.2 (published) recommends to support at least that.
const WINDOW_LOG: u32 = 23;

/// How many bytes of job may come out of each stored byte. Chosen: sliced jobs give 3 to 10, and a
/// job of nothing but equal lines about 100.
pub(super) const RATIO: u64 = 200;

/// From how many unpacked bytes on the ratio is held: 16 MiB. Chosen.
pub(super) const RATIO_FROM: u64 = 16 * 1024 * 1024;

enum Codec {
    Gzip(Decompress),
    Zstd(zstd::stream::raw::Decoder<'static>),
}

/// Where the unpacking stands among the members of a gzip or the frames of a zstd file.
#[derive(Clone, Copy, PartialEq, Eq)]
enum At {
    Between,
    Within,
    End,
}

/// A packed job on its way out.
pub(super) struct Unpacker {
    source: Source,
    codec: Codec,
    packing: Packing,
    at: At,
    parts: u64,
    unpacked: u64,
    /// A fault that came after some bytes of its piece: told once those are handed on.
    fault: Option<Error>,
}

impl Unpacker {
    /// Begins to unpack `source`, whose first bytes announced `packing`.
    pub(super) fn new(source: Source, packing: Packing) -> Result<Self, Error> {
        let codec = match packing {
            Packing::Zstd => {
                let make = || {
                    let mut decoder = zstd::stream::raw::Decoder::new()?;
                    decoder.set_parameter(DParameter::WindowLogMax(WINDOW_LOG))?;
                    Ok(decoder)
                };
                Codec::Zstd(make().map_err(|fault| Error::system(source.name.clone(), 0, fault))?)
            }
            Packing::Gzip | Packing::Plain => Codec::Gzip(Decompress::new_gzip(15)),
        };
        Ok(Self {
            source,
            codec,
            packing,
            at: At::Between,
            parts: 0,
            unpacked: 0,
            fault: None,
        })
    }

    /// A buffer for [`Unpacker::next`].
    pub(super) fn buffer() -> Vec<u8> {
        Vec::with_capacity(PIECE)
    }

    /// Replaces what `piece` holds by the next bytes, as many as it has room for; false at the end.
    pub(super) fn next(&mut self, piece: &mut Vec<u8>) -> Result<bool, Error> {
        piece.clear();
        if let Some(fault) = self.fault.take() {
            self.at = At::End;
            return Err(fault);
        }
        match self.fill(piece) {
            Err(fault) if piece.is_empty() => {
                self.at = At::End;
                return Err(fault);
            }
            Err(fault) => self.fault = Some(fault),
            Ok(()) => {}
        }
        Ok(!piece.is_empty())
    }

    /// What came out so far, in bytes.
    pub(super) const fn unpacked(&self) -> u64 {
        self.unpacked
    }

    pub(super) const fn packing(&self) -> Packing {
        self.packing
    }

    pub(super) const fn source(&self) -> &Source {
        &self.source
    }

    fn fill(&mut self, piece: &mut Vec<u8>) -> Result<(), Error> {
        while piece.len() < piece.capacity() {
            match self.at {
                At::End => break,
                At::Between => self.begin()?,
                At::Within => self.step(piece)?,
            }
        }
        let stored = self.source.place();
        if self.unpacked > RATIO_FROM && self.unpacked > stored.saturating_mul(RATIO) {
            return Err(Error::Bomb {
                name: self.source.name.clone(),
                unpacked: self.unpacked,
                stored,
                limit: RATIO,
            });
        }
        Ok(())
    }

    /// Looks at what follows: another member or frame, the end, or something foreign.
    fn begin(&mut self) -> Result<(), Error> {
        let ahead = self.source.peek(FRAME_HEAD)?;
        let Some(&byte) = ahead.first() else {
            self.at = At::End;
            return Ok(());
        };
        match self.packing {
            Packing::Gzip | Packing::Plain => {
                if ahead.starts_with(&[0x1F, 0x8B]) {
                    if let (Codec::Gzip(inflate), true) = (&mut self.codec, self.parts > 0) {
                        inflate.reset(true);
                    }
                    self.at = At::Within;
                    return Ok(());
                }
                if ahead == [0x1F] {
                    return Err(self.truncated());
                }
                if byte == 0 {
                    return self.padding();
                }
            }
            Packing::Zstd => {
                if Packing::of(ahead) == Packing::Zstd {
                    let window = window(ahead);
                    let limit = 1 << WINDOW_LOG;
                    if window > limit {
                        return Err(Error::Window {
                            name: self.source.name.clone(),
                            window,
                            limit,
                        });
                    }
                    self.at = At::Within;
                    return Ok(());
                }
                let cut = [0x28, 0xB5, 0x2F, 0xFD].starts_with(ahead)
                    || (matches!(byte, 0x50..=0x5F)
                        && [0x2A, 0x4D, 0x18].starts_with(ahead.get(1..).unwrap_or_default()));
                if cut {
                    return Err(self.truncated());
                }
            }
        }
        Err(self.garbage(byte))
    }

    /// Zeros behind the last member, as some writers fill up a block: they are the end.
    fn padding(&mut self) -> Result<(), Error> {
        loop {
            let ahead = self.source.peek(1)?;
            let zeros = ahead.iter().take_while(|&&byte| byte == 0).count();
            let other = ahead.get(zeros).copied();
            let count = ahead.len();
            self.source.skip(zeros);
            match other {
                Some(byte) => return Err(self.garbage(byte)),
                None if count == 0 => {
                    self.at = At::End;
                    return Ok(());
                }
                None => {}
            }
        }
    }

    /// Unpacks from what is held into what room `piece` has.
    fn step(&mut self, piece: &mut Vec<u8>) -> Result<(), Error> {
        let before = piece.len();
        // At the end of the stored bytes the decoder may still hold some of its output back.
        let ahead = self.source.peek(1)?;
        let outcome = match &mut self.codec {
            Codec::Gzip(inflate) => {
                let taken = inflate.total_in();
                inflate
                    .decompress_vec(ahead, piece, FlushDecompress::None)
                    .map(|status| (inflate.total_in() - taken, status == Status::StreamEnd))
                    .map_err(|fault| fault.message().unwrap_or("corrupt data").to_owned())
            }
            Codec::Zstd(decoder) => {
                let mut input = InBuffer::around(ahead);
                let mut output = OutBuffer::around_pos(piece, before);
                decoder
                    .run(&mut input, &mut output)
                    .map(|hint| (input.pos() as u64, hint == 0))
                    .map_err(|fault| fault.to_string())
            }
        };
        let starved = ahead.is_empty();
        let gained = piece.len() - before;
        self.unpacked += gained as u64;
        let (taken, finished) = match outcome {
            Ok(progress) => progress,
            Err(_) if starved => return Err(self.truncated()),
            Err(why) => return Err(self.damaged(&why)),
        };
        self.source.skip(taken as usize);
        if finished {
            self.parts += 1;
            self.at = At::Between;
        } else if taken == 0 && gained == 0 {
            return Err(if starved {
                self.truncated()
            } else {
                self.damaged("the decoder does not get on")
            });
        }
        Ok(())
    }

    fn truncated(&self) -> Error {
        Error::Truncated {
            name: self.source.name.clone(),
            packing: self.packing,
            stored: self.source.place() + self.source.unused().len() as u64,
            unpacked: self.unpacked,
        }
    }

    fn damaged(&self, why: &str) -> Error {
        Error::Damaged {
            name: self.source.name.clone(),
            packing: self.packing,
            at: self.source.place(),
            unpacked: self.unpacked,
            why: clean(why.as_bytes()).into_owned(),
        }
    }

    fn garbage(&self, byte: u8) -> Error {
        Error::Garbage {
            name: self.source.name.clone(),
            packing: self.packing,
            at: self.source.place(),
            byte,
            unpacked: self.unpacked,
        }
    }
}

/// The longest beginning of a frame that [`window`] looks at.
const FRAME_HEAD: usize = 14;

/// The window, in bytes, that a zstd frame asks for: RFC 8878, 3.1.1.1 (published). 0 where the bytes
/// do not say, which the decoder then finds out itself.
fn window(frame: &[u8]) -> u64 {
    let [0x28, 0xB5, 0x2F, 0xFD, descriptor, rest @ ..] = frame else {
        return 0;
    };
    if descriptor & 0x20 == 0 {
        let Some(&window) = rest.first() else {
            return 0;
        };
        let base = 1u64 << (10 + (window >> 3));
        return base + base / 8 * u64::from(window & 7);
    }
    // One segment: the window is the content itself, whose size stands behind the dictionary's id.
    let dictionary = [0, 1, 2, 4].get(usize::from(descriptor & 3)).copied();
    let size = [1, 2, 4, 8].get(usize::from(descriptor >> 6)).copied();
    let (Some(dictionary), Some(size)) = (dictionary, size) else {
        return 0;
    };
    let Some(field) = rest.get(dictionary..dictionary + size) else {
        return 0;
    };
    let value = field
        .iter()
        .rev()
        .fold(0u64, |value, &byte| value << 8 | u64::from(byte));
    // The field of two bytes counts from 256.
    if size == 2 { value + 256 } else { value }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_window_is_read_as_the_report_says() {
        let frame = |rest: &[u8]| [&[0x28, 0xB5, 0x2F, 0xFD][..], rest].concat();
        // Descriptor 0: a window byte follows; exponent 13, mantissa 0 is 8 MiB, mantissa 1 more.
        assert_eq!(window(&frame(&[0x00, 13 << 3])), 8 << 20);
        assert_eq!(window(&frame(&[0x00, 13 << 3 | 1])), 9 << 20);
        // One segment, one byte of content size; then with a dictionary id of one byte before it.
        assert_eq!(window(&frame(&[0x20, 77])), 77);
        assert_eq!(window(&frame(&[0x21, 9, 77])), 77);
        // Two bytes count from 256; four do not.
        assert_eq!(window(&frame(&[0x60, 1, 0])), 257);
        assert_eq!(window(&frame(&[0xA0, 0, 0, 0, 1])), 1 << 24);
        assert_eq!(window(&frame(&[0xE0])), 0);
    }
}
