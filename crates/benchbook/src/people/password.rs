//! Passwords: what is taken, and how one guards the signing key of its owner.
//!
//! The key of a person is encrypted under a key derived from the password
//! (argon2id, RFC 9106). Nothing else is kept of a password: it is right where
//! the encrypted key opens.

use argon2::{Algorithm, Argon2, Params, Version};
use chacha20poly1305::aead::{Aead, KeyInit};
use chacha20poly1305::{XChaCha20Poly1305, XNonce};
use ed25519_dalek::SigningKey;
use serde::{Deserialize, Serialize};
use unicode_normalization::UnicodeNormalization;
use zeroize::Zeroizing;

use super::refusal::Refusal;
use crate::log::base64;

/// Memory of the derivation in KiB, passes and lanes: the first choice of
/// OWASP's Password Storage Cheat Sheet for argon2id (46 MiB, one pass, one
/// lane), which it holds equal to 19 MiB with two.
const MEMORY_KIB: u32 = 47_104;
const PASSES: u32 = 1;
const LANES: u32 = 1;

/// Shortest password in characters. NIST SP 800-63B asks for 8 and advises 15.
const SHORTEST: usize = 12;
/// Longest in bytes, so that a long one cannot be used to keep the machine busy.
const LONGEST_BYTES: usize = 1_024;

/// Beginnings of passwords that everybody tries first (common practice).
const WELL_KNOWN: &[&str] = &[
    "123456",
    "abc123",
    "abcdef",
    "access",
    "admin",
    "asdf",
    "changeme",
    "default",
    "dragon",
    "football",
    "iloveyou",
    "isobar",
    "laboratory",
    "letmein",
    "login",
    "master",
    "monkey",
    "passw0rd",
    "password",
    "princess",
    "qazwsx",
    "qwert",
    "qwerty",
    "secret",
    "shadow",
    "sunshine",
    "superman",
    "test1234",
    "trustno1",
    "welcome",
    "zaq12wsx",
];

/// The password as it is used: one form for each text (Unicode NFC).
pub(super) fn normal(password: &str) -> Zeroizing<String> {
    Zeroizing::new(password.nfc().collect())
}

/// Refuses a password that others would guess.
pub(super) fn check(password: &str, id: &str, name: &str) -> Result<(), Refusal> {
    let refuse = |reason: &str| Err(Refusal::BadPassword { reason: reason.to_owned() });
    let password = normal(password);
    if password.len() > LONGEST_BYTES {
        return refuse("it is longer than 1,024 bytes");
    }
    if password.chars().count() < SHORTEST {
        return refuse("it has fewer than 12 characters");
    }
    let lower = password.to_lowercase();
    let different: std::collections::BTreeSet<char> = lower.chars().collect();
    if different.len() < 5 {
        return refuse("it has fewer than five different characters");
    }
    let own = [id.to_lowercase(), name.to_lowercase()];
    if own.iter().any(|own| own.chars().count() >= 3 && lower.contains(own.as_str())) {
        return refuse("it holds the name of the account");
    }
    // What is left after a well-known word must be a password by itself.
    if WELL_KNOWN
        .iter()
        .any(|word| lower.replace(word, "").chars().count() < SHORTEST - 4 && lower.contains(word))
    {
        return refuse("it is made of a password that everybody tries first");
    }
    Ok(())
}

/// A signing key encrypted under a password, as it is stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct WrappedKey {
    kdf: String,
    memory_kib: u32,
    passes: u32,
    lanes: u32,
    salt: String,
    cipher: String,
    nonce: String,
    wrapped: String,
}

const KDF: &str = "argon2id";
const CIPHER: &str = "xchacha20-poly1305";

/// Bytes from the random source of the system.
pub(crate) fn random<const N: usize>() -> Result<[u8; N], Refusal> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(|error| Refusal::BadPassword {
        reason: format!("the system gives no random numbers: {error}"),
    })?;
    Ok(bytes)
}

fn derive(
    password: &str,
    salt: &[u8],
    (memory, passes, lanes): (u32, u32, u32),
) -> Option<Zeroizing<[u8; 32]>> {
    let params = Params::new(memory, passes, lanes, Some(32)).ok()?;
    let argon2 = Argon2::new(Algorithm::Argon2id, Version::V0x13, params);
    let mut key = Zeroizing::new([0; 32]);
    argon2.hash_password_into(normal(password).as_bytes(), salt, key.as_mut()).ok()?;
    Some(key)
}

