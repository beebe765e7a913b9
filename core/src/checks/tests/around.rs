use super::*;

/// A complete count that leaves a line blank is refused line by line; a partial one is said.
#[test]
fn a_blank_is_not_a_zero() {
    let lines = [line("beans", "cold-room", "0", "kg"), line("buns", "dry-store", "6", "tray")];
    let mut scene = Scene::new(&lines);
    let partial = scene.found(CheckKind::PartialCount);
    // Two lines of potatoes and six tubs.
    assert!(partial[0].says.starts_with("8 lines"), "{}", partial[0].says);
    scene.count.complete = true;
    let missed = scene.found(CheckKind::MissedItem);
    assert_eq!((missed.len(), missed[0].treatment), (8, Treatment::Reject));
    assert!(missed.iter().any(|c| c.about.to_string() == "potato@cold-room/ready"));
    assert!(scene.found(CheckKind::PartialCount).is_empty());
}

/// Unknown items, units of another dimension, pans heavier than what was weighed.
#[test]
fn what_cannot_be_is_refused() {
    let in_pan = json!({ "item": "potato", "place": "cold-room", "stage": "ready", "pan": "deep",
        "quantity": { "value": "1.1", "unit": "kg" } });
    let lines = [
        line("caviar", "cold-room", "1", "kg"),
        line("beans", "cold-room", "1", "l"),
        line("beans", "cold-room", "1", "tray"),
        in_pan,
        line("beans", "cold-room", "1", "kg"),
    ];
    let found = Scene::new(&lines).found(CheckKind::ImpossibleRow);
    assert_eq!((found.len(), found[0].treatment), (4, Treatment::Reject));
    // A weight below nothing cannot be read at all.
    let below = json!({ "value": "-1", "unit": "kg" });
    assert!(serde_json::from_value::<crate::catalog::Typed>(below).is_err());
}

/// Ford stays closed on Sundays.
#[test]
fn a_closed_day_is_due_nothing() {
    let sunday =
        Scene { date: date("2025-06-15"), now: at("2025-06-15T20:00:00Z"), ..Scene::new(&[]) };
    assert_eq!(sunday.found(CheckKind::ClosedDay)[0].treatment, Treatment::Flag);
    assert!(sunday.found(CheckKind::PartialCount).is_empty());
    assert!(Scene::new(&[]).found(CheckKind::ClosedDay).is_empty());
}

/// 27 open days are new, 28 are not.
#[test]
fn a_new_store_is_not_ranked() {
    let scene = Scene::new(&[]);
    let found = |open_days| of(&Given { open_days, ..scene.given() }, CheckKind::NewStore);
    assert_eq!(found(Some(27))[0].treatment, Treatment::LeaveOut);
    assert!(found(Some(27))[0].doubtful.is_empty());
    assert!(found(Some(28)).is_empty() && found(None).is_empty());
}

/// The usual 11 hours: 7 h 42 min are 70 %, a minute less is short.
#[test]
fn a_short_day_is_not_compared() {
    let mut scene = Scene::new(&[]);
    let ford = |to: &str| {
        let mut ford = scene.catalog.stores[&scene.id].clone();
        ford.other_hours = serde_json::from_value(json!([
            { "date": "2025-06-13", "hours": { "from": "11:00", "to": to } }]))
        .unwrap();
        ford.is_short(scene.date, scene.limits.short_day_share)
    };
    assert!(!ford("18:42") && ford("18:41"));
    scene.day.night.short = true;
    assert_eq!(scene.found(CheckKind::ShortDay)[0].treatment, Treatment::LeaveOut);
}

/// Beans were last counted on Thursday the 12th; here on Wednesday the 11th.
#[test]
fn a_price_that_changes_inside_a_span() {
    let mut ends = one_night(40_000, 0, 22_000, 18_000);
    ends.opened_on = date("2025-06-11");
    let scene = Scene::new(&[]).with("beans", ends, Vec::new());
    let changes = |from: &str| {
        let change = |what| ReferenceChange { what, item: code("beans"), from: date(from) };
        let changes = [change(Changed::Price), change(Changed::Recipe), change(Changed::Price)];
        of(&Given { changes: &changes, ..scene.given() }, CheckKind::ChangeInside)
    };
    assert_eq!(changes("2025-06-13").len(), 2);
    // From the first date of the span on, and after it, nothing changes inside.
    assert!(changes("2025-06-12").is_empty() && changes("2025-06-14").is_empty());
}

