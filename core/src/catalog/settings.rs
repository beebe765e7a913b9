use serde::{Deserialize, Serialize};

use super::{Flaw, Limits};
use crate::calendar::Periods;
use crate::money::Currency;
use crate::stats::Share;
use crate::tickets::{LumpRule, MinimumTickets};

/// What holds for the whole network. Its one document has the code `network`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Settings {
    /// What the chain calls itself.
    pub title: String,
    /// The currency of every price and of all money in the network.
    pub currency: Currency,
    /// The periods its books are kept by.
    #[serde(default)]
    pub periods: Periods,
    /// How far a count is off where an item does not say: a share of the amount, one standard
    /// deviation.
    pub count_error: Share,
    /// Nights over which portion samples are pooled.
    pub sample_nights: u32,
    /// Fewest tickets for a percentile to be shown.
    pub minimum_tickets: MinimumTickets,
    /// When tickets closed together count as closed in a lump.
    pub lump: LumpRule,
    /// The share of unclosed and lump-closed tickets above which ticket data are doubtful.
    pub doubtful_tickets: Share,
    /// From where on something about a night is doubted.
    #[serde(default)]
    pub limits: Limits,
}

impl Settings {
    /// What is wrong with the settings by themselves, with JSON Pointers into them.
    pub fn flaws(&self) -> Vec<Flaw> {
        let mut flaws = Vec::new();
        if self.sample_nights == 0 {
            flaws.push(Flaw::new("/sample_nights", "at least one night: that of the samples"));
        }
        let within = |flaw: Flaw| Flaw { at: format!("/limits{}", flaw.at), ..flaw };
        flaws.extend(self.limits.flaws().into_iter().map(within));
        flaws
    }
}
