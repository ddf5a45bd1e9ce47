//! Files too long to be held, and pipes: read piece by piece, one run at a
//! time. Memory stays flat: of each run its features are kept, and no samples.

use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::sync::mpsc::{Receiver, channel, sync_channel};

use intake::codes;
use intake::message::{Message, Refusal};
use intake::plan_file::write_plan;
use intake::reading_plan::ReadingPlan;
use intake::rig_stamp::{RigStamp, is_counter_key, rig_stamp_of};
use intake::trace_file::{ImportedTrace, SampleBlock, TraceStream, propose_reading};
use rayon::prelude::*;
use sha2::{Digest, Sha256};
use study::plan::Plan;
use study::runs::{RunClass, RunOrigin};
use study::trace::PressureTrace;

use super::read::{
    Content, LARGEST_BYTES, Part, ReadFile, counter_unread, hostile_name, with_option,
};
use super::runs::{Candidate, OfPart, unit_of};
use super::work::{Imported, run_json};
use crate::commands::examine::examined::{Known, measure};
use crate::digest::hexadecimal;
use crate::fault::Fault;
use crate::later_runs::LaterRuns;
use crate::progress;

/// Longest file that is read whole, with every check of a whole file.
const LONG_BYTES: u64 = 1 << 28;
/// Bytes that are read at once.
const PIECE_BYTES: usize = 1 << 22;
/// A run longer than this is no cycle: 64 MiB of samples.
const MOST_SAMPLES: usize = 1 << 22;

/// Runs of which the answer is made in memory; those beyond wait in a file.
const MOST_HELD: usize = 5_000;

/// True for a text longer than is read whole, and for what is no file. Runs
/// that are to be stored need their samples, so that longer files are read
/// whole for them.
pub fn is_long(path: &Path, is_stored: bool) -> bool {
    let Ok(about) = std::fs::metadata(path) else { return false };
    if !about.is_file() {
        return !about.is_dir();
    }
    if about.len() <= if is_stored { LARGEST_BYTES as u64 } else { LONG_BYTES } {
        return false;
    }
    let mut start = [0; 4];
    let read = File::open(path).and_then(|mut file| file.read_exact(&mut start));
    read.is_ok() && !start.starts_with(b"PK") && &start != b"PAR1"
}

