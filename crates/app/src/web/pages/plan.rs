//! Plan: which units, how many, in which order; its criteria, its sheets, and
//! the chance that it shows what it must.

use benchbook::Action;
use maud::{Markup, html};
use serde_json::{Value, json};
use study::plan::{Plan, PlanSettings, blinding_codes, plan_runs};
use study::rehearsal::{Rehearsal, RehearsalSettings};
use study::{Case, Step};

use super::report::apart;
use super::without_traces;
use super::work::{self, Problem, whole};
use crate::clock;
use crate::commands::{labels, plan, rehearse};
use crate::fault::Fault;
use crate::web::address;
use crate::web::form::Form;
use crate::web::form_view::{self, Field};
use crate::web::frame::{self, CasePage};
use crate::web::notes_view::notes;
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::sheet::table;
use crate::web::standing::Standing;
use crate::web::wording::{counted, shown, three};
use crate::web::workbench::Workbench;

/// The settings of a plan: least and most of each.
const SETTINGS: [(Field<'_>, u32, u32); 13] = [
    (Field::needed("days", "Days", "Over which the runs are spread."), 1, 60),
    (Field::needed("operators", "Operators", "Among whom the runs are spread."), 1, 20),
    (Field::needed("rigs", "Rigs", "Among which the runs are spread."), 1, 20),
    (Field::needed("lots", "Lots", "From which the units come."), 1, 50),
    (Field::needed("blanks_per_day", "Blanks on each rig on each day", ""), 0, 50),
    (Field::needed("negative_controls", "Negative controls in all", ""), 0, 2000),
    (Field::needed("sizes", "Sizes of positive control over the transition", ""), 0, 50),
    (Field::needed("units_per_size", "Units of each of these sizes", ""), 0, 200),
    (Field::needed("units_per_large_size", "Units of each size above the transition", ""), 0, 200),
    (
        Field::needed(
            "units_per_liquid_size",
            "Units of each size whose leak the liquid covers",
            "Where the container holds liquid.",
        ),
        0,
        200,
    ),
    (
        Field::needed(
            "flow_levels",
            "Flows of the flow calibration above zero",
            "0 leaves it out.",
        ),
        0,
        20,
    ),
    (
        Field::needed(
            "challenges_per_flow",
            "Challenges at each flow",
            "And with the standard shut.",
        ),
        0,
        50,
    ),
    (Field::needed("seed", "Seed of the order and the codes", ""), 1, u32::MAX),
];
const DEFECTS: Field<'_> = Field::optional(
    "defects",
    "Types of defect",
    "Separated by commas, such as laser hole, capillary: the positive controls are spread among them.",
);
const AGES: Field<'_> = Field::optional(
    "ages_days",
    "Ages of aged controls",
    "Days since filling, separated by commas, such as 0, 30, 90: the same units are tested again, to \
     see whether leaks close. Empty leaves them out.",
);
const AGED: Field<'_> = Field::needed(
    "aged_units",
    "Aged controls with a leak",
    "Half as many without one go with them.",
);
/// Most ages of one plan.
const MOST_AGES: usize = 20;
const TIMES: Field<'_> =
    Field::needed("times", "How often", "From 100 to 2000; the more, the longer it takes.");
const REASON: Field<'_> =
    Field::optional("reason", "Reason", "Needed where the case is signed: its signatures fall.");
const DONE: [(&str, &str); 2] = [
    ("recorded", "The plan was recorded."),
    (
        "fixed",
        "Plan and criteria are fixed. Run sheet, labels and criteria are attached to the case.",
    ),
];

fn link(id: &str) -> String {
    address::of_case(id, "plan")
}

/// The page, or its twin.
pub async fn reply(
    workbench: &Workbench,
    id: &str,
    is_json: bool,
    query: &[(String, String)],
) -> Answer {
    let case = without_traces(workbench, id).await?;
    if is_json {
        return Ok(Reply::Json(twin(&case)));
    }
    let done = address::value(query, "done");
    Ok(Reply::Page(page(workbench, &case, &defaults(&case), None, done, None).await?))
}

