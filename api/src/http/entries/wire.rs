//! An entry on the wire, and what the rules make of it.

use chrono::{DateTime, Utc};
use parings_core::calendar::instant;
use parings_core::ids::EntryId;
use parings_core::night::{self, Entry, Step};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::http::faults::Faults;
use crate::http::quantity::{Number, TypedBody, money};
use crate::http::reference::items::InputBody;

/// Most entries in one request.
pub const MOST: usize = 500;
/// Most parts of one entry: steps of a batch, weights of a sample.
const MOST_PARTS: usize = 100;
/// The longest lot number.
const LOT_MAX: usize = 64;
/// Something that somebody recorded during the day, told apart by `kind`. Quantities are kept as
/// they are typed; `stage` and `from` are left out for what is as purchased.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum EntryBody {
    /// Food that was thrown away.
    #[schema(title = "WasteEntry")]
    Waste {
        /// The client's own id of the entry.
        id: Uuid,
        /// The code of the item that was thrown away.
        #[schema(example = "potato")]
        item: String,
        /// The code of the stage it is in; missing for as purchased.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stage: Option<String>,
        /// The code of the reason it was thrown away for.
        #[schema(example = "held-too-long")]
        reason: String,
        /// How much, with the pan where it was weighed in one.
        quantity: TypedBody,
        /// The pan it was weighed in.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pan: Option<String>,
        /// When, if anybody knows.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        daypart: Option<String>,
    },
    /// Came from a supplier.
    #[schema(title = "DeliveryEntry")]
    Delivery {
        /// The client's own id of the entry.
        id: Uuid,
        /// The code of the item that was delivered.
        item: String,
        /// How much came, in any unit or pack of the item.
        quantity: TypedBody,
        /// The lot as the supplier names it; missing where nobody wrote it down.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(max_length = 64)]
        lot: Option<String>,
        /// What was paid for it in all, where it is known: the difference from the standard price
        /// is kept apart from what was used.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        paid: Option<Number>,
    },
    /// Came from another store.
    #[schema(title = "TransferInEntry")]
    TransferIn {
        /// The client's own id of the entry.
        id: Uuid,
        /// The code of the item that came.
        item: String,
        /// The code of the stage it is in; missing for as purchased.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stage: Option<String>,
        /// How much came, at that stage.
        quantity: TypedBody,
        /// The store it came from.
        from: String,
    },
    /// Went to another store.
    #[schema(title = "TransferOutEntry")]
    TransferOut {
        /// The client's own id of the entry.
        id: Uuid,
        /// The code of the item that went.
        item: String,
        /// The code of the stage it is in; missing for as purchased.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stage: Option<String>,
        /// How much went, at that stage.
        quantity: TypedBody,
        /// The store it went to.
        to: String,
    },
    /// Taken through stages, and weighed.
    #[schema(title = "BatchEntry")]
    Batch {
        /// The client's own id of the entry.
        id: Uuid,
        /// The code of the item that was worked on.
        item: String,
        /// The stage it started from.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        from: Option<String>,
        /// What went in, at the stage it started from.
        put_in: TypedBody,
        /// What came out of each stage that was weighed, in order of work.
        #[schema(min_items = 1, max_items = 100)]
        steps: Vec<StepBody>,
        /// The lot as the supplier names it; missing where nobody wrote it down.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(max_length = 64)]
        lot: Option<String>,
        /// How many minutes people worked on it; missing where nobody wrote it down.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        labour_minutes: Option<u32>,
        /// When it must be thrown away, as on its label; not before its date begins. Stock without it
        /// is not known to be usable.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(format = DateTime)]
        discard_at: Option<String>,
    },
    /// An item prepared from others.
    #[schema(title = "PreparationEntry")]
    Preparation {
        /// The client's own id of the entry.
        id: Uuid,
        /// The code of the item that was made.
        item: String,
        /// How much of it.
        made: TypedBody,
        /// What went in, where it was weighed: the difference from the recipe is split into mix
        /// and yield.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        #[schema(max_items = 100)]
        inputs: Vec<InputBody>,
        /// How many minutes people worked on it; missing where nobody wrote it down.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        labour_minutes: Option<u32>,
        /// When it must be thrown away, as on its label; not before its date begins. Stock without it
        /// is not known to be usable.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(format = DateTime)]
        discard_at: Option<String>,
    },
    /// An item ran out, so that what is made of it could not be sold.
    #[schema(title = "StockOutEntry")]
    StockOut {
        /// The client's own id of the entry.
        id: Uuid,
        /// The code of the item that ran out.
        item: String,
        /// From which instant on there was none of it (RFC 3339).
        #[schema(format = DateTime)]
        from: String,
        /// To when; left out for the rest of the day.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(format = DateTime)]
        to: Option<String>,
    },
    /// Portions weighed as they were served, for one line of a recipe.
    #[schema(title = "SampleEntry")]
    Sample {
        /// The client's own id of the entry.
        id: Uuid,
        /// The code of the product whose portions were weighed.
        product: String,
        /// The code of the size of the product.
        size: String,
        /// The code of the item of the recipe that was weighed.
        item: String,
        /// The weights, at the stage of the recipe line.
        #[schema(min_items = 1, max_items = 100)]
        weights: Vec<TypedBody>,
    },
}

