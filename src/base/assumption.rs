//! Every default number of the program: name, value, unit, plausible range, source. The one table.
//!
//! A room that needs a default asks for it by name; the user overrides any of them in block.toml; the report
//! prints the table; the sensitivity analysis runs over it.

use super::quantity::Quantity;
use serde::Serialize;
use std::collections::BTreeMap;

const PRACTICE: &str = "common practice, no source";
const OURS: &str = "assumption of this program";

/// One default: a row of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Default {
    pub name: &'static str,
    /// What it is called in a sentence or a table.
    pub title: &'static str,
    pub value: f64,
    pub low: f64,
    pub high: f64,
    pub unit: &'static str,
    pub source: &'static str,
}

const fn row(
    name: &'static str,
    title: &'static str,
    value: f64,
    low: f64,
    high: f64,
    unit: &'static str,
    source: &'static str,
) -> Default {
    Default { name, title, value, low, high, unit, source }
}

/// The table. `low` and `high` are the plausible range: the 10 % and 90 % points where it is drawn from.
pub const DEFAULTS: &[Default] = &[
    // Sorting the vines.
    row(
        "triage.trunk_diameter_mm",
        "thickness at the wire that makes a trunk",
        8.0,
        6.5,
        9.5,
        "mm",
        "UK supplier's training sheet, years 1 and 2: pencil-thick at the main wire; range: trade usage, from memory",
    ),
    row(
        "triage.trunk_measured_below_wire_cm",
        "how far below the wire the thickness is measured",
        0.0,
        0.0,
        10.0,
        "cm",
        OURS,
    ),
    row(
        "triage.buds_when_cut_back",
        "buds left when a vine is cut back",
        2.0,
        2.0,
        3.0,
        "buds",
        "Christensen, UC farm advisor Fresno County, Vine Training: strongest cane cut to 2 buds",
    ),
    row(
        "triage.strong_class_from",
        "vigour class from which a vine is taken up",
        6.0,
        5.0,
        7.0,
        "vigour class 1 to 9",
        OURS,
    ),
    row("triage.weak_class_to", "vigour class up to which a vine is weak", 3.0, 2.0, 4.0, "vigour class 1 to 9", OURS),
    row(
        "triage.weak_height_share",
        "height below which a vine is weak",
        0.5,
        0.4,
        0.6,
        "share of the wire's height",
        OURS,
    ),
    row("triage.weak_diameter_mm", "thickness below which a vine is weak", 5.0, 4.0, 6.0, "mm", OURS),
    row(
        "triage.seasons_weak_before_replacing",
        "weak seasons before a vine is replaced",
        2.0,
        2.0,
        3.0,
        "seasons",
        OURS,
    ),
    row("triage.seasons_until_trained", "seasons until a vine is trained", 2.0, 1.0, 3.0, "seasons", OURS),
    row(
        "triage.share_strong_when_unmeasured",
        "share taken up where nothing was measured",
        0.5,
        0.2,
        0.8,
        "share of the living",
        OURS,
    ),
    // The year: months of the northern hemisphere, six later in the southern.
    row("season.dormant_from_month", "first month of the dormant season", 11.0, 10.0, 12.0, "month", PRACTICE),
    row("season.dormant_to_month", "last month of the dormant season", 3.0, 2.0, 4.0, "month", PRACTICE),
    // Fields of plausible values when reading (outside: set aside).
    row("check.height_max_cm", "greatest height believed", 500.0, 300.0, 600.0, "cm", OURS),
    row("check.diameter_max_mm", "greatest thickness believed", 60.0, 40.0, 80.0, "mm", OURS),
    // Labour and materials.
    row("labour.price_per_hour", "price of an hour's work", 20.0, 12.0, 30.0, "currency/h", PRACTICE),
    row("labour.take_up_minutes", "time to take up a vine", 1.5, 0.8, 3.0, "min/vine", PRACTICE),
    row("labour.cut_back_minutes", "time to cut back a vine", 0.6, 0.3, 1.2, "min/vine", PRACTICE),
    row("labour.pull_minutes", "time to pull a failed vine", 1.5, 0.8, 3.0, "min/vine", PRACTICE),
    row("labour.replant_minutes", "time to replant a gap", 6.0, 4.0, 10.0, "min/vine", PRACTICE),
    row(
        "labour.plant_minutes",
        "time to plant on free ground",
        1.3,
        1.0,
        3.0,
        "min/vine",
        "Champagne chambers of agriculture 2024: 370 vines per person and day; 8 h a day assumed",
    ),
    row("labour.move_minutes", "time to move a vine", 10.0, 6.0, 15.0, "min/vine", PRACTICE),
    row("labour.look_again_minutes", "time to look at a vine again", 0.5, 0.3, 1.0, "min/vine", PRACTICE),
    row(
        "material.price_per_vine",
        "price of a vine where none is stated",
        3.0,
        2.0,
        5.0,
        "currency/vine",
        "Univ. Vermont Extension FBRR 014 (2015): 2.90 to 3.40 US$; other countries and years differ",
    ),
    row(
        "material.bundle",
        "vines in a bundle where it isn't stated",
        25.0,
        1.0,
        100.0,
        "vines",
        "French federation's terms, April 2012: bundles of 25",
    ),
    row("material.guard_price", "price of a guard", 0.5, 0.3, 1.0, "currency/vine", PRACTICE),
    row("material.tie_price", "price of a tie", 0.05, 0.02, 0.1, "currency/tie", PRACTICE),
    row("material.ties_per_vine", "ties for each vine", 2.0, 1.0, 4.0, "ties/vine", PRACTICE),
    row("block.upkeep_per_place", "yearly upkeep of a place", 1.2, 0.6, 2.5, "currency/place/year", PRACTICE),
    row("block.harvest_per_kg", "cost of harvesting", 0.15, 0.05, 0.3, "currency/kg", PRACTICE),
    row("block.clear_price_per_place", "cost of clearing a place", 0.6, 0.2, 1.5, "currency/place", PRACTICE),
    row(
        "money.discount_rate",
        "discount rate",
        0.05,
        0.03,
        0.06,
        "per year, real",
        "convention, from memory: 3 to 6 % real",
    ),
    row(
        "options.refill_share",
        "share of failed new vines planted again",
        1.0,
        0.5,
        1.0,
        "share of new vines that fail, replanted the winter after",
        OURS,
    ),
    row("options.horizon_years", "years that options are followed", 15.0, 10.0, 25.0, "years", OURS),
    // A vine through the years.
    row(
        "take.new_batch",
        "first-year stand of a new batch",
        0.92,
        0.80,
        0.97,
        "stand after the first season",
        "range after Bioletti 1922, Circular 249 (95 % excellent, about 85 % average), and GiESCO 2023 abstract (first-year mortality 7.4 to 17.1 %)",
    ),
    row(
        "take.replant_factor",
        "harder start of a vine among older ones",
        0.97,
        0.90,
        1.0,
        "factor on the stand",
        "after Bioletti 1922, Circular 249: replants fail more; the number is an assumption of this program",
    ),
    row("take.moved", "stand of moved vines", 0.75, 0.5, 0.9, "stand after the move", PRACTICE),
    row(
        "loss.per_year",
        "yearly loss of living vines",
        0.01,
        0.005,
        0.03,
        "share of the living per year",
        "French handbook: under 3 % a year normal; Charentes network mean 1.1 %",
    ),
    row("growth.cut_back_delay_years", "delay of a vine cut back", 1.0, 0.5, 1.0, "years", PRACTICE),
    row("growth.moved_delay_years", "delay of a moved vine", 1.0, 1.0, 2.0, "years", PRACTICE),
    row(
        "growth.replant_final_share",
        "full crop of a replanted vine",
        1.0,
        0.8,
        1.0,
        "share of a full crop",
        "after Bioletti 1922: replants after year 2 stay dwarfed; first and second winter taken as full",
    ),
    row(
        "crop.leaf_1",
        "crop in the first year",
        0.0,
        0.0,
        0.0,
        "share of a full crop",
        "cost-study convention, from memory: nothing in years 1 and 2",
    ),
    row(
        "crop.leaf_2",
        "crop in the second year",
        0.0,
        0.0,
        0.1,
        "share of a full crop",
        "cost-study convention, from memory: nothing in years 1 and 2",
    ),
    row(
        "crop.leaf_3",
        "crop in the third year",
        0.4,
        0.33,
        0.5,
        "share of a full crop",
        "cost-study convention, from memory: a third to a half in year 3",
    ),
    row(
        "crop.leaf_4",
        "crop in the fourth year",
        0.75,
        0.7,
        0.8,
        "share of a full crop",
        "cost-study convention, from memory: 70 to 80 % in year 4",
    ),
    row(
        "crop.leaf_5",
        "crop in the fifth year",
        1.0,
        0.9,
        1.0,
        "share of a full crop",
        "cost-study convention, from memory; WSU EB1823: full about year 5",
    ),
    row(
        "crop.first_from_share",
        "crop that counts as the first",
        0.05,
        0.02,
        0.1,
        "share of a full block's crop",
        OURS,
    ),
    row("crop.full_from_share", "crop that counts as full", 0.9, 0.85, 0.95, "share of a full block's crop", OURS),
    row(
        "stand.new_batch_spread",
        "how much new batches differ",
        0.05,
        0.02,
        0.15,
        "intra-batch correlation of failures between batches",
        OURS,
    ),
    // Rates pooled over the levels of a factor: what is held plausible before the counts are seen.
    row(
        "pooling.mean_stand",
        "stand held likely before counting",
        0.5,
        0.04,
        0.96,
        "stand over all levels of a factor",
        OURS,
    ),
    // Orders.
    row("order.sure", "how sure an order has to be", 0.9, 0.8, 0.99, "probability", OURS),
    // Evidence.
    row("pooling.draws", "draws of all rates together", 4000.0, 1000.0, 100000.0, "draws", OURS),
    row("evidence.permutations", "re-arrangements for each test", 4999.0, 999.0, 99999.0, "re-arrangements", OURS),
    row(
        "evidence.stop_after",
        "re-arrangements as extreme as the block after which a test stops drawing",
        100.0,
        20.0,
        1000.0,
        "re-arrangements; their root is one over the relative error",
        OURS,
    ),
    row(
        "evidence.simulated_tables",
        "tables simulated for an exact test",
        9999.0,
        999.0,
        99999.0,
        "tables, where too many to count",
        OURS,
    ),
    row(
        "evidence.null_draws",
        "draws for each test of a variance",
        999.0,
        199.0,
        9999.0,
        "sets of counts drawn from the model without that variance",
        OURS,
    ),
    row(
        "evidence.clear_below",
        "p-value below which a pattern is called clear",
        0.01,
        0.001,
        0.01,
        "p-value said to be clear",
        "convention, no source",
    ),
    row(
        "evidence.likely_below",
        "p-value below which a pattern is called probable",
        0.05,
        0.01,
        0.05,
        "p-value said to make it likely",
        "convention, no source",
    ),
    row(
        "evidence.hint_below",
        "p-value below which a pattern is called a hint",
        0.1,
        0.05,
        0.1,
        "p-value said to be a hint",
        "convention, no source",
    ),
    row("evidence.watch_loss", "loss from which to watch", 0.03, 0.02, 0.05, "share failed", PRACTICE),
    row("evidence.investigate_loss", "loss from which to investigate", 0.05, 0.03, 0.1, "share failed", PRACTICE),
    row("explanation.prior.chance", "chance as explanation, before the data", 0.45, 0.3, 0.6, "probability", OURS),
    row("explanation.prior.batch", "batch as explanation, before the data", 0.10, 0.05, 0.3, "probability", OURS),
    row("explanation.prior.row", "row as explanation, before the data", 0.10, 0.05, 0.3, "probability", OURS),
    row("explanation.prior.place", "place as explanation, before the data", 0.10, 0.05, 0.3, "probability", OURS),
    row(
        "explanation.prior.order",
        "planting order as explanation, before the data",
        0.06,
        0.02,
        0.2,
        "probability",
        OURS,
    ),
    row(
        "explanation.prior.others",
        "clone, rootstock, variety, edge and declared factors together, before the data",
        0.03,
        0.01,
        0.1,
        "probability",
        OURS,
    ),
    row("explanation.prior.pairs", "two explanations at once, before the data", 0.12, 0.05, 0.25, "probability", OURS),
    row("explanation.base_stand", "stand where nothing is the matter", 0.94, 0.70, 0.99, "stand", OURS),
    row("explanation.effect_sd_once_in_ten", "size of an effect held likely", 2.0, 1.0, 3.0, "logit", OURS),
    row(
        "explanation.odd_effect_sd",
        "size of the effect of one odd level, hollow or step",
        2.5,
        1.5,
        3.5,
        "logit",
        OURS,
    ),
    row(
        "explanation.odd_level",
        "chance that one level is odd and the rest alike",
        0.5,
        0.25,
        0.75,
        "probability",
        OURS,
    ),
    row(
        "explanation.row_part",
        "chance that an odd row is odd from some place on only, to one of its ends",
        0.5,
        0.25,
        0.75,
        "probability",
        OURS,
    ),
    row(
        "explanation.order_with_batch",
        "what follows the planting order changed with the batch, where each was planted in one go",
        0.8,
        0.5,
        0.95,
        "probability",
        OURS,
    ),
    row(
        "explanation.field_range.least",
        "least range of a field of the ground",
        0.08,
        0.05,
        0.15,
        "share of the shorter side",
        OURS,
    ),
    row(
        "explanation.field_range.most",
        "greatest range of a field of the ground",
        0.4,
        0.3,
        0.6,
        "share of the shorter side",
        OURS,
    ),
    row("explanation.hollow_radius", "least radius of a hollow", 3.0, 2.0, 5.0, "m", OURS),
    row(
        "explanation.step_from",
        "part of the planters' walk at either end without a step",
        0.1,
        0.05,
        0.2,
        "share",
        OURS,
    ),
    row("verdict.majority", "probability from which an explanation is the verdict", 0.5, 0.5, 0.9, "probability", OURS),
    row(
        "verdict.accused_from",
        "probability of all explanations with the batch from which it is named",
        0.9,
        0.9,
        0.99,
        "probability",
        OURS,
    ),
    row(
        "verdict.covered",
        "probability that names have to cover where it can't be told",
        0.9,
        0.8,
        0.95,
        "probability",
        OURS,
    ),
    row("evidence.quadrat_vines", "vines of a small piece of ground", 15.0, 10.0, 20.0, "vines, about", OURS),
    row("evidence.patches", "patches looked for at most", 5.0, 1.0, 10.0, "patches", OURS),
    // What signatures and levels that can't be told apart are read by.
    row("signature.many", "share of vines from which a sign is on many of them", 1.0 / 3.0, 0.2, 0.5, "share", OURS),
    row(
        "signature.permutations",
        "re-arrangements for kinds of failure and signatures",
        999.0,
        499.0,
        9999.0,
        "re-arrangements",
        OURS,
    ),
    row("signature.winter_days", "days from planting that a winter lies in", 240.0, 200.0, 280.0, "days", OURS),
    row("signature.vines_to_look_at", "vines named for each thing to look at", 8.0, 5.0, 15.0, "vines", OURS),
    row(
        "unsettled.partly_below",
        "share that can be told apart below which a level is said to be told only in part",
        0.5,
        0.3,
        0.7,
        "share that can be told apart",
        OURS,
    ),
    // What a comparison could show.
    row(
        "power.higher_stand",
        "stand of the better of two stocks to be told apart",
        0.95,
        0.9,
        0.98,
        "stand",
        "after Bioletti 1922, Circular 249: 95 % is excellent",
    ),
    row("power.wanted", "chance with which a difference is to be told", 0.8, 0.8, 0.95, "probability", PRACTICE),
    row("power.alpha", "chance of telling a difference that isn't there", 0.05, 0.01, 0.1, "probability", PRACTICE),
    // What the advice says of its own doubt.
    row(
        "advice.narrow_lead",
        "lead below which the best option is only just best",
        0.2,
        0.1,
        0.3,
        "difference in the probability of being best",
        OURS,
    ),
];