fn defaults(case: &Case) -> Form {
    let usual = PlanSettings::for_profile(&case.input.profile);
    let texts = [
        usual.days,
        usual.operators,
        usual.rigs,
        usual.lots,
        usual.blanks_per_day,
        usual.negative_controls,
        usual.sizes,
        usual.units_per_size,
        usual.units_per_large_size,
        usual.units_per_liquid_size,
        usual.flow_levels,
        usual.challenges_per_flow,
        1,
    ]
    .map(|number| number.to_string());
    let mut fields: Vec<(&str, &str)> = SETTINGS
        .iter()
        .zip(&texts)
        .map(|((field, ..), text)| (field.name, text.as_str()))
        .collect();
    fields.extend([("times", "200"), ("aged_units", "10")]);
    Form::of(&fields)
}

fn twin(case: &Case) -> Value {
    let Some(plan) = &case.plan else {
        return json!({ "case": case.input.id, "runs": [], "criteria": [] });
    };
    let codes = blinding_codes(plan);
    json!({
        "case": case.input.id,
        "seed": plan.seed,
        // The key of the codes stands in a file of its own.
        "runs": plan.runs.iter().zip(&codes).map(|(run, code)| json!({
            "number": run.number, "day": run.day, "code": code,
            "operator": run.factors.operator, "rig": run.factors.rig, "lot": run.factors.lot,
        })).collect::<Value>(),
        "criteria": plan.criteria.iter().map(|one| json!({
            "code": one.code, "sentence": one.sentence,
        })).collect::<Value>(),
        "notes": crate::answer::notes_json(&plan.notes),
    })
}

async fn page(
    workbench: &Workbench,
    case: &Case,
    form: &Form,
    trouble: Option<&Trouble>,
    done: Option<&str>,
    rehearsal: Option<(&Rehearsal, usize)>,
) -> Result<Markup, Reply> {
    let id = &case.input.id;
    let this = CasePage { case, step: Step::Runs, has_plots: false, ladder_beside: false };
    let events =
        workbench.benchbook.history(Some(id)).await.map_err(|error| Reply::failed(&error))?;
    let content = html! {
        (form_view::done(done, &DONE))
        (form_view::trouble(trouble))
        @if Standing::of(&events).plan {
            p.behind role="note" {
                strong { "Behind." } " The profile or the forecast changed after this plan was made."
            }
        }
        @if let Some((found, n_runs)) = rehearsal { (rehearsal_view(found, n_runs)) }
        @match &case.plan {
            Some(plan) => { (plan_view(workbench, case, plan)) }
            None => {
                (frame::not_yet(
                    "No plan yet",
                    "A plan says which units are tested, how many and in which order, and fixes \
                     the criteria before the first run.",
                    None,
                ))
            }
        }
        @if case.forecast.is_none() {
            p.next {
                span { "Next" } " "
                a href=(address::of_case(id, "forecast")) { "a forecast comes first: it says which sizes are worth testing" }
            }
        } @else if workbench.may(Action::Work) {
            (forms(workbench, case, form))
        }
    };
    Ok(frame::case_page(workbench, &this, content))
}

