//! What a store does by itself: its values with what fair peers share taken out, night by night, each
//! with nothing but what was known by then.

use super::groups::Groups;
use super::peers::{Member, centres};
use super::series::Series;
use super::shared::Shared;
use crate::review::{Measure, Sheet};
use crate::stats::Robust;

/// Nights from which first levels are made.
const START: usize = 14;
/// A format with fewer stores tonight is compared with every store.
const FEWEST_OF_FORMAT: usize = 8;
/// The level of a store forgets what is older than about so many nights.
const MEMORY: f64 = 60.0;
/// Fewest nights of a store before it is a peer of others.
const FEWEST_NIGHTS: u32 = 7;
/// Beyond so many spreads a night says no more of a store's level and spread than at them.
pub(super) const CLIP: f64 = 2.0;
/// E min(Z², CLIP²) of a standard normal Z.
const CLIPPED_SQUARE: f64 = 0.9205;
/// So many first steps of a store, and the part of their spread that one is at least.
const FIRST_STEPS: usize = 4;
const LEAST_OF_STEPS: f64 = 0.5;
/// How many nights of like stores a store's own spread is weighed against.
const LIKE: f64 = 80.0;
/// How many stores of like volume that is learnt from.
const NEIGHBOURS: usize = 30;

/// A measure with what is shared taken out; of all stores of a night together, NaN where there is none.
pub(super) struct Fair {
    pub(super) stores: usize,
    /// The store's own level tonight.
    pub(super) level: Vec<f64>,
    /// How far it lies from what the store usually has.
    pub(super) residual: Vec<f64>,
    /// The spread of such a night.
    pub(super) spread: Vec<f64>,
    /// How much the night says, by what was at stake: about 1.
    pub(super) weight: Vec<f64>,
    /// What each district has shared lately, by night and district: value, and how many of its
    /// standard errors it lies off.
    pub(super) districts: Vec<(f64, f64)>,
    /// How many districts.
    pub(super) many_districts: usize,
}

/// What is known of a store so far.
#[derive(Debug, Clone, Copy)]
struct Usual {
    level: f64,
    variance: f64,
    exposure: f64,
    nights: u32,
    /// The spread that is used: its own, weighed against that of like stores.
    spread: f64,
}

/// How stores are grouped.
pub(super) struct Grouping {
    pub(super) formats: Groups,
    pub(super) lots: Groups,
    pub(super) districts: Groups,
}

impl Grouping {
    pub(super) fn of(sheet: &Sheet) -> Self {
        let (places, lots, promotions) = (sheet.places(), sheet.lots(), sheet.promotions());
        Self {
            formats: Groups::by(sheet, |cell| Some((places[cell].1, promotions[cell]))),
            lots: Groups::by(sheet, |cell| lots[cell]),
            districts: Groups::by(sheet, |cell| Some(places[cell].0)),
        }
    }
}

/// How the noise of a night goes with what was at stake: as its inverse to this power.
fn power(measure: Measure) -> f64 {
    match measure {
        Measure::Waste | Measure::Habit => 0.0,
        Measure::Use | Measure::Yield | Measure::Lateness => 0.5,
    }
}

impl Fair {
    pub(super) fn of(series: &Series, grouping: &Grouping, stores: usize) -> Self {
        let nights = series.values.len() / stores.max(1);
        let many_districts = grouping.districts.many();
        let mut fair = Self {
            stores,
            level: vec![f64::NAN; series.values.len()],
            residual: vec![f64::NAN; series.values.len()],
            spread: vec![f64::NAN; series.values.len()],
            weight: vec![f64::NAN; series.values.len()],
            districts: vec![(0.0, 0.0); nights * many_districts],
            many_districts,
        };
        let mut known = first(series, stores);
        widen(&mut known, series);
        let mut lots = Shared::new(&grouping.lots);
        let mut districts = Shared::new(&grouping.districts);
        // What lots and districts show together, for the districts as a whole.
        let mut whole = Shared::new(&grouping.districts);
        let mut tonight = Tonight::new(stores);
        for night in 0..nights {
            if night % 7 == 0 {
                like(&mut known);
            }
            let of = night * stores..(night + 1) * stores;
            tonight.read(series, &of, &known);
            tonight.formats(&grouping.formats, night);
            whole.watch(night, &tonight.off, &tonight.weight);
            lots.take_out(night, &mut tonight.off, &tonight.weight);
            districts.take_out(night, &mut tonight.off, &tonight.weight);
            for district in 0..many_districts {
                let lately = whole.lately(district as u32);
                fair.districts[night * many_districts + district] = (lately.value, lately.z());
            }
            for (store, known) in known.iter_mut().enumerate() {
                let at = of.start + store;
                if !series.values[at].is_finite() {
                    continue;
                }
                let (off, share) = (tonight.off[store], tonight.share[store]);
                if known.level.is_nan() {
                    // The first night of a store that was not there at the start.
                    known.level = off;
                    known.exposure = series.exposure[at];
                    known.nights = 1;
                    continue;
                }
                fair.level[at] = known.level + off;
                fair.residual[at] = off;
                fair.spread[at] = known.spread / share.sqrt();
                fair.weight[at] = share;
                known.learn(off, share, series.exposure[at] / tonight.nights[store]);
            }
        }
        fair
    }
}

