//! The result on its way out: packed as the job was, counted and digested as it is stored.

use crate::text::Packing;
use std::io::{self, BufWriter, Write};

/// How hard gzip is packed: the level that most writers use (common practice, no source).
const GZIP: flate2::Compression = flate2::Compression::new(6);

/// How hard zstd is packed: its own default.
const ZSTD: i32 = 3;

/// Counts and digests what is stored.
struct Counted<W: Write> {
    inner: W,
    count: u64,
    digest: blake3::Hasher,
}

impl<W: Write> Write for Counted<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let count = self.inner.write(bytes)?;
        self.digest.update(bytes.get(..count).unwrap_or_default());
        self.count += count as u64;
        Ok(count)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.inner.flush()
    }
}

enum Packer<W: Write> {
    /// What is stored nowhere is neither digested nor copied.
    Nowhere(W),
    Plain(Box<BufWriter<Counted<W>>>),
    Gzip(Box<flate2::write::GzEncoder<BufWriter<Counted<W>>>>),
    Zstd(Box<zstd::stream::write::Encoder<'static, BufWriter<Counted<W>>>>),
}

/// Takes a job and stores it.
pub struct Sink<W: Write> {
    packer: Packer<W>,
    unpacked: u64,
    /// The first fault; after it nothing more is written.
    fault: Option<io::Error>,
}

/// What was stored.
pub struct Sunk<W> {
    pub inner: W,
    pub bytes_stored: u64,
    pub bytes_unpacked: u64,
    /// None where nothing was stored.
    pub digest_hex: Option<String>,
}

impl<W: Write> Sink<W> {
    pub fn new(inner: W, packing: Packing) -> io::Result<Self> {
        let counted = BufWriter::with_capacity(
            128 * 1024,
            Counted {
                inner,
                count: 0,
                digest: blake3::Hasher::new(),
            },
        );
        let packer = match packing {
            Packing::Plain => Packer::Plain(Box::new(counted)),
            Packing::Gzip => Packer::Gzip(Box::new(flate2::write::GzEncoder::new(counted, GZIP))),
            Packing::Zstd => {
                let mut encoder = zstd::stream::write::Encoder::new(counted, ZSTD)?;
                encoder.include_checksum(true)?;
                Packer::Zstd(Box::new(encoder))
            }
        };
        Ok(Self {
            packer,
            unpacked: 0,
            fault: None,
        })
    }

    /// One that stores nothing, and only counts.
    pub const fn nowhere(inner: W) -> Self {
        Self {
            packer: Packer::Nowhere(inner),
            unpacked: 0,
            fault: None,
        }
    }

    /// Takes bytes of the job; a fault is kept for [`Sink::finish`].
    pub fn take(&mut self, bytes: &[u8]) {
        if self.fault.is_some() {
            return;
        }
        self.unpacked += bytes.len() as u64;
        let outcome = match &mut self.packer {
            Packer::Nowhere(_) => Ok(()),
            Packer::Plain(packer) => packer.write_all(bytes),
            Packer::Gzip(packer) => packer.write_all(bytes),
            Packer::Zstd(packer) => packer.write_all(bytes),
        };
        self.fault = outcome.err();
    }

    /// Whether it takes no more.
    pub const fn has_failed(&self) -> bool {
        self.fault.is_some()
    }

    /// Ends the job.
    pub fn finish(self) -> io::Result<Sunk<W>> {
        if let Some(fault) = self.fault {
            return Err(fault);
        }
        let buffer = match self.packer {
            Packer::Nowhere(inner) => {
                return Ok(Sunk {
                    inner,
                    bytes_stored: self.unpacked,
                    bytes_unpacked: self.unpacked,
                    digest_hex: None,
                });
            }
            Packer::Plain(buffer) => *buffer,
            Packer::Gzip(packer) => packer.finish()?,
            Packer::Zstd(packer) => packer.finish()?,
        };
        let counted = buffer.into_inner().map_err(|fault| fault.into_error())?;
        Ok(Sunk {
            inner: counted.inner,
            bytes_stored: counted.count,
            bytes_unpacked: self.unpacked,
            digest_hex: Some(counted.digest.finalize().to_hex().to_string()),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{Feed, Name, Reading, open_stream};

    #[test]
    fn what_is_packed_comes_out_again() {
        let job = "G1 X10 Y10 E0.5\n".repeat(40_000);
        for packing in [Packing::Plain, Packing::Gzip, Packing::Zstd] {
            let mut sink = Sink::new(Vec::new(), packing).unwrap();
            for piece in job.as_bytes().chunks(10_007) {
                sink.take(piece);
            }
            let sunk = sink.finish().unwrap();
            assert_eq!(sunk.bytes_unpacked, job.len() as u64);
            assert_eq!(sunk.bytes_stored, sunk.inner.len() as u64);
            let stream = std::io::Cursor::new(sunk.inner);
            let name = Name::Given("job".to_owned());
            let mut opened = open_stream(stream, name, Reading::default()).unwrap();
            assert_eq!(opened.packing(), packing);
            let mut out = Vec::new();
            while opened.next(&mut out).unwrap() {}
            assert!(out == job.as_bytes());
            assert_eq!(opened.finish().unwrap().digest_hex, sunk.digest_hex);
        }
    }

    #[test]
    fn a_fault_is_told_at_the_end() {
        struct Full;
        impl Write for Full {
            fn write(&mut self, _: &[u8]) -> io::Result<usize> {
                Err(io::ErrorKind::StorageFull.into())
            }
            fn flush(&mut self) -> io::Result<()> {
                Ok(())
            }
        }
        for packing in [Packing::Plain, Packing::Gzip, Packing::Zstd] {
            let mut sink = Sink::new(Full, packing).unwrap();
            sink.take(b"G28\n");
            let fault = sink.finish().err().unwrap();
            assert_eq!(fault.kind(), io::ErrorKind::StorageFull);
        }
    }
}
