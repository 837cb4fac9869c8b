//! A value of block.toml with its place in the file, read into what is expected or refused with line and way out.

use super::Unusable;
use super::ledger::{Ledger, Note};
use super::nearest;
use super::value::DateForm;
use crate::base::words::{fill, intake as say};
use crate::base::{Quantity, Scale};
use jiff::civil::Date;
use std::ops::RangeInclusive;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The text that is being read.
#[derive(Clone, Copy, Debug)]
pub(super) struct Source<'t> {
    pub file: &'t str,
    pub text: &'t str,
}

impl Source<'_> {
    fn line_at(&self, byte: usize) -> u64 {
        let before = &self.text.as_bytes()[..byte.min(self.text.len())];
        1 + before.iter().filter(|b| **b == b'\n').count() as u64
    }

    /// Refuses with the place that the TOML reader names.
    pub fn refuse(&self, error: &toml::de::Error) -> Unusable {
        let line = error.span().map(|span| self.line_at(span.start));
        Note::new(say::BAD_TOML, &[("why", &error.message())]).unusable(self.file, line)
    }
}

/// A table of block.toml.
#[derive(Clone, Copy, Debug)]
pub(super) struct Section<'t> {
    pub source: Source<'t>,
    pub table: &'t DeTable<'t>,
    pub line: u64,
}

impl<'t> Section<'t> {
    pub fn get(&self, key: &str) -> Option<Node<'t>> {
        self.entries().find(|node| node.key == key)
    }

    pub fn entries(&self) -> impl Iterator<Item = Node<'t>> + use<'t> {
        let source = self.source;
        self.table.iter().map(move |(key, value)| Node { source, key: key.get_ref(), value })
    }

    /// The sections below, by name; empty where there is no such key.
    pub fn sections(&self, key: &str) -> Result<Vec<(&'t str, Section<'t>)>, Unusable> {
        let Some(node) = self.get(key) else { return Ok(Vec::new()) };
        node.section()?.entries().map(|n| Ok((n.key, n.section()?))).collect()
    }

    /// The sections of an array `[[key]]`; empty where there is no such key.
    pub fn array(&self, key: &str) -> Result<Vec<Section<'t>>, Unusable> {
        let Some(node) = self.get(key) else { return Ok(Vec::new()) };
        node.list()?.into_iter().map(|n| n.section()).collect()
    }

    /// Reports the keys that aren't among `known`.
    pub fn report_unknown(&self, known: &[&str], ledger: &mut Ledger) {
        for node in self.entries().filter(|n| !known.contains(&n.key)) {
            let hint = nearest::hint(node.key, known.iter().copied());
            let note = Note::new(say::UNKNOWN_KEY, &[("key", &node.key), ("nearest", &hint)]);
            ledger.find(self.source.file, node.line(), note);
        }
    }

    pub fn refuse(&self, note: Note) -> Unusable {
        note.unusable(self.source.file, Some(self.line))
    }

    /// What `read` makes of the value under `key`, none where the key isn't there.
    pub fn read<T>(
        &self,
        key: &str,
        read: impl FnOnce(Node<'t>) -> Result<T, Unusable>,
    ) -> Result<Option<T>, Unusable> {
        self.get(key).map(read).transpose()
    }

    pub fn text(&self, key: &str) -> Result<Option<String>, Unusable> {
        self.read(key, |n| n.text())
    }

    pub fn number(&self, key: &str, within: RangeInclusive<f64>) -> Result<Option<f64>, Unusable> {
        self.read(key, |n| n.number(within))
    }

    pub fn whole(&self, key: &str, within: RangeInclusive<u64>) -> Result<Option<u64>, Unusable> {
        self.read(key, |n| n.whole(within))
    }

    pub fn date(&self, key: &str) -> Result<Option<Date>, Unusable> {
        self.read(key, |n| n.date())
    }

    pub fn texts(&self, key: &str) -> Result<Vec<String>, Unusable> {
        let Some(node) = self.get(key) else { return Ok(Vec::new()) };
        node.list()?.into_iter().map(|n| n.text()).collect()
    }

    pub fn quantity(&self, key: &str, scale: Scale) -> Result<Option<Quantity>, Unusable> {
        self.read(key, |n| n.quantity(scale))
    }

    pub fn choice<T: Copy>(&self, key: &str, words: &[(&str, T)]) -> Result<Option<T>, Unusable> {
        self.read(key, |n| n.choice(words))
    }
}

/// One value.
#[derive(Clone, Copy, Debug)]
pub(super) struct Node<'t> {
    pub source: Source<'t>,
    pub key: &'t str,
    pub value: &'t Spanned<DeValue<'t>>,
}

impl<'t> Node<'t> {
    pub fn line(&self) -> u64 {
        self.source.line_at(self.value.span().start)
    }

    pub fn refuse(&self, note: Note) -> Unusable {
        note.unusable(self.source.file, Some(self.line()))
    }

