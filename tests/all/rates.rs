//! Rates of hand-built tallies, what a new batch may do, and orders.

use crate::counted::{counted as tally, counts};
use crate::oracle::close;
use fullstand::base::{Estimate, Header, Known, Quantity, Seed, document};
use fullstand::block::{Block, CountSheet, Goal, Hemisphere, Layout, Limits, Material, Plants, StandFrom, UNKNOWN};
use fullstand::options::{Options, Outlook, VinesNeeded};
use fullstand::order::order;
use fullstand::rates::{Config, FactorRates, LevelRates, NewBatch, Rates, Stand, new_batch, rates};
use fullstand::tally::{Counts, Tally};

/// Three batches, one of them poor, beside unlabelled vines and some of one of two batches.
fn three_batches() -> Tally {
    tally(
        &[("batch", &["L1", "L1|L3", "L2", "L3"])],
        &[
            (&[0], counts(500, 20)),
            (&[1], counts(30, 6)),
            (&[2], counts(400, 24)),
            (&[3], counts(90, 30)),
            (&[UNKNOWN], counts(10, 9)),
        ],
    )
}

fn run(tally: &Tally) -> Rates {
    rates(tally, 0, &Config::default(), Seed::new(1))
}

fn level<'a>(factor: &'a FactorRates, name: &str) -> &'a LevelRates {
    factor.levels.iter().find(|l| l.level == name).unwrap()
}

fn value<T: Clone>(known: &Known<T>) -> T {
    known.value().cloned().unwrap()
}

fn stand(stand: &Stand) -> Estimate {
    stand.value().cloned().unwrap()
}

#[test]
fn raw_rates_stand_for_every_level_and_pooling_only_for_the_definite() {
    let result = run(&three_batches());
    assert_eq!((result.vines, result.seen, result.failed), (1_030, 1_030, 89));
    let batch = &result.factors[0];
    let names: Vec<&str> = batch.levels.iter().map(|l| l.level.as_str()).collect();
    assert_eq!(names, ["", "L1", "L1|L3", "L2", "L3"]);
    let raw = stand(&level(batch, "L3").raw);
    assert_eq!(raw.method, "clopper_pearson");
    close("raw", raw.value, 60.0 / 90.0, 1e-12, 0.0);
    assert_eq!(stand(&level(batch, "").raw).value, 0.1);
    assert!(level(batch, "").pooled.why().unwrap().reason.contains("no label for batch"));
    assert!(level(batch, "L1|L3").probability_best.why().unwrap().reason.contains("L1|L3"));
    assert!(value(&batch.tests.p_value_vines) < 1e-8);
}

#[test]
fn pooled_rates_lie_between_the_raw_ones_and_the_whole() {
    let batch = &run(&three_batches()).factors[0];
    let (best, poor) = (stand(&level(batch, "L1").pooled), stand(&level(batch, "L3").pooled));
    assert!(best.value < 0.96 && best.value > 0.94, "{best:?}");
    assert!(poor.value > 60.0 / 90.0 && poor.value < 0.72, "{poor:?}");
    assert!(poor.low < poor.value && poor.value < poor.high);
    let sum: f64 = batch.levels.iter().filter_map(|l| l.probability_best.value()).sum();
    close("probabilities", sum, 1.0, 1e-12, 0.0);
    assert!(value(&level(batch, "L1").probability_best) > 0.85);
    assert!(value(&level(batch, "L3").probability_best) < 1e-6);
    let (sd, share) = (value(&batch.sd), value(&batch.share_of_variance));
    close("share", share, sd * sd / (sd * sd + std::f64::consts::PI.powi(2) / 3.0), 1e-12, 0.0);
    assert!(sd > 0.3 && sd < 3.0, "{sd}");
}

#[test]
fn levels_that_differ_by_chance_only_have_little_spread() {
    let cells: Vec<(Vec<u32>, Counts)> = (0..12).map(|i| (vec![i], counts(400, 38 + u64::from(i % 3)))).collect();
    let names: Vec<String> = (0..12).map(|i| format!("C{i}")).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let cells: Vec<(&[u32], Counts)> = cells.iter().map(|(codes, c)| (codes.as_slice(), *c)).collect();
    let factor = &run(&tally(&[("crew", &names)], &cells)).factors[0];
    assert!(value(&factor.tests.p_value_vines) > 0.99);
    assert!(value(&factor.sd) < 0.15 && value(&factor.share_of_variance) < 0.01);
}

