//! The hit/miss curve above a floor of false calls.

use intake::result_table::Table;
use report::figure::{Axis, Dash, Figure, Ink, Marker};
use report::number::significant;
use serde_json::{Value, json};
use statistics::detection::{FalseCallFit, Floor, HitMiss, Simulation, fit_with_false_calls};
use statistics::proportions::ProportionBounds;
use study::Note;

use super::by_size::{by_size, by_size_json, by_size_table};
use super::figure::horizontal;
use super::tested::Tested;
use super::{Detection, Scale, hit_miss};
use crate::answer::{Answer, from_statistics, number, optional};
use crate::commands::assess::drawing::{intervals, level, line, upright, values};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::{Told, told};
use crate::fault::Fault;
use crate::table_text::{digits, digits_or_dash, pairs};

/// Reads `estimate` or a share.
pub fn floor(text: &str) -> Result<Floor, String> {
    if text == "estimate" {
        return Ok(Floor::Estimated);
    }
    match text.parse::<f64>() {
        Ok(share) if (0.0..1.0).contains(&share) => Ok(Floor::Fixed(share)),
        _ => Err("write `estimate`, or the known share of false calls, such as 0.02".to_owned()),
    }
}

/// Runs on hits and misses with blanks.
pub fn run(command: &Detection, table: &Table, floor: Floor) -> Result<Answer, Fault> {
    let data: Vec<HitMiss> = hit_miss::data(command, table)?;
    let log = command.scale == Scale::Log;
    let fit = fit_with_false_calls(&data, command.link.link(), log, floor, command.confidence)?;
    let by_size = by_size(&data, command.confidence)?;
    let bound = bound(command, &fit);
    let mut notes = notes(&fit, &bound, &data);
    hit_miss::note_repeated_units(command, table, &mut notes)?;
    let mut curve = told("curve above the floor", &fit);
    // Those notes speak of the bound that is not the one shown.
    curve.notes.clear();
    let units = statistics::Account::counted(&fit);
    let statement = Statement {
        told: vec![curve, Told::own("a90/95", &bound.method, units, Vec::new())],
        text: text(&fit, &bound, &by_size),
        json: json(&fit, &bound, &by_size),
        assumptions: Vec::new(),
        wording: wording(&fit, &bound, &by_size),
        notes,
    };
    statement.finish(&command.figure, || vec![figure(command, &fit, &bound, &by_size)])
}

/// The bound of a90 that is claimed.
struct Bound {
    size: Option<f64>,
    method: String,
    /// Interval of the floor.
    floor: Option<(f64, f64)>,
    floor_method: String,
}

/// Units up to which the reference of the bound is simulated. Beyond, the
/// likelihood ratio is at its limit and the simulation only slow.
const MOST_SIMULATED: u64 = 5000;

fn bound(command: &Detection, fit: &FalseCallFit) -> Bound {
    if fit.n_units + fit.blank_units > MOST_SIMULATED {
        return Bound {
            size: fit.a90_95,
            method: PROFILE.to_owned(),
            floor: fit.floor_interval,
            floor_method: "profile likelihood, two-sided".to_owned(),
        };
    }
    let simulation = Simulation { samples: command.samples.max(1), seed: command.seed };
    let size = fit.upper_bound_small_sample(0.9, simulation);
    let method = match size {
        Some(_) => format!(
            "signed root of the likelihood against {} simulated samples, seed {}, floor {}",
            simulation.samples,
            command.seed,
            if fit.floor_interval.is_some() { "estimated in each" } else { "as given" }
        ),
        None => "no upper bound exists".to_owned(),
    };
    let floor = fit.floor_interval_small_sample(simulation);
    let floor_method = match (floor, fit.floor_interval) {
        (Some(_), _) => format!(
            "likelihood ratio against {} simulated samples, seed {}, two-sided",
            simulation.samples, command.seed
        ),
        (None, Some(_)) => "no interval: the floor may be a half or more".to_owned(),
        (None, None) => "none: the floor was given".to_owned(),
    };
    Bound { size, method, floor, floor_method }
}

