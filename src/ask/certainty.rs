//! How certain each answer is: what the stated and the usual uncertainties make of every limited value.
//!
//! One pass: each uncertain number goes alone to where it is exceeded once in forty times, to either side. What it
//! then does to a value is its share of an interval of 95 %: the larger of both changes for the width that is told, and
//! for how far the value may lie lower or higher the largest change to that side. Shares of independent inputs add as
//! squares (JCGM 100:2008, 5.1.2, with the input moved instead of a slope, 5.1.3 note 2; correlated ones by 5.2.2).
//! Values that the file gives without an uncertainty count as known. The physics itself (property data, correlations
//! of air) is uncertain beyond that.

use rayon::prelude::*;
use serde::Serialize;

use super::distribution::{Distribution, Normal};
use super::failure::Failure;
use super::model::{Change, Model, ModelError};
use super::risk::assumed;
use super::study::Study;
use crate::judge::Verdict;

/// Probability beyond either end of the interval.
const BEYOND: f64 = 0.025;

/// Share of the square of a width above which one subject alone makes most of it.
const MOST: f64 = 0.5;

/// Largest number of unknowns told.
const TOLD: usize = 3;

/// Up to this width, K, nothing is told of where it comes from: widths are shown rounded up to whole kelvin, this one
/// as none.
const SHOWN_K: f64 = 1e-6;

/// An unknown is worth a measurement from this effect on, K.
const WORTH_K: f64 = 1.0;

/// What an uncertain number is about; numbers of one subject are settled by one measurement.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Subject {
    /// Contact of a part that rests under its own weight.
    Resting,
    /// Contact of jaws and of faces that are pressed on.
    Gripping,
    /// Contact under a blow or stroke.
    Blow,
    /// Contact in the flash land and across gaps.
    Flash,
    /// Time under pressure.
    ContactTime,
    /// Emissivity of the part.
    Emissivity,
    /// Temperature of dies, jaws and supports.
    Tools,
    /// Air and walls of the shop.
    Air,
    /// Times of the line.
    Times,
    /// Heat of forming.
    Forming,
    /// Temperature at heater exit.
    Exit,
    /// Water and spray.
    Water,
    /// A heap or basket of parts.
    Heap,
    /// Anything else.
    Other,
}

impl Subject {
    /// The subject of an input.
    #[must_use]
    pub fn of(path: &str) -> Subject {
        let (table, key) = path.rsplit_once('.').unwrap_or(("", path));
        let tool = table.rsplit('.').next().unwrap_or(table);
        match (tool, key) {
            (_, "resting_w_m2k" | "at_zero_w_m2k") | ("support", "w_m2k") => Subject::Resting,
            (_, "pressed_w_m2k" | "knock_out_w_m2k") | ("grip", "w_m2k" | "share") => Subject::Gripping,
            (_, "blow_w_m2k" | "plateau_w_m2k") => Subject::Blow,
            (_, "flash_w_m2k" | "gap_w_m2k") => Subject::Flash,
            (_, "contact_ms") => Subject::ContactTime,
            (_, "emissivity") => Subject::Emissivity,
            (_, "bulk_c" | "jaw_c" | "cold_c") => Subject::Tools,
            (_, "heat_share" | "friction") => Subject::Forming,
            (_, "water_c" | "spray_water_c" | "blow_off_w_m2k") => Subject::Water,
            (_, "fill" | "slope_deg") => Subject::Heap,
            ("shop", _) | (_, "ambient_c" | "air_speed_m_s" | "surroundings_c") => Subject::Air,
            _ if table.starts_with("heater") => Subject::Exit,
            _ if key == "seconds" || key.ends_with("_s") => Subject::Times,
            _ => Subject::Other,
        }
    }
}

/// What one uncertain number does.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Doubt {
    /// Path of the input.
    pub path: String,
    /// What it is about.
    pub subject: Subject,
    /// Whether the file states its uncertainty; else it is the usual spread of a value of the program.
    pub stated: bool,
    /// From and to which value it goes, in the unit of the input.
    pub range: (f64, f64),
    /// Change of each limited value at the two ends, K.
    pub changes_k: Vec<(f64, f64)>,
    /// Whether the line file refuses one end, which counts as much as the other.
    pub one_sided: bool,
}

