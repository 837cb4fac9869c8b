//! One cell to one value, or what is wrong with it. An empty cell is none; nothing is guessed.

use super::ledger::Note;
use crate::base::words::intake as say;
use crate::block::State;
use jiff::civil::Date;
use std::ops::RangeInclusive;

/// Years that a date may lie in.
const YEARS: RangeInclusive<i16> = 1900..=2199;
/// The furthest position in a row.
pub(super) const MOST_POSITIONS: u32 = 100_000;
/// The largest count of anything.
const MOST_COUNTED: u64 = 1_000_000_000;

type Read<T> = Result<Option<T>, Note>;

/// The order of day, month and year in the tables' dates.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct DateForm {
    /// Where day, month and year stand, from 0.
    day: usize,
    month: usize,
    year: usize,
    separator: char,
}

impl DateForm {
    /// Reads a form such as `day.month.year`.
    pub fn parse(form: &str) -> Option<Self> {
        let separator = form.chars().find(|c| !c.is_ascii_alphabetic())?;
        let parts: Vec<String> = form.split(separator).map(|p| p.trim().to_ascii_lowercase()).collect();
        let at = |name: &str| parts.iter().position(|p| p == name);
        let found = DateForm { day: at("day")?, month: at("month")?, year: at("year")?, separator };
        (parts.len() == 3).then_some(found)
    }

    /// A date in this form; the year has four digits.
    fn read(&self, text: &str) -> Option<Date> {
        let parts: Vec<&str> = text.split(self.separator).map(str::trim).collect();
        let [_, _, _] = parts[..] else { return None };
        let number = |at: usize, most: usize| digits(parts[at]).filter(|_| parts[at].len() <= most);
        (parts[self.year].len() == 4).then_some(())?;
        Date::new(number(self.year, 4)? as i16, number(self.month, 2)? as i8, number(self.day, 2)? as i8).ok()
    }
}

/// A date: ISO 8601 always, with a time of day after it or not, else in the tables' own form.
pub(super) fn date(column: &str, text: &str, form: Option<DateForm>) -> Read<Date> {
    if text.is_empty() {
        return Ok(None);
    }
    let read = iso_date(text).or_else(|| form.and_then(|f| f.read(text)));
    let bad = || Note::new(say::BAD_DATE, &[("column", &column), ("found", &text)]);
    let date = read.ok_or_else(bad)?;
    if !YEARS.contains(&date.year()) {
        let values: [(&str, &dyn std::fmt::Display); 4] =
            [("column", &column), ("found", &date), ("low", YEARS.start()), ("high", YEARS.end())];
        return Err(Note::new(say::UNLIKELY_DATE, &values));
    }
    Ok(Some(date))
}

fn iso_date(text: &str) -> Option<Date> {
    let (day, time) = text.split_at_checked(10)?;
    let is_time = |t: &str| t.chars().all(|c| c.is_ascii_digit() || matches!(c, ':' | '.' | '+' | '-' | 'Z' | ' '));
    let bytes = day.as_bytes();
    let ends = time.is_empty() || (time.starts_with(['T', ' ']) && is_time(&time[1..]));
    (ends && bytes[4] == b'-' && bytes[7] == b'-').then_some(())?;
    Date::new(digits(&day[..4])? as i16, digits(&day[5..7])? as i8, digits(&day[8..])? as i8).ok()
}

fn digits(text: &str) -> Option<u32> {
    (text.len() <= 9 && text.bytes().all(|b| b.is_ascii_digit())).then(|| text.parse().ok())?
}

/// A number with a decimal point or comma, within bounds. Thousands marks and exponents are not guessed at.
pub(super) fn number(column: &str, text: &str, within: RangeInclusive<f64>) -> Read<f64> {
    if text.is_empty() {
        return Ok(None);
    }
    let bad = || Note::new(say::BAD_NUMBER, &[("column", &column), ("found", &text)]);
    let value = plain_number(text).ok_or_else(bad)?;
    if within.contains(&value) { Ok(Some(value)) } else { Err(unlikely(column, text, &within)) }
}

fn unlikely<T: std::fmt::Display>(column: &str, text: &str, within: &RangeInclusive<T>) -> Note {
    let values: [(&str, &dyn std::fmt::Display); 4] =
        [("column", &column), ("found", &text), ("low", within.start()), ("high", within.end())];
    Note::new(say::UNLIKELY_VALUE, &values)
}

