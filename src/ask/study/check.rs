//! From raw study tables to a checked study.

use std::path::Path;

use toml::Spanned;

use super::error::{StudyError, StudyProblem};
use super::raw::{RawMove, RawScatter, RawStudy, line_of};
use super::{PlannedMove, StageDevice, Study};
use crate::ask::PlanError;
use crate::ask::distribution::{
    Distribution, Empirical, LogNormal, Normal, Retry, Triangular, TruncatedNormal, Uniform, read_column,
};
use crate::ask::error::{not_negative, positive};
use crate::ask::kinematics::{MoveElements, SignalWait, TravelLimits};
use crate::ask::model::{Model, ModelError, nearest};
use crate::ask::random::Scheme;
use crate::ask::schedule::Activity;
use crate::ask::uncertainty::Scattered;

/// Retries after which a part is given up, where the file does not say.
const MOST_RETRIES: u32 = 3;

const KINDS: [&str; 7] = [
    "normal",
    "truncated-normal",
    "triangular",
    "uniform",
    "lognormal",
    "empirical",
    "retry",
];

pub(super) fn check(raw: RawStudy, text: &str, path: &Path, model: &dyn Model) -> Result<Study, StudyError> {
    let at = |span: std::ops::Range<usize>, problem: StudyProblem| StudyError {
        path: path.to_owned(),
        line: line_of(text, span),
        problem,
    };
    let number =
        |value: Option<Spanned<f64>>, default: f64, what: &str, allowed: (f64, f64)| -> Result<f64, StudyError> {
            let Some(value) = value else {
                return Ok(default);
            };
            let (span, x) = (value.span(), value.into_inner());
            if x > allowed.0 && x < allowed.1 {
                return Ok(x);
            }
            let words = format!("above {} and below {}", allowed.0, allowed.1);
            Err(at(span, PlanError::range(what, x, words).into()))
        };
    let whole = |value: Option<Spanned<i64>>, default: u64, what: &str, least: i64| {
        let Some(value) = value else {
            return Ok(default);
        };
        let (span, x) = (value.span(), value.into_inner());
        match u64::try_from(x) {
            Ok(n) if x >= least => Ok(n),
            #[allow(clippy::cast_precision_loss)]
            _ => Err(at(
                span,
                PlanError::range(what, x as f64, format!("{least} or more")).into(),
            )),
        }
    };
    let scheme = match raw.scheme {
        None => Scheme::QuasiRandom,
        Some(word) => match word.get_ref().as_str() {
            "quasi-random" => Scheme::QuasiRandom,
            "latin-hypercube" => Scheme::LatinHypercube,
            "independent" => Scheme::Independent,
            other => {
                return Err(at(
                    word.span(),
                    StudyProblem::Word {
                        what: "scheme",
                        word: other.to_owned(),
                        known: "quasi-random, latin-hypercube, independent".to_owned(),
                    },
                ));
            }
        },
    };
    let mut scattered: Vec<Scattered> = Vec::new();
    for entry in raw.scatter {
        let span = entry.span();
        let entry = scatter(entry.into_inner(), path, model).map_err(|p| at(span.clone(), p))?;
        if scattered.iter().any(|known| known.path == entry.path) {
            return Err(at(span, StudyProblem::Twice(entry.path)));
        }
        scattered.push(entry);
    }
    let mut correlations = Vec::new();
    for entry in raw.correlation {
        let span = entry.span();
        let entry = entry.into_inner();
        let index = |name: &str| {
            scattered.iter().position(|s| s.path == name).ok_or_else(|| {
                let near = nearest(name, scattered.iter().map(|s| s.path.as_str()));
                let problem = ModelError::UnknownName {
                    what: "scattered input",
                    name: name.to_owned(),
                    near,
                };
                at(span.clone(), problem.into())
            })
        };
        correlations.push((index(&entry.inputs.0)?, index(&entry.inputs.1)?, entry.correlation));
    }
    let mut moves = Vec::new();
    for entry in raw.moves {
        let span = entry.span();
        moves.push(planned_move(entry.into_inner(), model).map_err(|p| at(span, p))?);
    }
    let mut devices = Vec::new();
    for entry in raw.device {
        let span = entry.span();
        let entry = entry.into_inner();
        for stage in &entry.stages {
            let prefix = format!("stage.{stage}.");
            if !model.inputs().iter().any(|input| input.path.starts_with(&prefix)) {
                let problem = ModelError::UnknownName {
                    what: "stage",
                    name: stage.clone(),
                    near: nearest(stage, model.inputs().iter().filter_map(|i| stage_of(&i.path))),
                };
                return Err(at(span, problem.into()));
            }
        }
        devices.push(StageDevice {
            name: entry.name,
            stages: entry.stages,
        });
    }
    let mut activities = Vec::new();
    for entry in raw.activity {
        let span = entry.span();
        let entry = entry.into_inner();
        not_negative("seconds", entry.seconds).map_err(|p| at(span, p.into()))?;
        activities.push(Activity {
            name: entry.name,
            devices: entry.devices,
            seconds: entry.seconds,
            after: entry.after,
            not_before_s: entry.not_before_s,
            hot: false,
        });
    }
    let study = Study {
        samples: whole(raw.samples, 10_000, "samples", 1)?,
        seed: whole(raw.seed, 1, "seed", 0)?,
        scheme,
        confidence: number(raw.confidence, 0.95, "confidence", (0.0, 1.0))?,
        reject_risk: number(raw.reject_risk, 0.05, "reject risk", (0.0, 0.5))?,
        alarm_risk: number(raw.alarm_risk, 0.001_35, "alarm risk", (0.0, 0.5))?,
        exit_sd_k: raw
            .exit_sd_k
            .map(|sd| number(Some(sd), 0.0, "exit_sd_k", (0.0, 100.0)))
            .transpose()?,
        hysteresis_s: number(raw.hysteresis_s, 0.2, "hysteresis in s", (0.0, 60.0))?,
        hysteresis_k: number(raw.hysteresis_k, 5.0, "hysteresis in K", (0.0, 200.0))?,
        scattered,
        correlations,
        moves,
        devices,
        activities,
    };
    study.copula().map_err(|p| at(0..0, p.into()))?;
    Ok(study)
}

