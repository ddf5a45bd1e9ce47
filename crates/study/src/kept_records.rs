//! What a benchbook keeps beside the case and a document may lean on: counts
//! alone, so that the study need not see the store.

/// Counts of records beside the case. All zero where there is no benchbook.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct KeptRecords {
    /// Entries of the history of changes.
    pub history_entries: u64,
    /// Signatures that stand on the present state of the case.
    pub standing_signatures: usize,
    /// Signatures given to an earlier state.
    pub fallen_signatures: usize,
    /// Positive controls and flow standards in the register.
    pub registered_items: usize,
    /// Those of them that may be used now and have a passed check.
    pub checked_items: usize,
    /// Files kept beside the case, e.g. certificates.
    pub kept_files: usize,
}
