//! The report on a block made by hand: six rows of twelve vines through the public results.
//!
//! Every number here is invented for the fixture; none is computed, so that these tests stand on the report alone.

use fullstand::base::{Assumptions, Estimate, Finding, Known, Quantity, Seed};
use fullstand::block::{Block, Goal, Hemisphere, Layout, Limits, Place, Plants, Register, RowLayout, State};
use fullstand::cause::signature::{
    Cause as Reason, Feature, FindingThere, Kind, KindTest, Kinds, LevelKinds, LookAt, Signature, Statement,
};
use fullstand::cause::unsettled::{JustAsWell, Settle, Unsettled};
use fullstand::cause::{Cause, Separable, Test};
use fullstand::intake::{Check, FileCount, SetAside};
use fullstand::options::{Options, Outlook, Refused, Spread, SwitchPoint, VinesNeeded, Year, YearSpread};
use fullstand::order::{IfOrdered, Order, Orders, Stand};
use fullstand::rates::{self, ByRow, Comparison, FactorRates, FactorTests, LevelByRow, LevelRates, Rates};
use fullstand::report::advice::advice;
use fullstand::report::labels::assumption;
use fullstand::report::part::{Part, Section, Table};
use fullstand::report::sections::{SECTIONS, sections};
use fullstand::report::{assumptions_text, check_text, html, screen, text};
use fullstand::stats::variance_score::VarianceScore;
use fullstand::study::{Settings, Study};
use fullstand::tally::{Counts, Field, PlaceNow, Standing, Tally};
use fullstand::triage::{Action, RowWork, Triage, Work};
use jiff::civil::{Date, date};
use std::collections::BTreeMap;

const ROWS: [&str; 6] = ["1", "2", "2A", "3", "4", "5"];
const PLACES: u32 = 12;
const WALKED: Date = date(2025, 11, 14);

fn study() -> Study {
    Study {
        settings: Settings { seed: Seed::new(7), level: 0.9, draws: 2_000, ..Settings::default() },
        block: block(),
        check: check(),
        set_aside: vec![SetAside {
            code: "unlikely_height",
            file: "surveys.csv".into(),
            line: 41,
            reason: "a height of 1850 cm is above 500".into(),
            hint: "185 was meant?".into(),
            cells: vec!["3".into(), "7".into()],
        }],
        tally: tally(),
        rates: rates(),
        cause: cause(),
        triage: triage(),
        options: Ok(options()),
        orders: Some(orders()),
    }
}

fn block() -> Block {
    let mut assumptions = Assumptions::default();
    assumptions.set("labour.price_per_hour", Quantity::certain(23.5)).expect("a known assumption");
    let row = |label: &&str| RowLayout { label: (*label).into(), places: PLACES, ..RowLayout::default() };
    let mut rows: Vec<RowLayout> = ROWS.iter().map(row).collect();
    rows[3].gap_before_m = Some(5.0);
    rows[5].offset_m = 2.2;
    rows[1].no_vine = vec![6];
    let layout = Layout { row_spacing_m: Some(2.4), vine_spacing_m: Some(1.1), rows, ..Layout::default() };
    Block {
        name: "Lower Quarrel".into(),
        currency: "EUR".into(),
        planted_on: Some(date(2025, 5, 6)),
        hemisphere: Hemisphere::North,
        layout,
        plants: Plants::Vines(Register::default()),
        deliveries: Vec::new(),
        diary: Vec::new(),
        terms: BTreeMap::new(),
        materials: Vec::new(),
        courses: Vec::new(),
        goal: Goal::PresentValue,
        limits: Limits::default(),
        assumptions,
    }
}

fn check() -> Check {
    Check {
        files: vec![
            FileCount { file: "vines.csv".into(), lines: 71, used: 71, set_aside: 0, blank: 0 },
            FileCount { file: "surveys.csv".into(), lines: 64, used: 61, set_aside: 1, blank: 2 },
        ],
        findings: vec![Finding {
            code: "alive_after_dead",
            file: "surveys.csv".into(),
            line: 12,
            message: "row 2 position 3 is alive here and was dead on 2025-07-02".into(),
            hint: "late buds do push; nothing to do".into(),
        }],
        vines: 71,
        places: 71,
        walks: 2,
    }
}

