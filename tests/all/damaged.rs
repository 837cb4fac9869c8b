//! Damaged copies of a block folder: findings or a clear error, no panic, and every line accounted for.

use crate::contract::follows_the_rules;
use fullstand::base::{Documented, Quantity, Seed, document, seed};
use fullstand::intake::{self, Reading, Unusable};
use fullstand::study::{Settings, Study};
use fullstand::{report, simulate};
use std::collections::BTreeMap;

/// A folder's files by name.
pub type Files = BTreeMap<String, Vec<u8>>;

/// A source of numbers below a bound.
type Below<'a> = &'a mut dyn FnMut(usize) -> usize;

/// Ways in which files get damaged on their way through spreadsheets, mail and memory sticks.
const DAMAGES: [fn(&mut Files, Below); 14] = [
    cut,
    shuffle_lines,
    mix_encodings,
    swap_columns,
    absurd_numbers,
    insert_zeros,
    insert_formulas,
    drop_a_file,
    repeat_lines,
    drop_separators,
    open_a_quote,
    overwrite_bytes,
    to_utf16,
    swap_files,
];

/// A damaged copy: one to three damages, the same for the same seed and number.
pub fn damaged(files: &Files, seed: Seed, number: u64) -> Files {
    let mut rng = seed.stream("damage", number);
    let mut below = |n: usize| if n == 0 { 0 } else { seed::below(&mut rng, n) };
    let mut copy = files.clone();
    for _ in 0..=below(3) {
        let damage = DAMAGES[below(DAMAGES.len())];
        damage(&mut copy, &mut below);
    }
    copy
}

/// Reads a damaged folder and checks what must hold of any folder. `tables` of it could be read.
#[track_caller]
pub fn check_reading(files: &Files) -> Result<Reading, Unusable> {
    let folder = tempfile::tempdir().unwrap();
    for (name, bytes) in files {
        std::fs::write(folder.path().join(name), bytes).unwrap();
    }
    let read = intake::read(folder.path());
    match &read {
        Ok(reading) => check_account(reading),
        Err(error) => {
            assert!(!error.message.is_empty() && !error.hint.is_empty() && !error.code.is_empty(), "{error:?}");
        }
    }
    read
}

/// Every line is used, set aside (once, with reason and way out) or blank; no table speaks of lines it doesn't have.
#[track_caller]
fn check_account(reading: &Reading) {
    for file in &reading.check.files {
        assert_eq!(file.lines, file.used + file.set_aside + file.blank, "{file:?}");
        let aside: Vec<u64> = reading.set_aside.iter().filter(|s| s.file == file.file).map(|s| s.line).collect();
        assert_eq!(aside.len() as u64, file.set_aside, "{file:?}");
        assert!(aside.windows(2).all(|w| w[0] < w[1]), "{aside:?}");
    }
    for line in &reading.set_aside {
        assert!(!line.reason.is_empty() && !line.hint.is_empty(), "{line:?}");
        assert!(reading.check.findings.iter().any(|f| f.line == line.line && f.message == line.reason));
    }
    check_block(reading);
}

/// What `Block` promises: indices in range, one look per vine and walk, looks on lines that weren't set aside.
#[track_caller]
fn check_block(reading: &Reading) {
    let fullstand::block::Plants::Vines(register) = &reading.block.plants else { return };
    let rows = &reading.block.layout.rows;
    let aside =
        |file: &str, line: u32| reading.set_aside.iter().any(|s| s.file.starts_with(file) && s.line == u64::from(line));
    for vine in &register.vines {
        let row = &rows[vine.place.row as usize];
        assert!((1..=row.places).contains(&vine.place.position) && !row.no_vine.contains(&vine.place.position));
        assert!(!aside("vines", vine.line), "{vine:?}");
    }
    assert!(register.factors.iter().all(|f| f.codes.len() == register.vines.len()));
    for walk in &register.walks {
        assert!(walk.looks.windows(2).all(|w| w[0].vine < w[1].vine), "{}", walk.label);
        for look in &walk.looks {
            assert!((look.vine as usize) < register.vines.len() && !aside("surveys", look.line), "{look:?}");
            assert!(walk.first_day <= look.date && look.date <= walk.last_day);
        }
    }
}

