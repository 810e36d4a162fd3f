//! The line file: reading, checking, changing.

/// A line file in memory.
#[derive(Debug, Clone)]
pub struct Document {}
