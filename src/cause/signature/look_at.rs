//! Which checks tell most apart here, and at which vines.

use super::checks::{At, CHECKS, Check};
use super::table::Cause;
use crate::block::State;
use crate::tally::{Field, Outcome, Point, Standing, Tally};
use serde::Serialize;
use std::collections::HashMap;

/// A check worth making here.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LookAt {
    pub check: &'static str,
    /// What to do.
    pub how: &'static str,
    /// The causes still in play that it tells apart.
    pub tells_apart: Vec<Cause>,
    /// What one may find, and what that would speak for.
    pub findings: Vec<FindingThere>,
    /// Vines to look at, row and position; empty where papers are looked at or single vines aren't known.
    #[serde(rename = "where")]
    pub places: Vec<(String, u32)>,
    /// Living vines beside them, to compare with.
    pub compare_with: Vec<(String, u32)>,
    /// Vines that it concerns in all.
    pub vines: u64,
    /// Pairs of causes in play that it tells apart, times the vines concerned: checks are ordered by it.
    pub weight: f64,
    pub caution: &'static str,
    pub source: &'static str,
}

/// What one may find.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindingThere {
    pub found: &'static str,
    pub speaks_for: Vec<Cause>,
}

/// The checks that tell apart causes still in play, most telling first.
///
/// The rule: two causes are told apart by a check if it would find different things under them. A check weighs as many
/// pairs of causes in play as it tells apart, times the vines it concerns; of equal ones, the cheaper comes first.
pub(super) fn look_at(tally: &Tally, in_play: &[Cause], vines: usize) -> Vec<LookAt> {
    let places = Places::of(tally);
    let mut list: Vec<LookAt> = CHECKS.iter().filter_map(|c| places.check(c, in_play, vines)).collect();
    list.sort_by(|a, b| b.weight.total_cmp(&a.weight)); // stable: the table goes from cheap to dear
    list
}

/// Pairs of causes from different findings.
fn pairs(findings: &[FindingThere]) -> usize {
    let sizes = || findings.iter().map(|f| f.speaks_for.len());
    let all: usize = sizes().sum();
    (all * all - sizes().map(|n| n * n).sum::<usize>()) / 2
}

/// Vines by how they failed, row by row.
pub(in crate::cause) struct Places<'a> {
    tally: &'a Tally,
    labels: &'a [String],
    row_at: Option<usize>,
    /// Failed vines of the first planting that still stand.
    failed: Vec<(&'a Point, State)>,
    living: HashMap<(u32, u32), &'a Point>,
}

