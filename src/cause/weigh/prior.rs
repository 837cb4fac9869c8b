//! What is held plausible before the counts are seen: rows `explanation.*` of the assumptions.

use super::evidence::Hyper;
use super::verdict::Rule;
use crate::base::{Assumptions, Quantity};

/// Prior odds of the explanations (probabilities, normalised over what a block has), and what is held plausible of base
/// rate and effects.
#[derive(Clone, Debug, PartialEq)]
pub struct Prior {
    pub chance: f64,
    pub batch: f64,
    pub row: f64,
    pub place: f64,
    pub order: f64,
    /// Clone, rootstock, variety, edge and declared factors together, shared evenly.
    pub others: f64,
    /// All pairs of batch, row, place, order and one other together, shared in proportion to the product of the two.
    /// A block that lacks one of them lacks its share, so that one more explanation moves none of the others.
    pub pairs: f64,
    /// Stand without any effect, in (0, 1).
    pub base_stand: Quantity,
    /// Standard deviation of effects of all levels, logit, that is exceeded one time in ten.
    pub once_in_ten: f64,
    /// Standard deviation of the effect of one odd level, hollow or step, logit.
    pub odd_sd: f64,
    /// Probability of one odd level (of rows: one or two; of the ground: one hollow) instead of effects of all.
    pub odd_level: f64,
    /// Probability that an odd row is odd from some place on only, to one of its ends.
    pub row_part: f64,
    /// Probability that what follows the planting order changed with the batch, where each was planted in one go.
    pub order_with_batch: f64,
    /// Least and greatest range of a field, as shares of the block's shorter side.
    pub field_range: (f64, f64),
    /// Least radius of a hollow, metres.
    pub hollow_radius_m: f64,
    /// Share of the planters' walk at either end where no step is looked for, below a half.
    pub step_from: f64,
    pub rule: Rule,
}

impl Default for Prior {
    fn default() -> Self {
        Prior::new(&Assumptions::default())
    }
}

impl Prior {
    pub fn new(assumptions: &Assumptions) -> Self {
        let of = |name: &str| assumptions.get(&format!("explanation.{name}"));
        Prior {
            chance: of("prior.chance"),
            batch: of("prior.batch"),
            row: of("prior.row"),
            place: of("prior.place"),
            order: of("prior.order"),
            others: of("prior.others"),
            pairs: of("prior.pairs"),
            base_stand: assumptions.quantity("explanation.base_stand"),
            once_in_ten: of("effect_sd_once_in_ten"),
            odd_sd: of("odd_effect_sd"),
            odd_level: of("odd_level"),
            row_part: of("row_part"),
            order_with_batch: of("order_with_batch"),
            field_range: (of("field_range.least"), of("field_range.most")),
            hollow_radius_m: of("hollow_radius"),
            step_from: of("step_from"),
            rule: Rule::new(assumptions),
        }
    }

    /// The constant, ln odds of failure without any effect, is normal: minus the logit of the stand.
    pub(super) fn hyper(&self) -> Hyper {
        let (mean, sd) = self.base_stand.logit_normal();
        Hyper::new((-mean, sd), self.once_in_ten, self.odd_sd)
    }

    /// Odds of the single explanations of these names.
    pub(super) fn singles(&self, names: &[&str]) -> Vec<f64> {
        let own = |name: &str| match name {
            "batch" => Some(self.batch),
            "row" => Some(self.row),
            "place" => Some(self.place),
            "order" => Some(self.order),
            _ => None,
        };
        let others = names.iter().filter(|n| own(n).is_none()).count().max(1) as f64;
        names.iter().map(|n| own(n).unwrap_or(self.others / others).max(0.0)).collect()
    }

    /// The pairs of single explanations with these odds.
    pub(super) fn of_pairs(&self, singles: &[f64]) -> Vec<Pair> {
        let n = singles.len();
        let product = |i: usize, j: usize| Pair { members: (i, j), odds: singles[i] * singles[j] };
        let mut pairs: Vec<Pair> = (0..n).flat_map(|i| (i + 1..n).map(move |j| product(i, j))).collect();
        let all = self.products();
        pairs.iter_mut().for_each(|p| p.odds = if all > 0.0 { self.pairs * p.odds / all } else { 0.0 });
        pairs
    }

    /// Products of all pairs of the single explanations that a block can have, the others taken for one.
    fn products(&self) -> f64 {
        let all = [self.batch, self.row, self.place, self.order, self.others].map(|odds| odds.max(0.0));
        let sum: f64 = all.iter().sum();
        0.5 * (sum * sum - all.iter().map(|odds| odds * odds).sum::<f64>())
    }
}

/// Two explanations together, by index, with their prior odds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pair {
    pub members: (usize, usize),
    pub odds: f64,
}