/// One assumption in force, as documents list it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Assumption {
    pub name: String,
    /// What readers see in its place.
    #[serde(skip)]
    pub title: String,
    pub value: f64,
    pub unit: String,
    pub source: String,
    /// The plausible range, `[low, high]`.
    pub range: [f64; 2],
}

/// The table in force: the defaults and what the user overrode.
#[derive(Clone, Debug, PartialEq)]
pub struct Assumptions {
    rows: BTreeMap<&'static str, Row>,
}

#[derive(Clone, Debug, PartialEq)]
struct Row {
    default: Default,
    overridden: bool,
}

/// An override that can't be used.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum BadOverride {
    #[error("there is no assumption named \"{name}\"")]
    Unknown { name: String, nearest: Option<&'static str> },
    #[error("\"{name}\" must be a number from 0 up, or p10 <= p50 <= p90")]
    Unusable { name: String },
}

impl std::default::Default for Assumptions {
    fn default() -> Self {
        let rows = DEFAULTS.iter().map(|d| (d.name, Row { default: *d, overridden: false })).collect();
        Assumptions { rows }
    }
}

impl Assumptions {
    /// What several tables agree on: where they differ, the default.
    pub fn shared(tables: &[&Assumptions]) -> Self {
        let mut shared = Assumptions::default();
        for (name, row) in &mut shared.rows {
            let mut theirs = tables.iter().filter_map(|table| table.rows.get(name));
            if let Some(first) = theirs.next().filter(|first| theirs.all(|other| other == *first)) {
                *row = first.clone();
            }
        }
        shared
    }