impl<'a> Places<'a> {
    pub(in crate::cause) fn of(tally: &'a Tally) -> Self {
        let row_at = tally.factors.iter().position(|f| f.name == "row");
        let labels = row_at.and_then(|at| tally.factors.get(at)).map_or(&[][..], |f| &f.levels);
        let points: &[Point] = tally.field.as_ref().map_or(&[], |f| &f.points);
        let standing = tally.field.as_ref().map(standing).unwrap_or_default();
        let still = |p: &&Point| standing.contains_key(&p.vine);
        let state = |p: &'a Point| match tally.outcomes.get(p.vine as usize) {
            Some(Outcome::Failed(state)) => Some((p, *state)),
            _ => None,
        };
        let failed = points.iter().filter(still).filter_map(state).collect();
        let alive = points.iter().filter(|p| !p.failed && standing.get(&p.vine) == Some(&Standing::Alive));
        let living = alive.map(|p| ((p.place.row, p.place.position), p)).collect();
        Places { tally, labels, row_at, failed, living }
    }

    fn check(&self, check: &Check, in_play: &[Cause], vines: usize) -> Option<LookAt> {
        let finding = |f: &super::checks::Finding| FindingThere {
            found: f.found,
            speaks_for: f.causes.iter().copied().filter(|cause| in_play.contains(cause)).collect(),
        };
        let findings: Vec<FindingThere> =
            check.findings.iter().map(finding).filter(|f| !f.speaks_for.is_empty()).collect();
        let concerned = self.concerned(check.at);
        let weight = pairs(&findings) as f64 * concerned as f64;
        let chosen = spread(&self.at(check.at), vines);
        (weight > 0.0).then(|| LookAt {
            check: check.name,
            how: check.how,
            tells_apart: told_apart(&findings),
            findings,
            compare_with: chosen.iter().filter_map(|p| self.beside(p)).map(|p| self.named(p)).collect(),
            places: chosen.iter().map(|p| self.named(p)).collect(),
            vines: concerned,
            weight,
            caution: check.caution,
            source: check.basis.text(),
        })
    }

    /// How many vines a check is about, single vines known or not.
    fn concerned(&self, at: At) -> u64 {
        let total = &self.tally.total;
        let told = total.failed.saturating_sub(total.missing);
        match at {
            At::Failed | At::Papers => told,
            At::NeverGrew => told.saturating_sub(total.died),
            At::DiedLater => told.saturating_sub(total.never_grew),
            At::Missing => total.missing,
        }
    }

    /// Those of them that can still be looked at; vines whose kind isn't told may be of either.
    fn at(&self, at: At) -> Vec<&'a Point> {
        let is = |state: State| match at {
            At::Papers => false,
            At::Failed => state != State::Missing,
            At::NeverGrew => matches!(state, State::NoBudburst | State::Dead | State::ScionDead),
            At::DiedLater => matches!(state, State::Died | State::Dead | State::ScionDead),
            At::Missing => state == State::Missing,
        };
        self.failed.iter().filter(|(_, state)| is(*state)).map(|(p, _)| *p).collect()
    }

    /// The nearest living vine of the row, the lower position first.
    fn beside(&self, point: &Point) -> Option<&'a Point> {
        let (row, position) = (point.place.row, point.place.position);
        let at = |position: Option<u32>| position.and_then(|p| self.living.get(&(row, p)).copied());
        (1..=FARTHEST).find_map(|d| at(position.checked_sub(d)).or_else(|| at(position.checked_add(d))))
    }

    /// At most `n` failed vines still standing in a row, of those that `belongs` keeps, evenly along it.
    pub(in crate::cause) fn failed_in_row(
        &self,
        row: u32,
        belongs: impl Fn(&Point) -> bool,
        n: usize,
    ) -> Vec<(String, u32)> {
        let in_row = |p: &&Point| self.row_at.and_then(|at| p.codes.get(at)) == Some(&row) && belongs(p);
        let standing = self.failed.iter().filter(|(_, state)| *state != State::Missing).map(|(p, _)| *p);
        let points: Vec<&Point> = standing.filter(in_row).collect();
        spread(&points, n).into_iter().map(|p| self.named(p)).collect()
    }

    fn named(&self, point: &Point) -> (String, u32) {
        let code = self.row_at.and_then(|at| point.codes.get(at)).copied().unwrap_or(u32::MAX);
        (self.labels.get(code as usize).cloned().unwrap_or_default(), point.place.position)
    }
}

/// Places away up to which a living vine is looked for.
const FARTHEST: u32 = 50;

/// What stands where the vine of the first planting does.
fn standing(field: &Field) -> HashMap<u32, Standing> {
    field.places.iter().filter_map(|p| Some((p.vine?, p.standing))).collect()
}

/// The causes, where more than one finding is open.
fn told_apart(findings: &[FindingThere]) -> Vec<Cause> {
    let mut causes: Vec<Cause> = findings.iter().flat_map(|f| f.speaks_for.iter().copied()).collect();
    causes.sort_unstable();
    causes.dedup();
    causes
}

/// At most `n` of them, evenly over the block.
fn spread<'a>(points: &[&'a Point], n: usize) -> Vec<&'a Point> {
    let take = n.min(points.len());
    (0..take).filter_map(|i| points.get((2 * i + 1) * points.len() / (2 * take)).copied()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pairs_are_counted_across_findings_only() {
        let finding = |n: usize| FindingThere { found: "", speaks_for: vec![Cause::Soil; n] };
        assert_eq!(pairs(&[finding(1), finding(2), finding(3)]), 2 + 3 + 6);
        assert_eq!(pairs(&[finding(4)]), 0);
    }
}
