//! A first line file from the numbers that a user knows.
//!
//! A [`Kind`] of line and the answers so far decide what is asked next ([`next`]); when nothing is left,
//! [`write`](write::write) makes the text. Only what nobody but the user can know is asked without a default; what the
//! program assumes stands in the file as remarks with its reasons ([`Document::remarked`]). Nothing here talks to a
//! terminal.

mod answer;
mod impressions;
mod kind;
mod profile;
mod question;
mod questions;
mod write;

pub use answer::{Answers, Refused};
pub use impressions::Impressions;
pub use kind::Kind;
pub use question::Question;
pub use questions::{all, every, next};
pub use write::write;

#[cfg(doc)]
use crate::line::file::Document;
