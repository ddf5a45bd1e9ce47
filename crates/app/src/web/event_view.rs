//! Events of the audit trail as sentences: what was done, from what to what,
//! and why.

use benchbook::HistoryEvent;
use maud::{Markup, html};

use super::wording::shown;

/// One event in words: what, detail, reason, and the records before and after
/// by the beginning of their digests.
pub fn sentence(event: &HistoryEvent) -> Markup {
    let short = |digest: &String| digest.chars().take(8).collect::<String>();
    let first = {
        let what = shown(&event.what);
        let mut letters = what.chars();
        letters.next().map_or_else(String::new, |one| {
            one.to_uppercase().collect::<String>() + letters.as_str()
        })
    };
    html! {
        strong { (first) }
        @if !event.detail.is_empty() { ": " (shown(event.detail.trim_end_matches('.'))) }
        "."
        @if let Some(reason) = &event.reason { " Reason: " (shown(reason.trim_end_matches('.'))) "." }
        @if let Some(new) = &event.new_sha256 {
            " " span.quiet {
                @if let Some(record) = &event.record { "Record " (shown(record)) }
                @if let Some(version) = event.version { ", version " (version) }
                @match &event.old_sha256 {
                    Some(old) => { ": " code { (short(old)) } " became " code { (short(new)) } "." }
                    None => { ": " code { (short(new)) } ", the first." }
                }
            }
        }
    }
}
