//! The columns of CSV files, and where each lands in the object that NDJSON has on a line.

use super::Kind;

/// What a cell of a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cell {
    /// A code or a text.
    Text,
    /// A date as 2026-06-15.
    Date,
    /// An instant in RFC 3339 with its offset.
    Instant,
    /// A decimal number, with the dialect's point.
    Number,
    /// A whole number.
    Whole,
    /// `yes` or `no`.
    YesNo,
    /// A UUID in its usual form with hyphens.
    Id,
    /// Several things in one cell, with `|` between them.
    List(List),
}

/// What a list in a cell holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum List {
    /// Texts: `Ada | Ben`.
    Texts,
    /// Amounts: `180 g | 182 g`.
    Amounts,
    /// What came out of stages: `blanch=15.76 kg | chill=15.29 kg`.
    Steps,
    /// What went in, with its stage where it is none as purchased: `potato@chill=2 kg | salt=10 g`.
    Inputs,
    /// Till codes and units: `9001=2 | 9002=1`.
    Additions,
}

impl Cell {
    /// What a person is told to put there.
    pub fn says(self) -> &'static str {
        match self {
            Self::Text => "text",
            Self::Date => "date, 2026-06-15",
            Self::Instant => "RFC 3339, 2026-06-15T22:40:00+02:00",
            Self::Number => "number",
            Self::Whole => "whole number",
            Self::YesNo => "yes or no",
            Self::Id => "UUID",
            Self::List(List::Texts) => "texts, Ada | Ben",
            Self::List(List::Amounts) => "amounts, 180 g | 182 g",
            Self::List(List::Steps) => "steps, blanch=15.76 kg | chill=15.29 kg",
            Self::List(List::Inputs) => "inputs, potato@chill=2 kg | salt=10 g",
            Self::List(List::Additions) => "codes and units, 9001=2 | 9002=1",
        }
    }
}

/// A column of a kind of file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Its name in the header.
    pub name: &'static str,
    /// What its cells hold.
    pub cell: Cell,
    /// What the column means, as the page about files says it.
    pub says: &'static str,
}

/// A column as a sort of row uses it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Use {
    /// The name of the column in the header.
    pub column: &'static str,
    /// Where its value lands in the row's object, as a JSON Pointer.
    pub at: &'static str,
    /// Whether the cell must hold something.
    pub needed: bool,
}

/// A sort of row: the columns it uses.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shape {
    /// The word in the column that tells sorts of rows apart; empty where a kind has one sort.
    pub word: &'static str,
    /// The columns that such a row uses.
    pub uses: &'static [Use],
}

const fn need(column: &'static str, at: &'static str) -> Use {
    Use { column, at, needed: true }
}

const fn may(column: &'static str, at: &'static str) -> Use {
    Use { column, at, needed: false }
}

const fn column(name: &'static str, cell: Cell, says: &'static str) -> Column {
    Column { name, cell, says }
}

const STORE: Column = column("store", Cell::Text, "the store's code");
const DATE: Column = column("business_date", Cell::Date, "the business date, which counts");
const QUANTITY: &str = "how much, gross where it is in a pan";
const UNIT: &str = "a standard unit (g, kg, lb, ml, l, each …) or a pack's code";
const OUTCOME: &str =
    "sold, voided_before_making, refunded_after_making, given_away or staff_meal; sold if empty";

/// The columns of every kind that are told before the others.
pub const FIRST: [&str; 2] = [STORE.name, DATE.name];

