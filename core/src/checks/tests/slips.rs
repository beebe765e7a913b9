use proptest::prelude::*;

use super::*;
use crate::checks::slips::slips;
use crate::money::Money;

/// Beans: 40 kg opened, none came, 22 kg should have been used: about 18 kg should stand there, with
/// a spread of 297 g. `typed` comes to `closing` grams.
fn beans(value: &str, unit: &str, closing: i64) -> Scene {
    Scene::new(&[line("beans", "cold-room", value, unit)]).with(
        "beans",
        one_night(40_000, 0, 22_000, closing),
        quiet_nights(),
    )
}

/// 39.7 kg is 73 spreads off; 39.7 lb are 18.008 kg. 39.68 ÷ 18 = 2.204.
#[test]
fn a_scale_that_shows_pounds() {
    let found = slips(&beans("39.7", "kg", 39_700).given());
    assert_eq!(kinds(&found), ["unit_slip"]);
    assert_eq!(offered(&found[0]), ["39.7 kg", "39.7 lb"]);
    assert_eq!(found[0].says, "Beans in Cold room: 39.7 kg, or 39.7 lb?");
    assert_eq!(found[0].id(), "unit_slip:beans@cold-room");
    // 39.7 kg less 39.7 lb are 21.692 kg, at 2.00 a kilogram.
    assert_eq!(found[0].stake, Some(Money::from_decimal(d("43.3848")).unwrap()));
    // 18 lb for 18 kg: 8.165 kg.
    let found = slips(&beans("18", "lb", 8_165).given());
    assert_eq!(offered(&found[0]), ["18 lb", "18 kg"]);
}

/// 4 spreads of 297 g are 1.19 kg: 19.1 kg is not doubted, and 20 kg is, but no reading fits it.
#[test]
fn what_is_near_or_fits_nothing_is_not_asked() {
    assert!(slips(&beans("19.1", "kg", 19_100).given()).is_empty());
    assert!(slips(&beans("20", "kg", 20_000).given()).is_empty());
}

/// Ounces for grams: 16.5 oz of basil are 468 g. 500 g were expected with a spread of 30 g.
#[test]
fn ounces_for_grams() {
    let nights: Vec<_> = (0..12).map(|n| one_night(900, 0, 400, 500 + 20 * (n % 3 - 1))).collect();
    let scene = Scene::new(&[line("basil", "cold-room", "17.5", "g")]).with(
        "basil",
        one_night(900, 0, 400, 17),
        nights,
    );
    let found = slips(&scene.given());
    assert_eq!(kinds(&found), ["unit_slip"]);
    assert_eq!(offered(&found[0])[..2], ["17.5 g", "17.5 oz"]);
}

/// Buns: 6 trays of 48 are expected, 288 pieces. 288 trays, 6 pieces and 6 dollies of 480 are slips.
#[test]
fn packs_for_what_they_hold_and_the_other_way() {
    let past = || (0..12).map(|n| one_night(480, 0, 192, 288 + n % 3 - 1)).collect::<Vec<_>>();
    let buns = |value: &str, unit: &str, closing| {
        Scene::new(&[line("buns", "dry-store", value, unit)]).with(
            "buns",
            one_night(480, 0, 192, closing),
            past(),
        )
    };
    for (value, unit, closing, meant) in [
        ("288", "tray", 13_824, "288 each"),
        ("6", "each", 6, "6 tray"),
        ("6", "dolly", 2_880, "6 tray"),
    ] {
        let found = slips(&buns(value, unit, closing).given());
        assert_eq!(kinds(&found), ["pack_slip"], "{value} {unit}");
        assert!(offered(&found[0]).contains(&meant.to_owned()), "{:?}", offered(&found[0]));
    }
    // Without ten nights on record packs are told by their ratio alone, and that is said.
    let young = Scene { items: BTreeMap::new(), ..buns("6", "each", 6) };
    let young = young.with("buns", one_night(480, 0, 192, 6), past()[..9].to_vec());
    assert_eq!(kinds(&slips(&young.given())), ["pack_slip"]);
    let said = young.found(CheckKind::NoHistory);
    assert!(said[0].says.contains("fewer than 10 nights to go by: 1."), "{}", said[0].says);
    // And nothing else is: 180 kg for 18 kg stays unasked.
    let beans = Scene { items: BTreeMap::new(), ..beans("180", "kg", 180_000) };
    let beans = beans.with("beans", one_night(40_000, 0, 22_000, 180_000), Vec::new());
    assert!(slips(&beans.given()).is_empty());
}