fn plan_view(workbench: &Workbench, case: &Case, plan: &Plan) -> Markup {
    let id = &case.input.id;
    let days = plan.runs.iter().map(|run| run.day).max().unwrap_or(0);
    html! {
        p.lead {
            (counted(plan.runs.len(), "run")) " over " (counted(days as usize, "day"))
            ", in an order drawn with seed " (plan.seed) "."
        }
        (table("Units by kind, leak and size", &["Kind", "Leak", "Size, flow-equivalent", "#Runs"], &plan::counts(plan)))
        @let spread = plan::spread(plan);
        @if !spread.is_empty() {
            (table("Spread over the units", &["Factor", "Mark", "#Runs"], &spread))
        }
        @if !plan.criteria.is_empty() {
            section aria-labelledby="criteria" {
                h2 #criteria { "Acceptance criteria" }
                p { "They count only if they are fixed, dated and signed before the first run." }
                ol { @for one in &plan.criteria { li { (shown(&one.sentence)) } } }
            }
        }
        section aria-labelledby="sheets" {
            h2 #sheets { "Sheets" }
            ul {
                li { a.download href=(address::of_case(id, "run_sheet.csv")) { "Run sheet" } ": order, day, code, rig, operator and lot, for the analyst." }
                li { a.download href=(address::of_case(id, "labels.html")) { "Labels" } ": a code for every unit, and nothing of what it is." }
                @if may_see_key(workbench) {
                    li { a.download href=(address::of_case(id, "key.csv")) { "Key" } ": which unit each code is. Keep it away from the analyst." }
                } @else {
                    li { "Key: kept away from analysts; a reviewer or the owner opens it." }
                }
                li { a.download href=(address::of_case(id, "criteria.txt")) { "Criteria" } ": to be dated before the first run." }
            }
        }
        (notes("Notes", &plan.notes))
    }
}

/// Whoever tests must not know what is tested.
fn may_see_key(workbench: &Workbench) -> bool {
    let account = workbench.visitor.account.as_ref();
    account.is_none_or(|account| !account.roles.contains(&benchbook::Role::Analyst))
}

/// A sheet of the plan as a file.
pub async fn sheet(workbench: &Workbench, id: &str, name: &str) -> Answer {
    let case = without_traces(workbench, id).await?;
    let Some(made) = &case.plan else {
        return Err(Reply::missing("this case has no plan yet", "make one", link(id)));
    };
    let codes = blinding_codes(made);
    let (kind, text) = match name {
        "run_sheet.csv" => ("text/csv; charset=utf-8", plan::run_sheet(made, &codes)),
        "key.csv" if !may_see_key(workbench) => {
            return Err(Reply::Denied {
                status: axum::http::StatusCode::FORBIDDEN,
                what: "the key is kept away from analysts: whoever tests must not know what is \
                       tested"
                    .to_owned(),
                next_step: "ask a reviewer or the owner".to_owned(),
                link: link(id),
                typed: Vec::new(),
            });
        }
        "key.csv" => ("text/csv; charset=utf-8", plan::key(made, &codes)),
        "labels.html" => {
            let page = labels::page(&case.input.id, case.input.invented, made, &codes);
            ("text/html; charset=utf-8", page)
        }
        _ => {
            let moment = crate::clock::moment();
            let text = plan::criteria_text(&case.input, made, &moment.utc, false);
            ("text/plain; charset=utf-8", text)
        }
    };
    Ok(Reply::Download { name: format!("{id}-{name}"), kind, bytes: text.into_bytes() })
}

fn forms(workbench: &Workbench, case: &Case, form: &Form) -> Markup {
    let here = link(&case.input.id);
    let is_again = case.plan.is_some();
    html! {
        section.work aria-labelledby="make" {
            h2 #make { "Plan the study" @if is_again { " again" } }
            form.entry method="post" action=(here) {
                (form_view::token(workbench))
                div.grid-fields {
                    @for (field, least, most) in &SETTINGS { (field.whole("plan", form, *least, *most)) }
                }
                (DEFECTS.line("plan", form))
                (AGES.line("plan", form))
                (AGED.whole("plan", form, 0, 500))
                @if is_again { (REASON.line("plan", form)) }
                p.send {
                    button type="submit" name="doing" value="record" { "Record this plan" }
                    @if case.runs.is_empty() {
                        " "
                        button.plain type="submit" name="doing" value="fix" { "Record and fix it" }
                    }
                }
                @if case.runs.is_empty() {
                    p.quiet {
                        "Fixed means: before the first run, with its moment in the audit trail, and with \
                         run sheet, labels and criteria attached as they stand."
                    }
                }
                h3 { "Rehearse it first" }
                p {
                    "The study is done on paper with these numbers, again and again: what is the \
                     chance that it shows what it must? Nothing is recorded."
                }
                (TIMES.whole("plan", form, 100, 2000))
                p.send {
                    button.plain type="submit" name="doing" value="rehearse" { "Rehearse" }
                }
            }
        }
    }
}

