//! Regions, districts, owners, formats, storage places and stores.

use parings_core::calendar::Weekday;
use parings_core::catalog::{
    District, Format, Fryer, OtherHours, Owner, Region, StoragePlace, Store,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::http::faults::Faults;
use crate::http::quantity::QuantityBody;
use crate::http::reference::day::HoursBody;

/// A region, an owner or a format: something that has a title and nothing more.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "title": "Valley" }))]
pub struct TitledBody {
    /// What people call it.
    pub title: String,
}

macro_rules! titled {
    ($($read:ident: $name:ident;)*) => {$(
        impl From<&$name> for TitledBody {
            fn from(named: &$name) -> Self {
                Self { title: named.title.clone() }
            }
        }

        impl TitledBody {
            pub(super) fn $read(self, faults: &mut Faults) -> Option<$name> {
                Some($name { title: faults.title("title", &self.title)? })
            }
        }
    )*};
}

titled! {
    region: Region;
    owner: Owner;
    format: Format;
}

/// The stores of one area coach.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "title": "Upper valley", "region": "valley" }))]
pub struct DistrictBody {
    /// What people call it.
    pub title: String,
    /// The region it belongs to.
    pub region: String,
}

impl DistrictBody {
    pub(super) fn read(self, faults: &mut Faults) -> Option<District> {
        let title = faults.title("title", &self.title);
        let region = faults.parse("region", &self.region);
        Some(District { title: title?, region: region? })
    }
}

impl From<&District> for DistrictBody {
    fn from(district: &District) -> Self {
        Self { title: district.title.clone(), region: district.region.to_string() }
    }
}

/// A place where stock is kept.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "title": "Cold room", "turn": 2 }))]
pub struct PlaceBody {
    /// What people call it.
    pub title: String,
    /// Its turn on the walk of a count; a store may have a walk of its own.
    pub turn: u16,
}

impl PlaceBody {
    pub(super) fn read(self, faults: &mut Faults) -> Option<StoragePlace> {
        Some(StoragePlace { title: faults.title("title", &self.title)?, turn: self.turn })
    }
}

impl From<&StoragePlace> for PlaceBody {
    fn from(place: &StoragePlace) -> Self {
        Self { title: place.title.clone(), turn: place.turn }
    }
}

/// A store: where it belongs, its clock and its hours.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "title": "Ford", "district": "upper", "owner": "brook", "format": "counter",
    "zone": "Europe/Berlin", "cut_off": "05:00",
    "open": ["tue", "wed", "thu", "fri", "sat", "sun"], "closed": ["2026-12-25"],
    "walk": ["cold-room", "dry-store"],
    "fryers": [{ "code": "left", "title": "Left fryer",
        "oil": { "value": "22", "unit": "l" }, "shared": true }],
    "feed": true,
}))]
pub struct StoreBody {
    /// What people call it.
    pub title: String,
    /// The code of the district it belongs to.
    pub district: String,
    /// The code of the owner who holds it.
    pub owner: String,
    /// The code of what kind of store it is.
    pub format: String,
    /// Its IANA time zone.
    pub zone: String,
    /// The time on its clock at which its business day turns, 00:00 to 11:59; 05:00 when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cut_off: Option<String>,
    /// The weekdays it opens.
    pub open: Vec<DayBody>,
    /// Dates on which it stays closed all the same.
    #[serde(default)]
    #[schema(value_type = Vec<chrono::NaiveDate>)]
    pub closed: Vec<String>,
    /// The hours it trades; without them no day is called short.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hours: Option<HoursBody>,
    /// Days on which it trades other hours. A day with much less than the usual ones stays out of
    /// what compares stores.
    #[serde(default)]
    pub other_hours: Vec<OtherHoursBody>,
    /// Its own walk of a count, where it differs: places in order. Others follow in the network's.
    #[serde(default)]
    pub walk: Vec<String>,
    /// The fryers it cooks in.
    #[serde(default)]
    pub fryers: Vec<FryerBody>,
    /// Whether a till feeds its sales.
    #[serde(default)]
    pub feed: bool,
}