fn any_file<'f>(files: &'f mut Files, below: Below) -> Option<&'f mut Vec<u8>> {
    let chosen = below(files.len());
    files.values_mut().nth(chosen)
}

fn lines_of(bytes: &[u8]) -> Vec<Vec<u8>> {
    bytes.split_inclusive(|b| *b == b'\n').map(<[u8]>::to_vec).collect()
}

fn cut(files: &mut Files, below: Below) {
    if let Some(bytes) = any_file(files, below) {
        bytes.truncate(below(bytes.len() + 1));
    }
}

fn shuffle_lines(files: &mut Files, below: Below) {
    if let Some(bytes) = any_file(files, below) {
        let mut lines = lines_of(bytes);
        (1..lines.len()).rev().for_each(|i| lines.swap(i, below(i + 1)));
        *bytes = lines.concat();
    }
}

fn mix_encodings(files: &mut Files, below: Below) {
    if let Some(bytes) = any_file(files, below) {
        let mut lines = lines_of(bytes);
        let from = below(lines.len());
        for line in lines.iter_mut().skip(from) {
            let end = line.len().saturating_sub(1);
            line.splice(end..end, [b" \xFC\xE4".as_slice(), "ü".as_bytes()][below(2)].iter().copied());
        }
        *bytes = lines.concat();
    }
}

fn swap_columns(files: &mut Files, below: Below) {
    if let Some(bytes) = any_file(files, below) {
        let (a, b) = (below(6), below(6));
        let heading_too = below(2) == 0;
        let swap = |(i, line): (usize, Vec<u8>)| {
            let mut cells: Vec<Vec<u8>> = line.split(|b| *b == b';').map(<[u8]>::to_vec).collect();
            if (i > 0 || heading_too) && a.max(b) + 1 < cells.len() {
                cells.swap(a, b);
            }
            cells.join(&b';')
        };
        *bytes = lines_of(bytes).into_iter().enumerate().map(swap).collect::<Vec<_>>().concat();
    }
}

fn replace_cell(files: &mut Files, below: Below, with: &str) {
    if let Some(bytes) = any_file(files, below) {
        let mut lines = lines_of(bytes);
        for _ in 0..=below(4) {
            let (line, cell) = (below(lines.len()), below(8));
            if let Some(line) = lines.get_mut(line) {
                let mut cells: Vec<&[u8]> = line.split(|b| *b == b';').collect();
                if let Some(cell) = cells.get_mut(cell) {
                    *cell = with.as_bytes();
                }
                *line = cells.join(&b';');
            }
        }
        *bytes = lines.concat();
    }
}

fn absurd_numbers(files: &mut Files, below: Below) {
    const ABSURD: [&str; 12] = [
        "1850",
        "-1",
        "99999999999999999999999",
        "1e308",
        "NaN",
        "-inf",
        "0",
        "1-999999999",
        "4294967295",
        "0x10",
        "1.000.000",
        "9999-99-99",
    ];
    let with = ABSURD[below(ABSURD.len())];
    replace_cell(files, below, with);
}

fn insert_formulas(files: &mut Files, below: Below) {
    const FORMULAS: [&str; 4] = ["=1+1", "@SUM(A1)", "-2+3", "\"=HYPERLINK(\"\"x\"\")\""];
    let with = FORMULAS[below(FORMULAS.len())];
    replace_cell(files, below, with);
}

fn insert_zeros(files: &mut Files, below: Below) {
    if let Some(bytes) = any_file(files, below) {
        for _ in 0..=below(5) {
            let at = below(bytes.len() + 1);
            bytes.insert(at, 0);
        }
    }
}

fn drop_a_file(files: &mut Files, below: Below) {
    let name = files.keys().nth(below(files.len())).cloned();
    name.and_then(|name| files.remove(&name));
}

