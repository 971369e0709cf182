//! A job on its way past a round, its lines read ahead by another thread where there is a core for it.

use crate::command::Ahead;
use crate::inspection::{Round, Tap};
use crate::text::{Blocks, Error, Feed, Opened, Packing, Threads};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};

/// How many pieces go past before another thread is asked for: a small job is done by then (chosen).
const ALONE: u64 = 2;

/// How many blocks are under way between the two threads. Chosen: with fewer, one waits for the other
/// at every unevenness of the job; with more, only memory grows.
const UNDER_WAY: usize = 4;

/// A block of whole lines, read.
#[derive(Default)]
struct Block {
    bytes: Vec<u8>,
    ahead: Ahead,
}

/// Takes all of a job past a round, or as much of it as can be a job.
///
/// # Errors
///
/// What kept the rest of the job from being read.
pub(super) fn carry_out<T: Tap>(
    opened: &mut Opened,
    round: &mut Round<T>,
    threads: Threads,
) -> Result<(), Error> {
    // A packed job has its second thread already.
    let is_alone = threads == Threads::One
        || opened.packing() != Packing::Plain
        || std::thread::available_parallelism().is_ok_and(|cores| cores.get() == 1);
    let most = if is_alone { u64::MAX } else { ALONE };
    if !alone(opened, round, most)? {
        return Ok(());
    }
    let (full, blocks) = sync_channel(UNDER_WAY);
    let (empty, emptied) = sync_channel(UNDER_WAY + 2);
    // What the thread works on goes through a channel, so that it is still here if no thread starts.
    let (hand, take) = sync_channel::<(&mut Opened, Blocks)>(1);
    std::thread::scope(|scope| {
        let run = move || {
            let (opened, rest) = take.recv().ok()?;
            Some(read(opened, rest, &full, &emptied))
        };
        let builder = std::thread::Builder::new().name("read".to_owned());
        let Ok(reader) = builder.spawn_scoped(scope, run) else {
            return alone(opened, round, u64::MAX).map(|_| ());
        };
        // The thread waits for it, so that it cannot come back.
        let _ = hand.send((opened, round.lend()));
        for block in &blocks {
            round.take_ahead(&block.bytes, &block.ahead);
            // Full or closed: the block is simply let go.
            let _ = empty.try_send(block);
        }
        match reader.join() {
            Ok(Some((rest, outcome))) => {
                round.give_back(rest);
                outcome
            }
            Ok(None) => Ok(()),
            Err(fault) => std::panic::resume_unwind(fault),
        }
    })
}

/// Takes up to `most` pieces past a round; false where there are no more, or the rest can be no job.
fn alone<T: Tap>(opened: &mut Opened, round: &mut Round<T>, most: u64) -> Result<bool, Error> {
    for _ in 0..most {
        if !opened.next(round.buffer())? {
            return Ok(false);
        }
        round.go_on();
        if round.is_hopeless() {
            return Ok(false);
        }
    }
    Ok(true)
}

/// Reads a job's lines up to its end, or to where it can be no job.
fn read(
    opened: &mut Opened,
    mut rest: Blocks,
    full: &SyncSender<Block>,
    emptied: &Receiver<Block>,
) -> (Blocks, Result<(), Error>) {
    loop {
        match opened.next(rest.buffer()) {
            Ok(true) => {}
            Ok(false) => return (rest, Ok(())),
            Err(fault) => return (rest, Err(fault)),
        }
        let mut block = emptied.try_recv().unwrap_or_default();
        if rest.split_off(&mut block.bytes) {
            block.ahead.read(&block.bytes);
            // Nobody takes them any more: whoever did has come to a fault.
            if full.send(block).is_err() {
                return (rest, Ok(()));
            }
        }
        if rest.has_cut() {
            return (rest, Ok(()));
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
        carry_out(&mut opened, &mut round, threads).map_err(|fault| fault.to_string())?;
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
            let outcome = carry_out(&mut opened, &mut round, threads);
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
