//! The stored bytes, as they come from the disk: counted, digested and held against the length that
//! the file had when it was opened.

use crate::text::{Error, Name, PIECE};
use std::io::Read;

/// Stored bytes on their way in.
pub(super) struct Source {
    reader: Box<dyn Read + Send>,
    pub(super) name: Name,
    /// The file's length at opening; unknown for what is no file or does not tell.
    stated: Option<u64>,
    /// Bytes that were read and not yet used: `held[used..]`.
    held: Vec<u8>,
    used: usize,
    read: u64,
    digest: Option<Box<blake3::Hasher>>,
    ended: bool,
}

impl Source {
    pub(super) fn new(
        reader: Box<dyn Read + Send>,
        name: Name,
        stated: Option<u64>,
        digest: bool,
    ) -> Self {
        Self {
            reader,
            name,
            stated,
            held: Vec::new(),
            used: 0,
            read: 0,
            digest: digest.then(|| Box::new(blake3::Hasher::new())),
            ended: false,
        }
    }

    /// How many stored bytes were used so far.
    pub(super) fn place(&self) -> u64 {
        self.read - self.unused().len() as u64
    }

    /// What was read and not yet used.
    pub(super) fn unused(&self) -> &[u8] {
        self.held.get(self.used..).unwrap_or_default()
    }

    /// The next bytes, without using them: at least `least`, or all up to the end.
    pub(super) fn peek(&mut self, least: usize) -> Result<&[u8], Error> {
        while self.unused().len() < least && !self.ended {
            let mut held = std::mem::take(&mut self.held);
            held.drain(..self.used);
            self.used = 0;
            let outcome = self.read_more(&mut held);
            self.held = held;
            outcome?;
        }
        Ok(self.unused())
    }

    /// Counts `count` of the bytes peeked at as used.
    pub(super) fn skip(&mut self, count: usize) {
        self.used = (self.used + count).min(self.held.len());
    }

    /// Appends the next stored bytes to `into`, at most [`PIECE`] of them; false at the end.
    pub(super) fn append(&mut self, into: &mut Vec<u8>) -> Result<bool, Error> {
        if self.unused().is_empty() {
            return self.read_more(into);
        }
        into.extend_from_slice(self.unused());
        // Only the first piece is ever held: let its buffer go.
        self.held = Vec::new();
        self.used = 0;
        Ok(true)
    }

    /// Reads up to [`PIECE`] bytes behind what `into` holds; false at the end.
    fn read_more(&mut self, into: &mut Vec<u8>) -> Result<bool, Error> {
        let before = into.len();
        into.reserve(PIECE);
        // Reads into the vector's spare room, which need not be filled with zeros first; takes up
        // interrupted reads again; stops at the piece's size or at the end.
        let outcome = (&mut self.reader).take(PIECE as u64).read_to_end(into);
        let fresh = into.get(before..).unwrap_or_default();
        self.read += fresh.len() as u64;
        if let Some(digest) = &mut self.digest {
            digest.update(fresh);
        }
        if let Err(fault) = outcome {
            return Err(Error::system(self.name.clone(), self.read, fault));
        }
        if !fresh.is_empty() && self.stated.is_none_or(|stated| self.read <= stated) {
            return Ok(true);
        }
        self.ended = fresh.is_empty();
        match self.stated {
            Some(stated) if stated != self.read => Err(Error::Changed {
                name: self.name.clone(),
                stated,
                read: self.read,
            }),
            _ => Ok(false),
        }
    }

    /// How many stored bytes there were, and their digest in hexadecimal where it was asked for.
    pub(super) fn close(&self) -> (u64, Option<String>) {
        let digest = self.digest.as_ref();
        (
            self.read,
            digest.map(|digest| digest.finalize().to_hex().to_string()),
        )
    }
}
