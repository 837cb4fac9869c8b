//! What the results come to, in sentences: shared by the first section and the one screen.

use super::labels::{ACTIONS, clause, factor, listed, sentence};
use super::part::Answer;
use crate::base::Known;
use crate::base::words::number;
use crate::base::words::{fill, pattern, report as words};
use crate::cause::unsettled::Unsettled;
use crate::cause::{Associated, Cause};
use crate::options::{Outlook, Spread, Year, YearSpread};
use crate::order::Order;
use crate::study::Study;
use crate::triage::Action;

/// The advice, a few sentences to each question.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Advice {
    pub what: Vec<String>,
    pub why: Vec<String>,
    pub cost: Vec<String>,
    pub sure: Vec<String>,
    /// What the failures follow.
    pub follows: Vec<String>,
    pub unknown: Vec<String>,
    pub next: Vec<String>,
}

impl Advice {
    /// As questions and answers; a question without an answer is left out.
    pub fn answers(self) -> Vec<Answer> {
        let asked = [
            (words::ASKED_WHAT, self.what),
            (words::ASKED_WHY, self.why),
            (words::ASKED_COST, self.cost),
            (words::ASKED_SURE, self.sure),
            (words::ASKED_FOLLOWS, self.follows),
            (words::ASKED_UNKNOWN, self.unknown),
            (words::ASKED_NEXT, self.next),
        ];
        let said = asked.into_iter().filter(|(_, said)| !said.is_empty());
        said.map(|(question, said)| Answer { question, said: said.join(" ") }).collect()
    }
}

/// The advice for a block.
pub fn advice(study: &Study) -> Advice {
    Advice {
        what: what(study),
        why: why(study),
        cost: cost(study),
        sure: sure(study),
        follows: follows(study),
        unknown: unknown(study),
        next: next(study),
    }
}

/// The option that is recommended, if one is.
pub fn recommended(study: &Study) -> Option<&Outlook> {
    let options = study.options.as_ref().ok()?;
    let name = options.recommended.value()?;
    options.options.iter().find(|o| o.name == *name)
}

/// The orders, none where no option could be weighed or nothing needs to be bought.
pub fn orders(study: &Study) -> &[Order] {
    study.orders.as_ref().map_or(&[], |o| &o.orders)
}

fn what(study: &Study) -> Vec<String> {
    let mut said = decision(study);
    let orders = orders(study);
    said.extend(orders.iter().map(order_sentence));
    if orders.is_empty() && recommended(study).is_some() {
        said.push(words::ORDER_NONE.into());
    }
    said.push(work(study));
    said
}

/// What is recommended, or why nothing is.
fn decision(study: &Study) -> Vec<String> {
    let options = match &study.options {
        Err(refused) => {
            return vec![fill(words::REFUSED, &[("problem", &clause(&refused.to_string()))])];
        }
        Ok(options) => options,
    };
    match (recommended(study), &options.recommended) {
        (Some(outlook), _) => vec![lead(study, outlook), sentence(&outlook.what)],
        (None, Known::Absent(why)) => vec![fill(words::NOT_RECOMMENDED, &[("reason", &clause(&why.reason))])],
        (None, Known::Value(name)) => vec![fill(words::RECOMMENDED, &[("option", &clause(name))])],
    }
}

/// The option in a few words, with the doubt that goes with it.
fn lead(study: &Study, outlook: &Outlook) -> String {
    let option = clause(&outlook.name);
    if nothing_to_fill(study) {
        return words::NOTHING_TO_FILL.into();
    }
    let Known::Value(best) = &outlook.probability_best else {
        return fill(words::RECOMMENDED_UNDRAWN, &[("option", &option)]);
    };
    match second(study, outlook) {
        Some((second, p)) if p > *best && number::chance(p) != number::chance(*best) => {
            fill(words::RECOMMENDED_LESS_OFTEN, &[("option", &option), ("second", &second)])
        }
        Some((second, p)) if best - p < study.block.assumptions.get("advice.narrow_lead") => {
            fill(words::RECOMMENDED_NARROWLY, &[("option", &option), ("second", &second)])
        }
        _ => fill(words::RECOMMENDED, &[("option", &option)]),
    }
}

/// Whether the block has no gap: then all options that fill gaps come to the same.
pub fn nothing_to_fill(study: &Study) -> bool {
    planned(study) == 0 && orders(study).is_empty()
}