/// What came out of a stage.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StepBody {
    /// The code of the stage that it came out of.
    pub stage: String,
    /// What came out of it.
    pub out: TypedBody,
}

/// Reads the entries at a member of a body, for every write that takes entries.
pub fn entries_from_wire(
    sent: Vec<EntryBody>,
    member: &str,
    faults: &mut Faults,
) -> Option<Vec<Entry>> {
    if sent.len() > MOST {
        faults.add(member, format!("{MOST} entries at most: send the rest in another request"));
        return None;
    }
    faults.each(member, sent, |faults, entry| entry.read(faults))
}

/// Reads a text that people or machines made and no program reads.
pub(in crate::http) fn text(
    faults: &mut Faults,
    member: &str,
    text: &str,
    most: usize,
) -> Option<String> {
    let text = text.trim();
    if text.is_empty() || text.chars().count() > most || text.chars().any(char::is_control) {
        faults.add(member, format!("use 1 to {most} characters, all of them printable"));
        return None;
    }
    Some(text.to_owned())
}

/// Reads a code that may be left out.
pub(in crate::http) fn maybe_code<T: std::str::FromStr<Err: std::fmt::Display>>(
    faults: &mut Faults,
    member: &str,
    code: Option<&String>,
) -> Option<Option<T>> {
    faults.maybe(code, |faults, code| faults.parse(member, code))
}

fn few<T>(faults: &mut Faults, member: &str, list: &[T]) {
    if list.len() > MOST_PARTS {
        faults.add(member, format!("{MOST_PARTS} at most"));
    }
}

impl EntryBody {
    /// Reads the entry, which lies where the faults are.
    pub fn read(self, faults: &mut Faults) -> Option<Entry> {
        let lot = |faults: &mut Faults, lot: Option<String>| {
            faults.maybe(lot, |faults, lot| text(faults, "lot", &lot, LOT_MAX))
        };
        let discard = |faults: &mut Faults, at: Option<String>| {
            faults.maybe(at, |faults, at| faults.take("discard_at", instant::parse(&at)))
        };
        // Every member is read before any of them is missed, so that all faults are told at once.
        let (id, body) = match self {
            Self::Waste { id, item, stage, reason, quantity, pan, daypart } => {
                let item = faults.parse("item", &item);
                let stage = maybe_code(faults, "stage", stage.as_ref());
                let reason = faults.parse("reason", &reason);
                let quantity = quantity.read(faults, "quantity");
                let pan = maybe_code(faults, "pan", pan.as_ref());
                let daypart = maybe_code(faults, "daypart", daypart.as_ref());
                let (item, stage, reason) = (item?, stage?, reason?);
                let (quantity, pan, daypart) = (quantity?, pan?, daypart?);
                (id, night::EntryBody::Waste { item, stage, reason, quantity, pan, daypart })
            }
            Self::Delivery { id, item, quantity, lot: sent, paid } => {
                let item = faults.parse("item", &item);
                let quantity = quantity.read(faults, "quantity");
                let lot = lot(faults, sent);
                let paid = faults.maybe(paid, |faults, paid| money(faults, "paid", &paid));
                let (item, quantity, lot, paid) = (item?, quantity?, lot?, paid?);
                (id, night::EntryBody::Delivery { item, quantity, lot, paid })
            }
            Self::TransferIn { id, item, stage, quantity, from } => {
                let item = faults.parse("item", &item);
                let stage = maybe_code(faults, "stage", stage.as_ref());
                let quantity = quantity.read(faults, "quantity");
                let from = faults.parse("from", &from);
                let (item, stage, quantity, from) = (item?, stage?, quantity?, from?);
                (id, night::EntryBody::TransferIn { item, stage, quantity, from })
            }
            Self::TransferOut { id, item, stage, quantity, to } => {
                let item = faults.parse("item", &item);
                let stage = maybe_code(faults, "stage", stage.as_ref());
                let quantity = quantity.read(faults, "quantity");
                let to = faults.parse("to", &to);
                let (item, stage, quantity, to) = (item?, stage?, quantity?, to?);
                (id, night::EntryBody::TransferOut { item, stage, quantity, to })
            }
            Self::Batch {
                id,
                item,
                from,
                put_in,
                steps,
                lot: sent,
                labour_minutes,
                discard_at,
            } => {
                let item = faults.parse("item", &item);
                let from = maybe_code(faults, "from", from.as_ref());
                let put_in = put_in.read(faults, "put_in");
                few(faults, "steps", &steps);
                let steps = faults.each("steps", steps, |faults, step| {
                    let stage = faults.parse("stage", &step.stage);
                    let out = step.out.read(faults, "out");
                    Some(Step { stage: stage?, out: out? })
                });
                let lot = lot(faults, sent);
                let discard_at = discard(faults, discard_at);
                let (item, from, put_in) = (item?, from?, put_in?);
                let (steps, lot, discard_at) = (steps?, lot?, discard_at?);
                let body = night::EntryBody::Batch {
                    item,
                    from,
                    put_in,
                    steps,
                    lot,
                    labour_minutes,
                    discard_at,
                };
                (id, body)
            }
            Self::Preparation { id, item, made, inputs, labour_minutes, discard_at } => {
                let item = faults.parse("item", &item);
                let made = made.read(faults, "made");
                few(faults, "inputs", &inputs);
                let inputs = faults.each("inputs", inputs, |faults, input| input.read(faults));
                let discard_at = discard(faults, discard_at);
                let (item, made, inputs, discard_at) = (item?, made?, inputs?, discard_at?);
                let body = night::EntryBody::Preparation {
                    item,
                    made,
                    inputs,
                    labour_minutes,
                    discard_at,
                };
                (id, body)
            }
            Self::StockOut { id, item, from, to } => {
                let item = faults.parse("item", &item);
                let from = faults.take("from", instant::parse(&from));
                let to = faults.maybe(to, |faults, to| faults.take("to", instant::parse(&to)));
                (id, night::EntryBody::StockOut { item: item?, from: from?, to: to? })
            }
            Self::Sample { id, product, size, item, weights } => {
                let product = faults.parse("product", &product);
                let size = faults.parse("size", &size);
                let item = faults.parse("item", &item);
                few(faults, "weights", &weights);
                let weights = faults.within("weights", |faults| {
                    let read = weights.into_iter().enumerate();
                    let read = read.map(|(n, weight)| weight.read(faults, &n.to_string()));
                    read.collect::<Vec<_>>().into_iter().collect::<Option<Vec<_>>>()
                });
                let (product, size, item, weights) = (product?, size?, item?, weights?);
                (id, night::EntryBody::Sample { product, size, item, weights })
            }
        };
        Some(Entry { id: EntryId(id), body })
    }
}

