//! What can be told apart: reference answers on simulated blocks, hand-worked blocks, properties.

use crate::oracle::{close, numbers, read};
use fullstand::base::seed::below;
use fullstand::base::{Header, Seed, document};
use fullstand::block::UNKNOWN;
use fullstand::intake;
use fullstand::rates::{AliasedLevel, Config, FactorRates, LevelRates, Rates, Relations, rates};
use fullstand::stats::deviance_split::deviance_split;
use fullstand::stats::estimable::{Alias, Span};
use fullstand::stats::glm;
use fullstand::tally::{Cell, CellTable, Counts, Tally, TallyFactor};
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// A tally of vines given by their labels, levels in order of appearance; an empty label is none.
fn tally_of(names: &[&str], vines: &[(Vec<String>, Counts)]) -> Tally {
    let mut levels: Vec<Vec<String>> = vec![Vec::new(); names.len()];
    let mut table = CellTable::default();
    for (labels, counts) in vines {
        let code = |(label, levels): (&String, &mut Vec<String>)| match label.as_str() {
            "" => UNKNOWN,
            _ => levels.iter().position(|l| l == label).unwrap_or_else(|| {
                levels.push(label.clone());
                levels.len() - 1
            }) as u32,
        };
        let codes: Vec<u32> = labels.iter().zip(&mut levels).map(code).collect();
        table.add(&codes, counts);
    }
    let (cells, total) = table.finish();
    let factor = |(name, levels): (&&str, Vec<String>)| TallyFactor {
        name: name.to_string(),
        definite: levels.iter().map(|l| !l.contains('|')).collect(),
        levels,
    };
    let factors = names.iter().zip(levels).map(factor).collect();
    Tally { walk: None, factors, cells, total, field: None, outcomes: Vec::new() }
}

fn seen(seen: u64, failed: u64) -> Counts {
    Counts { planted: seen, seen, failed, died: failed, ..Counts::default() }
}

/// Groups of vines written as `"1 A x": seen, failed`, one label a factor, `-` for none.
fn groups(names: &[&str], groups: &[(&str, u64, u64)]) -> Tally {
    let labels = |text: &str| text.split(' ').map(|label| label.replace('-', "")).collect();
    let vines: Vec<_> = groups.iter().map(|&(text, n, failed)| (labels(text), seen(n, failed))).collect();
    tally_of(names, &vines)
}

fn run(tally: &Tally) -> Rates {
    rates(tally, 0, &Config { simulations: 99, ..Config::default() }, Seed::new(1))
}

fn factor<'a>(rates: &'a Rates, name: &str) -> &'a FactorRates {
    rates.factors.iter().find(|f| f.factor == name).expect("the factor")
}

fn level<'a>(rates: &'a Rates, name: &str, level: &str) -> &'a LevelRates {
    factor(rates, name).levels.iter().find(|l| l.level == level).expect("the level")
}

fn separable(rates: &Rates, name: &str, of: &str) -> f64 {
    *level(rates, name, of).separable.value().expect("separable")
}

fn relations<'a>(rates: &'a Rates, name: &str) -> &'a Relations {
    rates.told_apart.factors.iter().find(|f| f.factor == name).expect("the factor")
}

fn components(rates: &Rates, name: &str, with: &str) -> usize {
    relations(rates, name).components_with.iter().find(|j| j.factor == with).expect("the other").components
}

/// A simulated block of 24 rows by 30 vines with its truth (tests/oracles).
struct Simulated {
    data: Value,
    expected: Value,
}

impl Simulated {
    fn read(design: &str) -> Self {
        let oracle = read(&format!("vineyard_sim_{design}"));
        Simulated { data: oracle["inputs"]["data"].clone(), expected: oracle["expected"].clone() }
    }

    fn labels(&self, name: &str) -> Vec<String> {
        let text = |v: &Value| v.as_str().map_or_else(|| v.to_string(), str::to_owned);
        self.data[name].as_array().expect("a column").iter().map(text).collect()
    }

    /// Codes in the reference's order of levels, which all four columns appear in sorted.
    fn codes(&self, name: &str) -> (Vec<String>, Vec<u32>) {
        let labels = self.labels(name);
        let mut levels = labels.clone();
        levels.sort_by_key(|l| (l.len(), l.clone()));
        levels.dedup();
        let code = |label: &String| levels.iter().position(|l| l == label).expect("a level") as u32;
        let codes = labels.iter().map(code).collect();
        (levels, codes)
    }

