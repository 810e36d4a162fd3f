//! `billet schema`: the JSON Schema of the line file.

use clap::Args;

use super::exit::Exit;
use super::{Global, out};
use crate::line::file::schema;

/// Print the JSON Schema of the line file, for editors that complete and check as you type.
#[derive(Debug, Args)]
pub(super) struct Schema {}

impl Schema {
    pub fn run(&self, _: &Global) -> Exit {
        out::print(&out::json(&schema()), Exit::Fine)
    }
}
