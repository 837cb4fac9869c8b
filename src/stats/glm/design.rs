//! Designs: what the columns stand for, and the rows of the cells.

use serde::Serialize;

/// A factor of the design: a code for each cell, 0 being the level the others are compared with.
#[derive(Clone, Copy, Debug)]
pub struct Factor<'a> {
    pub codes: &'a [u32],
    /// Number of levels; a cell with a code at or above it is left out.
    pub levels: u32,
}

/// What a column of the design stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum Column {
    Constant,
    /// 1 in the cells of this level (1 and up; 0 and up in [`Design::means`]) of this factor (by its place).
    Level {
        factor: usize,
        level: u32,
    },
    /// A number for each cell: a column of [`Design::of_rows`].
    Covariate {
        place: usize,
    },
}

/// A design: for each cell a row of numbers, most of them 0.
#[derive(Clone, Debug, PartialEq)]
pub struct Design {
    pub columns: Vec<Column>,
    /// For each cell its columns other than 0 and their values; empty where the cell is left out.
    pub rows: Vec<Vec<(usize, f64)>>,
}

impl Design {
    /// Constant and, for each factor in turn, a column for each level but the first. Cells without a sound code of
    /// each factor are left out: [`Design::left_out`].
    pub fn treatment(cells: usize, factors: &[Factor]) -> Self {
        let mut design = Design { columns: vec![Column::Constant], rows: vec![vec![(0, 1.0)]; cells] };
        factors.iter().enumerate().for_each(|(factor, of)| design.push(factor, of, 1));
        design
    }

    /// A column for each level of the first factor and no constant; of the others as in [`Design::treatment`]. The
    /// same model in other columns: a level whose rate runs to 0 or 1 takes no other column's information with it.
    pub fn means(cells: usize, factors: &[Factor]) -> Self {
        let Some(first) = factors.first() else { return Design::treatment(cells, factors) };
        let mut design = Design { columns: Vec::new(), rows: vec![Vec::new(); cells] };
        design.push(0, first, 0);
        for (factor, of) in factors.iter().enumerate().skip(1) {
            design.push(factor, of, 1);
        }
        design
    }

    /// The design of these rows of numbers, one number a column.
    pub fn of_rows(rows: &[Vec<f64>]) -> Self {
        let width = rows.iter().map(Vec::len).max().unwrap_or(0);
        let sparse = |row: &Vec<f64>| row.iter().copied().enumerate().filter(|(_, x)| *x != 0.0).collect();
        Design {
            columns: (0..width).map(|place| Column::Covariate { place }).collect(),
            rows: rows.iter().map(sparse).collect(),
        }
    }

    /// Adds columns for the levels from `from` on, and takes out the cells without a sound code.
    fn push(&mut self, factor: usize, of: &Factor, from: u32) {
        let (first, before) = (self.columns.len(), self.columns.is_empty());
        self.columns.extend((from..of.levels).map(|level| Column::Level { factor, level }));
        for (cell, row) in self.rows.iter_mut().enumerate().filter(|(_, row)| before || !row.is_empty()) {
            match of.codes.get(cell).copied().filter(|&code| code < of.levels) {
                Some(code) => row.extend(code.checked_sub(from).map(|k| (first + k as usize, 1.0))),
                None => row.clear(),
            }
        }
    }

    /// Cells that take no part, having no code in some factor.
    pub fn left_out(&self) -> Vec<usize> {
        (0..self.rows.len()).filter(|&cell| self.rows[cell].is_empty()).collect()
    }
}
