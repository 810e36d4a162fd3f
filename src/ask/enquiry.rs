//! A line with its study and its planned run, of which questions are asked: every command, sheet and
//! page gets its answers here.

use super::band::{Band, BandOptions, exit_band, guarded_band};
use super::certainty::Certainty;
use super::decide::{ByStage, DecisionTable, Identity};
use super::failure::Failure;
use super::hand_overs::{HandOverTimes, Pair, Uncertain, hand_over_times, pairs};
use super::line_model::LineModel;
use super::margins::fill_margins;
use super::model::{ExitInputs, Handover, Model, ModelError, Outcome};
use super::risk::{Assumed, GuardLine, Guards, Risk, Risks, Spread, assumed, left_known};
use super::stoppage::{Hold, Position, Survival, positions, survivals};
use super::study::Study;
use super::times::TimesOptions;
use super::uncertainty::Scattered;
use crate::judge::{Kind, Owner};
use crate::line::file::Document;
use crate::line::plan::Resolution;
use crate::line::{RunOptions, Trace};
use crate::text::nearest;
use rayon::prelude::*;

/// A line file and its study, at a resolution.
#[derive(Debug, Clone)]
pub struct Enquiry {
    /// The line at its own resolution, or the one asked for.
    pub model: LineModel,
    /// The same line on the quick grid, unless that is its own.
    pub quick: Option<LineModel>,
    /// The study tables.
    pub study: Study,
    /// What the guard bands keep the limits from.
    pub guarding: Guarding,
}

/// Whose uncertainties the guard bands come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Guarding {
    /// Those that the file states.
    Stated,
    /// The spread of the program's own values: the file states none.
    Assumed,
    /// Nobody's: limits as they are.
    Bare,
}

/// How well the exit temperature of parts that are measured one by one is known to the guard bands.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
#[serde(tag = "kind", content = "sd_k", rename_all = "snake_case")]
pub enum ExitKnown {
    /// As the study says (`exit_sd_k`): standard uncertainty, K.
    Stated(f64),
    /// As its instrument says: standard uncertainty, K.
    Instrument(f64),
    /// Nothing says how well: it scatters as the file states, measured or not.
    Scatters,
    /// Nothing says how well, nor how it scatters: readings count as exact.
    AsRead,
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
        let guarding = match study.scattered.is_empty() && study.exit_sd_k.is_none() {
            true => Guarding::Assumed,
            false => Guarding::Stated,
        };
        Ok(Self {
            model,
            quick,
            study,
            guarding,
        })
    }

    /// The same with limits as they are, without guard bands.
    #[must_use]
    pub fn bare(self) -> Self {
        Self {
            guarding: Guarding::Bare,
            ..self
        }
    }

    /// Inputs that the guard bands count as scattering.
    #[must_use]
    pub fn scattered(&self) -> Vec<Scattered> {
        match self.guarding {
            Guarding::Stated => {
                // What was fitted to measurements is known no better than they tell, whatever else scatters.
                let stated = &self.study.scattered;
                let is_new = |a: &Assumed| !stated.iter().any(|s| s.path == a.scattered.path);
                let is_measured = |a: &Assumed| {
                    let input = self.model.input(&a.scattered.path);
                    input.is_ok_and(|input| input.owner == Owner::Measured)
                };
                let fitted = assumed(&self.model).into_iter().filter(|a| is_new(a) && is_measured(a));
                stated.iter().cloned().chain(fitted.map(|a| a.scattered)).collect()
            }
            Guarding::Assumed => assumed(&self.model).into_iter().map(|a| a.scattered).collect(),
            Guarding::Bare => Vec::new(),
        }
    }

    /// How many of the program's own values count as known although their usual spread is not nil, where the file
    /// states any scatter; the spread of values fitted to measurements is taken in.
    #[must_use]
    pub fn counted_as_known(&self) -> usize {
        match self.guarding {
            Guarding::Stated => left_known(&self.model, &self.scattered()),
            Guarding::Assumed | Guarding::Bare => 0,
        }
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

    /// How certain each limited value is; one pass on the quick grid.
    ///
    /// # Errors
    /// As [`Certainty::of`].
    pub fn certainty(&self) -> Result<Certainty, Failure> {
        Certainty::of(self.cheap().unwrap_or(&self.model), &self.study)
    }

    /// The planned run.
    ///
    /// # Errors
    /// A run that fails; a line without limits, which has nothing to plan against.
    pub fn planned(&self) -> Result<Outcome, Failure> {
        if self.model.limits().is_empty() {
            return Err(Failure::NothingToDo(
                "the line has no limits to plan against: give [[limit]] tables".to_owned(),
            ));
        }
        Ok(self.model.run(&[])?)
    }

    /// The planned run judged.
    ///
    /// # Errors
    /// As [`Enquiry::planned`]; a run of the uncertainties that fails.
    pub fn judged(&self) -> Result<Judged<'_>, Failure> {
        self.judged_as(self.planned()?)
    }

    /// The same, the planned run being known.
    ///
    /// # Errors
    /// A run of the uncertainties that fails.
    pub fn judged_as(&self, planned: Outcome) -> Result<Judged<'_>, Failure> {
        let scattered = self.scattered();
        let mut judged = Judged {
            enquiry: self,
            planned,
            risk: None,
            scattered,
        };
        judged.risk = judged.surface(None, None)?;
        Ok(judged)
    }
}