    fn failed(&self) -> Vec<u64> {
        numbers(&self.data["y"]).iter().map(|y| *y as u64).collect()
    }

    fn tally(&self) -> Tally {
        let names = ["clone", "batch", "row", "crew"];
        let columns: Vec<Vec<String>> = names.iter().map(|name| self.labels(name)).collect();
        let vine = |(i, &y): (usize, &u64)| (columns.iter().map(|c| c[i].clone()).collect(), seen(1, y));
        tally_of(&names, &self.failed().iter().enumerate().map(vine).collect::<Vec<_>>())
    }
}

fn listed(value: &Value) -> Vec<Value> {
    value.as_array().cloned().unwrap_or_else(|| vec![value.clone()])
}

/// The alias's times for each column of a treatment-coded design: the first factor's first level is the constant.
fn by_column(alias: &Alias, names: &[&str], levels: &[Vec<String>]) -> BTreeMap<String, f64> {
    let of = |factor: usize, code: u32| alias.equals.iter().find(|t| (t.factor, t.code) == (factor, code));
    let constant = of(0, 0).map_or(0.0, |t| t.times);
    let mut columns = BTreeMap::from([("(Intercept)".to_string(), constant)]);
    for (factor, levels) in levels.iter().enumerate() {
        for (code, level) in levels.iter().enumerate().skip(1) {
            let times = of(factor, code as u32).map_or(0.0, |t| t.times);
            let times = if factor == 0 { times - constant } else { times };
            columns.insert(format!("{}{level}", names[factor]), times);
        }
    }
    columns
}

#[track_caller]
fn alias_table_is(block: &Simulated, names: &[&str], want: &Value) {
    let (levels, codes): (Vec<_>, Vec<_>) = names.iter().map(|name| block.codes(name)).unzip();
    let codes: Vec<&[u32]> = codes.iter().map(Vec::as_slice).collect();
    let span = Span::new(&codes, &[1.0; 720]);
    assert_eq!(
        (span.columns() as u64, span.rank() as u64),
        (want["ncol"].as_u64().unwrap(), want["rank"].as_u64().unwrap())
    );
    let name = |alias: &Alias| format!("{}{}", names[alias.factor], levels[alias.factor][alias.code as usize]);
    let aliased: Vec<String> = span.aliased().iter().map(name).collect();
    let wanted: Vec<String> = listed(&want["aliased_columns"]).iter().map(|c| c.as_str().unwrap().into()).collect();
    assert_eq!(aliased, wanted);
    for (alias, row) in span.aliased().iter().zip(listed(&want["alias_matrix"]["values"])) {
        let got = by_column(alias, names, &levels);
        for (column, want) in listed(&want["alias_matrix"]["cols"]).iter().zip(numbers(&row)) {
            close("alias", got[column.as_str().expect("a name")], want, 0.0, 1e-9);
        }
    }
}

/// R 4.2.2 `alias(glm)`, by way of tests/oracles: rank, aliased columns and what they equal.
#[test]
fn ranks_and_aliases_are_the_references() {
    for design in ["connected", "aliased"] {
        let block = Simulated::read(design);
        alias_table_is(&block, &["clone", "batch", "crew"], &block.expected["alias_batch_clone_crew"]);
        alias_table_is(&block, &["row", "batch"], &block.expected["alias_row_batch"]);
    }
}

/// R 4.2.2 `glm` deviances of batch, row and both; the document says the same.
#[test]
fn the_split_of_deviance_is_the_references() {
    for design in ["connected", "aliased"] {
        let block = Simulated::read(design);
        let want = &read(&format!("restricted_perm_{design}"))["expected"]["deviance_split_batch_row"];
        let number = |name: &str| want[name].as_f64().expect("a number");
        let rank = |at: usize| want["models"][at]["rank"].as_u64().expect("a rank") as usize;
        let ((_, batch), (_, row)) = (block.codes("batch"), block.codes("row"));
        let split = deviance_split(&batch, &row, &block.failed(), &[1; 720]).expect("vines");
        // The reference's fits stop at 1e-8 of the deviance.
        let tolerance = 1e-6 * number("null");
        close("batch | row", split.unique, number("unique_first_given_second"), 0.0, tolerance);
        close("row | batch", split.other_unique, number("unique_second_given_first"), 0.0, tolerance);
        close("common", split.common, number("common"), 0.0, tolerance);
        assert_eq!((split.unique_df, split.other_unique_df), (rank(2) - rank(1), rank(2) - rank(0)));
        let told = run(&block.tally()).told_apart;
        let said = told.deviance_split.iter().find(|s| (s.factor.as_str(), s.other.as_str()) == ("batch", "row"));
        let said = said.expect("the pair");
        close("document", said.unique, split.unique, 0.0, 1e-7);
        close("document", said.common, split.common, 0.0, 1e-7);
    }
}