/// 1.8, 180 and 1,800 kg for 18 kg, and 0.18 kg.
#[test]
fn a_point_that_slipped() {
    for (value, closing) in [("1.8", 1_800), ("180", 180_000), ("0.18", 180), ("1800", 1_800_000)] {
        let found = slips(&beans(value, "kg", closing).given());
        assert_eq!(kinds(&found), ["decimal_slip"], "{value}");
        assert_eq!(offered(&found[0])[1], "18 kg");
    }
}

/// Potatoes: 68.04 kg (3 bags) in the dry store and, as bought, 30 kg of what is ready: 24 kg at
/// the standard of 0.8. Weighed in the deep pan of 1.2 kg they show 25.2 kg. The excess of 1.5 kg as
/// bought is five spreads.
#[test]
fn a_pan_that_was_weighed_as_well() {
    let ready = |value: &str, pan: Value| {
        json!({ "item": "potato", "place": "cold-room", "stage": "ready", "pan": pan,
            "quantity": { "value": value, "unit": "kg" } })
    };
    let bags = || line("potato", "dry-store", "3", "bag");
    let scene = |line: Value, closing| {
        Scene::new(&[bags(), line]).with(
            "potato",
            one_night(120_000, 0, 21_960, closing),
            quiet_nights(),
        )
    };
    let found = slips(&scene(ready("25.2", Value::Null), 99_540).given());
    assert_eq!(kinds(&found), ["tare_forgotten"]);
    assert_eq!(offered(&found[0])[..2], ["25.2 kg", "24 kg"]);
    assert_eq!(found[0].readings[1].says, "it was weighed with Deep pan");
    // Named, its weight is off already.
    assert!(slips(&scene(ready("25.2", json!("deep")), 98_040).given()).is_empty());
    // As submitted, the reading is the net weight without a pan.
    let mut scene = scene(ready("25.2", Value::Null), 99_540);
    let reading = found[0].readings[1].clone();
    scene.count.lines[1] = as_read(&scene.count.lines[1], found[0].kind, &reading);
    let ends = one_night(120_000, 0, 21_960, 98_040);
    assert!(slips(&scene.with("potato", ends, quiet_nights()).given()).is_empty());
}

/// Where a shelf is always counted in kilograms, half the distance is enough: 5 lb for 5 kg move
/// 2.7 kg, on nights that are off by 1 kg.
#[test]
fn the_habit_of_a_shelf_speaks() {
    let off = [0, 700, -700, 1_400, -1_400, 700, -700];
    let past: Vec<_> =
        off.iter().chain(&off).map(|off| one_night(20_000, 0, 15_000, 5_000 - off)).collect();
    let scene = Scene::new(&[line("beans", "cold-room", "5", "lb")]).with(
        "beans",
        one_night(20_000, 0, 15_000, 2_268),
        past,
    );
    assert!(slips(&scene.given()).is_empty());
    let usual =
        (0..12).map(|n| count(&[line("beans", "cold-room", &format!("{}", 3 + n % 5), "kg")]));
    let found = slips(&scene.after(usual).given());
    assert_eq!(offered(&found[0]), ["5 lb", "5 kg"]);
}

/// While sales are unknown, what nights usually use stands for what should have been used: 18 kg
/// each on the quiet nights.
#[test]
fn without_sales_the_usual_use_stands_for_what_is_expected() {
    let mut ends = one_night(40_000, 0, 0, 220_000);
    ends.expected = None;
    let scene = Scene::new(&[line("beans", "cold-room", "220", "kg")]);
    let found = slips(&scene.with("beans", ends, quiet_nights()).given());
    assert_eq!(offered(&found[0]), ["220 kg", "22 kg"]);
}

