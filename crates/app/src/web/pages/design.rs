//! Design: time against smallest leak, the settings that still work, the
//! checks, and the parameter sheet of a cycle that can be adopted.
//!
//! A search takes seconds, so it is begun by a form and what it found is kept
//! for a while: the page, its twin and the adoption see the same search.

use std::sync::{Arc, Mutex};

use benchbook::Action;
use maud::{Markup, PreEscaped, html};
use physics::quantities::Volume;
use report::figure::{Axis, Dash, Figure, Ink, Layer, Marker, Pen, Shape};
use serde_json::{Value, json};
use study::design::{AcceptableRanges, Design, DesignSettings, FixtureSearch, design_fixtures};
use study::method_choice::choose;
use study::{Case, CaseInput, Step};

use super::report::apart;
use super::{known_case, without_traces};
use crate::commands::design::{adopt, design_json, fixture_rows, fixture_words, in_words, taken};
use crate::digest::sha256;
use crate::web::form::Form;
use crate::web::form_view::{self, Field};
use crate::web::frame::{self, CasePage};
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::sheet::table;
use crate::web::wording::{shown, three, three_or};
use crate::web::workbench::Workbench;
use crate::web::{address, notes_view};

const UP_TO: Field<'_> = Field::needed(
    "up_to_um",
    "Find without a gap up to (µm)",
    "Every leak from the one that matters to this size, flow-equivalent.",
);
const LONGEST: Field<'_> = Field::needed(
    "longest_s",
    "Longest cycle (s)",
    "Cycles that take a tight unit longer are not considered.",
);
const SHARE: Field<'_> = Field::needed(
    "share_percent",
    "Share of the draws in which it must work (%)",
    "The draws vary volume, headspace, pump and background within their uncertainty.",
);
const VOLUMES: Field<'_> = Field::optional(
    "free_volumes_ml",
    "Free volumes to choose from (mL)",
    "Up to eight, separated by commas, such as 10, 20, 40; without them, the one of the rig.",
);
/// Fields of the search.
const ASKED: [Field<'_>; 4] = [UP_TO, LONGEST, SHARE, VOLUMES];
const TAKE: Field<'_> = Field::needed("take", "Cycle", "");
const REASON: Field<'_> =
    Field::optional("reason", "Why it is changed", "It stands in the audit trail.");

const DONE: [(&str, &str); 1] = [(
    "adopted",
    "The cycle was adopted: the next version of the method is in force, with the forecast that \
     belongs to it.",
)];

/// Searches that are kept: those of the last few cases looked at.
const KEPT: usize = 8;
static LATELY: Mutex<Vec<(String, Arc<FixtureSearch>)>> = Mutex::new(Vec::new());

/// What is to be searched.
#[derive(Debug, Clone, Default)]
struct Asked {
    settings: DesignSettings,
    free_volumes_ml: Vec<f64>,
}

/// What stands in a form or an address; none where nothing does.
fn asked(get: &dyn Fn(&str) -> Option<String>) -> Result<Option<Asked>, Trouble> {
    let mut settings = DesignSettings::default();
    let mut any = false;
    let mut number = |field: &Field<'_>, low: f64, high: f64| {
        let Some(text) = get(field.name) else { return Ok(None) };
        any = true;
        let value = text.trim().parse::<f64>().ok().filter(|v| (low..=high).contains(v));
        value.map(Some).ok_or_else(|| {
            Trouble::of_form(
                format!("{}: `{text}` is not a number from {low} to {high}", field.label),
                "correct it and search again",
            )
        })
    };
    if let Some(value) = number(&UP_TO, 1.0, 500.0)? {
        settings.up_to_um = value;
    }
    if let Some(value) = number(&LONGEST, 6.0, 3600.0)? {
        settings.longest_s = value;
    }
    if let Some(value) = number(&SHARE, 1.0, 100.0)? {
        settings.required_share = value / 100.0;
    }
    let mut free_volumes_ml = Vec::new();
    for text in get(VOLUMES.name).iter().flat_map(|text| text.split(',')) {
        let text = text.trim();
        if text.is_empty() {
            continue;
        }
        any = true;
        free_volumes_ml.push(text.parse::<f64>().ok().filter(|ml| *ml > 0.0).ok_or_else(|| {
            Trouble::of_form(
                format!("{}: `{text}` is not a number above zero", VOLUMES.label),
                "separate the volumes by commas, with a point for decimals, and search again",
            )
        })?);
    }
    Ok(any.then_some(Asked { settings, free_volumes_ml }))
}

