//! One connection serves one person after the other; none sees what another was shown.

use std::collections::BTreeSet;

use diesel::QueryDsl;
use diesel_async::AsyncPgConnection;
use parings::app::Deps;
use parings::cluster::SUPERUSER;
use parings::cluster::roles::APP;
use parings::context::Caller;
use parings::error::AppError;
use parings_core::access::Role;
use parings_tests::house::{House, Person};
use tokio_postgres::error::SqlState;
use uuid::Uuid;

// As much of the table as these tests read.
diesel::table! {
    entries (id) {
        id -> Uuid,
        store_id -> Text,
    }
}

const STORES: [(&str, &str, &str); 3] =
    [("ford", "upper", "brook"), ("weir", "lower", "brook"), ("mill", "lower", "hill")];

/// A house whose server has a single connection, with one entry in each of three stores.
async fn house_with_entries() -> House {
    let house = House::with(|config| config.database.pool_size = 1).await;
    let superuser = house.pg(SUPERUSER).await;
    let sql = "INSERT INTO entries (business_date, store_id, id, kind, body, district_id,
        region_id, owner_id, recorded_by, recorded_at, write_id)
        VALUES ('2026-06-14', $1, $2, 'waste', '{}', $3, 'valley', $4, $2, $5, $2)";
    for (store, district, owner) in STORES {
        let id = parings::edge::new_id();
        superuser
            .execute(sql, &[&store, &id, &district, &owner, &house.clock.now()])
            .await
            .expect("an entry");
    }
    house
}

fn caller(person: &Person) -> Caller {
    Caller { person: person.id, session: None, request_id: "test".to_owned() }
}

/// Stores whose entries are seen, in the order of their codes, by a statement that diesel
/// prepares once a connection and keeps.
async fn seen(conn: &mut AsyncPgConnection) -> Result<Vec<String>, AppError> {
    // Within, for it would take `execute` from the other tests' client.
    use diesel_async::RunQueryDsl;
    Ok(entries::table.select(entries::store_id).order(entries::store_id).load(conn).await?)
}

async fn seen_by(deps: &Deps, person: &Person) -> Vec<String> {
    let answer = deps.acting(&caller(person), async |conn, _| seen(conn).await).await;
    answer.expect("an answer")
}

