//! A job on its way past a round, its lines read ahead by another thread where there is a core for it.
//!
//! Nobody waits for that thread: a block that it has not read by the time its turn comes is read as it is
//! carried out, as ever. Where all cores are busy it costs next to nothing.

use crate::command::Ahead;
use crate::inspection::{Round, Tap};
use crate::text::{Blocks, Error, Feed, Packing, Threads};
use std::collections::VecDeque;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, OnceLock};

/// How many pieces go past before another thread is asked for: a small job is done by then (chosen).
const ALONE: u64 = 2;

/// How many blocks lie before the one at hand. Chosen: with fewer, the other thread is late at every
/// unevenness of the job; with more, only memory grows.
const BEFORE: usize = 4;

/// A block of whole lines.
#[derive(Default)]
struct Block {
    bytes: Vec<u8>,
    /// Its lines, once they are read.
    ahead: OnceLock<Ahead>,
}

/// Takes all of a job past a round, or as much of it as can be a job.
///
/// # Errors
///
/// What kept the rest of the job from being read.
pub(super) fn carry_out<T: Tap>(
    feed: &mut impl Feed,
    packing: Packing,
    round: &mut Round<T>,
    threads: Threads,
) -> Result<(), Error> {
    // A packed job has its second thread already.
    let is_alone = threads == Threads::One
        || packing != Packing::Plain
        || std::thread::available_parallelism().is_ok_and(|cores| cores.get() == 1);
    let most = if is_alone { u64::MAX } else { ALONE };
    if !alone(feed, round, most)? {
        return Ok(());
    }
    let (to_read, unread) = sync_channel::<Arc<Block>>(BEFORE);
    let (used, again) = sync_channel::<Ahead>(BEFORE);
    std::thread::scope(|scope| {
        let builder = std::thread::Builder::new().name("read".to_owned());
        // Where no thread starts, nobody takes what is sent, and all goes its way here.
        let _ = builder.spawn_scoped(scope, move || read(&unread, &again));
        let outcome = beside(feed, round, &to_read, &used);
        // Without a sender the thread is at its end.
        drop(to_read);
        outcome
    })
}

/// Takes up to `most` pieces past a round; false where there are no more, or the rest can be no job.
fn alone<T: Tap>(feed: &mut impl Feed, round: &mut Round<T>, most: u64) -> Result<bool, Error> {
    for _ in 0..most {
        if !feed.next(round.buffer())? {
            return Ok(false);
        }
        round.go_on();
        if round.is_hopeless() {
            return Ok(false);
        }
    }
    Ok(true)
}

/// Takes the rest of a job past a round, block by block, each handed out to be read before its turn.
fn beside<T: Tap>(
    feed: &mut impl Feed,
    round: &mut Round<T>,
    to_read: &SyncSender<Arc<Block>>,
    used: &SyncSender<Ahead>,
) -> Result<(), Error> {
    let mut rest: Blocks = round.lend();
    let (mut before, mut spare) = (VecDeque::with_capacity(BEFORE), Block::default());
    let mut is_more = true;
    loop {
        while is_more && before.len() < BEFORE {
            is_more = feed.next(rest.buffer())?;
            if rest.split_off(&mut spare.bytes) {
                let block = Arc::new(std::mem::take(&mut spare));
                // Full or closed: the block is read as it is carried out.
                let _ = to_read.try_send(Arc::clone(&block));
                before.push_back(block);
            }
            is_more &= !rest.has_cut();
        }
        let Some(block) = before.pop_front() else {
            round.give_back(rest);
            return Ok(());
        };
        round.take_whole(&block.bytes, block.ahead.get());
        // Still being read: then its buffers are let go.
        if let Some(Block { bytes, ahead }) = Arc::into_inner(block) {
            spare.bytes = bytes;
            if let Some(ahead) = ahead.into_inner() {
                let _ = used.try_send(ahead);
            }
        }
    }
}

