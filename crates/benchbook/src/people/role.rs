//! Roles and what each may do. The matrix is data: one row for each action.

/// What a person is in the laboratory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// Answers for the benchbook: gives roles, and reads everything.
    Owner,
    /// Keeps accounts, keys and backups; touches no data.
    Administrator,
    /// Does the work and signs as its author.
    Analyst,
    /// Reviews the work and its audit trail.
    Reviewer,
    /// Approves what has been reviewed.
    Approver,
    /// Reads.
    Reader,
}

impl Role {
    /// Every role.
    pub const ALL: [Self; 6] = [
        Self::Owner,
        Self::Administrator,
        Self::Analyst,
        Self::Reviewer,
        Self::Approver,
        Self::Reader,
    ];

    /// The word that people type and read.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Owner => "owner",
            Self::Administrator => "administrator",
            Self::Analyst => "analyst",
            Self::Reviewer => "reviewer",
            Self::Approver => "approver",
            Self::Reader => "reader",
        }
    }

    /// The role of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.word() == word)
    }

    /// True for roles that keep accounts; nobody has one of them together
    /// with a role that makes, reviews or approves data.
    #[must_use]
    pub const fn keeps_accounts(self) -> bool {
        matches!(self, Self::Owner | Self::Administrator)
    }

    /// True for roles that make, review or approve data.
    #[must_use]
    pub const fn touches_data(self) -> bool {
        matches!(self, Self::Analyst | Self::Reviewer | Self::Approver)
    }
}

/// Something that a person may or may not do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Action {
    /// Read cases, history and register.
    Read,
    /// Add cases, and record inputs, forecasts, methods, plans and results.
    Work,
    /// Add runs and attachments, and keep the records of units.
    AddRuns,
    /// Keep the register of positive controls and flow standards.
    KeepRegister,
    /// Note and close open items.
    KeepOpenItems,
    /// Record a review of the audit trail.
    ReviewAuditTrail,
    /// Sign as the author.
    SignAuthored,
    /// Sign as the reviewer.
    SignReviewed,
    /// Sign as the approver.
    SignApproved,
    /// Add accounts, reset passwords, enable and disable.
    KeepAccounts,
    /// Give and take the roles of owner and administrator.
    GiveKeepingRoles,
    /// Begin and change the key that signs checkpoints.
    KeepLogKey,
    /// Make and keep signed checkpoints.
    MakeCheckpoints,
    /// Make backups and copies.
    BackUp,
    /// Change one's own password.
    ChangeOwnPassword,
}

use Role::{Administrator, Analyst, Approver, Owner, Reader, Reviewer};

/// Who may do what. Reading is open to every account. A test walks every cell.
pub const MATRIX: &[(Action, &[Role])] = &[
    (Action::Read, &[Owner, Administrator, Analyst, Reviewer, Approver, Reader]),
    (Action::Work, &[Analyst]),
    (Action::AddRuns, &[Analyst]),
    (Action::KeepRegister, &[Analyst]),
    (Action::KeepOpenItems, &[Analyst, Reviewer, Approver]),
    (Action::ReviewAuditTrail, &[Reviewer, Approver]),
    (Action::SignAuthored, &[Analyst]),
    (Action::SignReviewed, &[Reviewer]),
    (Action::SignApproved, &[Approver]),
    (Action::KeepAccounts, &[Owner, Administrator]),
    (Action::GiveKeepingRoles, &[Owner]),
    (Action::KeepLogKey, &[Owner, Administrator]),
    (Action::MakeCheckpoints, &[Owner, Administrator, Analyst, Reviewer, Approver, Reader]),
    (Action::BackUp, &[Owner, Administrator, Analyst]),
    (Action::ChangeOwnPassword, &[Owner, Administrator, Analyst, Reviewer, Approver, Reader]),
];

impl Action {
    /// What it is, as the end of "may not ...".
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Work => "change cases",
            Self::AddRuns => "add runs, attachments and records of units",
            Self::KeepRegister => "keep the register",
            Self::KeepOpenItems => "note or close open items",
            Self::ReviewAuditTrail => "record a review of the audit trail",
            Self::SignAuthored => "sign as the author",
            Self::SignReviewed => "sign as the reviewer",
            Self::SignApproved => "sign as the approver",
            Self::KeepAccounts => "keep accounts",
            Self::GiveKeepingRoles => "give or take the roles of owner and administrator",
            Self::KeepLogKey => "keep the log key",
            Self::MakeCheckpoints => "make checkpoints",
            Self::BackUp => "make backups and copies",
            Self::ChangeOwnPassword => "change the own password",
        }
    }

    /// Roles that may do it.
    #[must_use]
    pub fn roles(self) -> &'static [Role] {
        MATRIX.iter().find(|row| row.0 == self).map_or(&[], |row| row.1)
    }

    /// True where it has no meaning in a benchbook without accounts.
    pub(crate) const fn is_for_accounts_only(self) -> bool {
        matches!(self, Self::KeepAccounts | Self::GiveKeepingRoles | Self::ReviewAuditTrail)
    }

    /// True where one of these roles may do it.
    #[must_use]
    pub fn is_for(self, roles: &[Role]) -> bool {
        self.roles().iter().any(|role| roles.contains(role))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The matrix again, written by hand from the sentence that asks for it
    /// (issue "Benchbook", People and signatures): rows as in `MATRIX`,
    /// columns as in `Role::ALL`.
    const BY_HAND: &str = "\
        xxxxxx ..x... ..x... ..x... ..xxx. ...xx. ..x... ...x.. ....x. xx.... x..... xx.... xxxxxx xxx... xxxxxx";

    #[test]
    fn every_cell_is_as_written_by_hand() {
        let rows: Vec<&str> = BY_HAND.split_whitespace().collect();
        assert_eq!(rows.len(), MATRIX.len());
        for ((action, _), row) in MATRIX.iter().zip(rows) {
            for (role, cell) in Role::ALL.into_iter().zip(row.chars()) {
                assert_eq!(action.is_for(&[role]), cell == 'x', "{action:?} {role:?}");
            }
            assert!(!action.is_for(&[]), "{action:?} without a role");
        }
    }

    #[test]
    fn whoever_keeps_accounts_touches_no_data() {
        for role in Role::ALL {
            assert!(!(role.keeps_accounts() && role.touches_data()), "{role:?}");
            assert_eq!(Role::from_word(role.word()), Some(role));
        }
        assert_eq!(Role::from_word("Owner"), None);
    }
}
