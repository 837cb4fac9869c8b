//! Groups compared on an outcome of two or more kinds, within strata.
//!
//! Letters: stratum h has the counts n(i, j) of group i and kind j, the margins r(i) and c(j), N their sum. Given the
//! margins, E n(i, j) = r(i) c(j) / N and cov(n(i, j), n(k, l)) = R(i, k) C(j, l) / (N - 1) with
//! R(i, k) = r(i) ([i = k] - r(k) / N) and C(j, l) = c(j) ([j = l] - c(l) / N) (multivariate hypergeometric).

use super::contingency::ChiSquare;
use std::collections::BTreeMap;

/// The counts of one group in one stratum, kind by kind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GroupCounts {
    pub group: u32,
    pub counts: Vec<u64>,
}

/// What is asked of the groups' counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Asked<'a> {
    /// Any difference between groups: (groups - 1) (kinds - 1) degrees of freedom.
    GeneralAssociation,
    /// A difference in the mean score, with a score for each kind: groups - 1 degrees of freedom.
    MeanScores { kinds: &'a [f64] },
    /// A straight line of the kinds' scores on the groups' (by number of the group): 1 degree of freedom.
    Correlation { groups: &'a [f64], kinds: &'a [f64] },
}

/// The generalised Cochran-Mantel-Haenszel statistic (Landis, Heyman & Koch 1978, `landis-1978`; Agresti 2002, section
/// 7.5, `agresti-2002`): with B the scores asked about and G = sum over strata of B (n - E n),
/// Q = G' [sum over strata of B cov B']^- G, chi-square where no strata are few and small.
///
/// Each stratum lists the groups that it holds. It compares within strata only, so what differs between strata costs
/// nothing; and it takes plants of a stratum for exchangeable: neighbours planted as one run are not, and then Q rejects
/// too often. None where no stratum holds two groups and two kinds. A kind or group without a score counts as 0.
pub fn generalised_cmh(strata: &[Vec<GroupCounts>], asked: &Asked) -> Option<ChiSquare> {
    let mut sums = Sums::new(strata, asked);
    strata.iter().for_each(|stratum| sums.add(stratum, asked));
    let (statistic, rank) = quadratic_form(sums.covariance, &sums.gap)?;
    Some(ChiSquare::new(statistic, rank as f64))
}

/// G and its covariance so far.
struct Sums {
    /// Place of each group among those that occur; all groups share one place where they are scored.
    places: BTreeMap<u32, usize>,
    /// Scores of each kind, one list for each comparison of kinds.
    kinds: Vec<Vec<f64>>,
    gap: Vec<f64>,
    covariance: Vec<Vec<f64>>,
}

impl Sums {
    fn new(strata: &[Vec<GroupCounts>], asked: &Asked) -> Self {
        let kinds = kind_scores(strata, asked);
        let occur = || strata.iter().flatten().map(|g| g.group);
        let places: BTreeMap<u32, usize> = match asked {
            Asked::Correlation { .. } => occur().map(|group| (group, 0)).collect(),
            _ => {
                let groups: std::collections::BTreeSet<u32> = occur().collect();
                groups.into_iter().enumerate().map(|(place, group)| (group, place)).collect()
            }
        };
        let size = places.values().max().map_or(0, |last| last + 1) * kinds.len();
        Sums { places, kinds, gap: vec![0.0; size], covariance: vec![vec![0.0; size]; size] }
    }

    fn add(&mut self, stratum: &[GroupCounts], asked: &Asked) {
        let Some(margins) = Margins::of(stratum) else { return };
        let groups: Vec<(usize, f64)> = stratum.iter().filter_map(|g| self.placed(g.group, asked)).collect();
        let expected = |q: &Vec<f64>, r: f64| r * margins.mean(q);
        let width = self.kinds.len();
        for (g, &(place, weight)) in stratum.iter().zip(&groups) {
            let r = total(&g.counts);
            for (q, scores) in self.kinds.iter().enumerate() {
                let seen: f64 = g.counts.iter().zip(scores).map(|(&n, s)| n as f64 * s).sum();
                self.gap[place * width + q] += weight * (seen - expected(scores, r));
            }
        }
        let between_kinds = margins.covariance(&self.kinds);
        for (a, &(i, first)) in groups.iter().enumerate() {
            for (b, &(k, second)) in groups.iter().enumerate() {
                let between_groups = first * second * margins.between_groups(a, b);
                for (q, row) in between_kinds.iter().enumerate() {
                    for (l, c) in row.iter().enumerate() {
                        self.covariance[i * width + q][k * width + l] += between_groups * c / (margins.n - 1.0);
                    }
                }
            }
        }
    }

    /// Place and weight of a group.
    fn placed(&self, group: u32, asked: &Asked) -> Option<(usize, f64)> {
        let place = self.places.get(&group).copied()?;
        match asked {
            Asked::Correlation { groups, .. } => Some((place, groups.get(group as usize).copied().unwrap_or(0.0))),
            _ => Some((place, 1.0)),
        }
    }
}

/// The comparisons of kinds: each against the others (one too many, which the generalised inverse leaves out), or one
/// list of scores.
fn kind_scores(strata: &[Vec<GroupCounts>], asked: &Asked) -> Vec<Vec<f64>> {
    match asked {
        Asked::GeneralAssociation => {
            let kinds = strata.iter().flatten().map(|g| g.counts.len()).max().unwrap_or(0);
            let one = |kind: usize| (0..kinds).map(|j| if j == kind { 1.0 } else { 0.0 }).collect();
            (1..kinds).map(one).collect()
        }
        Asked::MeanScores { kinds } | Asked::Correlation { kinds, .. } => vec![kinds.to_vec()],
    }
}

