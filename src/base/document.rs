//! The rules for every JSON document: the header, the sources, and nulls with their reasons.

use super::known::{MARKER, Why};
use super::seed::Seed;
use super::source::{self, SourceKey};
use serde::Serialize;
use serde_json::{Map, Value, json};

/// What every document echoes of the run that made it.
#[derive(Clone, Debug)]
pub struct Header {
    /// Name of the block, or empty where the document isn't about one.
    pub block: String,
    /// Last day of the walk that the answers stand on.
    pub surveyed_on: Option<jiff::civil::Date>,
    pub seed: Seed,
    /// Level of all intervals, in (0, 1).
    pub level: f64,
}

/// A result that can be printed as a document of the contract.
pub trait Documented: Serialize {
    /// Name of the document's shape, such as `rates`.
    const SCHEMA: &'static str;
    /// The published works that this result stands on.
    fn sources(&self) -> Vec<SourceKey> {
        Vec::new()
    }
}

/// One absent field: its path in the document without list indices, the reason, the remedy.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
struct Absent {
    field: String,
    #[serde(flatten)]
    why: Why,
}

/// The document: header, body, sources, absences. Numbers stay unrounded; a number that is not finite
/// becomes an absence, never NaN.
pub fn document<T: Documented>(header: &Header, result: &T) -> Value {
    let mut absent = Vec::new();
    let mut body = serde_json::to_value(result).unwrap_or_else(|e| json!({ "unprintable": e.to_string() }));
    settle(&mut body, &mut String::new(), &mut absent);
    let mut map = Map::new();
    map.insert("schema".into(), json!(format!("fullstand.{}.1", T::SCHEMA)));
    map.insert("block".into(), json!(header.block));
    map.insert("surveyed_on".into(), json!(header.surveyed_on.map(|d| d.to_string())));
    map.insert("seed".into(), json!(header.seed.number()));
    map.insert("level".into(), json!(header.level));
    if let Value::Object(fields) = body {
        map.extend(fields);
    }
    if header.surveyed_on.is_none() {
        absent.push(Absent {
            field: "surveyed_on".into(),
            why: Why::new(super::words::base::NO_WALK, super::words::base::NO_WALK_HELP),
        });
    }
    map.insert("sources".into(), json!(source::list(&result.sources())));
    map.insert("absent".into(), json!(absent));
    Value::Object(map)
}

/// Replaces the markers below `value` by null and notes their reasons, one entry per field and reason. `path` leads
/// to the value and is left as it was.
fn settle(value: &mut Value, path: &mut String, absent: &mut Vec<Absent>) {
    if let Some(why) = marked(value) {
        let entry = Absent { field: path.clone(), why };
        if !absent.contains(&entry) {
            absent.push(entry);
        }
        *value = Value::Null;
        return;
    }
    match value {
        Value::Array(items) => items.iter_mut().for_each(|item| settle(item, path, absent)),
        Value::Object(fields) => {
            let here = path.len();
            for (name, field) in fields.iter_mut() {
                if here > 0 {
                    path.push('.');
                }
                path.push_str(name);
                settle(field, path, absent);
                path.truncate(here);
            }
        }
        Value::Null => note_unexplained(path, absent),
        _ => {}
    }
}

/// A bare null is a number that was not finite: said, so that no null stands without a reason.
fn note_unexplained(path: &str, absent: &mut Vec<Absent>) {
    let why = Why::new(super::words::base::NOT_FINITE, super::words::base::NOT_FINITE_HELP);
    let entry = Absent { field: path.to_string(), why };
    if !absent.contains(&entry) {
        absent.push(entry);
    }
}

fn marked(value: &Value) -> Option<Why> {
    let marker = value.as_object()?.get(MARKER)?;
    Some(Why::new(marker["reason"].as_str()?, marker["would_help"].as_str()?))
}

#[cfg(test)]
mod tests {
    use super::super::known::Known;
    use super::*;

    #[derive(Serialize)]
    struct Body {
        n: u32,
        list: Vec<Known<f64>>,
        rate: f64,
    }
    impl Documented for Body {
        const SCHEMA: &'static str = "test";
    }

    #[test]
    fn a_null_never_stands_without_its_reason() {
        let header = Header { block: "B".into(), surveyed_on: None, seed: Seed::new(1), level: 0.9 };
        let body = Body { n: 1, list: vec![Known::Value(0.5), Known::absent("why", "how")], rate: f64::NAN };
        let doc = document(&header, &body);
        assert_eq!(doc["list"], json!([0.5, null]));
        let fields: Vec<_> = doc["absent"].as_array().unwrap().iter().map(|a| a["field"].as_str().unwrap()).collect();
        assert_eq!(fields, ["list", "rate", "surveyed_on"]);
        assert_eq!(doc["absent"][0]["reason"], "why");
    }
}
