//! The chart as text, JSON and words.

use serde_json::{Value, json};
use statistics::Assumption;
use statistics::autocorrelation::lag_one;
use statistics::control_charts::capability::Capability;
use statistics::control_charts::change_point::ChangePoint;
use study::Note;

use super::chart::{Chart, SpreadChart};
use super::run_lengths::{RunLength, run_lengths};
use super::{Kind, Routine, capability, figure};
use crate::answer::{Answer, number, optional};
use crate::commands::assess::checks;
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::told;
use crate::fault::Fault;
use crate::table_text::{digits, digits_or_dash, pairs, plain, table};

/// Everything that is said beside the chart.
struct Said {
    lengths: Vec<RunLength>,
    lengths_method: &'static str,
    capability: Option<Capability>,
    step: Option<ChangePoint>,
    lag_one: Option<f64>,
}

/// Turns a chart into the answer.
pub fn answer(command: &Routine, readings: &[f64], mut chart: Chart) -> Result<Answer, Fault> {
    let mut notes = std::mem::take(&mut chart.notes);
    let (lengths, lengths_method) = run_lengths(command)?;
    let capability = capability::of(command, readings, &chart, &mut notes)?;
    let step = capability::step(command, &chart, &mut notes);
    let basis = if chart.first == 0 { &chart.values[..] } else { &chart.values[..chart.first] };
    let said = Said { lengths, lengths_method, capability, step, lag_one: lag_one(basis).ok() };
    let assumptions = assumptions(basis, &chart);
    speak(&chart, &said, &mut notes);
    let mut accounts = std::mem::take(&mut chart.told);
    accounts.extend(said.capability.as_ref().map(|found| told("capability", found)));
    accounts.extend(said.step.as_ref().map(|found| told("change-point", found)));
    let statement = Statement {
        told: accounts,
        text: text(command, &chart, &said),
        json: json(command, &chart, &said),
        assumptions,
        wording: wording(command, &chart, &said),
        notes,
    };
    statement.finish(&command.figure, || figure::panels(command, &chart, said.step.as_ref()))
}

fn assumptions(basis: &[f64], chart: &Chart) -> Vec<Assumption> {
    let outside = chart.signals.iter().filter(|signal| signal.position < chart.first).count();
    let mut list = vec![
        checks::normal("normal values in the first phase", basis),
        checks::independent("values independent of their neighbours", basis),
        checks::no_trend("no trend in the first phase", basis),
    ];
    if chart.first > 0 {
        list.push(Assumption {
            name: "first phase in control",
            test: "its own limits",
            p_value: None,
            held: Some(outside == 0),
            finding: format!("{outside} of {} values of the first phase signal.", chart.first),
        });
    }
    list
}

/// Notes on the choice of chart and on what the signals ask for.
fn speak(chart: &Chart, said: &Said, notes: &mut Vec<Note>) {
    if !chart.signals.is_empty() {
        let first = &chart.signals[0];
        notes.push(Note::caution(
            "signals",
            format!(
                "{} {}; the first at value {} ({})",
                chart.signals.len(),
                if chart.signals.len() == 1 { "signal" } else { "signals" },
                chart.names[first.position],
                first.rule
            ),
            "look for the cause before the next lot is judged: rig, control unit, temperature, \
             operator; keep the limits as they are",
        ));
    }
    if let Some(length) = said.lengths.first().filter(|length| length.values < 150.0) {
        notes.push(Note::caution(
            "false-alarms",
            format!(
                "with these rules a record in control signals once in about {:.0} values",
                length.values
            ),
            "keep few rules, and say beforehand which of them stops the work",
        ));
    }
    if chart.first > 0 {
        notes.push(Note::remark(
            "run-lengths-suppose",
            "run lengths suppose that centre and sigma are known and values independent; limits \
             from few values make them vary widely from rig to rig",
            "take them to compare charts, not as a promise",
        ));
    }
}

fn text(command: &Routine, chart: &Chart, said: &Said) -> String {
    let basis = match chart.first {
        0 => "as given".to_owned(),
        first => format!("first {first} of {} values", chart.values.len()),
    };
    let what = if chart.sums.is_some() { "decision interval" } else { "limits" };
    let mut rows = vec![
        ("centre line", digits(chart.center, 5)),
        (what, format!("{} to {}", digits(chart.lower, 5), digits(chart.upper, 5))),
        ("sigma of a value", digits(chart.sigma, 4)),
        ("method", chart.method.clone()),
        ("limits from", basis),
        ("lag-1 autocorrelation", digits_or_dash(said.lag_one, 2)),
    ];
    if let Some(spread) = &chart.spread {
        rows.push((
            spread.name,
            format!(
                "centre {}, limits {} to {}",
                digits(spread.center, 4),
                digits(spread.lower, 4),
                digits(spread.upper, 4)
            ),
        ));
    }
    let mut text = pairs(&rows);
    text.push_str(&signals_text(chart));
    text.push_str(&format!("\nmean number of values until a signal ({}):\n", said.lengths_method));
    let rows: Vec<Vec<String>> = said
        .lengths
        .iter()
        .map(|length| vec![plain(length.shift, 2), digits(length.values, 3)])
        .collect();
    text.push_str(&table(&["shift of the mean, sigma", "values"], &rows));
    if let Some(found) = &said.capability {
        text.push_str("\ncapability against the specification:\n");
        text.push_str(&capability_text(command, found));
    }
    if let Some(step) = &said.step {
        text.push_str(&format!(
            "\nmost likely step: before value {}, from {} to {}, p = {}\n",
            chart.names[step.position],
            digits(step.before, 4),
            digits(step.after, 4),
            digits(step.p_value, 2)
        ));
    }
    text
}

