//! The one place where numbers are rounded for reading, in the report and in the sentences of results.
//!
//! Thousands are set apart by a narrow space, minus is a minus sign, and what rounds to nothing is said to be
//! small, never to be 0.

use super::report as words;
use jiff::civil::Date;

/// A space that doesn't break between a number and its unit.
const FIXED_SPACE: char = '\u{a0}';
/// Between groups of three digits.
const THIN_SPACE: char = '\u{202f}';
const MINUS: char = '\u{2212}';

/// A number of things: `12 345`.
pub fn count(n: u64) -> String {
    grouped(&n.to_string())
}

/// A rate in 0..1 as a percentage with one decimal: `86.6 %`.
pub fn percent(rate: f64) -> String {
    let shown = trimmed(rate * 100.0, 1);
    let text = match shown.as_str() {
        "0" if rate > 0.0 => "<0.1".into(),
        "100" if rate < 1.0 => ">99.9".into(),
        _ => shown,
    };
    format!("{text}{FIXED_SPACE}%")
}

/// A difference of shares in percentage points, to a tenth.
pub fn points(share: f64) -> String {
    trimmed(share * 100.0, 1)
}

/// A probability in 0..1 as a whole percentage; near-certainties are not called certain.
pub fn chance(probability: f64) -> String {
    let whole = (probability * 100.0).round();
    let text = match whole {
        w if w <= 0.0 && probability > 0.0 => "under 1".into(),
        w if w >= 100.0 && probability < 1.0 => "over 99".into(),
        w => format!("{w:.0}"),
    };
    format!("{text}{FIXED_SPACE}%")
}

/// A p-value: `p = 0.03`, `p < 0.001`.
pub fn p_value(p: f64) -> String {
    match p {
        p if p < 0.001 => "p < 0.001".into(),
        p if p < 0.01 => format!("p = {p:.3}"),
        p if p > 0.995 => "p = 1".into(),
        p => format!("p = {p:.2}"),
    }
}

/// An amount of money in whole units with the block's label: `−1 950 EUR`.
pub fn money(amount: f64, currency: &str) -> String {
    let text = whole(amount);
    if currency.is_empty() { text } else { format!("{text}{FIXED_SPACE}{currency}") }
}

/// A whole number with its sign: `−1 950`.
pub fn whole(amount: f64) -> String {
    let rounded = amount.round();
    let digits = grouped(&format!("{:.0}", rounded.abs()));
    if rounded < 0.0 { format!("{MINUS}{digits}") } else { digits }
}

/// Hours of work: `46 h`, below ten with one decimal.
pub fn hours(hours: f64) -> String {
    let text = if hours < 10.0 { trimmed(hours, 1) } else { whole(hours) };
    format!("{text}{FIXED_SPACE}h")
}

/// A p-value that stands under its own heading: `0.03`, `< 0.001`.
pub fn p_alone(p: f64) -> String {
    p_value(p).trim_start_matches("p ").trim_start_matches("= ").into()
}

/// A number with three digits that count: `21.3`, `0.034`, `1 080`.
pub fn plain(value: f64) -> String {
    digits(value, 3)
}

/// Two numbers with as many digits that count, three to six, as it takes to tell them apart.
pub fn apart(a: f64, b: f64) -> (String, String) {
    let with = |n: i32| (digits(a, n), digits(b, n));
    (3..6).map(with).find(|(a, b)| a != b).unwrap_or_else(|| with(6))
}

fn digits(value: f64, most: i32) -> String {
    let size = value.abs();
    match size {
        0.0 => "0".into(),
        s if s >= 1_000.0 => whole(value),
        s => {
            let before = if s >= 1.0 { s.log10().floor() as i32 + 1 } else { s.log10().ceil() as i32 };
            trimmed(value, (most - before).clamp(0, 6) as usize)
        }
    }
}

/// A day: `14 November 2025`.
pub fn day(date: Date) -> String {
    format!("{}{FIXED_SPACE}{} {}", date.day(), month(date), date.year())
}

