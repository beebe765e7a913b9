//! The people of the demo, all invented, and where their passwords are told.

use std::fmt;
use std::fs::OpenOptions;
use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

use anyhow::Context;
use chrono::{DateTime, Utc};
use diesel_async::{AsyncConnection, AsyncPgConnection};
use parings_core::access::Role;
use parings_core::ids::{PersonId, StoreId};
use serde_json::json;
use uuid::Uuid;

use super::places::{Place, STORES};
use super::write;
use super::{Hand, plain};
use crate::app::Deps;
use crate::app::ground::writes::Reply;
use crate::app::office::people::{Issued, NewPerson};
use crate::app::office::services::NewService;
use crate::app::office::{operator, people, services};

/// The file the passwords are told in.
pub const FILE: &str = "sign-ins.txt";

/// Role, place, name, and the name in the address.
const PEOPLE: [(&str, &str, &str, &str); 34] = [
    ("coach", "headwaters", "Bram Ostery", "bram"),
    ("coach", "downstream", "Sunniva Kell", "sunniva"),
    ("coach", "saltings", "Corm Haddy", "corm"),
    ("coach", "duneward", "Ysolde Wray", "ysolde"),
    ("owner", "ardlefinch", "Perrin Ardle", "perrin"),
    ("owner", "mistelow", "Odile Mistelow", "odile"),
    ("manager", "hethermill", "Tamsin Rook", "tamsin"),
    ("manager", "stannock", "Jory Vance", "jory"),
    ("manager", "polwarren", "Wenna Strake", "wenna"),
    ("manager", "dunsaly", "Nuria Bast", "nuria"),
    ("manager", "varrowmouth", "Iker Solan", "iker"),
    ("manager", "ferrytoft", "Alba Quern", "alba"),
    ("manager", "cressbeck", "Hedda Pyle", "hedda"),
    ("manager", "marrowford", "Osric Fenn", "osric"),
    ("manager", "tollgarth", "Linnet Bray", "linnet"),
    ("manager", "aldersike", "Gavrin Holt", "gavrin"),
    ("manager", "quillow", "Maren Tosk", "maren"),
    ("manager", "sedgeholm", "Dov Larkin", "dov"),
    ("manager", "gullwick", "Petra Ness", "petra"),
    ("manager", "brinemouth", "Callan Storr", "callan"),
    ("manager", "kelderby", "Edrik Maw", "edrik"),
    ("manager", "pansand", "Sorrel Quint", "sorrel"),
    ("manager", "sluicegate", "Anwen Loft", "anwen"),
    ("manager", "samphire-row", "Tobin Reed", "tobin"),
    ("manager", "harrowdune", "Isolde Crane", "isolde"),
    ("manager", "whinsea", "Rafe Tindall", "rafe"),
    ("manager", "terncliff", "Bettany Orr", "bettany"),
    ("manager", "lugsands", "Wystan Cole", "wystan"),
    ("manager", "marramend", "Fenella Drake", "fenella"),
    ("manager", "bathing-steps", "Lowen Sparrow", "lowen"),
    ("crew", "hethermill", "Kit Farrow", "kit"),
    ("crew", "varrowmouth", "Lena Moss", "lena"),
    ("crew", "kelderby", "Joss Amery", "joss"),
    ("crew", "terncliff", "Nessa Vole", "nessa"),
];

/// So many of the stores that are made up have one manager, because each password takes a while.
const STORES_OF_ONE: usize = 50;

/// Somebody who can sign in, or a service.
#[derive(Debug, Clone)]
pub struct SignIn {
    /// Their id.
    pub id: PersonId,
    /// Their name.
    pub name: String,
    /// What they may play, and where.
    pub role: Role,
    /// The address they sign in with; a service has none.
    pub email: Option<String>,
    /// Their password; for a service, the token it sends.
    pub secret: String,
}

/// Everybody of the demo.
#[derive(Debug, Clone)]
pub struct SignIns(pub Vec<SignIn>);

impl SignIns {
    pub(super) fn find(&self, word: &str, store: Option<&StoreId>) -> Option<&SignIn> {
        let at = |role: &Role| store.is_none_or(|s| role.places().contains(&s.as_str()));
        self.0.iter().find(|one| one.role.word() == word && at(&one.role))
    }
}

