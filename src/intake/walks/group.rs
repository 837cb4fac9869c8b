//! Which lines make one walk.

use super::{About, RowVines, Seen};
use crate::base::words::intake as say;
use crate::intake::ledger::{Ledger, Note};
use crate::intake::table::Table;
use jiff::civil::Date;

/// Without labels a new walk begins after a gap of this many days.
const GAP_DAYS: i32 = 15;

/// One walk: its label if it has one, and the lines that belong to it, by index.
#[derive(Debug, Default)]
pub(super) struct Group {
    pub label: Option<u32>,
    pub lines: Vec<usize>,
    /// Lines of unknown date and walk, set aside: their vines may have been looked at in this walk.
    pub perhaps: Vec<usize>,
}

/// Groups the lines: by label, and those without one by day.
pub(super) fn walks(seen: &[Seen], rows: &RowVines, table: &Table, ledger: &mut Ledger) -> Vec<Group> {
    let labelled = seen.iter().filter_map(|s| s.label).max().map_or(0, |most| most as usize + 1);
    let mut groups: Vec<Group> =
        (0..labelled).map(|label| Group { label: Some(label as u32), ..Group::default() }).collect();
    let mut by_day = Vec::new();
    let mut perhaps = Vec::new();
    for (i, line) in seen.iter().enumerate() {
        match (line.label, line.date) {
            (Some(label), _) => groups[label as usize].lines.push(i),
            (None, Some(date)) => by_day.push((date, i)),
            (None, None) => perhaps.push(i),
        }
    }
    by_day.sort();
    let mut unlabelled = without_labels(seen, &by_day, rows, table, ledger);
    unlabelled.iter_mut().for_each(|group| group.perhaps.clone_from(&perhaps));
    groups.append(&mut unlabelled);
    groups
}

/// A new walk begins after a gap, or on the day on which a vine is looked at again.
fn without_labels(
    seen: &[Seen],
    by_day: &[(Date, usize)],
    rows: &RowVines,
    table: &Table,
    ledger: &mut Ledger,
) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    let mut looked_at = LookedAt::new(rows);
    let mut last_day: Option<Date> = None;
    for day in by_day.chunk_by(|a, b| a.0 == b.0) {
        let date = day[0].0;
        let gap = last_day.is_none_or(|last| last.until(date).is_ok_and(|gap| gap.get_days() >= GAP_DAYS));
        let again = day.iter().find_map(|(_, i)| Some((*i, looked_at.again(&seen[*i])?)));
        if let (false, Some((i, vine))) = (gap, again) {
            let place = rows.vines[vine as usize].place;
            let values: [(&str, &dyn std::fmt::Display); 3] =
                [("date", &date), ("row", &rows.layout.label(place.row)), ("position", &place.position)];
            ledger.find(&table.file, seen[i].line.number(), Note::new(say::WALK_SPLIT, &values));
        }
        if gap || again.is_some() {
            groups.push(Group::default());
            looked_at.walk += 1;
        }
        day.iter().for_each(|(_, i)| looked_at.note(&seen[*i]));
        if let Some(group) = groups.last_mut() {
            group.lines.extend(day.iter().map(|(_, i)| *i));
        }
        last_day = Some(date);
    }
    groups
}

/// The walk in which each vine, and the rest of each row, was last looked at; walks count from 1.
struct LookedAt<'r> {
    walk: u32,
    vines: Vec<u32>,
    rests: Vec<u32>,
    rows: &'r RowVines<'r>,
}

impl<'r> LookedAt<'r> {
    fn new(rows: &'r RowVines<'r>) -> Self {
        LookedAt { walk: 0, vines: vec![0; rows.vines.len()], rests: vec![0; rows.layout.rows.len()], rows }
    }

    /// A vine of this line that has been looked at in this walk, on an earlier day.
    fn again(&self, line: &Seen) -> Option<u32> {
        if self.walk == 0 {
            return None;
        }
        let rest_done = self.rests[line.row as usize] == self.walk;
        match &line.about {
            About::Vines(vines, _) => vines.iter().copied().find(|v| rest_done || self.vines[*v as usize] == self.walk),
            About::Rest => rest_done.then(|| self.rows.vines_of(line.row).start as u32),
        }
    }

    fn note(&mut self, line: &Seen) {
        match &line.about {
            About::Vines(vines, _) => vines.iter().for_each(|v| self.vines[*v as usize] = self.walk),
            About::Rest => self.rests[line.row as usize] = self.walk,
        }
    }
}
