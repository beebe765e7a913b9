use serde::{Deserialize, Serialize};

use super::{Flaw, Typed};
use crate::ids::{ItemId, ProductId, SizeId, StageId};
use crate::money::Money;

/// A product on the menu.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Product {
    /// What the menu calls it.
    pub title: String,
    /// Its sizes; a product of one size has one.
    pub sizes: Vec<Size>,
}

/// A size of a product.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Size {
    /// Its code, unique in the product.
    pub code: SizeId,
    /// What the menu calls it.
    pub title: String,
    /// The codes under which tills send it.
    #[serde(default)]
    pub till_codes: Vec<String>,
    /// Its menu price, before what a till says it took.
    #[serde(default)]
    pub price: Option<Money>,
    /// What one unit of it takes, item by item.
    #[serde(default)]
    pub lines: Vec<RecipeLine>,
    /// Other products it is put together from.
    #[serde(default)]
    pub parts: Vec<ComboPart>,
}

/// What one unit takes of an item.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RecipeLine {
    /// The item that is taken.
    pub item: ItemId,
    /// The stage the quantity is stated at; none for as purchased.
    #[serde(default)]
    pub stage: Option<StageId>,
    /// How much of it one unit takes, at that stage.
    pub quantity: Typed,
}

/// A product inside a combo.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ComboPart {
    /// The product that the combo holds.
    pub product: ProductId,
    /// The size in which the combo holds it.
    pub size: SizeId,
    /// How many of it.
    pub count: u32,
}

/// Something a guest may add.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Addition {
    /// What the menu calls it.
    pub title: String,
    /// The codes under which tills send it.
    #[serde(default)]
    pub till_codes: Vec<String>,
    /// What one unit of it takes, item by item.
    pub lines: Vec<RecipeLine>,
}

impl Product {
    /// What is wrong with the product by itself.
    pub fn flaws(&self) -> Vec<Flaw> {
        let mut flaws = Vec::new();
        if self.sizes.is_empty() {
            flaws.push(Flaw::new("/sizes", "a product needs at least one size"));
        }
        for (n, size) in self.sizes.iter().enumerate() {
            if self.sizes[..n].iter().any(|s| s.code == size.code) {
                flaws.push(Flaw::new(format!("/sizes/{n}/code"), "this size is listed twice"));
            }
            if size.lines.is_empty() && size.parts.is_empty() {
                flaws.push(Flaw::new(
                    format!("/sizes/{n}/lines"),
                    "a size takes something: give lines, or parts for a combo",
                ));
            }
            for (p, part) in size.parts.iter().enumerate() {
                if part.count == 0 {
                    flaws.push(Flaw::new(format!("/sizes/{n}/parts/{p}/count"), "none of it"));
                }
            }
        }
        flaws
    }
}
