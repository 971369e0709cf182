//! Unpacking on a thread of its own, so that it overlaps with inspection.

use super::unpack::Unpacker;
use super::{Stored, stored};
use crate::text::Error;
use std::sync::mpsc::{Receiver, SyncSender, TryRecvError, sync_channel};
use std::thread::JoinHandle;

/// How many pieces may wait between the two threads. Chosen: with fewer, one waits for the other at
/// every unevenness of the job; with more, only memory grows.
const DEPTH: usize = 4;

enum Message {
    Piece(Vec<u8>),
    End(Stored),
    Fault(Error),
}

/// The inspecting thread's end of the hand-over.
pub(super) struct Worker {
    pieces: Option<Receiver<Message>>,
    empties: SyncSender<Vec<u8>>,
    thread: Option<JoinHandle<()>>,
    /// Whether the stored bytes come from a file, so that the thread cannot wait for ever.
    from_file: bool,
}

/// What the worker has for the inspecting thread.
pub(super) enum News {
    /// A piece was appended.
    More,
    /// The job is at its end.
    End(Stored),
}

impl Worker {
    /// Goes on with `unpacker` on a new thread; gives it back where the system has no thread left.
    pub(super) fn start(unpacker: Unpacker, from_file: bool) -> Result<Self, Box<Unpacker>> {
        let (to_inspect, pieces) = sync_channel(DEPTH);
        let (empties, emptied) = sync_channel(DEPTH + 2);
        // The unpacker goes through a channel, so that it is still here if no thread starts.
        let (hand, take) = sync_channel::<Unpacker>(1);
        let run = move || {
            if let Ok(unpacker) = take.recv() {
                unpack(unpacker, &to_inspect, &emptied);
            }
        };
        let builder = std::thread::Builder::new().name("unpack".to_owned());
        let Ok(thread) = builder.spawn(run) else {
            return Err(Box::new(unpacker));
        };
        hand.send(unpacker).map_err(|unsent| Box::new(unsent.0))?;
        Ok(Self {
            pieces: Some(pieces),
            empties,
            thread: Some(thread),
            from_file,
        })
    }

    /// Appends the next piece to `into`. None where the thread is gone without a word.
    pub(super) fn next(&mut self, into: &mut Vec<u8>) -> Option<Result<News, Error>> {
        match self.pieces.as_ref()?.recv().ok()? {
            Message::Piece(piece) => {
                into.extend_from_slice(&piece);
                // Full or closed: the buffer is simply let go.
                let _ = self.empties.try_send(piece);
                Some(Ok(News::More))
            }
            Message::End(stored) => Some(Ok(News::End(stored))),
            Message::Fault(fault) => Some(Err(fault)),
        }
    }
}

impl Drop for Worker {
    fn drop(&mut self) {
        // Without a receiver the thread's next message fails, and it returns.
        self.pieces = None;
        if let Some(thread) = self.thread.take()
            && (self.from_file || thread.is_finished())
        {
            // It ends after one piece at most. On a stream it could wait for bytes that never come:
            // then it is left alone, and ends with the stream or with the process.
            let _ = thread.join();
        }
    }
}

fn unpack(mut unpacker: Unpacker, pieces: &SyncSender<Message>, emptied: &Receiver<Vec<u8>>) {
    loop {
        let mut piece = match emptied.try_recv() {
            Ok(piece) => piece,
            Err(TryRecvError::Empty) => Unpacker::buffer(),
            Err(TryRecvError::Disconnected) => return,
        };
        let (message, last) = match unpacker.next(&mut piece) {
            Ok(true) => (Message::Piece(piece), false),
            Ok(false) => (Message::End(stored(&unpacker)), true),
            Err(fault) => (Message::Fault(fault), true),
        };
        if pieces.send(message).is_err() || last {
            return;
        }
    }
}
