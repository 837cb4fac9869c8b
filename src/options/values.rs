//! The numbers that a plan is priced with: every assumption and every quantity of a material, by name.

use super::catalogue::{Event, Stock};
use super::plan::Plan;
use crate::base::{Assumptions, Quantity, Scale, Seed};
use crate::stats::special::normal_quantile;

/// The assumptions that the options use.
pub const USED: &[&str] = &[
    "triage.share_strong_when_unmeasured",
    "labour.price_per_hour",
    "labour.take_up_minutes",
    "labour.cut_back_minutes",
    "labour.pull_minutes",
    "labour.replant_minutes",
    "labour.plant_minutes",
    "labour.move_minutes",
    "labour.look_again_minutes",
    "material.price_per_vine",
    "material.guard_price",
    "material.tie_price",
    "material.ties_per_vine",
    "block.upkeep_per_place",
    "block.harvest_per_kg",
    "block.clear_price_per_place",
    "money.discount_rate",
    "options.horizon_years",
    "take.new_batch",
    "take.replant_factor",
    "options.refill_share",
    "take.moved",
    "loss.per_year",
    "growth.cut_back_delay_years",
    "growth.moved_delay_years",
    "growth.replant_final_share",
    "crop.leaf_1",
    "crop.leaf_2",
    "crop.leaf_3",
    "crop.leaf_4",
    "crop.leaf_5",
    "crop.first_from_share",
    "crop.full_from_share",
    "stand.new_batch_spread",
];

/// Assumptions that are drawn, with the scale they are drawn on. The others are held at their value.
const DRAWN: [(&str, Scale); 4] = [
    ("take.replant_factor", Scale::Rate),
    ("take.moved", Scale::Rate),
    ("loss.per_year", Scale::Rate),
    ("material.price_per_vine", Scale::Amount),
];

/// Years that options are followed: `options.horizon_years`, at least 1 and at most 100.
pub fn horizon(assumptions: &Assumptions) -> usize {
    assumptions.get("options.horizon_years").clamp(1.0, 100.0).round() as usize
}

/// What a stock costs and bears.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StockValues {
    pub price_per_vine: f64,
    pub crop_kg: Option<f64>,
    pub price_per_kg: Option<f64>,
}

/// One set of numbers: the expected ones, one draw's, or those with one of them moved.
#[derive(Clone, Debug)]
pub struct Values {
    pub years: usize,
    pub rate: f64,
    pub labour_per_hour: f64,
    /// Minutes of each job.
    pub take_up: f64,
    pub cut_back: f64,
    pub look_again: f64,
    pub pull: f64,
    pub replant: f64,
    pub plant: f64,
    pub shift: f64,
    pub guard: f64,
    pub ties: f64,
    pub clear: f64,
    pub upkeep: f64,
    pub harvest_per_kg: f64,
    pub strong_share: f64,
    pub replant_factor: f64,
    pub refill_share: f64,
    pub take_moved: f64,
    pub loss: f64,
    pub cut_back_delay: f64,
    pub moved_delay: f64,
    pub replant_final: f64,
    /// Share of a full crop by leaf, 0 at leaf 0.
    pub ramp: [f64; 6],
    pub first_from: f64,
    pub full_from: f64,
    pub stocks: Vec<StockValues>,
    /// Stand of each delivery of [`Model::deliveries`].
    pub stands: Vec<f64>,
}

/// What values are made from: the table, the stocks, and the deliveries that the plans plant.
pub struct Model<'a> {
    pub assumptions: &'a Assumptions,
    pub stocks: &'a [Stock],
    /// Stock and winter of every planting of any plan, each once.
    pub deliveries: Vec<(usize, u32)>,
}