fn role<T: std::str::FromStr<Err: std::fmt::Debug>>(make: fn(Vec<T>) -> Role, at: &str) -> Role {
    make(vec![at.parse().expect(at)])
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_people_on_one_connection_see_only_their_own() {
    let house = house_with_entries().await;
    let manager = house.person(role(Role::Manager, "ford")).await;
    let coach = house.person(role(Role::Coach, "lower")).await;
    let owner = house.person(role(Role::Owner, "brook")).await;
    let crew = house.person(role(Role::Crew, "mill")).await;
    let till = house.person(role(Role::Till, "ford")).await;
    let office = house.person(Role::Office).await;
    // More rounds than PostgreSQL takes (five) before it settles on a generic plan.
    for round in 0..8 {
        for (person, expected) in [
            (&manager, &["ford"][..]),
            (&coach, &["mill", "weir"]),
            (&owner, &["ford", "weir"]),
            (&crew, &["mill"]),
            (&till, &[]),
            (&office, &["ford", "mill", "weir"]),
        ] {
            assert_eq!(seen_by(&house.deps, person).await, expected, "round {round}");
        }
    }
    let server = "SELECT DISTINCT pid FROM pg_stat_activity
        WHERE usename = 'parings_app' AND datname = current_database()";
    let used = house.pg(SUPERUSER).await.query(server, &[]).await.expect("connections");
    assert_eq!(used.len(), 1, "all of it went over one connection");
}

/// The same by hand, with a statement that was prepared while somebody else acted.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_prepared_statement_forgets_for_whom_it_was_prepared() {
    let house = house_with_entries().await;
    let manager = house.person(role(Role::Manager, "ford")).await;
    let coach = house.person(role(Role::Coach, "lower")).await;
    let app = house.pg("parings_app").await;
    let act = app.prepare("SELECT * FROM act_as($1)").await.expect("prepared");
    let ask = app.prepare("SELECT store_id FROM entries").await.expect("prepared");
    for _ in 0..8 {
        for (person, expected) in [(&manager, &["ford"][..]), (&coach, &["mill", "weir"])] {
            app.batch_execute("BEGIN").await.expect("begin");
            app.query(&act, &[&person.id.0]).await.expect("acting");
            let rows = app.query(&ask, &[]).await.expect("rows");
            app.batch_execute("COMMIT").await.expect("commit");
            let stores: BTreeSet<String> = rows.iter().map(|row| row.get(0)).collect();
            assert_eq!(stores, expected.iter().map(ToString::to_string).collect());
            assert!(app.query(&ask, &[]).await.expect("rows").is_empty(), "nobody acts now");
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nobody_sees_nothing() {
    let house = house_with_entries().await;
    let office = house.person(Role::Office).await;
    assert_eq!(seen_by(&house.deps, &office).await.len(), 3);

    let nobody = house.deps.transaction(async |conn| seen(conn).await).await;
    assert_eq!(nobody.expect("an answer"), [""; 0], "in a transaction without an actor");
    {
        let mut conn = house.deps.pool.get().await.expect("the connection");
        assert_eq!(seen(&mut conn).await.expect("an answer"), [""; 0], "outside a transaction");
    }

    let failed = house
        .deps
        .acting(&caller(&office), async |conn, _| {
            seen(conn).await?;
            Err::<(), _>(AppError::Conflict("on purpose".to_owned()))
        })
        .await;
    assert!(matches!(failed, Err(AppError::Conflict(_))));
    let mut conn = house.deps.pool.get().await.expect("the connection");
    assert_eq!(seen(&mut conn).await.expect("an answer"), [""; 0], "after a failed transaction");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_unknown_and_the_disabled_cannot_act() {
    let house = house_with_entries().await;
    let unknown = parings_core::ids::PersonId(Uuid::nil());
    let unknown = Person { id: unknown, session: Some(unknown.0), token: String::new() };
    let disabled = house.person(Role::Office).await;
    assert_eq!(seen_by(&house.deps, &disabled).await.len(), 3);
    let disable = "UPDATE people SET disabled_at = now() WHERE id = $1";
    house.pg(SUPERUSER).await.execute(disable, &[&disabled.id.0]).await.expect("disabled");
    for person in [unknown, disabled] {
        let refused = house.deps.acting(&caller(&person), async |conn, _| seen(conn).await).await;
        assert!(matches!(refused, Err(AppError::Unauthenticated(_))), "{refused:?}");
    }
}

/// The policies also hold for what is written, whatever the server believes.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nobody_writes_where_they_have_no_part() {
    let house = house_with_entries().await;
    let app = house.pg("parings_app").await;
    let add = "INSERT INTO entries (business_date, store_id, id, kind, body, district_id,
        region_id, owner_id, recorded_by, recorded_at, write_id)
        VALUES ('2026-06-15', $1, $2, 'waste', '{}', 'lower', 'valley', 'brook', $3, now(), $2)";
    for (who, store, allowed) in [
        (role(Role::Manager, "ford"), "ford", true),
        (role(Role::Manager, "ford"), "weir", false),
        (role(Role::Crew, "weir"), "weir", true),
        (role(Role::Coach, "lower"), "weir", false),
        (role(Role::Owner, "brook"), "weir", false),
        (role(Role::Till, "weir"), "weir", false),
        (Role::Office, "weir", true),
    ] {
        let what = format!("{who:?} at {store}");
        let person = house.person(who).await;
        app.batch_execute("BEGIN").await.expect("begin");
        app.query("SELECT act_as($1)", &[&person.id.0]).await.expect("acting");
        let added = app.execute(add, &[&store, &parings::edge::new_id(), &person.id.0]).await;
        app.batch_execute("ROLLBACK").await.expect("rollback");
        match added {
            Ok(rows) => assert!(allowed && rows == 1, "{what} was let in"),
            Err(refused) => {
                assert_eq!(refused.code(), Some(&SqlState::INSUFFICIENT_PRIVILEGE), "{what}");
                assert!(!allowed, "{what} was refused: {refused}");
            }
        }
    }
}

/// What the clock and an approval may do is nobody's to do otherwise.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_parts_of_the_clock_and_of_an_approval_are_not_for_people() {
    let house = House::with(|_| ()).await;
    let app = house.pg(APP).await;
    let role = |word, place: &str| Role::from_parts(word, &[place.to_owned()]).expect("a role");
    let manager = house.person(role("manager", "ford")).await;
    let coach = house.person(role("coach", "upper")).await;
    let settle =
        "INSERT INTO night_settlements VALUES ('2026-06-15', 'ford', 1, 'accepted', '{}', NULL,
        'upper', 'valley', 'brook', NULL, now())";
    for (person, refused) in [
        (Some(&manager), "SELECT act_at_opening('ford')"),
        (Some(&coach), "SELECT act_at_opening('ford')"),
        // Who has settled nothing of the store's.
        (Some(&coach), "SELECT act_for_rules('ford')"),
        // There is no held count to settle, and the rules of one store are not those of another.
        (None, settle),
        (None, "SELECT act_for_rules('weir')"),
    ] {
        app.batch_execute("BEGIN").await.expect("begin");
        match person {
            Some(person) => app.query("SELECT act_as($1, NULL)", &[&person.id.0]).await,
            None => app.query("SELECT act_at_opening('ford')", &[]).await,
        }
        .expect("a part");
        let told = app.batch_execute(refused).await.expect_err(refused);
        assert_eq!(told.code(), Some(&SqlState::INSUFFICIENT_PRIVILEGE), "{refused}: {told}");
        app.batch_execute("ROLLBACK").await.expect("rollback");
    }
    // Nor is anybody told what waits elsewhere.
    let superuser = house.pg(SUPERUSER).await;
    let held = "INSERT INTO night_revisions (business_date, store_id, revision, body, state, checks,
        district_id, region_id, owner_id, submitted_by, recorded_at, write_id)
        VALUES ('2026-06-15', 'weir', 1, '{}', 'held', '[]', 'lower', 'coast', 'hill', $1, now(), $1)";
    superuser.execute(held, &[&parings::edge::new_id()]).await.expect("a held count");
    let waiting = "SELECT FROM nights_held('2026-01-01')";
    assert_eq!(app.query(waiting, &[]).await.expect("nobody acts").len(), 1);
    app.batch_execute("BEGIN").await.expect("begin");
    app.query("SELECT act_as($1, NULL)", &[&manager.id.0]).await.expect("a part");
    assert_eq!(app.query(waiting, &[]).await.expect("the manager acts").len(), 0);
    app.batch_execute("ROLLBACK").await.expect("rollback");
}
