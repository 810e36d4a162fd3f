//! `billet inputs`: every number of a line file by its path.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::{Global, message, out};
use crate::line::plan::{Input, InputValue};
use crate::line::trace::Owner;
use crate::report::table::text_table;

/// List every input of a line file by path, with value, unit, owner and allowed range.
#[derive(Debug, Args)]
pub(super) struct Inputs {
    /// The line file.
    file: PathBuf,
    /// Only paths that contain this text.
    #[arg(long, value_name = "TEXT")]
    like: Option<String>,
    /// Only numbers given in the file, not defaults or library values.
    #[arg(long)]
    given: bool,
}

impl Inputs {
    pub fn run(&self, global: &Global) -> Exit {
        let document = match message::load(&self.file, global) {
            Ok(document) => document,
            Err(exit) => return exit,
        };
        let wanted: Vec<&Input> = document
            .inputs()
            .iter()
            .filter(|input| self.like.as_ref().is_none_or(|text| input.path.contains(text.as_str())))
            .filter(|input| !self.given || input.owner == Owner::Given)
            .collect();
        if global.json {
            let list: Vec<_> = wanted.iter().map(|input| input_json(input)).collect();
            return out::print(&out::json(&json!({ "inputs": list })), Exit::Fine);
        }
        let rows: Vec<Vec<String>> = wanted
            .iter()
            .map(|input| {
                vec![
                    input.path.clone(),
                    value_words(input),
                    input.unit.to_owned(),
                    owner_word(input.owner).to_owned(),
                    range_words(input),
                ]
            })
            .collect();
        let numbers = wanted.iter().filter(|input| input.number().is_some()).count();
        let text = format!(
            "{} inputs, {numbers} of them numbers that can be varied by path.\n\n{}",
            wanted.len(),
            text_table(&["input", ">value", "unit", "owner", "allowed"], &rows)
        );
        out::print(&text, Exit::Fine)
    }
}

fn input_json(input: &Input) -> serde_json::Value {
    let value = match &input.value {
        InputValue::Number(value) => json!(value),
        InputValue::Word(word) => json!(word),
    };
    json!({
        "path": input.path,
        "value": value,
        "unit": input.unit,
        "owner": owner_word(input.owner),
        "source": input.source,
        "follows_others": input.follows,
        "low": input.allowed.map(|a| a.low),
        "high": input.allowed.map(|a| a.high),
        "low_excluded": input.allowed.map(|a| a.low_open),
    })
}

fn owner_word(owner: Owner) -> &'static str {
    match owner {
        Owner::Given => "given",
        Owner::Library => "library",
        Owner::Default => "default",
    }
}

/// A number with at most five significant digits; as text, so that 4.2 stays 4.2.
fn value_words(input: &Input) -> String {
    match &input.value {
        InputValue::Word(word) => word.clone(),
        InputValue::Number(value) => {
            let exact = value.to_string();
            if exact.len() <= 8 {
                exact
            } else {
                let digits = 4 - value.abs().log10().floor().clamp(-8.0, 4.0) as i32;
                format!("{value:.*}", digits.max(0) as usize)
            }
        }
    }
}

fn range_words(input: &Input) -> String {
    match (&input.value, input.allowed) {
        (InputValue::Number(_), Some(a)) if a.low_open => format!("above {} to {}", a.low, a.high),
        (InputValue::Number(_), Some(a)) => format!("{} to {}", a.low, a.high),
        _ => String::new(),
    }
}
