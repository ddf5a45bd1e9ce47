//! Signatures as they are shown: who, what it says, when, and whether it still
//! stands.

use benchbook::{HistoryEvent, Signature};
use maud::{Markup, html};

use super::wording::{moment, shown};

/// The signatures of a case, oldest first. From the events of the case it is
/// known which change made one fall.
pub fn list(signatures: &[Signature], events: &[HistoryEvent]) -> Markup {
    html! {
        @if signatures.is_empty() { p { "Nobody has signed yet." } }
        ul.signatures {
            @for one in signatures {
                li.stands[one.stands].fallen[!one.stands] {
                    p {
                        strong { (one.meaning.word()) } " by " (shown(&one.name)) " (" (one.account) "), "
                        time datetime=(shown(&one.at)) { (moment(&one.at)) } ": "
                        @if one.stands { strong { "stands" } "." }
                        @else { strong { "no longer stands" } ", " (because(one, events)) "." }
                    }
                    p.quiet { "Event " (one.event) ", report SHA-256 " code { (one.report_sha256) } }
                }
            }
        }
    }
}

/// Why a signature fell, in the words of the change that did it.
fn because(signature: &Signature, events: &[HistoryEvent]) -> String {
    let mark =
        format!("{} ({} by {})", signature.event, signature.meaning.word(), signature.account);
    let change = events.iter().find(|event| {
        event.number > signature.event
            && event
                .detail
                .split("; no longer standing: signatures ")
                .skip(1)
                .any(|rest| rest.contains(&mark))
    });
    change.map_or_else(
        || "because the case was changed after it".to_owned(),
        |event| {
            let reason =
                event.reason.as_ref().map_or_else(String::new, |why| format!(" ({})", shown(why)));
            format!("because of event {}: {}{reason}", event.number, shown(&event.what))
        },
    )
}
