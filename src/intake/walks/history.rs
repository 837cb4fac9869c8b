//! What the walks say of a vine one after the other, where that is worth a second look.

use super::RowVines;
use crate::base::words::{fill, intake as say};
use crate::block::{State, Vine, VineIx, Walk};
use crate::intake::ledger::{Ledger, Note};
use crate::intake::table::Table;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Places named in one message.
const NAMED: usize = 5;

/// What is known of a vine from the walks so far.
#[derive(Clone, Copy, Debug, Default)]
struct Known {
    alive: bool,
    failed: bool,
}

/// Vines by the line that a finding is about, so that a range is one finding.
#[derive(Default)]
struct Noticed(BTreeMap<(u64, &'static str), (say::Kind, Vec<VineIx>)>);

impl Noticed {
    fn add(&mut self, kind: say::Kind, line: u32, vine: VineIx) {
        self.0.entry((u64::from(line), kind.code)).or_insert_with(|| (kind, Vec::new())).1.push(vine);
    }

    fn report(self, file: &str, rows: &RowVines, ledger: &mut Ledger) {
        for ((line, _), (kind, vines)) in self.0 {
            ledger.find(file, line, Note::new(kind, &[("places", &places(&vines, rows))]));
        }
    }
}

/// Reports vines alive after they failed, never grown after they lived, and looked at after they were removed.
pub(super) fn report(walks: &[Walk], rows: &RowVines, table: &Table, ledger: &mut Ledger) {
    let mut known = vec![Known::default(); rows.vines.len()];
    let mut noticed = Noticed::default();
    for look in walks.iter().flat_map(|w| &w.looks) {
        let vine = &mut known[look.vine as usize];
        let removed = rows.vines[look.vine as usize].removed_on.is_some_and(|r| r < look.date);
        let kinds = [
            (look.state == State::Alive && vine.failed, say::ALIVE_AFTER_FAILED),
            (look.state == State::NoBudburst && vine.alive, say::NO_BUDBURST_AFTER_ALIVE),
            (look.state != State::Missing && removed, say::SEEN_AFTER_REMOVAL),
        ];
        kinds.iter().filter(|(so, _)| *so).for_each(|(_, kind)| noticed.add(*kind, look.line, look.vine));
        vine.alive |= look.state == State::Alive;
        vine.failed = look.state.is_failed() || (vine.failed && look.state != State::Alive);
    }
    noticed.report(&table.file, rows, ledger);
}

/// Reports replants over a vine that nobody saw failed and that wasn't removed.
pub(super) fn report_replants(walks: &[Walk], rows: &RowVines, file: &str, ledger: &mut Ledger) {
    let failed_on = failed_on(walks, rows.vines.len());
    let mut noticed = Noticed::default();
    for (i, pair) in rows.vines.windows(2).enumerate() {
        let [before, after] = pair else { continue };
        if before.place == after.place && !has_ended(before, failed_on[i], after.planted_on) {
            noticed.add(say::REPLANT_UNSEEN, after.line, i as VineIx + 1);
        }
    }
    noticed.report(file, rows, ledger);
}

/// Removed, or seen failed by the day of the replant.
fn has_ended(before: &Vine, failed_on: Option<Date>, replanted_on: Option<Date>) -> bool {
    let seen_failed = failed_on.zip(replanted_on).is_some_and(|(failed, replanted)| failed <= replanted);
    before.removed_on.is_some() || seen_failed
}

fn failed_on(walks: &[Walk], vines: usize) -> Vec<Option<Date>> {
    let mut first = vec![None; vines];
    for look in walks.iter().flat_map(|w| &w.looks).filter(|l| l.state.is_failed()) {
        let day: &mut Option<Date> = &mut first[look.vine as usize];
        *day = Some(day.map_or(look.date, |d| d.min(look.date)));
    }
    first
}

/// "row 3, position 7; row 3, position 9 and 4 more".
fn places(vines: &[VineIx], rows: &RowVines) -> String {
    let name = |v: &VineIx| {
        let place = rows.vines[*v as usize].place;
        fill(say::ROW_POSITION, &[("row", &rows.layout.label(place.row)), ("position", &place.position)])
    };
    let named = vines.iter().take(NAMED).map(name).collect::<Vec<_>>().join("; ");
    match vines.len().saturating_sub(NAMED) {
        0 => named,
        more => fill(say::AND_MORE, &[("places", &named), ("more", &more)]),
    }
}
