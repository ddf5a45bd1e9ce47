//! The key that signs the checkpoints of a benchbook. It is kept outside the
//! benchbook and outside its backups; its public half stands in the history,
//! and so does every change of keys, signed by the old key and the new.

use std::io::Write;
use std::path::{Path, PathBuf};

use ed25519_dalek::{Signer, SigningKey};
use serde::{Deserialize, Serialize};
use zeroize::Zeroizing;

use super::base64;
use super::checkpoint::Checkpoint;
use super::note::{NoteSignature, SignedCheckpoint, VerifierKey};
use crate::digest::hex;
use crate::writing::{Draft, Writing};

/// Kind of the entries that hold the public keys of the log.
pub(crate) const KIND: &str = "log_key";
/// Their one subject.
pub(crate) const SUBJECT: &str = "log";

const HEADING: &str = "isobar log key v1: keep it secret, and apart from the benchbook";

/// The secret key of a log.
pub struct LogKey {
    identity: String,
    key: SigningKey,
}

/// Why the key of a log cannot be read or kept.
#[derive(Debug, thiserror::Error)]
#[error("the log key `{}`: {reason}", path.display())]
pub struct LogKeyError {
    /// The file.
    pub path: PathBuf,
    /// What is wrong.
    pub reason: String,
}

impl std::fmt::Debug for LogKey {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(formatter, "log key {:08x} of {}", self.verifier().id(), self.identity)
    }
}

impl LogKey {
    /// Draws a new key for the benchbook of this identity, and keeps it in a
    /// file of the folder that only its owner may read. With `None` the
    /// identity is drawn too, for a benchbook that does not exist yet.
    ///
    /// # Errors
    /// Where the folder cannot be made or written, or the system gives no
    /// random numbers.
    pub fn begin(folder: &Path, identity: Option<&str>) -> Result<Self, LogKeyError> {
        let failed = |path: &Path, reason: String| LogKeyError { path: path.to_owned(), reason };
        let random = |bytes: &mut [u8]| {
            getrandom::fill(bytes).map_err(|error| failed(folder, error.to_string()))
        };
        let mut drawn = [0; 16];
        random(&mut drawn)?;
        let identity = identity.map_or_else(|| hex(&drawn), str::to_owned);
        let mut seed = Zeroizing::new([0; 32]);
        random(seed.as_mut())?;
        let key = Self { identity, key: SigningKey::from_bytes(&seed) };
        std::fs::create_dir_all(folder).map_err(|error| failed(folder, error.to_string()))?;
        let path = key.path_in(folder);
        key.write(&path).map_err(|error| failed(&path, error.to_string()))?;
        Ok(key)
    }

    /// The file of a key: identity and key id, so that an old key stays.
    fn path_in(&self, folder: &Path) -> PathBuf {
        folder.join(format!("{}-{:08x}.key", self.identity, self.verifier().id()))
    }

    fn write(&self, path: &Path) -> std::io::Result<()> {
        let mut options = std::fs::OpenOptions::new();
        options.write(true).create_new(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        let seed = Zeroizing::new(base64::encode(self.key.as_bytes()));
        let mut file = options.open(path)?;
        file.write_all(format!("{HEADING}\n{}\n{}\n", self.verifier().text(), *seed).as_bytes())?;
        file.sync_all()
    }

    /// Finds the key of a public key in a folder; `None` where it is not there.
    ///
    /// # Errors
    /// Where the file is there and cannot be read, or holds another key.
    pub fn find(folder: &Path, public: &VerifierKey) -> Result<Option<Self>, LogKeyError> {
        let identity = public.name.rsplit('/').next().unwrap_or_default();
        // An identity is 32 hexadecimal digits: nothing else names a file.
        if identity.len() != 32 || !identity.bytes().all(|byte| byte.is_ascii_hexdigit()) {
            return Ok(None);
        }
        let path = folder.join(format!("{identity}-{:08x}.key", public.id()));
        let failed = |reason: String| LogKeyError { path: path.clone(), reason };
        let text = match std::fs::read_to_string(&path) {
            Ok(text) => Zeroizing::new(text),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(failed(error.to_string())),
        };
        let mut lines = text.lines();
        let (Some(HEADING), Some(_), Some(seed)) = (lines.next(), lines.next(), lines.next())
        else {
            return Err(failed("it is not the file of a log key".to_owned()));
        };
        let seed: Option<[u8; 32]> = base64::decode(seed).and_then(|seed| seed.try_into().ok());
        let seed = Zeroizing::new(seed.ok_or_else(|| failed("its key is damaged".to_owned()))?);
        let key = Self { identity: identity.to_owned(), key: SigningKey::from_bytes(&seed) };
        if key.verifier() != *public {
            return Err(failed("it holds another key than its name says".to_owned()));
        }
        Ok(Some(key))
    }

    /// Identity of the benchbook.
    #[must_use]
    pub fn identity(&self) -> &str {
        &self.identity
    }

    /// The public half.
    #[must_use]
    pub fn verifier(&self) -> VerifierKey {
        VerifierKey {
            name: Checkpoint::origin_of(&self.identity),
            public: self.key.verifying_key().to_bytes(),
        }
    }

    fn signature(&self, text: &str) -> NoteSignature {
        let public = self.verifier();
        NoteSignature {
            key_id: public.id(),
            name: public.name,
            bytes: self.key.sign(text.as_bytes()).to_bytes().to_vec(),
        }
    }

    /// Signs a checkpoint.
    #[must_use]
    pub fn sign(&self, checkpoint: &Checkpoint) -> SignedCheckpoint {
        let body = checkpoint.text();
        let signatures = vec![self.signature(&body)];
        SignedCheckpoint { checkpoint: checkpoint.clone(), body, signatures }
    }
}

/// A public key of the log as it is stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct LogKeyShape {
    /// The key, `name+id+base64`.
    pub(crate) key: String,
    /// The statement that both keys sign, see [`statement`].
    pub(crate) statement: String,
    /// Lines of signatures over it: of this key, and of the one before where
    /// that was at hand.
    pub(crate) signatures: String,
}

