//! Freeman & Halton's p-value by the network algorithm of Mehta & Patel (1983), `mehta-patel-1983`.
//!
//! Rows are laid one after another; a node is what remains of the columns' sums (in falling order, since columns
//! are exchangeable), an arc is one way to lay the next row. A path's probability is proportional to the product of
//! 1/n! over its cells, here as logarithms ("lengths"). From each node the longest and the shortest way to the end
//! and the sum over all ways are known; so a bundle of equal beginnings counts in full as soon as its likeliest end
//! is no likelier than the table seen, and is dropped as soon as its least likely end is.

use super::column_totals;
use crate::stats::hypergeometric::TIE;
use crate::stats::special::ln_gamma;
use std::collections::BTreeMap;

/// Beginnings whose lengths agree to this are one bundle.
const GRID: f64 = 1e-9;

struct Node {
    /// (node of the next stage, length)
    arcs: Vec<(usize, f64)>,
    longest: f64,
    shortest: f64,
    /// ln of the sum over all ways to the end.
    total: f64,
}

/// Nodes by stage; the last stage is the one where nothing remains.
type Network = Vec<Vec<Node>>;

/// The p-value of a rectangular table without empty rows or columns; None where it has too many ways.
/// `limit`: most arcs built and most bundles carried before the method gives up.
pub(super) fn p_value(table: &[Vec<u64>], limit: usize) -> Option<f64> {
    let table = tall(table);
    let network = build(&table, limit)?;
    let length: f64 = -table.iter().flatten().map(|&n| ln_factorial(n)).sum::<f64>();
    sum_at_most(&network, length + TIE, limit)
}

fn ln_factorial(n: u64) -> f64 {
    ln_gamma(n as f64 + 1.0)
}

/// The table with at least as many rows as columns, the largest rows first.
fn tall(table: &[Vec<u64>]) -> Vec<Vec<u64>> {
    let columns = table.first().map_or(0, Vec::len);
    let mut tall: Vec<Vec<u64>> = match columns > table.len() {
        true => (0..columns).map(|j| table.iter().map(|row| row[j]).collect()).collect(),
        false => table.to_vec(),
    };
    tall.sort_by_key(|row| std::cmp::Reverse(row.iter().sum::<u64>()));
    tall
}

/// Stage by stage all nodes that can be reached, then from the end back their longest and shortest ways.
fn build(table: &[Vec<u64>], most: usize) -> Option<Network> {
    let rows: Vec<u64> = table.iter().map(|row| row.iter().sum()).collect();
    let mut network = Network::new();
    let mut stage = vec![in_order(column_totals(table))];
    let mut room = most;
    for (i, &row) in rows.iter().enumerate() {
        let mut next = BTreeMap::new();
        let mut nodes = Vec::with_capacity(stage.len());
        for remaining in &stage {
            let mut arcs = Vec::new();
            lay(row, remaining, &mut next, &mut arcs, room)?;
            room = room.checked_sub(arcs.len())?;
            nodes.push(Node { arcs, longest: 0.0, shortest: 0.0, total: total(remaining, &rows[i..]) });
        }
        network.push(nodes);
        stage = by_number(next);
    }
    network.push(vec![Node { arcs: vec![], longest: 0.0, shortest: 0.0, total: 0.0 }]);
    measure(&mut network);
    Some(network)
}

fn in_order(mut sums: Vec<u64>) -> Vec<u64> {
    sums.sort_unstable_by(|a, b| b.cmp(a));
    sums
}

/// The nodes of a stage in the order of their numbers.
fn by_number(nodes: BTreeMap<Vec<u64>, usize>) -> Vec<Vec<u64>> {
    let mut listed: Vec<(usize, Vec<u64>)> = nodes.into_iter().map(|(remaining, number)| (number, remaining)).collect();
    listed.sort_unstable_by_key(|(number, _)| *number);
    listed.into_iter().map(|(_, remaining)| remaining).collect()
}

/// ln of the sum over all tables with these margins of the product of 1/n!: S! / (product of all margins' factorials).
fn total(columns: &[u64], rows: &[u64]) -> f64 {
    let sum: u64 = rows.iter().sum();
    ln_factorial(sum) - columns.iter().chain(rows).map(|&n| ln_factorial(n)).sum::<f64>()
}

