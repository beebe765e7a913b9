//! What each row of a night's facts contributes to which part of an item's day. [`super::day`] adds
//! these up and [`super::Figure::rows`] lists them, so the two cannot disagree.

use std::collections::BTreeSet;

use rust_decimal::Decimal;

use super::{DayFacts, Misfit};
use crate::catalog::{Catalog, Needs, Typed};
use crate::ids::{DaypartId, ItemId, ReasonId, StageId};
use crate::money::Money;
use crate::night::{Count, EntryBody, Outcome, Sale, Step, TillTicket, UnitsSold, line_amount};
use crate::quantity::Base;
use crate::usage::Samples;

/// A row of [`DayFacts`], by its place there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Row {
    /// A line of the count.
    CountLine(usize),
    /// Units typed with the count.
    UnitsSold(usize),
    /// Net sales typed with the count.
    NetSales,
    /// What somebody recorded through the day, by its place among [`DayFacts::entries`].
    Entry(usize),
    /// A line of a till's batch.
    Sale {
        /// The place of the batch in [`DayFacts::till`].
        batch: usize,
        /// The line of its sales.
        line: usize,
    },
    /// A ticket of a till's batch.
    Ticket {
        /// The place of the batch in [`DayFacts::till`].
        batch: usize,
        /// The line of its tickets.
        line: usize,
    },
}

/// A part of an item's day that rows contribute to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part<'a> {
    /// What suppliers brought.
    Received,
    /// Come from other stores.
    TransferredIn,
    /// Gone to other stores.
    TransferredOut,
    /// Prepared here from other items.
    Made,
    /// What preparing other items should have taken.
    MadeInto,
    /// What sales should have used.
    Expected,
    /// What was thrown away, by stage, reason and daypart.
    Waste {
        /// At which stage; none for as purchased.
        stage: Option<&'a StageId>,
        /// The reason it was thrown away for.
        reason: &'a ReasonId,
        /// When; none if nobody knows.
        daypart: Option<&'a DaypartId>,
    },
    /// Weighed into batches, at the stage they started from.
    BatchIn,
    /// Weighed out of them, at the stage they ended with.
    BatchOut,
    /// What should have come out at that stage.
    BatchExpectedOut,
    /// What batches lost beyond the standard.
    YieldLoss,
    /// What stood there in the end; of an item whose every shelf was answered and relied on.
    Closing,
}

/// What a row contributes to a part of an item's day. As purchased and exact, but for what batches
/// weighed, which is at their stages.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contribution<'a> {
    /// The row that contributes.
    pub row: Row,
    /// The item; a sale contributes to those of its recipe.
    pub item: ItemId,
    /// The part of the item's day that it contributes to.
    pub part: Part<'a>,
    /// How much it contributes, exact, in the item's base unit.
    pub amount: Base,
}

/// Every contribution of a date's facts, in the order in which they are added up.
///
/// # Errors
/// [`Misfit`], when a fact names what the catalogue does not have.
pub fn contributions<'a>(
    facts: &'a DayFacts,
    catalog: &Catalog,
) -> Result<Vec<Contribution<'a>>, Misfit> {
    let mut found = Finding { catalog, row: Row::NetSales, all: Vec::new() };
    for (n, entry) in facts.entries.iter().enumerate() {
        found.row = Row::Entry(n);
        found.entry(&entry.body)?;
    }
    found.sales(facts)?;
    if let Some(count) = &facts.count {
        found.count(count, &facts.left_out)?;
    }
    Ok(found.all)
}

struct Finding<'a, 'c> {
    catalog: &'c Catalog,
    row: Row,
    all: Vec<Contribution<'a>>,
}

