//! What a fit looks for, and what is known of it before.

use serde::Serialize;

use super::bench::Bench;
use super::error::MeasuredError;
use super::given::Wanted;
use super::instrument::Instrument;
use crate::ask::model::Model;
use crate::ask::risk::{assumed, usual_range};
use crate::judge::Owner;

/// What an unknown is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Of {
    /// An input of the line.
    Input,
    /// The bias of an instrument, by index.
    Bias(usize),
    /// The emissivity that an instrument meets, by index.
    Emissivity(usize),
    /// What runs are off by at the place of a measurement, by index.
    Model(usize),
}

/// An unknown.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Unknown {
    /// Path.
    pub path: String,
    /// What it is.
    pub of: Of,
    /// Unit.
    pub unit: String,
    /// What is believed before.
    pub mean: f64,
    /// Standard deviation of that.
    pub sd: f64,
    /// Lowest and highest value allowed.
    pub allowed: (f64, f64),
    /// Whose value and spread it is.
    pub source: String,
    /// Whether it was asked for; the others go along, so that intervals hold what they add.
    pub asked: bool,
}

impl Unknown {
    /// Whether its logarithm is counted on response surfaces.
    pub(super) fn is_log(&self) -> bool {
        self.unit == "W/m2K" && self.mean > 0.0
    }

    /// Lowest and highest value of a range about `at`.
    pub(super) fn around(&self, at: f64, by: f64) -> (f64, f64) {
        let (low, high) = self.allowed;
        let least = if self.is_log() { (0.2 * at).max(low) } else { low };
        ((at - by).max(least), (at + by).min(high))
    }
}

/// The unknowns of a fit: those asked for, then the biases of all instruments of which one is known, then what runs may
/// be off by at each place.
///
/// # Errors
/// A path that is none, a value without a known spread.
pub fn unknowns(bench: &Bench, wanted: &[Wanted]) -> Result<Vec<Unknown>, MeasuredError> {
    let mut found: Vec<Unknown> = Vec::new();
    for one in wanted {
        if found.iter().any(|u| u.path == one.path) {
            return Err(MeasuredError::Wrong(format!("`{}` is asked for twice", one.path)));
        }
        found.push(match one.path.strip_prefix("instrument.") {
            Some(rest) => of_instrument(bench, one, rest)?,
            None => of_line(bench, one)?,
        });
    }
    if found.is_empty() {
        let needs = "nothing to fit: give [[unknown]] tables with input = \"path\", or --input PATH".to_owned();
        return Err(MeasuredError::Wrong(needs));
    }
    let used = |k: usize| {
        bench
            .given
            .measurements
            .iter()
            .any(|m| m.instrument == k && m.at().is_some())
    };
    for (k, instrument) in bench.given.instruments.iter().enumerate() {
        let sd = instrument.whole_bias_sd(1150.0);
        if used(k) && sd > 0.0 && !found.iter().any(|u| u.of == Of::Bias(k)) {
            found.push(bias(instrument, k, sd, false));
        }
    }
    for slot in bench.setups.iter().flat_map(|setup| &setup.slots) {
        let (k, m) = (slot.measurement, bench.measurement(slot));
        if m.model_sd_k > 0.0 && !found.iter().any(|u| u.of == Of::Model(k)) {
            found.push(Unknown {
                path: format!("measurement.{}.model", m.name),
                of: Of::Model(k),
                unit: "K".to_owned(),
                mean: 0.0,
                sd: m.model_sd_k,
                allowed: (f64::NEG_INFINITY, f64::INFINITY),
                source: "what runs may be off by at this place".to_owned(),
                asked: false,
            });
        }
    }
    Ok(found)
}

fn bias(instrument: &Instrument, k: usize, sd: f64, asked: bool) -> Unknown {
    Unknown {
        path: format!("instrument.{}.bias", instrument.name),
        of: Of::Bias(k),
        unit: "K".to_owned(),
        mean: instrument.bias,
        sd,
        allowed: (-1e6, 1e6),
        source: "what is known of the instrument".to_owned(),
        asked,
    }
}

fn of_instrument(bench: &Bench, one: &Wanted, rest: &str) -> Result<Unknown, MeasuredError> {
    let wrong = |what: String| MeasuredError::Wrong(what);
    let (name, key) = rest.rsplit_once('.').unwrap_or((rest, ""));
    let k = bench.given.instruments.iter().position(|i| i.name == name);
    let k = k.ok_or_else(|| wrong(format!("`{}`: no instrument is called `{name}`", one.path)))?;
    let instrument = &bench.given.instruments[k];
    let mut unknown = match key {
        "bias" => bias(instrument, k, instrument.whole_bias_sd(1150.0), true),
        "emissivity" if instrument.is_optical() => Unknown {
            of: Of::Emissivity(k),
            unit: String::new(),
            mean: instrument.emissivity,
            sd: instrument.emissivity_sd,
            allowed: (0.05, 1.0),
            path: one.path.clone(),
            source: "what is known of the surface in its band".to_owned(),
            asked: true,
        },
        _ => {
            return Err(wrong(format!(
                "`{}`: instruments are fitted by .bias or .emissivity",
                one.path
            )));
        }
    };
    unknown.mean = one.mean.unwrap_or(unknown.mean);
    unknown.sd = one.sd.unwrap_or(unknown.sd);
    if unknown.sd <= 0.0 {
        return Err(wrong(format!(
            "`{}`: give the sd of what is known of it before",
            one.path
        )));
    }
    Ok(unknown)
}

fn of_line(bench: &Bench, one: &Wanted) -> Result<Unknown, MeasuredError> {
    let lines = &bench.lines;
    let line = lines
        .iter()
        .find(|line| line.input(&one.path).is_ok())
        .unwrap_or(&lines[0]);
    let input = line.input(&one.path)?;
    let mean = match one.mean {
        Some(mean) => mean,
        None => line.number(&one.path)?,
    };
    let (sd, source) = match one.sd {
        Some(sd) => (sd, "given".to_owned()),
        None => {
            let known = assumed(line).into_iter().find(|a| a.scattered.path == one.path);
            let known = known.map(|a| (a.scattered.distribution.standard_deviation(), a.source.to_owned()));
            let usual =
                || usual_range(&one.path, mean).map(|(low, high, of)| ((high - low) / 24_f64.sqrt(), of.to_owned()));
            known.or_else(usual).ok_or_else(|| {
                MeasuredError::Wrong(format!(
                    "`{}`: nothing is known of its spread; give sd in its [[unknown]]",
                    one.path
                ))
            })?
        }
    };
    let owner = match input.owner {
        Owner::Given => "value of the line file",
        Owner::Library => "value of the library",
        _ => "default",
    };
    let allowed = input
        .allowed
        .map_or((f64::NEG_INFINITY, f64::INFINITY), |a| (a.low, a.high));
    Ok(Unknown {
        path: one.path.clone(),
        of: Of::Input,
        unit: input.unit.to_owned(),
        mean,
        sd,
        allowed,
        source: format!("{owner}; {source}"),
        asked: true,
    })
}
