//! Money over the years: present value, internal rate, annuities.
//!
//! Letters: c(t) the flow of year t, t = 0 now and not discounted; r the rate a year, above -1 (0.05 is 5 %).
//! Whether real or nominal is the caller's: flows and rate must agree. Formulas: Brealey & Myers (1981), chapters 2
//! to 5, `brealey-myers-1981` (from memory).

/// Lowest rate taken: below it a present value has no meaning.
const LOWEST_RATE: f64 = -0.999_999;

/// Net present value, the sum of c(t) (1+r)^-t. A rate at or below -1 (or no number) is taken as -0.999999.
pub fn npv(rate: f64, flows: &[f64]) -> f64 {
    let discount = 1.0 / (1.0 + rate.max(LOWEST_RATE));
    flows.iter().rev().fold(0.0, |later, flow| flow + later * discount)
}

/// Internal rate of return: the rate above -1 at which [`npv`] is 0; of several, the one nearest to 0.
/// None where there is none, or where a flow is not finite.
pub fn irr(flows: &[f64]) -> Option<f64> {
    internal_rates(flows).into_iter().min_by(|a, b| a.abs().total_cmp(&b.abs()))
}

/// Every rate above -1 at which [`npv`] is 0, rising. More than one: the flows change sign more than once, and no
/// single rate describes them.
///
/// With x = 1/(1+r) the present value is a polynomial: its roots in (0, 1] are the rates from 0 up, and those of the
/// reversed one in (0, 1) the rates below 0. They are isolated by Descartes' rule on Bernstein coefficients, halving
/// (Lane & Riesenfeld 1981, `lane-riesenfeld-1981`), so none that crosses is missed.
pub fn internal_rates(flows: &[f64]) -> Vec<f64> {
    if flows.iter().any(|c| !c.is_finite()) {
        return Vec::new();
    }
    let Some(first) = flows.iter().position(|&c| c != 0.0) else { return Vec::new() };
    let last = flows.iter().rposition(|&c| c != 0.0).unwrap_or(first);
    let ahead = &flows[first..=last];
    let back: Vec<f64> = ahead.iter().rev().copied().collect();
    let mut rates: Vec<f64> = roots_in_unit(&back).into_iter().map(|y| y - 1.0).collect();
    rates.extend(roots_in_unit(ahead).into_iter().map(|x| 1.0 / x - 1.0));
    rates.retain(|r| r.is_finite());
    rates.sort_by(f64::total_cmp);
    rates.dedup_by(|a, b| (*a - *b).abs() <= 1e-9 * (1.0 + a.abs()));
    rates
}

/// Roots in (0, 1] of the polynomial with these coefficients, constant first and not 0.
fn roots_in_unit(coefficients: &[f64]) -> Vec<f64> {
    let mut roots = Vec::new();
    let size: f64 = coefficients.iter().map(|c| c.abs()).sum();
    if coefficients.iter().sum::<f64>().abs() <= 1e-15 * size {
        roots.push(1.0);
    }
    let mut parts = vec![(0.0, 1.0, bernstein(coefficients))];
    while let Some((low, high, part)) = parts.pop() {
        match sign_changes(&part) {
            0 => {}
            1 => roots.extend(crossing(coefficients, low, high)),
            // Two roots as near as this are one that touches.
            _ if high - low < 1e-12 => roots.push(0.5 * (low + high)),
            _ => {
                let middle = 0.5 * (low + high);
                let (left, right) = halves(part);
                if right.first() == Some(&0.0) {
                    roots.push(middle);
                }
                parts.push((low, middle, left));
                parts.push((middle, high, right));
            }
        }
    }
    roots
}

/// Bernstein coefficients on 0..1: b(j) = sum over i <= j of C(j,i) / C(n,i) c(i).
fn bernstein(coefficients: &[f64]) -> Vec<f64> {
    let n = coefficients.len() - 1;
    let at = |j: usize| {
        let mut weight = 1.0;
        let mut sum = 0.0;
        for (i, c) in coefficients.iter().enumerate().take(j + 1) {
            sum += weight * c;
            weight *= (j - i) as f64 / (n - i).max(1) as f64;
        }
        sum
    };
    (0..=n).map(at).collect()
}

fn sign_changes(coefficients: &[f64]) -> usize {
    let signs: Vec<bool> = coefficients.iter().filter(|&&c| c != 0.0).map(|&c| c > 0.0).collect();
    signs.windows(2).filter(|pair| pair[0] != pair[1]).count()
}

/// Bernstein coefficients on both halves (de Casteljau).
fn halves(mut part: Vec<f64>) -> (Vec<f64>, Vec<f64>) {
    let n = part.len();
    let mut left = Vec::with_capacity(n);
    for k in 0..n {
        left.push(part[0]);
        for i in 0..n - 1 - k {
            part[i] = 0.5 * (part[i] + part[i + 1]);
        }
    }
    (left, part)
}

