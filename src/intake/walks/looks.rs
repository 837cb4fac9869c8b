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
        for lines in self.rests(group, ledger) {
            looks.extend(self.rest(&lines));
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

    /// Sets aside lines of one width that tell different states of a vine, and a line that tells the same state again.
    fn compare(&mut self, vine: &[Claim], ledger: &mut Ledger) {
        let rivals: Vec<usize> = self.narrowest(vine).map(|c| c.2).collect();
        let [first, others @ ..] = &rivals[..] else { return };
        self.compare_lines(*first, others, vine[0].0, ledger);
    }

    fn compare_lines(&mut self, first: usize, others: &[usize], vine: VineIx, ledger: &mut Ledger) {
        let state = |line: usize| self.seen[line].look.as_ref().map(|l| l.state);
        let Some(other) = others.iter().copied().find(|i| state(*i) != state(first)) else {
            let repeats = others.iter().copied().filter(|i| same_span(&self.seen[first], &self.seen[*i]));
            repeats.for_each(|again| ledger.set_aside(self.seen[again].line, self.repeat(vine, first, again)));
            return;
        };
        self.set_aside(first, self.disagreement(vine, other), ledger);
        others.iter().for_each(|i| self.set_aside(*i, self.disagreement(vine, first), ledger));
    }

    /// Why a line that tells the same state as the first is not needed.
    fn repeat(&self, vine: VineIx, first: usize, again: usize) -> Note {
        let other = self.seen[first].line.number();
        let (Some(look), Some(second)) = (&self.seen[first].look, &self.seen[again].look) else {
            return Note::new(say::DUPLICATE, &[("other", &other)]);
        };
        if measures(look).iter().zip(measures(second)).all(|(first, again)| again.is_none() || again == *first) {
            return Note::new(say::DUPLICATE, &[("other", &other)]);
        }
        let place = self.reader.rows.vines[vine as usize].place;
        let row = self.reader.rows.layout.label(place.row);
        Note::new(say::MEASURES_DIFFER, &[("row", &row), ("position", &place.position), ("other", &other)])
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

    /// The look of the narrowest lines about a vine; none if they disagree.
    fn pick(&self, vine: &[Claim]) -> Option<Look> {
        let ix = vine.first()?.0;
        self.merged(self.narrowest(vine).map(|c| c.2)).map(|look| Look { vine: ix, ..look })
    }

    /// The first of some lines that tell the same state, without the measurements in which another differs.
    fn merged(&self, lines: impl Iterator<Item = usize>) -> Option<Look> {
        let mut looks = lines.filter(|i| !self.aside.contains(i)).filter_map(|i| self.seen[i].look.as_ref());
        let first = looks.next()?.clone();
        Some(looks.fold(first, without_doubts))
    }

    /// The usable `rest` lines of each row.
    fn rests(&mut self, group: &Group, ledger: &mut Ledger) -> Vec<Vec<usize>> {
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
        rows
    }

    /// Every vine of the row that stood there and that no other line of this walk is about.
    fn rest(&self, lines: &[usize]) -> Vec<Look> {
        let Some(look) = self.merged(lines.iter().copied()) else { return Vec::new() };
        let row = self.seen[lines[0]].row;
        let unclaimed = |v: &VineIx| self.claimed[*v as usize] != self.number;
        let vines = self.reader.rows.living(row, look.date).filter(unclaimed);
        vines.map(|vine| Look { vine, ..look.clone() }).collect()
    }
}

/// The look without the measurements in which another look at the same vine differs: neither is known to be right.
fn without_doubts(look: Look, other: &Look) -> Look {
    Look {
        height_cm: undisputed(look.height_cm, other.height_cm),
        diameter_mm: undisputed(look.diameter_mm, other.diameter_mm),
        reached_wire: undisputed(look.reached_wire, other.reached_wire),
        vigour: undisputed(look.vigour, other.vigour),
        stage_bbch: undisputed(look.stage_bbch, other.stage_bbch),
        union: undisputed(look.union, other.union),
        union_height_cm: undisputed(look.union_height_cm, other.union_height_cm),
        ..look
    }
}

fn undisputed<T: PartialEq>(mine: Option<T>, other: Option<T>) -> Option<T> {
    mine.filter(|mine| other.is_none_or(|other| other == *mine))
}

/// What a look measured, each as a number.
fn measures(look: &Look) -> [Option<f32>; 7] {
    [
        look.height_cm,
        look.diameter_mm,
        look.reached_wire.map(|reached| f32::from(u8::from(reached))),
        look.vigour.map(f32::from),
        look.stage_bbch.map(f32::from),
        look.union.map(|union| f32::from(union as u8)),
        look.union_height_cm,
    ]
}

fn same_span(a: &Seen, b: &Seen) -> bool {
    match (&a.about, &b.about) {
        (About::Vines(_, a), About::Vines(_, b)) => a == b,
        (About::Rest, About::Rest) => true,
        _ => false,
    }
}
