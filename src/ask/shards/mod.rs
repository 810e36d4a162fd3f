//! Result files of a study that can be split, resumed and merged without changing a digit.

mod file;
mod rows;

pub(crate) use file::digest;
pub use file::{ShardError, read_shard, write_shard};
pub use rows::{Row, Shard, StudyKey, merge};
