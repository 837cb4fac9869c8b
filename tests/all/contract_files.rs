//! The contract's sentences about files, end to end: a folder that exercises each, through the program.

use crate::contract::{document, fails, follows_the_rules, fullstand};
use serde_json::{Value, json};
use std::fs;
use std::path::Path;

/// A folder of the caller's own.
struct Folder(tempfile::TempDir);

impl Folder {
    fn new(files: &[(&str, &str)]) -> Folder {
        let folder = Folder(tempfile::tempdir().unwrap());
        files.iter().for_each(|(name, text)| folder.write(name, text));
        folder
    }

    fn write(&self, name: &str, text: &str) {
        let file = self.0.path().join(name);
        fs::create_dir_all(file.parent().unwrap()).unwrap();
        fs::write(file, text).unwrap();
    }

    fn path(&self) -> &str {
        self.0.path().to_str().unwrap()
    }

    fn at(&self, name: &str) -> String {
        self.0.path().join(name).to_str().unwrap().into()
    }

    #[track_caller]
    fn asked(&self, arguments: &[&str]) -> Value {
        document(&[&arguments[..1], &[self.path()], &arguments[1..]].concat())
    }

    #[track_caller]
    fn says(&self, arguments: &[&str]) -> String {
        let output = fullstand(&[&arguments[..1], &[self.path()], &arguments[1..]].concat());
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    }
}

/// The levels of a factor of `rates`.
#[track_caller]
fn levels<'d>(rates: &'d Value, factor: &str) -> Vec<&'d Value> {
    let found = rates["factors"].as_array().unwrap().iter().find(|f| f["factor"] == factor);
    found.unwrap_or_else(|| panic!("no factor {factor}"))["levels"].as_array().unwrap().iter().collect()
}

/// Label, seen and failed of every level.
fn counts(rates: &Value, factor: &str) -> Vec<(String, u64, u64)> {
    let number = |l: &Value, field: &str| l[field].as_u64().unwrap();
    let level = |l: &&Value| (l["level"].as_str().unwrap().to_string(), number(l, "seen"), number(l, "failed"));
    levels(rates, factor).iter().map(level).collect()
}

fn codes(check: &Value) -> Vec<&str> {
    check["findings"].as_array().unwrap().iter().map(|f| f["code"].as_str().unwrap()).collect()
}

fn at_place<'d>(triage: &'d Value, row: &str, position: u64) -> &'d Value {
    let vines = triage["vines"].as_array().unwrap();
    vines.iter().find(|v| v["row"] == row && v["position"] == position).unwrap()
}

const LAYOUT: &str = "[layout]\nrow_spacing_m = 2.0\nvine_spacing_m = 1.0\ntraining_height_cm = 80\n";

// Rates are per vine ever planted; the map is per place.

/// Batch A in rows 1 to 10, batch B in rows 11 to 20, 50 vines each. 60 of A are dead at the first walk and replaced
/// by C; row 20 but its last vine is cleared; one vine moves from 19/5 to 21/1.
fn two_years() -> Folder {
    let mut vines = String::from("row,position,variety,batch,planted_on,removed_on,removed_why,moved_from\n");
    (1..=20).for_each(|r| vines += &format!("{r},1-50,V,{},,,,\n", if r <= 10 { "A" } else { "B" }));
    (1..=6).for_each(|r| {
        (1..=10).for_each(|p| vines += &format!("{r},{p},,,,2026-02-01,failed,\n{r},{p},V,C,2026-04-10,,,\n"));
    });
    vines += "20,1-49,,,,2026-03-01,cleared,\n19,5,,,,2026-03-05,moved,\n21,1,V,,2026-03-05,,,19/5\n";
    let mut walks = String::from("row,position,surveyed_on,state,height_cm,diameter_mm\n");
    (1..=6).for_each(|r| walks += &format!("{r},1-10,2025-10-01,dead,,\n"));
    (1..=20).for_each(|r| walks += &format!("{r},rest,2025-10-01,alive,90,9\n"));
    (1..=19).for_each(|r| walks += &format!("{r},rest,2026-10-01,alive,90,9\n"));
    walks += "20,50,2026-10-01,alive,90,9\n21,1,2026-10-01,alive,90,9\n";
    let block = format!("name = \"Two Years\"\nplanted_on = 2025-05-01\n{LAYOUT}");
    Folder::new(&[("block.toml", &block), ("vines.csv", &vines), ("surveys.csv", &walks)])
}

