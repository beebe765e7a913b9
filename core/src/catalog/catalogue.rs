use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::Decimal;

use super::{
    Addition, Channel, Daypart, DaypartSet, DaypartsFor, District, Document, Flaw, Format, Item,
    Kind, Needs, Owner, Price, Product, Reason, Region, Settings, Size, StoragePlace, Store,
};
use crate::access::Standing;
use crate::calendar::BusinessDate;
use crate::ids::{
    AdditionId, ChannelId, CodeError, DaypartSetId, DistrictId, FormatId, ItemId, OwnerId, PlaceId,
    ProductId, ReasonId, RegionId, SizeId, StoreId,
};
use crate::money::UnitPrice;

/// The reference data in force on one business date, as far as was known at one moment.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Catalog {
    /// The settings of the network; none until head office has set any.
    pub settings: Option<Settings>,
    /// The regions in force, by code.
    pub regions: BTreeMap<RegionId, Region>,
    /// The districts in force, by code.
    pub districts: BTreeMap<DistrictId, District>,
    /// Those who hold stores, by code.
    pub owners: BTreeMap<OwnerId, Owner>,
    /// The kinds of store, by code.
    pub formats: BTreeMap<FormatId, Format>,
    /// The places where stock is kept, by code.
    pub places: BTreeMap<PlaceId, StoragePlace>,
    /// The stores in force, by code.
    pub stores: BTreeMap<StoreId, Store>,
    /// The sets of dayparts in force, by code.
    pub dayparts: BTreeMap<DaypartSetId, DaypartSet>,
    /// The ways in which orders come, by code.
    pub channels: BTreeMap<ChannelId, Channel>,
    /// The reasons for throwing something away, by code.
    pub reasons: BTreeMap<ReasonId, Reason>,
    /// What is bought, prepared or counted, by code.
    pub items: BTreeMap<ItemId, Item>,
    /// The standard prices in force, by the code of the item.
    pub prices: BTreeMap<ItemId, Price>,
    /// What the menu offers, by code.
    pub products: BTreeMap<ProductId, Product>,
    /// What guests may add to a product, by code.
    pub additions: BTreeMap<AdditionId, Addition>,
}

/// Something the catalogue does not have.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("there is no \"{code}\" under {kind} on that date")]
pub struct NotFound {
    /// The word for the kind of document, as in the API.
    pub kind: &'static str,
    /// The code asked for.
    pub code: String,
}

/// How deep combos and preparations may nest.
pub(super) const DEPTH: usize = 6;

impl Catalog {
    /// A catalogue of documents, each under its code.
    ///
    /// # Errors
    /// When a code is none.
    pub fn from_documents(
        documents: impl IntoIterator<Item = (String, Document)>,
    ) -> Result<Self, CodeError> {
        let mut all = Self::default();
        for (code, document) in documents {
            all.put(&code, document)?;
        }
        Ok(all)
    }

    /// Puts one document in its place, over what stood there.
    ///
    /// # Errors
    /// When the code is none.
    pub fn put(&mut self, code: &str, document: Document) -> Result<(), CodeError> {
        macro_rules! into {
            ($map:ident, $body:ident) => {{
                self.$map.insert(code.parse()?, $body);
            }};
        }
        match document {
            Document::Settings(settings) => self.settings = Some(settings),
            Document::Region(body) => into!(regions, body),
            Document::District(body) => into!(districts, body),
            Document::Owner(body) => into!(owners, body),
            Document::Format(body) => into!(formats, body),
            Document::Place(body) => into!(places, body),
            Document::Store(body) => into!(stores, body),
            Document::Dayparts(body) => into!(dayparts, body),
            Document::Channel(body) => into!(channels, body),
            Document::Reason(body) => into!(reasons, body),
            Document::Item(body) => into!(items, body),
            Document::Price(body) => into!(prices, body),
            Document::Product(body) => into!(products, body),
            Document::Addition(body) => into!(additions, body),
        }
        Ok(())
    }

    /// The item of a code, as it is in force.
    ///
    /// # Errors
    /// [`NotFound`].
    pub fn item(&self, id: &ItemId) -> Result<&Item, NotFound> {
        self.items.get(id).ok_or_else(|| NotFound { kind: Kind::Item.word(), code: id.to_string() })
    }

    /// Whether a store counts an item on a date: one that it keeps, by the item's rhythm and the
    /// network's periods.
    pub fn is_due(&self, item: &Item, store: &Store, date: BusinessDate) -> bool {
        let periods = self.settings.as_ref().map(|s| s.periods).unwrap_or_default();
        item.is_kept_by(store) && item.rhythm.is_due(store, &periods, date)
    }

    /// Whether food is thrown away for safety under a reason.
    pub fn is_for_safety(&self, reason: &ReasonId) -> bool {
        self.reasons.get(reason).is_some_and(|reason| reason.safety)
    }

