//! Every pair of levels of a factor: odds of failure, a over b, adjusted for what was planted beside them.
//!
//! One analysis a factor: bias-reduced logistic regression ([`crate::stats::firth`]) on the factor's levels and every
//! factor that can be fitted beside it; limits and p-values both from the profile of its penalised likelihood, divided
//! by the dispersion between the units of the error stratum, against Tukey's studentised range with the degrees of
//! freedom between those units. A simultaneous interval leaves 1 out exactly where its p-value is below 1 - level.
//!
//! Vines are not the units: a planted run shares its ground, and clones are told apart through their batches only.
//!
//! Not for a claim about one batch picked beforehand, where `low_alone` and `high_alone` answer; nor for levels with
//! next to no vines, whose penalised odds are drawn towards the others'; nor where levels lie in bands across the rows,
//! as deliveries that took turns may: a hollow in a band is taken for the doing of the level there (an innocent batch
//! had a p-value below 0.05 in a third of such simulated blocks), and planted runs, cut along the rows, don't show it.

mod design;
mod stratum;

use super::levels::{Level, levels};
use super::pairs::{MOST_LEVELS, PosteriorPair};
use super::stocks::Difference;
use crate::base::Known;
use crate::base::known::Why;
use crate::base::words::{fill, rates as words};
use crate::stats::adjust::{Adjustment, adjust};
use crate::stats::dispersion::Dispersion;
use crate::stats::firth::Firth;
use crate::stats::studentised_range::{StudentisedRange, student_two_sided};
use crate::tally::Tally;
use design::{Beside, Coded};
use rayon::prelude::*;
use serde::Serialize;
use std::collections::BTreeMap;
use std::f64::consts::{FRAC_1_SQRT_2, SQRT_2};
use stratum::Stratum;

/// More columns than this are not fitted in one analysis.
const MOST_COLUMNS: usize = 120;

/// A pair of levels that the data can tell apart. Odds are of failure, a over b.
#[derive(Clone, Debug, Serialize)]
pub struct Contrast {
    pub factor: String,
    pub a: String,
    pub b: String,
    pub odds_ratio: f64,
    /// Limits at the document's level for all pairs of the factor at once (Tukey).
    pub low: f64,
    pub high: f64,
    /// That the two are alike, adjusted for all pairs of the factor (Tukey).
    pub p_adjusted: f64,
    /// The same adjusted by Holm's method, which asks nothing of the pairs.
    pub p_holm: f64,
    /// For this pair alone, had it been picked before the vines were counted.
    pub p_alone: f64,
    pub low_alone: f64,
    pub high_alone: f64,
    /// How many times the variance that vines one by one would have: 1 or more.
    pub dispersion: f64,
    /// What is independent of one another: `planted run`, a factor nested in this one, or `cell`.
    pub error_stratum: String,
    /// Degrees of freedom between those units.
    pub error_df: usize,
    /// Factors whose effects are taken out.
    pub adjusted_for: Vec<String>,
    /// Factors that differ wherever the two levels do: the difference may be theirs.
    pub not_told_apart_from: Vec<String>,
    pub method: &'static str,
    pub posterior: Known<PosteriorContrast>,
}

/// The same pair by the posterior of all factors together, not adjusted for the number of pairs.
#[derive(Clone, Debug, Serialize)]
pub struct PosteriorContrast {
    pub odds_ratio: f64,
    pub low: f64,
    pub high: f64,
    /// Probability that a fails more often than b.
    pub probability_greater: f64,
    /// Rate of failure of a less that of b, had every vine been of the one or of the other.
    pub difference: Difference,
}

impl PosteriorContrast {
    fn of(pair: &PosteriorPair) -> Self {
        let Difference { value, low, high } = pair.difference;
        PosteriorContrast {
            odds_ratio: pair.odds_ratio.value,
            low: pair.odds_ratio.low,
            high: pair.odds_ratio.high,
            probability_greater: pair.probability_greater,
            difference: Difference { value: -value, low: -high, high: -low },
        }
    }
}

/// A pair that can't be told, and why.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ContrastNotTold {
    pub factor: String,
    /// Empty, as `b`, where it goes for every pair of the factor.
    pub a: String,
    pub b: String,
    #[serde(flatten)]
    pub why: Why,
}

/// All pairs of all factors.
#[derive(Clone, Debug, Default)]
pub struct Contrasts {
    pub told: Vec<Contrast>,
    pub not_told: Vec<ContrastNotTold>,
}