#[test]
fn a_batch_keeps_its_failures_after_another_filled_its_gaps() {
    let folder = two_years();
    let check = folder.asked(&["check"]);
    assert_eq!((&check["vines"], &check["places"], &check["walks"]), (&json!(1060), &json!(1001), &json!(2)));
    assert_eq!(codes(&check), Vec::<&str>::new());
    let named = |levels: &[(&str, u64, u64)]| levels.iter().map(|l| (l.0.to_string(), l.1, l.2)).collect::<Vec<_>>();
    let first = folder.asked(&["rates", "--survey", "2025-10-01"]);
    assert_eq!(counts(&first, "batch"), named(&[("A", 500, 60), ("B", 500, 0)]));
    let next = folder.asked(&["rates"]);
    assert_eq!(counts(&next, "batch"), named(&[("A", 500, 60), ("B", 500, 0), ("C", 60, 0)]));
    assert_eq!((&next["seen"], &next["failed"]), (&json!(1060), &json!(60)));
    // The moved vine is counted once, with its batch and where it was planted; the cleared row killed nobody.
    let rows = counts(&next, "row");
    assert_eq!(rows[18..], named(&[("19", 50, 0), ("20", 50, 0)]));
    let claim = folder.asked(&["claim", "--batch", "A"]);
    assert_eq!((&claim["planted"], &claim["failed"], &claim["counted"]), (&json!(500), &json!(60), &json!(60)));
}

#[test]
fn the_map_shows_what_stands_on_each_place_now() {
    let folder = two_years();
    let triage = |day: &str| folder.asked(&["triage", "--survey", day]);
    let (first, next) = (triage("2025-10-01"), triage("2026-10-01"));
    assert_eq!(first["vines"].as_array().unwrap().len(), 1001);
    assert_eq!(at_place(&first, "1", 3)["action"], "replace");
    assert_eq!(at_place(&next, "1", 3)["action"], "take_up"); // the replant
    assert_eq!(at_place(&first, "19", 5)["action"], "take_up");
    for (row, position) in [("19", 5), ("20", 7)] {
        assert_eq!(at_place(&next, row, position)["rule"], "empty_place", "{row}/{position}");
    }
    assert_eq!(at_place(&first, "21", 1)["rule"], "empty_place");
    assert_eq!(at_place(&next, "21", 1)["action"], "take_up");
}

// block.toml.

/// Every key of block.toml.
const WHOLE: &str = r#"
name = "Long Terrace"
currency = "EUR"
planted_on = 2025-05-14
factors = ["crew", "valve"]
date_format = "day.month.year"
[site]
hemisphere = "south"
[layout]
row_spacing_m = 2.4
vine_spacing_m = 1.1
training_height_cm = 85
topped_at_cm = 120
planted = "serpentine"
rows = ["1", "2", "2A", "3"]
[[layout.row]]
row = "12"
places = 40
offset_m = 3.3
gap_before_m = 6.0
no_vine = [12, 24]
[columns]
row = "Reihe"
[values.state]
"tot" = "dead"
[claim."L3"]
guaranteed = 0.95
covers = ["no_budburst"]
judged_by = 2025-09-30
price_per_vine = 2.9
cap_share = 0.05
union_max_cm = 5
condition_text = "…"
[[claim."L3".notice]]
after = "delivery"
days = 4
working = true
if_loss_over = 0.03
[materials."same again"]
variety = "Kadarka"
clone = "C2"
rootstock = "SO4"
stock_type = "dormant"
price_per_vine = 2.9
bundle = 25
available_from = 2026-11-01
order_by = 2026-03-01
first_year_stand = { p10 = 0.82, p50 = 0.93, p90 = 0.98 }
stand_from = "blend"
mature_crop_kg = 2.4
price_per_kg = { p10 = 0.9, p50 = 1.2, p90 = 1.5 }
[goal]
by = "present_value"
[limits]
cash = 6000
full_by = 2031
hours_per_winter = 120
free_rows = ["23", "24"]
[assumptions]
"labour.price_per_hour" = 22
"explanation.prior.batch" = 0.15
[[option]]
name = "Gather and change variety"
[[option.step]]
vines = "living"
rows = ["23", "24"]
do = "move"
to = "failed"
material = "new variety"
winter = 0
"#;

