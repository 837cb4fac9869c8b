//! Answers of reference libraries (tests/oracles, each with its inputs, software and source).

use serde_json::Value;

/// Reads tests/oracles/`id`.json.
pub fn read(id: &str) -> Value {
    let path = format!("{}/tests/oracles/{id}.json", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}"));
    parse(&text, &path)
}

/// What no number was had for is written NaN, which JSON doesn't know: read as null.
fn parse(text: &str, path: &str) -> Value {
    serde_json::from_str(&text.replace(" NaN", " null")).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// An answer on data that no registry carries, from beside the clone; says so and is none where it isn't there.
pub fn beside_the_clone(id: &str) -> Option<Value> {
    let path = format!("{}/../shared/oracles/{id}.json", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).map_err(|_| println!("{path} is not here: {id} is not checked")).ok()?;
    Some(parse(&text, &path))
}

/// A list of numbers.
pub fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().expect("a list").iter().map(|v| v.as_f64().expect("a number")).collect()
}

/// A list of counts.
pub fn counts(value: &Value) -> Vec<u64> {
    value.as_array().expect("a list").iter().map(|v| v.as_u64().expect("a count")).collect()
}

/// Asserts `got` within `rel` of `want`, or within `abs` where `want` is small.
#[track_caller]
pub fn close(what: &str, got: f64, want: f64, rel: f64, abs: f64) {
    assert!((got - want).abs() <= abs.max(rel * want.abs()), "{what}: got {got}, want {want}");
}