/// The one root between two points, by bisection; None where rounding shows no change of sign.
fn crossing(coefficients: &[f64], mut low: f64, mut high: f64) -> Option<f64> {
    let value = |x: f64| coefficients.iter().rev().fold(0.0, |sum, c| c + sum * x);
    let rising = value(low) < 0.0;
    if rising == (value(high) < 0.0) {
        return None;
    }
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if (value(middle) < 0.0) == rising { low = middle } else { high = middle }
    }
    Some(0.5 * (low + high))
}

/// Modified internal rate: what the outlays, financed at `finance_rate`, turn into by the last year when the returns
/// are put out at `reinvest_rate`. (future value of returns / present value of outlays)^(1/n) - 1 over n years.
/// None without both an outlay and a return, or with a single flow.
pub fn mirr(flows: &[f64], finance_rate: f64, reinvest_rate: f64) -> Option<f64> {
    let years = flows.len().checked_sub(1).filter(|&years| years > 0)?;
    let returns: Vec<f64> = flows.iter().map(|c| c.max(0.0)).collect();
    let outlays: Vec<f64> = flows.iter().map(|c| (-c).max(0.0)).collect();
    let (returned, laid_out) = (npv(reinvest_rate, &returns), npv(finance_rate, &outlays));
    let sound = returned > 0.0 && laid_out > 0.0 && (returned / laid_out).is_finite();
    let growth = 1.0 + reinvest_rate.max(LOWEST_RATE);
    sound.then(|| (returned / laid_out).powf(1.0 / years as f64) * growth - 1.0)
}

/// Present value of 1 at the end of each of `years` years: (1 - (1+r)^-n) / r, and n where r is 0.
pub fn annuity(rate: f64, years: u32) -> f64 {
    let rate = rate.max(LOWEST_RATE);
    let n = f64::from(years);
    // expm1 and ln_1p keep the digits of small rates.
    if rate == 0.0 { n } else { -(-n * rate.ln_1p()).exp_m1() / rate }
}

/// Yearly payment that recovers 1 in `years` years: 1 / [`annuity`]; None for no years.
pub fn capital_recovery(rate: f64, years: u32) -> Option<f64> {
    (years > 0).then(|| 1.0 / annuity(rate, years))
}

/// Real rate of a nominal one under inflation: (1 + i) / (1 + f) - 1.
pub fn real_rate(nominal: f64, inflation: f64) -> f64 {
    (nominal - inflation) / (1.0 + inflation.max(LOWEST_RATE))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn near(got: f64, want: f64, tolerance: f64) {
        assert!((got - want).abs() <= tolerance, "{got} {want}");
    }

    #[test]
    fn textbook_values() {
        // Common formulas, worked with a calculator to the digits shown.
        near(npv(0.05, &[-100.0, 0.0, 0.0, 0.0, 40.0, 40.0, 40.0, 40.0]), 22.5250, 5e-5);
        for (rate, years, a, crf) in [
            (0.05, 25, 14.09394, 0.070952),
            (0.0475, 22, 13.46829, 0.074248),
            (0.06, 20, 11.46992, 0.087185),
            (0.03, 25, 17.41315, 0.057428),
        ] {
            near(annuity(rate, years), a, 5e-6);
            near(capital_recovery(rate, years).unwrap_or(0.0), crf, 5e-7);
        }
        near(annuity(0.0, 7), 7.0, 0.0);
        near(annuity(1e-12, 7), 7.0, 1e-9);
        near(real_rate(0.06, 0.04), 0.01923, 5e-6);
    }

    #[test]
    fn rates_by_hand() {
        assert_eq!(internal_rates(&[-100.0, 230.0, -132.0]).len(), 2); // 10 % and 20 %
        near(irr(&[-100.0, 230.0, -132.0]).unwrap_or(0.0), 0.1, 1e-12);
        near(irr(&[-100.0, 0.0, 121.0]).unwrap_or(0.0), 0.1, 1e-12);
        near(irr(&[-100.0, 50.0]).unwrap_or(0.0), -0.5, 1e-12);
        near(irr(&[-100.0, 100.0]).unwrap_or(1.0), 0.0, 1e-12);
        near(irr(&[0.0, -100.0, 110.0, 0.0]).unwrap_or(0.0), 0.1, 1e-12);
        // (x - 1/1.1)^2 only touches 0.
        near(irr(&[1.0, -2.2, 1.21]).unwrap_or(0.0), 0.1, 1e-6);
    }

    #[test]
    fn no_rate_is_none() {
        for flows in [&[][..], &[0.0, 0.0], &[5.0], &[-1.0, -2.0], &[3.0, -4.0, 5.0], &[-1.0, f64::NAN]] {
            assert_eq!(irr(flows), None, "{flows:?}");
        }
        assert_eq!(mirr(&[-1.0, -2.0], 0.05, 0.05), None);
        assert_eq!(mirr(&[3.0], 0.05, 0.05), None);
        assert_eq!(capital_recovery(0.05, 0), None);
    }

    #[test]
    fn many_years_are_no_trouble() {
        let mut flows = vec![0.06; 41];
        flows[0] = -1.0;
        let rate = irr(&flows).unwrap_or(0.0);
        near(npv(rate, &flows), 0.0, 1e-12);
        assert_eq!(internal_rates(&flows).len(), 1);
    }
}
