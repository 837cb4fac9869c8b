//! The factors beside each other: nesting, connectedness, rank, aliases, and what they explain in common.

use super::grid::Grid;
use super::level::Times;
use super::sentence::{named, times};
use crate::base::Known;
use crate::base::known::Why;
use crate::base::words::list::{list, plural};
use crate::base::words::{fill, rates as words};
use crate::block::Code;
use crate::stats::deviance_split::deviance_split;
use crate::stats::estimable::{Alias, Span};
use crate::stats::incidence::{Components, components};
use serde::Serialize;

/// How the factors lie to each other, by the vines seen.
#[derive(Clone, Debug, Default, Serialize)]
pub struct ToldApart {
    /// Those of which two levels or more were seen.
    pub factors: Vec<Relations>,
    /// Columns of the design with all factors: the constant, and each factor's levels but one. Unlabelled vines are a
    /// level of their own.
    pub columns: usize,
    /// How many of them stand for themselves.
    pub rank: usize,
    /// Levels that equal a sum of others: factors with most levels go first, so that a clone is the sum of its
    /// batches. The first level of each factor is left out: it is what the others leave.
    pub aliased: Vec<AliasedLevel>,
    pub deviance_split: Vec<Split>,
    /// What follows from it, in words, with what would change it.
    pub notes: Vec<Why>,
}

/// A factor beside the others; vines without a sound label in either are left aside.
#[derive(Clone, Debug, Serialize)]
pub struct Relations {
    pub factor: String,
    pub levels: usize,
    /// Coarser factors: each level of this one lies in a single level of theirs.
    pub nested_in: Vec<String>,
    /// Factors that divide the vines alike.
    pub same_as: Vec<String>,
    pub components_with: Vec<Joined>,
    /// The finest factor within this one, whose levels are what this one's levels are compared by.
    pub error_stratum: Known<String>,
}

/// Two factors' incidence graph.
#[derive(Clone, Debug, Serialize)]
pub struct Joined {
    pub factor: String,
    /// Parts without a vine in common: 1 where every level can be compared with every other.
    pub components: usize,
}

/// A level that equals a sum of others.
#[derive(Clone, Debug, Serialize)]
pub struct AliasedLevel {
    pub factor: String,
    pub level: String,
    pub equals: Vec<Times>,
}

/// What two factors explain of the failures each by itself and in common, as deviance (twice the ln likelihood).
#[derive(Clone, Debug, Serialize)]
pub struct Split {
    pub factor: String,
    pub other: String,
    /// Of the factor beside the other.
    pub unique: f64,
    pub unique_df: usize,
    /// Of the other beside the factor.
    pub other_unique: f64,
    pub other_unique_df: usize,
    /// May belong to either. Negative where each hides what the other shows.
    pub common: f64,
}

pub(super) fn told(grid: &Grid) -> ToldApart {
    let varied = grid.varied();
    let ordered = grid.most_levels_first(0..grid.codes.len());
    let codes: Vec<&[Code]> = ordered.iter().map(|&factor| grid.codes[factor].as_slice()).collect();
    let span = Span::new(&codes, &grid.seen);
    ToldApart {
        factors: varied.iter().map(|&factor| relations(grid, factor, &varied)).collect(),
        columns: span.columns(),
        rank: span.rank(),
        aliased: span.aliased().iter().map(|alias| aliased(grid, &span, alias, &ordered)).collect(),
        deviance_split: pairs(&varied).filter_map(|(factor, other)| split(grid, factor, other)).collect(),
        notes: notes(grid, &varied),
    }
}

fn pairs(factors: &[usize]) -> impl Iterator<Item = (usize, usize)> {
    factors.iter().enumerate().flat_map(|(i, &a)| factors[i + 1..].iter().map(move |&b| (a, b)))
}

fn relations(grid: &Grid, factor: usize, varied: &[usize]) -> Relations {
    let others: Vec<usize> = varied.iter().copied().filter(|&other| other != factor).collect();
    let name = |other: &usize| grid.name(*other).to_string();
    let coarser = |other: &&usize| grid.is_nested(factor, **other) && !grid.is_same(factor, **other);
    let joined = |other: &usize| Joined { factor: name(other), components: joined(grid, factor, *other).count };
    let filled = |sentence| fill(sentence, &[("factor", &grid.name(factor))]);
    let stratum = grid.error_stratum(factor);
    Relations {
        factor: name(&factor),
        levels: grid.levels(factor),
        nested_in: others.iter().filter(coarser).map(name).collect(),
        same_as: others.iter().filter(|other| grid.is_same(factor, **other)).map(name).collect(),
        components_with: others.iter().map(joined).collect(),
        error_stratum: Known::from_option(
            stratum.as_ref().map(name),
            filled(words::NO_STRATUM),
            words::NO_STRATUM_HELP,
        ),
    }
}

