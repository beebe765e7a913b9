use super::*;

const TUBS: [&str; 6] = ["basil", "chives", "cress", "dill", "mint", "parsley"];

fn tubs(weights: [i64; 6]) -> Vec<Value> {
    let lines = TUBS.iter().zip(weights);
    lines.map(|(tub, grams)| line(tub, "cold-room", &grams.to_string(), "g")).collect()
}

/// A count after another, of tubs that should each have lost 300 g.
fn copied(now: [i64; 6], then: [i64; 6], due: i64) -> Scene {
    let mut scene = Scene::new(&tubs(now)).after([count(&tubs(then))]);
    for (tub, grams) in TUBS.iter().zip(now) {
        scene = scene.with(tub, one_night(1_500, 0, due, grams), Vec::new());
    }
    scene
}

/// Five of six, 83 %, are what they were, within the scale's 5 g; four of six, 67 %, are few enough.
#[test]
fn weights_that_should_have_changed() {
    let then = [1_200, 800, 450, 930, 610, 275];
    let found = copied([1_200, 800, 452, 930, 610, 300], then, 300).found(CheckKind::CopiedCount);
    assert_eq!(found.len(), 1);
    assert!(found[0].says.starts_with("5 of 6 weights"), "{}", found[0].says);
    assert_eq!((found[0].recount.len(), found[0].doubtful.len()), (3, 5));
    assert!(
        copied([1_200, 800, 450, 930, 600, 300], then, 300)
            .found(CheckKind::CopiedCount)
            .is_empty()
    );
    // What should not have moved may well be what it was, and so may nothing at all.
    assert!(copied(then, then, 0).found(CheckKind::CopiedCount).is_empty());
    assert!(copied([0; 6], [0; 6], 300).found(CheckKind::CopiedCount).is_empty());
    // Of four items that moved nothing is said.
    let mut four = copied(then, then, 300);
    four.count.lines.truncate(4);
    assert!(four.found(CheckKind::CopiedCount).is_empty());
}

/// Trays are exempt: six of them on two evenings prove nothing.
#[test]
fn packs_and_pieces_are_exempt() {
    let buns = || vec![line("buns", "dry-store", "6", "tray")];
    let scene =
        Scene { limits: Limits { copied_items: 1, ..Limits::default() }, ..Scene::new(&buns()) }
            .after([count(&buns())])
            .with("buns", one_night(480, 0, 192, 288), Vec::new());
    assert!(scene.found(CheckKind::CopiedCount).is_empty());
}

/// Of 40 weights 29 end in 0 or 5 of 5 g (multiples of 25 g): 72.5 %. 28 are 70 %, and of 39 nothing
/// is said.
#[test]
fn a_habit_of_rounding() {
    let habit = |round: usize, all: usize| {
        let weight = |n: usize| 500 + if n < round { 25 * n as i64 } else { 25 * n as i64 + 10 };
        let lines: Vec<_> =
            (0..all).map(|n| line("basil", "cold-room", &weight(n).to_string(), "g")).collect();
        rounding_habit(&catalog(), &count(&lines).lines, &Limits::default())
    };
    let found = habit(29, 40).unwrap();
    assert_eq!(found.treatment, Treatment::Flag);
    assert!(found.says.starts_with("29 of 40 weights"), "{}", found.says);
    assert_eq!(habit(28, 40), None);
    assert_eq!(habit(39, 39), None);
    // Pounds do not stand on a scale of 5 g; trays are not weighed.
    let others: Vec<_> = (1..90)
        .map(|n| match n % 2 {
            0 => line("basil", "cold-room", &n.to_string(), "lb"),
            _ => line("buns", "dry-store", &n.to_string(), "tray"),
        })
        .collect();
    assert_eq!(rounding_habit(&catalog(), &count(&others).lines, &Limits::default()), None);
}

/// It is told once, with the first count of the next month.
#[test]
fn a_habit_is_told_monthly() {
    let lines: Vec<_> =
        (0..10).map(|n| line("basil", "cold-room", &(500 + 50 * n).to_string(), "g")).collect();
    let month = || (0..5).map(|_| count(&lines));
    let on = |day| Scene { date: date(day), ..Scene::new(&[]) }.after(month());
    assert_eq!(on("2025-07-01").found(CheckKind::RoundingHabit).len(), 1);
    assert!(on("2025-07-11").found(CheckKind::RoundingHabit).is_empty());
}

/// The same lines in another order fifteen minutes ago, for another date.
#[test]
fn the_same_lines_under_another_id() {
    let lines = tubs([1_200, 800, 450, 930, 610, 275]);
    let scene = Scene::new(&lines);
    let same = |at: &str, lines: &[Value]| {
        let mut turned = lines.to_vec();
        turned.reverse();
        let sent =
            [Sent { at: super::at(at), date: date("2025-06-12"), lines: count(&turned).lines }];
        of(&Given { sent: &sent, ..scene.given() }, CheckKind::SameContent)
    };
    let found = same("2025-06-13T20:25:00Z", &lines);
    assert!(found[0].says.contains("15 minutes ago for 2025-06-12"), "{}", found[0].says);
    assert!(same("2025-06-13T20:24:59Z", &lines).is_empty());
    assert!(same("2025-06-13T20:39:00Z", &tubs([1_200, 800, 450, 930, 610, 280])).is_empty());
}

