//! Samples between the steps of the solver.
//!
//! A long step of the solver bends: a straight line from its start to its end may be 10 K off although
//! both ends are right. Where that is so, samples of the cubic through both ends with the slopes that the
//! neighbouring steps give (parabolas, within Fritsch and Carlson's bounds for monotone courses, SIAM
//! Journal on Numerical Analysis 17 (1980) 238-246; from memory) are put between, so that straight lines between samples
//! stay within [`CHORD_K`] of it. Every step of the solver stays a sample.

/// Largest distance of a straight line between two samples from the cubic, K.
const CHORD_K: f64 = 0.5;

/// Most samples put into one step.
const MOST: usize = 24;

/// Ratio of neighbouring steps above which a law has changed between them; steps of one march grow by no
/// more than ten.
const KINK: f64 = 12.0;

/// Times with their stages, and rows of `width` node values \[degC\], made dense.
pub(super) fn densified(times: &[(f64, usize)], rows: &[f64], width: usize) -> (Vec<(f64, usize)>, Vec<f64>) {
    let row = |i: usize| &rows[i * width..(i + 1) * width];
    let (mut out, mut values) = (Vec::with_capacity(times.len()), Vec::with_capacity(rows.len()));
    for i in 0..times.len() {
        out.push(times[i]);
        values.extend_from_slice(row(i));
        let Some(next) = times.get(i + 1) else { break };
        let span = next.0 - times[i].0;
        if next.1 != times[i].1 || span <= 0.0 {
            continue;
        }
        // The steps before and after in the same stage, where they are of about the same length.
        let alike = |length: f64| length * KINK > span && length < KINK * span;
        let before = (i > 0 && times[i - 1].1 == next.1).then(|| (i - 1, times[i].0 - times[i - 1].0));
        let after = times
            .get(i + 2)
            .filter(|t| t.1 == next.1)
            .map(|t| (i + 2, t.0 - next.0));
        let before = before.filter(|(_, length)| alike(*length));
        let after = after.filter(|(_, length)| alike(*length));
        let slopes: Vec<(f64, f64)> = (0..width)
            .map(|k| {
                let (a, b) = (row(i)[k], row(i + 1)[k]);
                let here = (b - a) / span;
                let first = before.map(|(j, length)| ((a - row(j)[k]) / length, length));
                let last = after.map(|(j, length)| ((row(j)[k] - b) / length, length));
                end_slopes(here, span, first, last)
            })
            .collect();
        let off = (0..width)
            .map(|k| (0.125 * span * (slopes[k].0 - slopes[k].1)).abs())
            .filter(|off| off.is_finite())
            .fold(0.0, f64::max);
        let parts = ((off / CHORD_K).sqrt().ceil() as usize).clamp(1, MOST + 1);
        for part in 1..parts {
            let f = part as f64 / parts as f64;
            out.push((times[i].0 + f * span, next.1));
            values.extend((0..width).map(|k| cubic(f, span, (row(i)[k], row(i + 1)[k]), slopes[k])));
        }
    }
    (out, values)
}

/// Slopes at both ends of a step with the mean slope `here`, from those of its neighbours (slope and
/// length). Where one is missing, the slope of the parabola through the others is taken.
fn end_slopes(here: f64, span: f64, before: Option<(f64, f64)>, after: Option<(f64, f64)>) -> (f64, f64) {
    // Three times the smaller slope at most keeps a monotone course monotone.
    let within = |slope: f64, most: f64| slope.max(-3.0 * most).min(3.0 * most);
    let inner = |(slope, length): (f64, f64)| {
        if slope * here <= 0.0 {
            return 0.0;
        }
        let parabola = (span * slope + length * here) / (span + length);
        within(parabola, slope.abs().min(here.abs()))
    };
    let outer = |other: f64| {
        let slope = 2.0 * here - other;
        // Nodes that the part does not have are NaN, so no clamp.
        if slope * here <= 0.0 {
            0.0
        } else {
            within(slope, here.abs())
        }
    };
    match (before.map(inner), after.map(inner)) {
        (Some(a), Some(b)) => (a, b),
        (Some(a), None) => (a, outer(a)),
        (None, Some(b)) => (outer(b), b),
        (None, None) => (here, here),
    }
}

/// Hermite's cubic at the share `f` of a step of length `span`.
fn cubic(f: f64, span: f64, (a, b): (f64, f64), (da, db): (f64, f64)) -> f64 {
    let g = 1.0 - f;
    let straight = g * a + f * b;
    let rise = b - a;
    straight + f * g * (g * (span * da - rise) - f * (span * db - rise))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Straight lines between samples of exponential cooling stay within 1 K of it, where those between
    /// the steps are 4 K off; few samples do.
    #[test]
    fn straight_lines_between_samples_stay_close() {
        let course = |t: f64| 25.0 + 800.0 * (-t / 600.0_f64).exp();
        let steps: Vec<(f64, usize)> = [0.0, 40.0, 150.0, 300.0, 460.0, 650.0, 850.0].map(|t| (t, 1)).to_vec();
        let rows: Vec<f64> = steps.iter().flat_map(|(t, _)| [course(*t), f64::NAN]).collect();
        let worst = |times: &[(f64, usize)], rows: &[f64]| {
            let mut worst = 0.0_f64;
            for (i, w) in times.windows(2).enumerate() {
                for part in 0..=10 {
                    let f = f64::from(part) / 10.0;
                    let line = (1.0 - f) * rows[2 * i] + f * rows[2 * i + 2];
                    worst = worst.max((line - course(w[0].0 + f * (w[1].0 - w[0].0))).abs());
                }
            }
            worst
        };
        assert!(worst(&steps, &rows) > 3.5);
        let (times, dense) = densified(&steps, &rows, 2);
        assert!(worst(&times, &dense) < 1.0, "{}", worst(&times, &dense));
        assert!(times.len() < 40, "{}", times.len());
        assert!(dense.iter().skip(1).step_by(2).all(|v| v.is_nan()));
    }

    /// A change of law, after which steps start short, is not rounded off.
    #[test]
    fn a_kink_stays_a_kink() {
        let course = |t: f64| if t <= 100.0 { 1000.0 } else { 1000.0 - 5.0 * (t - 100.0) };
        let steps: Vec<(f64, usize)> = [0.0, 50.0, 100.0, 100.5, 102.0, 112.0, 150.0].map(|t| (t, 1)).to_vec();
        let rows: Vec<f64> = steps.iter().map(|(t, _)| course(*t)).collect();
        let (times, dense) = densified(&steps, &rows, 1);
        for ((t, _), v) in times.iter().zip(&dense) {
            assert!((v - course(*t)).abs() < 1e-9, "{t} {v}");
        }
    }

    /// The slope at the start of a step is at most three times that of the flatter side, rising and falling: with
    /// more a cubic overshoots (F. N. Fritsch and R. E. Carlson, SIAM J. Numer. Anal. 17 (1980) 238).
    #[test]
    fn slopes_keep_a_monotone_course_monotone() {
        for way in [1.0, -1.0] {
            let (start, _) = end_slopes(way, 1.0, Some((0.01 * way, 1.0)), None);
            assert!((start - 0.03 * way).abs() < 1e-12, "{start}");
            let (_, end) = end_slopes(0.01 * way, 1.0, None, Some((way, 1.0)));
            assert!((end - 0.03 * way).abs() < 1e-12, "{end}");
        }
    }
}
