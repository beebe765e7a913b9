use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::slips::as_read;
use super::{About, Check, CheckKind, Treatment};
use crate::catalog::Typed;
use crate::ids::{ItemId, PlaceId};
use crate::night::{Count, CountLine, Entry};

/// What a person answers to a check.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "answer", rename_all = "snake_case")]
pub enum Answer {
    /// It is as it was typed.
    AsTyped,
    /// It is one of the other readings.
    OtherReading {
        /// The amount of the reading that is right.
        quantity: Typed,
    },
    /// It is something else.
    Corrected {
        /// What it is corrected to.
        to: Correction,
    },
    /// It was counted again, and this is right.
    CountedAgain {
        /// The lines that came out anew, each shelf of them in full; none when all came out as before.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        lines: Vec<CountLine>,
    },
}

/// Why an answer does not fit what was asked.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AnswerError {
    /// It picks a reading that was not among those offered.
    #[error("this is none of the readings that were offered")]
    NoSuchReading,
    /// It corrects an entry, and the question was about the count.
    #[error("this is about the count: correct its lines")]
    AboutTheCount,
    /// It corrects the amount of one line, and the question was about several or none.
    #[error("say the lines: this is not about a single one")]
    ManyLines,
    /// It has a line that the question was not about.
    #[error("{item} in {place} was not asked about")]
    NotAskedAbout {
        /// The item of that line.
        item: ItemId,
        /// The storage place of that line.
        place: PlaceId,
    },
}

/// What something is corrected to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Correction {
    /// The amount of the line it is about.
    Quantity(Typed),
    /// The lines of some shelves, each shelf in full.
    Lines(Vec<CountLine>),
    /// The entry it is about, made anew.
    Entry(Box<Entry>),
}

impl Answer {
    /// The word for the answer in the API.
    pub fn word(&self) -> &'static str {
        match self {
            Self::AsTyped => "as_typed",
            Self::OtherReading { .. } => "other_reading",
            Self::Corrected { .. } => "corrected",
            Self::CountedAgain { .. } => "counted_again",
        }
    }
}

fn of_shelf(one: &CountLine, other: &CountLine) -> bool {
    (&one.item, &one.place, &one.stage) == (&other.item, &other.place, &other.stage)
}

fn covers(about: &About, line: &CountLine) -> bool {
    match about {
        About::Night => true,
        About::Item { item } => *item == line.item,
        About::Line { item, place, stage } => {
            (item, place, stage) == (&line.item, &line.place, &line.stage)
        }
        About::Entry { .. } => false,
    }
}

impl Check {
    /// Whether it asks somebody.
    pub fn asks(&self) -> bool {
        self.treatment == Treatment::Confirm
    }

    /// Whether it would have asked, had there not been so many others.
    pub fn is_beyond(&self) -> bool {
        self.treatment == Treatment::LeaveOut && self.kind.treatment() == Treatment::Confirm
    }

    /// Whether it is about a line of a count, or asks to count it again.
    pub fn is_about(&self, line: &CountLine) -> bool {
        covers(&self.about, line) || self.recount.iter().any(|about| covers(about, line))
    }

    /// The count that an answer makes of the one it is about; none when it stays as it was.
    ///
    /// # Errors
    /// [`AnswerError`] when the answer does not fit what was asked.
    ///
    /// ```
    /// use parings_core::checks::{About, Answer, Check, CheckKind, Reading};
    /// use parings_core::night::Count;
    /// let count: Count = serde_json::from_value(serde_json::json!({ "complete": true, "lines": [
    ///   { "item": "salt", "place": "dry", "quantity": { "value": "9", "unit": "kg" } }] })).unwrap();
    /// let line = &count.lines[0];
    /// let about =
    ///     About::Line { item: line.item.clone(), place: line.place.clone(), stage: None };
    /// let pounds: parings_core::catalog::Typed =
    ///     serde_json::from_str(r#"{"value":"9","unit":"lb"}"#).unwrap();
    /// let readings = [&line.quantity, &pounds]
    ///     .map(|q| Reading { quantity: q.clone(), says: String::new() });
    /// let check = Check { readings: readings.into(), ..Check::new(CheckKind::UnitSlip, about, "9 kg, or 9 lb?") };
    /// assert_eq!(check.answered(&Answer::AsTyped, &count), Ok(None));
    /// let read = check.answered(&Answer::OtherReading { quantity: pounds.clone() }, &count);
    /// assert_eq!(read.unwrap().unwrap().lines[0].quantity, pounds);
    /// ```
    pub fn answered(&self, answer: &Answer, count: &Count) -> Result<Option<Count>, AnswerError> {
        let changed = match answer {
            Answer::AsTyped => return Ok(None),
            Answer::CountedAgain { lines } | Answer::Corrected { to: Correction::Lines(lines) } => {
                self.with_lines(lines, count)?
            }
            Answer::OtherReading { quantity } => {
                let known = self.readings.iter().find(|reading| reading.quantity == *quantity);
                let reading = known.ok_or(AnswerError::NoSuchReading)?;
                self.with_line(count, |line| as_read(line, self.kind, reading))?
            }
            Answer::Corrected { to: Correction::Quantity(quantity) } => {
                self.with_line(count, |line| CountLine {
                    quantity: quantity.clone(),
                    ..line.clone()
                })?
            }
            Answer::Corrected { to: Correction::Entry(_) } => match self.about {
                About::Entry { .. } => return Ok(None),
                _ => return Err(AnswerError::AboutTheCount),
            },
        };
        Ok((changed != *count).then_some(changed))
    }

