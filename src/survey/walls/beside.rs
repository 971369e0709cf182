//! Walls beside the job: what a layer's beads build is told while the next layers are read, on a thread that
//! somebody else gives. Here are no threads, only the two ends of what goes between them.
//!
//! Layers have their answers in the order laid, on one thread as on two; only when they come differs.

use super::{Names, Trail, WallFigures, Walls};
use std::collections::VecDeque;
use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};

/// Layers that wait for the other thread. Chosen: with fewer, either thread waits at every uneven layer; with
/// more, only memory grows.
const BEFORE: usize = 2;

/// How far a layer leans out, degrees, and what of it hangs unsupported, mm³; none where nobody knows.
type Hung = Option<(f64, f64)>;

/// A closed layer: its beads, its height and how high it is laid, mm.
#[derive(Debug)]
struct Closed {
    trail: Trail,
    height: f64,
    z: f64,
}

/// What comes back.
#[derive(Debug)]
enum Told {
    /// How a layer hangs, and beads that are wanted no more.
    Layer(Hung, Trail),
    /// There are no more layers.
    All(Box<Walls>),
}

/// The walls of a job on their way to another thread.
#[derive(Debug)]
pub struct Apart {
    walls: Box<Walls>,
    closed: Receiver<Closed>,
    tell: Sender<Told>,
}

impl Apart {
    /// Tells the walls of every layer that comes, until whoever sends them wants the walls back. That one waits
    /// for answers: begin at once.
    pub fn work(self) {
        let Self {
            mut walls,
            closed,
            tell,
        } = self;
        for mut layer in closed {
            walls.layer(&mut layer.trail, layer.height, layer.z);
            if tell.send(Told::Layer(walls.hung(), layer.trail)).is_err() {
                // The job was given up.
                return;
            }
        }
        // Nobody takes them back where the job was given up.
        let _ = tell.send(Told::All(walls));
    }
}

#[derive(Debug)]
enum Place {
    Here(Box<Walls>),
    Apart(SyncSender<Closed>, Receiver<Told>),
    /// The other thread ended before its time.
    Lost,
}

/// Follows the walls of a job from layer to layer.
#[derive(Debug)]
pub struct Following {
    place: Place,
    names: Names,
    spare: Vec<Trail>,
    hung: VecDeque<Hung>,
}

impl Following {
    /// Before the first layer; sections take longer.
    #[must_use]
    pub fn new(sections: bool) -> Self {
        Self {
            place: Place::Here(Box::new(Walls::new(sections))),
            names: Names::default(),
            spare: Vec::new(),
            hung: VecDeque::new(),
        }
    }

    /// The names that the job's marks give to objects.
    pub const fn names(&mut self) -> &mut Names {
        &mut self.names
    }

    /// Gives the walls away, for whoever has a thread for them; none where they are away already.
    pub fn part(&mut self) -> Option<Apart> {
        let Place::Here(walls) = &mut self.place else {
            return None;
        };
        let walls = std::mem::take(walls);
        let (layers, closed) = sync_channel(BEFORE);
        let (tell, told) = channel();
        self.place = Place::Apart(layers, told);
        Some(Apart {
            walls,
            closed,
            tell,
        })
    }

    /// Takes the walls back, once all layers so far are told.
    pub fn join(&mut self) {
        self.place = match std::mem::replace(&mut self.place, Place::Lost) {
            Place::Apart(layers, told) => {
                drop(layers);
                let mut place = Place::Lost;
                for told in told {
                    match told {
                        Told::Layer(hung, _) => self.hung.push_back(hung),
                        Told::All(walls) => place = Place::Here(walls),
                    }
                }
                place
            }
            place => place,
        };
    }

    /// A layer is closed: its beads, its height and how high it is laid, mm, and the section of a tool's
    /// filament, mm².
    pub fn layer(&mut self, trail: &Trail, height: f64, z: f64, area: impl Fn(u32) -> f64) {
        let mut copy = self.spare.pop().unwrap_or_default();
        copy.copy(trail, area);
        match &mut self.place {
            Place::Here(walls) => {
                walls.layer(&mut copy, height, z);
                self.hung.push_back(walls.hung());
                self.spare.push(copy);
            }
            Place::Apart(layers, told) => {
                let layer = Closed {
                    trail: copy,
                    height,
                    z,
                };
                // Where nobody takes it, the end says so.
                let _ = layers.send(layer);
                for told in told.try_iter() {
                    if let Told::Layer(hung, trail) = told {
                        self.hung.push_back(hung);
                        self.spare.push(trail);
                    }
                }
            }
            Place::Lost => {}
        }
    }

    /// How the next layer in the order laid hangs, as soon as that is told.
    pub fn next_hung(&mut self) -> Option<Hung> {
        self.hung.pop_front()
    }

    /// What it all comes to; `unknown` is why nothing of it can be relied on.
    #[must_use]
    pub fn finish(mut self, unknown: Option<&'static str>) -> WallFigures {
        self.join();
        match self.place {
            Place::Here(walls) => walls.finish(self.names, unknown),
            _ => Walls::default().finish(self.names, Some("the thread that told them is gone")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn walls_that_never_come_back_are_missed() {
        let mut following = Following::new(false);
        drop(following.part());
        assert!(following.part().is_none());
        for _ in 0..5 {
            following.layer(&Trail::default(), 0.2, 0.2, |_| 1.0);
        }
        following.join();
        assert_eq!(following.next_hung(), None);
        let figures = following.finish(None);
        assert_eq!(
            figures.walls.unwrap_err().to_string(),
            "the thread that told them is gone"
        );
    }
}
