//! A new case: from a container of a list, a worked case, or a case file.

use axum::http::StatusCode;
use benchbook::Action;
use intake::case_file::read_case;
use maud::{Markup, html};
use serde_json::{Value, json};
use study::profile::UseOfTest;
use study::{CaseInput, container_presets, worked_cases};

use crate::clock;
use crate::commands::begin::{self, Begin};
use crate::web::address;
use crate::web::form::Form;
use crate::web::form_view::{self, Field};
use crate::web::frame::{self, Page};
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::wording::{plain, shown};
use crate::web::workbench::Workbench;

const START: Field<'_> = Field::needed(
    "start",
    "Container",
    "Dimensions of standards are from memory: check them against the edition you hold.",
);
const ID: Field<'_> = Field::needed(
    "id",
    "Short name of the case",
    "Letters, digits, - _ and . It stands in addresses and names of files.",
);
const PRODUCT: Field<'_> = Field::needed("product", "Product", "In plain words.");
const FILLING: Field<'_> =
    Field::needed("filling", "Filling", "A liquid in the leak decides what a vacuum test can see.");
const FILL: Field<'_> = Field::optional("fill", "Volume of the filling", "Such as 5mL.");
const GAS: Field<'_> = Field::needed("gas", "Gas of the headspace", "");
const PRESSURE: Field<'_> = Field::needed(
    "headspace_pressure",
    "Pressure of the headspace",
    "Absolute, such as 1atm or 300mbar.",
);
const HEADSPACE: Field<'_> = Field::optional(
    "headspace",
    "Volume of the headspace",
    "Where it is known; otherwise what the filling leaves. Syringes and cartridges need it.",
);
const USE: Field<'_> = Field::needed("use", "Where the test is used", "");
const LEAK: Field<'_> = Field::optional(
    "leak",
    "The leak that matters",
    "Flow-equivalent diameter, such as 5um, where somebody has said it.",
);
const WORKED: Field<'_> = Field::needed("worked", "Worked case", "Invented, and marked so.");
const TEXT: Field<'_> =
    Field::needed("text", "Case file (TOML)", "As the command line reads and writes it.");

/// The page, or its twin.
pub fn reply(workbench: &Workbench, is_json: bool) -> Reply {
    if is_json {
        return Reply::Json(twin());
    }
    let form = Form::of(&[
        ("product", ""),
        ("gas", "air"),
        ("headspace_pressure", "1atm"),
        ("filling", "liquid"),
        ("use", UseOfTest::Development.word()),
    ]);
    Reply::Page(page(workbench, &form, None))
}

fn twin() -> Value {
    json!({
        "containers": container_presets::all().iter().map(begin::container).collect::<Value>(),
        "worked_cases": worked_cases::all().iter().map(|case| json!({
            "case": case.id, "title": case.title, "question": case.question,
        })).collect::<Value>(),
    })
}

fn page(workbench: &Workbench, form: &Form, trouble: Option<&Trouble>) -> Markup {
    let facts =
        Page { title: "New case", twin: "/new.json".to_owned(), has_plots: false, open: "Cases" };
    let body = html! {
        (frame::page_head(
            "New case",
            "A case begins with a container and what is in it. Rig and cycle come as working \
             values, marked as assumed, until yours stand in their place; what is missing is \
             listed, and nothing is guessed silently.",
        ))
        (form_view::trouble(trouble))
        @if workbench.may(Action::Work) { (forms(workbench, form)) }
        @else { p { "Cases are begun by an analyst; your account is none." } }
    };
    frame::page(workbench, &facts, body)
}