#[test]
fn the_aliased_block_says_what_goes_with_what() {
    let result = run(&Simulated::read("aliased").tally());
    // Clone = batches A and B, C and D; crew x = A, y = B and C, z = D: no batch can be told from clone and crew.
    for (batch, with) in
        [("A", "crew x"), ("B", "clone c1 less crew x"), ("C", "clone c2 less crew z"), ("D", "crew z")]
    {
        let of = level(&result, "batch", batch);
        assert_eq!(of.separable.value(), Some(&0.0));
        assert_eq!(of.confounded_with.iter().map(|c| c.with.as_str()).collect::<Vec<_>>(), [with]);
    }
    let b = &level(&result, "batch", "B").confounded_with[0];
    assert_eq!(b.sentence, "batch B can't be told from clone c1 less crew x taken together");
    assert_eq!(b.would_help, "batch B with another crew or clone, or another batch with the same");
    assert_eq!(b.equals.iter().map(|t| t.times).collect::<Vec<_>>(), [-1.0, 1.0]);
    let a = &level(&result, "batch", "A").confounded_with[0];
    assert_eq!(a.sentence, "batch A and crew x are the same vines");
    let batch = relations(&result, "batch");
    assert_eq!((batch.levels, &batch.nested_in), (4, &vec!["clone".to_string(), "crew".to_string()]));
    assert_eq!(batch.error_stratum.value().map(String::as_str), Some("row"));
    assert_eq!(relations(&result, "row").nested_in, ["clone", "batch", "crew"]);
    assert!(relations(&result, "row").error_stratum.why().is_some());
    assert_eq!((result.told_apart.columns, result.told_apart.rank), (1 + 1 + 3 + 23 + 2, 24));
    // Rows lie within clones, batches and crews, and take no part in their separability: nothing hides crews.
    assert!(separable(&result, "crew", "y") > 0.9);
    let notes: Vec<&str> = result.told_apart.notes.iter().map(|note| note.reason.as_str()).collect();
    assert!(notes.contains(
        &"every row holds one batch only, so a difference between batches rests on 24 rows and may come from these"
    ));
}

#[test]
fn the_connected_block_is_told_apart() {
    let result = run(&Simulated::read("connected").tally());
    assert_eq!((components(&result, "batch", "row"), components(&result, "row", "crew")), (1, 3));
    for batch in ["A", "B", "C", "D"] {
        let of = level(&result, "batch", batch);
        assert!(of.separable.value().is_some_and(|s| *s > 0.3) && of.confounded_with.is_empty(), "{of:?}");
    }
    assert_eq!(relations(&result, "clone").error_stratum.value().map(String::as_str), Some("batch"));
    assert_eq!(relations(&result, "crew").error_stratum.value().map(String::as_str), Some("row"));
    assert!(relations(&result, "batch").error_stratum.why().is_some());
    // Crews are whole rows and clones whole batches: two crews and one clone are sums of others.
    assert_eq!(result.told_apart.columns - result.told_apart.rank, 3);
    let clone = result.told_apart.aliased.iter().find(|a| a.factor == "clone").expect("the clone");
    let equals: Vec<_> =
        clone.equals.iter().filter(|t| t.factor == "batch").map(|t| (t.level.as_str(), t.times)).collect();
    assert!(!equals.is_empty() && clone.level == "c2", "{clone:?}");
}

