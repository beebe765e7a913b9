//! What districts share, put together for head office. Lots and figures are invented.

use parings::cluster::SUPERUSER;
use parings_core::access::Role;
use parings_tests::house::{House, house};
use parings_tests::tallies::reference;
use serde_json::{Value, json};

use crate::standing_out::coach;

async fn ask(house: &House, role: Role, path: &str) -> parings_tests::Reply {
    let token = house.token(&house.person(role).await);
    house.get(path, Some(&token)).await
}

/// What is found of a district: its code, its lot with the share of nights, and its size, ±0.01.
type Found<'a> = (&'a str, Option<(&'a str, f64)>, f64);

/// A review with what it found of districts.
async fn reviewed(house: &House, made_at: &str, found: &[Found<'_>]) {
    let pg = house.pg(SUPERUSER).await;
    let review: i64 = pg
        .query_one(
            "INSERT INTO reviews (zone, as_of, made_at, seen, stores)
             VALUES ('Europe/Berlin', '2026-06-13', $1::text::timestamptz, '', 9) RETURNING id",
            &[&made_at],
        )
        .await
        .expect("a review")
        .get(0);
    for (district, lot, size) in found {
        let evidence = json!({ "before": 0.8, "after": 0.8 + size, "nights_before": 84,
            "nights_after": 9, "lot": lot.map(|lot| lot.0), "lot_share": lot.map(|lot| lot.1) });
        let (low, high) = (size - 0.01, size + 0.01);
        pg.execute(
            "INSERT INTO findings (review_id, district_id, measure, kind, since, size, size_low,
               size_high, money_per_week, evidence, sentence, private)
             VALUES ($1, $2, 'batch_yield', 'shared', '2026-06-05', $3, $4, $5, 40, $6::text::jsonb,
               'Invented.', false)",
            &[&review, district, size, &low, &high, &evidence.to_string()],
        )
        .await
        .expect("a finding");
    }
}

/// Two districts cook from one lot, −3.0 and −2.0 points, each ±1.0: Q = 2 × (0.5 ÷ (1.0 ÷ 1.96))² =
/// 1.92 at one degree of freedom, so they truly differ by (1.92 − 1) ÷ (2w − w) = 0.92 × (1.0 ÷ 1.96)²,
/// and the mean of −2.5 has an error of √((0.2603 + 0.2397) ÷ 2) = 0.500 points: ±0.98. Worked out by
/// hand by the formulas of DerSimonian and Laird.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_lot_that_moves_two_districts_is_one_matter_for_head_office() {
    let house = house().await;
    let pg = house.pg(SUPERUSER).await;
    let stores = [("ford", "upper"), ("weir", "lower"), ("quay", "coast")];
    reference(&pg, &stores.map(|(store, district)| (store, district, "2026-01-01"))).await;
    house.clock.set("2026-06-14T06:00:00Z".parse().expect("a moment"));
    let lot = Some(("L-2207", 0.9));
    reviewed(&house, "2026-06-14T03:00:00Z", &[("upper", lot, -0.03)]).await;
    let all = [
        ("upper", lot, -0.03),
        ("lower", Some(("L-2207", 0.6)), -0.02),
        ("coast", Some(("L-2208", 0.4)), -0.02),
    ];
    reviewed(&house, "2026-06-14T05:00:00Z", &all).await;
    let reply = ask(&house, Role::Office, "/v1/shared").await;
    reply.expect(200);
    let items = reply.json["items"].as_array().expect("items");
    assert_eq!(items.len(), 2, "{items:#?}");
    let first = &items[0];
    assert_eq!((&first["lot"], first.get("area")), (&json!("L-2207"), None));
    let districts: Vec<&Value> = first["districts"]
        .as_array()
        .expect("districts")
        .iter()
        .map(|one| &one["district"])
        .collect();
    assert_eq!(districts, ["lower", "upper"]);
    let told = ["size", "size_low", "size_high", "money_per_week"].map(|word| &first[word]);
    assert_eq!(told, ["-0.025", "-0.0348", "-0.0152", "80"], "{first:#}");
    assert!(first["sentence"].as_str().expect("words").contains("from -3.5 to -1.5"), "{first:#}");
    // Of one district alone less than half of the nights: no lot is told, and its own range.
    let second = &items[1];
    assert_eq!((second.get("lot"), &second["area"]), (None, &json!("valley")));
    assert_eq!((&second["size_low"], &second["money_per_week"]), (&json!("-0.03"), &json!("40")));
    // A district that is given up after the night that was reviewed.
    let given_up =
        "INSERT INTO reference_versions (kind, code, valid_from, recorded_at, retired, body)
        SELECT kind, code, '2026-06-14', '2026-06-14T05:30:00Z', true, body FROM reference_versions
        WHERE kind = 'districts' AND code = 'coast'";
    pg.execute(given_up, &[]).await.expect("a district given up");
    let again = ask(&house, Role::Office, "/v1/shared").await;
    assert_eq!(again.expect(200).json["items"], reply.json["items"]);
    // As it was known before the second review.
    let then = ask(&house, Role::Office, "/v1/shared?as_known_at=2026-06-14T04:00:00Z").await;
    assert_eq!(then.json["items"].as_array().map(Vec::len), Some(1));
    ask(&house, coach("upper"), "/v1/shared").await.expect_problem(403, "forbidden");
}
