//! Models with closed-form answers for the planning tests.

use std::sync::atomic::{AtomicUsize, Ordering};

use billet_thermal::inside::ask::model::{Change, ExitInputs, Handover, Model, ModelError, Outcome, Probe, in_words};
use billet_thermal::inside::judge::{Bound, Kind, Limit, Moment, Verdict};
use billet_thermal::inside::line::plan::{Allowed, Input, InputValue};
use billet_thermal::inside::line::trace::{Owner, StageSpan};

/// Value of each limited temperature from the input values, in the order of the inputs.
pub type Values = fn(&[f64]) -> Vec<f64>;

/// A model whose limited temperatures are given by a formula.
pub struct Formula {
    inputs: Vec<Input>,
    limits: Vec<Limit>,
    handovers: Vec<Handover>,
    exit: Option<ExitInputs>,
    values: Values,
    pub runs: AtomicUsize,
}

impl Formula {
    /// The same with its limits judged at any moment.
    pub fn at_any_moment(mut self) -> Self {
        for limit in &mut self.limits {
            (limit.stage, limit.moment) = (None, Moment::Always);
        }
        self
    }

    pub fn new(inputs: &[(&str, &'static str, f64)], limits: &[(&str, Bound)], values: Values) -> Self {
        let list: Vec<Input> = inputs
            .iter()
            .map(|(path, unit, value)| Input {
                path: (*path).to_owned(),
                value: InputValue::Number(*value),
                unit,
                owner: Owner::Given,
                source: "test".into(),
                follows: false,
                whole: false,
                sd: None,
                allowed: Some(Allowed {
                    low: if *unit == "s" { 0.0 } else { -1e6 },
                    high: 1e6,
                    low_open: false,
                }),
            })
            .collect();
        let handovers = inputs
            .iter()
            .filter_map(|(path, _, value)| {
                let stage = path.strip_prefix("stage.")?.strip_suffix(".seconds")?;
                Some(Handover {
                    stage: stage.to_owned(),
                    kind: Kind::Carry,
                    path: (*path).to_owned(),
                    seconds: *value,
                    least_s: 0.0,
                })
            })
            .collect();
        let exit = inputs
            .iter()
            .find(|(path, ..)| *path == "heater.temperature_c")
            .map(|(path, _, value)| ExitInputs {
                base_c: 0.0,
                surface: ((*path).to_owned(), *value),
                core: None,
            });
        let limits = limits
            .iter()
            .map(|(node, bound)| Limit {
                stage: Some("press".to_owned()),
                moment: Moment::Start,
                node: (*node).to_owned(),
                other: None,
                bound: *bound,
                owner: Owner::Given,
                source: "test".to_owned(),
            })
            .collect();
        Self {
            inputs: list,
            limits,
            handovers,
            exit,
            values,
            runs: AtomicUsize::new(0),
        }
    }

    fn at(&self, changes: &[Change]) -> Result<Vec<f64>, ModelError> {
        self.runs.fetch_add(1, Ordering::Relaxed);
        let mut numbers: Vec<f64> = self.inputs.iter().map(|i| i.number().unwrap()).collect();
        for change in changes {
            let place = self.inputs.iter().position(|i| i.path == change.path);
            numbers[place.unwrap_or_else(|| panic!("unknown {}", change.path))] = change.value;
        }
        let values = (self.values)(&numbers);
        if values.iter().any(|v| v.is_nan()) {
            return Err(ModelError::Failed {
                changes: in_words(changes),
                message: "no convergence".to_owned(),
            });
        }
        Ok(values)
    }
}

impl Model for Formula {
    fn inputs(&self) -> &[Input] {
        &self.inputs
    }

    fn limits(&self) -> &[Limit] {
        &self.limits
    }

    fn handovers(&self) -> &[Handover] {
        &self.handovers
    }

    fn exit_inputs(&self) -> Option<&ExitInputs> {
        self.exit.as_ref()
    }

    fn run(&self, changes: &[Change]) -> Result<Outcome, ModelError> {
        let verdicts = self
            .at(changes)?
            .into_iter()
            .zip(&self.limits)
            .map(|(value, limit)| {
                let margin_k = match limit.bound {
                    Bound::MinC(low) => value - low,
                    Bound::MaxC(high) | Bound::MaxDifferenceK(high) => high - value,
                };
                Verdict {
                    limit: limit.clone(),
                    holds: margin_k >= 0.0,
                    stage: 0,
                    moment: Moment::Start,
                    time_s: 0.0,
                    value,
                    margin_k,
                    margin_s: None,
                    margin_stage: None,
                    earliest_s: None,
                    latest_s: None,
                    crossing_s: None,
                    cause: None,
                }
            })
            .collect();
        let stages = self
            .handovers
            .iter()
            .map(|h| StageSpan {
                name: h.stage.clone(),
                kind: h.kind,
                start_s: 0.0,
                end_s: h.seconds,
            })
            .collect();
        Ok(Outcome { verdicts, stages })
    }

    fn probe(&self, changes: &[Change], _: &Probe) -> Result<f64, ModelError> {
        Ok(self.at(changes)?[0])
    }
}

/// Cooling coefficient of the lumped body in 1/(K3 s): about 5 K/s at 1240 degC.
pub const BETA: f64 = 9.5e-13;

/// Temperature in degC of a lumped body that radiates to surroundings at absolute zero after `t`
/// seconds: dT/dt = -beta T^4, so T^-3 = T0^-3 + 3 beta t.
pub fn lumped(exit_c: f64, t: f64) -> f64 {
    ((exit_c + 273.15).powi(-3) + 3.0 * BETA * t).powf(-1.0 / 3.0) - 273.15
}

/// Seconds from `from_c` to `to_c` by the same formula.
pub fn lumped_seconds(from_c: f64, to_c: f64) -> f64 {
    ((to_c + 273.15).powi(-3) - (from_c + 273.15).powi(-3)) / (3.0 * BETA)
}

/// A line of two carries: the first ends at a press (1150 at least), the second at a trim tool
/// (1050 at least); at most 1260 at the exit.
pub fn radiating_line() -> Formula {
    Formula::new(
        &[
            ("heater.temperature_c", "degC", 1240.0),
            ("stage.first.seconds", "s", 4.2),
            ("stage.second.seconds", "s", 6.0),
        ],
        &[
            ("surface", Bound::MinC(1150.0)),
            ("mean", Bound::MinC(1050.0)),
            ("exit", Bound::MaxC(1260.0)),
        ],
        |x| vec![lumped(x[0], x[1]), lumped(x[0], x[1] + x[2]), x[0]],
    )
}
