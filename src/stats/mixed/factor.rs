//! The factorised penalised Hessian of a mixed model.
//!
//! Ordered by swept levels, then core columns, it is
//!
//! ```text
//! H = [ D  B ]   D(j) = 1 + s0^2 sum w(i)          diagonal: a cell has one swept level
//!     [ B' C ]   S = C - B' D^-1 B                 Schur complement, factorised by Cholesky
//! ```
//!
//! with w = n mu (1 - mu). ln det H = sum ln D + ln det S.

use super::cells::Cells;
use faer::linalg::solvers::{DenseSolveCore, Llt, Solve};
use faer::{Col, Mat, Side};

/// A vector over swept levels and core columns.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Latent {
    pub swept: Vec<f64>,
    pub core: Vec<f64>,
}

impl Latent {
    pub fn zero(cells: &Cells) -> Self {
        Latent { swept: vec![0.0; cells.groups()], core: vec![0.0; cells.width] }
    }

    pub fn dot(&self, other: &Latent) -> f64 {
        dot(&self.swept, &other.swept) + dot(&self.core, &other.core)
    }

    /// self + times * step.
    pub fn moved(&self, step: &Latent, times: f64) -> Self {
        let add = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x + times * y).collect();
        Latent { swept: add(&self.swept, &step.swept), core: add(&self.core, &step.core) }
    }
}

pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// Scale of each term: of the swept one, and of each core term.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Scales {
    pub swept: f64,
    pub core: Vec<f64>,
}

impl Scales {
    /// From one scale a term, in the order given.
    pub fn new(cells: &Cells, scales: &[f64]) -> Self {
        Scales { swept: scales[cells.swept], core: cells.core.iter().map(|&f| scales[f]).collect() }
    }

    /// A'v for one value a cell: sums over each level, times the term's scale.
    pub fn collect(&self, cells: &Cells, values: &[f64]) -> Latent {
        let mut sum = Latent::zero(cells);
        for group in 0..cells.groups() {
            for cell in cells.cells_of(group) {
                sum.swept[group] += self.swept * values[cell];
                let columns = cells.columns(cell).iter().zip(&self.core);
                columns.for_each(|(&c, scale)| sum.core[c as usize] += scale * values[cell]);
            }
        }
        sum
    }

    /// A u: one value a cell.
    pub fn spread(&self, cells: &Cells, u: &Latent) -> Vec<f64> {
        let mut values = vec![0.0; cells.len()];
        for group in 0..cells.groups() {
            let own = self.swept * u.swept[group];
            for cell in cells.cells_of(group) {
                values[cell] = own + self.core_part(cells, cell, &u.core);
            }
        }
        values
    }

    /// The core's part of a cell's linear predictor.
    pub fn core_part(&self, cells: &Cells, cell: usize, core: &[f64]) -> f64 {
        cells.columns(cell).iter().zip(&self.core).map(|(&c, scale)| scale * core[c as usize]).sum()
    }
}

#[derive(Debug)]
pub(super) struct Factor {
    /// D, one a swept level.
    pub diagonal: Vec<f64>,
    /// B, one value a slot.
    pub cross: Vec<f64>,
    /// Cholesky of S; none where the core is empty.
    schur: Option<Llt<f64>>,
    pub log_det: f64,
}

impl Factor {
    /// None where S isn't positive definite, which only overflow can bring about.
    pub fn new(cells: &Cells, scales: &Scales, weights: &[f64]) -> Option<Self> {
        let (diagonal, cross, mut core) = assemble(cells, scales, weights);
        sweep(cells, &diagonal, &cross, &mut core);
        let mut log_det = diagonal.iter().map(|d| d.ln()).sum::<f64>();
        let schur = if cells.width == 0 { None } else { Some(core.llt(Side::Lower).ok()?) };
        if let Some(schur) = &schur {
            log_det += 2.0 * (0..cells.width).map(|i| schur.L()[(i, i)].ln()).sum::<f64>();
        }
        log_det.is_finite().then_some(Factor { diagonal, cross, schur, log_det })
    }

    /// H^-1 g.
    pub fn solve(&self, cells: &Cells, g: &Latent) -> Latent {
        let mut core = Col::<f64>::from_fn(cells.width, |i| g.core[i]);
        for group in 0..cells.groups() {
            let own = g.swept[group] / self.diagonal[group];
            cells.slots_of(group).for_each(|s| core[cells.slot_column[s] as usize] -= self.cross[s] * own);
        }
        if let Some(schur) = &self.schur {
            schur.solve_in_place(core.as_mat_mut());
        }
        let core: Vec<f64> = core.iter().copied().collect();
        let swept =
            (0..cells.groups()).map(|group| (g.swept[group] - self.along(cells, group, &core)) / self.diagonal[group]);
        Latent { swept: swept.collect(), core }
    }

    /// B(j) x for a vector over the core.
    pub fn along(&self, cells: &Cells, group: usize, core: &[f64]) -> f64 {
        cells.slots_of(group).map(|s| self.cross[s] * core[cells.slot_column[s] as usize]).sum()
    }

    /// S^-1, the core's block of H^-1.
    pub fn core_inverse(&self) -> Mat<f64> {
        self.schur.as_ref().map_or_else(Mat::new, DenseSolveCore::inverse)
    }

    /// L'^-1 e with S = L L': a draw of the core about its mode for standard normal e.
    pub fn core_draw(&self, e: &[f64]) -> Vec<f64> {
        let mut x = Mat::<f64>::from_fn(e.len(), 1, |i, _| e[i]);
        if let Some(schur) = &self.schur {
            schur.L().transpose().solve_upper_triangular_in_place(x.as_mut());
        }
        x.col(0).iter().copied().collect()
    }

    /// ln det S.
    pub fn core_log_det(&self) -> f64 {
        self.log_det - self.diagonal.iter().map(|d| d.ln()).sum::<f64>()
    }
}

/// D, B and the lower triangle of C.
fn assemble(cells: &Cells, scales: &Scales, weights: &[f64]) -> (Vec<f64>, Vec<f64>, Mat<f64>) {
    let mut diagonal = vec![1.0; cells.groups()];
    let mut cross = vec![0.0; cells.slot_column.len()];
    let mut core = Mat::<f64>::identity(cells.width, cells.width);
    for (group, own) in diagonal.iter_mut().enumerate() {
        for cell in cells.cells_of(group) {
            let (w, columns) = (weights[cell], cells.columns(cell));
            *own += scales.swept * scales.swept * w;
            for (f, (&slot, &a)) in cells.slots(cell).iter().zip(columns).enumerate() {
                let wa = w * scales.core[f];
                cross[slot as usize] += scales.swept * wa;
                for (g, &b) in columns.iter().enumerate().filter(|(_, b)| **b <= a) {
                    core[(a as usize, b as usize)] += wa * scales.core[g];
                }
            }
        }
    }
    (diagonal, cross, core)
}

/// C - B' D^-1 B, lower triangle.
fn sweep(cells: &Cells, diagonal: &[f64], cross: &[f64], core: &mut Mat<f64>) {
    for (group, d) in diagonal.iter().enumerate() {
        for s in cells.slots_of(group) {
            let (a, share) = (cells.slot_column[s] as usize, cross[s] / d);
            for t in cells.slots_of(group) {
                let b = cells.slot_column[t] as usize;
                if b <= a {
                    core[(a, b)] -= share * cross[t];
                }
            }
        }
    }
}
