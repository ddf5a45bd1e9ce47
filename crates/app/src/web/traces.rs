//! The trace view: any runs over each other, reduced on the server to the
//! lowest and highest sample of every column of pixels, so that a spike of a
//! single sample is never lost and a long trace never slows the page.

use maud::{Markup, PreEscaped, html};
use report::figure::{Axis, Dash, Figure, Ink, Layer, Pen, Shape, columns_kept};
use serde_json::{Value, json};
use study::runs::{Run, RunClass};
use study::trace::Stage;
use study::{Case, PressureTrace};

use super::address;
use super::reply::{Answer, Reply};
use super::wording::{shown, three};
use super::workbench::Workbench;
use crate::answer::number;

/// Most runs in one answer.
const MOST_RUNS: usize = 500;
/// Most points in one answer, over all runs.
const MOST_POINTS: usize = 200_000;
/// Columns where the page does not say how wide it is.
const COLUMNS: usize = 1200;

/// Numbers of the runs that a query names, or a first choice: a blank, two
/// negative controls and the smallest, middle and largest positive control.
pub fn chosen_or_first(case: &Case, query: &[(String, String)]) -> Vec<u32> {
    let named: Vec<u32> = query
        .iter()
        .filter(|(name, _)| name == "run")
        .filter_map(|(_, value)| value.parse().ok())
        .filter(|number| case.runs.iter().any(|run| run.number == *number))
        .take(MOST_RUNS)
        .collect();
    if !named.is_empty() {
        return named;
    }
    let of = |word: &'static str| case.runs.iter().filter(move |run| run.class.word() == word);
    let mut first: Vec<u32> = of("blank").take(1).map(|run| run.number).collect();
    first.extend(of("negative control").take(2).map(|run| run.number));
    let mut controls: Vec<&Run> = of("positive control").collect();
    controls.sort_by(|a, b| {
        a.class.size_um().unwrap_or(0.0).total_cmp(&b.class.size_um().unwrap_or(0.0))
    });
    if let (Some(last), false) = (controls.len().checked_sub(1), controls.is_empty()) {
        let mut places = vec![0, last / 2, last];
        places.dedup();
        first.extend(places.into_iter().filter_map(|at| controls.get(at)).map(|run| run.number));
    }
    first
}

/// The runs of these numbers with their samples.
pub async fn load(workbench: &Workbench, id: &str, numbers: &[u32]) -> Result<Vec<Run>, Reply> {
    let mut runs = Vec::with_capacity(numbers.len());
    for &number in numbers {
        let run =
            workbench.benchbook.run(id, number).await.map_err(|error| Reply::failed(&error))?;
        runs.push(run);
    }
    Ok(runs)
}

/// How the traces are to be laid over each other.
struct Laying {
    /// Time counts from the start of the deciding measure stage.
    from_measure: bool,
    /// Pressure counts from its value there.
    as_rise: bool,
    from_s: f64,
    to_s: f64,
    columns: usize,
}

/// Answers `traces.json?runs=1,2&from=&to=&columns=&align=&rise=`.
pub async fn reply(workbench: &Workbench, id: &str, query: &[(String, String)]) -> Answer {
    let named = address::value(query, "runs").unwrap_or_default();
    let mut numbers: Vec<u32> = Vec::new();
    for part in named.split(',').filter(|part| !part.is_empty()) {
        let Ok(number) = part.trim().parse() else {
            return Err(Reply::Refused {
                why: format!("`{part}` is not the number of a run"),
                next_step: "write numbers with commas between them, such as runs=1,2".to_owned(),
            });
        };
        if !numbers.contains(&number) {
            numbers.push(number);
        }
    }
    if numbers.len() > MOST_RUNS {
        return Err(Reply::Refused {
            why: format!("{} runs were asked for, and {MOST_RUNS} can be answered", numbers.len()),
            next_step: "ask for fewer runs at a time".to_owned(),
        });
    }
    let case = workbench.case_without_traces(id).await.map_err(|error| Reply::failed(&error))?;
    if let Some(absent) = numbers.iter().find(|n| !case.runs.iter().any(|run| run.number == **n)) {
        return Err(Reply::missing(
            format!("case `{id}` has no run {absent}"),
            "choose runs from its list",
            address::of_case(id, "runs"),
        ));
    }
    let runs = load(workbench, id, &numbers).await?;
    let asked = address::number(query, "columns").map_or(COLUMNS, |columns| columns as usize);
    let laying = Laying {
        from_measure: address::value(query, "align") == Some("measure"),
        as_rise: address::value(query, "rise") == Some("1"),
        from_s: address::number(query, "from").unwrap_or(f64::NEG_INFINITY),
        to_s: address::number(query, "to").unwrap_or(f64::INFINITY),
        columns: asked.clamp(10, 4000).min(MOST_POINTS / (4 * runs.len().max(1))).max(10),
    };
    Ok(Reply::Json(json!({
        "case": id,
        "columns": laying.columns,
        "time_from": if laying.from_measure { "start of the measure stage" } else { "start of the run" },
        "runs": runs.iter().map(|run| run_json(run, &laying)).collect::<Value>(),
    })))
}

