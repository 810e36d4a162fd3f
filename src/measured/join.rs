//! Two logs of the same parts with clocks of their own: the offset of the clocks, and which row belongs to which.
//!
//! The offset is the one at which most events of the first log have one of the second beside them. Rows are then
//! joined in order, with gaps on both sides: the chain of pairs with the most matches, each counted less the farther
//! its times are apart. The nearest row in time would often be that of another part.

use serde::Serialize;

/// How two logs were joined.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Offset {
    /// Seconds to add to the second clock to get the first.
    pub seconds: f64,
    /// Standard deviation of single events about it, s.
    pub sd_s: f64,
    /// Events of the second log that have a partner.
    pub matched: usize,
    /// Events of it.
    pub events: usize,
    /// The next best offset, and how many events it would match.
    pub second_best: Option<(f64, usize)>,
    /// Whether it was given in the file.
    pub given: bool,
}

/// Events farther apart than this many standard deviations are not of one part.
const FAR: f64 = 4.0;
/// Windows that are tried for the offset, s.
const WINDOWS_S: [f64; 4] = [0.25, 0.7, 2.0, 5.0];
/// Most events of the first log that vote for an offset.
const VOTERS: usize = 250;
/// The second best must match less than this share of what the best matches.
const CLEAR: f64 = 0.9;

impl Offset {
    /// Whether another offset would do nearly as well.
    #[must_use]
    pub fn is_ambiguous(&self) -> bool {
        let near = |(_, count): (f64, usize)| count as f64 > CLEAR * self.matched as f64;
        !self.given && self.second_best.is_some_and(near)
    }
}

/// Distance from `time` to the nearest of `events`, which rise, signed.
fn nearest(events: &[f64], time: f64) -> Option<f64> {
    let k = events.partition_point(|e| *e < time);
    let near = [k.checked_sub(1), Some(k)];
    let distances = near.into_iter().flatten().filter_map(|k| Some(events.get(k)? - time));
    distances.min_by(|a, b| a.abs().total_cmp(&b.abs()))
}

/// How well an offset does: matches within three windows, each counted by its distance; and how many.
fn score(first: &[f64], second: &[f64], offset: f64, window_s: f64) -> (f64, usize) {
    let near = first.iter().filter_map(|a| nearest(second, a - offset));
    near.filter(|d| d.abs() < 3.0 * window_s)
        .fold((0.0, 0), |(sum, count), d| {
            (sum + (-0.5 * (d / window_s).powi(2)).exp(), count + 1)
        })
}

/// Finds the offset that brings `second` onto `first`; both rise. `None` where no two events go together.
#[must_use]
pub fn find_offset(first: &[f64], second: &[f64]) -> Option<Offset> {
    let least = 3.max(second.len().min(first.len()) / 2);
    let mut best: Option<Offset> = None;
    for window_s in WINDOWS_S {
        let Some(found) = in_window(first, second, window_s) else {
            continue;
        };
        let clear = found.matched >= least && !found.is_ambiguous();
        if best
            .as_ref()
            .is_none_or(|best| found.matched > best.matched || (clear && best.is_ambiguous()))
        {
            best = Some(found);
        }
        if clear {
            break;
        }
    }
    best
}

fn in_window(first: &[f64], second: &[f64], window_s: f64) -> Option<Offset> {
    // Every pair of events votes for its difference.
    let step = first.len().div_ceil(VOTERS).max(1);
    let mut votes: Vec<i64> = first
        .iter()
        .step_by(step)
        .flat_map(|a| second.iter().map(move |b| ((a - b) / window_s).round() as i64))
        .collect();
    votes.sort_unstable();
    let mut bins: Vec<(usize, i64)> = Vec::new();
    for vote in votes {
        match bins.last_mut() {
            Some((count, bin)) if *bin == vote => *count += 1,
            _ => bins.push((1, vote)),
        }
    }
    bins.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(&b.1)));
    let mut tried: Vec<(f64, usize, f64)> = bins
        .iter()
        .take(300)
        .map(|(_, bin)| {
            let mut offset = *bin as f64 * window_s;
            for _ in 0..3 {
                offset += middle(first, second, offset, window_s);
            }
            let (sum, count) = score(first, second, offset, window_s);
            (sum, count, offset)
        })
        .collect();
    tried.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.2.abs().total_cmp(&b.2.abs())));
    let (_, _, seconds) = *tried.first()?;
    let other = tried.iter().find(|(_, _, o)| (o - seconds).abs() > 4.0 * window_s);
    let sd_s = spread(first, second, seconds, window_s);
    let pairs = pairs(first, second, seconds, sd_s)?;
    // Rivals are compared by what they match, each with the width of the best.
    let second_best = match other {
        Some((_, _, offset)) => Some((*offset, self::pairs(first, second, *offset, sd_s)?.len())),
        None => None,
    };
    Some(Offset {
        seconds,
        sd_s,
        matched: pairs.len(),
        events: second.len(),
        second_best,
        given: false,
    })
}

