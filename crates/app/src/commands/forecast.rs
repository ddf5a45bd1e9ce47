//! `isobar forecast`: what vacuum decay can see in a case.

use std::path::PathBuf;

use clap::Args;
use serde_json::{Value, json};
use study::forecast::{
    Edge, FalseRejects, Forecast, ForecastSettings, LiquidSide, PassStatement, SimulatedTrials,
    TrialSettings, Unknown, simulated_trials,
};
use study::{Case, CaseInput};

use super::files;
use crate::answer::{Answer, number, optional};
use crate::fault::Fault;
use crate::forecast_answer;
use crate::table_text::{digits, pairs, paragraph, plain, table};

/// What vacuum decay can see in a case.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar forecast examples/lyophilised_vial.toml
  isobar forecast examples/liquid_vial.toml --trials 20000

With --trials, so many tests are simulated, each with a leak and with inputs of its own: the curve over
all that may be true of rig and container, and not of one of them.")]
pub struct ForecastCase {
    /// Case file (TOML).
    case: PathBuf,
    /// Seed of the draws over the uncertain inputs.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Number of draws over the uncertain inputs.
    #[arg(long, default_value_t = 128)]
    draws: usize,
    /// Number of tests to simulate for the curve over all uncertain inputs.
    #[arg(long, value_name = "N")]
    trials: Option<usize>,
}

/// Reads a case file; every mistake in it is listed at once.
pub fn read_case(path: &std::path::Path) -> Result<CaseInput, Fault> {
    let text = files::read_text(path)?;
    intake::case_file::read_case(&text).map(|file| file.input).map_err(|refusal| {
        Fault::users(
            format!("`{}` cannot be used as a case", path.display()),
            "mend the lines that are named; `isobar demo` writes example case files",
        )
        .with_details(refusal.messages().iter().map(ToString::to_string).collect())
    })
}

/// Runs the command.
pub fn run(command: &ForecastCase) -> Result<Answer, Fault> {
    let input = read_case(&command.case)?;
    let settings =
        ForecastSettings { seed: command.seed, n_draws: command.draws, ..Default::default() };
    let forecast = forecast_with_bar(&input, &settings)?;
    let mut case = Case::begin(input);
    case.forecast = Some(forecast);
    let Some(forecast) = &case.forecast else {
        return Err(Fault::ours("the forecast was lost"));
    };
    let mut text = text(&case, forecast);
    let mut answer = forecast_answer::forecast_json(&case, forecast);
    if let Some(n) = command.trials {
        let settings = TrialSettings::around(forecast, command.seed, n);
        let found = simulated_trials(&case.input, forecast, &settings).map_err(|error| {
            Fault::users(error.to_string(), "ask for at least 100 tests, such as --trials 20000")
        })?;
        text.push_str(&trials_text(&found));
        answer["trials"] = trials_json(&found);
    }
    Ok(Answer::new(text, answer, case.forecast_notes()))
}

fn trials_text(found: &SimulatedTrials) -> String {
    let size = |um: Option<f64>| {
        um.map_or("cannot be said".to_owned(), |um| format!("{} µm", digits(um, 3)))
    };
    format!(
        "\nSimulated tests, each with its own leak and its own inputs:\n{}",
        pairs(&[
            (
                "tests",
                format!(
                    "{} from {} to {} µm, {} found",
                    found.settings.n,
                    digits(found.settings.smallest_um, 3),
                    digits(found.settings.largest_um, 3),
                    found.found
                )
            ),
            ("found with probability 0.5", size(found.a50_um)),
            ("found with probability 0.9", size(found.a90_um)),
            (
                "found with the probability asked for",
                format!("{} ({} asked)", size(found.asked_um), found.asked),
            ),
        ])
    )
}

fn trials_json(found: &SimulatedTrials) -> Value {
    json!({
        "n": found.settings.n, "smallest_um": number(found.settings.smallest_um),
        "largest_um": number(found.settings.largest_um), "found": found.found,
        "a50_um": optional(found.a50_um), "a90_um": optional(found.a90_um),
        "a90_95_um": optional(found.a90_95_um),
        "asked_probability": number(found.asked), "asked_um": optional(found.asked_um),
    })
}

