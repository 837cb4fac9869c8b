//! Which levels of some factors ever meet: the incidence graph and its connected components.
//!
//! Nodes are the levels, and every cell with weight ties its levels together. Of two factors, a difference between two
//! levels of one can be told from those of the other exactly where both are in one component (Weeks & Williams 1964,
//! `weeks-williams-1964`). Of three or more, levels in different components can't be compared, and those in one may
//! still not be: [`super::estimable::Span`] decides.
//!
//! `u32::MAX` is a cell's level that isn't known: it ties nothing. Cells without positive, finite weight don't count.

use std::collections::BTreeMap;

/// The connected components of some factors' levels.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Components {
    pub count: usize,
    /// For each factor the component of each code, from 0 in the order of first appearance (first factor first, codes
    /// rising).
    pub of: Vec<BTreeMap<u32, usize>>,
}

/// Components of the incidence graph by union-find, in time proportional to cells times factors. `factors` and
/// `weights` hold one value per cell (the shortest rules).
pub fn components(factors: &[&[u32]], weights: &[f64]) -> Components {
    let mut nodes: Vec<BTreeMap<u32, usize>> = vec![BTreeMap::new(); factors.len()];
    let mut forest = Forest::default();
    for cell in cells(factors, weights) {
        let mut first = None;
        for (of, codes) in nodes.iter_mut().zip(factors).filter(|(_, codes)| codes[cell] != u32::MAX) {
            let node = *of.entry(codes[cell]).or_insert_with(|| forest.grow());
            forest.join(node, *first.get_or_insert(node));
        }
    }
    let mut numbers = BTreeMap::new();
    let mut number = |node: usize| {
        let next = numbers.len();
        *numbers.entry(forest.root(node)).or_insert(next)
    };
    let of = nodes.iter().map(|levels| levels.iter().map(|(&code, &node)| (code, number(node))).collect()).collect();
    Components { count: numbers.len(), of }
}

/// Whether every known level of `inner` lies in a single known level of `outer`: the batch that holds one clone.
pub fn is_nested(inner: &[u32], outer: &[u32], weights: &[f64]) -> bool {
    let mut home = BTreeMap::new();
    let met = cells(&[inner, outer], weights).map(|cell| (inner[cell], outer[cell]));
    met.filter(|(i, o)| *i != u32::MAX && *o != u32::MAX).all(|(i, o)| *home.entry(i).or_insert(o) == o)
}

fn cells<'a>(factors: &[&[u32]], weights: &'a [f64]) -> impl Iterator<Item = usize> + use<'a> {
    let count = factors.iter().map(|codes| codes.len()).fold(weights.len(), usize::min);
    (0..count).filter(|&cell| weights[cell].is_finite() && weights[cell] > 0.0)
}

/// Union-find with halving of paths.
#[derive(Default)]
struct Forest {
    parent: Vec<usize>,
}

impl Forest {
    fn grow(&mut self) -> usize {
        self.parent.push(self.parent.len());
        self.parent.len() - 1
    }

    fn root(&mut self, mut node: usize) -> usize {
        while self.parent[node] != node {
            self.parent[node] = self.parent[self.parent[node]];
            node = self.parent[node];
        }
        node
    }

    /// The older root stays, so that a component keeps its first node.
    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root(a), self.root(b));
        self.parent[a.max(b)] = a.min(b);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROW: [u32; 6] = [0, 0, 1, 2, 2, 3];
    const BATCH: [u32; 6] = [5, 6, 5, 7, 8, 8];

    #[test]
    fn two_halves_are_two_components() {
        let got = components(&[&ROW, &BATCH], &[1.0; 6]);
        assert_eq!(got.count, 2);
        assert_eq!(got.of[0], BTreeMap::from([(0, 0), (1, 0), (2, 1), (3, 1)]));
        assert_eq!(got.of[1], BTreeMap::from([(5, 0), (6, 0), (7, 1), (8, 1)]));
        // One vine of batch 8 in row 0 ties them; one without a label doesn't.
        let tied = |code| components(&[&[&ROW[..], &[0]].concat(), &[&BATCH[..], &[code]].concat()], &[1.0; 7]).count;
        assert_eq!((tied(8), tied(u32::MAX)), (1, 2));
        assert_eq!(components(&[&ROW, &BATCH], &[1.0, 0.0, 1.0, 1.0, f64::NAN, 1.0]).count, 3);
        assert_eq!(components(&[], &[1.0]).count, 0);
    }

    #[test]
    fn nested_by_what_is_known() {
        assert!(is_nested(&[1, 1, 2, 3], &[7, 7, 7, 9], &[1.0; 4]));
        assert!(!is_nested(&[7, 7, 7, 9], &[1, 1, 2, 3], &[1.0; 4]));
        assert!(is_nested(&[1, 1], &[7, u32::MAX], &[1.0; 2]) && is_nested(&[1, 1], &[7, 8], &[1.0, 0.0]));
    }
}
