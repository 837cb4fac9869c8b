//! The documents follow the contract to the letter: fields, nulls with reasons, exit statuses, same bytes.

use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Runs the program.
pub fn fullstand(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_fullstand")).args(arguments).output().expect("the program starts")
}

/// The document of a command that must succeed.
#[track_caller]
pub fn document(arguments: &[&str]) -> Value {
    let output = fullstand(&[arguments, &["--json"]].concat());
    let error = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{arguments:?}: {error}{}", String::from_utf8_lossy(&output.stdout));
    serde_json::from_slice(&output.stdout).unwrap_or_else(|e| panic!("{arguments:?}: {e}"))
}

/// A demo folder of its own for the caller.
pub fn demo() -> (tempfile::TempDir, String) {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("block");
    let folder = folder.to_string_lossy().into_owned();
    document(&["demo", &folder]);
    (parent, folder)
}

fn pines() -> String {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("notebooks-data/pines").to_string_lossy().into_owned()
}

/// A folder with only block.toml and counts.csv.
fn counted() -> (tempfile::TempDir, String) {
    let parent = tempfile::tempdir().unwrap();
    fs::write(parent.path().join("block.toml"), "name = \"Counted\"\ncurrency = \"EUR\"\n").unwrap();
    fs::write(parent.path().join("counts.csv"), "row,planted,failed\n1,45,3\n2,45,1\n3,45,12\n10,40,0\n").unwrap();
    let folder = parent.path().to_string_lossy().into_owned();
    (parent, folder)
}

/// Every command that answers with a document of its own, and the fields the contract names for it.
/// `[]` goes into every entry of a list.
const DOCUMENTS: &[(&str, &[&str])] = &[
    (
        "check",
        &[
            "files[].file",
            "files[].lines",
            "files[].used",
            "files[].set_aside",
            "files[].blank",
            "findings",
            "vines",
            "places",
            "walks",
        ],
    ),
    (
        "rates",
        &[
            "vines",
            "seen",
            "failed",
            "missing",
            "unsure",
            "set_aside",
            "factors[].factor",
            "factors[].levels[].level",
            "factors[].levels[].seen",
            "factors[].levels[].failed",
            "factors[].levels[].never_grew",
            "factors[].levels[].raw",
            "factors[].levels[].pooled",
            "factors[].levels[].separable",
            "factors[].levels[].probability_best",
            "factors[].p_value",
            "factors[].p_method",
            "factors[].sd",
            "factors[].share_of_variance",
            "contrasts",
            "fit",
            "take",
            "vigour",
            "survival",
        ],
    ),
    (
        "cause",
        &[
            "seen",
            "failed",
            "verdict",
            "cannot_tell_between",
            "explanations",
            "associated",
            "patches",
            "tests",
            "separable",
        ],
    ),
    ("triage", &["vines", "totals", "labour_hours", "materials"]),
    (
        "options",
        &[
            "options[].name",
            "options[].present_value",
            "options[].cash_low_point",
            "options[].first_crop_year",
            "options[].full_crop_year",
            "options[].probability_best",
            "options[].labour_hours",
            "options[].evenness",
            "options[].yearly[].year",
            "options[].yearly[].harvest",
            "options[].yearly[].cost",
            "options[].yearly[].income",
            "options[].yearly[].crop_kg",
            "goal",
            "recommended",
            "why",
            "switch_points",
            "drivers",
            "value_of_information",
            "assumptions[].name",
            "assumptions[].value",
            "assumptions[].unit",
            "assumptions[].source",
        ],
    ),
    (
        "order",
        &[
            "orders[].material",
            "orders[].needed",
            "orders[].sure",
            "orders[].order",
            "orders[].bundle",
            "orders[].expected_stand",
            "orders[].probability_enough",
            "orders[].order_by",
            "orders[].if_ordered[].order",
            "orders[].if_ordered[].probability_enough",
        ],
    ),
    ("sample", &["population", "sample", "detects_share", "confidence", "vines"]),
    ("plan", &["layout", "contrasts", "against_plain"]),
    ("due", &["due"]),
];

