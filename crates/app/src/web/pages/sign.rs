//! Signing a case: what is being signed in view, what stands in the way, and
//! both components each time.

use benchbook::{Action, AuditChange, Meaning, OpenItem, Signature, ToSign};
use maud::{Markup, html};
use serde_json::{Value, json};
use study::{Case, Step};

use super::report::apart;
use super::{review, with_traces};
use crate::clock;
use crate::commands::records::{items, keys, sign};
use crate::digest::sha256;
use crate::paper;
use crate::web::address;
use crate::web::form::Form;
use crate::web::form_view::{self, Field};
use crate::web::frame::{self, CasePage};
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::shown_reports::ShownReport;
use crate::web::signature_view;
use crate::web::wording::{counted, shown};
use crate::web::workbench::Workbench;

const MEANING: Field<'_> = Field::needed("meaning", "I sign as", "");
const ACCOUNT: Field<'_> =
    Field::needed("account", "Account", "Yours, whoever is at work here.").filled_as("username");
const PASSWORD: Field<'_> = Field::needed("password", "Password", "Asked for each time.");
const NOTE: Field<'_> = Field::needed("text", "What is open", "");
const HOW: Field<'_> = Field::needed("how", "How it was settled", "");

const DONE: [(&str, &str); 4] = [
    ("signed", "The case is signed. The signature stands below."),
    ("noted", "The open item was noted. Nothing is signed until it is settled."),
    ("settled", "The open item was settled."),
    ("reviewed", "The review of the audit trail was recorded."),
];

const MEANINGS: [(&str, &str); 3] = [
    ("authored", "authored: the work is mine"),
    ("reviewed", "reviewed: I have reviewed it"),
    ("approved", "approved: I approve it"),
];

/// What is to be seen before somebody signs.
struct Before {
    case: Case,
    state: String,
    lines: String,
    report: ShownReport,
    signatures: Vec<Signature>,
    items: Vec<OpenItem>,
    changes: Vec<AuditChange>,
}

/// Reads all of it. The state is read before and after the report is made, so
/// that the two belong together.
async fn before(workbench: &Workbench, id: &str) -> Result<Before, Reply> {
    let failed = |error: benchbook::BenchbookError| Reply::failed(&error);
    let book = &workbench.benchbook;
    let (mut state, mut lines) = book.state_of_case(id).await.map_err(failed)?;
    for _ in 0..3 {
        let case = with_traces(workbench, id).await?;
        let edition =
            paper::edition(book, id).await.map_err(|fault| Reply::Failed(fault.message))?;
        let made = {
            let case = case.clone();
            apart(move || paper::pdf_of(&case, &edition)).await?
        };
        let bytes = made.map_err(|fault| Reply::Failed(fault.message))?;
        let (after, lines_after) = book.state_of_case(id).await.map_err(failed)?;
        if after != state {
            (state, lines) = (after, lines_after);
            continue;
        }
        let report =
            ShownReport { case_id: id.to_owned(), sha256: sha256(&bytes), bytes: bytes.into() };
        workbench.server.shown_reports.keep(report.clone());
        return Ok(Before {
            case,
            state,
            lines,
            report,
            signatures: book.signatures(id).await.map_err(failed)?,
            items: book.open_items(id).await.map_err(failed)?,
            changes: book.changes_to_review(id).await.map_err(failed)?,
        });
    }
    Err(Reply::Denied {
        status: axum::http::StatusCode::SERVICE_UNAVAILABLE,
        what: format!("case `{id}` is being changed just now"),
        next_step: "open the page again in a moment".to_owned(),
        link: address::of_case(id, "sign"),
        typed: Vec::new(),
    })
}

/// The page, or its twin.
pub async fn reply(
    workbench: &Workbench,
    id: &str,
    is_json: bool,
    query: &[(String, String)],
) -> Answer {
    let before = before(workbench, id).await?;
    if is_json {
        return Ok(Reply::Json(twin(&before)));
    }
    let done = address::value(query, "done");
    Ok(Reply::Page(page(workbench, &before, &Form::default(), None, done)))
}

/// The keys of `isobar sign`, `items` and the report that is shown.
fn twin(before: &Before) -> Value {
    let mut value =
        sign::as_json(&before.case.input.id, &before.state, &before.lines, &before.signatures);
    value["report_sha256"] = json!(before.report.sha256);
    value["report"] = json!(exact_file(before));
    value["items"] = items::as_json(&before.items);
    value["changes_not_reviewed"] = json!(before.changes.len());
    value
}

fn exact_file(before: &Before) -> String {
    address::of_case(&before.case.input.id, &format!("shown/{}.pdf", before.report.sha256))
}

/// A report that was shown, byte for byte.
pub fn shown_report(workbench: &Workbench, id: &str, sha256: &str) -> Answer {
    match workbench.server.shown_reports.find(id, sha256) {
        Some(report) => Ok(Reply::Download {
            name: format!("{id}-{}.pdf", &sha256[..sha256.len().min(12)]),
            kind: "application/pdf",
            bytes: report.bytes.to_vec(),
        }),
        None => Err(Reply::missing(
            "this report is not kept here any more",
            "open the page from which it is signed",
            address::of_case(id, "sign"),
        )),
    }
}