fn settings(form: &Form) -> Result<PlanSettings, Trouble> {
    let mut read = [0_u32; 13];
    for (place, (field, least, most)) in read.iter_mut().zip(&SETTINGS) {
        *place = whole(form, field, *least, *most)?;
    }
    let ages_days = ages(form)?;
    let [days, operators, rigs, lots, blanks, negatives, ..] = read;
    let [.., sizes, per_size, per_large, per_liquid, levels, challenges, seed] = read;
    Ok(PlanSettings {
        seed: u64::from(seed),
        days,
        operators,
        rigs,
        lots,
        blanks_per_day: blanks,
        negative_controls: negatives,
        sizes,
        units_per_size: per_size,
        units_per_large_size: per_large,
        units_per_liquid_size: per_liquid,
        defects: plan::kinds(
            &form.text("defects").split(',').map(str::to_owned).collect::<Vec<_>>(),
        ),
        flow_levels: levels,
        challenges_per_flow: challenges,
        aged_units: if ages_days.is_empty() { 0 } else { whole(form, &AGED, 1, 500)? },
        ages_days,
    })
}

fn ages(form: &Form) -> Result<Vec<u32>, Trouble> {
    let text = form.text(AGES.name);
    let parts: Vec<&str> = text.split(',').map(str::trim).filter(|part| !part.is_empty()).collect();
    let ages: Result<Vec<u32>, _> = parts.iter().map(|part| part.parse()).collect();
    ages.ok().filter(|ages| ages.len() <= MOST_AGES).ok_or_else(|| {
        Trouble::of_form(
            format!("`{text}` are no ages in whole days"),
            format!("write up to {MOST_AGES} of them with commas between, such as 0, 30, 90"),
        )
    })
}

/// Records a plan, or rehearses it.
pub async fn post(workbench: &Workbench, id: &str, form: &Form) -> Answer {
    if !workbench.may(Action::Work) {
        return Err(work::not_allowed(form));
    }
    match done(workbench, id, form).await {
        Ok(reply) => Ok(reply),
        Err(Problem::Reply(reply)) => Err(reply),
        Err(Problem::Trouble(trouble)) => {
            let case = without_traces(workbench, id).await?;
            Err(Reply::PageWith {
                page: page(workbench, &case, form, Some(&trouble), None, None).await?,
                status: trouble.status,
                error: trouble.what,
                hint: trouble.next_step,
            })
        }
    }
}

