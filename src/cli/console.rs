//! The two streams of the process: colour, width, and readers that have gone.

use super::args::Color;
use crate::report::paint::Look;
use std::io::{ErrorKind, IsTerminal, Write};

/// The width where no terminal says one.
const WIDTH: usize = 100;

/// Narrower than this a report cannot be set.
const LEAST_WIDTH: usize = 40;

/// Wider than this lines are hard to read.
const MOST_WIDTH: usize = 120;

/// Standard output and standard error, as they are to be written to.
#[derive(Debug)]
pub(super) struct Console {
    /// How reports are set on the standard output.
    pub out: Look,
    /// How messages are set on the standard error.
    pub err: Look,
    /// Whether the standard output is a terminal.
    pub is_terminal: bool,
}

/// Why the standard output takes no more.
#[derive(Debug)]
pub(super) enum Closed {
    /// Whoever read it has gone.
    Reader,
    /// The system said this.
    Full(std::io::Error),
}

impl Console {
    pub fn new(color: Color) -> Self {
        let (out, err) = (
            std::io::stdout().is_terminal(),
            std::io::stderr().is_terminal(),
        );
        // <https://no-color.org>: present and not empty, whatever its value.
        let plain = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty())
            || std::env::var_os("TERM").is_some_and(|term| term == "dumb");
        let colour = |is_terminal: bool| match color {
            Color::Always => true,
            Color::Never => false,
            Color::Auto => is_terminal && !plain,
        };
        let width = if out || err {
            terminal_size::terminal_size()
                .map_or(WIDTH, |(terminal_size::Width(width), _)| usize::from(width))
                .clamp(LEAST_WIDTH, MOST_WIDTH)
        } else {
            WIDTH
        };
        Self {
            out: Look {
                colour: colour(out),
                width: if out { width } else { WIDTH },
            },
            err: Look {
                colour: colour(err),
                width: if err { width } else { WIDTH },
            },
            is_terminal: out,
        }
    }

    /// Writes a text to the standard output.
    pub fn write(&self, text: &str) -> Result<(), Closed> {
        let lock = std::io::stdout().lock();
        let choice = choice(self.out);
        let mut out = anstream::AutoStream::new(lock, choice);
        out.write_all(text.as_bytes())
            .and_then(|()| out.flush())
            .map_err(|fault| match fault.kind() {
                ErrorKind::BrokenPipe => Closed::Reader,
                _ => Closed::Full(fault),
            })
    }

    /// Writes a message to the standard error. Where nobody reads it, nothing can be said.
    pub fn say(&self, text: &str) {
        let lock = std::io::stderr().lock();
        let mut err = anstream::AutoStream::new(lock, choice(self.err));
        let _ = err.write_all(text.as_bytes());
    }
}

/// Without colour the stream strips what looks like an escape sequence: a second line of defence.
const fn choice(look: Look) -> anstream::ColorChoice {
    if look.colour {
        anstream::ColorChoice::Always
    } else {
        anstream::ColorChoice::Never
    }
}
