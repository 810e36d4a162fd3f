//! A line of one limit whose margin is a formula, for tests.

use super::model::{Change, ExitInputs, Handover, Model, ModelError, Outcome, Probe};
use crate::judge::{Bound, Limit, Moment, Owner, Verdict};
use crate::line::plan::Input;

/// At least so many degC at a node in the end.
pub(crate) fn at_least(node: &str, min_c: f64) -> Limit {
    Limit {
        stage: None,
        moment: Moment::End,
        node: node.to_owned(),
        other: None,
        bound: Bound::MinC(min_c),
        owner: Owner::Given,
        source: String::new(),
    }
}

/// A verdict on a value of `margin_k` above such a limit.
pub(crate) fn verdict(limit: Limit, margin_k: f64) -> Verdict {
    let Bound::MinC(min_c) = limit.bound else {
        panic!("{limit}")
    };
    Verdict {
        limit,
        holds: margin_k >= 0.0,
        stage: 0,
        moment: Moment::End,
        time_s: 0.0,
        value: min_c + margin_k,
        margin_k,
        margin_s: None,
        margin_stage: None,
        earliest_s: None,
        latest_s: None,
        crossing_s: None,
        cause: None,
    }
}

/// A line with one limit, whose margin is a formula of what is changed first.
pub(crate) struct Formula {
    limit: [Limit; 1],
    inputs: Vec<Input>,
    margin_k: fn(f64) -> f64,
}

impl Formula {
    /// The line of some inputs.
    pub(crate) fn new(inputs: Vec<Input>, margin_k: fn(f64) -> f64) -> Formula {
        Formula {
            limit: [at_least("surface", 0.0)],
            inputs,
            margin_k,
        }
    }
}

impl Model for Formula {
    fn inputs(&self) -> &[Input] {
        &self.inputs
    }

    fn limits(&self) -> &[Limit] {
        &self.limit
    }

    fn handovers(&self) -> &[Handover] {
        &[]
    }

    fn exit_inputs(&self) -> Option<&ExitInputs> {
        None
    }

    fn run(&self, changes: &[Change]) -> Result<Outcome, ModelError> {
        let margin_k = (self.margin_k)(changes[0].value);
        Ok(Outcome {
            verdicts: vec![verdict(self.limit[0].clone(), margin_k)],
            stages: Vec::new(),
        })
    }

    fn probe(&self, changes: &[Change], _: &Probe) -> Result<f64, ModelError> {
        Ok((self.margin_k)(changes[0].value))
    }
}
