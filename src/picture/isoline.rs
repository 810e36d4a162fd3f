//! Lines of equal value on a grid of points, by marching squares.

/// Segments of the line `value` on a grid; `at(i, j)` gives position and value of a grid point, or
/// nothing outside the part. A square with a missing corner is left out.
pub(crate) fn segments(
    columns: usize,
    rows: usize,
    value: f64,
    at: impl Fn(usize, usize) -> Option<(f64, f64, f64)>,
) -> Vec<((f64, f64), (f64, f64))> {
    let mut out = Vec::new();
    for j in 0..rows.saturating_sub(1) {
        for i in 0..columns.saturating_sub(1) {
            let corners = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
            let [Some(a), Some(b), Some(c), Some(d)] = corners else {
                continue;
            };
            let mut crossings = Vec::with_capacity(4);
            for (p, q) in [(a, b), (b, c), (c, d), (d, a)] {
                if (p.2 >= value) != (q.2 >= value) {
                    let t = (value - p.2) / (q.2 - p.2);
                    crossings.push((p.0 + t * (q.0 - p.0), p.1 + t * (q.1 - p.1)));
                }
            }
            match crossings[..] {
                [p, q] => out.push((p, q)),
                [p, q, r, s] => {
                    // saddle: the mean decides which corners belong together
                    let centre = (a.2 + b.2 + c.2 + d.2) / 4.0;
                    if (centre >= value) == (a.2 >= value) {
                        out.push((p, q));
                        out.push((r, s));
                    } else {
                        out.push((s, p));
                        out.push((q, r));
                    }
                }
                _ => {}
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plane_gives_a_straight_line() {
        let lines = segments(5, 4, 1.5, |i, j| Some((i as f64, j as f64, i as f64)));
        assert_eq!(lines.len(), 3);
        for (p, q) in lines {
            assert!((p.0 - 1.5).abs() < 1e-12 && (q.0 - 1.5).abs() < 1e-12);
        }
    }

    #[test]
    fn holes_are_left_out() {
        let lines = segments(3, 3, 0.5, |i, j| {
            (i != 1 || j != 1).then_some((i as f64, j as f64, i as f64))
        });
        assert!(lines.is_empty());
    }
}