/// What the search finds, or found a moment ago.
async fn searched(input: &CaseInput, asked: Asked) -> Result<Arc<FixtureSearch>, Trouble> {
    let text = format!("{}\n{asked:?}", intake::case_file::write_case(input));
    let key = sha256(text.as_bytes());
    let lately = || LATELY.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    if let Some((_, found)) = lately().iter().find(|(of, _)| *of == key) {
        return Ok(Arc::clone(found));
    }
    let case = input.clone();
    let made = apart(move || {
        let volumes: Vec<Volume> =
            asked.free_volumes_ml.iter().map(|ml| Volume::from_m3(ml * 1.0e-6)).collect();
        design_fixtures(&case, &asked.settings, &volumes, &|_, _| {})
    })
    .await;
    let found = match made {
        Ok(Ok(found)) => Arc::new(found),
        Ok(Err(error)) => {
            let next = "check the rig, the headspace and the numbers of the search";
            return Err(Trouble::of_form(error.to_string(), next));
        }
        Err(_) => {
            return Err(Trouble::of_form("the search did not end", "search again"));
        }
    };
    let mut kept = lately();
    kept.insert(0, (key, Arc::clone(&found)));
    kept.truncate(KEPT);
    Ok(found)
}

/// The page, or its twin.
pub async fn reply(
    workbench: &Workbench,
    id: &str,
    is_json: bool,
    query: &[(String, String)],
) -> Answer {
    let case = without_traces(workbench, id).await?;
    let asked = match asked(&|name| address::value(query, name).map(str::to_owned)) {
        Ok(asked) => asked,
        Err(trouble) => return Err(refused(workbench, &case, query, trouble)),
    };
    let Some(asked) = asked.or(is_json.then(Asked::default)) else {
        let shown = View { query, found: None, trouble: None };
        return Ok(Reply::Page(page(workbench, &case, &shown)));
    };
    match searched(&case.input, asked).await {
        Ok(found) if is_json => Ok(Reply::Json(twin(&case, &found))),
        Ok(found) => {
            let shown = View { query, found: Some(&found), trouble: None };
            Ok(Reply::Page(page(workbench, &case, &shown)))
        }
        Err(trouble) => Err(refused(workbench, &case, query, trouble)),
    }
}

/// The keys of `isobar design`.
fn twin(case: &Case, found: &FixtureSearch) -> Value {
    let mut value = design_json(found);
    value["version_in_force"] = json!(case.method.as_ref().map(|method| method.version));
    value["adopted_version"] = Value::Null;
    value
}

/// Adopts a cycle of the front as the next version of the method.
pub async fn post(workbench: &Workbench, id: &str, form: &Form) -> Answer {
    known_case(workbench, id).await?;
    let case = without_traces(workbench, id).await?;
    let query: Vec<(String, String)> = ASKED
        .iter()
        .filter_map(|field| Some((field.name.to_owned(), form.given(field.name)?)))
        .collect();
    match adopted(workbench, &case, &query, form).await {
        Ok(()) => Ok(Reply::Elsewhere(format!("{}?done=adopted", address::of_case(id, "design")))),
        Err(trouble) => Err(refused(workbench, &case, &query, trouble)),
    }
}

async fn adopted(
    workbench: &Workbench,
    case: &Case,
    query: &[(String, String)],
    form: &Form,
) -> Result<(), Trouble> {
    let get = |name: &str| address::value(query, name).map(str::to_owned);
    let found = searched(&case.input, asked(&get)?.unwrap_or_default()).await?;
    let place = form.raw(TAKE.name).parse::<usize>().ok().and_then(|n| n.checked_sub(1));
    let choice = {
        let method = case.method.clone();
        let found = Arc::clone(&found);
        apart(move || {
            let best = found.best();
            taken(&best.input, method.as_ref(), &best.design, place)
        })
        .await
    };
    let choice = match choice {
        Ok(Ok(choice)) => choice,
        Ok(Err(fault)) => return Err(Trouble::of_form(fault.message, "choose another cycle")),
        Err(_) => return Err(Trouble::of_form("the forecast did not end", "try it again")),
    };
    let book = workbench.benchbook.because(&form.text(REASON.name));
    let _one = workbench.server.one_change.lock().await;
    adopt(&book, &choice).await.map_err(Trouble::from)
}

fn refused(
    workbench: &Workbench,
    case: &Case,
    query: &[(String, String)],
    trouble: Trouble,
) -> Reply {
    let shown = View { query, found: None, trouble: Some(&trouble) };
    Reply::PageWith {
        page: page(workbench, case, &shown),
        status: trouble.status,
        error: trouble.what,
        hint: trouble.next_step,
    }
}