/// Vines and walks of these rows, 30 places each, with headings and words of the grower's own.
fn whole(rows: &[&str]) -> Folder {
    let mut vines = String::from("Reihe,position,variety,clone,rootstock,batch,crew,valve\n");
    let mut walks = String::from("Reihe;position;surveyed_on;state;height_cm;diameter_mm\n");
    for (i, row) in rows.iter().enumerate() {
        vines += &format!("{row},1-30,Kadarka,C2,SO4,{},c{},v{}\n", ["L1", "L3"][i % 2], i % 3, i % 2);
        (2..5).for_each(|p| walks += &format!("{row};{p};15.6.2026;{};;\n", ["tot", "no_budburst"][p % 2]));
        walks += &format!("{row};rest;15.6.2026;alive;95,5;8,5\n");
    }
    Folder::new(&[("block.toml", WHOLE), ("vines.csv", &vines), ("surveys.csv", &walks)])
}

#[test]
fn every_key_of_block_toml_is_accepted() {
    let folder = whole(&["1", "2", "2A", "3", "12", "23", "24"]);
    let check = folder.asked(&["check"]);
    let expected = ["undescribed_material", "row_not_in_layout", "row_not_in_layout", "row_not_in_layout"];
    assert_eq!(codes(&check), expected, "{check}");
    let options = folder.asked(&["options", "--draws", "100"]);
    assert!(options["options"].as_array().unwrap().iter().any(|o| o["name"] == "Gather and change variety"));
    let set = folder.asked(&["assumptions"]);
    let value = |name: &str| set.as_array().unwrap().iter().find(|a| a["name"] == name).unwrap()["value"].clone();
    assert_eq!((value("labour.price_per_hour"), value("explanation.prior.batch")), (json!(22.0), json!(0.15)));
    // covers = ["no_budburst"]: one of three failures in each of three rows of batch L3.
    let claim = folder.asked(&["claim", "--batch", "L3"]);
    assert_eq!((&claim["failed"], &claim["counted"]), (&json!(9), &json!(3)));
    assert_eq!(folder.asked(&["triage"])["totals"]["hold"], 9);
    assert_eq!(folder.asked(&["order"])["orders"][0]["bundle"], 25);
}

#[test]
fn rows_that_only_block_toml_names_leave_an_option_out_and_the_block_readable() {
    let folder = whole(&["1", "2", "2A", "3"]);
    let check = folder.asked(&["check"]);
    assert_eq!(codes(&check).iter().filter(|c| **c == "unknown_row").count(), 2, "{check}");
    assert!(codes(&check).contains(&"option_left_out"));
    let options = folder.asked(&["options", "--draws", "50"]);
    assert!(options["options"].as_array().unwrap().iter().all(|o| o["name"] != "Gather and change variety"));
}

#[test]
fn an_assumption_that_is_not_there_is_refused_with_its_line_and_the_nearest_name() {
    let folder = Folder::new(&[
        ("block.toml", "name = \"B\"\n[assumptions]\n\"labour.price_per_hours\" = 22\n"),
        ("counts.csv", "row,planted,failed\n1,40,2\n"),
    ]);
    let error = fails(&["rates", folder.path()], 3);
    assert_eq!(
        (&error["code"], &error["file"], &error["line"]),
        (&json!("unknown_assumption"), &json!("block.toml"), &json!(3))
    );
    assert!(error["hint"].as_str().unwrap().contains("labour.price_per_hour"));
}

// counts.csv.

/// Three columns and a name: what a grower starts with.
fn counted() -> Folder {
    Folder::new(&[
        ("block.toml", "name = \"Counted\"\n"),
        ("counts.csv", "row,planted,failed\n10,40,0\n2,45,1\n007,45,3\n3,45,12\n"),
    ])
}

