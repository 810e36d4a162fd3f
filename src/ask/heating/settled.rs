//! The settled state of a row of coils and what its billets are sorted by.

use super::question::CoilQuestion;
use crate::heater::coil::Drive;
use crate::heater::line::{Criteria, Steady, Target};
use crate::heater::search::SetPoints;
use crate::heater::{Bar, HeaterError};
use crate::judge::Limit;
use crate::line::plan::{CoilLine, Plan};

/// Half the width of the sort gate where the file gives none, K (common practice).
pub(super) const HALF_GATE_K: f64 = 30.0;
/// Never-exceed temperature where the steel gives none, degC (common practice for steel).
const NEVER_ABOVE_C: f64 = 1300.0;

/// The periodic state, at the powers of the file or at those that hit the target.
pub(super) fn settle(
    question: &CoilQuestion,
    plan: &Plan,
    heater: &CoilLine,
    bar: &Bar,
) -> Result<(Option<SetPoints>, Vec<Drive>, Steady), HeaterError> {
    if question.search || !heater.is_set() {
        let found = match question.search {
            true => heater.search(bar, plan.resolution)?,
            false => heater.search_missing(bar, plan.resolution)?,
        };
        let drives = heater.line.at_powers(&found.powers_w);
        let steady = found.steady.clone();
        return Ok((Some(found), drives, steady));
    }
    let drives = heater.drives(bar, plan.resolution)?;
    let steady = heater.line.steady(bar, &drives, heater.slices(plan.resolution))?;
    Ok((None, drives, steady))
}

/// The criteria of the file's target; without one, 30 K about the steady exit and what the line judges, or the steel's
/// limit.
pub(super) fn criteria(plan: &Plan, heater: &CoilLine, steady: &Steady) -> Criteria {
    heater.criteria.unwrap_or_else(|| {
        let judged = plan.limits.iter().filter_map(Limit::never_in_heater_c);
        let steel = plan.metal.limits.never_exceed_c.as_ref().map(|s| s.value);
        let never_c = judged.reduce(f64::min).or(steel).unwrap_or(NEVER_ABOVE_C);
        Criteria {
            at_least: (Target::Mean, steady.exit.mean_c - HALF_GATE_K),
            at_most_c: Some(steady.exit.mean_c + HALF_GATE_K),
            never_above_c: never_c - plan.exit_offset_k,
            difference_k: None,
        }
    })
}
