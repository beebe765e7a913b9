//! A mixture of everything that can be written, by chance from a seed, by eight clients at once.
//!
//! Six stores live through sixty days. The days follow one another; the operations of a day are
//! taken by whichever client is free, so that they overlap as they would. What the operations are
//! depends on the seed alone where they refer to nothing, and else on what was taken before them.

mod book;
mod facts;
mod kind;
mod network;

use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use chrono::{DateTime, Days, NaiveDate, TimeDelta, Utc};
use parings::demo::chance::Chance;
use parings::edge::new_id;
use reqwest::Method;
use serde_json::{Value, json};
use tokio::task::JoinSet;

use crate::house::House;
use crate::network::change;
use crate::night::{night, with};
use crate::reply::Reply;
use crate::waiting;
use book::{Book, Of, Write};
use facts::{number, pick};
pub use kind::{Kind, Seen};
use network::{People, STORES};

const CLIENTS: usize = 8;
const DAYS: u32 = 60;

/// A house in which a mixture is played.
struct Mixture {
    house: House,
    people: People,
    book: Mutex<Book>,
    seed: u64,
    operations: u32,
    next: AtomicU32,
    seen: Mutex<Seen>,
}

fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

fn day(n: u32) -> NaiveDate {
    let first = NaiveDate::from_ymd_opt(2026, 4, 20).expect("a date");
    first + Days::new(n.into())
}

/// Ten in the evening in Berlin, four in the afternoon in New York.
fn evening(date: NaiveDate) -> DateTime<Utc> {
    date.and_hms_opt(20, 0, 0).expect("a time").and_utc()
}

/// Plays so many operations from a seed; answers with what the server answered, and with the house.
///
/// # Panics
/// When the server answers what it may not: a fault of its own, above all.
pub async fn play(house: House, seed: u64, operations: u32) -> (House, Seen) {
    house.clock.set(evening(day(0)) - TimeDelta::days(30));
    let people = network::start(&house).await;
    let (book, seen, next) = Default::default();
    let mixture = Arc::new(Mixture { house, people, book, seed, operations, next, seen });
    for today in 0..DAYS {
        mixture.house.clock.set(evening(day(today)));
        waiting::open(&mixture.house).await;
        let mut clients = JoinSet::new();
        for _ in 0..CLIENTS {
            clients.spawn(Arc::clone(&mixture).client(today));
        }
        while let Some(ended) = clients.join_next().await {
            ended.expect("a client ends in good order");
        }
    }
    let mixture = Arc::into_inner(mixture).expect("all clients have ended");
    (mixture.house, mixture.seen.into_inner().unwrap_or_else(PoisonError::into_inner))
}

impl Mixture {
    /// Takes operations of a day until there are none left.
    async fn client(self: Arc<Self>, today: u32) {
        let last =
            u32::try_from(u64::from(self.operations) * u64::from(today + 1) / u64::from(DAYS));
        let last = last.expect("as many as there are");
        let take = |next: u32| (next < last).then_some(next + 1);
        while let Ok(n) = self.next.fetch_update(Ordering::Relaxed, Ordering::Relaxed, take) {
            self.operation(n, day(today)).await;
        }
    }

    async fn operation(self: &Arc<Self>, n: u32, today: NaiveDate) {
        let mut chance = Chance::new(self.seed.wrapping_mul(1_000_003).wrapping_add(n.into()));
        let kind = Kind::by_chance(&mut chance);
        if kind == Kind::Resend {
            return self.resend(&mut chance).await;
        }
        let Some(writes) = self.writes(kind, &mut chance, today) else { return };
        let mut sent = JoinSet::new();
        for write in writes {
            let mixture = Arc::clone(self);
            sent.spawn(async move {
                let reply = write.send(&mixture.house).await;
                mixture.note(kind, &reply);
                held(&mixture.book).learn(&write, &reply);
                reply.status.is_success()
            });
        }
        let taken = sent.join_all().await.into_iter().filter(|taken| *taken).count();
        assert!(taken <= 1, "{kind:?} {n} was taken {taken} times");
    }

    async fn resend(&self, chance: &mut Chance) {
        let Some((write, first)) = held(&self.book).answer(chance) else { return };
        let again = write.send(&self.house).await;
        self.note(Kind::Resend, &again);
        let told =
            |reply: &Reply| (reply.status, reply.header("etag").to_owned(), reply.text.clone());
        assert_eq!(told(&again), told(&first), "{} sent again", write.path);
    }

    fn note(&self, kind: Kind, reply: &Reply) {
        let status = reply.status.as_u16();
        assert!(kind.may_be_answered(status), "{kind:?}: {} {status} {}", reply.asked, reply.text);
        *held(&self.seen).0.entry((kind, status)).or_default() += 1;
    }

