//! The periods a chain keeps its books by.

use parings_core::calendar::{Periods, WeekPattern, WeekYears};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::http::faults::Faults;

/// How a year is cut into periods.
#[derive(Debug, Clone, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
#[schema(example = json!({ "weeks": { "pattern": "4-4-5", "on": "mon", "nearest": "02-01" } }))]
pub enum PeriodsBody {
    /// The months of the calendar.
    #[default]
    Months,
    /// Whole weeks: 52 a year, or 53, of which the last joins the last period.
    Weeks(WeekYearsBody),
}

/// Years of whole weeks.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "pattern": "4-4-5", "on": "mon", "nearest": "02-01" }))]
pub struct WeekYearsBody {
    /// How many weeks each period has.
    pub pattern: WeekPatternBody,
    /// The day of the week on which years start: `mon` to `sun` …
    pub on: String,
    /// … the one nearest to this day of the year, `MM-DD`. A year has the number of the calendar
    /// year in which this day lies.
    pub nearest: String,
}

/// How many weeks each period of a year has.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
pub enum WeekPatternBody {
    /// Twelve periods: 4, 4 and 5 weeks, four times.
    #[serde(rename = "4-4-5")]
    FourFourFive,
    /// Twelve periods: 4, 5 and 4 weeks, four times.
    #[serde(rename = "4-5-4")]
    FourFiveFour,
    /// Twelve periods: 5, 4 and 4 weeks, four times.
    #[serde(rename = "5-4-4")]
    FiveFourFour,
    /// Thirteen periods of 4 weeks.
    #[serde(rename = "13x4")]
    ThirteenFours,
}

impl PeriodsBody {
    pub(super) fn read(&self, faults: &mut Faults) -> Option<Periods> {
        let Self::Weeks(weeks) = self else { return Some(Periods::Months) };
        faults.within("weeks", |faults| {
            let on = faults.parse("on", &weeks.on);
            let nearest = faults.parse("nearest", &weeks.nearest);
            let pattern = weeks.pattern.into();
            Some(Periods::Weeks(WeekYears { pattern, on: on?, nearest: nearest? }))
        })
    }
}

impl From<Periods> for PeriodsBody {
    fn from(periods: Periods) -> Self {
        match periods {
            Periods::Months => Self::Months,
            Periods::Weeks(WeekYears { pattern, on, nearest }) => Self::Weeks(WeekYearsBody {
                pattern: pattern.into(),
                on: on.to_string(),
                nearest: nearest.to_string(),
            }),
        }
    }
}

impl From<WeekPatternBody> for WeekPattern {
    fn from(pattern: WeekPatternBody) -> Self {
        match pattern {
            WeekPatternBody::FourFourFive => Self::FourFourFive,
            WeekPatternBody::FourFiveFour => Self::FourFiveFour,
            WeekPatternBody::FiveFourFour => Self::FiveFourFour,
            WeekPatternBody::ThirteenFours => Self::ThirteenFours,
        }
    }
}

impl From<WeekPattern> for WeekPatternBody {
    fn from(pattern: WeekPattern) -> Self {
        match pattern {
            WeekPattern::FourFourFive => Self::FourFourFive,
            WeekPattern::FourFiveFour => Self::FourFiveFour,
            WeekPattern::FiveFourFour => Self::FiveFourFour,
            WeekPattern::ThirteenFours => Self::ThirteenFours,
        }
    }
}