impl<'a> Model<'a> {
    pub fn new<'p>(assumptions: &'a Assumptions, stocks: &'a [Stock], plans: impl Iterator<Item = &'p Plan>) -> Self {
        let mut deliveries: Vec<_> = plans.flat_map(Plan::deliveries).collect();
        deliveries.sort_unstable();
        deliveries.dedup();
        Model { assumptions, stocks, deliveries }
    }

    /// The expected path: medians of prices, crops and assumptions, the mean of the stand.
    pub fn expected(&self) -> Values {
        self.values(self.assumptions)
    }

    fn values(&self, a: &Assumptions) -> Values {
        let stands = self.deliveries.iter().map(|(stock, _)| self.stocks.get(*stock).map_or(0.0, |s| s.stand.mean()));
        Values {
            years: horizon(a),
            rate: a.get("money.discount_rate"),
            labour_per_hour: a.get("labour.price_per_hour"),
            take_up: a.get("labour.take_up_minutes"),
            cut_back: a.get("labour.cut_back_minutes"),
            look_again: a.get("labour.look_again_minutes"),
            pull: a.get("labour.pull_minutes"),
            replant: a.get("labour.replant_minutes"),
            plant: a.get("labour.plant_minutes"),
            shift: a.get("labour.move_minutes"),
            guard: a.get("material.guard_price"),
            ties: a.get("material.tie_price") * a.get("material.ties_per_vine"),
            clear: a.get("block.clear_price_per_place"),
            upkeep: a.get("block.upkeep_per_place"),
            harvest_per_kg: a.get("block.harvest_per_kg"),
            strong_share: a.get("triage.share_strong_when_unmeasured").min(1.0),
            replant_factor: a.get("take.replant_factor"),
            refill_share: a.get("options.refill_share").min(1.0),
            take_moved: a.get("take.moved").min(1.0),
            loss: a.get("loss.per_year").min(1.0),
            cut_back_delay: a.get("growth.cut_back_delay_years"),
            moved_delay: a.get("growth.moved_delay_years"),
            replant_final: a.get("growth.replant_final_share"),
            ramp: ramp(a),
            first_from: a.get("crop.first_from_share"),
            full_from: a.get("crop.full_from_share"),
            stocks: self.stocks.iter().map(|s| stock_values(s, a)).collect(),
            stands: stands.collect(),
        }
    }

    /// The values of one draw. Every number hangs on the draw, the material and the event, never on the option or
    /// on what was drawn before, so that options differ by what they do and by nothing else.
    pub fn drawn(&self, expected: &Values, seed: Seed, draw: u64) -> Values {
        let mut v = expected.clone();
        let assumed = |at: usize| {
            let (name, scale) = DRAWN[at];
            let z = normal_quantile(seed.keyed("options.assumption", &[draw, at as u64]));
            self.assumptions.quantity(name).at_z(z, scale)
        };
        v.replant_factor = assumed(0);
        v.take_moved = assumed(1).min(1.0);
        v.loss = assumed(2).min(1.0);
        let price_per_vine = assumed(3);
        for (values, stock) in v.stocks.iter_mut().zip(self.stocks) {
            let amount = |q: Option<Quantity>, event| Some(q?.at_z(stock.score(seed, draw, event), Scale::Amount));
            let of = |lender: usize, q: Option<Quantity>, event| {
                let lender = self.stocks.get(lender).unwrap_or(stock);
                Some(q?.at_z(lender.score(seed, draw, event), Scale::Amount))
            };
            values.price_per_vine = amount(stock.price_per_vine, Event::PricePerVine).unwrap_or(price_per_vine);
            values.crop_kg = of(stock.crop_of, stock.mature_crop_kg, Event::Crop);
            values.price_per_kg = of(stock.price_of, stock.price_per_kg, Event::PricePerKg);
        }
        for (stand, (stock, winter)) in v.stands.iter_mut().zip(&self.deliveries) {
            if let Some(stock) = self.stocks.get(*stock) {
                *stand = stock.stand.quantile(stock.uniform(seed, draw, *winter, Event::Stand));
            }
        }
        v
    }

    /// Every number that can be moved: the assumptions used, then what is stated or expected of materials in play.
    /// Prices of one variety's crop move together, under the name of the first material that states one.
    pub fn knobs(&self) -> Vec<Knob> {
        // Stands are moved per material, which is what these two lead to.
        let by_stand = ["take.new_batch", "stand.new_batch_spread"];
        let mut knobs: Vec<Knob> = USED.iter().filter(|n| !by_stand.contains(n)).map(|n| Knob::Assumption(n)).collect();
        for (stock, s) in self.stocks.iter().enumerate() {
            let priced = |s: &Stock| s.price_per_kg.is_some();
            let states = |i: usize| self.stocks[i].price_of == i && priced(&self.stocks[i]);
            let first_of_market = !(0..stock).any(|i| states(i) && self.stocks[i].sells_with(s));
            let planted = self.deliveries.iter().any(|d| d.0 == stock);
            let stated = [
                (Event::Stand, planted),
                (Event::PricePerVine, planted && s.price_per_vine.is_some()),
                (Event::Crop, s.crop_of == stock && s.mature_crop_kg.is_some()),
                (Event::PricePerKg, s.price_of == stock && priced(s) && first_of_market),
            ];
            knobs.extend(stated.iter().filter(|s| s.1).map(|(event, _)| Knob::Stock(stock, *event)));
        }
        knobs
    }

    /// The knob's value now and its plausible range.
    pub fn range(&self, knob: Knob) -> Quantity {
        match knob {
            Knob::Assumption(name) => self.assumptions.quantity(name),
            Knob::Stock(stock, event) => {
                self.stocks.get(stock).and_then(|s| quantity(s, event)).unwrap_or(Quantity::certain(0.0))
            }
        }
    }

    /// The expected values with one number moved.
    pub fn moved(&self, expected: &Values, knob: Knob, to: f64) -> Values {
        let (stock, event) = match knob {
            Knob::Assumption(name) => return self.values(&self.assumptions.with(name, to)),
            Knob::Stock(stock, event) => (stock, event),
        };
        let mut v = expected.clone();
        let Some(moved) = self.stocks.get(stock) else { return v };
        let now = self.range(knob).p50;
        for (i, (values, s)) in v.stocks.iter_mut().zip(self.stocks).enumerate() {
            match event {
                Event::PricePerVine if i == stock => values.price_per_vine = to,
                Event::Crop if s.crop_of == stock => values.crop_kg = Some(to),
                // One market: what is paid for the others rises and falls with it.
                Event::PricePerKg if s.sells_with(moved) && now > 0.0 => {
                    values.price_per_kg = values.price_per_kg.map(|p| p * to / now);
                }
                _ => {}
            }
        }
        if event == Event::Stand {
            let of_stock = self.deliveries.iter().map(|d| d.0 == stock);
            v.stands.iter_mut().zip(of_stock).filter(|s| s.1).for_each(|(stand, _)| *stand = to);
        }
        v
    }

    /// The knob's name: an assumption's, or the path of a material's quantity in block.toml.
    pub fn name(&self, knob: Knob) -> String {
        match knob {
            Knob::Assumption(name) => name.into(),
            Knob::Stock(stock, event) => {
                let name = self.stocks.get(stock).map_or("", |s| s.name.as_str());
                format!("materials.\"{name}\".{}", field(event))
            }
        }
    }
}