/// Every way to lay a row of `row` into `columns`; None beyond `room` ways.
fn lay(
    row: u64,
    columns: &[u64],
    next: &mut BTreeMap<Vec<u64>, usize>,
    arcs: &mut Vec<(usize, f64)>,
    room: usize,
) -> Option<()> {
    let mut behind: Vec<u64> = vec![0; columns.len() + 1];
    for j in (0..columns.len()).rev() {
        behind[j] = behind[j + 1] + columns[j];
    }
    let mut cells = vec![0u64; columns.len()];
    let mut ways = Ways { columns, behind: &behind, next, arcs, room };
    ways.place(0, row, &mut cells)
}

struct Ways<'a> {
    columns: &'a [u64],
    /// Sum of the columns from each one on.
    behind: &'a [u64],
    next: &'a mut BTreeMap<Vec<u64>, usize>,
    arcs: &'a mut Vec<(usize, f64)>,
    room: usize,
}

impl Ways<'_> {
    fn place(&mut self, j: usize, left: u64, cells: &mut [u64]) -> Option<()> {
        if j == self.columns.len() {
            return self.keep(cells);
        }
        let least = left.saturating_sub(self.behind[j + 1]);
        for n in least..=left.min(self.columns[j]) {
            cells[j] = n;
            self.place(j + 1, left - n, cells)?;
        }
        Some(())
    }

    fn keep(&mut self, cells: &[u64]) -> Option<()> {
        if self.arcs.len() >= self.room {
            return None;
        }
        let remaining = in_order(self.columns.iter().zip(cells).map(|(c, n)| c - n).collect());
        let number = self.next.len();
        let number = *self.next.entry(remaining).or_insert(number);
        self.arcs.push((number, -cells.iter().map(|&n| ln_factorial(n)).sum::<f64>()));
        Some(())
    }
}

/// From the end back: the longest and the shortest way from each node.
fn measure(network: &mut Network) {
    for stage in (0..network.len().saturating_sub(1)).rev() {
        let (here, behind) = network.split_at_mut(stage + 1);
        for node in &mut here[stage] {
            let ends = |end: &Node| (end.longest, end.shortest);
            let ways = node.arcs.iter().map(|&(to, length)| (length, ends(&behind[0][to])));
            let (longest, shortest) = ways.fold((f64::NEG_INFINITY, f64::INFINITY), |(most, least), (length, end)| {
                (most.max(length + end.0), least.min(length + end.1))
            });
            (node.longest, node.shortest) = (longest, shortest);
        }
    }
}

/// Bundles at each node of a stage: by length on the grid, the length itself and how many beginnings have it.
type Bundles = Vec<BTreeMap<i64, (f64, f64)>>;

/// Share of the tables whose length is at most `limit`, by probability; None beyond `most` bundles.
fn sum_at_most(network: &Network, limit: f64, most: usize) -> Option<f64> {
    let all = network[0][0].total;
    let mut share = 0.0;
    let mut bundles: Bundles = vec![BTreeMap::from([(0, (0.0, 1.0))])];
    let mut room = most;
    for (stage, nodes) in network.iter().enumerate() {
        let mut next: Bundles = vec![BTreeMap::new(); network.get(stage + 1).map_or(0, Vec::len)];
        for (node, here) in nodes.iter().zip(&bundles) {
            for &(length, ways) in here.values() {
                if length + node.longest <= limit {
                    share += ways * (length + node.total - all).exp();
                } else if length + node.shortest <= limit {
                    room = room.checked_sub(node.arcs.len())?;
                    node.arcs.iter().for_each(|&(to, more)| add(&mut next[to], length + more, ways));
                }
            }
        }
        bundles = next;
    }
    Some(share.clamp(0.0, 1.0))
}

fn add(bundles: &mut BTreeMap<i64, (f64, f64)>, length: f64, ways: f64) {
    bundles.entry((length / GRID).round() as i64).or_insert((length, 0.0)).1 += ways;
}
