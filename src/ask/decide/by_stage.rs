//! The limits of a line as a decision table has them: one that holds at any moment stands once for every stage, and every
//! zone of a part there, in which it may decide.
//!
//! The hottest a zone is in one stage bends little over exit temperature and times. Which stage or zone is the hottest of
//! all jumps, and what one hand-over gains in one is no gain where another then decides.

use rayon::prelude::*;

use super::build::{EXIT_STEP_K, EXITS, LONGEST_S};
use crate::ask::band::range;
use crate::ask::failure::Failure;
use crate::ask::line_model::LineModel;
use crate::ask::model::{Change, ExitInputs, Handover, Model, ModelError, Outcome, Probe, in_words};
use crate::body::Place;
use crate::judge::{Limit, Moment, Verdict};
use crate::line::plan::Input;

/// By how much a stage has to be nearer to breaking a limit than those before it to be the one that decides, K: at the
/// beginning of a stage a part is as it was at the end of the one before. What is left out so is taken off where it comes.
const NEARER_K: f64 = 0.01;

/// A line whose margins are those of the rows of a decision table.
pub(crate) struct ByStage {
    model: LineModel,
    rows: Vec<Limit>,
    limit_of: Vec<usize>,
    /// Limits that stand in several rows, and their numbers.
    whole: Vec<(usize, Limit)>,
}

impl ByStage {
    /// Finds the stages in which limits at any moment may decide between two exit temperatures, degC: as planned, and with
    /// every hand-over alone at both ends of its times.
    ///
    /// # Errors
    /// [`Failure`] of a run.
    pub fn of(model: &LineModel, exit: &ExitInputs, (low_c, high_c): (f64, f64)) -> Result<ByStage, Failure> {
        let asked = |limit: &Limit| limit.moment == Moment::Always && limit.stage.is_none();
        let whole: Vec<(usize, Limit)> = (model.limits().iter().cloned().enumerate())
            .filter(|(_, limit)| asked(limit))
            .collect();
        let plan = model.document().plan();
        let stages = plan.stages.iter().enumerate();
        let stages: Vec<(Option<usize>, &str)> = std::iter::once((None, "heater"))
            .chain(stages.map(|(index, stage)| (Some(index), stage.name.as_str())))
            .collect();
        // Zones first: where there are such, the part as a whole is no nearer to the limit than they are.
        let nodes = |limit: &Limit, stage: Option<usize>| {
            let extreme = [Place::Hottest, Place::Coldest]
                .iter()
                .any(|place| place.word() == limit.node);
            let shape = stage
                .and_then(|stage| plan.shape_after(stage))
                .filter(|shape| !shape.is_long());
            let zones: Vec<String> = match shape.as_ref().map(|shape| shape.zones()) {
                Some(zones) if extreme && limit.other.is_none() && zones != ["body"] => {
                    zones.iter().map(|zone| format!("{zone}.{}", limit.node)).collect()
                }
                _ => Vec::new(),
            };
            zones.into_iter().chain([limit.node.clone()]).collect::<Vec<String>>()
        };
        let within = |limit: &Limit, name: &str, node: String| Limit {
            stage: Some(name.to_owned()),
            node,
            ..limit.clone()
        };
        let mut every = ByStage {
            model: model.clone(),
            rows: Vec::new(),
            limit_of: Vec::new(),
            whole,
        };
        for (number, limit) in model.limits().iter().enumerate() {
            match asked(limit) {
                true => {
                    for &(index, name) in &stages {
                        let nodes = nodes(limit, index).into_iter();
                        nodes.for_each(|node| every.row(number, within(limit, name, node)));
                    }
                }
                false => every.row(number, limit.clone()),
            }
        }
        let every = every.judging(model);
        let planned_c = exit.surface.1;
        let (least_c, most_c) = range(model, exit, EXIT_STEP_K * f64::from(EXITS.1))?;
        let mut states = Vec::new();
        for exit_c in [
            low_c.max(least_c).min(planned_c),
            planned_c,
            high_c.min(most_c).max(planned_c),
        ] {
            states.push(exit.at(exit_c));
            for handover in model.handovers() {
                for seconds in [handover.least_s, handover.seconds + LONGEST_S] {
                    let mut state = exit.at(exit_c);
                    state.push(Change::new(handover.path.clone(), seconds));
                    states.push(state);
                }
            }
        }
        let margins: Vec<Result<Vec<Option<f64>>, Failure>> = (states.par_iter())
            .map(|state| Ok(every.seen(&every.model.run(state)?).0))
            .collect();
        let margins = margins.into_iter().collect::<Result<Vec<_>, Failure>>()?;
        let mut own = ByStage {
            model: model.clone(),
            rows: Vec::new(),
            limit_of: Vec::new(),
            whole: every.whole.clone(),
        };
        for (row, (limit, number)) in every.rows.iter().zip(&every.limit_of).enumerate() {
            let decides = |seen: &Vec<Option<f64>>| {
                let beside = (0..seen.len()).filter(|other| every.limit_of[*other] == *number);
                let least = |rows: &mut dyn Iterator<Item = usize>| rows.filter_map(|r| seen[r]).reduce(f64::min);
                let before = least(&mut beside.clone().filter(|other| *other < row));
                let after = least(&mut beside.filter(|other| *other > row));
                seen[row].is_some_and(|own| {
                    before.is_none_or(|k| own < k - NEARER_K) && after.is_none_or(|k| own <= k + NEARER_K)
                })
            };
            if !asked(&model.limits()[*number]) || margins.iter().any(decides) {
                own.row(*number, limit.clone());
            }
        }
        Ok(own.judging(model))
    }

