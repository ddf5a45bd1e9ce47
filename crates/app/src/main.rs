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
    let arguments = CommandLine::parse();
    match commands::run(arguments.command, arguments.json) {
        Ok(Some(answer)) => answer.print(arguments.json),
        Ok(None) => ExitCode::SUCCESS,
        Err(fault) => fault.print(arguments.json),
    }
}