fn tally() -> Tally {
    Tally {
        walk: Some((date(2025, 11, 12), WALKED)),
        factors: Vec::new(),
        cells: Vec::new(),
        total: Counts { planted: 71, seen: 68, failed: 14, missing: 2, unsure: 2, ..Counts::default() },
        field: Some(Field {
            places: places(),
            points: Vec::new(),
            lines: Vec::new(),
            runs: Vec::new(),
            runs_within_rows: true,
            walk: None,
        }),
        outcomes: Vec::new(),
    }
}

fn all_places() -> impl Iterator<Item = Place> {
    let in_row = |row: u32| (1..=PLACES).map(move |position| Place { row, position });
    (0..ROWS.len() as u32).flat_map(in_row).filter(|p| (p.row, p.position) != (1, 6))
}

fn standing(place: Place) -> Standing {
    match (place.row, place.position) {
        (2, 4..=7) | (3, 5 | 6) => Standing::Failed(State::NoBudburst),
        (3, 8 | 9) | (0, 2) => Standing::Failed(State::Died),
        (4, 1) => Standing::Failed(State::Dead),
        (4, 6 | 7) => Standing::Failed(State::ScionDead),
        (5, 3 | 12) => Standing::Failed(State::Missing),
        (0, 11) | (1, 9) => Standing::Unsure,
        (5, 8) => Standing::NotSeen,
        _ => Standing::Alive,
    }
}

fn places() -> Vec<PlaceNow> {
    all_places().map(|place| PlaceNow { place, vine: None, standing: standing(place), look: None }).collect()
}

fn estimate(value: f64, low: f64, high: f64) -> Known<Estimate> {
    Known::Value(Estimate { value, low, high, method: "clopper_pearson" })
}

fn level(level: &str, seen: u64, failed: u64, raw: [f64; 3], pooled: Option<[f64; 3]>) -> LevelRates {
    LevelRates {
        level: level.into(),
        seen,
        failed,
        missing: 0,
        never_grew: failed / 2,
        raw: estimate(raw[0], raw[1], raw[2]).into(),
        score: estimate(raw[0], raw[1], raw[2]).into(),
        pooled: match pooled {
            Some([value, low, high]) => {
                rates::Stand::Told(Estimate { value, low, high, method: "mixed_model_posterior" })
            }
            None => Known::absent("only one level has been seen", "a second delivery").into(),
        },
        separable: Known::Value(0.42),
        confounded_with: Vec::new(),
        probability_best: Known::absent("this part of the program is not built yet", "a later version of the program"),
        by_row: Known::Value(LevelByRow {
            odds_ratio: Known::Value(0.2),
            low: Known::Value(0.1),
            high: Known::Value(0.7),
            p_value: Known::Value(0.01),
            p_exact: Known::Value(0.02),
            informative_rows: 6,
            unit: "vine",
        }),
    }
}

fn factor(name: &str, levels: Vec<LevelRates>, p: f64) -> FactorRates {
    let later = || Known::absent("this part of the program is not built yet", "a later version of the program");
    FactorRates {
        factor: name.into(),
        levels,
        tests: FactorTests {
            p_value: Known::Value(p),
            p_method: Known::Value("planted_runs"),
            p_unit: Known::Value("planted run".into()),
            p_monte_carlo_error: Known::Value(0.0),
            p_value_vines: Known::Value(p),
            p_method_vines: Known::Value("freeman_halton_exact"),
            p_monte_carlo_error_vines: Known::Value(0.0),
            variance_test: Known::Value(VarianceScore {
                statistic: 1.5,
                p_value: p,
                monte_carlo_error: 0.001,
                draws: 999,
            }),
            by_row: Known::Value(ByRow { statistic: 8.1, df: 1.0, p_value: p, unit: "vine" }),
        },
        sd: later(),
        share_of_variance: later(),
    }
}

