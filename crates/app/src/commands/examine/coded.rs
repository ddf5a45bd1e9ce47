//! What is odd about an examined run, as coded messages: what the file alone
//! could not tell.

use intake::codes;
use intake::message::Message;
use intake::trace_file::ImportedTrace;
use study::notes::Note;
use study::run_features::RunFlag;
use study::stages::NoStages;

use super::examined::Examined;
use crate::table_text::digits;

/// Phases that are missing, a record cut short, a tone in the noise. Where a
/// method is known the first two are warnings; a log without one need not be
/// a cycle.
pub fn coded(trace: &ImportedTrace, run: &Examined, has_method: bool) -> Vec<Message> {
    let mut messages = Vec::new();
    // A sample of the run in its file.
    let place = |mut message: Message, sample: usize| {
        message.place.line = trace.lines.line(run.first_sample + sample);
        message.place.column = Some(trace.column).filter(|column| *column > 0);
        message.place.column_name = Some(trace.name.clone());
        message
    };
    let last = run.trace.n_samples().saturating_sub(1);
    let incomplete = |what: String| {
        if has_method {
            Message::warning(codes::INCOMPLETE_CYCLE, what)
        } else {
            Message::remark(codes::INCOMPLETE_CYCLE, what)
        }
    };
    if let Err(reason) = &run.stages {
        // What is missing is missing at the start, or at the end.
        let sample = if matches!(reason, NoStages::NoEvacuation) { 0 } else { last };
        messages.push(place(
            incomplete(format!("No whole cycle was found: {reason}"))
                .done("No rise was read.")
                .next(match reason {
                    NoStages::TooShortForMethod { .. } => {
                        "Record to the end of the measure stage, or give the method that was run."
                    }
                    NoStages::GivenUp => "Leave the cycle out, or name its stages in a column.",
                    _ => {
                        "Check that the record has evacuation, isolation and rise, or name the \
                         stages in a column."
                    }
                }),
            sample,
        ));
    }
    let is_short = run.features.as_ref().is_some_and(|f| f.flags.contains(&RunFlag::Short));
    if is_short {
        messages.push(place(
            incomplete("The record ends before the measure stage of the method does".to_owned())
                .done("The rise was read to the end of the record.")
                .next("Do not compare it with a limit that holds for the whole stage."),
            last,
        ));
    }
    if let Some((tone, first)) = run.tone {
        messages.push(place(
            Message::remark(
                codes::PERIODIC_NOISE,
                format!(
                    "A tone of {} s and {} Pa stands out of the noise from here on",
                    digits(tone.period_s, 3),
                    digits(tone.amplitude_pa, 2)
                ),
            )
            .done("It was left in the samples.")
            .next("It can be a pump, or the image of mains hum beyond half the sampling rate."),
            first,
        ));
    }
    messages
}

/// What keeps the stages of a run from being sure, as one note: its rise holds
/// only if they do.
pub fn unsure_stages(path: &std::path::Path, what: &str, run: &Examined) -> Option<Note> {
    let stages = run.stages.as_ref().ok()?;
    if stages.doubts.is_empty() {
        return None;
    }
    let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into());
    Some(Note::caution(
        "stages-unsure",
        format!(
            "{name}, {what}: the stages are not sure: {}. The rise holds only if they do.",
            stages.doubts.join("; ")
        ),
        "name the stages in a column of the file, or give the times of the method with --case",
    ))
}

/// Says so where the clock of the file is more than a day ahead of this
/// computer: one of the two is wrong.
pub fn clock_ahead(trace: &ImportedTrace) -> Option<Message> {
    let day = trace.start?.day?;
    let ahead = day - crate::clock::day_of_today();
    (ahead > 1).then(|| {
        let mut message = Message::warning(
            codes::INSTRUMENT_CLOCK,
            format!("The first sample is dated {ahead} days ahead of this computer's clock"),
        )
        .done("The times were read as they stand.")
        .next("Set the clock that is wrong.");
        message.place.line = trace.lines.line(0);
        if let Some((column, name)) = &trace.clock_column {
            message = message.in_column(*column, name);
        }
        message
    })
}