/// Start of the last measure stage and the pressure there.
fn measure_start(trace: &PressureTrace) -> Option<(f64, f64)> {
    let span = trace.stages.iter().rev().find(|span| span.stage == Stage::Measure)?;
    let range = trace.samples_between(span.start_s, span.end_s);
    Some((span.start_s, *trace.pressures_pa.get(range.start)?))
}

fn run_json(run: &Run, laying: &Laying) -> Value {
    let start = measure_start(&run.trace);
    let shift = if laying.from_measure { start.map_or(0.0, |(time, _)| time) } else { 0.0 };
    let base = if laying.as_rise { start.map_or(0.0, |(_, pressure)| pressure) } else { 0.0 };
    let (times, pressures) = reduced(&run.trace, laying, shift, base);
    json!({
        "number": run.number,
        "label": label(run),
        "class": run.class.word(),
        "unit": run.unit,
        "day": run.day,
        "ended": run.ended.words(),
        "rise_pa": crate::answer::optional(run.features.as_ref().map(|f| f.rise_pa)),
        "samples": run.trace.n_samples(),
        "times_s": times.into_iter().map(number).collect::<Value>(),
        "pressures_pa": pressures.into_iter().map(number).collect::<Value>(),
        "stages": run.trace.stages.iter().map(|span| json!({
            "stage": span.stage.word(), "tier": span.tier,
            "start_s": number(span.start_s - shift), "end_s": number(span.end_s - shift),
        })).collect::<Value>(),
    })
}

/// The samples between two times, at most four for each column of pixels:
/// first, lowest, highest, last.
fn reduced(trace: &PressureTrace, laying: &Laying, shift: f64, base: f64) -> (Vec<f64>, Vec<f64>) {
    let n = trace.times_s.len().min(trace.pressures_pa.len());
    let range = trace.samples_between(laying.from_s + shift, laying.to_s + shift);
    // One sample beyond each end, so that the line reaches the frame.
    let range = range.start.saturating_sub(1).min(n)..(range.end + 1).min(n);
    let times: Vec<f64> = trace.times_s[range.clone()].iter().map(|time| time - shift).collect();
    let pressures: Vec<f64> =
        trace.pressures_pa[range].iter().map(|pressure| pressure - base).collect();
    let (Some(&first), Some(&last)) = (times.first(), times.last()) else {
        return (Vec::new(), Vec::new());
    };
    let axis = Axis::linear("time", "s", first, if last > first { last } else { first + 1.0 });
    let kept = columns_kept(&axis, &times, &pressures, laying.columns);
    let pick = |column: &[f64]| kept.iter().map(|&index| column[index]).collect();
    (pick(&times), pick(&pressures))
}

/// What a run is, in a few words.
pub fn label(run: &Run) -> String {
    match run.class {
        RunClass::PositiveControl { .. } => {
            let size = run.class.size_um().map(three).unwrap_or_default();
            format!("{} positive control {size} µm", run.number)
        }
        RunClass::FlowChallenge { flow_pa_m3_per_s } => {
            format!("{} flow challenge {} Pa·m³/s", run.number, three(flow_pa_m3_per_s))
        }
        class => format!("{} {}", run.number, class.words()),
    }
}

/// The panel of the trace view; the drawing stands where there is no script.
pub fn view(case: &Case, runs: &[Run]) -> Markup {
    let numbers: Vec<String> = runs.iter().map(|run| run.number.to_string()).collect();
    html! {
        section.trace-view data-traces=(address::of_case(&case.input.id, "traces.json"))
            data-runs=(numbers.join(",")) aria-labelledby="traces-title" {
            h2 #traces-title { "Traces" }
            div.controls.needs-script {
                fieldset { legend { "Pressure" }
                    label { input type="radio" name="pressure" value="log" checked; " logarithmic" }
                    label { input type="radio" name="pressure" value="linear"; " linear" }
                    label { input type="radio" name="pressure" value="rise"; " rise since measure began" }
                }
                fieldset { legend { "Time from" }
                    label { input type="radio" name="align" value="start" checked; " start of run" }
                    label { input type="radio" name="align" value="measure"; " start of measure" }
                }
                button.plain type="button" data-view="whole" { "Whole cycle" }
                button.plain type="button" data-view="measure" { "Measure stage" }
            }
            div.trace-columns {
                figure.plot {
                    div.plot-still { (drawing(runs)) }
                    div.plot-live hidden role="group" aria-label="Traces, plot that can be zoomed" {}
                    figcaption {
                        "Chamber pressure of the ticked runs, as recorded. Grey bands are the \
                         stages of the first of them. Drag to zoom, double-click to see \
                         everything again."
                    }
                }
                div.readout-column.needs-script { (readout()) }
            }
        }
    }
}

