//! surveys.csv: the walks through the rows.
//!
//! A line is about one place, a range, or the `rest` of its row. A narrower line is an exception to a range of the
//! same walk, and `rest` is every vine of the row that no other line of the walk is about. A line that was set aside
//! still is about its vine, which then is not looked at: nothing is said of it by a range or by `rest`.

mod group;
mod history;
mod looks;

use super::Unusable;
use super::coding::Coding;
use super::columns::{Column, Columns, Factors, Spec, whole_lines};
use super::courses::some_of;
use super::layout::RowIndex;
use super::ledger::{Ledger, Note};
use super::register::Planted;
use super::settings::Settings;
use super::table::{Line, Table};
use super::value::{self, Span};
use crate::base::words::intake as say;
use crate::block::{Layout, Look, LookDetail, Union, Vine, VineIx, Walk};
use jiff::civil::Date;
use std::ops::Range;

pub(super) const SPEC: Spec = Spec {
    required: &["row", "position", "surveyed_on", "state"],
    optional: &[
        "walk",
        "height_cm",
        "diameter_mm",
        "reached_wire",
        "vigour",
        "stage_bbch",
        "union",
        "union_height_cm",
        "guard",
        "cause_seen",
        "by",
        "method",
        "note",
        "photo",
    ],
    factors: Factors::Elsewhere,
};
const UNIONS: [(&str, Union); 3] = [("ok", Union::Ok), ("moves", Union::Moves), ("open", Union::Open)];
/// The word that stands for every other vine of the row.
const REST: &str = "rest";

/// Reads the walks; looks are sorted by vine, one per vine and walk.
///
/// Errors: a required column is missing.
pub(super) fn read(
    table: &Table,
    settings: &Settings,
    planted: &Planted,
    ledger: &mut Ledger,
) -> Result<Vec<Walk>, Unusable> {
    let columns = Columns::find(table, &SPEC, settings, ledger)?;
    let rows = RowVines::new(&planted.register.vines, &planted.layout, &planted.rows);
    let mut reader = Reader { columns: ColumnsRead::new(&columns), settings, rows, labels: Coding::default() };
    let lines = whole_lines(table, ledger);
    let mut seen = Vec::with_capacity(lines.len());
    for line in &lines {
        reader.line(*line, &mut seen, ledger);
    }
    let groups = group::walks(&seen, &reader.rows, table, ledger);
    let mut walks = looks::walks(&seen, groups, &reader, ledger);
    walks.sort_by(|a, b| (a.first_day, a.last_day, &a.label).cmp(&(b.first_day, b.last_day, &b.label)));
    history::report(&walks, &reader.rows, table, ledger);
    Ok(walks)
}

/// Reports replants over a vine that nobody saw failed and that wasn't removed.
pub(super) fn report_replants(walks: &[Walk], planted: &Planted, register: &Table, ledger: &mut Ledger) {
    let rows = RowVines::new(&planted.register.vines, &planted.layout, &planted.rows);
    history::report_replants(walks, &rows, &register.file, ledger);
}

/// What a line is about.
#[derive(Clone, Debug)]
enum About {
    /// Vines by index, from a place or range of this width.
    Vines(Vec<VineIx>, Span),
    Rest,
}

/// A line whose row and place are known. Without a look the line was set aside, but it still is about its vines.
#[derive(Clone, Debug)]
struct Seen<'t> {
    line: Line<'t>,
    date: Option<Date>,
    /// Code of the walk's label, if it has one.
    label: Option<u32>,
    row: u32,
    about: About,
    /// The look, its vine still open.
    look: Option<Look>,
}

struct ColumnsRead<'s> {
    row: Column<'s>,
    position: Column<'s>,
    surveyed_on: Column<'s>,
    state: Column<'s>,
    walk: Column<'s>,
    height_cm: Column<'s>,
    diameter_mm: Column<'s>,
    reached_wire: Column<'s>,
    vigour: Column<'s>,
    stage_bbch: Column<'s>,
    union: Column<'s>,
    union_height_cm: Column<'s>,
    detail: [Column<'s>; 6],
}

impl<'s> ColumnsRead<'s> {
    fn new(columns: &Columns<'s>) -> Self {
        ColumnsRead {
            row: columns.at("row"),
            position: columns.at("position"),
            surveyed_on: columns.at("surveyed_on"),
            state: columns.at("state"),
            walk: columns.at("walk"),
            height_cm: columns.at("height_cm"),
            diameter_mm: columns.at("diameter_mm"),
            reached_wire: columns.at("reached_wire"),
            vigour: columns.at("vigour"),
            stage_bbch: columns.at("stage_bbch"),
            union: columns.at("union"),
            union_height_cm: columns.at("union_height_cm"),
            detail: ["guard", "cause_seen", "by", "method", "note", "photo"].map(|name| columns.at(name)),
        }
    }
}

