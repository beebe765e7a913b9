//! The character U+0000, which PostgreSQL keeps in no text (its documentation of character types and of
//! JSON types). It is refused wherever text comes in: addresses, bodies, cursors and files.

use actix_web::http::Uri;

/// What is told of it.
pub const SAYS: &str = "the character U+0000 is kept in no text: leave it out";

/// Whether an address has it, in its path or its query. Other than escaped it cannot be there.
pub fn in_address(address: &Uri) -> bool {
    address.path_and_query().is_some_and(|address| address.as_str().contains("%00"))
}

/// Whether a JSON text has it. JSON can only write it as an escape, whose backslash is not itself escaped.
pub fn in_json(json: &[u8]) -> bool {
    let escaped = |at: usize| json[..at].iter().rev().take_while(|b| **b == b'\\').count() % 2 == 1;
    json.windows(6).enumerate().any(|(at, found)| found == br"\u0000" && !escaped(at))
}

#[cfg(test)]
mod tests {
    use super::{in_address, in_json};

    #[test]
    fn it_is_found_where_it_is_and_nowhere_else() {
        for address in ["/v1/stores/a%00b", "/v1/rollups?scope=store:%00", "/%00"] {
            assert!(in_address(&address.parse().unwrap()), "{address}");
        }
        // An escaped percent sign and two digits.
        assert!(!in_address(&"/v1/stores/a%2500".parse().unwrap()));
        assert!(in_json(br#""a\u0000b""#) && in_json(br#""\\\u0000""#));
        assert!(!in_json(br#""a\\u0000b""#) && !in_json(br#""a\u00001""#.split_at(5).0));
    }
}
