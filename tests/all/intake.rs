//! Block folders read: dialects, every kind of trouble at its file and line, ranges, walks, counts.

use crate::damaged::{Files, check_reading, small_block};
use fullstand::base::words::intake::{FINDINGS, Kind, SET_ASIDE, UNUSABLE};
use fullstand::block::{CountSheet, Place, Plants, Register, RemovedWhy, State, Walk};
use fullstand::intake::{self, Folder, Reading, StartConfig, Unusable};
use jiff::civil::date;
use std::collections::BTreeSet;

const BLOCK: &str = "name = \"Upper Slope\"\nplanted_on = 2031-05-02\n";
const VINES: &str = "row,position,variety,batch\n1,1-10,Hárs,B1\n2,1-10,Hárs,B2\n";

fn files(named: &[(&str, &str)]) -> Files {
    named.iter().map(|(name, text)| (name.to_string(), text.as_bytes().to_vec())).collect()
}

#[track_caller]
fn read(named: &[(&str, &str)]) -> Reading {
    check_reading(&files(named)).unwrap_or_else(|e| panic!("{e} ({})", e.hint))
}

/// A block of two rows of ten vines, with these walks.
#[track_caller]
fn walked(surveys: &str) -> Reading {
    read(&[("block.toml", BLOCK), ("vines.csv", VINES), ("surveys.csv", surveys)])
}

fn planted(reading: &Reading) -> &Register {
    match &reading.block.plants {
        Plants::Vines(register) => register,
        Plants::Counts(_) => panic!("counts, not vines"),
    }
}

fn counted(reading: &Reading) -> &CountSheet {
    match &reading.block.plants {
        Plants::Counts(sheet) => sheet,
        Plants::Vines(_) => panic!("vines, not counts"),
    }
}

/// Code and line of everything found.
fn found(reading: &Reading) -> Vec<(&'static str, u64)> {
    reading.check.findings.iter().map(|f| (f.code, f.line)).collect()
}

fn set_aside(reading: &Reading) -> Vec<(&'static str, u64)> {
    reading.set_aside.iter().map(|s| (s.code, s.line)).collect()
}

/// Row, position and state of every look.
fn looks<'r>(reading: &'r Reading, walk: &Walk) -> Vec<(&'r str, u32, State)> {
    let vine = |ix: u32| planted(reading).vines[ix as usize].place;
    let place = |ix| (reading.block.layout.label(vine(ix).row), vine(ix).position);
    walk.looks.iter().map(|l| (place(l.vine).0, place(l.vine).1, l.state)).collect()
}

fn label<'r>(register: &'r Register, factor: &str, row: u32, position: u32) -> Option<&'r str> {
    let at = register.vines.iter().position(|v| v.place == Place { row, position })?;
    register.factor(factor)?.label(at)
}

// Dialects.

const DIALECT_BLOCK: &str = "name = \"B\"\nplanted_on = 2031-05-02\ndate_format = \"day.month.year\"\n";
const DIALECT_WALK: &str = "row;position;surveyed_on;state;height_cm;note\n\
    1;2;30.09.2031;alive;85,5;\"Blüte spät;\nzweite Zeile\"\n\n;;;;;\n1;3;2031-09-30;died;;x\n";

fn dialect(surveys: Vec<u8>) -> Reading {
    let mut folder = files(&[("block.toml", DIALECT_BLOCK), ("vines.csv", VINES)]);
    folder.insert("surveys.csv".into(), surveys);
    check_reading(&folder).unwrap()
}

#[track_caller]
fn assert_same_walk(reading: &Reading) {
    let file = reading.check.files.iter().find(|f| f.file.starts_with("surveys")).unwrap();
    assert_eq!((file.lines, file.used, file.blank), (4, 2, 2));
    assert!(reading.check.findings.is_empty(), "{:?}", reading.check.findings);
    let [first, second] = &planted(reading).walks[0].looks[..] else { panic!("two looks") };
    assert_eq!((first.height_cm, first.date, first.line), (Some(85.5), date(2031, 9, 30), 2));
    let note = first.detail.as_ref().and_then(|d| d.note.clone()).unwrap();
    assert_eq!(note.split(['\r', '\n']).filter(|l| !l.is_empty()).collect::<Vec<_>>(), ["Blüte spät;", "zweite Zeile"]);
    assert_eq!((second.state, second.line), (State::Died, 6));
}

#[test]
fn every_encoding_and_line_end_reads_the_same() {
    let utf8 = DIALECT_WALK.as_bytes().to_vec();
    let windows: Vec<u8> = DIALECT_WALK.chars().map(|c| c as u8).collect();
    let wide = |order: fn(u16) -> [u8; 2]| DIALECT_WALK.encode_utf16().flat_map(order).collect::<Vec<u8>>();
    for bytes in [
        [b"\xEF\xBB\xBF".to_vec(), utf8.clone()].concat(),
        [b"\xFF\xFE".to_vec(), wide(u16::to_le_bytes)].concat(),
        [b"\xFE\xFF".to_vec(), wide(u16::to_be_bytes)].concat(),
        wide(u16::to_le_bytes),
        DIALECT_WALK.replace('\n', "\r\n").into_bytes(),
        DIALECT_WALK.replace('\n', "\r").into_bytes(),
        windows,
        utf8,
    ] {
        assert_same_walk(&dialect(bytes));
    }
}

#[test]
fn every_separator_reads_the_same() {
    assert_same_walk(&dialect(
        DIALECT_WALK.replace("spät;", "spät\u{1}").replace(';', "\t").replace('\u{1}', ";").into(),
    ));
    let commas =
        DIALECT_WALK.replace("spät;", "spät\u{1}").replace("85,5", "85.5").replace(';', ",").replace('\u{1}', ";");
    assert_same_walk(&dialect(commas.into()));
}

#[test]
fn the_growers_own_headings_and_words_are_read() {
    let block = "name = \"B\"\nplanted_on = 2031-05-02\n[columns]\nrow = \"Reihe\"\nposition = \"Stock\"\nstate = \"Zustand\"\n\
        surveyed_on = \"Tag\"\n[values.state]\n\"Tot\" = \"dead\"\n[values.variety]\n\"H\" = \"Hárs\"\n";
    let reading = read(&[
        ("block.toml", block),
        ("vines.csv", "REIHE , stock,Variety\n007,1-2,H\n"),
        ("surveys.csv", "Reihe,Stock,Tag,Zustand\n007,1,2031-09-30,tot\n"),
    ]);
    assert!(reading.check.findings.is_empty(), "{:?}", reading.check.findings);
    assert_eq!(looks(&reading, &planted(&reading).walks[0]), [("007", 1, State::Dead)]);
    assert_eq!(label(planted(&reading), "variety", 0, 1), Some("Hárs"));
}

