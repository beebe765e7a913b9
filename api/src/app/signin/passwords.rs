//! Passwords: what they may be, and how they are kept.

use std::sync::Arc;

use anyhow::anyhow;
use argon2::password_hash::phc::PasswordHash;
use argon2::{Algorithm, Argon2, Params, PasswordHasher, PasswordVerifier, Version};
use tokio::sync::Semaphore;

use crate::edge::random_bytes;
use crate::error::AppError;

/// Shortest password, in characters (OWASP ASVS 5.0, 6.2.1).
const SHORTEST: usize = 8;
/// Longest password, in bytes: far above the 64 that must be taken, and bounded, because somebody
/// has to hash it.
const LONGEST: usize = 128;

/// Letters and digits that cannot be taken for one another when read aloud or from paper.
const ALPHABET: &[u8; 32] = b"abcdefghjkmnpqrstuvwxyz123456789";

/// Argon2id with m = 19456 KiB, t = 2, p = 1: one of the sets that the OWASP Password Storage Cheat
/// Sheet allows.
fn argon2() -> Argon2<'static> {
    let params = Params::new(19 * 1024, 2, 1, None).unwrap_or_default();
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
}

/// Passwords that many people have, one a line after an empty one; before that, where they are from.
const COMMON: &str = include_str!("../../../assets/common-passwords.txt");

/// Shortest word of a name that says of whom a password is.
const TELLING: usize = 6;

/// Says what is wrong with a password that somebody chose. There are no rules of composition, and
/// nothing is cut off. `of` are names that others know of them, or of where they work: an e-mail
/// address, the chain's name.
///
/// # Errors
/// A sentence for people.
pub fn check(password: &str, of: &[&str]) -> Result<(), String> {
    if password.chars().count() < SHORTEST {
        return Err(format!("a password has at least {SHORTEST} characters"));
    }
    if password.len() > LONGEST {
        return Err(format!("a password has at most {LONGEST} bytes"));
    }
    let lower = password.to_lowercase();
    let common = COMMON.split_once("\n\n").map_or(COMMON, |(_, list)| list);
    if common.lines().any(|known| known == lower) {
        return Err("many people have this password, so it is among the first that are tried: \
                    choose another, such as four words that do not belong together"
            .to_owned());
    }
    let letters = letters(&lower);
    match of.iter().flat_map(|name| telling(name)).find(|word| letters.contains(word.as_str())) {
        Some(word) => Err(format!("this password has \"{word}\" in it, which others know of you")),
        None => Ok(()),
    }
}

/// What of a name gives a password away: of an e-mail address what stands before the @, as a whole, and
/// the longer words of any name.
fn telling(name: &str) -> Vec<String> {
    let name = name.split('@').next().unwrap_or_default().to_lowercase();
    let words = name.split(|c: char| !c.is_alphanumeric()).map(str::to_owned);
    let long = words.filter(|word| word.chars().count() >= TELLING);
    let whole = Some(letters(&name)).filter(|whole| whole.chars().count() >= TELLING - 2);
    whole.into_iter().chain(long).collect()
}

/// A text without what stands between its letters and digits.
fn letters(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric()).collect()
}

/// A new password of 100 random bits, in four groups.
pub fn generate() -> String {
    let letters: Vec<u8> =
        random_bytes::<20>().iter().map(|byte| ALPHABET[usize::from(byte % 32)]).collect();
    let groups: Vec<_> = letters.chunks(5).map(String::from_utf8_lossy).collect();
    groups.join("-")
}

/// Hashes passwords, a few at a time: each takes 19 MiB and tens of milliseconds of a core. A few more
/// wait; whoever comes then is refused, so that a crowd neither fills the memory nor makes all wait long.
pub struct Passwords {
    room: Semaphore,
    places: Arc<Semaphore>,
    /// A hash that no password has, verified where there is no account.
    dummy: String,
}

impl Passwords {
    /// Hashes at most `at_once` at the same time, while `waiting` more wait.
    ///
    /// # Errors
    /// When hashing does not work at all.
    pub fn new(at_once: usize, waiting: usize) -> anyhow::Result<Self> {
        let dummy = hash_now(&random_bytes::<32>())?;
        let at_once = at_once.max(1);
        let room = Semaphore::new(at_once + waiting);
        Ok(Self { room, places: Arc::new(Semaphore::new(at_once)), dummy })
    }

    /// Hashes a password, as a PHC string with a salt of its own.
    ///
    /// # Errors
    /// Busy when too many wait already, or when hashing does not work.
    pub async fn hash(&self, password: String) -> Result<String, AppError> {
        self.apart(move || hash_now(password.as_bytes())).await
    }

    /// Whether a password is the one of a hash. Without a hash the answer is no and takes as long,
    /// so that nobody learns by the clock which accounts exist.
    ///
    /// # Errors
    /// Busy when too many wait already, or when hashing does not work.
    pub async fn verify(&self, password: String, hash: Option<String>) -> Result<bool, AppError> {
        // Longer than any password is: not worth hashing.
        if password.len() > LONGEST {
            return Ok(false);
        }
        let known = hash.is_some();
        let hash = hash.unwrap_or_else(|| self.dummy.clone());
        let right = self
            .apart(move || {
                let hash = PasswordHash::new(&hash).map_err(|e| anyhow!("read a hash: {e}"))?;
                Ok(argon2().verify_password(password.as_bytes(), &hash).is_ok())
            })
            .await?;
        Ok(right && known)
    }

