//! Commands: one file each, in the user's words.

mod assess;
mod backup;
pub mod begin;
pub mod begin_answers;
mod case_source;
mod convert;
pub mod demo;
pub mod design;
pub mod examine;
mod files;
pub mod forecast;
pub mod import;
pub mod labels;
mod leak;
mod mall;
pub mod plan;
pub mod records;
pub mod rehearse;
mod report;
mod serve;
pub mod verify;

use clap::Subcommand;

use crate::answer::Answer;
use crate::fault::Fault;

/// Cautions that stand in the help, the README, the report and every page.
pub const CAUTIONS: &str = "Isobar supports a method. It does not qualify an instrument, release a \
product or replace a site's procedures, the pharmacopoeia in force, local codes, or the judgement \
of qualified people. A room-temperature vacuum test cannot see every leak (plugged, healed, too \
small, emptied). Evacuated containers can break or spill hazardous product: follow site safety \
rules.";

/// What can be asked for.
#[derive(Subcommand)]
pub enum Command {
    /// The main job on three invented cases: forecast, runs, results, report.
    Demo(demo::Demo),
    /// A case file from a container of a standard, or a worked case.
    Begin(begin::Begin),
    /// Open a benchbook in the web workbench.
    Serve(serve::Serve),
    /// Convert flows, pressures, lengths and temperatures.
    Convert(convert::Convert),
    /// Flow through a leak path, and which diameter stands for it.
    Leak(Box<leak::Leak>),
    /// Which leak matters, by every route, and whether the test can see it.
    Mall(mall::MallOfCase),
    /// What vacuum decay can see in a case: window, detection, verdict.
    Forecast(forecast::ForecastCase),
    /// The cycle that finds the leak that matters in the least time.
    Design(design::DesignCase),
    /// Units, order, codes and criteria of a study.
    Plan(plan::PlanStudy),
    /// The chance that a planned study shows what it must.
    Rehearse(rehearse::RehearseStudy),
    /// Read traces and say what is in them: segments, levels, slope, noise.
    Examine(examine::Examine),
    /// Read traces or results of any laboratory; show or store them.
    Import(import::Import),
    /// Statistics on a plain table or on printed figures.
    #[command(subcommand)]
    Assess(assess::Assess),
    /// Write a document of a case as PDF.
    Report(report::Report),
    /// Whether a benchbook is as it was written.
    Verify(verify::Verify),
    /// Copy a benchbook and prove the copy equal.
    Backup(backup::Backup),
    /// Restore a backup, prove it, and time that: also as a drill.
    Restore(records::restore::Restore),
    /// Accounts and roles of a benchbook; begin one with accounts.
    #[command(subcommand)]
    Account(records::account::Account),
    /// Copy a case into another benchbook and prove the two equal.
    Copy(records::copy::Copy),
    /// Write a case as a sealed archive, or its runs as CSV, XLSX or Parquet.
    Export(records::export::Export),
    /// Register of positive controls and flow standards.
    #[command(subcommand)]
    Register(records::register::Register),
    /// Receipt, custody, conditioning and retest rule of units.
    Unit(records::unit::Unit),
    /// Files that belong to a case.
    Attach(records::attach::Attach),
    /// Open items of a case; while one is open, nothing is signed.
    Items(records::items::Items),
    /// Changes of a case since the last review of its audit trail.
    Review(records::review::Review),
    /// Sign a case, or list its signatures.
    Sign(records::sign::Sign),
    /// Sign the head of the log, to be kept elsewhere.
    Checkpoint(records::checkpoint::Checkpoint),
}

/// Runs a command.
pub fn run(command: Command, json: bool) -> Result<Option<Answer>, Fault> {
    match command {
        Command::Demo(command) => demo::run(&command, json),
        Command::Begin(command) => begin::run(&command).map(Some),
        Command::Serve(command) => serve::run(&command).map(|()| None),
        Command::Convert(command) => convert::run(&command).map(Some),
        Command::Leak(command) => leak::run(&command).map(Some),
        Command::Mall(command) => mall::run(&command).map(Some),
        Command::Forecast(command) => forecast::run(&command).map(Some),
        Command::Design(command) => design::run(&command).map(Some),
        Command::Plan(command) => plan::run(&command).map(Some),
        Command::Rehearse(command) => rehearse::run(&command).map(Some),
        Command::Examine(command) => examine::run(&command).map(Some),
        Command::Import(command) => import::run(&command, json).map(Some),
        Command::Assess(command) => assess::run(&command).map(Some),
        Command::Report(command) => report::run(&command).map(Some),
        Command::Verify(command) => verify::run(&command).map(Some),
        Command::Backup(command) => backup::run(&command).map(Some),
        Command::Restore(command) => records::restore::run(&command).map(Some),
        Command::Account(command) => records::account::run(&command).map(Some),
        Command::Copy(command) => records::copy::run(&command).map(Some),
        Command::Export(command) => records::export::run(&command).map(Some),
        Command::Register(command) => records::register::run(&command).map(Some),
        Command::Unit(command) => records::unit::run(&command).map(Some),
        Command::Attach(command) => records::attach::run(&command).map(Some),
        Command::Items(command) => records::items::run(&command).map(Some),
        Command::Review(command) => records::review::run(&command).map(Some),
        Command::Sign(command) => records::sign::run(&command).map(Some),
        Command::Checkpoint(command) => records::checkpoint::run(&command).map(Some),
    }
}
