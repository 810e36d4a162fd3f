//! `billet page`: the line in a browser of this machine.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::{Global, interrupt, message, out};
use crate::line::run::Budget;
use crate::output::{OutputError, write_file};
use crate::page::{Line, Options, PageError, Server};

/// Open a line file as a live page: move its numbers and see at once what follows.
///
/// Prints the address of the page and serves it until Ctrl-C. Only this machine can reach it, and only with the
/// address that is printed.
#[derive(Debug, Args)]
pub(super) struct Page {
    /// The line file.
    file: PathBuf,
    /// Port to listen on (default: a free one).
    #[arg(long, value_name = "N", default_value_t = 0, hide_default_value = true)]
    port: u16,
    /// Let other machines of the network reach the page under this address of this machine. Whoever has the printed
    /// address can then read and change the line file; what is sent is not encrypted.
    #[arg(long, value_name = "ADDRESS")]
    network: Option<IpAddr>,
}

impl Page {
    pub fn run(&self, global: &Global) -> Exit {
        let line = match Line::load(&self.file, Budget::times(global.budget), put) {
            Ok(line) => line,
            Err(error) => {
                message::line_file(&error);
                return Exit::WrongInput;
            }
        };
        let options = Options {
            address: SocketAddr::new(self.network.unwrap_or(IpAddr::V4(Ipv4Addr::LOCALHOST)), self.port),
            network: self.network.is_some(),
            view: global.view(),
        };
        let server = match Server::bind(line, options) {
            Ok(server) => server,
            Err(error) => return failed(&error),
        };
        let url = server.url();
        let text = match global.json {
            true => format!("{}\n", json!({ "url": url })),
            false => format!("{url}\n"),
        };
        match out::print(&text, Exit::Fine) {
            Exit::Fine => {}
            exit => return exit,
        }
        if !global.quiet {
            message::remark(match self.network {
                Some(_) => "open this address in a browser of this machine or of its network; Ctrl-C ends the page",
                None => "open this address in a browser of this machine; Ctrl-C ends the page",
            });
        }
        match server.run() {
            Ok(()) => Exit::Fine,
            Err(error) => failed(&error),
        }
    }
}

/// Writes the file whole; a signal waits until it is done.
fn put(path: &Path, content: &[u8]) -> Result<(), OutputError> {
    interrupt::whole(&path.display().to_string(), || write_file(path, content))
}

fn failed(error: &PageError) -> Exit {
    message::error_line(&error.to_string());
    match error {
        PageError::NotLoopback(_) | PageError::Unspecified(_) => Exit::WrongInput,
        _ => Exit::Failed,
    }
}
