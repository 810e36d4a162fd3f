//! Section maps: temperatures over the cross-section at a moment.

use super::chart::{Axis, Drawing, HeatMap};
use super::number::fixed;
use super::view::View;
use crate::line::trace::SectionMap;
use crate::units::Display;

/// Name of the axis across half a section, which is drawn whole.
const HALF: &str = "distance from the middle";

/// A section map as an SVG picture in English.
pub fn map_svg(map: &SectionMap, display: Display) -> String {
    section(map, &View::from(display), None).svg
}

/// A section map as a picture; `range_c` sets a colour scale in degC that several maps share.
pub fn section(map: &SectionMap, view: &View, range_c: Option<(f64, f64)>) -> Drawing {
    let chart = heat_map(map, view, range_c);
    let (width, height) = chart.natural_size();
    chart.draw(&view.style().sized(width, height))
}

/// The chart behind [`section`].
pub fn heat_map(map: &SectionMap, view: &View, range_c: Option<(f64, f64)>) -> HeatMap {
    let length = |faces: &[f64]| faces.iter().map(|&m| view.display.length(m)).collect();
    let temp = |c: f64| view.display.temperature(c);
    let named = |name: &str| match name {
        "radius" => view.say("axis.radius").to_owned(),
        "height" => view.say("axis.height").to_owned(),
        other => other.to_owned(),
    };
    HeatMap {
        title: format!("{}, {} s", map.title, fixed(map.time_s, 1, view.decimal_comma)),
        across: Axis::new(named(&map.across.name), view.display.length_unit()),
        across_faces: length(&map.across.faces_m),
        up: Axis::new(named(&map.up.name), view.display.length_unit()),
        up_faces: if map.up.faces_m.len() < 2 {
            Vec::new()
        } else {
            length(&map.up.faces_m)
        },
        values: map.temps_c.iter().map(|t| t.map(temp)).collect(),
        unit: view.temperature_unit().to_owned(),
        mirrored: map.across.name == "radius" || (map.across.name == HALF && map.up.faces_m.len() > 1),
        range: range_c.map(|(low, high)| (temp(low), temp(high))),
        words: (view.say("map.hottest").to_owned(), view.say("map.coldest").to_owned()),
    }
}

/// The range of temperatures over several maps, in degC, for a common colour scale.
pub fn common_range(maps: &[SectionMap]) -> Option<(f64, f64)> {
    maps.iter()
        .flat_map(|m| &m.temps_c)
        .flatten()
        .copied()
        .filter(|t| t.is_finite())
        .fold(None, |range, t| match range {
            None => Some((t, t)),
            Some((low, high)) => Some((t.min(low), t.max(high))),
        })
}
