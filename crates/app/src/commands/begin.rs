//! `isobar begin`: a case file from a container of a standard, or a worked
//! case to look at.

use std::path::PathBuf;

use clap::Args;
use intake::case_file::write_case;
use intake::written_quantity::{nearest_of, read_absolute_pressure, read_length, read_volume};
use serde_json::{Value, json};
use study::container_presets::{self, ContainerPreset, Contents};
use study::profile::{Fill, LeakStatement, Mall, UseOfTest};
use study::profile_gaps::profile_gaps;
use study::{CaseInput, Note, Provenance, worked_cases};

use super::leak::gas_named;
use super::{begin_answers, files};
use crate::answer::{Answer, optional};
use crate::fault::Fault;
use crate::table_text::{pairs, plain, table};

/// Begin a case with a container of a standard, or with a worked case.
#[derive(Args, Clone, Default)]
#[command(after_help = "Examples:
  isobar begin
  isobar begin vial-10r --fill 10mL --liquid --leak 10um -o my_vial.toml
  isobar begin vial-2r --fill 1mL --dry --gas nitrogen --headspace-pressure 0.3bar --leak 5um
  isobar begin syringe-1ml-long --headspace 0.1mL --liquid --may-plug --use release
  isobar begin tray-lidded -o tray.toml
  isobar begin vial-2r --use release --population \"units of lot 7\" \\
      --decision \"the lot is released\" --false-rejects 0.1% --detection 95% \\
      --dry --gas nitrogen --headspace-pressure 0.3bar \\
      --pressure-uncertainty 15mbar --headspace-age 14d --headspace-known measured --leak 5um \\
      --shelf-life 730d --oxygen 2%

Without a name: what there is to begin with. Without -o the case is printed. Dimensions of standards
are from memory: check them against the edition that the site holds. Rig and cycle are working values,
marked as assumed, until yours stand in the file.")]
pub struct Begin {
    /// Container (such as vial-10r) or worked case (such as lyo-2r).
    pub start: Option<String>,
    /// Short name of the case; otherwise that of the container.
    #[arg(long)]
    pub id: Option<String>,
    #[command(flatten)]
    pub purpose: PurposeArgs,
    /// Closure in plain words, such as "bromobutyl stopper, crimped".
    #[arg(long, value_name = "WORDS")]
    pub closure: Option<String>,
    /// Product in plain words.
    #[arg(long, default_value = "product to be named")]
    pub product: String,
    /// Volume of the filling.
    #[arg(long, value_name = "VOLUME")]
    pub fill: Option<String>,
    /// The filling is a liquid.
    #[arg(long, conflicts_with = "dry")]
    pub liquid: bool,
    /// The filling is dry.
    #[arg(long)]
    pub dry: bool,
    /// Dried product may close a leak. Say it where one of these holds: it holds protein, sugar, salt or
    /// another solid; it wets the place of a leak in storage or on the way; units are tested long
    /// after filling.
    #[arg(long)]
    pub may_plug: bool,
    #[command(flatten)]
    pub headspace: HeadspaceArgs,
    /// Flow-equivalent diameter of the leak that matters, where somebody has said it.
    #[arg(long, value_name = "LENGTH")]
    pub leak: Option<String>,
    /// Why that leak matters.
    #[arg(long, value_name = "WORDS", requires = "leak")]
    pub leak_because: Option<String>,
    /// Who or what said so.
    #[arg(long, value_name = "WORDS", requires = "leak")]
    pub leak_from: Option<String>,
    #[command(flatten)]
    pub storage: StorageArgs,
    /// Case file to write (TOML).
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
}

/// What the test is for, and which errors are tolerable.
#[derive(Args, Clone, Default)]
pub struct PurposeArgs {
    /// Where the test is used: development, release, full inspection, stability, complaint.
    #[arg(long = "use", value_name = "USE", default_value = "development")]
    pub use_of_test: String,
    /// Units of which the answer is to speak.
    #[arg(long, value_name = "WORDS")]
    pub population: Option<String>,
    /// What hangs on one result.
    #[arg(long, value_name = "WORDS")]
    pub decision: Option<String>,
    /// Good units that may be rejected, such as 0.1%; otherwise 0.1%.
    #[arg(long, value_name = "SHARE")]
    pub false_rejects: Option<String>,
    /// Probability with which the leak that matters must be found, such as 95%; otherwise 95%.
    #[arg(long, value_name = "SHARE")]
    pub detection: Option<String>,
    /// Confidence with which both are to be shown; otherwise 95%.
    #[arg(long, value_name = "SHARE")]
    pub confidence: Option<String>,
}

