//! Proof that one event is in the log, in the text form of the C2SP note
//! `tlog-proof`: it discloses nothing else of the benchbook.

use super::base64;
use super::checkpoint::Checkpoint;
use super::merkle::{Hash, leaf_hash, root_from_inclusion};

const HEADING: &str = "c2sp.org/tlog-proof@v1";

/// Most hashes that a proof can need: one for each level of 2^64 leaves.
const MOST_HASHES: usize = 64;

/// Proof that an event stands at its place in the log of a checkpoint.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EventProof {
    /// Position of the event, counted from 0; its number less one.
    pub index: u64,
    /// Hashes that lead from the event to the root, lowest first.
    pub hashes: Vec<[u8; 32]>,
    /// The checkpoint.
    pub checkpoint: Checkpoint,
}

impl EventProof {
    /// True where `event`, the exact text in the history, stands at its place
    /// in the log of the checkpoint.
    #[must_use]
    pub fn holds_for(&self, event: &str) -> bool {
        let leaf: Hash = leaf_hash(event.as_bytes());
        root_from_inclusion(leaf, self.index, self.checkpoint.size, &self.hashes)
            == Some(self.checkpoint.root)
    }

    /// The text: heading, index, hashes, an empty line, the checkpoint. Files
    /// of it end in `.tlog-proof`.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!("{HEADING}\nindex {}\n", self.index);
        for hash in &self.hashes {
            text.push_str(&base64::encode(hash));
            text.push('\n');
        }
        text.push('\n');
        text.push_str(&self.checkpoint.text());
        text
    }

    /// Reads a proof; `None` where the text is none. A line `extra` is passed
    /// over.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        let rest = text.strip_prefix(HEADING)?.strip_prefix('\n')?;
        let (body, checkpoint) = rest.split_once("\n\n")?;
        let mut lines = body.split('\n').peekable();
        if lines.peek()?.starts_with("extra ") {
            lines.next();
        }
        let index = lines.next()?.strip_prefix("index ")?;
        let canonical = index == "0" || !index.starts_with('0');
        if !canonical || !index.bytes().all(|byte| byte.is_ascii_digit()) {
            return None;
        }
        let index = index.parse().ok()?;
        let hashes = lines
            .map(|line| base64::decode(line)?.try_into().ok())
            .collect::<Option<Vec<Hash>>>()?;
        if hashes.len() > MOST_HASHES {
            return None;
        }
        Some(Self { index, hashes, checkpoint: Checkpoint::from_text(checkpoint).ok()? })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::merkle::{inclusion_proof, root};
    use proptest::prelude::*;

    fn proof(size: usize, index: usize) -> (Vec<String>, EventProof) {
        let events: Vec<String> = (0..size).map(|n| format!("{{\"number\":{n}}}")).collect();
        let leaves: Vec<Hash> = events.iter().map(|event| leaf_hash(event.as_bytes())).collect();
        let proof = EventProof {
            index: index as u64,
            hashes: inclusion_proof(&leaves, index),
            checkpoint: Checkpoint::new("00", size as u64, root(&leaves)),
        };
        (events, proof)
    }

    #[test]
    fn one_event_of_eleven() {
        let (events, proof) = proof(11, 9);
        assert!(proof.holds_for(&events[9]));
        assert!(!proof.holds_for(&events[8]));
        let text = proof.text();
        assert!(text.starts_with("c2sp.org/tlog-proof@v1\nindex 9\n"));
        assert_eq!(EventProof::from_text(&text), Some(proof));
    }

    #[test]
    fn the_only_event_needs_no_hash() {
        let (events, proof) = proof(1, 0);
        assert!(proof.holds_for(&events[0]) && proof.hashes.is_empty());
        assert_eq!(EventProof::from_text(&proof.text()), Some(proof));
    }

    #[test]
    fn what_is_no_proof_is_refused() {
        for text in [
            "",
            "not a proof at all",
            "c2sp.org/tlog-proof@v1\n",
            "c2sp.org/tlog-proof@v1\nindex x\n\na\n1\nAA==\n",
            "c2sp.org/tlog-proof@v1\nindex 0\n\ncheckpoint\n",
        ] {
            assert_eq!(EventProof::from_text(text), None, "{text:?}");
        }
    }

    proptest! {
        #[test]
        fn a_changed_text_proves_nothing_else(at in 0_usize..400, new in 0x21_u8..0x7f) {
            let (events, proof) = proof(11, 4);
            let mut bytes = proof.text().into_bytes();
            let at = at % bytes.len();
            // The origin says which log; it is compared where a log is known.
            let origin_at = proof.text().find("isobar").unwrap();
            let origin = origin_at..origin_at + proof.checkpoint.origin.len();
            // Trees of some other sizes hold this event on the same path: size
            // and root belong together by the signature of the checkpoint.
            let size = origin.end..origin.end + 3;
            prop_assume!(bytes[at] != new && !origin.contains(&at) && !size.contains(&at));
            bytes[at] = new;
            let text = String::from_utf8(bytes).unwrap();
            let holds = EventProof::from_text(&text).is_some_and(|p| p.holds_for(&events[4]));
            prop_assert!(!holds, "{}", text);
        }
    }
}
