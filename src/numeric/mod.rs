//! The numerical toolbox below everything: searches, interpolation, special functions, dense algebra.
//!
//! Each method stands here once. What is not here on purpose: the look-up tables of the inner loops
//! (`steel::ThermalTable`, the rasters of `conduction`), which are uniform and need no search.

pub(crate) mod boundary;
pub(crate) mod dense;
pub(crate) mod interpolate;
pub(crate) mod root;
pub(crate) mod special;