    /// The value in force. Every name in the code stands in [`DEFAULTS`]; a test holds that.
    pub fn get(&self, name: &str) -> f64 {
        debug_assert!(self.rows.contains_key(name), "no assumption {name}");
        self.rows.get(name).map_or(0.0, |r| r.default.value)
    }

    /// The value with its range as a quantity.
    pub fn quantity(&self, name: &str) -> Quantity {
        self.rows.get(name).map_or(Quantity::certain(0.0), |r| Quantity {
            p10: r.default.low,
            p50: r.default.value,
            p90: r.default.high,
        })
    }

    /// Overrides one assumption. A plain number keeps the default's range, widened to hold it.
    pub fn set(&mut self, name: &str, value: Quantity) -> Result<(), BadOverride> {
        let Some(row) = self.rows.get_mut(name) else {
            return Err(BadOverride::Unknown { name: name.into(), nearest: nearest(name) });
        };
        let ordered = value.p10 <= value.p50 && value.p50 <= value.p90;
        if !ordered || !value.p10.is_finite() || !value.p90.is_finite() || value.p10 < 0.0 {
            return Err(BadOverride::Unusable { name: name.into() });
        }
        let certain = value.p10 == value.p90;
        row.default.value = value.p50;
        row.default.low = if certain { row.default.low.min(value.p50) } else { value.p10 };
        row.default.high = if certain { row.default.high.max(value.p50) } else { value.p90 };
        row.default.source = "set in block.toml";
        row.overridden = true;
        Ok(())
    }