impl From<&Entry> for EntryBody {
    fn from(entry: &Entry) -> Self {
        fn code(code: &impl ToString) -> String {
            code.to_string()
        }
        fn maybe(code: Option<&impl ToString>) -> Option<String> {
            code.map(ToString::to_string)
        }
        let id = entry.id.0;
        match &entry.body {
            night::EntryBody::Waste { item, stage, reason, quantity, pan, daypart } => {
                Self::Waste {
                    id,
                    item: code(item),
                    stage: maybe(stage.as_ref()),
                    reason: code(reason),
                    quantity: quantity.into(),
                    pan: maybe(pan.as_ref()),
                    daypart: maybe(daypart.as_ref()),
                }
            }
            night::EntryBody::Delivery { item, quantity, lot, paid } => Self::Delivery {
                id,
                item: code(item),
                quantity: quantity.into(),
                lot: lot.clone(),
                paid: paid.map(|paid| Number(paid.to_decimal())),
            },
            night::EntryBody::TransferIn { item, stage, quantity, from } => Self::TransferIn {
                id,
                item: code(item),
                stage: maybe(stage.as_ref()),
                quantity: quantity.into(),
                from: code(from),
            },
            night::EntryBody::TransferOut { item, stage, quantity, to } => Self::TransferOut {
                id,
                item: code(item),
                stage: maybe(stage.as_ref()),
                quantity: quantity.into(),
                to: code(to),
            },
            night::EntryBody::Batch {
                item,
                from,
                put_in,
                steps,
                lot,
                labour_minutes,
                discard_at,
            } => Self::Batch {
                id,
                item: code(item),
                from: maybe(from.as_ref()),
                put_in: put_in.into(),
                steps: steps
                    .iter()
                    .map(|step| StepBody { stage: code(&step.stage), out: (&step.out).into() })
                    .collect(),
                lot: lot.clone(),
                labour_minutes: *labour_minutes,
                discard_at: discard_at.map(instant_text),
            },
            night::EntryBody::Preparation { item, made, inputs, labour_minutes, discard_at } => {
                Self::Preparation {
                    id,
                    item: code(item),
                    made: made.into(),
                    inputs: inputs.iter().map(Into::into).collect(),
                    labour_minutes: *labour_minutes,
                    discard_at: discard_at.map(instant_text),
                }
            }
            night::EntryBody::StockOut { item, from, to } => Self::StockOut {
                id,
                item: code(item),
                from: instant_text(*from),
                to: to.map(instant_text),
            },
            night::EntryBody::Sample { product, size, item, weights } => Self::Sample {
                id,
                product: code(product),
                size: code(size),
                item: code(item),
                weights: weights.iter().map(Into::into).collect(),
            },
        }
    }
}

/// An instant as answers have it.
pub(in crate::http) fn instant_text(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(chrono::SecondsFormat::AutoSi, true)
}
