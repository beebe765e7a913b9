//! The standard pars of the demo's chain; all of them are invented.

use chrono::{DateTime, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::ids::ParSetId;
use parings_core::pars::ParSet;

use super::{Hand, done, write};
use crate::app::demand::pars::{self, Draft, Publishing};
use crate::app::ground::writes::Expected;

/// The set.
///
/// # Errors
/// When the file is not what it should be, which a test rules out.
pub fn set() -> anyhow::Result<ParSet> {
    Ok(serde_json::from_str(include_str!("data/pars.json"))?)
}

/// Drafts the set and publishes it from a future date on, as head office does.
pub(super) async fn publish(
    office: &Hand,
    at: DateTime<Utc>,
    from: BusinessDate,
) -> anyhow::Result<()> {
    let (deps, caller) = (office.at(at), &office.caller);
    let code: ParSetId = "valley".parse()?;
    let draft = Draft::As(Box::new(set()?));
    let set_up = write("par set valley");
    let saved = pars::save(&deps, caller, set_up, &Expected::Nothing, &code, draft, |_| ()).await;
    done("par set valley", saved)?;
    let reason = "The first standard pars of the valley".to_owned();
    let publishing = Publishing { write: write("publication of valley"), code, from, reason };
    let published = pars::publish(&deps, caller, &Expected::Something, &publishing, |_| ()).await;
    done("publication of valley", published)
}

#[cfg(test)]
mod tests {
    use super::super::{chain, places};
    use super::*;

    #[test]
    fn the_set_holds_in_the_chain() {
        let (set, all) = (set().unwrap(), chain::catalog(&places::places(6, 0)).unwrap());
        assert_eq!(set.flaws(), []);
        assert_eq!(set.flaws_in(&all), []);
    }
}
