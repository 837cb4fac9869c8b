//! Draws of the effects given the standard deviations, with what the approximation misses as weight.
//!
//! The core is drawn from its skew Gaussian copula. Given the core, the levels of the swept term are independent: each
//! is integrated and drawn by its own one-dimensional density, so that only the core's dimension counts. The weight is
//! the exact density, swept term integrated out, over the proposal's (importance sampling).

use super::cells::Cells;
use super::even::Even;
use super::mode::Mode;
use super::nodes::Node;
use super::skew::Margin;
use crate::stats::special::normal_quantile;

/// Points about a swept level's conditional mode, this many of its sds apart. A trapezoid sum over a bell is exact to
/// many digits from one sd apart.
const REACH: i32 = 7;
const APART: f64 = 0.75;

pub(super) struct Draw {
    pub node: usize,
    /// Spherical effects.
    pub swept: Vec<f64>,
    pub core: Vec<f64>,
    /// ln of exact over approximate density, about 0.
    pub log_weight: f64,
}

/// What is needed to draw at one node.
pub(super) struct Drawer<'a> {
    cells: &'a Cells,
    mode: &'a Mode,
    /// One a cell in the order of the cells.
    offset: &'a [f64],
    sd: Vec<f64>,
    margins: &'a [Margin],
    /// ln det S / 2 less Laplace's value: what the log weight starts from.
    constant: f64,
}

impl<'a> Drawer<'a> {
    /// `margins` are those of this node or of one nearby: what they miss is weighed.
    pub fn new(cells: &'a Cells, node: &'a Node, offset: &'a [f64], margins: &'a [Margin]) -> Self {
        let mode = &node.mode;
        let block = mode.factor.core_inverse();
        Drawer {
            cells,
            mode,
            offset,
            sd: (0..cells.width).map(|i| block[(i, i)].sqrt()).collect(),
            margins,
            // A normal density of each swept level's prior: its (2 pi)^(-1/2).
            constant: cells.ln_ways
                - mode.value()
                - 0.5 * mode.factor.core_log_det()
                - 0.5 * cells.groups() as f64 * (2.0 * std::f64::consts::PI).ln(),
        }
    }

    /// `uniforms`: one in (0, 1) for each column of the core, then for each swept level.
    pub fn draw(&self, node: usize, uniforms: impl Fn(usize) -> f64) -> Draw {
        let e: Vec<f64> = (0..self.cells.width).map(|i| normal_quantile(uniforms(i))).collect();
        let straight = self.mode.factor.core_draw(&e);
        // ln target less ln proposal; (2 pi) powers of prior and proposal cancel.
        let mut log_weight = self.constant;
        let mut core = Vec::with_capacity(e.len());
        for (i, g) in straight.iter().enumerate() {
            let (value, slope) = self.margins[i].value(g / self.sd[i]);
            let x = self.mode.u.core[i] + self.sd[i] * value;
            log_weight += 0.5 * e[i] * e[i] + slope.ln() - 0.5 * x * x;
            core.push(x);
        }
        let moved: Vec<f64> = core.iter().zip(&self.mode.u.core).map(|(x, m)| x - m).collect();
        let mut swept = Vec::with_capacity(self.cells.groups());
        for group in 0..self.cells.groups() {
            let level = self.level(group, &core, &moved);
            log_weight += level.log_integral;
            swept.push(level.quantile(uniforms(self.cells.width + group)));
        }
        Draw { node, swept, core, log_weight }
    }

    /// The density of one swept level given the core.
    fn level(&self, group: usize, core: &[f64], moved: &[f64]) -> Even {
        let (cells, mode) = (self.cells, self.mode);
        let d = mode.factor.diagonal[group];
        let centre = mode.u.swept[group] - mode.factor.along(cells, group, moved) / d;
        let step = APART / d.sqrt();
        let (scale, first) = (mode.scales.swept, centre - f64::from(REACH) * step);
        let prior = |i: i32| -0.5 * (first + f64::from(i) * step).powi(2);
        let mut logs: Vec<f64> = (0..=2 * REACH).map(prior).collect();
        for cell in cells.cells_of(group) {
            let (seen, failed) = (cells.seen[cell], cells.failed[cell]);
            let base = self.offset[cell] + mode.scales.core_part(cells, cell, core);
            // exp(eta) by its ratio from point to point: one exponential a cell.
            let (mut eta, rise) = (base + scale * first, scale * step);
            let (mut odds, ratio) = (eta.min(300.0).exp(), rise.exp());
            for log in &mut logs {
                *log += failed * eta - seen * if eta > 300.0 { eta } else { odds.ln_1p() };
                eta += rise;
                odds = (odds * ratio).min(1e300);
            }
        }
        Even::new(first, step, logs)
    }
}
