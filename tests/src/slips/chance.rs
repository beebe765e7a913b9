//! Chance with a seed.

use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};

/// A seeded source of chance.
pub struct Chance(StdRng);

impl Chance {
    pub fn new(seed: u64) -> Self {
        Self(StdRng::seed_from_u64(seed))
    }

    /// Evenly from 0 up to 1.
    pub fn share(&mut self) -> f64 {
        self.0.random()
    }

    pub fn happens(&mut self, share: f64) -> bool {
        self.share() < share
    }

    /// Evenly between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    pub fn one_of<'a, T>(&mut self, all: &'a [T]) -> Option<&'a T> {
        let at = (self.share() * all.len() as f64) as usize;
        all.get(at)
    }

    /// Normal with mean 0 and standard deviation 1 (Box and Muller, 1958).
    pub fn normal(&mut self) -> f64 {
        let (u, v) = (1.0 - self.share(), self.share());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }

    /// Student's t with three degrees of freedom, scaled to standard deviation 1: noise with heavy
    /// tails.
    pub fn heavy(&mut self) -> f64 {
        let chi: f64 = (0..3).map(|_| self.normal().powi(2)).sum();
        self.normal() / (chi / 3.0).sqrt() / 3_f64.sqrt()
    }

    /// How often something happens that happens so often on average, more unevenly than by chance
    /// alone: the mean itself varies by a share (a normal one in place of the gamma of a negative
    /// binomial, and a normal approximation of the count).
    pub fn count(&mut self, mean: f64, spread: f64) -> u32 {
        let mean = (mean * (1.0 + spread * self.normal())).max(0.0);
        (mean + mean.sqrt() * self.normal()).round().max(0.0) as u32
    }
}
