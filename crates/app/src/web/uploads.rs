//! Files that were sent to be imported: kept for a while in memory, read apart
//! from the threads that answer, and stored only when their owner says so.

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use benchbook::{Benchbook, Sessions};
use serde_json::{Value, json};
use study::Note;
use tokio::sync::Semaphore;

use super::form::SentFile;
use super::workbench::Server;
use crate::commands::examine::reading::Reading;
use crate::commands::import::ask::question;
use crate::commands::import::preview::{Preview, previews};
use crate::commands::import::work::{self, Checked, Choices, Source};
use crate::fault::Fault;

/// Bytes of one form with its files.
pub const MOST_BYTES: usize = 64 << 20;
/// Files of one form.
pub const MOST_FILES: usize = 1_000;
/// Bytes of all that wait, and how many; the oldest give way.
const MOST_KEPT_BYTES: usize = 3 * MOST_BYTES;
const MOST_KEPT: usize = 16;
/// How long files wait to be stored.
const PATIENCE: Duration = Duration::from_secs(3600);
/// Forms with files that are taken in at once.
const AT_ONCE: usize = 2;
/// How long an answer waits for the reading: what is quick needs no second look.
const QUICK: Duration = Duration::from_millis(700);

/// What is said of files with which nothing was done yet.
const ARRIVED: &str = "arrived";

/// Files of which the beginning is shown.
const SHOWN_FILES: usize = 8;

/// A question that a file asks, and what becomes of the answer.
#[derive(Clone)]
pub struct Asked {
    /// Name of the file.
    pub file: String,
    /// Its message: code, what, where.
    pub message: String,
    /// What is asked.
    pub ask: String,
    /// Puts the answer among the options.
    pub apply: fn(&mut Reading, String),
}

/// What was seen in the files.
pub struct Seen {
    /// As the command line answers in JSON.
    pub answer: Value,
    /// What was noticed.
    pub notes: Vec<Note>,
    /// The beginnings of the first files, refused ones first, by their place.
    pub previews: Vec<(usize, Vec<Preview>)>,
    /// What is to be answered before anything can be read.
    pub questions: Vec<Asked>,
    /// Units of which nobody has said what they are.
    pub without_class: Vec<String>,
    /// Files that are refused.
    pub n_refused: usize,
    /// True where nothing is taken because of them.
    pub is_refused: bool,
}

/// Where an import stands.
#[derive(Clone)]
pub enum State {
    /// Being read, or being stored.
    Working {
        /// What is being done, in one word.
        word: &'static str,
    },
    /// Read, and not stored.
    Seen(Arc<Seen>),
    /// Stored as it was seen.
    Stored(Arc<Seen>),
    /// Not done: why, and what had been seen before.
    Failed(Fault, Option<Arc<Seen>>),
}

/// Files that wait.
pub struct Upload {
    /// Its name in an address.
    pub token: String,
    /// The case they are for.
    pub case_id: String,
    /// The files.
    pub sources: Vec<Source>,
    /// How much they are together.
    pub n_bytes: usize,
    owner: String,
    since: Instant,
    choices: Mutex<Choices>,
    state: Mutex<State>,
    n_done: AtomicUsize,
    stopped: AtomicBool,
}

fn locked<T>(what: &Mutex<T>) -> MutexGuard<'_, T> {
    what.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Upload {
    /// Where it stands.
    pub fn state(&self) -> State {
        locked(&self.state).clone()
    }

    /// How it is read.
    pub fn choices(&self) -> Choices {
        locked(&self.choices).clone()
    }

    /// Files that are read by now.
    pub fn n_done(&self) -> usize {
        self.n_done.load(Ordering::Relaxed)
    }

    /// Begins something, where nothing is under way and nothing is stored yet.
    fn begin(&self, word: &'static str) -> bool {
        let mut state = locked(&self.state);
        let is_free = match &*state {
            State::Working { word } => *word == ARRIVED,
            State::Stored(_) => false,
            State::Seen(_) | State::Failed(..) => true,
        };
        if is_free {
            *state = State::Working { word };
        }
        is_free
    }

    fn set(&self, state: State) {
        *locked(&self.state) = state;
    }

    fn last_seen(&self) -> Option<Arc<Seen>> {
        match self.state() {
            State::Seen(seen) | State::Stored(seen) => Some(seen),
            State::Failed(_, seen) => seen,
            State::Working { .. } => None,
        }
    }
}

/// All files that wait.
pub struct Uploads {
    kept: Mutex<Vec<Arc<Upload>>>,
    /// Taken while a form with files comes in.
    pub arriving: Semaphore,
    reading: Semaphore,
}

impl Default for Uploads {
    fn default() -> Self {
        Self {
            kept: Mutex::default(),
            arriving: Semaphore::new(AT_ONCE),
            // One at a time: reading uses every core by itself.
            reading: Semaphore::new(1),
        }
    }
}