#[test]
fn counts_alone_get_rates_totals_options_and_an_order() {
    let folder = counted();
    let rates = folder.asked(&["rates"]);
    let labels: Vec<_> = counts(&rates, "row").into_iter().map(|l| l.0).collect();
    assert_eq!(labels, ["2", "3", "007", "10"]);
    assert_eq!((&rates["seen"], &rates["failed"]), (&json!(175), &json!(16)));
    let triage = folder.asked(&["triage"]);
    assert!(triage["vines"].is_null());
    assert_eq!((&triage["totals"]["replace"], &triage["totals"]["look_again"]), (&json!(16), &json!(159)));
    let options = folder.asked(&["options", "--draws", "100"]);
    assert!(options["options"].as_array().unwrap().len() >= 5);
    let order = folder.asked(&["order", "--draws", "100"]);
    let first = &order["orders"][0];
    assert_eq!(first["needed"], 16);
    assert!(first["order"].as_u64().unwrap() >= 16 && first["probability_enough"].as_f64().unwrap() >= 0.9);
    for command in ["check", "rates", "cause", "triage", "options", "order", "counts", "assumptions", "due"] {
        assert!(!folder.says(&[command, "--draws", "50"]).trim().is_empty(), "{command}");
    }
}

#[test]
fn the_table_of_counts_reads_as_counts_again_without_a_finding() {
    let folder = counted();
    let again = Folder::new(&[("block.toml", "name = \"Counted\"\n"), ("counts.csv", &folder.says(&["counts"]))]);
    assert_eq!(codes(&again.asked(&["check"])), Vec::<&str>::new());
    assert_eq!(again.asked(&["rates"])["factors"], folder.asked(&["rates"])["factors"]);
}

#[test]
fn counts_that_do_not_add_up_are_findings_and_break_nothing() {
    let folder = Folder::new(&[
        ("block.toml", "name = \"B\"\ncurrency = \"EUR\"\n"),
        (
            "counts.csv",
            "row,planted,failed,missing,no_budburst,good,weak,reached_wire,batch\n1,45,3,40,44,90,90,80,A\n2,0,0,5,5,5,5,5,B\n",
        ),
    ]);
    assert!(codes(&folder.asked(&["check"])).contains(&"counts_dont_add_up"));
    for command in ["rates", "cause", "triage", "options", "order"] {
        folder.asked(&[command, "--draws", "50"]);
    }
    folder.asked(&["counts"]);
    assert_eq!(folder.asked(&["claim", "--batch", "A"])["counted"], 0);
}

// Estates.

fn estate() -> Folder {
    let block = format!(
        "name = \"Vines\"\nplanted_on = 2025-05-01\n{LAYOUT}[[option]]\nname = \"Wait\"\n[[option.step]]\nvines = \"all\"\ndo = \"leave\"\n"
    );
    let walk = "row,position,surveyed_on,state\n1,1,2025-10-01,ded\n1,2-4,2025-10-01,dead\n1,rest,2025-10-01,alive\n7,rest,2025-10-01,alive\n";
    Folder::new(&[
        ("a vines/block.toml", &block),
        ("a vines/vines.csv", "row,position,variety,batch\n1,1-40,V,L1\n7,1-40,V,L3\n"),
        ("a vines/surveys.csv", walk),
        ("b counts/block.toml", "name = \"Counts\"\n"),
        ("b counts/counts.csv", "row,planted,failed,batch\n1,45,3,L3\n1,45,x,L3\n2,45,1,L9\n"),
    ])
}

#[test]
fn an_estate_of_both_kinds_answers_every_command() {
    let estate = estate();
    for command in ["check", "rates", "cause", "triage", "options", "order", "sample", "plan", "due", "counts"] {
        let doc = estate.asked(&[command, "--draws", "50"]);
        assert_eq!(doc["blocks"].as_array().unwrap().len(), 2, "{command}");
        assert!(doc.as_object().unwrap().contains_key("pooled") && doc["estate"].is_string(), "{command}");
        let text = estate.says(&[command, "--draws", "50"]);
        assert!(command == "counts" || (text.contains("Vines") && text.contains("Counts")), "{command}: {text}");
    }
    assert_eq!(estate.asked(&["assumptions"])["blocks"].as_array().unwrap().len(), 2);
    let out = estate.at("out");
    let report = estate.asked(&["report", "--draws", "50", "--out", &out]);
    assert_eq!(report["blocks"][0]["files"], report["blocks"][1]["files"]);
    let page = fs::read_to_string(Path::new(&out).join("report.html")).unwrap();
    assert!(page.contains("Vines") && page.contains("Counts"));
}