#[test]
fn a_workbook_serves_for_the_whole_folder() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = rust_xlsxwriter::Workbook::new();
    let day = rust_xlsxwriter::Format::new().set_num_format("dd.mm.yyyy");
    let sheet = book.add_worksheet().set_name("Block").unwrap();
    for (i, (key, value)) in
        [("key", "value"), ("name", "Upper Slope"), ("layout.row_spacing_m", "2.4"), ("factors", "[\"crew\"]")]
            .into_iter()
            .enumerate()
    {
        sheet.write(i as u32, 0, key).unwrap().write(i as u32, 1, value).unwrap();
    }
    sheet.write(4, 0, "planted_on").unwrap();
    sheet.write_with_format(4, 1, rust_xlsxwriter::ExcelDateTime::from_ymd(2031, 5, 2).unwrap(), &day).unwrap();
    sheet.write(5, 0, "claim.7.guaranteed").unwrap().write(5, 1, 0.95).unwrap();
    let sheet = book.add_worksheet().set_name("vines").unwrap();
    for (column, heading) in (0..).zip(["row", "position", "variety", "batch", "crew"]) {
        sheet.write(0, column, heading).unwrap();
    }
    sheet.write(1, 0, 7).unwrap().write(1, 1, "1-3").unwrap().write(1, 2, "Hárs").unwrap().write(1, 3, 7).unwrap();
    sheet.write(1, 4, 1.5).unwrap();
    // Row 3 stays blank; row 4 has no variety and a bad position.
    sheet.write(3, 0, "8").unwrap().write(3, 1, "x").unwrap();
    let sheet = book.add_worksheet().set_name("surveys").unwrap();
    for (column, heading) in (0..).zip(["row", "position", "state", "surveyed_on", "height_cm"]) {
        sheet.write(0, column, heading).unwrap();
    }
    sheet.write(1, 0, 7).unwrap().write(1, 1, 2).unwrap().write(1, 2, "alive").unwrap().write(1, 4, 85.5).unwrap();
    sheet.write_with_format(1, 3, rust_xlsxwriter::ExcelDateTime::from_ymd(2031, 9, 30).unwrap(), &day).unwrap();
    book.save(folder.path().join("my block.xlsx")).unwrap();

    assert_eq!(intake::find(folder.path()).unwrap(), Folder::Block(folder.path().into()));
    let reading = intake::read(folder.path()).unwrap();
    assert_eq!(set_aside(&reading), [("bad_position", 4)]);
    let vines = &reading.check.files[0];
    assert_eq!((vines.file.as_str(), vines.lines, vines.used, vines.blank), ("my block.xlsx:vines", 3, 1, 1));
    let register = planted(&reading);
    assert_eq!((label(register, "batch", 0, 1), label(register, "crew", 0, 1)), (Some("7"), Some("1.5")));
    assert_eq!(register.vines[0].planted_on, Some(date(2031, 5, 2)));
    assert_eq!(reading.block.layout.row_spacing_m, Some(2.4));
    assert_eq!(reading.block.terms["7"].guaranteed, Some(0.95));
    let look = &register.walks[0].looks[0];
    assert_eq!((look.vine, look.date, look.height_cm), (1, date(2031, 9, 30), Some(85.5)));
}

#[test]
fn a_parquet_table_reads_like_csv() {
    use polars::prelude::*;
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("block.toml"), BLOCK).unwrap();
    let days = [Some(22_402i32), None]; // 2031-05-03 is 22,402 days after 1970-01-01
    let mut frame = DataFrame::new(
        2,
        vec![
            Column::new("row".into(), ["007", "8"]),
            Column::new("position".into(), [Some(1.0f64), Some(2.0)]),
            Column::new("variety".into(), ["Hárs", "Hárs"]),
            Column::new("clone".into(), [Some(3i64), None]),
            Series::new("planted_on".into(), days).cast(&DataType::Date).unwrap().into(),
        ],
    )
    .unwrap();
    let file = std::fs::File::create(folder.path().join("vines.parquet")).unwrap();
    ParquetWriter::new(file).finish(&mut frame).unwrap();
    let reading = intake::read(folder.path()).unwrap();
    let register = planted(&reading);
    assert_eq!(reading.block.layout.rows.iter().map(|r| r.label.as_str()).collect::<Vec<_>>(), ["007", "8"]);
    assert_eq!(register.vines[0].planted_on, Some(date(2031, 5, 3)));
    assert_eq!(register.vines[1].planted_on, Some(date(2031, 5, 2)));
    assert_eq!((label(register, "clone", 0, 1), label(register, "clone", 1, 2)), (Some("3"), None));
}

// Every kind of trouble, at its place.

