//! Settings of the results: what another content, confidence or link would make
//! of the same runs, side by side; and recorded, with the reason.

use maud::{Markup, html};
use serde_json::{Value, json};
use study::quantities::Probability;
use study::results::{Link, evaluate_with};
use study::{Case, CaseInput, Results, Step};

use super::report::apart;
use super::without_traces;
use super::work::{self, Problem};
use crate::answer::optional;
use crate::clock;
use crate::web::address;
use crate::web::form::Form;
use crate::web::form_view::{self, Field};
use crate::web::frame::{self, CasePage};
use crate::web::notes_view::notes;
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::sheet::table;
use crate::web::wording::{plain, three_or};
use crate::web::workbench::Workbench;

const REJECTED: Field<'_> = Field::needed(
    "rejected_percent",
    "Good units that may be rejected (%)",
    "The rest is the content of the reject limit. It stands in the profile.",
);
const CONFIDENCE: Field<'_> =
    Field::needed("confidence_percent", "Confidence (%)", "It stands in the profile.");
const LINK: Field<'_> = Field::needed("link", "Link of the curve of detection", "");
const REASON: Field<'_> = Field::optional(
    "reason",
    "Reason",
    "Needed to record it. A setting chosen after the results were seen has to say so.",
);

const LINKS: [(Link, &str); 3] =
    [(Link::Logit, "logit"), (Link::Probit, "probit"), (Link::Cloglog, "complementary log-log")];

fn link(id: &str) -> String {
    address::of_case(id, "results")
}

/// The link of the recorded results; the logit where there are none.
pub fn link_of(case: &Case) -> Link {
    let recorded = case.results.as_ref().and_then(|results| results.detection.as_ref());
    recorded.and_then(|found| link_named(&found.link)).unwrap_or(Link::Logit)
}

fn link_named(word: &str) -> Option<Link> {
    LINKS.into_iter().find(|(_, name)| *name == word).map(|(link, _)| link)
}

/// Settings as the form shows them.
fn as_stands(case: &Case) -> Form {
    let purpose = &case.input.profile.purpose;
    Form::of(&[
        ("rejected_percent", &plain(purpose.tolerable_false_reject.percent())),
        ("confidence_percent", &plain(purpose.confidence.percent())),
        ("link", link_of(case).word()),
    ])
}

/// The form below the results.
pub fn form(workbench: &Workbench, case: &Case) -> Markup {
    if case.results.is_none() {
        return html! {};
    }
    form_of(workbench, case, &as_stands(case))
}

fn form_of(workbench: &Workbench, case: &Case, form: &Form) -> Markup {
    let links: Vec<(&str, &str)> = LINKS.iter().map(|(_, word)| (*word, *word)).collect();
    html! {
        section.work aria-labelledby="settings" {
            h2 #settings { "Settings of these results" }
            p {
                "See first what another setting makes of the same runs; recorded, it changes the \
                 profile and the results together, with its reason."
            }
            form.entry method="post" action=(link(&case.input.id)) {
                (form_view::token(workbench))
                div.grid-fields {
                    (REJECTED.line("settings", form))
                    (CONFIDENCE.line("settings", form))
                    (LINK.choice("settings", form, &links))
                }
                (REASON.line("settings", form))
                p.send {
                    button type="submit" name="doing" value="try" { "See what changes" }
                    " "
                    button.plain type="submit" name="doing" value="record" { "Record these settings" }
                }
            }
        }
    }
}

/// A share in percent; the number as it stands where its text was left alone.
fn share(form: &Form, field: &Field<'_>, stands: Probability) -> Result<Probability, Trouble> {
    let text = form.text(field.name);
    if text == plain(stands.percent()) {
        return Ok(stands);
    }
    let value: Option<f64> = text.replace(',', ".").parse().ok();
    let value = value.filter(|value| *value > 0.0 && *value < 100.0);
    value.and_then(|value| Probability::new(value / 100.0)).ok_or_else(|| {
        Trouble::of_form(
            format!("{}: `{text}` is no share between 0 and 100", field.label),
            "write it in percent, such as 0.1 or 95",
        )
    })
}

fn settings(form: &Form, case: &Case) -> Result<(CaseInput, Link), Trouble> {
    let mut input = case.input.clone();
    let purpose = &mut input.profile.purpose;
    purpose.tolerable_false_reject = share(form, &REJECTED, purpose.tolerable_false_reject)?;
    purpose.confidence = share(form, &CONFIDENCE, purpose.confidence)?;
    let link = link_named(form.raw("link")).ok_or_else(|| {
        Trouble::of_form("the link is none of the list", "choose one of the list")
    })?;
    Ok((input, link))
}

/// Shows what settings change, or records them.
pub async fn post(workbench: &Workbench, id: &str, form: &Form) -> Answer {
    if !workbench.may(benchbook::Action::Work) {
        return Err(work::not_allowed(form));
    }
    match done(workbench, id, form).await {
        Ok(reply) => Ok(reply),
        Err(Problem::Reply(reply)) => Err(reply),
        Err(Problem::Trouble(trouble)) => {
            let case = without_traces(workbench, id).await?;
            let content = html! {
                (form_view::trouble(Some(&trouble)))
                (form_of(workbench, &case, form))
            };
            Err(Reply::PageWith {
                page: page(workbench, &case, content),
                status: trouble.status,
                error: trouble.what,
                hint: trouble.next_step,
            })
        }
    }
}