#[test]
fn one_level_has_nothing_to_be_compared_with() {
    let result = run(&tally(&[("clone", &["C2", "C9"])], &[(&[0], counts(45, 3)), (&[1], counts(0, 0))]));
    let clone = &result.factors[0];
    assert!(clone.tests.p_value.why().unwrap().reason.contains("fewer than two levels of clone"));
    assert!(clone.sd.value().is_none() && clone.tests.p_method.value().is_none());
    assert!(level(clone, "C2").pooled.value().is_none() && level(clone, "C2").separable.value().is_none());
    assert!(level(clone, "C9").raw.why().unwrap().reason.contains("looked at"));
    let nothing = run(&tally::<&[u32]>(&[], &[]));
    assert!(nothing.stand.value().is_none() && nothing.factors.is_empty());
}

/// By hand: rows 1 and 2 of 10 vines each hold batches a, b as (10, 0) and (5, 5).
#[test]
fn separable_by_hand() {
    let t = tally(
        &[("batch", &["a", "b"]), ("row", &["1", "2"])],
        &[(&[0, 0], counts(10, 1)), (&[0, 1], counts(5, 1)), (&[1, 1], counts(5, 1))],
    );
    let result = run(&t);
    // b: 5 of 20; about the mean 20 * 1/4 * 3/4 = 3.75; within rows 10 * 1/2 * 1/2 = 2.5.
    close("b", value(&level(&result.factors[0], "b").separable), 2.5 / 3.75, 1e-9, 0.0);
    // Row 2: 10 of 20; about the mean 5; within batches 15 * 1/3 * 2/3 = 10/3.
    close("row 2", value(&level(&result.factors[1], "2").separable), (10.0 / 3.0) / 5.0, 1e-9, 0.0);
}

#[test]
fn nested_factors_are_not_projected_off() {
    // Each row holds one batch: row is nested within batch, batch isn't within row.
    let t = tally(
        &[("batch", &["a", "b"]), ("row", &["1", "2", "3", "4"])],
        &[(&[0, 0], counts(10, 1)), (&[0, 1], counts(10, 1)), (&[1, 2], counts(10, 1)), (&[1, 3], counts(10, 1))],
    );
    let result = run(&t);
    assert_eq!(value(&level(&result.factors[0], "a").separable), 1.0);
    // Row 1: 10 of 40; about the mean 7.5, within batch a 20 * 1/4 = 5.
    close("row 1", value(&level(&result.factors[1], "1").separable), 5.0 / 7.5, 1e-9, 0.0);
}

#[test]
fn the_take_has_bounds_where_some_failures_are_of_a_kind_not_told() {
    let masked = run(&three_batches());
    let poor = &level(&masked.take[0], "L3").raw;
    let why = poor.why().unwrap();
    assert!(why.reason.contains("of 89 failed vines 89"), "{}", why.reason);
    // None of 90 never grew at best, 30 of 90 at worst: the ends of both exact intervals.
    let (low, high) = poor.ends().unwrap();
    let least = stand(&level(&masked.factors[0], "L3").raw);
    close("least", low, least.low, 1e-12, 0.0);
    close("most", high, 1.0, 1e-12, 0.0);
    assert!(masked.take[0].sd.value().is_none());
    let told = |seen, never_grew, died| Counts { failed: never_grew + died, never_grew, died, ..counts(seen, 0) };
    let t = tally(&[("batch", &["a", "b"])], &[(&[0], told(100, 10, 5)), (&[1], told(100, 2, 30))]);
    let take = run(&t).take;
    close("take of a", stand(&level(&take[0], "a").raw).value, 0.9, 1e-12, 0.0);
    assert_eq!(level(&take[0], "b").failed, 32);
    assert!(value(&level(&take[0], "b").probability_best) > 0.95);
    assert!(value(&level(&run(&t).factors[0], "a").probability_best) > 0.95);
}

#[test]
fn every_null_has_its_reason() {
    let header = Header { block: "B".into(), surveyed_on: None, seed: Seed::new(1), level: 0.9 };
    let doc = document(&header, &run(&three_batches()));
    let fields: Vec<&str> = doc["absent"].as_array().unwrap().iter().map(|a| a["field"].as_str().unwrap()).collect();
    for field in ["fit.bootstrap", "take.levels.raw.stand", "vigour", "survival", "factors.levels.pooled"] {
        assert!(fields.contains(&field), "{field} in {fields:?}");
    }
    assert_eq!(doc["factors"][0]["levels"][1]["raw"]["method"], "clopper_pearson");
    assert!(doc["factors"][0]["levels"][0]["separable"].is_null());
}

