//! Products and additions.

use parings_core::catalog::{Addition, ComboPart, Product, RecipeLine, Size};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::items::InputBody;
use crate::http::faults::Faults;
use crate::http::quantity::Number;

/// A product on the menu.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "title": "Fries",
    "sizes": [{
        "code": "medium", "title": "Medium", "till_codes": ["1002"], "price": "4.20",
        "lines": [{ "item": "potato", "stage": "finish-fry",
            "quantity": { "value": "200", "unit": "g" } }],
    }],
}))]
pub struct ProductBody {
    /// What the menu calls it.
    pub title: String,
    /// Its sizes; a product of one size has one.
    pub sizes: Vec<SizeBody>,
}

/// A size of a product.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SizeBody {
    /// Its code, unique in the product.
    pub code: String,
    /// What the menu calls it.
    pub title: String,
    /// The codes under which tills send it.
    #[serde(default)]
    pub till_codes: Vec<String>,
    /// Its menu price, in the network's currency.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub price: Option<Number>,
    /// What one unit of it takes, item by item.
    #[serde(default)]
    pub lines: Vec<InputBody>,
    /// Other products it is put together from.
    #[serde(default)]
    pub parts: Vec<ComboPartBody>,
}

/// A product inside a combo.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "product": "fries", "size": "medium", "count": 1 }))]
pub struct ComboPartBody {
    /// The code of the product that the combo holds.
    pub product: String,
    /// The code of the size in which the combo holds it.
    pub size: String,
    /// How many of it.
    pub count: u32,
}

/// Something a guest may add.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "title": "Extra sauce", "till_codes": ["2001"],
    "lines": [{ "item": "sauce", "quantity": { "value": "30", "unit": "ml" } }] }))]
pub struct AdditionBody {
    /// What the menu calls it.
    pub title: String,
    /// The codes under which tills send it.
    #[serde(default)]
    pub till_codes: Vec<String>,
    /// What one unit of it takes, item by item.
    pub lines: Vec<InputBody>,
}

fn lines(f: &mut Faults, wire: Vec<InputBody>) -> Option<Vec<RecipeLine>> {
    f.each("lines", wire, |f, line| {
        let line = line.read(f)?;
        Some(RecipeLine { item: line.item, stage: line.stage, quantity: line.quantity })
    })
}

fn till_codes(f: &mut Faults, wire: Vec<String>) -> Option<Vec<String>> {
    f.each("till_codes", wire, |f, code| {
        if code.trim().is_empty() || code.len() > 60 {
            f.here("a till code has 1 to 60 characters");
            return None;
        }
        Some(code)
    })
}

fn line_bodies(lines: &[RecipeLine]) -> Vec<InputBody> {
    lines
        .iter()
        .map(|line| InputBody {
            item: line.item.to_string(),
            stage: line.stage.as_ref().map(ToString::to_string),
            quantity: (&line.quantity).into(),
        })
        .collect()
}

impl ProductBody {
    pub(super) fn read(self, faults: &mut Faults) -> Option<Product> {
        let title = faults.title("title", &self.title);
        let sizes = faults.each("sizes", self.sizes, |f, size| {
            let code = f.parse("code", &size.code);
            let title = f.title("title", &size.title);
            let till_codes = till_codes(f, size.till_codes);
            let price = f.maybe(size.price, |f, price| f.decimal("price", &price));
            let lines = lines(f, size.lines);
            let parts = f.each("parts", size.parts, |f, part| {
                let product = f.parse("product", &part.product);
                let size = f.parse("size", &part.size);
                Some(ComboPart { product: product?, size: size?, count: part.count })
            });
            Some(Size {
                code: code?,
                title: title?,
                till_codes: till_codes?,
                price: price?,
                lines: lines?,
                parts: parts?,
            })
        });
        Some(Product { title: title?, sizes: sizes? })
    }
}

impl From<&Product> for ProductBody {
    fn from(product: &Product) -> Self {
        let part = |part: &ComboPart| ComboPartBody {
            product: part.product.to_string(),
            size: part.size.to_string(),
            count: part.count,
        };
        let size = |size: &Size| SizeBody {
            code: size.code.to_string(),
            title: size.title.clone(),
            till_codes: size.till_codes.clone(),
            price: size.price.map(|price| Number(price.to_decimal())),
            lines: line_bodies(&size.lines),
            parts: size.parts.iter().map(part).collect(),
        };
        Self { title: product.title.clone(), sizes: product.sizes.iter().map(size).collect() }
    }
}

impl AdditionBody {
    pub(super) fn read(self, faults: &mut Faults) -> Option<Addition> {
        let title = faults.title("title", &self.title);
        let till_codes = till_codes(faults, self.till_codes);
        let lines = lines(faults, self.lines);
        Some(Addition { title: title?, till_codes: till_codes?, lines: lines? })
    }
}

impl From<&Addition> for AdditionBody {
    fn from(addition: &Addition) -> Self {
        Self {
            title: addition.title.clone(),
            till_codes: addition.till_codes.clone(),
            lines: line_bodies(&addition.lines),
        }
    }
}
