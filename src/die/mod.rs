//! Dies over many parts: what a tool keeps between parts, what happens to it while no part is in
//! it, and the state that it settles to.
//!
//! A [`Ground`] is a tool face as a whole, with its own columns; it lends columns to the part that
//! touches it and takes them back when the part leaves. [`idle`] is the time until the next part:
//! spray, blow-off, air. [`settle`] finds the state that repeats from part to part.

mod block;
mod copy;
mod ground;
pub mod idle;
pub mod settle;
mod slow;
mod spread;
pub mod stroke;

pub use block::{CHANNEL_C, COUPLE_M, DieBlock, HOLDER_W_M2K, WELL_M, Well};
pub use copy::DieCopy;
pub use ground::{Faces, Ground, GroundHeat, merged};
pub use idle::{BlowOff, Phase, Spray, phases};
pub use spread::{Across, Strip};
