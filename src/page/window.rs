//! The stretch that a slider covers: what is near the value, in round steps.

use crate::picture::nice_step;
use crate::text::Allowed;

/// Ends and step of a slider.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Window {
    pub low: f64,
    pub high: f64,
    pub step: f64,
}

/// Steps of a slider, about.
const STEPS: f64 = 200.0;
/// Half of what a slider of temperatures covers, K.
const TEMPERATURES: f64 = 150.0;
/// How far a slider of times goes: times the value, and seconds at least.
const LONGER: f64 = 4.0;
const SECONDS: f64 = 10.0;

impl Window {
    /// The window of a key around its value: temperatures by 150 K to either side, times to
    /// four times the value, others to twice the value.
    pub fn of(key: &str, value: f64, allowed: Allowed, whole: bool) -> Window {
        let last = key.rsplit('.').next().unwrap_or(key);
        if whole {
            let high = (2.0 * value).max(value + 5.0).min(allowed.high);
            let low = allowed.low.ceil();
            return Window { low, high, step: 1.0 };
        }
        let (low, high) = match value {
            _ if last.ends_with("_c") => (value - TEMPERATURES, value + TEMPERATURES),
            v if last == "seconds" => (0.0, (LONGER * v).max(SECONDS)),
            0.0 => (-1.0, 1.0),
            v => (v - v.abs(), v + v.abs()),
        };
        let wide = (high.min(allowed.high) - low.max(allowed.low)).max(0.0);
        let step = if wide > 0.0 {
            tidy(nice_step(wide / STEPS))
        } else {
            1e-3
        };
        // Both ends on the grid of the steps, inside what is allowed.
        let mut low = (low.max(allowed.low) / step).ceil() * step;
        if allowed.low_open && low <= allowed.low {
            low += step;
        }
        let high = (high.min(allowed.high) / step).floor() * step;
        Window {
            low: tidy(low.min(value)),
            high: tidy(high.max(value)),
            step,
        }
    }
}

/// Without the tail of binary fractions.
fn tidy(value: f64) -> f64 {
    format!("{value:.12e}").parse().unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn allowed(low: f64, high: f64, low_open: bool) -> Allowed {
        Allowed { low, high, low_open }
    }

    #[test]
    fn a_window_is_near_and_inside() {
        let seconds = Window::of("seconds", 4.2, allowed(0.0, 1e6, false), false);
        assert_eq!((seconds.low, seconds.high, seconds.step), (0.0, 16.8, 0.1));
        let exit = Window::of("surface_c", 1240.0, allowed(-50.0, 1600.0, false), false);
        assert_eq!((exit.low, exit.high, exit.step), (1090.0, 1390.0, 2.0));
        let blows = Window::of("blows", 3.0, allowed(1.0, 200.0, false), true);
        assert_eq!((blows.low, blows.high, blows.step), (1.0, 8.0, 1.0));
        let depth = Window::of("depth_mm", 60.0, allowed(0.0, 1000.0, true), false);
        assert!(depth.low > 0.0 && depth.high <= 120.0);
        let share = Window::of("share", 0.9, allowed(0.0, 1.0, false), false);
        assert_eq!((share.low, share.high), (0.0, 1.0));
        for value in [0.0, 1.0, 1e-9, 1e6] {
            let all = Window::of("x", value, allowed(0.0, 1e6, false), false);
            assert!(
                all.low <= value && value <= all.high && all.step > 0.0,
                "{value}: {all:?}"
            );
        }
    }
}