impl Doubt {
    /// Effect on one value, K: the larger of both ends, with the sign of more of the input.
    fn effect(&self, limit: usize) -> f64 {
        let (low, high) = self.changes_k[limit];
        low.abs().max(high.abs()).copysign(high - low)
    }

    /// How far it takes one value up, or down, K, with the sign of more of the input.
    fn to_side(&self, limit: usize, up: bool) -> f64 {
        let (low, high) = self.changes_k[limit];
        let most = if up { low.max(high) } else { -low.min(high) };
        most.max(0.0).copysign(high - low)
    }
}

/// How certain one limited value is.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Width {
    /// Half of the interval of 95 % about the value, K.
    pub plus_minus_k: f64,
    /// How far the value may lie lower, K.
    pub lower_k: f64,
    /// How far the value may lie higher, K.
    pub higher_k: f64,
    /// The subjects that make most of it, the largest first: one that makes more than half of its square, else two.
    /// None where the width is too small to be shown.
    pub mostly: Vec<Subject>,
}

impl Width {
    /// Whether the value may lie on the other side of its limit: what moves it there is not less than its margin.
    pub fn may_cross(&self, verdict: &Verdict) -> bool {
        let bound = verdict.limit.bound;
        let more_helps = bound.margin(1.0) > bound.margin(0.0);
        let there_k = if more_helps == verdict.holds {
            self.lower_k
        } else {
            self.higher_k
        };
        there_k >= verdict.margin_k.abs()
    }
}

/// A subject whose measurement would make answers more certain.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Unknown {
    /// What is to be measured.
    pub subject: Subject,
    /// Index of the limit for which it does most.
    pub limit: usize,
    /// Its effect there, K to either side.
    pub effect_k: f64,
    /// Half-width there if it were known, K.
    pub left_k: f64,
    /// Paths of its inputs.
    pub paths: Vec<String>,
}

/// How certain the answers of a line are.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Certainty {
    /// One for each limit, in the order of the verdicts.
    pub limits: Vec<Width>,
    /// The largest unknowns, at most three.
    pub unknowns: Vec<Unknown>,
    /// Every uncertain number with what it does.
    pub doubts: Vec<Doubt>,
    /// Inputs that the line file refuses to move to either side.
    pub left_out: Vec<String>,
    /// Inputs that the line file lets move to one side only; they count as much to the other.
    pub one_sided: Vec<String>,
}

/// An uncertain number before it is moved.
struct Moved {
    path: String,
    stated: bool,
    distribution: Distribution,
    /// Changes that bring it to a value.
    to: Box<dyn Fn(f64) -> Vec<Change> + Send + Sync>,
}

impl Certainty {
    /// Moves every uncertain number of a line, two runs each; `model` may be a coarse one, for only differences are
    /// taken from it.
    ///
    /// # Errors
    /// A run that fails; a measured exit whose uncertainty is no distribution.
    pub fn of(model: &dyn Model, study: &Study) -> Result<Certainty, Failure> {
        let base = values(model, &[])?;
        let moved = uncertain(study, model)?;
        let found: Vec<Result<Option<Doubt>, Failure>> = moved.par_iter().map(|one| one.doubt(model, &base)).collect();
        let mut doubts = Vec::new();
        let mut left_out = Vec::new();
        for (one, doubt) in moved.iter().zip(found) {
            match doubt? {
                Some(doubt) => doubts.push(doubt),
                None => left_out.push(one.path.clone()),
            }
        }
        let together: Vec<(usize, usize, f64)> = study
            .correlations
            .iter()
            .filter_map(|(i, j, r)| {
                let at = |k: &usize| {
                    let path = &study.scattered.get(*k)?.path;
                    doubts.iter().position(|d| d.path == *path)
                };
                Some((at(i)?, at(j)?, *r))
            })
            .collect();
        Ok(told(base.len(), doubts, left_out, &together))
    }
}

