//! Recorded waste by what it was. A reason may have been one of safety on some dates and not on
//! others; what was thrown away for safety is in no share.

use std::collections::BTreeMap;

use parings_core::rollup::{WasteKey, WasteLines};

use super::amounts::Amounts;
use super::costs::Costs;
use crate::app::figures::rollups::{Rollup, Row};
use crate::http::rollups::body::{
    RateBody, RollupWasteLineBody, RollupWasteReasonBody, WasteDaypartBody, WasteStageBody,
};

fn shown<'a>(found: &Rollup, row: &'a Row) -> impl Iterator<Item = (&'a WasteKey, &'a WasteLines)> {
    let asked = &found.asked;
    // Of a channel, nobody says what was thrown away.
    let daypart = asked.daypart.clone().filter(|_| asked.channel.is_none());
    let none = asked.channel.is_some();
    let holds = move |key: &WasteKey| {
        !none && daypart.as_ref().is_none_or(|daypart| key.daypart.as_ref() == Some(daypart))
    };
    row.sum.waste.iter().filter(move |(key, _)| holds(key))
}

/// Waste added up by a part of what it was.
fn by<K: Ord>(
    found: &Rollup,
    row: &Row,
    part: impl Fn(&WasteKey) -> Option<K>,
) -> BTreeMap<K, WasteLines> {
    let mut sums: BTreeMap<K, WasteLines> = BTreeMap::new();
    for (key, lines) in shown(found, row) {
        if let Some(part) = part(key) {
            sums.entry(part).or_default().add(lines);
        }
    }
    sums
}

fn share(found: &Rollup, row: &Row, safety: bool, lines: &WasteLines) -> Option<RateBody> {
    let share = lines.share(&row.sum.night).filter(|_| !safety);
    Costs(&found.settings.currency).rate(share, 100)
}

pub(super) fn by_reason(found: &Rollup, row: &Row) -> Vec<RollupWasteReasonBody> {
    let money = Costs(&found.settings.currency);
    let sums = by(found, row, |key| Some((key.reason.clone(), key.safety)));
    let body = |((reason, safety), lines): (_, WasteLines)| RollupWasteReasonBody {
        reason: ToString::to_string(&reason),
        safety,
        cost: money.number(lines.cost),
        share: share(found, row, safety, &lines),
    };
    sums.into_iter().map(body).collect()
}

pub(super) fn by_stage(found: &Rollup, row: &Row) -> Vec<WasteStageBody> {
    let money = Costs(&found.settings.currency);
    let sums = by(found, row, |key| (!key.safety).then(|| key.stage.clone()));
    let body = |(stage, lines): (Option<_>, WasteLines)| WasteStageBody {
        stage: stage.as_ref().map(ToString::to_string),
        cost: money.number(lines.cost),
        share: share(found, row, false, &lines),
    };
    sums.into_iter().map(body).collect()
}

pub(super) fn by_daypart(found: &Rollup, row: &Row) -> Vec<WasteDaypartBody> {
    let money = Costs(&found.settings.currency);
    let sums = by(found, row, |key| (!key.safety).then(|| key.daypart.clone()));
    let body = |(daypart, lines): (Option<_>, WasteLines)| WasteDaypartBody {
        daypart: daypart.as_ref().map(ToString::to_string),
        cost: money.number(lines.cost),
        share: share(found, row, false, &lines),
    };
    sums.into_iter().map(body).collect()
}

pub(super) fn lines(found: &Rollup, row: &Row) -> Vec<RollupWasteLineBody> {
    let (asked, money) = (&found.asked, Costs(&found.settings.currency));
    let dimension = asked.item.as_ref().and_then(|item| found.items.get(item));
    let body = |(key, lines): (&WasteKey, &WasteLines)| RollupWasteLineBody {
        reason: key.reason.to_string(),
        safety: key.safety,
        stage: key.stage.as_ref().map(ToString::to_string),
        daypart: key.daypart.as_ref().map(ToString::to_string),
        lines: lines.lines,
        amount: dimension.map(|base| Amounts(*base).exact(lines.amount)),
        cost: money.number(lines.cost),
        share: share(found, row, key.safety, lines),
    };
    shown(found, row).filter(|_| asked.waste_lines).map(body).collect()
}
