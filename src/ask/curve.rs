//! Margins of all limits along one variable, with few expensive runs.

use super::failure::Failure;
use super::model::{Change, Model};
use crate::numeric::root::{LimitOutcome, SearchError, falling_limit};

/// Margins along one variable x.
///
/// The shape of the curve comes from a few runs of a cheaper model of the same line, where one is given, and
/// is shifted to pass through every run of the full model; a crossing found on the shifted curve is
/// then confirmed by a full run there, which shifts the curve again, until the full run agrees.
/// A crossing is that of the full model, only found with fewer runs of it. That a limit never breaks is said without a
/// full run at the end where the shifted curve clears it there by more than 20 K; with less to spare, by one.
pub(crate) struct Curve<'a> {
    full: &'a dyn Model,
    cheap: &'a dyn Model,
    changes: Box<dyn Fn(f64) -> Vec<Change> + Sync + 'a>,
    full_runs: Vec<(f64, Vec<f64>)>,
    /// Runs that are known but do not shape the curve at present.
    aside: Vec<(f64, Vec<f64>)>,
    cheap_runs: Vec<(f64, Vec<f64>)>,
}

/// How closely a crossing is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Look {
    /// On the cheap model between nodes, shifted onto the full runs there are: enough to tell which
    /// limit comes first.
    Nodes,
    /// On runs of the cheap model, shifted so.
    Near,
    /// Confirmed by runs of the full model, save that a limit is clear by far at the end.
    Full,
}

impl Look {
    /// The closest look that makes no run of the full model.
    pub(crate) fn without_runs(self) -> Look {
        match self {
            Look::Nodes => Look::Nodes,
            Look::Near | Look::Full => Look::Near,
        }
    }
}

/// How near zero, in K, the margin of the full model has to be at a crossing.
const NEAR_K: f64 = 0.05;

impl<'a> Curve<'a> {
    /// A curve; `changes` says what x means.
    pub(crate) fn new(
        full: &'a dyn Model,
        cheap: Option<&'a dyn Model>,
        changes: impl Fn(f64) -> Vec<Change> + Sync + 'a,
    ) -> Self {
        Self {
            full,
            cheap: cheap.unwrap_or(full),
            changes: Box::new(changes),
            full_runs: Vec::new(),
            aside: Vec::new(),
            cheap_runs: Vec::new(),
        }
    }

    fn margins(&self, model: &dyn Model, x: f64) -> Result<Vec<f64>, Failure> {
        Ok(model.run(&(self.changes)(x))?.margins_k())
    }

    /// Runs of the full model so far.
    pub(crate) fn runs(&self) -> usize {
        self.full_runs.len() + self.aside.len()
    }

    /// Starts a search afresh: the curve is shaped by the first run at x = 0 alone, so that what is
    /// found does not depend on what was asked before. No run is made twice.
    pub(crate) fn restart(&mut self) {
        let (kept, aside) = std::mem::take(&mut self.full_runs)
            .into_iter()
            .partition(|(x, _)| *x == 0.0);
        self.full_runs = kept;
        let mut more: Vec<(f64, Vec<f64>)> = aside;
        self.aside.append(&mut more);
    }

    /// Lets every run made so far shape the curve.
    pub(crate) fn recall(&mut self) {
        for (x, margins) in std::mem::take(&mut self.aside) {
            insert(&mut self.full_runs, x, margins);
        }
    }

    /// Puts in a run of the full model that is already known.
    pub(crate) fn know(&mut self, x: f64, margins_k: Vec<f64>) {
        insert(&mut self.full_runs, x, margins_k);
    }

    /// Margins of the full model at x.
    pub(crate) fn exact(&mut self, x: f64) -> Result<Vec<f64>, Failure> {
        if let Some(known) = find(&self.full_runs, x) {
            return Ok(known.clone());
        }
        let margins = match self.aside.iter().position(|(at, _)| *at == x) {
            Some(known) => self.aside.swap_remove(known).1,
            None => self.margins(self.full, x)?,
        };
        insert(&mut self.full_runs, x, margins.clone());
        Ok(margins)
    }

    fn cheap(&mut self, x: f64) -> Result<Vec<f64>, Failure> {
        if let Some(known) = find(&self.cheap_runs, x) {
            return Ok(known.clone());
        }
        let margins = self.margins(self.cheap, x)?;
        insert(&mut self.cheap_runs, x, margins.clone());
        Ok(margins)
    }

    /// Margins at x: of the cheap model there, shifted onto the full one.
    pub(crate) fn near(&mut self, x: f64) -> Result<Vec<f64>, Failure> {
        self.shifted(x, &mut |curve, x| curve.cheap(x))
    }

    /// As [`Curve::near`], with the cheap model taken between nodes.
    fn guess(&mut self, nodes: &[f64], x: f64) -> Result<Vec<f64>, Failure> {
        self.shifted(x, &mut |curve, x| curve.between_nodes(nodes, x))
    }

