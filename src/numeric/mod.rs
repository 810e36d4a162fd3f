//! The numerical toolbox below everything: searches, interpolation, special functions, dense algebra.
//!
//! Each method stands here once. What is not here on purpose: the look-up tables of the inner loops
//! (`steel::ThermalTable`, the rasters of `conduction`), which are uniform and need no search.

pub(crate) mod boundary;
pub(crate) mod dense;
#[cfg_attr(
    not(test),
    expect(dead_code, reason = "for hand-overs with an earliest and a latest end")
)]
pub(crate) mod holding;
pub(crate) mod interpolate;
pub(crate) mod root;
pub(crate) mod special;