/// The planned run with its verdicts, and what the uncertainties make of each limit.
#[derive(Debug, Clone)]
pub struct Judged<'a> {
    /// The line.
    pub enquiry: &'a Enquiry,
    /// The planned run.
    pub planned: Outcome,
    /// What scatters may take from each margin; `None` where nothing scatters.
    pub risk: Option<Risk>,
    /// What scatters.
    pub scattered: Vec<Scattered>,
}

impl Judged<'_> {
    fn models(&self) -> (&dyn Model, Option<&dyn Model>) {
        (&self.enquiry.model, self.enquiry.cheap())
    }

    /// Differences are taken on the quick grid, which gives them as well.
    fn coarse(&self) -> &dyn Model {
        self.enquiry.cheap().unwrap_or(&self.enquiry.model)
    }

    /// Risks of the guard bands.
    #[must_use]
    pub fn risks(&self) -> Risks {
        Risks {
            reject: self.enquiry.study.reject_risk,
            alarm: self.enquiry.study.alarm_risk,
        }
    }

    /// Exit temperatures that the table of the controller has to cover, degC: those at which every limit holds as
    /// planned, and up to the hottest of the steel, from which a part may still be good when it waits.
    fn allowed_exits(&self, exit: &ExitInputs) -> Result<(f64, f64), Failure> {
        let (model, cheap) = self.models();
        let planned_c = exit.surface.1;
        let band = exit_band(model, cheap, &[], &GuardLine::default(), &BandOptions::default())?;
        let (low_c, high_c) = match band {
            Band::Open { low, high } => (low.exit_c, high.exit_c),
            _ => (planned_c, planned_c),
        };
        let steel_c = model.steel_exit_c().map(|c| c - exit.hotter_inside_k());
        Ok((
            low_c.min(planned_c),
            high_c.max(steel_c.unwrap_or(high_c)).max(planned_c),
        ))
    }

    /// Whether the controller's guard bands count the exit temperature as measured on each part, as they count
    /// every time: where the study says how well it is measured.
    #[must_use]
    pub fn measures_exit(&self) -> bool {
        self.enquiry.guarding != Guarding::Stated || self.enquiry.study.exit_sd_k.is_some()
    }

    /// How the guard bands of [`Judged::part_guards`] count the exit, `meter_sd_k` being the standard uncertainty by its
    /// instrument; `None` where there are none.
    #[must_use]
    pub fn exit_known(&self, meter_sd_k: Option<f64>) -> Option<ExitKnown> {
        let scatters = || {
            let of_heater = |s: &Scattered| s.path.starts_with("heater.");
            !self.measures_exit() && self.scattered.iter().any(of_heater)
        };
        match (self.enquiry.guarding, self.enquiry.study.exit_sd_k, meter_sd_k) {
            (Guarding::Bare, _, _) => None,
            (_, Some(sd), _) => Some(ExitKnown::Stated(sd)),
            (_, None, Some(sd)) => Some(ExitKnown::Instrument(sd)),
            (_, None, None) if scatters() => Some(ExitKnown::Scatters),
            (_, None, None) => Some(ExitKnown::AsRead),
        }
    }

    /// The response surface over what scatters; with `exit` that temperature is measured on each part, with the standard
    /// uncertainty that the study states, else with `meter_sd_k`.
    fn surface(&self, exit: Option<&ExitInputs>, meter_sd_k: Option<f64>) -> Result<Option<Risk>, Failure> {
        let study = &self.enquiry.study;
        let stated = self.enquiry.guarding == Guarding::Stated;
        let spread = Spread {
            scattered: &self.scattered,
            correlations: if stated { &study.correlations } else { &[] },
            exit_sd_k: study.exit_sd_k.or(meter_sd_k),
            risks: self.risks(),
        };
        Risk::new(self.coarse(), &spread, exit)
    }

    fn uncertain(&self) -> Uncertain<'_> {
        Uncertain {
            scattered: &self.scattered,
            risk: self.risk.as_ref(),
        }
    }

    /// Earliest and latest seconds of every hand-over.
    ///
    /// # Errors
    /// A search that has no answer.
    pub fn times(&self) -> Result<Vec<HandOverTimes>, Failure> {
        let (model, cheap) = self.models();
        let options = TimesOptions::default();
        hand_over_times(model, cheap, &self.planned, &self.uncertain(), &options)
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

    /// Band of the exit temperature, bare and with the guard bands for the reject and the alarm risk. The
    /// exit counts as measured on each part where the controller counts it so ([`Judged::measures_exit`]).
    ///
    /// # Errors
    /// A search that has no answer; a line whose exit temperature is not an input.
    pub fn band(&self, options: &BandOptions) -> Result<ExitBands, Failure> {
        let (model, cheap) = self.models();
        let exit = model.exit_inputs().ok_or_else(Failure::no_exit)?;
        let bare = exit_band(model, cheap, &[], &GuardLine::default(), options)?;
        let risk = match self.enquiry.guarding {
            Guarding::Bare => None,
            _ => self.surface(self.coarse().exit_inputs().filter(|_| self.measures_exit()), None)?,
        };
        let Some(risk) = risk else {
            return Ok(ExitBands {
                bare,
                reject: None,
                alarm: None,
            });
        };
        let flat = risk.guards(&[]);
        let mut found = vec![(exit.surface.1, flat.clone())];
        if let Band::Open { low, high } = &bare {
            let at = |end: f64| risk.guards_at(self.coarse(), &[], &exit.at(end), &flat);
            let (low, high) = rayon::join(
                || Ok((low.exit_c, at(low.exit_c)?)),
                || Ok((high.exit_c, at(high.exit_c)?)),
            );
            found.extend([low, high].into_iter().collect::<Result<Vec<_>, Failure>>()?);
        }
        let (guard, wide) = GuardLine::through(&found);
        let of = |guard: &GuardLine| guarded_band((model, cheap), &bare, &self.planned.margins_k(), guard, options);
        let (reject, alarm) = rayon::join(|| of(&guard), || of(&wide));
        Ok(ExitBands {
            bare,
            reject: Some(reject?),
            alarm: Some(alarm?),
        })
    }

    /// Which parts in flight survive a stop; with `on_rest` also those that a gripper could put down.
    ///
    /// # Errors
    /// A search that has no answer.
    pub fn stops(&self, stops_s: &[f64], longest_s: f64, on_rest: bool) -> Result<Vec<Survival>, Failure> {
        let (model, _) = self.models();
        let places = positions(model, &self.planned);
        let spread = self.uncertain();
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
        // The controller measures every time, and the exit temperature where the study says how well.
        let times: Vec<&str> = self.coarse().handovers().iter().map(|h| h.path.as_str()).collect();
        self.table_of(&times, None)
    }

    /// Guard bands by which parts are judged that are measured one by one, as a decision table has them: the hand-overs of
    /// `times` (paths) and the exit temperature are measured, the exit with `meter_sd_k` where the study does not say how
    /// well; where neither does it scatters.
    ///
    /// # Errors
    /// As [`Judged::decision_table`].
    pub fn part_guards(&self, times: &[&str], meter_sd_k: Option<f64>) -> Result<Guards, Failure> {
        if self.enquiry.guarding == Guarding::Bare {
            let none = vec![0.0; self.planned.verdicts.len()];
            return Ok(Guards {
                reject: none.clone(),
                alarm: none,
            });
        }
        let table = self.table_of(times, meter_sd_k)?;
        Ok(Guards {
            reject: table.guard_k,
            alarm: table.alarm_guard_k,
        })
    }

    /// The table whose guard bands count the hand-overs of `times` as measured on each part.
    fn table_of(&self, times: &[&str], meter_sd_k: Option<f64>) -> Result<DecisionTable, Failure> {
        let (full, cheap) = self.models();
        let exit = full.exit_inputs().ok_or_else(Failure::no_exit)?;
        let model = cheap.unwrap_or(full);
        let none = || Guards {
            reject: vec![0.0; self.planned.verdicts.len()],
            alarm: vec![0.0; self.planned.verdicts.len()],
        };
        let identity = Identity::of(self.enquiry.model.document(), self.risks())?;
        let reach = self.allowed_exits(exit)?;
        let limits = full.limits().iter().map(ToString::to_string).collect();
        let own = self.enquiry.quick.as_ref().unwrap_or(&self.enquiry.model);
        let by_stage = ByStage::of(own, exit, reach)?;
        let planned = by_stage.judging(&self.enquiry.model).run(&[])?;
        let rows = (limits, by_stage.rows());
        let mut table = DecisionTable::reaching(&by_stage, rows, &planned.margins_k(), none(), identity, reach)?;
        if self.enquiry.guarding == Guarding::Bare {
            return Ok(table);
        }
        let known_exit = self.measures_exit() || meter_sd_k.is_some();
        let Some(risk) = self.surface(Some(exit).filter(|_| known_exit), meter_sd_k)? else {
            return Ok(table);
        };
        table.meaning.push_str(match known_exit {
            true => "; guard bands: exit temperature and times measured on each part",
            false => "; guard bands: times measured on each part, exit temperature not (no exit_sd_k), so it scatters",
        });
        let known = self.enquiry.counted_as_known();
        if known > 0 {
            let note =
                format!("; values of the program that count as known in the guard bands, though uncertain: {known}");
            table.meaning.push_str(&note);
        }
        let mut measured = times.to_vec();
        if known_exit {
            measured.push(&exit.surface.0);
            measured.extend(exit.core.as_ref().map(|(path, _)| path.as_str()));
        }
        let mut guards = risk.guards(&measured);
        // A guard band counts where a limit is about to break: at the ends of the times and of the exit.
        let ends = table.ends(model, exit.surface.1);
        let flat = guards.clone();
        let found: Vec<Result<Guards, Failure>> = ends
            .par_iter()
            .map(|(_, at)| risk.guards_at(model, &measured, at, &flat))
            .collect();
        for ((limit, _), found) in ends.iter().zip(found) {
            let found = found?;
            guards.reject[*limit] = guards.reject[*limit].max(found.reject[*limit]);
            guards.alarm[*limit] = guards.alarm[*limit].max(found.alarm[*limit]);
        }
        table.guard(guards);
        Ok(table)
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

#[cfg(test)]
mod tests {
    use super::*;

    const LINE: &str = "title = \"x\"\n[billet]\nsteel = \"C45\"\ndiameter_mm = 50\nlength_mm = 80\n\
        [heater]\nkind = \"measured\"\ntemperature_c = 1220\n\
        [[stage]]\nkind = \"carry\"\nname = \"carry\"\nseconds = 3\n\
        [[limit]]\nnode = \"coldest\"\nmin_c = 900\nstage = \"carry\"\nmoment = \"end\"\nsource = \"x\"\n";

    /// What the certainty keeps and the guard bands drop is counted.
    #[test]
    fn one_stated_scatter_makes_the_other_values_count_as_known() {
        let of = |more: &str| {
            let document = Document::parse(format!("{LINE}{more}"), "x.toml").unwrap();
            Enquiry::new(document, Some(Resolution::Quick)).unwrap()
        };
        let usual = of("");
        assert_eq!(usual.counted_as_known(), 0);
        let all = usual.scattered().len();
        assert!(all > 2);
        let stated = of("[[study.scatter]]\ninput = \"billet.emissivity\"\nkind = \"normal\"\nsd = 0.01\n");
        assert_eq!(stated.counted_as_known(), all - 1);
        assert_eq!(left_known(&stated.model, &stated.study.scattered), all - 1);
        let doubts = stated.certainty().unwrap();
        assert_eq!(
            doubts.doubts.iter().filter(|d| !d.stated).count() + doubts.left_out.len(),
            all - 1
        );
        let table = stated.judged().unwrap().decision_table().unwrap();
        assert!(
            table.meaning.ends_with(&format!("uncertain: {}", all - 1)),
            "{}",
            table.meaning
        );
        table.check().unwrap();
        // The part is right far below the planned exit: the table goes as far down as a table does.
        assert_eq!((table.exit_c[0], table.planned_exit_c), (1100.0, 1220.0));
        let planned = stated.planned().unwrap().margins_k()[0];
        assert!((table.base_k[10][0] - planned).abs() < 1e-9, "{:?}", table.base_k);
        assert_eq!(stated.bare().counted_as_known(), 0);
    }
}