    /// The requests of an operation, sent at once; of several one is taken at most. None when
    /// nothing is there yet that the operation could be about.
    fn writes(&self, kind: Kind, chance: &mut Chance, today: NaiveDate) -> Option<Vec<Write>> {
        let store = *pick(chance, &STORES);
        let back = number(chance, 0, 6).try_into().expect("a few days");
        let lately = (today - Days::new(back)).max(day(0));
        let create = |date, chance: &mut Chance| {
            self.count(chance, store, date, ("If-None-Match", "*".to_owned()))
        };
        let any = || ("If-Match", "*".to_owned());
        let write = match kind {
            Kind::FirstCount if !held(&self.book).has_count(store, today) => create(today, chance),
            Kind::LateCount => {
                let book = held(&self.book);
                let missing = day(0).iter_days().take_while(|date| *date < today);
                let missing: Vec<_> =
                    missing.filter(|date| !book.has_count(store, *date)).collect();
                drop(book);
                (!missing.is_empty()).then(|| create(*pick(chance, &missing), chance))?
            }
            Kind::FirstCount | Kind::Amendment => {
                let (store, date, _) = held(&self.book).count(chance)?;
                self.count(chance, store, date, any())
            }
            Kind::RacedAmendment => {
                let (store, date, tag) = held(&self.book).count(chance)?;
                let write = |_| self.count(chance, store, date, ("If-Match", tag.clone()));
                return Some((0..2).map(write).collect());
            }
            Kind::Confirmation => {
                let (store, date, waits) = held(&self.book).take_waiting(true)?;
                let words = ["as_typed", "counted_again"];
                let asked = waits["checks"].as_array().into_iter().flatten();
                let answers: Vec<_> = asked
                    .map(|check| json!({ "check": check["id"], "answer": pick(chance, &words) }))
                    .collect();
                let body = json!({ "revision": waits["revision"], "answers": answers });
                let path = format!("{}/confirmations", night(store, &date.to_string()));
                post(
                    path,
                    self.people.managers[store].token.clone(),
                    body,
                    Of::Count { store, date },
                )
            }
            Kind::Approval => {
                let (store, date, waits) = held(&self.book).take_waiting(false)?;
                let body = json!({ "revision": waits["revision"],
                    "approve": *pick(chance, &[true, true, false]), "reason": "Seen on the sheet" });
                let path = format!("{}/approvals", night(store, &date.to_string()));
                post(path, self.people.office.token.clone(), body, Of::Count { store, date })
            }
            Kind::Entries => {
                let entries = facts::entries(chance, store, lately, 4);
                let by =
                    pick(chance, &[&self.people.crew, &self.people.managers])[store].token.clone();
                let body = json!({ "business_date": lately, "entries": entries });
                post(format!("/v1/stores/{store}/entries"), by, body, Of::Entries { store })
            }
            Kind::Withdrawal => {
                let (store, id) = held(&self.book).take_entry(chance)?;
                let path = format!("/v1/stores/{store}/entries/{}/withdraw", id.as_str()?);
                let by = self.people.managers[store].token.clone();
                post(path, by, json!({ "reason": "Typed twice" }), Of::Other)
            }
            Kind::TillBatch => self.batch(store, facts::batch(chance, lately)),
            Kind::TillCorrection => {
                let (store, batch) = held(&self.book).batch(chance)?;
                self.batch(store, facts::correction(chance, &batch))
            }
            Kind::Price => {
                let (item, unit) =
                    *pick(chance, &[("potato", "bag"), ("oil", "l"), ("bun", "each")]);
                let money = format!("{}.{:02}", number(chance, 1, 30), number(chance, 0, 99));
                self.change(&format!("prices/{item}"), lately, network::price(&money, unit))
            }
            Kind::Recipe => {
                let grams = number(chance, 180, 220).to_string();
                self.change("products/fries", lately, network::fries(&grams))
            }
            Kind::Restatement => {
                let stores = [store, *pick(chance, &STORES)];
                let body = json!({ "from": lately, "to": today, "stores": stores,
                    "reason": "Typed wrong" });
                let by = self.people.office.token.clone();
                post("/v1/restatements".to_owned(), by, body, Of::Other)
            }
            Kind::Resend => return None,
        };
        Some(vec![write])
    }

    fn count(
        &self,
        chance: &mut Chance,
        store: &'static str,
        date: NaiveDate,
        precondition: (&'static str, String),
    ) -> Write {
        let body = facts::count(chance, store, date);
        let body = with(body, "reason", "Counted again");
        let path = night(store, &date.to_string());
        let (header, of) = (Some(precondition), Of::Count { store, date });
        let token = self.people.managers[store].token.clone();
        Write { method: Method::PUT, path, header, token, body, of }
    }

    fn batch(&self, store: &'static str, body: Value) -> Write {
        let path = format!("/v1/stores/{store}/till-batches");
        let token = self.people.tills[store].token.clone();
        Write { method: Method::POST, path, header: None, token, body, of: Of::Batch { store } }
    }

    fn change(&self, of: &str, from: NaiveDate, document: Value) -> Write {
        let body = with(change(&from.to_string(), document), "reason", "Typed wrong");
        let (path, token) = (format!("/v1/reference/{of}"), self.people.office.token.clone());
        let header = Some(("If-Match", "*".to_owned()));
        Write { method: Method::PUT, path, header, token, body, of: Of::Other }
    }
}

/// A request under a key of its own.
fn post(path: String, token: String, body: Value, of: Of) -> Write {
    let header = Some(("Idempotency-Key", new_id().to_string()));
    Write { method: Method::POST, path, header, token, body, of }
}
