//! The target of a computed heater as limits of its exit, so that a line judges what the heater is set for.

use crate::heater::line::{Criteria, Target};
use crate::judge::{Bound, Limit, Moment, Owner};
use crate::line::file::tables::{RawHeater, RawTarget};
use crate::line::plan::Heater;
use crate::text::Given;

/// The never-exceed temperature of the target, unless another limit says as much, the exit gate, and how far surface and
/// core may lie apart there: all that `heat` judges an exit by, whether the file gives it or leaves it to the program.
pub(crate) fn limits(raw: &Given<RawHeater>, heater: &Heater, others: &[Limit]) -> Vec<Limit> {
    let Some(target) = raw.value().and_then(|raw| raw.target.value()) else {
        return Vec::new();
    };
    let never_above_c = match heater {
        Heater::CoilLine(coils) => coils.goal.map(|goal| goal.never_above_c),
        Heater::StaticCoil(coil) => coil.never_above_c,
        _ => None,
    };
    let said = |never_c: f64| {
        others
            .iter()
            .filter_map(Limit::never_in_heater_c)
            .any(|max| max <= never_c)
    };
    let never_c = never_above_c.filter(|c| c.is_finite() && !said(*c));
    let never = never_c.map(|c| {
        limit(
            Moment::Always,
            ("hottest", None),
            Bound::MaxC(c),
            ("never_above_c", true),
        )
    });
    let exit = match heater {
        // Of a target that counts later only its never-exceed temperature is about the exit.
        Heater::CoilLine(coils) => match coils.goal.filter(|g| g.after_s == 0.0).and(coils.criteria) {
            Some(criteria) => gate(target, &criteria),
            None => Vec::new(),
        },
        Heater::StaticCoil(coil) => apart(target, coil.difference_k).into_iter().collect(),
        _ => Vec::new(),
    };
    never.into_iter().chain(exit).collect()
}

/// A limit in the heater from a key of the target, which the file gives or not.
fn limit(moment: Moment, (node, other): (&str, Option<&str>), bound: Bound, (key, given): (&str, bool)) -> Limit {
    Limit {
        stage: Some("heater".to_owned()),
        moment,
        node: node.to_owned(),
        other: other.map(str::to_owned),
        bound,
        owner: match given {
            true => Owner::Target,
            false => Owner::Default,
        },
        source: format!("heater.target.{key}"),
    }
}

fn gate(target: &RawTarget, criteria: &Criteria) -> Vec<Limit> {
    let node = match criteria.at_least.0 {
        Target::Mean => "mean",
        Target::Surface => "surface",
        Target::Core => "core",
    };
    let at_exit = |bound, key, given| limit(Moment::Exit, (node, None), bound, (key, given));
    let least = at_exit(
        Bound::MinC(criteria.at_least.1),
        "accept_below_k",
        target.accept_below_k.is_some(),
    );
    let most = criteria
        .at_most_c
        .map(|c| at_exit(Bound::MaxC(c), "accept_above_k", target.accept_above_k.is_some()));
    std::iter::once(least)
        .chain(most)
        .chain(apart(target, criteria.difference_k))
        .collect()
}

/// How far surface and core may lie apart at the exit.
fn apart(target: &RawTarget, most_k: Option<f64>) -> Option<Limit> {
    let bound = Bound::MaxDifferenceK(most_k?);
    let key = ("difference_k", target.difference_k.is_some());
    Some(limit(Moment::Exit, ("surface", Some("core")), bound, key))
}