const HEADER: &[&str] = &["schema", "block", "surveyed_on", "seed", "level", "sources", "absent"];

/// The fields of `counts.csv` and of an assumption, one record each.
const COUNT_COLUMNS: &[&str] = &[
    "row",
    "planted",
    "failed",
    "batch",
    "variety",
    "clone",
    "rootstock",
    "seen",
    "good",
    "weak",
    "reached_wire",
    "no_budburst",
    "died",
    "dead",
    "scion_dead",
    "missing",
    "surveyed_on",
];

/// Every value at a path; panics where a field isn't there. An absent (null) parent has no children to look at.
fn at<'a>(value: &'a Value, path: &str, whole: &str) -> Vec<&'a Value> {
    let (head, tail) = path.split_once('.').unwrap_or((path, ""));
    let (name, list) = head.strip_suffix("[]").map_or((head, false), |n| (n, true));
    let object = value.as_object().unwrap_or_else(|| panic!("{whole}: not an object"));
    let field = object.get(name).unwrap_or_else(|| panic!("{whole}: no field {name}"));
    let found: Vec<&Value> = match field {
        Value::Array(items) if list => items.iter().collect(),
        Value::Null => return Vec::new(),
        field => vec![field],
    };
    match tail {
        "" => found,
        tail => found.into_iter().flat_map(|v| at(v, tail, whole)).collect(),
    }
}

/// Paths of all nulls, without list indices.
fn nulls(value: &Value, path: &str, found: &mut Vec<String>) {
    match value {
        Value::Null => found.push(path.to_string()),
        Value::Array(items) => items.iter().for_each(|i| nulls(i, path, found)),
        Value::Object(fields) => {
            for (name, field) in fields.iter().filter(|(n, _)| *n != "absent") {
                nulls(field, &if path.is_empty() { name.clone() } else { format!("{path}.{name}") }, found);
            }
        }
        _ => {}
    }
}

/// The fields that the contract names for a command's document.
pub fn fields_of(command: &str) -> &'static [&'static str] {
    DOCUMENTS.iter().find(|(name, _)| *name == command).map_or(&[], |(_, fields)| fields)
}

#[track_caller]
pub fn follows_the_rules(command: &str, fields: &[&str], doc: &Value) {
    for field in HEADER.iter().chain(fields) {
        at(doc, field, &format!("{command}: {field}"));
    }
    let mut found = Vec::new();
    nulls(doc, "", &mut found);
    let absent: Vec<&str> = doc["absent"].as_array().unwrap().iter().map(|a| a["field"].as_str().unwrap()).collect();
    for path in found {
        assert!(absent.contains(&path.as_str()), "{command}: {path} is null without a reason in {absent:?}");
    }
    let (mut found, fields) = (Vec::new(), absent);
    nulls(doc, "", &mut found);
    fields.iter().for_each(|f| assert!(found.iter().any(|p| p == f), "{command}: {f} is said to be absent and isn't"));
    labels_and_dates(command, "", doc);
    for entry in doc["absent"].as_array().unwrap() {
        assert!(!entry["reason"].as_str().unwrap().is_empty(), "{command}: {entry}");
        assert!(entry["would_help"].is_string(), "{command}: {entry}");
    }
    probabilities_are_probabilities(command, doc);
}

