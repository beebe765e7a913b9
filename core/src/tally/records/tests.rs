use serde_json::json;

use super::*;
use crate::ids::ReasonId;

/// Invented: amounts inside a document are whole numbers, as columns are.
#[test]
fn a_line_of_waste_is_written_whole_and_read_again() {
    let line = WasteLine {
        stage: None,
        reason: ReasonId::new("expired").expect("a code"),
        safety: false,
        daypart: None,
        amount: Tallied::from_thousandths(2_077_000),
        cost: Money::from_ten_thousandths(18_277),
    };
    let written = serde_json::to_value(&line).expect("a document");
    let expected = json!({ "stage": null, "reason": "expired", "safety": false, "daypart": null,
        "amount": 2_077_000, "cost": 18_277 });
    assert_eq!(written, expected);
    assert_eq!(serde_json::from_value::<WasteLine>(written).expect("a line"), line);
}

#[test]
fn the_word_of_a_source_is_the_one_in_documents() {
    for source in [SalesSource::Feed, SalesSource::Typed, SalesSource::None] {
        assert_eq!(serde_json::to_value(source).expect("a word"), source.word());
    }
}

#[test]
fn two_dayparts_together() {
    let tally = |units, sales, orders, stock_out_minutes| DaypartTally {
        units,
        sales: Money::from_ten_thousandths(sales),
        tickets: TicketTally { orders, ..TicketTally::default() },
        stock_out_minutes,
    };
    assert_eq!(tally(2, 3, 5, 7).merge(&tally(11, 13, 17, 19)), tally(13, 16, 22, 26));
}