fn rates() -> Rates {
    let later = "this part of the program is not built yet";
    let help = "a later version of the program";
    let batches = vec![
        level("Grün früh", 34, 2, [0.941, 0.828, 0.990], Some([0.925, 0.835, 0.975])),
        level("Grün spät", 34, 12, [0.647, 0.492, 0.782], Some([0.676, 0.535, 0.800])),
    ];
    let row = |l: &&str| level(l, 12, 2, [0.833, 0.562, 0.970], None);
    Rates {
        vines: 71,
        seen: 68,
        failed: 14,
        missing: 2,
        unsure: 2,
        set_aside: 1,
        stand: estimate(0.794_1, 0.696_8, 0.871_6),
        factors: vec![factor("batch", batches, 0.004_3), factor("row", ROWS.iter().map(row).collect(), 0.31)],
        trends: Vec::new(),
        told_apart: Default::default(),
        contrasts: Vec::new(),
        contrasts_not_told: Vec::new(),
        fit: Known::absent(later, help),
        take: Vec::new(),
        draws: None,
        rootstock: Known::Value(rootstocks()),
        clone: Known::absent("fewer than two levels of clone are known", "a second one"),
        power: Known::absent("how many vines and batches tell two stands apart wasn't asked", "ask with --power 0.05"),
        vigour: Known::absent(later, help),
        survival: Known::absent("one walk tells no time of dying", "a walk six weeks after planting"),
        sources: vec!["clopper-pearson-1934", "freeman-halton-1951"],
    }
}

fn rootstocks() -> Comparison {
    Comparison {
        factor: "rootstock".into(),
        levels: Vec::new(),
        adjusted_for: vec!["batch".into()],
        same_as: Vec::new(),
        pairs: Known::Value(Vec::new()),
        could_have_shown: Known::absent("each came in one batch", "a second batch of each"),
        sentences: vec!["SO4 stands highest.".into(), "This block could have shown 12 points.".into()],
    }
}

fn cause() -> Cause {
    let test = |name: &str, question: &str, statistic: f64, expected: f64, p: f64, held_fixed| Test {
        name: name.into(),
        title: name.replace('_', " "),
        question: question.into(),
        about: "clustering".into(),
        answers: held_fixed == "nothing",
        unit: "vine",
        held_fixed,
        statistic,
        expected,
        p_value: Known::Value(p),
        mid_p: Known::Value(p),
        p_adjusted: Known::Value(p),
        p_equal: 0.0,
        monte_carlo_error: Known::Value(0.001),
        method: "permutation",
        arrangements: 4_999,
    };
    let later = "this part of the program is not built yet";
    Cause {
        seen: 68,
        failed: 14,
        verdict: Known::absent(
            "the model that weighs the explanations is not built yet",
            "a later version of the program",
        ),
        cannot_tell_between: vec!["batch".into(), "place".into()],
        explanations: Vec::new(),
        verdict_moves: Vec::new(),
        tied: Vec::new(),
        associated: Known::absent(later, "a later version of the program"),
        place_effect: Known::absent(later, "a later version of the program"),
        resolution: Known::absent(later, "a later version of the program"),
        patches: Known::absent(later, "a later version of the program"),
        tests: vec![
            test(
                "joins_along_rows",
                "Do failures stand next to each other along the rows?",
                7.0,
                2.53,
                0.0004,
                "nothing",
            ),
            test("joins_within_batch", "Do they still, within one batch?", 6.0, 4.41, 0.21, "batch"),
        ],
        separable: vec![Separable {
            factor: "batch".into(),
            level: "Grün spät".into(),
            from: "row".into(),
            efficiency: 0.38,
        }],
        unsettled: vec![unsettled()],
        kinds: kinds(),
        signatures: vec![
            signature(Reason::UnionFailure, "a union that didn't take", Feature::FollowsBatch),
            signature(Reason::Waterlogging, "standing water", Feature::InPatches),
        ],
        look_at: vec![look_at()],
        sources: vec!["cliff-ord-1981", "phipson-smyth-2010", "clopper-pearson-1934"],
    }
}

