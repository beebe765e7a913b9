use proptest::prelude::*;

use super::*;

fn date(text: &str) -> BusinessDate {
    text.parse().unwrap()
}

fn weeks(pattern: WeekPattern, on: Weekday, nearest: &str) -> Periods {
    Periods::Weeks(WeekYears { pattern, on, nearest: nearest.parse().unwrap() })
}

const PATTERNS: [WeekPattern; 4] = [
    WeekPattern::FourFourFive,
    WeekPattern::FourFiveFour,
    WeekPattern::FiveFourFour,
    WeekPattern::ThirteenFours,
];

/// The first and last date of a year.
fn year(periods: Periods, year: i32) -> DateSpan {
    let last = periods.nth(year, periods.a_year());
    DateSpan::new(periods.nth(year, 1).span.from(), last.span.to()).unwrap()
}

/// Source: starts of the retail trade's 4-5-4 years, on the Sunday nearest to 1 February, as
/// published for merchants (from memory). Those of 2006, 2012, 2017 and 2023 have 53 weeks.
#[test]
fn retail_years_start_as_published() {
    let retail = weeks(WeekPattern::FourFiveFour, Weekday::Sun, "02-01");
    for (number, starts, long) in [
        (2006, "2006-01-29", true),
        (2007, "2007-02-04", false),
        (2012, "2012-01-29", true),
        (2013, "2013-02-03", false),
        (2017, "2017-01-29", true),
        (2018, "2018-02-04", false),
        (2022, "2022-01-30", false),
        (2023, "2023-01-29", true),
        (2024, "2024-02-04", false),
        (2025, "2025-02-02", false),
    ] {
        let span = year(retail, number);
        assert_eq!(span.from(), date(starts), "{number}");
        assert_eq!(span.nights(), if long { 371 } else { 364 }, "{number}");
    }
    // The holiday season of 2024: November from the 3rd for four weeks, December for five.
    let december = retail.period_of(date("2024-12-24"));
    assert_eq!((december.year(), december.number()), (2024, 11));
    assert_eq!(december.span(), DateSpan::new(date("2024-12-01"), date("2025-01-04")).unwrap());
    assert_eq!(retail.before(december).span().from(), date("2024-11-03"));
}

#[test]
fn the_53rd_week_joins_the_last_period() {
    for pattern in PATTERNS {
        let periods = weeks(pattern, Weekday::Sun, "02-01");
        let count = periods.a_year();
        let lengths = |year| -> Vec<u32> {
            (1..=count).map(|n| periods.nth(year, n).span.nights() / 7).collect()
        };
        let (short, long) = (lengths(2022), lengths(2023));
        let cycle: &[u32] = match pattern {
            WeekPattern::FourFourFive => &[4, 4, 5],
            WeekPattern::FourFiveFour => &[4, 5, 4],
            WeekPattern::FiveFourFour => &[5, 4, 4],
            WeekPattern::ThirteenFours => &[4],
        };
        let expected: Vec<u32> = cycle.iter().copied().cycle().take(count as usize).collect();
        assert_eq!(short, expected, "{pattern:?}");
        assert_eq!(long[..long.len() - 1], expected[..expected.len() - 1], "{pattern:?}");
        assert_eq!(long.last().unwrap() - 1, *expected.last().unwrap(), "{pattern:?}");
    }
}

#[test]
fn periods_are_written_as_in_the_documents() {
    for json in [
        r#""months""#,
        r#"{"weeks":{"pattern":"13x4","on":"mon","nearest":"01-01"}}"#,
        r#"{"weeks":{"pattern":"5-4-4","on":"thu","nearest":"09-30"}}"#,
    ] {
        let periods: Periods = serde_json::from_str(json).unwrap();
        assert_eq!(serde_json::to_string(&periods).unwrap(), json);
    }
    for bad in ["2-1", "02-30", "02-29", "13-01", "0201", "", "02-01 "] {
        let error = bad.parse::<YearDay>().expect_err(bad).to_string();
        assert!(error.contains("use MM-DD"), "{error}");
    }
}

#[test]
fn the_calendar_ends_without_a_panic() {
    for end in [NaiveDate::MIN, NaiveDate::MAX] {
        for pattern in PATTERNS {
            let weeks = weeks(pattern, Weekday::Mon, "01-01");
            for periods in [Periods::Months, weeks] {
                let period = periods.period_of(end.into());
                let (before, ago) = (periods.before(period), periods.a_year_before(period));
                assert!(before.span.from() <= period.span.from() && ago.number == period.number);
            }
        }
    }
}

fn any_periods() -> impl Strategy<Value = Periods> {
    let day = ((1u32..=12), (1u32..=28)).prop_map(|(month, day)| YearDay { month, day });
    let weekday = proptest::sample::select(Weekday::ALL.to_vec());
    let weeks = (proptest::sample::select(PATTERNS.to_vec()), weekday, day)
        .prop_map(|(pattern, on, nearest)| Periods::Weeks(WeekYears { pattern, on, nearest }));
    prop_oneof![1 => Just(Periods::Months), 4 => weeks]
}

proptest! {
    /// ISO 8601: week 1 is that of 4 January, so years of weeks start on the Monday nearest to
    /// 1 January. Differential: chrono's week-years.
    #[test]
    fn years_from_the_monday_nearest_new_year_are_those_of_iso_8601(days in 0i64..80_000) {
        let day = date("1890-01-01").plus_days(days);
        let iso = NaiveDate::from(day).iso_week();
        let fours = weeks(WeekPattern::ThirteenFours, Weekday::Mon, "01-01");
        let period = fours.period_of(day);
        prop_assert_eq!(period.year(), iso.year());
        prop_assert_eq!(period.number(), ((iso.week() - 1) / 4 + 1).min(13));
    }

    #[test]
    fn periods_follow_each_other(periods in any_periods(), days in 0i64..80_000) {
        let day = date("1890-01-01").plus_days(days);
        let period = periods.period_of(day);
        prop_assert!(period.span().contains(day));
        prop_assert!(period.span().iter().all(|day| periods.period_of(day) == period));
        let next = periods.period_of(period.span().to().succ());
        prop_assert_eq!(next.span().from(), period.span().to().succ());
        prop_assert_eq!(periods.before(next), period);
        let follows = if period.number() == periods.a_year() {
            (period.year() + 1, 1)
        } else {
            (period.year(), period.number() + 1)
        };
        prop_assert_eq!((next.year(), next.number()), follows);
        let ago = periods.a_year_before(period);
        prop_assert_eq!((ago.year() + 1, ago.number()), (period.year(), period.number()));
        prop_assert_eq!(periods.is_last_day(day), day == period.span().to());
    }

    #[test]
    fn years_of_weeks_stay_at_their_day(periods in any_periods(), number in 1900i32..2200) {
        let Periods::Weeks(WeekYears { on, nearest, .. }) = periods else { return Ok(()) };
        let span = year(periods, number);
        prop_assert!([364, 371].contains(&span.nights()));
        prop_assert_eq!(span.from().weekday(), on);
        let day = BusinessDate::new(number, nearest.month, nearest.day).unwrap();
        prop_assert!((-3..=3).contains(&span.from().days_until(day)));
        // After a year of 53 weeks the next starts one week later than after one of 52.
        let next = year(periods, number + 1).from();
        prop_assert_eq!(span.from().days_until(next), i64::from(span.nights()));
    }
}
