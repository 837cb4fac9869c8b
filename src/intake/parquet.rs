//! Parquet to a table. The only place that knows polars.
//!
//! A file that was cut off or damaged is refused. One thing can't be caught: where the count of values in the header of
//! a page was overwritten, polars 0.55.2 may ask for more memory than there is, which ends the program.

use super::Unusable;
use super::table::{Table, TableBuilder};
use super::workbook::{guarded, plain, unreadable};
use jiff::{Span, civil::Date};
use polars::prelude::{AnyValue, DataFrame, ParquetReader, SerReader, Series, TimeUnit};
use std::fs::File;

/// Days from 1970-01-01 are counted from here.
const EPOCH: Date = jiff::civil::date(1970, 1, 1);
const SECONDS_PER_DAY: i64 = 86_400;

/// Reads a Parquet file; its first row counts as line 2, below the heading.
pub(super) fn read(file: &str, source: File) -> Result<Table, Unusable> {
    let frame = guarded(|| ParquetReader::new(source).finish().map_err(|e| e.to_string()));
    let table = frame.and_then(|frame| guarded(|| Ok(table(file, &frame))));
    table.map_err(|why| unreadable(file, &why))
}

fn table(file: &str, frame: &DataFrame) -> Table {
    let mut builder = TableBuilder::new(file);
    frame.get_column_names().iter().for_each(|name| builder.cell(name.as_str()));
    builder.end_line(1, None);
    if frame.height() > 0 {
        write_rows(frame, &mut builder);
    }
    builder.finish()
}

fn write_rows(frame: &DataFrame, builder: &mut TableBuilder) {
    let columns: Vec<Series> = frame.columns().iter().map(|c| c.as_materialized_series().rechunk()).collect();
    let mut cells: Vec<_> = columns.iter().map(Series::iter).collect();
    for number in 2..frame.height() as u64 + 2 {
        for column in &mut cells {
            builder.cell(&column.next().map_or_else(String::new, text));
        }
        builder.end_line(number, None);
    }
}

fn text(value: AnyValue) -> String {
    match value {
        AnyValue::Null => String::new(),
        AnyValue::String(text) => text.to_string(),
        AnyValue::Float32(number) => plain(f64::from(number)),
        AnyValue::Float64(number) => plain(number),
        AnyValue::Date(days) => day(i64::from(days)),
        AnyValue::Datetime(since, unit, _) => day(since.div_euclid(SECONDS_PER_DAY * per_second(unit))),
        other => other.str_value().into_owned(),
    }
}

fn per_second(unit: TimeUnit) -> i64 {
    match unit {
        TimeUnit::Milliseconds => 1_000,
        TimeUnit::Microseconds => 1_000_000,
        TimeUnit::Nanoseconds => 1_000_000_000,
    }
}

/// The date so many days from 1970-01-01; the number itself where there is no such date.
fn day(days: i64) -> String {
    let date = Span::new().try_days(days).ok().and_then(|span| EPOCH.checked_add(span).ok());
    date.map_or_else(|| days.to_string(), |d| d.to_string())
}
