//! The property curves of a steel as one picture, a panel for each property.

use std::fmt::Write;

use crate::report::View;
use crate::report::chart::{Axis, LineChart, Rule, Series};
use crate::steel::{Curve, Steel};
use crate::units::Display;

/// Height of a panel in pixels; the width is that of the style.
const PANEL: u32 = 620;

/// Most points of a curve.
const POINTS: usize = 400;

/// The curves as an SVG document.
pub(super) fn svg(steel: &Steel, display: Display) -> String {
    let style = View::from(display).style();
    let style = style.sized(style.width, PANEL);
    let mut curves = vec![("thermal conductivity", "W/mK", vec![("", &steel.conductivity)], 1.0)];
    let mut heats = vec![("heating", &steel.specific_heat)];
    if let Some(cooling) = &steel.specific_heat_cooling {
        heats.push(("cooling", cooling));
    }
    curves.push(("specific heat", "J/kgK", heats, 1.0));
    curves.push(("emissivity", "", vec![("", &steel.emissivity)], 1.0));
    if let Some(resistivity) = &steel.resistivity_ohm_m {
        curves.push(("electrical resistivity", "uOhm m", vec![("", resistivity)], 1e6));
    }
    let (width, height) = (style.width, PANEL * curves.len() as u32);
    let mut svg =
        format!("<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"100%\" viewBox=\"0 0 {width} {height}\">\n");
    for (index, (name, unit, lines, scale)) in curves.iter().enumerate() {
        let chart = LineChart {
            title: format!("{}: {name}", steel.name),
            x: Axis::new("temperature", display.temperature_unit()),
            y: Axis::new(*name, *unit),
            series: lines
                .iter()
                .enumerate()
                .map(|(ink, (name, curve))| series(name, curve, *scale, ink, display))
                .collect(),
            rules: steel
                .solidus_c
                .iter()
                .map(|solidus| upright(solidus.value, "solidus", display))
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
fn series(name: &str, curve: &Curve, scale: f64, ink: usize, display: Display) -> Series {
    let (low, high) = (curve.range_c.0.max(0.0), curve.range_c.1.min(1400.0));
    let points = (0..=POINTS).map(|k| {
        let temp_c = low + (high - low) * k as f64 / POINTS as f64;
        (display.temperature(temp_c), Some(scale * curve.at(temp_c)))
    });
    Series {
        name: name.to_owned(),
        points: points.collect(),
        ink,
        ..Series::default()
    }
}

fn upright(temp_c: f64, label: &str, display: Display) -> Rule {
    Rule {
        value: display.temperature(temp_c),
        upright: true,
        label: label.to_owned(),
    }
}