/// Forecasts with a progress bar.
pub fn forecast_with_bar(
    input: &CaseInput,
    settings: &ForecastSettings,
) -> Result<Forecast, Fault> {
    let bar = crate::progress::bar(&format!("forecast {}", input.id), settings.n_draws + 1);
    let forecast = study::forecast(input, settings, &|done, _| bar.set_position(done as u64))
        .map_err(|error| {
            Fault::users(
                format!("case `{}`: {error}", input.id),
                "check the rig, the headspace and the cycle of the case",
            )
        });
    bar.finish_and_clear();
    forecast
}

fn unknowns(unknowns: &[Unknown]) -> String {
    let rows: Vec<Vec<String>> = unknowns
        .iter()
        .filter(|unknown| unknown.share.abs() >= 0.005)
        .map(|unknown| {
            let said = if unknown.uncertainty_stated { "" } else { " (not stated)" };
            vec![
                unknown.input.clone(),
                unknown.origin.word().to_owned(),
                format!("{} %{said}", digits(unknown.relative_sd * 100.0, 2)),
                format!("{:+.1} %", unknown.change_of_smallest * 100.0),
                format!("{:.0} %", unknown.share * 100.0),
                format!("{:.0} %", unknown.width_if_known * 100.0),
            ]
        })
        .collect();
    table(
        &["input", "value is", "uncertainty", "changes it by", "share", "interval left if known"],
        &rows,
    )
}

fn liquid_side(found: &LiquidSide) -> String {
    let rows: Vec<Vec<String>> = found
        .points
        .iter()
        .step_by(4)
        .map(|point| {
            vec![
                digits(point.bore_um, 3),
                if point.runs { "liquid runs" } else { "holds" }.to_owned(),
                crate::table_text::digits_or_dash(point.rise_pa, 3),
                format!("{:.3}", point.probability),
            ]
        })
        .collect();
    let mut text = format!("\nUnder the liquid ({}; true bores through the wall):\n", found.liquid);
    text.push_str(&pairs(&liquid_figures(found)));
    if rows.is_empty() {
        text.push_str("not claimed: the chamber stays above the vapour pressure\n");
        return text;
    }
    text.push_str(&table(&["µm bore", "state", "rise Pa", "detected"], &rows));
    if let Some(spread) = found.spread.as_ref().filter(|spread| !spread.unknowns.is_empty()) {
        text.push_str("\nWhat moves the smallest bore:\n");
        text.push_str(&unknowns(&spread.unknowns));
    }
    text
}

fn liquid_figures(found: &LiquidSide) -> Vec<(&'static str, String)> {
    let spread = found.spread.as_ref();
    let with = |value: Option<f64>, unit: &str, interval: Option<(f64, f64)>| {
        let Some(value) = value else { return "none".to_owned() };
        let interval = interval.map_or_else(String::new, |(low, high)| {
            format!(" (90 % interval {} to {})", digits(low, 3), digits(high, 3))
        });
        format!("{} {unit}{interval}", digits(value, 3))
    };
    let over = found.chamber_pa / found.vapour_pressure_pa;
    vec![
        ("held back below", with(Some(found.opens_um), "µm", spread.map(|spread| spread.opens_um))),
        (
            "smallest bore found",
            with(found.smallest_um, "µm", spread.and_then(|spread| spread.smallest_um)),
        ),
        (
            "chamber over vapour pressure",
            with(Some(over), "", spread.map(|spread| spread.chamber_over_vapour))
                .replace("  ", " "),
        ),
        (
            "boils in",
            spread.map_or_else(
                || "not drawn".to_owned(),
                |spread| format!("{:.0} % of the draws", 100.0 * spread.share_that_boils),
            ),
        ),
    ]
}

/// How many tight units are rejected, in percent.
fn rejected(rejects: &FalseRejects) -> String {
    let percent = |share: f64| digits(100.0 * share, 3);
    format!(
        "{} % (90 % interval {} to {} %; tolerable {} %)",
        percent(rejects.probability),
        percent(rejects.low),
        percent(rejects.high),
        percent(rejects.tolerable)
    )
}

/// What a pass says, and what it leaves open.
fn pass(said: &PassStatement) -> String {
    let mut text = String::from("\n");
    let mut says = said.says.clone();
    if let Some(first) = says.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    text.push_str(&paragraph(&format!("{says}."), 0));
    if !said.leaves_open.is_empty() {
        text.push_str("It leaves open:\n");
    }
    for open in &said.leaves_open {
        text.push_str(&paragraph(&format!("- {open}"), 2));
    }
    text
}

