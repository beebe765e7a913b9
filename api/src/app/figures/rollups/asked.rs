//! What is asked of roll-ups, whether it can be answered, and where stores stood.

use std::collections::BTreeSet;

use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Ruling, Standing, Target, can};
use parings_core::calendar::{DateSpan, Periods};
use parings_core::catalog::{Kind, Network, StoreTimeline};
use parings_core::ids::StoreId;
use parings_core::rollup::{By, Level, Scope};
use parings_core::tally::DaypartKey;

use super::{Asked, MOST_BUCKETS, MOST_NIGHTS};
use crate::context::Ctx;
use crate::db;
use crate::error::AppError;

impl Asked {
    /// A scope and span as a whole, as they are known now.
    pub fn new(scope: Scope, span: DateSpan) -> Self {
        Self {
            scope,
            span,
            by: By::None,
            children: false,
            item: None,
            daypart: None,
            channel: None,
            waste_lines: false,
            compare: Vec::new(),
            rank_by: None,
            as_known_at: None,
        }
    }

    /// Whether a daypart and channel are asked for.
    pub fn holds(&self, key: &DaypartKey) -> bool {
        self.daypart.as_ref().is_none_or(|daypart| key.daypart == *daypart)
            && self.channel.as_ref().is_none_or(|channel| key.channel == *channel)
    }

    /// Whether only some dayparts or channels are asked for.
    pub fn is_part(&self) -> bool {
        self.daypart.is_some() || self.channel.is_some()
    }

    pub(super) fn level(&self) -> Option<Level> {
        self.scope.children().filter(|_| self.children)
    }

    /// The stores of the scope, as known at either of two moments.
    pub(super) fn stores(&self, networks: [&Network; 2]) -> BTreeSet<StoreId> {
        let inside = |network: &Network, store: &StoreTimeline| {
            let standing = |date| network.standing(store, date);
            self.span.iter().filter_map(standing).any(|at| self.scope.holds(&at))
        };
        let all = networks.into_iter().flat_map(|n| n.stores.iter().map(move |store| (n, store)));
        all.filter(|(n, store)| inside(n, store)).map(|(_, store)| store.store.clone()).collect()
    }

    /// Refuses what cannot be answered whatever there is.
    pub(super) fn check(&self) -> Result<(), AppError> {
        if self.span.nights() > MOST_NIGHTS {
            let said = format!("a roll-up covers {MOST_NIGHTS} nights at most: ask for fewer");
            return Err(AppError::invalid("/to", said));
        }
        if self.by != By::None && !self.compare.is_empty() {
            let said = "only a span as a whole is compared: leave out by";
            return Err(AppError::invalid("/compare", said));
        }
        if self.rank_by.is_some() && (self.by != By::None || self.level().is_none()) {
            let said = "children are ranked over a span as a whole: ask for children, without by";
            return Err(AppError::invalid("/rank_by", said));
        }
        Ok(())
    }

    pub(super) fn buckets(&self, periods: &Periods) -> Result<Vec<DateSpan>, AppError> {
        let buckets = self.by.buckets(self.span, periods);
        if buckets.len() > MOST_BUCKETS {
            let said = format!(
                "this makes {} buckets and {MOST_BUCKETS} is the most: ask for weeks or for fewer \
                 nights",
                buckets.len()
            );
            return Err(AppError::invalid("/by", said));
        }
        Ok(buckets.into_iter().map(|bucket| bucket.span).collect())
    }

    /// Asks the policy. A store may have stood in several places; it is the actor's to see when it
    /// stood in theirs on any date of the span, and the database shows those dates only.
    ///
    /// # Errors
    /// 404 and 403 as it says, 404 also for a scope that never was.
    pub async fn require(
        &self,
        conn: &mut AsyncPgConnection,
        ctx: &Ctx,
        network: &Network,
        action: Action,
    ) -> Result<(), AppError> {
        let (kind, code) = match &self.scope {
            Scope::Store(store) => {
                let stood = stood(network, store, self.span);
                let allowed =
                    |at: &&Standing| can(&ctx.actor, action, &Target::Store(at)) == Ruling::Yes;
                let at = stood.iter().find(allowed).or(stood.last());
                let at = at.ok_or_else(|| AppError::not_found(format!("store {store}")))?;
                return ctx.require(action, &Target::Store(at));
            }
            Scope::Network => return ctx.require(action, &Target::Network),
            Scope::District(code) => {
                ctx.require(action, &Target::District(code))?;
                (Kind::District, code.as_str())
            }
            Scope::Region(code) => {
                ctx.require(action, &Target::Region(code))?;
                (Kind::Region, code.as_str())
            }
            Scope::Owner(code) => {
                ctx.require(action, &Target::Owner(code))?;
                (Kind::Owner, code.as_str())
            }
        };
        // One that ended within the span has its rows too.
        let found = db::catalog::one(conn, kind, code, self.span.to(), ctx.now).await?;
        match found {
            Some(_) => Ok(()),
            None => Err(AppError::not_found(self.scope.to_string().replace(':', " "))),
        }
    }
}

/// Where a store stood in a span: once for every place, in order.
fn stood(network: &Network, store: &StoreId, span: DateSpan) -> Vec<Standing> {
    let timeline = network.stores.iter().filter(|timeline| timeline.store == *store);
    let mut stood: Vec<_> = timeline
        .flat_map(|timeline| span.iter().filter_map(|date| network.standing(timeline, date)))
        .collect();
    stood.dedup();
    stood
}
