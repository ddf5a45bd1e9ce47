//! The traces behind the runs: one figure for each kind and size of unit,
//! each run a line over its measure stage, counted from its own start level,
//! so that the rise that was judged can be seen.

use std::ops::Range;

use study::Case;
use study::runs::{Run, RunClass};
use study::trace::Stage;

use crate::document::{Block, FigureBlock, Section};
use crate::figure::{Axis, Dash, Figure, FigureError, Ink, Layer, Pen, Shape, columns_kept};
use crate::number::{quantity, significant};

/// Columns that a printed line of a run is reduced to; each keeps its lowest
/// and highest sample.
const COLUMNS: usize = 45;
/// Height of a figure, points: several stand on a page.
const HEIGHT: f64 = 140.0;
/// Lines of one figure: more would be a dark patch, and a heavy file.
const MOST_LINES: usize = 100;
/// Numbers of runs that a caption names one by one.
const MOST_NUMBERS: usize = 150;

/// Name and title of the figure for a class; runs of one name are drawn
/// together. Sizes and flows count to the three digits in which they are
/// printed.
fn named(class: &RunClass) -> (String, String) {
    let kind = format!("{}s", class.word());
    let size = match *class {
        RunClass::PositiveControl { nominal_um, .. } => Some((nominal_um, "µm")),
        _ => class.flow_pa_m3_per_s().map(|flow| (flow, "Pa·m³/s")),
    };
    let id = format!("traces-{}", kind.replace(' ', "-"));
    match size {
        Some((size, unit)) => {
            (format!("{id}-{size:.2e}"), format!("Traces of {kind} of {}", quantity(size, 3, unit)))
        }
        None => (id, format!("Traces of {kind}")),
    }
}

/// Name of the figure in which a run is drawn; `None` where it is in none.
pub(super) fn name_for(run: &Run) -> Option<String> {
    measured(run).map(|_| named(&run.class).0)
}

/// The appendix; `None` where no run has a trace of its measure stage.
pub(super) fn section(case: &Case) -> Result<Option<Section>, FigureError> {
    let mut runs: Vec<&Run> = case.runs.iter().collect();
    runs.sort_by(|a, b| a.class.table_order(&b.class));
    let limit = case
        .results
        .as_ref()
        .and_then(|results| results.reject_limit.as_ref())
        .map(|limit| limit.limit_pa);
    let figures: Vec<Figure> = runs
        .chunk_by(|a, b| named(&a.class).0 == named(&b.class).0)
        .filter_map(|runs| figure(runs, limit))
        .collect();
    if figures.is_empty() {
        return Ok(None);
    }
    let mut section = Section::new("traces", "Appendix C: traces of the runs").paragraph(
        "Each line is a run over its measure stage, counted from its own level at the start of \
         the stage. Of the samples that fall on one place of the paper the lowest and the highest \
         are drawn.",
    );
    for figure in &figures {
        section = section.with(Block::Figure(FigureBlock::of(figure)?));
    }
    Ok(Some(section))
}

/// The measure stage of a run: its start, the level there, and its samples;
/// `None` where the run has no such stage.
fn measured(run: &Run) -> Option<(f64, f64, Range<usize>)> {
    let features = run.features.as_ref()?;
    let span = run.trace.span(Stage::Measure, features.tier)?;
    let range = run.trace.samples_between(span.start_s, span.end_s);
    run.trace.pressures_pa.get(range.clone())?;
    (range.len() > 1).then_some((span.start_s, features.level_start_pa, range))
}

/// Times from the start of the measure stage and pressures over the level
/// there.
fn line_of(run: &Run) -> Option<(Vec<f64>, Vec<f64>)> {
    let (start_s, level_pa, range) = measured(run)?;
    let times = run.trace.times_s.get(range.clone())?;
    let pressures = run.trace.pressures_pa.get(range)?;
    Some((
        times.iter().map(|time| time - start_s).collect(),
        pressures.iter().map(|pa| pa - level_pa).collect(),
    ))
}

