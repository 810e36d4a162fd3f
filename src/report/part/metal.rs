//! What the history did to the metal: scale, decarburised layer, time at temperature, cooling rate.

use super::super::dossier::Part;
use super::super::view::{Side, View};
use super::table;
use crate::condition::{ConditionError, ScaleLaw, cooling_rate, decarburisation, scale, time_above};
use crate::line::Trace;
use crate::steel::Steel;

/// Temperature above which grains of most steels grow within a minute, degC (common practice).
const COARSE_C: f64 = 1200.0;
/// Range in which most steels transform, degC.
const TRANSFORM_C: (f64, f64) = (800.0, 500.0);

/// The history of one node as (s, degC), over the times at which the shape has it.
fn history(trace: &Trace, node: &str) -> Vec<(f64, f64)> {
    let Some(column) = trace.nodes.iter().position(|n| n == node) else {
        return Vec::new();
    };
    trace
        .samples
        .iter()
        .filter_map(|s| Some((s.time_s, s.temps_c.get(column).copied().flatten()?)))
        .collect()
}

/// The section on the metal, from heater exit on. The laws of scale and carbon hold for steel; other
/// metals get times and rates only.
///
/// # Errors
/// [`ConditionError`] where the history leaves the range of a law.
pub fn metal(trace: &Trace, steel: &Steel, view: &View) -> Result<Part, ConditionError> {
    let mut rows = Vec::new();
    let surface = history(trace, "surface");
    let ferrous = steel
        .composition
        .as_ref()
        .filter(|c| c.fe > 50.0 || (c.c > 0.0 && c.cr < 11.0 && c.ni < 8.0));
    let um = |m: f64| view.number(m * 1e6, 0);
    if !surface.is_empty()
        && let Some(composition) = ferrous
    {
        let grown = scale(ScaleLaw::default(), &surface, 0.0)?;
        rows.push(vec![
            view.say("metal.scale").to_owned(),
            format!("{} \u{2013} {}", um(grown.thickness_low_m), um(grown.thickness_high_m)),
            "\u{b5}m".to_owned(),
        ]);
        rows.push(vec![
            view.say("metal.loss").to_owned(),
            um(grown.metal_loss_m),
            "\u{b5}m".to_owned(),
        ]);
        if (0.01..=2.0).contains(&composition.c) {
            let lost = decarburisation(&surface, composition.c, 0.5)?;
            rows.push(vec![
                view.say("metal.decarb").to_owned(),
                format!("{} \u{2013} {}", um(lost.depth_low_m), um(lost.depth_high_m)),
                "\u{b5}m".to_owned(),
            ]);
        }
    }
    let degrees = |c: f64| format!("{} {}", view.degrees(c, Side::Nearest), view.temperature_unit());
    for node in ["surface", "core", "edge"] {
        let history = history(trace, node);
        if history.is_empty() {
            continue;
        }
        let seconds = time_above(&history, COARSE_C)?;
        rows.push(vec![
            view.say_with("metal.above", &[("node", node), ("t", &degrees(COARSE_C))]),
            view.seconds(seconds, Side::Up),
            "s".to_owned(),
        ]);
    }
    for node in ["surface", "mean", "core"] {
        let history = history(trace, node);
        if history.is_empty() {
            continue;
        }
        let (value, unit) = match cooling_rate(&history, TRANSFORM_C.0, TRANSFORM_C.1)? {
            Some(rate) => (
                view.number(view.display.difference(rate.rate_k_s), 2),
                format!("{}/s", view.difference_unit()),
            ),
            None => (view.say("metal.not_reached").to_owned(), String::new()),
        };
        rows.push(vec![
            view.say_with(
                "metal.rate",
                &[
                    ("node", node),
                    ("a", &degrees(TRANSFORM_C.0)),
                    ("b", &degrees(TRANSFORM_C.1)),
                ],
            ),
            value,
            unit,
        ]);
    }
    Ok(Part {
        text: vec![view.say("metal.from_exit").to_owned()],
        tables: vec![table(
            "",
            &[
                view.say("word.what"),
                &format!(">{}", view.say("word.value")),
                view.say("word.unit"),
            ],
            rows,
        )],
        drawings: Vec::new(),
    })
}
