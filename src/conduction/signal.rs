//! Values that may change with time or with surface temperature.

use std::sync::Arc;

use crate::numeric::interpolate::linear;

/// A number that may change with time (s).
#[derive(Clone)]
pub enum Signal {
    /// Always the same.
    Constant(f64),
    /// Linear between (time, value) points in ascending time, held outside; two points at one time are a
    /// jump. Steps of a solver end on each point.
    Points(Arc<[(f64, f64)]>),
    /// Any smooth function of time. What jumps or lasts shorter than a step of the solver may be stepped
    /// over: give the times with [`Signal::broken`].
    Function(Arc<dyn Fn(f64) -> f64 + Send + Sync>),
    /// A function of time that is smooth between the given times, in ascending order; steps of a solver
    /// end on each of them.
    Broken(Arc<dyn Fn(f64) -> f64 + Send + Sync>, Arc<[f64]>),
}

impl Signal {
    /// A signal from a function of time (s).
    pub fn function(f: impl Fn(f64) -> f64 + Send + Sync + 'static) -> Signal {
        Signal::Function(Arc::new(f))
    }

    /// A signal from a function of time (s) that jumps or bends at the given times. At such a time the
    /// function gives the value after it.
    pub fn broken(f: impl Fn(f64) -> f64 + Send + Sync + 'static, mut times: Vec<f64>) -> Signal {
        times.sort_by(f64::total_cmp);
        Signal::Broken(Arc::new(f), times.into())
    }

    /// The first time after `after` at which the signal jumps or bends.
    pub(super) fn next_break(&self, after: f64) -> Option<f64> {
        match self {
            Signal::Constant(_) | Signal::Function(_) => None,
            Signal::Points(points) => points.get(points.partition_point(|p| p.0 <= after)).map(|p| p.0),
            Signal::Broken(_, times) => times.get(times.partition_point(|t| *t <= after)).copied(),
        }
    }

    /// Value at time `t` (s).
    #[inline]
    pub fn at(&self, t: f64) -> f64 {
        match self {
            Signal::Constant(v) => *v,
            Signal::Points(points) => linear(points, t).unwrap_or(0.0),
            Signal::Function(f) | Signal::Broken(f, _) => f(t),
        }
    }
}

impl From<f64> for Signal {
    fn from(v: f64) -> Signal {
        Signal::Constant(v)
    }
}

impl std::fmt::Debug for Signal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Signal::Constant(v) => write!(f, "Constant({v})"),
            Signal::Points(p) => write!(f, "Points({p:?})"),
            Signal::Function(_) => f.write_str("Function"),
            Signal::Broken(_, times) => write!(f, "Broken({times:?})"),
        }
    }
}

/// A property of the surface against its temperature (degC).
#[derive(Debug, Clone)]
pub enum OfSurface {
    /// Always the same.
    Constant(f64),
    /// Values on a uniform raster from `low_c` with step `step_k`, linear between, held outside.
    Raster {
        /// First temperature, degC.
        low_c: f64,
        /// One over the raster step, 1/K.
        per_k: f64,
        /// Values at the raster points.
        values: Arc<[f64]>,
    },
}

impl OfSurface {
    /// Samples a function of temperature (degC) on a raster of `intervals` from `low_c` to `high_c`.
    pub fn sampled(low_c: f64, high_c: f64, intervals: usize, f: impl Fn(f64) -> f64) -> OfSurface {
        let step_k = (high_c - low_c) / intervals as f64;
        let values = (0..=intervals).map(|i| f(low_c + step_k * i as f64)).collect();
        OfSurface::raster(low_c, step_k, values)
    }

    /// Values on a raster from `low_c` with step `step_k`.
    pub fn raster(low_c: f64, step_k: f64, values: Vec<f64>) -> OfSurface {
        OfSurface::Raster {
            low_c,
            per_k: 1.0 / step_k,
            values: values.into(),
        }
    }

    /// The same property with a function of its values, taken at the points of the raster.
    pub fn map(&self, f: impl Fn(f64) -> f64) -> OfSurface {
        match self {
            OfSurface::Constant(v) => OfSurface::Constant(f(*v)),
            OfSurface::Raster { low_c, per_k, values } => OfSurface::Raster {
                low_c: *low_c,
                per_k: *per_k,
                values: values.iter().map(|v| f(*v)).collect(),
            },
        }
    }

    /// The same property times a function of the surface temperature (degC), taken at the points of the
    /// raster, or on one of `raster_c` (first point, step and last point) where there is none.
    pub fn times(&self, raster_c: (f64, f64, f64), f: impl Fn(f64) -> f64) -> OfSurface {
        match self {
            OfSurface::Constant(0.0) => self.clone(),
            OfSurface::Constant(v) => {
                let (low, step, high) = raster_c;
                let points = ((high - low) / step).round() as usize;
                OfSurface::sampled(low, high, points.max(1), |t| v * f(t))
            }
            OfSurface::Raster { low_c, per_k, values } => OfSurface::Raster {
                low_c: *low_c,
                per_k: *per_k,
                values: values
                    .iter()
                    .enumerate()
                    .map(|(i, v)| v * f(low_c + i as f64 / per_k))
                    .collect(),
            },
        }
    }

    /// Value and slope per kelvin at a surface temperature (degC).
    #[inline]
    pub fn at(&self, temp_c: f64) -> (f64, f64) {
        match self {
            OfSurface::Constant(v) => (*v, 0.0),
            OfSurface::Raster { low_c, per_k, values } => {
                let x = (temp_c - low_c) * per_k;
                let last = values.len() - 1;
                if x <= 0.0 {
                    (values[0], 0.0)
                } else if x >= last as f64 {
                    (values[last], 0.0)
                } else {
                    let i = x as usize;
                    let slope = values[i + 1] - values[i];
                    (values[i] + (x - i as f64) * slope, slope * per_k)
                }
            }
        }
    }
}

impl From<f64> for OfSurface {
    fn from(v: f64) -> OfSurface {
        OfSurface::Constant(v)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_hold_outside_and_interpolate_inside() {
        let s = Signal::Points(vec![(1.0, 10.0), (3.0, 30.0)].into());
        assert_eq!([s.at(0.0), s.at(2.0), s.at(9.0)], [10.0, 20.0, 30.0]);
        let r = OfSurface::sampled(0.0, 100.0, 10, |t| t * t);
        assert_eq!(r.at(25.0), (650.0, 50.0));
        assert_eq!(r.at(-5.0), (0.0, 0.0));
        assert_eq!(r.at(500.0), (10_000.0, 0.0));
        assert_eq!(r.times((0.0, 1.0, 1.0), |t| 2.0 + t).at(30.0).0, 900.0 * 32.0);
        let line = OfSurface::Constant(3.0).times((0.0, 50.0, 100.0), |t| 1.0 + t);
        assert_eq!(line.at(25.0), (78.0, 3.0));
    }
}
