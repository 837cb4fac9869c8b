//! What is known, and what isn't: a value, or the reason for its absence and the remedy.
//!
//! `Known` is how a result says "null with its reason". It serialises to the value, or to a marker
//! that [`super::document()`] turns into `null` plus an entry of the document's `absent` list, so that
//! a null and its reason can't come apart.

use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

/// Key of the marker object by which an absent value travels to the document.
pub(super) const MARKER: &str = "\u{1}absent";

/// Why something is absent, and what would help.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Why {
    pub reason: String,
    pub would_help: String,
}

impl Why {
    pub fn new(reason: impl Into<String>, would_help: impl Into<String>) -> Self {
        Why { reason: reason.into(), would_help: would_help.into() }
    }
}

/// A value, or the reason why there is none.
#[derive(Clone, Debug, PartialEq)]
pub enum Known<T> {
    Value(T),
    Absent(Why),
}

impl<T> Known<T> {
    /// Absent, with the reason and the remedy in plain words.
    pub fn absent(reason: impl Into<String>, would_help: impl Into<String>) -> Self {
        Known::Absent(Why::new(reason, would_help))
    }

    pub fn value(&self) -> Option<&T> {
        match self {
            Known::Value(v) => Some(v),
            Known::Absent(_) => None,
        }
    }

    pub fn why(&self) -> Option<&Why> {
        match self {
            Known::Value(_) => None,
            Known::Absent(w) => Some(w),
        }
    }

    pub fn map<U>(self, f: impl FnOnce(T) -> U) -> Known<U> {
        match self {
            Known::Value(v) => Known::Value(f(v)),
            Known::Absent(w) => Known::Absent(w),
        }
    }

    /// The value if there is one, else absent for this reason.
    pub fn from_option(value: Option<T>, reason: impl Into<String>, would_help: impl Into<String>) -> Self {
        match value {
            Some(v) => Known::Value(v),
            None => Known::absent(reason, would_help),
        }
    }
}

impl<T: Serialize> Serialize for Known<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Known::Value(v) => v.serialize(serializer),
            Known::Absent(why) => {
                let mut map = serializer.serialize_map(Some(1))?;
                map.serialize_entry(MARKER, why)?;
                map.end()
            }
        }
    }
}

/// An estimate, which never goes without its interval. All three in the same unit; `low <= value <= high`
/// except where a method's point lies outside its own interval by rounding. The level is the document's.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Estimate {
    #[serde(rename = "estimate")]
    pub value: f64,
    pub low: f64,
    pub high: f64,
    pub method: &'static str,
}

/// Serialises an [`Estimate`] of a stand as `{"stand", "low", "high", "method"}`.
pub fn as_stand<S: Serializer>(known: &Known<Estimate>, serializer: S) -> Result<S::Ok, S::Error> {
    #[derive(Serialize)]
    struct Stand {
        stand: f64,
        low: f64,
        high: f64,
        method: &'static str,
    }
    known.clone().map(|e| Stand { stand: e.value, low: e.low, high: e.high, method: e.method }).serialize(serializer)
}
