//! The policy printed in full, so that a change of it is seen as a change of this table.

use std::fmt::Write;

use parings_core::access::{Action, Actor, Role, Standing, Target, can};
use parings_core::ids::{DistrictId, OwnerId, PersonId, RegionId, StoreId};
use parings_tests::golden::assert_committed;

fn code<T: std::str::FromStr<Err: std::fmt::Debug>>(text: &str) -> T {
    text.parse().expect(text)
}

fn standing(store: &str, district: &str, region: &str, owner: &str) -> Standing {
    Standing {
        store: code(store),
        district: code(district),
        region: code(region),
        owner: code(owner),
    }
}

#[test]
fn the_committed_matrix_is_the_policy() {
    let own = standing("ford", "upper", "valley", "brook");
    let other = standing("weir", "lower", "coast", "hill");
    let (ford, upper, brook): (StoreId, DistrictId, OwnerId) =
        (own.store.clone(), own.district.clone(), own.owner.clone());
    let roles = [
        Role::Crew(vec![ford.clone()]),
        Role::Manager(vec![ford.clone()]),
        Role::Coach(vec![upper]),
        Role::Owner(vec![brook]),
        Role::Office,
        Role::Till(vec![ford]),
    ];
    let places: [(RegionId, RegionId); 1] = [(own.region.clone(), other.region.clone())];
    let (region, other_region) = &places[0];
    let targets = [
        ("store", Target::Store(&own)),
        ("other store", Target::Store(&other)),
        ("district", Target::District(&own.district)),
        ("other district", Target::District(&other.district)),
        ("region", Target::Region(region)),
        ("other region", Target::Region(other_region)),
        ("owner", Target::Owner(&own.owner)),
        ("other owner", Target::Owner(&other.owner)),
        ("network", Target::Network),
    ];
    let mut table = String::from(
        "Who may do what, where: the answers of parings_core::access::can.\n\n\
         The actor's place is the store ford, its district upper, or its owner brook; the columns\n\
         are that store with its district, region and owner, others that share none of them, and\n\
         the network. yes: allowed; no: visible but not allowed (403); -: invisible (404).\n",
    );
    for role in roles {
        let actor = Actor { person: PersonId(uuid::Uuid::nil()), role };
        write!(table, "\n{:<26}", actor.role.word()).expect("a string grows");
        for (name, _) in &targets {
            write!(table, "  {name}").expect("a string grows");
        }
        table.push('\n');
        for &action in Action::ALL {
            write!(table, "  {:<24}", action.word()).expect("a string grows");
            for (name, target) in &targets {
                let answer = can(&actor, action, target).to_string().replace("unseen", "-");
                write!(table, "  {answer:<width$}", width = name.len()).expect("a string grows");
            }
            table.truncate(table.trim_end().len());
            table.push('\n');
        }
    }
    assert_committed("tests/system/access-matrix.txt", &table);
}
