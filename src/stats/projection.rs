//! How far an effect can be told apart from others: what is left of it once the others' span is taken off.
//!
//! Letters: y the indicator of a level, X the dummies of the other factors' levels and the constant, W the weights.
//! Efficiency = min over b of (y - Xb)'W(y - Xb) / (y - m)'W(y - m), m the weighted mean of y: one less the weighted
//! R^2 of y on X, the reciprocal of the variance inflation (the efficiency factor of an incomplete design: John &
//! Williams 1995, `john-williams-1995`). 0 can't be told apart, 1 wholly.
//!
//! The largest factor is swept out by its level means, and each level is weighed on the cells it stands in
//! ([`super::estimable`]), so ten thousand rows in forty thousand cells cost a fraction of a second.

use super::estimable::Span;
use rayon::prelude::*;
use serde::Serialize;
use std::collections::BTreeMap;

/// How far one level of a factor can be told apart from the other factors.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LevelEfficiency {
    /// The level's code.
    pub code: u32,
    /// 0..1.
    pub efficiency: f64,
}

/// Weighted sum of squares of the indicator left after projecting off the span of the factors' dummies and the
/// constant, over its weighted sum of squares about the mean, in 0..1.
///
/// `indicator`, each of `factors` and `weights` hold one value per cell (the shortest rules). `u32::MAX` is a level
/// of its own. Cells of no positive, finite weight or without a finite indicator are left out. An indicator without
/// variance gives 0.
pub fn efficiency(indicator: &[f64], factors: &[Vec<u32>], weights: &[f64]) -> f64 {
    let usable: Vec<f64> = weights.iter().zip(indicator).map(|(&w, y)| if y.is_finite() { w } else { 0.0 }).collect();
    let variable: Vec<(usize, f64)> = indicator.iter().copied().enumerate().collect();
    largest_first(factors, &usable).share_left(&variable)
}

/// [`efficiency`] of every level of `factor` given `others`, by rising code, with one factorisation.
pub fn efficiencies(factor: &[u32], others: &[Vec<u32>], weights: &[f64]) -> Vec<LevelEfficiency> {
    let span = largest_first(others, weights);
    let cells = others.iter().map(Vec::len).fold(weights.len(), usize::min);
    let of =
        |(code, variable): (u32, Vec<(usize, f64)>)| LevelEfficiency { code, efficiency: span.share_left(&variable) };
    indicators(&factor[..cells.min(factor.len())]).into_par_iter().map(of).collect()
}

/// The indicator of each level: the cells where it is 1.
pub fn indicators(factor: &[u32]) -> BTreeMap<u32, Vec<(usize, f64)>> {
    let mut indicators: BTreeMap<u32, Vec<(usize, f64)>> = BTreeMap::new();
    factor.iter().enumerate().for_each(|(cell, &code)| indicators.entry(code).or_default().push((cell, 1.0)));
    indicators
}

fn largest_first(factors: &[Vec<u32>], weights: &[f64]) -> Span {
    let mut ordered: Vec<&[u32]> = factors.iter().map(Vec::as_slice).collect();
    ordered
        .sort_by_cached_key(|codes| std::cmp::Reverse(codes.iter().collect::<std::collections::BTreeSet<_>>().len()));
    Span::new(&ordered, weights)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn balanced_and_nested_by_hand() {
        // Two by two, one vine a cell: rows and batches orthogonal.
        let (row, batch) = (vec![0, 0, 1, 1], [0.0, 1.0, 0.0, 1.0]);
        assert!((efficiency(&batch, &[row], &[1.0; 4]) - 1.0).abs() < 1e-12);
        // Each row one batch: nothing left.
        assert_eq!(efficiency(&[0.0, 0.0, 1.0, 1.0], &[vec![7, 7, 9, 9]], &[1.0; 4]), 0.0);
        // Row 1 wholly a, row 2 half and half: about the mean 4 * 3/16 = 3/4, within rows 1/2: two thirds.
        assert!((efficiency(&[0.0, 0.0, 0.0, 1.0], &[vec![0, 0, 1, 1]], &[1.0; 4]) - 2.0 / 3.0).abs() < 1e-12);
        // No factor: only the constant.
        assert!((efficiency(&[0.0, 0.0, 0.0, 1.0], &[], &[1.0; 4]) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn weights_stand_for_vines() {
        let many = efficiency(&[0.0, 1.0, 1.0, 0.0, 0.0, 1.0], &[vec![0, 0, 0, 1, 1, 1]], &[1.0; 6]);
        let few = efficiency(&[0.0, 1.0, 0.0, 1.0], &[vec![0, 0, 1, 1]], &[1.0, 2.0, 2.0, 1.0]);
        assert!((many - few).abs() < 1e-12, "{many} {few}");
        assert_eq!(efficiency(&[1.0; 3], &[vec![0, 1, 0]], &[1.0; 3]), 0.0);
        assert_eq!(efficiency(&[0.0, 1.0], &[], &[0.0, f64::NAN]), 0.0);
        assert_eq!(efficiency(&[], &[], &[]), 0.0);
    }

    #[test]
    fn sums_of_other_factors_are_found_in_their_span() {
        // A crew that is the union of two batches is in the span of batch, though not of row.
        let cells = 600;
        let row: Vec<u32> = (0..cells).map(|i| i / 20).collect();
        let batch: Vec<u32> =
            (0..cells).map(|i| if i % 7 == 0 { u32::MAX } else { (i * i + 3 * i / 5) % 11 }).collect();
        let crew: Vec<f64> = batch.iter().map(|&b| f64::from(u8::from(b == 3 || b == 9))).collect();
        let weights = vec![2.5; cells as usize];
        assert_eq!(efficiency(&crew, &[row.clone(), batch.clone()], &weights), 0.0);
        assert!(efficiency(&crew, std::slice::from_ref(&row), &weights) > 0.5);
        let each = efficiencies(&batch, &[row], &weights);
        assert!(each.windows(2).all(|pair| pair[0].code < pair[1].code));
        assert!(each.iter().all(|level| level.efficiency > 0.5 && level.efficiency < 1.0), "{each:?}");
        assert_eq!(each.last().map(|level| level.code), Some(u32::MAX));
    }
}