    /// The same table with one value moved, for sensitivity runs.
    pub fn with(&self, name: &str, value: f64) -> Self {
        let mut moved = self.clone();
        if let Some(row) = moved.rows.get_mut(name) {
            row.default.value = value;
        }
        moved
    }

    /// What readers see in place of a name.
    pub fn title(&self, name: &str) -> Option<&'static str> {
        self.rows.get(name).map(|r| r.default.title)
    }

    pub fn is_overridden(&self, name: &str) -> bool {
        self.rows.get(name).is_some_and(|r| r.overridden)
    }

    /// All of them, in the order of [`DEFAULTS`].
    pub fn list(&self) -> Vec<Assumption> {
        DEFAULTS.iter().filter_map(|d| self.rows.get(d.name)).map(|r| as_listed(&r.default)).collect()
    }

    /// Those whose name starts with one of `prefixes`, in the order of [`DEFAULTS`].
    pub fn list_of(&self, prefixes: &[&str]) -> Vec<Assumption> {
        self.list().into_iter().filter(|a| prefixes.iter().any(|p| a.name.starts_with(p))).collect()
    }
}

fn as_listed(d: &Default) -> Assumption {
    Assumption {
        name: d.name.into(),
        title: d.title.into(),
        value: d.value,
        unit: d.unit.into(),
        source: d.source.into(),
        range: [d.low, d.high],
    }
}

