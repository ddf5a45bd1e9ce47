//! Questions about a file that can be read in more than one way: asked on a
//! terminal, never guessed.

use std::io::{BufRead, IsTerminal, Write};

use intake::codes;
use intake::message::Message;

use crate::commands::examine::reading::Reading;

/// True where somebody can be asked.
pub fn can_ask() -> bool {
    std::io::stdin().is_terminal() && std::io::stderr().is_terminal()
}

/// What a refusal leaves open, as a question whose answer is an option.
pub struct Question {
    /// The question, without its mark.
    pub ask: String,
    /// Puts the answer among the options.
    pub apply: fn(&mut Reading, String),
}

/// The question that a refusal asks; none where no answer would help.
pub fn question(message: &Message) -> Option<Question> {
    let column = message.place.column_name.clone().unwrap_or_else(|| "COLUMN".to_owned());
    let (ask, apply): (String, fn(&mut Reading, String)) = match message.code {
        codes::NO_PRESSURE_UNIT | codes::RAW_SIGNAL | codes::UNIT => {
            (format!("pressure column and unit, such as {column}=mbar"), |reading, answer| {
                reading.pressure.push(answer)
            })
        }
        codes::GAUGE_OR_ABSOLUTE => {
            ("pressure of the room, such as 1013mbar".to_owned(), |reading, answer| {
                reading.barometer = Some(answer)
            })
        }
        codes::ELAPSED_TIME | codes::SERIAL_DATES => {
            (format!("time column and unit, such as {column}=s"), |reading, answer| {
                reading.time = Some(answer)
            })
        }
        codes::NO_TIME => ("samples per second, such as 10".to_owned(), |reading, answer| {
            reading.rate = answer.trim().parse().ok()
        }),
        codes::BACKWARD_TIME | codes::REPEATED_HEADER => {
            ("does a new run begin there? (yes or no)".to_owned(), |reading, answer| {
                reading.split = answer.trim().eq_ignore_ascii_case("yes")
            })
        }
        codes::AMBIGUOUS_DATE => {
            // The column is known, and the answer is its order.
            return Some(Question {
                ask: format!(
                    "column and order of its dates, {column}=day month year or {column}=month day year"
                ),
                apply: |reading, answer| reading.clock = Some(answer),
            });
        }
        codes::THOUSANDS_MARK => ("decimal mark: point or comma".to_owned(), |reading, answer| {
            reading.decimal_mark = Some(answer)
        }),
        codes::SEPARATOR => {
            ("what parts the cells: comma, semicolon, tab or bar".to_owned(), |reading, answer| {
                reading.separator = Some(answer)
            })
        }
        codes::LEGACY_CODE_PAGE | codes::BYTE_SWAPPED => {
            ("encoding, such as windows-1252 or shift-jis".to_owned(), |reading, answer| {
                reading.encoding = Some(answer)
            })
        }
        codes::UNKNOWN_TOKEN | codes::SENTINEL => (
            "the cell as it is written, if it means that there is no value".to_owned(),
            |reading, answer| reading.missing.push(answer),
        ),
        _ => return None,
    };
    Some(Question { ask, apply })
}

/// Asks for what the first refusal leaves open; false where it is no question
/// or nobody answered.
pub fn ask(file: &str, messages: &[Message], reading: &mut Reading) -> bool {
    let Some(refused) = messages.iter().find(|message| message.is_refusal()) else { return false };
    let Some(question) = question(refused) else { return false };
    let mut err = std::io::stderr().lock();
    let shown = crate::fault::clean(&format!("{file}: {refused}\n{}: ", question.ask));
    if write!(err, "{shown}").and_then(|()| err.flush()).is_err() {
        return false;
    }
    let mut answer = String::new();
    let read = std::io::stdin().lock().read_line(&mut answer);
    let answer = answer.trim().to_owned();
    if read.is_err() || answer.is_empty() {
        return false;
    }
    (question.apply)(reading, answer);
    true
}
