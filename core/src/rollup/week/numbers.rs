//! The numbers of a packed week: each is stated once. One that mostly says again what another says is
//! packed as the difference from it, which is mostly nothing.

use crate::rollup::{ItemSum, NightSum, RatioSum};
use crate::tally::Doubt;
use crate::tally::pack::{TooLarge, Whole};

/// States the numbers of a record in order, each with what it is when nothing is packed of it: a
/// difference, of numbers that stand before it.
macro_rules! numbers {
    ($many:ident of $record:ident, $write:ident, $read:ident: |$sum:ident|
     $($($field:ident).+ = $otherwise:expr;)*) => {
        const $many: usize = [$(stringify!($($field).+)),*].len();

        pub(super) fn $write($sum: &$record) -> Result<[i64; $many], TooLarge> {
            Ok([$($sum.$($field).+.whole()?.wrapping_sub($otherwise)),*])
        }

        pub(super) fn $read(numbers: [i64; $many]) -> $record {
            let mut found = $record::default();
            let mut numbers = numbers.into_iter();
            $({
                #[allow(unused_variables, reason = "many numbers rest on none before them")]
                let $sum = &found;
                let otherwise: i64 = $otherwise;
                let number = numbers.next().unwrap_or_default();
                found.$($field).+ = Whole::of(number.wrapping_add(otherwise));
            })*
            found
        }
    };
}

numbers! { ITEM of ItemSum, item_numbers, item_sum: |sum|
    kept.nights = 0;
    kept.sales = 0;
    kept.sales_nights = count(sum.kept.nights);
    days = count(sum.kept.nights);
    used.used = 0;
    used.nights = count(sum.days);
    used.used_cost = 0;
    used.cost_nights = count(sum.used.nights);
    compared.used = sum.used.used.thousandths();
    compared.expected = 0;
    compared.nights = count(sum.used.nights);
    valued.used = sum.compared.used.thousandths();
    valued.used_cost = sum.used.used_cost.ten_thousandths();
    valued.expected_cost = 0;
    valued.variance_cost = (sum.valued.used_cost - sum.valued.expected_cost).ten_thousandths();
    valued.nights = count(sum.compared.nights);
    against_sales.cost = sum.valued.variance_cost.ten_thousandths();
    against_sales.sales = sum.kept.sales.ten_thousandths();
    food.cost = sum.used.used_cost.ten_thousandths();
    food.sales = sum.against_sales.sales.ten_thousandths();
    waste.amount = 0;
    waste.cost = 0;
    compared.wasted = sum.waste.amount.thousandths();
    valued.wasted_cost = sum.waste.cost.ten_thousandths();
    waste.safety = 0;
    waste.safety_cost = 0;
    batches.out = 0;
    batches.expected_out = 0;
    batches.nights = 0;
    compared.yield_loss = 0;
    valued.yield_loss_cost = 0;
    used.made_into = 0;
    used.made_into_cost = 0;
    compared.made_into = sum.used.made_into.thousandths();
    valued.made_into_cost = sum.used.made_into_cost.ten_thousandths();
    restated = 0;
    owner_changed = 0;
    doubtful.spans = 0;
    doubtful.used_cost = 0;
    price_effect = 0;
    stock_out_minutes = 0;
}

numbers! { NIGHT of NightSum, night_numbers, night_sum: |sum|
    nights = 0;
    sales = 0;
    sales_nights = count(sum.nights);
    units = 0;
    units_nights = count(sum.nights);
    wasted_cost = 0;
    wasted_safety_cost = 0;
    ticket_nights = count(sum.nights);
    waste.nights = count(sum.sales_nights);
}

fn count(nights: u64) -> i64 {
    nights.cast_signed()
}

/// How many spans have each doubt, in the order of [`Doubt::ALL`].
pub(super) fn doubt_numbers(sum: &ItemSum) -> Result<[i64; Doubt::ALL.len()], TooLarge> {
    let mut numbers = [0; Doubt::ALL.len()];
    for (number, doubt) in numbers.iter_mut().zip(Doubt::ALL) {
        *number = sum.doubtful.by.get(doubt).copied().unwrap_or_default().whole()?;
    }
    Ok(numbers)
}

/// Takes what [`doubt_numbers`] wrote.
pub(super) fn read_doubts(numbers: [i64; Doubt::ALL.len()], sum: &mut ItemSum) {
    let known = Doubt::ALL.iter().zip(numbers).filter(|(_, many)| *many > 0);
    sum.doubtful.by = known.map(|(doubt, many)| (*doubt, Whole::of(many))).collect();
}

/// So many bits are in the lower of the two numbers that a square is written as.
const LOWER: u32 = 62;

/// Waste against sales: its sums, of which squares may be longer than one number, as two each.
pub(super) fn ratio_numbers(ratio: &RatioSum) -> Result<[i64; 10], TooLarge> {
    let sums = [
        ratio.numerator,
        ratio.denominator,
        ratio.numerator_squares,
        ratio.denominator_squares,
        ratio.products,
    ];
    let mut numbers = [0; 10];
    for (sum, number) in sums.into_iter().zip(0..) {
        let lower = sum & ((1 << LOWER) - 1);
        numbers[number] = i64::try_from(lower).map_err(|_| TooLarge)?;
        numbers[5 + number] = i64::try_from(sum >> LOWER).map_err(|_| TooLarge)?;
    }
    Ok(numbers)
}

/// Reads what [`ratio_numbers`] wrote, of so many nights.
pub(super) fn ratio_sum(nights: u64, numbers: [i64; 10]) -> RatioSum {
    let sum = |at: usize| (i128::from(numbers[5 + at]) << LOWER) + i128::from(numbers[at]);
    RatioSum {
        nights,
        numerator: sum(0),
        denominator: sum(1),
        numerator_squares: sum(2),
        denominator_squares: sum(3),
        products: sum(4),
    }
}