fn probabilities_are_probabilities(command: &str, value: &Value) {
    const NAMES: &[&str] = &[
        "stand",
        "others_stand",
        "expected_stand",
        "prior",
        "probability",
        "probability_greater",
        "probability_within_horizon",
        "p_value",
        "p_adjusted",
        "p_monte_carlo_error",
        "p_value_vines",
        "p_monte_carlo_error_vines",
        "monte_carlo_error",
        "p_exact",
        "p_permuted",
        "share_of_variance",
        "efficiency",
        "sure",
        "level",
        "probability_best",
        "probability_enough",
        "separable",
        "share",
    ];
    match value {
        Value::Array(items) => items.iter().for_each(|i| probabilities_are_probabilities(command, i)),
        Value::Object(fields) => {
            for (name, field) in fields {
                if let (true, Some(p)) = (NAMES.contains(&name.as_str()), field.as_f64()) {
                    assert!((0.0..=1.0).contains(&p), "{command}: {name} is {p}");
                }
                probabilities_are_probabilities(command, field);
            }
        }
        _ => {}
    }
}

/// Labels are text even where they are numbers, positions whole numbers, days written 2025-05-14.
fn labels_and_dates(command: &str, name: &str, value: &Value) {
    const LABELS: &[&str] = &["row", "block", "batch", "material", "factor", "option", "estate"];
    match value {
        Value::Array(items) => items.iter().for_each(|i| labels_and_dates(command, name, i)),
        // `sd` of `fit` is a standard deviation by the name of its factor.
        Value::Object(_) if name == "sd" => {}
        Value::Object(fields) => fields.iter().for_each(|(name, field)| labels_and_dates(command, name, field)),
        Value::Null | Value::Bool(_) => {}
        value if LABELS.contains(&name) => assert!(value.is_string(), "{command}: {name} is {value}"),
        value if name == "position" => assert!(value.is_u64(), "{command}: {name} is {value}"),
        value if name.ends_with("_on") || name == "date" || name == "order_by" => {
            let day = value.as_str().unwrap_or("").parse::<jiff::civil::Date>();
            assert!(day.is_ok_and(|d| value == &d.to_string()), "{command}: {name} is {value}");
        }
        _ => {}
    }
}

#[test]
fn every_document_has_its_fields_and_reasons() {
    let (_demo, demo) = demo();
    let (_counted, counted) = counted();
    for (command, fields) in DOCUMENTS {
        for folder in [&demo, &counted] {
            follows_the_rules(command, fields, &document(&[command, folder, "--draws", "200"]));
        }
    }
    let claim = [
        "batch",
        "delivered",
        "planted",
        "seen",
        "failed",
        "missing",
        "counted",
        "lot",
        "process",
        "comparison",
        "separable",
        "sensitivity",
        "calendar",
        "not_shown",
        "manifest",
    ];
    let batches = document(&["rates", &demo]);
    let batch = batches["factors"].as_array().unwrap().iter().find(|f| f["factor"] == "batch").unwrap();
    let level = batch["levels"][0]["level"].as_str().unwrap();
    follows_the_rules("claim", &claim, &document(&["claim", &demo, "--batch", level]));
}

#[test]
fn lists_are_lists_of_full_records() {
    let (_parent, folder) = demo();
    for record in document(&["counts", &folder]).as_array().expect("a list") {
        COUNT_COLUMNS.iter().for_each(|c| assert!(record.get(c).is_some(), "no {c} in {record}"));
    }
    for arguments in [vec!["assumptions"], vec!["assumptions", &folder]] {
        for record in document(&arguments).as_array().expect("a list") {
            ["name", "value", "unit", "range", "source"]
                .iter()
                .for_each(|c| assert!(record.get(c).is_some(), "{record}"));
        }
    }
}

#[test]
fn an_estate_answers_block_by_block() {
    let out = tempfile::tempdir().unwrap();
    let out = out.path().to_string_lossy().into_owned();
    for (command, fields) in DOCUMENTS {
        let doc = document(&[command, &pines(), "--draws", "100", "--out", &out]);
        assert!(doc["estate"].is_string() && doc.get("pooled").is_some(), "{command}");
        let blocks = doc["blocks"].as_array().unwrap();
        assert_eq!(blocks.len(), 2);
        blocks.iter().for_each(|b| follows_the_rules(command, fields, b));
        // Over all blocks, or null with its reason.
        match &doc["pooled"] {
            Value::Null => assert_eq!(doc["absent"][0]["field"], "pooled", "{command}"),
            pooled => follows_the_rules(command, fields, pooled),
        }
    }
}

