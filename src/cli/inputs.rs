//! `billet inputs`: every number of a line file by its path.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::{Global, message, out};
use crate::line::plan::Input;
use crate::line::trace::Owner;
use crate::report::inputs;

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
        let document = match message::load(&self.file) {
            Ok(document) => document,
            Err(exit) => return exit,
        };
        let wanted: Vec<&Input> = document
            .inputs()
            .iter()
            .filter(|input| self.like.as_ref().is_none_or(|text| input.path.contains(text.as_str())))
            .filter(|input| !self.given || input.owner == Owner::Given)
            .collect();
        let list = || wanted.iter().map(|input| inputs::as_json(input)).collect::<Vec<_>>();
        out::result(
            global,
            || inputs::listed(&wanted),
            || json!({ "inputs": list() }),
            Exit::Fine,
        )
    }
}
