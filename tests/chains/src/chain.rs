//! An invented chain of about 240 stores over 112 nights, with faults planted in the last 28.

use parings_core::calendar::BusinessDate;
use parings_core::review::{Column, Figures, Label, Labels, Sheet, Status, StoreNight, UnitCost};

use crate::chance::Chance;
use crate::fault::{Fault, FaultKind, PLANTS};
use crate::regime::{REGIMES, Regime, WasteNoise};

/// Nights of a chain.
pub const NIGHTS: usize = 112;
/// Of those, the last that are watched.
pub const WATCHED: usize = 28;
/// Districts of a chain.
pub const DISTRICTS: usize = 22;
const STORES_EACH: usize = 11;

/// A chain, and what is wrong with it.
pub struct Chain {
    /// What its nights were like.
    pub regime: &'static Regime,
    /// The nights.
    pub sheet: Sheet,
    /// What was planted.
    pub faults: Vec<Fault>,
    /// Stores in the order they were made, by their label.
    pub stores: Vec<Label>,
    /// The district of each.
    pub districts: Vec<Label>,
}

/// A store as it really is.
struct Truth {
    portions: f64,
    waste_share: f64,
    use_bias: f64,
    batch_yield: f64,
    late_odds: f64,
    ticket_s: f64,
    kiosk: bool,
    format: usize,
    district: usize,
    /// Where its slow wanders stand: waste, use, yield, lateness.
    wander: [f64; 4],
    count_error: f64,
    last_waste: f64,
}

/// What stores share on a night.
struct Night {
    volume: f64,
    waste: f64,
    used: f64,
    late: f64,
    promotion: bool,
    /// By district: waste, use, yield, lateness.
    districts: Vec<[f64; 4]>,
    /// By district: its lot, and how much less the lot yields, in points.
    lots: Vec<(usize, f64)>,
}

impl Chain {
    /// The chain of a seed; seeds go through the regimes in turn.
    pub fn new(seed: u64) -> Self {
        Self::of(seed, DISTRICTS, NIGHTS)
    }

    /// One of so many districts of eleven stores, of which the first so many nights are told.
    pub fn of(seed: u64, districts: usize, told: usize) -> Self {
        let regime = &REGIMES[(seed % REGIMES.len() as u64) as usize];
        let mut chance = Chance::new(seed.wrapping_mul(7919).wrapping_add(17));
        let truths: Vec<Truth> =
            (0..districts * STORES_EACH).map(|at| truth(&mut chance, regime, at)).collect();
        let faults = plant(&mut chance, &truths, districts);
        let nights = nights(&mut chance, regime, districts);
        Making { regime, chance, truths, faults, nights, labels: Labels::default() }.chain(told)
    }

    /// The first night watched.
    pub fn watched_from(&self) -> BusinessDate {
        self.sheet.span().to().plus_days(1 - WATCHED as i64)
    }
}

fn truth(chance: &mut Chance, regime: &Regime, at: usize) -> Truth {
    let kiosk = chance.happens(0.08);
    let portions = if kiosk { chance.between(80.0, 160.0) } else { chance.between(300.0, 1000.0) };
    Truth {
        portions,
        waste_share: 0.035 * (regime.waste_between * chance.normal()).exp(),
        use_bias: 0.04 + 0.012 * chance.normal(),
        batch_yield: 0.67 + 0.008 * chance.normal(),
        late_odds: 0.14 * (0.25 * chance.normal()).exp(),
        ticket_s: 340.0 * (0.08 * chance.normal()).exp(),
        kiosk,
        format: if chance.happens(0.3) { 1 } else { 0 },
        district: at / STORES_EACH,
        wander: [0.0; 4],
        count_error: 0.0,
        last_waste: 0.0,
    }
}

/// Plants every fault at a store of its own. One district has two at once, 15 % of it and more.
fn plant(chance: &mut Chance, truths: &[Truth], districts: usize) -> Vec<Fault> {
    let mut free: Vec<usize> = (0..truths.len()).collect();
    let mut take = |chance: &mut Chance, district: Option<usize>| loop {
        let at = chance.below(free.len());
        if district.is_none_or(|district| truths[free[at]].district == district) {
            return free.swap_remove(at);
        }
    };
    let crowded = chance.below(districts);
    let mut faults: Vec<Fault> = Vec::new();
    for plant in PLANTS {
        for _ in 0..plant.count {
            let store = take(chance, (faults.len() < 2).then_some(crowded));
            let onset = match plant.kind {
                FaultKind::Chronic => 0,
                FaultKind::Spike => NIGHTS - WATCHED + chance.below(WATCHED),
                _ => NIGHTS - WATCHED + chance.below(WATCHED / 2),
            };
            faults.push(Fault { plant: *plant, store, onset });
        }
    }
    faults
}

