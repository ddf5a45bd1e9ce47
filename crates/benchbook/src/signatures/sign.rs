//! Signing: both components each time, bound to the state of the case and to
//! the report that the signer has before him.

use crate::boxed;
use crate::store::connection::Connection;
use ed25519_dalek::Signer;

use super::checkpoints::root;
use super::{Meaning, SIGNATURE, Signature, SignatureShape, Statement, state};
use crate::book::Benchbook;
use crate::digest::{hex, sha256};
use crate::entries;
use crate::errors::BenchbookError;
use crate::history::HistoryEvent;
use crate::log::base64;
use crate::log::checkpoint::Checkpoint;
use crate::log::key::LogKey;
use crate::moment::Moment;
use crate::people::{AccountShape, Action, Refusal};
use crate::writing::{Draft, Writing};

/// What is to be signed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToSign<'a> {
    /// The case.
    pub case_id: &'a str,
    /// What the signature says.
    pub meaning: Meaning,
    /// SHA-256 of the report that the signer has read.
    pub report_sha256: [u8; 32],
    /// SHA-256 of the state that the signer was shown, hexadecimal, see
    /// [`Benchbook::state_of_case`]: what changed meanwhile is not signed.
    pub state_sha256: &'a str,
    /// Name and version of the program.
    pub software: &'a str,
}

impl Meaning {
    const fn action(self) -> Action {
        match self {
            Self::Authored => Action::SignAuthored,
            Self::Reviewed => Action::SignReviewed,
            Self::Approved => Action::SignApproved,
        }
    }
}

