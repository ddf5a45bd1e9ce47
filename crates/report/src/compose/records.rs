//! What the benchbook keeps beside a case and a document prints: signatures,
//! register, files, and whether the file is as it was written.

use study::kept_records::KeptRecords;

use crate::document::Checkpoint;

/// A signature on the case.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GivenSignature {
    /// What it says, e.g. `reviewed`.
    pub meaning: String,
    /// Printed name of the signer.
    pub name: String,
    /// When, UTC in RFC 3339.
    pub at: String,
    /// True while the case is in the state that was signed.
    pub stands: bool,
    /// SHA-256 of the report that the signer had before them, hexadecimal.
    pub report_sha256: String,
}

/// A positive control or flow standard of the register.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RegisteredItem {
    /// Its name in the laboratory.
    pub id: String,
    /// Kind and description.
    pub description: String,
    /// Whether it is a standard of flow.
    pub is_flow_standard: bool,
    /// Certificate: number, value, uncertainty, validity; empty without one.
    pub certificate: String,
    /// Last check: kind, outcome, reading, date; empty without one.
    pub last_check: String,
    /// Whole days from that check to the moment of the document; `None`
    /// without one, or where it came later.
    pub check_age_days: Option<i64>,
    /// Whether that check was passed.
    pub check_passed: bool,
    /// Why it may not be used now; `None` where it may.
    pub hindrance: Option<String>,
}

impl RegisteredItem {
    /// Whether its last check was passed and nothing is against its use.
    #[must_use]
    pub const fn is_checked_and_usable(&self) -> bool {
        self.hindrance.is_none() && self.check_passed
    }
}

/// A file kept beside the case.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptFile {
    /// Its name.
    pub name: String,
    /// What it is.
    pub note: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
}

/// What the benchbook keeps beside the case; empty without one.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Records {
    /// Signatures, oldest first.
    pub signatures: Vec<GivenSignature>,
    /// Number of signed checkpoints in the file.
    pub signed_checkpoints: u64,
    /// What a verification of the file found; any finding takes every
    /// signature its standing.
    pub findings: Vec<String>,
    /// The register.
    pub register: Vec<RegisteredItem>,
    /// Files beside the case.
    pub files: Vec<KeptFile>,
}

impl Records {
    /// Signatures that stand; none in a file that is not as it was written.
    #[must_use]
    pub fn standing(&self) -> usize {
        if self.findings.is_empty() {
            self.signatures.iter().filter(|signature| signature.stands).count()
        } else {
            0
        }
    }

    /// The counts that the study may lean on.
    #[must_use]
    pub fn kept(&self, checkpoint: Option<&Checkpoint>) -> KeptRecords {
        let standing = self.standing();
        KeptRecords {
            history_entries: checkpoint.map_or(0, |checkpoint| checkpoint.entries),
            standing_signatures: standing,
            fallen_signatures: self.signatures.len() - standing,
            registered_items: self.register.len(),
            checked_items: self.register.iter().filter(|item| item.is_checked_and_usable()).count(),
            kept_files: self.files.len(),
        }
    }
}
