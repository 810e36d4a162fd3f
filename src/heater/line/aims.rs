//! What a search of powers against time aims at, and the step that a linear model of it promises.

use ndarray::{Array1, Array2};

use super::panel::set;
use crate::numeric::dense::bounded_least_squares;

/// Least power of a step over the settled one: below, the model of the search would see no effect.
const LEAST_SHARE: f64 = 0.03;
/// A power twice its settled one counts as a miss of so much, K; likewise one twice that of the next step.
const NEAR_K: f64 = 6.0;
const SMOOTH_K: f64 = 12.0;

/// One aim of the search.
pub(super) struct Aim {
    /// What is missed, K.
    pub value: f64,
    /// How much it counts.
    pub weight: f64,
    /// Change by each power in units of its settled one, K.
    pub slopes: Vec<f64>,
    /// Only above zero it is a miss.
    pub one_sided: bool,
}

/// Sum of squares of what is missed.
pub(super) fn merit(aims: &[Aim]) -> f64 {
    let miss = |aim: &Aim| if aim.one_sided { aim.value.max(0.0) } else { aim.value };
    aims.iter().map(|aim| (aim.weight * miss(aim)).powi(2)).sum()
}

/// What the powers may be, step by step and channel by channel.
pub(super) struct Ranges<'r> {
    /// Settled power of each, W.
    pub base: &'r [f64],
    /// Highest power of each channel, W.
    pub highest_w: &'r [f64],
}

/// Powers with which the linear model of a run promises fewer rejects, within a trust box: bounded least squares, the
/// one-sided aims with a slack variable each.
pub(super) fn improved(aims: &[Aim], powers: &[f64], ranges: &Ranges, trust: f64) -> Option<Vec<f64>> {
    let (base, highest_w) = (ranges.base, ranges.highest_w);
    let (n, channels) = (powers.len(), highest_w.len());
    let hot = aims.iter().filter(|aim| aim.one_sided).count();
    let mut a = Array2::zeros((aims.len() + 2 * n, n + hot));
    let mut b = Array1::zeros(aims.len() + 2 * n);
    let mut slack = n;
    for (i, aim) in aims.iter().enumerate() {
        for (j, slope) in aim.slopes.iter().enumerate() {
            a[[i, j]] = aim.weight * slope;
        }
        b[i] = -aim.weight * aim.value;
        if aim.one_sided {
            a[[i, slack]] = 1.0;
            slack += 1;
        }
    }
    for j in 0..n {
        let off = powers[j] / base[j] - 1.0;
        // Near the settled powers, and near those of the step after.
        a[[aims.len() + j, j]] = NEAR_K;
        b[aims.len() + j] = -NEAR_K * off;
        a[[aims.len() + n + j, j]] = SMOOTH_K;
        let mut next = 0.0;
        if j + channels < n {
            a[[aims.len() + n + j, j + channels]] = -SMOOTH_K;
            next = powers[j + channels] / base[j] - 1.0;
        }
        b[aims.len() + n + j] = -SMOOTH_K * (off - next);
    }
    let low = (0..n).map(|j| (LEAST_SHARE - powers[j] / base[j]).clamp(-trust, 0.0));
    let high = (0..n).map(|j| ((highest_w[j % channels] - powers[j]) / base[j]).clamp(0.0, trust));
    let low: Vec<f64> = low.chain(vec![0.0; hot]).collect();
    let high: Vec<f64> = high.chain(vec![1e9; hot]).collect();
    let step = bounded_least_squares(a.view(), b.view(), &low, &high)?;
    let next = |j: usize| set((powers[j] + step[j] * base[j]).clamp(0.0, highest_w[j % channels]));
    Some((0..n).map(next).collect())
}
