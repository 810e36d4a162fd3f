//! A whole move: travel, settling, grip, release, signals, retries.

use serde::Serialize;

use super::{TravelLimits, travel_time};
use crate::ask::PlanError;
use crate::ask::distribution::{Distribution, Retry};
use crate::ask::error::{fraction, not_negative};

/// Waiting for a signal (ram at top, part present, spray retracted): evenly likely anywhere
/// between its least and its most.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SignalWait {
    /// What is waited for.
    pub name: String,
    /// Least wait, s.
    pub least_s: f64,
    /// Most wait, s.
    pub most_s: f64,
}

/// What a move consists of.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MoveElements {
    /// Distance, m.
    pub distance_m: f64,
    /// Speed, acceleration, jerk.
    pub limits: TravelLimits,
    /// Settling time without load, s.
    pub settle_s: f64,
    /// Settling time added per kg carried, s/kg.
    pub settle_s_per_kg: f64,
    /// Load carried (part and gripper), kg.
    pub payload_kg: f64,
    /// Closing the gripper, s.
    pub grip_s: f64,
    /// Opening the gripper, s.
    pub release_s: f64,
    /// Waits for signals.
    pub waits: Vec<SignalWait>,
    /// Standard deviation of the repeated motion, s.
    pub repeat_sd_s: f64,
    /// Probability that an attempt has to be repeated, 0 to 1.
    pub retry_probability: f64,
    /// Time of one retry, s.
    pub retry_s: f64,
    /// Most retries before the part is given up.
    pub most_retries: u32,
}

/// Seconds of a move as a specification would state them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MoveTiming {
    /// Travel alone, s.
    pub travel_s: f64,
    /// Travel, settling, grip and release without any wait: the kinematic minimum, s.
    pub minimum_s: f64,
    /// Mean with waits and retries, s.
    pub mean_s: f64,
    /// 95 per cent of the moves take no longer, s.
    pub p95_s: f64,
    /// Everything at its worst together (waits at their most, all retries, three standard
    /// deviations of the motion), s.
    pub never_exceed_s: f64,
}

impl MoveElements {
    /// Times of the move.
    ///
    /// # Errors
    /// Negative times, a probability outside 0 to 1, waits out of order, or kinematics that
    /// [`travel_time`] refuses.
    pub fn timing(&self) -> Result<MoveTiming, PlanError> {
        let travel_s = travel_time(self.distance_m, &self.limits)?;
        let settle = not_negative("settling time in s", self.settle_s)?
            + not_negative("settling time in s/kg", self.settle_s_per_kg)?
                * not_negative("payload in kg", self.payload_kg)?;
        let minimum_s = travel_s
            + settle
            + not_negative("grip time in s", self.grip_s)?
            + not_negative("release time in s", self.release_s)?;
        let mut wait_mean = 0.0;
        let mut wait_most = 0.0;
        let repeat = not_negative("standard deviation of the motion in s", self.repeat_sd_s)?;
        let mut variance = repeat * repeat;
        for wait in &self.waits {
            not_negative("least wait in s", wait.least_s)?;
            if not_negative("most wait in s", wait.most_s)? < wait.least_s {
                return Err(PlanError::range(
                    format!("most wait of `{}` in s", wait.name),
                    wait.most_s,
                    format!("at least {}", wait.least_s),
                ));
            }
            wait_mean += 0.5 * (wait.least_s + wait.most_s);
            wait_most += wait.most_s;
            variance += (wait.most_s - wait.least_s).powi(2) / 12.0;
        }
        let p = fraction("retry probability", self.retry_probability)?;
        let retry = not_negative("retry time in s", self.retry_s)?;
        let base = minimum_s + wait_mean;
        let (mean_s, p95_s) = if variance == 0.0 && (p == 0.0 || retry == 0.0) {
            (base, base)
        } else {
            // The sum of motion and waits is taken as normal, which it is nearly from two waits
            // on; a microsecond of spread stands for a motion that repeats exactly.
            let sd = variance.sqrt().max(1e-6);
            let mixture = Distribution::Retry(Retry::new(base, sd, p, retry, 0.0, self.most_retries.max(1))?);
            (mixture.mean(), mixture.quantile(0.95))
        };
        let retries = if p > 0.0 {
            f64::from(self.most_retries.max(1))
        } else {
            0.0
        };
        Ok(MoveTiming {
            travel_s,
            minimum_s,
            mean_s,
            p95_s,
            never_exceed_s: minimum_s + wait_most + 3.0 * repeat + retries * retry,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn plain() -> MoveElements {
        MoveElements {
            distance_m: 3.0,
            limits: TravelLimits {
                speed_m_s: 1.5,
                acceleration_m_s2: 3.0,
                jerk_m_s3: None,
            },
            settle_s: 0.1,
            settle_s_per_kg: 0.01,
            payload_kg: 20.0,
            grip_s: 0.3,
            release_s: 0.2,
            waits: vec![],
            repeat_sd_s: 0.0,
            retry_probability: 0.0,
            retry_s: 2.0,
            most_retries: 2,
        }
    }

    #[test]
    fn parts_add_up_by_hand() {
        // 2.5 s travel + 0.1 + 0.2 settling + 0.5 grip and release.
        let t = plain().timing().unwrap();
        for value in [t.minimum_s, t.mean_s, t.p95_s, t.never_exceed_s] {
            assert_relative_eq!(value, 3.3, max_relative = 1e-12);
        }
        let mut slow = plain();
        slow.waits.push(SignalWait {
            name: "ram at top".into(),
            least_s: 0.1,
            most_s: 0.5,
        });
        slow.retry_probability = 0.1;
        slow.repeat_sd_s = 0.05;
        let t = slow.timing().unwrap();
        // Mean: 3.3 + 0.3 + 2 (0.1 + 0.01); worst: 3.3 + 0.5 + 0.15 + 4.
        assert_relative_eq!(t.mean_s, 3.82, max_relative = 1e-9);
        assert_relative_eq!(t.never_exceed_s, 7.95, max_relative = 1e-12);
        // One retry is more likely than 5 %, so the 95 % point lies in the second peak.
        assert!(t.p95_s > 5.0 && t.p95_s < t.never_exceed_s);
    }

    #[test]
    fn wrong_elements_are_refused() {
        let mut bad = plain();
        bad.retry_probability = 1.5;
        assert!(bad.timing().is_err());
        let mut bad = plain();
        bad.payload_kg = -1.0;
        assert!(bad.timing().is_err());
    }
}
