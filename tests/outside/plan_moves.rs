//! Move times against hand calculation and an independent integration.

use billet_thermal::inside::ask::kinematics::{TravelLimits, acceleration_for, travel_time};

fn limits(speed_m_s: f64, acceleration_m_s2: f64, jerk_m_s3: Option<f64>) -> TravelLimits {
    TravelLimits {
        speed_m_s,
        acceleration_m_s2,
        jerk_m_s3,
    }
}

/// Calculated by hand from the formulas s/v + v/a (+ a/j) and 2 sqrt(s/a) and their jerk-limited
/// forms, two decimals, for 0.3, 0.8, 1.5 and 3 m.
#[test]
fn table_of_move_times() {
    let table = [
        (limits(1.5, 3.0, None), [0.63, 1.03, 1.50, 2.50]),
        (limits(1.5, 3.0, Some(15.0)), [0.86, 1.25, 1.70, 2.70]),
        (limits(2.0, 5.0, None), [0.49, 0.80, 1.15, 1.90]),
    ];
    for (limits, times) in table {
        for (distance, expected) in [0.3, 0.8, 1.5, 3.0].into_iter().zip(times) {
            let found = travel_time(distance, &limits).unwrap();
            assert!(
                (found - expected).abs() < 0.0051,
                "{distance} m: {found} for {expected}"
            );
        }
    }
}

/// Distance covered in time T by the fastest symmetric move is twice the integral over the first
/// half, where the acceleration rises with the jerk, stays at its limit, and falls so that the
/// speed just reaches its limit or the half time is over. Integrated here in small steps, without
/// the formulas.
#[test]
fn jerk_limited_moves_cover_their_distance() {
    for (v, a, j) in [(1.5, 3.0, 15.0), (1.5, 3.0, 4.0), (2.0, 5.0, 60.0), (0.25, 6.0, 40.0)] {
        for distance in [0.02, 0.15, 0.3, 0.8, 1.5, 3.0] {
            let total = travel_time(distance, &limits(v, a, Some(j))).unwrap();
            let half = 0.5 * total;
            let steps = 200_000;
            let dt = half / f64::from(steps);
            let (mut x, mut speed, mut acceleration) = (0.0, 0.0, 0.0_f64);
            for k in 0..steps {
                let left = half - (f64::from(k) + 0.5) * dt;
                // The acceleration must be back at 0 when the speed limit or half time is reached.
                let fall_speed = 0.5 * acceleration * acceleration / j;
                let next = if speed + fall_speed >= v || acceleration >= j * left {
                    (acceleration - j * dt).max(0.0)
                } else {
                    (acceleration + j * dt).min(a)
                };
                let mean = 0.5 * (acceleration + next);
                x += speed * dt + 0.5 * mean * dt * dt;
                speed += mean * dt;
                acceleration = next;
            }
            let covered = 2.0 * x;
            assert!(
                (covered - distance).abs() < 2e-3 * distance,
                "v {v} a {a} j {j}: {covered} m of {distance} m in {total} s"
            );
        }
    }
}

#[test]
fn needed_acceleration_undoes_the_move_time() {
    for jerk in [None, Some(15.0), Some(60.0)] {
        for a in [0.4, 1.0, 2.5, 3.9] {
            for distance in [0.3, 0.8, 3.0] {
                let drive = limits(1.5, a, jerk);
                let seconds = travel_time(distance, &drive).unwrap();
                let found = acceleration_for(distance, seconds, &drive).unwrap();
                let again = travel_time(distance, &limits(1.5, found, jerk)).unwrap();
                assert!((again - seconds).abs() < 1e-9, "{jerk:?} {a} {distance}");
                // Where the acceleration limit acts at all, it must come back itself.
                if travel_time(distance, &limits(1.5, 0.99 * a, jerk)).unwrap() > seconds + 1e-9 {
                    assert!((found / a - 1.0).abs() < 1e-6, "{found} for {a}");
                }
            }
        }
    }
}
