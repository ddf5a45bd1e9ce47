//! Safekeeping: whether the benchbook is as it was written, a backup of it, and
//! its cases as sealed archives.

use std::path::PathBuf;

use benchbook::{Action, CaseSummary, Checkpoint, SignedCheckpoint, Verification};
use maud::{Markup, html};
use serde_json::{Value, json};

use crate::clock;
use crate::commands::verify;
use crate::web::address;
use crate::web::form::Form;
use crate::web::form_view::{self, Field};
use crate::web::frame::{self, Page};
use crate::web::passing::Passing;
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::sheet::headings_row;
use crate::web::wording::{counted, shown};
use crate::web::workbench::Workbench;

const HERE: &str = "/safekeeping";
const CHECKPOINT: Field<'_> = Field::optional(
    "checkpoint",
    "Checkpoint kept elsewhere",
    "Its lines, from a report, an archive, or a file. Without one, a file that was rewritten from \
     end to end is not told from a sound one.",
);

/// A backup beyond this is written on the machine itself, not sent.
const MOST_SENT: u64 = 512 << 20;

/// The page, or its twin.
pub async fn reply(workbench: &Workbench, is_json: bool) -> Answer {
    if is_json {
        let (cases, checkpoint) = read(workbench).await?;
        return Ok(Reply::Json(json!({
            "checkpoint": checkpoint.text(),
            "archives": cases
                .iter()
                .map(|case| json!({
                    "case": case.id,
                    "archive": address::of_case(&case.id, "archive.zip"),
                    "copy": address::of_case(&case.id, "copy.benchbook"),
                }))
                .collect::<Value>(),
        })));
    }
    Ok(Reply::Page(page(workbench, &Form::default(), None, None).await?))
}

/// The cases, and the head of the log.
async fn read(workbench: &Workbench) -> Result<(Vec<CaseSummary>, Checkpoint), Reply> {
    let book = &workbench.benchbook;
    let cases = book.cases().await.map_err(|error| Reply::failed(&error))?;
    Ok((cases, book.checkpoint().await.map_err(|error| Reply::failed(&error))?))
}

/// What a verification came to.
struct Seen {
    found: Verification,
    /// Whether a checkpoint from elsewhere was compared.
    compared: bool,
}

async fn page(
    workbench: &Workbench,
    form: &Form,
    trouble: Option<&Trouble>,
    seen: Option<&Seen>,
) -> Result<Markup, Reply> {
    let (cases, checkpoint) = read(workbench).await?;
    let facts = Page {
        title: "Safekeeping",
        twin: format!("{HERE}.json"),
        has_plots: false,
        open: "Safekeeping",
    };
    let body = html! {
        (frame::page_head(
            "Safekeeping",
            "Whether this benchbook is as it was written, and copies that outlive it.",
        ))
        (form_view::trouble(trouble))
        section aria-labelledby="verify" {
            h2 #verify { "Is it as it was written?" }
            @if let Some(seen) = seen { (outcome(seen)) }
            (form_view::form(workbench, HERE, "Verify it now", html! {
                (form_view::hidden("doing", "verify"))
                (CHECKPOINT.lines("verify", form))
            }))
            details {
                summary { "Checkpoint as it stands, to keep elsewhere" }
                pre { (checkpoint.text()) }
            }
        }
        section aria-labelledby="backup" {
            h2 #backup { "Backup" }
            @if workbench.may(Action::BackUp) {
                p {
                    "A copy of the whole benchbook, verified from end to end before it is sent. That \
                     it was made stands in the audit trail of both."
                }
                (form_view::form(workbench, HERE, "Make a backup and keep it", html! {
                    (form_view::hidden("doing", "backup"))
                }))
            } @else {
                p { "Your roles do not allow a backup; an administrator or the owner makes one." }
            }
        }
        section aria-labelledby="archives" {
            h2 #archives { "Each case by itself" }
            @if cases.is_empty() {
                p { "There is no case yet. " a href="/new" { "Begin one" } "." }
            } @else {
                p {
                    "An archive is a BagIt bag (RFC 8493) in one ZIP file: report, records, runs, \
                     attached files, audit trail with proofs, checkpoint. It needs no program to be \
                     read. A copy is a benchbook with this case alone, compared with it before it is \
                     sent; another workbench takes it in. Signatures stay here."
                }
                p { a href="/bring-in" { "Bring in a case from another benchbook" } "." }
                (form_view::wide_table("Every case of this benchbook", html! {
                    (headings_row(&["Case", "What it is", "Archive", "Copy"]))
                    tbody {
                        @for case in &cases {
                            tr {
                                th scope="row" { (shown(&case.id)) }
                                td.words { (shown(&case.title)) }
                                td {
                                    a.download href=(address::of_case(&case.id, "archive.zip")) {
                                        "ZIP" span.visually-hidden { " of " (shown(&case.id)) }
                                    }
                                }
                                td {
                                    a.download href=(address::of_case(&case.id, "copy.benchbook")) {
                                        "benchbook"
                                        span.visually-hidden { " of " (shown(&case.id)) " alone" }
                                    }
                                }
                            }
                        }
                    }
                }))
            }
        }
    };
    Ok(frame::page(workbench, &facts, body))
}

