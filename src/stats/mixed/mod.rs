//! Binomial mixed models: counts of failures with any number of crossed or nested random intercepts.
//!
//! Letters: cell i holds n(i) plants, of which d(i) failed; term f puts it into one of q(f) levels.
//!
//! ```text
//! d(i) ~ Binomial(n(i), mu(i)),   ln(mu/(1-mu)) = eta(i) = o(i) + sum over f of s(f) u(f, level of i),   u ~ N(0, 1)
//! ```
//!
//! o is an offset (fixed effects), s(f) >= 0 the standard deviation of term f on the logit scale. Written with
//! spherical u, a standard deviation of 0 is an ordinary value. Fitted on counts per cell, never on plants.
//!
//! - [`Laplace`]: the mode of u by damped penalised iteratively reweighted least squares, the marginal likelihood by
//!   Laplace's method with its analytic gradient (Breslow & Clayton 1993, `breslow-clayton-1993`; Bates et al. 2015,
//!   `bates-2015`). The term with most levels is swept out of every equation by its diagonal block.
//! - [`maximum_likelihood`]: fixed effects and standard deviations that maximise it, with every random effect at its
//!   conditional mode; [`maximum_by_quadrature`] replaces Laplace by adaptive Gauss-Hermite quadrature for a single term.
//! - [`variance_bootstrap`]: whether a term's standard deviation is 0, by simulation.
//! - [`posterior()`]: the same model with priors on the standard deviations, integrated over them; draws.

mod bootstrap;
mod cells;
mod draw;
mod even;
mod factor;
mod hypercube;
mod laplace;
mod maximum;
mod mode;
mod nodes;
mod piecewise;
mod posterior;
mod quadrature;
mod skew;
mod standardise;

pub use bootstrap::{VarianceBootstrap, variance_bootstrap};
pub use cells::{Term, Unusable};
pub use laplace::{Gradient, Laplace};
pub use maximum::{Config, MixedFit, Observed, Penalty, maximum_likelihood};
pub use posterior::{Effort, Posterior, Prior, posterior};
pub use quadrature::{Hermite, QuadratureFit, log_likelihood, maximum_by_quadrature};