impl Benchbook {
    /// SHA-256 of the state of a case in hexadecimal, and its lines `event
    /// record subject version hash`: what a signature is over.
    ///
    /// # Errors
    /// Where there is no such case or the file cannot be read.
    #[boxed]
    pub async fn state_of_case(&self, case_id: &str) -> Result<(String, String), BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        self.require_case(&mut snapshot, case_id).await?;
        let lines = state::lines(&self.events_of_case(&mut snapshot, case_id).await?);
        Ok((hex(&sha256(lines.as_bytes())), lines))
    }

    /// The signatures of a case, oldest first, with those that no longer
    /// stand.
    ///
    /// # Errors
    /// Where there is no such case or the file cannot be read.
    #[boxed]
    pub async fn signatures(&self, case_id: &str) -> Result<Vec<Signature>, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        self.require_case(&mut snapshot, case_id).await?;
        let events = self.events_of_case(&mut snapshot, case_id).await?;
        self.read_signatures(&mut snapshot, case_id, &events).await
    }

    async fn read_signatures(
        &self,
        connection: &mut Connection,
        case_id: &str,
        events: &[HistoryEvent],
    ) -> Result<Vec<Signature>, BenchbookError> {
        let now = hex(&sha256(state::lines(events).as_bytes()));
        entries::of_kind(connection, SIGNATURE, Some(case_id))
            .await
            .map_err(|error| self.failed(&error))?
            .iter()
            .map(|entry| {
                let shape: SignatureShape = self.entry(SIGNATURE, &entry.body)?;
                let event = u64::try_from(entry.event).unwrap_or(0);
                let statement = Statement::from_text(&shape.statement)
                    .ok_or_else(|| self.damaged(format!("signature {event} is not of its form")))?;
                Ok(Signature {
                    event,
                    case_id: statement.case_id,
                    meaning: statement.meaning,
                    account: statement.account,
                    name: statement.name,
                    at: statement.at,
                    stands: statement.state == now && case_id == entry_case(&entry.subject),
                    state_sha256: statement.state,
                    report_sha256: statement.report,
                    statement: shape.statement,
                })
            })
            .collect()
    }

    /// Signatures that stand and will not after a change of the case: words
    /// for its event, empty where there are none. Then a reason is needed.
    pub(crate) async fn signatures_that_fall(
        &self,
        writing: &mut Writing,
        case_id: &str,
    ) -> Result<String, BenchbookError> {
        let there = entries::of_kind(&mut writing.transaction, SIGNATURE, Some(case_id)).await;
        if there.map_err(|error| self.failed(&error))?.is_empty() {
            return Ok(String::new());
        }
        let events = self.events_of_case(&mut writing.transaction, case_id).await?;
        let signatures = self.read_signatures(&mut writing.transaction, case_id, &events).await?;
        let fall: Vec<String> = signatures
            .iter()
            .filter(|signature| signature.stands)
            .map(|one| format!("{} ({} by {})", one.event, one.meaning.word(), one.account))
            .collect();
        if fall.is_empty() {
            return Ok(String::new());
        }
        let fall = fall.join(", ");
        if writing.hand.reason.is_none() {
            let what = format!(
                "case `{case_id}` is signed, and a change makes signatures fall: {fall}. It"
            );
            return Err(Refusal::NeedsReason { what }.into());
        }
        Ok(format!("; no longer standing: signatures {fall}"))
    }

    /// Signs a case. Account and password are given anew for each signature,
    /// whoever holds the benchbook. When this returns, the signature has
    /// reached the disk; with a log key at hand a signed checkpoint over it
    /// has too: both of them, or neither.
    ///
    /// # Errors
    /// [`BenchbookError::Refused`] where there are no accounts, a component is
    /// not right, the role does not allow it, items are open, the case changed
    /// since it was shown, a signature before this one is missing or is by the
    /// same person, or the audit trail was not reviewed; otherwise where the
    /// file cannot be read or written.
    #[boxed]
    pub async fn sign(
        &self,
        to_sign: &ToSign<'_>,
        account: &str,
        password: &str,
        log_key: Option<&LogKey>,
        at: &Moment,
    ) -> Result<Signature, BenchbookError> {
        let (shape, key) = self.prove(account, password, at).await?;
        let identity = self.identity().await?;
        let ToSign { case_id, meaning, .. } = *to_sign;
        let mut writing = self.change_unasked(at, Some(account)).await?;
        writing.hand.moment.actor.clone_from(&shape.name);
        self.permit(&mut writing, meaning.action()).await?;
        self.require_case(&mut writing.transaction, case_id).await?;
        let events = self.events_of_case(&mut writing.transaction, case_id).await?;
        let lines = state::lines(&events);
        let state = hex(&sha256(lines.as_bytes()));
        self.may_sign(&mut writing, to_sign, &shape, &events, &state).await?;
        let (log_size, log_root) =
            root(&mut writing.transaction).await.map_err(|error| self.failed(&error))?;
        let statement = Statement {
            origin: Checkpoint::origin_of(&identity),
            case_id: case_id.to_owned(),
            state: state.clone(),
            report: hex(&to_sign.report_sha256),
            meaning,
            account: account.to_owned(),
            name: shape.name.clone(),
            roles: shape.roles.join(", "),
            at: at.utc.clone(),
            software: to_sign.software.replace(char::is_control, " "),
            log_size,
            log_root: base64::encode(&log_root),
        };
        let text = statement.text();
        let stored = SignatureShape {
            public_key: shape.public_key.clone(),
            signature: base64::encode(&key.sign(text.as_bytes()).to_bytes()),
            state: lines,
            statement: text.clone(),
        };
        let draft = Draft {
            kind: SIGNATURE,
            subject: &format!("{case_id}/{}", log_size + 1),
            case_id: Some(case_id),
            record: &stored,
            what: "signed",
            detail: format!("{} by {} ({account})", meaning.word(), shape.name),
        };
        let event = writing.put(&draft).await.map_err(|error| self.failed(&error))?;
        if let Some(log_key) = log_key {
            // In one change: an error means that neither was kept.
            self.put_checkpoint(&mut writing, log_key).await?;
        }
        writing.commit().await.map_err(|error| self.failed(&error))?;
        Ok(Signature {
            event: u64::try_from(event).unwrap_or(0),
            case_id: case_id.to_owned(),
            meaning,
            account: account.to_owned(),
            name: shape.name,
            at: at.utc.clone(),
            state_sha256: state,
            report_sha256: statement.report,
            stands: true,
            statement: text,
        })
    }

    /// The rules, in the order in which a person can mend them.
    async fn may_sign(
        &self,
        writing: &mut Writing,
        to_sign: &ToSign<'_>,
        signer: &AccountShape,
        events: &[HistoryEvent],
        state: &str,
    ) -> Result<(), BenchbookError> {
        let ToSign { case_id, meaning, .. } = *to_sign;
        let refuse = |reason: String, next: &str| {
            Err(BenchbookError::from(Refusal::CannotSign {
                case_id: case_id.to_owned(),
                meaning: meaning.word(),
                reason,
                next: next.to_owned(),
            }))
        };
        if state != to_sign.state_sha256 {
            return refuse(
                "it has changed since it was shown".to_owned(),
                "read it again, then sign",
            );
        }
        let open: Vec<String> = self
            .read_open_items(&mut writing.transaction, case_id)
            .await?
            .into_iter()
            .filter(|item| item.settled.is_none())
            .map(|item| format!("{}: {}", item.number, item.text))
            .collect();
        if !open.is_empty() {
            return refuse(
                format!("items are open: {}", open.join("; ")),
                "settle them: isobar items BENCHBOOK --case ID --settle N --reason HOW",
            );
        }
        let there = self.read_signatures(&mut writing.transaction, case_id, events).await?;
        let standing: Vec<&Signature> = there.iter().filter(|one| one.stands).collect();
        if standing.iter().any(|one| one.meaning == meaning && one.account == signer.id) {
            return refuse(
                format!("`{}` has signed it as {} already", signer.id, meaning.word()),
                "nothing is left to do for this account",
            );
        }
        let by = |wanted: Meaning| standing.iter().filter(move |one| one.meaning == wanted);
        let before = match meaning {
            Meaning::Authored => return Ok(()),
            Meaning::Reviewed => Meaning::Authored,
            Meaning::Approved => Meaning::Reviewed,
        };
        if by(before).next().is_none() {
            return refuse(
                format!("no signature as {} stands", before.word()),
                "sign in the order authored, reviewed, approved",
            );
        }
        if by(Meaning::Authored).any(|one| one.account == signer.id) {
            return refuse(
                format!("`{}` is its author", signer.id),
                "somebody other than the author must do this",
            );
        }
        if meaning == Meaning::Approved {
            let last = state::last_change(events);
            let authors: Vec<&str> =
                by(Meaning::Authored).map(|one| one.account.as_str()).collect();
            let reviews = self.reviews(&mut writing.transaction, case_id).await?;
            let by_another = reviews.iter().any(|review| {
                let author = review.account.as_deref().is_some_and(|who| authors.contains(&who));
                review.to >= last && !author
            });
            if !by_another {
                return refuse(
                    format!("the audit trail was not reviewed up to its last change, event {last}"),
                    "review it: isobar review BENCHBOOK --case ID",
                );
            }
        }
        Ok(())
    }
}

/// Case of a signature, from its subject `case/number`.
fn entry_case(subject: &str) -> &str {
    subject.rsplit_once('/').map_or(subject, |(case, _)| case)
}
