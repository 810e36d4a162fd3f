//! From the `[study]` tables to a checked study. All that is wrong is told at once.

use std::ops::Range;
use std::path::Path;

use toml::Spanned;

use super::{PlannedMove, StageDevice, Study};
use crate::ask::PlanError;
use crate::ask::distribution::{
    Distribution, Empirical, LogNormal, Normal, Retry, Triangular, TruncatedNormal, Uniform, read_column,
};
use crate::ask::kinematics::{MoveElements, SignalWait, TravelLimits};
use crate::ask::model::Model;
use crate::ask::random::Scheme;
use crate::ask::schedule::{Activity, Task};
use crate::ask::uncertainty::Scattered;
use crate::line::file::tables::{RawCorrelation, RawMove, RawScatter, RawStudy};
use crate::text::{Found, Given, Problem, ProblemKind, Source, keys_of};

/// What the study is checked against.
struct Check<'c> {
    found: Found<'c>,
    /// The line file, whose folder data files are relative to.
    path: &'c Path,
    model: &'c dyn Model,
}

/// Checks the tables of a study.
pub(super) fn check(
    raw: &RawStudy,
    source: &Source<'_>,
    path: &Path,
    model: &dyn Model,
) -> Result<Study, Vec<Problem>> {
    let mut check = Check {
        found: Found::new(source),
        path,
        model,
    };
    let study = check.study(raw);
    match check.found.problems.is_empty() {
        true => Ok(study),
        false => Err(check.found.problems),
    }
}