/// Median distance of the matches at an offset, to be added to it.
fn middle(first: &[f64], second: &[f64], offset: f64, window_s: f64) -> f64 {
    let near = first.iter().filter_map(|a| nearest(second, a - offset));
    let mut near: Vec<f64> = near.filter(|d| d.abs() < 3.0 * window_s).collect();
    near.sort_by(f64::total_cmp);
    -near.get(near.len() / 2).copied().unwrap_or(0.0)
}

/// Robust standard deviation of the matches at an offset, at least a twentieth of a second.
fn spread(first: &[f64], second: &[f64], offset: f64, window_s: f64) -> f64 {
    let near = first.iter().filter_map(|a| nearest(second, a - offset));
    let mut near: Vec<f64> = near.map(f64::abs).filter(|d| *d < 3.0 * window_s).collect();
    near.sort_by(f64::total_cmp);
    (1.4826 * near.get(near.len() / 2).copied().unwrap_or(0.0)).max(0.05)
}

/// Most candidates a row, on the average, from which clocks tell rows apart (chosen: minutes without seconds at a takt of some
/// seconds stay far below).
const MOST_LINKS: usize = 100;

/// Pairs of rows (index in `first`, index in `second`), both rising: the chain that is worth most, a pair being worth
/// 1 less the square of its distance in units of [`FAR`] standard deviations. `None` where the clocks tell too few rows apart, as
/// one that stands still.
#[must_use]
pub fn pairs(first: &[f64], second: &[f64], offset: f64, sd_s: f64) -> Option<Vec<(usize, usize)>> {
    let far = FAR * sd_s;
    let near = |a: &f64| {
        let from = second.partition_point(|b| b + offset < a - far);
        from..second.partition_point(|b| b + offset <= a + far)
    };
    if first.iter().map(|a| near(a).len()).sum::<usize>() > MOST_LINKS * (first.len() + second.len()) {
        return None;
    }
    // Best chain that ends at or before each row of the second log: a tree of running maxima.
    let mut tree = vec![(0.0_f64, usize::MAX); second.len() + 1];
    let mut links: Vec<(usize, usize, usize)> = Vec::new();
    for (i, a) in first.iter().enumerate() {
        let mut made = Vec::new();
        for j in near(a) {
            let worth = 1.0 - ((second[j] + offset - a) / far).powi(2);
            let (before, link) = best_before(&tree, j);
            links.push((i, j, link));
            made.push((j, before + worth, links.len() - 1));
        }
        for (j, worth, link) in made {
            let mut k = j + 1;
            while k < tree.len() {
                if worth > tree[k].0 {
                    tree[k] = (worth, link);
                }
                k += k & k.wrapping_neg();
            }
        }
    }
    let mut chain = Vec::new();
    let (_, mut link) = best_before(&tree, second.len());
    while let Some((i, j, before)) = links.get(link).copied() {
        chain.push((i, j));
        link = before;
    }
    chain.reverse();
    Some(chain)
}

/// The best chain over the first `count` rows.
fn best_before(tree: &[(f64, usize)], count: usize) -> (f64, usize) {
    let (mut best, mut k) = ((0.0, usize::MAX), count);
    while k > 0 {
        if tree[k].0 > best.0 {
            best = tree[k];
        }
        k -= k & k.wrapping_neg();
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::random::Stream;

    /// Events with a takt of 14 s that varies, 61.3 s apart in their clocks, with rows missing on both sides and some
    /// that belong to nothing.
    #[test]
    fn clocks_apart_by_more_than_four_takts_are_found_and_rows_joined() {
        let mut random = Stream::new(7, 0);
        let (mut time, mut first, mut second, mut truth) = (0.0, Vec::new(), Vec::new(), Vec::new());
        for part in 0..120 {
            time += 14.0 + 0.8 * random.normal();
            let (has_first, has_second) = (part % 17 != 3, part % 11 != 5);
            if has_first && has_second {
                truth.push((first.len(), second.len()));
            }
            if has_first {
                first.push(time);
            }
            if has_second {
                second.push(time + 0.15 * random.normal() - 61.3);
            }
        }
        let found = find_offset(&first, &second).unwrap();
        assert!((found.seconds - 61.3).abs() < 0.1 && !found.is_ambiguous(), "{found:?}");
        assert_eq!(pairs(&first, &second, found.seconds, found.sd_s), Some(truth));
    }

    /// A clock that stands still joins nothing, and takes no time over it.
    #[test]
    fn clocks_that_stand_still_are_refused() {
        let still = vec![21_600.0; 4000];
        assert_eq!(pairs(&still, &still, 0.0, 2.0), None);
        assert!(find_offset(&still, &still).is_none());
    }

    /// With a takt that never varies every multiple of it does as well.
    #[test]
    fn an_even_takt_leaves_the_offset_open() {
        let first: Vec<f64> = (0..50).map(|k| 14.0 * f64::from(k)).collect();
        let second: Vec<f64> = first.iter().map(|t| t + 3.0).collect();
        assert!(find_offset(&first, &second).unwrap().is_ambiguous());
    }
}