/// Reads a long file; a refusal is among its messages.
pub fn read_long(
    path: &Path,
    plan: &ReadingPlan,
    known: &Known,
    run_plan: Option<&Plan>,
    given: Option<RunClass>,
) -> Result<Imported, Fault> {
    let file = File::open(path).map_err(|error| Fault::cannot_read(path, &error))?;
    let n_bytes = file.metadata().map(|about| about.len()).unwrap_or(0);
    let mut long = Long {
        path,
        known,
        run_plan,
        given,
        part: Part {
            sheet: String::new(),
            content: Content::Traces(Vec::new()),
            stamp: RigStamp::default(),
            places: Default::default(),
        },
        open: Vec::new(),
        run: String::new(),
        found: Vec::new(),
        later: None,
    };
    let bar = progress::bar("MiB", usize::try_from(n_bytes >> 20).unwrap_or(0));
    let mut imported = Imported {
        path: path.to_path_buf(),
        file: ReadFile {
            sha256: String::new(),
            bytes: Vec::new(),
            n_bytes: 0,
            parts: Vec::new(),
            plan: String::new(),
            messages: hostile_name(path),
        },
        later: None,
        runs: Vec::new(),
    };
    let pieces = Pieces::of(file);
    let mut stream = Some(TraceStream::new(plan));
    for piece in &pieces.full {
        let (piece, n) = piece.map_err(|error| Fault::cannot_read(path, &error))?;
        if n == 0 {
            break;
        }
        let bytes = &piece[..n];
        if imported.file.n_bytes == 0 {
            let head =
                bytes.iter().rposition(|&byte| byte == b'\n').map_or(bytes, |end| &bytes[..=end]);
            long.part.stamp = rig_stamp_of(&head[..head.len().min(1 << 14)]);
            long.part.stamp.runs_are_cycles = plan.run.as_deref().is_some_and(is_counter_key);
            imported.file.messages.extend(counter_unread(&long.part.stamp));
            if let Ok((agreed, _)) = propose_reading(&head[..head.len().min(1 << 18)], plan) {
                imported.file.plan = write_plan(&agreed);
            }
        }
        imported.file.n_bytes += n as u64;
        bar.set_position(imported.file.n_bytes >> 20);
        // After a refusal the rest is only hashed.
        if let Some(reading) = &mut stream {
            let read = reading.push(bytes).and_then(|blocks| long.add(blocks));
            if let Err(refusal) = read {
                imported.file.messages.extend(refusal.into_messages().into_iter().map(with_option));
                stream = None;
            }
        }
        pieces.give_back(piece);
    }
    bar.finish_and_clear();
    if let Some(stream) = stream {
        let read = stream.finish().and_then(|end| {
            imported.file.messages.extend(end.messages);
            long.add(end.blocks)?;
            long.close()
        });
        if let Err(refusal) = read {
            imported.file.messages.extend(refusal.into_messages().into_iter().map(with_option));
        }
    }
    imported.file.sha256 = pieces.sha256();
    if !imported.file.is_refused() {
        imported.file.messages.push(
            Message::remark(codes::TOO_LARGE, "The file was read piece by piece")
                .done("Features were taken from each run, and no causes; samples were not kept."),
        );
        imported.runs = long.found;
        let waiting = long.later.map(LaterRuns::finish).transpose();
        match waiting {
            Ok(waiting) => imported.later = waiting,
            Err(error) => {
                imported.runs.clear();
                imported.file.messages.extend(no_room(&error).into_messages());
            }
        }
        for candidate in &mut imported.runs {
            candidate.run.origin = RunOrigin::Imported {
                file: path.display().to_string(),
                sha256: imported.file.sha256.clone(),
            };
        }
    }
    Ok(imported)
}

/// A run that is being read, and the candidates so far.
struct Long<'a> {
    path: &'a Path,
    known: &'a Known,
    run_plan: Option<&'a Plan>,
    given: Option<RunClass>,
    part: Part,
    /// Channels of the run that is being read.
    open: Vec<(String, PressureTrace)>,
    run: String,
    found: Vec<Candidate>,
    /// Runs beyond those, which wait for the answer.
    later: Option<LaterRuns>,
}

