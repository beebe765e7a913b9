//! What peers share on a night, the store itself left out.

/// Beyond this many spreads a peer counts no more than at it (P. J. Huber, Ann. Math. Stat. 35
/// (1964) 73–101).
const HUBER: f64 = 1.5;
/// In larger groups one store more or less does not move the middle.
const LARGE: usize = 40;

/// A value of the night, and what is known of its noise.
#[derive(Debug, Clone, Copy)]
pub(super) struct Member {
    pub(super) store: usize,
    pub(super) value: f64,
    /// One over its variance.
    pub(super) weight: f64,
}

/// Where a group lies: by its members but one, and how surely.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Centre {
    pub(super) value: f64,
    pub(super) variance: f64,
}

/// Where all members together lie, and for each member where the others do. It puts them into another
/// order. Nothing when there are fewer than `fewest` others.
pub(super) fn centres(
    members: &mut [Member],
    fewest: usize,
    mut each: impl FnMut(usize, Centre),
) -> Option<Centre> {
    if members.len() <= fewest.max(1) {
        return None;
    }
    if members.len() > LARGE {
        let half = members.len() / 2;
        let by_value = |a: &Member, b: &Member| a.value.total_cmp(&b.value);
        let start = members.select_nth_unstable_by(half, by_value).1.value;
        let total = Sums::of(members, start, None);
        for member in members.iter() {
            each(member.store, total.without(member, start).centre(start));
        }
        return Some(total.centre(start));
    }
    members.sort_unstable_by(|a, b| a.value.total_cmp(&b.value));
    for left_out in 0..members.len() {
        let start = middle(members, Some(left_out));
        each(members[left_out].store, around(members, start, Some(left_out)));
    }
    Some(around(members, middle(members, None), None))
}

/// Where all members together lie. It puts them into another order. Nothing when there are no more than
/// `fewest`.
pub(super) fn centre(members: &mut [Member], fewest: usize) -> Option<Centre> {
    if members.len() <= fewest.max(1) {
        return None;
    }
    let half = members.len() / 2;
    let by_value = |a: &Member, b: &Member| a.value.total_cmp(&b.value);
    let start = members.select_nth_unstable_by(half, by_value).1.value;
    Some(around(members, start, None))
}

/// The middle of sorted members but one.
fn middle(sorted: &[Member], left_out: Option<usize>) -> f64 {
    let many = sorted.len() - usize::from(left_out.is_some());
    let at = |rank: usize| match left_out {
        Some(out) if rank >= out => sorted[rank + 1].value,
        _ => sorted[rank].value,
    };
    if many % 2 == 1 { at(many / 2) } else { at(many / 2 - 1).midpoint(at(many / 2)) }
}

fn around(members: &[Member], start: f64, left_out: Option<usize>) -> Centre {
    Sums::of(members, start, left_out).centre(start)
}

/// One step of Huber's estimate from a start, as sums that a member can be taken out of.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    pulls: f64,
    inside: f64,
    weights: f64,
}

impl Sums {
    fn of(members: &[Member], start: f64, left_out: Option<usize>) -> Self {
        let others = members.iter().enumerate().filter(|(at, _)| Some(*at) != left_out);
        others.fold(Self::default(), |sums, (_, member)| sums.with(member, start, 1.0))
    }

    fn with(mut self, member: &Member, start: f64, sign: f64) -> Self {
        let off = member.value - start;
        let reach = HUBER / member.weight.sqrt();
        self.pulls += sign * member.weight * off.clamp(-reach, reach);
        self.weights += sign * member.weight;
        if off.abs() < reach {
            self.inside += sign * member.weight;
        }
        self
    }

    fn without(self, member: &Member, start: f64) -> Self {
        self.with(member, start, -1.0)
    }

    fn centre(self, start: f64) -> Centre {
        let inside = self.inside.max(0.3 * self.weights);
        Centre { value: start + self.pulls / inside, variance: 1.05 / self.weights }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn members(values: &[f64]) -> Vec<Member> {
        let member = |(store, value): (usize, &f64)| Member { store, value: *value, weight: 1.0 };
        values.iter().enumerate().map(member).collect()
    }

    /// Six at −1 to 1 and one at 100: the far one moves nobody by more than its reach, and itself is
    /// compared with the six alone, whose centre is nothing.
    #[test]
    fn a_store_is_left_out_of_its_own_peers() {
        let mut found = [0.0; 7];
        let mut group = members(&[-1.0, -0.5, -0.2, 0.2, 0.5, 1.0, 100.0]);
        let all = centres(&mut group, 5, |store, centre| found[store] = centre.value).unwrap();
        assert!(found[6].abs() < 1e-12, "{found:?}");
        assert!(found[..6].iter().all(|x| x.abs() < 0.6) && all.value.abs() < 0.6);
        assert_eq!(centres(&mut members(&[1.0; 5]), 5, |_, _| {}), None);
    }

    /// Of many, one more or less is the same whichever way it is worked out.
    #[test]
    fn large_groups_agree_with_small_ones() {
        let values: Vec<f64> = (0..41).map(|n| f64::from(n % 13) - 6.0).collect();
        let mut group = members(&values);
        let mut large = vec![0.0; 41];
        centres(&mut group, 5, |store, centre| large[store] = centre.value);
        for left_out in 0..41 {
            let start = middle(&group, Some(left_out));
            let exact = around(&group, start, Some(left_out)).value;
            assert!((exact - large[group[left_out].store]).abs() < 0.3, "{left_out}");
        }
    }
}