/// Pan 7 stands in two places; its smaller line is at stake: 450 g at 20.00 a kilogram.
#[test]
fn one_pan_in_two_places() {
    let mut lines = tubs([1_200, 800, 450, 930, 610, 275]);
    lines[0]["label"] = json!("Pan 7");
    lines[2]["label"] = json!(" pan 7");
    lines[3]["label"] = json!("Pan 8");
    let found = Scene::new(&lines).found(CheckKind::PanCountedTwice);
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].stake.map(|m| m.to_decimal()), Some(d("9")));
    assert_eq!(found[0].recount.len(), 2);
}

/// Two counted the buns and differ; what both have the same, and what only one has, is plain.
#[test]
fn two_counters() {
    let buns = |trays| line("buns", "dry-store", trays, "tray");
    let salt = |kg| line("beans", "cold-room", kg, "kg");
    let catalog = catalog();
    let parts = [
        count(&[buns("6"), salt("4.0")]),
        count(&[salt("4"), buns("5"), buns("2"), line("beans", "dry-store", "1", "kg")]),
    ];
    let merged = merge(&catalog, &parts);
    assert_eq!(merged.count.lines.len(), 3);
    assert_eq!(merged.differ.len(), 1);
    let check = &merged.differ[0];
    assert_eq!(
        (check.kind, offered(check)),
        (CheckKind::TwoCounters, vec!["6 tray".into(), "7 tray".into()])
    );
    // A tray of 48 at 0.20.
    assert_eq!(check.stake.map(|m| m.to_decimal()), Some(d("9.6")));
    let turned = merge(&catalog, &[parts[1].clone(), parts[0].clone()]);
    assert_eq!(offered(&turned.differ[0]), ["7 tray", "6 tray"]);
    assert!(merge(&catalog, &[parts[0].clone(), parts[0].clone()]).differ.is_empty());
}

/// Of five items that move, the fewest that prove anything, four are 80 %: the least share.
#[test]
fn the_fewest_and_the_least_share_are_enough() {
    let then = [1_200, 800, 450, 930, 610, 0];
    let now = [1_200, 800, 450, 930, 600, 0];
    assert_eq!(copied(now, then, 300).found(CheckKind::CopiedCount).len(), 1);
    let wider = |limits| {
        let scene = Scene { limits, ..copied(now, then, 300) };
        scene.found(CheckKind::CopiedCount).len()
    };
    assert_eq!(wider(Limits { copied_items: 6, ..Limits::default() }), 0);
    let copied_share = crate::stats::Share::per_mille(801);
    assert_eq!(wider(Limits { copied_share, ..Limits::default() }), 0);
}

/// What moves by no more than the scale shows says nothing; a gram more does.
#[test]
fn what_the_scale_could_miss_does_not_move() {
    let then = [1_200, 800, 450, 930, 610, 275];
    assert!(copied(then, then, 5).found(CheckKind::CopiedCount).is_empty());
    assert_eq!(copied(then, then, 6).found(CheckKind::CopiedCount).len(), 1);
}

/// The same weights in another unit are the same; so many pieces are no weight.
#[test]
fn weights_are_compared_as_weights() {
    let then = [1_200, 800, 450, 930, 610, 275];
    let kilograms: Vec<_> = TUBS
        .iter()
        .zip(["1.2", "0.8", "0.45", "0.93", "0.61", "0.275"])
        .map(|(tub, kg)| line(tub, "cold-room", kg, "kg"))
        .collect();
    let mut scene = copied(then, then, 300);
    scene.count = count(&kilograms);
    assert_eq!(scene.found(CheckKind::CopiedCount).len(), 1);
    let pieces = || [line("buns", "dry-store", "288", "each")];
    let limits = Limits { copied_items: 1, ..Limits::default() };
    let scene = Scene { limits, ..Scene::new(&pieces()) }.after([count(&pieces())]).with(
        "buns",
        one_night(480, 0, 192, 288),
        Vec::new(),
    );
    assert!(scene.found(CheckKind::CopiedCount).is_empty());
}

/// Volumes and what the catalogue does not know stand on no scale.
#[test]
fn only_known_weights_are_a_habit() {
    let of = |item: &str, unit: &str| {
        let lines: Vec<_> =
            (1..=40).map(|n| line(item, "cold-room", &(25 * n).to_string(), unit)).collect();
        rounding_habit(&catalog(), &count(&lines).lines, &Limits::default()).is_some()
    };
    assert!(of("basil", "g"));
    assert!(!of("basil", "ml") && !of("salt", "g") && !of("basil", "each"));
}
