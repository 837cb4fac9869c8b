//! Stand, take and vigour by factor: raw rates with exact intervals, tests that levels differ, rates adjusted for
//! everything planted beside them, and what a new batch may do.

mod apart;
mod by_row;
mod contrasts;
mod document;
mod draws;
mod factor;
mod fit;
mod heterogeneity;
mod levels;
mod model;
mod new_batch;
mod pairs;
mod pooled;
mod power;
mod spread;
mod stand;
mod stocks;
mod trend;

pub use apart::{AliasedLevel, Confounded, Joined, Relations, Split, Times, ToldApart, error_stratum};
pub use by_row::{ByRow, LevelByRow};
pub use contrasts::{Contrast, ContrastNotTold, Contrasts, PosteriorContrast, contrasts};
pub use document::{Coefficient, FactorBootstrap, FactorRates, Fit, LeftOut, LevelRates, Rates};
pub use draws::{Draws, TermDraws, stand_draws};
pub use fit::ModelConfig;
pub use heterogeneity::FactorTests;
pub use new_batch::{NewBatch, new_batch};
pub use power::{Enough, PowerAnswer, PowerConfig, PowerDesign, power_answer};
pub use spread::Spread;
pub use stand::Stand;
pub use stocks::{Beside, Compared, Comparison, CouldHaveShown, Difference, Pair, Parts, compare};
pub use trend::{RatesTrend, ScoredLevel, trends};

use crate::base::known::Why;
use crate::base::words::{base as common, fill, rates as words};
use crate::base::{Assumptions, Known, Seed};
use crate::block::Code;
use crate::stats::mixed::Prior;
use crate::stats::permute::Effort;
use crate::stats::proportion::clopper_pearson;
use crate::tally::Tally;
use apart::Apart;
use by_row::Rows;
use factor::{Work, or_absent, raw};
use heterogeneity::Question;
use levels::Outcome;
use model::Model;
use pairs::PosteriorPair;

/// Settings of [`rates()`].
#[derive(Clone, Debug)]
pub struct Config {
    /// Level of the intervals, in (0, 1).
    pub level: f64,
    /// Tables simulated where the exact test of vines is too large; 0: that test is left out.
    pub simulations: usize,
    /// Re-arrangements of labels, or of outcomes, for each test.
    pub permutations: usize,
    /// Re-arrangements as extreme as the block after which a test by runs stops drawing.
    pub stop_after: Option<u64>,
    /// Draws from the null model for each test of a variance.
    pub null_draws: usize,
    /// Labels are dealt anew within rows where a p-value of this can be reached there.
    pub clear_below: f64,
    /// Finer levels are dealt anew as wholes where a p-value of this can be reached.
    pub likely_below: f64,
    /// What is held plausible before counting.
    pub prior: Prior,
    /// Draws of the posterior; fewer are made of very many cells.
    pub draws: usize,
    /// What of the mixed model is asked for beside its random factors.
    pub model: ModelConfig,
    /// What is asked of a comparison's reach.
    pub power: PowerConfig,
}

impl Config {
    /// The prior from the assumptions `pooling.mean_stand` and `explanation.effect_sd_once_in_ten`; draws,
    /// tables and re-arrangements as many as `pooling.draws` and `evidence.*` say.
    pub fn new(level: f64, assumptions: &Assumptions) -> Self {
        Config {
            level,
            simulations: assumptions.get("evidence.simulated_tables") as usize,
            permutations: assumptions.get("evidence.permutations") as usize,
            stop_after: Some(assumptions.get("evidence.stop_after") as u64),
            null_draws: assumptions.get("evidence.null_draws") as usize,
            clear_below: assumptions.get("evidence.clear_below"),
            likely_below: assumptions.get("evidence.likely_below"),
            prior: draws::prior(assumptions),
            draws: assumptions.get("pooling.draws") as usize,
            model: ModelConfig::default(),
            power: PowerConfig::new(None, assumptions),
        }
    }
    fn effort(&self) -> Effort {
        Effort { draws: self.permutations as u64, stop_after: self.stop_after, ..Effort::default() }
    }
}

impl Default for Config {
    fn default() -> Self {
        Config::new(0.9, &Assumptions::default())
    }
}

