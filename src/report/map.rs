//! Section maps: temperatures over the cross-section at a moment.

use crate::line::trace::SectionMap;
use crate::picture::{Axis, Drawing, HeatMap, MapWords};
use crate::show::{Cell, Joint, Quantity, View};
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

/// Span of temperatures, K, below which a section is drawn in one colour: its pattern would be that of the
/// errors of the computation.
const EVEN_K: f64 = 0.5;

/// The chart behind [`section`].
pub fn heat_map(map: &SectionMap, view: &View, range_c: Option<(f64, f64)>) -> HeatMap {
    let length = |faces: &[f64]| faces.iter().map(|&m| view.display.length(m)).collect();
    let temp = |c: f64| view.display.temperature(c);
    let named = |name: &str| match name {
        "radius" => view.say("axis.radius").to_owned(),
        "height" => view.say("axis.height").to_owned(),
        other => view.term(other),
    };
    HeatMap {
        title: title(map, view),
        across: Axis::new(named(&map.across.name), view.display.length_unit()),
        across_faces: length(&map.across.faces_m),
        up: Axis::new(named(&map.up.name), view.display.length_unit()),
        up_faces: if map.up.faces_m.len() < 2 {
            Vec::new()
        } else {
            length(&map.up.faces_m)
        },
        values: drawn(map).into_iter().map(|t| t.map(temp)).collect(),
        unit: view.temperature_unit().to_owned(),
        mirrored: map.across.name == "radius" || (map.across.name == HALF && map.up.faces_m.len() > 1),
        range: range_c.map(|(low, high)| (temp(low), temp(high))),
        own_scale: range_c.is_none(),
        words: MapWords {
            hottest: view.say("map.hottest").to_owned(),
            coldest: view.say("map.coldest").to_owned(),
            own_scale: view.say("map.own_scale").to_owned(),
            stretched: view.say("map.stretched").to_owned(),
        },
    }
}

/// Stage, moment and section of a map in the words of the language, with the time.
fn title(map: &SectionMap, view: &View) -> String {
    let (moment, section) = match map.title.rsplit_once(": ") {
        Some((moment, section)) => (moment, Some(section)),
        None => (map.title.as_str(), None),
    };
    let moment = match moment.rsplit_once(", ") {
        Some((stage, moment)) => Cell::name(stage).joined(Joint::Comma, Cell::Term(moment.to_owned())),
        None => Cell::Term(moment.to_owned()),
    };
    let place = match section {
        Some(section) => moment.joined(Joint::Colon, Cell::name(section)),
        None => moment,
    };
    let time = Cell::number(map.time_s, Quantity::Seconds);
    place.joined(Joint::Comma, time).whole(view).replace('\u{a0}', " ")
}

/// The temperatures as they are drawn.
fn drawn(map: &SectionMap) -> Vec<Option<f64>> {
    match common_range(std::slice::from_ref(map)) {
        Some((low, high)) if high - low < EVEN_K => {
            let middle = 0.5 * (low + high);
            map.temps_c.iter().map(|t| t.map(|_| middle)).collect()
        }
        _ => map.temps_c.clone(),
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::trace::MapAxis;

    #[test]
    fn rounding_is_no_pattern() {
        let axis = |name: &str| MapAxis {
            name: name.to_owned(),
            faces_m: vec![0.0, 0.01, 0.02],
        };
        let map = |spread: f64| SectionMap {
            title: "even".to_owned(),
            stage: 0,
            time_s: 0.0,
            across: axis("radius"),
            up: axis("height"),
            temps_c: vec![Some(1235.0 - spread), Some(1235.0 + spread), None, Some(1235.0)],
            zone: vec![Some(0); 4],
            zones: vec!["body".to_owned()],
        };
        let values = |spread: f64| heat_map(&map(spread), &View::from(Display::Metric), None).values;
        assert_eq!(values(1e-7), [Some(1235.0), Some(1235.0), None, Some(1235.0)]);
        assert_eq!(values(2.0)[1], Some(1237.0));
    }
}
