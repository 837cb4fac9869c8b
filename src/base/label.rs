//! Natural order of labels: 2 before 10, 12 before 12A, "007" stays "007".

use std::cmp::Ordering;

/// Compares two labels by their parts: digits as numbers, the rest as text; ties by the text itself.
pub fn natural(a: &str, b: &str) -> Ordering {
    let (mut left, mut right) = (parts(a), parts(b));
    loop {
        match (left.next(), right.next()) {
            (None, None) => return a.cmp(b),
            (None, Some(_)) => return Ordering::Less,
            (Some(_), None) => return Ordering::Greater,
            (Some(x), Some(y)) => match compare_part(x, y) {
                Ordering::Equal => {}
                unequal => return unequal,
            },
        }
    }
}

fn parts(label: &str) -> impl Iterator<Item = &str> {
    let mut rest = label;
    std::iter::from_fn(move || {
        let first = rest.chars().next()?;
        let digits = first.is_ascii_digit();
        let end = rest.find(|c: char| c.is_ascii_digit() != digits).unwrap_or(rest.len());
        let (part, tail) = rest.split_at(end);
        rest = tail;
        Some(part)
    })
}

fn compare_part(x: &str, y: &str) -> Ordering {
    let numbers = x.as_bytes()[0].is_ascii_digit() && y.as_bytes()[0].is_ascii_digit();
    if !numbers {
        return x.cmp(y);
    }
    let (x, y) = (x.trim_start_matches('0'), y.trim_start_matches('0'));
    x.len().cmp(&y.len()).then_with(|| x.cmp(y))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_come_in_the_order_a_walker_expects() {
        let mut rows = vec!["12A", "10", "2", "12", "1", "R2", "R10", "02"];
        rows.sort_by(|a, b| natural(a, b));
        assert_eq!(rows, ["1", "02", "2", "10", "12", "12A", "R2", "R10"]);
    }
}