fn forms(workbench: &Workbench, form: &Form) -> Markup {
    let presets = container_presets::all();
    let containers: Vec<(String, String)> = presets
        .iter()
        .map(|preset| {
            let words =
                format!("{}: {} mL, {}", preset.name, plain(preset.nominal_ml), preset.description);
            (preset.name.to_owned(), words)
        })
        .collect();
    let containers: Vec<(&str, &str)> =
        containers.iter().map(|(name, words)| (name.as_str(), words.as_str())).collect();
    let gases: Vec<(&str, &str)> =
        study::gases::Gas::ALL.iter().map(|gas| (gas.name(), gas.name())).collect();
    let uses: Vec<(&str, &str)> =
        UseOfTest::ALL.iter().map(|one| (one.word(), one.word())).collect();
    let worked = worked_cases::all();
    let worked: Vec<(&str, &str)> =
        worked.iter().map(|case| (case.id.as_str(), case.title.as_str())).collect();
    html! {
        section aria-labelledby="container" {
            h2 #container { "From a container" }
            (form_view::form(workbench, "/new", "Begin the case", html! {
                (form_view::hidden("from", "container"))
                (START.choice("new", form, &containers))
                (ID.line("new", form))
                (PRODUCT.line("new", form))
                (FILLING.choice("new", form, &[("liquid", "liquid"), ("dry", "dry")]))
                (FILL.line("new", form))
                p.tick {
                    label {
                        input type="checkbox" name="may_plug" value="yes"
                            checked[form.given("may_plug").is_some()];
                        " Dried product may close a leak"
                    }
                }
                (GAS.choice("new", form, &gases))
                (PRESSURE.line("new", form))
                (HEADSPACE.line("new", form))
                (LEAK.line("new", form))
                (USE.choice("new", form, &uses))
            }))
        }
        details open[form.raw("from") == "worked"] {
            summary { "From a worked case" }
            (form_view::form(workbench, "/new", "Add the worked case", html! {
                (form_view::hidden("from", "worked"))
                (WORKED.choice("worked", form, &worked))
            }))
        }
        details open[form.raw("from") == "text"] {
            summary { "From a case file" }
            (form_view::form(workbench, "/new", "Add the case", html! {
                (form_view::hidden("from", "text"))
                (TEXT.lines("file", form))
            }))
        }
        p { a href="/bring-in" { "From another benchbook" } ": a case with everything it holds." }
    }
}

/// Begins a case.
pub async fn post(workbench: &Workbench, form: &Form) -> Answer {
    let refused = |trouble: Trouble| Reply::PageWith {
        page: page(workbench, form, Some(&trouble)),
        status: trouble.status,
        error: trouble.what,
        hint: trouble.next_step,
    };
    let input = input_of(form).map_err(refused)?;
    match workbench.benchbook.add_case(&input, &clock::moment()).await {
        Ok(()) => {
            Ok(Reply::Elsewhere(format!("{}?done=begun", address::of_case(&input.id, "profile"))))
        }
        Err(error) => Err(refused(Trouble::from(error))),
    }
}

fn input_of(form: &Form) -> Result<CaseInput, Trouble> {
    if form.raw("from") == "text" {
        return read_case(form.raw("text")).map(|file| file.input).map_err(|refusal| {
            let said = refusal.messages().iter().filter(|message| message.is_refusal());
            let said: Vec<String> = said.take(8).map(|m| m.to_string()).collect();
            Trouble::of_form(
                format!("the case file cannot be read: {}", said.join(" ").trim_end_matches('.')),
                "mend the lines that are named",
            )
        });
    }
    let is_worked = form.raw("from") == "worked";
    let start = form.text(if is_worked { "worked" } else { "start" });
    let is_known = match is_worked {
        true => worked_cases::all().iter().any(|case| case.id == start),
        false => container_presets::find(&start).is_some(),
    };
    if !is_known {
        return Err(Trouble {
            status: StatusCode::UNPROCESSABLE_ENTITY,
            ..Trouble::of_form(
                format!("`{}` is not in the list", shown(&start)),
                "choose one of it",
            )
        });
    }
    let begin = Begin {
        id: form.given("id"),
        product: form.given("product").unwrap_or_else(|| "product to be named".to_owned()),
        fill: form.given("fill"),
        liquid: form.raw("filling") == "liquid",
        dry: form.raw("filling") == "dry",
        may_plug: form.given("may_plug").is_some(),
        gas: form.text("gas"),
        headspace_pressure: form.text("headspace_pressure"),
        headspace: form.given("headspace"),
        use_of_test: form.text("use"),
        leak: form.given("leak"),
        ..Begin::default()
    };
    begin::case(&begin, &start).map_err(|fault| {
        let hint = match fault.hint.contains("--") {
            true => "state the filling, its volume and the headspace".to_owned(),
            false => fault.hint,
        };
        Trouble::of_form(fault.message, hint)
    })
}
