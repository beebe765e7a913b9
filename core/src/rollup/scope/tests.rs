use super::*;

fn at() -> Standing {
    Standing {
        store: StoreId::new("ford").expect("a code"),
        district: DistrictId::new("upper").expect("a code"),
        region: RegionId::new("valley").expect("a code"),
        owner: OwnerId::new("brook").expect("a code"),
    }
}

#[test]
fn a_scope_has_its_text_its_children_and_its_stores() {
    for (text, children, other) in [
        ("store:ford", None, "store:weir"),
        ("district:upper", Some((Level::Store, "ford")), "district:lower"),
        ("region:valley", Some((Level::District, "upper")), "region:coast"),
        ("owner:brook", Some((Level::Store, "ford")), "owner:hill"),
    ] {
        let scope: Scope = text.parse().expect("a scope");
        assert_eq!(scope.to_string(), text);
        let at = at();
        assert_eq!(scope.children().map(|level| (level, level.of(&at))), children);
        assert!(scope.holds(&at), "{text}");
        assert!(!other.parse::<Scope>().expect("a scope").holds(&at), "{other}");
    }
    let network: Scope = "network".parse().expect("a scope");
    assert_eq!(
        (network.to_string().as_str(), network.children()),
        ("network", Some(Level::Region))
    );
    assert!(network.holds(&at()) && Level::Region.of(&at()) == "valley");
    for text in ["", "net", "store", "shop:ford", "network:all"] {
        assert_eq!(text.parse::<Scope>(), Err(ScopeError::Shape), "{text}");
    }
    assert!(matches!("store:Ford".parse::<Scope>(), Err(ScopeError::Code(_))));
}

/// By hand, with a calendar: from a Wednesday over a whole week to a Tuesday, at the turn of a month.
#[test]
fn a_span_is_cut_into_buckets() {
    let span = |text: &str| {
        let (from, to) = text.split_once(" to ").expect("two dates");
        DateSpan::new(from.parse().expect("a date"), to.parse().expect("a date")).expect("in order")
    };
    let asked = span("2026-06-24 to 2026-07-07");
    for (by, expected) in [
        (
            By::Week,
            vec![
                ("2026-06-24 to 2026-06-28", false),
                ("2026-06-29 to 2026-07-05", true),
                ("2026-07-06 to 2026-07-07", false),
            ],
        ),
        (
            By::Period,
            vec![("2026-06-24 to 2026-06-30", false), ("2026-07-01 to 2026-07-07", false)],
        ),
        (By::None, vec![("2026-06-24 to 2026-07-07", true)]),
    ] {
        let found = by.buckets(asked, &Periods::Months);
        let found: Vec<_> = found.iter().map(|b| (b.span.to_string(), b.whole)).collect();
        let expected: Vec<_> = expected.iter().map(|(s, whole)| (s.to_string(), *whole)).collect();
        assert_eq!(found, expected, "{by:?}");
    }
    let days = By::Day.buckets(asked, &Periods::Months);
    assert!(days.len() == 14 && days.iter().all(|day| day.whole && day.span.nights() == 1));
}