/// The pressure of every trace at one time.
fn readout() -> Markup {
    html! {
        div.readout {
            label for="cursor" { "Read-out time" }
            input #cursor type="range" min="0" max="1000" value="500";
            output for="cursor" {}
        }
        div.scroll tabindex="0" role="region" aria-label="Read-out" {
            table.list.readout-table {
                caption { "Every trace at that time" }
                thead {
                    tr {
                        th scope="col" { "Run" }
                        th.num scope="col" { "Pressure (Pa)" }
                        th.num scope="col" { "Rise in measure (Pa)" }
                    }
                }
                tbody {}
            }
        }
    }
}

const DASHES: [Dash; 5] = [Dash::Solid, Dash::Dashed, Dash::Dotted, Dash::DashDot, Dash::Long];

fn drawing(runs: &[Run]) -> Markup {
    let highest = runs.iter().flat_map(|run| run.trace.times_s.last().copied()).fold(1.0, f64::max);
    let pressures = runs.iter().flat_map(|run| run.trace.pressures_pa.iter().copied());
    let mut figure = Figure::new(
        "traces-drawing",
        "Traces of the ticked runs",
        Axis::linear("Time", "s", 0.0, highest),
        Axis::holding_decades("Chamber pressure", "Pa", pressures),
    )
    .described("", format!("Pressure against time of {} runs.", runs.len()));
    if let Some(run) = runs.first() {
        for span in &run.trace.stages {
            figure = figure.with(Layer::new(
                span.stage.word(),
                Shape::Stage { from: span.start_s, to: span.end_s },
            ));
        }
    }
    for (index, run) in runs.iter().take(20).enumerate() {
        let ink = match run.class {
            RunClass::Blank => Ink::Grey,
            RunClass::NegativeControl => Ink::Teal,
            RunClass::PositiveControl { .. } => Ink::Rust,
            RunClass::FlowChallenge { .. } => Ink::Plum,
            RunClass::AgedControl { .. } => Ink::Slate,
        };
        figure = figure.with(Layer::new(
            shown(&label(run)),
            Shape::Line {
                x: run.trace.times_s.clone(),
                y: run.trace.pressures_pa.clone(),
                pen: Pen::new(ink, DASHES[index % DASHES.len()]),
            },
        ));
    }
    match report::figure::svg(&figure) {
        Ok(svg) => PreEscaped(svg),
        Err(error) => html! { p { "The traces cannot be drawn: " (error.to_string()) "." } },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn laying(columns: usize) -> Laying {
        Laying {
            from_measure: false,
            as_rise: false,
            from_s: f64::NEG_INFINITY,
            to_s: f64::INFINITY,
            columns,
        }
    }

    #[test]
    fn a_spike_of_one_sample_reaches_the_page() {
        let mut trace = PressureTrace {
            times_s: (0..100_000).map(|i| f64::from(i) * 0.01).collect(),
            pressures_pa: vec![100.0; 100_000],
            ..PressureTrace::default()
        };
        trace.pressures_pa[54_321] = 900.0;
        let (times, pressures) = reduced(&trace, &laying(500), 0.0, 0.0);
        assert!(times.len() <= 4 * 501, "{}", times.len());
        let spike = pressures.iter().position(|&pressure| pressure == 900.0).unwrap();
        assert!((times[spike] - 543.21).abs() < 1e-9);
    }

    #[test]
    fn a_window_without_samples_is_no_fault() {
        let trace = PressureTrace::default();
        assert!(reduced(&trace, &laying(100), 0.0, 0.0).0.is_empty());
        let beyond = Laying { from_s: 50.0, to_s: 40.0, ..laying(100) };
        let trace = PressureTrace {
            times_s: vec![0.0, 1.0],
            pressures_pa: vec![1.0, 2.0],
            ..PressureTrace::default()
        };
        assert!(reduced(&trace, &beyond, 0.0, 0.0).0.len() <= 2);
    }
}
