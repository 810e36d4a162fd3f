//! A line with its study and its planned run, of which questions are asked: every command, sheet and
//! page gets its answers here.

use super::band::{Band, BandOptions, exit_band};
use super::decide::{DecisionTable, Identity};
use super::failure::Failure;
use super::hand_overs::{HandOverTimes, Pair, Risks, Spread, hand_over_times, pairs};
use super::line_model::LineModel;
use super::margins::fill_margins;
use super::model::{Handover, Model, ModelError, Outcome};
use super::sensitivity::exit_sensitivity;
use super::stoppage::{Hold, Position, Survival, positions, survivals};
use super::study::Study;
use super::times::TimesOptions;
use super::uncertainty::{Uncertainty, uncertainty};
use crate::judge::Kind;
use crate::line::file::Document;
use crate::line::plan::Resolution;
use crate::line::{RunOptions, Trace};
use crate::text::nearest;

/// A line file and its study, at a resolution.
#[derive(Debug, Clone)]
pub struct Enquiry {
    /// The line at its own resolution, or the one asked for.
    pub model: LineModel,
    /// The same line on the quick grid, unless that is its own.
    pub quick: Option<LineModel>,
    /// The study tables.
    pub study: Study,
}

impl Enquiry {
    /// Reads the study of a document.
    ///
    /// # Errors
    /// A study that is wrong.
    pub fn new(document: Document, resolution: Option<Resolution>) -> Result<Self, Failure> {
        let path = document.path().to_path_buf();
        let mut model = LineModel::new(document);
        if let Some(resolution) = resolution {
            model = model.at(resolution);
        }
        let study = Study::read(model.document().text(), &path, &model)?;
        let quick = (model.resolution() != Resolution::Quick).then(|| model.at(Resolution::Quick));
        Ok(Self { model, quick, study })
    }

    /// The quick line as a help for searches.
    #[must_use]
    pub fn cheap(&self) -> Option<&dyn Model> {
        self.quick.as_ref().map(|quick| quick as &dyn Model)
    }

    /// Title of the line.
    #[must_use]
    pub fn title(&self) -> &str {
        &self.model.document().plan().title
    }

    /// The planned run whole, with the seconds of each verdict.
    ///
    /// # Errors
    /// A run that fails.
    pub fn trace(&self) -> Result<Trace, Failure> {
        let mut trace = self.model.trace(&[], &RunOptions::default())?;
        fill_margins(&self.model, &mut trace)?;
        Ok(trace)
    }

    /// The planned run judged.
    ///
    /// # Errors
    /// A run that fails; a line without limits, which has nothing to plan against.
    pub fn judged(&self) -> Result<Judged<'_>, Failure> {
        if self.model.limits().is_empty() {
            return Err(Failure::NothingToDo(
                "the line has no limits to plan against: give [[limit]] tables".to_owned(),
            ));
        }
        let planned = self.model.run(&[])?;
        self.judged_as(planned)
    }

    /// The same, the planned run being known.
    ///
    /// # Errors
    /// A run of the stated uncertainties that fails.
    pub fn judged_as(&self, planned: Outcome) -> Result<Judged<'_>, Failure> {
        // The spread of the guard band comes from differences, which the quick grid gives as well.
        let study = &self.study;
        let uncertainty = if study.scattered.is_empty() {
            None
        } else {
            let (model, nominal) = match &self.quick {
                Some(quick) => (quick, &quick.run(&[])?),
                None => (&self.model, &planned),
            };
            Some(uncertainty(model, &study.scattered, &study.correlations, nominal)?)
        };
        Ok(Judged {
            enquiry: self,
            planned,
            uncertainty,
        })
    }
}

/// The planned run with its verdicts, and what the stated uncertainties make of each limit.
#[derive(Debug, Clone)]
pub struct Judged<'a> {
    /// The line.
    pub enquiry: &'a Enquiry,
    /// The planned run.
    pub planned: Outcome,
    /// Spread of every limited value; `None` without stated uncertainties.
    pub uncertainty: Option<Uncertainty>,
}

