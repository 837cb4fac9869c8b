//! Blocks with known cause: what is drawn is what was asked for.

use fullstand::base::Seed;
use fullstand::block::{Block, Place, Plants, Register, State};
use fullstand::simulate::{
    Cause, Consignment, Dealt, Design, Dialect, Drawn, Effects, Fate, Hollow, Measured, OddStretch, OrderStep, Pool,
    Prior, Scenario, Scene, Simulated, SmoothField, Strength, WalkPlan, cause_name, demo, draw_scenario, draw_scene,
    files, scenario_of, simulate,
};
use jiff::civil::date;

fn register(simulated: &Simulated) -> &Register {
    match &simulated.block.plants {
        Plants::Vines(register) => register,
        Plants::Counts(_) => panic!("a simulated block has vines"),
    }
}

/// A block large enough for its frequencies to be told apart.
fn large() -> Scenario {
    Scenario { rows: 100, places_per_row: 100, ..Scenario::default() }
}

/// (failures, vines) among the vines that `which` picks by index.
fn failures(simulated: &Simulated, which: impl Fn(usize) -> bool) -> (f64, f64) {
    let picked: Vec<bool> =
        (0..simulated.fates.len()).filter(|i| which(*i)).map(|i| simulated.fates[i].is_failed()).collect();
    (picked.iter().filter(|f| **f).count() as f64, picked.len() as f64)
}

fn rate(simulated: &Simulated, which: impl Fn(usize) -> bool) -> f64 {
    let (failed, n) = failures(simulated, which);
    failed / n
}

fn batch(simulated: &Simulated, name: &str) -> impl Fn(usize) -> bool {
    let factor = register(simulated).factor("batch").expect("a batch column");
    let code = factor.levels.iter().position(|l| l == name).expect("the batch") as u32;
    let codes = factor.codes.clone();
    move |i| codes[i] == code
}

/// Log odds ratio of failure, those picked over the others.
fn log_odds_ratio(simulated: &Simulated, which: impl Fn(usize) -> bool) -> f64 {
    let logit = |p: f64| (p / (1.0 - p)).ln();
    logit(rate(simulated, &which)) - logit(rate(simulated, |i| !which(i)))
}

#[test]
fn the_same_seed_gives_the_same_block() {
    let scenario =
        Scenario { walks: vec![WalkPlan { measured: Measured::in_winter(), ..WalkPlan::default() }], ..large() };
    let write = |seed| files(&simulate(&scenario, Seed::new(seed)).block, &Dialect::default());
    assert_eq!(write(7), write(7));
    assert_ne!(write(7), write(8));
}

#[test]
fn failures_come_as_often_as_their_probabilities_say() {
    let effects = Effects {
        row_sd: 0.6,
        field: Some(SmoothField { sd: 1.0, range_m: 20.0 }),
        step: Some(OrderStep { after: 0.5, effect: 1.0 }),
        edge: 0.7,
        ..Effects::default()
    };
    let simulated = simulate(&Scenario { effects, ..large() }, Seed::new(11));
    let p = &simulated.failure_probability;
    for (low, high) in [(0.0, 0.03), (0.03, 0.1), (0.1, 0.3), (0.3, 1.0)] {
        let inside = |i: usize| (low..high).contains(&p[i]);
        let (failed, n) = failures(&simulated, inside);
        let chosen = (0..p.len()).filter(|i| inside(*i));
        let (expected, variance) = chosen.fold((0.0, 0.0), |(e, v), i| (e + p[i], v + p[i] * (1.0 - p[i])));
        assert!(n > 200.0, "{low} to {high}: {n} vines"); // else the check says nothing
        assert!((failed - expected).abs() < 4.0 * f64::sqrt(variance), "{low} to {high}: {failed} of {expected}");
    }
}