impl<'a> Finding<'a, '_> {
    fn add(&mut self, item: &ItemId, part: Part<'a>, amount: Base) {
        self.all.push(Contribution { row: self.row, item: item.clone(), part, amount });
    }

    fn bought(
        &mut self,
        item: &ItemId,
        stage: Option<&StageId>,
        typed: &Typed,
        part: Part<'a>,
    ) -> Result<(), Misfit> {
        let amount = line_amount(self.catalog, item, stage, typed, None)?;
        self.add(item, part, amount);
        Ok(())
    }

    fn entry(&mut self, body: &'a EntryBody) -> Result<(), Misfit> {
        match body {
            EntryBody::Waste { item, stage, reason, quantity, pan, daypart } => {
                let (stage, daypart) = (stage.as_ref(), daypart.as_ref());
                let amount = line_amount(self.catalog, item, stage, quantity, pan.as_ref())?;
                self.add(item, Part::Waste { stage, reason, daypart }, amount);
            }
            EntryBody::Delivery { item, quantity, .. } => {
                self.bought(item, None, quantity, Part::Received)?;
            }
            EntryBody::TransferIn { item, stage, quantity, .. } => {
                self.bought(item, stage.as_ref(), quantity, Part::TransferredIn)?;
            }
            EntryBody::TransferOut { item, stage, quantity, .. } => {
                self.bought(item, stage.as_ref(), quantity, Part::TransferredOut)?;
            }
            EntryBody::Batch { item, from, put_in, steps, .. } => {
                self.batch(item, from.as_ref(), put_in, steps)?;
            }
            EntryBody::Preparation { item, made, .. } => {
                let amount = line_amount(self.catalog, item, None, made, None)?;
                // The use of an item that is never counted flows through to its inputs with its
                // sales; what was made of it moves nothing.
                if self.catalog.items.get(item).is_some_and(|i| !i.flows_through()) {
                    self.add(item, Part::Made, amount);
                    for (input, taken) in self.catalog.inputs_of(item, amount)?.0 {
                        self.add(&input, Part::MadeInto, taken);
                    }
                }
            }
            EntryBody::StockOut { .. } | EntryBody::Sample { .. } => {}
        }
        Ok(())
    }

    fn batch(
        &mut self,
        id: &ItemId,
        from: Option<&StageId>,
        put_in: &Typed,
        steps: &[Step],
    ) -> Result<(), Misfit> {
        let item = self.catalog.item(id)?;
        let Some(last) = steps.last() else { return Ok(()) };
        let went_in = item.measure(id, put_in)?;
        let came_out = item.measure(id, &last.out)?;
        let bought = item.as_purchased(id, went_in, from)?;
        let should = item.stages.at_stage(bought, Some(&last.stage))?;
        let lost = item.as_purchased(id, should - came_out, Some(&last.stage))?;
        self.add(id, Part::BatchIn, went_in);
        self.add(id, Part::BatchOut, came_out);
        self.add(id, Part::BatchExpectedOut, should);
        self.add(id, Part::YieldLoss, lost);
        Ok(())
    }

    fn sales(&mut self, facts: &'a DayFacts) -> Result<(), Misfit> {
        for sold in sold(facts) {
            let mut needs = Needs::default();
            match sold.what {
                What::Fed(sale) if sold.units > 0 => self.sale(sale, sold.units, &mut needs)?,
                What::Fed(_) => {}
                What::Typed(typed) => {
                    let one = self.catalog.needs_of(&typed.product, &typed.size)?;
                    needs.add_times(one, sold.units);
                }
            }
            self.row = sold.row;
            for (item, amount) in needs.0 {
                self.add(&item, Part::Expected, amount);
            }
        }
        Ok(())
    }

    fn sale(&self, sale: &Sale, units: u64, needs: &mut Needs) -> Result<(), Misfit> {
        if let Some((product, size)) = self.catalog.by_till_code(&sale.code) {
            let mut one = self.catalog.needs_of(product, &size.code)?;
            one.0.retain(|item, _| !sale.leave_outs.contains(item));
            needs.add_times(one, units);
        }
        for added in &sale.additions {
            if let Some((_, addition)) = self.catalog.addition_by_till_code(&added.code) {
                self.catalog.take_lines(&addition.lines, added.units.into(), needs)?;
            }
        }
        Ok(())
    }

    fn count(&mut self, count: &Count, left_out: &BTreeSet<ItemId>) -> Result<(), Misfit> {
        for (n, line) in count.lines.iter().enumerate() {
            let amount = line.amount(self.catalog)?;
            let item = self.catalog.item(&line.item)?;
            let answered = |shelf: &crate::catalog::Shelf| {
                let mut lines = count.lines.iter().filter(|l| l.item == line.item);
                lines.any(|l| l.place == shelf.place && l.stage == shelf.stage)
            };
            if !left_out.contains(&line.item) && item.shelves.iter().all(answered) {
                self.row = Row::CountLine(n);
                self.add(&line.item, Part::Closing, amount);
            }
        }
        Ok(())
    }
}

impl Needs {
    fn add_times(&mut self, one: Self, units: u64) {
        for (item, amount) in one.0 {
            *self.0.entry(item).or_default() += amount * Decimal::from(units);
        }
    }
}

