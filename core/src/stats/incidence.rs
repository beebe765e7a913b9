use super::{Interval, StatsError};

/// How often something happened over an exposure: stock-outs over open hours, discards over batches.
///
/// ```
/// use parings_core::stats::Incidence;
/// let stock_outs = Incidence::new(3, 12.0).unwrap();
/// assert_eq!(stock_outs.rate(), 0.25);
/// assert!(Incidence::new(3, 0.0).is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Incidence {
    events: u64,
    exposure: f64,
}

impl Incidence {
    /// Takes the events and what they were counted over, finite and above 0; else
    /// [`StatsError::Exposure`].
    pub fn new(events: u64, exposure: f64) -> Result<Self, StatsError> {
        if exposure.is_finite() && exposure > 0.0 {
            Ok(Self { events, exposure })
        } else {
            Err(StatsError::Exposure)
        }
    }

    /// The events.
    pub fn events(self) -> u64 {
        self.events
    }

    /// What they were counted over.
    pub fn exposure(self) -> f64 {
        self.exposure
    }

    /// Events over exposure.
    pub fn rate(self) -> f64 {
        self.events as f64 / self.exposure
    }
}

/// Incidences that should have one and the same rate: the u chart, and the c chart of the
/// NIST/SEMATECH e-Handbook 6.3.3.1 where every exposure is the same. How far a rate may lie off goes
/// with its exposure. Counts that lie on a limit are within it.
///
/// ```
/// use parings_core::stats::{Incidence, Incidences};
/// // Stock-outs of five weeks, over open hours.
/// let weeks = [(2, 70.0), (3, 70.0), (1, 60.0), (14, 70.0), (2, 35.0)]
///     .map(|(events, hours)| Incidence::new(events, hours).unwrap());
/// let chart = Incidences::of(&weeks).unwrap();
/// let out = weeks.iter().filter(|week| !chart.within(**week)).count();
/// assert_eq!(out, 1);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Incidences {
    centre: Incidence,
}

impl Incidences {
    /// Takes at least one incidence; else [`StatsError::Sample`]. [`StatsError::Exposure`] when they
    /// add up to more than a number holds.
    pub fn of(incidences: &[Incidence]) -> Result<Self, StatsError> {
        if incidences.is_empty() {
            return Err(StatsError::Sample);
        }
        let events = incidences.iter().try_fold(0u64, |sum, one| sum.checked_add(one.events));
        let exposure = incidences.iter().map(|one| one.exposure).sum();
        Ok(Self { centre: Incidence::new(events.ok_or(StatsError::Exposure)?, exposure)? })
    }

    /// All events over all exposure.
    pub fn centre(self) -> Incidence {
        self.centre
    }

    /// The rates three standard deviations to either side of the common one, for such an exposure, not
    /// below 0; [`StatsError::Exposure`] for one that is not above 0.
    pub fn limits(self, exposure: f64) -> Result<Interval, StatsError> {
        let over = Incidence::new(0, exposure)?;
        let rate = self.centre.rate();
        let half = 3.0 * (rate / over.exposure).sqrt();
        Ok(Interval { low: (rate - half).max(0.0), high: rate + half })
    }