    fn row(&mut self, number: usize, limit: Limit) {
        self.rows.push(limit);
        self.limit_of.push(number);
    }

    /// The same rows on another model of the line.
    pub fn judging(&self, model: &LineModel) -> ByStage {
        let whole = self.whole.iter().map(|(_, limit)| limit);
        let limits: Vec<Limit> = self.rows.iter().chain(whole).cloned().collect();
        ByStage {
            model: model.judging(limits),
            rows: self.rows.clone(),
            limit_of: self.limit_of.clone(),
            whole: self.whole.clone(),
        }
    }

    /// The limit that each row is of, and the stage and node that it is about where there may be others of its limit.
    pub fn rows(&self) -> (Vec<usize>, Vec<Option<String>>) {
        let split = |number: &usize| self.whole.iter().any(|(whole, _)| whole == number);
        let about = |(limit, number): (&Limit, &usize)| {
            let stage = limit.stage.as_ref().filter(|_| split(number))?;
            Some(format!("{stage}, {}", limit.node))
        };
        (
            self.limit_of.clone(),
            self.rows.iter().zip(&self.limit_of).map(about).collect(),
        )
    }

    /// Margins of the rows, and of the limits that stand in several, K, where they came to a moment.
    fn seen(&self, outcome: &Outcome) -> (Vec<Option<f64>>, Vec<Option<f64>>) {
        let mut verdicts = outcome.verdicts.iter().peekable();
        let mut next = |limit: &Limit| {
            let own = verdicts.next_if(|verdict| verdict.limit.is_case_of(limit));
            own.map(|verdict| verdict.margin_k)
        };
        let rows = self.rows.iter().map(&mut next).collect();
        (rows, self.whole.iter().map(|(_, limit)| next(limit)).collect())
    }
}

impl Model for ByStage {
    fn inputs(&self) -> &[Input] {
        self.model.inputs()
    }

    fn limits(&self) -> &[Limit] {
        &self.rows
    }

    fn handovers(&self) -> &[Handover] {
        self.model.handovers()
    }

    fn exit_inputs(&self) -> Option<&ExitInputs> {
        self.model.exit_inputs()
    }

    fn steel_exit_c(&self) -> Option<f64> {
        self.model.steel_exit_c()
    }

    /// A stage that decides here and nowhere in the runs by which the rows were found is taken off all rows of its limit.
    fn run(&self, changes: &[Change]) -> Result<Outcome, ModelError> {
        let outcome = self.model.run(changes)?;
        let (mut margins, whole) = self.seen(&outcome);
        for ((number, _), whole) in self.whole.iter().zip(whole) {
            let rows = (0..margins.len()).filter(|row| self.limit_of[*row] == *number);
            let least = rows.clone().filter_map(|row| margins[row]).reduce(f64::min);
            let lacks = whole.zip(least).map_or(0.0, |(whole, least)| (least - whole).max(0.0));
            for row in rows {
                // A stage in which the node is not there is no better than the worst.
                margins[row] = margins[row].map(|own| own - lacks).or(whole);
            }
        }
        let verdict = |(limit, margin_k): (&Limit, Option<f64>)| {
            let of = outcome.verdicts.iter().find(|verdict| verdict.limit.is_case_of(limit));
            let of = of.or_else(|| outcome.verdicts.first());
            let margin_k = margin_k?;
            Some(Verdict {
                limit: limit.clone(),
                margin_k,
                holds: margin_k >= 0.0,
                ..of?.clone()
            })
        };
        let verdicts: Option<Vec<Verdict>> = self.rows.iter().zip(margins).map(verdict).collect();
        let missing = || ModelError::Failed {
            changes: in_words(changes),
            message: "a limit came to none of its moments".to_owned(),
        };
        Ok(Outcome {
            verdicts: verdicts.ok_or_else(missing)?,
            stages: outcome.stages,
        })
    }

