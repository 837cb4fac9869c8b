//! General statistics on numbers and counts. Doesn't know what a vine is.
//!
//! One concept a file, the formula and its source beside the code.

pub mod adjust;
pub mod betabinomial;
pub mod cashflow;
pub mod contingency;
pub mod dispersion;
pub mod firth;
pub mod glm;
pub mod hypergeometric;
pub mod permute;
pub mod projection;
pub mod proportion;
pub mod special;
pub mod stratified;
pub mod studentised_range;
pub mod two_proportions;