type Case = (&'static str, &'static [(&'static str, &'static str)], &'static str, u64);

/// The code, what it takes in otherwise sound files, and the file and line that are named.
const CASES: &[Case] = &[
    // Unusable.
    ("bad_toml", &[("block.toml", "name = \"x\"\nrows = [1,\n")], "block.toml", 2),
    ("no_name", &[("block.toml", "currency = \"EUR\"\n")], "block.toml", 1),
    ("bad_value", &[("block.toml", "name = \"x\"\n[layout]\nrow_spacing_m = \"2,4\"\n")], "block.toml", 3),
    ("bad_value", &[("block.toml", "name = \"x\"\n[layout]\nrow_spacing_m = -2\n")], "block.toml", 3),
    ("bad_value", &[("block.toml", "name = \"x\"\ndate_format = \"dd.mm.yy\"\n")], "block.toml", 2),
    (
        "bad_value",
        &[("block.toml", "name = \"x\"\n[materials.a]\nprice_per_vine = { p10 = 3, p50 = 2, p90 = 4 }\n")],
        "block.toml",
        3,
    ),
    ("bad_value", &[("block.toml", "name = \"x\"\n[materials.a]\nfirst_year_stand = 1.5\n")], "block.toml", 3),
    ("bad_value", &[("block.toml", "name = \"x\"\n[assumptions]\n\"order.sure\" = \"much\"\n")], "block.toml", 3),
    ("bad_value", &[("block.toml", "name = \"x\"\n[assumptions]\n\"order.sure\" = -1\n")], "block.toml", 3),
    ("bad_value", &[("block.toml", "name = \"x\"\n[claim.B1]\ncovers = [\"alive\"]\n")], "block.toml", 3),
    (
        "bad_value",
        &[("block.toml", "name = \"x\"\n[[layout.row]]\nrow = \"1\"\nplaces = 3\nno_vine = [4]\n")],
        "block.toml",
        5,
    ),
    (
        "conflicting_keys",
        &[("block.toml", "name = \"x\"\n[layout]\nrow_spacing_m = 2\nrow_spacing_ft = 7\n")],
        "block.toml",
        4,
    ),
    ("bad_factor", &[("block.toml", "name = \"x\"\nfactors = [\"a+b\"]\n")], "block.toml", 2),
    ("bad_factor", &[("block.toml", "name = \"x\"\nfactors = [\"edge\"]\n")], "block.toml", 2),
    ("bad_factor", &[("block.toml", "name = \"x\"\nfactors = [\"clone\"]\n")], "block.toml", 2),
    ("repeated_name", &[("block.toml", "name = \"x\"\nfactors = [\"crew\", \"crew\"]\n")], "block.toml", 2),
    ("repeated_name", &[("block.toml", "name = \"x\"\n[layout]\nrows = [\"1\", \"1\"]\n")], "block.toml", 3),
    ("missing_column", &[("vines.csv", "row,place\n1,1\n")], "vines.csv", 1),
    ("missing_column", &[("surveys.csv", "row,position,state\n")], "surveys.csv", 1),
    ("duplicate_column", &[("vines.csv", "row,position,variety,Row\n1,1,a,2\n")], "vines.csv", 1),
    ("two_sources", &[("vines.parquet", "")], "vines.parquet", 0),
    ("unreadable_file", &[("batches.parquet", "PAR1 not really PAR1")], "batches.parquet", 0),
    ("unreadable_file", &[("block.xlsx", "not a workbook")], "block.xlsx", 0),
    (
        "option_left_out",
        &[(
            "block.toml",
            "name = \"x\"\n[[option]]\nname = \"o\"\n[[option.step]]\nvines = \"all\"\nrows = [\"9\"]\ndo = \"clear\"\n",
        )],
        "block.toml",
        4,
    ),
    ("unknown_row", &[("block.toml", "name = \"x\"\n[limits]\nfree_rows = [\"1\", \"9\"]\n")], "block.toml", 3),
    (
        "option_left_out",
        &[(
            "block.toml",
            "name = \"x\"\n[[option]]\nname = \"o\"\n[[option.step]]\nplaces = [\"1/11\"]\ndo = \"clear\"\n",
        )],
        "block.toml",
        4,
    ),
    (
        "undescribed_material",
        &[(
            "block.toml",
            "name = \"x\"\n[[option]]\nname = \"o\"\n[[option.step]]\nvines = \"failed\"\ndo = \"replant\"\nmaterial = \"m\"\n",
        )],
        "block.toml",
        4,
    ),
    (
        "option_left_out",
        &[(
            "block.toml",
            "name = \"x\"\n[[option]]\nname = \"o\"\n[[option.step]]\nvines = \"failed\"\ndo = \"leave\"\nbatch = \"B9\"\n",
        )],
        "block.toml",
        4,
    ),
    (
        "incomplete_step",
        &[(
            "block.toml",
            "name = \"x\"\n[[option]]\nname = \"o\"\n[[option.step]]\nvines = \"living\"\ndo = \"move\"\n",
        )],
        "block.toml",
        4,
    ),
    (
        "incomplete_step",
        &[("block.toml", "name = \"x\"\n[[option]]\nname = \"o\"\n[[option.step]]\ndo = \"clear\"\n")],
        "block.toml",
        4,
    ),
    (
        "bad_value",
        &[(
            "block.toml",
            "name = \"x\"\n[[option]]\nname = \"o\"\n[[option.step]]\nvines = \"failed\"\ndo = \"burn\"\n",
        )],
        "block.toml",
        6,
    ),
    // Set aside: the register.
    ("open_quote", &[("vines.csv", "row,position,variety\n1,1,\"Hárs\n1,2,b\n")], "vines.csv", 2),
    ("unreadable_characters", &[("vines.csv", "row,position,variety\n1,1,a\u{0}b\n1,2,b\n")], "vines.csv", 2),
    ("too_many_cells", &[("vines.csv", "row,position,variety,x_m,y_m\n1,1,a,1,5,2,5\n")], "vines.csv", 2),
    ("empty_cell", &[("vines.csv", "row,position,variety\n1,,a\n")], "vines.csv", 2),
    ("empty_cell", &[("vines.csv", "row,position,variety\n,1,a\n")], "vines.csv", 2),
    ("bad_date", &[("vines.csv", "row,position,variety,planted_on\n1,1,a,02.05.2031\n")], "vines.csv", 2),
    ("unlikely_date", &[("vines.csv", "row,position,variety,planted_on\n1,1,a,0031-05-02\n")], "vines.csv", 2),
    ("bad_number", &[("vines.csv", "row,position,variety,x_m,y_m\n1,1,a,1m,2\n")], "vines.csv", 2),
    ("not_whole", &[("vines.csv", "row,position,variety,planted_seq\n1,1,a,-1\n")], "vines.csv", 2),
    ("bad_position", &[("vines.csv", "row,position,variety\n1,10-1,a\n")], "vines.csv", 2),
    (
        "unknown_word",
        &[("vines.csv", "row,position,variety,removed_on,removed_why\n1,1,a,2032-01-01,eaten\n")],
        "vines.csv",
        2,
    ),
    ("bad_batch", &[("vines.csv", "row,position,variety,batch\n1,1,a,B1|\n")], "vines.csv", 2),
    ("bad_place", &[("vines.csv", "row,position,variety,moved_from\n1,1,a,7\n")], "vines.csv", 2),
    ("past_row_end", &[("block.toml", "name = \"x\"\n[[layout.row]]\nrow = \"1\"\nplaces = 9\n")], "vines.csv", 2),
    (
        "no_vine_here",
        &[
            ("block.toml", "name = \"x\"\n[[layout.row]]\nrow = \"1\"\nno_vine = [3]\n"),
            ("vines.csv", "row,position,variety\n1,3,a\n1,4,a\n"),
        ],
        "vines.csv",
        2,
    ),
    ("overlapping_range", &[("vines.csv", "row,position,variety\n1,1-10,a\n1,5-14,a\n")], "vines.csv", 3),
    ("overlapping_range", &[("vines.csv", "row,position,variety\n1,1-10,a\n1,8-12,b\n")], "vines.csv", 3),
    ("overlapping_range", &[("vines.csv", "row,position,variety\n1,7,b\n1,1-10,a\n")], "vines.csv", 3),
    ("duplicate", &[("vines.csv", "row,position,variety\n1,7,b\n1,7,b\n")], "vines.csv", 3),
    ("range_for_one", &[("vines.csv", "row,position,variety,x_m,y_m\n1,1-2,a,1,2\n")], "vines.csv", 2),
    ("half_coordinate", &[("vines.csv", "row,position,variety,x_m,y_m\n1,1,a,1,\n")], "vines.csv", 2),
    ("removed_before_planted", &[("vines.csv", "row,position,variety,removed_on\n1,1,a,2030-01-01\n")], "vines.csv", 2),
    (
        "moved_from_nowhere",
        &[("vines.csv", "row,position,variety,planted_on,moved_from\n1,1,a,2032-04-01,2/3\n1,2,a,,\n")],
        "vines.csv",
        2,
    ),
    ("moved_without_date", &[("vines.csv", "row,position,variety,moved_from\n1,1,a,1/2\n1,2,a,\n")], "vines.csv", 2),
    (
        "moved_after_failure",
        &[(
            "vines.csv",
            "row,position,variety,planted_on,removed_on,removed_why,moved_from\n1,1,a,2032-04-01,,,1/2\n1,2,a,,2032-03-01,failed,\n",
        )],
        "vines.csv",
        2,
    ),
    // Set aside: the walks.
    ("unknown_state", &[("surveys.csv", "row,position,surveyed_on,state\n1,1,2031-09-30,ded\n")], "surveys.csv", 2),
    (
        "unlikely_value",
        &[("surveys.csv", "row,position,surveyed_on,state,height_cm\n1,1,2031-09-30,alive,1850\n")],
        "surveys.csv",
        2,
    ),
    (
        "unlikely_value",
        &[("surveys.csv", "row,position,surveyed_on,state,vigour\n1,1,2031-09-30,alive,10\n")],
        "surveys.csv",
        2,
    ),
    (
        "unlikely_value",
        &[("surveys.csv", "row,position,surveyed_on,state,stage_bbch\n1,1,2031-09-30,alive,100\n")],
        "surveys.csv",
        2,
    ),
    ("never_planted", &[("surveys.csv", "row,position,surveyed_on,state\n1,11,2031-09-30,alive\n")], "surveys.csv", 2),
    (
        "unknown_survey_row",
        &[("surveys.csv", "row,position,surveyed_on,state\n01,1,2031-09-30,alive\n")],
        "surveys.csv",
        2,
    ),
    ("before_planting", &[("surveys.csv", "row,position,surveyed_on,state\n1,1,2031-05-01,alive\n")], "surveys.csv", 2),
    (
        "measures_differ",
        &[("surveys.csv", "row,position,surveyed_on,state,vigour\n1,1,2031-09-30,alive,3\n1,1,2031-09-30,alive,4\n")],
        "surveys.csv",
        3,
    ),
    (
        "rest_of_nothing",
        &[("surveys.csv", "row,position,surveyed_on,state\n1,rest,2031-05-01,alive\n")],
        "surveys.csv",
        2,
    ),
    (
        "lines_disagree",
        &[("surveys.csv", "row,position,surveyed_on,state\n1,1,2031-09-30,alive\n1,1,2031-09-30,died\n")],
        "surveys.csv",
        2,
    ),
    (
        "lines_disagree",
        &[("surveys.csv", "row,position,surveyed_on,state\n1,1,2031-09-30,alive\n1,1,2031-09-30,died\n")],
        "surveys.csv",
        3,
    ),
    (
        "lines_disagree",
        &[("surveys.csv", "row,position,surveyed_on,state\n1,rest,2031-09-30,alive\n1,rest,2031-09-30,dead\n")],
        "surveys.csv",
        3,
    ),
    (
        "duplicate",
        &[("surveys.csv", "row,position,surveyed_on,state\n1,1,2031-09-30,alive\n1,1,2031-09-30,Alive\n")],
        "surveys.csv",
        3,
    ),
    (
        "past_row_end",
        &[
            ("block.toml", "name = \"x\"\n[[layout.row]]\nrow = \"1\"\nplaces = 10\n"),
            ("surveys.csv", "row,position,surveyed_on,state\n1,8-12,2031-09-30,alive\n"),
        ],
        "surveys.csv",
        2,
    ),
    // Set aside: the others.
    ("batch_listed_twice", &[("batches.csv", "batch,delivered\nB1,3\nB1,4\n")], "batches.csv", 3),
    ("not_whole", &[("batches.csv", "batch,delivered\nB1,-3\n")], "batches.csv", 2),
    ("empty_cell", &[("diary.csv", "date,event\n,hail\n")], "diary.csv", 2),
    ("counts_impossible", &[("vines.csv", ""), ("counts.csv", "row,planted,failed\n1,10,11\n")], "counts.csv", 2),
    (
        "counts_impossible",
        &[("vines.csv", ""), ("counts.csv", "row,planted,seen,failed\n1,10,11,1\n")],
        "counts.csv",
        2,
    ),
    ("not_whole", &[("vines.csv", ""), ("counts.csv", "row,planted,failed\n1,10,-1\n")], "counts.csv", 2),
    (
        "overlapping_counts",
        &[("vines.csv", ""), ("counts.csv", "row,planted,failed\n1,10,1\n1,10,2\n")],
        "counts.csv",
        2,
    ),
    ("duplicate", &[("vines.csv", ""), ("counts.csv", "row,planted,failed\n1,10,1\n1,10,1\n")], "counts.csv", 3),
    // Findings.
    ("unknown_key", &[("block.toml", "name = \"x\"\n[layout]\nrow_spacing = 2.4\n")], "block.toml", 3),
    ("unknown_key", &[("block.toml", "name = \"x\"\n[columns]\nrows = \"Reihe\"\n")], "block.toml", 3),
    ("unknown_assumption", &[("block.toml", "name = \"x\"\n[assumptions]\norder.sur = 0.8\n")], "block.toml", 3),
    ("unknown_column", &[("vines.csv", "row,position,variety,rotstock\n1,1,a,b\n")], "vines.csv", 1),
    ("column_not_found", &[("block.toml", "name = \"x\"\n[columns]\nclone = \"Klon\"\n")], "block.toml", 3),
    ("factor_without_column", &[("block.toml", "name = \"x\"\nfactors = [\"crew\"]\n")], "vines.csv", 0),
    ("row_not_in_layout", &[("block.toml", "name = \"x\"\n[layout]\nrows = [\"2\"]\n")], "vines.csv", 2),
    ("workbooks_not_read", &[("a.xlsx", ""), ("b.xlsx", "")], "", 0),
    ("workbook_unreadable", &[("prices.xlsx", "locked")], "prices.xlsx", 0),
    ("counts_not_read", &[("counts.csv", "row,planted,failed\n1,10,1\n")], "counts.csv", 0),
    (
        "surveys_not_read",
        &[
            ("vines.csv", ""),
            ("counts.csv", "row,planted,failed\n1,10,1\n"),
            ("surveys.csv", "row,position,surveyed_on,state\n1,1,2031-09-30,alive\n"),
        ],
        "surveys.csv",
        0,
    ),
    ("claim_for_unknown_batch", &[("block.toml", "name = \"x\"\n[claim.B9]\nguaranteed = 0.9\n")], "block.toml", 2),
    ("removal_without_date", &[("vines.csv", "row,position,variety,removed_why\n1,1,a,failed\n")], "vines.csv", 2),
    (
        "moved_without_removal",
        &[("vines.csv", "row,position,variety,planted_on,moved_from\n1,1,a,2032-04-01,1/2\n1,2,a,,\n")],
        "vines.csv",
        2,
    ),
    (
        "moved_differs",
        &[(
            "vines.csv",
            "row,position,variety,planted_on,removed_on,moved_from\n1,1,a,2032-04-01,,1/2\n1,2,b,,2032-04-01,\n",
        )],
        "vines.csv",
        2,
    ),
    (
        "replant_unseen",
        &[("vines.csv", "row,position,variety,planted_on\n1,1-3,a,\n1,1-2,a,2032-04-01\n")],
        "vines.csv",
        3,
    ),
    (
        "alive_after_failed",
        &[("surveys.csv", "row,position,surveyed_on,state\n1,1,2031-06-30,no_budburst\n1,1,2031-09-30,alive\n")],
        "surveys.csv",
        3,
    ),
    (
        "no_budburst_after_alive",
        &[("surveys.csv", "row,position,surveyed_on,state\n1,1,2031-06-30,alive\n1,1,2031-09-30,no_budburst\n")],
        "surveys.csv",
        3,
    ),
    (
        "seen_after_removal",
        &[
            ("vines.csv", "row,position,variety,removed_on\n1,1,a,2031-09-01\n"),
            ("surveys.csv", "row,position,surveyed_on,state\n1,1,2031-09-30,alive\n"),
        ],
        "surveys.csv",
        2,
    ),
    (
        "range_partly_planted",
        &[("surveys.csv", "row,position,surveyed_on,state\n1,8-12,2031-09-30,alive\n")],
        "surveys.csv",
        2,
    ),
    (
        "walk_split",
        &[("surveys.csv", "row,position,surveyed_on,state\n1,1,2031-09-20,alive\n1,1,2031-09-21,alive\n")],
        "surveys.csv",
        3,
    ),
    (
        "counts_dont_add_up",
        &[("vines.csv", ""), ("counts.csv", "row,planted,failed,good,weak\n1,10,1,5,5\n")],
        "counts.csv",
        2,
    ),
    (
        "counts_dont_add_up",
        &[("vines.csv", ""), ("counts.csv", "row,planted,failed,died,dead\n1,10,1,1,1\n")],
        "counts.csv",
        2,
    ),
    (
        "counts_dont_add_up",
        &[("vines.csv", ""), ("counts.csv", "row,planted,failed,reached_wire\n1,10,1,10\n")],
        "counts.csv",
        2,
    ),
];

/// What is said in a case, whether the folder could be used or not: code, file, line, message, hint.
fn said(case: &Case) -> Vec<(&'static str, String, u64, String, String)> {
    let mut folder = files(&[("block.toml", BLOCK), ("vines.csv", VINES)]);
    folder.extend(files(case.1));
    match check_reading(&folder) {
        Ok(reading) => {
            reading.check.findings.into_iter().map(|f| (f.code, f.file, f.line, f.message, f.hint)).collect()
        }
        Err(e) => vec![(e.code, e.file, e.line.unwrap_or(0), e.message, e.hint)],
    }
}

#[test]
fn every_trouble_is_found_at_its_line_with_a_way_out() {
    for case in CASES {
        let said = said(case);
        let here = said.iter().find(|s| s.0 == case.0 && s.1 == case.2 && s.2 == case.3);
        let (.., message, hint) = here.unwrap_or_else(|| panic!("{case:?} said {said:?}"));
        assert!(!message.is_empty() && !hint.is_empty(), "{case:?}");
    }
}

#[test]
fn no_kind_of_trouble_goes_untested() {
    let all: BTreeSet<&str> = [UNUSABLE, SET_ASIDE, FINDINGS].concat().iter().map(|k: &Kind| k.code).collect();
    assert_eq!(all.len(), UNUSABLE.len() + SET_ASIDE.len() + FINDINGS.len(), "codes are unique");
    // In tests of their own: below, and `too_many_vines` beside its limit.
    let elsewhere = [
        "not_a_folder",
        "no_block_toml",
        "too_large",
        "cannot_write",
        "no_register",
        "too_many_vines",
        "mixed_encoding",
        "more_unknown_columns",
    ];
    let tested: BTreeSet<&str> = CASES.iter().map(|c| c.0).chain(elsewhere).collect();
    assert_eq!(all.difference(&tested).collect::<Vec<_>>(), Vec::<&&str>::new());
    assert_eq!(tested.difference(&all).collect::<Vec<_>>(), Vec::<&&str>::new());
}

#[test]
fn an_unknown_state_names_the_states_and_a_slip_the_nearest_name() {
    let state = said(CASES.iter().find(|c| c.0 == "unknown_state").unwrap());
    assert!(state[0].4.contains("alive, no_budburst, died, dead, scion_dead, missing, unsure"), "{state:?}");
    let column = said(CASES.iter().find(|c| c.0 == "unknown_column").unwrap());
    assert!(column[0].4.contains("did you mean rootstock?"), "{column:?}");
    let date = said(CASES.iter().find(|c| c.0 == "bad_date").unwrap());
    assert!(date[0].4.contains("date_format"), "{date:?}");
}

#[test]
fn a_file_in_two_encodings_is_a_finding() {
    let mut folder = files(&[("block.toml", BLOCK)]);
    folder.insert("vines.csv".into(), b"row,position,variety\n1,1,H\xC3\xA1rs\n1,2,H\xE1rs\n".to_vec());
    let reading = check_reading(&folder).unwrap();
    assert_eq!(found(&reading), [("mixed_encoding", 3)]);
    assert_eq!(planted(&reading).factors[0].levels, ["Hárs"]);
}

// Folders.

#[test]
fn folders_are_blocks_or_estates_or_neither() {
    let root = tempfile::tempdir().unwrap();
    let code = |r: Result<Folder, Unusable>| r.unwrap_err().code;
    assert_eq!(code(intake::find(&root.path().join("nowhere"))), "not_a_folder");
    assert_eq!(code(intake::find(root.path())), "no_block_toml");
    let error = intake::read(root.path()).unwrap_err();
    assert_eq!(error.code, "no_block_toml");
    assert!(error.hint.contains("fullstand new"), "{error:?}");
    for name in ["B10", "B2", ".hidden", "no block"] {
        std::fs::create_dir(root.path().join(name)).unwrap();
        if name != "no block" {
            std::fs::write(root.path().join(name).join("block.toml"), BLOCK).unwrap();
        }
    }
    let name = root.path().canonicalize().unwrap().file_name().unwrap().to_string_lossy().into_owned();
    let blocks = vec![root.path().join("B2"), root.path().join("B10")];
    assert_eq!(intake::find(root.path()).unwrap(), Folder::Estate(name, blocks));
    assert_eq!(intake::read(&root.path().join("B2")).unwrap_err().code, "no_register");
}

#[test]
fn a_file_beyond_all_measure_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("block.toml"), BLOCK).unwrap();
    let file = std::fs::File::create(folder.path().join("vines.csv")).unwrap();
    file.set_len((4 << 30) + 1).unwrap();
    assert_eq!(intake::read(folder.path()).unwrap_err().code, "too_large");
}

