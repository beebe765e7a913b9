//! Tokens. An access token says who somebody is and nothing more: what they may do is read from the
//! records at every request. Refresh tokens and the secrets of services are random bytes, of which
//! the records keep the SHA-256.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use chrono::{DateTime, TimeDelta, Utc};
use jsonwebtoken::{Algorithm, Header, Validation, decode, decode_header, encode};
use parings_core::ids::PersonId;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::keys::Keys;
use crate::edge::random_bytes;

const ISSUER: &str = "parings";
const AUDIENCE: &str = "parings-api";

/// What the clocks of two servers may differ by.
const SKEW_S: i64 = 5;

/// What an access token says (RFC 7519). `sid` is the session: when it ends, its tokens end too.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Claims {
    sub: Uuid,
    sid: Uuid,
    iat: i64,
    nbf: i64,
    exp: i64,
    iss: String,
    aud: String,
    jti: Uuid,
}

/// Whose token it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shown {
    /// The account that signed in.
    pub person: PersonId,
    /// The session that the token was given in.
    pub session: Uuid,
}

/// Makes an access token, with `id` as its own id.
///
/// # Errors
/// When it cannot be signed.
pub fn access(
    keys: &Keys,
    shown: Shown,
    id: Uuid,
    now: DateTime<Utc>,
    life: TimeDelta,
) -> anyhow::Result<String> {
    let key = keys.signing();
    let header = Header { kid: Some(key.id.clone()), ..Header::new(Algorithm::EdDSA) };
    let claims = Claims {
        sub: shown.person.0,
        sid: shown.session,
        iat: now.timestamp(),
        nbf: now.timestamp(),
        exp: (now + life).timestamp(),
        iss: ISSUER.to_owned(),
        aud: AUDIENCE.to_owned(),
        jti: id,
    };
    Ok(encode(&header, &claims, &key.encoding)?)
}

/// Reads an access token. The key is one of ours by its name and the algorithm is always EdDSA,
/// whatever the token says (RFC 8725, sections 3.1 and 3.2).
///
/// # Errors
/// A sentence for people. Why a token of bad make does not hold is not told.
pub fn read_access(keys: &Keys, token: &str, now: DateTime<Utc>) -> Result<Shown, &'static str> {
    const BAD: &str = "this is not an access token of this server";
    let header = decode_header(token).map_err(|_| BAD)?;
    // Nothing is known here that a token could say must be understood (RFC 7515, section 4.1.11).
    if header.crit.is_some() {
        return Err(BAD);
    }
    let key = header.kid.as_deref().and_then(|id| keys.find(id)).ok_or(BAD)?;
    let mut expected = Validation::new(Algorithm::EdDSA);
    expected.set_required_spec_claims(&["exp", "nbf", "iss", "aud", "sub"]);
    expected.set_issuer(&[ISSUER]);
    expected.set_audience(&[AUDIENCE]);
    // The library would ask the machine's clock; the time is compared below.
    expected.validate_exp = false;
    let claims = decode::<Claims>(token, &key.decoding, &expected).map_err(|_| BAD)?.claims;
    if claims.exp <= now.timestamp() {
        return Err("this access token has expired");
    }
    if claims.nbf > now.timestamp() + SKEW_S {
        return Err("this access token does not hold yet");
    }
    Ok(Shown { person: PersonId(claims.sub), session: claims.sid })
}

/// Random bytes that somebody shows to be let in. Never stored, never written to a log.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret([u8; 32]);

impl Secret {
    /// A new one.
    pub fn random() -> Self {
        Self(random_bytes())
    }

    /// Reads what [`Secret::text`] wrote.
    pub fn parse(text: &str) -> Option<Self> {
        URL_SAFE_NO_PAD.decode(text).ok()?.try_into().ok().map(Self)
    }

    /// The secret, to hand out.
    pub fn text(&self) -> String {
        URL_SAFE_NO_PAD.encode(self.0)
    }

    /// SHA-256: what the records keep. The secret has 256 random bits, so nothing slower is needed.
    pub fn hash(&self) -> Vec<u8> {
        Sha256::digest(self.0).to_vec()
    }

    /// The refresh token that follows this one: always the same, for whoever has the server's
    /// secret, so that a lost answer can be given again though no token is stored.
    pub fn successor(&self, keys: &Keys) -> Self {
        Self(keys.derive("refresh", &self.0))
    }
}

/// A device that somebody signed in with. It shows so at its next sign-in, and is then not held up by
/// what others try at the account. It opens nothing by itself.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Device([u8; 16]);

impl Device {
    const PURPOSE: &str = "device";

    /// A new one.
    pub fn random() -> Self {
        Self(random_bytes())
    }

