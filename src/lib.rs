//! `fullstand`: what went wrong in a newly planted vineyard block, what to do about it, what that costs and how
//! sure we are.
//!
//! The rooms, from the ground up; each may use only those named behind it (held by `tests/all/house.rs`):
//!
//! | room | what it is for | uses |
//! | --- | --- | --- |
//! | [`base`] | units, seeds, assumptions, published sources, findings, sentences; knows nothing of plants |  |
//! | [`block`] | the block as recorded: layout, vines, walks, materials, terms; derives no number | base |
//! | [`stats`] | general statistics on numbers and counts; doesn't know what a vine is | base |
//! | [`lattice`] | pattern tests on marked points of a grid; the same | base, stats |
//! | [`intake`] | tables in, (block, findings) out; nothing above it validates again | base, block |
//! | [`tally`] | block to counts per cell, field, planted runs; the only bridge from vines to numbers | base, block, lattice |
//! | [`runs`] | planted runs and their labels re-dealt: the unit for batch, clone, stock, declared factors | base, stats, tally |
//! | [`simulate`] | blocks with known cause: for calibration, tests, power and the demo | base, block |
//! | [`rates`] | stand, take and vigour by factor; what a new batch may do | base, block, stats, tally, runs |
//! | [`cause`] | which explanation the evidence supports; never sees money | base, block, stats, lattice, tally, runs |
//! | [`claim`] | the counts behind a claim, and their limits | base, block, tally, rates |
//! | [`triage`] | what each vine needs this winter | base, block, tally |
//! | [`options`] | what each course of action costs, and when the block is full | base, block, stats, tally, rates, triage |
//! | [`order`] | how many vines to order | base, block, tally, rates, options |
//! | [`study`] | one block, every answer: runs the rooms in order | base, block, intake, tally, rates, cause, triage, options, order |
//! | [`plot`] | results to SVG; computes no statistic | base, block, tally, rates, cause, triage, options, order |
//! | [`report`] | results to sections to HTML and text; computes no statistic | base, block, intake, tally, rates, cause, triage, options, order, claim, study, plot |
//! | [`cli`] | files, clock, terminal; holds no formula | base, block, intake, tally, simulate, rates, cause, claim, triage, options, order, study, report |
#![forbid(unsafe_code)]

pub mod base;
pub mod block;
pub mod cause;
pub mod claim;
pub mod cli;
pub mod intake;
pub mod lattice;
pub mod options;
pub mod order;
pub mod plot;
pub mod rates;
pub mod report;
pub mod runs;
pub mod simulate;
pub mod stats;
pub mod study;
pub mod tally;
pub mod triage;
