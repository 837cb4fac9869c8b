//! A real plantation of two stands (notebooks-data/pines, see ORIGIN.md there) against what R finds in its records.

use crate::oracle::{close, counts, read};
use fullstand::base::Seed;
use fullstand::cause::{Config, cause};
use fullstand::intake;
use fullstand::stats::contingency::freeman_halton;
use fullstand::tally::{Counts, Tally, tally};
use std::collections::BTreeMap;
use std::path::PathBuf;

fn folder(stand: &str) -> PathBuf {
    [env!("CARGO_MANIFEST_DIR"), "notebooks-data", "pines", stand].iter().collect()
}

/// The records of a table of a stand, by heading.
fn records(stand: &str, table: &str) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_path(folder(stand).join(table)).expect("a table");
    reader.deserialize().map(|record| record.expect("a record")).collect()
}

/// The files hold what the source says, before the program has seen them: every record, and every height of 1997.
#[test]
fn the_files_hold_every_record_of_the_source() {
    let oracle = read("pines_take");
    let mut records_in_all = 0;
    for (stand, key) in [("spacing-10", "10"), ("spacing-15", "15")] {
        let trees = records(stand, "vines.csv");
        records_in_all += trees.len();
        let mut looks = records(stand, "surveys.csv");
        looks.retain(|l| l["walk"] == "1997");
        assert_eq!(looks.len(), trees.len());
        let failed = looks.iter().filter(|l| l["state"] == "dead").count() as u64;
        let want = &oracle["inputs"]["by_spacing"][key];
        assert_eq!(failed, want["failed"].as_u64().expect("failures"));
        let doubled = u64::from(key == "10");
        assert_eq!(trees.len() as u64, want["seen"].as_u64().expect("trees") + doubled);
        assert!(looks.iter().all(|l| (l["state"] == "alive") != l["height_cm"].is_empty()));
    }
    assert_eq!(records_in_all, 1000);
}

/// A stand read by the program, at its last walk.
fn read_stand(stand: &str) -> (intake::Reading, Tally) {
    let reading = intake::read(&folder(stand)).expect("a folder that can be read");
    let tally = tally(&reading.block, None).expect("a walk");
    (reading, tally)
}

/// Counts of a level of fert.
fn of_fert(tally: &Tally, level: &str) -> Counts {
    let factor = tally.factors.iter().position(|f| f.name == "fert").expect("a declared factor");
    let code = tally.factors[factor].levels.iter().position(|l| l == level).expect("the level") as u32;
    let mut total = Counts::default();
    tally.cells.iter().filter(|c| c.codes[factor] == code).for_each(|c| total.add(&c.counts));
    total
}

/// Relies on intake setting aside the second of two lines of the register for one place and date, and the second of
/// two lines of a walk that agree on the state and differ in what was measured.
#[test]
fn take_by_fertiliser_is_what_r_finds() {
    let oracle = read("pines_take");
    let stands = ["spacing-10", "spacing-15"].map(|s| read_stand(s).1);
    for (tally, key) in stands.iter().zip(["10", "15"]) {
        let want = &oracle["inputs"]["by_spacing"][key];
        assert_eq!(tally.total.seen, want["seen"].as_u64().expect("trees"), "{key} ft");
        assert_eq!(tally.total.failed, want["failed"].as_u64().expect("failures"), "{key} ft");
    }
    let mut table = Vec::new();
    for (i, level) in ["0", "1"].into_iter().enumerate() {
        let mut total = Counts::default();
        stands.iter().for_each(|t| total.add(&of_fert(t, level)));
        assert_eq!(total.seen, counts(&oracle["inputs"]["counts"]["seen"])[i]);
        assert_eq!(total.failed, counts(&oracle["inputs"]["counts"]["failed"])[i]);
        table.push(vec![total.failed, total.alive()]);
    }
    let fisher = freeman_halton(&table, 0, Seed::new(1));
    close("Fisher's p", fisher.p_value, oracle["expected"]["fisher"]["p"].as_f64().expect("p"), 1e-6, 0.0);
}

/// Each stand was treated in four quarters: its rows' stretches share their label with nearly all the rows beside them, so
/// that they can't be dealt anew one by one, and four quarters can be dealt in too few ways. The run test says so instead of taking
/// a quarter's ground for the fertiliser's doing; what vines by themselves say stands above.
#[test]
fn quarters_are_too_few_to_ask_about_fertiliser_by_stretches() {
    for stand in ["spacing-10", "spacing-15"] {
        let tally = read_stand(stand).1;
        let got = cause(&tally, &Config { permutations: 199, ..Config::default() }, Seed::new(1));
        let answer = got.tests.iter().find(|t| t.about == "fert" && t.answers).expect("a test of fert");
        assert_eq!((answer.unit, answer.held_fixed), ("stretch", "row"), "{stand}");
        let why = answer.p_value.why().expect("no p-value");
        assert!(why.reason.contains("lie in bands across the rows"), "{}", why.reason);
        assert_eq!(answer.p_adjusted.why(), Some(why));
    }
}