/// Every pair of every factor but `row` with two or more compared levels, in the order of factors and levels. `level`
/// is that of the limits.
pub fn contrasts(tally: &Tally, level: f64) -> Contrasts {
    let mut all = Contrasts::default();
    for (index, factor) in tally.factors.iter().enumerate().filter(|(_, f)| f.name != "row") {
        let compared: Vec<Level> = levels(tally, index).into_iter().filter(Level::is_compared).collect();
        if compared.len() < 2 {
            continue;
        }
        match Analysis::of(tally, index, &compared, level) {
            Ok(analysis) => all.extend(analysis.pairs()),
            Err(why) => all.not_told.push(ContrastNotTold {
                factor: factor.name.clone(),
                a: String::new(),
                b: String::new(),
                why,
            }),
        }
    }
    all
}

impl Contrasts {
    /// The same with the posterior of each pair beside it; `posterior` gives a factor's pairs.
    pub(super) fn with(mut self, posterior: impl Fn(&str) -> Option<Vec<PosteriorPair>>) -> Self {
        let mut of: BTreeMap<String, Option<Vec<PosteriorPair>>> = BTreeMap::new();
        for contrast in &mut self.told {
            let pairs = of.entry(contrast.factor.clone()).or_insert_with(|| posterior(&contrast.factor));
            let pair = pairs.iter().flatten().find(|p| p.a == contrast.a && p.b == contrast.b);
            if let Some(pair) = pair {
                contrast.posterior = Known::Value(PosteriorContrast::of(pair));
            }
        }
        self
    }

    /// Without the pairs of factors whose labels can't be dealt anew: where they lie in bands, ground that changes across
    /// the bands is taken for the levels' doing. `refused` says why of a factor.
    pub(super) fn without(self, refused: impl Fn(&str) -> Option<Why>) -> Self {
        let Contrasts { told, mut not_told } = self;
        let (kept, dropped): (Vec<Contrast>, Vec<Contrast>) =
            told.into_iter().partition(|c| refused(&c.factor).is_none());
        let of = |c: Contrast| refused(&c.factor).map(|why| ContrastNotTold { factor: c.factor, a: c.a, b: c.b, why });
        not_told.extend(dropped.into_iter().filter_map(of));
        Contrasts { told: kept, not_told }
    }

    fn extend(&mut self, pairs: Vec<Result<Contrast, ContrastNotTold>>) {
        for pair in pairs {
            match pair {
                Ok(told) => self.told.push(told),
                Err(not_told) => self.not_told.push(not_told),
            }
        }
    }
}

/// One factor's analysis; its pairs are read off.
struct Analysis<'a> {
    factor: &'a str,
    levels: &'a [Level],
    beside: Beside,
    firth: Firth,
    stratum: Stratum,
    dispersion: Dispersion,
    level: f64,
}

impl<'a> Analysis<'a> {
    fn of(tally: &'a Tally, index: usize, compared: &'a [Level], level: f64) -> Result<Self, Why> {
        let factor = tally.factors.get(index).map_or("", |f| f.name.as_str());
        if compared.len() > MOST_LEVELS {
            return Err(too_many(factor, compared.len()));
        }
        let beside = Beside::of(tally, index, compared);
        let coded = Coded::of(tally, index, compared, &beside.fitted);
        if coded.design.columns.len() > MOST_COLUMNS {
            return Err(too_wide(factor, coded.design.columns.len() - compared.len()));
        }
        let firth = coded.fit();
        let stratum = Stratum::of(tally, index, compared, &beside);
        let dispersion = stratum.dispersion(tally, &coded, &firth.fit);
        Ok(Analysis { factor, levels: compared, beside, firth, stratum, dispersion, level })
    }

    fn pairs(&self) -> Vec<Result<Contrast, ContrastNotTold>> {
        let pairs: Vec<(usize, usize)> =
            (0..self.levels.len()).flat_map(|a| (a + 1..self.levels.len()).map(move |b| (a, b))).collect();
        let Some(scale) = self.scale() else {
            return pairs.iter().map(|&(a, b)| Err(self.not_told(a, b, self.no_units(a, b)))).collect();
        };
        let told = |&(a, b): &(usize, usize)| self.pair(a, b, &scale).map_err(|why| self.not_told(a, b, why));
        let mut pairs: Vec<_> = pairs.par_iter().map(told).collect();
        let alone: Vec<f64> = pairs.iter().flatten().map(|c| c.p_alone).collect();
        let holm = adjust(&alone, Adjustment::Holm);
        pairs.iter_mut().flatten().zip(holm).for_each(|(contrast, p)| contrast.p_holm = p);
        pairs
    }

