//! Travel time between two points of rest, and the acceleration that a given time needs.

use serde::Serialize;

use crate::ask::PlanError;
use crate::ask::error::{not_negative, positive};
use crate::numeric::boundary::try_boundary;

/// What the drive allows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TravelLimits {
    /// Highest speed, m/s.
    pub speed_m_s: f64,
    /// Highest acceleration and deceleration, m/s2.
    pub acceleration_m_s2: f64,
    /// Highest jerk, m/s3; `None` lets the acceleration jump (trapezoidal speed).
    pub jerk_m_s3: Option<f64>,
}

/// Travel time in s over `distance_m` from rest to rest.
///
/// Trapezoidal speed: s/v + v/a when v is reached (s >= v^2/a), else 2 sqrt(s/a). Limited jerk
/// (seven phases): s/v + v/a + a/j when v is reached; a/j + sqrt((a/j)^2 + 4s/a) when a is reached
/// but not v; 4 (s/(2j))^(1/3) when neither is. If the jerk is so low that a is never reached on
/// the way to v (a^2 > v j), the largest acceleration is sqrt(v j). These follow from integrating
/// the piecewise constant acceleration or jerk.
///
/// # Errors
/// A negative distance, or limits that are not above zero.
pub fn travel_time(distance_m: f64, limits: &TravelLimits) -> Result<f64, PlanError> {
    let s = not_negative("distance in m", distance_m)?;
    let v = positive("speed in m/s", limits.speed_m_s)?;
    let a = positive("acceleration in m/s2", limits.acceleration_m_s2)?;
    let Some(jerk) = limits.jerk_m_s3 else {
        return Ok(if s >= v * v / a {
            s / v + v / a
        } else {
            2.0 * (s / a).sqrt()
        });
    };
    let j = positive("jerk in m/s3", jerk)?;
    let a = a.min((v * j).sqrt());
    Ok(if s >= v * (v / a + a / j) {
        s / v + v / a + a / j
    } else if s > 2.0 * a * a * a / (j * j) {
        a / j + ((a / j).powi(2) + 4.0 * s / a).sqrt()
    } else {
        4.0 * (s / (2.0 * j)).cbrt()
    })
}

/// Acceleration in m/s2 that covers `distance_m` from rest to rest in `seconds`, with the speed and
/// jerk given (the acceleration in `limits` is not used).
///
/// # Errors
/// A time that no acceleration can reach, with the shortest possible; otherwise as [`travel_time`].
pub fn acceleration_for(distance_m: f64, seconds: f64, limits: &TravelLimits) -> Result<f64, PlanError> {
    let s = positive("distance in m", distance_m)?;
    let v = positive("speed in m/s", limits.speed_m_s)?;
    let t = positive("time in s", seconds)?;
    let impossible = |shortest: f64| {
        PlanError::range(
            "travel time in s",
            t,
            format!("above {shortest:.3} (what speed and jerk allow with any acceleration)"),
        )
    };
    let Some(jerk) = limits.jerk_m_s3 else {
        // Triangular if its peak 2s/t stays below v, else solve s/v + v/a = t.
        return if 2.0 * s <= v * t {
            Ok(4.0 * s / (t * t))
        } else if t > s / v {
            Ok(v / (t - s / v))
        } else {
            Err(impossible(s / v))
        };
    };
    let j = positive("jerk in m/s3", jerk)?;
    let most = (v * j).sqrt();
    let time = |a: f64| {
        travel_time(
            s,
            &TravelLimits {
                speed_m_s: v,
                acceleration_m_s2: a,
                jerk_m_s3: Some(j),
            },
        )
    };
    // Below this the acceleration is never reached and more of it changes nothing.
    let useful = most.min((0.5 * s * j * j).cbrt());
    let shortest = time(useful)?;
    if t < shortest {
        return Err(impossible(shortest));
    }
    // Time falls steadily with acceleration; halve the interval in a down to the last bits.
    let mut low = useful;
    while time(low)? < t {
        low *= 0.5;
    }
    Ok(try_boundary(low, useful, |a| Ok(time(a)? > t))?.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cases_join_without_a_jump() {
        let limits = |j| TravelLimits {
            speed_m_s: 1.5,
            acceleration_m_s2: 3.0,
            jerk_m_s3: j,
        };
        for jerk in [None, Some(15.0), Some(4.0)] {
            let mut last = 0.0;
            for k in 0..4000 {
                let t = travel_time(f64::from(k) * 1e-3, &limits(jerk)).unwrap();
                assert!(t >= last && (k < 50 || t - last < 0.01), "{jerk:?} at {k} mm");
                last = t;
            }
        }
        // Infinite jerk is the trapezoid.
        let smooth = travel_time(0.8, &limits(Some(1e12))).unwrap();
        let sharp = travel_time(0.8, &limits(None)).unwrap();
        assert!((smooth - sharp).abs() < 1e-9);
    }

    #[test]
    fn wrong_limits_are_refused() {
        let limits = TravelLimits {
            speed_m_s: 0.0,
            acceleration_m_s2: 3.0,
            jerk_m_s3: None,
        };
        assert!(travel_time(1.0, &limits).is_err());
        assert!(
            travel_time(
                -1.0,
                &TravelLimits {
                    speed_m_s: 1.0,
                    ..limits
                }
            )
            .is_err()
        );
        assert!(
            travel_time(
                f64::NAN,
                &TravelLimits {
                    speed_m_s: 1.0,
                    ..limits
                }
            )
            .is_err()
        );
        let error = acceleration_for(
            3.0,
            1.0,
            &TravelLimits {
                speed_m_s: 1.5,
                ..limits
            },
        );
        assert!(error.unwrap_err().to_string().contains("2.000"));
    }
}
