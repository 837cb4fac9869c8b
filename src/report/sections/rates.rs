//! The stand by factor, with intervals.

use super::folded;
use crate::base::words::number;
use crate::base::words::{fill, report as words};
use crate::base::{Assumptions, Known};
use crate::rates::{Contrast, FactorRates, LevelRates, Stand};
use crate::report::figures::{MOST_LEVELS, rates_figure};
use crate::report::labels::{Strength, factor, sentence};
use crate::report::part::{Column, Figure, Part, Table};
use crate::study::Study;

pub fn parts(study: &Study) -> Option<Vec<Part>> {
    let rates = &study.rates;
    let level = study.settings.level;
    let shown: Vec<&FactorRates> = rates.factors.iter().filter(|f| compares(f)).collect();
    if shown.is_empty() {
        return None;
    }
    let figures: Vec<Figure> =
        shown.iter().filter_map(|f| rates_figure(rates, f, level, rates_table(f, Shown::Stand))).collect();
    let pooled = figures.iter().any(|f| !f.key.is_empty());
    let mut parts = vec![
        Part::Text(fill(words::RATES_INTRO, &[("level", &number::chance(level))])),
        Part::Table(differences(&shown, &study.block.assumptions)),
        Part::Figures(figures),
    ];
    if figures_cut(&shown) {
        parts.push(Part::Text(words::RATES_LOWEST_NOTE.into()));
    }
    if pooled {
        parts.push(Part::Text(words::RATES_POOLED_NOTE.into()));
    }
    parts.extend(contrasts(&rates.contrasts));
    parts.extend(take(&rates.take));
    parts.push(Part::Notice(words::RATES_NOT_CAUSE.into()));
    Some(parts)
}

/// Whether a figure shows the lowest of its levels only.
fn figures_cut(shown: &[&FactorRates]) -> bool {
    shown.iter().any(|f| f.levels.len() > MOST_LEVELS)
}

/// Whether at least two levels have vines seen: one alone shows nothing that the whole block doesn't.
fn compares(f: &FactorRates) -> bool {
    f.levels.iter().filter(|l| l.seen > 0).count() > 1
}

/// Per factor its lowest and highest level, and whether the levels differ by more than chance.
fn differences(factors: &[&FactorRates], assumptions: &Assumptions) -> Table {
    let columns = vec![
        Column::text(words::C_BY),
        Column::text(words::C_LOWEST),
        Column::text(words::C_HIGHEST),
        Column::text(words::C_ANSWER),
        Column::number(words::C_P),
    ];
    let rows = factors.iter().map(|f| differ(f, assumptions)).collect();
    Table { caption: words::RATES_DIFFER.into(), columns, rows, ..Table::default() }
}

fn differ(f: &FactorRates, assumptions: &Assumptions) -> Vec<String> {
    let seen = || f.levels.iter().filter_map(|l| Some((l, l.raw.value()?.value)));
    let said = |found: Option<(&LevelRates, f64)>| {
        found.map_or_else(
            || words::NOT_KNOWN.into(),
            |(l, stand)| fill(words::RATES_ROW, &[("level", &l.level), ("stand", &number::percent(stand))]),
        )
    };
    let (answer, p) = match &f.tests.p_value {
        Known::Absent(why) => (sentence(&why.reason), words::NOT_KNOWN.into()),
        Known::Value(p) => (difference(Strength::of(*p, assumptions)).into(), number::p_alone(*p)),
    };
    let lowest = seen().min_by(|a, b| a.1.total_cmp(&b.1));
    let highest = seen().rev().max_by(|a, b| a.1.total_cmp(&b.1));
    vec![factor(&f.factor), said(lowest), said(highest), answer, p]
}

/// How the answer to "all alike?" is said.
fn difference(strength: Strength) -> &'static str {
    match strength {
        Strength::Clear => words::ANSWER_CLEAR,
        Strength::Likely => words::ANSWER_LIKELY,
        Strength::Hint => words::ANSWER_HINT,
        Strength::Nothing => words::ANSWER_SAME,
    }
}

/// What the levels' rates are of, and the column of what was lost.
#[derive(Clone, Copy)]
enum Shown {
    Stand,
    Take,
}

fn rates_table(f: &FactorRates, shown: Shown) -> Table {
    let (lost, rate) = match shown {
        Shown::Stand => (words::C_FAILED, words::C_STAND),
        Shown::Take => (words::C_NEVER_GREW, words::C_TAKE),
    };
    let columns = vec![
        Column::text(words::C_LEVEL),
        Column::number(words::C_SEEN),
        Column::number(lost),
        Column::number(rate),
        Column::number(words::C_INTERVAL),
        Column::number(words::C_ADJUSTED),
        Column::number(words::C_INTERVAL),
        Column::number(words::C_APART),
    ];
    let rows = f.levels.iter().map(|level| level_row(level, shown)).collect();
    Table { caption: factor(&f.factor), columns, rows, ..Table::default() }
}

fn level_row(level: &LevelRates, shown: Shown) -> Vec<String> {
    let unknown = || words::NOT_KNOWN.to_string();
    let interval = |(low, high): (f64, f64)| format!("{} to {}", number::percent(low), number::percent(high));
    let value = |stand: &Stand| stand.value().map_or_else(unknown, |e| number::percent(e.value));
    let ends = |stand: &Stand| stand.ends().map_or_else(unknown, interval);
    let lost = match shown {
        Shown::Stand => level.failed,
        Shown::Take => level.never_grew,
    };
    vec![
        level.level.clone(),
        number::count(level.seen),
        number::count(lost),
        value(&level.raw),
        ends(&level.raw),
        value(&level.pooled),
        ends(&level.pooled),
        level.separable.value().map_or_else(unknown, |s| number::percent(*s)),
    ]
}

fn contrasts(contrasts: &[Contrast]) -> Option<Part> {
    let columns = vec![
        Column::text(words::C_PAIR),
        Column::number(words::C_ODDS),
        Column::number(words::C_INTERVAL),
        Column::number(words::C_P),
    ];
    let row = |c: &Contrast| {
        vec![
            format!("{}: {} / {}", factor(&c.factor), c.a, c.b),
            odds(c.odds_ratio),
            format!("{} to {}", odds(c.low), odds(c.high)),
            number::p_value(c.p_adjusted),
        ]
    };
    let rows: Vec<_> = contrasts.iter().map(row).collect();
    let table = Table { caption: words::RATES_CONTRASTS.into(), columns, rows, ..Table::default() };
    (!contrasts.is_empty()).then(|| folded(words::RATES_CONTRASTS, vec![Part::Table(table)]))?
}

/// Odds beyond these say no more than that they are large or small.
const ODDS_SHOWN: (f64, f64) = (0.001, 1_000.0);

fn odds(ratio: f64) -> String {
    let (least, most) = ODDS_SHOWN;
    match ratio {
        r if r < least => fill(words::ODDS_TINY, &[("least", &number::plain(least))]),
        r if r > most => fill(words::ODDS_HUGE, &[("most", &number::plain(most))]),
        r => number::plain(r),
    }
}

fn take(factors: &[FactorRates]) -> Option<Part> {
    let shown = factors.iter().filter(|f| !f.levels.is_empty());
    folded(words::RATES_TAKE, shown.map(|f| Part::Table(rates_table(f, Shown::Take))).collect())
}
