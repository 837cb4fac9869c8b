//! Prints how often the program's tests, intervals and predictions do what they promise, on simulated blocks.
//!
//! `cargo run --release --example calibrate -- [alarms|sizes|coverage|predictive|speed] [BLOCKS]`; docs/calibration.md
//! holds the numbers and what they mean.

mod alarms;
mod coverage;
mod predictive;
mod share;
mod sizes;

use fullstand::block::StandFrom;
use share::Share;

fn main() {
    let mut words = std::env::args().skip(1);
    let what = words.next().unwrap_or_default();
    let blocks = words.next().and_then(|n| n.parse().ok()).unwrap_or(1_000);
    let asked = |name: &str| what.is_empty() || what == name;
    if asked("alarms") {
        let only = words.next().unwrap_or_default();
        print_alarms(blocks, &only);
    }
    if asked("sizes") {
        print_sizes(blocks, &words.next().unwrap_or_default());
    }
    if asked("speed") {
        let (vines, seconds) = sizes::seconds_of_rates();
        println!("\nrates of a block of {vines} vines: {seconds:.3} s (median of 5)");
    }
    if asked("coverage") {
        print_coverage(blocks);
    }
    if asked("predictive") {
        print_predictive(blocks);
    }
}

fn print_alarms(blocks: u64, only: &str) {
    println!("Rejections at 5 % and 1 % of {blocks} blocks each");
    for ground in alarms::ALL.iter().filter(|g| g.name.contains(only)) {
        println!("\n{}", ground.name);
        for ((test, held), alarms) in alarms::alarms(ground, blocks, permutations()) {
            println!("  {test:<22} {held:<14} {}   {}   of {}", alarms.at_5, alarms.at_1, alarms.at_5.of);
        }
    }
}

fn print_sizes(blocks: u64, only: &str) {
    println!("\nSize of the tests of rates: rejections at 5 % and 1 % of {blocks} blocks each without any difference");
    println!("between batches or clones; `null` where nothing is the matter that the test takes for granted isn't");
    for ground in sizes::GROUNDS.iter().filter(|g| g.name.contains(only)) {
        println!("\n{}", ground.name);
        for (test, alarms) in sizes::sizes(ground, blocks, permutations()) {
            let verdict = match (sizes::is_null(test, ground), sizes::holds(&alarms)) {
                (true, true) => "null, holds",
                (true, false) => "null, TOO OFTEN",
                (false, _) => "not its null",
            };
            println!("  {test:<28} {}   {}   of {:<6} {verdict}", alarms.at_5, alarms.at_1, alarms.at_5.of);
        }
    }
}

/// Re-arrangements per test: a whole number of hundreds less one, so that 5 % and 1 % can be met.
fn permutations() -> usize {
    std::env::var("PERMUTATIONS").ok().and_then(|n| n.parse().ok()).unwrap_or(499)
}

fn print_coverage(blocks: u64) {
    println!("\nCoverage of 90 % intervals, exact, true stands 0.50 to 0.99: least and mean");
    for (name, interval) in coverage::INTERVALS {
        for n in [25, 45, 100, 500] {
            let (least, mean) = coverage::of_interval(interval, n, 0.9);
            println!("  {name:<6} {n:>4} vines  {:5.1} %  {:5.1} %", 100.0 * least, 100.0 * mean);
        }
    }
    println!("\nPooled 90 % intervals of {blocks} blocks each");
    print_pooled(
        "from the prior, 5 of 100",
        coverage::pooled(|mut rng| coverage::from_the_prior(5, &mut rng), 100, blocks),
    );
    print_pooled(
        "from the prior, 24 of 45",
        coverage::pooled(|mut rng| coverage::from_the_prior(24, &mut rng), 45, blocks),
    );
    let bad = |stand: f64| move |_: &mut dyn rand::Rng| vec![stand, 0.95, 0.951, 0.952, 0.953, 0.954];
    print_pooled("one of 0.70, five of 0.95, 180", coverage::pooled(bad(0.70), 180, blocks));
    print_pooled("one of 0.40, five of 0.95, 180", coverage::pooled(bad(0.40), 180, blocks));
    print_pooled("24 rows of 45, hollow over 5", coverage::pooled(|_| hollow_rows(), 45, blocks));
}

/// The stands of 24 rows, five of them through a hollow.
fn hollow_rows() -> Vec<f64> {
    let depth = |row: f64| 2.5 * (-((row - 10.0) / 1.8f64).powi(2) / 2.0).exp();
    (0..24).map(|row| 1.0 / (1.0 + (depth(f64::from(row)) - 2.8 + 1e-6 * f64::from(row)).exp())).collect()
}

fn print_pooled(name: &str, pooled: coverage::Pooled) {
    println!("  {name:<32} all {}  lowest {}  highest {}", pooled.all, pooled.lowest, pooled.highest);
    for (tenth, share) in pooled.best.iter().enumerate().filter(|(_, s)| s.of > 0) {
        println!("      best with 0.{tenth}: {share} of {}", share.of);
    }
}

fn print_predictive(blocks: u64) {
    println!("\nNew batches between the 10 % and 90 % points (below, above); orders that filled all places");
    for (name, from) in [("block", StandFrom::Block), ("stated", StandFrom::Stated), ("blend", StandFrom::Blend)] {
        let range = predictive::new_batches(from, blocks);
        println!(
            "  {name:<8} {}  ({}, {})   filled {} of {}",
            range.inside, range.below, range.above, range.filled, range.filled.of
        );
    }
}
