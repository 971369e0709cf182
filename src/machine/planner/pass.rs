//! The passes over the window: plain loops over plain arrays.

use super::{Before, CAP, Corner, Kind, Rates, Window};

/// Written out, so that it becomes one instruction: neither is ever NaN.
#[inline(always)]
fn less(a: f64, b: f64) -> f64 {
    if a < b { a } else { b }
}

#[inline(always)]
fn more(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}

/// One over each limit; none is no limit.
fn inverse(limits: [f64; 4]) -> [f64; 4] {
    limits.map(|limit| 1.0 / limit)
}

impl Window {
    /// Directions, and speed and acceleration within what the axes can do.
    pub(super) fn directions(&mut self, from: usize, to: usize, rates: &Rates) {
        let [sx, sy, sz, se] = inverse(rates.speed);
        let [ax, ay, az, ae] = inverse(rates.axis);
        let rows = self.x[from..to]
            .iter_mut()
            .zip(&mut self.y[from..to])
            .zip(&mut self.z[from..to])
            .zip(&mut self.e[from..to])
            .zip(&self.length[from..to])
            .zip(&mut self.speed[from..to])
            .zip(&mut self.acceleration[from..to])
            .zip(&mut self.section[from..to]);
        for (((((((ux, uy), uz), ue), length), speed), acceleration), section) in rows {
            let (dx, dy, dz, de) = (*ux, *uy, *uz, *ue);
            let per = 1.0 / length;
            let (x, y, z, e) = (dx * per, dy * per, dz * per, de * per);
            let fast = more(
                more(x.abs() * sx, y.abs() * sy),
                more(z.abs() * sz, e.abs() * se),
            );
            let hard = more(
                more(x.abs() * ax, y.abs() * ay),
                more(z.abs() * az, e.abs() * ae),
            );
            *section *= per;
            (*ux, *uy, *uz, *ue) = (x, y, z, e);
            *speed = less(*speed, 1.0 / fast);
            *acceleration = less(*acceleration, 1.0 / hard);
        }
    }

    /// The square of the highest speed through the corner before each move. Speeds are squares from
    /// here on.
    pub(super) fn corners(
        &mut self,
        from: usize,
        to: usize,
        rates: &Rates,
        before: Option<Before>,
        arcs: &[(usize, [f64; 3])],
    ) {
        // Inner corners first, wide; then the ones that need a closer look.
        let inner = from + 1..to;
        match rates.corner {
            Corner::PerAxis(limits) => {
                let [jx, jy, jz, je] = inverse(limits);
                for i in inner {
                    let change = more(
                        more(
                            (self.x[i] - self.x[i - 1]).abs() * jx,
                            (self.y[i] - self.y[i - 1]).abs() * jy,
                        ),
                        more(
                            (self.z[i] - self.z[i - 1]).abs() * jz,
                            (self.e[i] - self.e[i - 1]).abs() * je,
                        ),
                    );
                    let limit = 1.0 / change;
                    let slower = less(self.speed[i], self.speed[i - 1]);
                    let speed = less(limit, slower);
                    self.corner[i] = speed * speed;
                }
            }
            Corner::Vector(limit) => {
                for i in inner {
                    let x = self.x[i] - self.x[i - 1];
                    let y = self.y[i] - self.y[i - 1];
                    let z = self.z[i] - self.z[i - 1];
                    let square = limit * limit / (x * x + y * y + z * z);
                    let slower = less(self.speed[i], self.speed[i - 1]);
                    self.corner[i] = less(square, slower * slower);
                }
            }
            Corner::Deviation(deviation) => {
                for i in inner {
                    let straight = self.x[i] * self.x[i - 1]
                        + self.y[i] * self.y[i - 1]
                        + self.z[i] * self.z[i - 1];
                    let half = more(0.5 + 0.5 * straight, 0.0).sqrt();
                    let turn = more(1.0 - half, 0.0);
                    let softer = less(self.acceleration[i], self.acceleration[i - 1]);
                    let square = softer * deviation * half / turn;
                    let slower = less(self.speed[i], self.speed[i - 1]);
                    self.corner[i] = less(square, slower * slower);
                }
            }
        }
        // The first corner, those behind arcs, and those where filament stops or starts alone.
        let first = before.map_or(0.0, |before| self.corner_at(from, &before, rates));
        self.corner[from] = first;
        for &(arc, leaves) in arcs {
            if arc + 1 < to {
                let before = self.at(arc, Some(leaves));
                self.corner[arc + 1] = self.corner_at(arc + 1, &before, rates);
            }
        }
        if !matches!(rates.corner, Corner::PerAxis(_)) {
            for i in from + 1..to {
                let solo = self.kind[i] == Kind::Retract || self.kind[i - 1] == Kind::Retract;
                if solo {
                    self.corner[i] = 0.0;
                }
            }
        }
        for speed in &mut self.speed[from..to] {
            *speed *= *speed;
        }
    }