fn page(
    workbench: &Workbench,
    before: &Before,
    form: &Form,
    trouble: Option<&Trouble>,
    done: Option<&str>,
) -> Markup {
    let case = &before.case;
    let this = CasePage { case, step: Step::Report, has_plots: false, ladder_beside: false };
    let id = &case.input.id;
    let open: Vec<&OpenItem> = before.items.iter().filter(|item| item.settled.is_none()).collect();
    let content = html! {
        (form_view::done(done, &DONE))
        (form_view::trouble(trouble))
        section aria-labelledby="what" {
            h2 #what { "What is signed" }
            (what_is_signed(before))
        }
        section aria-labelledby="way" {
            h2 #way { "What stands in the way" }
            (in_the_way(before, &open))
        }
        section aria-labelledby="signatures" {
            h2 #signatures { "Signatures" }
            (signature_view::list(&before.signatures, &[]))
        }
        section aria-labelledby="sign" {
            h2 #sign { "Sign" }
            (sign_form(workbench, before, &open, form))
        }
        section aria-labelledby="items" {
            h2 #items { "Open items" }
            (items_view(workbench, id, &before.items))
        }
    };
    frame::case_page(workbench, &this, content)
}

fn what_is_signed(before: &Before) -> Markup {
    let input = &before.case.input;
    let claim = before.case.claim();
    let records: Vec<&str> = before.lines.lines().collect();
    html! {
        dl.facts {
            div { dt { "Case" } dd { (shown(&input.id)) ": " (shown(&input.title)) } }
            div { dt { "Claim" } dd {
                @match &claim.sentence {
                    Some(sentence) => { (shown(sentence)) }
                    None => { "none yet: the evidence does not carry one" }
                }
            } }
            div { dt { "Method" } dd {
                @match &before.case.method {
                    Some(method) => { "version " (method.version) }
                    None => { "none yet" }
                }
            } }
            div { dt { "Runs" } dd { (counted(before.case.runs.len(), "run")) } }
            div { dt { "State" } dd {
                "SHA-256 " code { (before.state) } ", over "
                (counted(records.len(), "record")) " and batches of runs"
            } }
            div { dt { "Report" } dd {
                "SHA-256 " code { (before.report.sha256) }
                br;
                a.download href=(exact_file(before)) { "Read the exact file that is signed (PDF)" }
            } }
        }
        details {
            summary { "The records that the signature covers" }
            pre tabindex="0" { code { @for line in &records { (shown(line)) "\n" } } }
        }
    }
}

fn in_the_way(before: &Before, open: &[&OpenItem]) -> Markup {
    let id = &before.case.input.id;
    let review_page = address::of_case(id, "review");
    html! {
        @if open.is_empty() && before.changes.is_empty() { p { "Nothing." } }
        ul {
            @if !open.is_empty() {
                li {
                    (counted(open.len(), "open item")) ", so nothing can be signed: "
                    a href="#items" { "settle them below" } "."
                }
            }
            @if !before.changes.is_empty() {
                li {
                    (counted(before.changes.len(), "change")) " of the case whose audit trail "
                    "nobody has reviewed; approval needs that. "
                    a href=(review_page) { "Review the changes" } "."
                }
            }
        }
    }
}

fn sign_form(workbench: &Workbench, before: &Before, open: &[&OpenItem], form: &Form) -> Markup {
    if !workbench.server.with_accounts {
        return html! {
            div.empty {
                p {
                    "A signature needs accounts, and this benchbook was begun without them: it is \
                     marked 'not for regulated use' for ever."
                }
                p.next { span { "Next" } " " a href="/people" { "see how one with accounts is begun" } }
            }
        };
    }
    if !open.is_empty() {
        return html! { p { "Settle the open items first." } };
    }
    let may: Vec<(&str, &str)> = Meaning::ALL
        .into_iter()
        .zip(MEANINGS)
        .filter(|(meaning, _)| workbench.may(action(*meaning)))
        .map(|(_, words)| words)
        .collect();
    // Somebody else may sign at this screen, with his own components.
    let choices = if may.is_empty() { &MEANINGS[..] } else { &may[..] };
    let own = workbench.visitor.account.as_ref().map_or("", |account| account.id.as_str());
    let account = form.given("account").unwrap_or_else(|| own.to_owned());
    let meaning = form.text("meaning");
    let filled = Form::of(&[("account", &account), ("meaning", &meaning)]);
    html! {
        @if may.is_empty() {
            p.quiet { "None of your roles signs. Somebody whose role does may sign here." }
        }
        (form_view::form(workbench, &address::of_case(&before.case.input.id, "sign"), "Sign", html! {
            (form_view::hidden("state_sha256", &before.state))
            (form_view::hidden("report_sha256", &before.report.sha256))
            (MEANING.choice("sign", &filled, choices))
            (ACCOUNT.line("sign", &filled))
            (PASSWORD.password("sign"))
        }))
        p.quiet {
            "The signature is bound to the state and to the report above. It cannot be moved to \
             another case, and a later change of this one makes it fall, visibly."
        }
    }
}