// The register.

#[test]
fn exceptions_inherit_and_replants_do_not() {
    let vines = "row,position,variety,clone,batch,planted_on,removed_on,removed_why\n\
        1,1-10,Hárs,C1,B1,,,\n1,4-6,,C2,,2031-05-02,,\n1,5,,,B2,,2032-02-01,failed\n1,5,Hárs,,B3,2032-04-10,,\n1,1-10,Hárs,,B4,2033-04-01,,\n";
    let reading = read(&[("block.toml", BLOCK), ("vines.csv", vines)]);
    let register = planted(&reading);
    assert_eq!(set_aside(&reading), []);
    assert_eq!(reading.check.vines, 21);
    let at = |position| {
        let here = register.vines.iter().enumerate().filter(move |(_, v)| v.place.position == position);
        let level = |factor: &str, i: usize| register.factor(factor).unwrap().label(i).unwrap_or("-").to_string();
        here.map(|(i, v)| (level("clone", i), level("batch", i), v.line)).collect::<Vec<_>>()
    };
    let s = |clone: &str, batch: &str, line| (clone.to_string(), batch.to_string(), line);
    assert_eq!(at(1), [s("C1", "B1", 2), s("-", "B4", 6)]);
    assert_eq!(at(4), [s("C2", "B1", 3), s("-", "B4", 6)]);
    assert_eq!(at(5), [s("C2", "B2", 4), s("-", "B3", 5), s("-", "B4", 6)]);
    let fifth: Vec<_> = register.vines.iter().filter(|v| v.place.position == 5).collect();
    assert_eq!((fifth[0].removed_on, fifth[0].removed_why), (Some(date(2032, 2, 1)), Some(RemovedWhy::Failed)));
    assert_eq!((fifth[1].removed_on, fifth[1].planted_on), (None, Some(date(2032, 4, 10))));
    // One finding for the range that replants ten, though position 5 was removed the first time.
    assert_eq!(found(&reading), [("replant_unseen", 6)]);
}