async fn done(workbench: &Workbench, id: &str, form: &Form) -> Result<Reply, Problem> {
    let settings = settings(form)?;
    let before = work::n_changes(workbench, id).await?;
    let case = without_traces(workbench, id).await?;
    let Some(forecast) = case.forecast.clone() else {
        return Err(Trouble::of_form("the case has no forecast yet", "forecast it first").into());
    };
    // The hints of the command speak of its options.
    settings.check(&case.input.profile).map_err(|problem| {
        Trouble::of_form(problem.to_string(), "change the numbers of units and plan again")
    })?;
    let made = plan_runs(&case.input, &forecast, &settings);
    if made.runs.is_empty() {
        let next = "ask for blanks, negative controls or positive controls";
        return Err(Trouble::of_form("this plan has no runs", next).into());
    }
    if form.raw("doing") == "rehearse" {
        let times = whole(form, &TIMES, 100, 2000)? as usize;
        let rehearsal = RehearsalSettings { seed: settings.seed, n: times };
        let n_runs = made.runs.len();
        let found = {
            let input = case.input.clone();
            let _turn = workbench.server.long_work.acquire().await;
            apart(move || study::rehearse(&input, &forecast, &made, &rehearsal, &|_, _| {})).await?
        };
        let found = found.map_err(|error| {
            let next = "check the rig, the headspace and the cycle of the case";
            Trouble::of_form(error.to_string(), next)
        })?;
        let shown = page(workbench, &case, form, None, None, Some((&found, n_runs))).await?;
        return Ok(Reply::PageAndTwin {
            page: shown,
            twin: rehearse::json_of(&case.input, n_runs, &found),
        });
    }
    let _change = workbench.server.one_change.lock().await;
    work::still(workbench, id, before).await?;
    let book = workbench.benchbook.because(&form.text("reason"));
    if form.raw("doing") == "fix" {
        // The hint of the command speaks of its options.
        let next = "plan a new study as a case of its own";
        let refused = |fault: Fault| Trouble::of_form(fault.message, next);
        plan::refuse_after_the_first_run(&case).map_err(refused)?;
        let codes = blinding_codes(&made);
        let papers = plan::papers(&case.input, &made, &codes, &clock::moment().utc, true);
        plan::fix(&book, id, None, &made, &papers).await?;
        return Ok(Reply::Elsewhere(format!("{}?done=fixed", link(id))));
    }
    book.record_plan(id, &made, &clock::moment()).await?;
    Ok(Reply::Elsewhere(format!("{}?done=recorded", link(id))))
}

fn percent(share: f64) -> String {
    report::number::percent(share, 1)
}

fn rehearsal_view(found: &Rehearsal, n_runs: usize) -> Markup {
    let criteria: Vec<Vec<String>> = found
        .chances
        .iter()
        .map(|one| {
            vec![
                shown(&one.criterion.sentence),
                percent(one.probability_met),
                rehearse::interval(one.probability_met, found.n),
            ]
        })
        .collect();
    let variants: Vec<Vec<String>> = found
        .variants
        .iter()
        .map(|one| {
            vec![
                shown(&one.change),
                one.runs.to_string(),
                percent(one.probability_all_met),
                rehearse::interval(one.probability_all_met, found.n),
                percent(one.limit_holds),
            ]
        })
        .collect();
    let spread = |values: Option<[f64; 3]>, unit: &str| {
        values.map_or_else(
            || "none".to_owned(),
            |[low, middle, high]| {
                format!("{} {unit} (90 % of them {} to {})", three(middle), three(low), three(high))
            },
        )
    };
    html! {
        section.answer aria-label="Rehearsal" {
            p.label { "The study of " (counted(n_runs, "run")) ", done " (found.n) " times on paper" }
            p.big { "Every criterion met in " (percent(found.probability_all_met)) }
            p {
                "95 % interval " (rehearse::interval(found.probability_all_met, found.n))
                ", from " (found.n) " rehearsals."
            }
            p { "Reject limit to expect: " (spread(found.limit_pa, "Pa")) "." }
            p { "Limit holds for other days, lots and rigs: " (percent(found.limit_holds)) "." }
            p { "Detection bound to expect: " (spread(found.bound_um, "µm flow-equivalent")) "." }
            p {
                "Detection bound from the readings: " (percent(found.bound_by_readings))
                "; without any: " (percent(found.without_bound)) "."
            }
        }
        (table("Each criterion", &["Criterion", "#Met in", "#95 % interval"], &criteria))
        (table(
            "Which part is more or less than is needed",
            &["Part", "Judged by", "#Half", "#As planned", "#Twice", "Verdict"],
            &rehearse::parts_rows(found),
        ))
        (table(
            "The same study with other numbers",
            &["Change", "#Runs", "#All met in", "#95 % interval", "#Limit holds for others in"],
            &variants,
        ))
        (notes("Notes of the rehearsal", &found.notes))
    }
}