fn unsettled() -> Unsettled {
    let tie = |explanation: &str, with: &str| JustAsWell {
        explanation: explanation.into(),
        with: with.into(),
        sentence: String::new(),
    };
    Unsettled {
        factor: "batch".into(),
        level: "Grün spät".into(),
        seen: 30,
        failed: 10,
        just_as_well: vec![tie("row", "rows 3 and 4"), tie("order", "the planting order")],
        excess_failures: Known::Value(7.4),
        share_low: Known::Value(0.0),
        share_high: Known::Value(1.0),
        comparable: Known::absent("no row holds both", "two batches in each row"),
        settle: vec![Settle {
            what: "dig",
            how: "Dig on both sides of the boundary".into(),
            rows: vec!["3".into()],
            places: vec![("3".into(), 2), ("3".into(), 7), ("4".into(), 1)],
        }],
        said: "batch Grün spät: 10 of 30 vines failed, about 7 more than at the rate of the others.".into(),
    }
}

fn kinds() -> Kinds {
    let test = KindTest {
        about: "batch",
        question: "Do they differ between batches?".into(),
        unit: "planted run".into(),
        held_fixed: "nothing",
        statistic: 9.12,
        expected: 2.31,
        p_value: Known::Value(0.012),
        p_adjusted: Known::Value(0.04),
        monte_carlo_error: Known::Value(0.001),
        method: "permutation",
    };
    let kind = |vines, at_most, tests| Kind { vines, at_most, tests };
    let level = LevelKinds {
        factor: "batch".into(),
        level: "Grün spät".into(),
        seen: 30,
        never_grew: 6,
        died_later: 2,
        dead: 1,
        scion_dead: 1,
        missing: 0,
    };
    Kinds {
        told: 67,
        never_grew: kind(7, 9, vec![test]),
        died_later: kind(4, 6, Vec::new()),
        missing: kind(1, 1, Vec::new()),
        dead: 1,
        scion_dead: 1,
        levels: vec![level],
    }
}

fn signature(cause: Reason, title: &'static str, feature: Feature) -> Signature {
    let statement = |said: &str, source| Statement { feature, said: said.into(), source };
    Signature {
        cause,
        title,
        says: "Leaves this behind.",
        consistent_with: vec![statement("failures differ (p = 0.01)", "from memory")],
        speaks_against: Vec::new(),
        not_looked_at: vec![statement("the union: tested on none", "halleen-2003")],
        in_play: true,
        sources: vec!["from memory", "halleen-2003"],
    }
}

fn look_at() -> LookAt {
    let finding = |found, cause| FindingThere { found, speaks_for: vec![cause] };
    LookAt {
        check: "thumb",
        how: "Push the scion sideways",
        tells_apart: vec![Reason::UnionFailure, Reason::Waterlogging],
        findings: vec![finding("it opens", Reason::UnionFailure), finding("it holds", Reason::Waterlogging)],
        places: vec![("3".into(), 2), ("3".into(), 7)],
        compare_with: vec![("3".into(), 3), ("3".into(), 8)],
        vines: 13,
        weight: 13.0,
        caution: "Test a few first.",
        source: "from memory",
    }
}

fn action(place: Place) -> (Action, &'static str) {
    match standing(place) {
        Standing::Failed(State::NoBudburst) => (Action::Hold, "failed, and its batch is under claim"),
        Standing::Failed(_) => (Action::Replace, "failed"),
        Standing::Unsure | Standing::NotSeen => (Action::LookAgain, "not told at the walk"),
        _ if place.position.is_multiple_of(5) => (Action::CutBack, "62 cm, below the wire at 85 cm"),
        _ if place.position > 8 => (Action::TakeUp, "at the wire and 9 mm thick there"),
        _ => (Action::Leave, "trained already"),
    }
}