/// Batch B fills rows 7 to 12 and nothing else does; the other rows hold A and C.
fn whole_rows(failed: u64, missed: u64) -> Tally {
    let mut vines = Vec::new();
    for row in 1..=20 {
        let labels = |batch: &str| vec![batch.to_string(), row.to_string()];
        match row {
            7..=12 => vines.push((labels("B"), seen(30, failed))),
            _ => vines.extend([(labels("A"), seen(17, 1)), (labels("C"), seen(13, 2))]),
        }
    }
    let unseen = Counts { planted: missed, ..Counts::default() };
    vines.push((vec!["B".into(), "3".into()], unseen));
    // Natural order of rows.
    tally_of(&["batch", "row"], &vines)
}

#[test]
fn a_batch_that_is_a_set_of_rows_says_which_and_what_would_untie_it() {
    let result = run(&whole_rows(6, 0));
    let b = level(&result, "batch", "B");
    assert_eq!(b.separable.value(), Some(&0.0));
    let [tie] = b.confounded_with.as_slice() else { panic!("{b:?}") };
    assert_eq!(tie.with, "rows 7 to 12");
    assert_eq!(tie.equals.len(), 6);
    assert_eq!(tie.sentence, "batch B stands only in rows 7 to 12, and nothing else stands there");
    assert_eq!(
        tie.would_help,
        "another batch in rows 7 to 12, where 36 failed vines leave room for it, or batch B in rows 6 and 13 as well"
    );
    assert!(separable(&result, "batch", "A") > 0.5 && level(&result, "batch", "A").confounded_with.is_empty());
    assert!(separable(&result, "row", "7") > 0.0);
    let aliased = &result.told_apart.aliased;
    let rows: Vec<_> = (7..=12).map(|row| ("row".to_string(), row.to_string(), 1.0)).collect();
    let terms =
        |a: &AliasedLevel| a.equals.iter().map(|t| (t.factor.clone(), t.level.clone(), t.times)).collect::<Vec<_>>();
    let [one] = aliased.as_slice() else { panic!("{aliased:?}") };
    assert_eq!((one.factor.as_str(), one.level.as_str(), terms(one)), ("batch", "B", rows));
    // Without a failure there is no room; with vines not looked at elsewhere a walk is enough.
    let full = run(&whole_rows(0, 0));
    let would_help = |r: &Rates| level(r, "batch", "B").confounded_with[0].would_help.clone();
    assert_eq!(would_help(&full), "another batch in rows 7 to 12, or batch B in rows 6 and 13 as well");
    let missed = run(&whole_rows(0, 9));
    assert!(
        would_help(&missed).starts_with(
            "a look at 9 vines not seen in this walk, of batch B elsewhere or of another batch there; also another"
        ),
        "{}",
        would_help(&missed)
    );
    // A single vine of it seen elsewhere unties it.
    let mut tied = whole_rows(6, 9);
    let cell = tied.cells.iter_mut().find(|c| c.counts.seen == 0).expect("the vines not seen");
    cell.counts.seen = 1;
    tied.total.seen += 1;
    let b = run(&tied);
    assert!(separable(&b, "batch", "B") > 0.0 && level(&b, "batch", "B").confounded_with.is_empty());
}

/// Batches A and B share rows 1 and 2, C and D rows 3 and 4.
#[test]
fn two_halves_without_a_common_row_are_two_groups() {
    let halves = [("A 1", 20, 2), ("B 1", 20, 4), ("A 2", 20, 1), ("B 2", 20, 3)];
    let others = [("C 3", 20, 8), ("D 3", 20, 5), ("C 4", 20, 9), ("D 4", 20, 7)];
    let result = run(&groups(&["batch", "row"], &[halves, others].concat()));
    assert_eq!(components(&result, "batch", "row"), 2);
    assert_eq!((result.told_apart.columns, result.told_apart.rank), (7, 6));
    // Each batch can be told from the other one of its half.
    assert!(["A", "B", "C", "D"].iter().all(|b| separable(&result, "batch", b) > 0.5));
    let [note] = result.told_apart.notes.as_slice() else { panic!("{:?}", result.told_apart.notes) };
    assert_eq!(
        note.reason,
        "batches and rows fall into 2 groups without a vine in common, and batches of different groups can't be \
         compared: batches A and B and batches C and D"
    );
    assert_eq!(note.would_help, "batches of one group among the rows of another");
    // One vine of B among C and D joins them; one without a label doesn't.
    let with = |more| run(&groups(&["batch", "row"], &[&halves[..], &others[..], &[more]].concat()));
    assert_eq!(components(&with(("B 4", 1, 0)), "batch", "row"), 1);
    assert_eq!(components(&with(("- 4", 1, 0)), "batch", "row"), 2);
}