#[test]
fn relabelling_permutes_and_doubling_narrows() {
    let t = three_batches();
    let mut swapped = t.clone();
    swapped.factors[0].levels.swap(0, 3);
    swapped.cells.iter_mut().for_each(|cell| {
        cell.codes[0] = match cell.codes[0] {
            0 => 3,
            3 => 0,
            other => other,
        }
    });
    swapped.cells.sort_by(|a, b| a.codes.cmp(&b.codes));
    let (here, there) = (run(&t), run(&swapped));
    for name in ["", "L1", "L1|L3", "L2", "L3"] {
        let (a, b) = (level(&here.factors[0], name), level(&there.factors[0], name));
        assert_eq!((a.seen, a.failed, &a.raw), (b.seen, b.failed, &b.raw));
        match (a.pooled.value(), b.pooled.value()) {
            (Some(a), Some(b)) => close("pooled", a.low, b.low, 0.01, 0.0),
            (a, b) => assert_eq!(a.is_some(), b.is_some()),
        }
        if let (Some(a), Some(b)) = (a.probability_best.value(), b.probability_best.value()) {
            close("best", *a, *b, 0.0, 0.03);
        }
    }
    let mut doubled = t.clone();
    doubled.cells.iter_mut().for_each(|cell| {
        let once = cell.counts;
        cell.counts.add(&once);
    });
    doubled.total.add(&t.total);
    let narrow = run(&doubled);
    for (one, two) in here.factors[0].levels.iter().zip(&narrow.factors[0].levels) {
        let width = |stand: &Stand| stand.value().map(|e| e.high - e.low);
        assert!(width(&two.raw) < width(&one.raw));
        assert!(one.pooled.value().is_none() || width(&two.pooled) < width(&one.pooled));
    }
    assert!(value(&narrow.factors[0].tests.p_value_vines) < value(&here.factors[0].tests.p_value_vines));
}

#[test]
fn a_hundred_rows_are_shrunk_together() {
    let names: Vec<String> = (1..=100).map(|i| i.to_string()).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let cells: Vec<(Vec<u32>, Counts)> =
        (0..100).map(|i| (vec![i / 34, i], counts(40 + u64::from(i) % 20, 2 + u64::from(i * i) % 7))).collect();
    let cells: Vec<(&[u32], Counts)> = cells.iter().map(|(codes, c)| (codes.as_slice(), *c)).collect();
    let t = tally(&[("batch", &["a", "b", "c"]), ("row", &names)], &cells);
    let result = run(&t);
    let row = &result.factors[1];
    assert_eq!(row.levels.len(), 100);
    assert!(row.levels.iter().all(|l| l.pooled.value().is_some_and(|e| e.low < e.value && e.value < e.high)));
    let best: f64 = row.levels.iter().filter_map(|l| l.probability_best.value()).sum();
    close("probabilities", best, 1.0, 1e-9, 0.0);
    // Pooled rates differ less between rows than the raw ones do.
    let spread = |of: fn(&LevelRates) -> f64| {
        let mean = row.levels.iter().map(of).sum::<f64>() / 100.0;
        row.levels.iter().map(|l| (of(l) - mean).powi(2)).sum::<f64>()
    };
    assert!(spread(|l| stand(&l.pooled).value) < spread(|l| stand(&l.raw).value));
}

fn defaults() -> fullstand::base::Assumptions {
    fullstand::base::Assumptions::default()
}

fn nothing_seen() -> Tally {
    tally::<&[u32]>(&[], &[])
}

fn certain(stand: f64) -> NewBatch {
    new_batch(&nothing_seen(), None, Quantity::certain(stand), StandFrom::Stated, &defaults())
}

/// Derived binomial numbers, worked with a reference library: the least n with P(Bin(n, s) >= k) >= conf.
#[test]
fn a_certain_stand_gives_binomial_orders() {
    for (k, s, sure, n, p) in [
        (100, 0.83, 0.90, 127, 0.9155),
        (100, 0.95, 0.90, 108, 0.9081),
        (260, 0.95, 0.95, 280, 0.9564),
        (50, 0.90, 0.95, 60, 0.9658),
        (200, 0.839, 0.90, 247, 0.9075),
    ] {
        let batch = certain(s);
        let least = (k..).find(|&n| batch.probability_at_least(k, n) >= sure).unwrap();
        assert_eq!(least, n);
        close("probability", batch.probability_at_least(k, n), p, 0.0, 5e-5);
    }
}