struct Reader<'s> {
    columns: ColumnsRead<'s>,
    settings: &'s Settings,
    rows: RowVines<'s>,
    labels: Coding,
}

impl<'s> Reader<'s> {
    /// Reads a line as far as it can be read, and sets it aside where something is wrong.
    fn line<'t>(&mut self, line: Line<'t>, seen: &mut Vec<Seen<'t>>, ledger: &mut Ledger)
    where
        's: 't,
    {
        let place = self.place(line);
        let date = self.date(line);
        let label = self.columns.walk.read(line);
        let label = (!label.is_empty()).then(|| self.labels.code(label));
        let look = date.clone().and_then(|date| self.look(line, date));
        let (date, note) = (date.ok(), look.as_ref().err().cloned());
        let about = place.and_then(|(row, span)| Ok((row, self.about(row, span, date, line, ledger)?)));
        match about {
            Err(trouble) => ledger.set_aside(line, trouble),
            Ok((row, about)) => {
                note.into_iter().for_each(|note| ledger.set_aside(line, note));
                seen.push(Seen { line, date, label, row, about, look: look.ok() });
            }
        }
    }

    /// The row, and the span of positions or none for `rest`.
    fn place(&self, line: Line) -> Result<(u32, Option<Span>), Note> {
        let row = value::filled("row", Ok(Some(self.columns.row.read(line)).filter(|r| !r.is_empty())))?;
        let position = self.columns.position.read(line);
        let rest = position.eq_ignore_ascii_case(REST);
        let span = if rest { None } else { Some(value::filled("position", value::span("position", position))?) };
        let index = self.rows.index.index(row).filter(|i| !self.rows.vines_of(*i).is_empty());
        let index = index.ok_or_else(|| self.unknown_row(row))?;
        let special = self.settings.layout.special(row);
        let places = special.and_then(|s| s.places).zip(span).filter(|(places, span)| span.last > *places);
        if let Some((places, span)) = places {
            let values: [(&str, &dyn std::fmt::Display); 3] =
                [("position", &span.last), ("row", &row), ("places", &places)];
            return Err(Note::new(say::PAST_ROW_END, &values));
        }
        Ok((index, span))
    }

    fn unknown_row(&self, row: &str) -> Note {
        let rows = some_of(self.rows.layout.rows.iter().map(|r| r.label.as_str()));
        Note::new(say::UNKNOWN_SURVEY_ROW, &[("row", &row), ("rows", &rows)])
    }

    fn date(&self, line: Line) -> Result<Date, Note> {
        let read = value::date("surveyed_on", self.columns.surveyed_on.read(line), self.settings.date_form);
        value::filled("surveyed_on", read)
    }

    fn look(&self, line: Line, date: Date) -> Result<Look, Note> {
        let c = &self.columns;
        let most = |name: &str| 0.0..=self.settings.assumptions.get(name);
        let height = most("check.height_max_cm");
        let centimetres = |name: &str, column: &Column<'s>| value::number(name, column.read(line), height.clone());
        let diameter = value::number("diameter_mm", c.diameter_mm.read(line), most("check.diameter_max_mm"))?;
        Ok(Look {
            vine: 0,
            date,
            state: value::filled("state", value::state(c.state.read(line)))?,
            height_cm: centimetres("height_cm", &c.height_cm)?.map(|v| v as f32),
            diameter_mm: diameter.map(|v| v as f32),
            reached_wire: value::flag("reached_wire", c.reached_wire.read(line))?,
            vigour: value::class("vigour", c.vigour.read(line), 1..=9)?,
            stage_bbch: value::class("stage_bbch", c.stage_bbch.read(line), 0..=99)?,
            union: value::word("union", c.union.read(line), &UNIONS)?,
            union_height_cm: centimetres("union_height_cm", &c.union_height_cm)?.map(|v| v as f32),
            detail: self.detail(line),
            line: line.number() as u32,
        })
    }

    fn detail(&self, line: Line) -> Option<Box<LookDetail>> {
        let [guard, cause_seen, by, method, note, photo] = self.columns.detail.map(|c| value::text(c.read(line)));
        let detail = LookDetail { guard, cause_seen, by, method, note, photo };
        (detail != LookDetail::default()).then(|| Box::new(detail))
    }