fn scatter(raw: RawScatter, path: &Path, model: &dyn Model) -> Result<Scattered, StudyProblem> {
    let nominal = model.number(&raw.input)?;
    let kind = raw.kind.as_str();
    let uses: &[&str] = match kind {
        "normal" => &["mean", "sd"],
        "truncated-normal" => &["mean", "sd", "low", "high"],
        "triangular" => &["low", "mode", "high"],
        "uniform" => &["low", "high"],
        "lognormal" => &["mean", "sd", "offset"],
        "empirical" => &["file", "column"],
        "retry" => &[
            "mean",
            "sd",
            "retry_probability",
            "retry_s",
            "retry_sd_s",
            "most_retries",
        ],
        other => {
            return Err(StudyProblem::Word {
                what: "kind",
                word: other.to_owned(),
                known: KINDS.join(", "),
            });
        }
    };
    let given: [(&'static str, bool); 12] = [
        ("mean", raw.mean.is_some()),
        ("sd", raw.sd.is_some()),
        ("low", raw.low.is_some()),
        ("mode", raw.mode.is_some()),
        ("high", raw.high.is_some()),
        ("offset", raw.offset.is_some()),
        ("file", raw.file.is_some()),
        ("column", raw.column.is_some()),
        ("retry_probability", raw.retry_probability.is_some()),
        ("retry_s", raw.retry_s.is_some()),
        ("retry_sd_s", raw.retry_sd_s.is_some()),
        ("most_retries", raw.most_retries.is_some()),
    ];
    for (key, is_given) in given {
        if is_given && !uses.contains(&key) {
            return Err(StudyProblem::Unused {
                key,
                kind: kind.to_owned(),
            });
        }
    }
    let need = |value: Option<f64>, key: &'static str| {
        value.ok_or_else(|| StudyProblem::Missing {
            key,
            kind: kind.to_owned(),
        })
    };
    let mean = raw.mean.unwrap_or(nominal);
    let distribution = match kind {
        "normal" => Distribution::Normal(Normal::new(mean, need(raw.sd, "sd")?)?),
        "truncated-normal" => Distribution::TruncatedNormal(TruncatedNormal::new(
            mean,
            need(raw.sd, "sd")?,
            need(raw.low, "low")?,
            need(raw.high, "high")?,
        )?),
        "triangular" => Distribution::Triangular(Triangular::new(
            need(raw.low, "low")?,
            raw.mode.unwrap_or(nominal),
            need(raw.high, "high")?,
        )?),
        "uniform" => Distribution::Uniform(Uniform::new(need(raw.low, "low")?, need(raw.high, "high")?)?),
        "lognormal" => Distribution::LogNormal(LogNormal::new(mean, need(raw.sd, "sd")?, raw.offset.unwrap_or(0.0))?),
        "empirical" => {
            let missing = |key| StudyProblem::Missing {
                key,
                kind: kind.to_owned(),
            };
            let file = raw.file.ok_or_else(|| missing("file"))?;
            let column = raw.column.ok_or_else(|| missing("column"))?;
            let folder = path.parent().unwrap_or_else(|| Path::new(""));
            Distribution::Empirical(Empirical::new(read_column(&folder.join(file), &column)?)?)
        }
        _ => Distribution::Retry(Retry::new(
            mean,
            need(raw.sd, "sd")?,
            need(raw.retry_probability, "retry_probability")?,
            need(raw.retry_s, "retry_s")?,
            raw.retry_sd_s.unwrap_or(0.0),
            raw.most_retries.unwrap_or(MOST_RETRIES),
        )?),
    };
    if let Some(allowed) = model.input(&raw.input)?.allowed {
        distribution.check_range(&raw.input, allowed.low, allowed.high)?;
    }
    Ok(Scattered {
        path: raw.input,
        nominal,
        distribution,
    })
}

