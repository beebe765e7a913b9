//! What the database itself lets each role do with the rows of facts and tallies, whatever the
//! server believes: the policy once more, with nothing of it in between.

use std::fmt::Write;

use parings::cluster::SUPERUSER;
use parings::cluster::roles::APP;
use parings::edge::new_id;
use parings_core::access::{Action, Actor, Role, Ruling, Standing, Target, can};
use parings_core::ids::PersonId;
use parings_tests::golden::assert_committed;
use parings_tests::{house, network};
use serde_json::{Map, Value, json};
use tokio_postgres::Client;
use tokio_postgres::error::SqlState;

/// Every table of facts and tallies, and the actions that read and add to it. Tallies are read with
/// the night and written by the rules alone; the server raises cases by itself; a diary entry and an
/// answer name who wrote them, and here that is somebody else.
const TABLES: [(&str, Action, Option<Action>); 12] = [
    ("entries", Action::ReadEntries, Some(Action::Record)),
    ("entry_withdrawals", Action::ReadEntries, Some(Action::Record)),
    ("night_revisions", Action::ReadNight, Some(Action::SubmitNight)),
    ("night_answers", Action::ReadNight, Some(Action::SubmitNight)),
    ("night_settlements", Action::ReadNight, Some(Action::SettleNight)),
    ("till_batches", Action::ReadTill, Some(Action::FeedTill)),
    ("nights", Action::ReadNight, None),
    ("weeks", Action::ReadNight, None),
    ("night_pins", Action::ReadNight, None),
    ("cases", Action::ReadCases, None),
    ("diary_entries", Action::ReadDiary, None),
    ("finding_answers", Action::ReadFindings, None),
];

const PLACES: [[&str; 4]; 2] =
    [["ford", "upper", "valley", "brook"], ["weir", "lower", "coast", "hill"]];

fn standing([store, district, region, owner]: [&str; 4]) -> Standing {
    Standing {
        store: store.parse().expect(store),
        district: district.parse().expect(district),
        region: region.parse().expect(region),
        owner: owner.parse().expect(owner),
    }
}

/// A row of a table at a place, in which every column that must be said says something; a number
/// says `number`, which tells it from other rows.
async fn row(
    pg: &Client,
    table: &str,
    [store, district, region, owner]: [&str; 4],
    number: u8,
) -> String {
    let sql = "SELECT column_name::text, data_type::text FROM information_schema.columns
        WHERE table_name = $1 AND is_nullable = 'NO'";
    let mut row = Map::new();
    for column in pg.query(sql, &[&table]).await.expect("columns") {
        let (name, kind): (String, String) = (column.get(0), column.get(1));
        let said = match (name.as_str(), kind.as_str()) {
            ("store_id", _) => json!(store),
            ("district_id", _) => json!(district),
            ("region_id", _) => json!(region),
            ("owner_id", _) => json!(owner),
            ("sales_source", _) => json!("none"),
            // Numbered by the table; here any that is not taken.
            ("id", "bigint") => json!(new_id().as_u128() as u32),
            ("state" | "outcome", _) => json!("accepted"),
            (_, "ARRAY") => json!([]),
            (_, "uuid") => json!(new_id()),
            (_, "date") => json!("2026-06-15"),
            (_, "timestamp with time zone") => json!("2026-06-15T20:00:00Z"),
            (_, "boolean") => json!(false),
            (_, "jsonb") => json!({}),
            (_, "text") => json!(new_id().to_string()),
            _ => json!(number),
        };
        row.insert(name, said);
    }
    Value::Object(row).to_string()
}

fn insert(table: &str) -> String {
    format!(
        "INSERT INTO {table} OVERRIDING SYSTEM VALUE
         SELECT * FROM jsonb_populate_record(NULL::{table}, $1::text::jsonb)"
    )
}

