//! `isobar`: the command line and the web workbench.
//!
//! This room opens the files that the user names, tells the time, prints, and
//! turns every error into what happened and what to do next. It decides
//! nothing: what it prints was decided below.

mod answer;
mod clock;
mod commands;
mod digest;
mod fault;
mod forecast_answer;
mod later_runs;
mod mall_answer;
mod paper;
mod progress;
mod table_text;
mod web;
mod written_numbers;

use std::process::ExitCode;

use clap::Parser;

/// From a container and a question to a proven leak test method.
#[derive(Parser)]
#[command(name = "isobar", version, propagate_version = true, max_term_width = 100)]
#[command(after_help = commands::CAUTIONS)]
struct CommandLine {
    #[command(subcommand)]
    command: commands::Command,
    /// Print one JSON object instead of text.
    #[arg(long, global = true)]
    json: bool,
}

fn main() -> ExitCode {
    keep_libraries_quiet();
    let arguments = CommandLine::parse();
    match commands::run(arguments.command, arguments.json) {
        Ok(Some(answer)) => answer.print(arguments.json),
        Ok(None) => ExitCode::SUCCESS,
        Err(fault) => fault.print(arguments.json),
    }
}

/// The libraries that unpack workbooks and Parquet files panic on some broken
/// ones. The readers catch that and refuse the file by its code; a trace of the
/// library's stack beside it would say nothing to the user.
fn keep_libraries_quiet() {
    let usual = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        let file = panic.location().map_or("", |place| place.file());
        if !file.contains("/parquet-") && !file.contains("/calamine-") {
            usual(panic);
        }
    }));
}