#[test]
fn each_effect_shows_with_its_sign_and_size() {
    let bad = simulate(
        &Scenario { deliveries: vec![Consignment::named("A"), Consignment::named("B").with_effect(1.5)], ..large() },
        Seed::new(3),
    );
    let found = log_odds_ratio(&bad, batch(&bad, "B"));
    assert!((found - 1.5).abs() < 0.35, "{found}"); // 4 standard errors

    let rows = Effects { odd_rows: vec![(7, 2.0)], ..Effects::default() };
    let rows = simulate(&Scenario { effects: rows, ..large() }, Seed::new(3));
    assert!(log_odds_ratio(&rows, |i| i / 100 == 7) > 1.0);

    let step = Effects { step: Some(OrderStep { after: 0.3, effect: -2.0 }), ..Effects::default() };
    let step = simulate(&Scenario { effects: step, ..large() }, Seed::new(3));
    let rank = &step.truth.planting_rank;
    assert!(log_odds_ratio(&step, |i| rank[i] >= 3000) < -1.0);

    let edge = Effects { edge: 1.5, ..Effects::default() };
    let edge = simulate(&Scenario { effects: edge, ..large() }, Seed::new(3));
    assert!(log_odds_ratio(&edge, |i| i / 100 == 0 || i % 100 == 99 || i / 100 == 99 || i % 100 == 0) > 0.8);

    let stock =
        |name: &str, rootstock: &str| Consignment { rootstock: Some(rootstock.into()), ..Consignment::named(name) };
    let rootstock = Effects { rootstock: [("SO4".to_string(), 1.5)].into(), ..Effects::default() };
    let deliveries = vec![stock("A", "SO4"), stock("B", "1103P")];
    let rootstock = simulate(&Scenario { effects: rootstock, deliveries, ..large() }, Seed::new(3));
    assert!(log_odds_ratio(&rootstock, batch(&rootstock, "A")) > 1.0);
}

#[test]
fn a_hollow_lies_where_it_was_dug() {
    let hollow = Hollow { across_m: 60.0, along_m: 40.0, radius_m: 8.0, depth: 3.0 };
    let effects = Effects { hollows: vec![hollow], ..Effects::default() };
    let simulated = simulate(&Scenario { effects, ..large() }, Seed::new(5));
    let away = |i: usize| {
        let at = register(&simulated).vines[i].place;
        let (x, y) = simulated.block.layout.metres(at).expect("spacings");
        (x - 60.0).hypot(y - 40.0)
    };
    assert!(rate(&simulated, |i| away(i) < 6.0) > 0.25);
    let far = rate(&simulated, |i| away(i) > 30.0);
    assert!((far - 0.05).abs() < 0.01, "{far}");
}

#[test]
fn a_smooth_field_has_its_spread_and_its_range() {
    let field = SmoothField { sd: 1.3, range_m: 6.0 };
    let effects = Effects { field: Some(field), ..Effects::default() };
    let scenario = Scenario { row_spacing_m: 2.0, vine_spacing_m: 2.0, effects, ..large() };
    let place = simulate(&scenario, Seed::new(9)).truth.place;
    let mean_of = |f: &dyn Fn(usize) -> f64, n: usize| (0..n).map(f).sum::<f64>() / n as f64;
    let variance = mean_of(&|i| place[i] * place[i], 10_000);
    assert!((variance.sqrt() - 1.3).abs() < 0.2, "{variance}");
    let at_range = mean_of(&|i| place[i] * place[i + 300], 9_700) / variance; // three rows on: 6 m
    assert!((at_range - (-0.5f64).exp()).abs() < 0.12, "{at_range}");
}

