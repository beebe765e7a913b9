//! The worked example's network, and files sent to it.

use parings::edge::new_id;
use parings_core::access::Role;
use parings_tests::house::{House, Person};
use parings_tests::{Reply, worked};

/// A house in the summer of 2026 with the network of the worked example, and somebody of head office.
pub async fn open() -> (House, Person) {
    let house = House::with(|_| ()).await;
    house.clock.set("2026-06-17T12:00:00Z".parse().expect("a moment"));
    let office = house.person(Role::Office).await;
    worked::start(&house, &office.token).await;
    (house, office)
}

/// Sends a file under a key of its own.
pub async fn send(house: &House, by: &Person, query: &str, media: &str, file: &str) -> Reply {
    send_as(house, by, &new_id().to_string(), query, media, file.as_bytes()).await
}

/// Sends a file under a key.
pub async fn send_as(
    house: &House,
    by: &Person,
    key: &str,
    query: &str,
    media: &str,
    file: &[u8],
) -> Reply {
    let path = format!("/v1/imports{query}");
    let request = house.client.post(house.url(&path)).bearer_auth(&by.token);
    let request = request.header("Idempotency-Key", key).header("content-type", media);
    let response = request.body(file.to_vec()).send().await.expect("an answer");
    Reply::read(format!("POST {path}"), response).await
}

/// Line, column and text of each bad row.
pub fn rows(reply: &Reply) -> Vec<(u64, String, String)> {
    let rows = reply.json["rows"].as_array().into_iter().flatten();
    rows.map(|row| {
        let text = |member: &str| row[member].as_str().unwrap_or_default().to_owned();
        (row["line"].as_u64().expect("a line"), text("column"), text("says"))
    })
    .collect()
}