/// 50 g of basil at 20.00 a kilogram are 1.00: what moves less is said and not asked.
#[test]
fn what_is_worth_less_than_a_question_is_only_said() {
    let past: Vec<_> = (0..12).map(|n| one_night(50, 0, 45, 5 + n % 3 - 1)).collect();
    let basil = |value: &str, closing| {
        Scene::new(&[line("basil", "cold-room", value, "g")]).with(
            "basil",
            one_night(50, 0, 45, closing),
            past.clone(),
        )
    };
    let said = slips(&basil("50", 50).given());
    assert_eq!((said[0].kind, said[0].treatment), (CheckKind::DecimalSlip, Treatment::Flag));
    let asked = slips(&basil("500", 500).given());
    assert_eq!((asked[0].kind, asked[0].treatment), (CheckKind::DecimalSlip, Treatment::Confirm));
}

/// What is at stake in the pounds above, to the ten-thousandth, is asked about; a ten-thousandth less
/// than the least is said.
#[test]
fn what_is_worth_exactly_a_question_is_asked() {
    let asked = |least: &str| {
        let least_stake = Money::from_decimal(d(least)).unwrap();
        let limits = Limits { least_stake, ..Limits::default() };
        slips(&Scene { limits, ..beans("39.7", "kg", 39_700) }.given())[0].treatment
    };
    assert_eq!(asked("43.3848"), Treatment::Confirm);
    assert_eq!(asked("43.3849"), Treatment::Flag);
}

/// 12 kg usually stand on the shelf, in two lines; the other place is no witness of it. 10 and 20 kg
/// are 18 too much: 2 kg were meant beside the 10.
#[test]
fn a_line_is_weighed_with_its_shelf_alone() {
    let at = |place: &str, kg: &str| line("beans", place, kg, "kg");
    let night = |n: usize| {
        let kg = ["1.9", "2", "2.1"][n % 3];
        count(&[at("cold-room", "10"), at("cold-room", kg), at("dry-store", "50")])
    };
    let lines = [at("cold-room", "10"), at("cold-room", "20"), at("dry-store", "50")];
    let scene = Scene::new(&lines).after((0..12).map(night));
    let found = slips(&scene.given());
    assert_eq!(found.iter().map(offered).collect::<Vec<_>>(), [["20 kg", "2 kg"]]);
}

/// A stack of 56 buns is 17 % more than a tray of 48, and nobody could tell them apart: only the
/// pieces are offered.
#[test]
fn packs_that_hold_about_the_same_are_not_told_apart() {
    let past = (0..12).map(|n| one_night(480, 0, 144, 336 + n % 3 - 1)).collect();
    let mut scene = Scene::new(&[line("buns", "dry-store", "7", "tray")]).with(
        "buns",
        one_night(480, 0, 144, 336),
        past,
    );
    let stack = json!({ "code": "stack", "title": "Stack", "holds": { "value": "56",
        "unit": "each" } });
    scene
        .catalog
        .items
        .get_mut(&code("buns"))
        .unwrap()
        .packs
        .push(serde_json::from_value(stack).unwrap());
    assert!(slips(&scene.given()).is_empty());
    // Six trays are 48 short, and six stacks would fit to the piece.
    scene.count = count(&[line("buns", "dry-store", "6", "tray")]);
    assert!(slips(&scene.given()).is_empty());
}

/// Three pans of about a weight explain the same excess: two readings beside what was typed.
#[test]
fn at_most_three_readings_are_offered() {
    let mut scene =
        Scene::new(&[json!({ "item": "potato", "place": "cold-room", "stage": "ready",
        "quantity": { "value": "25.2", "unit": "kg" } })])
        .with("potato", one_night(51_960, 0, 21_960, 31_500), quiet_nights());
    let pans = ["1.19", "1.21"].map(|kg| {
        json!({ "code": format!("pan-{}", &kg[2..]), "title": "Pan",
            "tare": { "value": kg, "unit": "kg" } })
    });
    let potato = scene.catalog.items.get_mut(&code("potato")).unwrap();
    potato.pans.extend(pans.map(|pan| serde_json::from_value(pan).unwrap()));
    let found = slips(&scene.given());
    assert_eq!(kinds(&found), ["tare_forgotten"]);
    // 30 kg as bought are 24 kg of what is ready; ties stand in the order of the pans.
    assert_eq!(offered(&found[0]).len(), 3);
    assert_eq!(offered(&found[0])[..2], ["25.2 kg", "24 kg"]);
}

