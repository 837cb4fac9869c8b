//! Every integration test, in one binary: each test binary links polars again.

mod apart;
mod cause;
mod contract;
mod contract_files;
mod contrasts;
mod counted;
mod damaged;
mod estate;
mod house;
mod intake;
mod oracle;
mod pines;
mod rates;
mod rates_tests;
mod reference_betabinomial;
mod reference_firth;
mod reference_lattice;
mod reference_mixed;
mod reference_posterior;
mod reference_stats;
mod reference_trend;
mod report;
mod simulate;
mod stocks;
mod tally;
mod weighing;