#[test]
fn the_same_seed_gives_the_same_bytes_whatever_the_threads() {
    let (_parent, folder) = demo();
    for (command, _) in DOCUMENTS {
        let run = |threads: &str, seed: &str| {
            fullstand(&[command, &folder, "--json", "--threads", threads, "--seed", seed, "--draws", "500"]).stdout
        };
        assert!(run("1", "7") == run("2", "7"), "{command} differs between one thread and two");
    }
}

#[test]
fn the_report_is_the_same_whatever_the_threads() {
    let (parent, folder) = demo();
    let page = |threads: &str| {
        let out = parent.path().join(threads);
        document(&["report", &folder, "--threads", threads, "--out", &out.to_string_lossy()]);
        fs::read(out.join("report.html")).unwrap()
    };
    assert!(page("1") == page("2"));
}

#[track_caller]
pub fn fails(arguments: &[&str], status: i32) -> Value {
    let output = fullstand(&[arguments, &["--json"]].concat());
    assert_eq!(output.status.code(), Some(status), "{arguments:?}: {}", String::from_utf8_lossy(&output.stdout));
    if status == 2 {
        assert!(output.stdout.is_empty());
        return Value::Null;
    }
    let doc: Value = serde_json::from_slice(&output.stdout).unwrap();
    let error = &doc["error"];
    for field in ["status", "code", "message", "file", "line", "hint"] {
        assert!(error.get(field).is_some(), "no {field} in {error}");
    }
    assert_eq!(error["status"], status);
    error.clone()
}

#[test]
fn exit_statuses_say_what_kind_of_no_it_is() {
    let (_parent, folder) = demo();
    let empty = tempfile::tempdir().unwrap();
    let nothing = empty.path().to_string_lossy().into_owned();
    fails(&["rates", &nothing], 3);
    fails(&["rates", "/no/such/folder"], 3);
    assert_eq!(fails(&["rates", &folder, "--survey", "1999-01-01"], 1)["code"], "no_such_walk");
    assert_eq!(fails(&["order", &folder, "--option", "no such option"], 1)["code"], "no_such_option");
    assert_eq!(fails(&["claim", &folder, "--batch", "no such batch"], 1)["code"], "no_such_batch");
    fails(&["rates", &folder, "--level", "1.5"], 2);
    fails(&["rates"], 2);
    fails(&["prune", &folder], 2);
    assert_eq!(fails(&["check", &folder, "--strict"], 3)["code"], "set_aside");
}

#[test]
fn a_new_folder_can_be_read_at_once() {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("my block");
    let folder = folder.to_string_lossy().into_owned();
    let files = document(&["new", &folder]);
    assert!(files["files"].as_array().unwrap().len() >= 4);
    follows_the_rules("check", DOCUMENTS[0].1, &document(&["check", &folder]));
    assert_eq!(fails(&["rates", &folder], 1)["code"], "no_walk");
}

/// The type of everything in a document, lists by their first full entry.
fn shape(value: &Value) -> Value {
    match value {
        Value::Null => "null".into(),
        Value::Bool(_) => "bool".into(),
        Value::Number(n) if n.is_f64() => "number".into(),
        Value::Number(_) => "integer".into(),
        Value::String(_) => "text".into(),
        Value::Array(items) => items.first().map(|i| vec![shape(i)]).unwrap_or_default().into(),
        Value::Object(fields) => Value::Object(fields.iter().map(|(k, v)| (k.clone(), shape(v))).collect()),
    }
}