    /// Off the threads that serve, and within the places there are. The place goes with the work:
    /// a request that is given up does not free it early.
    async fn apart<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> anyhow::Result<T> + Send + 'static,
    ) -> Result<T, AppError> {
        let _room = self.room.try_acquire().map_err(|_| {
            AppError::Busy("too many people are signing in at this moment".to_owned())
        })?;
        let place = Arc::clone(&self.places).acquire_owned().await.map_err(anyhow::Error::from)?;
        let done = tokio::task::spawn_blocking(move || {
            let result = work();
            drop(place);
            result
        });
        Ok(done.await.map_err(anyhow::Error::from)??)
    }
}

fn hash_now(password: &[u8]) -> anyhow::Result<String> {
    let salt = random_bytes::<16>();
    let hash =
        argon2().hash_password_with_salt(password, &salt).map_err(|e| anyhow!("hash: {e}"))?;
    Ok(hash.to_string())
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use argon2::{Algorithm, Argon2, AssociatedData, ParamsBuilder, Version};

    use super::{COMMON, Passwords, SHORTEST, argon2, check, generate, hash_now};
    use crate::error::AppError;

    // RFC 9106 section 5.3, the Argon2id test vector (recomputed with argon2-cffi's low-level API).
    #[test]
    fn the_vector_of_rfc_9106() {
        let params = ParamsBuilder::new()
            .m_cost(32)
            .t_cost(3)
            .p_cost(4)
            .data(AssociatedData::new(&[4; 12]).unwrap())
            .build()
            .unwrap();
        let argon2 =
            Argon2::new_with_secret(&[3; 8], Algorithm::Argon2id, Version::V0x13, params).unwrap();
        let mut tag = [0; 32];
        argon2.hash_password_into(&[1; 32], &[2; 16], &mut tag).unwrap();
        let hex: String = tag.iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(hex, "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659");
    }

    // OWASP Password Storage Cheat Sheet, Argon2id: m in KiB, t, p (read in its repository).
    #[test]
    fn the_parameters_are_among_those_allowed() {
        let allowed = [(47104, 1, 1), (19456, 2, 1), (12288, 3, 1), (9216, 4, 1), (7168, 5, 1)];
        let argon2 = argon2();
        let params = argon2.params();
        assert!(allowed.contains(&(params.m_cost(), params.t_cost(), params.p_cost())));
        let hash = hash_now(b"a long enough password").unwrap();
        assert!(hash.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{hash}");
    }

    // OWASP ASVS 5.0, 6.2: at least 8 characters, at least 64 permitted, no composition rules, no
    // truncation (read in its repository).
    #[test]
    fn a_password_is_neither_short_nor_endless_and_nothing_else_is_asked_of_its_form() {
        assert!(check("seven77", &[]).is_err());
        assert!(check("aaaabbbbc", &[]).is_ok());
        assert!(check("pässwörd", &[]).is_ok(), "characters are counted, not bytes");
        assert!(check(&"x".repeat(128), &[]).is_ok());
        assert!(check(&"x".repeat(129), &[]).is_err());
    }

    // NIST SP 800-63B-4, section 3.1.1.2: what is commonly used, expected or compromised is refused; OWASP
    // ASVS 5.0, 6.2.4: at least the 3,000 most common that the other rules allow. From memory.
    #[test]
    fn what_many_people_have_is_refused() {
        for common in ["password", "12345678", "PassWord1", "qwertyuiop", "iloveyou"] {
            assert!(check(common, &[]).is_err(), "{common}");
        }
        let list: Vec<_> = COMMON.split_once("\n\n").unwrap().1.lines().collect();
        assert!(list.len() > 3000, "{}", list.len());
        for known in list {
            assert!(check(known, &[]).is_err() && known.chars().count() >= SHORTEST, "{known}");
            assert_eq!(known, known.to_lowercase());
        }
        assert!(check("django software foundation", &[]).is_ok(), "the licence is no list");
    }

    // OWASP ASVS 5.0, 6.2.11: words of the context are refused (from memory).
    #[test]
    fn what_others_know_of_somebody_is_refused() {
        let of = &["tamsin.rook@oskerrin.example", "Oskerrin Griddle", "bo@oskerrin.example"];
        for told in
            ["i am Tamsin!", "tam-sin-2026", "rook&tamsinrook", "0SKERRIN oskerrin", "griddle #1"]
        {
            assert!(check(told, of).is_err(), "{told}");
        }
        for taken in ["a crooked boat", "example of a mouse", "grid and skerry"] {
            assert_eq!(check(taken, of), Ok(()), "{taken}");
        }
        assert!(
            check("Mira likes it", &["mira@oskerrin.example"]).is_err(),
            "a short name as a whole"
        );
    }

    #[tokio::test]
    async fn only_the_whole_password_is_right() {
        let passwords = Passwords::new(1, 0).unwrap();
        let long = "x".repeat(128);
        let hash = passwords.hash(long.clone()).await.unwrap();
        assert!(passwords.verify(long.clone(), Some(hash.clone())).await.unwrap());
        assert!(!passwords.verify(long[..127].to_owned(), Some(hash)).await.unwrap());
        assert!(!passwords.verify(long, None).await.unwrap());
    }

    #[tokio::test]
    async fn a_few_wait_and_more_are_refused() {
        let passwords = Passwords::new(1, 1).unwrap();
        let hash = || passwords.hash("a long enough password".to_owned());
        let (first, second, third) = tokio::join!(hash(), hash(), hash());
        assert!(first.is_ok() && second.is_ok());
        assert!(matches!(third, Err(AppError::Busy(_))), "{third:?}");
        assert!(hash().await.is_ok(), "there is room again");
    }

    #[test]
    fn generated_passwords_hold_and_differ() {
        let made: HashSet<String> = (0..100).map(|_| generate()).collect();
        assert_eq!(made.len(), 100);
        for password in made {
            assert_eq!(password.len(), 23);
            check(&password, &[]).unwrap();
        }
    }
}