#[test]
fn deliveries_are_dealt_as_said() {
    let dealt = |dealt| simulate(&Scenario { dealt, ..Scenario::default() }, Seed::new(1));
    let changes = |s: &Simulated| {
        let codes = &register(s).factor("batch").expect("a batch column").codes;
        let mut along: Vec<(u32, u32)> = s.truth.planting_rank.iter().copied().zip(codes.iter().copied()).collect();
        along.sort_unstable();
        along.windows(2).filter(|w| w[0].1 != w[1].1).count()
    };
    for way in [Dealt::WholeRows, Dealt::OneAfterAnother, Dealt::PerVine, Dealt::Interleaved { size: 25 }] {
        let s = dealt(way);
        let sizes = ["A", "B", "C"].map(|b| failures(&s, batch(&s, b)).1);
        assert_eq!(sizes, [360.0, 360.0, 360.0], "{way:?}");
        assert_eq!(s.block.deliveries.iter().map(|d| d.planted).collect::<Vec<_>>(), [Some(360); 3]);
    }
    assert_eq!(changes(&dealt(Dealt::WholeRows)), 2);
    assert_eq!(changes(&dealt(Dealt::OneAfterAnother)), 2);
    assert_eq!(changes(&dealt(Dealt::Interleaved { size: 25 })), 3 * 15 - 1);
    assert!(changes(&dealt(Dealt::Bundles { size: 25 })) > 15);
    assert!(changes(&dealt(Dealt::PerVine)) > 600);
}

#[test]
fn a_walk_sees_what_has_happened_by_then() {
    let early = WalkPlan { date: date(2025, 6, 20), ..WalkPlan::default() };
    let part = WalkPlan { looked_at: 0.3, unsure: 0.1, kind_told: 0.5, ..WalkPlan::default() };
    let scenario = Scenario { base_failure: 0.3, walks: vec![early, part], ..large() };
    let simulated = simulate(&scenario, Seed::new(2));
    let walks = &register(&simulated).walks;
    for look in &walks[0].looks {
        let failed = match simulated.fates[look.vine as usize] {
            Fate::Lives => false,
            Fate::NeverGrew => true,
            Fate::Died(on) | Fate::Gone(on) => on <= look.date,
        };
        assert_eq!(look.state.is_failed(), failed);
    }
    let share = walks[1].looks.len() as f64 / 10_000.0;
    assert!((share - 0.3).abs() < 0.02, "{share}");
    let unsure = walks[1].looks.iter().filter(|l| l.state == State::Unsure).count() as f64;
    assert!((unsure / walks[1].looks.len() as f64 - 0.1).abs() < 0.025);
    assert!(walks[1].looks.iter().any(|l| l.state == State::Dead));
}

#[test]
fn causes_are_named_as_in_the_documents_and_do_what_they_say() {
    assert_eq!(cause_name(&[]), "chance");
    assert_eq!(cause_name(&[Cause::Place, Cause::Batch]), "batch+place");
    assert_eq!(cause_name(&[Cause::Edge, Cause::Order]), "order+edge");
    let prior = Prior::default();
    for causes in [vec![], vec![Cause::Batch], vec![Cause::Row, Cause::Place], vec![Cause::Order], vec![Cause::Edge]] {
        let scenario = scenario_of(&causes, &prior, Seed::new(4));
        let e = &scenario.effects;
        assert_eq!(scenario.deliveries.iter().any(|d| d.effect != 0.0), causes.contains(&Cause::Batch));
        assert_eq!(e.row_sd > 0.0 || !e.odd_rows.is_empty(), causes.contains(&Cause::Row));
        assert_eq!(e.field.is_some() || !e.hollows.is_empty(), causes.contains(&Cause::Place));
        assert_eq!(e.step.is_some() || !e.while_planting.is_empty(), causes.contains(&Cause::Order));
        assert_eq!(e.edge != 0.0, causes.contains(&Cause::Edge));
    }
}

/// Asserts that a share of `n` is the one asked for, within 4 standard errors.
#[track_caller]
fn is_share(hits: usize, n: u64, share: f64) {
    let (n, hits) = (n as f64, hits as f64);
    assert!((hits / n - share).abs() < 4.0 * (share * (1.0 - share) / n).sqrt(), "{hits} of {n}, not {share}");
}

const DRAWS: u64 = 4_000;