#[test]
fn the_shape_of_each_document_stays() {
    let (_parent, folder) = demo();
    for (command, _) in DOCUMENTS {
        insta::assert_json_snapshot!(
            format!("shape_{command}"),
            shape(&document(&[command, &folder, "--draws", "200"]))
        );
    }
}

/// Rewrites surveys.csv of a small block so that `failed` of its 200 vines failed.
fn small_block(folder: &Path, failed: usize) -> String {
    let toml = "name = \"Small\"\ncurrency = \"EUR\"\nplanted_on = 2025-05-01\n\
        [layout]\nrow_spacing_m = 2.0\nvine_spacing_m = 1.0\ntraining_height_cm = 80\n\
        [materials.\"same again\"]\nvariety = \"V\"\nprice_per_vine = 3.0\nmature_crop_kg = 2.0\nprice_per_kg = 1.5\n\
        [[option]]\nname = \"Fill one\"\n[[option.step]]\nvines = \"failed\"\ndo = \"replant\"\nmaterial = \"same again\"\nwinter = 0\n\
        [[option]]\nname = \"Fill two\"\n[[option.step]]\nvines = \"failed\"\ndo = \"replant\"\nmaterial = \"same again\"\nwinter = 0\n";
    fs::write(folder.join("block.toml"), toml).unwrap();
    let rows: String = (1..=10).map(|r| format!("{r},1-20,V,B{}\n", r % 2)).collect();
    fs::write(folder.join("vines.csv"), format!("row,position,variety,batch\n{rows}")).unwrap();
    let bad: String = (0..failed).map(|i| format!("{},{},2026-01-10,dead,\n", i % 10 + 1, i / 10 + 1)).collect();
    let rest: String = (1..=10).map(|r| format!("{r},rest,2026-01-10,alive,yes\n")).collect();
    fs::write(folder.join("surveys.csv"), format!("row,position,surveyed_on,state,reached_wire\n{bad}{rest}")).unwrap();
    folder.to_string_lossy().into_owned()
}

#[test]
fn options_follow_the_walk_and_treat_equals_equally() {
    let parent = tempfile::tempdir().unwrap();
    let options = |failed: usize| document(&["options", &small_block(parent.path(), failed)]);
    let (good, bad) = (options(10), options(80));
    let named = |doc: &Value, name: &str| {
        doc["options"].as_array().unwrap().iter().find(|o| o["name"] == name).cloned().unwrap()
    };
    for (one, two) in
        [(named(&good, "Fill one"), named(&good, "Fill two")), (named(&bad, "Fill one"), named(&bad, "Fill two"))]
    {
        assert_eq!(one["present_value"], two["present_value"]);
        assert_eq!(one["probability_best"], two["probability_best"]);
    }
    let cost = |doc: &Value| named(doc, "Fill one")["cash_low_point"].as_f64().unwrap();
    assert!(cost(&bad) < cost(&good) - 200.0, "{} against {}", cost(&bad), cost(&good));
    assert!(
        named(&bad, "Fill one")["present_value"]["mean"].as_f64()
            < named(&good, "Fill one")["present_value"]["mean"].as_f64()
    );
}

#[test]
fn a_table_of_counts_gives_the_same_rates() {
    let (parent, folder) = demo();
    let csv = fullstand(&["counts", &folder]).stdout;
    let second = parent.path().join("counted");
    fs::create_dir(&second).unwrap();
    fs::copy(PathBuf::from(&folder).join("block.toml"), second.join("block.toml")).unwrap();
    fs::write(second.join("counts.csv"), csv).unwrap();
    let (vines, counts) = (document(&["rates", &folder]), document(&["rates", &second.to_string_lossy()]));
    for factor in vines["factors"].as_array().unwrap() {
        let same = counts["factors"].as_array().unwrap().iter().find(|f| f["factor"] == factor["factor"]).unwrap();
        assert_eq!(factor["levels"], same["levels"], "{}", factor["factor"]);
    }
}