#[test]
fn what_is_stated_is_met() {
    let stated = Quantity { p10: 0.82, p50: 0.93, p90: 0.98 };
    let batch = new_batch(&three_batches(), None, stated, StandFrom::Stated, &defaults());
    for (p, want) in [(0.1, 0.82), (0.5, 0.93), (0.9, 0.98)] {
        close("quantile", batch.quantile(p), want, 1e-4, 0.0);
        close("mixture", batch.stand().quantile(p), want, 0.0, 4e-3);
    }
    // Far more vines than chance matters for: the share of stands above 0.82.
    close("enough", batch.probability_at_least(82_000, 100_000), 0.9, 0.0, 0.03);
}

#[test]
fn the_blocks_batches_move_the_blend_and_rule_the_block() {
    let stated = Quantity { p10: 0.82, p50: 0.93, p90: 0.98 };
    let (good, bad) = (
        tally(&[("batch", &["a", "b"])], &[(&[0], counts(500, 10)), (&[1], counts(500, 15))]),
        tally(&[("batch", &["a", "b"])], &[(&[0], counts(500, 230)), (&[1], counts(500, 170))]),
    );
    let of = |t: &Tally, from| new_batch(t, None, stated, from, &defaults());
    let (up, down) = (of(&good, StandFrom::Blend), of(&bad, StandFrom::Blend));
    assert!(up.mean() > 0.94 && down.mean() < 0.75, "{} {}", up.mean(), down.mean());
    assert!((of(&bad, StandFrom::Block).mean() - 0.6).abs() < 0.03);
    assert!(of(&bad, StandFrom::Block).mean() < down.mean());
    assert_eq!(of(&bad, StandFrom::Stated), of(&good, StandFrom::Stated));
    // A plain number doesn't shut out the block's batches.
    let plain = new_batch(&bad, None, Quantity::certain(0.93), StandFrom::Blend, &defaults());
    assert!(plain.mean() < 0.8, "{}", plain.mean());
    // Without labels the block counts as one batch; with nothing seen only what is stated counts.
    let unlabelled = tally(&[], &[(&[], counts(1_000, 400))]);
    assert!(of(&unlabelled, StandFrom::Blend).mean() < 0.8);
    assert!(of(&nothing_seen(), StandFrom::Block).mean() > 0.85);
}

#[test]
fn one_batch_leaves_the_spread_to_the_assumption() {
    let one = tally(&[("batch", &["a"])], &[(&[0], counts(2_000, 160))]);
    let spread = |p50: f64| {
        let mut a = defaults();
        a.set("stand.new_batch_spread", Quantity { p10: 0.5 * p50, p50, p90: 2.0 * p50 }).unwrap();
        let batch = new_batch(&one, None, Quantity { p10: 0.82, p50: 0.92, p90: 0.98 }, StandFrom::Block, &a);
        batch.quantile(0.9) - batch.quantile(0.1)
    };
    let (small, large) = (spread(0.002), spread(0.2));
    assert!(small < 0.06 && large > 0.3, "{small} {large}");
}

#[test]
fn the_table_of_quantiles_is_the_mixtures() {
    let batch =
        new_batch(&three_batches(), None, Quantity { p10: 0.8, p50: 0.92, p90: 0.97 }, StandFrom::Blend, &defaults());
    for p in [0.01, 0.05, 0.1, 0.33, 0.5, 0.9, 0.99] {
        close("quantile", batch.quantile(p), batch.stand().quantile(p), 0.0, 1e-3);
    }
    let drawn = |i: u32| batch.quantile((f64::from(i) + 0.5) / 4_000.0);
    close("mean", (0..4_000).map(drawn).sum::<f64>() / 4_000.0, batch.mean(), 1e-3, 0.0);
}

fn block(materials: Vec<Material>) -> Block {
    Block {
        name: "B".into(),
        currency: "EUR".into(),
        planted_on: None,
        hemisphere: Hemisphere::default(),
        layout: Layout::default(),
        plants: Plants::Counts(CountSheet::default()),
        deliveries: Vec::new(),
        diary: Vec::new(),
        terms: Default::default(),
        materials,
        courses: Vec::new(),
        goal: Goal::default(),
        limits: Limits::default(),
        assumptions: defaults(),
    }
}