/// The name that shares the longest beginning or end with an unknown one.
fn nearest(name: &str) -> Option<&'static str> {
    let shared = |d: &str| {
        let head = d.bytes().zip(name.bytes()).take_while(|(a, b)| a == b).count();
        let tail = d.bytes().rev().zip(name.bytes().rev()).take_while(|(a, b)| a == b).count();
        head + tail
    };
    DEFAULTS.iter().map(|d| d.name).max_by_key(|d| shared(d)).filter(|d| shared(d) >= 4)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_default_lies_in_its_range_and_has_a_source() {
        for d in DEFAULTS {
            assert!(d.low <= d.value && d.value <= d.high, "{}", d.name);
            assert!(!d.source.is_empty() && !d.unit.is_empty() && !d.title.is_empty(), "{}", d.name);
        }
        let mut names: Vec<_> = DEFAULTS.iter().map(|d| d.name).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), DEFAULTS.len());
    }

    #[test]
    fn an_override_is_checked_and_listed() {
        let mut a = Assumptions::default();
        a.set("labour.price_per_hour", Quantity::certain(45.0)).unwrap();
        assert_eq!(a.get("labour.price_per_hour"), 45.0);
        assert_eq!(a.quantity("labour.price_per_hour").p90, 45.0);
        let wrong = a.set("labour.price_per_hours", Quantity::certain(1.0));
        assert_eq!(
            wrong,
            Err(BadOverride::Unknown { name: "labour.price_per_hours".into(), nearest: Some("labour.price_per_hour") })
        );
        assert!(a.set("order.sure", Quantity { p10: 0.9, p50: 0.8, p90: 0.7 }).is_err());
    }
}