    /// Where a store stands.
    ///
    /// # Errors
    /// [`NotFound`] when the store or its district is not in force.
    pub fn standing(&self, id: &StoreId) -> Result<Standing, NotFound> {
        let store = self
            .stores
            .get(id)
            .ok_or_else(|| NotFound { kind: Kind::Store.word(), code: id.to_string() })?;
        let district = self.districts.get(&store.district).ok_or_else(|| NotFound {
            kind: Kind::District.word(),
            code: store.district.to_string(),
        })?;
        Ok(Standing {
            store: id.clone(),
            district: store.district.clone(),
            region: district.region.clone(),
            owner: store.owner.clone(),
        })
    }

    /// The dayparts of a store: its own set, else its format's, else everybody's.
    pub fn dayparts_of(&self, id: &StoreId, store: &Store) -> Vec<Daypart> {
        let rank = |set: &DaypartSet| match &set.stores {
            DaypartsFor::Store(s) => (s == id).then_some(0),
            DaypartsFor::Format(f) => (*f == store.format).then_some(1),
            DaypartsFor::All => Some(2),
        };
        self.dayparts
            .values()
            .filter_map(|set| rank(set).map(|rank| (rank, set)))
            .min_by_key(|(rank, _)| *rank)
            .map(|(_, set)| set.dayparts.clone())
            .unwrap_or_default()
    }

    /// The standard price of one base unit of an item: its own, else what its inputs cost.
    /// `None` when a price is missing on the way.
    pub fn unit_price(&self, id: &ItemId) -> Option<UnitPrice> {
        self.unit_price_within(id, DEPTH)
    }

    fn unit_price_within(&self, id: &ItemId, depth: usize) -> Option<UnitPrice> {
        let item = self.items.get(id)?;
        if let Some(price) = self.prices.get(id) {
            return price.unit_price(id, item).ok();
        }
        let made = item.made_from.as_ref()?;
        let depth = depth.checked_sub(1)?;
        let batch = item.measure(id, &made.batch).ok()?.value();
        let mut cost = Decimal::ZERO;
        for input in &made.inputs {
            let price = self.unit_price_within(&input.item, depth)?;
            let taken =
                self.line_amount(&input.item, input.stage.as_ref(), &input.quantity).ok()?;
            cost = cost.checked_add(price.value().checked_mul(taken.value())?)?;
        }
        UnitPrice::new(cost.checked_div(batch)?).ok()
    }

    /// A size of a product.
    ///
    /// # Errors
    /// [`NotFound`].
    pub fn size(&self, product: &ProductId, size: &SizeId) -> Result<&Size, NotFound> {
        self.products
            .get(product)
            .and_then(|p| p.sizes.iter().find(|s| s.code == *size))
            .ok_or_else(|| NotFound {
                kind: Kind::Product.word(),
                code: format!("{product}/{size}"),
            })
    }

    /// The product and size that tills send under a code.
    pub fn by_till_code(&self, code: &str) -> Option<(&ProductId, &Size)> {
        self.products.iter().find_map(|(id, product)| {
            let size = product.sizes.iter().find(|s| s.till_codes.iter().any(|c| c == code))?;
            Some((id, size))
        })
    }

    /// The addition that tills send under a code.
    pub fn addition_by_till_code(&self, code: &str) -> Option<(&AdditionId, &Addition)> {
        self.additions.iter().find(|(_, a)| a.till_codes.iter().any(|c| c == code))
    }

    /// Storage places in the order a store walks them.
    pub fn walk(&self, store: &Store) -> Vec<&PlaceId> {
        let own: BTreeMap<&PlaceId, usize> =
            store.walk.iter().enumerate().map(|(n, p)| (p, n)).collect();
        let mut places: Vec<_> = self.places.iter().collect();
        places.sort_by_key(|(id, place)| {
            (own.get(id).copied().unwrap_or(usize::MAX), place.turn, (*id).clone())
        });
        places.into_iter().map(|(id, _)| id).collect()
    }

    /// What is wrong with a document in this catalogue: by itself, and in what it names.
    pub fn flaws(&self, code: &str, document: &Document) -> Vec<Flaw> {
        let mut flaws = document.flaws(code);
        let mut named = |at: String, known: bool, kind: Kind, code: &dyn std::fmt::Display| {
            if !known {
                flaws.push(Flaw::new(at, format!("there is no \"{code}\" under {}", kind.word())));
            }
        };
        match document {
            Document::District(d) => named(
                "/region".into(),
                self.regions.contains_key(&d.region),
                Kind::Region,
                &d.region,
            ),
            Document::Store(s) => {
                let district = self.districts.contains_key(&s.district);
                named("/district".into(), district, Kind::District, &s.district);
                named("/owner".into(), self.owners.contains_key(&s.owner), Kind::Owner, &s.owner);
                let format = self.formats.contains_key(&s.format);
                named("/format".into(), format, Kind::Format, &s.format);
                for (n, place) in s.walk.iter().enumerate() {
                    let known = self.places.contains_key(place);
                    named(format!("/walk/{n}"), known, Kind::Place, place);
                }
            }
            Document::Item(item) => {
                for (n, shelf) in item.shelves.iter().enumerate() {
                    let known = self.places.contains_key(&shelf.place);
                    named(format!("/shelves/{n}/place"), known, Kind::Place, &shelf.place);
                }
            }
            _ => {}
        }
        for (at, problem) in self.recipe_flaws(code, document) {
            flaws.push(Flaw::new(at, problem));
        }
        flaws.extend(self.till_code_flaws(code, document));
        flaws
    }

