//! Stored shapes: what a record looks like in the file.
//!
//! The rooms below carry no serialisation; a shape here is converted by hand
//! to and from its type in `study`. Every record is a JSON object
//! `{"schema": 1, "kind": "...", "record": {...}}`. Keys of quantities carry
//! the SI unit. A shape that has been released is never changed: a new one is
//! added beside it, and the old one is read for ever.

mod case_input;
mod forecast;
mod method;
mod notes;
mod plan;
mod profile;
mod quantities;
mod results;
mod rig;
mod run;
mod shape;
mod sourced;

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

pub(crate) use run::{ChannelEntry, RunShape, run_without_samples};
use shape::Shape;
pub(crate) use shape::Unreadable;

use study::{CaseInput, Forecast, Method, Plan, Results, Run};

/// Schema number of every record written today.
const SCHEMA: u32 = 1;

/// Kind of a record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Input,
    Forecast,
    Method,
    Plan,
    Results,
    Run,
}

impl Kind {
    /// The word in the file.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Input => "input",
            Self::Forecast => "forecast",
            Self::Method => "method",
            Self::Plan => "plan",
            Self::Results => "results",
            Self::Run => "run",
        }
    }
}

#[derive(Serialize)]
struct Written<'a, S> {
    schema: u32,
    kind: &'a str,
    record: S,
}

#[derive(Deserialize)]
struct Heading {
    schema: u32,
    kind: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Read<S> {
    #[serde(rename = "schema")]
    _schema: u32,
    #[serde(rename = "kind")]
    _kind: String,
    record: S,
}

/// A type of `study` that is kept as one record.
pub(crate) trait Kept: Sized {
    /// Its kind.
    const KIND: Kind;
    /// The text that is stored.
    ///
    /// # Errors
    /// Where a number in it is not finite: such a record is refused.
    fn to_text(&self) -> Result<String, Unreadable>;
    /// The record from its text.
    ///
    /// # Errors
    /// Where the text is not of this kind or of a newer schema.
    fn from_text(text: &str) -> Result<Self, Unreadable>;
}

/// Text of a shape with its heading.
pub(crate) fn text_of<S: Serialize>(kind: Kind, record: S) -> Result<String, Unreadable> {
    serde_json::to_string(&Written { schema: SCHEMA, kind: kind.word(), record })
        .map_err(|error| Unreadable(error.to_string()))
}

/// Shape from its text, after the heading has been checked.
pub(crate) fn shape_of<S: DeserializeOwned>(kind: Kind, text: &str) -> Result<S, Unreadable> {
    let unreadable = |error: serde_json::Error| Unreadable(error.to_string());
    let heading: Heading = serde_json::from_str(text).map_err(unreadable)?;
    if heading.kind != kind.word() {
        return Err(Unreadable(format!(
            "kind `{}` where `{}` was expected",
            heading.kind,
            kind.word()
        )));
    }
    if heading.schema != SCHEMA {
        return Err(Unreadable(format!(
            "schema {} of `{}`; this version reads schema {SCHEMA}",
            heading.schema,
            kind.word()
        )));
    }
    Ok(serde_json::from_str::<Read<S>>(text).map_err(unreadable)?.record)
}

macro_rules! kept {
    ($target:ident as $shape:path, $kind:ident) => {
        impl Kept for $target {
            const KIND: Kind = Kind::$kind;
            fn to_text(&self) -> Result<String, Unreadable> {
                text_of(Kind::$kind, <$shape as Shape<$target>>::of(self))
            }
            fn from_text(text: &str) -> Result<Self, Unreadable> {
                Shape::back(shape_of::<$shape>(Kind::$kind, text)?)
            }
        }
    };
}

kept!(CaseInput as case_input::CaseInputShape, Input);
kept!(Forecast as forecast::ForecastShape, Forecast);
kept!(Method as method::MethodShape, Method);
kept!(Plan as plan::PlanShape, Plan);
kept!(Results as results::ResultsShape, Results);

/// Text of an entry: the same heading, and its own words as kind.
pub(crate) fn entry_text<S: Serialize>(kind: &str, record: &S) -> Result<String, Unreadable> {
    serde_json::to_string(&Written { schema: SCHEMA, kind, record })
        .map_err(|error| Unreadable(error.to_string()))
}

/// An entry from its text, after its heading has been checked.
pub(crate) fn entry_from_text<S: DeserializeOwned>(
    kind: &str,
    text: &str,
) -> Result<S, Unreadable> {
    let unreadable = |error: serde_json::Error| Unreadable(error.to_string());
    let heading: Heading = serde_json::from_str(text).map_err(unreadable)?;
    if heading.kind != kind || heading.schema != SCHEMA {
        return Err(Unreadable(format!(
            "schema {} of `{}` where schema {SCHEMA} of `{kind}` was expected",
            heading.schema, heading.kind
        )));
    }
    Ok(serde_json::from_str::<Read<S>>(text).map_err(unreadable)?.record)
}

/// Text of a run; its samples are kept apart, in `channels`.
pub(crate) fn run_to_text(run: &Run, channels: Vec<ChannelEntry>) -> Result<String, Unreadable> {
    text_of(Kind::Run, RunShape::of(run, channels))
}

/// Shape of a run from its text.
pub(crate) fn run_from_text(text: &str) -> Result<RunShape, Unreadable> {
    shape_of(Kind::Run, text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn worked_cases_come_back_as_they_were() {
        for input in study::worked_cases::all() {
            let text = input.to_text().unwrap();
            assert!(text.starts_with(r#"{"schema":1,"kind":"input","record":{"id":"#));
            assert_eq!(CaseInput::from_text(&text).unwrap(), input);
        }
    }

    #[test]
    fn a_number_that_is_none_is_refused() {
        let mut input = study::worked_cases::syringe();
        input.rig.background_spread = f64::NAN;
        let refusal = input.to_text().unwrap_err();
        assert!(refusal.0.contains("not a finite number"), "{}", refusal.0);
    }

    #[test]
    fn another_kind_and_a_newer_schema_are_refused() {
        let text = study::worked_cases::syringe().to_text().unwrap();
        assert!(Plan::from_text(&text).unwrap_err().0.contains("`input` where `plan`"));
        let newer = text.replacen(r#""schema":1"#, r#""schema":2"#, 1);
        assert!(CaseInput::from_text(&newer).unwrap_err().0.contains("schema 2"));
    }

    #[test]
    fn an_unknown_key_is_refused() {
        let text = study::worked_cases::syringe().to_text().unwrap();
        let more = text.replacen(r#""invented":true"#, r#""invented":true,"extra":1"#, 1);
        assert!(CaseInput::from_text(&more).unwrap_err().0.contains("extra"));
    }
}
