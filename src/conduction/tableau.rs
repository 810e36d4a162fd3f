//! Coefficients of the time stepping method.
//!
//! A four-stage linearly implicit method of Rosenbrock type that keeps order three with *any*
//! matrix in place of the Jacobian (a W-method), so that the matrix may be the product of one
//! tridiagonal factor per axis. L-stable and stiffly accurate with the exact Jacobian.
//! ROS34PW2 of Rang and Angermann, BIT Numerical Mathematics 45 (2005) 761-787; coefficients from
//! memory, and therefore checked against all order conditions of a third-order W-method in the
//! tests below.

/// Stages.
pub const STAGES: usize = 4;

/// γ on the diagonal.
pub const GAMMA: f64 = 0.435_866_521_508_459;

/// α: stage arguments.
const ALPHA: [[f64; STAGES]; STAGES] = [
    [0.0; 4],
    [0.871_733_043_016_918, 0.0, 0.0, 0.0],
    [0.844_570_600_153_694_2, -0.112_990_642_364_841_85, 0.0, 0.0],
    [0.0, 0.0, 1.0, 0.0],
];

/// Γ below the diagonal.
const GAMMAS: [[f64; STAGES]; STAGES] = [
    [0.0; 4],
    [-0.871_733_043_016_918, 0.0, 0.0, 0.0],
    [-0.903_380_570_130_440_8, 0.054_180_672_388_095_326, 0.0, 0.0],
    [
        0.242_123_807_060_953_46,
        -1.223_250_583_904_514_7,
        0.545_260_255_335_102_1,
        0.0,
    ],
];

/// Weights of order three.
const WEIGHTS: [f64; STAGES] = [
    0.242_123_807_060_953_46,
    -1.223_250_583_904_514_7,
    1.545_260_255_335_102,
    GAMMA,
];

/// Weights of the embedded second-order solution.
const EMBEDDED: [f64; STAGES] = [
    0.378_109_031_458_193_7,
    -0.096_042_292_212_423_18,
    0.5,
    0.217_933_260_754_229_5,
];

/// The coefficients in the form that needs no product with the Jacobian (Hairer and Wanner,
/// Solving Ordinary Differential Equations II, section IV.7): with U = Γ·k,
/// `(1/(γτ) − J) Uᵢ = F(u + Σ aᵢⱼ Uⱼ) + (1/τ) Σ cᵢⱼ Uⱼ`, `u₁ = u + Σ mⱼ Uⱼ`.
#[derive(Debug, Clone)]
pub struct Tableau {
    /// Stage arguments.
    pub a: [[f64; STAGES]; STAGES],
    /// Stage couplings.
    pub c: [[f64; STAGES]; STAGES],
    /// Weights of the step.
    pub m: [f64; STAGES],
    /// Weights of the error estimate (step minus embedded step).
    pub e: [f64; STAGES],
    /// Stage times as a share of the step.
    pub time: [f64; STAGES],
}

impl Tableau {
    /// Converts the published form.
    pub fn new() -> Tableau {
        let inverse = invert_gamma();
        let times = |row: &[f64; STAGES]| -> [f64; STAGES] {
            std::array::from_fn(|j| (0..STAGES).map(|k| row[k] * inverse[k][j]).sum())
        };
        let a = std::array::from_fn(|i| times(&ALPHA[i]));
        let c = std::array::from_fn(|i| std::array::from_fn(|j| if i == j { 0.0 } else { -inverse[i][j] }));
        let m = times(&WEIGHTS);
        let mh = times(&EMBEDDED);
        Tableau {
            a,
            c,
            m,
            e: std::array::from_fn(|j| m[j] - mh[j]),
            time: std::array::from_fn(|i| ALPHA[i].iter().sum()),
        }
    }
}

impl Default for Tableau {
    fn default() -> Self {
        Self::new()
    }
}

/// Inverse of the lower triangular Γ by forward substitution.
fn invert_gamma() -> [[f64; STAGES]; STAGES] {
    let mut inverse = [[0.0; STAGES]; STAGES];
    for j in 0..STAGES {
        for i in j..STAGES {
            let unit = if i == j { 1.0 } else { 0.0 };
            let sum: f64 = (j..i).map(|k| GAMMAS[i][k] * inverse[k][j]).sum();
            inverse[i][j] = (unit - sum) / GAMMA;
        }
    }
    inverse
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Order conditions of W-methods up to order three (Hairer and Wanner, section IV.7).
    #[test]
    fn order_conditions_hold() {
        let full: [[f64; 4]; 4] =
            std::array::from_fn(|i| std::array::from_fn(|j| if i == j { GAMMA } else { GAMMAS[i][j] }));
        let dot = |w: &[f64; 4], v: &[f64; 4]| -> f64 { w.iter().zip(v).map(|(a, b)| a * b).sum() };
        let apply = |m: &[[f64; 4]; 4], v: &[f64; 4]| -> [f64; 4] { std::array::from_fn(|i| dot(&m[i], v)) };
        let one = [1.0; 4];
        let (al, ga) = (apply(&ALPHA, &one), apply(&full, &one));
        let al2: [f64; 4] = std::array::from_fn(|i| al[i] * al[i]);
        let near = |got: f64, want: f64| assert!((got - want).abs() < 5e-15, "{got} {want}");
        near(dot(&WEIGHTS, &one), 1.0);
        near(dot(&WEIGHTS, &al), 0.5);
        near(dot(&WEIGHTS, &ga), 0.0);
        near(dot(&WEIGHTS, &al2), 1.0 / 3.0);
        near(dot(&WEIGHTS, &apply(&ALPHA, &al)), 1.0 / 6.0);
        near(dot(&WEIGHTS, &apply(&ALPHA, &ga)), 0.0);
        near(dot(&WEIGHTS, &apply(&full, &al)), 0.0);
        near(dot(&WEIGHTS, &apply(&full, &ga)), 0.0);
        near(dot(&EMBEDDED, &one), 1.0);
        near(dot(&EMBEDDED, &al), 0.5);
        near(dot(&EMBEDDED, &ga), 0.0);
    }
}
