//! View factors among equal parts against rays and Gauss quadrature.

use std::f64::consts::PI;

use billet_thermal::surface::shading::{among_cylinders, facing_discs, facing_rectangles, parallel_cylinders};

/// Nodes and weights of Gauss and Legendre with `n` points on `a..b`, by Newton's method on the Legendre
/// polynomial (Abramowitz and Stegun 25.4.29).
fn gauss(n: usize, a: f64, b: f64) -> Vec<(f64, f64)> {
    (0..n)
        .map(|i| {
            let mut x = (PI * (i as f64 + 0.75) / (n as f64 + 0.5)).cos();
            let mut slope = 1.0;
            for _ in 0..60 {
                let (mut p, mut before) = (x, 1.0);
                for k in 2..=n {
                    let k = k as f64;
                    (p, before) = (((2.0 * k - 1.0) * x * p - (k - 1.0) * before) / k, p);
                }
                slope = n as f64 * (x * p - before) / (x * x - 1.0);
                x -= p / slope;
            }
            let half = 0.5 * (b - a);
            (0.5 * (a + b) + half * x, half * 2.0 / ((1.0 - x * x) * slope * slope))
        })
        .collect()
}

/// cos θ₁ cos θ₂/(π r²) for two places with unit normals; zero where one does not face the other.
fn kernel(p: [f64; 3], n: [f64; 3], q: [f64; 3], m: [f64; 3]) -> f64 {
    let d = [q[0] - p[0], q[1] - p[1], q[2] - p[2]];
    let dot = |a: [f64; 3], b: [f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    let (r2, c1, c2) = (dot(d, d), dot(d, n), -dot(d, m));
    if c1 <= 0.0 || c2 <= 0.0 {
        0.0
    } else {
        c1 * c2 / (PI * r2 * r2)
    }
}

/// View factor between the sides of two equal parallel cylinders of radius 1 and a length, axes `pitch`
/// apart: ∫∫ cos θ₁ cos θ₂/(π r²) over both sides by Gauss quadrature, four dimensions.
pub fn cylinders_by_quadrature(pitch: f64, length: f64) -> f64 {
    let turns = gauss(40, -0.5 * PI, 0.5 * PI);
    let along = gauss(24, 0.0, length);
    let mut sum = 0.0;
    for (a, wa) in &turns {
        let n = [a.cos(), a.sin(), 0.0];
        for (b, wb) in &turns {
            let m = [-b.cos(), b.sin(), 0.0];
            for (z, wz) in &along {
                for (u, wu) in &along {
                    let p = [n[0], n[1], *z];
                    let q = [pitch + m[0], m[1], *u];
                    sum += wa * wb * wz * wu * kernel(p, n, q, m);
                }
            }
        }
    }
    sum / (2.0 * PI * length)
}

/// Two parallel cylinders: the closed form of crossed strings at its limits and against the integral over
/// directions of a hit or a miss, which knows nothing of strings.
#[test]
fn endless_cylinders_by_crossed_strings() {
    let touching = parallel_cylinders(0.06, 0.0).unwrap();
    assert!((touching - (0.5 * PI - 1.0) / PI).abs() < 1e-12, "{touching}");
    assert!((touching - 0.1817).abs() < 5e-5);
    // Far apart the other is a strip of width D at the distance X D: 1/(2 π X).
    let far = parallel_cylinders(1.0, 399.0).unwrap();
    assert!((far * 2.0 * PI * 400.0 - 1.0).abs() < 1e-4, "{far}");
    for x in [1.05, 1.5, 3.0] {
        let ours = parallel_cylinders(2.0, 2.0 * (x - 1.0)).unwrap();
        // Rays in a plane across: places and directions on a raster, no geometry but hit or miss.
        let (places, directions) = (1200, 1200);
        let mut hits = 0.0;
        for i in 0..places {
            let turn = 2.0 * PI * (f64::from(i) + 0.5) / f64::from(places);
            for j in 0..directions {
                // Equal steps of the sine carry equal radiation.
                let sine = -1.0 + 2.0 * (f64::from(j) + 0.5) / f64::from(directions);
                let to = turn + sine.asin();
                let (dx, dy) = (2.0 * x - turn.cos(), -turn.sin());
                let along = dx * to.cos() + dy * to.sin();
                let aside = dy * to.cos() - dx * to.sin();
                hits += f64::from(u8::from(along > 0.0 && aside.abs() < 1.0));
            }
        }
        let by_rays = hits / f64::from(places * directions);
        assert!((ours - by_rays).abs() < 1e-4, "{x}: {ours} {by_rays}");
    }
    assert!(parallel_cylinders(0.06, -0.001).is_err());
    assert!(parallel_cylinders(0.0, 0.1).is_err());
}

/// Cylinders of a length, standing or lying, against quadrature of the kernel; a cylinder that is very long
/// is endless.
#[test]
fn cylinders_with_ends_by_quadrature() {
    for (pitch, length) in [(2.6, 1.5), (3.0, 4.0), (5.0, 0.8)] {
        let ours = among_cylinders(2.0, Some(length), &[(pitch, 0.0)]).unwrap();
        let exact = cylinders_by_quadrature(pitch, length);
        assert!((ours / exact - 1.0).abs() < 2e-3, "{pitch} {length}: {ours} {exact}");
    }
    let endless = parallel_cylinders(2.0, 0.6).unwrap();
    let long = among_cylinders(2.0, Some(900.0), &[(2.6, 0.0)]).unwrap();
    assert!((long / endless - 1.0).abs() < 4e-3, "{long} {endless}");
}

/// In a closed ring of neighbours nothing gets out between endless cylinders; behind the nearest ones
/// those of the same row are hidden.
#[test]
fn what_lies_behind_counts_once() {
    let two = [(2.4, 0.0), (-2.4, 0.0)];
    let row = [(2.4, 0.0), (-2.4, 0.0), (4.8, 0.0), (-4.8, 0.0), (7.2, 0.0)];
    let near = among_cylinders(2.0, None, &two).unwrap();
    let all = among_cylinders(2.0, None, &row).unwrap();
    assert!((near - all).abs() < 1e-12, "{near} {all}");
    // Six touching neighbours leave no gap.
    let ring: Vec<(f64, f64)> = (0..6)
        .map(|i| {
            let turn = PI / 3.0 * f64::from(i);
            (2.0 * turn.cos(), 2.0 * turn.sin())
        })
        .collect();
    let closed = among_cylinders(2.0, None, &ring).unwrap();
    assert!((closed - 1.0).abs() < 2e-3, "{closed}");
    assert!(among_cylinders(2.0, None, &[(1.9, 0.0)]).is_err());
}

/// Discs and rectangles that face each other, against quadrature of the kernel.
#[test]
fn facing_plates_by_quadrature() {
    let (radius, gap) = (1.0, 0.7);
    let (radii, turns) = (gauss(24, 0.0, radius), gauss(48, 0.0, 2.0 * PI));
    let mut sum = 0.0;
    for (r, wr) in &radii {
        for (s, ws) in &radii {
            for (turn, wt) in &turns {
                let q = [s * turn.cos(), s * turn.sin(), gap];
                let weight = wr * ws * wt * r * s * 2.0 * PI;
                sum += weight * kernel([*r, 0.0, 0.0], [0.0, 0.0, 1.0], q, [0.0, 0.0, -1.0]);
            }
        }
    }
    let ours = facing_discs(2.0 * radius, gap).unwrap();
    assert!((ours / (sum / PI) - 1.0).abs() < 1e-5, "{ours} {}", sum / PI);

    let (a, b, gap) = (0.8, 1.7, 0.5);
    let (xs, ys) = (gauss(20, 0.0, a), gauss(20, 0.0, b));
    let mut sum = 0.0;
    for (x, wx) in &xs {
        for (y, wy) in &ys {
            for (u, wu) in &xs {
                for (v, wv) in &ys {
                    let (p, q) = ([*x, *y, 0.0], [*u, *v, gap]);
                    sum += wx * wy * wu * wv * kernel(p, [0.0, 0.0, 1.0], q, [0.0, 0.0, -1.0]);
                }
            }
        }
    }
    let ours = facing_rectangles(a, Some(b), gap).unwrap();
    assert!((ours / (sum / (a * b)) - 1.0).abs() < 1e-5, "{ours} {}", sum / (a * b));
    assert_eq!(facing_rectangles(a, Some(b), 0.0).unwrap(), 1.0);
    let endless = facing_rectangles(a, None, gap).unwrap();
    let long = facing_rectangles(a, Some(900.0), gap).unwrap();
    assert!((long / endless - 1.0).abs() < 1e-3, "{long} {endless}");
}
