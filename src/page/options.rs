//! What a server is made with, and why there is none.

use std::io;
use std::net::{IpAddr, SocketAddr};

use crate::show::View;

/// What a server is made with.
pub struct Options {
    /// Where it listens.
    pub address: SocketAddr,
    /// Whether others than this machine may ask.
    pub network: bool,
    /// Units and language of the page.
    pub view: View,
}

/// Why there is no page.
#[derive(Debug, thiserror::Error)]
pub enum PageError {
    /// The address cannot be listened on.
    #[error("cannot listen on {address}: {source}")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// What the system said.
        #[source]
        source: io::Error,
    },
    /// An address that others reach, without being asked for.
    #[error("{0} can be reached from other machines; say so with --network")]
    NotLoopback(SocketAddr),
    /// An address that stands for all of this machine, which no browser can open.
    #[error("{0} is no address of one machine; name this machine's address in its network")]
    Unspecified(IpAddr),
    /// The system gives no random numbers for the token.
    #[error("the system gives no random numbers for the token: {0}")]
    Token(String),
    /// The server cannot go on.
    #[error("the server cannot go on: {0}")]
    Server(#[from] io::Error),
}
