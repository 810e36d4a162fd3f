//! Warnings in the languages: in English the sentence of where they were raised, in the others the message of
//! their code, where it has all the values that the message asks for.

use super::cell::{Cell, Text};
use super::language::Language;
use super::quantity::Quantity;
use super::view::View;
use super::words::Words;
use crate::judge::{Datum, Warning};

impl From<&Datum> for Cell {
    fn from(datum: &Datum) -> Cell {
        match datum {
            Datum::Name(name) => Cell::name(name),
            Datum::Term(term) => Cell::Term(term.clone()),
            Datum::Celsius(c) => Cell::number(*c, Quantity::Temperature),
            Datum::Seconds(s) => Cell::number(*s, Quantity::Seconds),
            Datum::Hertz(hz) => Cell::number(*hz, Quantity::Frequency),
            Datum::Joules(joules) => Cell::number(*joules, Quantity::Heat),
            Datum::Times(times) => Cell::number(*times, Quantity::Factor),
            Datum::Plain(number) => Cell::number(*number, Quantity::Plain),
        }
    }
}

/// A warning in words.
pub fn warning(warning: &Warning, view: &View) -> Cell {
    let words = Words::of(view.language);
    let id = words.id(&format!("warning.{}", warning.code.replace('-', "_")));
    let told = |id: &&str| {
        let places = words.say(id).split('{').skip(1).filter_map(|rest| rest.split_once('}'));
        let mut places = places.map(|(place, _)| place);
        places.all(|place| warning.values.iter().any(|(known, _)| *known == place))
    };
    match id.filter(told) {
        Some(id) if view.language != Language::En => {
            let places = warning.values.iter().map(|(place, datum)| (*place, datum.into()));
            Cell::Text(Text {
                id,
                places: places.collect(),
            })
        }
        _ => Cell::name(&warning.message),
    }
}