impl fmt::Display for SignIns {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for SignIn { name, role, email, secret, .. } in &self.0 {
            let places = role.places();
            let places = match places.as_slice() {
                [_, _, ..] => format!("{}-stores", places.len()),
                few => few.join(" "),
            };
            let email = email.as_deref().unwrap_or("token");
            writeln!(f, "{:<8} {places:<13} {name:<16} {email:<28} {secret}", role.word())?;
        }
        Ok(())
    }
}

/// Adds everybody: the first of head office as the operator does, the others as head office does.
pub(super) async fn add(
    deps: &Deps,
    owner_url: &str,
    places: &[Place],
    at: DateTime<Utc>,
) -> anyhow::Result<SignIns> {
    let stores: Vec<StoreId> =
        places.iter().map(|place| StoreId::new(&place.code)).collect::<Result<_, _>>()?;
    let mut conn = AsyncPgConnection::establish(owner_url).await.context("connect as the owner")?;
    let new = |name: &str, address: &str, role: Role| NewPerson {
        name: name.to_owned(),
        email: format!("{address}@oskerrin.example"),
        role,
        password: None,
    };
    let (first, made) = operator::add(&mut conn, at, new("Ilka Torvane", "ilka", Role::Office))
        .await
        .map_err(plain)?;
    let mut all = vec![SignIn {
        id: first.id,
        name: first.name,
        role: first.role,
        email: first.email,
        secret: made.unwrap_or_default(),
    }];
    let office = Hand::new(deps, first.id);
    let deps = office.at(at);
    for (role, name, address) in roles(&stores)? {
        let new = new(&name, &address, role.clone());
        let email = Some(new.email.clone());
        let write = write(&format!("person {name}"));
        let reply = people::add(&deps, &office.caller, write, new, issued).await.map_err(plain)?;
        all.push(sign_in(&reply, &name, role, email)?);
    }
    let name = "Tills of the valley";
    let new = NewService { name: name.to_owned(), stores: stores.clone() };
    let write = write(&format!("service {name}"));
    let reply = services::add(&deps, &office.caller, write, new, issued).await.map_err(plain)?;
    all.push(sign_in(&reply, name, Role::Till(stores), None)?);
    Ok(SignIns(all))
}

/// Who plays what, with their name and the name in their address.
fn roles(stores: &[StoreId]) -> anyhow::Result<Vec<(Role, String, String)>> {
    let mut all = Vec::new();
    let here = |place: &str| stores.iter().any(|store| store.as_str() == place);
    for (word, place, name, address) in PEOPLE {
        if ["coach", "owner"].contains(&word) || here(place) {
            let role = Role::from_parts(word, &[place.to_owned()]).map_err(anyhow::Error::msg)?;
            all.push((role, name.to_owned(), address.to_owned()));
        }
    }
    for (n, some) in stores[stores.len().min(STORES)..].chunks(STORES_OF_ONE).enumerate() {
        let name = format!("Manager of Shore {n}");
        all.push((Role::Manager(some.to_vec()), name, format!("shore-{n}")));
    }
    Ok(all)
}

fn issued(issued: Issued) -> serde_json::Value {
    json!({ "id": issued.person.id, "secret": issued.secret })
}

fn sign_in(reply: &Reply, name: &str, role: Role, email: Option<String>) -> anyhow::Result<SignIn> {
    let body: serde_json::Value = serde_json::from_str(&reply.body)?;
    let text = |member: &str| body[member].as_str().with_context(|| format!("no {member}"));
    let id = PersonId(Uuid::parse_str(text("id")?)?);
    Ok(SignIn { id, name: name.to_owned(), role, email, secret: text("secret")?.to_owned() })
}

/// Tells the passwords in a file that its owner alone can read.
pub(super) fn tell(sign_ins: &SignIns, folder: &Path) -> anyhow::Result<()> {
    let path = folder.join(FILE);
    let written = OpenOptions::new()
        .write(true)
        .create(true)
        .truncate(true)
        .mode(0o600)
        .open(&path)
        .and_then(|mut file| write!(file, "Invented people of the demo.\n\n{sign_ins}"));
    written.with_context(|| format!("write {}", path.display()))
}
