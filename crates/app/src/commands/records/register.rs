//! `isobar register`: positive controls and flow standards.

use std::path::PathBuf;

use benchbook::{Benchbook, Certificate, CheckKind, ItemKind, ItemState, RegisterItem};
use clap::{Args, Subcommand, ValueEnum};
use serde_json::{Value, json};

use super::super::{files, serve};
use super::acting::Acting;
use crate::answer::Answer;
use crate::clock;
use crate::fault::Fault;

/// Register of positive controls and flow standards.
#[derive(Subcommand)]
pub enum Register {
    /// Register an item that came in.
    Add(Add),
    /// Record an arrival check or a re-verification.
    Check(Check),
    /// Count uses of an item.
    Use(Use),
    /// Suspect an item of being clogged, or retire it.
    Withdraw(Withdraw),
    /// The items with their state.
    List(List),
}

#[derive(Clone, Copy, ValueEnum)]
enum Kind {
    PositiveControl,
    FlowStandard,
}

/// Register an item.
#[derive(Args)]
#[command(after_help = "Example:
  isobar register add demo/demo.benchbook --id FS-1 --kind flow-standard \\
    --description \"glass capillary\" --certificate INV-0001 --issued-by \"Invented Calibration\" \\
    --valid-until 2030-12-31 --value \"2.0e-3 std cm3/s@0C\" --uncertainty \"5 %, k = 2\"
  isobar register add demo/demo.benchbook --id FS-2 --kind flow-standard \\
    --description \"invented\" --dcc examples/certificate.xml --valid-until 2030-12-31")]
pub struct Add {
    /// The benchbook.
    benchbook: PathBuf,
    /// Name of the item in the laboratory.
    #[arg(long)]
    id: String,
    /// What it is.
    #[arg(long, value_enum)]
    kind: Kind,
    /// In words: container, place and kind of the leak.
    #[arg(long)]
    description: String,
    /// Number of its certificate.
    #[arg(long, requires = "valid_until")]
    certificate: Option<String>,
    /// Who issued the certificate.
    #[arg(long, default_value = "not stated")]
    issued_by: String,
    /// Last day on which the certificate holds, such as 2027-05-31.
    #[arg(long)]
    valid_until: Option<String>,
    /// The certified value with its unit.
    #[arg(long, default_value = "not stated")]
    value: String,
    /// Its expanded uncertainty.
    #[arg(long, default_value = "not stated")]
    uncertainty: String,
    /// File of the certificate, kept byte for byte.
    #[arg(long, requires = "certificate")]
    file: Option<PathBuf>,
    /// Digital calibration certificate (XML) that is read and kept; it needs --valid-until.
    #[arg(long, requires = "valid_until", conflicts_with_all = ["certificate", "file"])]
    dcc: Option<PathBuf>,
    #[command(flatten)]
    acting: Acting,
}

/// Record a check.
#[derive(Args)]
#[command(after_help = "Example:
  isobar register check demo/demo.benchbook --id FS-1 --arrival --passed \\
    --reading \"2.02e-3 std cm3/s@0C\"")]
pub struct Check {
    /// The benchbook.
    benchbook: PathBuf,
    /// The item.
    #[arg(long)]
    id: String,
    /// The check on arrival; without it, a re-verification.
    #[arg(long)]
    arrival: bool,
    /// It is what its certificate says; without it, it is suspected clogged.
    #[arg(long)]
    passed: bool,
    /// What was read, with its unit.
    #[arg(long)]
    reading: String,
    #[command(flatten)]
    acting: Acting,
}

/// Count uses.
#[derive(Args)]
#[command(after_help = "Example:
  isobar register use demo/demo.benchbook --id FS-1 --times 3")]
pub struct Use {
    /// The benchbook.
    benchbook: PathBuf,
    /// The item.
    #[arg(long)]
    id: String,
    /// How often.
    #[arg(long, default_value_t = 1)]
    times: u32,
    #[command(flatten)]
    acting: Acting,
}

/// Withdraw an item.
#[derive(Args)]
#[command(after_help = "Example:
  isobar register withdraw demo/demo.benchbook --id FS-1 --reason \"reads low\"")]
pub struct Withdraw {
    /// The benchbook.
    benchbook: PathBuf,
    /// The item.
    #[arg(long)]
    id: String,
    /// It is used no more; without it, it is suspected clogged.
    #[arg(long)]
    retire: bool,
    #[command(flatten)]
    acting: Acting,
}

/// The items.
#[derive(Args)]
#[command(after_help = "Example:
  isobar register list demo/demo.benchbook")]
pub struct List {
    /// The benchbook.
    benchbook: PathBuf,
}

