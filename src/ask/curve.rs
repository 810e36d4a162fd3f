//! Margins of all limits along one variable, with few expensive runs.

use super::failure::Failure;
use super::model::{Change, Model};
use crate::numeric::root::{LimitOutcome, SearchError, falling_limit};

/// Margins along one variable x.
///
/// Where a cheaper model of the same line is given, the shape of the curve comes from it and is
/// shifted to pass through every run of the full model; a crossing found on the shifted curve is
/// then confirmed by a full run there, which shifts the curve again, until the full run agrees.
/// The answer is that of the full model, only found with fewer runs of it.
pub(crate) struct Curve<'a> {
    full: &'a dyn Model,
    cheap: Option<&'a dyn Model>,
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
    /// Confirmed by runs of the full model.
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
            cheap,
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

    fn cheap(&mut self, model: &dyn Model, x: f64) -> Result<Vec<f64>, Failure> {
        if let Some(known) = find(&self.cheap_runs, x) {
            return Ok(known.clone());
        }
        let margins = self.margins(model, x)?;
        insert(&mut self.cheap_runs, x, margins.clone());
        Ok(margins)
    }

    /// Margins at x: of the cheap model shifted onto the full one, or of the full one alone.
    pub(crate) fn near(&mut self, x: f64) -> Result<Vec<f64>, Failure> {
        let Some(cheap) = self.cheap else {
            return self.exact(x);
        };
        if let Some(known) = find(&self.full_runs, x) {
            return Ok(known.clone());
        }
        let mut margins = self.cheap(cheap, x)?;
        // Shift between the two known runs on either side, or that of the nearest one.
        let after = self.full_runs.partition_point(|(at, _)| *at < x);
        let sides =
            [after.checked_sub(1), Some(after)].map(|k| k.and_then(|k| self.full_runs.get(k)).map(|(at, _)| *at));
        let shift_at = |curve: &mut Self, at: f64| -> Result<Vec<f64>, Failure> {
            let low = curve.cheap(cheap, at)?;
            let high = curve.exact(at)?;
            Ok(high.iter().zip(&low).map(|(h, l)| h - l).collect())
        };
        let shift = match sides {
            [Some(a), Some(b)] => {
                let (left, right) = (shift_at(self, a)?, shift_at(self, b)?);
                let w = (x - a) / (b - a);
                left.iter().zip(&right).map(|(l, r)| l + w * (r - l)).collect()
            }
            [Some(a), None] | [None, Some(a)] => shift_at(self, a)?,
            [None, None] => vec![0.0; margins.len()],
        };
        for (m, s) in margins.iter_mut().zip(shift) {
            *m += s;
        }
        Ok(margins)
    }

    /// Margins of the cheap model at x between nodes that lie ever further apart, by the parabola
    /// through three of them. What this errs is taken up by the shift onto the full runs.
    fn between_nodes(&mut self, cheap: &dyn Model, nodes: &[f64], x: f64) -> Result<Vec<f64>, Failure> {
        let after = nodes.partition_point(|node| *node <= x).clamp(1, nodes.len() - 1);
        let first = after.saturating_sub(2).min(nodes.len() - 3);
        let (a, b, c) = (nodes[first], nodes[first + 1], nodes[first + 2]);
        let (fa, fb, fc) = (self.cheap(cheap, a)?, self.cheap(cheap, b)?, self.cheap(cheap, c)?);
        let wa = (x - b) * (x - c) / ((a - b) * (a - c));
        let wb = (x - a) * (x - c) / ((b - a) * (b - c));
        let wc = (x - a) * (x - b) / ((c - a) * (c - b));
        Ok((0..fa.len()).map(|k| wa * fa[k] + wb * fb[k] + wc * fc[k]).collect())
    }

    /// As [`Curve::near`], with the cheap model taken between nodes.
    fn guess(&mut self, nodes: &[f64], x: f64) -> Result<Vec<f64>, Failure> {
        let Some(cheap) = self.cheap else {
            return self.exact(x);
        };
        if let Some(known) = find(&self.full_runs, x) {
            return Ok(known.clone());
        }
        let mut margins = self.between_nodes(cheap, nodes, x)?;
        let after = self.full_runs.partition_point(|(at, _)| *at < x);
        let left = after.checked_sub(1).and_then(|k| self.full_runs.get(k)).cloned();
        let right = self.full_runs.get(after).cloned();
        let mut shift_of = |run: &(f64, Vec<f64>)| -> Result<Vec<f64>, Failure> {
            let low = self.between_nodes(cheap, nodes, run.0)?;
            Ok(run.1.iter().zip(&low).map(|(h, l)| h - l).collect())
        };
        let shift = match (&left, &right) {
            (Some(a), Some(b)) => {
                let (low, high) = (shift_of(a)?, shift_of(b)?);
                let w = (x - a.0) / (b.0 - a.0);
                low.iter().zip(&high).map(|(l, h)| l + w * (h - l)).collect()
            }
            (Some(run), None) | (None, Some(run)) => shift_of(run)?,
            (None, None) => Vec::new(),
        };
        for (m, s) in margins.iter_mut().zip(shift) {
            *m += s;
        }
        Ok(margins)
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
        let mut nodes = vec![start, start + 0.5 * first_step];
        let mut step = first_step;
        while start + step < end {
            nodes.push(start + step);
            step *= 2.0;
        }
        nodes.push(end);
        if end <= start + first_step {
            nodes = vec![start, 0.5 * (start + end), end];
        }
        let mut total = 0;
        loop {
            let outcome = falling_limit(
                |x| {
                    let margins = match look {
                        Look::Nodes | Look::Full => self.guess(&nodes, x),
                        Look::Near => self.near(x),
                    };
                    margins.map(|m| measure(x, &m))
                },
                start,
                first_step,
                end,
                tolerance,
            )
            .map_err(search_failure)?;
            if self.cheap.is_none() || (look != Look::Full && !self.full_runs.is_empty()) {
                return Ok(outcome);
            }
            total += 1;
            let x = match outcome {
                LimitOutcome::AlreadyBroken { .. } => start,
                LimitOutcome::NeverBreaks { end, .. } => end,
                LimitOutcome::Limit { holds, .. } => holds,
            };
            let here = measure(x, &self.exact(x)?);
            let agrees = match outcome {
                LimitOutcome::AlreadyBroken { .. } => here < 0.0,
                LimitOutcome::NeverBreaks { .. } => here >= 0.0,
                LimitOutcome::Limit { .. } => here.abs() < NEAR_K,
            };
            // Ten corrections settle anything but a jump.
            if !agrees && total < 10 {
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
    use crate::ask::model::{ExitInputs, Handover, ModelError, Outcome, Probe};
    use crate::judge::{Bound, Limit, Moment, Owner, Verdict};
    use crate::line::plan::Input;

    /// A line with one limit, whose margin is a formula of x.
    struct Formula(fn(f64) -> f64);

    impl Model for Formula {
        fn inputs(&self) -> &[Input] {
            &[]
        }

        fn limits(&self) -> &[Limit] {
            &[]
        }

        fn handovers(&self) -> &[Handover] {
            &[]
        }

        fn exit_inputs(&self) -> Option<&ExitInputs> {
            None
        }

        fn run(&self, changes: &[Change]) -> Result<Outcome, ModelError> {
            let margin_k = self.0(changes[0].value);
            let verdict = Verdict {
                limit: Limit {
                    stage: None,
                    moment: Moment::End,
                    node: "surface".to_owned(),
                    other: None,
                    bound: Bound::MinC(0.0),
                    owner: Owner::Given,
                    source: String::new(),
                },
                holds: margin_k >= 0.0,
                stage: 0,
                moment: Moment::End,
                time_s: 0.0,
                value: margin_k,
                margin_k,
                margin_s: None,
                margin_stage: None,
                earliest_s: None,
                latest_s: None,
                crossing_s: None,
                cause: None,
            };
            Ok(Outcome {
                verdicts: vec![verdict],
                stages: Vec::new(),
            })
        }

        fn probe(&self, changes: &[Change], _: &Probe) -> Result<f64, ModelError> {
            Ok(self.0(changes[0].value))
        }
    }

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
        let models = (Formula(full), Formula(cheap));
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
        let models = (Formula(full), Formula(cheap));
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
