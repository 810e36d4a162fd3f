//! What the history did to the metal: scale, decarburised layer, time at temperature, grain, cooling
//! rate, one row a node and zone.

use super::super::dossier::Part;
use super::super::view::{Side, View};
use super::table;
use crate::condition::part::{COARSE_C, NodeCondition, Spread, TRANSFORM_C};

/// What stands where there is nothing to say.
const NONE: &str = "\u{2013}";

/// Whether heating is in the histories.
pub(crate) fn from_cold(nodes: &[NodeCondition]) -> bool {
    nodes.iter().any(|node| node.from_s < 0.0)
}

/// The section on the metal.
pub fn metal(nodes: &[NodeCondition], view: &View) -> Part {
    let um = |spread: Option<Spread>| {
        spread.map_or(NONE.to_owned(), |s| {
            let number = |value: f64| view.number(value, 0);
            format!("{} ({} \u{2013} {})", number(s.typical), number(s.low), number(s.high))
        })
    };
    let rows = nodes
        .iter()
        .map(|node| {
            let grain = if node.coarse_grain {
                "metal.risk"
            } else {
                "metal.no_risk"
            };
            vec![
                node.node.clone(),
                um(node.scale_um),
                um(node.metal_loss_um),
                um(node.decarburised_um),
                view.seconds(node.above_1200_c_s, Side::Up),
                view.say(grain).to_owned(),
                node.rate_800_500_k_s
                    .map_or(NONE.to_owned(), |rate| view.number(view.display.difference(rate), 2)),
            ]
        })
        .collect();
    let degrees = |c: f64| format!("{} {}", view.degrees(c, Side::Nearest), view.temperature_unit());
    let in_um = |key: &str| format!(">{} \u{b5}m", view.say(key));
    let above = view.say_with("metal.above", &[("t", &degrees(COARSE_C))]);
    let (from, to) = (degrees(TRANSFORM_C.0), degrees(TRANSFORM_C.1));
    let rate = view.say_with("metal.rate", &[("a", &from), ("b", &to)]);
    let header = [
        view.say("word.node").to_owned(),
        in_um("metal.scale"),
        in_um("metal.loss"),
        in_um("metal.decarb"),
        format!(">{above} s"),
        view.say("metal.grain").to_owned(),
        format!(">{rate} {}/s", view.difference_unit()),
    ];
    Part {
        text: vec![
            view.say(if from_cold(nodes) {
                "metal.from_cold"
            } else {
                "metal.from_exit"
            })
            .to_owned(),
            view.say("metal.zones").to_owned(),
            format!("{NONE}: {}", view.say("metal.not_reached")),
        ],
        tables: vec![table("", &header.each_ref().map(String::as_str), rows)],
        drawings: Vec::new(),
    }
}