/// Columns of nights.
const NIGHTS: &[Column] = &[
    STORE,
    DATE,
    column("row", Cell::Text, "what the row is: night, count or sold"),
    column("complete", Cell::YesNo, "whether every line of the sheet is answered"),
    column("counted_by", Cell::List(List::Texts), "who counted"),
    column("device_time", Cell::Instant, "when it was by the device"),
    column("started_at", Cell::Instant, "when counting began, by the device"),
    column("net_sales", Cell::Number, "net sales, where no till sends them"),
    column("item", Cell::Text, "the item's code"),
    column("place", Cell::Text, "the place's code"),
    column("stage", Cell::Text, "the stage's code; empty for as purchased"),
    column("quantity", Cell::Number, QUANTITY),
    column("unit", Cell::Text, UNIT),
    column("pan", Cell::Text, "the pan it was weighed in; its tare is taken off"),
    column("label", Cell::Text, "what is written on that very pan"),
    column("discard_at", Cell::Instant, "when it must be thrown away"),
    column("product", Cell::Text, "the product's code"),
    column("size", Cell::Text, "the size's code"),
    column("units", Cell::Whole, "how many"),
    column("outcome", Cell::Text, OUTCOME),
    column("daypart", Cell::Text, "when, if anybody knows"),
    column("channel", Cell::Text, "how it was ordered"),
];

const NIGHT_SHAPES: &[Shape] = &[
    Shape {
        word: "night",
        uses: &[
            need("complete", "/complete"),
            may("counted_by", "/counted_by"),
            may("device_time", "/device_time"),
            may("started_at", "/started_at"),
            may("net_sales", "/net_sales"),
        ],
    },
    Shape {
        word: "count",
        uses: &[
            need("item", "/item"),
            need("place", "/place"),
            may("stage", "/stage"),
            need("quantity", "/quantity/value"),
            need("unit", "/quantity/unit"),
            may("pan", "/pan"),
            may("label", "/label"),
            may("discard_at", "/discard_at"),
        ],
    },
    Shape {
        word: "sold",
        uses: &[
            need("product", "/product"),
            need("size", "/size"),
            need("units", "/units"),
            may("outcome", "/outcome"),
            may("daypart", "/daypart"),
            may("channel", "/channel"),
        ],
    },
];

/// Columns of entries.
const ENTRIES: &[Column] = &[
    STORE,
    DATE,
    column("kind", Cell::Text, "what the entry is: waste, delivery …"),
    column("id", Cell::Id, "the entry's own id, for ever; made from the file and line if empty"),
    column("item", Cell::Text, "the item's code"),
    column("stage", Cell::Text, "at which stage, of a batch from which; empty for as purchased"),
    column(
        "quantity",
        Cell::Number,
        "how much; of a batch what went in, of a preparation what came",
    ),
    column("unit", Cell::Text, UNIT),
    column("reason", Cell::Text, "the code of the reason of waste"),
    column("pan", Cell::Text, "the pan it was weighed in; its tare is taken off"),
    column("daypart", Cell::Text, "when, if anybody knows"),
    column("lot", Cell::Text, "the supplier's lot"),
    column("paid", Cell::Number, "what was paid for it in all"),
    column("other_store", Cell::Text, "the store a transfer came from or went to"),
    column("steps", Cell::List(List::Steps), "what came out of each stage that was weighed"),
    column("inputs", Cell::List(List::Inputs), "what went in, where it was weighed"),
    column("labour_minutes", Cell::Whole, "minutes of work"),
    column("out_from", Cell::Instant, "from when it was out of stock"),
    column("out_to", Cell::Instant, "to when; empty for the rest of the day"),
    column("product", Cell::Text, "the product's code"),
    column("size", Cell::Text, "the size's code"),
    column("weights", Cell::List(List::Amounts), "portions as they were served"),
];