/// What is to be seen beside the case.
struct View<'a> {
    query: &'a [(String, String)],
    found: Option<&'a FixtureSearch>,
    trouble: Option<&'a Trouble>,
}

fn page(workbench: &Workbench, case: &Case, view: &View<'_>) -> Markup {
    let this = CasePage { case, step: Step::Method, has_plots: false, ladder_beside: false };
    let content = html! {
        (form_view::done(address::value(view.query, "done"), &DONE))
        (form_view::trouble(view.trouble))
        section aria-labelledby="search" {
            h2 #search { "Search the cycle" }
            p {
                "Which pressures, times and early tiers find the leak that matters in the least \
                 time? Every cycle of one to three tiers is considered; the quickest are tried on \
                 draws of the uncertain inputs. A search takes some seconds, and changes nothing."
            }
            @match &case.method {
                Some(method) => p {
                    "In force: version " (method.version) ", "
                    (in_words(&method.cycle)) " (to, evacuate+settle+measure)."
                },
                None => p { "No method is in force yet." },
            }
            (search_form(case, view.query))
        }
        @if let Some(found) = view.found { (answer(workbench, case, view.query, found)) }
        p.next {
            span { "Next" } " "
            a href=(address::of_case(&case.input.id, "method")) { "back to the method in force" }
        }
    };
    frame::case_page(workbench, &this, content)
}

/// The settings of the search; sent by GET, because it changes nothing.
fn search_form(case: &Case, query: &[(String, String)]) -> Markup {
    let usual = DesignSettings::default();
    let filled = |field: &Field<'_>, usual: f64| {
        address::value(query, field.name).map_or_else(|| usual.to_string(), str::to_owned)
    };
    let (up_to, longest, share) = (
        filled(&UP_TO, usual.up_to_um),
        filled(&LONGEST, usual.longest_s),
        filled(&SHARE, 100.0 * usual.required_share),
    );
    let form = Form::of(&[
        (UP_TO.name, up_to.as_str()),
        (LONGEST.name, longest.as_str()),
        (SHARE.name, share.as_str()),
        (VOLUMES.name, address::value(query, VOLUMES.name).unwrap_or_default()),
    ]);
    html! {
        form.entry method="get" action=(address::of_case(&case.input.id, "design")) {
            (UP_TO.line("search", &form))
            (LONGEST.line("search", &form))
            (SHARE.line("search", &form))
            (VOLUMES.line("search", &form))
            p.send { button type="submit" { "Search" } }
        }
    }
}

fn answer(
    workbench: &Workbench,
    case: &Case,
    query: &[(String, String)],
    searched: &FixtureSearch,
) -> Markup {
    let (input, found) = (&searched.best().input, &searched.best().design);
    let figure = front_figure(found);
    html! {
        (verdict(found))
        @if searched.tried.len() > 1 { (fixtures(searched)) }
        @if !found.front.is_empty() {
            figure.plot {
                div.plot-still {
                    @match report::figure::svg(&figure) {
                        Ok(svg) => (PreEscaped(svg)),
                        Err(error) => p { "This figure cannot be drawn: " (error.to_string()) "." },
                    }
                }
                figcaption { strong { (figure.title) "." } " " (figure.caption) }
            }
            details {
                summary { "The front as numbers" }
                (front_table(found))
            }
        }
        @if let Some(ranges) = &found.ranges { (map(input, found, ranges)) }
        @if !found.checks.is_empty() { (checks(found)) }
        (sheet(case, input, found))
        (notes_view::notes("Notes", &found.notes))
        @if workbench.may(Action::Work) && !found.front.is_empty() {
            (adoption(workbench, case, query, found))
        }
        p.quiet {
            "Seed " (found.seed) ", " (found.n_draws) " draws over the uncertain inputs, "
            (report::number::count(found.n_considered as u64)) " cycles considered."
        }
    }
}

/// Free volumes that were tried, side by side.
fn fixtures(searched: &FixtureSearch) -> Markup {
    html! {
        section aria-labelledby="fixtures" {
            h2 #fixtures { "Free volumes tried" }
            p {
                "The search was done for each. Chosen is the one with the quickest cycle; of \
                 equally quick ones the roomiest, because it is the easier to make. All that \
                 follows is for the chosen one."
            }
            (table(
                "Free volumes with their quickest cycle",
                &[
                    "Choice",
                    "#Free volume (mL)",
                    "#Time (s)",
                    "#Smallest (µm)",
                    "#Finest possible (µm)",
                ],
                &fixture_rows(searched),
            ))
        }
    }
}