impl WrappedKey {
    /// Encrypts a key under a password.
    pub(super) fn of(key: &SigningKey, password: &str) -> Result<Self, Refusal> {
        let (salt, nonce) = (random::<16>()?, random::<24>()?);
        let failed =
            || Refusal::BadPassword { reason: "the key could not be encrypted with it".to_owned() };
        let derived = derive(password, &salt, (MEMORY_KIB, PASSES, LANES)).ok_or_else(failed)?;
        let cipher = XChaCha20Poly1305::new((&*derived).into());
        let wrapped = cipher
            .encrypt(&XNonce::from(nonce), key.as_bytes().as_slice())
            .map_err(|_| failed())?;
        Ok(Self {
            kdf: KDF.to_owned(),
            memory_kib: MEMORY_KIB,
            passes: PASSES,
            lanes: LANES,
            salt: base64::encode(&salt),
            cipher: CIPHER.to_owned(),
            nonce: base64::encode(&nonce),
            wrapped: base64::encode(&wrapped),
        })
    }

    /// The key, where the password is right.
    pub(super) fn open(&self, password: &str) -> Option<SigningKey> {
        // Settings from the file must not make the machine swap.
        if self.kdf != KDF || self.cipher != CIPHER || self.memory_kib > 1 << 21 {
            return None;
        }
        let salt = base64::decode(&self.salt)?;
        let nonce: [u8; 24] = base64::decode(&self.nonce)?.try_into().ok()?;
        let derived = derive(password, &salt, (self.memory_kib, self.passes, self.lanes))?;
        let cipher = XChaCha20Poly1305::new((&*derived).into());
        let opened = cipher
            .decrypt(&XNonce::from(nonce), base64::decode(&self.wrapped)?.as_slice())
            .ok()
            .map(Zeroizing::new)?;
        let seed: &[u8; 32] = opened.as_slice().try_into().ok()?;
        Some(SigningKey::from_bytes(seed))
    }

    /// True where the settings are those of today.
    pub(super) fn is_current(&self) -> bool {
        (self.memory_kib, self.passes, self.lanes) == (MEMORY_KIB, PASSES, LANES)
    }
}

/// Takes as long as a right password does, so that nobody learns from the
/// clock which accounts exist.
pub(super) fn take_the_time(password: &str) {
    let _ = derive(password, &[0; 16], (MEMORY_KIB, PASSES, LANES));
}

/// A new signing key.
pub(super) fn new_key() -> Result<SigningKey, Refusal> {
    let seed = Zeroizing::new(random::<32>()?);
    Ok(SigningKey::from_bytes(&seed))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_opens_with_its_password_only() {
        let key = new_key().unwrap();
        let wrapped = WrappedKey::of(&key, "four wörds of no use").unwrap();
        assert_eq!(wrapped.open("four wörds of no use").unwrap().to_bytes(), key.to_bytes());
        // The same text with a combining mark (Unicode NFD).
        assert!(wrapped.open("four wo\u{308}rds of no use").is_some());
        assert!(wrapped.open("four words of no use").is_none());
        assert!(wrapped.is_current());
        assert_eq!((wrapped.memory_kib, wrapped.passes, wrapped.lanes), (47_104, 1, 1));
        let other = WrappedKey::of(&key, "four wörds of no use").unwrap();
        assert_ne!(other.wrapped, wrapped.wrapped, "salt and nonce are drawn anew");
    }

    #[test]
    fn argon2id_gives_the_published_tag() {
        // RFC 9106, section 5.3: argon2id with 32 KiB, 3 passes, 4 lanes,
        // secret and associated data.
        let params = argon2::ParamsBuilder::new()
            .m_cost(32)
            .t_cost(3)
            .p_cost(4)
            .output_len(32)
            .data(argon2::AssociatedData::new(&[4; 12]).unwrap())
            .build()
            .unwrap();
        let argon2 =
            Argon2::new_with_secret(&[3; 8], Algorithm::Argon2id, Version::V0x13, params).unwrap();
        let mut tag = [0; 32];
        argon2.hash_password_into(&[1; 32], &[2; 16], &mut tag).unwrap();
        assert_eq!(
            crate::digest::hex(&tag),
            "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"
        );
    }

    #[test]
    fn passwords_that_others_guess_are_refused() {
        let refused = |password: &str| check(password, "a.analyst", "Ada Analyst").is_err();
        for bad in [
            "short",
            "aaaaaaaaaaaaaaaa",
            "Password2026",
            "a.analyst-2026!",
            "Ada Analyst 12",
            "qwertyqwerty12",
            &"x1y2z".repeat(300),
        ] {
            assert!(refused(bad), "{bad}");
        }
        for good in ["correct horse battery", "my secret garden gate 7", "Zügig-42-Ölkanne"] {
            assert!(!refused(good), "{good}");
        }
    }
}