/// The gas over the product at the time of the test.
#[derive(Args, Clone, Default)]
pub struct HeadspaceArgs {
    /// Gas of the headspace.
    #[arg(long, default_value = "air")]
    pub gas: String,
    /// Absolute pressure of the headspace at the time of the test.
    #[arg(long, value_name = "PRESSURE", default_value = "1atm")]
    pub headspace_pressure: String,
    /// Standard uncertainty of that pressure, such as 15mbar.
    #[arg(long, value_name = "PRESSURE")]
    pub pressure_uncertainty: Option<String>,
    /// Volume of the headspace, where it is known.
    #[arg(long, value_name = "VOLUME")]
    pub headspace: Option<String>,
    /// Standard uncertainty of that volume, such as 0.2mL.
    #[arg(long, value_name = "VOLUME", requires = "headspace")]
    pub volume_uncertainty: Option<String>,
    /// Time from sealing to the test, such as 30d: pressure and gas are those of this age.
    #[arg(long, value_name = "TIME")]
    pub headspace_age: Option<String>,
    /// How pressure and volume are known: measured, published, assumed or computed.
    #[arg(long, value_name = "HOW")]
    pub headspace_known: Option<String>,
    /// From what, such as a document or a sample.
    #[arg(long, value_name = "WORDS")]
    pub headspace_from: Option<String>,
}

/// Storage and what it may do to the contents.
#[derive(Args, Clone, Default)]
pub struct StorageArgs {
    /// Time from sealing to expiry, such as 730d.
    #[arg(long, value_name = "TIME")]
    pub shelf_life: Option<String>,
    /// Temperature of the store; otherwise 25C.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub store: Option<String>,
    /// Highest absolute pressure of the headspace at expiry.
    #[arg(long, value_name = "PRESSURE")]
    pub pressure_at_expiry: Option<String>,
    /// Most oxygen in the headspace at expiry, such as 2%.
    #[arg(long, value_name = "SHARE")]
    pub oxygen: Option<String>,
    /// Most water taken up until expiry, such as 1mg.
    #[arg(long, value_name = "MASS")]
    pub moisture: Option<String>,
    /// Most liquid lost as vapour until expiry, such as 50mg.
    #[arg(long, value_name = "MASS")]
    pub liquid_loss: Option<String>,
}

/// Runs the command.
pub fn run(command: &Begin) -> Result<Answer, Fault> {
    match &command.start {
        None => Ok(list()),
        Some(start) => written(command, &case(command, start)?),
    }
}

/// The case that a container or a worked case begins.
///
/// # Errors
/// Where there is no such start, or its contents are not said.
pub fn case(command: &Begin, start: &str) -> Result<CaseInput, Fault> {
    if let Some(case) =
        worked_cases::all().into_iter().find(|case| case.id.eq_ignore_ascii_case(start))
    {
        return Ok(case);
    }
    let preset = container_presets::find(start).ok_or_else(|| unknown(start))?;
    let contents = contents(command)?;
    let id = command.id.as_deref().unwrap_or(preset.name);
    let mut case = container_presets::begin(id, &preset, &contents).map_err(|error| {
        Fault::users(
            error.to_string(),
            "state --fill and --headspace; isobar begin without a name lists the containers",
        )
    })?;
    begin_answers::purpose(&command.purpose, &mut case.profile.purpose)?;
    begin_answers::headspace(&command.headspace, &mut case.profile.headspace)?;
    case.storage = begin_answers::storage(&command.storage)?;
    if let Some(closure) = &command.closure {
        let container = &mut case.profile.container;
        container.description = format!("{}, closed with {closure}", container.description);
    }
    Ok(case)
}