/// Places that the work list replaces or holds.
pub fn planned(study: &Study) -> u64 {
    total(study, Action::Replace) + total(study, Action::Hold)
}

/// Places that need this.
pub fn total(study: &Study, action: Action) -> u64 {
    study.triage.totals.get(&action).copied().unwrap_or(0)
}

/// The other option that is best most often, and its share of the futures drawn; none if it never is.
pub fn second<'a>(study: &'a Study, outlook: &Outlook) -> Option<(&'a str, f64)> {
    let others = study.options.as_ref().ok()?.options.iter().filter(|o| o.name != outlook.name);
    let chances = others.filter_map(|o| Some((clause(&o.name), *o.probability_best.value()?)));
    chances.max_by(|a, b| a.1.total_cmp(&b.1)).filter(|(_, p)| *p > 0.0)
}

fn order_sentence(order: &Order) -> String {
    let (needed, sure) = (number::count(order.needed), number::chance(order.sure));
    match (&order.order, &order.order_by) {
        (Known::Absent(why), _) => {
            fill(words::ORDER_NOT_SURE, &[("material", &order.material), ("reason", &clause(&why.reason))])
        }
        (Known::Value(n), Known::Value(day)) => fill(
            words::ORDER_BY,
            &[
                ("order", &number::count(*n)),
                ("material", &order.material),
                ("day", &number::day(*day)),
                ("needed", &needed),
                ("sure", &sure),
            ],
        ),
        (Known::Value(n), Known::Absent(_)) => fill(
            words::ORDER_ANYTIME,
            &[("order", &number::count(*n)), ("material", &order.material), ("needed", &needed), ("sure", &sure)],
        ),
    }
}

fn work(study: &Study) -> String {
    let counts: Vec<String> = ACTIONS
        .iter()
        .filter(|a| !a.letter.is_empty())
        .filter_map(|a| study.triage.totals.get(&a.action).filter(|n| **n > 0).map(|n| (a.look.label, n)))
        .map(|(label, n)| format!("{label} {}", number::count(*n)))
        .collect();
    if counts.is_empty() {
        return words::NO_WORK.into();
    }
    let hours = number::hours(study.triage.labour_hours);
    let held = total(study, Action::Hold) > 0;
    fill(
        if held { words::WORK_AND_HELD } else { words::WORK_THIS_WINTER },
        &[("work", &listed(&counts)), ("hours", &hours)],
    )
}

fn why(study: &Study) -> Vec<String> {
    let weighed = study.options.as_ref().ok().filter(|_| !nothing_to_fill(study));
    let reason = weighed.map(|o| sentence(&o.why)).unwrap_or_default();
    [reason, stand(study)].into_iter().filter(|s| !s.is_empty()).collect()
}

fn stand(study: &Study) -> String {
    let rates = &study.rates;
    let (failed, seen) = (number::count(rates.failed), number::count(rates.seen));
    match &rates.stand {
        Known::Absent(_) => fill(words::STAND_UNKNOWN, &[("failed", &failed), ("seen", &seen)]),
        Known::Value(e) => fill(
            words::STAND_NOW,
            &[
                ("failed", &failed),
                ("seen", &seen),
                ("stand", &number::percent(e.value)),
                ("level", &number::chance(study.settings.level)),
                ("low", &number::percent(e.low)),
                ("high", &number::percent(e.high)),
            ],
        ),
    }
}

fn cost(study: &Study) -> Vec<String> {
    let Some(outlook) = recommended(study) else { return Vec::new() };
    let money = |amount: f64| number::money(amount, &study.block.currency);
    let mut said = Vec::new();
    if let Some(first) = outlook.yearly.first().filter(|y| y.year == 0) {
        let cost = money(first.cost);
        said.push(match &outlook.cash_low_point {
            Known::Value(low) if *low <= -0.5 => fill(words::COST_FIRST, &[("cost", &cost), ("low", &money(-low))]),
            _ => fill(words::COST_FIRST_ONLY, &[("cost", &cost)]),
        });
    }
    said.push(worth(outlook, &money));
    said.extend(orders(study).iter().filter_map(|o| {
        let (order, price) = (number::count(*o.order.value()?), money(*o.price.value()?));
        let needed = number::count(o.needed);
        Some(fill(words::VINES_COST, &[("order", &order), ("price", &price), ("needed", &needed)]))
    }));
    said
}