fn verdict(found: &Design) -> Markup {
    let class = if found.chosen.is_some() { "answer answer-yes" } else { "answer answer-no" };
    html! {
        section class=(class) aria-label="Chosen cycle" {
            p.label { "Which cycle finds it in the least time?" }
            @match found.chosen_candidate() {
                Some(chosen) => {
                    p.big { (three(chosen.tight_time_s)) " s" }
                    p {
                        (in_words(&chosen.cycle)) " (to, evacuate+settle+measure): finds from "
                        (three_or(chosen.smallest_um, "no")) " µm on"
                        @if let Some(share) = chosen.share_of_draws {
                            ", and the leak that matters with every larger one in "
                            (report::number::percent(share, 0)) " of the draws"
                        }
                        "."
                    }
                }
                None => {
                    p.big { "none" }
                    p { "No cycle considered finds the leak that matters in enough of the draws; \
                         the notes say what would help." }
                }
            }
        }
    }
}

fn front_figure(found: &Design) -> Figure {
    let points: Vec<(f64, f64)> =
        found.front.iter().filter_map(|one| Some((one.tight_time_s, one.smallest_um?))).collect();
    let (x, y): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    let longest = x.iter().copied().fold(1.0, f64::max);
    let sizes = y.iter().copied().chain(found.target_um);
    let (low, high) =
        sizes.fold((f64::INFINITY, 0.0_f64), |(low, high), um| (low.min(um), high.max(um)));
    let mut figure = Figure::new(
        "design-front",
        "Time of a cycle against smallest detectable leak",
        Axis::linear("Time of a tight unit", "s", 0.0, 1.05 * longest),
        Axis::logarithmic("Smallest detectable leak, flow-equivalent", "µm", 0.7 * low, 1.4 * high),
    )
    .described(
        "Each point is a cycle of which none other is both quicker and finer. The one with the ring \
         is chosen: the quickest that finds the leak that matters in enough of the draws.",
        format!("{} cycles from {} s on.", found.front.len(), three(x.first().copied().unwrap_or(0.0))),
    )
    .with(Layer::new(
        "front",
        Shape::Steps { x: x.clone(), y: y.clone(), pen: Pen::new(Ink::Slate, Dash::Solid) },
    ))
    .with(Layer::new("cycles", Shape::Points { x, y, marker: Marker::Disc, ink: Ink::Slate }));
    if let Some(target) = found.target_um {
        let pen = Pen::new(Ink::Plum, Dash::Dashed);
        figure =
            figure.with(Layer::new("leak that matters", Shape::HorizontalRule { at: target, pen }));
    }
    if let Some((time, um)) =
        found.chosen_candidate().and_then(|one| Some((one.tight_time_s, one.smallest_um?)))
    {
        figure = figure.with(Layer::new(
            "chosen",
            Shape::Points { x: vec![time], y: vec![um], marker: Marker::Ring, ink: Ink::Black },
        ));
    }
    figure
}

fn front_table(found: &Design) -> Markup {
    let rows: Vec<Vec<String>> = found
        .front
        .iter()
        .enumerate()
        .map(|(index, one)| {
            let largest = one.largest_um.map_or_else(
                || "none".to_owned(),
                |um| format!("{}{}", if one.largest_beyond { "over " } else { "" }, three(um)),
            );
            vec![
                (index + 1).to_string(),
                three(one.tight_time_s),
                three_or(one.smallest_um, "none"),
                largest,
                one.share_of_draws.map_or_else(
                    || "not tried".to_owned(),
                    |share| report::number::percent(share, 0),
                ),
                if found.chosen == Some(index) { "chosen" } else { "" }.to_owned(),
                in_words(&one.cycle),
            ]
        })
        .collect();
    table(
        "Cycles of the front, the quickest first",
        &["#No.", "#Time (s)", "#Smallest (µm)", "#To (µm)", "#Of draws", "Choice", "Tiers"],
        &rows,
    )
}

