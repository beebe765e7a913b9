//! `parings export`: takes facts and figures out in files.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::PathBuf;

use anyhow::Context;
use chrono::NaiveDate;
use clap::{Args, ValueEnum};
use parings::app::figures::exports::{self, Asked, What};
use parings::app::night::loading::Kind;
use parings::files::Dialect;
use parings::files::write::{Format, Writer};
use parings_core::calendar::DateSpan;
use parings_core::ids::{DistrictId, StoreId};

use super::import::plain;
use super::office::Office;
use super::serve::runtime;

/// Takes facts and figures out in files; nights, entries, sales and tickets are as `parings import`
/// reads them.
#[derive(Debug, Args)]
pub struct Export {
    /// Which facts or figures to take out
    what: Word,
    /// Only of this store; once for each
    #[arg(long = "store", value_name = "CODE")]
    stores: Vec<StoreId>,
    /// Only of dates on which the store stood in this district
    #[arg(long, value_name = "CODE")]
    district: Option<DistrictId>,
    /// The first business date [default: the first there is]
    #[arg(long, value_name = "DATE", default_value = "1970-01-01", hide_default_value = true)]
    from: NaiveDate,
    /// The last business date [default: the last there is]
    #[arg(long, value_name = "DATE", default_value = "9999-12-31", hide_default_value = true)]
    to: NaiveDate,
    /// csv, ndjson, xlsx or parquet
    #[arg(long, default_value_t)]
    format: Format,
    /// Of CSV: comma (decimals with a point) or semicolon (decimals with a comma)
    #[arg(long, default_value_t)]
    dialect: Dialect,
    /// Where to [default: standard output]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    #[command(flatten)]
    office: Office,
}

/// What is taken out.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum Word {
    /// Counts of nights
    Nights,
    /// What was recorded through the day
    Entries,
    /// What tills sent of sales
    Sales,
    /// What tills sent of orders
    Tickets,
    /// The use of items between counts, a row for each: for analysts
    Figures,
}

impl From<Word> for What {
    fn from(word: Word) -> Self {
        match word {
            Word::Nights => Self::Facts(Kind::Nights),
            Word::Entries => Self::Facts(Kind::Entries),
            Word::Sales => Self::Facts(Kind::Sales),
            Word::Tickets => Self::Facts(Kind::Tickets),
            Word::Figures => Self::Figures,
        }
    }
}

impl Export {
    /// Writes the file; says on standard error what is in it.
    pub fn run(self) -> anyhow::Result<()> {
        let asked = Asked {
            what: self.what.into(),
            stores: self.stores,
            district: self.district,
            span: DateSpan::new(self.from.into(), self.to.into())?,
        };
        let out: Box<dyn Write + Send> = match &self.out {
            Some(path) => {
                let file = File::create(path);
                Box::new(file.with_context(|| format!("cannot write {}", path.display()))?)
            }
            None => Box::new(std::io::stdout()),
        };
        let mut file = Writer::new(asked.what, self.format, self.dialect, BufWriter::new(out))?;
        let count = runtime()?.block_on(async {
            let at_work = self.office.begin().await?;
            let take = |taken| file.write(&taken);
            exports::run(&at_work.deps, &at_work.caller, &asked, take).await.map_err(plain)
        })?;
        file.finish()?;
        eprintln!("{}: {count}", asked.what.word());
        Ok(())
    }
}
