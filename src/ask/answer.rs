//! Everything that a scatter study says, put together.

use super::failure::Failure;
use super::line_model::LineModel;
use super::model::{Model, Outcome};
use super::rare::{ImportanceOptions, RareError, RareEvent, SubsetOptions};
use super::respond::Response;
use super::risk::{Causes, Risk, Spread, left_known};
use super::scatter::{ScatterResult, causes, rare_any, rare_break, reduce};
use super::shards::{Shard, StudyKey};
use super::statistics::Share;
use super::study::Study;
use super::uncertainty::{Uncertainty, uncertainty};

/// Samples of one level of a search for rare events.
const RARE_SAMPLES: u64 = 500;
/// Step of the search for the most likely point, in standard deviations.
const RARE_STEP: f64 = 0.5;

/// A rare event, or why it was not found.
pub type RareFound = Result<RareEvent, String>;

/// What a study says.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct ScatterAnswer {
    /// Which study.
    pub key: StudyKey,
    /// Probabilities, means, spreads, capabilities.
    pub result: ScatterResult,
    /// Margins of all samples, K, by limit.
    pub margins: Vec<Vec<f64>>,
    /// Linear stack-up of the causes.
    pub stack: Uncertainty,
    /// Variance shares by limit and input, where they were asked for.
    pub shares: Option<Vec<Vec<Share>>>,
    /// What the bad parts have in common; `None` where nothing that scatters moves a limit.
    pub causes: Option<Causes>,
    /// Each limit as a rare event, where asked for.
    pub rare: Vec<RareFound>,
    /// Any limit as a rare event.
    pub rare_any: Option<RareFound>,
    /// The response surface, where one was used.
    pub response: Option<Response>,
    /// How many of the program's own values count as known, for the study moves what the file states alone.
    pub known: usize,
    /// Whether the nominal line holds every limit.
    pub nominal_holds: bool,
    /// Whether the runs were stopped before the last.
    pub stopped: bool,
}

impl ScatterAnswer {
    /// Evaluates the rows of a study. `base` asks for variance shares with so many samples an input.
    ///
    /// # Errors
    /// All runs failed, a run that fails, samples that do not suit the study.
    pub fn of(
        (model, cheap, study): (&LineModel, Option<&LineModel>, &Study),
        nominal: &Outcome,
        shard: Shard,
        response: Option<Response>,
        base: Option<u64>,
        rare: bool,
    ) -> Result<ScatterAnswer, Failure> {
        let result = reduce(model.limits(), &shard.rows, study.confidence)?;
        let coarse = cheap.map(|cheap| cheap as &dyn Model);
        let stack = uncertainty((model, coarse), &study.scattered, &study.correlations, nominal)?;
        let spread = Spread {
            scattered: &study.scattered,
            correlations: &study.correlations,
            ..Spread::default()
        };
        // Differences are taken on the quick grid, as those of the guard bands are.
        let bad_parts =
            Risk::new(coarse.unwrap_or(model), &spread, None)?.map(|risk| risk.causes(&nominal.margins_k()));
        let shares = base.map(|base| causes(model, study, base)).transpose()?;
        let mut margins = vec![Vec::new(); model.limits().len()];
        for values in shard.rows.iter().filter_map(|row| row.result.as_ref().ok()) {
            for (list, value) in margins.iter_mut().zip(values) {
                list.push(*value);
            }
        }
        let (rare, rare_any) = match rare {
            true => rare_events(model, study),
            false => (Vec::new(), None),
        };
        Ok(ScatterAnswer {
            stopped: !shard.is_complete(),
            key: shard.key,
            result,
            margins,
            stack,
            causes: bad_parts,
            shares,
            rare,
            rare_any,
            response,
            known: left_known(model, &study.scattered),
            nominal_holds: nominal.holds(),
        })
    }

    /// Inputs by their share in the variance of a limit, largest first.
    pub fn ranked(&self, limit: usize) -> Vec<(usize, f64)> {
        let mut list: Vec<(usize, f64)> = match &self.shares {
            Some(shares) => shares[limit].iter().map(|s| s.total).enumerate().collect(),
            None => self.stack.limits[limit].shares.iter().copied().enumerate().collect(),
        };
        list.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        list
    }
}

/// Each limit by importance sampling, any of them by subset simulation.
fn rare_events(model: &LineModel, study: &Study) -> (Vec<RareFound>, Option<RareFound>) {
    let words = |found: Result<RareEvent, RareError<Failure>>| found.map_err(|error| error.to_string());
    let options = ImportanceOptions {
        seed: study.seed,
        samples: RARE_SAMPLES,
        step: RARE_STEP,
        confidence: study.confidence,
    };
    let each = (0..model.limits().len()).map(|limit| words(rare_break(model, study, limit, &options)));
    let each = each.collect();
    let options = SubsetOptions {
        seed: study.seed,
        samples: RARE_SAMPLES as usize,
        confidence: study.confidence,
        ..SubsetOptions::default()
    };
    (each, Some(words(rare_any(model, study, &options))))
}
