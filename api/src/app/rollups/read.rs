//! From rows of the database to core's sums.

use std::collections::BTreeMap;

use parings_core::ids::CodeError;
use parings_core::money::Money;
use parings_core::quantity::Tallied;
use parings_core::rollup::{
    AgainstSales, BatchSum, CountEnds, DaypartSum, DoubtSum, ItemSum, NightSum, RatioSum, Sum,
    WasteKey, WasteLines, WasteSum,
};
use parings_core::tally::DaypartTally;
use parings_core::tickets::{Histogram, TicketTally};

use crate::db::rollups::{AgainstRow, DayRow, DaypartRow, NightRow, SpanRow, WasteRow};
use crate::error::AppError;

pub(super) fn read<T: std::str::FromStr<Err = CodeError>>(code: &str) -> Result<T, AppError> {
    code.parse().map_err(|error: CodeError| AppError::Internal(error.into()))
}

pub(super) fn put_span(item: &mut ItemSum, row: &SpanRow) -> Result<(), AppError> {
    let (amount, cost) = (Tallied::from_thousandths, Money::from_ten_thousandths);
    let squares = row.squares.parse().map_err(anyhow::Error::new)?;
    item.used.used = amount(row.used);
    item.used.made_into = amount(row.made_into);
    item.used.nights = row.nights;
    item.used.used_cost = cost(row.used_cost);
    item.used.made_into_cost = cost(row.made_into_cost);
    item.used.cost_nights = row.cost_nights;
    item.compared.used = amount(row.compared_used);
    item.compared.made_into = amount(row.compared_made_into);
    item.compared.expected = amount(row.compared_expected);
    item.compared.wasted = amount(row.compared_wasted);
    item.compared.yield_loss = amount(row.compared_yield_loss);
    item.compared.ends = CountEnds::settled(squares);
    item.compared.nights = row.compared_nights;
    item.valued.used = amount(row.valued_used);
    item.valued.used_cost = cost(row.valued_used_cost);
    item.valued.made_into_cost = cost(row.valued_made_into_cost);
    item.valued.expected_cost = cost(row.valued_expected_cost);
    item.valued.variance_cost = cost(row.valued_variance_cost);
    item.valued.wasted_cost = cost(row.valued_wasted_cost);
    item.valued.yield_loss_cost = cost(row.valued_yield_loss_cost);
    item.valued.nights = row.valued_nights;
    item.against_sales = AgainstSales {
        cost: cost(row.against_variance_cost),
        sales: cost(row.against_sales),
        nights: row.against_nights,
    };
    item.food = AgainstSales {
        cost: cost(row.food_used_cost - row.food_made_into_cost),
        sales: cost(row.food_sales),
        nights: row.food_nights,
    };
    item.restated = row.restated;
    item.doubtful = DoubtSum {
        spans: row.doubtful_spans,
        used_cost: cost(row.doubtful_cost),
        by: row.doubts.iter().filter(|(_, spans)| **spans > 0).map(|(d, n)| (*d, *n)).collect(),
    };
    Ok(())
}

pub(super) fn day_sum(row: &DayRow) -> ItemSum {
    let (amount, cost) = (Tallied::from_thousandths, Money::from_ten_thousandths);
    ItemSum {
        waste: WasteSum {
            amount: amount(row.amount),
            cost: cost(row.cost),
            safety: amount(row.safety),
            safety_cost: cost(row.safety_cost),
        },
        batches: BatchSum {
            out: amount(row.batch_out),
            expected_out: amount(row.batch_expected_out),
            nights: row.batch_nights,
        },
        stock_out_minutes: row.stock_out_minutes,
        price_effect: cost(row.price_effect),
        ..ItemSum::default()
    }
}

pub(super) fn waste_lines(row: &WasteRow) -> Result<(WasteKey, WasteLines), AppError> {
    let key = WasteKey {
        reason: read(&row.reason)?,
        safety: row.safety,
        stage: row.stage.as_deref().map(read).transpose()?,
        daypart: row.daypart.as_deref().map(read).transpose()?,
    };
    let lines = WasteLines {
        amount: Tallied::from_thousandths(row.amount),
        cost: Money::from_ten_thousandths(row.cost),
        lines: row.lines,
    };
    Ok((key, lines))
}

pub(super) fn over_sales(row: &AgainstRow) -> Sum {
    let cost = Money::from_ten_thousandths;
    Sum {
        against_sales: AgainstSales {
            cost: cost(row.variance_cost),
            sales: cost(row.sales),
            nights: row.nights,
        },
        food: AgainstSales {
            cost: cost(row.food_cost),
            sales: cost(row.food_sales),
            nights: row.food_nights,
        },
        ..Sum::default()
    }
}

pub(super) fn night_sum(row: &NightRow) -> Result<NightSum, AppError> {
    let cost = Money::from_ten_thousandths;
    Ok(NightSum {
        sales: cost(row.sales),
        sales_nights: row.sales_nights,
        waste: RatioSum {
            nights: row.rated_nights,
            numerator: row.rated_wasted_cost.into(),
            denominator: row.rated_sales.into(),
            numerator_squares: row.waste_squares.parse().map_err(anyhow::Error::new)?,
            denominator_squares: row.sales_squares.parse().map_err(anyhow::Error::new)?,
            products: row.products.parse().map_err(anyhow::Error::new)?,
        },
        units: row.units,
        units_nights: row.units_nights,
        wasted_cost: cost(row.wasted_cost),
        wasted_safety_cost: cost(row.wasted_safety_cost),
        nights: row.nights,
        ticket_nights: row.ticket_nights,
    })
}

pub(super) fn daypart_sum(row: &DaypartRow) -> Result<DaypartSum, AppError> {
    let mut bins: BTreeMap<u16, u64> = BTreeMap::new();
    for (bin, tickets) in row.times.iter().flatten() {
        *bins.entry(*bin).or_default() += tickets;
    }
    let bins: Vec<(u16, u64)> = bins.into_iter().collect();
    let tally = DaypartTally {
        units: row.units,
        sales: Money::from_ten_thousandths(row.sales),
        tickets: TicketTally {
            orders: row.orders,
            times: Histogram::from_pairs(&bins).map_err(anyhow::Error::new)?,
            with_target: row.with_target,
            timed_late: row.late,
            never_closed: row.never_closed,
            lump_closed: row.lump_closed,
        },
        stock_out_minutes: row.stock_out_minutes,
    };
    Ok(DaypartSum { tally, ticket_nights: row.ticket_nights })
}
