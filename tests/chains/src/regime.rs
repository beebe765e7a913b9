//! How the nights of an invented chain differ. A review is to be good in all of these, not in one.

/// How recorded waste differs from night to night.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WasteNoise {
    /// Normal on the log scale, with this spread.
    Log(f64),
    /// Student's t on the log scale: spread and degrees.
    HeavyLog(f64, f64),
    /// A sum of so many discards a night, each gamma with this shape: nights of none happen.
    Discards(f64, f64),
}

/// A kind of chain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Regime {
    /// Its name in the table.
    pub name: &'static str,
    /// Recorded waste.
    pub waste: WasteNoise,
    /// How stores' usual waste differs, on the log scale.
    pub waste_between: f64,
    /// Spread of use beyond what was expected, as a part of it.
    pub use_noise: f64,
    /// Its degrees of freedom; heavy tails below ten.
    pub use_degrees: f64,
    /// Error of a count at either end, kg.
    pub count_error: f64,
    /// Spread of batch yield, points.
    pub yield_noise: f64,
    /// How tickets of a night agree.
    pub agreement: f64,
    /// Spread and memory of a slow wander of each store, in units of its nightly noise.
    pub wander: (f64, f64),
    /// Spread of what a district's stores share on a night, in units of their nightly noise.
    pub shared: f64,
    /// Waste is weighed in steps of this, kg.
    pub step: f64,
    /// How much slower tickets are where more are late: of the logarithm of the odds.
    pub times_tell: f64,
    /// Whether the sheet tells lots, and whether it calls small stores by a format of their own.
    pub tells_lots: bool,
    /// The same of kiosks.
    pub tells_kiosks: bool,
    /// Whether a night after a missing one covers both.
    pub spans: bool,
}

/// The kinds of chains, in turn by seed.
pub const REGIMES: &[Regime] = &[
    Regime {
        name: "even",
        waste: WasteNoise::Log(0.42),
        waste_between: 0.16,
        use_noise: 0.028,
        use_degrees: 30.0,
        count_error: 2.0,
        yield_noise: 2.0,
        agreement: 0.02,
        wander: (0.0, 0.0),
        shared: 0.2,
        step: 0.1,
        times_tell: 0.2,
        tells_lots: true,
        tells_kiosks: true,
        spans: false,
    },
    Regime {
        name: "heavy tails",
        waste: WasteNoise::HeavyLog(0.45, 4.0),
        waste_between: 0.20,
        use_noise: 0.028,
        use_degrees: 5.0,
        count_error: 2.0,
        yield_noise: 2.1,
        agreement: 0.035,
        wander: (0.0, 0.0),
        shared: 0.3,
        step: 0.1,
        times_tell: 0.1,
        tells_lots: true,
        tells_kiosks: true,
        spans: true,
    },
    Regime {
        name: "discards",
        waste: WasteNoise::Discards(7.0, 1.2),
        waste_between: 0.18,
        use_noise: 0.026,
        use_degrees: 8.0,
        count_error: 3.5,
        yield_noise: 2.3,
        agreement: 0.02,
        wander: (0.0, 0.0),
        shared: 0.25,
        step: 0.05,
        times_tell: 0.0,
        tells_lots: false,
        tells_kiosks: true,
        spans: true,
    },
    Regime {
        name: "wandering",
        waste: WasteNoise::Log(0.38),
        waste_between: 0.18,
        use_noise: 0.026,
        use_degrees: 10.0,
        count_error: 1.5,
        yield_noise: 1.8,
        agreement: 0.025,
        wander: (0.25, 0.85),
        shared: 0.3,
        step: 0.1,
        times_tell: 0.2,
        tells_lots: true,
        tells_kiosks: false,
        spans: false,
    },
    Regime {
        name: "lots untold",
        waste: WasteNoise::HeavyLog(0.40, 6.0),
        waste_between: 0.15,
        use_noise: 0.026,
        use_degrees: 8.0,
        count_error: 2.5,
        yield_noise: 1.7,
        agreement: 0.03,
        wander: (0.15, 0.6),
        shared: 0.5,
        step: 0.5,
        times_tell: 0.1,
        tells_lots: false,
        tells_kiosks: false,
        spans: false,
    },
];