fn triage() -> Triage {
    let vines: Vec<Work> = all_places()
        .map(|place| {
            let (action, why) = action(place);
            let row = ROWS[place.row as usize].to_string();
            Work { row, position: place.position, action, rule: "fixture", why: why.into(), place, batch: None }
        })
        .collect();
    let totals = |keep: &dyn Fn(&Work) -> bool| -> BTreeMap<Action, u64> {
        Action::ALL.iter().map(|a| (*a, vines.iter().filter(|w| w.action == *a && keep(w)).count() as u64)).collect()
    };
    let row = |label: &&str| RowWork {
        row: (*label).into(),
        places: if *label == "2" { 11 } else { 12 },
        empty: 0,
        totals: totals(&|w| w.row == **label),
    };
    Triage {
        totals: totals(&|_| true),
        rows: ROWS.iter().map(row).collect(),
        labour_hours: 2.35,
        materials: BTreeMap::from([("vines", 8), ("guards", 8), ("ties", 17)]),
        vines: Known::Value(vines),
        sources: Vec::new(),
    }
}

fn outlook(name: &str, what: &str, value: [f64; 3], best: f64, full: u32, ramp: [f64; 6]) -> Outlook {
    let year = |(i, share): (usize, &f64)| Year {
        year: i as u32,
        harvest: Known::Value(2025 + i as i16),
        cost: if i == 0 { 412.6 } else { 85.2 },
        income: Known::Value(share * 240.0),
        crop_kg: Known::Value(share * 170.0),
        crop_share: *share,
    };
    let reached = |n: u32| if n <= 6 { Known::Value(n) } else { Known::absent("not reached", "a longer horizon") };
    Outlook {
        name: name.into(),
        origin: "standard",
        what: what.into(),
        present_value: Known::Value(Spread { mean: value[1] - 4.0, p10: value[0], p50: value[1], p90: value[2] }),
        cash_low_point: Known::Value(-1_310.4),
        first_crop_year: Known::Value(YearSpread {
            p10: reached(2),
            p50: reached(2),
            p90: reached(3),
            probability_within_horizon: 1.0,
        }),
        full_crop_year: Known::Value(YearSpread {
            p10: reached(full - 1),
            p50: reached(full),
            p90: reached(full + 1),
            probability_within_horizon: 0.97,
        }),
        probability_best: Known::Value(best),
        labour_hours: 12.4,
        evenness: vec![0.8; 6],
        yearly: [0.0].iter().chain(&ramp).enumerate().map(year).collect(),
        vines_needed: vec![VinesNeeded { material: "same again".into(), places: 14, among_older: 14 }],
        breaks: Vec::new(),
    }
}

fn options() -> Options {
    let mut again = outlook(
        "Start the block again",
        "clear the block and plant it anew",
        [-2_900.0, -2_250.0, -1_700.0],
        0.004,
        7,
        [0.0, 0.0, 0.37, 0.69, 0.92, 0.92],
    );
    again.breaks = vec!["the balance falls to 2900 below nothing, the limit is 2000".into()];
    Options {
        options: vec![
            outlook(
                "Leave the gaps",
                "train the living, plant nothing",
                [-480.0, -210.0, 60.0],
                0.24,
                7,
                [0.0, 0.31, 0.58, 0.78, 0.78, 0.77],
            ),
            outlook(
                "Replant the gaps with the same material",
                "a new vine of the same material on every place whose vine failed",
                [-390.0, -95.0, 215.0],
                0.756,
                5,
                [0.0, 0.31, 0.58, 0.86, 0.93, 0.97],
            ),
            again,
        ],
        goal: "present_value",
        recommended: Known::Value("Replant the gaps with the same material".into()),
        why: "its present value is highest in most of the futures drawn".into(),
        switch_points: vec![SwitchPoint {
            assumption: "labour.replant_minutes".into(),
            value_now: 6.0,
            value_at_switch: 14.2,
            to_option: "Leave the gaps".into(),
        }],
        drivers: Vec::new(),
        value_of_information: Known::absent(
            "this part of the program is not built yet",
            "a later version of the program",
        ),
        assumptions: Vec::new(),
        sources: Vec::new(),
    }
}