fn signals_text(chart: &Chart) -> String {
    let mut text = format!("\nsignals: {}\n", chart.signals.len());
    const SHOWN: usize = 20;
    if !chart.signals.is_empty() {
        let rows: Vec<Vec<String>> = chart
            .signals
            .iter()
            .take(SHOWN)
            .map(|s| vec![chart.names[s.position].clone(), digits(s.value, 4), s.rule.to_owned()])
            .collect();
        text.push_str(&table(&["at", "plotted", "rule"], &rows));
        if chart.signals.len() > SHOWN {
            text.push_str(&format!("  and {} more (all in --json)\n", chart.signals.len() - SHOWN));
        }
    }
    if let Some(spread) = chart.spread.as_ref().filter(|spread| !spread.signals.is_empty()) {
        let names: Vec<&str> =
            spread.signals.iter().take(SHOWN).map(|at| chart.names[*at].as_str()).collect();
        text.push_str(&format!("{} outside its limits at: {}\n", spread.name, names.join(", ")));
    }
    text
}

fn capability_text(command: &Routine, found: &Capability) -> String {
    let mut rows = Vec::new();
    if let (Some(cp), Some((low, high))) = (found.cp, found.cp_interval) {
        rows.push(("cp", format!("{} ({} to {})", digits(cp, 3), digits(low, 3), digits(high, 3))));
    }
    rows.push(("cpk", digits(found.cpk, 3)));
    rows.push((
        "cpk, lower bound",
        format!("{} at {} confidence", digits(found.cpk_lower, 3), command.confidence),
    ));
    rows.push(("n", found.n.to_string()));
    pairs(&rows)
}

fn spread_json(chart: &Chart, spread: &SpreadChart) -> Value {
    json!({
        "quantity": spread.name,
        "center": number(spread.center),
        "lower": number(spread.lower),
        "upper": number(spread.upper),
        "outside": spread.signals.iter().map(|at| chart.names[*at].clone()).collect::<Vec<_>>(),
    })
}

fn json(command: &Routine, chart: &Chart, said: &Said) -> Value {
    let numbers = |values: &[f64]| values.iter().map(|v| number(*v)).collect::<Value>();
    json!({
        "chart": match command.chart {
            Kind::Individuals => "individuals",
            Kind::Means => "means",
            Kind::Ewma => "ewma",
            Kind::Cusum => "cusum",
        },
        "method": chart.method,
        "center": number(chart.center),
        "sigma": number(chart.sigma),
        "lower": number(chart.lower),
        "upper": number(chart.upper),
        "n": chart.values.len(),
        "first_phase": chart.first,
        "lag_one": optional(said.lag_one),
        "plotted": numbers(&chart.plotted),
        "sums": chart.sums.as_ref().map(|sums| json!({
            "high": numbers(&sums.high),
            "low": numbers(&sums.low),
        })),
        "spread": chart.spread.as_ref().map(|spread| spread_json(chart, spread)),
        "signals": chart.signals.iter().map(|signal| json!({
            "position": signal.position + 1,
            "at": chart.names[signal.position],
            "value": number(signal.value),
            "rule": signal.rule,
        })).collect::<Value>(),
        "run_lengths": said.lengths.iter().map(|length| json!({
            "shift": number(length.shift),
            "values": number(length.values),
        })).collect::<Value>(),
        "run_lengths_method": said.lengths_method,
        "capability": said.capability.as_ref().map(|found| json!({
            "cp": optional(found.cp),
            "cp_lower": optional(found.cp_interval.map(|ends| ends.0)),
            "cp_upper": optional(found.cp_interval.map(|ends| ends.1)),
            "cpk": number(found.cpk),
            "cpk_lower": number(found.cpk_lower),
            "confidence": number(found.confidence),
            "n": found.n,
        })),
        "change_point": said.step.as_ref().map(|step| json!({
            "position": step.position + 1,
            "at": chart.names[step.position],
            "before": number(step.before),
            "after": number(step.after),
            "p_value": number(step.p_value),
        })),
    })
}

fn wording(command: &Routine, chart: &Chart, said: &Said) -> String {
    let basis = match chart.first {
        0 => "with centre and sigma given beforehand".to_owned(),
        first => format!("with limits frozen from the first {first} values"),
    };
    let limits = if chart.sums.is_some() {
        format!(
            "target {}, allowance {} and decision interval {}",
            digits(chart.center, 4),
            digits(command.allowance * chart.sigma, 3),
            digits(chart.upper, 3)
        )
    } else {
        format!(
            "centre line {}, limits {} and {}",
            digits(chart.center, 4),
            digits(chart.lower, 4),
            digits(chart.upper, 4)
        )
    };
    let mut text = format!(
        "{} values of {} were charted ({}) {basis}: {limits}. {} signalled.",
        chart.values.len(),
        command.column,
        chart.method,
        match chart.signals.len() {
            0 => "None".to_owned(),
            count => count.to_string(),
        },
    );
    if let (Some(zero), Some(one)) = (said.lengths.first(), said.lengths.get(2)) {
        text.push_str(&format!(
            " A record in control signals once in {} values on average, one shifted by one sigma \
             after {} (known sigma, independent values).",
            digits(zero.values, 3),
            digits(one.values, 3)
        ));
    }
    if let Some(found) = &said.capability {
        text.push_str(&format!(
            " Capability: cpk {} with lower {} % bound {} (n = {}).",
            digits(found.cpk, 3),
            plain(found.confidence * 100.0, 3),
            digits(found.cpk_lower, 3),
            found.n
        ));
    }
    text
}