    fn probe(&self, changes: &[Change], probe: &Probe) -> Result<f64, ModelError> {
        self.model.probe(changes, probe)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::file::Document;

    const LINE: &str = "title = \"x\"\nresolution = \"quick\"\n[billet]\nsteel = \"C45\"\ndiameter_mm = 50\nlength_mm = 80\n\
        [heater]\nkind = \"measured\"\ntemperature_c = 1220\n\
        [[stage]]\nkind = \"carry\"\nname = \"carry\"\nseconds = 3\n\
        [[stage]]\nkind = \"forge\"\nname = \"press\"\ncontact_ms = 40\nshape = [{ outer_mm = 70, height_mm = 40.8 }]\n\
        [[stage]]\nkind = \"wait\"\nname = \"look\"\nseconds = 2\n\
        [[limit]]\nnode = \"coldest\"\nmin_c = 800\nstage = \"look\"\nmoment = \"end\"\nsource = \"x\"\n\
        [[limit]]\nnode = \"hottest\"\nmax_c = 1260\nmoment = \"always\"\nsource = \"x\"\n\
        [[limit]]\nnode = \"surface\"\nmin_c = 700\nmoment = \"always\"\nsource = \"x\"\n";

    /// The heater and the press decide how hot the part gets, the press and the end how cold its surface; a limit at one
    /// moment stays one row, and the least row of a limit is what a run says of it.
    #[test]
    fn the_least_of_the_stages_is_the_limit() {
        let model = LineModel::new(Document::parse(LINE, "x.toml").unwrap());
        let exit = model.exit_inputs().unwrap().clone();
        let by_stage = ByStage::of(&model, &exit, (1200.0, 1240.0)).unwrap();
        let (limit_of, about) = by_stage.rows();
        let about: Vec<(usize, Option<&str>)> = limit_of
            .iter()
            .copied()
            .zip(about.iter().map(Option::as_deref))
            .collect();
        assert_eq!(about[0], (0, None));
        assert!(about.contains(&(1, Some("heater, hottest"))) && about.contains(&(1, Some("press, hottest"))));
        assert!(about.contains(&(2, Some("look, surface"))) && !about.contains(&(1, Some("look, hottest"))));
        assert!(about.len() < 1 + 2 * 4, "{about:?}");
        for (exit_c, carry_s) in [(1220.0, 3.0), (1237.0, 0.4), (1203.0, 21.0)] {
            let mut changes = exit.at(exit_c);
            changes.push(Change::new("stage.carry.seconds".to_owned(), carry_s));
            let (rows, whole) = (by_stage.run(&changes).unwrap(), model.run(&changes).unwrap());
            for (number, verdict) in whole.verdicts.iter().enumerate() {
                let own = rows
                    .margins_k()
                    .into_iter()
                    .zip(&limit_of)
                    .filter(|(_, of)| **of == number);
                let least = own.map(|(k, _)| k).fold(f64::INFINITY, f64::min);
                assert!(
                    (least - verdict.margin_k).abs() < 1e-9,
                    "{number} at {exit_c}: {least}, {}",
                    verdict.margin_k
                );
            }
        }
    }

    /// A zone that is not there yet is no row, and a run that does not see it is none that failed.
    #[test]
    fn zones_count_where_they_are() {
        let shape = "shape = [{ zone = \"hub\", outer_mm = 50, height_mm = 50 }, { zone = \"rim\", inner_mm = 50, outer_mm = 80, \
            height_mm = 19.23 }]";
        let text = LINE.replace("shape = [{ outer_mm = 70, height_mm = 40.8 }]", shape);
        let text = text.replace(
            "moment = \"always\"\nsource = \"x\"\n[[limit]]\nnode = \"surface\"",
            "moment = \"always\"\nsource = \"x\"\n[[limit]]\nnode = \"rim.coldest\"",
        );
        let model = LineModel::new(Document::parse(text, "x.toml").unwrap());
        let exit = model.exit_inputs().unwrap().clone();
        let (limit_of, about) = ByStage::of(&model, &exit, (1200.0, 1240.0)).unwrap().rows();
        let about: Vec<&str> = about.iter().flatten().map(String::as_str).collect();
        assert!(
            about.contains(&"heater, hottest") && about.iter().any(|a| a.starts_with("press, hub.")),
            "{about:?}"
        );
        assert!(
            limit_of.contains(&2) && !about.contains(&"heater, rim.coldest"),
            "{about:?}"
        );
    }
}