    /// Refuses the value: what it is, what was wanted, an example.
    pub fn wrong(&self, wanted: &str, example: &str) -> Unusable {
        let found: String = self.source.text.get(self.value.span()).unwrap_or("?").chars().take(60).collect();
        let values: [(&str, &dyn std::fmt::Display); 4] =
            [("key", &self.key), ("found", &found), ("wanted", &wanted), ("example", &example)];
        self.refuse(Note::new(say::BAD_VALUE, &values))
    }

    /// A trimmed text; a whole number serves as a label, as growers write `rows = [1, 2]`.
    pub fn text(&self) -> Result<String, Unusable> {
        let text = match self.value.get_ref() {
            DeValue::String(text) => text.trim().to_string(),
            DeValue::Integer(number) if number.radix() == 10 => number.as_str().to_string(),
            _ => String::new(),
        };
        if text.is_empty() { Err(self.wrong(say::A_TEXT, "\"…\"")) } else { Ok(text) }
    }

    fn as_number(&self) -> Option<f64> {
        match self.value.get_ref() {
            DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix()).ok().map(|v| v as f64),
            DeValue::Float(f) => f.as_str().parse().ok().filter(|v: &f64| v.is_finite()),
            _ => None,
        }
    }

    pub fn number(&self, within: RangeInclusive<f64>) -> Result<f64, Unusable> {
        let wanted = || fill(say::A_NUMBER, &[("low", within.start()), ("high", within.end())]);
        self.as_number().filter(|v| within.contains(v)).ok_or_else(|| self.wrong(&wanted(), &within.end().to_string()))
    }

    pub fn whole(&self, within: RangeInclusive<u64>) -> Result<u64, Unusable> {
        let wanted = || fill(say::A_WHOLE, &[("low", within.start()), ("high", within.end())]);
        let whole = self.as_number().filter(|v| v.fract() == 0.0 && *v >= 0.0).map(|v| v as u64);
        whole.filter(|v| within.contains(v)).ok_or_else(|| self.wrong(&wanted(), &within.start().to_string()))
    }

    pub fn flag(&self) -> Result<bool, Unusable> {
        self.value.get_ref().as_bool().ok_or_else(|| self.wrong(say::A_FLAG, "true"))
    }

    /// A TOML date, or an ISO date in quotation marks.
    pub fn date(&self) -> Result<Date, Unusable> {
        let written = match self.value.get_ref() {
            DeValue::Datetime(d) => d.date.map(|d| format!("{:04}-{:02}-{:02}", d.year, d.month, d.day)),
            DeValue::String(text) => Some(text.trim().to_string()),
            _ => None,
        };
        let date = written.and_then(|w| super::value::date(self.key, &w, None).ok().flatten());
        date.ok_or_else(|| self.wrong(say::A_DATE, "2025-05-14"))
    }

    pub fn date_form(&self) -> Result<DateForm, Unusable> {
        DateForm::parse(&self.text()?).ok_or_else(|| self.wrong(say::A_DATE_FORM, "\"day.month.year\""))
    }

    pub fn list(&self) -> Result<Vec<Node<'t>>, Unusable> {
        let (source, key) = (self.source, self.key);
        let items = self.value.get_ref().as_array().ok_or_else(|| self.wrong(say::A_LIST, "[…]"))?;
        Ok(items.iter().map(|value| Node { source, key, value }).collect())
    }

    pub fn section(&self) -> Result<Section<'t>, Unusable> {
        let table = self.value.get_ref().as_table().ok_or_else(|| self.wrong(say::A_SECTION, "{ … }"))?;
        Ok(Section { source: self.source, table, line: self.line() })
    }

    /// A number, or `{ p10, p50, p90 }`.
    pub fn quantity(&self, scale: Scale) -> Result<Quantity, Unusable> {
        let read = self.unchecked_quantity().filter(|q| q.is_valid(scale) && q.p90 <= MOST_AMOUNT);
        read.ok_or_else(|| match scale {
            Scale::Amount => self.wrong(say::AN_AMOUNT, "1.5"),
            Scale::Rate => self.wrong(say::A_RATE, "{ p10 = 0.82, p50 = 0.93, p90 = 0.98 }"),
        })
    }

    /// A number or three; none where it is neither.
    pub fn unchecked_quantity(&self) -> Option<Quantity> {
        if let Some(number) = self.as_number() {
            return Some(Quantity::certain(number));
        }
        let points = self.section().ok().filter(|s| s.table.len() == 3)?;
        let point = |key: &str| points.get(key)?.as_number();
        Some(Quantity { p10: point("p10")?, p50: point("p50")?, p90: point("p90")? })
    }

    pub fn choice<T: Copy>(&self, words: &[(&str, T)]) -> Result<T, Unusable> {
        let written = self.value.get_ref().as_str().map(str::trim);
        let found = words.iter().find(|(word, _)| Some(*word) == written);
        let known = || words.iter().map(|(w, _)| *w).collect::<Vec<_>>().join(", ");
        let example = words.first().map_or("", |w| w.0);
        found
            .map(|(_, value)| *value)
            .ok_or_else(|| self.wrong(&fill(say::ONE_OF, &[("known", &known())]), &format!("\"{example}\"")))
    }
}

/// The largest amount of anything in block.toml.
const MOST_AMOUNT: f64 = 1e12;