/// The forecast as text.
pub fn text(case: &Case, forecast: &Forecast) -> String {
    let input = &case.input;
    let mut text = format!("{} ({})\n{}\n\n", input.title, input.id, input.question);
    if input.invented {
        text.push_str("Invented scenario: no figure is of a real product.\n\n");
    }
    text.push_str(&format!(
        "Answer: {}: {}.\n\n",
        forecast.verdict.answer.word(),
        forecast.verdict.because
    ));
    let edge = |edge: Option<Edge>| match edge {
        None => "none".to_owned(),
        Some(edge) if edge.beyond_range => {
            format!("at least {} µm (end of the forecast range)", digits(edge.um, 3))
        }
        Some(edge) => format!(
            "{} µm (90 % interval {} to {})",
            digits(edge.um, 3),
            digits(edge.low_um, 3),
            digits(edge.high_um, 3)
        ),
    };
    let mut figures = vec![
        (
            "detection asked for",
            format!("{} %", plain(input.profile.purpose.required_detection.percent(), 9)),
        ),
        ("smallest detectable, flow-equivalent", edge(forecast.window.smallest)),
        ("largest detectable, flow-equivalent", edge(forecast.window.largest)),
        (
            "missed in between",
            match (forecast.blind_gap_um, forecast.window.smallest) {
                (Some((from, to)), _) => format!("{} to {} µm", digits(from, 3), digits(to, 3)),
                (None, Some(_)) => "nothing up to the end of the range".to_owned(),
                (None, None) => "there is no window".to_owned(),
            },
        ),
        (
            "rise of a tight unit",
            format!(
                "{} Pa, standard deviation {} Pa",
                digits(forecast.tight_rise_pa, 3),
                digits(forecast.tight_rise_sd_pa, 3)
            ),
        ),
        ("rise limit", format!("{} Pa", digits(forecast.rise_limit_pa, 3))),
        ("reach limit", format!("{} Pa", digits(forecast.reach_limit_pa, 3))),
        (
            "ceiling: whole headspace in the chamber",
            format!("{} Pa", digits(forecast.headspace.ceiling_pa, 3)),
        ),
    ];
    if let Some(rejects) = &forecast.false_rejects {
        figures.push(("tight units rejected", rejected(rejects)));
    }
    text.push_str(&pairs(&figures));
    text.push_str(&pass(&forecast.pass_statement(input)));
    let rows: Vec<Vec<String>> = forecast
        .limited_by
        .iter()
        .map(|share| {
            vec![share.cause.clone(), digits(share.pa, 3), format!("{:.0} %", share.share * 100.0)]
        })
        .collect();
    text.push_str("\nWhat limits it (rise of a tight unit and its noise):\n");
    text.push_str(&table(&["cause", "Pa", "share"], &rows));
    if !forecast.unknowns.is_empty() {
        text.push_str("\nWhich unknown widens the window most (smallest detectable leak):\n");
        text.push_str(&unknowns(&forecast.unknowns));
    }
    let rows: Vec<Vec<String>> = forecast
        .detection
        .iter()
        .step_by(6)
        .map(|point| {
            vec![
                digits(point.flow_equivalent_um, 3),
                digits(point.reference_throughput_pa_m3_per_s, 3),
                crate::table_text::digits_or_dash(point.rise_pa, 3),
                crate::table_text::digits_or_dash(point.challenge_pa_m3_per_s, 3),
                format!("{:.3}", point.by_rise),
                format!("{:.3}", point.by_reach),
                format!("{:.3}", point.probability),
            ]
        })
        .collect();
    text.push_str(
        "\nDetection by size (air, 1 atm to vacuum, 20 °C); the flow challenge is the constant flow \
         that\nstands for the leak in this measuring window, Pa·m³/s at 20 °C:\n",
    );
    text.push_str(&table(
        &[
            "µm flow-equivalent",
            "Pa·m³/s",
            "rise Pa",
            "flow challenge",
            "by rise",
            "by reach",
            "detected",
        ],
        &rows,
    ));
    if let Some(found) = &forecast.liquid_side {
        text.push_str(&liquid_side(found));
    }
    text.push('\n');
    text.push_str(&report::ladder_text::ladder_text(&case.ladder(), 96));
    text
}