fn nights(chance: &mut Chance, regime: &Regime, many: usize) -> Vec<Night> {
    let weekday = [0.85, 0.88, 0.95, 1.0, 1.25, 1.3, 0.95];
    // Three suppliers' lots at a time; one in eight is poor.
    let mut lots = [(0, 0.0); 3];
    let mut next_lot = 0;
    let promotions = [chance.below(60), 70 + chance.below(35)];
    (0..NIGHTS)
        .map(|night| {
            for (supplier, lot) in lots.iter_mut().enumerate() {
                if (night + 5 * supplier) % 14 == 0 {
                    next_lot += 1;
                    let poor = if chance.happens(0.125) { chance.between(2.0, 4.0) } else { 0.0 };
                    *lot = (next_lot, poor + 0.5 * chance.normal());
                }
            }
            let promotion = promotions.iter().any(|from| (*from..from + 7).contains(&night));
            let lift = if promotion { 1.25 } else { 1.0 };
            let season = 1.0 + 0.1 * (night as f64 / 112.0 * std::f64::consts::PI).sin();
            let (waste, used, late) = (chance.normal(), chance.normal(), chance.normal());
            let shares = |chance: &mut Chance| [(); 4].map(|()| regime.shared * chance.normal());
            Night {
                volume: weekday[night % 7] * lift * season,
                waste: 0.12 * waste + if promotion { 0.15 } else { 0.0 },
                used: 0.006 * used,
                late: 0.15 * late + if weekday[night % 7] > 1.2 { 0.3 } else { 0.0 },
                promotion,
                districts: (0..many).map(|_| shares(chance)).collect(),
                lots: (0..many).map(|district| lots[district % 3]).collect(),
            }
        })
        .collect()
}

struct Making {
    regime: &'static Regime,
    chance: Chance,
    truths: Vec<Truth>,
    faults: Vec<Fault>,
    nights: Vec<Night>,
    labels: Labels,
}

impl Making {
    fn chain(mut self, told: usize) -> Chain {
        let start = BusinessDate::new(2026, 3, 2).expect("a date");
        let name = |labels: &mut Labels, at: usize| labels.label(&format!("store-{at:03}"));
        let stores: Vec<Label> =
            (0..self.truths.len()).map(|at| name(&mut self.labels, at)).collect();
        let district =
            |labels: &mut Labels, t: &Truth| labels.label(&format!("district-{:02}", t.district));
        let districts: Vec<Label> =
            self.truths.iter().map(|t| district(&mut self.labels, t)).collect();
        let formats = ["counter", "drive", "kiosk"].map(|format| self.labels.label(format));
        let promotion = self.labels.label("two for one");
        let mut rows = Vec::new();
        for at in 0..stores.len() {
            let mut behind = 0;
            for (night, date) in (0..NIGHTS).map(|n| (n, start.plus_days(n as i64))) {
                let of = self.truths[at].district;
                let kiosk = self.truths[at].kiosk && self.regime.tells_kiosks;
                let status = match self.chance.uniform() {
                    // Missing: no row.
                    x if x < 0.03 => {
                        behind += 1;
                        continue;
                    }
                    x if x < 0.04 => Status::Closed,
                    x if x < 0.05 => Status::Short,
                    _ => Status::Open,
                };
                let covers = if self.regime.spans { 1 + behind } else { 1 };
                behind = 0;
                let lot = self
                    .regime
                    .tells_lots
                    .then(|| self.labels.label(&format!("lot-{}", self.nights[night].lots[of].0)));
                rows.push(StoreNight {
                    store: stores[at],
                    district: districts[at],
                    format: formats[if kiosk { 2 } else { self.truths[at].format }],
                    date,
                    status,
                    lot,
                    promotion: self.nights[night].promotion.then_some(promotion),
                    counted_by: None,
                    figures: match status {
                        Status::Closed => Figures::default(),
                        _ => self.figures(at, night, covers, status == Status::Short),
                    },
                });
            }
        }
        let end = start.plus_days(told as i64);
        rows.retain(|row: &StoreNight| row.date < end);
        let sheet = Sheet::new(self.labels, UnitCost::KILOGRAM, &rows).expect("a sheet");
        Chain { regime: self.regime, sheet, faults: self.faults, stores, districts }
    }

    /// The factor or points of a fault that a store has on a night.
    fn fault(&self, at: usize, night: usize, kind: FaultKind) -> Option<f64> {
        let has = |fault: &&Fault| {
            let on =
                if kind == FaultKind::Spike { night == fault.onset } else { night >= fault.onset };
            fault.store == at && fault.plant.kind == kind && on
        };
        self.faults.iter().find(has).map(|fault| fault.plant.size)
    }