fn outcome(seen: &Seen) -> Markup {
    let found = &seen.found;
    html! {
        @if found.is_valid() {
            div.done-note role="status" {
                p {
                    strong { "It is as it was written" } ": "
                    (counted(found.n_events as usize, "event")) ", "
                    (counted(found.n_records as usize, "record")) ", "
                    (counted(found.n_runs as usize, "run")) " and "
                    (counted(found.n_signatures as usize, "signature")) " fit together"
                    @if seen.compared { ", and the checkpoint given is one of this log" } "."
                }
                @if !seen.compared {
                    p { "No checkpoint from elsewhere was compared." }
                } @else if found.against_signed_by.is_none() {
                    p { "The checkpoint given carries no signature of a key of this log." }
                }
            }
        } @else {
            div.trouble role="alert" {
                p {
                    strong { "It is not as it was written" } ": "
                    (counted(found.n_findings, "finding")) ". Keep this file as it is, and \
                     compare it with the last backup."
                }
                ul {
                    @for finding in &found.findings {
                        li { (shown(&finding.place)) ": " (shown(&finding.problem)) }
                    }
                }
            }
        }
    }
}

/// Verifies the benchbook, or makes a backup.
pub async fn post(workbench: &Workbench, form: &Form) -> Answer {
    let done = match form.given("doing").as_deref() {
        Some("verify") => verified(workbench, form).await,
        Some("backup") => backup(workbench).await,
        _ => Err(Trouble::of_form("nothing was asked for", "choose one of the forms here")),
    };
    match done {
        Ok(reply) => Ok(reply),
        Err(trouble) => Err(Reply::PageWith {
            page: page(workbench, form, Some(&trouble), None).await?,
            status: trouble.status,
            error: trouble.what,
            hint: trouble.next_step,
        }),
    }
}

async fn verified(workbench: &Workbench, form: &Form) -> Result<Reply, Trouble> {
    let against = form
        .given("checkpoint")
        .map(|text| {
            // A browser sends lines with carriage returns.
            let lines = format!("{}\n", text.replace('\r', "").trim_end());
            SignedCheckpoint::from_text(&lines).map_err(|error| {
                Trouble::of_form(
                    format!("the checkpoint: {error}"),
                    "give all its lines: origin, size, root, and its signatures",
                )
            })
        })
        .transpose()?;
    let _turn = workbench.server.long_work.acquire().await;
    let found = benchbook::verify_signed(workbench.benchbook.path(), against.as_ref()).await?;
    let twin = verify::as_json(&found);
    let seen = Seen { found, compared: against.is_some() };
    let page = page(workbench, form, None, Some(&seen))
        .await
        .map_err(|_| Trouble::of_form("the benchbook could not be read", "reload the page"))?;
    Ok(Reply::PageAndTwin { page, twin })
}

async fn backup(workbench: &Workbench) -> Result<Reply, Trouble> {
    let book = &workbench.benchbook;
    let size = std::fs::metadata(book.path()).map_or(0, |of_file| of_file.len());
    if size > MOST_SENT {
        return Err(Trouble::of_form(
            "this benchbook is larger than 512 MiB, which is not sent to a browser",
            "write the backup on the machine itself: isobar backup BENCHBOOK -o FILE",
        ));
    }
    let to = Passing::benchbook()?;
    let at = clock::moment();
    let _turn = workbench.server.long_work.acquire().await;
    book.back_up(to.path(), &at).await?;
    let bytes = std::fs::read(to.path()).map_err(|error| {
        Trouble::of_form(format!("the backup cannot be read: {error}"), "do it again")
    })?;
    let day = at.utc.get(..10).unwrap_or_default().to_owned();
    let stem = PathBuf::from(&workbench.shown_name);
    let stem = stem.file_stem().map_or("benchbook".into(), |stem| stem.to_string_lossy());
    Ok(Reply::Download {
        name: format!("{stem}-backup-{day}.benchbook"),
        kind: "application/vnd.sqlite3",
        bytes,
    })
}
