//! The state that repeats from part to part: x = G(x), where G takes the tools through one takt.
//!
//! A die settles slowly: its face takes some ten takts to follow the block, and the block takes hours. Where
//! a spray stops wetting a face that has become too hot, one place after the other turns and drives the
//! next. So the shift is followed with a [`DieCopy`] of the tools, fixed to a real takt: two of its takts,
//! then as many at once as the change of the second allows, by an implicit step of slow conduction in the
//! whole block whose length grows with the time gone by. A real takt fixes the copy anew when it has gone
//! too far. Once the copy comes to rest within the tolerance of its real takt, that is the steady state:
//! the one which the shift goes to from where it started.
//!
//! What the heat equation does to a tool keeps order: hotter tools now are hotter tools after a
//! takt. Started below the steady state the tools therefore rise to the lowest one, started above
//! they fall to the highest, and no cycle of two takts attracts them. Two searches, from cold and
//! from hot, thus tell whether there is more than one. Long steps keep that order too, see [`DieCopy::go_on`].

use super::DieCopy;

/// How far the copy may go from its real takt, K: so far that its error in one takt is this, within bounds.
const ERROR_K: f64 = 0.4;
const LEAST_WAY_K: f64 = 13.0;
const MOST_WAY_K: f64 = 60.0;

/// Length of a long step as a share of the takts gone by, and the change of a cell that it may foresee, K.
const SHARE_OF_PAST: f64 = 0.15;
const LONG_STEP_K: f64 = 3.0;

/// A step over so many takts goes to the rest of what changes slowly.
const FOR_EVER: f64 = 1e9;

/// Least share of a step when steps go to and fro.
const LEAST_SHARE: f64 = 0.2;

/// Error of the copy in one takt per kelvin of distance from its real takt, before it is measured.
const FIRST_ERROR: f64 = 5e-3;

/// How much warmer the tools of the trial part are, K.
pub const TRIAL_K: f64 = 10.0;

/// Share of the tolerance within which the copy has come to rest.
const AT_REST: f64 = 0.2;

/// What one real takt showed: temperatures when the part has left and before the next one, degC.
#[derive(Debug, Clone)]
pub struct Takt<R> {
    /// When the part has left.
    pub left: Vec<f64>,
    /// Before the next part.
    pub after: Vec<f64>,
    /// The result of the part.
    pub part: R,
}

/// Bounds of the search.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Distance from the steady state that is near enough, K.
    pub tolerance_k: f64,
    /// Most real takts.
    pub evaluations: usize,
    /// Most takts of the copy.
    pub takts: usize,
}

/// What the search found.
#[derive(Debug, Clone)]
pub struct Settled<R> {
    /// Temperatures before a part.
    pub state: Vec<f64>,
    /// The part that met them.
    pub part: R,
    /// Real takts.
    pub evaluations: usize,
    /// Largest change of a cell over the takt, K.
    pub residual_k: f64,
    /// Largest distance of a cell from the steady state, K, by the copy.
    pub distance_k: f64,
    /// Whether the distance is within the tolerance.
    pub converged: bool,
    /// Takts that the copy was taken through.
    pub takts: usize,
    /// First takt from which on the mean face of every tool stays within `near_k` of its last.
    pub near_from: usize,
}

/// Follows the tools from `start`, whose real takt is `first`, until they repeat. `trial` is what a part
/// leaves on tools that are [`TRIAL_K`] warmer than `start` all through. `near_k` is only for [`Settled::near_from`].
///
/// # Errors
/// Those of a real takt.
pub fn settle<R, E>(
    mut tools: Vec<DieCopy<'_>>,
    start: &[f64],
    first: Takt<R>,
    trial: &[f64],
    bounds: Bounds,
    near_k: f64,
    mut real: impl FnMut(&[f64]) -> Result<Takt<R>, E>,
) -> Result<Settled<R>, E> {
    let mut x = start.to_vec();
    let mut takt = first;
    let mut evaluations = 2;
    let mut walk = Walk {
        at_rest_k: AT_REST * bounds.tolerance_k,
        most: bounds.takts,
        way_k: ERROR_K / FIRST_ERROR,
        takts: 0,
        faces: Vec::new(),
    };
    let mut share;
    let mut y = x.clone();
    let mut last_step = None;
    loop {
        fix(&mut tools, &x, &takt);
        if evaluations == 2 {
            learn(&mut tools, trial);
        }
        walk.note(&tools, &x, 1);
        y.copy_from_slice(&takt.after);
        let residual_k = largest(&y, &x);
        let rests = walk.follow(&mut tools, &x, &mut y);
        let reached = largest(&y, &x);
        let distance_k = reached + walk.at_rest_k;
        let converged = rests && distance_k <= bounds.tolerance_k;
        let takts = walk.takts;
        if converged || evaluations >= bounds.evaluations || takts >= bounds.takts {
            return Ok(Settled {
                near_from: walk.near_from(&face_means(&tools, &y), near_k),
                state: x,
                part: takt.part,
                evaluations,
                residual_k,
                distance_k,
                converged,
                takts,
            });
        }
        let taken = relaxed(&x, &mut y, last_step);
        share = taken.0;
        last_step = Some(taken);
        takt = real(&y)?;
        evaluations += 1;
        x.copy_from_slice(&y);
        advance(&mut tools, &mut y);
        let error = largest(&y, &takt.after) / reached.max(bounds.tolerance_k);
        walk.way_k = share * (ERROR_K / error).clamp(LEAST_WAY_K, MOST_WAY_K);
    }
}

