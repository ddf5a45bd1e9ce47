//! Files that belong to a case, kept byte for byte: originals of runs,
//! certificates, photographs, letters.

use crate::boxed;
use crate::store::query::query;
use std::io::{Read, Write};

use flate2::Compression;
use flate2::read::ZlibDecoder;
use flate2::write::ZlibEncoder;
use serde::{Deserialize, Serialize};

use super::as_subject;
use crate::book::Benchbook;
use crate::digest::{hex, sha256, unhex};
use crate::entries;
use crate::errors::BenchbookError;
use crate::moment::Moment;
use crate::people::{Action, Refusal};
use crate::writing::{Draft, Writing};

const ATTACHMENT: &str = "attachment";

/// Largest file that is taken: what is larger than this is kept by other means.
const LARGEST: usize = 1 << 30;

/// A file that is to be attached.
#[derive(Debug, Clone, Copy)]
pub struct NewFile<'a> {
    /// Its name when it came in: data, never a path.
    pub name: &'a str,
    /// What it is.
    pub note: &'a str,
    /// Its bytes.
    pub bytes: &'a [u8],
}

/// A file that belongs to a case.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Attachment {
    /// Its name when it came in: data, never a path.
    pub name: String,
    /// What it is.
    pub note: String,
    /// Number of bytes.
    pub n_bytes: u64,
    /// SHA-256 of its bytes, hexadecimal.
    pub file_sha256: String,
}

impl NewFile<'_> {
    /// What is kept of it.
    fn attachment(&self) -> Attachment {
        Attachment {
            name: self.name.to_owned(),
            note: self.note.to_owned(),
            n_bytes: self.bytes.len() as u64,
            file_sha256: hex(&sha256(self.bytes)),
        }
    }
}

impl Benchbook {
    /// Attaches a file to a case; gives what is kept of it. The same bytes are
    /// stored once.
    ///
    /// # Errors
    /// Where there is no such case, the file is attached already or too large,
    /// the case is signed and no reason was given, the hands may not, or the
    /// file cannot be written.
    #[boxed]
    pub async fn attach(
        &self,
        case_id: &str,
        name: &str,
        note: &str,
        bytes: &[u8],
        at: &Moment,
    ) -> Result<Attachment, BenchbookError> {
        let hash = hex(&sha256(bytes));
        let mut writing = self.change(at, Action::AddRuns).await?;
        self.require_case(&mut writing.transaction, case_id).await?;
        let fallen = self.signatures_that_fall(&mut writing, case_id).await?;
        let file = NewFile { name, note, bytes };
        if !self.attach_within(&mut writing, case_id, &file, &fallen).await? {
            let what = format!("`{name}` is attached to case `{case_id}` already: SHA-256 {hash}");
            return Err(Refusal::BadRecord { what }.into());
        }
        writing.commit().await.map_err(|error| self.failed(&error))?;
        Ok(file.attachment())
    }

    /// Attaches a file within a change that is being made; false where it is
    /// attached already, which leaves it as it is.
    pub(crate) async fn attach_within(
        &self,
        writing: &mut Writing,
        case_id: &str,
        file: &NewFile<'_>,
        fallen: &str,
    ) -> Result<bool, BenchbookError> {
        let n_bytes = file.bytes.len();
        if n_bytes > LARGEST {
            let what = format!("`{}` has {n_bytes} bytes, and 1 GiB is the most", file.name);
            return Err(Refusal::BadRecord { what }.into());
        }
        let attachment = file.attachment();
        let subject = format!("{}/{}", as_subject(case_id), attachment.file_sha256);
        let there = entries::newest(&mut writing.transaction, ATTACHMENT, &subject)
            .await
            .map_err(|error| self.failed(&error))?;
        if there.is_some() {
            return Ok(false);
        }
        let draft = Draft {
            kind: ATTACHMENT,
            subject: &subject,
            case_id: Some(case_id),
            record: &attachment,
            what: "file attached",
            detail: format!("{}, {n_bytes} bytes{fallen}", file.name),
        };
        let written = async {
            let event = writing.put(&draft).await?;
            keep_file(writing, file.bytes, event).await
        };
        written.await.map_err(|error| self.failed(&error))?;
        Ok(true)
    }

    /// The files of a case, in the order in which they came in.
    ///
    /// # Errors
    /// Where there is no such case or the file cannot be read.
    #[boxed]
    pub async fn attachments(&self, case_id: &str) -> Result<Vec<Attachment>, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        self.require_case(&mut snapshot, case_id).await?;
        entries::of_kind(&mut snapshot, ATTACHMENT, Some(case_id))
            .await
            .map_err(|error| self.failed(&error))?
            .iter()
            .map(|entry| self.entry(ATTACHMENT, &entry.body))
            .collect()
    }

    /// Bytes of a stored file by their SHA-256 in hexadecimal; `None` where
    /// there is no such file.
    ///
    /// # Errors
    /// [`BenchbookError::Damaged`] where the bytes do not have their hash.
    #[boxed]
    pub async fn stored_file(&self, file_sha256: &str) -> Result<Option<Vec<u8>>, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        let failed = |error: sqlx::Error| self.failed(&error);
        if !entries::are_there(&mut snapshot).await.map_err(failed)? {
            return Ok(None);
        }
        let Some(hash) = unhex(file_sha256) else { return Ok(None) };
        let row = query("SELECT n, encoding, bytes FROM files WHERE sha256 = $1")
            .bind(hash)
            .fetch_optional(&mut snapshot)
            .await
            .map_err(failed)?;
        let Some(row) = row else { return Ok(None) };
        let n: i64 = row.try_get(0).map_err(failed)?;
        let encoding: &str = row.try_get(1).map_err(failed)?;
        let stored: &[u8] = row.try_get(2).map_err(failed)?;
        let mut bytes = Vec::new();
        if encoding == "zlib" {
            // One byte more than expected shows a file that is too long.
            let _ = ZlibDecoder::new(stored)
                .take(u64::try_from(n).unwrap_or(0).saturating_add(1))
                .read_to_end(&mut bytes);
        } else {
            bytes.extend_from_slice(stored);
        }
        match hex(&sha256(&bytes)) == file_sha256 {
            true => Ok(Some(bytes)),
            false => Err(self.damaged(format!("file {file_sha256} does not have its hash"))),
        }
    }
}

/// Keeps the bytes of a file under the event of the entry that names it, or
/// nothing where they are there already.
pub(crate) async fn keep_file(
    writing: &mut Writing,
    bytes: &[u8],
    event: i64,
) -> Result<(), sqlx::Error> {
    let hash = sha256(bytes);
    let there = query("SELECT 1 FROM files WHERE sha256 = $1")
        .bind(hash.to_vec())
        .fetch_optional(&mut writing.transaction)
        .await?;
    if there.is_some() {
        return Ok(());
    }
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::fast());
    encoder.write_all(bytes).map_err(sqlx::Error::Io)?;
    let packed = encoder.finish().map_err(sqlx::Error::Io)?;
    let (encoding, stored) =
        if packed.len() < bytes.len() { ("zlib", packed.as_slice()) } else { ("raw", bytes) };
    query("INSERT INTO files (sha256, n, encoding, bytes, event) VALUES ($1, $2, $3, $4, $5)")
        .bind(hash.to_vec())
        .bind(i64::try_from(bytes.len()).unwrap_or(i64::MAX))
        .bind(encoding)
        .bind(stored)
        .bind(event)
        .execute(&mut writing.transaction)
        .await?;
    Ok(())
}