/// Batches hold one clone each, in rows shared by all.
#[test]
fn a_clone_over_batches_has_them_as_error_stratum() {
    let cells = [
        ("c1 A 1", 20, 2),
        ("c1 B 1", 20, 4),
        ("c2 C 1", 20, 5),
        ("c1 A 2", 9, 1),
        ("c1 B 2", 20, 3),
        ("c2 C 2", 9, 2),
    ];
    let result = run(&groups(&["clone", "batch", "row"], &cells));
    let stratum = |name: &str| relations(&result, name).error_stratum.value().cloned();
    assert_eq!((stratum("clone"), stratum("batch"), stratum("row")), (Some("batch".into()), None, None));
    assert_eq!(relations(&result, "batch").nested_in, ["clone"]);
    // Batches lie within clones, so clones stand beside rows only; C is all of clone c2 and can't be told from it.
    assert!(separable(&result, "clone", "c2") > 0.9);
    let tie = &level(&result, "batch", "C").confounded_with[0];
    assert_eq!((tie.with.as_str(), tie.sentence.as_str()), ("clone c2", "batch C and clone c2 are the same vines"));
    assert_eq!(tie.would_help, "another batch of clone c2, as when the 7 failed vines are replaced");
    let [alias] = result.told_apart.aliased.as_slice() else { panic!("{:?}", result.told_apart.aliased) };
    let equals: Vec<_> = alias.equals.iter().map(|t| (t.factor.as_str(), t.level.as_str(), t.times)).collect();
    assert_eq!((alias.level.as_str(), equals), ("c2", vec![("batch", "C", 1.0)]));
    // "A|C" is one of two batches: it breaks no nesting.
    let vague =
        run(&groups(&["clone", "batch", "row"], &[&cells[..], &[("c1 A|C 1", 3, 1), ("c2 A|C 1", 3, 1)]].concat()));
    assert_eq!(relations(&vague, "batch").nested_in, ["clone"]);
}

#[test]
fn factors_that_divide_alike_say_so() {
    let result = run(&groups(&["clone", "rootstock"], &[("c1 S", 30, 4), ("c2 T", 20, 5), ("c3 U", 9, 1)]));
    assert_eq!(relations(&result, "clone").same_as, ["rootstock"]);
    assert!(
        relations(&result, "clone").nested_in.is_empty() && relations(&result, "clone").error_stratum.why().is_some()
    );
    assert_eq!(
        result.told_apart.notes[0].reason,
        "clone and rootstock divide the vines alike, so nothing tells one from the other"
    );
    let split = &result.told_apart.deviance_split[0];
    assert_eq!((split.unique, split.other_unique, split.unique_df), (0.0, 0.0, 0));
}

/// A real plantation (notebooks-data/pines): rows crossed with fertiliser; against the dense regression.
#[test]
fn pines_have_the_rank_that_the_dense_design_has() {
    for stand in ["spacing-10", "spacing-15"] {
        let folder: PathBuf = [env!("CARGO_MANIFEST_DIR"), "notebooks-data", "pines", stand].iter().collect();
        let reading = intake::read(&folder).expect("a folder that can be read");
        let tally = fullstand::tally::tally(&reading.block, None).expect("a walk");
        let result = run(&tally);
        assert_eq!((result.told_apart.columns, result.told_apart.rank), dense(&tally), "{stand}");
        let header = Header { block: stand.into(), surveyed_on: None, seed: Seed::new(1), level: 0.9 };
        let doc = document(&header, &result);
        let factors = doc["told_apart"]["factors"].as_array().expect("factors");
        assert!(factors.iter().any(|f| f["factor"] == "row") && factors.iter().any(|f| f["factor"] == "fert"));
    }
}

