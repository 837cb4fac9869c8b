//! Counts of a mark in small rectangles of a grid (quadrats), and how much more they differ than by chance.
//!
//! Letters: Q quadrats of n sites of which x are marked, T = sum of x, p = T / sum of n, m and s2 the mean and variance
//! (Q - 1 below) of x. D = X2 / (Q - 1) with X2 = sum of (x - n p)^2 / (n p (1 - p)); with equal n that is
//! s2 / (n p (1 - p)), 1 under chance. Variance to mean s2 / m; mean crowding m* = m + s2/m - 1 and patchiness m*/m
//! (Lloyd 1967, `lloyd-1967`); Q sum of x (x - 1) / (T (T - 1)) (Morisita 1959, `morisita-1959`). The last four take
//! counts without a bound (Poisson): where many of few sites are marked, read D. For C(alpha) see
//! [`crate::stats::betabinomial::tarone`], for rho [`crate::stats::betabinomial::fit()`].

use super::grid::{Line, Site};
use crate::stats::betabinomial::{Count, homogeneity, tarone};
use serde::Serialize;
use std::collections::BTreeMap;

/// Lines and steps of a quadrat, both at least 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct QuadratSize {
    pub lines: u32,
    pub steps: u32,
}

impl QuadratSize {
    /// About `sites` sites, as square on the ground as whole lines and steps allow.
    pub fn square(sites: f64, line_spacing: f64, step_spacing: f64) -> Self {
        let ratio = step_spacing / line_spacing;
        let ratio = if ratio.is_finite() && ratio > 0.0 { ratio } else { 1.0 };
        let lines = (sites * ratio).sqrt().round().clamp(1.0, sites.max(1.0));
        QuadratSize { lines: lines as u32, steps: (sites / lines).round().max(1.0) as u32 }
    }
}

/// The quadrat of each site, numbered from 0 without gaps. The lines between two gaps, and the steps, are divided
/// evenly into as many pieces as come nearest to `size`.
pub fn quadrats(sites: &[Site], lines: &[Line], size: QuadratSize) -> Vec<u32> {
    let bands = bands(sites, lines, size.lines);
    let line = |index: u32| lines.get(index as usize).copied().unwrap_or_default();
    let step = |site: &Site| i64::from(site.step) + i64::from(line(site.line).offset);
    let (first, last) = (sites.iter().map(step).min(), sites.iter().map(step).max());
    let (first, last) = (first.unwrap_or(0), last.unwrap_or(0));
    let key = |site: &Site| (bands.get(&site.line).copied(), piece(step(site), (first, last), size.steps));
    let mut numbers: BTreeMap<_, u32> = sites.iter().map(|site| (key(site), 0)).collect();
    numbers.values_mut().zip(0..).for_each(|(number, index)| *number = index);
    sites.iter().map(|site| numbers.get(&key(site)).copied().unwrap_or(0)).collect()
}

/// Which piece of first..=last, divided evenly into pieces of about `size`, `at` lies in.
fn piece(at: i64, (first, last): (i64, i64), size: u32) -> u64 {
    let (span, size) = ((last - first + 1) as u128, u128::from(size.max(1)));
    let pieces = ((2 * span + size) / (2 * size)).max(1);
    ((at - first) as u128 * pieces / span) as u64
}

/// The section between gaps, and the band of it, that each line in use belongs to.
fn bands(sites: &[Site], lines: &[Line], size: u32) -> BTreeMap<u32, (usize, u64)> {
    let mut used: Vec<u32> = sites.iter().map(|site| site.line).collect();
    used.sort_unstable();
    used.dedup();
    let gaps: Vec<u32> = (0..).zip(lines).filter(|(_, line)| line.gap_before).map(|(index, _)| index).collect();
    let section = |line: u32| gaps.partition_point(|gap| *gap <= line);
    let mut bands = BTreeMap::new();
    for together in used.chunk_by(|a, b| section(*a) == section(*b)) {
        let ends = (i64::from(together[0]), i64::from(together[together.len() - 1]));
        bands.extend(together.iter().map(|&line| (line, (section(line), piece(line.into(), ends, size)))));
    }
    bands
}