fn worth(outlook: &Outlook, money: &dyn Fn(f64) -> String) -> String {
    let years = horizon(outlook);
    match &outlook.present_value {
        Known::Absent(why) => fill(words::WORTH_UNKNOWN, &[("reason", &clause(&why.reason))]),
        Known::Value(s) if !is_spread(s) => fill(words::WORTH_EXPECTED, &[("years", &years), ("mean", &money(s.mean))]),
        Known::Value(s) => fill(
            words::WORTH,
            &[("years", &years), ("mean", &money(s.mean)), ("low", &money(s.p10)), ("high", &money(s.p90))],
        ),
    }
}

/// Whether chance was drawn at all.
pub fn is_spread(spread: &Spread) -> bool {
    spread.p10 < spread.p90
}

fn sure(study: &Study) -> Vec<String> {
    let Some(outlook) = recommended(study) else { return Vec::new() };
    let mut said = Vec::new();
    if !nothing_to_fill(study) {
        said.push(best_said(study, outlook));
    }
    said.extend(outlook.full_crop_year.value().and_then(|y| full_from(outlook, y)));
    said.extend(orders(study).iter().filter_map(|o| {
        let (order, chance) = (o.order.value()?, o.probability_enough.value()?);
        let values: [(&str, &dyn std::fmt::Display); 4] = [
            ("order", &number::count(*order)),
            ("material", &o.material),
            ("needed", &number::count(o.needed)),
            ("chance", &number::chance(*chance)),
        ];
        Some(fill(words::SURE_ORDER, &values))
    }));
    said
}

/// How often the option is the best, and which comes next.
fn best_said(study: &Study, outlook: &Outlook) -> String {
    let best = match &outlook.probability_best {
        Known::Absent(why) => return fill(words::SURE_BEST_UNKNOWN, &[("reason", &clause(&why.reason))]),
        Known::Value(p) => number::chance(*p),
    };
    let n = number::count(study.settings.draws as u64);
    match second(study, outlook) {
        None => fill(words::SURE_BEST, &[("chance", &best), ("n", &n)]),
        Some((second, p)) => fill(
            words::SURE_BEST_SECOND,
            &[("chance", &best), ("n", &n), ("second", &second), ("other", &number::chance(p))],
        ),
    }
}

fn full_from(outlook: &Outlook, years: &YearSpread) -> Option<String> {
    let year = harvest(outlook, &years.p50)?;
    match (harvest(outlook, &years.p10), harvest(outlook, &years.p90)) {
        (Some(low), Some(high)) if low != high => {
            Some(fill(words::SURE_FULL, &[("year", &year), ("low", &low), ("high", &high)]))
        }
        _ => Some(fill(words::SURE_FULL_ONE, &[("year", &year)])),
    }
}

/// A counted harvest as it is said: its calendar year, or its number where the walk has no date.
pub fn harvest(outlook: &Outlook, year: &Known<u32>) -> Option<String> {
    let year = year.value()?;
    outlook.yearly.iter().find(|y| y.year == *year).map(season_said)
}

/// A year as it is said: this winter, a calendar year, or its number where the walk has no date.
pub fn season_said(year: &Year) -> String {
    match &year.harvest {
        _ if year.year == 0 => words::THIS_WINTER.into(),
        Known::Value(harvest) => harvest.to_string(),
        Known::Absent(_) => fill(words::YEAR_NUMBERED, &[("n", &year.year)]),
    }
}

/// Where a year stands on an axis: its calendar year, or its number where the walk has no date.
pub fn season(year: &Year) -> f64 {
    year.harvest.value().map_or_else(|| f64::from(year.year), |h| f64::from(*h))
}

/// How many harvests an option was followed for.
pub fn horizon(outlook: &Outlook) -> u32 {
    outlook.yearly.last().map_or(0, |y| y.year)
}

/// The verdict with its probability, and what failures are associated with; empty where it can't be told.
pub fn follows(study: &Study) -> Vec<String> {
    match study.cause.verdict.value() {
        Some(verdict) if verdict != "cannot_tell" => told(&study.cause, verdict),
        _ => Vec::new(),
    }
}

