//! `[claim."batch"]`: the terms agreed for a batch.

use super::Unusable;
use super::ledger::{Ledger, Note};
use super::node::Section;
use crate::base::words::intake as say;
use crate::block::{Clock, Notice, State, Terms};
use std::collections::BTreeMap;

const KEYS: &[&str] =
    &["guaranteed", "covers", "judged_by", "price_per_vine", "cap_share", "union_max_cm", "condition_text", "notice"];
const NOTICE_KEYS: &[&str] = &["after", "days", "working", "if_loss_over"];

/// Terms by batch, each with its line.
pub(super) fn read(root: &Section, ledger: &mut Ledger) -> Result<BTreeMap<String, (Terms, u64)>, Unusable> {
    let mut all = BTreeMap::new();
    for (batch, section) in root.sections("claim")? {
        all.insert(batch.trim().to_string(), (terms(&section, ledger)?, section.line));
    }
    Ok(all)
}

fn terms(section: &Section, ledger: &mut Ledger) -> Result<Terms, Unusable> {
    section.report_unknown(KEYS, ledger);
    let covers = section.read("covers", |n| n.list()?.iter().map(|s| s.choice(&failures())).collect())?;
    Ok(Terms {
        guaranteed: section.number("guaranteed", 0.0..=1.0)?,
        covers,
        judged_by: section.date("judged_by")?,
        price_per_vine: section.number("price_per_vine", 0.0..=1e9)?,
        cap_share: section.number("cap_share", 0.0..=1.0)?,
        union_max_cm: section.number("union_max_cm", 0.0..=500.0)?,
        condition_text: section.text("condition_text")?,
        notice: section.array("notice")?.iter().map(|s| notice(s, ledger)).collect::<Result<_, _>>()?,
    })
}

/// The states that can count against a batch.
fn failures() -> Vec<(&'static str, State)> {
    State::NAMES.into_iter().filter(|(_, state)| state.is_failed()).collect()
}

fn notice(section: &Section, ledger: &mut Ledger) -> Result<Notice, Unusable> {
    section.report_unknown(NOTICE_KEYS, ledger);
    let clocks = [("delivery", Clock::Delivery), ("planting", Clock::Planting), ("discovery", Clock::Discovery)];
    let missing = |key: &'static str, example: &'static str| {
        let values: [(&str, &dyn std::fmt::Display); 3] =
            [("action", &"notice"), ("missing", &key), ("example", &example)];
        section.refuse(Note::new(say::INCOMPLETE_STEP, &values))
    };
    Ok(Notice {
        after: section.choice("after", &clocks)?.ok_or_else(|| missing("after", "\"delivery\""))?,
        days: section.whole("days", 0..=36_500)?.ok_or_else(|| missing("days", "4"))? as u32,
        working: section.read("working", |n| n.flag())?.unwrap_or(false),
        if_loss_over: section.number("if_loss_over", 0.0..=1.0)?,
    })
}
