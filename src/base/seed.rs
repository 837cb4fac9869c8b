//! One seed in, named streams out.
//!
//! Each user of chance asks for a stream by name and replicate, so that a new user moves nobody's numbers
//! and the number of threads changes nothing. `keyed` is for common random numbers: a uniform that depends on
//! what happens (draw, year, material, event), never on how many numbers were drawn before.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha12Rng;
use serde::Serialize;

/// The run's seed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Seed(u64);

impl Seed {
    pub fn new(number: u64) -> Self {
        Seed(number)
    }

    pub fn number(self) -> u64 {
        self.0
    }

    /// The generator of stream `name`, replicate `replicate`.
    pub fn stream(self, name: &str, replicate: u64) -> ChaCha12Rng {
        let mut rng = ChaCha12Rng::seed_from_u64(mix(self.0 ^ hash(name)));
        rng.set_stream(replicate);
        rng
    }

    /// A uniform in the open interval (0, 1), the same for the same seed and keys.
    pub fn keyed(self, name: &str, keys: &[u64]) -> f64 {
        let state = keys.iter().fold(mix(self.0 ^ hash(name)), |s, k| mix(s ^ mix(*k)));
        open_unit(state)
    }
}

/// FNV-1a of a name, so that streams don't depend on the standard library's hasher.
pub fn hash(name: &str) -> u64 {
    name.bytes().fold(0xcbf2_9ce4_8422_2325, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3))
}

/// The finaliser of SplitMix64 (Steele, Lea & Flood 2014, OOPSLA, fig. 17; from memory).
fn mix(value: u64) -> u64 {
    let mut z = value.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

fn open_unit(bits: u64) -> f64 {
    ((bits >> 11) as f64 + 0.5) / (1u64 << 53) as f64
}

/// A uniform in (0, 1) from a generator.
pub fn uniform(rng: &mut impl Rng) -> f64 {
    open_unit(rng.next_u64())
}

/// An index below `n` (n >= 1) without bias (Lemire 2019, ACM TOMACS 29(1):3; from memory).
pub fn below(rng: &mut impl Rng, n: usize) -> usize {
    let n = n as u64;
    loop {
        let product = u128::from(rng.next_u64()) * u128::from(n);
        let low = product as u64;
        if low >= n || low >= n.wrapping_neg() % n {
            return (product >> 64) as usize;
        }
    }
}

/// Fisher-Yates shuffle: every order equally likely.
pub fn shuffle<T>(items: &mut [T], rng: &mut impl Rng) {
    for i in (1..items.len()).rev() {
        items.swap(i, below(rng, i + 1));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn first_numbers_never_change() {
        let mut rng = Seed::new(42).stream("golden", 7);
        let first = rng.next_u64();
        let again = Seed::new(42).stream("golden", 7).next_u64();
        assert_eq!(first, again);
        assert_ne!(first, Seed::new(42).stream("golden", 8).next_u64());
        assert_ne!(first, Seed::new(42).stream("other", 7).next_u64());
    }

    #[test]
    fn keyed_uniforms_are_uniform() {
        let n = 10_000;
        let mean = (0..n).map(|i| Seed::new(1).keyed("k", &[i, 3])).sum::<f64>() / n as f64;
        assert!((mean - 0.5).abs() < 0.012, "{mean}"); // 4 standard errors
    }

    #[test]
    fn below_is_even() {
        let mut rng = Seed::new(3).stream("below", 0);
        let mut seen = [0; 3];
        (0..30_000).for_each(|_| seen[below(&mut rng, 3)] += 1);
        assert!(seen.iter().all(|&n: &i32| (n - 10_000).abs() < 400), "{seen:?}");
    }
}
