//! General statistics on numbers and counts. Doesn't know what a vine is.
//!
//! One concept a file, the formula and its source beside the code.

pub mod adjust;
pub mod betabinomial;
pub mod cashflow;
pub mod contingency;
pub mod deck;
pub mod deviance_split;
pub mod dispersion;
pub mod estimable;
pub mod firth;
pub mod generalised_cmh;
pub mod glm;
pub mod hypergeometric;
pub mod incidence;
pub mod legendre;
pub mod logit_evidence;
pub mod minimise;
pub mod mixed;
pub mod noncentral_t;
pub mod permute;
pub mod power;
pub mod projection;
pub mod proportion;
pub mod redealt_outcomes;
pub mod special;
pub mod stratified;
pub mod studentised_range;
pub mod trend;
pub mod two_proportions;
pub mod uniformity;
pub mod variance_score;
