//! A job on its way past a round, its lines read ahead by another thread where there is a core for it, and
//! its walls told by a third where they are asked for.
//!
//! Nobody waits for the reader: a block that it has not read by the time its turn comes is read as it is
//! carried out, as ever. Where all cores are busy it costs next to nothing.

use super::guard::guarded;
use crate::command::Ahead;
use crate::inspection::{Round, Tap};
use crate::survey::Apart;
use crate::text::{Blocks, Error, Feed, Packing, Threads};
use std::collections::VecDeque;
use std::panic::resume_unwind;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, OnceLock};
use std::thread::{Scope, ScopedJoinHandle};

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
    let cores = std::thread::available_parallelism().map_or(2, std::num::NonZero::get);
    let is_alone = threads == Threads::One || cores == 1;
    if !alone(feed, round, if is_alone { u64::MAX } else { ALONE })? {
        return Ok(());
    }
    std::thread::scope(|scope| {
        let parted = Parted(round);
        let walls = part(scope, parted.0);
        // A packed job has its second thread already.
        let outcome = if packing == Packing::Plain {
            read_ahead(scope, feed, parted.0)
        } else {
            alone(feed, parted.0, u64::MAX).map(|_| ())
        };
        drop(parted);
        if let Some(Ok(Err(fault))) = walls.map(ScopedJoinHandle::join) {
            // Where it happened stands in it.
            resume_unwind(Box::new(fault));
        }
        outcome
    })
}

/// A round that may have given something away, and takes it back whatever happens: else that thread would wait
/// for more, and this one for that thread.
struct Parted<'a, T: Tap>(&'a mut Round<T>);

impl<T: Tap> Drop for Parted<'_, T> {
    fn drop(&mut self) {
        self.0.join();
    }
}

/// What a round may do on another thread goes to one, where one starts.
fn part<'scope, T: Tap>(
    scope: &'scope Scope<'scope, '_>,
    round: &mut Round<T>,
) -> Option<ScopedJoinHandle<'scope, Result<(), String>>> {
    if !round.may_part() {
        return None;
    }
    // The thread comes first: what was given away could not be taken back from one that does not start.
    let (hand, take) = sync_channel::<Apart>(1);
    let work = move || guarded(|| take.into_iter().for_each(Apart::work));
    let builder = std::thread::Builder::new().name("walls".to_owned());
    let thread = builder.spawn_scoped(scope, work).ok()?;
    let _ = hand.send(round.part()?);
    Some(thread)
}

