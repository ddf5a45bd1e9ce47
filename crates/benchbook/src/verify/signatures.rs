//! Signatures on cases: of the account's key, over the state that the case
//! had, at their place in the log, and moved nowhere.

use super::Verification;
use super::entries::{Entries, FoundSignature};
use super::events::Events;
use crate::digest::{hex, sha256};
use crate::log::base64;
use crate::log::checkpoint::Checkpoint;
use crate::log::note::verifies;
use crate::people::AccountShape;
use crate::signatures::Statement;

/// Checks every signature.
pub(super) fn check(entries: &Entries, events: &Events, found: &mut Verification) {
    for signature in &entries.signatures {
        found.n_signatures += 1;
        let place = format!("signature under event {}", signature.event);
        for problem in problems(signature, entries, events, &found.identity) {
            found.find(&place, problem);
        }
    }
}

/// The account as it stood before an event.
fn account_at<'a>(entries: &'a Entries, id: &str, event: i64) -> Option<&'a AccountShape> {
    let versions = entries.accounts.get(id)?;
    versions.iter().rev().find(|(from, _)| *from < event).map(|(_, account)| account)
}

fn problems(
    found: &FoundSignature,
    entries: &Entries,
    events: &Events,
    identity: &str,
) -> Vec<&'static str> {
    let Some(statement) = Statement::from_text(&found.shape.statement) else {
        return vec!["its statement is not of its form"];
    };
    let mut problems = Vec::new();
    let public: Option<[u8; 32]> =
        base64::decode(&found.shape.public_key).and_then(|key| key.try_into().ok());
    let signature = base64::decode(&found.shape.signature).unwrap_or_default();
    let right =
        public.is_some_and(|key| verifies(&key, found.shape.statement.as_bytes(), &signature));
    if !right {
        problems.push("its signature is wrong");
    }
    let account = account_at(entries, &statement.account, found.event);
    if account.is_none_or(|account| account.public_key != found.shape.public_key) {
        problems.push("its key is not that of the account");
    }
    if account.is_none_or(|account| {
        account.name != statement.name || account.roles.join(", ") != statement.roles
    }) {
        problems.push("name or roles are not those of the account");
    }
    if statement.origin != Checkpoint::origin_of(identity) {
        problems.push("it was given in another benchbook");
    }
    if found.case_id.as_ref() != Some(&statement.case_id) {
        problems.push("it was given on another case");
    }
    match events.peek(found.event) {
        Some(event)
            if *event.at == *statement.at
                && event.account.as_deref() == Some(statement.account.as_str()) => {}
        _ => problems.push("its event names another person or another time"),
    }
    if hex(&sha256(found.shape.state.as_bytes())) != statement.state {
        problems.push("the state does not have the hash that was signed");
    }
    if found.shape.state != events.state_before(&statement.case_id, found.event) {
        problems.push("the state is not the one that the case had");
    }
    // Only the event that says that the clock went back may stand between.
    let size = i64::try_from(statement.log_size).unwrap_or(i64::MAX);
    if !(found.event - 2..found.event).contains(&size) {
        problems.push("it was given at another place in the log");
    }
    problems
}