/// A number that sensitivity runs move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Knob {
    Assumption(&'static str),
    Stock(usize, Event),
}

fn field(event: Event) -> &'static str {
    match event {
        Event::Stand => "first_year_stand",
        Event::PricePerVine => "price_per_vine",
        Event::Crop => "mature_crop_kg",
        Event::PricePerKg => "price_per_kg",
    }
}

fn quantity(stock: &Stock, event: Event) -> Option<Quantity> {
    match event {
        Event::Stand => Some(stock.stand_range()),
        Event::PricePerVine => stock.price_per_vine,
        Event::Crop => stock.mature_crop_kg,
        Event::PricePerKg => stock.price_per_kg,
    }
}

fn stock_values(stock: &Stock, a: &Assumptions) -> StockValues {
    StockValues {
        price_per_vine: stock.price_per_vine.map_or(a.get("material.price_per_vine"), |q| q.p50),
        crop_kg: stock.mature_crop_kg.map(|q| q.p50),
        price_per_kg: stock.price_per_kg.map(|q| q.p50),
    }
}

fn ramp(a: &Assumptions) -> [f64; 6] {
    let leaf = ["crop.leaf_1", "crop.leaf_2", "crop.leaf_3", "crop.leaf_4", "crop.leaf_5"];
    let mut ramp = [0.0; 6];
    ramp[1..].iter_mut().zip(leaf).for_each(|(share, name)| *share = a.get(name));
    ramp
}
