//! What guests order, and how long they wait.

use std::collections::BTreeMap;

use anyhow::Context;
use chrono::{DateTime, TimeDelta, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::Daypart;
use parings_core::ids::ChannelId;
use parings_core::money::Money;
use parings_core::night::{
    AdditionSold, Count, Outcome, Sale, TillBatch, TillTicket, UnitsSold, When,
};
use rust_decimal::Decimal;

use super::days::Happening;
use super::kitchen::{Kitchen, decimal};

/// Till codes, and units of each for every order.
pub const MIX: [(&str, f64); 21] = [
    ("FF1", 0.30),
    ("FF2", 0.09),
    ("CF1", 0.12),
    ("PF1", 0.11),
    ("FP1", 0.08),
    ("CP1", 0.03),
    ("FB1", 0.07),
    ("TP1", 0.10),
    ("TP2", 0.22),
    ("TP3", 0.14),
    ("TP4", 0.05),
    ("SL1", 0.06),
    ("SL2", 0.03),
    ("LB1", 0.05),
    ("DH1", 0.09),
    ("DP1", 0.06),
    ("DC1", 0.05),
    ("WB1", 0.22),
    ("BD1", 0.12),
    ("BD2", 0.09),
    ("CX1", 0.13),
];

/// What may be added to which code, how often, and what it costs.
const ADDITIONS: [(&str, &str, f64, f64); 3] =
    [("FF1", "AF1", 0.05, 2.60), ("CF1", "AC1", 0.08, 0.90), ("FP1", "AH1", 0.15, 0.80)];

/// The share of a counter's orders by daypart; a kiosk keeps those it has.
const DAYPARTS: [(&str, f64); 5] =
    [("forenoon", 0.08), ("midday", 0.37), ("afternoon", 0.14), ("evening", 0.31), ("late", 0.10)];

/// A code of the till that is not on the menu.
const UNMAPPED: (&str, u32, f64) = ("MINT-TEA", 14, 2.20);

impl Kitchen<'_> {
    /// Sales and tickets of a date: up to 15:00, and after.
    pub(super) fn sell(&mut self, date: BusinessDate) -> anyhow::Result<[TillBatch; 2]> {
        let dayparts = self.catalog.dayparts_of(&self.id, self.store);
        let shares: BTreeMap<&str, f64> = DAYPARTS.into_iter().collect();
        let share = |part: &Daypart| shares.get(part.code.as_str()).copied().unwrap_or_default();
        let all: f64 = dayparts.iter().map(share).sum();
        let orders = self.chance.near(self.place.orders * self.bustle(date), 0.05);
        let mut batches = [TillBatch::default(), TillBatch::default()];
        for part in &dayparts {
            let here = orders * share(part) / all;
            let later =
                usize::from(part.code.as_str() != "forenoon" && part.code.as_str() != "midday");
            for (code, each) in MIX {
                self.sell_one(part, code, here * each, &mut batches[later])?;
            }
            self.queue(date, part, here, &mut batches[later])?;
        }
        self.beside_the_menu(&mut batches[1])?;
        Ok(batches)
    }

    fn sell_one(
        &mut self,
        part: &Daypart,
        code: &str,
        mean: f64,
        batch: &mut TillBatch,
    ) -> anyhow::Result<()> {
        let units = self.chance.count(mean);
        let away = if units > 4 { self.chance.count(mean * 0.22).min(units) } else { 0 };
        let channel = if self.chance.happens(0.5) { "collection" } else { "delivery" };
        for (channel, units) in [("counter", units - away), (channel, away)] {
            if units == 0 {
                continue;
            }
            let mut sale = self.sale(code, units, Outcome::Sold)?;
            sale.line = Some(format!("{}-{code}-{channel}", part.code));
            sale.when = When::Daypart(part.code.clone());
            sale.channel = Some(channel.parse()?);
            for (to, added, often, price) in ADDITIONS {
                let units =
                    if to == code { self.chance.count(f64::from(units) * often) } else { 0 };
                if units > 0 {
                    sale.additions.push(AdditionSold { code: added.to_owned(), units });
                    sale.net += money(price * f64::from(units))?;
                }
            }
            batch.sales.push(sale);
        }
        Ok(())
    }

    fn sale(&self, code: &str, units: u32, outcome: Outcome) -> anyhow::Result<Sale> {
        let (_, size) = self.catalog.by_till_code(code).context("not on the menu")?;
        let price = size.price.context("no price")?.to_decimal();
        Ok(Sale {
            line: None,
            code: code.to_owned(),
            units,
            net: Money::from_decimal(price * Decimal::from(units))?,
            when: When::Unknown,
            channel: None,
            additions: Vec::new(),
            leave_outs: Vec::new(),
            outcome,
        })
    }

    /// Staff meals, a refund, something given away, folds without slaw, and what nobody mapped.
    fn beside_the_menu(&mut self, batch: &mut TillBatch) -> anyhow::Result<()> {
        let meals = (self.place.orders / 55.0).ceil() as u32;
        let mut all = vec![self.sale("FB1", meals, Outcome::StaffMeal)?];
        all.push(self.sale("FF1", meals, Outcome::StaffMeal)?);
        if self.chance.happens(0.5) {
            all.push(self.sale("FP1", 1, Outcome::RefundedAfterMaking)?);
        }
        if self.chance.happens(0.4) {
            all.push(self.sale("TP1", 2, Outcome::GivenAway)?);
        }
        let plain = 1 + self.chance.count(2.0);
        let mut without = self.sale("FF1", plain, Outcome::Sold)?;
        without.leave_outs = vec!["slaw".parse()?];
        all.push(without);
        if self.happens(Happening::Unmapped) {
            let (code, units, price) = UNMAPPED;
            let mut tea = self.sale("WB1", units, Outcome::Sold)?;
            tea.code = code.to_owned();
            tea.net = money(price * f64::from(units))?;
            all.push(tea);
        }
        for mut sale in all {
            sale.when = When::Daypart("evening".parse()?);
            sale.channel = Some("counter".parse()?);
            if sale.outcome == Outcome::StaffMeal || sale.outcome == Outcome::GivenAway {
                sale.net = Money::ZERO;
            }
            batch.sales.push(sale);
        }
        Ok(())
    }

    /// Orders of a daypart and how long each took.
    fn queue(
        &mut self,
        date: BusinessDate,
        part: &Daypart,
        mean: f64,
        batch: &mut TillBatch,
    ) -> anyhow::Result<()> {
        let minute = |time: chrono::NaiveTime| {
            use chrono::Timelike;
            i64::from(time.hour() * 60 + time.minute())
        };
        let (from, to) = (minute(part.hours.from()), minute(part.hours.to()));
        let length = if to > from { to - from } else { to + 24 * 60 - from };
        let opens = self.moment(date, (0, from))?;
        let kiosk = self.store.format.as_str() == "kiosk";
        let slow = if self.happens(Happening::SlowOrders) { 1.3 } else { 1.0 };
        let busy = if part.code.as_str() == "midday" { 1.12 * slow } else { slow };
        let orders = self.chance.count(mean);
        let lump = self.happens(Happening::LumpClosing) && part.code.as_str() == "evening";
        for n in 0..orders {
            let placed = opens + seconds(self.chance.share() * length as f64 * 60.0);
            let draw = self.chance.share();
            let (channel, median) = match draw {
                _ if draw < 0.76 => ("counter", if kiosk { 270.0 } else { 330.0 }),
                _ if draw < 0.88 => ("collection", 1_150.0),
                _ => ("delivery", 610.0),
            };
            let spread = if channel == "collection" { 0.1 } else { 0.32 };
            let took = seconds(median * busy * (spread * self.chance.normal()).exp());
            let promised = (channel == "collection").then(|| placed + TimeDelta::minutes(20));
            let mut handed_off = (!self.chance.happens(0.006)).then_some(placed + took);
            if lump && n < 9 {
                let at = opens + TimeDelta::minutes(length);
                handed_off = Some(at.max(placed) + TimeDelta::seconds(i64::from(n / 2)));
            }
            batch.tickets.push(TillTicket {
                id: format!("{}-{n}", part.code),
                placed,
                handed_off,
                promised,
                channel: Some(ChannelId::new(channel)?),
            });
        }
        batch.tickets.sort_by_key(|ticket: &TillTicket| -> DateTime<Utc> { ticket.placed });
        Ok(())
    }
}

/// The same sales as somebody types them when the till is down.
pub(super) fn as_typed(
    kitchen: &Kitchen<'_>,
    early: &TillBatch,
    late: &TillBatch,
) -> anyhow::Result<Count> {
    let mut count = Count::default();
    let mut net = Money::ZERO;
    for sale in early.sales.iter().chain(&late.sales) {
        let (product, size) =
            kitchen.catalog.by_till_code(&sale.code).context("not on the menu")?;
        let daypart = match &sale.when {
            When::Daypart(daypart) => Some(daypart.clone()),
            When::At(_) | When::Unknown => None,
        };
        if sale.outcome == Outcome::Sold {
            net += sale.net;
        }
        count.units_sold.push(UnitsSold {
            product: product.clone(),
            size: size.code.clone(),
            units: sale.units,
            outcome: sale.outcome,
            daypart,
            channel: sale.channel.clone(),
        });
    }
    count.net_sales = Some(net);
    Ok(count)
}

fn money(value: f64) -> anyhow::Result<Money> {
    Ok(Money::from_decimal(decimal(value, 2))?)
}

fn seconds(value: f64) -> TimeDelta {
    TimeDelta::seconds(value as i64)
}