/// Settling and measuring times that still work, as a map of the draws.
fn map(input: &CaseInput, found: &Design, ranges: &AcceptableRanges) -> Markup {
    let last = found.chosen_candidate().and_then(|chosen| chosen.cycle.tiers.last());
    let chosen = last.map(|last| (last.tier.settle.s(), last.tier.measure.s()));
    let class = |share: f64| {
        if share >= ranges.required_share {
            "works"
        } else if share >= 0.05 {
            "partly"
        } else {
            "never"
        }
    };
    let is_chosen = |settle: f64, measure: f64| {
        chosen.is_some_and(|(s, m)| (s - settle).abs() < 1e-9 && (m - measure).abs() < 1e-9)
    };
    let range = |range: Option<(f64, f64)>| {
        range.map_or_else(
            || "only as chosen".to_owned(),
            |(low, high)| format!("{} to {} s", three(low), three(high)),
        )
    };
    html! {
        section aria-labelledby="map" {
            h2 #map { "Settings that still work" }
            p {
                "Share of the draws, in percent, in which the leak that matters and every larger \
                 one is found, by the times of the last tier. Framed and filled: "
                (report::number::percent(ranges.required_share, 0))
                " or more, the region that works; dashed: sometimes; plain: hardly ever. The cell \
                 in the heavy frame is chosen."
            }
            div.scroll tabindex="0" role="region" aria-label="Map of settling and measuring times" {
                table.map {
                    caption { "Settle (s, down) and measure (s, across), share of the draws in percent" }
                    thead { tr {
                        th scope="col" { "settle" }
                        @for measure in &ranges.measures_s { th scope="col" { (three(*measure)) } }
                    } }
                    tbody {
                        @for (settle, shares) in ranges.settles_s.iter().zip(&ranges.share) {
                            tr {
                                th scope="row" { (three(*settle)) }
                                @for (measure, share) in ranges.measures_s.iter().zip(shares) {
                                    @let here = is_chosen(*settle, *measure);
                                    td class={ (class(*share)) @if here { " chosen" } } {
                                        (format!("{:.0}", 100.0 * share))
                                        @if here { span.quiet { " chosen" } }
                                    }
                                }
                            }
                        }
                    }
                }
            }
            @if let Some((settle, measure)) = chosen {
                p {
                    "One at a time about the chosen cycle: settle "
                    (range(ranges.settle_range_s(settle, measure))) ", measure "
                    (range(ranges.measure_range_s(settle, measure))) "."
                    @if let Some(words) = fixture_words(input, found) {
                        " The fixture may leave a free volume of " (words) "."
                    }
                }
            }
        }
    }
}

fn checks(found: &Design) -> Markup {
    let rows: Vec<Vec<String>> = found
        .checks
        .iter()
        .map(|check| {
            vec![shown(&check.subject), check.outcome.word().to_owned(), shown(&check.finding)]
        })
        .collect();
    html! {
        section {
            h2 { "Checks" }
            (table("Checks beside detection", &["Subject", "Outcome", "Finding"], &rows))
        }
    }
}

/// Every number of the chosen method with its reason.
fn sheet(case: &Case, input: &CaseInput, found: &Design) -> Markup {
    let choice = found.chosen.map(|place| choose(input, case.method.as_ref(), found, place));
    html! {
        @match choice {
            None => {}
            Some(Err(error)) => p { "No parameter sheet: " (shown(&error.to_string())) "." },
            Some(Ok(choice)) => {
                section {
                    h2 { "Parameter sheet" }
                    p { "As version " (choice.method.version) " of the method, if it is adopted." }
                    (table(
                        "Every number and its reason",
                        &["Parameter", "Value", "Reason"],
                        &choice
                            .method
                            .reasons
                            .iter()
                            .map(|one| {
                                vec![
                                    shown(&one.parameter),
                                    shown(&one.value),
                                    shown(&one.reason),
                                ]
                            })
                            .collect::<Vec<_>>(),
                    ))
                }
            }
        }
    }
}

fn adoption(
    workbench: &Workbench,
    case: &Case,
    query: &[(String, String)],
    found: &Design,
) -> Markup {
    let choices: Vec<(String, String)> = found
        .front
        .iter()
        .enumerate()
        .map(|(index, one)| {
            let words = format!(
                "{}: {} s, from {} µm{}",
                index + 1,
                three(one.tight_time_s),
                three_or(one.smallest_um, "none"),
                if found.chosen == Some(index) { ", chosen" } else { "" }
            );
            ((index + 1).to_string(), words)
        })
        .collect();
    let choices: Vec<(&str, &str)> =
        choices.iter().map(|(value, words)| (value.as_str(), words.as_str())).collect();
    let first = found.chosen.map_or_else(|| "1".to_owned(), |place| (place + 1).to_string());
    let form = Form::of(&[(TAKE.name, first.as_str())]);
    let action = address::of_case(&case.input.id, "design");
    html! {
        section aria-labelledby="adopt" {
            h2 #adopt { "Adopt a cycle" }
            p { "It becomes the next version of the method, and the case takes its cycle and \
                 forecast. Runs that were done before stay with the version under which they were \
                 done." }
            (form_view::form(workbench, &action, "Adopt it", html! {
                @for field in ASKED {
                    @if let Some(value) = address::value(query, field.name) {
                        (form_view::hidden(field.name, value))
                    }
                }
                (TAKE.choice("adopt", &form, &choices))
                (REASON.line("adopt", &form))
            }))
        }
    }
}
