//! The committed API document is the one that the handlers make, and every wire type has a schema
//! of its own in it.

use std::collections::{BTreeMap, BTreeSet};

use parings_tests::golden::root;
use parings_tests::{golden, house};
use serde_json::Value;

use crate::layers;

#[test]
fn the_committed_document_is_the_handlers_own() {
    golden::assert_committed("api/openapi.json", &format!("{}\n", parings::openapi::document()));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_served_document_is_the_committed_one() {
    let house = house().await;
    let served = house.get("/openapi.json", None).await;
    let committed = std::fs::read_to_string(root().join("api/openapi.json"));
    let committed: Value =
        serde_json::from_str(&committed.expect("api/openapi.json")).expect("JSON");
    assert_eq!(served.expect(200).json, committed);
    assert!(committed["openapi"].as_str().is_some_and(|v| v.starts_with("3.1")));
}

/// A type of the server's sources that derives a schema.
struct WireType {
    /// The name that its schema has; of a generic type, how the names of its schemas begin.
    schema: String,
    generic: bool,
}

/// The wire types of a source file, by what the derive makes of them.
fn wire_types(code: &str) -> Vec<WireType> {
    let mut found = Vec::new();
    for rest in code.split("#[derive(").skip(1) {
        let (derived, rest) = rest.split_once(")]").expect("the end of a derive");
        if !derived.split(',').any(|one| one.trim() == "ToSchema") {
            continue;
        }
        let declared = ["struct ", "enum "].iter().filter_map(|word| {
            let at = rest.find(word)?;
            Some((at, at + word.len()))
        });
        let (at, name_at) = declared.min().expect("a type below its derive");
        let named = rest[..at].split_once("schema(as = ").map(|(_, name)| name);
        let text = named.unwrap_or(&rest[name_at..]);
        let end = text.find(|c: char| !c.is_alphanumeric() && c != '_').expect("the end of a name");
        let generic = rest[name_at..].trim_start_matches(|c: char| c.is_alphanumeric());
        found.push(WireType { schema: text[..end].to_owned(), generic: generic.starts_with('<') });
    }
    found
}

/// Every wire type of the server, with the file it stands in.
fn all_wire_types() -> Vec<(WireType, String)> {
    let files = layers::files(&root().join("api/src")).into_iter();
    let types: Vec<_> = files
        .flat_map(|(_, name, code)| wire_types(&code).into_iter().map(move |t| (t, name.clone())))
        .collect();
    assert!(types.len() > 200, "hardly any wire types found: {}", types.len());
    types
}

fn document() -> Value {
    serde_json::from_str(&parings::openapi::document()).expect("JSON")
}

/// The names of the schemas that a part of the document refers to.
fn referred(part: &Value, found: &mut BTreeSet<String>) {
    match part {
        Value::Object(members) => {
            if let Some(Value::String(to)) = members.get("$ref") {
                let name = to.strip_prefix("#/components/schemas/");
                found.insert(name.unwrap_or_else(|| panic!("{to} is no schema")).to_owned());
            }
            members.values().for_each(|member| referred(member, found));
        }
        Value::Array(items) => items.iter().for_each(|item| referred(item, found)),
        _ => {}
    }
}

#[test]
fn wire_types_are_found_however_they_are_written() {
    let code = "#[derive(Serialize, ToSchema)]\n#[schema(as = Shown)]\npub struct A { x: u8 }\n\
        #[derive(\n    Debug,\n    ToSchema,\n)]\nenum B { C }\n#[derive(ToSchema)]\n\
        pub struct D<T> { x: T }\n#[derive(Debug)]\nstruct E;";
    let found: Vec<_> = wire_types(code).into_iter().map(|t| (t.schema, t.generic)).collect();
    let expected = [("Shown", false), ("B", false), ("D", true)];
    assert_eq!(found, expected.map(|(name, generic)| (name.to_owned(), generic)));
}

/// Of two schemas of one name the document would keep the last, and a generated client would have
/// the wrong type for the other.
#[test]
fn no_two_wire_types_share_a_name() {
    let mut places: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (wire_type, place) in all_wire_types() {
        places.entry(wire_type.schema).or_default().push(place);
    }
    places.retain(|_, places| places.len() > 1);
    assert!(places.is_empty(), "{places:#?}");
}

#[test]
fn every_wire_type_is_in_the_document() {
    let document = document();
    let schemas = document["components"]["schemas"].as_object().expect("schemas");
    let missing: Vec<_> = all_wire_types()
        .into_iter()
        .filter(|(wire_type, _)| {
            let of_it = format!("{}_", wire_type.schema);
            let made = || schemas.keys().any(|name| name.starts_with(&of_it));
            !if wire_type.generic { made() } else { schemas.contains_key(&wire_type.schema) }
        })
        .map(|(wire_type, place)| format!("{} of {place}", wire_type.schema))
        .collect();
    assert!(missing.is_empty(), "{missing:#?}");
}

#[test]
fn every_reference_leads_to_a_schema_and_every_schema_is_referred_to() {
    let document = document();
    let schemas = document["components"]["schemas"].as_object().expect("schemas");
    let schemas: BTreeSet<String> = schemas.keys().cloned().collect();
    let mut names = BTreeSet::new();
    referred(&document, &mut names);
    assert_eq!(names, schemas);
}
