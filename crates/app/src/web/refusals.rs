//! Refusals of the benchbook as pages: what was refused, and what to do next
//! in the workbench rather than on the command line.

use axum::http::StatusCode;
use benchbook::{BenchbookError, Refusal};

use super::form::Form;
use super::reply::Reply;

/// What stands on a page above a form that was not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trouble {
    /// Status of the answer.
    pub status: StatusCode,
    /// What was refused, without a full stop.
    pub what: String,
    /// One thing to do next.
    pub next_step: String,
    /// Where that is done; empty where it is done on the same page.
    pub link: String,
}

impl Trouble {
    /// Something in the form.
    pub fn of_form(what: impl Into<String>, next_step: impl Into<String>) -> Self {
        Self {
            status: StatusCode::UNPROCESSABLE_ENTITY,
            what: what.into(),
            next_step: next_step.into(),
            link: String::new(),
        }
    }

    /// A page of its own, with what had been typed.
    pub fn page(self, form: &Form) -> Reply {
        let link = if self.link.is_empty() { "/".to_owned() } else { self.link };
        Reply::Denied {
            status: self.status,
            what: self.what,
            next_step: self.next_step,
            link,
            typed: form.typed(),
        }
    }
}

impl From<BenchbookError> for Trouble {
    fn from(error: BenchbookError) -> Self {
        let (next_step, link) = match &error {
            BenchbookError::Refused(refusal) => next_of(refusal),
            _ => (error.next_step(), ""),
        };
        Self {
            status: status_of(&error),
            what: error.to_string(),
            next_step,
            link: link.to_owned(),
        }
    }
}

/// What to do next within the workbench.
fn next_of(refusal: &Refusal) -> (String, &'static str) {
    let (words, link) = match refusal {
        Refusal::NeedsAccount => ("sign in", "/sign-in"),
        Refusal::PasswordMustChange { .. } => ("choose a password of your own", "/password"),
        Refusal::NeedsReason { .. } => ("say why in the field Reason", ""),
        Refusal::UnknownAccount { .. } => ("look at the list of accounts", "/people"),
        Refusal::WithoutAccounts => {
            ("begin a benchbook with accounts on the command line: isobar account begin", "/people")
        }
        Refusal::CannotSign { reason, .. } if reason.starts_with("items are open") => {
            ("settle the open items below", "")
        }
        Refusal::CannotSign { reason, .. } if reason.starts_with("the audit trail") => {
            ("review the changes below", "")
        }
        other => return (other.next_step(), ""),
    };
    (words.to_owned(), link)
}

fn status_of(error: &BenchbookError) -> StatusCode {
    match error {
        BenchbookError::Refused(refusal) => match refusal {
            Refusal::NeedsAccount | Refusal::NotRecognised => StatusCode::UNAUTHORIZED,
            Refusal::LockedOut { .. } => StatusCode::TOO_MANY_REQUESTS,
            Refusal::Disabled { .. }
            | Refusal::PasswordMustChange { .. }
            | Refusal::NotAllowed { .. }
            | Refusal::WithoutAccounts => StatusCode::FORBIDDEN,
            Refusal::AccountExists { .. } => StatusCode::CONFLICT,
            Refusal::UnknownAccount { .. } => StatusCode::NOT_FOUND,
            _ => StatusCode::UNPROCESSABLE_ENTITY,
        },
        BenchbookError::UnknownCase { .. } | BenchbookError::UnknownRun { .. } => {
            StatusCode::NOT_FOUND
        }
        BenchbookError::CaseExists { .. } | BenchbookError::RunExists { .. } => {
            StatusCode::CONFLICT
        }
        BenchbookError::Locked { .. } | BenchbookError::DiskFull { .. } => {
            StatusCode::SERVICE_UNAVAILABLE
        }
        error if error.is_users() => StatusCode::UNPROCESSABLE_ENTITY,
        _ => StatusCode::INTERNAL_SERVER_ERROR,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn next_steps_stay_within_the_workbench() {
        let refusals = [
            Refusal::NeedsAccount,
            Refusal::PasswordMustChange { account: "a".to_owned() },
            Refusal::NeedsReason { what: "x".to_owned() },
            Refusal::UnknownAccount { account: "a".to_owned() },
        ];
        for refusal in refusals {
            let trouble = Trouble::from(BenchbookError::from(refusal));
            assert!(!trouble.next_step.contains("isobar "), "{trouble:?}");
            assert!(!trouble.next_step.contains("--"), "{trouble:?}");
        }
    }

    #[test]
    fn a_wrong_password_and_a_locked_account_have_their_own_status() {
        let of = |refusal: Refusal| Trouble::from(BenchbookError::from(refusal)).status.as_u16();
        assert_eq!(of(Refusal::NotRecognised), 401);
        let until = "until its password is reset".to_owned();
        assert_eq!(of(Refusal::LockedOut { account: "a".to_owned(), until, failed: 10 }), 429);
    }
}