/// Of the vines labelled in both.
fn joined(grid: &Grid, a: usize, b: usize) -> Components {
    let both = |(cell, seen): (usize, &f64)| {
        let labelled = grid.known[a][cell] != Code::MAX && grid.known[b][cell] != Code::MAX;
        if labelled { *seen } else { 0.0 }
    };
    let weights: Vec<f64> = grid.seen.iter().enumerate().map(both).collect();
    components(&[&grid.known[a], &grid.known[b]], &weights)
}

fn aliased(grid: &Grid, span: &Span, alias: &Alias, ordered: &[usize]) -> AliasedLevel {
    let term = |factor: usize, code, number| times(grid, (ordered[factor], code, number));
    let Times { factor, level, .. } = term(alias.factor, alias.code, 1.0);
    let equals = span.in_few_levels(alias);
    AliasedLevel { factor, level, equals: equals.iter().map(|t| term(t.factor, t.code, t.times)).collect() }
}

fn split(grid: &Grid, factor: usize, other: usize) -> Option<Split> {
    let count =
        |of: fn(&crate::tally::Counts) -> u64| grid.tally.cells.iter().map(|c| of(&c.counts)).collect::<Vec<_>>();
    let (failed, seen) = (count(|c| c.failed), count(|c| c.seen));
    let split = deviance_split(&grid.known[factor], &grid.known[other], &failed, &seen)?;
    Some(Split {
        factor: grid.name(factor).to_string(),
        other: grid.name(other).to_string(),
        unique: split.unique,
        unique_df: split.unique_df,
        other_unique: split.other_unique,
        other_unique_df: split.other_unique_df,
        common: split.common,
    })
}

fn notes(grid: &Grid, varied: &[usize]) -> Vec<Why> {
    let nested = varied.iter().filter_map(|&outer| Some(nested_note(grid, grid.error_stratum(outer)?, outer)));
    let same = pairs(varied).filter(|&(a, b)| grid.is_same(a, b)).map(|(a, b)| same_note(grid, a, b));
    let groups = pairs(varied).filter_map(|(a, b)| groups_note(grid, a, b));
    nested.chain(same).chain(groups).collect()
}

fn nested_note(grid: &Grid, inner: usize, outer: usize) -> Why {
    let (inner_name, outer_name, n) = (grid.name(inner), grid.name(outer), grid.levels(inner));
    let (inners, outers) = (plural(inner_name), plural(outer_name));
    let values: [(&str, &dyn std::fmt::Display); 5] =
        [("inner", &inner_name), ("outer", &outer_name), ("inners", &inners), ("outers", &outers), ("n", &n)];
    Why::new(fill(words::NESTED, &values), fill(words::NESTED_HELP, &values))
}

fn same_note(grid: &Grid, factor: usize, other: usize) -> Why {
    let (factor, other) = (grid.name(factor), grid.name(other));
    let (factors, others) = (plural(factor), plural(other));
    let values: [(&str, &dyn std::fmt::Display); 4] =
        [("factor", &factor), ("other", &other), ("factors", &factors), ("others", &others)];
    Why::new(fill(words::SAME_SPLIT, &values), fill(words::SAME_SPLIT_HELP, &values))
}

/// Where neither factor lies within the other, and still not all levels are joined.
fn groups_note(grid: &Grid, a: usize, b: usize) -> Option<Why> {
    let (factor, other) = if grid.levels(a) <= grid.levels(b) { (a, b) } else { (b, a) };
    let joined = joined(grid, factor, other);
    if joined.count < 2 || grid.is_nested(a, b) || grid.is_nested(b, a) {
        return None;
    }
    let of_group = |group: usize| {
        let levels = joined.of.first().into_iter().flatten().filter(move |(_, of)| **of == group);
        named(grid, factor, &levels.map(|(code, _)| *code).collect::<Vec<Code>>())
    };
    let groups = list(&(0..joined.count).map(of_group).collect::<Vec<_>>(), MOST_GROUPS);
    let (factors, others) = (plural(grid.name(factor)), plural(grid.name(other)));
    let values: [(&str, &dyn std::fmt::Display); 4] =
        [("factors", &factors), ("others", &others), ("n", &joined.count), ("groups", &groups)];
    Some(Why::new(fill(words::GROUPS, &values), fill(words::GROUPS_HELP, &values)))
}

/// Groups named in a sentence.
const MOST_GROUPS: usize = 4;
