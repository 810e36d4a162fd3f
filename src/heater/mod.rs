//! (filled below)