const fn action(meaning: Meaning) -> Action {
    match meaning {
        Meaning::Authored => Action::SignAuthored,
        Meaning::Reviewed => Action::SignReviewed,
        Meaning::Approved => Action::SignApproved,
    }
}

fn items_view(workbench: &Workbench, id: &str, items: &[OpenItem]) -> Markup {
    let here = address::of_case(id, "items");
    let may = workbench.may(Action::KeepOpenItems);
    html! {
        @if items.is_empty() { p { "None was noted." } }
        ol.open-items {
            @for item in items {
                li value=(item.number) {
                    p {
                        strong { @if item.settled.is_some() { "Settled" } @else { "Open" } }
                        ": " (shown(&item.text))
                        @if let Some(how) = &item.settled { span.quiet { " (" (shown(how)) ")" } }
                    }
                    @if may && item.settled.is_none() {
                        (form_view::form(workbench, &here, "Settle it", html! {
                            (form_view::hidden("doing", "settle"))
                            (form_view::hidden("number", &item.number.to_string()))
                            (HOW.line(&format!("settle-{}", item.number), &Form::default()))
                        }))
                    }
                }
            }
        }
        @if may {
            details {
                summary { "Note an open item" }
                (form_view::form(workbench, &here, "Note it", html! {
                    (form_view::hidden("doing", "note"))
                    (NOTE.line("note", &Form::default()))
                }))
            }
        }
    }
}

/// Signs, and leads back to the page.
pub async fn post(workbench: &Workbench, id: &str, form: &Form) -> Answer {
    match given(workbench, id, form).await {
        Ok(()) => Ok(Reply::Elsewhere(format!("{}?done=signed", address::of_case(id, "sign")))),
        Err(trouble) => refused(workbench, id, form, trouble).await,
    }
}

async fn refused(workbench: &Workbench, id: &str, form: &Form, trouble: Trouble) -> Answer {
    let before = before(workbench, id).await?;
    Err(Reply::PageWith {
        page: page(workbench, &before, form, Some(&trouble), None),
        status: trouble.status,
        error: trouble.what,
        hint: trouble.next_step,
    })
}

async fn given(workbench: &Workbench, id: &str, form: &Form) -> Result<(), Trouble> {
    let Some(meaning) = Meaning::from_word(&form.text("meaning")) else {
        return Err(Trouble::of_form("what the signature says is missing", "choose it below"));
    };
    let report = workbench.server.shown_reports.find(id, form.raw("report_sha256"));
    let Some(report) = report else {
        return Err(Trouble::of_form(
            "the report that was shown is not at hand any more",
            "read the one below, then sign it",
        ));
    };
    use sha2::Digest;
    let to_sign = ToSign {
        case_id: id,
        meaning,
        report_sha256: sha2::Sha256::digest(&report.bytes).into(),
        state_sha256: form.raw("state_sha256"),
        software: concat!("isobar ", env!("CARGO_PKG_VERSION")),
    };
    let server = &workbench.server;
    let key = keys::in_force(&server.benchbook)
        .await
        .map_err(|fault| Trouble::of_form(fault.message, fault.hint))?;
    let (account, at) = (form.text("account"), clock::moment());
    let signing =
        server.benchbook.sign(&to_sign, &account, form.raw("password"), key.as_ref(), &at);
    server.with_password(signing).await.map(drop).map_err(Trouble::from)
}

/// Notes or settles an open item.
pub async fn post_item(workbench: &Workbench, id: &str, form: &Form) -> Answer {
    let (book, at) = (&workbench.benchbook, clock::moment());
    let (done, written) = if form.raw("doing") == "settle" {
        let number = form.text("number").parse().unwrap_or(0);
        ("settled", book.settle_open_item(id, number, &form.text("how"), &at).await)
    } else {
        ("noted", book.note_open_item(id, &form.text("text"), &at).await.map(drop))
    };
    match written {
        Ok(()) => Ok(Reply::Elsewhere(format!("{}?done={done}", address::of_case(id, "sign")))),
        Err(error) => Err(Trouble::from(error).page(form)),
    }
}

/// Records a review of the audit trail.
pub async fn post_review(workbench: &Workbench, id: &str, form: &Form) -> Answer {
    let up_to = form.text("up_to").parse().unwrap_or(0);
    let finding = form.text("finding");
    let written =
        workbench.benchbook.record_audit_review(id, up_to, &finding, &clock::moment()).await;
    match written {
        Ok(_) => Ok(Reply::Elsewhere(format!("{}?done=reviewed", address::of_case(id, "sign")))),
        Err(error) => review::refused(workbench, id, form, error.into()).await,
    }
}