/// The way of the copies from real takt to real takt.
struct Walk {
    /// What is left of the way when they rest, K.
    at_rest_k: f64,
    /// Most takts.
    most: usize,
    /// How far they may go from their real takt, K.
    way_k: f64,
    /// Takts gone by.
    takts: usize,
    /// Mean faces before takts, with the number of each.
    faces: Vec<(usize, Vec<f64>)>,
}

impl Walk {
    /// Takes the copies, fixed to a real takt from `x`, on from `y`. True when they come to rest, false
    /// when they have gone too far.
    fn follow(&mut self, tools: &mut [DieCopy<'_>], x: &[f64], y: &mut [f64]) -> bool {
        let mut before = y.to_vec();
        let mut rest = y.to_vec();
        loop {
            // The first takt after a long step rids the cells near the face of what the step left there.
            for _ in 0..2 {
                self.note(tools, y, 1);
                before.copy_from_slice(y);
                advance(tools, y);
            }
            let change = largest(y, &before);
            rest.copy_from_slice(y);
            long_step(tools, &before, &mut rest, FOR_EVER);
            if largest(&rest, y) <= self.at_rest_k {
                return true;
            }
            let takts = long_step_takts(SHARE_OF_PAST * self.takts as f64, change);
            if takts > 0 {
                self.note(tools, y, takts);
                long_step(tools, &before, y, takts as f64);
            }
            if largest(y, x) > self.way_k || self.takts >= self.most {
                return false;
            }
        }
    }

    fn note(&mut self, tools: &[DieCopy<'_>], y: &[f64], takts: usize) {
        self.faces.push((self.takts, face_means(tools, y)));
        self.takts += takts;
    }

    /// First takt from which on the mean face of every tool is within `near_k` of `end`.
    fn near_from(&self, end: &[f64], near_k: f64) -> usize {
        let far = |(_, means): &(usize, Vec<f64>)| means.iter().zip(end).any(|(a, b)| (a - b).abs() > near_k);
        let last = self.faces.iter().rposition(far);
        last.map_or(0, |at| self.faces.get(at + 1).map_or(self.takts, |(takt, _)| *takt))
    }
}

/// Takts of a long step: a power of two, so that few steps are factored.
fn long_step_takts(most: f64, change_k: f64) -> usize {
    let most = most.min(LONG_STEP_K / change_k.max(1e-12));
    if most < 1.0 { 0 } else { 1 << most.log2() as u32 }
}

/// Shortens the step from x to y where it turns back on the last one, as steps do about a corner in the law
/// of a spray (B. M. Irons and R. C. Tuck, Int. J. Numer. Methods Eng. 1 (1969) 275). Gives the share
/// taken and the whole step.
fn relaxed(x: &[f64], y: &mut [f64], last: Option<(f64, Vec<f64>)>) -> (f64, Vec<f64>) {
    let step: Vec<f64> = y.iter().zip(x).map(|(y, x)| y - x).collect();
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let wanted = match last {
        Some((share, before)) if dot(&before, &step) < 0.0 => {
            let turn: Vec<f64> = step.iter().zip(&before).map(|(s, b)| s - b).collect();
            -share * dot(&before, &turn) / dot(&turn, &turn)
        }
        Some((share, _)) => 2.0 * share,
        None => 1.0,
    };
    let share = wanted.clamp(LEAST_SHARE, 1.0);
    for (y, (x, s)) in y.iter_mut().zip(x.iter().zip(&step)) {
        *y = x + share * s;
    }
    (share, step)
}

/// Largest difference of two states; not a number where one is none.
pub fn largest(a: &[f64], b: &[f64]) -> f64 {
    let more = |most: f64, d: f64| if d.is_nan() { d } else { most.max(d) };
    a.iter().zip(b).map(|(a, b)| (a - b).abs()).fold(0.0, more)
}

fn fix<R>(tools: &mut [DieCopy<'_>], before: &[f64], takt: &Takt<R>) {
    let mut at = 0;
    for tool in tools {
        let own = at..at + tool.cells();
        at = own.end;
        tool.fix(&before[own.clone()], &takt.left[own.clone()], &takt.after[own]);
    }
}

fn learn(tools: &mut [DieCopy<'_>], left: &[f64]) {
    let mut at = 0;
    for tool in tools {
        let own = at..at + tool.cells();
        at = own.end;
        tool.learn(TRIAL_K, &left[own]);
    }
}

/// Takes all tools on over many takts at once.
fn long_step(tools: &mut [DieCopy<'_>], before: &[f64], after: &mut [f64], takts: f64) {
    let mut at = 0;
    for tool in tools {
        let own = at..at + tool.cells();
        at = own.end;
        tool.go_on(&before[own.clone()], &mut after[own], takts);
    }
}

/// Takes all tools through a takt; gives the largest change of a cell.
fn advance(tools: &mut [DieCopy<'_>], temps_c: &mut [f64]) -> f64 {
    let mut rest = temps_c;
    let mut parts = Vec::with_capacity(tools.len());
    for tool in tools {
        let (own, after) = rest.split_at_mut(tool.cells());
        rest = after;
        parts.push((tool, own));
    }
    let one = |(tool, own): (&mut DieCopy<'_>, &mut [f64])| {
        let before = own.to_vec();
        tool.takt(own);
        largest(&before, own)
    };
    parts.into_iter().map(one).fold(0.0, f64::max)
}

fn face_means(tools: &[DieCopy<'_>], temps_c: &[f64]) -> Vec<f64> {
    let mut at = 0;
    let of = |tool: &DieCopy<'_>| {
        let mean = tool.face_mean_c(&temps_c[at..]);
        at += tool.cells();
        mean
    };
    tools.iter().map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::{Axis, AxisKind};
    use crate::conduction::{Columns, DeepEnd, Exchange};
    use crate::die::{Ground, Phase, Spray, phases};
    use crate::steel::ThermalTable;
    use std::sync::Arc;

    fn tool() -> Ground {
        let depth = Axis::graded(AxisKind::Linear, 0.0, 0.05, Some(2e-4), None, 1.6, 0.01).unwrap();
        let metal = Arc::new(ThermalTable::constant(28.0, 550.0, 7700.0));
        let mut columns = Columns::new(metal, &depth, 3, 150.0, DeepEnd::Fixed(150.0), 0);
        columns.set_contacts(&[None; 3], &[1e-3, 2e-3, 1.5e-3]);
        Ground::over(columns, vec![(0.0, 1.0), (1.0, 3.0), (3.0, 4.5)])
    }

    fn idle() -> Vec<Phase> {
        let spray = Spray {
            seconds: 1.2,
            film_w_m2k: None,
            water_c: 20.0,
        };
        phases(Some(&spray), None, &Exchange::air(10.0, 0.8, 25.0), 4.0)
    }

    /// A part that gives so many W/m² for two seconds.
    fn takt(x: &[f64], flux: f64) -> Takt<()> {
        let mut ground = tool();
        ground.set_temperatures(x);
        ground.rest(2.0, &Exchange::flux(flux), 1.0).unwrap();
        let left = ground.temperatures();
        for phase in idle() {
            ground.rest(phase.seconds, &phase.exchange, 1.0).unwrap();
        }
        Takt {
            left,
            after: ground.temperatures(),
            part: (),
        }
    }

    /// The state after so many takts that nothing changes any more, and the one that is searched.
    fn both(start_c: f64, flux: f64) -> (Vec<f64>, Settled<()>) {
        let ground = tool();
        let start = vec![start_c; ground.cells()];
        let mut last = start.clone();
        for _ in 0..500 {
            last = takt(&last, flux).after;
        }
        let bounds = Bounds {
            tolerance_k: 0.3,
            evaluations: 30,
            takts: 3000,
        };
        let tools = vec![DieCopy::new(&ground, 2.0, idle())];
        let real = |x: &[f64]| Ok::<_, ()>(takt(x, flux));
        let trial = takt(&vec![start_c + TRIAL_K; start.len()], flux).left;
        let found = settle(tools, &start, takt(&start, flux), &trial, bounds, 5.0, real).unwrap();
        (last, found)
    }

    /// Wet below, dry above, and between the two what the start decides.
    #[test]
    fn search_ends_where_the_takts_end() {
        let mut faces = Vec::new();
        for (start_c, flux) in [(150.0, 0.9e6), (150.0, 1.1e6), (600.0, 1.1e6), (150.0, 1.4e6)] {
            let (last, found) = both(start_c, flux);
            let apart = largest(&last, &found.state);
            assert!(
                found.converged && apart < 0.4,
                "{start_c} {flux}: {apart} {}",
                found.distance_k
            );
            assert!(found.evaluations <= 15, "{start_c} {flux}: {}", found.evaluations);
            faces.push(found.state[0]);
        }
        assert!(faces[1] < 250.0 && faces[2] > 400.0, "{faces:?}");
    }
}
