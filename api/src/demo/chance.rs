//! Chance with a seed: the same seed gives the same two weeks.

use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use uuid::Uuid;

/// A seeded source of chance.
pub struct Chance(StdRng);

impl Chance {
    /// The source of a seed.
    pub fn new(seed: u64) -> Self {
        Self(StdRng::seed_from_u64(seed))
    }

    /// Evenly from 0 up to 1.
    pub fn share(&mut self) -> f64 {
        self.0.random()
    }

    /// Whether something happens that happens so often.
    pub fn happens(&mut self, share: f64) -> bool {
        self.share() < share
    }

    /// About normal with mean 0 and standard deviation 1, never past 3: the sum of twelve even
    /// draws less six, held within bounds so that no invented night is absurd.
    pub fn normal(&mut self) -> f64 {
        let sum: f64 = (0..12).map(|_| self.share()).sum();
        (sum - 6.0).clamp(-3.0, 3.0)
    }

    /// Near a mean, with a standard deviation that is a share of it.
    pub fn near(&mut self, mean: f64, spread: f64) -> f64 {
        mean * (1.0 + spread * self.normal())
    }

    /// How often something happened that happens so often on average (Poisson, by Knuth's
    /// multiplication of even draws).
    pub fn count(&mut self, mean: f64) -> u32 {
        let (mut left, mut times) = (mean, 0);
        loop {
            left += self.share().max(f64::MIN_POSITIVE).ln();
            if left < 0.0 {
                return times;
            }
            times += 1;
        }
    }

    /// An id as a client would make it (RFC 9562, version 4).
    pub fn id(&mut self) -> Uuid {
        uuid::Builder::from_random_bytes(self.0.random()).into_uuid()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_seed_gives_the_same_draws_with_the_means_asked_for() {
        let draw = |seed| {
            let mut chance = Chance::new(seed);
            let counts: Vec<u32> = (0..2000).map(|_| chance.count(12.0)).collect();
            let normals: Vec<f64> = (0..2000).map(|_| chance.normal()).collect();
            (counts, normals, chance.id())
        };
        assert_eq!(draw(1), draw(1));
        assert_ne!(draw(1).2, draw(2).2);
        let (counts, normals, _) = draw(1);
        let mean = counts.iter().map(|n| f64::from(*n)).sum::<f64>() / 2000.0;
        // Four standard errors: the square root of 12 / 2000, and of 1 / 2000.
        assert!((mean - 12.0).abs() < 0.31, "{mean}");
        let mean = normals.iter().sum::<f64>() / 2000.0;
        let spread = (normals.iter().map(|z| z * z).sum::<f64>() / 2000.0).sqrt();
        assert!(mean.abs() < 0.09 && (spread - 1.0).abs() < 0.07, "{mean} {spread}");
    }
}