#[test]
fn what_is_asked_for_by_name_one_block_of_an_estate_must_have() {
    let estate = estate();
    let planted = |batch: &str| {
        let claim = estate.asked(&["claim", "--batch", batch]);
        claim["blocks"].as_array().unwrap().iter().map(|b| b["planted"].as_u64().unwrap()).collect::<Vec<_>>()
    };
    assert_eq!((planted("L1"), planted("L3"), planted("L9")), (vec![40, 0], vec![40, 45], vec![0, 45]));
    let order = estate.asked(&["order", "--option", "Wait", "--draws", "50"]);
    assert_eq!((&order["blocks"][0]["option"], &order["blocks"][1]["orders"]), (&json!("Wait"), &json!([])));
    assert_eq!(fails(&["claim", estate.path(), "--batch", "none"], 1)["code"], "no_such_batch");
}

#[test]
fn an_estate_says_which_of_its_blocks_is_in_trouble() {
    let estate = estate();
    estate.write("b counts/counts.csv", "row,planted\n1,45\n");
    let error = fails(&["rates", estate.path()], 3);
    assert_eq!((&error["code"], &error["file"]), (&json!("missing_column"), &json!("b counts/counts.csv")));
    for command in ["check", "report"] {
        assert_eq!(fails(&[command, estate.path()], 3)["file"], "b counts/counts.csv");
    }
}

#[test]
fn lines_set_aside_of_each_block_of_an_estate_go_to_a_file_of_their_own() {
    let estate = estate();
    let out = estate.at("out");
    estate.asked(&["check", "--out", &out]);
    for (block, found) in [("a vines", "unknown_state"), ("b counts", "not_whole")] {
        let written = fs::read_to_string(Path::new(&out).join(block).join("set-aside.csv")).unwrap();
        assert!(written.contains(found), "{written}");
    }
    estate.asked(&["check"]);
    assert!(Path::new(&estate.at("a vines/set-aside.csv")).exists());
    // A set-aside.csv beside the tables is no table.
    estate.asked(&["check"]);
}

// Formats and dialects.

#[test]
fn a_workbook_alone_is_a_block() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheets: [(&str, &[&str]); 5] = [
        (
            "block",
            &[
                "key|value",
                "name|Long Terrace",
                "planted_on|2025-05-14",
                "layout.row_spacing_ft|8",
                "layout.vine_spacing_ft|4",
                "materials.same again.price_per_vine|2.9",
                "assumptions.\"labour.price_per_hour\"|22",
                "date_format|day.month.year",
            ],
        ),
        ("vines", &["row|position|variety|batch", "007|1-20|Kadarka|L1", "8|1-20|Kadarka|L2"]),
        (
            "surveys",
            &[
                "row|position|surveyed_on|state|height_cm",
                "007|3|15.11.2025|dead|",
                "007|rest|15.11.2025|alive|85,5",
                "8|rest|15.11.2025|alive|90",
            ],
        ),
        ("batches", &["batch|nursery|delivered", "L1|Old Mill|25"]),
        ("diary", &["date|event|note", "1.6.2025|frost|hard"]),
    ];
    for (name, lines) in sheets {
        let sheet = book.add_worksheet().set_name(name).unwrap();
        for (row, line) in (0..).zip(lines) {
            (0..).zip(line.split('|')).for_each(|(column, cell)| _ = sheet.write_string(row, column, cell).unwrap());
        }
    }
    book.save(folder.path().join("block.xlsx")).unwrap();
    let path = folder.path().to_str().unwrap();
    let check = document(&["check", path]);
    assert_eq!(
        (&check["block"], &check["vines"], codes(&check).len()),
        (&json!("Long Terrace"), &json!(40), 0),
        "{check}"
    );
    let rates = document(&["rates", path]);
    let (row, batch) = (counts(&rates, "row"), counts(&rates, "batch"));
    assert_eq!((row[0].clone(), batch[0].clone()), (("007".into(), 20, 1), ("L1".into(), 20, 1)));
    assert_eq!(document(&["claim", path, "--batch", "L1"])["delivered"], 25);
}

