use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::bytes::Unreadable;
use crate::ids::{ChannelId, CodeError, DaypartId, ItemId, ReasonId, StageId};
use crate::tally::Night;

/// The codes of a packed night, which its numbers name by their places.
///
/// As text they are two lists. The first has the items that were counted, with a space before, between
/// and after them, so that the count of an item before a date is found by the text alone. The second
/// has the other items, then the reasons, stages, dayparts and channels that are named, with a bar
/// between the kinds.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Codes {
    /// The items: those that were counted, then the others, each in order of their codes.
    pub items: Vec<ItemId>,
    /// How many of the items were counted.
    pub counted: usize,
    pub(crate) reasons: Vec<ReasonId>,
    pub(crate) stages: Vec<StageId>,
    pub(crate) dayparts: Vec<DaypartId>,
    pub(crate) channels: Vec<ChannelId>,
}

/// The two lists of codes as text.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct CodesText {
    /// The items that were counted.
    pub counted: String,
    /// All other codes.
    pub others: String,
}

impl Codes {
    pub(super) fn of(night: &Night) -> Self {
        let day = &night.day;
        let items: BTreeSet<&ItemId> =
            day.items.keys().chain(&day.kept).chain(night.spans.keys()).collect();
        let is_counted = |id: &&ItemId| day.items.get(*id).is_some_and(|d| d.count.is_some());
        let (mut items, others): (Vec<&ItemId>, Vec<&ItemId>) =
            items.into_iter().partition(is_counted);
        let counted = items.len();
        items.extend(others);
        let waste = || day.items.values().flat_map(|item| &item.waste);
        let wasted_in = waste().filter_map(|line| line.daypart.as_ref());
        Self {
            items: items.into_iter().cloned().collect(),
            counted,
            reasons: each(waste().map(|line| &line.reason)),
            stages: each(waste().filter_map(|line| line.stage.as_ref())),
            dayparts: each(wasted_in.chain(day.dayparts.keys().map(|key| &key.daypart))),
            channels: each(day.dayparts.keys().map(|key| &key.channel)),
        }
    }

    /// The codes as two lists.
    pub fn text(&self) -> CodesText {
        let (counted, others) = self.items.split_at(self.counted);
        let kinds = [
            words(others),
            words(&self.reasons),
            words(&self.stages),
            words(&self.dayparts),
            words(&self.channels),
        ];
        let counted = match counted {
            [] => String::new(),
            items => format!(" {} ", words(items)),
        };
        CodesText { counted, others: kinds.join("|") }
    }

    fn read(counted: &str, others: &str) -> Result<Self, Unreadable> {
        let mut kinds = others.split('|');
        let mut kind = || kinds.next().ok_or(Unreadable::Codes);
        let mut items: Vec<ItemId> = list(counted)?;
        let counted = items.len();
        items.extend(list::<ItemId>(kind()?)?);
        let (reasons, stages) = (list(kind()?)?, list(kind()?)?);
        let (dayparts, channels) = (list(kind()?)?, list(kind()?)?);
        match kinds.next() {
            None => Ok(Self { items, counted, reasons, stages, dayparts, channels }),
            Some(_) => Err(Unreadable::Codes),
        }
    }
}

/// Codes in order, each once.
pub(crate) fn each<'a, T: Ord + Clone + 'a>(codes: impl Iterator<Item = &'a T>) -> Vec<T> {
    codes.collect::<BTreeSet<_>>().into_iter().cloned().collect()
}

fn words(codes: &[impl ToString]) -> String {
    codes.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
}

fn list<T: std::str::FromStr<Err = CodeError>>(text: &str) -> Result<Vec<T>, Unreadable> {
    let codes = text.split(' ').filter(|code| !code.is_empty());
    codes.map(|code| code.parse().map_err(|_| Unreadable::Codes)).collect()
}

/// Codes that were read before: the nights of a store have the same ones again and again.
#[derive(Debug, Default)]
pub struct Dictionary {
    last: Option<(CodesText, Arc<Codes>)>,
    known: BTreeMap<String, Arc<Codes>>,
}

impl Dictionary {
    /// The codes that two lists have.
    ///
    /// # Errors
    /// [`Unreadable::Codes`] when the lists are not as [`Codes`] has them.
    pub fn read(&mut self, counted: &str, others: &str) -> Result<Arc<Codes>, Unreadable> {
        if let Some((last, codes)) = &self.last
            && last.counted == counted
            && last.others == others
        {
            return Ok(Arc::clone(codes));
        }
        // No code has a bar in it, so the two lists in one row are told apart.
        let key = format!("{counted}|{others}");
        let codes = match self.known.get(&key) {
            Some(codes) => Arc::clone(codes),
            None => {
                let codes = Arc::new(Codes::read(counted, others)?);
                self.known.insert(key, Arc::clone(&codes));
                codes
            }
        };
        let text = CodesText { counted: counted.to_owned(), others: others.to_owned() };
        self.last = Some((text, Arc::clone(&codes)));
        Ok(codes)
    }
}