    /// Recipe lines and preparations that cannot be worked out.
    fn recipe_flaws(&self, code: &str, document: &Document) -> Vec<(String, String)> {
        // The document stands in the catalogue for the check, so that it may name itself wrongly
        // (a combo of itself) and be told so.
        let mut with = self.clone();
        if with.put(code, document.clone()).is_err() {
            return vec![(String::new(), "the code is none".to_owned())];
        }
        let mut problems = Vec::new();
        match document {
            Document::Product(product) => {
                for (n, size) in product.sizes.iter().enumerate() {
                    for (l, line) in size.lines.iter().enumerate() {
                        let one = std::slice::from_ref(line);
                        if let Err(e) = with.take_lines(one, Decimal::ONE, &mut Needs::default()) {
                            problems.push((format!("/sizes/{n}/lines/{l}"), e.to_string()));
                        }
                    }
                    let whole = ProductId::new(code)
                        .map_err(|e| e.to_string())
                        .and_then(|id| with.needs_of(&id, &size.code).map_err(|e| e.to_string()));
                    if let Err(e) = whole
                        && problems.is_empty()
                    {
                        problems.push((format!("/sizes/{n}/parts"), e));
                    }
                }
            }
            Document::Addition(addition) => {
                for (l, line) in addition.lines.iter().enumerate() {
                    let one = std::slice::from_ref(line);
                    if let Err(e) = with.take_lines(one, Decimal::ONE, &mut Needs::default()) {
                        problems.push((format!("/lines/{l}"), e.to_string()));
                    }
                }
            }
            Document::Item(item) => {
                let Ok(id) = ItemId::new(code) else { return problems };
                for (n, input) in item.made_from.iter().flat_map(|m| &m.inputs).enumerate() {
                    let amount =
                        with.line_amount(&input.item, input.stage.as_ref(), &input.quantity);
                    if let Err(e) = amount {
                        problems.push((format!("/made_from/inputs/{n}"), e.to_string()));
                    }
                    if with.is_made_with(&input.item, &id, &mut BTreeSet::new()) {
                        problems.push((
                            format!("/made_from/inputs/{n}/item"),
                            format!("{} is itself made with {id}", input.item),
                        ));
                    }
                }
            }
            Document::Price(price) => {
                let unit = ItemId::new(code).map_err(|e| e.to_string()).and_then(|id| {
                    let item = self.item(&id).map_err(|e| e.to_string())?;
                    price.unit_price(&id, item).map_err(|e| e.to_string())
                });
                if let Err(e) = unit {
                    problems.push(("/per".to_owned(), e));
                }
            }
            _ => {}
        }
        problems
    }

    fn is_made_with(&self, item: &ItemId, sought: &ItemId, seen: &mut BTreeSet<ItemId>) -> bool {
        if item == sought {
            return true;
        }
        if !seen.insert(item.clone()) {
            return false;
        }
        let inputs = self.items.get(item).and_then(|i| i.made_from.as_ref());
        inputs.is_some_and(|made| {
            made.inputs.iter().any(|i| self.is_made_with(&i.item, sought, seen))
        })
    }

    /// Till codes that two things would answer to.
    fn till_code_flaws(&self, code: &str, document: &Document) -> Vec<Flaw> {
        let mut flaws = Vec::new();
        let taken = |till: &str| {
            let product = self
                .by_till_code(till)
                .map(|(id, size)| (Kind::Product, id.to_string(), format!("{id}/{}", size.code)));
            product.or_else(|| {
                self.addition_by_till_code(till)
                    .map(|(id, _)| (Kind::Addition, id.to_string(), id.to_string()))
            })
        };
        let mut check = |kind: Kind, at: String, till: &str| {
            if let Some((k, owner, full)) = taken(till)
                && (k, owner.as_str()) != (kind, code)
            {
                flaws.push(Flaw::new(at, format!("the till code \"{till}\" belongs to {full}")));
            }
        };
        match document {
            Document::Product(product) => {
                for (n, size) in product.sizes.iter().enumerate() {
                    for (c, till) in size.till_codes.iter().enumerate() {
                        check(Kind::Product, format!("/sizes/{n}/till_codes/{c}"), till);
                    }
                }
            }
            Document::Addition(addition) => {
                for (c, till) in addition.till_codes.iter().enumerate() {
                    check(Kind::Addition, format!("/till_codes/{c}"), till);
                }
            }
            _ => {}
        }
        flaws
    }
}
