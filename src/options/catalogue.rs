//! What can be planted: the materials of block.toml, and plain assumed ones where it names none that serve.

use crate::base::seed::hash;
use crate::base::words::options as words;
use crate::base::{Assumptions, Quantity, Seed};
use crate::block::{Block, Material};
use crate::rates::{Draws, NewBatch, new_batch};
use crate::stats::special::normal_quantile;
use crate::tally::{Cell, Tally};

/// A material as the options reckon with it.
#[derive(Clone, Debug)]
pub struct Stock {
    pub name: String,
    /// Money per vine; none: the assumption `material.price_per_vine`.
    pub price_per_vine: Option<Quantity>,
    /// Stand of a delivery not yet seen, after its first season.
    pub stand: NewBatch,
    /// Kilograms a mature vine bears in a year.
    pub mature_crop_kg: Option<Quantity>,
    pub price_per_kg: Option<Quantity>,
    /// Stocks of [`Catalogue::stocks`] whose crop and whose price these are: its own where stated, else those of the
    /// first stock of the same variety that states them.
    pub crop_of: usize,
    pub price_of: usize,
    /// First winter in which it can be planted, 0 the winter of the walk.
    pub first_winter: u32,
    keys: Keys,
}

/// What draws of the stock hang on: its name, and for the price of its crop the variety, whose market is one.
#[derive(Clone, Copy, Debug)]
struct Keys {
    name: u64,
    variety: u64,
}

/// Events that draws are keyed by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Event {
    Stand = 1,
    PricePerVine = 2,
    Crop = 3,
    PricePerKg = 4,
}

impl Stock {
    /// Whether two stocks' crops are sold on one market.
    pub fn sells_with(&self, other: &Stock) -> bool {
        self.keys.variety == other.keys.variety
    }

    /// 10 % and 90 % points of the stand about its mean: the range that sensitivity runs go over.
    pub fn stand_range(&self) -> Quantity {
        let mean = self.stand.mean();
        Quantity { p10: self.stand.quantile(0.1).min(mean), p50: mean, p90: self.stand.quantile(0.9).max(mean) }
    }

    /// Normal score of an event of this stock in a draw.
    pub fn score(&self, seed: Seed, draw: u64, event: Event) -> f64 {
        normal_quantile(self.uniform(seed, draw, 0, event))
    }

    /// Uniform of an event of this stock in a draw: the same in every option that the event happens in.
    pub fn uniform(&self, seed: Seed, draw: u64, winter: u32, event: Event) -> f64 {
        let material = match event {
            Event::Stand | Event::PricePerVine | Event::Crop => self.keys.name,
            Event::PricePerKg => self.keys.variety,
        };
        seed.keyed("options.stock", &[draw, material, u64::from(winter), event as u64])
    }
}

/// All stocks, and which of them serve the standard options.
#[derive(Clone, Debug)]
pub struct Catalogue {
    pub stocks: Vec<Stock>,
    /// What stands in the block.
    pub own: usize,
    /// The same variety on another rootstock, or another clone of it.
    pub another_stock: usize,
    pub another_variety: usize,
}

/// The block's commonest levels; none where unknown.
struct Commonest<'a> {
    variety: Option<&'a str>,
    clone: Option<&'a str>,
    rootstock: Option<&'a str>,
}

impl Catalogue {
    /// The stocks of a block. `first_winter` tells of a material the first winter in which it can be planted.
    pub fn of(block: &Block, tally: &Tally, draws: Option<&Draws>, first_winter: impl Fn(&Material) -> u32) -> Self {
        let block_has = Commonest::of(tally);
        let mut materials = block.materials.clone();
        let mut pick = |fits: &dyn Fn(&Material) -> bool, name: &str| {
            let found = block.materials.iter().position(fits);
            found.unwrap_or_else(|| {
                materials.push(Material { name: name.into(), ..Material::default() });
                materials.len() - 1
            })
        };
        let own = pick(&|m| block_has.is_same(m), words::THE_SAME_VINES);
        let another_stock = pick(&|m| block_has.is_other_stock(m), words::ANOTHER_STOCK);
        let another_variety = pick(&|m| block_has.is_other_variety(m), words::ANOTHER_VARIETY);
        // Of one variety with the block, even where no label says so.
        let grapes = block_has.variety.unwrap_or(words::THE_SAME_VINES);
        for same in [own, another_stock] {
            materials[same].variety.get_or_insert_with(|| grapes.into());
        }
        let stock = |m: &Material| as_stock(block, (tally, draws), m, first_winter(m));
        let mut stocks: Vec<Stock> = materials.iter().map(stock).collect();
        lend(&mut stocks);
        Catalogue { stocks, own, another_stock, another_variety }
    }