const ENTRY_SHAPES: &[Shape] = &[
    Shape {
        word: "waste",
        uses: &[
            may("id", "/id"),
            need("item", "/item"),
            may("stage", "/stage"),
            need("reason", "/reason"),
            need("quantity", "/quantity/value"),
            need("unit", "/quantity/unit"),
            may("pan", "/pan"),
            may("daypart", "/daypart"),
        ],
    },
    Shape {
        word: "delivery",
        uses: &[
            may("id", "/id"),
            need("item", "/item"),
            need("quantity", "/quantity/value"),
            need("unit", "/quantity/unit"),
            may("lot", "/lot"),
            may("paid", "/paid"),
        ],
    },
    Shape {
        word: "transfer_in",
        uses: &[
            may("id", "/id"),
            need("item", "/item"),
            may("stage", "/stage"),
            need("quantity", "/quantity/value"),
            need("unit", "/quantity/unit"),
            need("other_store", "/from"),
        ],
    },
    Shape {
        word: "transfer_out",
        uses: &[
            may("id", "/id"),
            need("item", "/item"),
            may("stage", "/stage"),
            need("quantity", "/quantity/value"),
            need("unit", "/quantity/unit"),
            need("other_store", "/to"),
        ],
    },
    Shape {
        word: "batch",
        uses: &[
            may("id", "/id"),
            need("item", "/item"),
            may("stage", "/from"),
            need("quantity", "/put_in/value"),
            need("unit", "/put_in/unit"),
            need("steps", "/steps"),
            may("lot", "/lot"),
            may("labour_minutes", "/labour_minutes"),
        ],
    },
    Shape {
        word: "preparation",
        uses: &[
            may("id", "/id"),
            need("item", "/item"),
            need("quantity", "/made/value"),
            need("unit", "/made/unit"),
            may("inputs", "/inputs"),
            may("labour_minutes", "/labour_minutes"),
        ],
    },
    Shape {
        word: "stock_out",
        uses: &[
            may("id", "/id"),
            need("item", "/item"),
            need("out_from", "/from"),
            may("out_to", "/to"),
        ],
    },
    Shape {
        word: "sample",
        uses: &[
            may("id", "/id"),
            need("product", "/product"),
            need("size", "/size"),
            need("item", "/item"),
            need("weights", "/weights"),
        ],
    },
];

/// Columns of sales.
const SALES: &[Column] = &[
    STORE,
    DATE,
    column("line", Cell::Text, "the till's id of the line: of two with one id the later counts"),
    column("code", Cell::Text, "the till's code of the product and size"),
    column("units", Cell::Whole, "how many"),
    column("net", Cell::Number, "what was taken for them, net of tax and discount, in all"),
    column("daypart", Cell::Text, "when: a daypart; leave sold_at empty then"),
    column("sold_at", Cell::Instant, "when: an instant, such as the start of a quarter of an hour"),
    column("channel", Cell::Text, "how it was ordered"),
    column("additions", Cell::List(List::Additions), "what was added, to all the units together"),
    column("leave_outs", Cell::List(List::Texts), "items left out of each unit"),
    column("outcome", Cell::Text, OUTCOME),
];

const SALE_SHAPES: &[Shape] = &[Shape {
    word: "",
    uses: &[
        may("line", "/line"),
        need("code", "/code"),
        need("units", "/units"),
        need("net", "/net"),
        may("daypart", "/when/daypart"),
        may("sold_at", "/when/at"),
        may("channel", "/channel"),
        may("additions", "/additions"),
        may("leave_outs", "/leave_outs"),
        may("outcome", "/outcome"),
    ],
}];

/// Columns of tickets.
const TICKETS: &[Column] = &[
    STORE,
    DATE,
    column("ticket", Cell::Text, "the till's id of it: of two with one id the later counts"),
    column("placed", Cell::Instant, "when it was ordered"),
    column("handed_off", Cell::Instant, "when it was handed off; empty if it never was"),
    column("promised", Cell::Instant, "when it was promised for, if it was ordered ahead"),
    column("channel", Cell::Text, "how it was ordered"),
];

const TICKET_SHAPES: &[Shape] = &[Shape {
    word: "",
    uses: &[
        need("ticket", "/id"),
        need("placed", "/placed"),
        may("handed_off", "/handed_off"),
        may("promised", "/promised"),
        may("channel", "/channel"),
    ],
}];