    /// Reads what [`Device::text`] wrote for this account; `None` when it is something else.
    pub fn parse(keys: &Keys, account: &str, text: &str) -> Option<Self> {
        let shown = URL_SAFE_NO_PAD.decode(text).ok()?;
        let (id, derived) = shown.split_first_chunk()?;
        let device = Self(*id);
        keys.derives(Self::PURPOSE, &device.of(account), derived).then_some(device)
    }

    /// The device with the server's word for it, to hand out. It is derived, so nothing is kept, and any
    /// server with the same keys takes it.
    pub fn text(&self, keys: &Keys, account: &str) -> String {
        let derived = keys.derive(Self::PURPOSE, &self.of(account));
        URL_SAFE_NO_PAD.encode([&self.0[..], &derived].concat())
    }

    fn of(&self, account: &str) -> Vec<u8> {
        [&self.0[..], account.as_bytes()].concat()
    }
}

/// What a service shows: `prs_<its id>.<its secret>`.
pub fn service_token(id: PersonId, secret: &Secret) -> String {
    format!("prs_{}.{}", id.0.simple(), secret.text())
}

/// Reads what [`service_token`] wrote; `None` when it is something else.
pub fn parse_service_token(text: &str) -> Option<(PersonId, Secret)> {
    let (id, secret) = text.strip_prefix("prs_")?.split_once('.')?;
    Some((PersonId(Uuid::try_parse(id).ok()?), Secret::parse(secret)?))
}

#[cfg(test)]
mod tests {
    use base64::Engine;
    use base64::engine::general_purpose::URL_SAFE_NO_PAD as B64;
    use chrono::TimeDelta;
    use jsonwebtoken::crypto::sign;
    use jsonwebtoken::{Algorithm, EncodingKey, Header, encode};
    use parings_core::ids::PersonId;
    use serde_json::{Value, json};
    use uuid::Uuid;

    use super::{Device, Secret, Shown, access, parse_service_token, read_access, service_token};
    use crate::app::signin::keys::tests::{keys, moment};

    const SHOWN: Shown =
        Shown { person: PersonId(Uuid::from_u128(7)), session: Uuid::from_u128(8) };

    fn claims() -> Value {
        let now = moment().timestamp();
        json!({
            "sub": SHOWN.person, "sid": SHOWN.session, "jti": Uuid::from_u128(9),
            "iss": "parings", "aud": "parings-api", "iat": now, "nbf": now, "exp": now + 600,
        })
    }

    fn with(name: &str, value: Value) -> Value {
        let mut claims = claims();
        claims[name] = value;
        claims
    }

    fn without(name: &str) -> Value {
        let mut claims = claims();
        claims.as_object_mut().unwrap().remove(name);
        claims
    }

    #[test]
    fn an_access_token_is_read_until_it_expires() {
        let keys = keys();
        let token = access(&keys, SHOWN, Uuid::from_u128(9), moment(), TimeDelta::minutes(10));
        let token = token.unwrap();
        let at = |seconds| read_access(&keys, &token, moment() + TimeDelta::seconds(seconds));
        assert_eq!(at(0), Ok(SHOWN));
        assert_eq!(at(599), Ok(SHOWN));
        assert_eq!(at(600), Err("this access token has expired"));
        assert_eq!(at(-6), Err("this access token does not hold yet"));
        // Identity and nothing else.
        let said = B64.decode(token.split('.').nth(1).unwrap()).unwrap();
        assert_eq!(serde_json::from_slice::<Value>(&said).unwrap(), claims());
    }

