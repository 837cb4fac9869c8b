//! One look per vine and walk: exceptions before ranges, `rest` last, lines that disagree set aside.

use super::group::Group;
use super::{About, Reader, Seen};
use crate::base::words::intake as say;
use crate::block::{Look, VineIx, Walk};
use crate::intake::ledger::{Ledger, Note};
use std::collections::{HashMap, HashSet};

/// The walks in which a line could be used.
pub(super) fn walks(seen: &[Seen], groups: Vec<Group>, reader: &Reader, ledger: &mut Ledger) -> Vec<Walk> {
    let mut claimed = vec![0; reader.rows.vines.len()];
    let mut walks = Vec::new();
    for (number, group) in (1..).zip(groups) {
        let label = group.label.map(|code| reader.labels.label(code).to_string());
        let mut sorting = Sorting { seen, reader, claimed: &mut claimed, number, aside: HashSet::new() };
        let looks = sorting.looks(&group, ledger);
        walks.extend(walk(label, looks));
    }
    walks
}

fn walk(label: Option<String>, mut looks: Vec<Look>) -> Option<Walk> {
    looks.sort_unstable_by_key(|l| l.vine);
    let first_day = looks.iter().map(|l| l.date).min()?;
    let last_day = looks.iter().map(|l| l.date).max()?;
    Some(Walk { label: label.unwrap_or_else(|| first_day.to_string()), first_day, last_day, looks })
}

/// A line's claim to a vine, ordered by vine, then the narrowest line, then the file.
type Claim = (VineIx, u32, usize);

struct Sorting<'a, 't> {
    seen: &'a [Seen<'t>],
    reader: &'a Reader<'a>,
    /// The walk in which a line of its own was last about each vine.
    claimed: &'a mut [u32],
    number: u32,
    aside: HashSet<usize>,
}

impl Sorting<'_, '_> {
    fn looks(&mut self, group: &Group, ledger: &mut Ledger) -> Vec<Look> {
        let claims = self.claims(group);
        claims.iter().for_each(|(vine, ..)| self.claimed[*vine as usize] = self.number);
        for vine in claims.chunk_by(|a, b| a.0 == b.0) {
            self.compare(vine, ledger);
        }
        let mut looks: Vec<Look> = Vec::with_capacity(claims.len());
        looks.extend(claims.chunk_by(|a, b| a.0 == b.0).filter_map(|vine| self.pick(vine)));
        for line in self.rests(group, ledger) {
            looks.extend(self.rest(line));
        }
        looks
    }

    fn claims(&self, group: &Group) -> Vec<Claim> {
        let mut claims = Vec::new();
        for i in group.lines.iter().chain(&group.perhaps) {
            if let About::Vines(vines, span) = &self.seen[*i].about {
                claims.extend(vines.iter().map(|v| (*v, span.width(), *i)));
            }
        }
        claims.sort_unstable();
        claims
    }

    /// The usable lines among the narrowest about one vine.
    fn narrowest<'c>(&self, vine: &'c [Claim]) -> impl Iterator<Item = &'c Claim> {
        let width = vine.first().map_or(0, |c| c.1);
        vine.iter().take_while(move |c| c.1 == width).filter(|c| self.seen[c.2].look.is_some())
    }

    /// Sets aside lines of one width that disagree about a vine, and a line that only says the same again.
    fn compare(&mut self, vine: &[Claim], ledger: &mut Ledger) {
        let rivals: Vec<usize> = self.narrowest(vine).map(|c| c.2).collect();
        let [first, others @ ..] = &rivals[..] else { return };
        self.compare_lines(*first, others, vine[0].0, ledger);
    }

    fn compare_lines(&mut self, first: usize, others: &[usize], vine: VineIx, ledger: &mut Ledger) {
        let Some(other) = others.iter().find(|i| !agree(&self.seen[first], &self.seen[**i])) else {
            for again in others.iter().filter(|i| same_span(&self.seen[first], &self.seen[**i])) {
                self.set_aside(*again, duplicate(&self.seen[first]), ledger);
            }
            return;
        };
        self.set_aside(first, self.disagreement(vine, *other), ledger);
        others.iter().for_each(|i| self.set_aside(*i, self.disagreement(vine, first), ledger));
    }

    fn disagreement(&self, vine: VineIx, other: usize) -> Note {
        let place = self.reader.rows.vines[vine as usize].place;
        let row = self.reader.rows.layout.label(place.row);
        let other = self.seen[other].line.number();
        Note::new(say::LINES_DISAGREE, &[("row", &row), ("position", &place.position), ("other", &other)])
    }

    fn set_aside(&mut self, line: usize, note: Note, ledger: &mut Ledger) {
        self.aside.insert(line);
        ledger.set_aside(self.seen[line].line, note);
    }

    /// The look of the narrowest line about a vine; none if that line was set aside.
    fn pick(&self, vine: &[Claim]) -> Option<Look> {
        let (vine, _, line) = *self.narrowest(vine).find(|c| !self.aside.contains(&c.2))?;
        self.seen[line].look.clone().map(|look| Look { vine, ..look })
    }

    /// The usable `rest` lines, one per row.
    fn rests(&mut self, group: &Group, ledger: &mut Ledger) -> Vec<usize> {
        let mut by_row: HashMap<u32, Vec<usize>> = HashMap::new();
        for i in &group.lines {
            if matches!(self.seen[*i].about, About::Rest) && self.seen[*i].look.is_some() {
                by_row.entry(self.seen[*i].row).or_default().push(*i);
            }
        }
        let mut rows: Vec<Vec<usize>> = by_row.into_values().collect();
        rows.sort();
        for lines in &rows {
            let vine = self.reader.rows.vines_of(self.seen[lines[0]].row).start as VineIx;
            self.compare_lines(lines[0], &lines[1..], vine, ledger);
        }
        rows.into_iter().flatten().filter(|i| !self.aside.contains(i)).collect()
    }

    /// Every vine of the row that stood there and that no other line of this walk is about.
    fn rest(&self, line: usize) -> Vec<Look> {
        let Seen { row, look: Some(look), .. } = &self.seen[line] else { return Vec::new() };
        let unclaimed = |v: &VineIx| self.claimed[*v as usize] != self.number;
        let vines = self.reader.rows.living(*row, look.date).filter(unclaimed);
        vines.map(|vine| Look { vine, ..look.clone() }).collect()
    }
}

/// Whether two lines say the same of a vine; the day and the remarks don't count.
fn agree(a: &Seen, b: &Seen) -> bool {
    let said = |seen: &Seen| {
        let look = seen.look.clone()?;
        Some(Look { date: jiff::civil::Date::ZERO, detail: None, line: 0, ..look })
    };
    said(a) == said(b)
}

fn same_span(a: &Seen, b: &Seen) -> bool {
    match (&a.about, &b.about) {
        (About::Vines(_, a), About::Vines(_, b)) => a == b,
        (About::Rest, About::Rest) => true,
        _ => false,
    }
}

fn duplicate(first: &Seen) -> Note {
    Note::new(say::DUPLICATE, &[("other", &first.line.number())])
}
