//! Chance from a seed: xoshiro256++ of D. Blackman and S. Vigna, seeded by SplitMix64, so that a
//! chain is the same everywhere and for ever.

/// A stream of chance.
#[derive(Debug, Clone)]
pub struct Chance([u64; 4]);

impl Chance {
    /// The stream of a seed.
    pub fn new(seed: u64) -> Self {
        let mut state = seed;
        Self(std::array::from_fn(|_| {
            state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mixed = (state ^ (state >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            mixed ^ (mixed >> 31)
        }))
    }

    fn next(&mut self) -> u64 {
        let s = &mut self.0;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let shifted = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= shifted;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// Between 0 and 1, neither of them.
    pub fn uniform(&mut self) -> f64 {
        ((self.next() >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    /// Between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// A whole number below `end`.
    pub fn below(&mut self, end: usize) -> usize {
        (self.uniform() * end as f64) as usize
    }

    /// Whether something happens that does so with this probability.
    pub fn happens(&mut self, probability: f64) -> bool {
        self.uniform() < probability
    }

    /// Standard normal (G. E. P. Box and M. E. Muller, 1958).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }

    /// Student's t, scaled to a standard deviation of 1; more than 2 degrees.
    pub fn student(&mut self, degrees: f64) -> f64 {
        let spread = self.gamma(degrees / 2.0) * 2.0 / degrees;
        self.normal() / spread.sqrt() * ((degrees - 2.0) / degrees).sqrt()
    }

    /// Gamma of a shape, with scale 1 (G. Marsaglia and W. W. Tsang, 2000).
    pub fn gamma(&mut self, shape: f64) -> f64 {
        if shape < 1.0 {
            let boost = self.uniform().powf(1.0 / shape);
            return self.gamma(shape + 1.0) * boost;
        }
        let d = shape - 1.0 / 3.0;
        let c = 1.0 / (9.0 * d).sqrt();
        loop {
            let x = self.normal();
            let v = (1.0 + c * x).powi(3);
            if v > 0.0 && self.uniform().ln() < 0.5 * x * x + d - d * v + d * v.ln() {
                return d * v;
            }
        }
    }

    /// How many of `n` happen.
    pub fn binomial(&mut self, n: u64, probability: f64) -> u64 {
        (0..n).filter(|_| self.happens(probability)).count() as u64
    }

    /// How many of `n` happen when their probability itself differs from night to night: trials of
    /// a night agree as much as `agreement`, 0 to 1.
    pub fn beta_binomial(&mut self, n: u64, probability: f64, agreement: f64) -> u64 {
        let both = (1.0 - agreement) / agreement;
        let (a, b) = (self.gamma(probability * both), self.gamma((1.0 - probability) * both));
        self.binomial(n, a / (a + b))
    }

    /// Poisson of a small mean (D. E. Knuth).
    pub fn poisson(&mut self, mean: f64) -> u64 {
        let (limit, mut product, mut count) = ((-mean).exp(), self.uniform(), 0);
        while product > limit {
            product *= self.uniform();
            count += 1;
        }
        count
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Moments of the distributions themselves, within what 20,000 draws allow.
    #[test]
    fn draws_have_the_moments_they_should() {
        let mut chance = Chance::new(7);
        let mut draw = |of: &mut dyn FnMut(&mut Chance) -> f64| {
            let values: Vec<f64> = (0..20_000).map(|_| of(&mut chance)).collect();
            let mean = values.iter().sum::<f64>() / 20_000.0;
            let variance = values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 20_000.0;
            (mean, variance)
        };
        let near = |(mean, variance): (f64, f64), m: f64, v: f64| {
            assert!((mean - m).abs() < 0.05 * (1.0 + m), "{mean} for {m}");
            assert!((variance - v).abs() < 0.1 * (1.0 + v), "{variance} for {v}");
        };
        near(draw(&mut |c| c.normal()), 0.0, 1.0);
        near(draw(&mut |c| c.student(6.0)), 0.0, 1.0);
        near(draw(&mut |c| c.gamma(2.5)), 2.5, 2.5);
        near(draw(&mut |c| c.gamma(0.5)), 0.5, 0.5);
        near(draw(&mut |c| c.poisson(3.0) as f64), 3.0, 3.0);
        near(draw(&mut |c| c.binomial(40, 0.25) as f64), 10.0, 7.5);
        // n·p·q·(1 + (n − 1)·agreement).
        near(draw(&mut |c| c.beta_binomial(40, 0.25, 0.05) as f64), 10.0, 7.5 * 2.95);
    }
}
