//! The target of a computed heater as limits of its exit, so that a line judges what the heater is set for.

use super::steel_limit::is_of_the_heat;
use crate::heater::line::{Criteria, Target};
use crate::judge::{Bound, Limit, Moment, Owner};
use crate::line::file::tables::{RawHeater, RawTarget};
use crate::line::plan::Heater;
use crate::text::Given;

/// The never-exceed temperature of the target, unless another limit says as much, and the exit gate where the file
/// gives it.
pub(crate) fn limits(raw: &Given<RawHeater>, heater: &Heater, others: &[Limit]) -> Vec<Limit> {
    let Some(target) = raw.value().and_then(|raw| raw.target.value()) else {
        return Vec::new();
    };
    let mut limits = Vec::new();
    let mut push = |moment, node: &str, bound, key: &str| {
        limits.push(Limit {
            stage: Some("heater".to_owned()),
            moment,
            node: node.to_owned(),
            other: None,
            bound,
            owner: Owner::Target,
            source: format!("heater.target.{key}"),
        });
    };
    let never_above_c = match heater {
        Heater::CoilLine(coils) => {
            gate(
                target,
                coils.goal.filter(|g| g.after_s == 0.0).and(coils.criteria),
                &mut push,
            );
            coils.goal.map(|goal| goal.never_above_c)
        }
        Heater::StaticCoil(coil) => coil.never_above_c,
        _ => None,
    };
    let said = |never_c: f64| {
        let mut always = others
            .iter()
            .filter(|l| is_of_the_heat(l) && l.moment == Moment::Always);
        always.any(|limit| matches!(limit.bound, Bound::MaxC(max) if max <= never_c))
    };
    if let Some(never_c) = never_above_c.filter(|c| c.is_finite() && !said(*c)) {
        push(Moment::Always, "hottest", Bound::MaxC(never_c), "never_above_c");
    }
    limits
}

/// A gate at the exit; of a target that counts later only its never-exceed temperature is about the exit.
fn gate(target: &RawTarget, criteria: Option<Criteria>, push: &mut impl FnMut(Moment, &str, Bound, &str)) {
    let Some(criteria) = criteria else { return };
    let node = match criteria.at_least.0 {
        Target::Mean => "mean",
        Target::Surface => "surface",
        Target::Core => "core",
    };
    if target.accept_below_k.is_some() {
        push(Moment::Exit, node, Bound::MinC(criteria.at_least.1), "accept_below_k");
    }
    if let Some(most_c) = criteria.at_most_c.filter(|_| target.accept_above_k.is_some()) {
        push(Moment::Exit, node, Bound::MaxC(most_c), "accept_above_k");
    }
}