    /// Whether an incidence lies within the limits of its exposure.
    pub fn within(self, incidence: Incidence) -> bool {
        self.limits(incidence.exposure).is_ok_and(|limits| limits.contains(incidence.rate()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counts(events: &[u64]) -> Vec<Incidence> {
        events.iter().map(|events| Incidence::new(*events, 1.0).unwrap()).collect()
    }

    fn out(chart: Incidences, incidences: &[Incidence]) -> Vec<usize> {
        let numbered = incidences.iter().enumerate();
        numbered.filter(|(_, one)| !chart.within(**one)).map(|(at, _)| at + 1).collect()
    }

    /// Source: NIST/SEMATECH e-Handbook 6.3.3.1, data of NIST Dataplot MONITOR-6_3_3_1.DAT (read in its
    /// repository), printed limits 28 and 4 from memory; recomputed. The third count is 28.
    #[test]
    fn nist_6_3_3_1() {
        let wafers = counts(&[
            16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19,
            16, 31, 13,
        ]);
        let chart = Incidences::of(&wafers).unwrap();
        assert_eq!(chart.centre().rate(), 16.0);
        assert_eq!(chart.limits(1.0), Ok(Interval { low: 4.0, high: 28.0 }));
        assert_eq!(out(chart, &wafers), [24]);
    }

    /// Source: data of qcc 3.0, circuit.txt (D. C. Montgomery 1991, 173–175), read in its repository;
    /// limits recomputed.
    #[test]
    fn counts_of_circuit_boards() {
        let boards = counts(&[
            21, 24, 16, 12, 15, 5, 28, 20, 31, 25, 20, 24, 16, 19, 10, 17, 13, 22, 18, 39, 30, 24,
            16, 19, 17, 15,
        ]);
        let chart = Incidences::of(&boards).unwrap();
        let limits = chart.limits(1.0).unwrap();
        assert!((limits.low - 6.481447167165914).abs() < 1e-12);
        assert!((limits.high - 33.21086052514178).abs() < 1e-12);
        assert_eq!(out(chart, &boards), [6, 20]);
        let new = counts(&[
            16, 18, 12, 15, 24, 21, 28, 20, 25, 19, 18, 21, 16, 22, 19, 12, 14, 9, 16, 21,
        ]);
        assert_eq!(out(chart, &new), [0usize; 0]);
    }

    /// Source: NIST Dataplot CCC.DAT and CCU.DAT (K. Ishikawa, Guide to Quality Control, 81–84), read
    /// in its repository; limits recomputed in numpy.
    #[test]
    fn ishikawas_counts_of_equal_and_unequal_size() {
        let equal = counts(&[6, 5, 3, 5, 3, 8, 3, 5, 4, 3, 6, 4, 6, 6, 6, 5, 7, 6, 9, 13]);
        let chart = Incidences::of(&equal).unwrap();
        assert!((chart.centre().rate() - 5.65).abs() < 1e-12);
        assert_eq!(out(chart, &equal), [20]);
        let sizes = [2.0, 2.5, 2.25, 2.75];
        let highs = [5.206820331712912, 4.880821905648922, 5.030220290415123, 4.752290091891641];
        let events = [
            (0, vec![4, 3, 3, 4, 5, 3]),
            (1, vec![6, 7, 5, 3, 5, 5, 4]),
            (2, vec![6, 5, 4, 4, 6]),
            (3, vec![8, 8]),
        ];
        let of_size = |(size, events): &(usize, Vec<u64>)| {
            let one = |n: &u64| Incidence::new(*n, sizes[*size]).unwrap();
            events.iter().map(one).collect::<Vec<_>>()
        };
        let unequal: Vec<Incidence> = events.iter().flat_map(of_size).collect();
        let chart = Incidences::of(&unequal).unwrap();
        assert!((chart.centre().rate() - 2.118918918918919).abs() < 1e-12);
        for (size, high) in sizes.into_iter().zip(highs) {
            let limits = chart.limits(size).unwrap();
            assert!((limits.high - high).abs() < 1e-12 && limits.low == 0.0, "{limits:?}");
        }
        assert_eq!(out(chart, &unequal), [0usize; 0]);
    }

    #[test]
    fn what_is_no_chart_is_refused() {
        assert_eq!(Incidence::new(1, f64::NAN), Err(StatsError::Exposure));
        assert_eq!(Incidences::of(&[]), Err(StatsError::Sample));
        let most = Incidence::new(u64::MAX, 1.0).unwrap();
        assert_eq!(Incidences::of(&[most; 2]), Err(StatsError::Exposure));
        assert_eq!(Incidences::of(&[most]).unwrap().limits(-1.0), Err(StatsError::Exposure));
    }
}
