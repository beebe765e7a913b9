//! The page that tells people how files are written: `deploy/files.md`, and what
//! `parings import --columns` prints.

use super::columns::{Column, FIRST};
use super::{Kind, flat};
use crate::app::figures::exports::What;

const BEFORE: &str = "\
# Files of facts

What `parings import` and `POST /v1/imports` read, and `parings export` writes. `parings import
--columns` prints this page.

## How a file is written

A file holds one kind of facts: `nights`, `entries`, `sales` or `tickets`. The kind is told by the
header, or said with `--kind`. The text is UTF-8; a byte order mark is taken off.

**CSV** follows RFC 4180: a header, then rows; a cell with a separator, a quotation mark or a line break
in it stands in quotation marks, and a quotation mark within is doubled. Lines end with LF or CRLF.
Columns may stand in any order, and those that are not needed may be left out. A name that is unknown or
stands twice, and a row with more or fewer cells than the header, are refused. There are two dialects,
and the second is never guessed:

| `--dialect` | between cells | in decimals |
|---|---|---|
| `comma` (when nothing is said) | `,` | `.` |
| `semicolon` | `;` | `,` |

Nothing stands between thousands. An empty cell says nothing: it is not a zero. Lists have ` | ` between
their parts, and `||` for a `|` that is meant. Texts that begin with `=`, `+`, `-`, `@`, a tab or a
carriage return (after any apostrophes) are written with one more apostrophe before them, so that no
spreadsheet takes them for formulas; an import takes that one off again. Numbers below zero are numbers
and stay as they are.

**NDJSON** has one JSON object a line: that of the API's own requests, with `store` and `business_date`
beside it. A night is `complete`, `counted_by`, `device_time`, `started_at`, `net_sales`, `lines` and
`units_sold`.

**XLSX** and **Parquet** are written and not read: the same table, with numbers as binary fractions.
Excel dates and lists are texts in XLSX. Parquet has dates, UTC instants in microseconds, doubles, and
texts, without compression.

## How a file is taken

As a whole or not at all, and the same file (by the SHA-256 of its content) once. What can only be wrong
refuses it; every such place is told with its line and column, the first 1,000 of them. What would be asked
about a count that somebody sends is kept and left out of all figures. Nothing is held, and neither age nor
lock matters, but no night is taken that has not begun. Nights that have a count, and nights that have
sales (or tickets) when sales (or tickets) come, are refused unless `--amend` gives a reason. Facts are
recorded in the name of whoever brings them in, at the moment of the import; an export has no such names
and moments, so that it is the same after an import elsewhere.

In the tables a row's sort is named in the last column where it uses a column, with * where the cell must
be filled; `store` and `business_date` must be filled in every row.
";