impl Check<'_> {
    fn study(&mut self, raw: &RawStudy) -> Study {
        let scheme = match self.found.one_of(&raw.scheme) {
            Some("latin-hypercube") => Scheme::LatinHypercube,
            Some("independent") => Scheme::Independent,
            _ => Scheme::QuasiRandom,
        };
        let scattered = self.all_scattered(raw.scatter.items());
        let correlations: Vec<_> = raw
            .correlation
            .items()
            .iter()
            .filter_map(|pair| self.correlation(pair, &scattered))
            .collect();
        let devices = raw.device.items().iter();
        let devices = devices.map(|device| {
            let (place, device) = (device.span(), device.get_ref());
            self.stages_exist(device.stages.items());
            StageDevice {
                name: self.name(&device.name, &place),
                stages: self.texts(&device.stages),
            }
        });
        let devices = devices.collect();
        let activities = raw.activity.items().iter().map(|activity| {
            let (place, activity) = (activity.span(), activity.get_ref());
            Activity {
                name: Task::Named(self.name(&activity.name, &place)),
                devices: self.texts(&activity.devices),
                alternate: self.turns(&activity.alternate),
                every_parts: self.whole(&activity.every_parts) as u32,
                seconds: self
                    .found
                    .required(&activity.seconds, place, "seconds = how long it takes"),
                after: self.texts(&activity.after),
                not_before_s: self.or_default(&activity.not_before_s),
                hot: false,
            }
        });
        let activities = activities.collect();
        let moves = raw.moves.items().iter().filter_map(|entry| self.planned_move(entry));
        let moves = moves.collect();
        let study = Study {
            samples: self.whole(&raw.samples) as u64,
            seed: self.whole(&raw.seed) as u64,
            scheme,
            confidence: self.or_default(&raw.confidence),
            reject_risk: self.or_default(&raw.reject_risk),
            alarm_risk: self.or_default(&raw.alarm_risk),
            exit_sd_k: self.found.number(&raw.exit_sd_k),
            hysteresis_s: self.or_default(&raw.hysteresis_s),
            hysteresis_k: self.or_default(&raw.hysteresis_k),
            scattered,
            correlations,
            moves,
            devices,
            activities,
        };
        if study.alarm_risk > study.reject_risk {
            let detail = format!(
                "alarm_risk {} is above reject_risk {}: the alarm comes before the reject",
                study.alarm_risk, study.reject_risk
            );
            let place = raw.alarm_risk.as_ref().or(raw.reject_risk.as_ref());
            let place = place.map_or(0..0, Spanned::span);
            self.found
                .problem(ProblemKind::rule("risks-reversed", detail, ""), place);
        }
        if let Err(error) = study.copula() {
            let place = raw.correlation.items().first().map_or(0..0, Spanned::span);
            self.told(&error, place);
        }
        study
    }

    /// Tells an error of the planner at a place.
    fn told(&mut self, error: &dyn std::error::Error, span: Range<usize>) {
        let kind = ProblemKind::rule("study", error.to_string(), "");
        self.found.problem(kind, span);
    }

    fn or_default(&mut self, given: &Given<f64>) -> f64 {
        let default = given.key.default_for("").map_or(f64::NAN, |default| default.0);
        self.found.number(given).unwrap_or(default)
    }

    fn whole(&mut self, given: &Given<i64>) -> f64 {
        let default = given.key.default_for("").map_or(0.0, |default| default.0);
        self.found.whole(given).map_or(default, |value| value as f64)
    }

    /// A name that must be given.
    fn name(&mut self, given: &Given<String>, place: &Range<usize>) -> String {
        if given.is_none() {
            self.found.missing(place.clone(), &format!("`{}`", given.key.name), "");
        }
        self.found.text(given).unwrap_or_default()
    }

    fn texts(&mut self, given: &Given<Vec<Spanned<String>>>) -> Vec<String> {
        let items = given.items().iter();
        let texts = items.map(|item| {
            self.found.plain(given.key.name, item.get_ref(), item.span());
            item.get_ref().clone()
        });
        texts.collect()
    }

    /// Devices that take turns: at least two, each once.
    fn turns(&mut self, given: &Given<Vec<Spanned<String>>>) -> Vec<String> {
        let names = self.texts(given);
        let twice = (1..names.len()).any(|k| names[..k].contains(&names[k]));
        if let (Some(span), true) = (given.span(), twice || names.len() == 1) {
            let detail = "devices that take turns are two or more, each named once".to_owned();
            let kind = ProblemKind::rule("study", detail, "one device alone stands in `devices`");
            self.found.problem(kind, span);
        }
        names
    }

    fn stages_exist(&mut self, names: &[Spanned<String>]) {
        let inputs = self.model.inputs();
        for name in names {
            let prefix = format!("stage.{}.", name.get_ref());
            if !inputs.iter().any(|input| input.path.starts_with(&prefix)) {
                let mut known: Vec<&str> = inputs.iter().filter_map(|input| stage_of(&input.path)).collect();
                known.dedup();
                let known = known.into_iter();
                self.found.unknown_word("stage", name.get_ref(), name.span(), known);
            }
        }
    }

    fn all_scattered(&mut self, entries: &[Spanned<RawScatter>]) -> Vec<Scattered> {
        let mut all: Vec<Scattered> = Vec::new();
        for entry in entries {
            let Some(scattered) = self.scattered(entry) else {
                continue;
            };
            if all.iter().any(|known| known.path == scattered.path) {
                let detail = format!("`{}` is scattered twice", scattered.path);
                let kind = ProblemKind::rule("scattered-twice", detail, "one distribution for each input");
                self.found.problem(kind, entry.span());
            }
            all.push(scattered);
        }
        all
    }

    fn scattered(&mut self, entry: &Spanned<RawScatter>) -> Option<Scattered> {
        let (place, raw) = (entry.span(), entry.get_ref());
        let path = self.name(&raw.input, &place);
        if raw.kind.is_none() {
            let hint = format!("kind = one of {}", raw.kind.key.words.join(", "));
            self.found.missing(place.clone(), "`kind` of the distribution", &hint);
        }
        let kind = self.found.one_of(&raw.kind)?;
        self.found.only(raw, kind, &format!("for kind = \"{kind}\""), |_| {
            format!("its keys are {}", keys_of::<RawScatter>(kind))
        });
        let at = raw.input.span()?;
        let nominal = match self.model.number(&path) {
            Ok(nominal) => nominal,
            Err(error) => {
                self.told(&error, at);
                return None;
            }
        };
        let before = self.found.problems.len();
        let distribution = self.distribution(kind, raw, &place, nominal);
        let distribution = match distribution {
            // What is missing or out of range was told.
            _ if self.found.problems.len() > before => return None,
            Ok(distribution) => distribution,
            Err(error) => {
                self.told(&error, place);
                return None;
            }
        };
        let allowed = self.model.input(&path).ok().and_then(|input| input.allowed);
        if let Some(Err(error)) = allowed.map(|a| distribution.check_range(&path, a.low, a.high)) {
            self.told(&error, place);
        }
        Some(Scattered {
            path,
            nominal,
            distribution,
        })
    }

    fn distribution(
        &mut self,
        kind: &str,
        raw: &RawScatter,
        place: &Range<usize>,
        nominal: f64,
    ) -> Result<Distribution, PlanError> {
        let hint = format!("needed for kind = \"{kind}\"");
        let mean = self.found.number(&raw.mean).unwrap_or(nominal);
        let mut need = |given: &Given<f64>| self.found.required(given, place.clone(), &hint);
        Ok(match kind {
            "normal" => Distribution::Normal(Normal::new(mean, need(&raw.sd))?),
            "truncated-normal" => {
                let (sd, low, high) = (need(&raw.sd), need(&raw.low), need(&raw.high));
                Distribution::TruncatedNormal(TruncatedNormal::new(mean, sd, low, high)?)
            }
            "triangular" => {
                let (low, high) = (need(&raw.low), need(&raw.high));
                let mode = self.found.number(&raw.mode).unwrap_or(nominal);
                Distribution::Triangular(Triangular::new(low, mode, high)?)
            }
            "uniform" => Distribution::Uniform(Uniform::new(need(&raw.low), need(&raw.high))?),
            "lognormal" => {
                let sd = need(&raw.sd);
                Distribution::LogNormal(LogNormal::new(mean, sd, self.or_default(&raw.offset))?)
            }
            "empirical" => {
                let (file, column) = (self.name(&raw.file, place), self.name(&raw.column, place));
                let folder = self.path.parent().unwrap_or_else(|| Path::new(""));
                Distribution::Empirical(Empirical::new(read_column(&folder.join(file), &column)?)?)
            }
            _ => {
                let (sd, probability, seconds) = (need(&raw.sd), need(&raw.retry_probability), need(&raw.retry_s));
                let sd_of_retry = self.or_default(&raw.retry_sd_s);
                let most = self.whole(&raw.most_retries) as u32;
                Distribution::Retry(Retry::new(mean, sd, probability, seconds, sd_of_retry, most)?)
            }
        })
    }

    fn correlation(&mut self, entry: &Spanned<RawCorrelation>, scattered: &[Scattered]) -> Option<(usize, usize, f64)> {
        let (place, raw) = (entry.span(), entry.get_ref());
        let hint = "correlation = -1 to 1";
        let correlation = self.found.required(&raw.correlation, place.clone(), hint);
        let [one, other] = raw.inputs.items() else {
            let hint = "inputs = [\"one path\", \"another\"]";
            self.found.missing(place, "a pair of `inputs`", hint);
            return None;
        };
        let mut index = |name: &Spanned<String>| {
            let found = scattered.iter().position(|s| s.path == *name.get_ref());
            if found.is_none() {
                let known = scattered.iter().map(|s| s.path.as_str());
                self.found
                    .unknown_word("scattered input", name.get_ref(), name.span(), known);
            }
            found
        };
        let (one, other) = (index(one), index(other));
        Some((one?, other?, correlation))
    }

    fn planned_move(&mut self, entry: &Spanned<RawMove>) -> Option<PlannedMove> {
        let (place, raw) = (entry.span(), entry.get_ref());
        let before = self.found.problems.len();
        let stage = self.name(&raw.stage, &place);
        let handovers = self.model.handovers();
        if let (Some(span), false) = (raw.stage.span(), handovers.iter().any(|h| h.stage == stage)) {
            let known = handovers.iter().map(|h| h.stage.as_str());
            self.found.unknown_word("hand-over", &stage, span, known);
        }
        let mut need = |given: &Given<f64>| self.found.required(given, place.clone(), "");
        let (distance_m, speed_m_s, acceleration_m_s2) = (
            need(&raw.distance_m),
            need(&raw.speed_m_s),
            need(&raw.acceleration_m_s2),
        );
        let waits = raw.wait.items().iter().map(|wait| {
            let (place, wait) = (wait.span(), wait.get_ref());
            SignalWait {
                name: self.name(&wait.name, &place),
                least_s: self.or_default(&wait.least_s),
                most_s: self.found.required(&wait.most_s, place, "most_s = longest wait"),
            }
        });
        let waits = waits.collect();
        let elements = MoveElements {
            distance_m,
            limits: TravelLimits {
                speed_m_s,
                acceleration_m_s2,
                jerk_m_s3: self.found.number(&raw.jerk_m_s3),
            },
            settle_s: self.or_default(&raw.settle_s),
            settle_s_per_kg: self.or_default(&raw.settle_s_per_kg),
            payload_kg: self.or_default(&raw.payload_kg),
            grip_s: self.or_default(&raw.grip_s),
            release_s: self.or_default(&raw.release_s),
            waits,
            repeat_sd_s: self.or_default(&raw.repeat_sd_s),
            retry_probability: self.or_default(&raw.retry_probability),
            retry_s: self.or_default(&raw.retry_s),
            most_retries: self.whole(&raw.most_retries) as u32,
        };
        let cost = self.or_default(&raw.cost);
        let devices = self.texts(&raw.devices);
        let alternate = self.turns(&raw.alternate);
        if self.found.problems.len() > before {
            return None;
        }
        if let Err(error) = elements.timing() {
            self.told(&error, place);
            return None;
        }
        Some(PlannedMove {
            stage,
            devices,
            alternate,
            elements,
            cost,
        })
    }
}

/// Name of the stage of an input path.
fn stage_of(path: &str) -> Option<&str> {
    path.strip_prefix("stage.")?.split('.').next()
}