/// Nothing that is said is the number that is expected, unless the person's own number reads so.
#[test]
fn no_words_say_what_is_expected() {
    let scene = beans("38.1", "kg", 38_100);
    for check in night(&scene.given()) {
        let words = serde_json::to_string(&check).unwrap();
        assert!(!words.contains("\"18") && !words.contains(" 18"), "{words}");
    }
}

proptest! {
    /// Readings differ from what was typed and from one another, and the nearest, once chosen, is not
    /// asked about again. The order of lines does not matter.
    #[test]
    fn a_chosen_reading_is_not_asked_about_again(
        stands in 4_000_i64..60_000,
        times in prop::sample::select(vec![1.0, 2.2046, 0.4536, 10.0, 0.1, 100.0]),
        noise in -0.06..0.06_f64,
        unit in prop::sample::select(vec![("kg", 1000.0), ("lb", 453.59237), ("g", 1.0)]),
        other in 1_u32..400,
    ) {
        let value = format!("{:.2}", stands as f64 / unit.1 * times * (1.0 + noise));
        let lines = [line("beans", "cold-room", &value, unit.0),
            line("beans", "dry-store", &format!("{other}"), "g")];
        let catalog = catalog();
        let total = |count: &Count| -> i64 {
            let sum: f64 = count.lines.iter()
                .map(|line| super::super::expect::number(line.amount(&catalog).unwrap())).sum();
            sum.round() as i64
        };
        let scene = |count: Count| {
            let ends = one_night(stands + 22_000, 0, 22_000, total(&count));
            Scene { count, ..Scene::new(&[]) }.with("beans", ends, quiet_nights())
        };
        let first = scene(count(&lines));
        let found = slips(&first.given());
        let turned = scene(count(&[lines[1].clone(), lines[0].clone()]));
        prop_assert_eq!(&found, &slips(&turned.given()));
        for check in found {
            let at = first.count.lines.iter()
                .position(|line| line.quantity == check.readings[0].quantity).unwrap();
            let amounts: Vec<_> = check.readings.iter().map(|reading| {
                as_read(&first.count.lines[at], check.kind, reading).amount(&catalog).unwrap()
            }).collect();
            prop_assert!(amounts.len() >= 2 && amounts.len() <= 3);
            for (n, amount) in amounts.iter().enumerate() {
                prop_assert!(!amounts[..n].contains(amount));
            }
            let mut chosen = first.count.clone();
            chosen.lines[at] = as_read(&chosen.lines[at], check.kind, &check.readings[1]);
            let again = slips(&scene(chosen).given());
            prop_assert!(again.iter().all(|c| c.about != check.about), "{:?}", again);
        }
    }

    /// At most three are asked, those of most money, and nothing is lost.
    #[test]
    fn the_dearest_three_are_asked(stakes in prop::collection::vec(prop::option::of(0_i64..9_000), 0..12)) {
        let checks: Vec<_> = stakes.iter().map(|stake| Check {
            stake: stake.map(Money::from_ten_thousandths),
            ..Check::new(CheckKind::UnitSlip, About::Night, "?")
        }).collect();
        let divided = triage(checks.clone(), 3);
        prop_assert_eq!(divided.asked.len(), checks.len().min(3));
        prop_assert_eq!(divided.asked.len() + divided.left_out.len(), checks.len());
        prop_assert!(divided.left_out.iter().all(|c| c.treatment == Treatment::LeaveOut));
        let rank = |check: &Check| check.stake.map_or(i64::MAX, Money::ten_thousandths);
        let least = divided.asked.iter().map(rank).min();
        let most = divided.left_out.iter().map(rank).max();
        prop_assert!(most.is_none() || least >= most);
    }
}