/// An example of each kind, invented.
fn example(kind: Kind) -> &'static str {
    match kind {
        Kind::Nights => {
            "\
```csv
store,business_date,row,complete,item,place,stage,quantity,unit,product,size,units
mill-lane,2026-06-15,night,yes,,,,,,,,
mill-lane,2026-06-15,count,,potato,dry-store,,3,bag,,,
mill-lane,2026-06-15,count,,potato,cold-room,blanch,27.5,kg,,,
mill-lane,2026-06-15,sold,,,,,,,fries,small,90
```

```ndjson
{\"store\":\"mill-lane\",\"business_date\":\"2026-06-15\",\"complete\":true,\"lines\":[{\"item\":\"potato\",\"place\":\"dry-store\",\"quantity\":{\"value\":\"3\",\"unit\":\"bag\"}}]}
```
"
        }
        Kind::Entries => {
            "\
```csv
store,business_date,kind,item,stage,quantity,unit,reason,lot,steps
mill-lane,2026-06-15,delivery,potato,,10,bag,,L-2291,
mill-lane,2026-06-15,waste,potato,blanch,1.5,kg,expired,,
mill-lane,2026-06-15,batch,potato,,20,kg,,,trim=18.1 kg | blanch=14 kg
```

```ndjson
{\"store\":\"mill-lane\",\"business_date\":\"2026-06-15\",\"kind\":\"delivery\",\"id\":\"0190b5a0-0000-7000-8000-000000000001\",\"item\":\"potato\",\"quantity\":{\"value\":\"10\",\"unit\":\"bag\"}}
```
"
        }
        Kind::Sales => {
            "\
```csv
store,business_date,code,units,net,daypart,additions
mill-lane,2026-06-15,1001,90,405.00,lunch,9001=12
```

```ndjson
{\"store\":\"mill-lane\",\"business_date\":\"2026-06-15\",\"code\":\"1001\",\"units\":90,\"net\":\"405.00\",\"when\":{\"daypart\":\"lunch\"}}
```
"
        }
        Kind::Tickets => {
            "\
```csv
store,business_date,ticket,placed,handed_off
mill-lane,2026-06-15,t1-42,2026-06-15T18:15:00+02:00,2026-06-15T18:21:30+02:00
```

```ndjson
{\"store\":\"mill-lane\",\"business_date\":\"2026-06-15\",\"id\":\"t1-42\",\"placed\":\"2026-06-15T16:15:00Z\"}
```
"
        }
    }
}

fn about(kind: Kind) -> &'static str {
    match kind {
        Kind::Nights => {
            "One row that is `night` for each store and date; a row that is `count` for each line \
             counted, and one that is `sold` for each size sold where no till sends that."
        }
        Kind::Entries => "A row for each entry.",
        Kind::Sales => "A row for each line of the till, in the order it was sent.",
        Kind::Tickets => "A row for each order.",
    }
}

fn row(column: &Column, last: &str) -> String {
    format!("| `{}` | {} | {} |{last}\n", column.name, cells(column), column.says)
}

/// What the cells hold; a `|` would end the cell of this table.
fn cells(column: &Column) -> String {
    column.cell.says().replace('|', "\\|")
}

fn of_kind(kind: Kind) -> String {
    let told = kind.told_by();
    let (head, line) = if told.is_some() { (" in rows |", "---|") } else { (" needed |", "---|") };
    let mut text = format!(
        "\n## {kind}\n\n{}\n\n{}\n| column | cells | what it means |{head}\n|---|---|---|{line}\n",
        about(kind),
        example(kind)
    );
    for column in kind.columns() {
        let always = FIRST.contains(&column.name) || told == Some(column.name);
        let uses = kind.shapes().iter().filter_map(|shape| {
            let used = shape.uses(column.name)?;
            Some(format!("{}{}", shape.word, if used.needed { "*" } else { "" }))
        });
        let uses = if always { "*".to_owned() } else { uses.collect::<Vec<_>>().join(" ") };
        text += &row(column, &format!(" {uses} |"));
    }
    text
}

/// The page, in Markdown.
pub fn page() -> String {
    let kinds: String = Kind::ALL.into_iter().map(of_kind).collect();
    let figures: String = flat::columns(What::Figures).iter().map(|one| row(one, "")).collect();
    format!(
        "{BEFORE}{kinds}\n## figures\n\nWritten alone: a row for each item and each count of it, with \
         what became of the item since the count before. Amounts are as purchased.\n\n\
         | column | cells | what it means |\n|---|---|---|\n{figures}"
    )
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::super::gather::file;
    use super::super::read::Declared;
    use super::{Kind, page};

    /// Every example of the page is read as it stands.
    #[test]
    fn the_examples_are_read() {
        let known = Declared { file: Uuid::nil(), kind: None, format: None, dialect: None };
        let page = page();
        let examples = page.split("```csv\n").skip(1).chain(page.split("```ndjson\n").skip(1));
        let examples = examples.map(|rest| rest.split("```").next().unwrap());
        let kinds: Vec<_> =
            examples.map(|text| file(text.as_bytes(), known).expect(text).kind).collect();
        assert_eq!(kinds, [Kind::ALL, Kind::ALL].concat());
    }
}