fn options(needed: &[(&str, u64)]) -> Options {
    let absent = || Known::absent("not asked", "ask");
    let outlook = Outlook {
        name: "Replant".into(),
        origin: "standard",
        what: String::new(),
        present_value: Known::absent("not asked", "ask"),
        cash_low_point: absent(),
        first_crop_year: Known::absent("not asked", "ask"),
        full_crop_year: Known::absent("not asked", "ask"),
        probability_best: absent(),
        labour_hours: 0.0,
        evenness: Vec::new(),
        yearly: Vec::new(),
        vines_needed: needed
            .iter()
            .map(|(m, n)| VinesNeeded { material: m.to_string(), places: *n, among_older: 0 })
            .collect(),
        breaks: Vec::new(),
    };
    Options {
        options: vec![outlook],
        goal: "present_value",
        recommended: Known::Value("Replant".into()),
        why: String::new(),
        switch_points: Vec::new(),
        drivers: Vec::new(),
        value_of_information: Known::absent("not asked", "ask"),
        assumptions: Vec::new(),
        sources: Vec::new(),
    }
}

fn known_stand(name: &str, stand: f64) -> Material {
    Material {
        name: name.into(),
        bundle: Some(25),
        price_per_vine: Some(Quantity { p10: 2.5, p50: 3.0, p90: 4.0 }),
        first_year_stand: Some(Quantity::certain(stand)),
        stand_from: StandFrom::Stated,
        ..Material::default()
    }
}

#[test]
fn orders_come_in_whole_bundles() {
    let block = block(vec![known_stand("known", 0.83)]);
    let result = order(&block, &three_batches(), None, &options(&[("known", 60), ("known", 40)]), None).unwrap();
    let [one] = result.orders.as_slice() else { panic!("{result:?}") };
    assert_eq!((one.needed, one.bundle, one.order.value()), (100, 25, Some(&150)));
    assert_eq!(one.price.value(), Some(&450.0));
    let table: Vec<u64> = one.if_ordered.iter().map(|l| l.order).collect();
    assert_eq!(table, [100, 125, 150, 175, 200]);
    assert!(one.if_ordered.windows(2).all(|w| w[0].probability_enough <= w[1].probability_enough));
    assert!(one.if_ordered[1].probability_enough < 0.9 && value(&one.probability_enough) >= 0.9);
    assert!(one.order_by.value().is_none());
    close("stand", one.expected_stand, 0.83, 1e-12, 0.0);
}

#[test]
fn an_uncertain_batch_needs_more_and_a_hopeless_one_is_said() {
    let mut unsure = known_stand("unsure", 0.83);
    unsure.first_year_stand = Some(Quantity { p10: 0.6, p50: 0.83, p90: 0.9 });
    let block_of = |m| block(vec![m]);
    let asked =
        |b: &Block, name: &str| order(b, &three_batches(), None, &options(&[(name, 100)]), Some("Replant")).unwrap();
    let more = value(&asked(&block_of(unsure.clone()), "unsure").orders[0].order);
    assert!(more > 150, "{more}");
    unsure.first_year_stand = Some(Quantity { p10: 0.01, p50: 0.2, p90: 0.5 });
    let hopeless = asked(&block_of(unsure), "unsure");
    assert!(hopeless.orders[0].order.why().unwrap().reason.contains("even 300 vines"));
    assert!(hopeless.orders[0].price.value().is_none() && hopeless.orders[0].if_ordered.len() <= 12);
    // A material that block.toml doesn't name stands on the assumptions.
    let standard = asked(&block(vec![]), "same again");
    assert_eq!(standard.orders[0].bundle, 25);
    assert!(standard.orders[0].order.value().is_some() && standard.orders[0].price.value().is_none());
}

#[test]
fn an_unknown_option_has_no_order() {
    let b = block(vec![]);
    assert!(order(&b, &nothing_seen(), None, &options(&[]), Some("Repplant")).is_none());
    let mut none = options(&[("x", 3)]);
    none.recommended = Known::absent("no prices", "prices");
    let result = order(&b, &nothing_seen(), None, &none, None).unwrap();
    assert!(result.orders.is_empty() && result.option.value().is_none());
}