fn notes(fit: &FalseCallFit, bound: &Bound, data: &[HitMiss]) -> Vec<Note> {
    let mut notes = from_statistics(fit.notes.clone());
    // Those three speak of the plain bound; the last two are said anew.
    let of_plain = ["bound-optimistic", "no-upper-bound", "extrapolated"];
    notes.retain(|note| !of_plain.contains(&note.code.as_str()));
    let largest = data.iter().map(|row| row.size).fold(0.0, f64::max);
    match bound.size {
        None => notes.push(Note::caution(
            "no-upper-bound",
            "the hits and misses put no upper bound on the size detected nine times in ten",
            "add units above the largest miss and below the smallest hit",
        )),
        Some(size) if size > largest => notes.push(Note::caution(
            "bound-extrapolated",
            format!("a90/95 lies above the largest size tested ({largest})"),
            "test larger defects, or claim only the exact bound of a size tested",
        )),
        Some(_) => {}
    }
    if fit.n_units + fit.blank_units < 26 {
        notes.push(Note::caution(
            "few-units",
            format!(
                "{} units and {} blanks; what the bound covers was looked at from 16 units with 10 \
                 blanks on",
                fit.n_units, fit.blank_units
            ),
            "add units between the smallest hit and the largest miss, and blanks",
        ));
    }
    notes
}

fn zero_floor(fit: &FalseCallFit) -> String {
    match fit.zero_floor {
        None => "not tested: the floor was given".to_owned(),
        Some(test) => match test.ratio {
            Some(ratio) => format!("ratio {}, p = {:.4}", digits(ratio, 4), test.p_value),
            None => "excluded by a blank called leaking".to_owned(),
        },
    }
}

fn text(fit: &FalseCallFit, bound: &Bound, by_size: &[(f64, ProportionBounds)]) -> String {
    let floor = match (bound.floor, fit.floor_interval) {
        (Some((low, high)), _) => {
            format!("{} ({} to {})", digits(fit.floor, 3), digits(low, 3), digits(high, 3))
        }
        (None, Some(_)) => format!("{} (no interval below a half)", digits(fit.floor, 3)),
        (None, None) => format!("{} (given)", digits(fit.floor, 3)),
    };
    let mut text = pairs(&[
        ("floor of false calls", floor),
        ("against a floor of zero", zero_floor(fit)),
        ("units, blanks", format!("{}, {}", fit.n_units, fit.blank_units)),
        ("blanks called leaking", fit.blank_hits.to_string()),
        ("link", fit.link.word().to_owned()),
        ("intercept", digits(fit.intercept, 6)),
        ("slope", digits(fit.slope, 6)),
        ("deviance", digits(fit.deviance, 5)),
        ("a50, owed to the leak", digits_or_dash(fit.a50, 4)),
        ("a90, owed to the leak", digits_or_dash(fit.a90, 4)),
        ("a90/95, owed to the leak", digits_or_dash(bound.size, 4)),
        ("the same by profile likelihood, for comparison", digits_or_dash(fit.a90_95, 4)),
        ("a90, false calls included", digits_or_dash(fit.a90_with_false_calls, 4)),
        ("method", fit.method.to_owned()),
        ("method of the bound", bound.method.clone()),
        ("method of the floor's interval", bound.floor_method.clone()),
    ]);
    text.push_str("\nby size, exact one-sided lower bound, false calls included:\n");
    text.push_str(&by_size_table(by_size));
    text
}

/// How the bound of a90 is found where many units were tested.
const PROFILE: &str = "profile likelihood, one-sided, floor free where it was estimated";

fn interval(ends: Option<(f64, f64)>) -> Value {
    ends.map_or(Value::Null, |(low, high)| json!([number(low), number(high)]))
}