fn orders() -> Orders {
    let chances = [
        (0, 0.0),
        (12, 0.0),
        (14, 0.09),
        (15, 0.31),
        (16, 0.58),
        (18, 0.86),
        (20, 0.957),
        (25, 0.999_4),
        (30, 0.999_99),
    ];
    Orders {
        option: Known::Value("Replant the gaps with the same material".into()),
        orders: vec![Order {
            material: "same again".into(),
            needed: 14,
            sure: 0.9,
            order: Known::Value(25),
            bundle: 25,
            expected_stand: 0.874,
            stand: Stand { p10: 0.79, p50: 0.882, p90: 0.943 },
            probability_enough: Known::Value(0.999_4),
            order_by: Known::Value(date(2026, 2, 1)),
            price: Known::Value(72.5),
            if_ordered: chances.map(|(order, probability_enough)| IfOrdered { order, probability_enough }).to_vec(),
        }],
        sources: vec!["prentice-1986"],
    }
}

/// A study in which every name that a user can give tries to break out of the page.
fn hostile() -> Study {
    let bad = "<script>alert(\"x\")</script> & 'y' \u{1b}[31m";
    let mut study = study();
    study.block.name = bad.into();
    study.block.currency = "<b>".into();
    study.block.layout.rows[0].label = bad.into();
    study.rates.factors[0].factor = bad.into();
    study.rates.factors[0].levels[0].level = bad.into();
    study.cause.cannot_tell_between = vec![bad.into()];
    study.cause.tests[0].question = bad.into();
    study.check.files[0].file = bad.into();
    study.check.findings[0].message = bad.into();
    study.set_aside[0].reason = bad.into();
    if let Known::Value(work) = &mut study.triage.vines {
        work[1].row = bad.into();
        work[1].why = bad.into();
    }
    study.triage.rows[0].row = bad.into();
    if let Ok(options) = &mut study.options {
        options.options[1].name = bad.into();
        options.options[1].what = bad.into();
        options.recommended = Known::Value(bad.into());
        options.why = bad.into();
    }
    if let Some(orders) = &mut study.orders {
        orders.orders[0].material = bad.into();
    }
    study
}

/// A folder with counts only: no map, no order, options refused.
fn bare() -> Study {
    let mut study = study();
    let absent = || Known::<()>::absent("the vines were counted per row", "a register vine by vine");
    let Known::Absent(why) = absent() else { unreachable!("made absent above") };
    study.tally.field = None;
    study.tally.walk = None;
    study.triage.vines = Known::Absent(why.clone());
    study.triage.totals = Action::ALL.iter().map(|a| (*a, 0)).collect();
    study.rates.factors.clear();
    study.rates.stand = Known::Absent(why);
    study.rates.sources.clear();
    study.cause.tests.clear();
    study.cause.sources.clear();
    study.check = Check::default();
    study.set_aside.clear();
    study.options = Err(Refused {
        option: "Plant in March".into(),
        problem: "the material can't be had before November 2026".into(),
        way_out: "set winter = 1".into(),
    });
    study.orders = None;
    study
}

