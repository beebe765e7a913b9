//! Rows of a night's facts as people read them, and the reference data each rests on.

use std::collections::BTreeSet;
use std::fmt::Display;

use super::{DayFacts, Row};
use crate::catalog::{Catalog, Kind};
use crate::night::{CountLine, EntryBody, Outcome, Sale, TillTicket, UnitsSold, When};

impl DayFacts {
    /// A row's kind, as in the API; none when there is no such row.
    pub fn kind(&self, row: Row) -> Option<&'static str> {
        Some(match row {
            Row::CountLine(_) => "count_line",
            Row::UnitsSold(_) => "units_sold",
            Row::NetSales => "net_sales",
            Row::Entry(n) => self.entries.get(n)?.body.kind(),
            Row::Sale { .. } => "sale",
            Row::Ticket { .. } => "ticket",
        })
    }

    /// A row in words, its amounts as typed; none when there is no such row. It names nobody.
    ///
    /// ```
    /// use parings_core::night::Entry;
    /// use parings_core::tally::{DayFacts, Row};
    /// let waste: Entry = serde_json::from_str(
    ///     r#"{"id": "018f2f9e-0000-7000-8000-000000000001", "body": {"kind": "waste",
    ///         "item": "potato", "stage": "trim", "reason": "expired",
    ///         "quantity": {"value": "1.5", "unit": "kg"}}}"#,
    /// ).unwrap();
    /// let facts = DayFacts { entries: vec![waste], ..DayFacts::default() };
    /// let says = facts.says(Row::Entry(0)).unwrap();
    /// assert_eq!(says, "1.5 kg of potato thrown away, stage trim, reason expired");
    /// ```
    pub fn says(&self, row: Row) -> Option<String> {
        let count = self.count.as_ref();
        match row {
            Row::CountLine(n) => count?.lines.get(n).map(line),
            Row::UnitsSold(n) => count?.units_sold.get(n).map(units),
            Row::NetSales => Some(format!("net sales of {} typed", count?.net_sales?.to_decimal())),
            Row::Entry(n) => self.entries.get(n).map(|e| entry(&e.body)),
            Row::Sale { batch, line } => self.till.get(batch)?.sales.get(line).map(sale),
            Row::Ticket { batch, line } => self.till.get(batch)?.tickets.get(line).map(ticket),
        }
    }

    /// The documents that what a row comes to rests on, by kind and code.
    pub fn rests_on(&self, row: Row, catalog: &Catalog) -> BTreeSet<(Kind, String)> {
        let mut found = BTreeSet::new();
        match row {
            Row::CountLine(n) => {
                let line = self.count.as_ref().and_then(|count| count.lines.get(n));
                found.extend(line.map(|line| (Kind::Item, line.item.to_string())));
            }
            Row::UnitsSold(n) => {
                let sold = self.count.as_ref().and_then(|count| count.units_sold.get(n));
                if let Some(sold) = sold {
                    catalog.behind_product(&sold.product, &sold.size, &mut found);
                }
            }
            Row::Sale { batch, line } => {
                let sale = self.till.get(batch).and_then(|sent| sent.sales.get(line));
                if let Some(sale) = sale {
                    if let Some((product, size)) = catalog.by_till_code(&sale.code) {
                        catalog.behind_product(product, &size.code, &mut found);
                    }
                    for added in &sale.additions {
                        if let Some((id, addition)) = catalog.addition_by_till_code(&added.code) {
                            found.insert((Kind::Addition, id.to_string()));
                            catalog.behind_lines(&addition.lines, &mut found);
                        }
                    }
                }
            }
            Row::Entry(n) => {
                if let Some(entry) = self.entries.get(n) {
                    found.insert((Kind::Item, entry.body.item().to_string()));
                    match &entry.body {
                        EntryBody::Waste { reason, .. } => {
                            found.insert((Kind::Reason, reason.to_string()));
                        }
                        EntryBody::Sample { product, .. } => {
                            found.insert((Kind::Product, product.to_string()));
                        }
                        _ => {}
                    }
                }
            }
            Row::NetSales | Row::Ticket { .. } => {}
        }
        found
    }
}