/// A day with hours of its own.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OtherHoursBody {
    /// The business date on which the store trades other hours.
    #[schema(value_type = chrono::NaiveDate)]
    pub date: String,
    /// From when to when it trades on that date, by the store's clock.
    pub hours: HoursBody,
}

/// A fryer of a store, which is filled with oil.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FryerBody {
    /// Its code, unique in the store.
    pub code: String,
    /// What people call it.
    pub title: String,
    /// The oil it holds.
    pub oil: QuantityBody,
    /// Whether it fries for guests as well as for preparation.
    pub shared: bool,
}

/// A day of the week.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "the names say it")]
pub enum DayBody {
    Mon,
    Tue,
    Wed,
    Thu,
    Fri,
    Sat,
    Sun,
}

impl DayBody {
    const ALL: [Self; 7] =
        [Self::Mon, Self::Tue, Self::Wed, Self::Thu, Self::Fri, Self::Sat, Self::Sun];
}

impl From<DayBody> for Weekday {
    fn from(day: DayBody) -> Self {
        Self::ALL[day as usize]
    }
}

impl From<Weekday> for DayBody {
    fn from(day: Weekday) -> Self {
        Self::ALL[day as usize]
    }
}

impl StoreBody {
    pub(super) fn read(self, faults: &mut Faults) -> Option<Store> {
        let title = faults.title("title", &self.title);
        let district = faults.parse("district", &self.district);
        let owner = faults.parse("owner", &self.owner);
        let format = faults.parse("format", &self.format);
        let zone = faults.parse("zone", &self.zone);
        let cut_off = faults.maybe(self.cut_off, |f, text| f.parse("cut_off", &text));
        let closed = faults.parse_each("closed", &self.closed);
        let hours = faults.maybe(self.hours, |f, hours| hours.read(f, "hours"));
        let other_hours = faults.each("other_hours", self.other_hours, |f, other| other.read(f));
        let walk = faults.parse_each("walk", &self.walk);
        let fryers = faults.each("fryers", self.fryers, |faults, fryer| fryer.read(faults));
        Some(Store {
            title: title?,
            district: district?,
            owner: owner?,
            format: format?,
            zone: zone?,
            cut_off: cut_off?.unwrap_or_default(),
            open: self.open.into_iter().map(Into::into).collect(),
            closed: closed?,
            hours: hours?,
            other_hours: other_hours?,
            walk: walk?,
            fryers: fryers?,
            feed: self.feed,
        })
    }
}

impl From<&Store> for StoreBody {
    fn from(store: &Store) -> Self {
        Self {
            title: store.title.clone(),
            district: store.district.to_string(),
            owner: store.owner.to_string(),
            format: store.format.to_string(),
            zone: store.zone.to_string(),
            cut_off: Some(store.cut_off.to_string()),
            open: store.open.iter().map(|day| (*day).into()).collect(),
            closed: store.closed.iter().map(ToString::to_string).collect(),
            hours: store.hours.map(Into::into),
            other_hours: store.other_hours.iter().map(Into::into).collect(),
            walk: store.walk.iter().map(ToString::to_string).collect(),
            fryers: store.fryers.iter().map(Into::into).collect(),
            feed: store.feed,
        }
    }
}

impl OtherHoursBody {
    fn read(self, faults: &mut Faults) -> Option<OtherHours> {
        let date = faults.parse("date", &self.date);
        let hours = self.hours.read(faults, "hours");
        Some(OtherHours { date: date?, hours: hours? })
    }
}

impl From<&OtherHours> for OtherHoursBody {
    fn from(other: &OtherHours) -> Self {
        Self { date: other.date.to_string(), hours: other.hours.into() }
    }
}

impl FryerBody {
    fn read(self, faults: &mut Faults) -> Option<Fryer> {
        let code = faults.parse("code", &self.code);
        let title = faults.title("title", &self.title);
        let oil = self.oil.read(faults, "oil");
        Some(Fryer { code: code?, title: title?, oil: oil?, shared: self.shared })
    }
}

impl From<&Fryer> for FryerBody {
    fn from(fryer: &Fryer) -> Self {
        Self {
            code: fryer.code.to_string(),
            title: fryer.title.clone(),
            oil: fryer.oil.into(),
            shared: fryer.shared,
        }
    }
}