fn repeat_lines(files: &mut Files, below: Below) {
    if let Some(bytes) = any_file(files, below) {
        let mut lines = lines_of(bytes);
        for _ in 0..=below(5) {
            let again = lines.get(below(lines.len())).cloned().unwrap_or_default();
            lines.insert(below(lines.len() + 1), again);
        }
        *bytes = lines.concat();
    }
}

fn drop_separators(files: &mut Files, below: Below) {
    if let Some(bytes) = any_file(files, below) {
        let every = 2 + below(20);
        let mut count = 0;
        bytes.retain(|b| {
            count += usize::from(*b == b';');
            *b != b';' || count % every != 0
        });
    }
}

fn open_a_quote(files: &mut Files, below: Below) {
    if let Some(bytes) = any_file(files, below) {
        let separators: Vec<usize> = (0..bytes.len()).filter(|i| bytes[*i] == b';').collect();
        let at = separators.get(below(separators.len())).map_or(0, |i| i + 1);
        bytes.insert(at, b'"');
    }
}

fn overwrite_bytes(files: &mut Files, below: Below) {
    if let Some(bytes) = any_file(files, below) {
        for _ in 0..=below(20) {
            let (at, byte) = (below(bytes.len()), below(256) as u8);
            if let Some(b) = bytes.get_mut(at) {
                *b = byte;
            }
        }
    }
}

fn to_utf16(files: &mut Files, below: Below) {
    if let Some(bytes) = any_file(files, below) {
        let text = String::from_utf8_lossy(bytes).into_owned();
        *bytes = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
        bytes.truncate(bytes.len() - below(2).min(bytes.len()));
    }
}

fn swap_files(files: &mut Files, below: Below) {
    let names: Vec<String> = files.keys().cloned().collect();
    let (a, b) = (names.get(below(names.len())), names.get(below(names.len())));
    if let Some((a, b)) = a.zip(b) {
        let (x, y) = (files.get(a).cloned(), files.get(b).cloned());
        files.extend(y.map(|y| (a.clone(), y)));
        files.extend(x.map(|x| (b.clone(), x)));
    }
}

/// A small block of our own invention: two rows, exceptions, a replant, a move, two walks.
pub fn small_block() -> Files {
    let file = |name: &str, text: &str| (name.to_string(), text.as_bytes().to_vec());
    Files::from([
        file(
            "block.toml",
            "name = \"Lower Bench\"\nplanted_on = 2031-05-02\nfactors = [\"crew\"]\ndate_format = \"day.month.year\"\n\
             [layout]\nrow_spacing_m = 2.2\nvine_spacing_m = 1.0\nplanted = \"serpentine\"\n\
             [[layout.row]]\nrow = \"1\"\nplaces = 20\nno_vine = [10]\n\
             [claim.\"B2\"]\nguaranteed = 0.95\n[[claim.\"B2\".notice]]\nafter = \"delivery\"\ndays = 5\n\
             [materials.\"again\"]\nprice_per_vine = { p10 = 2.0, p50 = 2.5, p90 = 3.0 }\n\
             [[option]]\nname = \"gather\"\n[[option.step]]\nvines = \"living\"\nrows = [\"2\"]\ndo = \"move\"\nto = \"failed\"\n",
        ),
        file(
            "vines.csv",
            "row;position;variety;clone;rootstock;batch;planted_on;removed_on;removed_why;moved_from;crew;note\n\
             1;1-20;Hárs;A;own;B1;;;;;north;\n1;7;;;;B2;;;;;;\"a note;\nin two lines\"\n1;8;;;;;;12.02.2032;failed;;;\n\
             1;8;Hárs;A;own;B3;20.04.2032;;;;south;\n2;1-18;Hárs;C;own;B2;;;;;south;\n2;18;;;;;;20.04.2032;moved;;;\n\
             1;7;;;;;20.04.2032;;;2/18;;\n;;;;;;;;;;;\n",
        ),
        file(
            "surveys.csv",
            "row;position;surveyed_on;state;walk;height_cm;diameter_mm;vigour;note\n\
             1;3;30.09.2031;died;autumn;;;;\n1;7;30.09.2031;no_budburst;autumn;;;;\n1;8;30.09.2031;dead;autumn;;;;\n\
             1;rest;30.09.2031;alive;autumn;;;;\n2;1-9;30.09.2031;alive;autumn;85,5;8,2;7;Höhe gemessen\n\
             2;5;30.09.2031;unsure;autumn;;;;\n\n1;3;01.10.2032;dead;second;;;;\n\
             1;rest;01.10.2032;alive;second;;;;\n2;rest;01.10.2032;alive;second;;;;\n\
             2;4;01.10.2032;missing;second;;;;\n",
        ),
        file(
            "batches.csv",
            "batch;nursery;delivered_on;delivered\nB1;Old Mill;28.04.2031;20\nB2;Fen End;29.04.2031;25\n",
        ),
        file("diary.csv", "date;row_from;row_to;event;amount;unit\n11.05.2031;1;2;frost;-2,5;°C\n"),
    ])
}