/// What the file states as uncertain, and for the rest what the program's own values usually scatter by.
fn uncertain(study: &Study, model: &dyn Model) -> Result<Vec<Moved>, Failure> {
    let of_path = |path: &str, distribution: Distribution, stated: bool| {
        let own = path.to_owned();
        Moved {
            path: path.to_owned(),
            stated,
            distribution,
            to: Box::new(move |value| vec![Change::new(own.clone(), value)]),
        }
    };
    let stated = study
        .scattered
        .iter()
        .map(|s| of_path(&s.path, s.distribution.clone(), true));
    let mut list: Vec<Moved> = stated.collect();
    for one in assumed(model) {
        let scattered = one.scattered;
        if !list.iter().any(|known| known.path == scattered.path) {
            list.push(of_path(&scattered.path, scattered.distribution, false));
        }
    }
    if let (Some(sd), Some(exit)) = (study.exit_sd_k, model.exit_inputs())
        && !list.iter().any(|known| known.path == exit.surface.0)
    {
        let exit = exit.clone();
        list.push(Moved {
            path: exit.surface.0.clone(),
            stated: true,
            distribution: Distribution::Normal(Normal::new(exit.surface.1, sd)?),
            to: Box::new(move |value| exit.at(value)),
        });
    }
    Ok(list)
}

impl Moved {
    /// What it does; `None` where the line refuses both ends.
    fn doubt(&self, model: &dyn Model, base: &[f64]) -> Result<Option<Doubt>, Failure> {
        let range = (
            self.distribution.quantile(BEYOND),
            self.distribution.quantile(1.0 - BEYOND),
        );
        let at = |value: f64| -> Result<Option<Vec<f64>>, Failure> {
            match values(model, &(self.to)(value)) {
                Ok(values) => Ok(Some(values.iter().zip(base).map(|(v, b)| v - b).collect())),
                Err(ModelError::Refused { .. }) => Ok(None),
                Err(error) => Err(error.into()),
            }
        };
        // What one side refuses is taken to do as much as the other.
        let (changes_k, one_sided) = match (at(range.0)?, at(range.1)?) {
            (Some(low), Some(high)) => (low.into_iter().zip(high).collect(), false),
            (Some(low), None) => (low.into_iter().map(|k| (k, -k)).collect(), true),
            (None, Some(high)) => (high.into_iter().map(|k| (-k, k)).collect(), true),
            (None, None) => return Ok(None),
        };
        Ok(Some(Doubt {
            path: self.path.clone(),
            subject: Subject::of(&self.path),
            stated: self.stated,
            range,
            changes_k,
            one_sided,
        }))
    }
}

fn values(model: &dyn Model, changes: &[Change]) -> Result<Vec<f64>, ModelError> {
    Ok(model.run(changes)?.verdicts.iter().map(|v| v.value).collect())
}

/// Widths and unknowns from what every number does; `together` are pairs of doubts with their correlation.
fn told(limits: usize, doubts: Vec<Doubt>, left_out: Vec<String>, together: &[(usize, usize, f64)]) -> Certainty {
    // By limit: the square of its width, and the share of each subject in it.
    let squares: Vec<Vec<(Subject, f64)>> = (0..limits)
        .map(|limit| {
            let shares = shares(doubts.iter().map(|d| d.effect(limit)).collect(), together);
            let mut of: Vec<(Subject, f64)> = Vec::new();
            for (doubt, share) in doubts.iter().zip(shares) {
                match of.iter_mut().find(|(subject, _)| *subject == doubt.subject) {
                    Some((_, sum)) => *sum += share,
                    None => of.push((doubt.subject, share)),
                }
            }
            of.sort_by(|a, b| b.1.total_cmp(&a.1));
            of
        })
        .collect();
    let all = |of: &[(Subject, f64)]| of.iter().map(|(_, share)| share).sum::<f64>().max(0.0);
    let to_side = |limit: usize, up: bool| {
        let shares = shares(doubts.iter().map(|d| d.to_side(limit, up)).collect(), together);
        shares.iter().sum::<f64>().max(0.0).sqrt()
    };
    let widths: Vec<Width> = squares
        .iter()
        .enumerate()
        .map(|(limit, of)| Width {
            plus_minus_k: all(of).sqrt(),
            lower_k: to_side(limit, false),
            higher_k: to_side(limit, true),
            mostly: mostly(of, all(of)),
        })
        .collect();
    let mut subjects: Vec<Subject> = doubts.iter().map(|d| d.subject).collect();
    subjects.sort();
    subjects.dedup();
    let mut unknowns: Vec<Unknown> = subjects
        .into_iter()
        .filter_map(|subject| {
            let share = |of: &[(Subject, f64)]| of.iter().find(|(one, _)| *one == subject).map_or(0.0, |(_, s)| *s);
            let (limit, of) = squares
                .iter()
                .enumerate()
                .max_by(|a, b| share(a.1).total_cmp(&share(b.1)))?;
            Some(Unknown {
                subject,
                limit,
                effect_k: share(of).max(0.0).sqrt(),
                left_k: (all(of) - share(of)).max(0.0).sqrt(),
                paths: doubts
                    .iter()
                    .filter(|d| d.subject == subject)
                    .map(|d| d.path.clone())
                    .collect(),
            })
        })
        .filter(|unknown| unknown.effect_k >= WORTH_K)
        .collect();
    unknowns.sort_by(|a, b| b.effect_k.total_cmp(&a.effect_k));
    unknowns.truncate(TOLD);
    let one_sided = doubts.iter().filter(|d| d.one_sided).map(|d| d.path.clone()).collect();
    Certainty {
        limits: widths,
        unknowns,
        doubts,
        left_out,
        one_sided,
    }
}

