//! Lists and plurals in sentences.

/// `A`, `A and B`, `A, B and C`; beyond `most` names: `A, B and 7 more`.
pub fn list(names: &[String], most: usize) -> String {
    let most = most.max(1);
    let more = names.len().saturating_sub(most);
    let mut shown: Vec<String> = names.iter().take(most).cloned().collect();
    if more > 0 {
        shown.push(format!("{more} more"));
    }
    match shown.split_last() {
        Some((last, before)) if !before.is_empty() => format!("{} and {last}", before.join(", ")),
        _ => shown.concat(),
    }
}

/// The plural of a regular noun: rows, batches, varieties.
pub fn plural(noun: &str) -> String {
    let hisses = ["s", "x", "z", "ch", "sh"].iter().any(|end| noun.ends_with(end));
    let before_y = noun.strip_suffix('y').filter(|stem| !stem.ends_with(['a', 'e', 'i', 'o', 'u']));
    match before_y {
        Some(stem) if !stem.is_empty() => format!("{stem}ies"),
        _ if hisses => format!("{noun}es"),
        _ => format!("{noun}s"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_read_as_spoken() {
        let names: Vec<String> = ["A", "B", "C", "D"].map(String::from).into();
        assert_eq!((list(&names[..1], 3), list(&names[..2], 3)), ("A".into(), "A and B".into()));
        assert_eq!((list(&names, 4), list(&names, 2)), ("A, B, C and D".into(), "A, B and 2 more".into()));
        assert_eq!(list(&[], 2), "");
    }

    #[test]
    fn nouns_of_the_register_have_plurals() {
        let plurals = ["row", "batch", "variety", "clone", "valve", "day", "box"].map(plural);
        assert_eq!(plurals, ["rows", "batches", "varieties", "clones", "valves", "days", "boxes"]);
    }
}