    // The list of RFC 8725 (JSON Web Token Best Current Practices) and of OWASP's testing guide,
    // from memory.
    #[test]
    fn tokens_of_bad_make_are_refused() {
        let keys = keys();
        let ours = keys.signing();
        let header =
            |kid: &str| Header { kid: Some(kid.to_owned()), ..Header::new(Algorithm::EdDSA) };
        let signed = |claims: &Value| encode(&header(&ours.id), claims, &ours.encoding).unwrap();
        assert_eq!(read_access(&keys, &signed(&claims()), moment()), Ok(SHOWN), "the base is good");

        let part = |value: &Value| B64.encode(value.to_string());
        let none =
            format!("{}.{}.", part(&json!({"alg": "none", "kid": ours.id})), part(&claims()));
        let public = serde_json::to_value(keys.public()).unwrap()["keys"][0]["x"].clone();
        let public = EncodingKey::from_secret(&B64.decode(public.as_str().unwrap()).unwrap());
        let hmac = Header { kid: Some(ours.id.clone()), ..Header::new(Algorithm::HS256) };
        let hmac = encode(&hmac, &claims(), &public).unwrap();
        let critical = |names: &[&str]| {
            let crit = Some(names.iter().map(|name| (*name).to_owned()).collect());
            encode(&Header { crit, ..header(&ours.id) }, &claims(), &ours.encoding).unwrap()
        };
        let good = signed(&claims());
        let (body, signature) = good.rsplit_once('.').unwrap();
        let mut flipped = B64.decode(signature).unwrap();
        flipped[10] ^= 1;
        let flipped = format!("{body}.{}", B64.encode(flipped));
        let mut parts = good.split('.');
        let (head, _) = (parts.next().unwrap(), parts.next());
        let swapped =
            format!("{head}.{}.{signature}", part(&with("sub", json!(Uuid::from_u128(1)))));
        let other = super::super::keys::tests::keys();
        let other_key = other.signing();
        let expired = json!(moment().timestamp() - 1);
        let later = json!(moment().timestamp() + 60);
        let doubled =
            claims().to_string().replacen('{', &format!("{{\"sub\":\"{}\",", SHOWN.person), 1);
        // Signed by our key all the same: only the doubled member is wrong.
        let doubled = format!("{head}.{}", B64.encode(doubled));
        let tag = sign(doubled.as_bytes(), &ours.encoding, Algorithm::EdDSA).unwrap();
        let doubled = format!("{doubled}.{tag}");

        for (name, token) in [
            ("alg none", none),
            ("alg HS256 with the public key as its secret", hmac),
            ("one flipped bit", flipped),
            ("another payload under the same signature", swapped),
            ("expired", signed(&with("exp", expired))),
            ("not yet", signed(&with("nbf", later))),
            ("another audience", signed(&with("aud", json!("another")))),
            ("another issuer", signed(&with("iss", json!("another")))),
            ("no exp", signed(&without("exp"))),
            ("no nbf", signed(&without("nbf"))),
            ("no aud", signed(&without("aud"))),
            ("no sub", signed(&without("sub"))),
            ("exp as text", signed(&with("exp", json!("9999999999")))),
            ("a doubled member", doubled),
            (
                "a path as kid",
                encode(&header("../../etc/passwd"), &claims(), &ours.encoding).unwrap(),
            ),
            ("no kid", encode(&Header::new(Algorithm::EdDSA), &claims(), &ours.encoding).unwrap()),
            (
                "another key under its own kid",
                encode(&header(&other_key.id), &claims(), &other_key.encoding).unwrap(),
            ),
            (
                "another key under our kid",
                encode(&header(&ours.id), &claims(), &other_key.encoding).unwrap(),
            ),
            // RFC 7515, section 4.1.11: what is not understood is refused, and an empty list is none.
            ("something that must be understood", critical(&["exp", "b64"])),
            ("an empty list of what must be understood", critical(&[])),
            ("nothing", String::new()),
            ("two dots", "..".to_owned()),
        ] {
            assert!(read_access(&keys, &token, moment()).is_err(), "{name} was taken");
        }
    }

    #[test]
    fn a_successor_is_always_the_same_and_never_the_parent() {
        let keys = keys();
        let parent = Secret::random();
        let child = parent.successor(&keys);
        assert!(child == parent.successor(&keys));
        assert!(child != parent && child.successor(&keys) != parent);
        assert!(child != parent.successor(&super::super::keys::tests::keys()));
    }

    #[test]
    fn a_device_is_known_to_one_account_of_servers_with_the_same_keys() {
        let (keys, device) = (keys(), Device::random());
        let shown = device.text(&keys, "ada@example.com");
        assert_eq!(Device::parse(&keys, "ada@example.com", &shown), Some(device));
        assert_eq!(Device::parse(&keys, "ben@example.com", &shown), None);
        let other = super::super::keys::tests::keys();
        assert_eq!(Device::parse(&other, "ada@example.com", &shown), None);
        let mut flipped = B64.decode(&shown).unwrap();
        flipped[0] ^= 1;
        for bad in ["", "abc", &shown[..shown.len() - 2], &B64.encode(flipped)] {
            assert_eq!(Device::parse(&keys, "ada@example.com", bad), None, "{bad} was taken");
        }
    }

    #[test]
    fn what_a_service_shows_is_read_back() {
        let secret = Secret::random();
        let shown = service_token(SHOWN.person, &secret);
        let read = parse_service_token(&shown);
        assert!(read.is_some_and(|(id, read)| id == SHOWN.person && read == secret));
        for bad in ["", "prs_", "prs_a.b", &shown[1..], &shown[..shown.len() - 1]] {
            assert!(parse_service_token(bad).is_none(), "{bad} was taken");
        }
    }
}