impl Uploads {
    /// Keeps files that were sent. Of one owner and case only the last wait.
    ///
    /// # Errors
    /// Where the system gives no random numbers.
    pub fn keep(
        &self,
        owner: &str,
        case_id: &str,
        files: &[&SentFile],
        choices: Choices,
    ) -> Result<Arc<Upload>, benchbook::BenchbookError> {
        let upload = Arc::new(Upload {
            token: Sessions::draw_token()?,
            case_id: case_id.to_owned(),
            sources: files.iter().enumerate().map(|(index, file)| source(index, file)).collect(),
            n_bytes: files.iter().map(|file| file.bytes.len()).sum(),
            owner: owner.to_owned(),
            since: Instant::now(),
            choices: Mutex::new(choices),
            state: Mutex::new(State::Working { word: ARRIVED }),
            n_done: AtomicUsize::new(0),
            stopped: AtomicBool::new(false),
        });
        let mut kept = locked(&self.kept);
        let is_replaced = |one: &Upload| one.owner == owner && one.case_id == case_id;
        kept.retain(|one| {
            let stays = !is_replaced(one) && one.since.elapsed() < PATIENCE;
            // What nobody waits for need not be read to its end.
            one.stopped.fetch_or(!stays, Ordering::Relaxed);
            stays
        });
        kept.push(Arc::clone(&upload));
        let mut n_bytes: usize = kept.iter().map(|one| one.n_bytes).sum();
        while kept.len() > 1 && (kept.len() > MOST_KEPT || n_bytes > MOST_KEPT_BYTES) {
            let oldest = kept.remove(0);
            oldest.stopped.store(true, Ordering::Relaxed);
            n_bytes -= oldest.n_bytes;
        }
        Ok(upload)
    }

    /// The files of this name, where they belong to whoever asks.
    pub fn find(&self, owner: &str, case_id: &str, token: &str) -> Option<Arc<Upload>> {
        let kept = locked(&self.kept);
        let is_it =
            |one: &&Arc<Upload>| one.owner == owner && one.case_id == case_id && one.token == token;
        kept.iter().find(is_it).cloned()
    }

    /// Stops the reading and lets the files go. What is being stored by then is
    /// stored as a whole.
    pub fn forget(&self, upload: &Upload) {
        upload.stopped.store(true, Ordering::Relaxed);
        locked(&self.kept).retain(|one| one.token != upload.token);
    }
}

/// A name that was sent is data: its last part, whatever the other system puts
/// between parts.
fn source(index: usize, file: &SentFile) -> Source {
    let name = file.name.rsplit(['/', '\\']).next().unwrap_or_default();
    let is_name = !name.is_empty() && name != "." && name != "..";
    let name = if is_name { name.to_owned() } else { format!("file {}", index + 1) };
    Source::Sent { name: PathBuf::from(name), bytes: Arc::clone(&file.bytes) }
}

/// Reads the files again as they are to be read now; waits a moment for it.
pub async fn read(server: &Arc<Server>, book: &Benchbook, upload: &Arc<Upload>, choices: Choices) {
    let before = upload.last_seen();
    if upload.begin("reading") {
        *locked(&upload.choices) = choices;
        work_on(server, book, upload, false, before).await;
    }
}

/// Stores the files as they were seen; waits a moment for it.
pub async fn store(server: &Arc<Server>, book: &Benchbook, upload: &Arc<Upload>) {
    let before = upload.last_seen();
    if upload.begin("storing") {
        work_on(server, book, upload, true, before).await;
    }
}

async fn work_on(
    server: &Arc<Server>,
    book: &Benchbook,
    upload: &Arc<Upload>,
    stores: bool,
    before: Option<Arc<Seen>>,
) {
    upload.n_done.store(0, Ordering::Relaxed);
    let (server, book, upload) = (Arc::clone(server), book.clone(), Arc::clone(upload));
    let work = tokio::spawn(async move {
        let task = {
            let upload = Arc::clone(&upload);
            tokio::spawn(async move { done(&server, &book, &upload, stores).await })
        };
        let state = match task.await {
            Ok(Ok(state)) => state,
            Ok(Err(fault)) => State::Failed(fault, before),
            Err(error) => State::Failed(Fault::ours(format!("reading ended: {error}")), before),
        };
        upload.set(state);
    });
    let _ = tokio::time::timeout(QUICK, work).await;
}

async fn done(
    server: &Server,
    book: &Benchbook,
    upload: &Arc<Upload>,
    stores: bool,
) -> Result<State, Fault> {
    let _turn = server.uploads.reading.acquire().await;
    let choices = upload.choices();
    // The case as it stands now, and nobody changes it while runs go into it.
    let _change = if stores { Some(server.one_change.lock().await) } else { None };
    let case = Arc::new(book.case_without_traces(&upload.case_id).await?);
    let read = {
        let (upload, case, choices) = (Arc::clone(upload), Arc::clone(&case), choices.clone());
        tokio::task::spawn_blocking(move || {
            work::read_all(&upload.sources, &choices, Some(&case), &|| {
                upload.n_done.fetch_add(1, Ordering::Relaxed);
                !upload.stopped.load(Ordering::Relaxed)
            })
        })
    };
    let ended = |error: tokio::task::JoinError| Fault::ours(format!("reading ended: {error}"));
    let imported = read.await.map_err(ended)??;
    let mut checked = work::check(imported, &choices, 0, Some((book, &case))).await?;
    if stores && !checked.is_refused {
        work::keep(book, &case, &mut checked).await?;
        return Ok(State::Stored(Arc::new(seen(checked, &choices, true))));
    }
    let seen = tokio::task::spawn_blocking(move || seen(checked, &choices, false)).await;
    Ok(State::Seen(Arc::new(seen.map_err(ended)?)))
}