/// A run with its times and rises.
type TraceLine<'a> = (&'a Run, Vec<f64>, Vec<f64>);

/// Those that are drawn: evenly spread in the order in which they were done,
/// and the lowest and the highest rise among them.
fn chosen(mut lines: Vec<TraceLine<'_>>) -> Vec<TraceLine<'_>> {
    let n = lines.len();
    if n <= MOST_LINES {
        return lines;
    }
    let rise = |line: &TraceLine<'_>| line.0.features.as_ref().map_or(0.0, |f| f.rise_pa);
    let by_rise = |a: &TraceLine<'_>, b: &TraceLine<'_>| rise(a).total_cmp(&rise(b));
    let numbered = || lines.iter().enumerate();
    let lowest = numbered().min_by(|a, b| by_rise(a.1, b.1)).map(|found| found.0);
    let highest = numbered().max_by(|a, b| by_rise(a.1, b.1)).map(|found| found.0);
    let mut kept: std::collections::BTreeSet<usize> =
        (0..MOST_LINES - 2).map(|place| place * n / (MOST_LINES - 2)).collect();
    kept.extend(lowest);
    kept.extend(highest);
    let mut place = 0;
    lines.retain(|_| {
        place += 1;
        kept.contains(&(place - 1))
    });
    lines
}

/// `runs` are all of one name.
fn figure(runs: &[&Run], limit: Option<f64>) -> Option<Figure> {
    let (id, title) = named(&runs.first()?.class);
    let of = runs.len();
    let lines: Vec<TraceLine<'_>> =
        runs.iter().filter_map(|run| line_of(run).map(|(x, y)| (*run, x, y))).collect();
    let with_trace: Vec<&Run> = lines.iter().map(|line| line.0).collect();
    let lines = chosen(lines);
    let caption = words(&with_trace, lines.len(), of);
    let end = lines.iter().filter_map(|(_, x, _)| x.last().copied()).fold(0.0, f64::max);
    if end <= 0.0 {
        return None;
    }
    let over = Axis::linear("Time in the measure stage", "s", 0.0, end);
    let mut drawn: (Vec<f64>, Vec<f64>) = Default::default();
    for (_, x, y) in &lines {
        for index in columns_kept(&over, x, y, COLUMNS) {
            drawn.0.push(x[index]);
            drawn.1.push(y[index]);
        }
        // A gap, so that the next run is a line of its own.
        drawn.0.push(f64::NAN);
        drawn.1.push(f64::NAN);
    }
    let heights = || drawn.1.iter().copied().filter(|pa| pa.is_finite());
    // A large rise would press the limit to the axis, and the other way round:
    // the limit is drawn where it lies within twice the highest line.
    let highest = heights().fold(0.0, f64::max);
    let limit = limit.filter(|limit| *limit <= 2.0 * highest);
    let mut figure = Figure::new(
        id,
        title,
        over,
        Axis::holding("Rise from the start", "Pa", heights().chain(limit)),
    )
    .described(caption, "Lines that rise from zero over the measure stage, one for each run.");
    figure.height_pt = HEIGHT;
    let pen = Pen::new(Ink::Slate, Dash::Solid).wide(0.4);
    figure = figure.with(Layer::new("", Shape::Line { x: drawn.0, y: drawn.1, pen }));
    if let Some(limit) = limit {
        let label = format!("reject limit {}", quantity(limit, 3, "Pa"));
        let pen = Pen::new(Ink::Black, Dash::Dashed);
        figure = figure.with(Layer::new(label, Shape::HorizontalRule { at: limit, pen }));
    }
    Some(figure)
}

/// Which runs have a trace, how far they rose, and how many are drawn.
fn words(with_trace: &[&Run], drawn: usize, of: usize) -> String {
    let rises = || with_trace.iter().filter_map(|run| run.features.as_ref()).map(|f| f.rise_pa);
    let lowest = rises().fold(f64::INFINITY, f64::min);
    let highest = rises().fold(f64::NEG_INFINITY, f64::max);
    let numbers: Vec<u32> = with_trace.iter().map(|run| run.number).collect();
    let runs = match (numbers.iter().min(), numbers.iter().max()) {
        (Some(first), Some(last)) if numbers.len() > MOST_NUMBERS => {
            format!("{} runs from {first} to {last}", numbers.len())
        }
        _ => format!("Runs {}", super::runs::in_ranges(&numbers)),
    };
    let mut text =
        format!("{runs}; rises from {} to {} Pa.", significant(lowest, 3), significant(highest, 3));
    if drawn < with_trace.len() {
        text.push_str(&format!(
            " {drawn} of them are drawn, among them the lowest and the highest rise."
        ));
    }
    let missing = of - with_trace.len();
    if missing > 0 {
        text.push_str(&format!(
            " Not drawn: {missing} of {of} runs, which have no trace of a measure stage."
        ));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compose::tests::{edition, whole};
    use crate::compose::{DocumentName, compose_document};

    /// The appendix of the study report, as it stands in the page twin.
    fn appendix(case: &Case) -> String {
        let document = compose_document(case, DocumentName::Study, &edition()).expect("composed");
        let page = crate::html::html(&document);
        let start = page.find("<section id=\"doc-traces\"").unwrap_or(page.len());
        page[start..].to_owned()
    }

    #[test]
    fn every_run_with_a_measure_stage_leads_to_its_figure() {
        let mut case = whole(study::worked_cases::lyophilised_vial());
        let names: std::collections::BTreeSet<String> =
            case.runs.iter().filter_map(name_for).collect();
        assert!(names.len() > 5, "{names:?}");
        let text = appendix(&case);
        for name in &names {
            assert_eq!(text.matches(&format!("id=\"doc-{name}\"")).count(), 1, "{name}");
        }
        // Without its samples a run is not drawn, and the caption says so.
        let index = case
            .runs
            .iter()
            .position(|run| matches!(run.class, RunClass::NegativeControl))
            .expect("a negative control");
        case.runs[index].trace.pressures_pa.clear();
        case.runs[index].trace.times_s.clear();
        assert_eq!(name_for(&case.runs[index]), None);
        assert!(appendix(&case).contains("Not drawn: 1 of"));
        for run in &mut case.runs {
            run.trace.pressures_pa.clear();
            run.trace.times_s.clear();
        }
        assert_eq!(appendix(&case), "");
    }

    #[test]
    fn of_many_lines_the_extremes_are_among_those_drawn() {
        let case = whole(study::worked_cases::lyophilised_vial());
        let template =
            case.runs.iter().find(|run| name_for(run).is_some()).expect("a run with a trace");
        let mut runs = vec![template.clone(); 731];
        for (number, run) in (1..).zip(&mut runs) {
            run.number = number;
        }
        let features = |run: &mut Run, rise_pa: f64| {
            run.features.as_mut().expect("features").rise_pa = rise_pa;
        };
        features(&mut runs[333], 1.0e6);
        features(&mut runs[334], -1.0e6);
        let lines: Vec<TraceLine<'_>> =
            runs.iter().map(|run| (run, vec![0.0, 1.0], vec![0.0, 1.0])).collect();
        let drawn = chosen(lines);
        assert!((MOST_LINES - 2..=MOST_LINES).contains(&drawn.len()), "{}", drawn.len());
        for number in [1, 334, 335] {
            assert!(drawn.iter().any(|line| line.0.number == number), "{number}");
        }
        // What the caption says is drawn is what is drawn.
        let all: Vec<&Run> = runs.iter().collect();
        let caption = words(&all, drawn.len(), all.len());
        assert!(caption.contains("rises from −1"), "{caption}");
        assert!(caption.contains(&format!(" {} of them are drawn", drawn.len())), "{caption}");
    }
}
