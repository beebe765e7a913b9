//! The name that was probably meant.

/// How many letters must be put in, taken out or changed to make one word the other (Levenshtein).
fn distance(one: &str, other: &str) -> usize {
    let other: Vec<char> = other.chars().collect();
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (n, a) in one.chars().enumerate() {
        let mut before = row[0];
        row[0] = n + 1;
        for (m, b) in other.iter().enumerate() {
            let change = before + usize::from(a != *b);
            before = row[m + 1];
            row[m + 1] = change.min(before + 1).min(row[m] + 1);
        }
    }
    row[other.len()]
}

/// What people write in headers for the columns that have another name here.
const OTHERWISE: &[(&str, &str)] = &[
    ("date", "business_date"),
    ("amount", "quantity"),
    ("qty", "quantity"),
    ("location", "place"),
    ("uom", "unit"),
    ("type", "kind"),
];

/// The known name nearest to one that is not, if it is near: three letters off at most, and no more
/// than a third of the word.
pub fn nearest<'a>(name: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let plain = name.trim().to_lowercase().replace([' ', '-', '.'], "_");
    let plain = OTHERWISE.iter().find(|(other, _)| *other == plain).map_or(plain.as_str(), |o| o.1);
    let near = known.map(|known| (distance(plain, known), known)).min()?;
    (near.0 <= 3.min(plain.chars().count() / 3)).then_some(near.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    // The textbook example of the distance, from memory: kitten → sitting is 3.
    #[test]
    fn distances() {
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(distance("", "abc"), 3);
        assert_eq!(distance("unit", "unit"), 0);
    }

    #[test]
    fn the_nearest_is_near() {
        let known = || ["store", "business_date", "unit", "units"].into_iter();
        assert_eq!(nearest("Business Date", known()), Some("business_date"));
        assert_eq!(nearest("busines_date", known()), Some("business_date"));
        assert_eq!(nearest("date", known()), Some("business_date"));
        assert_eq!(nearest("stoer", known()), None);
        assert_eq!(nearest("stores", known()), Some("store"));
        assert_eq!(nearest("colour", known()), None);
    }
}