/// Columns and rank of the dense design of all factors, unlabelled vines a level of their own.
fn dense(tally: &Tally) -> (usize, usize) {
    let cells: Vec<_> = tally.cells.iter().filter(|c| c.counts.seen > 0).collect();
    let column = |factor: usize| {
        let mut levels: Vec<u32> = cells.iter().map(|c| c.codes[factor]).collect();
        levels.sort_unstable();
        levels.dedup();
        let code = |c: &&Cell| levels.binary_search(&c.codes[factor]).expect("a level") as u32;
        (cells.iter().map(code).collect(), levels.len() as u32)
    };
    let columns: Vec<(Vec<u32>, u32)> = (0..tally.factors.len()).map(column).collect();
    let factors: Vec<glm::Factor> =
        columns.iter().map(|(codes, levels)| glm::Factor { codes, levels: *levels }).collect();
    let design = glm::Design::treatment(cells.len(), &factors);
    let count = |of: fn(&Counts) -> u64| cells.iter().map(|c| of(&c.counts)).collect::<Vec<_>>();
    let fit = glm::logistic_regression(&design, &count(|c| c.failed), &count(|c| c.seen), &glm::Config::default());
    (fit.columns.len(), fit.rank)
}

/// Random sparse designs of three factors, many of them in pieces, their labels given in two ways.
fn random_design(trial: u64, labels: usize) -> Tally {
    let (mut stream, sizes) = (Seed::new(7).stream("designs", trial), [9, 6, 4]);
    let cells: Vec<[usize; 3]> = (0..14).map(|_| sizes.map(|n| below(&mut stream, n))).collect();
    let vine = |cell: &[usize; 3]| {
        let label = |(l, n): (&usize, usize)| ((l * 5 + labels) % n + labels * 10).to_string();
        (cell.iter().zip(sizes).map(label).collect(), seen(3 + cell[0] as u64, cell[1].min(2) as u64))
    };
    tally_of(&["a", "b", "c"], &cells.iter().map(vine).collect::<Vec<_>>())
}

/// Ranks agree with the dense factorisation, and every alias is the sum it says.
#[test]
fn ranks_and_aliases_of_random_designs_hold() {
    for trial in 0..200 {
        let tally = random_design(trial, 0);
        let code = |factor: usize| tally.cells.iter().map(|c| c.codes[factor]).collect::<Vec<u32>>();
        let codes = [code(0), code(1), code(2)];
        let weights: Vec<f64> = tally.cells.iter().map(|c| c.counts.seen as f64).collect();
        let span = Span::new(&codes.each_ref().map(Vec::as_slice), &weights);
        assert_eq!((span.columns(), span.rank()), dense(&tally), "trial {trial}");
        for alias in span.aliased() {
            for (cell, _) in weights.iter().enumerate() {
                let is = |factor: usize, code: u32| f64::from(u8::from(codes[factor][cell] == code));
                let sum: f64 = alias.equals.iter().map(|t| t.times * is(t.factor, t.code)).sum();
                close("alias", sum, is(alias.factor, alias.code), 0.0, 1e-9);
            }
        }
    }
}

#[test]
fn labels_dont_matter() {
    for trial in 0..3 {
        let values = |labels: usize| {
            let result = run(&random_design(trial, labels));
            let levels = result.factors.iter().flat_map(|f| &f.levels);
            let mut values: Vec<f64> = levels.map(|l| *l.separable.value().unwrap_or(&-1.0)).collect();
            values.sort_by(f64::total_cmp);
            (values, result.told_apart.rank)
        };
        let ((first, rank), (second, same)) = (values(0), values(1));
        assert_eq!(rank, same);
        first.iter().zip(second).for_each(|(a, b)| close("separable", *a, b, 0.0, 1e-9));
    }
}

/// Ten thousand rows, 400 batches dealt out in turns, clones over batches: rank in closed form.
#[test]
fn ten_thousand_rows_have_the_rank_of_their_graph() {
    let cells: Vec<(u32, u32)> =
        (0..10_000).flat_map(|row| (0..4).map(move |k| (row, (row / 25 + k * 7) % 400))).collect();
    let (row, batch): (Vec<u32>, Vec<u32>) = cells.into_iter().unzip();
    let clone: Vec<u32> = batch.iter().map(|b| b % 8).collect();
    let span = Span::new(&[&row, &batch, &clone], &vec![25.0; row.len()]);
    assert_eq!((span.columns(), span.rank()), (1 + 9_999 + 399 + 7, 10_000 + 399));
    assert!(span.aliased().iter().all(|a| a.factor == 2));
}
