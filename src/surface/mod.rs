//! Heat flux laws at a face: radiation, convection in air, contact with a tool, water spray.
//!
//! Pure functions. Each names its equation, the range it was published for and where it comes
//! from; each refuses numbers that mean nothing with a [`SurfaceError`].

pub mod air;
pub mod contact;
pub mod convection;
mod error;
pub mod film;
pub mod oxide;
pub mod radiation;
pub mod shading;
pub mod spray;

pub use contact::Situation;
pub use error::SurfaceError;
pub use film::{FilmTable, Geometry, film_coefficient};