impl Long<'_> {
    fn add(&mut self, blocks: Vec<SampleBlock>) -> Result<(), Refusal> {
        let mut done = Vec::new();
        for block in blocks {
            if block.begins {
                done.extend(self.take());
                self.run = block.run;
            }
            for (number, channel) in block.channels.into_iter().enumerate() {
                if self.open.len() <= number {
                    self.open.push((channel.name, PressureTrace::default()));
                }
                let Some((name, trace)) = self.open.get_mut(number) else { continue };
                trace.times_s.extend(channel.times_s);
                trace.pressures_pa.extend(channel.pressures_pa);
                if trace.times_s.len() > MOST_SAMPLES {
                    let mut message = Message::refused(
                        codes::TOO_LARGE,
                        format!("A run has more than {MOST_SAMPLES} samples"),
                    )
                    .done("Reading was stopped.")
                    .next("Name the column that tells the runs apart: run = \"...\" in the reading plan.");
                    message.place.column_name = Some(name.clone());
                    return Err(message.into());
                }
            }
        }
        self.examine(done)
    }

    fn close(&mut self) -> Result<(), Refusal> {
        let done = self.take();
        self.examine(done)
    }

    /// The channels of the run that has ended.
    fn take(&mut self) -> Vec<ImportedTrace> {
        core::mem::take(&mut self.open)
            .into_iter()
            .map(|(name, trace)| ImportedTrace {
                name,
                trace,
                start: None,
                run: self.run.clone(),
                n_over_range: 0,
                vented_from: None,
                messages: Vec::new(),
                lines: Default::default(),
                column: 0,
                clock_column: None,
            })
            .collect()
    }

    /// Runs that have ended, several at once; their order stays.
    fn examine(&mut self, done: Vec<ImportedTrace>) -> Result<(), Refusal> {
        let origin = RunOrigin::Imported { file: String::new(), sha256: String::new() };
        let several = self.open.len() > 1;
        let (path, part, known) = (self.path, &self.part, self.known);
        let shared = OfPart {
            path,
            part,
            origin: &origin,
            n_tiers: known.tiers.len(),
            plan: self.run_plan,
            given: self.given,
        };
        let found: Vec<Vec<Candidate>> = done
            .par_iter()
            .map(|trace| {
                measure(trace, known)
                    .into_iter()
                    .map(|examined| {
                        let mut unit = unit_of(path, part, trace, &examined, several);
                        if several && !trace.run.is_empty() {
                            unit.push_str(&format!(" {}", trace.name));
                        }
                        // One line for each of very many runs tells nothing.
                        let mut candidate = shared.run(trace, unit, examined, &[]);
                        candidate.run.trace = PressureTrace::default();
                        candidate.notes.clear();
                        candidate
                    })
                    .collect()
            })
            .collect();
        for candidate in found.into_iter().flatten() {
            if self.found.len() < MOST_HELD {
                self.found.push(candidate);
                continue;
            }
            if self.later.is_none() {
                self.later = Some(LaterRuns::new().map_err(|error| no_room(&error))?);
            }
            let Some(later) = &mut self.later else { continue };
            later.push(&run_json(&candidate)).map_err(|error| no_room(&error))?;
        }
        Ok(())
    }
}

/// The folder for temporary files is full, or not to be written.
fn no_room(error: &std::io::Error) -> Refusal {
    Message::refused(
        codes::TOO_LARGE,
        format!(
            "The runs beyond {MOST_HELD} cannot wait in the folder for temporary files: {error}"
        ),
    )
    .done("Reading was stopped.")
    .next("Make room there, or name another folder in TMPDIR.")
    .into()
}

/// Pieces of a file, read and hashed by a thread of their own while others are
/// taken apart.
struct Pieces {
    full: Receiver<std::io::Result<(Vec<u8>, usize)>>,
    used: std::sync::mpsc::Sender<Vec<u8>>,
    reading: std::thread::JoinHandle<String>,
}

impl Pieces {
    fn of(mut file: File) -> Self {
        let (send, full) = sync_channel(2);
        let (used, empty) = channel::<Vec<u8>>();
        let reading = std::thread::spawn(move || {
            let mut hash = Sha256::new();
            let mut spare = 3;
            loop {
                let piece = if spare > 0 {
                    spare -= 1;
                    Ok(vec![0; PIECE_BYTES])
                } else {
                    empty.recv()
                };
                let Ok(mut piece) = piece else { break };
                // A pipe gives little at a time; a piece is filled first.
                let mut n = 0;
                let read = loop {
                    match file.read(&mut piece[n..]) {
                        Ok(0) => break Ok(n),
                        Ok(more) => n += more,
                        Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
                        Err(error) => break Err(error),
                    }
                    if n == piece.len() {
                        break Ok(n);
                    }
                };
                hash.update(&piece[..n]);
                let is_end = !matches!(read, Ok(n) if n > 0);
                if send.send(read.map(|n| (piece, n))).is_err() || is_end {
                    break;
                }
            }
            hexadecimal(&hash.finalize())
        });
        Self { full, used, reading }
    }

    fn give_back(&self, piece: Vec<u8>) {
        // The reading thread may have ended.
        let _ = self.used.send(piece);
    }

    /// SHA-256 of everything that was read.
    fn sha256(self) -> String {
        drop(self.full);
        drop(self.used);
        self.reading.join().unwrap_or_default()
    }
}