fn contents(command: &Begin) -> Result<Contents, Fault> {
    if !command.liquid && !command.dry {
        return Err(Fault::users(
            "it is not said whether the filling is a liquid",
            "add --liquid or --dry: a liquid in the leak decides what a vacuum test can see",
        ));
    }
    let use_of_test = UseOfTest::from_word(&command.purpose.use_of_test).ok_or_else(|| {
        let known: Vec<&str> = UseOfTest::ALL.iter().map(|value| value.word()).collect();
        Fault::users(
            format!("`{}` is not a use of the test", command.purpose.use_of_test),
            format!("known: {}", known.join(", ")),
        )
    })?;
    let mall = match &command.leak {
        None => None,
        Some(text) => Some(Mall {
            stated: LeakStatement::FlowEquivalentDiameter(read_length(text)?),
            reasoning: command.leak_because.clone().unwrap_or_else(|| {
                "as stated where the case was begun; the reasoning is to be written".to_owned()
            }),
            provenance: Provenance::assumed(
                command.leak_from.as_deref().unwrap_or("stated without a source"),
            ),
        }),
    };
    Ok(Contents {
        product: command.product.clone(),
        fill: if command.dry { Fill::Dry } else { Fill::Liquid },
        fill_volume: read_volume(command.fill.as_deref().unwrap_or("0mL"))?,
        may_plug: command.may_plug,
        gas: gas_named(&command.headspace.gas)?,
        headspace_pressure: read_absolute_pressure(&command.headspace.headspace_pressure, None)?,
        headspace_volume: command.headspace.headspace.as_deref().map(read_volume).transpose()?,
        use_of_test,
        mall,
    })
}

fn unknown(start: &str) -> Fault {
    let presets = container_presets::all();
    let cases = worked_cases::all();
    let known =
        presets.iter().map(|preset| preset.name).chain(cases.iter().map(|case| case.id.as_str()));
    let near = nearest_of(start, known)
        .map_or_else(String::new, |name| format!("did you mean `{name}`? "));
    Fault::users(
        format!("`{start}` is neither a container nor a worked case"),
        format!("{near}`isobar begin` without a name lists both"),
    )
}

fn written(command: &Begin, case: &CaseInput) -> Result<Answer, Fault> {
    let text = write_case(case);
    let gaps = profile_gaps(case);
    let file = command.output.as_ref().map(|path| path.display().to_string());
    if let Some(path) = &command.output {
        if path.exists() {
            return Err(Fault::users(
                format!("`{}` is there already", path.display()),
                "name another file, or move that one away: nothing is written over",
            ));
        }
        files::write_whole(path, text.as_bytes())?;
    }
    let notes: Vec<Note> = gaps
        .iter()
        .map(|gap| {
            Note::caution("missing", format!("missing: {} ({})", gap.missing, gap.matters), gap.how)
        })
        .collect();
    let shown = match &file {
        Some(file) => format!(
            "wrote {file}: {}\nnext: isobar forecast {file}\n{} things are missing; each is said below",
            case.title,
            gaps.len()
        ),
        None => text.clone(),
    };
    let answer = json!({
        "case": case.id, "title": case.title, "invented": case.invented, "file": file,
        "case_toml": text,
        "missing": gaps.iter().map(|gap| json!({
            "what": gap.missing, "why": gap.matters, "how": gap.how,
        })).collect::<Vec<_>>(),
        "notes": crate::answer::notes_json(&notes),
    });
    Ok(Answer::new(shown, answer, notes))
}

fn list() -> Answer {
    let presets = container_presets::all();
    let rows: Vec<Vec<String>> = presets
        .iter()
        .map(|preset| {
            vec![
                preset.name.to_owned(),
                plain(preset.nominal_ml, 3),
                preset.closed_ml.map_or_else(|| "-".to_owned(), |closed| plain(closed, 3)),
                plain(preset.wall_mm, 2),
                format!("{} x {}", plain(preset.width_mm, 4), plain(preset.height_mm, 4)),
                preset.standard.unwrap_or("generic, invented").to_owned(),
            ]
        })
        .collect();
    let cases = worked_cases::all();
    let case_rows: Vec<(&str, String)> =
        cases.iter().map(|case| (case.id.as_str(), case.title.clone())).collect();
    let text = format!(
        "Containers to begin with (dimensions from memory: check against the edition held)\n{}\n\
         Worked cases (invented)\n{}",
        table(&["name", "mL", "closed mL", "wall mm", "width x height mm", "standard"], &rows),
        pairs(&case_rows),
    );
    let answer = json!({
        "containers": presets.iter().map(container).collect::<Vec<_>>(),
        "worked_cases": cases.iter().map(|case| json!({
            "case": case.id, "title": case.title, "question": case.question,
        })).collect::<Vec<_>>(),
        "notes": [],
    });
    Answer::new(text, answer, Vec::new())
}

/// A container as JSON.
pub fn container(preset: &ContainerPreset) -> Value {
    json!({
        "name": preset.name, "kind": preset.kind.word(), "description": preset.description,
        "nominal_ml": preset.nominal_ml, "closed_ml": optional(preset.closed_ml),
        "wall_mm": preset.wall_mm, "width_mm": preset.width_mm, "height_mm": preset.height_mm,
        "source": preset.source(),
    })
}
