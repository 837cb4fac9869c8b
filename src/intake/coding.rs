//! Labels to codes: one column of a factor, filled line by line.

use crate::base::label::natural;
use crate::block::{Code, Factor, UNKNOWN};
use std::collections::HashMap;

/// A column of labels in the making. Codes are handed out in order of appearance and put into natural order at the end.
#[derive(Clone, Debug, Default)]
pub(super) struct Coding {
    codes: HashMap<String, Code>,
    labels: Vec<String>,
}

impl Coding {
    /// The code of a label; an empty one isn't known.
    pub fn code(&mut self, label: &str) -> Code {
        if label.is_empty() {
            return UNKNOWN;
        }
        if let Some(code) = self.codes.get(label) {
            return *code;
        }
        let code = self.labels.len() as Code;
        self.labels.push(label.to_string());
        self.codes.insert(label.to_string(), code);
        code
    }

    pub fn label(&self, code: Code) -> &str {
        self.labels.get(code as usize).map_or("", String::as_str)
    }

    /// The factor with levels in natural order; levels that no code uses are left out.
    pub fn factor(&self, name: &str, codes: &[Code]) -> Factor {
        let mut used = vec![false; self.labels.len()];
        codes.iter().filter(|c| **c != UNKNOWN).for_each(|c| used[*c as usize] = true);
        let mut order: Vec<usize> = (0..self.labels.len()).filter(|c| used[*c]).collect();
        order.sort_by(|a, b| natural(&self.labels[*a], &self.labels[*b]));
        let mut new_code = vec![UNKNOWN; self.labels.len()];
        (0..).zip(&order).for_each(|(new, old)| new_code[*old] = new);
        let recode = |c: &Code| new_code.get(*c as usize).copied().unwrap_or(UNKNOWN);
        Factor {
            name: name.into(),
            levels: order.iter().map(|old| self.labels[*old].clone()).collect(),
            codes: codes.iter().map(recode).collect(),
        }
    }
}
