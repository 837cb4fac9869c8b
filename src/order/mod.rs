//! How many vines to order to be sure of a full stand.

mod size;

use crate::base::words::order as words;
use crate::base::{Documented, Known, SourceKey};
use crate::block::{Block, Material};
use crate::options::{Options, Outlook, VinesNeeded};
use crate::rates::{Draws, NewBatch, new_batch};
use crate::tally::Tally;
use serde::Serialize;
use size::{Answer, Question};

/// The document `order`.
#[derive(Clone, Debug, Serialize)]
pub struct Orders {
    pub option: Known<String>,
    pub orders: Vec<Order>,
    #[serde(skip)]
    pub sources: Vec<SourceKey>,
}

#[derive(Clone, Debug, Serialize)]
pub struct Order {
    pub material: String,
    /// Places to fill.
    pub needed: u64,
    /// Probability asked for.
    pub sure: f64,
    /// Vines to order, whole bundles.
    pub order: Known<u64>,
    pub bundle: u64,
    /// Expected stand of the new batch where it goes: gaps among older vines count with `take.replant_factor`. Its
    /// quantiles are in `stand`.
    pub expected_stand: f64,
    pub stand: Stand,
    /// Probability that `order` vines are enough.
    pub probability_enough: Known<f64>,
    pub order_by: Known<jiff::civil::Date>,
    /// Of the whole order, in the block's currency, at the material's median price.
    pub price: Known<f64>,
    pub if_ordered: Vec<IfOrdered>,
}

/// What the stand of the new batch may be: its 10, 50 and 90 % points, 0..1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Stand {
    pub p10: f64,
    pub p50: f64,
    pub p90: f64,
}

/// A whole number of bundles, and the probability that as many vines as there are places stand.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct IfOrdered {
    pub order: u64,
    pub probability_enough: f64,
}

impl Documented for Orders {
    const SCHEMA: &'static str = "order";
    fn sources(&self) -> Vec<SourceKey> {
        self.sources.clone()
    }
}

/// The order for one option (its name), or for the recommended one; none where no option has that name.
///
/// The order is the smallest number of whole bundles of which at least as many vines as there are places stand with a
/// probability of `order.sure` or more, by the predictive of a batch not yet seen ([`new_batch`]): a single batch,
/// whose vines share one unknown rate, so that a larger order is no surer than that rate lets it be.
pub fn order(
    block: &Block,
    tally: &Tally,
    draws: Option<&Draws>,
    options: &Options,
    option: Option<&str>,
) -> Option<Orders> {
    let sources = vec!["skellam-1948", "gelman-2013"];
    let Some(name) = option.or(options.recommended.value().map(String::as_str)) else {
        let option = Known::absent(words::NO_RECOMMENDATION, words::NO_RECOMMENDATION_HELP);
        return Some(Orders { option, orders: Vec::new(), sources });
    };
    let outlook = options.options.iter().find(|o| o.name == name)?;
    let orders = needs(outlook).iter().map(|need| one(block, (tally, draws), need)).collect();
    Some(Orders { option: Known::Value(name.to_string()), orders, sources })
}

/// Places to fill by material, each material once, in the option's order.
fn needs(outlook: &Outlook) -> Vec<VinesNeeded> {
    let mut needs: Vec<VinesNeeded> = Vec::new();
    for need in outlook.vines_needed.iter().filter(|n| n.places > 0) {
        match needs.iter_mut().find(|n| n.material == need.material) {
            Some(sum) => {
                sum.places = sum.places.saturating_add(need.places);
                sum.among_older = sum.among_older.saturating_add(need.among_older);
            }
            None => needs.push(need.clone()),
        }
    }
    needs
}

fn one(block: &Block, (tally, draws): (&Tally, Option<&Draws>), need: &VinesNeeded) -> Order {
    let assumptions = &block.assumptions;
    let (name, needed) = (&need.material, need.places);
    let named = block.materials.iter().find(|m| m.name == *name).cloned();
    let material = named.unwrap_or_else(|| Material { name: name.to_string(), ..Material::default() });
    let stated = material.first_year_stand.unwrap_or_else(|| assumptions.quantity("take.new_batch"));
    let harder = need.among_older as f64 / needed.max(1) as f64 * (1.0 - assumptions.get("take.replant_factor"));
    let batch = new_batch(tally, draws, stated, material.stand_from, assumptions).times(1.0 - harder);
    let usual = assumptions.get("material.bundle") as u64;
    let bundle = material.bundle.unwrap_or(usual).max(1);
    let question = Question { needed, bundle, sure: assumptions.get("order.sure") };
    let answer = question.answer(|vines| batch.probability_at_least(needed, vines));
    listed(&material, &question, &answer, &batch)
}

fn listed(material: &Material, question: &Question, answer: &Answer, batch: &NewBatch) -> Order {
    let price = material.price_per_vine.zip(answer.chosen.value()).map(|(price, o)| price.p50 * o.order as f64);
    let no_price = || match answer.chosen.why() {
        Some(why) if material.price_per_vine.is_some() => Known::Absent(why.clone()),
        _ => Known::absent(words::NO_PRICE, words::NO_PRICE_HELP),
    };
    Order {
        material: material.name.clone(),
        needed: question.needed,
        sure: question.sure,
        order: answer.chosen.clone().map(|o| o.order),
        bundle: question.bundle,
        expected_stand: batch.mean(),
        stand: Stand { p10: batch.quantile(0.1), p50: batch.quantile(0.5), p90: batch.quantile(0.9) },
        probability_enough: answer.chosen.clone().map(|o| o.probability_enough),
        order_by: Known::from_option(material.order_by, words::NO_ORDER_BY, words::NO_ORDER_BY_HELP),
        price: price.map_or_else(no_price, Known::Value),
        if_ordered: answer.beside.clone(),
    }
}
