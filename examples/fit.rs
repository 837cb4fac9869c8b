//! Prints the seconds that the mixed model's fit takes on a block folder, and the fit: beside benches/mixed/lme4.R.
//!
//! `cargo run --release --example fit -- FOLDER`

use fullstand::base::Seed;
use fullstand::rates::{ModelConfig, maximum_likelihood};
use std::path::Path;
use std::time::Instant;

fn main() {
    let folder = std::env::args().nth(1).unwrap_or_else(|| ".".into());
    let reading = fullstand::intake::read(Path::new(&folder)).expect("a block folder");
    let tally = fullstand::tally::tally(&reading.block, None).expect("a walk");
    let begun = Instant::now();
    let fit = maximum_likelihood(&tally, &ModelConfig::default(), Seed::new(1));
    let seconds = begun.elapsed().as_secs_f64();
    match fit.value() {
        Some(fit) => println!(
            "{seconds:.2} s  {} cells  intercept {:.5}  sd {:.5?}  log likelihood {:.5}",
            tally.cells.len(),
            fit.intercept,
            fit.sd,
            fit.log_likelihood
        ),
        None => println!("no fit: {:?}", fit.why()),
    }
}
