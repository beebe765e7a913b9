//! What every server does: tells its health, and refuses with a problem.

use parings_tests::house;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_server_is_up_and_ready() {
    let house = house().await;
    let up = house.get("/healthz", None).await;
    assert_eq!(up.expect(200).text, "ok\n");
    let ready = house.get("/readyz", None).await;
    assert_eq!(ready.expect(200).json["migration"], parings::db::migrate::newest());
}