#[test]
fn the_order_of_rows_is_that_of_the_layout_else_natural() {
    let vines =
        "row,position,variety,batch,crew\n10,1-5,V,B10,x\n2,1-5,V,B2,y\n12A,1-5,V,B9,x\n12,1-5,V,B1,y\n007,1-5,V,,x\n";
    let walk = "row,position,surveyed_on,state\n10,rest,2025-10-01,alive\n2,rest,2025-10-01,alive\n12,rest,2025-10-01,alive\n\
        12A,rest,2025-10-01,alive\n007,rest,2025-10-01,alive\n";
    let rows = |block: &str| {
        let folder = Folder::new(&[("block.toml", block), ("vines.csv", vines), ("surveys.csv", walk)]);
        let rates = folder.asked(&["rates"]);
        let labels = |factor: &str| counts(&rates, factor).into_iter().map(|l| l.0).collect::<Vec<_>>();
        (labels("row"), labels("batch"), labels("crew"))
    };
    let (natural, batches, crews) = rows("name = \"B\"\nplanted_on = 2025-05-01\nfactors = [\"crew\"]\n");
    assert_eq!(natural, ["2", "007", "10", "12", "12A"]);
    assert_eq!(batches, ["", "B1", "B2", "B9", "B10"]);
    assert_eq!(crews, ["x", "y"]);
    let block = "name = \"B\"\nfactors = [\"crew\"]\n[layout]\nrows = [\"12A\", \"10\", \"007\", \"2\", \"12\"]\n";
    assert_eq!(rows(block).0, ["12A", "10", "007", "2", "12"]);
}

// Options of the command line.

#[test]
fn the_options_that_every_command_takes_do_what_they_say() {
    let folder = two_years();
    let width = |level: &str| {
        let rates = folder.asked(&["rates", "--level", level]);
        assert_eq!(rates["level"], level.parse::<f64>().unwrap());
        let raw = &levels(&rates, "batch")[0]["raw"];
        assert_eq!(raw["method"], "clopper_pearson");
        raw["high"].as_f64().unwrap() - raw["low"].as_f64().unwrap()
    };
    assert!(width("0.8") < width("0.95"));
    let seeded = |seed: &str| fullstand(&["options", folder.path(), "--json", "--seed", seed, "--draws", "100"]).stdout;
    assert_eq!(folder.asked(&["options", "--seed", "18446744073709551615", "--draws", "10"])["seed"], u64::MAX);
    assert!(seeded("5") == seeded("5") && seeded("5") != seeded("6"));
    // Any day of a walk will do; the document says its last.
    assert_eq!(folder.asked(&["rates", "--survey", "2025-10-01"])["surveyed_on"], "2025-10-01");
    assert_eq!(folder.asked(&["rates"])["surveyed_on"], "2026-10-01");
    fails(&["rates", folder.path(), "--survey", "01.10.2025"], 2);
    fails(&["rates", folder.path(), "--draws", "-1"], 2);
    fails(&["rates", folder.path(), "--level", "NaN"], 2);
    fails(&[], 2);
}

#[test]
fn without_draws_there_are_expected_values_and_no_chance() {
    let folder = two_years();
    let options = folder.asked(&["options", "--draws", "0"]);
    follows_the_rules("options", &["options[].present_value", "options[].yearly[].cost"], &options);
    assert!(options["options"][0]["probability_best"].is_null());
    for command in ["rates", "cause", "triage", "order"] {
        folder.asked(&[command, "--draws", "0"]);
    }
}

/// A block with one line that can't be used.
fn with_a_bad_line() -> Folder {
    Folder::new(&[
        ("block.toml", "name = \"B\"\nplanted_on = 2025-05-01\n"),
        ("vines.csv", "row,position,variety\n1,1-40,V\n"),
        (
            "surveys.csv",
            "row,position,surveyed_on,state,height_cm\n1,1,2025-10-01,alive,1850\n1,2,2025-10-01,dead,\n\n1,rest,2025-10-01,alive,80\n",
        ),
    ])
}

#[test]
fn a_bad_line_is_set_aside_written_and_counted() {
    let folder = with_a_bad_line();
    let check = folder.asked(&["check"]);
    let walk = &check["files"][1];
    let number = |field: &str| walk[field].as_u64().unwrap();
    assert_eq!((number("lines"), number("used"), number("set_aside"), number("blank")), (4, 2, 1, 1));
    let finding = &check["findings"][0];
    assert_eq!((&finding["file"], &finding["line"]), (&json!("surveys.csv"), &json!(2)));
    assert!(fs::read_to_string(folder.at("set-aside.csv")).unwrap().contains("surveys.csv,2,unlikely_value"));
    assert_eq!(folder.asked(&["rates"])["set_aside"], 1);
    for command in ["check", "rates", "cause", "triage", "options", "order", "counts", "assumptions", "report", "due"] {
        let error = fails(&[command, folder.path(), "--strict"], 3);
        assert_eq!((&error["file"], &error["line"]), (&json!("surveys.csv"), &json!(2)), "{command}");
    }
}