/// Whether a statement touches a row while a person acts; it is taken back at once. A statement may
/// be refused for want of a right, and for nothing else.
async fn touches(app: &Client, person: PersonId, sql: &str, with: &str) -> bool {
    app.batch_execute("BEGIN").await.expect("begin");
    app.query("SELECT act_as($1, NULL)", &[&person.0]).await.expect("acting");
    let done = app.execute(sql, &[&with]).await;
    app.batch_execute("ROLLBACK").await.expect("rollback");
    match done {
        Ok(rows) => rows == 1,
        Err(refused) => {
            assert_eq!(refused.code(), Some(&SqlState::INSUFFICIENT_PRIVILEGE), "{sql}: {refused}");
            false
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_database_repeats_the_policy_row_by_row() {
    let house = house().await;
    let (all, app) = (house.pg(SUPERUSER).await, house.pg(APP).await);
    for (table, ..) in TABLES {
        for place in PLACES {
            let said = row(&all, table, place, 1).await;
            all.execute(&insert(table), &[&said]).await.expect(table);
        }
    }
    let mut table = String::from(
        "What the database lets each role do with rows of facts and tallies: r read, a add, c change,\n\
         d delete. The first four letters are about a store of theirs, the others about another.\n\n",
    );
    let roles = network::roles();
    write!(table, "{:<19}", "table").expect("a string grows");
    for role in &roles {
        write!(table, "{:<11}", role.word()).expect("a string grows");
    }
    for (name, read, add) in TABLES {
        table.truncate(table.trim_end().len());
        write!(table, "\n{name:<19}").expect("a string grows");
        for role in &roles {
            let person = house.person(role.clone()).await.id;
            let mut letters = Vec::new();
            for place in PLACES {
                let at = standing(place);
                let actor = Actor { person, role: role.clone() };
                let allowed = |action| can(&actor, action, &Target::Store(&at)) == Ruling::Yes;
                let new = row(&all, name, place, 2).await;
                let [store, ..] = place;
                let there = format!("{name} WHERE store_id = $1");
                let seen = touches(&app, person, &format!("SELECT FROM {there}"), store).await;
                let added = touches(&app, person, &insert(name), &new).await;
                let change = format!("UPDATE {name} SET store_id = store_id WHERE store_id = $1");
                let changed = touches(&app, person, &change, store).await;
                let deleted = touches(&app, person, &format!("DELETE FROM {there}"), store).await;
                let what = format!("{name} of {store}, {}", role.word());
                assert_eq!(seen, allowed(read), "read {what}");
                assert_eq!(added, add.is_some_and(allowed), "add to {what}");
                assert!(!changed && !deleted, "change or delete {what}");
                let may = [(seen, 'r'), (added, 'a'), (changed, 'c'), (deleted, 'd')];
                letters.push(may.map(|(may, letter)| if may { letter } else { '-' }));
            }
            let said: Vec<String> = letters.iter().map(|l| l.iter().collect()).collect();
            write!(table, "{:<11}", said.join(" ")).expect("a string grows");
        }
    }
    table.truncate(table.trim_end().len());
    table.push('\n');
    assert_committed("tests/system/rows.txt", &table);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_row_that_nobody_acts_for_is_nobodys() {
    let house = house().await;
    let (all, app) = (house.pg(SUPERUSER).await, house.pg(APP).await);
    for (table, ..) in TABLES {
        let said = row(&all, table, PLACES[0], 1).await;
        all.execute(&insert(table), &[&said]).await.expect(table);
        let rows = app.query(&format!("SELECT FROM {table}"), &[]).await.expect(table);
        assert!(rows.is_empty(), "{table}");
        let said = row(&all, table, PLACES[0], 2).await;
        let refused = app.execute(&insert(table), &[&said]).await.expect_err(table);
        assert_eq!(refused.code(), Some(&SqlState::INSUFFICIENT_PRIVILEGE), "{table}");
    }
    // The list above is whole: these are the partitioned tables, the withdrawals, weeks, cases, diaries
    // and answers.
    let sql = "SELECT count(*) FROM pg_class WHERE relkind = 'p'
        AND relnamespace = 'public'::regnamespace";
    let partitioned: i64 = all.query_one(sql, &[]).await.expect("a count").get(0);
    assert_eq!(usize::try_from(partitioned), Ok(TABLES.len() - 5));
}

/// The roles of [`network::roles`] hold one place each, and the rows are at two.
#[test]
fn own_and_other_share_no_place() {
    let [own, other] = PLACES.map(standing);
    assert!(own.store != other.store && own.district != other.district);
    assert!(own.region != other.region && own.owner != other.owner);
    let of = |role: &Role| role.places().join(" ");
    let places: Vec<String> = network::roles().iter().map(of).collect();
    assert_eq!(places, ["ford", "ford", "upper", "brook", "", "ford"]);
}
