//! Signed notes, after the C2SP note `signed-note`: a text, an empty line, and
//! lines of signatures; and checkpoints in that form (`tlog-checkpoint`).

use ed25519_dalek::{Signature, VerifyingKey};

use super::base64;
use super::checkpoint::{Checkpoint, CheckpointError};
use crate::digest::sha256;

/// Type of a signature: Ed25519 over the text.
const ED25519: u8 = 1;

/// Key id: the first four bytes of SHA-256(name, line feed, type, public key).
pub(crate) fn key_id(name: &str, public: &[u8; 32]) -> u32 {
    let mut bytes = name.as_bytes().to_vec();
    bytes.extend_from_slice(&[b'\n', ED25519]);
    bytes.extend_from_slice(public);
    let hash = sha256(&bytes);
    u32::from_be_bytes([hash[0], hash[1], hash[2], hash[3]])
}

/// A public key with its name: `name+id+base64`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VerifierKey {
    /// Name of the key; of a benchbook, the origin of its log.
    pub name: String,
    /// Ed25519 public key.
    pub public: [u8; 32],
}

impl VerifierKey {
    /// Key id, eight hexadecimal digits in print.
    #[must_use]
    pub fn id(&self) -> u32 {
        key_id(&self.name, &self.public)
    }

    /// The text form.
    #[must_use]
    pub fn text(&self) -> String {
        let mut bytes = vec![ED25519];
        bytes.extend_from_slice(&self.public);
        format!("{}+{:08x}+{}", self.name, self.id(), base64::encode(&bytes))
    }

    /// Reads a key; `None` where the text is none or its id is not its own.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        let (name, rest) = text.split_once('+')?;
        let (id, key) = rest.split_once('+')?;
        let bytes = base64::decode(key)?;
        let (kind, public) = bytes.split_first()?;
        let key = Self { name: name.to_owned(), public: public.try_into().ok()? };
        let right = *kind == ED25519 && id == format!("{:08x}", key.id());
        (right && !name.is_empty() && !name.contains(char::is_whitespace)).then_some(key)
    }

    /// True where the signature over a text is of this key.
    #[must_use]
    pub fn signed(&self, text: &str, signature: &NoteSignature) -> bool {
        signature.name == self.name
            && signature.key_id == self.id()
            && verifies(&self.public, text.as_bytes(), &signature.bytes)
    }
}

/// True where an Ed25519 signature is of this key (RFC 8032, strictly).
pub(crate) fn verifies(public: &[u8; 32], message: &[u8], signature: &[u8]) -> bool {
    let (Ok(key), Ok(signature)) =
        (VerifyingKey::from_bytes(public), Signature::from_slice(signature))
    else {
        return false;
    };
    key.verify_strict(message, &signature).is_ok()
}

/// A line of signature.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoteSignature {
    /// Name of the key.
    pub name: String,
    /// Id of the key.
    pub key_id: u32,
    /// The signature, 64 bytes where it is Ed25519.
    pub bytes: Vec<u8>,
}

impl NoteSignature {
    pub(crate) fn line(&self) -> String {
        let mut bytes = self.key_id.to_be_bytes().to_vec();
        bytes.extend_from_slice(&self.bytes);
        format!("\u{2014} {} {}\n", self.name, base64::encode(&bytes))
    }

    fn from_line(line: &str) -> Option<Self> {
        let (name, bytes) = line.strip_prefix("\u{2014} ")?.split_once(' ')?;
        let bytes = base64::decode(bytes)?;
        let (id, signature) = bytes.split_at_checked(4)?;
        Some(Self {
            name: name.to_owned(),
            key_id: u32::from_be_bytes(id.try_into().ok()?),
            bytes: signature.to_vec(),
        })
    }
}