impl Judged<'_> {
    fn models(&self) -> (&dyn Model, Option<&dyn Model>) {
        (&self.enquiry.model, self.enquiry.cheap())
    }

    /// Risks of the guard bands.
    #[must_use]
    pub fn risks(&self) -> Risks {
        Risks {
            reject: self.enquiry.study.reject_risk,
            alarm: self.enquiry.study.alarm_risk,
        }
    }

    fn spread(&self) -> Spread<'_> {
        Spread {
            scattered: &self.enquiry.study.scattered,
            uncertainty: self.uncertainty.as_ref(),
            risks: self.risks(),
        }
    }

    /// Earliest and latest seconds of every hand-over.
    ///
    /// # Errors
    /// A search that has no answer.
    pub fn times(&self) -> Result<Vec<HandOverTimes>, Failure> {
        let (model, cheap) = self.models();
        hand_over_times(model, cheap, &self.planned, &self.spread(), &TimesOptions::default())
    }

    /// What two hand-overs may take together.
    ///
    /// # Errors
    /// A name that is no hand-over; a search that has no answer.
    pub fn pairs(&self, first: &str, second: &str, points: u32) -> Result<Vec<Pair>, Failure> {
        let handovers = self.enquiry.model.handovers();
        let find = |name: &str| -> Result<&Handover, Failure> {
            let known = handovers.iter().map(|h| h.stage.as_str());
            let unknown = || ModelError::UnknownName {
                what: "hand-over",
                name: name.to_owned(),
                near: nearest(name, known),
            };
            let found = handovers.iter().find(|h| h.stage == name);
            Ok(found.ok_or_else(unknown)?)
        };
        let (first, second) = (find(first)?, find(second)?);
        let options = TimesOptions::default();
        pairs(self.models(), &self.planned, first, second, points, &options)
    }

    /// Band of the exit temperature, bare and with the guard bands for the reject and the alarm risk.
    ///
    /// # Errors
    /// A search that has no answer; a line whose exit temperature is not an input.
    pub fn band(&self, options: &BandOptions) -> Result<ExitBands, Failure> {
        let (model, cheap) = self.models();
        let exit = model.exit_inputs().ok_or_else(Failure::no_exit)?;
        let mut measured = vec![exit.surface.0.as_str()];
        measured.extend(exit.core.as_ref().map(|(path, _)| path.as_str()));
        let bare = exit_band(model, cheap, &[], &[], options)?;
        let guarded = self.spread().guards_k(&measured)?;
        let (reject, alarm) = match guarded {
            Some((guard, wide)) => (
                Some(exit_band(model, cheap, &[], &guard, options)?),
                Some(exit_band(model, cheap, &[], &wide, options)?),
            ),
            None => (None, None),
        };
        Ok(ExitBands { bare, reject, alarm })
    }

    /// Which parts in flight survive a stop; with `on_rest` also those that a gripper could put down.
    ///
    /// # Errors
    /// A search that has no answer.
    pub fn stops(&self, stops_s: &[f64], longest_s: f64, on_rest: bool) -> Result<Vec<Survival>, Failure> {
        let (model, _) = self.models();
        let places = positions(model, &self.planned);
        let spread = self.spread();
        let mut found = survivals(self.models(), &self.planned, &places, &spread, stops_s, longest_s)?;
        if !on_rest {
            return Ok(found);
        }
        // The rest is an extra stage of no length.
        for carry in model.handovers().iter().filter(|h| h.kind == Kind::Carry) {
            let name = format!("rest after {}", carry.stage);
            let with = self.enquiry.model.with_rest(&carry.stage, &name)?;
            let quick = self.enquiry.quick.as_ref();
            let quick = quick.map(|quick| quick.with_rest(&carry.stage, &name)).transpose()?;
            let place = Position {
                stage: carry.stage.clone(),
                kind: Kind::Rest,
                hold: Hold::OnRest,
                path: format!("stage.{name}.seconds"),
                seconds: 0.0,
                least_s: 0.0,
            };
            let models = (&with as &dyn Model, quick.as_ref().map(|quick| quick as &dyn Model));
            let planned = with.run(&[])?;
            let one = survivals(models, &planned, &[place], &spread, stops_s, longest_s)?;
            let after = found.iter().rposition(|s| s.position.stage == carry.stage);
            let at = after.map_or(found.len(), |k| k + 1);
            found.splice(at..at, one);
        }
        Ok(found)
    }

    /// The table by which a controller decides each part; made on the quick grid, on the margins of the
    /// planned run.
    ///
    /// # Errors
    /// A run that fails; a line whose exit temperature is not an input.
    pub fn decision_table(&self) -> Result<DecisionTable, Failure> {
        let (full, cheap) = self.models();
        let exit = full.exit_inputs().ok_or_else(Failure::no_exit)?;
        let model = cheap.unwrap_or(full);
        let study = &self.enquiry.study;
        // The controller measures every time, and the exit temperature where the study says how well.
        let mut measured: Vec<&str> = model.handovers().iter().map(|h| h.path.as_str()).collect();
        let mut meter = None;
        if let Some(sd) = study.exit_sd_k {
            measured.push(&exit.surface.0);
            measured.extend(exit.core.as_ref().map(|(path, _)| path.as_str()));
            meter = Some((exit_sensitivity(model, &model.run(&[])?)?, sd));
        }
        let guard = |risk: f64| -> Result<Vec<f64>, Failure> {
            let meter = meter.as_ref().map(|(slope, sd)| (slope, *sd));
            Ok(match &self.uncertainty {
                Some(uncertainty) => uncertainty.guard_k(risk, &measured, meter)?,
                None => vec![0.0; self.planned.verdicts.len()],
            })
        };
        let risks = self.risks();
        let guards = (guard(risks.reject)?, guard(risks.alarm)?);
        let document = self.enquiry.model.document();
        let identity = Identity::of(document, risks);
        DecisionTable::build(model, &self.planned.margins_k(), guards, identity)
    }
}

/// Bands of the exit temperature.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[non_exhaustive]
pub struct ExitBands {
    /// Where every limit holds.
    pub bare: Band,
    /// With the guard band for the reject risk; `None` without stated uncertainties.
    pub reject: Option<Band>,
    /// With the guard band for the alarm risk.
    pub alarm: Option<Band>,
}

impl ExitBands {
    /// The band that an instruction may state.
    #[must_use]
    pub fn stated(&self) -> &Band {
        self.reject.as_ref().unwrap_or(&self.bare)
    }
}
