use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::quantity::{Base, QuantityError, Tallied};
use crate::stats::StdDev;

/// Portions weighed, each as a ratio to what the recipe says, in whole millionths: so that pooling
/// in any order gives the same digits.
///
/// ```
/// use parings_core::quantity::Base;
/// use parings_core::usage::Samples;
/// let grams = |g: i64| Base::new(g.into());
/// let mut week = Samples::default();
/// for weight in [206, 198, 208] {
///     week.add(grams(weight), grams(200));
/// }
/// assert_eq!(week.count(), 3);
/// assert_eq!(week.mean().unwrap().to_string(), "1.02");
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Samples {
    count: u64,
    sum: i64,
    squares: i128,
}

impl Samples {
    /// Samples from the sums that are kept of them: how many, and the sums and squares of
    /// millionths.
    pub fn from_parts(count: u64, sum: i64, squares: i128) -> Self {
        Self { count, sum, squares }
    }

    /// How many portions were weighed.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// The sum of the ratios, in millionths.
    pub fn sum(&self) -> i64 {
        self.sum
    }

    /// The sum of the squares of those millionths.
    pub fn squares(&self) -> i128 {
        self.squares
    }

    /// Takes a portion. One without a standard, or thirty times its standard, says nothing
    /// about portioning and is left out.
    pub fn add(&mut self, weight: Base, standard: Base) {
        let ratio = weight
            .value()
            .checked_div(standard.value())
            .and_then(|r| r.checked_mul(Decimal::from(1_000_000)))
            .and_then(|r| r.round().to_i64());
        if let Some(millionths) = ratio
            && (0..30_000_000).contains(&millionths)
        {
            self.count += 1;
            self.sum += millionths;
            self.squares += i128::from(millionths) * i128::from(millionths);
        }
    }

    /// These and others together.
    #[must_use]
    pub fn merge(self, other: Self) -> Self {
        Self {
            count: self.count + other.count,
            sum: self.sum + other.sum,
            squares: self.squares + other.squares,
        }
    }

    /// The mean ratio, to six places; none without samples.
    pub fn mean(&self) -> Option<Decimal> {
        let count = Decimal::from(self.count);
        let mean = Decimal::new(self.sum, 6).checked_div(count)?;
        Some(mean.round_dp(6).normalize())
    }

    /// What each part of the samples contributes to `over`, which is `expected` times the mean less
    /// one: a part's own distance from the recipe, so that the parts add up to it in every digit.
    ///
    /// # Errors
    /// [`QuantityError`] when an amount is too large to tally.
    ///
    /// ```
    /// use parings_core::quantity::{Base, Tallied};
    /// use parings_core::usage::Samples;
    /// let weighed = |grams: i64| {
    ///     let mut one = Samples::default();
    ///     one.add(Base::new(grams.into()), Base::new(200.into()));
    ///     one
    /// };
    /// // 3 % over and 1 % under of 100 kg expected: 1 % over in all.
    /// let kg = |kg: i64| Tallied::from_thousandths(kg * 500_000);
    /// let parts = Samples::shares(&[weighed(206), weighed(198)], kg(200), kg(2)).unwrap();
    /// assert_eq!(parts, [kg(3), kg(-1)]);
    /// ```
    pub fn shares(
        parts: &[Self],
        expected: Tallied,
        over: Tallied,
    ) -> Result<Vec<Tallied>, QuantityError> {
        let all = parts.iter().fold(Self::default(), |all, part| all.merge(*part));
        let n = Decimal::from(all.count.max(1));
        let mut left = over;
        let mut shares = Vec::new();
        for (at, part) in parts.iter().enumerate() {
            let portions = Decimal::from(part.count) / n;
            let mean_of_all = Decimal::new(all.sum, 6) / n;
            let apart = Decimal::new(part.sum, 6) - mean_of_all * Decimal::from(part.count);
            let exact = over.base() * portions + expected.base() * (apart / n);
            let last = at + 1 == parts.len();
            let share = if last { left } else { exact.settle()? };
            left -= share;
            shares.push(share);
        }
        Ok(shares)
    }

    /// How far the mean may be off, one standard deviation; none below two samples.
    pub fn standard_error(&self) -> Option<StdDev> {
        if self.count < 2 {
            return None;
        }
        #[expect(clippy::cast_precision_loss, reason = "statistics")]
        let (n, sum, squares) = (self.count as f64, self.sum as f64, self.squares as f64);
        let variance = ((squares - sum * sum / n) / (n - 1.0)).max(0.0) / 1e12;
        StdDev::new((variance / n).sqrt()).ok()
    }
}