#[test]
fn the_undamaged_folder_reads_whole() {
    let reading = check_reading(&small_block()).unwrap();
    assert!(reading.set_aside.is_empty(), "{:?}", reading.set_aside);
    assert!(reading.check.findings.is_empty(), "{:?}", reading.check.findings);
    let lines: Vec<(u64, u64)> = reading.check.files.iter().map(|f| (f.used, f.blank)).collect();
    assert_eq!(lines, [(7, 1), (10, 1), (2, 0), (1, 0)]);
    // 19 + 18 planted, one replant; the moved vine counts once.
    assert_eq!((reading.check.vines, reading.check.places, reading.check.walks), (38, 37, 2));
}

#[test]
fn three_hundred_damaged_copies_give_findings_or_a_clear_error() {
    let (whole, seed) = (small_block(), Seed::new(20_310_502));
    let (mut read, mut with_lines_aside) = (0, 0);
    for number in 0..300 {
        let copy = damaged(&whole, seed, number);
        let result = std::panic::catch_unwind(|| check_reading(&copy));
        let reading = result.unwrap_or_else(|_| panic!("copy {number} panicked"));
        read += u32::from(reading.is_ok());
        with_lines_aside += u32::from(reading.is_ok_and(|r| !r.set_aside.is_empty()));
    }
    // Neither everything refused nor everything swallowed.
    assert!((60..280).contains(&read), "{read} of 300 copies read");
    assert!(with_lines_aside > 40, "{with_lines_aside} copies with lines set aside");
}

/// The demo's tables and block.toml.
fn demo_files() -> Files {
    let tables = simulate::demo().files.into_iter().filter(|(name, _)| name != "README.txt");
    tables.map(|(name, text)| (name, text.into_bytes())).collect()
}

/// Every answer about a damaged demo, from few draws and re-arrangements.
fn answers(mut reading: Reading) -> Option<Study> {
    for name in ["evidence.permutations", "evidence.simulated_tables"] {
        reading.block.assumptions.set(name, Quantity::certain(19.0)).unwrap();
    }
    Study::run(reading, Settings { draws: 5, ..Settings::default() }).ok()
}

/// What must hold of the answers about any block.
#[track_caller]
fn check_answers(study: &Study) {
    let total = &study.tally.total;
    assert!(total.failed <= total.seen && total.seen + total.unsure <= total.planted, "{total:?}");
    for factor in &study.rates.factors {
        let sum = |of: fn(&fullstand::rates::LevelRates) -> u64| factor.levels.iter().map(of).sum::<u64>();
        assert_eq!((sum(|l| l.seen), sum(|l| l.failed)), (total.seen, total.failed), "{}", factor.factor);
    }
    let places = study.tally.field.as_ref().map(|f| f.places.len() as u64);
    let sorted: u64 = study.triage.totals.values().sum();
    assert!(places.is_none_or(|places| places == sorted), "{sorted} sorted of {places:?} places");
    assert_eq!(study.rates.set_aside, study.set_aside.len() as u64);
    follow_the_rules(study);
    let page = report::html(std::slice::from_ref(study));
    assert!(page.contains("</html>") && !page.contains("NaN") && !page.contains(">inf"));
}