fn seen(checked: Checked, choices: &Choices, is_stored: bool) -> Seen {
    let imported = &checked.imported;
    let mut shown: Vec<usize> = (0..imported.len()).collect();
    shown.sort_by_key(|&place| !imported[place].file.is_refused());
    shown.truncate(SHOWN_FILES);
    let plan = choices.reading.plan().unwrap_or_default();
    let previews = match is_stored {
        true => Vec::new(),
        false => shown
            .into_iter()
            .map(|place| (place, previews(&imported[place].file.bytes, &plan)))
            .collect(),
    };
    let refused = imported.iter().filter(|one| one.file.is_refused());
    let mut questions: Vec<Asked> = Vec::new();
    for one in refused {
        let Some(message) = one.file.messages.iter().find(|message| message.is_refusal()) else {
            continue;
        };
        let Some(asked) = question(message) else { continue };
        // Files of one kind ask the same.
        if questions.iter().all(|before| before.ask != asked.ask) {
            questions.push(Asked {
                file: one.path.display().to_string(),
                message: message.to_string(),
                ask: asked.ask,
                apply: asked.apply,
            });
        }
    }
    let mut answer = work::answer(&checked, is_stored);
    answer["notes"] = crate::answer::notes_json(&checked.notes);
    Seen {
        answer,
        previews,
        questions,
        without_class: work::without_class(&checked.runs),
        n_refused: checked.n_refused,
        is_refused: checked.is_refused,
        notes: checked.notes,
    }
}

/// Where an import stands, as JSON.
pub fn twin(case_id: &str, upload: Option<&Upload>) -> Value {
    let Some(upload) = upload else {
        return json!({
            "case": case_id, "state": null, "largest_bytes": MOST_BYTES, "most_files": MOST_FILES,
        });
    };
    let (state, seen, fault) = match upload.state() {
        State::Working { word } => (word, None, None),
        State::Seen(seen) => ("read", Some(seen), None),
        State::Stored(seen) => ("stored", Some(seen), None),
        State::Failed(fault, seen) => ("failed", seen, Some(fault)),
    };
    json!({
        "case": case_id,
        "state": state,
        "files_read": upload.n_done(),
        "files_sent": upload.sources.len(),
        "bytes": upload.n_bytes,
        "error": fault.map(|fault| fault.message),
        "questions": seen.as_ref().map(|seen| seen.questions.iter().map(|one| json!({
            "file": one.file, "message": one.message, "question": one.ask,
        })).collect::<Value>()),
        "units_without_class": seen.as_ref().map(|seen| seen.without_class.clone()),
        "import": seen.map(|seen| seen.answer.clone()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(name: &str, n: usize) -> SentFile {
        SentFile { field: "files".to_owned(), name: name.to_owned(), bytes: vec![0; n].into() }
    }

    #[test]
    fn a_name_that_was_sent_is_no_path() {
        for (sent, kept) in [
            ("../../etc/a.csv", "a.csv"),
            ("C:\\logs\\b.csv", "b.csv"),
            ("/", "file 1"),
            ("..", "file 1"),
            ("", "file 1"),
        ] {
            assert_eq!(source(0, &file(sent, 1)).path(), std::path::Path::new(kept));
        }
    }

    #[test]
    fn only_the_owner_finds_files_and_the_oldest_give_way() {
        let uploads = Uploads::default();
        let keep = |owner: &str, case: &str, n: usize| {
            uploads.keep(owner, case, &[&file("a.csv", n)], Choices::default()).unwrap()
        };
        let first = keep("one", "a", 10);
        assert!(uploads.find("one", "a", &first.token).is_some());
        assert!(uploads.find("two", "a", &first.token).is_none());
        assert!(uploads.find("one", "b", &first.token).is_none());
        // The same owner and case: the new ones take the place.
        let second = keep("one", "a", 10);
        assert!(uploads.find("one", "a", &first.token).is_none());
        assert!(first.stopped.load(Ordering::Relaxed));
        keep("two", "a", MOST_KEPT_BYTES - 5);
        assert!(uploads.find("one", "a", &second.token).is_none(), "no room for both");
        for number in 0..MOST_KEPT {
            keep(&format!("owner {number}"), "a", 1);
        }
        assert!(locked(&uploads.kept).len() <= MOST_KEPT);
    }
}