#[test]
fn data_go_to_standard_output_and_talk_to_standard_error() {
    let folder = with_a_bad_line();
    let said = |arguments: &[&str]| {
        let output = fullstand(arguments);
        (output.stdout, String::from_utf8(output.stderr).unwrap())
    };
    let (stdout, stderr) = said(&["check", folder.path(), "--json"]);
    assert!(serde_json::from_slice::<Value>(&stdout).is_ok() && stderr.contains("set-aside.csv"));
    for command in ["check", "rates", "options", "report"] {
        let (stdout, stderr) = said(&[command, folder.path(), "--json", "--quiet", "--draws", "50"]);
        assert!(serde_json::from_slice::<Value>(&stdout).is_ok() && stderr.is_empty(), "{command}: {stderr}");
    }
    let (stdout, stderr) = said(&["rates", "/no/such/folder"]);
    assert!(stdout.is_empty() && stderr.contains("/no/such/folder"));
}

#[test]
fn a_folder_that_takes_no_files_is_an_error_with_a_way_out() {
    let folder = with_a_bad_line();
    let blocked = folder.at("vines.csv");
    for command in ["check", "report"] {
        let error = fails(&[command, folder.path(), "--out", &blocked], 1);
        assert_eq!(error["code"], "not_written", "{command}");
        assert!(error["hint"].as_str().unwrap().contains("--out"));
    }
    let error = fails(&["new", &format!("{blocked}/below")], 3);
    assert_eq!(error["code"], "cannot_write");
    assert_eq!(fails(&["demo", folder.path()], 1)["code"], "not_the_demo");
}

#[test]
fn new_and_demo_write_below_out() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    document(&["new", "block", "--out", out]);
    document(&["demo", "demo", "--out", out]);
    assert!(folder.path().join("block/block.toml").exists() && folder.path().join("demo/report.html").exists());
}

// Hostile folders.

#[cfg(unix)]
#[test]
fn links_and_folders_in_the_place_of_files_do_no_harm() {
    let folder = with_a_bad_line();
    let elsewhere = folder.at("precious.txt");
    folder.write("precious.txt", "keep me");
    std::os::unix::fs::symlink(&elsewhere, folder.at("set-aside.csv")).unwrap();
    std::os::unix::fs::symlink(folder.path(), folder.at("loop")).unwrap();
    folder.asked(&["check"]);
    assert_eq!(fs::read_to_string(&elsewhere).unwrap(), "keep me");
    assert!(fs::read_to_string(folder.at("set-aside.csv")).unwrap().contains("unlikely_value"));
    fs::remove_file(folder.at("vines.csv")).unwrap();
    fs::create_dir(folder.at("vines.csv")).unwrap();
    assert_eq!(fails(&["rates", folder.path()], 3)["code"], "no_register");
    std::os::unix::fs::symlink("/no/such/file", folder.at("counts.csv")).unwrap();
    assert_eq!(fails(&["rates", folder.path()], 3)["code"], "no_register");
}

#[cfg(unix)]
#[test]
fn a_file_that_may_not_be_read_is_named() {
    use std::os::unix::fs::PermissionsExt;
    let folder = with_a_bad_line();
    fs::set_permissions(folder.at("vines.csv"), fs::Permissions::from_mode(0o000)).unwrap();
    // Root reads everything.
    if fs::read(folder.at("vines.csv")).is_err() {
        let error = fails(&["rates", folder.path()], 3);
        assert_eq!((&error["code"], &error["file"]), (&json!("unreadable_file"), &json!("vines.csv")));
    }
}