/// The documents keep to the rules of every document.
#[track_caller]
fn follow_the_rules(study: &Study) {
    fn check<T: Documented>(study: &Study, result: &T) {
        follows_the_rules(T::SCHEMA, &[], &document(&study.header(), result));
    }
    check(study, &study.check);
    check(study, &study.rates);
    check(study, &study.cause);
    check(study, &study.triage);
    study.options.iter().for_each(|options| check(study, options));
    study.orders.iter().for_each(|orders| check(study, orders));
}

#[test]
fn three_hundred_damaged_demos_are_answered_or_refused() {
    let (whole, seed) = (demo_files(), Seed::new(2_025));
    let answered = |number: u64| {
        let result = std::panic::catch_unwind(|| {
            let study = check_reading(&damaged(&whole, seed, number)).ok().and_then(answers);
            study.iter().for_each(check_answers);
            study.is_some()
        });
        u32::from(result.unwrap_or_else(|_| panic!("copy {number} panicked")))
    };
    let half = |from: u64| (from..300).step_by(2).map(answered).sum::<u32>();
    let both = std::thread::scope(|s| [s.spawn(|| half(0)), s.spawn(|| half(1))].map(|h| h.join().unwrap()));
    let answered: u32 = both.iter().sum();
    assert!((60..280).contains(&answered), "{answered} of 300 copies answered");
}

#[test]
fn damage_is_the_same_for_the_same_seed() {
    let (whole, seed) = (small_block(), Seed::new(1));
    assert_eq!(damaged(&whole, seed, 5), damaged(&whole, seed, 5));
    assert_ne!(damaged(&whole, seed, 5), whole);
}

/// The tables of a small block as a workbook and as Parquet.
fn binary_blocks() -> [Files; 2] {
    let mut book = rust_xlsxwriter::Workbook::new();
    for (name, lines) in [
        ("block", vec![["key", "value", ""], ["name", "Lower Bench", ""]]),
        ("vines", vec![["row", "position", "variety"], ["1", "1-20", "Hárs"], ["2", "1-18", "Hárs"]]),
    ] {
        let sheet = book.add_worksheet().set_name(name).unwrap();
        for (row, cells) in (0..).zip(&lines) {
            (0..).zip(cells).for_each(|(column, cell)| _ = sheet.write(row, column, *cell).unwrap());
        }
    }
    let workbook = Files::from([("block.xlsx".into(), book.save_to_buffer().unwrap())]);
    let mut parquet = Vec::new();
    let column = |name: &str, cells: [&str; 2]| polars::prelude::Column::new(name.into(), cells);
    let columns = vec![column("row", ["1", "2"]), column("position", ["1-20", "1-18"]), column("variety", ["a", "b"])];
    let mut frame = polars::prelude::DataFrame::new(2, columns).unwrap();
    polars::prelude::ParquetWriter::new(&mut parquet).finish(&mut frame).unwrap();
    let block = ("block.toml".to_string(), b"name = \"Lower Bench\"\n".to_vec());
    [workbook, Files::from([block, ("vines.parquet".into(), parquet)])]
}

#[test]
fn damaged_workbooks_and_parquet_give_findings_or_a_clear_error() {
    for whole in binary_blocks() {
        assert_eq!(check_reading(&whole).unwrap().check.vines, 38);
        let mut refused = 0;
        for number in 0..100 {
            let mut rng = Seed::new(7).stream("damage", number);
            let mut below = |n: usize| if n == 0 { 0 } else { seed::below(&mut rng, n) };
            let mut copy = whole.clone();
            let damage = [cut, overwrite_bytes, insert_zeros][below(3)];
            damage(&mut copy, &mut below);
            refused += u32::from(check_reading(&copy).is_err());
        }
        assert!(refused > 30, "{refused} of 100 refused");
    }
}
