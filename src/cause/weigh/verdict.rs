//! The verdict: an explanation, or that these data can't tell.

use super::Explanation;

/// The verdict's name, and between what it can't be told.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Verdict {
    pub name: String,
    pub between: Vec<String>,
}

pub(super) const CANNOT_TELL: &str = "cannot_tell";
const MAJORITY: f64 = 0.5;
/// What all explanations with the batch have to come to before one of them is the verdict.
const ACCUSED_FROM: f64 = 0.9;
/// What the names between which it can't be told have to come to.
const COVERED: f64 = 0.9;

/// The likeliest explanation if its probability is at least 0.5 and, where it holds the batch, all explanations with the
/// batch come to at least 0.9. Otherwise it can't be told, between the fewest single names whose explanations come to
/// 0.9; of as many names those that come to most.
pub(super) fn verdict(explanations: &[Explanation]) -> Option<Verdict> {
    let top = explanations.iter().max_by(|a, b| a.probability.total_cmp(&b.probability))?;
    let with_batch = |e: &&Explanation| holds(e, "batch");
    let accused: f64 = explanations.iter().filter(with_batch).map(|e| e.probability).sum();
    if top.probability >= MAJORITY && (!holds(top, "batch") || accused >= ACCUSED_FROM) {
        return Some(Verdict { name: top.name.clone(), between: Vec::new() });
    }
    Some(Verdict { name: CANNOT_TELL.into(), between: between(explanations) })
}

fn holds(explanation: &Explanation, name: &str) -> bool {
    explanation.name.split('+').any(|n| n == name)
}

fn between(explanations: &[Explanation]) -> Vec<String> {
    let names: Vec<&str> = explanations.iter().map(|e| e.name.as_str()).filter(|n| !n.contains('+')).collect();
    for size in 2..names.len() {
        let sets = subsets(names.len(), size).into_iter().map(|set| (covered(explanations, &names, &set), set));
        let best = sets.max_by(|a, b| a.0.total_cmp(&b.0).then_with(|| b.1.cmp(&a.1)));
        if let Some((_, set)) = best.filter(|(covered, _)| *covered >= COVERED) {
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

    fn of(list: &[(&str, f64)]) -> Verdict {
        let explanation = |&(name, probability): &(&str, f64)| Explanation { probability, ..Explanation::named(name) };
        verdict(&list.iter().map(explanation).collect::<Vec<_>>()).unwrap()
    }

    #[test]
    fn a_majority_is_enough_unless_a_batch_is_accused() {
        assert_eq!(of(&[("chance", 0.3), ("row", 0.55), ("batch", 0.15)]).name, "row");
        assert_eq!(of(&[("chance", 0.04), ("batch", 0.6), ("batch+place", 0.36)]).name, "batch");
        let doubt = of(&[("chance", 0.02), ("batch", 0.6), ("place", 0.2), ("batch+place", 0.18)]);
        assert_eq!((doubt.name.as_str(), doubt.between), (CANNOT_TELL, vec!["batch".to_string(), "place".into()]));
    }

    #[test]
    fn as_few_names_as_cover_it() {
        let three = of(&[("chance", 0.4), ("batch", 0.3), ("row", 0.05), ("place", 0.25)]);
        assert_eq!(three.between, ["chance", "batch", "place"]);
        let two = of(&[("chance", 0.1), ("batch", 0.46), ("order", 0.44)]);
        assert_eq!(two.between, ["batch", "order"]);
    }
}
