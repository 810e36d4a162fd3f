//! Writing to standard output and standard error without ever failing loudly.

use std::io::{self, ErrorKind, Write};

use super::exit::Exit;
use super::{Format, Global};
use crate::show::terminal;
use crate::show::{Block, csv};

/// Writes a result to standard output. A closed pipe is the reader's choice and no error.
pub(super) fn print(text: &str, done: Exit) -> Exit {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Ok(()) => done,
        Err(error) if error.kind() == ErrorKind::BrokenPipe => done,
        Err(error) => {
            tell(&format!("billet: cannot write to standard output: {error}\n"));
            Exit::Failed
        }
    }
}

/// Writes a message to standard error; when even that fails there is nobody left to tell.
pub(super) fn tell(text: &str) {
    let mut err = io::stderr().lock();
    let _ = err.write_all(text.as_bytes()).and_then(|()| err.flush());
}

/// A JSON value as the program prints it: indented, with a line break at the end.
pub(super) fn json(value: &serde_json::Value) -> String {
    let mut text = serde_json::to_string_pretty(value).unwrap_or_else(|_| value.to_string());
    text.push('\n');
    text
}

/// Prints a result as it was asked for: JSON from the result itself, text or CSV from its blocks.
pub(super) fn result(
    global: &Global,
    blocks: impl FnOnce() -> Vec<Block>,
    value: impl FnOnce() -> serde_json::Value,
    done: Exit,
) -> Exit {
    if global.json {
        return print(&json(&value()), done);
    }
    match shown(global, &blocks()) {
        Ok(text) => print(&text, done),
        Err(error) => {
            tell(&format!("billet: {error}\n"));
            Exit::Failed
        }
    }
}

/// Blocks as text for the terminal, or their tables as CSV.
pub(super) fn shown(global: &Global, blocks: &[Block]) -> Result<String, ::csv::Error> {
    let view = global.view();
    match global.format {
        Format::Text => Ok(terminal::text(blocks, &view, global.terminal())),
        Format::Csv => csv::text(blocks, &view, csv::Dialect::of(&view)),
    }
}
