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
struct Question {
    ask: String,
    apply: fn(&mut Reading, String),
}

fn question(message: &Message) -> Option<Question> {
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
