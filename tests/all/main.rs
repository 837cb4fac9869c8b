//! Every integration test, in one binary: each test binary links polars again.

mod cause;
mod contract;
mod contract_files;
mod contrasts;
mod damaged;
mod house;
mod intake;
mod oracle;
mod pines;
mod rates;
mod reference_betabinomial;
mod reference_firth;
mod reference_lattice;
mod reference_stats;
mod report;
mod simulate;
mod tally;
mod weighing;