    fn figures(&mut self, at: usize, night: usize, covers: usize, short: bool) -> Figures {
        let regime = self.regime;
        let times = |kind| self.fault(at, night, kind).unwrap_or(1.0);
        let waste_times =
            times(FaultKind::Waste) * times(FaultKind::Spike) * times(FaultKind::Chronic);
        let use_times = times(FaultKind::Use);
        let late_times = times(FaultKind::Late);
        let points = self.fault(at, night, FaultKind::Yield).unwrap_or(0.0);
        let copied = self.fault(at, night, FaultKind::Copied).is_some();

        let chance = &mut self.chance;
        let shared = &self.nights[night];
        let truth = &mut self.truths[at];
        let [ds_waste, ds_use, ds_yield, ds_late] = shared.districts[truth.district];
        let lot_points = shared.lots[truth.district].1;
        let (spread, memory) = regime.wander;
        for wander in &mut truth.wander {
            *wander = memory * *wander + spread * (1.0 - memory * memory).sqrt() * chance.normal();
        }
        let [w_waste, w_use, w_yield, w_late] = truth.wander;

        let busy = (0.10 * chance.normal()).exp();
        let whole = truth.portions * shared.volume * busy * if short { 0.5 } else { 1.0 };
        let portions = whole.round().max(1.0);
        let nights = covers as f64;
        let expected = portions * 0.18 / 0.4584 * nights;

        let usual = truth.waste_share * expected / nights * waste_times;
        let log_spread = match regime.waste {
            WasteNoise::Log(s) | WasteNoise::HeavyLog(s, _) => s,
            WasteNoise::Discards(..) => 0.35,
        };
        let common = (shared.waste + log_spread * (ds_waste + w_waste)).exp();
        let drawn = match regime.waste {
            WasteNoise::Log(s) => (s * chance.normal() - s * s / 2.0).exp(),
            WasteNoise::HeavyLog(s, degrees) => (s * chance.student(degrees) - s * s / 2.0).exp(),
            WasteNoise::Discards(many, shape) => {
                let many = many * (truth.portions / 600.0).sqrt();
                let count = chance.poisson(many);
                (0..count).map(|_| chance.gamma(shape)).sum::<f64>() / (many * shape)
            }
        };
        let real_waste = usual * common * drawn;
        let mut wasted = (real_waste / regime.step).round() * regime.step;
        if copied && chance.happens(0.9) {
            wasted = truth.last_waste;
        }
        truth.last_waste = wasted;

        let small = (0.18 / 0.4584 * 600.0 / (expected / nights)).sqrt().clamp(0.7, 2.0);
        let noise = regime.use_noise * small;
        let drift = truth.use_bias + shared.used + noise * (ds_use + w_use);
        let own = noise * chance.student(regime.use_degrees) / nights.sqrt();
        let error = regime.count_error * chance.normal();
        let used = expected * (1.0 + drift + own) * use_times
            + real_waste * nights
            + 0.01 * lot_points * expected
            - error
            + truth.count_error;
        truth.count_error = error;

        let raw = expected * chance.between(0.8, 1.1);
        let batches = (60.0 / raw).sqrt().clamp(0.5, 1.6);
        let off = regime.yield_noise * (batches * chance.normal() + ds_yield + w_yield);
        let batch_yield = truth.batch_yield + 0.01 * (off - lot_points - points);

        let tickets = (portions * 0.42).round().max(1.0) as u64;
        let odds = truth.late_odds * (shared.late + 0.25 * (ds_late + w_late)).exp() * late_times;
        let late = chance.beta_binomial(tickets, odds / (1.0 + odds), regime.agreement);
        let slow = truth.ticket_s
            * (regime.times_tell * (shared.late + late_times.ln() + 0.25 * (ds_late + w_late)))
                .exp();
        let p50 = slow * (0.04 * chance.normal()).exp();
        let p90 = slow * 1.7 * (0.07 * chance.normal()).exp();

        let mut figures = Figures::default()
            .with(Column::Portions, portions * nights)
            .with(Column::Sales, portions * nights * 7.5)
            .with(Column::Expected, (expected * 10.0).round() / 10.0)
            .with(Column::Used, (used * 10.0).round() / 10.0)
            .with(Column::Wasted, wasted * nights)
            .with(Column::BatchIn, (raw * 10.0).round() / 10.0)
            .with(Column::BatchOut, (raw * batch_yield * 10.0).round() / 10.0)
            .with(Column::Tickets, tickets as f64)
            .with(Column::Late, late as f64)
            .with(Column::P50, p50.round())
            .with(Column::P90, p90.round());
        if covers > 1 {
            figures.set(Column::Nights, nights);
        }
        figures
    }
}
