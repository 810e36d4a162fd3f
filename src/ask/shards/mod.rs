//! Result files of a study that can be split, resumed and merged without changing a digit.

mod error;
mod file;
mod rows;

pub use error::ShardError;
pub(crate) use file::digest;
pub use file::{read_shard, write_shard};
pub use rows::{SampleRow, Shard, StudyKey, gather, merge};
