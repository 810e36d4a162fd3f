//! Transient heat conduction on orthogonal grids, with exchange at the faces and tool columns
//! behind them. This layer knows nothing of forging.
//!
//! The unknown is the specific enthalpy of each cell, `ρ dh/dt = div(grad Θ) + q` with the
//! conduction potential `Θ = ∫k dT`, so energy is conserved to rounding and a transformation peak
//! of c(T) cannot be stepped over. Space: conservative finite differences, second order on smooth
//! grids. Time: a third-order linearly implicit method whose matrix is the product of one
//! tridiagonal factor per axis ([`tableau`]), with an embedded error estimate.
//!
//! ```
//! use std::sync::Arc;
//! use billet_thermal::body::{Axis, AxisKind, Grid};
//! use billet_thermal::conduction::{Exchange, Law, Solver, Tolerance};
//! use billet_thermal::steel::ThermalTable;
//!
//! // A long bar of 60 mm diameter cools from 1240 degC in air for 10 s.
//! let radius = Axis::graded(AxisKind::Radial, 0.0, 0.03, None, Some(2e-4), 1.3, 2e-3)?;
//! let grid = Grid::new(vec![radius])?;
//! let metal = ThermalTable::constant(28.0, 650.0, 7500.0);
//! let mut bar = Solver::uniform(Arc::new(grid), Arc::new(metal), 1240.0, Tolerance::kelvin(0.05));
//! let account = bar.account("air");
//! bar.set_law(1, Law::Exchange { exchange: Exchange::air(12.0, 0.8, 30.0), share: 1.0, account });
//! bar.advance(10.0, &mut |_| {})?;
//! assert!(bar.ledger().imbalance().abs() < 1e-12);
//! let lost = bar.ledger().energy("air");
//! assert!(lost < -4.0e5, "J per metre, {lost}");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod column;
mod directions;
mod exact;
mod face;
mod kernel;
mod law;
mod ledger;
mod march;
mod rest;
mod sideways;
mod signal;
mod solver;
mod step;
pub mod sweep;
pub mod tableau;
mod tolerance;

pub use column::{ColumnHeat, Columns, Contact, DeepEnd};
pub use law::{Exchange, ExchangeNow, Law};
pub use ledger::Ledger;
pub use rest::Together;
pub use sideways::{Link, Sideways};
pub use signal::{OfSurface, Signal};
pub use solver::{FaceTemperatures, Reaction, Solver, Work};
pub use tolerance::{SolveError, Tolerance};
