//! One line file as a live page in a browser of this machine.
//!
//! The page holds what is being tried: a list of changed numbers. The server holds the file as it is on disk and answers
//! for that list, as the commands would for a file with these numbers: at `quick` while a slider moves, at the
//! resolution of the file once it rests. It serves this one file and three texts of its own, to whoever has the token of
//! the address and nobody else ([`guard`]), and works on two quick answers, one settled one and two panels at once, whoever
//! asks ([`work`]).

mod answer;
mod body;
mod form;
mod group;
mod guard;
mod kept;
mod line;
mod options;
mod panel;
mod pinned;
mod reply;
mod server;
mod window;
mod work;

pub use line::Line;
pub use options::{Options, PageError};
pub use server::Server;