fn drawn(prior: &Prior) -> Vec<Drawn> {
    (0..DRAWS).map(|i| draw_scenario(prior, Seed::new(i))).collect()
}

#[test]
fn explanations_are_as_frequent_as_their_weights_say() {
    let weights = Prior::default().weights.over(&Cause::ALL);
    assert_eq!(weights.len(), 1 + 5 + 10);
    assert!((weights.iter().map(|w| w.1).sum::<f64>() - 1.0).abs() < 1e-12);
    let of = |causes: &[Cause]| weights.iter().find(|w| w.0 == causes).expect("one of them").1;
    // By hand: 0.45 + 3 * 0.1 + 0.06 + 0.03 + 0.12.
    let all = 0.96;
    assert!((of(&[]) - 0.45 / all).abs() < 1e-12 && (of(&[Cause::Batch]) - 0.1 / all).abs() < 1e-12);
    // Pairs among the three at 0.1, of each with the order, of each with the edge, of the two.
    let products = 3.0 * 0.01 + 3.0 * 0.006 + 3.0 * 0.003 + 0.0018;
    assert!((of(&[Cause::Batch, Cause::Row]) - 0.12 * 0.01 / products / all).abs() < 1e-12);
    let drawn = drawn(&Prior::default());
    for (causes, weight) in weights {
        is_share(drawn.iter().filter(|d| d.causes == causes).count(), DRAWS, weight);
    }
}

#[test]
fn a_block_without_one_of_them_shares_its_weight_among_the_rest() {
    let weights = Prior::default().weights.over(&[Cause::Row, Cause::Place]);
    let total = 0.45 + 0.2 + 0.12;
    assert!((weights[0].1 - 0.45 / total).abs() < 1e-12);
    assert!((weights[3].1 - 0.12 / total).abs() < 1e-12);
}

/// Of sds exponential with 2 exceeded once in ten, and of stands with 70 % and 99 % at their tenths.
#[test]
fn drawn_effects_follow_the_prior() {
    let spread = Prior { odd_level: 0.0, ..Prior::default() };
    let effects = |causes: &[Cause], prior: &Prior| -> Vec<Scenario> {
        (0..DRAWS).map(|i| scenario_of(causes, prior, Seed::new(i))).collect()
    };
    let rows = effects(&[Cause::Row], &spread);
    is_share(rows.iter().filter(|s| s.effects.row_sd > 2.0).count(), DRAWS, 0.1);
    is_share(rows.iter().filter(|s| s.base_failure > 0.3).count(), DRAWS, 0.1);
    is_share(rows.iter().filter(|s| s.base_failure < 0.01).count(), DRAWS, 0.1);
    let rows = effects(&[Cause::Row], &Prior::default());
    let odd = |s: &Scenario| s.effects.odd_rows.len() + s.effects.odd_stretches.len();
    is_share(rows.iter().filter(|s| odd(s) == 1).count(), DRAWS, 0.25);
    is_share(rows.iter().filter(|s| odd(s) == 2).count(), DRAWS, 0.25);
    // Whole or in part with even odds, a part to either end.
    let single = rows.iter().filter(|s| odd(s) == 1);
    is_share(single.clone().filter(|s| s.effects.odd_rows.len() == 1).count(), DRAWS, 0.125);
    is_share(single.filter(|s| s.effects.odd_stretches.iter().any(|e| e.from > 0)).count(), DRAWS, 0.0625);
    let places = effects(&[Cause::Place], &spread);
    let middle = |s: &&Scenario| {
        let shorter = (f64::from(s.rows) * s.row_spacing_m).min(f64::from(s.places_per_row) * s.vine_spacing_m);
        s.effects.field.is_some_and(|f| f.range_m / shorter < (0.08f64 * 0.4).sqrt())
    };
    is_share(places.iter().filter(middle).count(), DRAWS, 0.5);
}

