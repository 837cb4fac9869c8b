//! Links between a sum of effects and a rate.

use crate::stats::special::{HALF_LN_TAU, ln_normal_cdf, softplus};
use serde::Serialize;

/// How the rate mu hangs on eta (McCullagh & Nelder 1989, section 4.3.1, `mccullagh-nelder-1989`).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub enum Link {
    /// ln(mu / (1 - mu)) = eta: effects are ln odds ratios.
    #[default]
    Logit,
    /// mu = Phi(eta): effects are standard deviations of a latent normal.
    Probit,
    /// ln(-ln(1 - mu)) = eta: effects are ln ratios of hazards.
    ComplementaryLogLog,
}

impl Link {
    /// ln mu.
    pub(super) fn ln_mean(self, eta: f64) -> f64 {
        match self {
            Link::Logit => -softplus(-eta),
            Link::Probit => ln_normal_cdf(eta),
            Link::ComplementaryLogLog => ln_one_less_exp(-eta.exp(), eta),
        }
    }

    /// ln(1 - mu).
    pub(super) fn ln_rest(self, eta: f64) -> f64 {
        match self {
            Link::Logit => -softplus(eta),
            Link::Probit => ln_normal_cdf(-eta),
            Link::ComplementaryLogLog => -eta.exp(),
        }
    }

    /// ln of d mu / d eta.
    pub(super) fn ln_slope(self, eta: f64) -> f64 {
        match self {
            Link::Logit => self.ln_mean(eta) + self.ln_rest(eta),
            Link::Probit => -0.5 * eta * eta - HALF_LN_TAU,
            Link::ComplementaryLogLog => eta - eta.exp(),
        }
    }
}

/// ln(1 - exp(x)) for x = -exp(`ln_minus_x`), which is about `ln_minus_x` where x is next to nothing.
fn ln_one_less_exp(x: f64, ln_minus_x: f64) -> f64 {
    if x < -1e-17 { (-x.exp_m1()).ln() } else { ln_minus_x }
}