    fn with_lines(&self, lines: &[CountLine], count: &Count) -> Result<Count, AnswerError> {
        if let Some(other) = lines.iter().find(|line| !self.is_about(line)) {
            return Err(AnswerError::NotAskedAbout {
                item: other.item.clone(),
                place: other.place.clone(),
            });
        }
        let mut changed = count.clone();
        changed.lines.retain(|line| !lines.iter().any(|new| of_shelf(new, line)));
        changed.lines.extend(lines.iter().cloned());
        Ok(changed)
    }

    /// Changes the one line it is about: of several on a shelf, the one that was read another way.
    fn with_line(
        &self,
        count: &Count,
        change: impl FnOnce(&CountLine) -> CountLine,
    ) -> Result<Count, AnswerError> {
        let typed = self.readings.first().map(|reading| &reading.quantity);
        let all = |line: &&CountLine| covers(&self.about, line);
        let mut found = count.lines.iter().enumerate().filter(|(_, line)| all(line));
        let exact = found.clone().find(|(_, line)| Some(&line.quantity) == typed);
        let only = || found.next().filter(|_| found.next().is_none());
        let Some((at, line)) = exact.or_else(only) else {
            return Err(AnswerError::ManyLines);
        };
        let line = change(line);
        let mut changed = count.clone();
        changed.lines[at] = line;
        Ok(changed)
    }

    /// Whether an answer given about one count also answers for another: what it vouched for is still
    /// there. A correction vouches for nothing: what it says is looked at like anything typed.
    pub fn stands(&self, answer: &Answer, then: &Count, now: &Count) -> bool {
        if matches!(answer, Answer::Corrected { .. }) {
            return false;
        }
        if matches!(self.about, About::Night | About::Entry { .. }) {
            return true;
        }
        let Ok(vouched) = self.answered(answer, then) else { return false };
        let lines = |count: &Count| {
            let mut lines: Vec<String> = count
                .lines
                .iter()
                .filter(|line| self.is_about(line))
                .map(|l| format!("{} {} {:?} {} {:?}", l.item, l.place, l.stage, l.quantity, l.pan))
                .collect();
            lines.sort();
            lines
        };
        lines(vouched.as_ref().unwrap_or(then)) == lines(now)
    }

    /// Whether an answer takes the doubt away. Only a copied count that nobody counted again stays
    /// doubtful: that it was typed so is not in question.
    pub fn is_resolved_by(&self, answer: &Answer) -> bool {
        !(self.kind == CheckKind::CopiedCount && *answer == Answer::AsTyped)
    }