    /// What `shape` says at x, shifted by what it lacks at the runs of the full model on either side.
    fn shifted(&mut self, x: f64, shape: &mut Shape<'_, 'a>) -> Result<Vec<f64>, Failure> {
        if let Some(known) = find(&self.full_runs, x) {
            return Ok(known.clone());
        }
        let mut margins = shape(self, x)?;
        let [left, right] = self.sides(x).map(|k| k.and_then(|k| self.full_runs.get(k)).cloned());
        let mut lacks = |(at, full): &(f64, Vec<f64>)| -> Result<Vec<f64>, Failure> {
            let shape = shape(self, *at)?;
            Ok(full.iter().zip(&shape).map(|(full, shape)| full - shape).collect())
        };
        let shift = match (&left, &right) {
            (Some(a), Some(b)) => {
                let (low, high) = (lacks(a)?, lacks(b)?);
                let w = (x - a.0) / (b.0 - a.0);
                low.iter().zip(&high).map(|(l, h)| l + w * (h - l)).collect()
            }
            (Some(run), None) | (None, Some(run)) => lacks(run)?,
            (None, None) => vec![0.0; margins.len()],
        };
        margins.iter_mut().zip(shift).for_each(|(m, s)| *m += s);
        Ok(margins)
    }

    /// Places of the runs of the full model on either side of x.
    fn sides(&self, x: f64) -> [Option<usize>; 2] {
        let after = self.full_runs.partition_point(|(at, _)| *at < x);
        [after.checked_sub(1), Some(after)]
    }

    /// Margins of the cheap model at x between nodes that lie ever further apart, by the parabola
    /// through three of them. What this errs is taken up by the shift onto the full runs.
    fn between_nodes(&mut self, nodes: &[f64], x: f64) -> Result<Vec<f64>, Failure> {
        if nodes.binary_search_by(|node| node.total_cmp(&x)).is_ok() {
            return self.cheap(x);
        }
        let after = nodes.partition_point(|node| *node <= x).clamp(1, nodes.len() - 1);
        let first = after.saturating_sub(2).min(nodes.len() - 3);
        let (a, b, c) = (nodes[first], nodes[first + 1], nodes[first + 2]);
        let (fa, fb, fc) = (self.cheap(a)?, self.cheap(b)?, self.cheap(c)?);
        let wa = (x - b) * (x - c) / ((a - b) * (a - c));
        let wb = (x - a) * (x - c) / ((b - a) * (b - c));
        let wc = (x - a) * (x - b) / ((c - a) * (c - b));
        Ok((0..fa.len()).map(|k| wa * fa[k] + wb * fb[k] + wc * fc[k]).collect())
    }

    /// Where `measure` of x and the margins there, positive at `start`, first falls below zero on the way
    /// to `end`; to `tolerance` in x, and as closely as `look` says.
    pub(crate) fn crossing(
        &mut self,
        measure: &dyn Fn(f64, &[f64]) -> f64,
        (start, first_step, end): (f64, f64, f64),
        tolerance: f64,
        look: Look,
    ) -> Result<LimitOutcome, Failure> {
        if end <= start {
            let margin = measure(start, &self.exact(start)?);
            return Ok(if margin < 0.0 {
                LimitOutcome::AlreadyBroken { margin }
            } else {
                LimitOutcome::NeverBreaks { margin, end: start }
            });
        }
        let mut nodes = nodes((start, first_step, end));
        let mut left = CORRECTIONS;
        loop {
            left -= 1;
            let on_curve = |x| self.guess(&nodes, x).map(|m| measure(x, &m));
            let outcome = falling_limit(on_curve, start, first_step, end, tolerance).map_err(search_failure)?;
            if look == Look::Nodes && !self.full_runs.is_empty() {
                return Ok(outcome);
            }
            if matches!(outcome, LimitOutcome::NeverBreaks { margin, .. } if margin > SURE_K)
                && !self.full_runs.is_empty()
            {
                return Ok(outcome);
            }
            let x = match outcome {
                LimitOutcome::AlreadyBroken { .. } => start,
                LimitOutcome::NeverBreaks { end, .. } => end,
                LimitOutcome::Limit { holds, .. } => holds,
            };
            let here = match look {
                Look::Full => self.exact(x)?,
                Look::Nodes | Look::Near => self.near(x)?,
            };
            let here = measure(x, &here);
            let agrees = match outcome {
                LimitOutcome::AlreadyBroken { .. } => here < 0.0,
                LimitOutcome::NeverBreaks { .. } => here >= 0.0,
                LimitOutcome::Limit { .. } => here.abs() < NEAR_K,
            };
            if !agrees && left > 0 {
                if look != Look::Full {
                    // The cheap model was run here and at the full runs on either side.
                    let sides = self.sides(x).into_iter().flatten();
                    let sides: Vec<f64> = sides.filter_map(|k| Some(self.full_runs.get(k)?.0)).collect();
                    sides.into_iter().chain([x]).for_each(|x| add_node(&mut nodes, x));
                }
                continue;
            }
            let LimitOutcome::Limit {
                holds,
                breaks,
                x,
                evaluations,
            } = outcome
            else {
                return Ok(outcome);
            };
            if here >= 0.0 {
                return Ok(outcome);
            }
            // Just beyond: step back to the safe side along the slope.
            let back = (0.1 * (holds - start)).min(0.5);
            let earlier = measure(holds - back, &self.guess(&nodes, holds - back)?);
            let slope = (earlier - here) / back;
            let safe = if slope > 0.0 {
                holds + here / slope
            } else {
                holds - back
            };
            return Ok(LimitOutcome::Limit {
                holds: safe.max(start),
                breaks: holds.max(breaks),
                x,
                evaluations,
            });
        }
    }
}