    /// None without a degree of freedom between units.
    fn scale(&self) -> Option<Scale> {
        let phi = self.dispersion.phi()?;
        let range = StudentisedRange { groups: self.levels.len() as u32, df: self.dispersion.df as f64 };
        let point = |range: StudentisedRange| range.upper_quantile(1.0 - self.level) * FRAC_1_SQRT_2;
        Some(Scale { phi, range, together: point(range), alone: point(StudentisedRange { groups: 2, ..range }) })
    }

    /// `p_holm` is left to be filled once all pairs stand.
    fn pair(&self, a: usize, b: usize, scale: &Scale) -> Result<Contrast, Why> {
        let mut profile = self.firth.profile(&self.weights(a, b)).ok_or_else(|| self.aliased(a, b))?;
        let mut limits = |critical| profile.limits(critical, scale.phi).ok_or_else(|| self.no_end());
        let (alone, together) = (limits(scale.alone)?, limits(scale.together)?);
        let root = profile.root(0.0, scale.phi);
        Ok(Contrast {
            factor: self.factor.to_string(),
            a: self.levels[a].label.clone(),
            b: self.levels[b].label.clone(),
            odds_ratio: profile.estimate.exp(),
            low: together.low.exp(),
            high: together.high.exp(),
            p_adjusted: scale.range.upper_tail(root.abs() * SQRT_2),
            p_holm: 1.0,
            p_alone: student_two_sided(root, scale.range.df),
            low_alone: alone.low.exp(),
            high_alone: alone.high.exp(),
            dispersion: scale.phi,
            error_stratum: self.stratum.name().to_string(),
            error_df: self.dispersion.df,
            adjusted_for: self.beside.names(),
            not_told_apart_from: self.beside.shared_differences(a, b),
            method: "firth_profile_tukey",
            posterior: self.no_posterior(),
        })
    }

    fn no_posterior(&self) -> Known<PosteriorContrast> {
        let reason = fill(words::CONTRAST_NO_POSTERIOR, &[("factor", &self.factor)]);
        Known::absent(reason, words::CONTRAST_NO_POSTERIOR_HELP)
    }

    /// 1 for the column of a, -1 for that of b.
    fn weights(&self, a: usize, b: usize) -> Vec<f64> {
        let of = |k| f64::from(u8::from(k == a)) - f64::from(u8::from(k == b));
        (0..self.firth.fit.columns.len()).map(of).collect()
    }

    fn not_told(&self, a: usize, b: usize, why: Why) -> ContrastNotTold {
        let label = |i: usize| self.levels.get(i).map_or_else(String::new, |l| l.label.clone());
        ContrastNotTold { factor: self.factor.to_string(), a: label(a), b: label(b), why }
    }

    fn no_units(&self, a: usize, b: usize) -> Why {
        let values: [(&str, &dyn std::fmt::Display); 4] = [
            ("factor", &self.factor),
            ("unit", &self.stratum.name()),
            ("a", &self.levels[a].label),
            ("b", &self.levels[b].label),
        ];
        Why::new(fill(words::CONTRAST_NO_UNITS, &values), fill(words::CONTRAST_NO_UNITS_HELP, &values))
    }

    fn aliased(&self, a: usize, b: usize) -> Why {
        let others = self.beside.names().join(", ");
        let values: [(&str, &dyn std::fmt::Display); 4] =
            [("factor", &self.factor), ("others", &others), ("a", &self.levels[a].label), ("b", &self.levels[b].label)];
        Why::new(fill(words::CONTRAST_ALIASED, &values), fill(words::CONTRAST_ALIASED_HELP, &values))
    }

    fn no_end(&self) -> Why {
        let values: [(&str, &dyn std::fmt::Display); 3] =
            [("factor", &self.factor), ("unit", &self.stratum.name()), ("df", &self.dispersion.df)];
        Why::new(fill(words::CONTRAST_NO_END, &values), fill(words::CONTRAST_NO_END_HELP, &values))
    }
}

/// What the roots of the likelihood ratios are held against.
struct Scale {
    phi: f64,
    range: StudentisedRange,
    /// Critical values of the root: for all pairs at once, and for one.
    together: f64,
    alone: f64,
}

fn too_many(factor: &str, levels: usize) -> Why {
    let values: [(&str, &dyn std::fmt::Display); 3] =
        [("factor", &factor), ("levels", &levels), ("most", &MOST_LEVELS)];
    Why::new(fill(words::CONTRAST_MANY, &values), words::CONTRAST_MANY_HELP)
}

fn too_wide(factor: &str, beside: usize) -> Why {
    let values: [(&str, &dyn std::fmt::Display); 3] =
        [("factor", &factor), ("beside", &beside), ("most", &MOST_COLUMNS)];
    Why::new(fill(words::CONTRAST_WIDE, &values), words::CONTRAST_WIDE_HELP)
}