/// Half an hour between two stores is too little for one person.
#[test]
fn one_sign_in_in_two_stores() {
    let scene = Scene::new(&[]);
    let found = |store: &str, at: &str| {
        let elsewhere = [Elsewhere { store: store.parse().unwrap(), at: super::at(at) }];
        of(&Given { elsewhere: &elsewhere, ..scene.given() }, CheckKind::SharedSignIn)
    };
    assert!(found("weir", "2025-06-13T20:10:00Z")[0].says.contains("weir within 30 minutes"));
    assert!(found("weir", "2025-06-13T20:09:00Z").is_empty());
    assert!(found("ford", "2025-06-13T20:39:00Z").is_empty());
}

#[test]
fn who_left_keeps_their_name() {
    let left = ["Kit".to_owned()];
    let scene = Scene::new(&[]);
    let found = of(&Given { left: &left, ..scene.given() }, CheckKind::PersonLeft);
    assert!(found[0].says.starts_with("Kit works here no longer"), "{}", found[0].says);
}

/// Friday ends on Saturday at 05:00; its count was taken at 22:40 (20:40 UTC).
#[test]
fn a_delivery_entered_late() {
    let mut scene = Scene { now: at("2025-06-14T09:00:00Z"), ..Scene::new(&[]) };
    let delivery = json!({ "kind": "delivery", "item": "beans",
        "quantity": { "value": "10", "unit": "kg" } });
    scene.facts.entries.push(entry(1, delivery));
    let found = |recorded: &str, amends: Option<&str>| {
        let recorded = [(scene.facts.entries[0].id, at(recorded))].into();
        let given = Given { recorded, amends: amends.map(at), ..scene.given() };
        of(&given, CheckKind::LateEntry)
    };
    assert!(found("2025-06-14T03:00:00Z", None).is_empty());
    assert_eq!(found("2025-06-14T03:00:01Z", None)[0].treatment, Treatment::Flag);
    assert_eq!(found("2025-06-13T21:00:00Z", Some("2025-06-13T20:40:00Z")).len(), 1);
}

/// 20 kg of beans left Ford at 12:00 by its clock and nobody entered them at Weir: said to both a day
/// later. How ends are matched is tested where it lives.
#[test]
fn a_transfer_with_one_end() {
    use crate::night::{Direction, TransferEnd, match_transfers};
    let out = TransferEnd {
        id: EntryId(uuid::Uuid::from_u128(1)),
        store: "ford".parse().unwrap(),
        other: "weir".parse().unwrap(),
        direction: Direction::Out,
        item: code("beans"),
        date: date("2025-06-13"),
        amount: grams(20_000),
        give_or_take: grams(400),
        recorded_at: at("2025-06-13T10:00:00Z"),
    };
    let limits = Limits::default();
    let transfers = match_transfers(&[out], &limits);
    assert!(one_sided(&transfers, at("2025-06-14T09:59:59Z"), &limits).is_empty());
    let found = one_sided(&transfers, at("2025-06-14T10:00:00Z"), &limits);
    assert_eq!((found.len(), found[0].treatment), (1, Treatment::Flag));
    assert!(found[0].says.contains("weir has no such entry"), "{}", found[0].says);
}

/// Rows that are not checks of a count: the store's own clock on either side of a repeated hour.
#[test]
fn an_instant_keeps_its_offset() {
    let scene = Scene::new(&[]);
    let ford = &scene.catalog.stores[&scene.id];
    let seen = stamp(at("2025-06-13T22:40:00Z"), ford);
    assert_eq!((seen.offset.to_string(), seen.date), ("+02:00".to_owned(), scene.date));
}

#[test]
fn every_kind_has_its_word_and_says_what_it_is() {
    for kind in CheckKind::ALL {
        assert_eq!(serde_json::to_value(kind).unwrap(), kind.word());
        assert!(kind.says().trim().ends_with('.'), "{}", kind.says());
    }
}