/// What goes with the planting order follows the batches in 0.8 of the blocks where each was planted in one go.
#[test]
fn the_planting_order_mostly_follows_batches_planted_in_one_go() {
    let own_rows = Design { dealt: vec![Dealt::WholeRows], ..Design::default() };
    let bundles = Design { vines: (1_000, 2_000), dealt: vec![Dealt::Bundles { size: 25 }], ..Design::default() };
    let by_batch = |design: Design| {
        let prior = Prior { design, ..Prior::default() };
        let scenarios = (0..DRAWS).map(|i| scenario_of(&[Cause::Order], &prior, Seed::new(i)));
        scenarios.filter(|s| !s.effects.while_planting.is_empty()).count()
    };
    is_share(by_batch(own_rows), DRAWS, 0.8);
    assert_eq!(by_batch(bundles), 0);
}

#[test]
fn plantings_are_of_the_size_asked_for() {
    for drawn in drawn(&Prior::default()) {
        let (s, vines) = (&drawn.scenario, drawn.scenario.places());
        assert!((150..=2_100).contains(&vines), "{} x {}", s.rows, s.places_per_row);
        assert!(s.rows as usize >= 2 * s.deliveries.len());
        let one_go = drawn.in_one_go;
        assert!(one_go || matches!(s.dealt, Dealt::Bundles { .. }));
    }
}

/// Whatever is drawn, every batch has vines, so that the levels drawn from are those recorded.
#[test]
fn every_delivery_drawn_is_planted() {
    for i in 0..300 {
        let drawn = draw_scenario(&Prior::default(), Seed::new(i));
        let block = simulate(&drawn.scenario, Seed::new(i)).block;
        assert!(block.deliveries.iter().all(|d| d.planted > Some(0)), "{i}");
    }
}

#[test]
fn scenes_are_what_their_names_say() {
    for scene in Scene::ALL {
        for (i, strength) in (0..20).zip(Strength::BOTH.into_iter().cycle()) {
            let drawn = draw_scene(scene, strength, (200, 10_000), Seed::new(i));
            let (s, e) = (&drawn.scenario, &drawn.scenario.effects);
            assert!((150..=10_500).contains(&s.places()) && (0.02..=0.1).contains(&s.base_failure));
            let bad: Vec<f64> = s.deliveries.iter().map(|d| d.effect).filter(|d| *d != 0.0).collect();
            let rows = e.odd_rows.iter().map(|r| r.1).chain(e.odd_stretches.iter().map(|r| r.effect));
            let places = e.hollows.iter().map(|h| h.depth).chain(e.pools.iter().map(|p| p.depth));
            let (low, high) = if strength == Strength::Strong { (2.2, 3.4) } else { (0.6, 1.4) };
            let all: Vec<f64> = bad.iter().copied().chain(rows).chain(places).collect();
            assert!(all.iter().all(|d| (low..=high).contains(d)), "{scene:?} {all:?}");
            assert_eq!(bad.len(), usize::from(drawn.causes.contains(&Cause::Batch)), "{scene:?}");
            let in_own_rows = matches!(scene, Scene::BatchInOwnRows | Scene::HollowInOwnRows);
            assert!(!in_own_rows || drawn.in_one_go);
            assert_eq!(all.is_empty(), scene == Scene::Chance);
        }
    }
}

#[test]
fn pools_and_blocked_ends_have_edges() {
    let pool = Pool { across_m: 60.0, along_m: 40.0, radius_m: 8.0, depth: 2.0 };
    let end = OddStretch { row: 7, from: 60, to: 100, effect: 1.5 };
    let effects = Effects { pools: vec![pool], odd_stretches: vec![end], ..Effects::default() };
    let simulated = simulate(&Scenario { effects, ..large() }, Seed::new(5));
    let logit = |i: usize| (simulated.failure_probability[i] / (1.0 - simulated.failure_probability[i])).ln();
    let base = (0.05f64 / 0.95).ln();
    for i in 0..10_000 {
        let at = register(&simulated).vines[i].place;
        let (x, y) = simulated.block.layout.metres(at).expect("spacings");
        let in_pool = if (x - 60.0).powi(2) + (y - 40.0).powi(2) <= 64.0 { 2.0 } else { 0.0 };
        let in_end = if at.row == 7 && at.position > 60 { 1.5 } else { 0.0 };
        assert!((logit(i) - base - in_pool - in_end).abs() < 1e-9, "{at:?}");
    }
}

