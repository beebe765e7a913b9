//! That each end is recorded by its own store, and that a missing one is shown after a day, is
//! common practice, no source. The stores and amounts are invented.

use proptest::prelude::*;

use super::*;

fn date(day: u32) -> BusinessDate {
    BusinessDate::new(2026, 6, day).unwrap()
}

fn end(id: u128, direction: Direction, stores: [&str; 2], day: u32, grams: i64) -> TransferEnd {
    TransferEnd {
        id: EntryId(uuid::Uuid::from_u128(id)),
        store: StoreId::new(stores[0]).unwrap(),
        other: StoreId::new(stores[1]).unwrap(),
        direction,
        item: ItemId::new("potato").unwrap(),
        date: date(day),
        amount: Tallied::from_thousandths(grams * 1_000),
        give_or_take: Tallied::from_thousandths(500_000),
        recorded_at: DateTime::UNIX_EPOCH,
    }
}

fn out(id: u128, day: u32, grams: i64) -> TransferEnd {
    end(id, Direction::Out, ["ford", "weir"], day, grams)
}

fn into(id: u128, day: u32, grams: i64) -> TransferEnd {
    end(id, Direction::In, ["weir", "ford"], day, grams)
}

#[test]
fn ends_agree_within_what_scales_tell() {
    let found = match_transfers(&[out(1, 15, 22_680), into(2, 16, 23_180)]);
    assert!(matches!(&found[..], [Transfer::Matched { .. }]), "{found:?}");
    let found = match_transfers(&[out(1, 15, 22_680), into(2, 16, 23_181)]);
    assert!(matches!(&found[..], [Transfer::Differs { .. }]), "{found:?}");
}

#[test]
fn other_stores_items_dates_and_directions_do_not_meet() {
    let given = out(1, 15, 10_000);
    let other_item = TransferEnd { item: ItemId::new("onion").unwrap(), ..into(2, 15, 10_000) };
    for stranger in [
        other_item,
        into(2, 17, 10_000),
        end(2, Direction::In, ["mill", "ford"], 15, 10_000),
        end(2, Direction::In, ["weir", "mill"], 15, 10_000),
        end(2, Direction::Out, ["weir", "ford"], 15, 10_000),
    ] {
        let found = match_transfers(&[given.clone(), stranger.clone()]);
        let mut alone = vec![given.clone(), stranger].into_iter().map(Transfer::OneSided);
        assert!(found.len() == 2 && alone.all(|one| found.contains(&one)), "{found:?}");
    }
}

#[test]
fn an_end_that_agrees_is_preferred_to_one_that_is_nearer_in_date() {
    let ends = [out(1, 15, 10_000), into(2, 15, 4_000), into(3, 16, 10_000)];
    let [given, low, same] = ends.clone();
    let found = match_transfers(&ends);
    assert_eq!(found.len(), 2);
    assert!(found.contains(&Transfer::Matched { out: given, into: same }), "{found:?}");
    assert!(found.contains(&Transfer::OneSided(low)), "{found:?}");
}

#[test]
fn an_end_alone_is_overdue_after_a_day() {
    let alone = Transfer::OneSided(out(1, 15, 10_000));
    let at = |hours| DateTime::UNIX_EPOCH + TimeDelta::hours(hours);
    assert!(!alone.is_overdue(at(23)) && alone.is_overdue(at(24)));
    let (out, into) = (out(1, 15, 1), into(2, 15, 1));
    assert!(!Transfer::Matched { out, into }.is_overdue(at(1_000)));
}

prop_compose! {
    fn any_end()(
        id in 0u128..1_000_000, goes in any::<bool>(), stores in 0usize..3, day in 10u32..14,
        kilos in 1i64..4,
    ) -> TransferEnd {
        let stores = [["ford", "weir"], ["weir", "ford"], ["ford", "mill"]][stores];
        let direction = if goes { Direction::Out } else { Direction::In };
        end(id, direction, stores, day, kilos * 400)
    }
}

fn any_ends() -> impl Strategy<Value = Vec<TransferEnd>> {
    proptest::collection::vec(any_end(), 0..12).prop_map(|mut ends| {
        ends.sort_by_key(|end| end.id);
        ends.dedup_by_key(|end| end.id);
        ends
    })
}

/// The same seen from the other side: what went out came in.
fn mirrored(end: &TransferEnd) -> TransferEnd {
    let direction = match end.direction {
        Direction::Out => Direction::In,
        Direction::In => Direction::Out,
    };
    TransferEnd { direction, ..end.clone() }
}

fn ids(transfers: &[Transfer]) -> BTreeSet<(bool, BTreeSet<EntryId>)> {
    let of = |transfer: &Transfer| {
        let ids = transfer.ends().iter().map(|end| end.id).collect();
        (matches!(transfer, Transfer::Matched { .. }), ids)
    };
    transfers.iter().map(of).collect()
}

proptest! {
    #[test]
    fn every_end_is_in_one_transfer(ends in any_ends()) {
        let found = match_transfers(&ends);
        let mut there: Vec<_> =
            found.iter().flat_map(|t| t.ends().into_iter().cloned()).collect();
        there.sort_by_key(|end| end.id);
        prop_assert_eq!(there, ends);
    }

    #[test]
    fn matching_is_symmetric_and_blind_to_order(ends in any_ends(), turn in 0usize..12) {
        let found = match_transfers(&ends);
        let mut turned = ends.clone();
        turned.rotate_left(turn.min(ends.len()));
        prop_assert_eq!(&match_transfers(&turned), &found);
        let mirror: Vec<_> = ends.iter().map(mirrored).collect();
        prop_assert_eq!(ids(&match_transfers(&mirror)), ids(&found));
    }

    #[test]
    fn no_two_ends_alone_could_have_met(ends in any_ends()) {
        let found = match_transfers(&ends);
        let alone: Vec<_> = found.iter().filter_map(|transfer| match transfer {
            Transfer::OneSided(end) => Some(end),
            _ => None,
        }).collect();
        for (n, a) in alone.iter().enumerate() {
            prop_assert!(alone[n + 1..].iter().all(|b| !a.may_meet(b)), "{:?}", a);
        }
    }
}