/// Sign, digits, one decimal mark, digits: nothing else.
pub(super) fn plain_number(text: &str) -> Option<f64> {
    let body = text.strip_prefix(['-', '+', '\u{2212}']).unwrap_or(text);
    let (whole, part) = body.split_once(['.', ',']).unwrap_or((body, "0"));
    let all_digits = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
    if (whole.is_empty() && part.is_empty()) || body.len() > 30 || !all_digits(whole) || !all_digits(part) {
        return None;
    }
    let size: f64 = format!("0{whole}.{part}0").parse().ok()?;
    body.starts_with(|c: char| c.is_ascii_digit() || c == '.' || c == ',').then_some(())?;
    Some(if text.starts_with(['-', '\u{2212}']) { -size } else { size })
}

/// A whole number from 0 up; "7.0" and "7,0" are 7, as tools write columns with gaps.
fn whole(text: &str) -> Option<u64> {
    if let Some(small) = digits(text).filter(|_| !text.is_empty()) {
        return Some(u64::from(small));
    }
    let value = plain_number(text)?;
    (value >= 0.0 && value.fract() == 0.0 && value <= MOST_COUNTED as f64).then_some(value as u64)
}

/// A count from 0 up.
pub(super) fn count(column: &str, text: &str) -> Read<u64> {
    if text.is_empty() {
        return Ok(None);
    }
    let bad = || Note::new(say::NOT_WHOLE, &[("column", &column), ("found", &text)]);
    whole(text).map(Some).ok_or_else(bad)
}

/// A whole number within bounds.
pub(super) fn class(column: &str, text: &str, within: RangeInclusive<u8>) -> Read<u8> {
    let Some(value) = count(column, text)? else { return Ok(None) };
    let inside = u8::try_from(value).ok().filter(|v| within.contains(v));
    inside.map(Some).ok_or_else(|| unlikely(column, text, &within))
}

/// One of the words of a column, in any case.
pub(super) fn word<T: Copy>(column: &str, text: &str, words: &[(&str, T)]) -> Read<T> {
    if text.is_empty() {
        return Ok(None);
    }
    let found = words.iter().find(|(word, _)| word.eq_ignore_ascii_case(text));
    let known = || words.iter().map(|(w, _)| *w).collect::<Vec<_>>().join(", ");
    let bad = || Note::new(say::UNKNOWN_WORD, &[("column", &column), ("found", &text), ("known", &known())]);
    found.map(|(_, value)| Some(*value)).ok_or_else(bad)
}

/// A state of a vine.
pub(super) fn state(text: &str) -> Read<State> {
    let known = || State::NAMES.map(|(name, _)| name).join(", ");
    word("state", text, &State::NAMES)
        .map_err(|_| Note::new(say::UNKNOWN_STATE, &[("found", &text), ("known", &known())]))
}

/// Yes or no.
pub(super) fn flag(column: &str, text: &str) -> Read<bool> {
    word(column, text, &[("yes", true), ("no", false), ("true", true), ("false", false), ("1", true), ("0", false)])
}

/// Positions `first` to `last` of a row, both from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Span {
    pub first: u32,
    pub last: u32,
}

impl Span {
    pub fn width(&self) -> u32 {
        self.last - self.first + 1
    }

    pub fn positions(&self) -> RangeInclusive<u32> {
        self.first..=self.last
    }
}

impl std::fmt::Display for Span {
    fn fmt(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        if self.first == self.last { write!(f, "{}", self.first) } else { write!(f, "{}-{}", self.first, self.last) }
    }
}

/// A position or a range such as `1-45`.
pub(super) fn span(column: &str, text: &str) -> Read<Span> {
    if text.is_empty() {
        return Ok(None);
    }
    let (first, last) = text.split_once(['-', '\u{2013}']).unwrap_or((text, text));
    let position = |t: &str| whole(t.trim()).filter(|p| (1..=u64::from(MOST_POSITIONS)).contains(p)).map(|p| p as u32);
    let read = position(first).zip(position(last)).filter(|(first, last)| first <= last);
    let bad = || Note::new(say::BAD_POSITION, &[("column", &column), ("found", &text), ("most", &MOST_POSITIONS)]);
    let (first, last) = read.ok_or_else(bad)?;
    Ok(Some(Span { first, last }))
}

