use crate::calendar::{BusinessDate, DateSpan, Period, Periods};

/// What a span is compared with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Against {
    /// What came just before.
    Before,
    /// The same a year ago.
    YearAgo,
}

impl Against {
    /// The span to compare with.
    ///
    /// A whole period, or several in a row, is compared with as many whole periods before it or
    /// with those of the same numbers a year ago; whole months likewise, whatever the periods are.
    /// They need not have as many nights. Anything else is compared with as many nights just
    /// before, or with those 52 weeks ago, which fall on the same days of the week.
    ///
    /// ```
    /// use parings_core::calendar::{BusinessDate, DateSpan, Periods};
    /// use parings_core::rollup::Against;
    /// let date = |month, day| BusinessDate::new(2026, month, day).unwrap();
    /// let march = DateSpan::new(date(3, 1), date(3, 31)).unwrap();
    /// let shown = |against: Against, span| against.span(span, &Periods::Months).to_string();
    /// assert_eq!(shown(Against::Before, march), "2026-02-01 to 2026-02-28");
    /// assert_eq!(shown(Against::YearAgo, march), "2025-03-01 to 2025-03-31");
    /// let week = DateSpan::new(date(6, 8), date(6, 14)).unwrap();
    /// assert_eq!(shown(Against::Before, week), "2026-06-01 to 2026-06-07");
    /// assert_eq!(shown(Against::YearAgo, week), "2025-06-09 to 2025-06-15");
    /// ```
    pub fn span(self, span: DateSpan, periods: &Periods) -> DateSpan {
        let of_periods = [*periods, Periods::Months].into_iter().find_map(|periods| {
            let run = whole(span, &periods)?;
            Some(match self {
                Self::Before => before(&run, &periods),
                Self::YearAgo => {
                    let ago = |at: usize| periods.a_year_before(run[at]).span();
                    between(ago(0).from(), ago(run.len() - 1).to())
                }
            })
        });
        of_periods.unwrap_or_else(|| {
            let back = match self {
                Self::Before => i64::from(span.nights()),
                Self::YearAgo => 52 * 7,
            };
            between(span.from().plus_days(-back), span.to().plus_days(-back))
        })
    }
}

/// The periods a span is made of, at least one; none if it cuts any.
fn whole(span: DateSpan, periods: &Periods) -> Option<Vec<Period>> {
    let mut run = vec![periods.period_of(span.from())];
    if run[0].span().from() != span.from() {
        return None;
    }
    while let Some(last) = run.last().filter(|last| last.span().to() < span.to()) {
        run.push(periods.period_of(last.span().to().succ()));
    }
    run.last().is_some_and(|last| last.span().to() == span.to()).then_some(run)
}

/// As many periods as those, just before them.
fn before(run: &[Period], periods: &Periods) -> DateSpan {
    let first = run.iter().fold(run[0], |period, _| periods.before(period));
    between(first.span().from(), run[0].span().from().pred())
}

fn between(from: BusinessDate, to: BusinessDate) -> DateSpan {
    DateSpan::new(from, to.max(from)).expect("the end was raised to the start")
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::calendar::{WeekPattern, Weekday};

    fn retail() -> Periods {
        let json = r#"{"weeks":{"pattern":"4-5-4","on":"sun","nearest":"02-01"}}"#;
        serde_json::from_str(json).unwrap()
    }

    fn span(text: &str) -> DateSpan {
        let (from, to) = text.split_once(" to ").unwrap();
        DateSpan::new(from.parse().unwrap(), to.parse().unwrap()).unwrap()
    }

    /// By hand, with a calendar. The retail year 2023 has 53 weeks, 2024 starts on 4 February.
    #[test]
    fn spans_to_compare_with() {
        let months = Periods::Months;
        for (periods, asked, before, ago) in [
            // A night: the one before, and the same day of the week 52 weeks ago.
            (
                months,
                "2026-03-02 to 2026-03-02",
                "2026-03-01 to 2026-03-01",
                "2025-03-03 to 2025-03-03",
            ),
            // A whole week over the turn of the year.
            (
                months,
                "2025-12-29 to 2026-01-04",
                "2025-12-22 to 2025-12-28",
                "2024-12-30 to 2025-01-05",
            ),
            // Ten nights.
            (
                months,
                "2026-03-05 to 2026-03-14",
                "2026-02-23 to 2026-03-04",
                "2025-03-06 to 2025-03-15",
            ),
            // A leap February; a quarter; a year.
            (
                months,
                "2028-02-01 to 2028-02-29",
                "2028-01-01 to 2028-01-31",
                "2027-02-01 to 2027-02-28",
            ),
            (
                months,
                "2028-01-01 to 2028-03-31",
                "2027-10-01 to 2027-12-31",
                "2027-01-01 to 2027-03-31",
            ),
            (
                months,
                "2028-01-01 to 2028-12-31",
                "2027-01-01 to 2027-12-31",
                "2027-01-01 to 2027-12-31",
            ),
            // Four weeks are no month.
            (
                months,
                "2026-03-02 to 2026-03-29",
                "2026-02-02 to 2026-03-01",
                "2025-03-03 to 2025-03-30",
            ),
            // The first period of 2024: after one of five weeks, a year after one 53 weeks ago.
            (
                retail(),
                "2024-02-04 to 2024-03-02",
                "2023-12-31 to 2024-02-03",
                "2023-01-29 to 2023-02-25",
            ),
            // A first quarter of weeks.
            (
                retail(),
                "2024-02-04 to 2024-05-04",
                "2023-10-29 to 2024-02-03",
                "2023-01-29 to 2023-04-29",
            ),
            // A month where periods are of weeks.
            (
                retail(),
                "2024-03-01 to 2024-03-31",
                "2024-02-01 to 2024-02-29",
                "2023-03-01 to 2023-03-31",
            ),
        ] {
            let found = |against: Against| against.span(span(asked), &periods).to_string();
            assert_eq!(found(Against::Before), before, "before {asked}");
            assert_eq!(found(Against::YearAgo), ago, "a year before {asked}");
        }
    }

    #[test]
    fn a_period_that_is_a_month_too_is_compared_as_a_period() {
        // February 2027 is four weeks from a Monday, and the first period of the year.
        let february = span("2027-02-01 to 2027-02-28");
        let mut periods = retail();
        if let Periods::Weeks(weeks) = &mut periods {
            (weeks.pattern, weeks.on) = (WeekPattern::FourFourFive, Weekday::Mon);
        }
        let before = Against::Before.span(february, &periods);
        assert_eq!(before.to_string(), "2026-12-28 to 2027-01-31");
    }

    proptest! {
        #[test]
        fn what_came_before_ends_where_the_span_starts(start in 0i64..20_000, more in 0i64..420) {
            let from = BusinessDate::new(1990, 1, 1).unwrap().plus_days(start);
            let asked = DateSpan::new(from, from.plus_days(more)).unwrap();
            for periods in [Periods::Months, retail()] {
                let before = Against::Before.span(asked, &periods);
                prop_assert_eq!(before.to().succ(), asked.from());
                let ago = Against::YearAgo.span(asked, &periods);
                // Between 52 and 53 weeks.
                prop_assert!((364..=371).contains(&ago.from().days_until(asked.from())));
                prop_assert!(ago.nights().abs_diff(asked.nights()) <= 7);
            }
        }
    }
}