#[test]
fn a_replant_over_a_vine_seen_failed_is_no_finding() {
    let vines = "row,position,variety,planted_on\n1,1-3,a,\n1,2,a,2032-04-01\n1,3,a,2032-04-01\n";
    let surveys = "row,position,surveyed_on,state\n1,2,2031-09-30,died\n1,3,2032-09-30,died\n";
    let reading = read(&[("block.toml", BLOCK), ("vines.csv", vines), ("surveys.csv", surveys)]);
    // Position 3 was only seen failed after the replant, and that look is about the replant.
    assert_eq!(found(&reading), [("replant_unseen", 4)]);
}

#[test]
fn a_moved_vine_keeps_what_it_is() {
    let vines = "row,position,variety,clone,batch,planted_on,removed_on,removed_why,moved_from\n\
        1,2,,,,,,,2/9\n1,1-3,Hárs,C1,B1,,,,\n1,2,,,,,2032-02-01,failed,\n2,8-9,Hárs,C2,B2,,,,\n2,9,,,,,2032-04-01,,\n";
    let reading = read(&[("block.toml", BLOCK), ("vines.csv", vines)]);
    assert_eq!((set_aside(&reading), found(&reading)), (vec![], vec![]));
    let register = planted(&reading);
    let moved = register.vines.iter().position(|v| v.moved_from.is_some()).unwrap();
    assert_eq!(register.vines[moved].place, Place { row: 0, position: 2 });
    assert_eq!(register.vines[moved].moved_from, Some(Place { row: 1, position: 9 }));
    assert_eq!(register.vines[moved].planted_on, Some(date(2032, 4, 1)));
    assert_eq!(register.factor("batch").unwrap().label(moved), Some("B2"));
    let origin = register.vines.last().unwrap();
    assert_eq!((origin.removed_on, origin.removed_why), (Some(date(2032, 4, 1)), Some(RemovedWhy::Moved)));
    assert_eq!(reading.check.vines, 5);
}