/// Takes the rest of a job past a round, its lines read ahead.
fn read_ahead<'scope, T: Tap>(
    scope: &'scope Scope<'scope, '_>,
    feed: &mut impl Feed,
    round: &mut Round<T>,
) -> Result<(), Error> {
    let (to_read, unread) = sync_channel::<Arc<Block>>(BEFORE);
    let (used, again) = sync_channel::<Ahead>(BEFORE);
    let builder = std::thread::Builder::new().name("read".to_owned());
    // Where no thread starts, nobody takes what is sent, and all goes its way here.
    let _ = builder.spawn_scoped(scope, move || read(&unread, &again));
    // Without a sender the thread is at its end.
    beside(feed, round, &to_read, &used)
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
    use std::io::Cursor;

    /// Ends with a fault.
    struct Breaks(Cursor<Vec<u8>>);

    impl std::io::Read for Breaks {
        fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
            match self.0.read(into)? {
                0 => Err(std::io::Error::other("the disk is gone")),
                count => Ok(count),
            }
        }
    }

    /// Has a fault of its own.
    struct Faulty;

    impl Tap for Faulty {
        fn layer(&mut self, layer: &crate::survey::Layer) {
            assert!(layer.number < 1500, "a fault");
        }
    }

    fn inspected(job: &[u8], held: &Held, threads: Threads) -> Result<(Inspected, bool), String> {
        let reading = Reading {
            threads,
            digest: true,
        };
        let stream = Cursor::new(job.to_vec());
        let mut opened = open_stream(stream, Name::StandardInput, reading).unwrap();
        let mut round = Round::new(held.clone());
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
                let one = inspected(&job, &Held::default(), Threads::One).unwrap();
                assert_eq!(
                    inspected(&job, &Held::default(), Threads::Two).unwrap(),
                    one
                );
                assert!(one.0.bytes > 0);
            }
        }
        let endless = [job("\n"), vec![b'7'; 3_000_000]].concat();
        let (hopeless, is_whole) = inspected(&endless, &Held::default(), Threads::Two).unwrap();
        assert!(hopeless.no_job.is_some() && !is_whole);
    }

    /// Squares of two walls and some strands, ever further out, over two thousand layers; an island
    /// begins in the air.
    fn walled() -> Vec<u8> {
        use std::fmt::Write;
        let mut job = String::from("G28\nM83\nM109 S210\n");
        let square = |job: &mut String, low: f64, side: f64| {
            let high = low + side;
            let e = side * 0.017;
            let _ = writeln!(job, "G1 X{low:.3} Y{low:.3} F9000");
            for (x, y) in [(high, low), (high, high), (low, high), (low, low)] {
                let _ = writeln!(job, "G1 X{x:.3} Y{y:.3} E{e:.5} F1800");
            }
        };
        for layer in 1..=2000 {
            let z = 0.1 * f64::from(layer);
            let out = 0.02 * f64::from(layer);
            let _ = writeln!(job, "G1 Z{z:.1}");
            square(&mut job, 80.0 - out, 20.0 + 2.0 * out);
            square(&mut job, 80.45 - out, 19.1 + 2.0 * out);
            for strand in 0..6 {
                let x = 82.0 + 3.0 * f64::from(strand);
                let _ = writeln!(job, "G1 X{x} Y81 F9000\nG1 Y99 E0.3 F1800");
            }
            if layer >= 1000 {
                square(&mut job, 10.0, 9.0);
            }
        }
        job.into_bytes()
    }

    #[test]
    fn walls_beside_the_job_are_what_they_are_on_one_thread() {
        let job = walled();
        assert!(job.len() as u64 > 2 * ALONE * crate::text::PIECE as u64);
        let held = Held {
            sections: true,
            ..Held::default()
        };
        let one = inspected(&job, &held, Threads::One).unwrap();
        let survey = &one.0.survey;
        let walls = survey.walls.as_ref().unwrap();
        assert_eq!(walls.walls.as_ref().unwrap().usual, 2);
        assert_eq!(walls.in_air.len(), 1);
        let island = &walls.in_air[0];
        assert_eq!(
            (island.at.z, island.at.line),
            (100.0, island.begins.place.line)
        );
        assert_eq!(island.begins.text, b"G1 X19.000 Y10.000 E0.15300 F1800");
        // Each row has its own layer's answer: from the second on outlines lean out.
        let rows: Vec<_> = survey.rows.iter().collect();
        assert_eq!(rows.len(), 2000);
        assert_eq!(rows[0].overhang, None);
        assert!(rows[1..].iter().all(|row| row.overhang.is_some()));
        for _ in 0..3 {
            assert_eq!(inspected(&job, &held, Threads::Two).unwrap(), one);
        }
        // A job that breaks off leaves nobody waiting.
        let breaks = Breaks(Cursor::new(job.clone()));
        let mut broken = open_stream(breaks, Name::StandardInput, Reading::default()).unwrap();
        let mut round = Round::new(held.clone());
        let outcome = carry_out(&mut broken, Packing::Plain, &mut round, Threads::Two);
        assert!(outcome.is_err());
        // Nor does a fault of this program.
        let fault = std::panic::catch_unwind(|| {
            let mut opened = open_stream(
                Cursor::new(walled()),
                Name::StandardInput,
                Reading::default(),
            )
            .unwrap();
            let mut round = Round::tapped(
                Held {
                    walls: true,
                    ..Held::default()
                },
                Faulty,
            );
            let _ = carry_out(&mut opened, Packing::Plain, &mut round, Threads::Two);
        });
        assert!(fault.is_err());
        let packed = {
            use std::io::Write;
            let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
            packer.write_all(&job).unwrap();
            packer.finish().unwrap()
        };
        let mut opened =
            open_stream(Cursor::new(packed), Name::StandardInput, Reading::default()).unwrap();
        let packing = opened.packing();
        assert_ne!(packing, Packing::Plain);
        let mut round = Round::new(held);
        carry_out(&mut opened, packing, &mut round, Threads::Two).unwrap();
        assert_eq!(round.finish(), one.0);
    }

    #[test]
    fn a_fault_in_the_middle_is_no_end() {
        for threads in [Threads::One, Threads::Two] {
            let reading = Reading {
                threads,
                digest: true,
            };
            let breaks = Breaks(Cursor::new(b"G1 X10 Y20\n".repeat(100_000)));
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