/// Sites and marked sites of each quadrat.
pub fn quadrat_counts(quadrats: &[u32], marked: impl Fn(usize) -> bool) -> Vec<Count> {
    let number = quadrats.iter().max().map_or(0, |last| *last as usize + 1);
    let mut counts = vec![Count { x: 0, n: 0 }; number];
    for (site, &quadrat) in quadrats.iter().enumerate() {
        counts[quadrat as usize].n += 1;
        counts[quadrat as usize].x += u64::from(marked(site));
    }
    counts
}

/// Indices of dispersion.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct QuadratIndices {
    pub quadrats: u64,
    pub mean: f64,
    pub variance: f64,
    /// D.
    pub dispersion: f64,
    pub chi_square: f64,
    pub df: f64,
    pub p_value: f64,
    /// Tarone's Z: the C(alpha) test.
    pub c_alpha: f64,
    pub variance_to_mean: f64,
    pub mean_crowding: f64,
    pub patchiness: f64,
    /// None with fewer than two marks.
    pub morisita: Option<f64>,
}

/// The indices; None with fewer than two quadrats, or where all sites or none are marked.
pub fn quadrat_indices(counts: &[Count]) -> Option<QuadratIndices> {
    let (pearson, tarone) = (homogeneity(counts)?, tarone(counts)?);
    let number = counts.len() as f64;
    let total = counts.iter().map(|c| c.x as f64).sum::<f64>();
    let mean = total / number;
    let variance = counts.iter().map(|c| (c.x as f64 - mean).powi(2)).sum::<f64>() / (number - 1.0);
    let pairs = counts.iter().map(|c| c.x as f64 * (c.x as f64 - 1.0)).sum::<f64>();
    let crowding = mean + variance / mean - 1.0;
    Some(QuadratIndices {
        quadrats: counts.len() as u64,
        mean,
        variance,
        dispersion: pearson.phi,
        chi_square: pearson.x2,
        df: pearson.df,
        p_value: pearson.p_value,
        c_alpha: tarone.z,
        variance_to_mean: variance / mean,
        mean_crowding: crowding,
        patchiness: crowding / mean,
        morisita: (total > 1.0).then(|| number * pairs / (total * (total - 1.0))),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(lines: u32, steps: i32) -> Vec<Site> {
        (0..lines).flat_map(|line| (1..=steps).map(move |step| Site { line, step })).collect()
    }

    #[test]
    fn quadrats_start_anew_behind_a_gap() {
        let size = QuadratSize { lines: 2, steps: 3 };
        assert_eq!(quadrats(&grid(2, 6), &[], size), [0, 0, 0, 1, 1, 1, 0, 0, 0, 1, 1, 1]);
        let gap = [Line::default(), Line { gap_before: true, offset: 0 }];
        assert_eq!(quadrats(&grid(3, 1), &gap, size), [0, 1, 1]);
        assert_eq!(quadrats(&[], &[], size), Vec::<u32>::new());
        // 5 lines are nearer to two bands of two than to three, 8 steps to three pieces of three.
        let uneven: Vec<u32> = quadrats(&grid(5, 8), &[], size);
        assert_eq!(uneven[..8], [0, 0, 0, 1, 1, 1, 2, 2]);
        assert_eq!(uneven.iter().max(), Some(&8));
        let far = [Site { line: u32::MAX, step: i32::MAX }, Site { line: 0, step: i32::MIN }];
        assert_eq!(quadrats(&far, &[], QuadratSize { lines: 0, steps: 0 }), [1, 0]);
    }

    #[test]
    fn quadrats_are_as_square_as_can_be() {
        assert_eq!(QuadratSize::square(15.0, 2.5, 1.0), QuadratSize { lines: 2, steps: 8 });
        assert_eq!(QuadratSize::square(15.0, 1.0, 1.0), QuadratSize { lines: 4, steps: 4 });
        assert_eq!(QuadratSize::square(15.0, 1000.0, 1.0), QuadratSize { lines: 1, steps: 15 });
        assert_eq!(QuadratSize::square(15.0, f64::NAN, 0.0), QuadratSize { lines: 4, steps: 4 });
    }
}