/// Rates of a tally. `set_aside` lines are echoed from the intake.
///
/// Per level the raw rate with its exact and score intervals; per factor a test that the levels differ no more than
/// chance; and, from one mixed model of all factors, rates adjusted for everything planted beside them.
pub fn rates(tally: &Tally, set_aside: u64, config: &Config, seed: Seed) -> Rates {
    let later = |reason: &str| Why::new(reason, common::LATER_HELP);
    let apart = Apart::of(tally);
    let model = Model::of(tally, &config.model.joined);
    let work = Work { tally, apart: &apart.levels, model: &model, config, seed };
    let ((factors, draws), fit) =
        rayon::join(|| work.by_factor(Outcome::Stand, None), || fit::fit(tally, &model, &config.model, seed));
    let take = work.take(&factors);
    let all = Outcome::Stand.kept(&tally.total);
    let in_bands = |factor: &str| factors.iter().find(|f| f.factor == factor)?.tests.in_bands().cloned();
    let pairs = contrasts(tally, config.level).without(in_bands).with(|factor| work.pairs(draws.as_ref(), factor));
    let reach = work.reach(&factors, &take, draws.as_ref());
    Rates {
        vines: tally.total.planted,
        seen: tally.total.seen,
        failed: tally.total.failed,
        missing: tally.total.missing,
        unsure: tally.total.unsure,
        set_aside,
        stand: raw(all, clopper_pearson(all.x, all.n, config.level), "clopper_pearson"),
        told_apart: apart.told,
        trends: trend::trends(tally, config, seed),
        contrasts: pairs.told,
        contrasts_not_told: pairs.not_told,
        fit,
        rootstock: reach.rootstock,
        clone: reach.clone,
        power: reach.power,
        factors,
        take,
        vigour: Known::Absent(later(words::VIGOUR_LATER)),
        survival: Known::Absent(later(words::SURVIVAL_LATER)),
        draws,
        sources: document::SOURCES.to_vec(),
    }
}

/// What stands on the factors' rates: stocks and clones compared, and what a comparison could show.
struct Reach {
    rootstock: Known<Comparison>,
    clone: Known<Comparison>,
    power: Known<PowerAnswer>,
}

impl Work<'_> {
    /// Pairs of a factor's levels by the joint posterior.
    fn pairs(&self, draws: Option<&Draws>, factor: &str) -> Option<Vec<PosteriorPair>> {
        let index = self.tally.factors.iter().position(|f| f.name == factor)?;
        pairs::pairs(self.tally, self.model, draws?, index, self.config.level)
    }

    fn reach(&self, stand: &[FactorRates], take: &[FactorRates], draws: Option<&Draws>) -> Reach {
        let Work { tally, model, config, .. } = *self;
        let spread = &Spread { batch: self.sds(draws, "batch"), row: self.sds(draws, "row") };
        let parts = Parts { tally, stand, take, spread, level: config.level };
        let beside = |factor: &str| {
            let pairs = pairs::of_factor(tally, model, draws, factor, config.level);
            Beside { adjusted_for: self.others(factor, false), same_as: self.others(factor, true), pairs }
        };
        let design = stocks::best_pair("rootstock", tally, spread, &config.power).map(|pair| pair.design());
        Reach {
            rootstock: compare("rootstock", &parts, beside("rootstock"), &config.power),
            clone: compare("clone", &parts, beside("clone"), &config.power),
            power: power_answer(tally, spread, &design, &config.power),
        }
    }

    /// The term that a factor is, alone or with others that split the vines alike.
    fn term(&self, factor: &str) -> Option<usize> {
        self.model.term(self.tally.factors.iter().position(|f| f.name == factor)?)
    }

    /// Draws of the standard deviation of a factor's levels.
    fn sds(&self, draws: Option<&Draws>, factor: &str) -> Known<Vec<f64>> {
        let sds = draws.zip(self.term(factor)).and_then(|(draws, term)| Some(draws.terms.get(term)?.sd.clone()));
        Known::from_option(sds, words::POWER_NO_BATCHES, words::STOCKS_BATCHES_UNKNOWN_HELP)
    }

    /// The model's other factors: those that share the factor's term, or those that don't.
    fn others(&self, factor: &str, sharing: bool) -> Vec<String> {
        let own = self.term(factor);
        let named = self.tally.factors.iter().map(|f| f.name.as_str()).filter(|name| *name != factor);
        let of = named.filter(|name| self.term(name).is_some_and(|term| (Some(term) == own) == sharing));
        of.map(str::to_string).collect()
    }
}

/// The mixed model of failure by maximum likelihood alone; absent where no factor has two levels.
pub fn maximum_likelihood(tally: &Tally, config: &ModelConfig, seed: Seed) -> Known<Fit> {
    fit::fit(tally, &Model::of(tally, &config.joined), config, seed)
}

/// The tests of one factor of the stand, without the rates beside them: so that their size can be measured on many
/// blocks. None without a factor of this name.
pub fn factor_tests(tally: &Tally, factor: &str, config: &Config, seed: Seed) -> Option<FactorTests> {
    let index = tally.factors.iter().position(|f| f.name == factor)?;
    let asked = Question { tally, index, outcome: Outcome::Stand };
    let levels = levels::levels(tally, index);
    let alone =
        Why::new(fill(words::NO_OTHER, &[("factor", &factor)]), fill(words::NO_OTHER_HELP, &[("factor", &factor)]));
    Some(FactorTests::new(&asked, &levels, &alone, config, seed))
}

/// One level of a factor of the stand against its others by row; None where no row tells. `level` in (0, 1).
pub fn level_by_row(tally: &Tally, factor: &str, code: Code, level: f64) -> Option<LevelByRow> {
    let index = tally.factors.iter().position(|f| f.name == factor)?;
    Rows::of(&Question { tally, index, outcome: Outcome::Stand })?.of_level(code, level)
}