fn page(workbench: &Workbench, case: &Case, content: Markup) -> Markup {
    let this = CasePage { case, step: Step::Results, has_plots: false, ladder_beside: true };
    frame::case_page(workbench, &this, content)
}

async fn done(workbench: &Workbench, id: &str, form: &Form) -> Result<Reply, Problem> {
    let before = work::n_changes(workbench, id).await?;
    let case = without_traces(workbench, id).await?;
    let (Some(method), Some(recorded)) = (case.method.clone(), case.results.clone()) else {
        return Err(Trouble::of_form("the case has no results yet", "work them out first").into());
    };
    let (input, link) = settings(form, &case)?;
    let found = {
        let (input, runs) = (input.clone(), case.runs.clone());
        let _turn = workbench.server.long_work.acquire().await;
        apart(move || evaluate_with(&input, &method, &runs, link)).await?
    };
    let mut with = case.clone();
    with.input = input;
    with.results = Some(found);
    if form.raw("doing") != "record" {
        let twin = json!({
            "case": id,
            "recorded": figures(&case).into_iter().map(|(name, _, value)| (name.to_owned(), optional(value))).collect::<Value>(),
            "with": figures(&with).into_iter().map(|(name, _, value)| (name.to_owned(), optional(value))).collect::<Value>(),
            "claim_with": with.claim().sentence,
        });
        let content = html! { (comparison(&case, &with)) (form_of(workbench, &case, form)) };
        return Ok(Reply::PageAndTwin { page: page(workbench, &with, content), twin });
    }
    let Some(reason) = form.given("reason") else {
        let open = Trouble::of_form("another setting has a reason", "say why in the field Reason");
        return Err(open.into());
    };
    let results = with.results.as_ref().unwrap_or(&recorded);
    if with.input == case.input && *results == recorded {
        let next = "change a setting first";
        return Err(Trouble::of_form("these settings are those of the results", next).into());
    }
    let _change = workbench.server.one_change.lock().await;
    work::still(workbench, id, before).await?;
    let book = workbench.benchbook.because(&reason);
    if with.input != case.input {
        book.record_input(&with.input, &clock::moment()).await?;
    }
    book.record_results(id, results, &clock::moment()).await?;
    Ok(Reply::Elsewhere(format!("{}?done=recorded", self::link(id))))
}

/// What a setting can change, with its unit.
fn figures(case: &Case) -> Vec<(&'static str, &'static str, Option<f64>)> {
    let limit = case.results.as_ref().and_then(|results| results.reject_limit.as_ref());
    let found = case.results.as_ref().and_then(|results| results.detection.as_ref());
    vec![
        ("Content", "%", limit.map(|limit| limit.content * 100.0)),
        ("Confidence", "%", limit.map(|limit| limit.confidence * 100.0)),
        ("Reject limit", "Pa", limit.map(|limit| limit.limit_pa)),
        ("Tolerance factor", "", limit.map(|limit| limit.factor)),
        ("Found with probability 0.5 (a50)", "µm", found.and_then(|found| found.a50_um)),
        ("Found with probability 0.9 (a90)", "µm", found.and_then(|found| found.a90_um)),
        (
            // Its confidence is a setting itself, and stands above.
            "Upper bound on a90 at that confidence",
            "µm",
            found.and_then(|found| found.a90_95_um),
        ),
        ("Size of the claim", "µm", case.claim().size_um),
        ("Detection that is claimed", "%", case.claim().probability.map(|p| p * 100.0)),
    ]
}

fn comparison(case: &Case, with: &Case) -> Markup {
    let word = |value: Option<f64>, unit: &str| match unit {
        "%" => value.map_or_else(|| "none".to_owned(), plain),
        _ => three_or(value, "none"),
    };
    let rows: Vec<Vec<String>> = figures(case)
        .into_iter()
        .zip(figures(with))
        .map(|((name, unit, recorded), (_, _, new))| {
            let name = if unit.is_empty() { name.to_owned() } else { format!("{name} ({unit})") };
            let differs = if word(recorded, unit) == word(new, unit) { "same" } else { "differs" };
            vec![name, word(recorded, unit), word(new, unit), differs.to_owned()]
        })
        .collect();
    let link = |case: &Case| link_of(case).word();
    html! {
        section.answer aria-label="What the settings change" {
            p.label { "With these settings; nothing is recorded yet" }
            @match with.claim().sentence {
                Some(sentence) => p.claim { (sentence) },
                None => p.big { "no claim is carried" },
            }
            @if link(case) != link(with) {
                p { "Link: " (link(case)) " as recorded, " strong { (link(with)) } " here." }
            }
        }
        (table("The same runs with other settings", &["Figure", "#Recorded", "#With these", "It"], &rows))
        (notes("Notes with these settings", results_notes(with.results.as_ref())))
    }
}

fn results_notes(results: Option<&Results>) -> &[study::Note] {
    results.map_or(&[], |results| results.notes.as_slice())
}
