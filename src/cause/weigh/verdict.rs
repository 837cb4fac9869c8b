//! The verdict: an explanation, or that these data can't tell.

use super::Explanation;
use crate::base::Assumptions;
use serde::Serialize;

/// The verdict's name, and between what it can't be told.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Verdict {
    pub name: String,
    pub between: Vec<String>,
}

/// Another verdict where one explanation was held likelier, or less likely, before the counts.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Moved {
    pub explanation: String,
    /// Its prior odds, and those of pairs that hold it, times this.
    pub prior_times: f64,
    pub verdict: String,
}

impl Verdict {
    /// The same, but that it can't be told between batch and row where the batch would be named.
    pub(super) fn without_accusing(self) -> Self {
        let accused = self.name.split('+').any(|n| n == "batch");
        let between = || ["batch", "row"].map(String::from).to_vec();
        if accused { Verdict { name: CANNOT_TELL.into(), between: between() } } else { self }
    }
}

pub(super) const CANNOT_TELL: &str = "cannot_tell";
/// From what probabilities on a verdict is given: assumptions `verdict.*`, each in (0, 1).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rule {
    /// Of an explanation to be the verdict.
    pub majority: f64,
    /// Of all explanations with the batch together before one of them is the verdict.
    pub accused_from: f64,
    /// Of the names together between which it can't be told.
    pub covered: f64,
}

impl Rule {
    pub fn new(assumptions: &Assumptions) -> Self {
        let of = |name: &str| assumptions.get(&format!("verdict.{name}"));
        Rule { majority: of("majority"), accused_from: of("accused_from"), covered: of("covered") }
    }
}

/// The likeliest explanation if it has the majority and, where it holds the batch, all explanations with the batch come to
/// what it takes to accuse. Otherwise it can't be told, between the fewest single names whose explanations cover enough;
/// of as many names those that come to most.
pub(super) fn verdict(explanations: &[Explanation], rule: &Rule) -> Option<Verdict> {
    let top = explanations.iter().max_by(|a, b| a.probability.total_cmp(&b.probability))?;
    let with_batch = |e: &&Explanation| holds(e, "batch");
    let accused: f64 = explanations.iter().filter(with_batch).map(|e| e.probability).sum();
    if top.probability >= rule.majority && (!holds(top, "batch") || accused >= rule.accused_from) {
        return Some(Verdict { name: top.name.clone(), between: Vec::new() });
    }
    Some(Verdict { name: CANNOT_TELL.into(), between: between(explanations, rule) })
}

/// What the verdict would be with the prior odds of each single explanation halved or doubled, where it changes.
pub(super) fn moved(explanations: &[Explanation], verdict: &str, rule: &Rule) -> Vec<Moved> {
    let names = explanations.iter().map(|e| e.name.as_str()).filter(|n| !n.contains('+'));
    let one = |(name, times): (&str, f64)| {
        let verdict = self::verdict(&reweighed(explanations, name, times), rule)?.name;
        Some(Moved { explanation: name.into(), prior_times: times, verdict })
    };
    names.flat_map(|name| [(name, 0.5), (name, 2.0)]).filter_map(one).filter(|m| m.verdict != verdict).collect()
}

/// Probabilities with the prior odds of what holds a name times this.
fn reweighed(explanations: &[Explanation], name: &str, times: f64) -> Vec<Explanation> {
    let weight = |e: &Explanation| e.probability * if holds(e, name) { times } else { 1.0 };
    let all: f64 = explanations.iter().map(weight).sum();
    explanations.iter().map(|e| Explanation { probability: weight(e) / all, ..e.clone() }).collect()
}

fn holds(explanation: &Explanation, name: &str) -> bool {
    explanation.name.split('+').any(|n| n == name)
}

fn between(explanations: &[Explanation], rule: &Rule) -> Vec<String> {
    let names: Vec<&str> = explanations.iter().map(|e| e.name.as_str()).filter(|n| !n.contains('+')).collect();
    for size in 2..names.len() {
        let sets = subsets(names.len(), size).into_iter().map(|set| (covered(explanations, &names, &set), set));
        let best = sets.max_by(|a, b| a.0.total_cmp(&b.0).then_with(|| b.1.cmp(&a.1)));
        if let Some((_, set)) = best.filter(|(covered, _)| *covered >= rule.covered) {
            return set.into_iter().map(|i| names[i].to_string()).collect();
        }
    }
    names.into_iter().map(String::from).collect()
}

/// Probability of the explanations made of these names only.
fn covered(explanations: &[Explanation], names: &[&str], set: &[usize]) -> f64 {
    let among = |e: &&Explanation| e.name.split('+').all(|n| set.iter().any(|&i| names[i] == n));
    explanations.iter().filter(among).map(|e| e.probability).sum()
}

/// All sets of `size` of the numbers below `n`, in order.
fn subsets(n: usize, size: usize) -> Vec<Vec<usize>> {
    if size == 0 {
        return vec![Vec::new()];
    }
    let with_last = |last: usize| {
        subsets(last, size - 1).into_iter().map(move |mut set| {
            set.push(last);
            set
        })
    };
    (0..n).flat_map(with_last).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rule() -> Rule {
        Rule::new(&Assumptions::default())
    }

    fn of(list: &[(&str, f64)]) -> Verdict {
        let explanation = |&(name, probability): &(&str, f64)| Explanation { probability, ..Explanation::named(name) };
        verdict(&list.iter().map(explanation).collect::<Vec<_>>(), &rule()).unwrap()
    }

    #[test]
    fn a_majority_is_enough_unless_a_batch_is_accused() {
        assert_eq!(of(&[("chance", 0.3), ("row", 0.55), ("batch", 0.15)]).name, "row");
        assert_eq!(of(&[("chance", 0.04), ("batch", 0.6), ("batch+place", 0.36)]).name, "batch");
        let doubt = of(&[("chance", 0.02), ("batch", 0.6), ("place", 0.2), ("batch+place", 0.18)]);
        assert_eq!((doubt.name.as_str(), doubt.between), (CANNOT_TELL, vec!["batch".to_string(), "place".into()]));
    }

    #[test]
    fn a_verdict_moves_with_the_prior_only_where_it_is_close() {
        let of = |list: [(&str, f64); 3]| {
            let list = list.map(|(name, probability)| Explanation { probability, ..Explanation::named(name) });
            let verdict = verdict(&list, &rule()).unwrap().name;
            moved(&list, &verdict, &rule())
                .into_iter()
                .map(|m| (m.explanation, m.prior_times, m.verdict))
                .collect::<Vec<_>>()
        };
        assert_eq!(of([("chance", 0.02), ("batch", 0.96), ("row", 0.02)]), []);
        // 0.93 : 0.07 comes to 0.87 : 0.13 with half the odds, which doesn't accuse.
        let close = of([("chance", 0.06), ("batch", 0.93), ("row", 0.01)]);
        let cannot = |name: &str, times| (name.to_string(), times, CANNOT_TELL.to_string());
        assert_eq!(close, [cannot("chance", 2.0), cannot("batch", 0.5)]);
    }

    #[test]
    fn as_few_names_as_cover_it() {
        let three = of(&[("chance", 0.4), ("batch", 0.3), ("row", 0.05), ("place", 0.25)]);
        assert_eq!(three.between, ["chance", "batch", "place"]);
        let two = of(&[("chance", 0.1), ("batch", 0.46), ("order", 0.44)]);
        assert_eq!(two.between, ["batch", "order"]);
    }
}