/// Shares of effects in the square of their sum; `together` are pairs of them with their correlation.
fn shares(effects: Vec<f64>, together: &[(usize, usize, f64)]) -> Vec<f64> {
    let mut shares: Vec<f64> = effects.iter().map(|k| k * k).collect();
    for &(i, j, r) in together {
        shares[i] += r * effects[i] * effects[j];
        shares[j] += r * effects[i] * effects[j];
    }
    shares
}

/// The subjects that make most of a square, of `of` in falling order; none where the width is shown as none.
fn mostly(of: &[(Subject, f64)], square: f64) -> Vec<Subject> {
    let count = match of.first() {
        _ if square.sqrt() <= SHOWN_K => 0,
        Some((_, share)) if *share > MOST * square => 1,
        _ => 2,
    };
    let counted = of.iter().filter(|(_, share)| *share > 0.0);
    counted.take(count).map(|(subject, _)| *subject).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::enquiry::Enquiry;
    use crate::ask::line_model::LineModel;
    use crate::ask::testing;
    use crate::judge::Bound;
    use crate::line::file::Document;
    use std::path::Path;

    fn doubt(path: &str, changes_k: (f64, f64)) -> Doubt {
        Doubt {
            path: path.to_owned(),
            subject: Subject::of(path),
            stated: false,
            range: (0.0, 1.0),
            changes_k: vec![changes_k],
            one_sided: false,
        }
    }

    #[test]
    fn three_and_four_make_five_and_the_larger_side_counts() {
        let doubts = vec![
            doubt("die.resting_w_m2k", (2.0, -4.0)),
            doubt("billet.emissivity", (-3.0, 1.0)),
        ];
        let found = told(1, doubts.clone(), Vec::new(), &[]);
        assert!((found.limits[0].plus_minus_k - 5.0).abs() < 1e-12);
        assert_eq!(found.limits[0].mostly, [Subject::Resting]);
        assert_eq!(found.unknowns[0].subject, Subject::Resting);
        assert!((found.unknowns[0].left_k - 3.0).abs() < 1e-12);
        assert_eq!(found.unknowns.len(), 2);
        // More contact cools, more emissivity warms here: what goes together offsets. 25 - 2 · 0.5 · 12.
        let tied = told(1, doubts, Vec::new(), &[(0, 1, 0.5)]);
        assert!((tied.limits[0].plus_minus_k - 13f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn stated_numbers_replace_the_usual_ones() {
        let line = "title = \"x\"\n[billet]\nsteel = \"C45\"\ndiameter_mm = 50\nlength_mm = 80\n\
            [heater]\nkind = \"measured\"\ntemperature_c = 1220\n\
            [[stage]]\nkind = \"carry\"\nname = \"carry\"\nseconds = 3\n\
            [[stage]]\nkind = \"forge\"\nname = \"press\"\nshape = [{ zone = \"body\", outer_mm = 84, height_mm = 28.3 }]\n\
            [[limit]]\nnode = \"coldest\"\nmin_c = 900\nstage = \"press\"\nmoment = \"end\"\nsource = \"x\"\n";
        let of = |more: &str| {
            let document = Document::parse(format!("{line}{more}"), "x.toml").unwrap();
            Enquiry::new(document, None).unwrap().certainty().unwrap()
        };
        let usual = of("");
        assert!(usual.doubts.iter().all(|d| !d.stated) && !usual.unknowns.is_empty());
        assert!(
            usual
                .limits
                .iter()
                .all(|w| w.plus_minus_k.is_finite() && w.plus_minus_k > 1.0)
        );
        let emissivity = |c: &Certainty| {
            c.doubts
                .iter()
                .find(|d| d.path == "billet.emissivity")
                .cloned()
                .unwrap()
        };
        let stated = of("[[study.scatter]]\ninput = \"billet.emissivity\"\nkind = \"normal\"\nsd = 0.001\n");
        assert!(emissivity(&stated).stated && !emissivity(&usual).stated);
        assert!(emissivity(&stated).effect(0).abs() < 0.2 * emissivity(&usual).effect(0).abs());
        assert_eq!(stated.doubts.len(), usual.doubts.len());
    }

    /// A verdict on a value of `margin_k` above 900 degC.
    fn verdict(margin_k: f64) -> Verdict {
        testing::verdict(testing::at_least("coldest", 900.0), margin_k)
    }

    /// A number that may warm by 10 K and cool by 2 K: what is 5 K too cold may be right, what is 5 K warm enough is.
    #[test]
    fn a_value_crosses_its_limit_by_what_moves_it_there() {
        let width = &told(1, vec![doubt("billet.emissivity", (10.0, -2.0))], Vec::new(), &[]).limits[0];
        assert_eq!((width.plus_minus_k, width.lower_k, width.higher_k), (10.0, 2.0, 10.0));
        assert!(!width.may_cross(&verdict(5.0)) && width.may_cross(&verdict(1.5)));
        assert!(width.may_cross(&verdict(-5.0)) && !width.may_cross(&verdict(-11.0)));
        let mut hot = verdict(-5.0);
        (hot.limit.bound, hot.holds) = (Bound::MaxC(890.0), false);
        assert!(!width.may_cross(&hot), "too hot by 5 K, and cools by 2 K at most");
        // To the same side at both ends: nothing takes it up.
        let width = &told(1, vec![doubt("billet.emissivity", (-3.0, -4.0))], Vec::new(), &[]).limits[0];
        assert_eq!((width.lower_k, width.higher_k), (4.0, 0.0));
    }

    #[test]
    fn a_width_that_is_shown_as_none_comes_from_nothing() {
        let found = told(1, vec![doubt("heater.temperature_c", (-2e-7, 2e-7))], Vec::new(), &[]);
        assert!(found.limits[0].mostly.is_empty() && found.limits[0].plus_minus_k > 0.0);
    }

    /// Half of the exit's range is refused, the flash cannot be moved at all.
    #[test]
    fn what_the_line_file_refuses_is_told() {
        let mut one = doubt("heater.temperature_c", (-4.0, 4.0));
        one.one_sided = true;
        let found = told(
            1,
            vec![one, doubt("billet.emissivity", (1.0, -1.0))],
            vec!["x".to_owned()],
            &[],
        );
        assert_eq!(found.one_sided, ["heater.temperature_c"]);
        assert_eq!(found.left_out, ["x"]);
    }

    #[test]
    fn every_usual_spread_of_the_examples_has_a_subject() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
        let mut seen = 0;
        for entry in std::fs::read_dir(folder).unwrap() {
            let file = entry.unwrap().path();
            let Ok(document) = Document::load(&file) else {
                continue;
            };
            for one in assumed(&LineModel::new(document)) {
                let path = &one.scattered.path;
                assert_ne!(Subject::of(path), Subject::Other, "{}: {path}", file.display());
                seen += 1;
            }
        }
        assert!(seen > 100, "{seen} inputs of the examples have a usual spread");
    }
}