/// Text and signatures of a note; `None` where it is none.
pub(crate) fn read_note(note: &str) -> Option<(&str, Vec<NoteSignature>)> {
    let (before, lines) = note.rsplit_once("\n\n")?;
    let text = note.get(..before.len() + 1)?;
    let lines = lines.strip_suffix('\n')?;
    let signatures = lines.split('\n').map(NoteSignature::from_line).collect::<Option<_>>()?;
    Some((text, signatures))
}

/// A checkpoint with whatever signatures came with it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignedCheckpoint {
    /// The checkpoint.
    pub checkpoint: Checkpoint,
    /// What the signatures are over.
    pub body: String,
    /// The signatures; none where the text had none.
    pub signatures: Vec<NoteSignature>,
}

impl From<Checkpoint> for SignedCheckpoint {
    /// The checkpoint without a signature.
    fn from(checkpoint: Checkpoint) -> Self {
        Self { body: checkpoint.text(), checkpoint, signatures: Vec::new() }
    }
}

impl SignedCheckpoint {
    /// Reads a checkpoint with or without signatures. They are not checked
    /// here; [`VerifierKey::signed`] does.
    ///
    /// # Errors
    /// Where it is no checkpoint, or its lines of signatures are none.
    ///
    /// ```
    /// let text = "isobar/benchbook/00\n7\nAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=\n";
    /// let read = benchbook::SignedCheckpoint::from_text(text)?;
    /// assert!(read.checkpoint.size == 7 && read.signatures.is_empty());
    /// # Ok::<(), benchbook::CheckpointError>(())
    /// ```
    pub fn from_text(text: &str) -> Result<Self, CheckpointError> {
        let checkpoint = Checkpoint::from_text(text)?;
        if !text.contains("\n\n") {
            return Ok(Self { checkpoint, body: text.to_owned(), signatures: Vec::new() });
        }
        let (body, signatures) = read_note(text).ok_or_else(|| CheckpointError {
            reason: "what follows the empty line are not lines of signatures".to_owned(),
        })?;
        Ok(Self { checkpoint, body: body.to_owned(), signatures })
    }

    /// The text.
    #[must_use]
    pub fn text(&self) -> String {
        if self.signatures.is_empty() {
            return self.body.clone();
        }
        let lines: String = self.signatures.iter().map(NoteSignature::line).collect();
        format!("{}\n{lines}", self.body)
    }

    /// True where this key signed it.
    #[must_use]
    pub fn is_signed_by(&self, key: &VerifierKey) -> bool {
        self.signatures.iter().any(|signature| key.signed(&self.body, signature))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Example of the documentation of the package `note` of the Go checksum
    /// database, on which the C2SP note is built (from memory; that the
    /// signature verifies shows that it was remembered to the bit).
    const KEY: &str = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW";
    const NOTE: &str = "If you think cryptography is the answer to your problem,\n\
        then you don't know what your problem is.\n\n\
        \u{2014} PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=\n";

    #[test]
    fn the_published_note_verifies() {
        let key = VerifierKey::from_text(KEY).unwrap();
        assert_eq!(key.text(), KEY);
        let (text, signatures) = read_note(NOTE).unwrap();
        assert!(key.signed(text, &signatures[0]));
        assert!(!key.signed(&text.replace("answer", "Answer"), &signatures[0]));
        let lines: String = signatures.iter().map(NoteSignature::line).collect();
        assert_eq!(format!("{text}\n{lines}"), NOTE);
    }

    #[test]
    fn keys_that_are_none_are_refused() {
        for wrong in [
            "",
            "a+b",
            "PeterNeumann+c74f20a4+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW",
            "Peter Neumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW",
            "PeterNeumann+c74f20a3+Ahpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW",
        ] {
            assert_eq!(VerifierKey::from_text(wrong), None, "{wrong}");
        }
    }

    proptest! {
        #[test]
        fn hostile_notes_never_panic(text in "\\PC*\n\n\\PC*\n") {
            let _ = read_note(&text);
            let _ = SignedCheckpoint::from_text(&text);
            let _ = VerifierKey::from_text(&text);
        }
    }
}
