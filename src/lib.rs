//! `fullstand`: what went wrong in a newly planted vineyard block, what to do about it, what that costs and how
//! sure we are.
//!
//! The rooms, from the ground up; each may use only those named behind it (held by `tests/all/house.rs`):
//!
//! | room | what it is for | uses |
//! | --- | --- | --- |
//! | [`base`] | units, seeds, assumptions, published sources, findings, sentences | |
//! | [`block`] | the block as recorded; derives no number | base |
//! | [`stats`] | general statistics on numbers and counts; doesn't know what a vine is | base |
//! | [`lattice`] | pattern tests on marked points of a grid; the same | base, stats |
//! | [`intake`] | files in, (block, findings) out; nothing above it validates again | base, block |
//! | [`tally`] | block to counts per cell, field, planted runs; the only bridge from vines to numbers | base, block, lattice |
//! | [`simulate`] | blocks with known cause | base, block |
//! | [`rates`] | stand, take and vigour by factor | base, block, stats, tally |
//! | [`cause`] | which explanation the evidence supports; never sees money | base, stats, lattice, tally |
//! | [`triage`] | what each vine needs this winter | base, block, tally |
//! | [`options`] | what each course of action costs, when the block is full | base, block, stats, tally, rates, triage |
//! | [`order`] | how many vines to order | base, block, tally, rates, options |
//! | [`study`] | one block, every answer | all above but simulate |
//! | [`plot`] | results to SVG; computes no statistic | base, block, and the rooms whose results it draws |
//! | [`report`] | results to sections to HTML and text; computes no statistic | base, block, study, plot and the rooms' results |
//! | [`cli`] | files, clock, terminal; holds no formula | everything |
#![forbid(unsafe_code)]

pub mod base;
pub mod block;
pub mod cause;
pub mod cli;
pub mod intake;
pub mod lattice;
pub mod options;
pub mod order;
pub mod plot;
pub mod rates;
pub mod report;
pub mod simulate;
pub mod stats;
pub mod study;
pub mod tally;
pub mod triage;