/// The days of a walk: `14 November 2025`, `12 to 14 November 2025`.
pub fn days(first: Date, last: Date) -> String {
    if first == last {
        return day(last);
    }
    if (first.year(), first.month()) == (last.year(), last.month()) {
        return format!("{} to {}", first.day(), day(last));
    }
    format!("{} to {}", day(first), day(last))
}

/// Positions as a walker reads them: `3, 4, 9–12`. Expects ascending positions.
pub fn positions(positions: &[u32]) -> String {
    let mut stretches: Vec<(u32, u32)> = Vec::new();
    for &p in positions {
        match stretches.last_mut() {
            Some((_, end)) if end.checked_add(1) == Some(p) => *end = p,
            _ => stretches.push((p, p)),
        }
    }
    stretches.iter().map(stretch).collect::<Vec<_>>().join(", ")
}

fn stretch(&(from, to): &(u32, u32)) -> String {
    match to - from {
        0 => from.to_string(),
        1 => format!("{from}, {to}"),
        _ => format!("{from}–{to}"),
    }
}

fn month(date: Date) -> &'static str {
    words::MONTHS.get(date.month() as usize - 1).copied().unwrap_or_default()
}

/// At most `decimals` decimals, trailing zeros cut.
fn trimmed(value: f64, decimals: usize) -> String {
    let text = format!("{:.decimals$}", value.abs());
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if value < 0.0 && text != "0" { format!("{MINUS}{text}") } else { text.into() }
}

fn grouped(digits: &str) -> String {
    let mut out = String::with_capacity(digits.len() + 8);
    for (i, d) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(THIN_SPACE);
        }
        out.push(d);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_is_not_nothing_and_nearly_is_not_wholly() {
        assert_eq!(percent(0.866_1), "86.6\u{a0}%");
        assert_eq!((percent(0.000_1), percent(0.999_9)), ("<0.1\u{a0}%".into(), ">99.9\u{a0}%".into()));
        assert_eq!((percent(0.0), percent(1.0)), ("0\u{a0}%".into(), "100\u{a0}%".into()));
        assert_eq!((chance(0.001), chance(0.998)), ("under 1\u{a0}%".into(), "over 99\u{a0}%".into()));
        assert_eq!((p_value(0.000_2), p_value(0.034)), ("p < 0.001".into(), "p = 0.03".into()));
        assert_eq!((p_value(0.004_2), p_value(1.0)), ("p = 0.004".into(), "p = 1".into()));
        assert_eq!((p_alone(0.000_2), p_alone(0.034)), ("< 0.001".into(), "0.03".into()));
    }

    #[test]
    fn amounts_carry_sign_label_and_thin_spaces() {
        assert_eq!(money(-1_950.4, "EUR"), "−1\u{202f}950\u{a0}EUR");
        assert_eq!(money(-0.2, ""), "0");
        assert_eq!(count(1_234_567), "1\u{202f}234\u{202f}567");
        assert_eq!(
            (plain(21.34), plain(0.034_12), plain(1_080.4)),
            ("21.3".into(), "0.0341".into(), "1\u{202f}080".into())
        );
        assert_eq!(apart(0.88, 0.880_4), ("0.88".into(), "0.8804".into()));
        assert_eq!((plain(-0.5), plain(0.0), plain(99.96)), ("−0.5".into(), "0".into(), "100".into()));
    }

    #[test]
    fn days_and_positions_read_as_spoken() {
        use jiff::civil::date;
        assert_eq!(days(date(2025, 11, 12), date(2025, 11, 14)), "12 to 14\u{a0}November 2025");
        assert_eq!(days(date(2025, 10, 30), date(2025, 11, 1)), "30\u{a0}October 2025 to 1\u{a0}November 2025");
        assert_eq!(positions(&[3, 4, 9, 10, 11, 12]), "3, 4, 9–12");
        assert_eq!(positions(&[]), "");
    }
}
