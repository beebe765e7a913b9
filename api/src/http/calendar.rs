//! What is promised in a district, and when it is looked at again, for a calendar.

use actix_web::HttpResponse;
use actix_web::web::{Data, Path};
use icalendar::{Calendar, Component, Event, EventLike, Property};
use parings_core::ids::DistrictId;
use parings_core::review::{CaseCheck, CaseStage};

use crate::app::Deps;
use crate::app::watch::cases::{self, Case, Happening};
use crate::context::Caller;
use crate::error::AppError;
use crate::http::answers::{Allowed, Found};

/// Days of a case: by when something is promised, until it is kept, and when it is looked at again.
fn days(case: &Case) -> Vec<Event> {
    let day = |what: &str, date, says: String| {
        let mut event = Event::new();
        event
            .uid(&format!("{}-{what}@parings", case.id))
            .timestamp(case.history.last().map_or(case.raised_at, |happened| happened.at))
            .all_day(date)
            .summary(&format!("{}: {says}", case.store))
            .description(&case.seen.sentence);
        event
    };
    let promised = case.history.iter().rev().find_map(|happened| match &happened.what {
        Happening::Promised { what, by, due } => {
            Some(day("promise", (*due).into(), format!("{what} ({by})")))
        }
        _ => None,
    });
    let looks = CaseCheck::ALL.iter().filter_map(|check| {
        let (what, says) = match check {
            CaseCheck::Interim => ("interim", "looked at again, so far"),
            CaseCheck::Last => ("last", "looked at for the last time"),
        };
        Some(day(what, case.progress.date_of(*check)?.into(), says.to_owned()))
    });
    let promised = promised.filter(|_| case.progress.stage() == CaseStage::Promised);
    promised.into_iter().chain(looks).collect()
}

fn calendar(district: &DistrictId, cases: &[Case]) -> String {
    let mut calendar = Calendar::empty();
    calendar.append_property(Property::new("VERSION", "2.0"));
    calendar.append_property(Property::new("PRODID", "-//Parings//Cases//EN"));
    calendar.append_property(Property::new("NAME", format!("Cases of {district}")));
    calendar.extend(cases.iter().flat_map(days));
    calendar.to_string()
}

/// What is promised in a district, and when it is looked at again.
///
/// A feed for a calendar (RFC 5545) of the cases that go on; a calendar that can send an access token
/// shows it as it changes.
#[utoipa::path(get, path = "/v1/districts/{district}/calendar", operation_id = "read_case_calendar",
    tag = "review",
    params(("district" = String, Path, description = "The district's code", example = "upper")),
    responses(
        (status = 200, description = "The days", body = String, content_type = "text/calendar"),
        Allowed, Found))]
pub async fn read(
    deps: Data<Deps>,
    caller: Caller,
    district: Path<String>,
) -> Result<HttpResponse, AppError> {
    let district = district.parse().map_err(|_| AppError::not_found("district of this name"))?;
    let going_on = cases::going_on(&deps, &caller, &district).await?;
    Ok(HttpResponse::Ok()
        .content_type("text/calendar; charset=utf-8")
        .body(calendar(&district, &going_on)))
}