fn json(fit: &FalseCallFit, bound: &Bound, by_size: &[(f64, ProportionBounds)]) -> Value {
    json!({
        "route": "hit/miss above a floor of false calls",
        "floor": number(fit.floor),
        "floor_interval": interval(bound.floor),
        "floor_interval_method": bound.floor_method,
        "floor_interval_profile": interval(fit.floor_interval),
        "zero_floor": fit.zero_floor.map_or(Value::Null, |test| json!({
            "ratio": optional(test.ratio),
            "p_value": number(test.p_value),
        })),
        "link": fit.link.word(),
        "log_size": fit.log_size,
        "intercept": number(fit.intercept),
        "slope": number(fit.slope),
        "deviance": number(fit.deviance),
        "residual_df": fit.residual_df,
        "log_likelihood": number(fit.log_likelihood),
        "a50": optional(fit.a50),
        "a90": optional(fit.a90),
        "a90_95": optional(bound.size),
        "a90_95_method": bound.method,
        "a90_95_profile": optional(fit.a90_95),
        "a90_with_false_calls": optional(fit.a90_with_false_calls),
        "n": fit.n_units,
        "blanks": fit.blank_units,
        "blank_hits": fit.blank_hits,
        "confidence": number(fit.confidence),
        "method": fit.method,
        "by_size": by_size_json(by_size),
    })
}

fn wording(fit: &FalseCallFit, bound: &Bound, by_size: &[(f64, ProportionBounds)]) -> String {
    let tested = Tested::of(by_size.iter().map(|(size, _)| *size));
    let floor = match (bound.floor, fit.floor_interval) {
        (Some((low, high)), _) => format!(
            "a share of {} ({} to {} at {} % confidence) is called leaking whatever it is",
            digits(fit.floor, 2),
            digits(low, 2),
            digits(high, 2),
            fit.confidence * 100.0
        ),
        (None, Some(_)) => format!(
            "a share of {} is called leaking whatever it is, and it may be a half or more",
            digits(fit.floor, 2)
        ),
        (None, None) => {
            format!("a share of {} was taken to be called leaking whatever it is", fit.floor)
        }
    };
    let size = match (fit.a90, bound.size) {
        (Some(a90), Some(upper)) => format!(
            "owed to the leak alone, nine in ten units are detected at size {} by the curve, and \
             {} ({})",
            tested.estimate(a90),
            tested.bound(upper, fit.confidence * 100.0, "are so detected nine times in ten"),
            bound.method
        ),
        _ => "no upper bound exists for the size detected nine times in ten".to_owned(),
    };
    format!(
        "From {} units and {} blanks, {} of them called leaking ({} link, {} size): {floor}; {size}.",
        fit.n_units,
        fit.blank_units,
        fit.blank_hits,
        fit.link.word(),
        if fit.log_size { "log" } else { "linear" }
    )
}

fn figure(
    command: &Detection,
    fit: &FalseCallFit,
    bound: &Bound,
    by_size: &[(f64, ProportionBounds)],
) -> Figure {
    let leaks: Vec<&(f64, ProportionBounds)> = by_size.iter().filter(|row| row.0 > 0.0).collect();
    let sizes: Vec<f64> = leaks.iter().map(|row| row.0).collect();
    let (axis, x, _) = horizontal(command, &sizes, bound.size);
    let share: Vec<f64> = leaks.iter().map(|row| row.1.hits as f64 / row.1.of as f64).collect();
    let ends: Vec<(f64, f64)> = leaks.iter().map(|row| (row.1.lower, row.1.upper)).collect();
    let height = |at: f64| fit.probability(at).unwrap_or(f64::NAN);
    let mut figure = Figure::new(
        "detection",
        "Probability of detection above false calls",
        axis,
        Axis::linear("probability of a leaking verdict", "", 0.0, 1.0),
    )
    .with(line(fit.link.word(), &x, &values(&x, height), Ink::Slate, Dash::Solid))
    .with(level(
        &format!("false calls {}", significant(fit.floor, 2)),
        fit.floor,
        Ink::Rust,
        Dash::Dashed,
    ))
    .with(intervals(
        "share found, exact interval",
        &sizes,
        &share,
        &ends,
        Marker::Disc,
        Ink::Black,
    ));
    let mark = |name: &str, at: f64| format!("{name} {}", significant(at, 3));
    if let Some(a90) = fit.a90 {
        figure = figure.with(upright(&mark("a90", a90), a90, Ink::Black, Dash::Dashed));
    }
    if let Some(upper) = bound.size {
        figure = figure.with(upright(&mark("a90/95", upper), upper, Ink::Plum, Dash::Solid));
    }
    figure.described(
        "a90 and a90/95 speak of detection owed to the leak, false calls taken off.",
        "Probability of detection against size, above its floor.",
    )
}
