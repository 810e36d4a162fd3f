//! `billet schema`: the JSON Schema of the line file, and the reference of its keys.

use clap::Args;

use super::exit::Exit;
use super::{Global, out};
use crate::line::file::{key_reference, schema};

/// Print the JSON Schema of the line file, for editors that complete and check as you type.
#[derive(Debug, Args)]
pub(super) struct Schema {
    /// Print a reference of all keys instead, in Markdown.
    #[arg(long)]
    keys: bool,
}

impl Schema {
    pub fn run(&self, _: &Global) -> Exit {
        if self.keys {
            return out::print(&key_reference(), Exit::Fine);
        }
        out::print(&out::json(&schema()), Exit::Fine)
    }
}