/// Name of the stage of an input path.
fn stage_of(path: &str) -> Option<&str> {
    path.strip_prefix("stage.")?.split('.').next()
}

fn planned_move(raw: RawMove, model: &dyn Model) -> Result<PlannedMove, StudyProblem> {
    if !model.handovers().iter().any(|h| h.stage == raw.stage) {
        let near = nearest(&raw.stage, model.handovers().iter().map(|h| h.stage.as_str()));
        return Err(ModelError::UnknownName {
            what: "hand-over",
            name: raw.stage,
            near,
        }
        .into());
    }
    let cost = positive("cost", raw.cost.unwrap_or(1.0))?;
    let elements = MoveElements {
        distance_m: raw.distance_m,
        limits: TravelLimits {
            speed_m_s: raw.speed_m_s,
            acceleration_m_s2: raw.acceleration_m_s2,
            jerk_m_s3: raw.jerk_m_s3,
        },
        settle_s: raw.settle_s,
        settle_s_per_kg: raw.settle_s_per_kg,
        payload_kg: raw.payload_kg,
        grip_s: raw.grip_s,
        release_s: raw.release_s,
        waits: raw
            .wait
            .into_iter()
            .map(|wait| SignalWait {
                name: wait.name,
                least_s: wait.least_s,
                most_s: wait.most_s,
            })
            .collect(),
        repeat_sd_s: raw.repeat_sd_s,
        retry_probability: raw.retry_probability,
        retry_s: raw.retry_s,
        most_retries: raw.most_retries.unwrap_or(MOST_RETRIES),
    };
    elements.timing()?;
    Ok(PlannedMove {
        stage: raw.stage,
        devices: raw.devices,
        elements,
        cost,
    })
}