/// What the keys sign when one takes over from another.
pub(crate) fn statement(new: &VerifierKey, old: Option<&VerifierKey>) -> String {
    let old = old.map_or_else(|| "none".to_owned(), VerifierKey::text);
    format!("isobar log key v1\n{}\nafter {old}\n", new.text())
}

/// Writes down a key, the first one or one that takes over.
pub(crate) async fn put(
    writing: &mut Writing,
    new: &LogKey,
    old: Option<(&VerifierKey, Option<&LogKey>)>,
) -> Result<i64, sqlx::Error> {
    let statement = statement(&new.verifier(), old.map(|(old, _)| old));
    let mut signatures = new.signature(&statement).line();
    let detail = match old {
        None => format!("key {:08x}", new.verifier().id()),
        Some((old, Some(key))) => {
            signatures.push_str(&key.signature(&statement).line());
            format!("key {:08x} takes over from {:08x}", new.verifier().id(), old.id())
        }
        Some((old, None)) => format!(
            "key {:08x} takes over from {:08x}, which was not at hand to sign this",
            new.verifier().id(),
            old.id()
        ),
    };
    let shape = LogKeyShape { key: new.verifier().text(), statement, signatures };
    let what = if old.is_none() { "log key begun" } else { "log key changed" };
    let draft = Draft { kind: KIND, subject: SUBJECT, case_id: None, record: &shape, what, detail };
    writing.put(&draft).await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_is_found_again_and_only_its_owner_may_read_it() {
        let folder = tempfile::tempdir().unwrap();
        let key = LogKey::begin(folder.path(), None).unwrap();
        let again = LogKey::find(folder.path(), &key.verifier()).unwrap().unwrap();
        let checkpoint = Checkpoint::new(key.identity(), 3, [7; 32]);
        let signed = key.sign(&checkpoint);
        assert_eq!(again.sign(&checkpoint), signed);
        assert!(signed.is_signed_by(&key.verifier()));
        assert_eq!(SignedCheckpoint::from_text(&signed.text()), Ok(signed.clone()));
        let other = LogKey::begin(folder.path(), Some(key.identity())).unwrap();
        assert!(!signed.is_signed_by(&other.verifier()));
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let path = key.path_in(folder.path());
            assert_eq!(std::fs::metadata(path).unwrap().permissions().mode() & 0o777, 0o600);
        }
    }

    #[test]
    fn a_file_that_holds_another_key_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let key = LogKey::begin(folder.path(), None).unwrap();
        let other = LogKey::begin(folder.path(), Some(key.identity())).unwrap();
        std::fs::copy(other.path_in(folder.path()), key.path_in(folder.path())).unwrap();
        assert!(LogKey::find(folder.path(), &key.verifier()).is_err());
        std::fs::write(key.path_in(folder.path()), "nothing").unwrap();
        assert!(LogKey::find(folder.path(), &key.verifier()).is_err());
    }
}
