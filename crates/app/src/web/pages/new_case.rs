//! A new case: from a container of a list, a worked case, or a case file.

use axum::http::StatusCode;
use benchbook::Action;
use intake::case_file::read_case;
use maud::{Markup, html};
use serde_json::{Value, json};
use study::profile::UseOfTest;
use study::{CaseInput, container_presets, worked_cases};

use crate::clock;
use crate::commands::begin::{self, Begin, HeadspaceArgs, PurposeArgs, StorageArgs};
use crate::web::address;
use crate::web::case_fields::sources;
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
const POPULATION: Field<'_> = Field::optional(
    "population",
    "Units of which the answer is to speak",
    "Such as: every unit of a lot, samples of a stability study, one unit that came back.",
);
const DECISION: Field<'_> = Field::optional(
    "decision",
    "What hangs on one result",
    "Such as: the unit is discarded, the lot is held.",
);
const FALSE_REJECTS: Field<'_> = Field::needed(
    "false_rejects",
    "Good units that may be rejected",
    "A share, such as 0.1%: the fewer, the higher the limit and the larger the smallest leak found.",
);
const DETECTION: Field<'_> = Field::needed(
    "detection",
    "Probability with which the leak that matters must be found",
    "A share, such as 95%. What a study proves is for 90 %, and says so where more is asked.",
);
const CONFIDENCE: Field<'_> =
    Field::needed("confidence", "Confidence with which both are to be shown", "Such as 95%.");
const CLOSURE: Field<'_> =
    Field::optional("closure", "Closure", "In plain words, such as bromobutyl stopper, crimped.");
const PRESSURE_U: Field<'_> = Field::optional(
    "pressure_uncertainty",
    "Standard uncertainty of the pressure",
    "With its unit, such as 15mbar.",
);
const VOLUME_U: Field<'_> = Field::optional(
    "volume_uncertainty",
    "Standard uncertainty of the volume",
    "With its unit, such as 0.2mL, where the volume is stated.",
);
const AGE: Field<'_> = Field::optional(
    "headspace_age",
    "Age: time from sealing to the test",
    "Such as 14d. A vacuum fills and a gas changes in that time: state what holds at this age.",
);
const KNOWN: Field<'_> =
    Field::optional("headspace_known", "How pressure and volume are known", "");
const FROM: Field<'_> =
    Field::optional("headspace_from", "From what", "Document, certificate, sample or formula.");
const LEAK: Field<'_> = Field::optional(
    "leak",
    "The leak that matters",
    "Flow-equivalent diameter, such as 5um, where somebody has said it.",
);
const BECAUSE: Field<'_> = Field::optional("leak_because", "Why that leak matters", "");
const LEAK_FROM: Field<'_> = Field::optional("leak_from", "Who or what said so", "");
const SHELF_LIFE: Field<'_> =
    Field::optional("shelf_life", "Time from sealing to expiry", "Such as 730d.");
const STORE: Field<'_> = Field::optional("store", "Temperature of the store", "Otherwise 25C.");
const AT_EXPIRY: Field<'_> = Field::optional(
    "pressure_at_expiry",
    "Highest pressure of the headspace at expiry",
    "Absolute, such as 500mbar.",
);
const OXYGEN: Field<'_> =
    Field::optional("oxygen", "Most oxygen in the headspace at expiry", "Such as 2%.");
const MOISTURE: Field<'_> = Field::optional("moisture", "Most water taken up", "Such as 1mg.");
const LOSS: Field<'_> =
    Field::optional("liquid_loss", "Most liquid lost as vapour", "Such as 50mg.");