    /// The vines that a line is about. A line without a date is about every vine that ever stood there.
    fn about(
        &self,
        row: u32,
        span: Option<Span>,
        date: Option<Date>,
        line: Line,
        ledger: &mut Ledger,
    ) -> Result<About, Note> {
        let Some(span) = span else { return self.about_rest(row, date) };
        let mut vines = Vec::new();
        let mut without = Vec::new();
        for position in span.positions().filter(|p| span.width() == 1 || !self.rows.is_post(row, *p)) {
            let before = vines.len();
            match date {
                Some(date) => vines.extend(self.rows.standing(row, position, date)),
                None => vines.extend(self.rows.at(row, position)),
            }
            if vines.len() == before {
                without.push(position);
            }
        }
        let Some(first) = without.first() else { return Ok(About::Vines(vines, span)) };
        if vines.is_empty() {
            return Err(self.nothing_there(row, *first, date));
        }
        let values: [(&str, &dyn std::fmt::Display); 4] =
            [("missing", &without.len()), ("found", &span), ("row", &self.rows.layout.label(row)), ("position", first)];
        ledger.find(line.file(), line.number(), Note::new(say::RANGE_PARTLY_PLANTED, &values));
        Ok(About::Vines(vines, span))
    }

    fn about_rest(&self, row: u32, date: Option<Date>) -> Result<About, Note> {
        let Some(date) = date else { return Ok(About::Rest) };
        if self.rows.living(row, date).next().is_some() {
            return Ok(About::Rest);
        }
        let row = self.rows.layout.label(row);
        Err(Note::new(say::REST_OF_NOTHING, &[("row", &row), ("date", &date)]))
    }

    fn nothing_there(&self, row: u32, position: u32, date: Option<Date>) -> Note {
        let label = self.rows.layout.label(row);
        let first = self.rows.at(row, position).next();
        let planted = first.and_then(|v| self.rows.vines[v as usize].planted_on);
        match date.zip(planted) {
            Some((date, planted)) => {
                let values: [(&str, &dyn std::fmt::Display); 4] =
                    [("row", &label), ("position", &position), ("date", &date), ("planted", &planted)];
                Note::new(say::BEFORE_PLANTING, &values)
            }
            None => Note::new(say::NEVER_PLANTED, &[("row", &label), ("position", &position)]),
        }
    }
}

/// The vines of each row, in order of position and planting.
struct RowVines<'r> {
    vines: &'r [Vine],
    layout: &'r Layout,
    index: &'r RowIndex,
    /// Where each row's vines begin, and the end of the last.
    starts: Vec<usize>,
}

impl<'r> RowVines<'r> {
    fn new(vines: &'r [Vine], layout: &'r Layout, index: &'r RowIndex) -> Self {
        let start = |row: usize| vines.partition_point(|v| (v.place.row as usize) < row);
        RowVines { vines, layout, index, starts: (0..=layout.rows.len()).map(start).collect() }
    }

    fn vines_of(&self, row: u32) -> Range<usize> {
        let row = row as usize;
        self.starts[row]..self.starts[row + 1]
    }

    fn is_post(&self, row: u32, position: u32) -> bool {
        self.layout.rows[row as usize].no_vine.binary_search(&position).is_ok()
    }

    /// Every vine ever planted at a place, the earliest first.
    fn at(&self, row: u32, position: u32) -> Range<VineIx> {
        let Range { start, end } = self.vines_of(row);
        let here = &self.vines[start..end];
        let first = start + here.partition_point(|v| v.place.position < position);
        let last = start + here.partition_point(|v| v.place.position <= position);
        first as VineIx..last as VineIx
    }

    /// The vine that a line of this date is about: the one planted latest before it. One planted on the day itself
    /// serves where there was none before, or where that one had been removed.
    fn standing(&self, row: u32, position: u32, date: Date) -> Option<VineIx> {
        self.standing_of(self.at(row, position), date)
    }

    fn standing_of(&self, here: Range<VineIx>, date: Date) -> Option<VineIx> {
        let vine = |v: VineIx| &self.vines[v as usize];
        let before = here.clone().rev().find(|v| vine(*v).planted_on.is_none_or(|p| p < date));
        let on_the_day = here.rev().find(|v| vine(*v).planted_on == Some(date));
        let removed = before.is_some_and(|v| vine(v).removed_on.is_some_and(|r| r <= date));
        if removed { on_the_day.or(before) } else { before.or(on_the_day) }
    }

    /// The vines of a row that stood there on this date and were not removed by then.
    fn living(&self, row: u32, date: Date) -> impl Iterator<Item = VineIx> {
        let Range { start, end } = self.vines_of(row);
        let mut at = start;
        let places = std::iter::from_fn(move || {
            let position = self.vines[start..end].get(at - start)?.place.position;
            let begin = at;
            while at < end && self.vines[at].place.position == position {
                at += 1;
            }
            Some(begin as VineIx..at as VineIx)
        });
        places
            .filter_map(move |here| self.standing_of(here, date))
            .filter(move |v| self.vines[*v as usize].removed_on.is_none_or(|r| r > date))
    }
}