#[test]
fn files_are_short_where_vines_are_alike() {
    let scenario = Scenario { deliveries: vec![Consignment::named("A")], base_failure: 0.02, ..Scenario::default() };
    let simulated = simulate(&scenario, Seed::new(6));
    let files = files(&simulated.block, &Dialect::continental());
    assert_eq!(files["vines.csv"].lines().count(), 1 + 24);
    assert_eq!(files["vines.csv"].lines().nth(1), Some("1;1-45;Furmint;A"));
    let surveys = &files["surveys.csv"];
    assert_eq!(surveys.lines().filter(|l| l.contains(";rest;14.01.2026;alive")).count(), 24);
    assert!(surveys.lines().count() <= 1 + 24 + simulated.fates.iter().filter(|f| f.is_failed()).count());
}

#[test]
fn nothing_asked_for_gives_an_empty_block_not_a_panic() {
    let scenario = Scenario { rows: 0, deliveries: Vec::new(), walks: Vec::new(), ..Scenario::default() };
    assert!(simulate(&scenario, Seed::new(1)).failure_probability.is_empty());
    let odd = Scenario { deliveries: Vec::new(), base_failure: f64::NAN, ..Scenario::default() };
    assert!(simulate(&odd, Seed::new(1)).failure_probability.iter().all(|p| (0.0..=1.0).contains(p)));
}

#[test]
fn the_demo_is_the_block_that_was_planned() {
    let simulated = fullstand::simulate::demo::simulated();
    let register = register(&simulated);
    assert_eq!(register.vines.len(), 24 * 45);
    assert_eq!(register.vines.last().map(|v| v.place), Some(Place { row: 23, position: 45 }));
    assert_eq!(register.factor("batch").expect("batches").levels, ["P1", "Q1", "T1"]);
    assert_eq!(register.factor("rootstock").expect("stocks").levels.len(), 2);
    assert_eq!(register.walks.len(), 2);
    let stand = |name| 1.0 - rate(&simulated, batch(&simulated, name));
    for good in ["P1", "T1"] {
        assert!((0.95..0.985).contains(&stand(good)), "{good}: {}", stand(good));
    }
    assert!((0.76..0.84).contains(&stand("Q1")), "{}", stand("Q1"));
}

/// Batches are dealt so that they can be told apart from rows, in part: several rows hold two of them.
#[test]
fn rows_of_the_demo_hold_more_than_one_batch() {
    let simulated = fullstand::simulate::demo::simulated();
    let codes = &register(&simulated).factor("batch").expect("batches").codes;
    let mixed = codes.chunks(45).filter(|row| row.iter().any(|c| c != &row[0])).count();
    assert!((6..=18).contains(&mixed), "{mixed}");
}

#[test]
fn the_demo_folder_holds_what_its_readme_names() {
    let demo = demo();
    assert_eq!(demo, fullstand::simulate::demo());
    let names: Vec<&str> = demo.files.keys().map(String::as_str).collect();
    assert_eq!(names, ["README.txt", "batches.csv", "block.toml", "diary.csv", "surveys.csv", "vines.csv"]);
    assert!(demo.files["surveys.csv"].contains(",5;")); // decimal commas
    let settings: toml::Table = demo.files["block.toml"].parse().expect("well-formed");
    assert_eq!(settings["materials"].as_table().expect("materials").len(), 3);
    assert!(
        names
            .iter()
            .filter(|n| **n != "block.toml")
            .all(|n| demo.files["README.txt"].contains(n) || *n == "README.txt")
    );
}