#[test]
fn rows_stand_in_the_order_of_block_toml_or_in_natural_order() {
    let vines = "row,position,variety\n10,1-4,a\n2,1-3,a\n12A,1,a\n12,1,a\n";
    let rows = |block: &str| {
        let reading = read(&[("block.toml", block), ("vines.csv", vines)]);
        let rows: Vec<_> = reading.block.layout.rows.iter().map(|r| (r.label.clone(), r.places)).collect();
        (rows, reading.check.places)
    };
    let named = |rows: &[(&str, u32)]| rows.iter().map(|(l, p)| (l.to_string(), *p)).collect::<Vec<_>>();
    assert_eq!(rows("name = \"x\"\n"), (named(&[("2", 3), ("10", 4), ("12", 1), ("12A", 1)]), 9));
    let block = "name = \"x\"\n[layout]\nrows = [12, \"13\", \"2\", \"12A\"]\n[[layout.row]]\nrow = \"13\"\nplaces = 7\nno_vine = [7, 1, 7]\n";
    assert_eq!(rows(block), (named(&[("12", 1), ("13", 7), ("2", 3), ("12A", 1), ("10", 4)]), 14));
}

#[test]
fn a_range_passes_over_posts() {
    let block =
        "name = \"x\"\n[[layout.row]]\nrow = \"1\"\nplaces = 5\nno_vine = [2, 4]\noffset_m = 3.3\ngap_before_m = 6\n";
    let surveys = "row,position,surveyed_on,state\n1,1-5,2031-09-30,alive\n";
    let reading =
        read(&[("block.toml", block), ("vines.csv", "row,position,variety\n1,1-5,a\n"), ("surveys.csv", surveys)]);
    let positions: Vec<u32> = planted(&reading).vines.iter().map(|v| v.place.position).collect();
    assert_eq!((positions, reading.check.places), (vec![1, 3, 5], 3));
    assert_eq!(found(&reading), []);
    assert_eq!(planted(&reading).walks[0].looks.len(), 3);
    assert_eq!((reading.block.layout.rows[0].offset_m, reading.block.layout.rows[0].gap_before_m), (3.3, Some(6.0)));
}

#[test]
fn factors_hold_what_is_known_in_their_order() {
    let block = "name = \"x\"\nfactors = [\"valve\", \"crew\"]\n";
    let vines = "row,position,valve,crew,rootstock,batch,variety\n1,1,v,10,own,L3 | L1,a\n1,2,v,9,,,a\n";
    let reading = read(&[("block.toml", block), ("vines.csv", vines)]);
    let names: Vec<_> = planted(&reading).factors.iter().map(|f| (f.name.as_str(), f.levels.join(" "))).collect();
    let want = [("variety", "a"), ("rootstock", "own"), ("batch", "L1|L3"), ("crew", "9 10"), ("valve", "v")];
    assert_eq!(names, want.map(|(n, l)| (n, l.to_string())));
    assert!(!planted(&reading).factor("batch").unwrap().is_definite(0));
}

// The walks.

#[test]
fn rest_is_every_vine_without_a_line_of_its_own() {
    let reading = walked(
        "row,position,surveyed_on,state\n1,rest,2031-09-30,alive\n1,3,2031-09-30,died\n1,5-6,2031-09-30,missing\n2,4,2031-09-30,dead\n",
    );
    let seen = looks(&reading, &planted(&reading).walks[0]);
    let states: Vec<&str> = seen.iter().map(|(_, _, state)| state.name()).collect();
    let want = ["alive", "alive", "died", "alive", "missing", "missing", "alive", "alive", "alive", "alive", "dead"];
    assert_eq!(states, want);
    // Row 2 has no rest line: its other vines weren't looked at.
    assert_eq!(seen.iter().filter(|(row, ..)| *row == "2").count(), 1);
}

#[test]
fn a_line_set_aside_keeps_its_vine_out_of_rest_and_ranges() {
    let reading = walked(
        "row,position,surveyed_on,state,height_cm\n1,rest,2031-09-30,alive,\n1,3,2031-09-30,ded,\n1,4,2031-09-30,died,1850\n\
         1,5,30.9.31,died,\n1,6,2031-09-30,died,\n1,6,2031-09-30,alive,\n2,1-10,2031-09-30,alive,\n2,7,2031-09-30,ded,\n",
    );
    let seen = looks(&reading, &planted(&reading).walks[0]);
    let positions = |of: &str| seen.iter().filter(|(row, ..)| *row == of).map(|(_, p, _)| *p).collect::<Vec<_>>();
    assert_eq!(positions("1"), [1, 2, 7, 8, 9, 10]);
    assert_eq!(positions("2"), [1, 2, 3, 4, 5, 6, 8, 9, 10]);
    let codes = ["unknown_state", "unlikely_value", "bad_date", "lines_disagree", "lines_disagree", "unknown_state"];
    assert_eq!(set_aside(&reading), codes.into_iter().zip([3, 4, 5, 6, 7, 9]).collect::<Vec<_>>());
}