    /// The items whose counts are not relied on while it is unresolved: of the night as a whole, all
    /// that was counted. What facts alone show (use below zero, waste, yields) leaves nothing out: the
    /// tallies doubt such spans, and heal when the missing fact comes.
    pub fn doubted(&self, count: &Count) -> BTreeSet<ItemId> {
        match (self.kind, &self.about) {
            (
                CheckKind::NegativeUse | CheckKind::WasteAboveHandled | CheckKind::ImpossibleYield,
                _,
            ) => BTreeSet::new(),
            (_, About::Night) if self.doubtful.is_empty() => {
                count.lines.iter().map(|line| line.item.clone()).collect()
            }
            _ => self.doubtful.iter().cloned().collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::super::Reading;
    use super::*;

    fn count(lines: &[(&str, &str, &str)]) -> Count {
        let lines: Vec<_> = lines
            .iter()
            .map(|(item, value, unit)| {
                json!({ "item": item, "place": "dry", "quantity": { "value": value, "unit": unit } })
            })
            .collect();
        serde_json::from_value(json!({ "complete": true, "lines": lines })).unwrap()
    }

    fn typed(value: &str, unit: &str) -> Typed {
        serde_json::from_value(json!({ "value": value, "unit": unit })).unwrap()
    }

    fn slip(line: &CountLine, other: Typed) -> Check {
        let about = About::Line {
            item: line.item.clone(),
            place: line.place.clone(),
            stage: line.stage.clone(),
        };
        let reading = |quantity| Reading { quantity, says: String::new() };
        Check {
            readings: vec![reading(line.quantity.clone()), reading(other)],
            ..Check::new(CheckKind::UnitSlip, about, "?")
        }
    }

    fn night(kind: CheckKind) -> Check {
        Check::new(kind, About::Night, "?")
    }

    #[test]
    fn a_correction_is_of_one_line() {
        let before = count(&[("salt", "9", "kg"), ("salt", "2", "kg"), ("oil", "4", "l")]);
        let check = slip(&before.lines[1], typed("2", "lb"));
        let to = |quantity| Answer::Corrected { to: Correction::Quantity(quantity) };
        let after = check.answered(&to(typed("3", "kg")), &before).unwrap().unwrap();
        assert_eq!(after, count(&[("salt", "9", "kg"), ("salt", "3", "kg"), ("oil", "4", "l")]));
        let check = Check { readings: Vec::new(), ..check };
        let lines = count(&[("salt", "12", "kg")]).lines;
        let again = Answer::CountedAgain { lines };
        let after = check.answered(&again, &before).unwrap().unwrap();
        assert_eq!(after, count(&[("oil", "4", "l"), ("salt", "12", "kg")]));
    }

    /// What an answer that does not fit is told. Invented.
    #[test]
    fn an_answer_that_does_not_fit_says_why() {
        let count = count(&[("salt", "9", "kg"), ("salt", "2", "kg"), ("oil", "4", "l")]);
        let check = slip(&count.lines[1], typed("2", "lb"));
        let many = Check { readings: Vec::new(), ..check.clone() };
        let says = |check: &Check, answer| check.answered(&answer, &count).unwrap_err().to_string();
        let reading = Answer::OtherReading { quantity: typed("3", "lb") };
        assert_eq!(says(&check, reading), "this is none of the readings that were offered");
        let quantity = Answer::Corrected { to: Correction::Quantity(typed("3", "kg")) };
        assert_eq!(says(&many, quantity), "say the lines: this is not about a single one");
        let oil = Answer::CountedAgain { lines: count.lines[2..].to_vec() };
        assert_eq!(says(&check, oil), "oil in dry was not asked about");
        let entry = serde_json::from_value(json!({ "id": "0198f2a5-0000-7000-8000-000000000001",
            "body": { "kind": "stock_out", "item": "salt", "from": "2026-06-15T18:00:00Z" } }));
        let entry = Answer::Corrected { to: Correction::Entry(Box::new(entry.unwrap())) };
        assert_eq!(says(&check, entry), "this is about the count: correct its lines");
    }

    #[test]
    fn an_answer_stands_while_what_it_vouched_for_does() {
        let then = count(&[("salt", "9", "kg"), ("oil", "4", "l")]);
        let check = slip(&then.lines[0], typed("9", "lb"));
        let oil_changed = count(&[("salt", "9", "kg"), ("oil", "5", "l")]);
        let salt_changed = count(&[("salt", "90", "kg"), ("oil", "4", "l")]);
        let read = count(&[("salt", "9", "lb"), ("oil", "4", "l")]);
        assert!(check.stands(&Answer::AsTyped, &then, &oil_changed));
        assert!(!check.stands(&Answer::AsTyped, &then, &salt_changed));
        let other = Answer::OtherReading { quantity: typed("9", "lb") };
        assert!(check.stands(&other, &then, &read) && !check.stands(&other, &then, &then));
        let corrected = Answer::Corrected { to: Correction::Quantity(typed("90", "kg")) };
        assert!(!check.stands(&corrected, &then, &salt_changed));
        assert!(night(CheckKind::OldDate).stands(&Answer::AsTyped, &then, &salt_changed));
    }

    #[test]
    fn what_is_left_out() {
        let count = count(&[("salt", "9", "kg"), ("oil", "4", "l"), ("cup", "3", "sleeve")]);
        let items = |check: &Check| {
            let items = check.doubted(&count);
            items.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
        };
        assert_eq!(items(&slip(&count.lines[0], typed("9", "lb"))), "salt");
        assert_eq!(items(&night(CheckKind::OldDate)), "cup oil salt");
        let weighed = count.lines[..2].iter().map(|line| line.item.clone()).collect();
        let copied = Check { doubtful: weighed, ..night(CheckKind::CopiedCount) };
        assert_eq!(items(&copied), "oil salt");
        let item = count.lines[0].item.clone();
        assert_eq!(items(&Check::new(CheckKind::NegativeUse, About::Item { item }, "?")), "");
        assert!(!night(CheckKind::CopiedCount).is_resolved_by(&Answer::AsTyped));
        assert!(
            night(CheckKind::CopiedCount).is_resolved_by(&Answer::CountedAgain { lines: vec![] })
        );
        assert!(night(CheckKind::OldDate).is_resolved_by(&Answer::AsTyped));
    }
}