impl Usual {
    /// Takes a night's distance from the usual in, as far as it may move what is known.
    fn learn(&mut self, off: f64, share: f64, exposure: f64) {
        self.nights += 1;
        let n = f64::from(self.nights).min(MEMORY);
        let spread = self.spread / share.sqrt();
        let z = (off / spread).clamp(-CLIP, CLIP);
        self.level += z * spread / n;
        self.exposure += (exposure - self.exposure) / n;
        let rate = 1.0 / (n + 10.0);
        let grown = z * z * self.spread * self.spread / CLIPPED_SQUARE;
        self.variance += rate * (grown - self.variance);
        let own = f64::from(self.nights).min(2.0 * MEMORY);
        let squared = self.spread * self.spread;
        // Between two looks at like stores, its own spread moves what is used by its weight.
        let moved = squared + own / (own + LIKE) * rate * (grown - self.variance);
        self.spread = moved.max(0.25 * squared).sqrt();
    }
}

/// Sets the spread of each store: its own, weighed against that of stores of like volume.
fn like(known: &mut [Usual]) {
    let mut order: Vec<usize> = (0..known.len()).filter(|s| known[*s].nights > 0).collect();
    order.sort_by(|a, b| known[*a].exposure.total_cmp(&known[*b].exposure));
    let mut sums = vec![0.0];
    for store in &order {
        // The mean of logarithms is not moved by a few wild stores.
        sums.push(sums[sums.len() - 1] + known[*store].variance.max(1e-12).ln());
    }
    for (rank, store) in order.iter().enumerate() {
        let (from, to) =
            (rank.saturating_sub(NEIGHBOURS / 2), (rank + NEIGHBOURS / 2 + 1).min(order.len()));
        let alike = ((sums[to] - sums[from]) / (to - from) as f64).exp();
        let store = &mut known[*store];
        let own = f64::from(store.nights).min(2.0 * MEMORY);
        store.spread = ((own * store.variance + LIKE * alike) / (own + LIKE)).sqrt();
    }
}

/// First levels and spreads from the first nights: medians of stores, nights taken out.
fn first(series: &Series, stores: usize) -> Vec<Usual> {
    let first = series.first(START, stores);
    let (values, exposure) = (&series.values[first.clone()], &series.exposure[first]);
    let start = values.len() / stores.max(1);
    let middle = |values: &mut Vec<f64>| {
        values.retain(|x| x.is_finite());
        let at = values.len() / 2;
        (!values.is_empty()).then(|| *values.select_nth_unstable_by(at, f64::total_cmp).1)
    };
    let mut by_store = vec![f64::NAN; stores];
    let mut by_night = vec![0.0; start];
    for _ in 0..3 {
        for (store, level) in by_store.iter_mut().enumerate() {
            let of = (0..start).map(|night| values[night * stores + store] - by_night[night]);
            *level = middle(&mut of.collect()).unwrap_or(f64::NAN);
        }
        for (night, shared) in by_night.iter_mut().enumerate() {
            let of = (0..stores).map(|store| values[night * stores + store] - by_store[store]);
            *shared = middle(&mut of.collect()).unwrap_or(0.0);
        }
    }
    let off = |at: usize| values[at] - by_night[at / stores] - by_store[at % stores];
    let all: Vec<f64> = (0..values.len()).map(off).filter(|x| x.is_finite()).collect();
    let spread = Robust::of(&all).map_or(1.0, |r| r.spread().value()).max(1e-9);
    (0..stores)
        .map(|store| {
            let at = (0..start).map(|night| night * stores + store);
            let seen: Vec<usize> = at.filter(|at| values[*at].is_finite()).collect();
            let many = seen.len().max(1) as f64;
            let own = seen.iter().map(|at| (off(*at) / spread).clamp(-CLIP, CLIP).powi(2));
            let own = own.sum::<f64>() / CLIPPED_SQUARE;
            Usual {
                level: by_store[store],
                variance: spread * spread * (own + 10.0) / (seen.len() as f64 + 10.0),
                exposure: seen.iter().map(|at| exposure[*at]).sum::<f64>() / many,
                nights: if seen.is_empty() { 0 } else { FEWEST_NIGHTS.max(seen.len() as u32) },
                spread,
            }
        })
        .collect()
}