/// Where the shifted curve holds by more than this, K, at the end of a search, no run is made to say so. Chosen: more
/// than three times what the quick grid is off by at the worst node and moment (6 K against the fine one, 4 K for 95 of
/// 100 values, held by `refinement_converges` of `tests/outside/properties.rs`), although what it is off by where the
/// full model was run is taken off.
const SURE_K: f64 = 20.0;

/// What gives the shape of a curve.
type Shape<'s, 'a> = dyn FnMut(&mut Curve<'a>, f64) -> Result<Vec<f64>, Failure> + 's;

/// Ten corrections settle anything but a jump.
const CORRECTIONS: usize = 10;

/// Nodes of a search: ever further apart.
fn nodes((start, first_step, end): (f64, f64, f64)) -> Vec<f64> {
    if end <= start + first_step {
        return vec![start, 0.5 * (start + end), end];
    }
    let mut nodes = vec![start, start + 0.5 * first_step];
    let mut step = first_step;
    while start + step < end {
        nodes.push(start + step);
        step *= 2.0;
    }
    nodes.push(end);
    nodes
}

fn add_node(nodes: &mut Vec<f64>, x: f64) {
    if let Err(place) = nodes.binary_search_by(|node| node.total_cmp(&x)) {
        nodes.insert(place, x);
    }
}

pub(crate) fn search_failure(error: SearchError<Failure>) -> Failure {
    match error {
        SearchError::Function(inner) => inner,
        SearchError::NoSignChange {
            low,
            high,
            at_low,
            at_high,
        } => SearchError::NoSignChange {
            low,
            high,
            at_low,
            at_high,
        }
        .into(),
        SearchError::NotFinite { at } => SearchError::NotFinite { at }.into(),
        SearchError::NotConverged { evaluations, low, high } => {
            SearchError::NotConverged { evaluations, low, high }.into()
        }
    }
}

fn find(runs: &[(f64, Vec<f64>)], x: f64) -> Option<&Vec<f64>> {
    runs.iter().find(|(at, _)| *at == x).map(|(_, m)| m)
}

fn insert(runs: &mut Vec<(f64, Vec<f64>)>, x: f64, margins: Vec<f64>) {
    let place = runs.partition_point(|(at, _)| *at < x);
    runs.insert(place, (x, margins));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::testing::Formula;

    fn cheap(x: f64) -> f64 {
        90.0 - 9.0 * x - 0.2 * x * x
    }

    /// Off by an offset and a slope.
    fn full(x: f64) -> f64 {
        cheap(x) + 7.0 + 0.5 * x
    }

    fn curve<'a>(models: &'a (Formula, Formula)) -> Curve<'a> {
        Curve::new(&models.0, Some(&models.1), |x| vec![Change::new("x", x)])
    }

    #[test]
    fn a_curve_passes_through_every_run_of_the_full_model() {
        let models = (Formula::new(Vec::new(), full), Formula::new(Vec::new(), cheap));
        let mut curve = curve(&models);
        curve.exact(0.0).unwrap();
        // One run known: as far off everywhere as there.
        assert!((curve.near(5.0).unwrap()[0] - (cheap(5.0) + 7.0)).abs() < 1e-12);
        curve.exact(10.0).unwrap();
        // Two known: what lies between is off by something between.
        for x in [0.0, 2.5, 5.0, 10.0] {
            let found = curve.near(x).unwrap()[0];
            assert!((found - full(x)).abs() < 1e-12, "{x}: {found} {}", full(x));
        }
        assert_eq!(curve.runs(), 2);
    }

    #[test]
    fn a_crossing_is_that_of_the_full_model() {
        let models = (Formula::new(Vec::new(), full), Formula::new(Vec::new(), cheap));
        let measure = |_: f64, margins: &[f64]| margins[0];
        for look in [Look::Full, Look::Near] {
            let mut curve = curve(&models);
            curve.exact(0.0).unwrap();
            curve.exact(10.0).unwrap();
            let found = curve.crossing(&measure, (0.0, 4.0, 600.0), 0.005, look).unwrap();
            let LimitOutcome::Limit { holds, .. } = found else {
                panic!("{found:?}");
            };
            let margin = full(holds);
            assert!((0.0..0.1).contains(&margin), "{look:?}: {margin} K at {holds}");
            assert!(cheap(holds) < -5.0, "the cheap model alone would be far off");
        }
    }
}