fn total(counts: &[u64]) -> f64 {
    counts.iter().map(|&n| n as f64).sum()
}

/// The margins of a stratum.
struct Margins {
    groups: Vec<f64>,
    kinds: Vec<f64>,
    n: f64,
}

impl Margins {
    /// None with one plant or none.
    fn of(stratum: &[GroupCounts]) -> Option<Self> {
        let groups: Vec<f64> = stratum.iter().map(|g| total(&g.counts)).collect();
        let width = stratum.iter().map(|g| g.counts.len()).max().unwrap_or(0);
        let kind = |j: usize| stratum.iter().filter_map(|g| g.counts.get(j)).map(|&n| n as f64).sum();
        let n: f64 = groups.iter().sum();
        (n > 1.0).then(|| Margins { groups, kinds: (0..width).map(kind).collect(), n })
    }

    fn mean(&self, scores: &[f64]) -> f64 {
        self.kinds.iter().zip(scores).map(|(c, s)| c * s).sum::<f64>() / self.n
    }

    /// The scores' sums of products about their means.
    fn covariance(&self, scores: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let of = |a: &[f64], b: &[f64]| {
            let products: f64 = self.kinds.iter().zip(a.iter().zip(b)).map(|(c, (x, y))| c * x * y).sum();
            products - self.n * self.mean(a) * self.mean(b)
        };
        scores.iter().map(|a| scores.iter().map(|b| of(a, b)).collect()).collect()
    }

    /// R of the groups in these places of the stratum.
    fn between_groups(&self, a: usize, b: usize) -> f64 {
        let same = if a == b { self.groups[a] } else { 0.0 };
        same - self.groups[a] * self.groups[b] / self.n
    }
}

/// A pivot below this part of its own variance is rounding.
const RANK_TOLERANCE: f64 = 1e-9;

/// v' S^- v and the rank of S, by a Cholesky factorisation that takes the largest share left first and stops where
/// nothing is left: v lies in the span of S, so that any generalised inverse gives the same value. None at rank 0.
fn quadratic_form(mut s: Vec<Vec<f64>>, v: &[f64]) -> Option<(f64, usize)> {
    let scale: Vec<f64> = s.iter().enumerate().map(|(i, row)| row[i]).collect();
    let mut left = v.to_vec();
    let mut open: Vec<usize> = (0..v.len()).filter(|&i| scale[i] > 0.0).collect();
    let (mut value, mut rank) = (0.0, 0);
    loop {
        let share = |i: usize| s[i][i] / scale[i];
        let next = open.iter().copied().max_by(|&a, &b| share(a).total_cmp(&share(b)));
        let Some(pivot) = next.filter(|&i| share(i) > RANK_TOLERANCE) else { break };
        open.retain(|&i| i != pivot);
        let (row, size, gap) = (s[pivot].clone(), s[pivot][pivot], left[pivot]);
        value += gap * gap / size;
        rank += 1;
        for &i in &open {
            let times = row[i] / size;
            left[i] -= times * gap;
            open.iter().for_each(|&k| s[i][k] -= times * row[k]);
        }
    }
    (rank > 0).then_some((value, rank))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::hypergeometric::FourFold;
    use crate::stats::stratified::mantel_haenszel;

    fn stratum(groups: &[(u32, &[u64])]) -> Vec<GroupCounts> {
        groups.iter().map(|(group, counts)| GroupCounts { group: *group, counts: counts.to_vec() }).collect()
    }

    #[test]
    fn two_by_two_is_mantel_and_haenszels() {
        let tables: [FourFold; 3] = [[[4, 9], [2, 17]], [[5, 5], [3, 9]], [[1, 14], [0, 0]]];
        let strata = tables.map(|[a, b]| stratum(&[(7, &a), (2, &b)]));
        let want = mantel_haenszel(&tables, 0.9).test.expect("a test");
        let (groups, kinds) = ([0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 3.0], [0.0, 1.0]);
        for asked in [
            Asked::GeneralAssociation,
            Asked::MeanScores { kinds: &kinds },
            Asked::Correlation { groups: &groups, kinds: &kinds },
        ] {
            let got = generalised_cmh(&strata, &asked).expect("a test");
            assert!((got.statistic - want.statistic).abs() < 1e-12 && got.df == 1.0, "{asked:?} {got:?}");
        }
    }

    #[test]
    fn groups_that_never_meet_take_no_degree_of_freedom() {
        // Groups 0 and 1 meet, 2 and 3 meet: two comparisons, whose statistics add up.
        let (first, second) = (stratum(&[(0, &[3, 9]), (1, &[6, 6])]), stratum(&[(2, &[1, 9]), (3, &[4, 6])]));
        let of = |strata: &[Vec<GroupCounts>]| generalised_cmh(strata, &Asked::GeneralAssociation).expect("a test");
        let (a, b) = (of(std::slice::from_ref(&first)), of(std::slice::from_ref(&second)));
        let both = of(&[first, second, stratum(&[(4, &[5, 5])])]);
        assert_eq!(both.df, 2.0);
        assert!((both.statistic - a.statistic - b.statistic).abs() < 1e-12);
    }

    #[test]
    fn nothing_to_compare_is_absent() {
        let none = |strata: &[Vec<GroupCounts>]| generalised_cmh(strata, &Asked::GeneralAssociation).is_none();
        assert!(none(&[]) && none(&[stratum(&[(0, &[3, 4])])]) && none(&[stratum(&[(0, &[0, 4]), (1, &[0, 2])])]));
        assert!(none(&[stratum(&[(0, &[]), (1, &[])])]) && none(&[stratum(&[(0, &[1]), (1, &[9])])]));
    }
}
