//! Every sentence a user reads, as data: one file per room, `{name}` where a value goes.

pub mod base;
pub mod cause;
pub mod cli;
pub mod intake;
pub mod list;
pub mod number;
pub mod options;
pub mod order;
pub mod pattern;
pub mod rates;
pub mod report;
pub mod runs;
pub mod signature;
pub mod triage;
pub mod unsettled;

/// Fills the `{name}` places of a sentence. A place without a value is a mistake of the caller.
pub fn fill(sentence: &str, values: &[(&str, &dyn std::fmt::Display)]) -> String {
    let mut filled = String::with_capacity(sentence.len() + 32);
    let mut rest = sentence;
    while let Some((before, after)) = rest.split_once('{') {
        filled.push_str(before);
        let (name, tail) = after.split_once('}').unwrap_or((after, ""));
        let value = values.iter().find(|(n, _)| *n == name);
        debug_assert!(value.is_some(), "no value for {{{name}}} in {sentence:?}");
        if let Some((_, v)) = value {
            filled.push_str(&v.to_string());
        }
        rest = tail;
    }
    filled.push_str(rest);
    filled
}

#[cfg(test)]
mod tests {
    use super::fill;

    #[test]
    fn values_go_where_they_are_named() {
        assert_eq!(fill("{n} of {of} vines", &[("of", &9), ("n", &"2")]), "2 of 9 vines");
        assert_eq!(fill("{n}", &[("n", &"{n}")]), "{n}"); // a value is never read as a place
    }
}
