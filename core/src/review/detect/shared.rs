//! What a lot's or a district's stores share on a night, partially pooled.

use super::groups::{Groups, NONE};
use super::peers::{Centre, Member, centre, centres};

/// Fewest others of a lot or district that speak for it.
const FEWEST: usize = 4;
/// How much the last night weighs in what a group has shared lately.
const LATELY: f64 = 0.4;
/// How much of what was learnt of all groups is kept from night to night.
const KEPT: f64 = 0.98;
/// What a group shows is believed by how far it lies beyond so many squared standard errors.
const DOUBT_TONIGHT: f64 = 5.0;
/// The same of what it has shown lately.
const DOUBT_LATELY: f64 = 3.0;

/// What a group has shown lately, and how surely.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Lately {
    pub(super) value: f64,
    pub(super) variance: f64,
    seen: bool,
}

impl Lately {
    fn add(&mut self, tonight: Centre) {
        if self.seen {
            self.value += LATELY * (tonight.value - self.value);
            let kept = (1.0 - LATELY) * (1.0 - LATELY);
            self.variance = kept * self.variance + LATELY * LATELY * tonight.variance;
        } else {
            *self = Self { value: tonight.value, variance: tonight.variance, seen: true };
        }
    }

    /// How many of its own standard errors it lies off.
    pub(super) fn z(&self) -> f64 {
        if self.variance > 0.0 { self.value / self.variance.sqrt() } else { 0.0 }
    }
}

/// Groups of one kind, and what was learnt of them from night to night.
pub(super) struct Shared<'a> {
    groups: &'a Groups,
    lately: Vec<Lately>,
    /// The sum of what groups truly differ by, squared, and of how many it is.
    between: (f64, f64),
    members: Vec<Vec<Member>>,
    /// What is taken out tonight of stores that are not among them.
    tonight: Vec<f64>,
}

impl<'a> Shared<'a> {
    pub(super) fn new(groups: &'a Groups) -> Self {
        let many = groups.many();
        Self {
            groups,
            lately: vec![Lately::default(); many],
            between: (0.0, 1.0),
            members: vec![Vec::new(); many],
            tonight: vec![0.0; many],
        }
    }

    /// Takes out of each value what its group shares tonight, as the others of the group show it:
    /// drawn towards nothing by how much groups differ (R. DerSimonian and N. Laird, 1986), but less
    /// the clearer this one does, tonight or lately. A store without weight says nothing of its group;
    /// what the group shares is taken out of its value too.
    pub(super) fn take_out(&mut self, night: usize, values: &mut [f64], weights: &[f64]) {
        self.gather(night, values, weights);
        let between = (self.between.0 / self.between.1).max(0.0);
        let mut learnt = (0.0, 0.0);
        let groups = self.members.iter_mut().zip(&mut self.lately).zip(&mut self.tonight);
        for ((members, lately), whole) in groups {
            let recent = lately.z();
            let sure = if recent == 0.0 { 0.0 } else { 1.0 - DOUBT_LATELY / (recent * recent) };
            let shown = |others: Centre| {
                let z2 = others.value * others.value / others.variance;
                let pooled = between / (between + others.variance);
                let own = pooled.max(sure).max(1.0 - DOUBT_TONIGHT / z2.max(1e-9));
                own * others.value
            };
            let all = centres(members, FEWEST, |store, others| values[store] -= shown(others));
            *whole = 0.0;
            let Some(all) = all else { continue };
            *whole = shown(all);
            lately.add(all);
            learn(&mut learnt, all);
        }
        self.keep(learnt);
        for (store, group) in self.groups.of(night).iter().enumerate() {
            if *group != NONE && weights[store] == 0.0 {
                values[store] -= self.tonight[*group as usize];
            }
        }
    }

    /// Learns what groups show tonight beyond how much they differ on any night, and takes nothing out.
    pub(super) fn watch(&mut self, night: usize, values: &[f64], weights: &[f64]) {
        self.gather(night, values, weights);
        let between = (self.between.0 / self.between.1).max(0.0);
        let mut learnt = (0.0, 0.0);
        for (members, lately) in self.members.iter_mut().zip(&mut self.lately) {
            let Some(all) = centre(members, FEWEST) else { continue };
            lately.add(Centre { variance: all.variance + between, ..all });
            learn(&mut learnt, all);
        }
        self.keep(learnt);
    }

    fn keep(&mut self, (sum, count): (f64, f64)) {
        self.between = (KEPT * self.between.0 + sum, KEPT * self.between.1 + count);
    }

    fn gather(&mut self, night: usize, values: &[f64], weights: &[f64]) {
        for members in &mut self.members {
            members.clear();
        }
        for (store, group) in self.groups.of(night).iter().enumerate() {
            let (value, weight) = (values[store], weights[store]);
            if *group != NONE && value.is_finite() && weight > 0.0 {
                self.members[*group as usize].push(Member { store, value, weight });
            }
        }
    }

    /// What a group has shown lately.
    pub(super) fn lately(&self, group: u32) -> Lately {
        self.lately.get(group as usize).copied().unwrap_or_default()
    }
}

/// Adds a group's square beyond its own noise, one far off no more than others.
fn learn(learnt: &mut (f64, f64), all: Centre) {
    learnt.0 += (all.value * all.value).min(9.0 * all.variance) - all.variance;
    learnt.1 += 1.0;
}