    /// One corner, the long way.
    fn corner_at(&self, i: usize, before: &Before, rates: &Rates) -> f64 {
        use crate::physics::corner::{by_axis_change, by_deviation, by_vector_change};
        let now = [self.x[i], self.y[i], self.z[i], self.e[i]];
        let is_solo = self.kind[i] == Kind::Retract || before.is_solo;
        let xyz = |of: [f64; 4]| [of[0], of[1], of[2]];
        let limit = match rates.corner {
            Corner::PerAxis(limits) => by_axis_change(before.direction, now, limits),
            _ if is_solo => 0.0,
            Corner::Vector(limit) => by_vector_change(xyz(before.direction), xyz(now), limit),
            Corner::Deviation(deviation) => by_deviation(
                xyz(before.direction),
                xyz(now),
                deviation,
                less(before.acceleration, self.acceleration[i]),
            ),
        };
        let speed = less(limit, less(before.speed, self.speed[i]));
        speed * speed
    }

    /// A move as the corner behind it sees it, before speeds are squared.
    fn at(&self, i: usize, leaves: Option<[f64; 3]>) -> Before {
        let [x, y, z] = leaves.unwrap_or([self.x[i], self.y[i], self.z[i]]);
        Before {
            direction: [x, y, z, self.e[i]],
            speed: self.speed[i],
            acceleration: self.acceleration[i],
            is_solo: self.kind[i] == Kind::Retract,
        }
    }

    /// The last staged move, as the next corner sees it.
    pub(super) fn last(&self, i: usize, arcs: &[(usize, [f64; 3])]) -> Before {
        let leaves = arcs.iter().find(|(arc, _)| *arc == i).map(|(_, out)| *out);
        let before = self.at(i, leaves);
        Before {
            speed: before.speed.sqrt(),
            ..before
        }
    }

    /// The speeds at all corners: backward so that every move can still slow down, forward so that
    /// it can reach them. Returns how many moves nothing later can change.
    pub(super) fn settle(&mut self, count: usize, start: f64, stops: bool) -> usize {
        let mut next = 0.0;
        let mut free = 0;
        self.entry[count] = 0.0;
        for i in (0..count).rev() {
            let reach = next + 2.0 * self.acceleration[i] * self.length[i];
            let corner = self.corner[i];
            // The corner itself is the limit, whatever comes after.
            if corner <= reach && free == 0 {
                free = i;
            }
            next = less(corner, reach);
            self.entry[i] = next;
        }
        let settled = if stops {
            count
        } else if free > CAP / 8 {
            free
        } else {
            match self.reached(count, start) {
                reached if reached > CAP / 8 => reached,
                _ => count / 2,
            }
        };
        self.entry[0] = start;
        let mut speed = start;
        for i in 0..settled {
            let reach = speed + 2.0 * self.acceleration[i] * self.length[i];
            speed = less(self.entry[i + 1], reach);
            self.entry[i + 1] = speed;
        }
        settled
    }

    /// Up to where moves still speed up as hard as they can below what is behind them allows: what may
    /// come can only allow more.
    fn reached(&self, count: usize, start: f64) -> usize {
        let (mut speed, mut reached) = (start, 0);
        for i in 0..count {
            let reach = speed + 2.0 * self.acceleration[i] * self.length[i];
            let allowed = self.entry[i + 1];
            if reach <= allowed {
                reached = i + 1;
            }
            speed = less(allowed, reach);
        }
        reached
    }

    /// How long each of the settled moves takes, and how fast it gets.
    pub(super) fn times(&mut self, settled: usize) {
        for (speed, square) in self.seconds[..=settled].iter_mut().zip(&self.entry) {
            *speed = square.sqrt();
        }
        let mut entry_speed = self.seconds[0];
        for i in 0..settled {
            let exit_speed = self.seconds[i + 1];
            // Both corners' speeds together, for the next loop.
            self.seconds[i] = entry_speed + exit_speed;
            entry_speed = exit_speed;
        }
        let rows = self.entry[..settled]
            .iter()
            .zip(&self.entry[1..=settled])
            .zip(&self.length[..settled])
            .zip(&self.acceleration[..settled])
            .zip(&self.speed[..settled])
            .zip(&self.section[..settled])
            .zip(&mut self.seconds[..settled])
            .zip(&mut self.peak[..settled])
            .zip(&mut self.flow[..settled])
            .zip(&mut self.rate[..settled]);
        for (
            (((((((entry, exit), length), acceleration), speed), section), seconds), peak),
            (flow, rate),
        ) in rows.map(|((rows, flow), rate)| (rows, (flow, rate)))
        {
            let ends = entry + exit;
            let most = less(*speed, acceleration * length + 0.5 * ends);
            let top = most.sqrt();
            let per = 1.0 / acceleration;
            // What the ramps leave of the way; rounding may leave less than nothing.
            let rest = more(length - (most - 0.5 * ends) * per, 0.0);
            let took = (2.0 * top - *seconds) * per + rest / top;
            *seconds = took;
            *peak = top;
            *flow = section * top;
            *rate = section * length / took;
        }
    }

    /// Makes room: what is not settled moves to the front. Of the rows that are not named here
    /// nothing is read again.
    pub(super) fn shift(&mut self, settled: usize, count: usize) {
        for row in [
            &mut self.length,
            &mut self.speed,
            &mut self.acceleration,
            &mut self.section,
            &mut self.corner,
        ] {
            row.copy_within(settled..count, 0);
        }
        self.kind.copy_within(settled..count, 0);
    }
}
