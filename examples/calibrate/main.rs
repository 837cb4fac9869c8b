//! Prints how often the program's tests, intervals and predictions do what they promise, on simulated blocks.
//!
//! `cargo run --release --example calibrate -- [alarms|uniform|power|sizes|coverage|pooled|predictive|speed] [BLOCKS]`; docs/calibration.md
//! holds the numbers and what they mean.

mod alarms;
mod coverage;
mod pattern;
mod pooled;
mod predictive;
mod share;
mod sizes;

use fullstand::block::StandFrom;
use pooled::Spread;
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
    if asked("uniform") {
        print_uniformity(blocks);
    }
    if asked("power") {
        print_power(blocks);
    }
    if asked("sizes") {
        print_sizes(blocks, &words.next().unwrap_or_default());
    }
    if asked("speed") {
        let (vines, seconds) = sizes::seconds_of_rates();
        println!("\nrates of a block of {vines} vines: {seconds:.3} s (median of 5)");
        println!("\n9,999 permutations of all joins of 5,000 vines (median of 5)");
        pattern::print_joins();
        println!("\nScans for the strongest patch");
        pattern::print_scans();
    }
    if asked("coverage") {
        print_coverage();
    }
    if asked("pooled") {
        print_pooled(blocks);
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

fn print_uniformity(blocks: u64) {
    println!(
        "\nRandomised p-values of the answers in ten bins, {blocks} blocks in which nothing is the matter (Hotelling)"
    );
    for (about, joint) in alarms::uniformity(&alarms::CHANCE, blocks, permutations()) {
        match joint {
            Some(j) => println!(
                "  {about:<14} T2 {:6.1} on {:>3} shares, {} blocks, p {:.3}",
                j.t_squared, j.shares, j.sets, j.p_value
            ),
            None => println!("  {about:<14} too few blocks"),
        }
    }
}

fn print_power(blocks: u64) {
    println!(
        "\nA batch found at 5 %, by its odds of failure against the others; {blocks} blocks each in bundles of 25"
    );
    for design in alarms::DESIGNS {
        let alarms::Design { rows, places_per_row, batches } = design;
        println!("\n{rows} rows of {places_per_row}, {batches} batches");
        for odds in alarms::ODDS {
            let found = alarms::power(design, odds, blocks, permutations());
            let said: Vec<String> = found.iter().map(|(form, share)| format!("{form} {share}")).collect();
            println!("  odds {odds:<4} {}", said.join("   "));
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

fn print_coverage() {
    println!("\nCoverage of 90 % intervals, exact, true stands 0.50 to 0.99: least and mean");
    for (name, interval) in coverage::INTERVALS {
        for n in [25, 45, 100, 500] {
            let (least, mean) = coverage::of_interval(interval, n, 0.9);
            println!("  {name:<6} {n:>4} vines  {:5.1} %  {:5.1} %", 100.0 * least, 100.0 * mean);
        }
    }
}

fn print_pooled(blocks: u64) {
    println!("\nPooled 90 % intervals, {blocks} blocks each of 3 to 40 batches");
    print_outcome("sds and constant from the prior", &pooled::pooled(Spread::Prior, blocks));
    for sd in [0.0, 0.5, 1.0, 2.0] {
        print_outcome(&format!("every sd {sd}"), &pooled::pooled(Spread::Fixed(sd), blocks / 6));
    }
}

fn print_outcome(name: &str, outcome: &pooled::Outcome) {
    println!("\n{name}");
    for (factor, share) in &outcome.stand {
        println!("  {factor:<24} {share} of {}", share.of);
    }
    let others = [
        ("levels without a failure", outcome.without_failure),
        ("levels of under 30 vines", outcome.small),
        ("a batch not seen", outcome.new_batch),
    ];
    others.iter().for_each(|(name, share)| println!("  {name:<24} {share} of {}", share.of));
    let (square, df, p) = outcome.best_test();
    println!("  best: chi-squared {square:.1} on {df}, p {p:.3}");
    for (tenth, (share, stated, _)) in outcome.best.iter().enumerate().filter(|(_, b)| b.0.of > 0) {
        let stated = 100.0 * stated / share.of as f64;
        println!("      said 0.{tenth}: {stated:5.1} % on average, true {share} of {}", share.of);
    }
    println!(
        "  draws worth {:.0} % on average, {:.0} % at least; {} blocks without weights",
        100.0 * outcome.mean_effective,
        100.0 * outcome.least_effective,
        outcome.unweighted
    );
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