fn ids(page: &str) -> Vec<&str> {
    page.split(" id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect()
}

#[track_caller]
fn all_different(mut names: Vec<&str>) {
    names.sort_unstable();
    let twice: Vec<_> = names.windows(2).filter(|w| w[0] == w[1]).map(|w| w[0]).collect();
    assert!(twice.is_empty(), "twice: {twice:?}");
}

#[test]
fn the_screen_reads_as_it_should() {
    insta::assert_snapshot!("screen", screen(&study(), 80));
    insta::assert_snapshot!("screen_narrow", screen(&study(), 44));
    insta::assert_snapshot!("screen_bare", screen(&bare(), 80));
}

#[test]
fn no_line_of_the_screen_is_wider_than_asked() {
    for width in [40, 60, 80, 100] {
        for line in screen(&study(), width).lines() {
            assert!(line.chars().count() <= width, "{width}: {line}");
        }
    }
    assert!(screen(&study(), 80).lines().count() <= 36);
}

#[test]
fn the_sections_read_as_they_should() {
    // The table of assumptions grows with every room; its marks have a test of their own.
    let all: String =
        sections(&study()).iter().filter(|s| s.id != "assumptions").map(|s| text::section(s, 96) + "\n").collect();
    insta::assert_snapshot!("sections", all);
}

#[test]
fn a_command_prints_its_sections_under_the_block() {
    let printed = text(&study(), &["pattern", "order", "no such section"], 80);
    assert!(printed.starts_with("Lower Quarrel · Walked 12 to 14"), "{printed}");
    assert!(printed.contains("Is there a pattern?") && printed.contains("How many vines to order"));
    assert!(!printed.contains("Work list by row"));
    for asked in ["read", "rates", "pattern", "work", "options", "order", "assumptions"] {
        assert!(SECTIONS.iter().any(|s| s.id == asked), "the command line asks for {asked}");
    }
    let assumed = assumptions_text(&study().block.assumptions, 100);
    assert!(
        assumed.contains("● price of an hour's work")
            && assumed.contains("labour.price_per_hour")
            && assumed.contains("triage.trunk_diameter_mm"),
        "{assumed}"
    );
    insta::assert_snapshot!("check", check_text("Lower Quarrel", &study().check, 90));
}

/// The first words of the advice where the options are best with these probabilities, the recommended one second.
fn lead(chances: [Option<f64>; 3]) -> String {
    let mut study = study();
    for (outlook, p) in study.options.as_mut().unwrap().options.iter_mut().zip(chances) {
        outlook.probability_best = Known::from_option(p, "nothing was drawn", "--draws 2000");
    }
    advice(&study).what.remove(0)
}

#[test]
fn the_lead_carries_its_doubt() {
    let clear = lead([Some(0.2), Some(0.7), Some(0.1)]);
    assert_eq!(clear, "Replant the gaps with the same material.");
    let narrow = lead([Some(0.35), Some(0.4), Some(0.25)]);
    assert!(narrow.ends_with(", by a narrow margin over “Leave the gaps”."), "{narrow}");
    let behind = lead([Some(0.5), Some(0.4), Some(0.1)]);
    assert!(behind.ends_with("“Leave the gaps” is best in more of the futures drawn."), "{behind}");
    let tied = lead([Some(0.361), Some(0.359), Some(0.28)]);
    assert!(tied.contains("narrow margin over"), "what reads alike is no lead: {tied}");
    assert!(lead([None; 3]).ends_with(", by expected values alone."));
}

#[test]
fn a_block_without_gaps_is_not_told_to_leave_them() {
    let mut study = study();
    study.triage.totals.insert(Action::Replace, 0);
    study.triage.totals.insert(Action::Hold, 0);
    study.orders.as_mut().unwrap().orders.clear();
    let said = advice(&study);
    assert_eq!(said.what[0], "No gaps to fill.");
    assert!(!said.sure.iter().any(|s| s.contains("best option")), "{:?}", said.sure);
}

#[test]
fn assumptions_and_materials_have_plain_names() {
    let table = Assumptions::default();
    assert_eq!(assumption("labour.replant_minutes", &table), "time to replant a gap");
    assert_eq!(assumption("materials.\"A \".x\".price_per_kg", &table), "price of the crop of “A \".x”");
    assert_eq!(assumption("no.such", &table), "no.such");
}

#[test]
fn every_section_has_an_anchor_and_a_title_of_its_own() {
    all_different(SECTIONS.iter().map(|s| s.id).collect());
    all_different(SECTIONS.iter().map(|s| s.title).collect());
    let built: Vec<_> = sections(&study()).iter().map(|s| s.id).collect();
    assert_eq!(built, SECTIONS.iter().map(|s| s.id).collect::<Vec<_>>());
}

#[test]
fn a_section_with_nothing_to_say_is_left_out() {
    let built: Vec<_> = sections(&bare()).iter().map(|s| s.id).collect();
    for gone in ["rates", "years", "order", "read", "sources"] {
        assert!(!built.contains(&gone), "{gone} in {built:?}");
    }
    for kept in ["what-to-do", "block", "limits", "cautions"] {
        assert!(built.contains(&kept), "{kept} not in {built:?}");
    }
    let page = html(&[bare()]);
    assert!(!page.contains("id=\"order\"") && page.contains("id=\"limits\""));
}

#[test]
fn hostile_names_stay_text() {
    let page = html(&[hostile()]);
    assert!(!page.contains("<script") && !page.contains("<b>alert"), "a name broke out of the page");
    assert!(!page.contains("<b></b>") && !page.contains("0\u{a0}<b>"), "the currency broke out of the page");
    assert!(page.matches("&lt;script&gt;").count() > 20);
    let svgs: String = page.split("<svg").skip(1).filter_map(|s| s.split("</svg>").next()).collect();
    assert!(svgs.contains("&lt;script&gt;"), "the pictures name rows and levels too");
    assert!(!screen(&hostile(), 80).contains('\u{1b}'), "a name steers the terminal");
}

#[test]
fn the_page_stands_alone() {
    for page in [html(&[study()]), html(&[hostile()]), html(&[study(), bare()])] {
        for outside in
            ["http:", "https:", "src=", "url(", "@import", "<script", "<iframe", "<object", "<link rel=\"style"]
        {
            assert!(!page.contains(outside), "the page names something outside itself: {outside}");
        }
        let links = page.split("href=\"").skip(1).filter_map(|r| r.split('"').next());
        for link in links.filter(|l| *l != "data:,") {
            let id = link.strip_prefix('#').unwrap_or_else(|| panic!("a link out of the page: {link}"));
            assert!(ids(&page).contains(&id), "no {id}");
        }
        assert!(page.contains("Content-Security-Policy") && page.contains("default-src 'none'"));
    }
}

#[test]
fn every_id_of_a_page_is_used_once() {
    all_different(ids(&html(&[study()])));
    let estate = html(&[study(), study(), bare()]);
    all_different(ids(&estate));
    assert!(estate.contains("id=\"b1-what-to-do\"") && estate.contains("id=\"b2-map-states\""));
}

#[test]
fn every_picture_says_what_it_shows() {
    let page = html(&[study()]);
    let pictures = page.matches("<svg role=\"img\"").count();
    assert!(pictures >= 7, "{pictures} pictures");
    assert_eq!(pictures, page.matches("<title>").count() - 1); // the page's own title
    assert_eq!(pictures, page.matches("<desc>").count());
    assert_eq!(page.matches("<svg ").count() - pictures, page.matches("<svg aria-hidden").count());
}

#[test]
fn the_map_has_a_sign_for_every_place() {
    let page = html(&[study()]);
    let map = page.split("id=\"map-states\"").nth(1).and_then(|m| m.split("</figure>").next()).expect("the map");
    let counts = map.split("<b>").skip(1).filter_map(|c| c.split('<').next()?.parse::<usize>().ok());
    assert_eq!(counts.sum::<usize>(), places().len());
    // Round dots end in "h0": one for every vine alive.
    let alive = places().iter().filter(|p| p.standing == Standing::Alive).count();
    let drawing = map.split("</svg>").next().expect("the drawing");
    assert_eq!(drawing.matches("h0").count(), alive);
}

#[test]
fn absences_are_said_once_with_their_remedy() {
    let built = sections(&study());
    let limits = built.iter().find(|s| s.id == "limits").expect("limits");
    let said = text::section(limits, 2_000);
    assert_eq!(said.matches("a walk six weeks after planting").count(), 1, "{said}");
    assert!(said.contains("Survival"), "{said}");
    assert!(!said.contains("rates."), "a path instead of words: {said}");
}

#[test]
fn an_overridden_assumption_is_marked_and_shown_first() {
    let built = sections(&study());
    let section: &Section = built.iter().find(|s| s.id == "assumptions").expect("assumptions");
    let first = section.parts.iter().find_map(|p| match p {
        Part::Table(t) => Some(t),
        _ => None,
    });
    let Table { rows, keys, .. } = first.expect("the table of overrides");
    assert_eq!((rows.len(), keys.as_slice()), (1, ["labour.price_per_hour".to_string()].as_slice()));
    assert!(rows[0][0].starts_with("● price of an hour"), "{rows:?}");
}