/// Questions of which each yes is a risk that dried product closes a leak.
const PLUGGING: [(&str, &str); 3] = [
    ("may_plug", "It holds protein, sugar, salt or another solid that stays when it dries"),
    ("plug_wetted", "It wets the places where a leak may sit, in storage or on the way"),
    ("plug_aged", "Units are tested long after filling, so that a leak had time to dry"),
];
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
        ("false_rejects", "0.1%"),
        ("detection", "95%"),
        ("confidence", "95%"),
        ("headspace_known", "assumed"),
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
            "A case begins with what the test is for, then with a container and what is in it. Rig \
             and cycle come as working values, marked as assumed, until yours stand in their place; what is missing is \
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
    let known: Vec<(&str, &str)> = sources().into_iter().map(|word| (word, word)).collect();
    let worked = worked_cases::all();
    let worked: Vec<(&str, &str)> =
        worked.iter().map(|case| (case.id.as_str(), case.title.as_str())).collect();
    html! {
        section aria-labelledby="container" {
            h2 #container { "From a container" }
            (form_view::form(workbench, "/new", "Begin the case", html! {
                (form_view::hidden("from", "container"))
                (form_view::group("What the test is for", None, html! {
                    (USE.choice("new", form, &uses))
                    (POPULATION.line("new", form))
                    (DECISION.line("new", form))
                    (FALSE_REJECTS.line("new", form))
                    (DETECTION.line("new", form))
                    (CONFIDENCE.line("new", form))
                }))
                (form_view::group("Container and closure", None, html! {
                    (START.choice("new", form, &containers))
                    (CLOSURE.line("new", form))
                    (ID.line("new", form))
                }))
                (form_view::group("Product", None, html! {
                    (PRODUCT.line("new", form))
                    (FILLING.choice("new", form, &[("liquid", "liquid"), ("dry", "dry")]))
                    (FILL.line("new", form))
                    (plugging(form))
                }))
                (form_view::group("Headspace", None, html! {
                    (GAS.choice("new", form, &gases))
                    (PRESSURE.line("new", form))
                    (PRESSURE_U.line("new", form))
                    (HEADSPACE.line("new", form))
                    (VOLUME_U.line("new", form))
                    (AGE.line("new", form))
                    (KNOWN.choice("new", form, &known))
                    (FROM.line("new", form))
                }))
                (form_view::group("The leak that matters", Some("May stay empty: the routes to it stand on the \
                        page of the profile."), html! {
                    (LEAK.line("new", form))
                    (BECAUSE.line("new", form))
                    (LEAK_FROM.line("new", form))
                }))
                (form_view::group("Storage", Some("May stay empty as a whole. Each budget becomes a route to \
                        the leak that matters."), html! {
                    (SHELF_LIFE.line("new", form))
                    (STORE.line("new", form))
                    (AT_EXPIRY.line("new", form))
                    (OXYGEN.line("new", form))
                    (MOISTURE.line("new", form))
                    (LOSS.line("new", form))
                }))
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

/// What decides whether dried product may close a leak.
fn plugging(form: &Form) -> Markup {
    html! {
        fieldset.field {
            legend { "Can it plug a leak?" }
            p.quiet.hint { "Any yes counts: no vacuum test sees a leak that is closed." }
            @for (name, words) in PLUGGING {
                p.tick {
                    label {
                        input type="checkbox" name=(name) value="yes" checked[form.given(name).is_some()];
                        " " (words)
                    }
                }
            }
        }
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
        may_plug: PLUGGING.iter().any(|(name, _)| form.given(name).is_some()),
        purpose: PurposeArgs {
            use_of_test: form.text("use"),
            population: form.given("population"),
            decision: form.given("decision"),
            false_rejects: form.given("false_rejects"),
            detection: form.given("detection"),
            confidence: form.given("confidence"),
        },
        closure: form.given("closure"),
        headspace: HeadspaceArgs {
            gas: form.text("gas"),
            headspace_pressure: form.text("headspace_pressure"),
            pressure_uncertainty: form.given("pressure_uncertainty"),
            headspace: form.given("headspace"),
            volume_uncertainty: form.given("volume_uncertainty"),
            headspace_age: form.given("headspace_age"),
            // Assumed is how it stands anyway.
            headspace_known: form.given("headspace_known").filter(|known| known != "assumed"),
            headspace_from: form.given("headspace_from"),
        },
        leak: form.given("leak"),
        leak_because: form.given("leak_because"),
        leak_from: form.given("leak_from"),
        storage: StorageArgs {
            shelf_life: form.given("shelf_life"),
            store: form.given("store"),
            pressure_at_expiry: form.given("pressure_at_expiry"),
            oxygen: form.given("oxygen"),
            moisture: form.given("moisture"),
            liquid_loss: form.given("liquid_loss"),
        },
        ..Begin::default()
    };
    begin::case(&begin, &start).map_err(|fault| {
        let hint = match fault.hint.contains("--") {
            true => {
                "state the filling, its volume, the headspace, and the shelf life with a budget"
                    .to_owned()
            }
            false => fault.hint,
        };
        Trouble::of_form(fault.message, hint)
    })
}