/// The portions that entries weighed, each entry's by itself.
///
/// # Errors
/// [`Misfit`], when a fact names what the catalogue does not have.
pub fn samples<'a>(
    facts: &'a DayFacts,
    catalog: &Catalog,
) -> Result<Vec<(Row, &'a ItemId, Samples)>, Misfit> {
    let mut all = Vec::new();
    for (n, entry) in facts.entries.iter().enumerate() {
        let EntryBody::Sample { product, size, item, weights } = &entry.body else { continue };
        let found = catalog.size(product, size)?;
        let line = found.lines.iter().find(|l| l.item == *item);
        let line = line.ok_or_else(|| Misfit::NoLine {
            product: product.clone(),
            size: size.clone(),
            item: item.clone(),
        })?;
        let known = catalog.item(item)?;
        let standard = known.measure(item, &line.quantity)?;
        let mut weighed = Samples::default();
        for weight in weights {
            let weight = known.measure(item, weight)?;
            weighed.add(weight, standard);
        }
        all.push((Row::Entry(n), item, weighed));
    }
    Ok(all)
}

/// Units that were sold.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sold<'a> {
    pub row: Row,
    pub what: What<'a>,
    /// Units that used food.
    pub units: u64,
    /// What was taken for them in the end; a till tells, and typed units have it all together.
    pub taken: Money,
}

/// What was sold.
#[derive(Debug, Clone, Copy)]
pub(super) enum What<'a> {
    /// A till's line that was not superseded.
    Fed(&'a Sale),
    /// Typed with the count.
    Typed(&'a UnitsSold),
}

/// What was sold on a date: by a till's feed, else as typed.
pub(super) fn sold(facts: &DayFacts) -> Vec<Sold<'_>> {
    let fed = facts.till.iter().enumerate().flat_map(|(batch, sent)| {
        let row = move |line| Row::Sale { batch, line };
        sent.sales.iter().enumerate().map(move |(line, sale)| (row(line), sale))
    });
    let fed = latest(fed, |sale| sale.line.as_deref());
    if !fed.is_empty() {
        return fed
            .into_iter()
            .map(|(row, sale)| {
                let (units, taken) = units_and_money(sale.outcome, sale.units, sale.net);
                Sold { row, what: What::Fed(sale), units, taken }
            })
            .collect();
    }
    let typed = facts.count.iter().flat_map(|count| &count.units_sold);
    typed
        .enumerate()
        .map(|(n, sold)| {
            let (units, taken) = units_and_money(sold.outcome, sold.units, Money::ZERO);
            Sold { row: Row::UnitsSold(n), what: What::Typed(sold), units, taken }
        })
        .collect()
}

/// The tickets of a date that were not superseded, in the order sent.
pub(super) fn tickets(facts: &DayFacts) -> Vec<(Row, &TillTicket)> {
    let sent = facts.till.iter().enumerate().flat_map(|(batch, sent)| {
        let row = move |line| Row::Ticket { batch, line };
        sent.tickets.iter().enumerate().map(move |(line, ticket)| (row(line), ticket))
    });
    latest(sent, |ticket| Some(ticket.id.as_str()))
}

/// What each row took in net sales on a date: lines of a till, else the sum typed with units.
pub fn takings(facts: &DayFacts) -> Vec<(Row, Money)> {
    let sold = sold(facts);
    if let Some(Sold { row: Row::UnitsSold(_), .. }) = sold.first() {
        let net = facts.count.as_ref().and_then(|count| count.net_sales);
        return net.map(|net| (Row::NetSales, net)).into_iter().collect();
    }
    sold.iter().map(|sold| (sold.row, sold.taken)).collect()
}

/// The orders of a date, each by its ticket.
pub fn orders(facts: &DayFacts) -> Vec<Row> {
    tickets(facts).into_iter().map(|(row, _)| row).collect()
}

/// Units that used food, and what was taken for them in the end.
fn units_and_money(outcome: Outcome, units: u32, net: Money) -> (u64, Money) {
    match outcome {
        Outcome::Sold => (units.into(), net),
        Outcome::VoidedBeforeMaking => (0, Money::ZERO),
        Outcome::RefundedAfterMaking | Outcome::GivenAway | Outcome::StaffMeal => {
            (units.into(), Money::ZERO)
        }
    }
}

/// Of what was sent under one id, the last; what has no id stands for itself. In the order sent.
fn latest<'a, T>(
    sent: impl Iterator<Item = (Row, &'a T)>,
    id: impl Fn(&T) -> Option<&str>,
) -> Vec<(Row, &'a T)> {
    let sent: Vec<(Row, &T)> = sent.collect();
    let last: std::collections::BTreeMap<&str, Row> =
        sent.iter().filter_map(|(row, one)| Some((id(one)?, *row))).collect();
    sent.iter()
        .filter(|(row, one)| id(one).is_none_or(|id| last.get(id) == Some(row)))
        .copied()
        .collect()
}