fn with(mut said: String, word: &str, what: Option<&impl Display>) -> String {
    if let Some(what) = what {
        said.push_str(&format!(", {word} {what}"));
    }
    said
}

fn line(line: &CountLine) -> String {
    let said = format!("{} of {} counted in {}", line.quantity, line.item, line.place);
    with(with(said, "stage", line.stage.as_ref()), "in pan", line.pan.as_ref())
}

fn outcome(of: Outcome) -> &'static str {
    match of {
        Outcome::Sold => "sold",
        Outcome::VoidedBeforeMaking => "voided before making",
        Outcome::RefundedAfterMaking => "refunded after making",
        Outcome::GivenAway => "given away",
        Outcome::StaffMeal => "made for staff",
    }
}

fn units(sold: &UnitsSold) -> String {
    let said = format!("{} × {}/{} {}", sold.units, sold.product, sold.size, outcome(sold.outcome));
    with(with(said, "daypart", sold.daypart.as_ref()), "channel", sold.channel.as_ref())
}

fn sale(sale: &Sale) -> String {
    let mut said = format!("{} × code {} {}", sale.units, sale.code, outcome(sale.outcome));
    for added in &sale.additions {
        said.push_str(&format!(", with {} × code {}", added.units, added.code));
    }
    for left in &sale.leave_outs {
        said.push_str(&format!(", without {left}"));
    }
    said = match &sale.when {
        When::Daypart(daypart) => with(said, "daypart", Some(daypart)),
        When::At(at) => with(said, "at", Some(&at.to_rfc3339())),
        When::Unknown => said,
    };
    said = with(said, "channel", sale.channel.as_ref());
    format!("{said}, net {}", sale.net.to_decimal())
}

fn ticket(ticket: &TillTicket) -> String {
    let said = format!("placed {}", ticket.placed.to_rfc3339());
    let said = with(said, "promised", ticket.promised.map(|at| at.to_rfc3339()).as_ref());
    match ticket.handed_off {
        Some(at) => with(said, "handed off", Some(&at.to_rfc3339())),
        None => format!("{said}, never closed"),
    }
}

fn entry(body: &EntryBody) -> String {
    match body {
        EntryBody::Waste { item, stage, reason, quantity, pan, daypart } => {
            let said = with(format!("{quantity} of {item} thrown away"), "stage", stage.as_ref());
            let said = with(with(said, "reason", Some(reason)), "in pan", pan.as_ref());
            with(said, "daypart", daypart.as_ref())
        }
        EntryBody::Delivery { item, quantity, lot, .. } => {
            with(format!("{quantity} of {item} delivered"), "lot", lot.as_ref())
        }
        EntryBody::TransferIn { item, stage, quantity, from } => {
            with(format!("{quantity} of {item} come from {from}"), "stage", stage.as_ref())
        }
        EntryBody::TransferOut { item, stage, quantity, to } => {
            with(format!("{quantity} of {item} gone to {to}"), "stage", stage.as_ref())
        }
        EntryBody::Batch { item, from, put_in, steps, lot, .. } => {
            let mut said = with(format!("{put_in} of {item} put in"), "stage", from.as_ref());
            for step in steps {
                said.push_str(&format!(", {} out of {}", step.out, step.stage));
            }
            with(said, "lot", lot.as_ref())
        }
        EntryBody::Preparation { item, made, .. } => format!("{made} of {item} prepared"),
        EntryBody::StockOut { item, from, to } => {
            let said = format!("{item} ran out, from {}", from.to_rfc3339());
            with(said, "to", to.map(|at| at.to_rfc3339()).as_ref())
        }
        EntryBody::Sample { product, size, item, weights } => {
            let weights: Vec<_> = weights.iter().map(ToString::to_string).collect();
            format!("{item} of {product}/{size} weighed: {}", weights.join(", "))
        }
    }
}

#[cfg(test)]
mod tests;
