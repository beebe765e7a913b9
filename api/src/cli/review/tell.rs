//! Findings as a page and as lines of JSON.

use std::io::{self, Write};

use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::review::{Finding, FindingKind, Habit, Label, Sheet};
use serde::Serialize;

/// A finding as a line of JSON.
#[derive(Serialize)]
struct Line<'a> {
    as_of: BusinessDate,
    store: Option<&'a str>,
    district: &'a str,
    measure: &'a str,
    kind: &'a str,
    since: BusinessDate,
    size: f64,
    size_low: f64,
    size_high: f64,
    money_per_week: Option<f64>,
    rank_low: Option<u32>,
    rank_high: Option<u32>,
    of: Option<u32>,
    evidence: Evidence,
}

#[derive(Serialize)]
struct Evidence {
    before: f64,
    after: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    nights_before: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    peers: Option<usize>,
    nights_after: usize,
    strength: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    beside: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    habit: Option<&'static str>,
    sentence: String,
}

fn rounded(number: f64, places: i32) -> f64 {
    let scale = 10f64.powi(places);
    // No number of a finding is so large that this would not be exact enough.
    (number * scale).round() / scale
}

/// One object a line, a line for each finding.
pub fn json(out: &mut impl Write, sheet: &Sheet, findings: &[Finding]) -> io::Result<()> {
    let word = |label: Label| sheet.labels().word(label);
    for finding in findings {
        let found = &finding.evidence;
        let line = Line {
            as_of: finding.as_of,
            store: finding.store.map(word),
            district: word(finding.district),
            measure: finding.measure.word(),
            kind: finding.kind.word(),
            since: finding.since,
            size: rounded(finding.size, 5),
            size_low: rounded(finding.range.low, 5),
            size_high: rounded(finding.range.high, 5),
            money_per_week: finding.money_per_week.map(|money| rounded(money, 2)),
            rank_low: finding.rank.map(|rank| rank.low),
            rank_high: finding.rank.map(|rank| rank.high),
            of: finding.rank.map(|rank| rank.of),
            evidence: Evidence {
                before: rounded(found.before, 5),
                after: rounded(found.after, 5),
                nights_before: found.against.nights(),
                peers: found.against.peers(),
                nights_after: found.nights_after,
                strength: rounded(found.strength, 2),
                beside: found.beside.map(|beside| rounded(beside, 5)),
                habit: found.habit.map(Habit::word),
                sentence: finding.sentence(),
            },
        };
        serde_json::to_writer(&mut *out, &line)?;
        writeln!(out)?;
    }
    Ok(())
}

/// A page for each date: what is for head office, then district by district what is for coaches, then
/// notes for managers.
pub fn text(
    out: &mut impl Write,
    sheet: &Sheet,
    dates: DateSpan,
    findings: &[Finding],
    notes: &[String],
) -> io::Result<()> {
    let span = sheet.span();
    writeln!(
        out,
        "{} stores, nights from {} to {}.",
        sheet.stores().len(),
        span.from(),
        span.to()
    )?;
    for note in notes {
        writeln!(out, "Note: {note}.")?;
    }
    for date in dates.iter() {
        let today: Vec<&Finding> = findings.iter().filter(|f| f.as_of == date).collect();
        writeln!(out, "\nReview of {date}\n")?;
        if today.is_empty() {
            writeln!(out, "Nothing stands out.")?;
        }
        let is_note = |f: &Finding| f.kind == FindingKind::OneNight;
        for (title, of) in [
            (
                "Districts as a whole",
                today.iter().filter(|f| f.store.is_none()).collect::<Vec<_>>(),
            ),
            ("Stores", today.iter().filter(|f| f.store.is_some() && !is_note(f)).collect()),
            ("Notes to managers", today.iter().filter(|f| is_note(f)).collect()),
        ] {
            if of.is_empty() {
                continue;
            }
            writeln!(out, "{title}")?;
            for finding in of {
                told(out, sheet, finding)?;
            }
            writeln!(out)?;
        }
    }
    Ok(())
}

fn told(out: &mut impl Write, sheet: &Sheet, finding: &Finding) -> io::Result<()> {
    let word = |label: Label| sheet.labels().word(label);
    let district = word(finding.district);
    match finding.store {
        Some(store) => write!(out, "  {} ({district})", word(store))?,
        None => write!(out, "  {district}")?,
    }
    write!(out, ": {}, {}", finding.measure.title(), finding.kind.word().replace('_', " "))?;
    if let Some(money) = finding.money_per_week {
        write!(out, ", about {money:.0} a week")?;
    }
    if let Some(rank) = finding.rank {
        let low = rank.low;
        let up_to = if rank.high > low { format!(" to {}", rank.high) } else { String::new() };
        write!(out, ", rank {low}{up_to} of {}", rank.of)?;
    }
    writeln!(out, "\n    {}", finding.sentence())
}