    /// Index of the stock of this name.
    pub fn named(&self, name: &str) -> Option<usize> {
        self.stocks.iter().position(|s| s.name == name)
    }
}

/// Stocks that don't state a crop or a price take those of their variety.
fn lend(stocks: &mut [Stock]) {
    for at in 0..stocks.len() {
        let lender = |states: fn(&Stock) -> bool| {
            let lends = |i: &usize| states(&stocks[*i]) && stocks[*i].sells_with(&stocks[at]);
            if states(&stocks[at]) { at } else { (0..stocks.len()).find(lends).unwrap_or(at) }
        };
        let (crop, price) = (lender(|s| s.mature_crop_kg.is_some()), lender(|s| s.price_per_kg.is_some()));
        (stocks[at].crop_of, stocks[at].price_of) = (crop, price);
    }
    for at in 0..stocks.len() {
        stocks[at].mature_crop_kg = stocks[stocks[at].crop_of].mature_crop_kg;
        stocks[at].price_per_kg = stocks[stocks[at].price_of].price_per_kg;
    }
}

/// The stand of the next delivery of a material: this block's batches, what is stated, or both.
fn next_delivery(tally: &Tally, draws: Option<&Draws>, material: &Material, assumptions: &Assumptions) -> NewBatch {
    let stated = material.first_year_stand.unwrap_or_else(|| assumptions.quantity("take.new_batch"));
    new_batch(tally, draws, stated, material.stand_from, assumptions)
}

fn as_stock(block: &Block, (tally, draws): (&Tally, Option<&Draws>), m: &Material, first_winter: u32) -> Stock {
    Stock {
        name: m.name.clone(),
        price_per_vine: m.price_per_vine,
        stand: next_delivery(tally, draws, m, &block.assumptions),
        mature_crop_kg: m.mature_crop_kg,
        price_per_kg: m.price_per_kg,
        crop_of: 0,
        price_of: 0,
        first_winter,
        keys: Keys { name: hash(&m.name), variety: hash(m.variety.as_deref().unwrap_or(&m.name)) },
    }
}

impl<'a> Commonest<'a> {
    fn of(tally: &'a Tally) -> Self {
        let level = |factor| commonest(tally, factor);
        Commonest { variety: level("variety"), clone: level("clone"), rootstock: level("rootstock") }
    }

    /// Named after the block's vines, or the same in one thing known of both and in no such thing different.
    fn is_same(&self, m: &Material) -> bool {
        let pairs = [(self.variety, &m.variety), (self.clone, &m.clone), (self.rootstock, &m.rootstock)];
        let named = pairs.iter().any(|(has, _)| *has == Some(m.name.as_str()));
        let equal = pairs.iter().any(|(has, of)| has.is_some() && *has == of.as_deref());
        (named || equal) && !pairs.iter().any(|(has, of)| differs(*has, of))
    }

    /// Another rootstock or clone, and not another variety: gaps in a row aren't filled with other grapes.
    fn is_other_stock(&self, m: &Material) -> bool {
        let other = differs(self.clone, &m.clone) || differs(self.rootstock, &m.rootstock);
        other && !differs(self.variety, &m.variety)
    }

    fn is_other_variety(&self, m: &Material) -> bool {
        differs(self.variety, &m.variety)
    }
}

/// Known of both and not the same.
fn differs(has: Option<&str>, of: &Option<String>) -> bool {
    matches!((has, of.as_deref()), (Some(a), Some(b)) if a != b)
}

/// The level of a factor that most vines were planted of.
fn commonest<'a>(tally: &'a Tally, factor: &str) -> Option<&'a str> {
    let at = tally.factors.iter().position(|f| f.name == factor)?;
    let planted = |level: usize| {
        let of_level = |c: &&Cell| c.codes.get(at).is_some_and(|code| *code as usize == level);
        tally.cells.iter().filter(of_level).map(|c| c.counts.planted).sum::<u64>()
    };
    let levels = &tally.factors.get(at)?.levels;
    let most = (0..levels.len()).max_by_key(|l| (planted(*l), std::cmp::Reverse(*l)))?;
    levels.get(most).map(String::as_str)
}
