//! The limits of the steel, which apply when the file has none of its own.

use super::billet::Billet;
use crate::line::plan::Stage;
use crate::window::Limit;

pub(crate) fn limits(_billet: &Billet, _stages: &[Stage]) -> Vec<Limit> {
    Vec::new()
}