/// Where stores have a value or two each in the first nights, as those that count once a week, the levels
/// fit them and hardly a spread is left. A spread that is less than a part of what the first steps from
/// value to value speak of is theirs.
fn widen(known: &mut [Usual], series: &Series) {
    let stores = known.len();
    let mut steps = Vec::new();
    for store in 0..stores {
        let values = series.values.iter().skip(store).step_by(stores).filter(|x| x.is_finite());
        let first: Vec<f64> = values.take(FIRST_STEPS + 1).copied().collect();
        steps.extend(first.windows(2).map(|pair| pair[1] - pair[0]));
    }
    let Ok(usual) = Robust::of(&steps) else { return };
    let told = usual.spread().value() / std::f64::consts::SQRT_2;
    for store in known.iter_mut().filter(|store| store.spread < LEAST_OF_STEPS * told) {
        (store.spread, store.variance) = (told, told * told);
    }
}

/// The night at hand.
struct Tonight {
    /// How far each store lies from its usual.
    off: Vec<f64>,
    /// How much its night says: one over the variance; nothing for one that is nobody's peer.
    weight: Vec<f64>,
    share: Vec<f64>,
    /// How many nights its value is of, by what was at stake.
    nights: Vec<f64>,
}

impl Tonight {
    fn new(stores: usize) -> Self {
        Self {
            off: vec![f64::NAN; stores],
            weight: vec![0.0; stores],
            share: vec![1.0; stores],
            nights: vec![1.0; stores],
        }
    }

    fn read(&mut self, series: &Series, of: &std::ops::Range<usize>, known: &[Usual]) {
        let power = power(series.measure);
        for (store, known) in known.iter().enumerate() {
            let at = of.start + store;
            // A new store has no usual yet: what is left of its value is its first level.
            let usual = if known.level.is_nan() { 0.0 } else { known.level };
            self.off[store] = series.values[at] - usual;
            let relative = series.exposure[at] / known.exposure;
            // One value over n nights says as much as n, where what was at stake is that of n.
            let most = f64::from(series.covers[at]);
            let nights = if relative.is_finite() { relative.clamp(1.0, most) } else { 1.0 };
            let share = if power == 0.0 || !relative.is_finite() {
                1.0
            } else {
                nights * (relative / nights).clamp(0.1, 4.0).sqrt()
            };
            self.nights[store] = nights;
            self.share[store] = share;
            let peer = self.off[store].is_finite() && known.nights >= FEWEST_NIGHTS;
            self.weight[store] = if peer { share / (known.spread * known.spread) } else { 0.0 };
        }
    }

    /// Takes out what stores of the format share; all stores, where the format has too few tonight.
    fn formats(&mut self, formats: &Groups, night: usize) {
        let mut groups: Vec<Vec<Member>> = vec![Vec::new(); formats.many()];
        for (store, group) in formats.of(night).iter().enumerate() {
            let (value, weight) = (self.off[store], self.weight[store]);
            if weight > 0.0 {
                groups[*group as usize].push(Member { store, value, weight });
            }
        }
        let mut shared = vec![f64::NAN; self.off.len()];
        let small = |group: &Vec<Member>| group.len() <= FEWEST_OF_FORMAT;
        let mut all: Vec<Member> = if groups.iter().any(small) {
            groups.iter().flatten().copied().collect()
        } else {
            Vec::new()
        };
        let everyone = centres(&mut all, 1, |store, others| shared[store] = others.value);
        let everyone = everyone.map_or(0.0, |centre| centre.value);
        let mut of_format = vec![everyone; groups.len()];
        for (group, middle) in groups.iter_mut().zip(&mut of_format) {
            let found =
                centres(group, FEWEST_OF_FORMAT, |store, others| shared[store] = others.value);
            if let Some(found) = found {
                *middle = found.value;
            }
        }
        for (store, group) in formats.of(night).iter().enumerate() {
            let format = of_format[*group as usize];
            self.off[store] -= if shared[store].is_nan() { format } else { shared[store] };
        }
    }
}