/// Reads the lines of blocks before their turn comes.
fn read(unread: &Receiver<Arc<Block>>, again: &Receiver<Ahead>) {
    for block in unread {
        // Nobody else holds one whose turn is over.
        if Arc::strong_count(&block) > 1 {
            let mut ahead = again.try_recv().unwrap_or_default();
            ahead.read(&block.bytes);
            let _ = block.ahead.set(ahead);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inspection::{Held, Inspected};
    use crate::text::{Name, Reading, open_stream};

    fn inspected(job: &[u8], threads: Threads) -> Result<(Inspected, bool), String> {
        let reading = Reading {
            threads,
            digest: true,
        };
        let stream = std::io::Cursor::new(job.to_vec());
        let mut opened = open_stream(stream, Name::StandardInput, reading).unwrap();
        let mut round = Round::new(Held::default());
        carry_out(&mut opened, Packing::Plain, &mut round, threads)
            .map_err(|fault| fault.to_string())?;
        let is_whole = opened.finish().is_some();
        Ok((round.finish(), is_whole))
    }

    /// Layers of a part, some of their lines with comments and macros among them; longer than what goes
    /// past alone.
    fn job(ending: &str) -> Vec<u8> {
        let mut job = format!("G28{ending}M83{ending}M109 S210{ending}").into_bytes();
        for line in 0..60_000_u32 {
            let (x, z) = (10 + line * 7 % 90, 1 + line / 3000);
            let text = match line % 500 {
                0 => format!("G1 Z{} F600 ; layer{ending}", f64::from(z) * 0.2),
                1 => format!("LAMP ON={x}{ending}{ending}"),
                _ => format!("G1 X{x}.25 Y{}.5 E.0{x}{ending}", line % 70),
            };
            job.extend_from_slice(text.as_bytes());
        }
        job
    }

    #[test]
    fn two_threads_say_what_one_says() {
        for ending in ["\n", "\r\n", "\r"] {
            let whole = job(ending);
            assert!(whole.len() as u64 > (ALONE + 2) * crate::text::PIECE as u64);
            let mut cut = whole.clone();
            cut.truncate(whole.len() - 9);
            let mut ended = whole.clone();
            ended.splice(
                800_000..800_001,
                format!("{ending}M30{ending}").into_bytes(),
            );
            let mut endless = whole.clone();
            endless.resize(whole.len() + 3_000_000, b'7');
            for job in [whole, cut, ended, endless] {
                let one = inspected(&job, Threads::One).unwrap();
                assert_eq!(inspected(&job, Threads::Two).unwrap(), one);
                assert!(one.0.bytes > 0);
            }
        }
        let endless = [job("\n"), vec![b'7'; 3_000_000]].concat();
        let (hopeless, is_whole) = inspected(&endless, Threads::Two).unwrap();
        assert!(hopeless.no_job.is_some() && !is_whole);
    }

    #[test]
    fn a_fault_in_the_middle_is_no_end() {
        struct Breaks(u64);
        impl std::io::Read for Breaks {
            fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
                if self.0 == 0 {
                    return Err(std::io::Error::other("the disk is gone"));
                }
                let line = b"G1 X10 Y20\n";
                let count = into.len().min(line.len());
                into[..count].copy_from_slice(&line[..count]);
                self.0 -= 1;
                Ok(count)
            }
        }
        for threads in [Threads::One, Threads::Two] {
            let reading = Reading {
                threads,
                digest: true,
            };
            let breaks = Breaks(100_000);
            let mut opened = open_stream(breaks, Name::StandardInput, reading).unwrap();
            let mut round = Round::new(Held::default());
            let outcome = carry_out(&mut opened, Packing::Plain, &mut round, threads);
            assert!(
                outcome
                    .unwrap_err()
                    .to_string()
                    .contains("the disk is gone")
            );
            assert!(opened.finish().is_none());
        }
    }
}
