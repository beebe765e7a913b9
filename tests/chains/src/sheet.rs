//! Prints an invented chain as a sheet, to try `parings review` on.
//!
//!     cargo run --release -p parings-chains --bin sheet -- --seed 1 --districts 22 > sheet.csv

use std::io::{self, BufWriter, Write};

use parings_chains::chain::{Chain, DISTRICTS, NIGHTS};
use parings_core::review::{Column, Status};

fn main() -> io::Result<()> {
    let (mut seed, mut districts) = (1, DISTRICTS);
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let number: Option<u64> = words.next().and_then(|number| number.parse().ok());
        match (word.as_str(), number) {
            ("--seed", Some(number)) => seed = number,
            ("--districts", Some(number)) => districts = number.max(4) as usize,
            _ => return Err(io::Error::other("sheet [--seed N] [--districts N]")),
        }
    }
    let chain = Chain::of(seed, districts, NIGHTS);
    let mut out = BufWriter::new(io::stdout().lock());
    let columns: Vec<&str> = Column::ALL.iter().map(|column| column.header()).collect();
    writeln!(
        out,
        "store,district,format,business_date,status,lot,promotion,{}",
        columns.join(",")
    )?;
    let labels = chain.sheet.labels();
    for night in chain.sheet.rows() {
        let word = |label: Option<_>| label.map_or("", |label| labels.word(label));
        let status = match night.status {
            Status::Closed => "closed",
            Status::Short => "short",
            Status::Open => "open",
            Status::NotYet | Status::Missing | Status::Held | Status::LeftOut => continue,
        };
        let (store, district) = (labels.word(night.store), labels.word(night.district));
        let format = labels.word(night.format);
        let (lot, promotion) = (word(night.lot), word(night.promotion));
        write!(out, "{store},{district},{format},{},{status},{lot},{promotion}", night.date)?;
        for column in Column::ALL {
            match night.figures.get(*column) {
                Some(figure) => write!(out, ",{}", (figure * 1e4).round() / 1e4)?,
                None => write!(out, ",")?,
            }
        }
        writeln!(out)?;
    }
    out.flush()
}
