//! The property curves of a steel as one picture, a panel for each property.

use std::fmt::Write;

use crate::picture::{Axis, LineChart, Rule, Series};
use crate::show::{Quantity, View};
use crate::steel::{Curve, Steel};

/// Height of a panel in pixels; the width is that of the style.
const PANEL: u32 = 620;

/// Most points of a curve.
const POINTS: usize = 400;

/// One panel: its title, what its numbers are, its curves by name.
struct Panel<'a> {
    title: &'static str,
    quantity: Quantity,
    curves: Vec<(&'static str, &'a Curve)>,
}

fn panels(steel: &Steel) -> Vec<Panel<'_>> {
    let mut heats = vec![("term.heating", &steel.specific_heat)];
    if let Some(cooling) = &steel.specific_heat_cooling {
        heats.push(("term.cooling", cooling));
    }
    let one = |title, quantity, curve| Panel {
        title,
        quantity,
        curves: vec![("", curve)],
    };
    let mut panels = vec![
        one("term.thermal_conductivity", Quantity::Conductivity, &steel.conductivity),
        Panel {
            title: "term.specific_heat",
            quantity: Quantity::SpecificHeat,
            curves: heats,
        },
        one("steel.emissivity", Quantity::Ratio, &steel.emissivity),
    ];
    if let Some(resistivity) = &steel.resistivity_ohm_m {
        panels.push(one("steel.resistivity", Quantity::Resistivity, resistivity));
    }
    panels
}

/// The curves as an SVG document.
pub fn svg(steel: &Steel, view: &View) -> String {
    let style = view.style();
    let style = style.sized(style.width, PANEL);
    let panels = panels(steel);
    let (width, height) = (style.width, PANEL * panels.len() as u32);
    let mut svg =
        format!("<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"100%\" viewBox=\"0 0 {width} {height}\">\n");
    for (index, panel) in panels.iter().enumerate() {
        let chart = LineChart {
            title: format!("{}: {}", steel.name, view.say(panel.title)),
            x: Axis::new(view.say("axis.temperature"), view.temperature_unit()),
            y: Axis::new(view.say(panel.title), panel.quantity.unit(view.display)),
            series: panel
                .curves
                .iter()
                .enumerate()
                .map(|(ink, (name, curve))| series(view.say(name), curve, panel.quantity, ink, view))
                .collect(),
            rules: steel
                .solidus_c
                .iter()
                .map(|solidus| Rule {
                    value: view.display.temperature(solidus.value),
                    upright: true,
                    label: view.say("steel.solidus").to_owned(),
                })
                .collect(),
            ..LineChart::default()
        };
        let top = PANEL * index as u32;
        let _ = writeln!(
            svg,
            "<svg x=\"0\" y=\"{top}\" width=\"{width}\" height=\"{PANEL}\">{}</svg>",
            chart.draw(&style).svg
        );
    }
    svg.push_str("</svg>\n");
    svg
}

/// A curve over the range that its source supports, and never outside 0 to 1400 degC.
fn series(name: &str, curve: &Curve, quantity: Quantity, ink: usize, view: &View) -> Series {
    let (low, high) = (curve.range_c.0.max(0.0), curve.range_c.1.min(1400.0));
    let points = (0..=POINTS).map(|k| {
        let temp_c = low + (high - low) * k as f64 / POINTS as f64;
        let value = quantity.shown(curve.at(temp_c), view.display);
        (view.display.temperature(temp_c), Some(value))
    });
    Series {
        name: name.to_owned(),
        points: points.collect(),
        ink,
        ..Series::default()
    }
}