#[test]
fn labels_are_text_and_never_paths_or_markup() {
    let folder = Folder::new(&[
        ("block.toml", "name = \"../../x\"\nplanted_on = 2025-05-01\n"),
        ("vines.csv", "row,position,variety,batch\n../1,1-5,../../a,<script>alert(1)</script>\n../1,6-10,../../a,B\n"),
        (
            "surveys.csv",
            "row,position,surveyed_on,state,photo\n../1,3,2025-10-01,dead,../../../etc/passwd\n../1,rest,2025-10-01,alive,\n",
        ),
    ]);
    folder.asked(&["report", "--draws", "50"]);
    let page = fs::read_to_string(folder.at("report.html")).unwrap();
    assert!(!page.contains("<script>alert") && page.contains("&lt;script&gt;alert"));
    assert_eq!(counts(&folder.asked(&["rates"]), "row"), [("../1".into(), 10, 1)]);
}

#[test]
fn empty_files_and_headings_alone_are_said_to_hold_nothing() {
    let block = "name = \"B\"\nplanted_on = 2025-05-01\n";
    for files in [
        [("block.toml", block), ("vines.csv", ""), ("surveys.csv", "")],
        [
            ("block.toml", block),
            ("vines.csv", "row,position,variety\n"),
            ("surveys.csv", "row,position,surveyed_on,state\n"),
        ],
        [("block.toml", block), ("vines.csv", "row,position,variety\n1,1-9,V\n"), ("diary.csv", "date\n")],
    ] {
        let folder = Folder::new(&files);
        let check = folder.asked(&["check"]);
        assert_eq!(check["walks"], 0);
        for command in ["rates", "cause", "triage", "options", "order", "claim", "report", "counts"] {
            let batch: &[&str] = if command == "claim" { &["--batch", "L1"] } else { &[] };
            assert_eq!(fails(&[&[command, folder.path()], batch].concat(), 1)["code"], "no_walk", "{command}");
        }
    }
    let counts = Folder::new(&[("block.toml", block), ("counts.csv", "row,planted,failed\n")]);
    for command in ["check", "rates", "cause", "triage", "options", "order"] {
        counts.asked(&[command, "--draws", "50"]);
    }
}

/// Time and memory stay bounded, and no message grows with its cell.
#[test]
fn very_long_lines_and_very_wide_headings_are_read_at_ease() {
    let block = "name = \"B\"\nplanted_on = 2025-05-01\n";
    let vines = format!("row,position,variety\n1,1-10,V\n1,\"{}\",V\n1,11,\0V\n", "x".repeat(10_000_000));
    let walk = "row,position,surveyed_on,state\n1,rest,2025-10-01,alive\n";
    let folder = Folder::new(&[("block.toml", block), ("vines.csv", &vines), ("surveys.csv", walk)]);
    let output = fullstand(&["check", folder.path(), "--json"]);
    assert!(output.status.success() && output.stdout.len() < 10_000);
    let check: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(codes(&check), ["bad_position", "unreadable_characters"]);
    let wide: String = (0..100_000).map(|i| format!(",y{i}")).collect();
    folder.write("vines.csv", &format!("row,position,variety{wide}\n1,1-10,V\n"));
    let output = fullstand(&["check", folder.path(), "--json"]);
    assert!(output.status.success() && output.stdout.len() < 100_000);
    assert!(String::from_utf8(output.stdout).unwrap().contains("99950 more columns"));
}

/// A workbook of a few hundred kilobytes that unpacks to hundreds of megabytes.
#[test]
fn a_workbook_that_unpacks_beyond_bounds_is_refused() {
    use std::io::Write;
    let folder = Folder::new(&[("block.toml", "name = \"B\"\n")]);
    let mut one = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    one.start_file("xl/sharedStrings.xml", zip::write::SimpleFileOptions::default()).unwrap();
    one.write_all(&vec![b'0'; 1 << 20]).unwrap();
    let mut one = zip::ZipArchive::new(one.finish().unwrap()).unwrap();
    let mut book = zip::ZipWriter::new(fs::File::create(folder.at("tables.xlsx")).unwrap());
    for copy in 0..257 {
        book.raw_copy_file_rename(one.by_index_raw(0).unwrap(), format!("xl/part{copy}.xml")).unwrap();
    }
    book.finish().unwrap();
    assert!(fs::metadata(folder.at("tables.xlsx")).unwrap().len() < 1 << 20);
    let error = fails(&["check", folder.path()], 3);
    assert_eq!((&error["code"], &error["file"]), (&json!("unreadable_file"), &json!("tables.xlsx")));
    assert!(error["message"].as_str().unwrap().contains("256 MiB"));
}
