//! Which documents a recipe rests on.

use std::collections::BTreeSet;

use super::{Catalog, Kind, RecipeLine};
use crate::ids::{ItemId, ProductId, SizeId};

impl Catalog {
    /// Adds the documents that what a size takes rests on: the product, those it is put together
    /// from, and items of their lines that stand for their inputs. The items taken in the end are
    /// not among them.
    pub fn behind_product(
        &self,
        product: &ProductId,
        size: &SizeId,
        found: &mut BTreeSet<(Kind, String)>,
    ) {
        let mut open = vec![(product, size)];
        let mut seen = BTreeSet::new();
        while let Some((product, size)) = open.pop() {
            let known = self.size(product, size);
            if let Ok(known) = known
                && seen.insert((product, size))
            {
                found.insert((Kind::Product, product.to_string()));
                self.behind_lines(&known.lines, found);
                open.extend(known.parts.iter().map(|part| (&part.product, &part.size)));
            }
        }
    }

    /// Adds the items of lines that stand for their inputs, on all levels.
    pub fn behind_lines(&self, lines: &[RecipeLine], found: &mut BTreeSet<(Kind, String)>) {
        for line in lines {
            self.behind_item(&line.item, found);
        }
    }

    fn behind_item(&self, id: &ItemId, found: &mut BTreeSet<(Kind, String)>) {
        let Some(item) = self.items.get(id).filter(|item| item.flows_through()) else { return };
        if found.insert((Kind::Item, id.to_string())) {
            for input in item.made_from.iter().flat_map(|made| &made.inputs) {
                self.behind_item(&input.item, found);
            }
        }
    }
}