/// Runs the command.
pub fn run(command: &Register) -> Result<Answer, Fault> {
    serve::runtime()?.block_on(async {
        let at = clock::moment();
        let book = match command {
            Register::Add(command) => add(command).await?,
            Register::Check(command) => {
                let book = command.acting.open(&command.benchbook).await?;
                let kind = match command.arrival {
                    true => CheckKind::Arrival,
                    false => CheckKind::Reverification,
                };
                book.check_item(&command.id, kind, command.passed, &command.reading, &at).await?;
                book
            }
            Register::Use(command) => {
                let book = command.acting.open(&command.benchbook).await?;
                book.use_item(&command.id, command.times, &at).await?;
                book
            }
            Register::Withdraw(command) => {
                let book = command.acting.open(&command.benchbook).await?;
                let state = match command.retire {
                    true => ItemState::Retired,
                    false => ItemState::SuspectedClogged,
                };
                book.withdraw_item(&command.id, state, &at).await?;
                book
            }
            Register::List(command) => Benchbook::open_read_only(&command.benchbook).await?,
        };
        let items = book.register().await?;
        book.close().await;
        Ok(shown(&items, &at.utc))
    })
}

async fn add(command: &Add) -> Result<Benchbook, Fault> {
    let file = command.file.as_deref().map(files::read_bytes).transpose()?;
    let book = command.acting.open(&command.benchbook).await?;
    let (file, read) = match &command.dcc {
        None => (file, None),
        Some(path) => {
            let bytes = files::read_bytes(path)?;
            let read = intake::calibration_certificate::read(&bytes).map_err(|error| {
                Fault::users(format!("`{}`, {error}", path.display()), error.next_step)
            })?;
            (Some(bytes), Some(read))
        }
    };
    let certificate = match (&command.certificate, &command.valid_until) {
        (None, Some(valid_until)) if read.is_some() => {
            read.map(|read| from_digital(&read, valid_until))
        }
        (Some(number), Some(valid_until)) => Some(Certificate {
            number: number.clone(),
            issued_by: command.issued_by.clone(),
            valid_until: valid_until.clone(),
            value: command.value.clone(),
            uncertainty: command.uncertainty.clone(),
        }),
        _ => None,
    };
    let kind = match command.kind {
        Kind::PositiveControl => ItemKind::PositiveControl,
        Kind::FlowStandard => ItemKind::FlowStandard,
    };
    let with_file = certificate.as_ref().map(|certificate| (certificate, file.as_deref()));
    book.register_item(&command.id, kind, &command.description, with_file, &clock::moment())
        .await?;
    Ok(book)
}

/// What a digital certificate says, in the words of the register.
pub fn from_digital(
    read: &intake::calibration_certificate::CalibrationCertificate,
    valid_until: &str,
) -> Certificate {
    let values: Vec<String> = read
        .quantities
        .iter()
        .map(|one| format!("{} {} {}", one.name, one.value, one.unit).trim_end().to_owned())
        .collect();
    let uncertainties: Vec<String> = read
        .quantities
        .iter()
        .map(|one| match (one.expanded_uncertainty, one.coverage_factor) {
            (Some(uncertainty), Some(factor)) => {
                format!("{uncertainty} {}, k = {factor}", one.unit)
            }
            (Some(uncertainty), None) => format!("{uncertainty} {}", one.unit),
            (None, _) => "not stated".to_owned(),
        })
        .collect();
    Certificate {
        number: read.number.clone(),
        issued_by: read.laboratory.clone(),
        valid_until: valid_until.to_owned(),
        value: values.join("; "),
        uncertainty: uncertainties.join("; "),
    }
}

const fn kind_words(kind: ItemKind) -> &'static str {
    match kind {
        ItemKind::PositiveControl => "positive control",
        ItemKind::FlowStandard => "flow standard",
    }
}

fn shown(items: &[RegisterItem], now: &str) -> Answer {
    let mut text = String::new();
    for item in items {
        let hindrance = item.hindrance(now);
        let kind = kind_words(item.kind);
        text.push_str(&format!(
            "{}  {kind}, {}: {}, {} uses{}\n",
            item.id,
            item.description,
            item.state.words(),
            item.uses,
            hindrance.as_ref().map_or_else(String::new, |why| format!("; not to be used: {why}"))
        ));
    }
    if items.is_empty() {
        text.push_str("none\n");
    }
    Answer::new(text, json!({ "items": as_json(items, now) }), Vec::new())
}

/// The items as data, the same for the command line and for the page.
pub fn as_json(items: &[RegisterItem], now: &str) -> Value {
    let one_json = |item: &RegisterItem| {
        let hindrance = item.hindrance(now);
        json!({
            "id": item.id,
            "kind": kind_words(item.kind),
            "description": item.description,
            "state": item.state.words(),
            "uses": item.uses,
            "may_be_used": hindrance.is_none(),
            "hindrance": hindrance,
            "certificate": item.certificate.as_ref().map(|one| json!({
                "certificate_number": one.number,
                "issued_by": one.issued_by,
                "valid_until": one.valid_until,
                "value": one.value,
                "uncertainty": one.uncertainty,
            })),
            "last_check": item.last_check.as_ref().map(|check| json!({
                "check": match check.kind {
                    CheckKind::Arrival => "arrival",
                    CheckKind::Reverification => "re-verification",
                },
                "passed": check.passed,
                "reading": check.reading,
                "at": check.at,
            })),
            "certificate_file_sha256": item.file_sha256,
        })
    };
    items.iter().map(one_json).collect()
}