impl Kind {
    /// Its columns, in the order they are written.
    pub fn columns(self) -> &'static [Column] {
        match self {
            Self::Nights => NIGHTS,
            Self::Entries => ENTRIES,
            Self::Sales => SALES,
            Self::Tickets => TICKETS,
        }
    }

    /// A column by its name.
    pub fn column(self, name: &str) -> Option<&'static Column> {
        self.columns().iter().find(|column| column.name == name)
    }

    /// Its sorts of rows.
    pub fn shapes(self) -> &'static [Shape] {
        match self {
            Self::Nights => NIGHT_SHAPES,
            Self::Entries => ENTRY_SHAPES,
            Self::Sales => SALE_SHAPES,
            Self::Tickets => TICKET_SHAPES,
        }
    }

    /// The column that tells its sorts of rows apart, if it has several.
    pub fn told_by(self) -> Option<&'static str> {
        match self {
            Self::Nights => Some("row"),
            Self::Entries => Some("kind"),
            Self::Sales | Self::Tickets => None,
        }
    }

    /// The sort of row of a word.
    pub fn shape(self, word: &str) -> Option<&'static Shape> {
        self.shapes().iter().find(|shape| shape.word == word)
    }

    /// A column, and a member of NDJSON, that no other kind has.
    fn mark(self) -> (&'static str, &'static str) {
        match self {
            Self::Nights => ("row", "complete"),
            Self::Entries => ("kind", "kind"),
            Self::Sales => ("net", "code"),
            Self::Tickets => ("placed", "placed"),
        }
    }

    /// The kind of a file by the names in its header.
    pub fn by_header<'a>(names: impl Iterator<Item = &'a str> + Clone) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| names.clone().any(|name| name == kind.mark().0))
    }

    /// The kind of a file by the members of its first object.
    pub fn by_members(members: &serde_json::Map<String, serde_json::Value>) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| members.contains_key(kind.mark().1))
    }
}

impl Shape {
    /// How it uses a column.
    pub fn uses(&self, column: &str) -> Option<&'static Use> {
        self.uses.iter().find(|used| used.column == column)
    }

    /// The column that a place in the row's object comes from: the nearest that holds it or lies
    /// within it.
    pub fn column_at(&self, pointer: &str) -> Option<&'static str> {
        let within = |inner: &str, outer: &str| {
            inner.strip_prefix(outer).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
        };
        let holds = self.uses.iter().filter(|used| within(pointer, used.at));
        let holds = holds.max_by_key(|used| used.at.len());
        let lies = || self.uses.iter().find(|used| !pointer.is_empty() && within(used.at, pointer));
        holds.or_else(lies).map(|used| used.column)
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn every_use_is_of_a_column_and_every_column_is_used() {
        for kind in Kind::ALL {
            let names: BTreeSet<_> = kind.columns().iter().map(|c| c.name).collect();
            assert_eq!(names.len(), kind.columns().len(), "{kind}: a name stands twice");
            let mut used: BTreeSet<_> = FIRST.into_iter().chain(kind.told_by()).collect();
            used.extend(kind.shapes().iter().flat_map(|shape| shape.uses).map(|u| u.column));
            assert_eq!(used, names, "{kind}");
        }
    }

    #[test]
    fn a_kind_is_told_by_its_header() {
        for kind in Kind::ALL {
            let names = kind.columns().iter().map(|column| column.name);
            assert_eq!(Kind::by_header(names), Some(kind));
        }
        assert_eq!(Kind::by_header(["store", "business_date"].into_iter()), None);
    }

    #[test]
    fn a_place_in_the_object_is_a_column() {
        let batch = Kind::Entries.shape("batch").unwrap();
        for (pointer, column) in [
            ("/put_in/unit", Some("unit")),
            ("/put_in", Some("quantity")),
            ("/steps/2/out/unit", Some("steps")),
            ("/from", Some("stage")),
            ("/nothing", None),
            ("", None),
        ] {
            assert_eq!(batch.column_at(pointer), column, "{pointer}");
        }
    }
}