/// What can't be told of why vines failed: the levels in doubt first.
pub fn unknown(study: &Study) -> Vec<String> {
    let cause = &study.cause;
    let mut said = Vec::new();
    if !cause.cannot_tell_between.is_empty() {
        let names: Vec<String> = cause.cannot_tell_between.iter().map(|n| factor(n)).collect();
        said.push(fill(words::CAUSE_CANT_TELL, &[("names", &listed(&names))]));
    }
    said.extend(coincides(cause));
    if let Known::Absent(why) = &cause.verdict {
        said.push(fill(words::CAUSE_ABSENT, &[("reason", &clause(&why.reason))]));
        said.push(words::CAUSE_CLEARS_NOBODY.into());
    }
    said
}

/// The explanation that the evidence supports with its probability, and the levels that failures are associated with.
fn told(cause: &Cause, verdict: &str) -> Vec<String> {
    let name = factor(verdict);
    let probability = cause.explanations.iter().find(|e| e.name == verdict).map(|e| number::chance(e.probability));
    let mut said = vec![match probability {
        Some(chance) => fill(pattern::TOLD, &[("verdict", &name), ("chance", &chance)]),
        None => fill(words::CAUSE_TOLD, &[("verdict", &name)]),
    }];
    let of_verdict = |a: &&Associated| verdict.split('+').any(|part| part == a.factor) && a.excess_failures >= 0.5;
    said.extend(cause.associated.value().into_iter().flatten().filter(of_verdict).map(associated));
    said
}

fn associated(a: &Associated) -> String {
    let level = format!("{} {}", factor(&a.factor), a.level);
    fill(
        pattern::ASSOCIATED,
        &[
            ("level", &level),
            ("stand", &number::percent(a.stand)),
            ("others", &number::percent(a.others_stand)),
            ("excess", &number::whole(a.excess_failures)),
        ],
    )
}

/// The level with most failures in excess that something else explains just as well; none where the
/// evidence supports chance.
fn coincides(cause: &Cause) -> Option<String> {
    if cause.verdict.value().is_some_and(|v| v == "chance") {
        return None;
    }
    let unsettled = &cause.unsettled;
    let in_doubt = |u: &&Unsettled| !u.just_as_well.is_empty();
    let first = weightiest(unsettled).into_iter().find(in_doubt)?;
    let level = format!("{} {}", factor(&first.factor), first.level);
    let others: Vec<&str> = first.just_as_well.iter().map(|t| t.with.as_str()).collect();
    let sentence = if others.len() == 1 { pattern::COINCIDES_ONE } else { pattern::COINCIDES };
    let excess = number::plain(first.excess_failures.value()?.round());
    Some(fill(sentence, &[("level", &level), ("excess", &excess), ("others", &listed(&others))]))
}

/// The levels to speak of first: batches where any is in doubt, for clones and rootstocks differ through them; in order.
pub fn weightiest(unsettled: &[Unsettled]) -> Vec<&Unsettled> {
    let in_excess = |u: &&Unsettled| u.excess_failures.value().is_some_and(|e| *e >= 0.5);
    let all: Vec<&Unsettled> = unsettled.iter().filter(in_excess).collect();
    let batches: Vec<&Unsettled> = all.iter().copied().filter(|u| u.factor == "batch").collect();
    if batches.is_empty() { all } else { batches }
}

/// What comes next: the look that settles what is open, then the order, else the work itself.
fn next(study: &Study) -> Vec<String> {
    let again = total(study, Action::LookAgain);
    let look = (again > 0).then(|| fill(words::NEXT_LOOK, &[("n", &number::count(again))]));
    let due = orders(study).iter().filter(|o| o.order.value().is_some_and(|n| *n > 0)).map(next_order);
    let said: Vec<String> = look.into_iter().chain(due).collect();
    if !said.is_empty() {
        return said;
    }
    let works = Action::ALL.into_iter().any(|a| a != Action::Leave && total(study, a) > 0);
    vec![(if works { words::NEXT_WORK } else { words::NEXT_NOTHING }).into()]
}

fn next_order(order: &Order) -> String {
    match &order.order_by {
        Known::Value(day) => fill(words::NEXT_ORDER, &[("material", &order.material), ("day", &number::day(*day))]),
        Known::Absent(_) => fill(words::NEXT_ORDER_ANYTIME, &[("material", &order.material)]),
    }
}