/// A million vines are drawn in about a second by an optimised build; this one is allowed ten times that.
#[test]
fn a_million_vines_take_seconds() {
    let scenario = Scenario { rows: 1000, places_per_row: 1000, ..Scenario::default() };
    let began = std::time::Instant::now();
    let simulated = simulate(&scenario, Seed::new(1));
    assert_eq!(simulated.fates.len(), 1_000_000);
    let took = began.elapsed();
    println!("a million vines: {took:?}");
    assert!(took.as_secs() < 10, "{took:?}");
}

/// What a reader of its files must find again of a block; the numbers of lines are theirs, not the block's.
fn recorded(block: &Block) -> String {
    let mut block = block.clone();
    if let Plants::Vines(register) = &mut block.plants {
        register.vines.iter_mut().for_each(|v| v.line = 0);
        register.walks.iter_mut().flat_map(|w| &mut w.looks).for_each(|l| l.line = 0);
    }
    format!("{block:#?}")
}

fn written_and_read(block: &Block, dialect: &Dialect) -> Block {
    let folder = tempfile::tempdir().expect("a folder");
    for (name, text) in files(block, dialect) {
        std::fs::write(folder.path().join(name), text).expect("written");
    }
    let reading = fullstand::intake::read(folder.path()).expect("read");
    assert_eq!(reading.check.findings, []);
    reading.block
}

#[test]
fn a_block_comes_back_from_its_files() {
    let walks = vec![
        WalkPlan { label: Some("summer".into()), date: date(2025, 7, 1), ..WalkPlan::default() },
        WalkPlan { looked_at: 0.6, unsure: 0.05, days: 3, ..WalkPlan::default() },
        WalkPlan { date: date(2026, 3, 1), measured: Measured::in_winter(), ..WalkPlan::default() },
    ];
    let scenario =
        Scenario { walks, planting_days: 4, tracks: vec![(3, 5.5)], base_failure: 0.2, ..Scenario::default() };
    let block = simulate(&scenario, Seed::new(21)).block;
    for dialect in [Dialect::default(), Dialect::continental()] {
        assert_eq!(recorded(&written_and_read(&block, &dialect)), recorded(&block));
    }
}

/// The demo's block.toml uses most of what block.toml can say: read, written by the program and read again, it is the
/// same block.
#[test]
fn the_demo_is_read_as_planned_and_comes_back() {
    let folder = tempfile::tempdir().expect("a folder");
    for (name, text) in demo().files {
        std::fs::write(folder.path().join(name), text).expect("written");
    }
    let reading = fullstand::intake::read(folder.path()).expect("read");
    let surveys = reading.check.files.iter().find(|f| f.file == "surveys.csv").expect("the walks");
    assert_eq!(surveys.set_aside, 4, "a height, a position past the end, two lines that disagree");
    let planned = fullstand::simulate::demo::simulated().block;
    assert_eq!(format!("{:?}", reading.block.layout), format!("{:?}", planned.layout));
    assert_eq!(reading.block.materials.len(), 3);
    assert_eq!(recorded(&written_and_read(&reading.block, &Dialect::default())), recorded(&reading.block));
}

/// The tally of a block that was looked at wholly counts its failures, batch by batch.
#[test]
fn the_tally_counts_what_was_drawn() {
    let scenario = Scenario { base_failure: 0.2, ..Scenario::default() };
    let simulated = simulate(&scenario, Seed::new(8));
    let tally = fullstand::tally::tally(&simulated.block, None).expect("a walk");
    let drawn = failures(&simulated, |_| true);
    assert_eq!((tally.total.failed as f64, tally.total.seen as f64), drawn);
    let gone = simulated.fates.iter().filter(|f| matches!(f, Fate::Gone(_))).count();
    assert_eq!(tally.total.missing as usize, gone);
    let never = simulated.fates.iter().filter(|f| **f == Fate::NeverGrew).count();
    assert_eq!(tally.total.never_grew as usize, never);
}