/// A place written `row/position`; the row's label may itself hold a slash.
pub(super) fn place<'t>(column: &str, text: &'t str) -> Read<(&'t str, u32)> {
    if text.is_empty() {
        return Ok(None);
    }
    let read = text.rsplit_once('/').and_then(|(row, position)| {
        let span = span(column, position.trim()).ok()??;
        (span.width() == 1 && !row.trim().is_empty()).then_some((row.trim(), span.first))
    });
    read.map(Some).ok_or_else(|| Note::new(say::BAD_PLACE, &[("column", &column), ("found", &text)]))
}

/// A batch; "L3 | L1" names one of two and is written "L1|L3".
pub(super) fn batch(text: &str) -> Result<String, Note> {
    let mut parts: Vec<&str> = text.split('|').map(str::trim).collect();
    if parts.len() > 1 && parts.iter().any(|p| p.is_empty()) {
        return Err(Note::new(say::BAD_BATCH, &[("found", &text)]));
    }
    parts.sort_by(|a, b| crate::base::label::natural(a, b));
    parts.dedup();
    Ok(parts.join("|"))
}

/// A cell that must be filled.
pub(super) fn filled<T>(column: &str, read: Read<T>) -> Result<T, Note> {
    read?.ok_or_else(|| Note::new(say::EMPTY_CELL, &[("column", &column)]))
}

/// A text kept as it stands, none where the cell is empty.
pub(super) fn text(cell: &str) -> Option<String> {
    (!cell.is_empty()).then(|| cell.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date as day;

    #[test]
    fn dates_are_iso_or_as_block_toml_says() {
        let form = DateForm::parse("day.month.year");
        for text in ["2025-05-14", "2025-05-14 00:00:00", "2025-05-14T07:30:00", "14.05.2025", "14.5.2025"] {
            assert_eq!(date("d", text, form), Ok(Some(day(2025, 5, 14))), "{text}");
        }
        let code = |text, form| date("d", text, form).unwrap_err().code;
        assert_eq!(code("14.05.2025", None), "bad_date");
        for text in
            ["14.05.25", "05/14/2025", "31.02.2025", "2025-13-01", "45791", "2025-05-14x", "ä025-05-14", "..", "é"]
        {
            assert_eq!(code(text, form), "bad_date", "{text}");
        }
        assert_eq!(code("0205-05-14", form), "unlikely_date");
        assert!(date("d", "14.05.2025", form).is_ok() && date("d", "", form) == Ok(None));
        assert!(date("d", "", None).unwrap().is_none() && code("14.05.2025", None) == "bad_date");
        for form in ["day.month", "dd.mm.yyyy", "day.day.year", "", "day.month.year.day"] {
            assert_eq!(DateForm::parse(form), None, "{form}");
        }
        assert_eq!(date("d", "5/14/2025", DateForm::parse("month/day/year")), Ok(Some(day(2025, 5, 14))));
    }

    #[test]
    fn numbers_have_one_decimal_mark_and_no_thousands() {
        for (text, want) in [("1,5", 1.5), ("1.5", 1.5), ("-2", -2.0), ("7", 7.0), (".5", 0.5), ("+3,", 3.0)] {
            assert_eq!(number("n", text, -10.0..=10.0), Ok(Some(want)), "{text}");
        }
        for text in ["1.234,5", "1,234.5", "1 200", "1e5", "nan", "inf", "-", ".", "1..2", "--1", "0x1", "12cm", "٣"] {
            assert_eq!(number("n", text, -1e9..=1e9).unwrap_err().code, "bad_number", "{text}");
        }
        assert_eq!(number("height_cm", "1850", 0.0..=500.0).unwrap_err().code, "unlikely_value");
    }

    #[test]
    fn positions_are_numbers_or_ranges() {
        let read = |t| span("position", t).unwrap();
        assert_eq!(read("7.0"), Some(Span { first: 7, last: 7 }));
        assert_eq!(read("1 \u{2013} 45"), Some(Span { first: 1, last: 45 }));
        for text in ["0", "-3", "1-", "45-1", "1-2-3", "1.5", "2025-12-01", "100001", "99999999999999999999", "7a"] {
            assert_eq!(span("position", text).unwrap_err().code, "bad_position", "{text}");
        }
        assert_eq!(place("p", "12 A/7"), Ok(Some(("12 A", 7))));
        assert!(place("p", "7").is_err() && place("p", "/7").is_err() && place("p", "7/1-3").is_err());
    }

    #[test]
    fn one_of_two_batches_reads_the_same_both_ways() {
        assert_eq!(batch("L3 | L1"), Ok("L1|L3".into()));
        assert!(batch("L1|").is_err());
        assert_eq!(batch("007"), Ok("007".into()));
    }
}