#[test]
fn a_narrower_line_is_an_exception_to_a_range() {
    let reading =
        walked("row,position,surveyed_on,state\n1,1-10,2031-09-30,alive\n1,2-4,2031-09-30,dead\n1,3,2031-09-30,died\n");
    let states: Vec<&str> = planted(&reading).walks[0].looks.iter().map(|l| l.state.name()).collect();
    assert_eq!(states[..5], ["alive", "dead", "died", "dead", "alive"]);
    assert_eq!(found(&reading), []);
}

#[test]
fn two_lines_of_one_state_leave_only_what_they_measured_alike() {
    let heading = "row,position,surveyed_on,state,height_cm,diameter_mm,vigour\n";
    let reading = walked(&format!(
        "{heading}1,1,2031-09-30,alive,80,8,\n1,1,2031-09-30,alive,90,8,5\n1,2,2031-09-30,alive,80,,\n1,2,2031-09-30,alive,,,\n"
    ));
    assert_eq!(set_aside(&reading), [("measures_differ", 3), ("duplicate", 5)]);
    let [first, second] = &planted(&reading).walks[0].looks[..] else { panic!("two looks") };
    assert_eq!((first.height_cm, first.diameter_mm, first.vigour, first.line), (None, Some(8.0), None, 2));
    assert_eq!(second.height_cm, Some(80.0));
}

#[test]
fn walks_are_told_apart_by_label_gap_or_a_second_look() {
    let heading = "row,position,surveyed_on,state,walk\n";
    let walks = |lines: &str| {
        let reading = walked(&format!("{heading}{lines}"));
        let days = |w: &Walk| (w.label.clone(), w.first_day.to_string(), w.last_day.to_string());
        (planted(&reading).walks.iter().map(days).collect::<Vec<_>>(), found(&reading))
    };
    let named = |w: &[(&str, &str, &str)]| w.iter().map(|w| (w.0.into(), w.1.into(), w.2.into())).collect::<Vec<_>>();
    // 14 days are no gap, 15 are.
    let (found_walks, _) = walks("1,1,2031-06-01,alive,\n1,2,2031-06-15,alive,\n1,3,2031-06-30,alive,\n");
    assert_eq!(
        found_walks,
        named(&[("2031-06-01", "2031-06-01", "2031-06-15"), ("2031-06-30", "2031-06-30", "2031-06-30")])
    );
    // A vine of a rest line is looked at again.
    let (found_walks, findings) = walks("1,rest,2031-06-01,alive,\n2,rest,2031-06-02,alive,\n1,4,2031-06-03,died,\n");
    assert_eq!(found_walks.len(), 2);
    assert_eq!(findings, [("walk_split", 4)]);
    // Labels go before days; walks stand in order of date.
    let (found_walks, _) = walks("1,1,2031-09-01,alive,late\n1,1,2031-06-01,alive,early\n1,2,2031-07-20,alive,early\n");
    assert_eq!(found_walks, named(&[("early", "2031-06-01", "2031-07-20"), ("late", "2031-09-01", "2031-09-01")]));
}

#[test]
fn a_look_belongs_to_the_vine_planted_latest_before_it() {
    let vines = "row,position,variety,planted_on,removed_on\n1,1,a,2031-05-02,2032-02-01\n1,1,a,2032-04-10,\n1,2,a,2031-05-02,\n1,2,a,2032-04-10,\n";
    let surveys = "row,position,surveyed_on,state\n1,1,2031-09-30,dead\n1,1,2032-04-10,alive\n1,2,2032-04-10,dead\n1,2,2032-09-30,alive\n";
    let reading = read(&[("block.toml", BLOCK), ("vines.csv", vines), ("surveys.csv", surveys)]);
    let vines: Vec<Vec<u32>> =
        planted(&reading).walks.iter().map(|w| w.looks.iter().map(|l| l.vine).collect()).collect();
    // On the day of the replant a look is about the vine before it, unless that had been removed.
    assert_eq!(vines, [vec![0], vec![1, 2], vec![3]]);
}

#[test]
fn measurements_are_read_with_their_units() {
    let surveys = "row;position;surveyed_on;state;height_cm;diameter_mm;reached_wire;vigour;stage_bbch;union;union_height_cm;by;method\n\
        1;1;2031-09-30;alive;120,5;8.25;Yes;9;0;moves;12;Eva;thumb\n";
    let reading = walked(surveys);
    let look = &planted(&reading).walks[0].looks[0];
    assert_eq!((look.height_cm, look.diameter_mm, look.union_height_cm), (Some(120.5), Some(8.25), Some(12.0)));
    assert_eq!((look.reached_wire, look.vigour, look.stage_bbch), (Some(true), Some(9), Some(0)));
    assert_eq!(look.union, Some(fullstand::block::Union::Moves));
    assert_eq!(look.detail.as_ref().unwrap().method.as_deref(), Some("thumb"));
}

// Counts.

#[test]
fn counts_alone_make_a_block() {
    let counts = "row,planted,failed,batch,good,weak\n2,45,5,B2,30,10\n10,45,0,B1,,\n2,4,1,B1,,\n";
    let reading = read(&[("block.toml", "name = \"x\"\n"), ("counts.csv", counts)]);
    assert_eq!(found(&reading), []);
    let sheet = counted(&reading);
    let lines: Vec<_> = sheet.lines.iter().map(|l| (l.row, l.planted, l.seen, l.failed, l.line)).collect();
    assert_eq!(lines, [(0, 45, 45, 5, 2), (1, 45, 45, 0, 3), (0, 4, 4, 1, 4)]);
    assert_eq!((sheet.factors[0].levels.join(" "), &sheet.factors[0].codes[..]), ("B1 B2".into(), &[1, 0, 0][..]));
    assert_eq!((reading.check.vines, reading.check.places, reading.check.walks), (94, 94, 1));
}

#[test]
fn a_register_without_walks_is_enough() {
    let reading = read(&[("block.toml", "name = \"x\"\n"), ("vines.csv", "row,position,variety\n1,1-45,a\n")]);
    assert_eq!((reading.check.vines, reading.check.walks), (45, 0));
    assert_eq!(planted(&reading).vines[0].planted_on, None);
}

// block.toml.

