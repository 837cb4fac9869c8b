//! A stand as told: with a point, between bounds, or not at all.

use crate::base::known::{Known, Why};
use crate::base::{Estimate, known};
use serde::{Serialize, Serializer};

/// A rate of a level, 0..1.
#[derive(Clone, Debug, PartialEq)]
pub enum Stand {
    Told(Estimate),
    /// Only bounds: what is seen fits everything between them.
    Bounded {
        low: f64,
        high: f64,
        why: Why,
    },
    Untold(Why),
}

impl Stand {
    pub fn new(estimate: Option<Estimate>, why: &Why) -> Self {
        estimate.map_or_else(|| Stand::Untold(why.clone()), Stand::Told)
    }

    /// The estimate, where there is a point.
    pub fn value(&self) -> Option<&Estimate> {
        match self {
            Stand::Told(estimate) => Some(estimate),
            _ => None,
        }
    }

    /// Lower and upper end, of the interval or of the bounds.
    pub fn ends(&self) -> Option<(f64, f64)> {
        match self {
            Stand::Told(estimate) => Some((estimate.low, estimate.high)),
            Stand::Bounded { low, high, .. } => Some((*low, *high)),
            Stand::Untold(_) => None,
        }
    }

    /// Why there is no point.
    pub fn why(&self) -> Option<&Why> {
        match self {
            Stand::Told(_) => None,
            Stand::Bounded { why, .. } | Stand::Untold(why) => Some(why),
        }
    }

    /// From the lower end to 1, without a point.
    pub fn up_to_1(&self, why: &Why) -> Self {
        match self.ends() {
            Some((low, _)) => Stand::Bounded { low, high: 1.0, why: why.clone() },
            None => self.clone(),
        }
    }

    /// From the lower of both lower ends to the higher of both upper ends, without a point.
    pub fn between(&self, other: &Stand, why: &Why) -> Self {
        match (self.ends(), other.ends()) {
            (Some(a), Some(b)) => Stand::Bounded { low: a.0.min(b.0), high: a.1.max(b.1), why: why.clone() },
            (Some((low, high)), None) | (None, Some((low, high))) => Stand::Bounded { low, high, why: why.clone() },
            (None, None) => Stand::Untold(self.why().or(other.why()).unwrap_or(why).clone()),
        }
    }
}

impl From<Known<Estimate>> for Stand {
    fn from(known: Known<Estimate>) -> Self {
        match known {
            Known::Value(estimate) => Stand::Told(estimate),
            Known::Absent(why) => Stand::Untold(why),
        }
    }
}

/// `{"stand", "low", "high", "method"}`; the stand is null between bounds, all of it null where nothing is told.
impl Serialize for Stand {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Between {
            stand: Known<f64>,
            low: f64,
            high: f64,
            method: &'static str,
        }
        match self {
            Stand::Told(estimate) => known::as_stand(&Known::Value(estimate.clone()), serializer),
            Stand::Untold(why) => Known::<f64>::Absent(why.clone()).serialize(serializer),
            Stand::Bounded { low, high, why } => {
                let stand = Known::Absent(why.clone());
                Between { stand, low: *low, high: *high, method: "bounds" }.serialize(serializer)
            }
        }
    }
}