#[test]
fn the_whole_of_block_toml_is_read() {
    use fullstand::base::Quantity;
    use fullstand::block::{Clock, Do, Goal, Hemisphere, PlantingOrder, StandFrom, StockType, Which};
    let block = r#"
name = "Upper Slope"
currency = "EUR"
[site]
hemisphere = "south"
[layout]
row_spacing_ft = 8
vine_spacing_m = 1.1
training_height_cm = 85
topped_at_cm = 120
planted = "same_end"
[claim."B1"]
guaranteed = 0.95
covers = ["no_budburst", "dead"]
judged_by = 2031-09-30
price_per_vine = 2.9
cap_share = 0.05
union_max_cm = 5
condition_text = "as agreed"
[[claim."B1".notice]]
after = "discovery"
days = 4
working = true
if_loss_over = 0.03
[materials."same again"]
variety = "Hárs"
stock_type = "potted"
price_per_vine = 2.9
bundle = 25
available_from = 2032-11-01
first_year_stand = { p10 = 0.82, p50 = 0.93, p90 = 0.98 }
stand_from = "stated"
[goal]
by = "evenness"
[limits]
cash = 6000
full_by = 2036
free_rows = ["2"]
[assumptions]
"labour.price_per_hour" = 22
order.sure = { p10 = 0.8, p50 = 0.85, p90 = 0.9 }
[[option]]
name = "gather"
[[option.step]]
vines = "living"
rows = ["2"]
do = "move"
to = "failed"
[[option.step]]
places = ["2/7"]
batch = "B2"
do = "plant"
material = "same again"
winter = 1
"#;
    let block = read(&[("block.toml", block), ("vines.csv", VINES)]).block;
    assert_eq!((block.currency.as_str(), block.hemisphere, block.goal), ("EUR", Hemisphere::South, Goal::Evenness));
    assert_eq!(block.layout.row_spacing_m, Some(8.0 * 0.3048));
    assert_eq!((block.layout.topped_at_cm, block.layout.planted), (Some(120.0), PlantingOrder::SameEnd));
    let terms = &block.terms["B1"];
    assert_eq!(terms.covers, Some(vec![State::NoBudburst, State::Dead]));
    assert_eq!((terms.judged_by, terms.cap_share), (Some(date(2031, 9, 30)), Some(0.05)));
    let notice = &terms.notice[0];
    assert_eq!((notice.after, notice.days, notice.working), (Clock::Discovery, 4, true));
    let material = &block.materials[0];
    assert_eq!((material.name.as_str(), material.stock_type), ("same again", Some(StockType::Potted)));
    assert_eq!(material.price_per_vine, Some(Quantity::certain(2.9)));
    assert_eq!(material.first_year_stand, Some(Quantity { p10: 0.82, p50: 0.93, p90: 0.98 }));
    assert_eq!((material.stand_from, material.bundle), (StandFrom::Stated, Some(25)));
    assert_eq!((block.limits.cash, block.limits.full_by), (Some(6000.0), Some(2036)));
    assert_eq!(block.assumptions.get("labour.price_per_hour"), 22.0);
    assert_eq!(block.assumptions.quantity("order.sure").p10, 0.8);
    let [gather, plant] = &block.courses[0].steps[..] else { panic!("two steps") };
    assert_eq!(
        (gather.target.vines, &gather.target.rows[..], gather.to),
        (Which::Living, &[1][..], Some(Which::Failed))
    );
    assert_eq!((plant.target.vines, plant.action, plant.winter), (Which::All, Do::Plant, 1));
    assert_eq!(plant.target.places, [Place { row: 1, position: 7 }]);
}

#[test]
fn bounds_of_what_is_likely_can_be_moved() {
    let block = format!("{BLOCK}[assumptions]\n\"check.height_max_cm\" = 2000\n");
    let surveys = "row,position,surveyed_on,state,height_cm\n1,1,2031-09-30,alive,1850\n";
    let reading = read(&[("block.toml", &block), ("vines.csv", VINES), ("surveys.csv", surveys)]);
    assert_eq!(set_aside(&reading), []);
}

// Files out.

#[test]
fn set_aside_lines_are_written_as_they_stood_and_harmless() {
    let reading = walked("row;position;surveyed_on;state;note\n1;1;2031-09-30;=1+1;\"a;b\"\n1;x;2031-09-30;dead;-5\n");
    let written = intake::set_aside_csv(&reading.set_aside);
    let mut table = csv::ReaderBuilder::new().flexible(true).from_reader(written.as_bytes());
    let records: Vec<Vec<String>> = table.records().map(|r| r.unwrap().iter().map(str::to_string).collect()).collect();
    assert_eq!(records[0][..3], ["surveys.csv", "2", "unknown_state"]);
    assert_eq!(records[0][5..], ["1", "1", "2031-09-30", "'=1+1", "a;b"]);
    assert_eq!(records[1][5..], ["1", "x", "2031-09-30", "dead", "-5"]);
    assert!(table.headers().unwrap().iter().eq([
        "file",
        "line",
        "code",
        "what_is_wrong",
        "what_would_be_right",
        "as_written"
    ]));
}

#[test]
fn a_new_folder_reads_and_is_never_overwritten() {
    let root = tempfile::tempdir().unwrap();
    let folder = root.path().join("new \"block\"");
    let written = intake::start(&folder, &StartConfig { rows: 3, places: 120 }).unwrap();
    let names: Vec<_> = written.iter().map(|p| p.file_name().unwrap().to_str().unwrap()).collect();
    assert_eq!(names, ["block.toml", "vines.csv", "surveys.csv", "batches.csv", "diary.csv", "walk-sheet.html"]);
    let reading = intake::read(&folder).unwrap();
    assert_eq!((reading.block.name.as_str(), reading.check.vines), ("new \"block\"", 0));
    assert!(reading.check.findings.is_empty(), "{:?}", reading.check.findings);
    let sheet = std::fs::read_to_string(folder.join("walk-sheet.html")).unwrap();
    // Three rows of 120 places, 108 to a page; the second row is walked from its far end.
    assert_eq!(sheet.matches("<section>").count(), 6);
    assert!(sheet.contains("new &quot;block&quot;") && sheet.contains("Places 120 to 13"));
    assert_eq!(intake::start(&folder, &StartConfig::default()).unwrap(), Vec::<std::path::PathBuf>::new());
}

#[test]
fn every_example_of_a_new_block_toml_is_valid() {
    let folder = tempfile::tempdir().unwrap();
    intake::start(folder.path(), &StartConfig::default()).unwrap();
    let text = std::fs::read_to_string(folder.path().join("block.toml")).unwrap();
    let examples: Vec<&str> = text.lines().skip(1).map(|l| l.strip_prefix("# ").unwrap_or(l)).collect();
    let vines = "Reihe,position,variety,batch,crew\n1,1,a,L3,x\n2A,1,a,L3,x\n3,1,a,L3,x\n2,1,a,L3,x\n12,1,a,L3,x\n23,1,a,L3,x\n24,1,a,L3,x\n7,1-12,a,L3,x\n";
    let reading = read(&[("block.toml", &examples.join("\n")), ("vines.csv", vines)]);
    // The examples name four rows of many; they say nothing that isn't known.
    assert!(reading.check.findings.iter().all(|f| f.code == "row_not_in_layout"), "{:?}", reading.check.findings);
    assert_eq!((reading.block.courses.len(), reading.block.terms.len(), reading.block.materials.len()), (1, 1, 1));
}

#[test]
fn the_sheets_of_a_known_block_show_its_rows() {
    let folder = tempfile::tempdir().unwrap();
    for (name, bytes) in small_block() {
        std::fs::write(folder.path().join(name), bytes).unwrap();
    }
    let written = intake::start(folder.path(), &StartConfig::default()).unwrap();
    assert_eq!(written, [folder.path().join("walk-sheet.html")]);
    let sheet = std::fs::read_to_string(&written[0]).unwrap();
    assert_eq!(sheet.matches("<section>").count(), 2);
    assert!(sheet.contains("Lower Bench") && sheet.contains("Places 18 to 1") && sheet.contains("no vine"));
    let blocked = intake::start(&folder.path().join("block.toml"), &StartConfig::default());
    assert_eq!(blocked.unwrap_err().code, "cannot_write");
}
