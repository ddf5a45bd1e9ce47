//! A case as a sealed archive that needs no program to be read: a BagIt bag
//! (RFC 8493) with PDF, CSV, JSON, audit trail, proofs and checkpoint.

use std::collections::BTreeMap;
use std::io::{Cursor, Write};

use benchbook::Benchbook;
use zip::write::SimpleFileOptions;

use super::keys;
use crate::digest::sha256;
use crate::fault::Fault;
use crate::paper;

/// What the archive says to whoever opens it.
const READ_ME: &str = "\
Archive of one case of an Isobar benchbook: a BagIt bag (RFC 8493).

Check the files:          sha256sum -c manifest-sha256.txt
data/report.pdf           the study report (PDF/A)
data/records/*.json       every version of every record, exactly as stored
data/runs/*.json, *.csv   every run: its record as stored, and its samples
data/entries/*.json       signatures, reviews, open items, records of units, attachments
data/attachments/*        attached files, named by their SHA-256
data/audit-trail.jsonl    the exact text of every event of the case, one a line
data/proofs/N.tlog-proof  proof that event N stands in the log (C2SP tlog-proof)
data/checkpoint.txt       head of the log: origin, size, root, and signatures where the key was here

The leaf of an event is SHA-256(0x00 || its text); the tree is that of RFC 6962. `new_sha256` in an
event is the SHA-256 of the record that it wrote.
";

/// A bag: its files by their names, tags and payload.
pub struct Bag {
    /// Every file of it.
    pub files: BTreeMap<String, Vec<u8>>,
    /// Number of files of the payload.
    pub n_payload: usize,
    /// Their bytes.
    pub payload_bytes: usize,
    /// SHA-256 of the manifest, hexadecimal.
    pub manifest_sha256: String,
}

impl Bag {
    /// The bag of a case.
    ///
    /// # Errors
    /// Where the benchbook cannot be read, or its report not be printed.
    pub async fn of(book: &Benchbook, case_id: &str) -> Result<Self, Fault> {
        Ok(Self::around(payload(book, case_id).await?))
    }

    /// Puts manifests and tags around a payload.
    fn around(payload: BTreeMap<String, Vec<u8>>) -> Self {
        let lines = |files: &BTreeMap<String, Vec<u8>>| -> String {
            files.iter().map(|(name, bytes)| format!("{}  {name}\n", sha256(bytes))).collect()
        };
        let (n_payload, payload_bytes) = (payload.len(), payload.values().map(Vec::len).sum());
        let manifest = lines(&payload).into_bytes();
        let manifest_sha256 = sha256(&manifest);
        let tags = BTreeMap::from([
            (
                "bagit.txt".to_owned(),
                b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n".to_vec(),
            ),
            (
                "bag-info.txt".to_owned(),
                format!(
                    "Bag-Software-Agent: isobar {}\nPayload-Oxum: {payload_bytes}.{n_payload}\n",
                    env!("CARGO_PKG_VERSION"),
                )
                .into_bytes(),
            ),
            ("manifest-sha256.txt".to_owned(), manifest),
        ]);
        let mut files = payload;
        files.insert("tagmanifest-sha256.txt".to_owned(), lines(&tags).into_bytes());
        files.extend(tags);
        Self { files, n_payload, payload_bytes, manifest_sha256 }
    }

    /// The bag in one file (ZIP), in a folder of this name. It carries no time,
    /// so that the same case gives the same bytes.
    ///
    /// # Errors
    /// Where a file is larger than the format holds.
    pub fn zipped(&self, folder: &str) -> Result<Vec<u8>, Fault> {
        let cannot = |error: &dyn std::fmt::Display| {
            Fault::users(
                format!("the archive cannot be packed: {error}"),
                "write it as a folder: isobar export BENCHBOOK --case ID -o FOLDER",
            )
        };
        let mut packed = zip::ZipWriter::new(Cursor::new(Vec::new()));
        let options = SimpleFileOptions::default();
        for (name, content) in &self.files {
            packed
                .start_file(format!("{folder}/{name}"), options)
                .map_err(|error| cannot(&error))?;
            packed.write_all(content).map_err(|error| cannot(&error))?;
        }
        let done = packed.finish().map_err(|error| cannot(&error))?;
        Ok(done.into_inner())
    }
}

/// Names and bytes of the payload.
async fn payload(book: &Benchbook, case_id: &str) -> Result<BTreeMap<String, Vec<u8>>, Fault> {
    let case = book.case(case_id).await?;
    let edition = paper::edition(book, case_id).await?;
    let texts = book.case_texts(case_id).await?;
    let mut payload = BTreeMap::new();
    payload.insert("data/report.pdf".to_owned(), paper::pdf_of(&case, &edition)?);
    for (name, text) in &texts.records {
        payload.insert(format!("data/records/{name}.json"), text.clone().into_bytes());
    }
    for (number, text) in &texts.runs {
        payload.insert(format!("data/runs/{number:05}.json"), text.clone().into_bytes());
    }
    for run in case.runs.iter().filter(|run| !run.trace.times_s.is_empty()) {
        let csv = intake::written_table::write_trace(&run.trace);
        payload.insert(format!("data/runs/{:05}.csv", run.number), csv.into_bytes());
    }
    for (name, text) in &texts.entries {
        payload.insert(format!("data/entries/{name}.json"), text.clone().into_bytes());
    }
    for attached in book.attachments(case_id).await? {
        let hash = &attached.file_sha256;
        if let Some(bytes) = book.stored_file(hash).await? {
            payload.insert(format!("data/attachments/{hash}"), bytes);
        }
    }
    let mut trail = String::new();
    for (event, proof) in &texts.events {
        trail.push_str(event);
        trail.push('\n');
        let name = format!("data/proofs/{}.tlog-proof", proof.index + 1);
        payload.insert(name, proof.text().into_bytes());
    }
    payload.insert("data/audit-trail.jsonl".to_owned(), trail.into_bytes());
    let checkpoint = match keys::in_force(book).await? {
        Some(key) => key.sign(&texts.checkpoint).text(),
        None => texts.checkpoint.text(),
    };
    payload.insert("data/checkpoint.txt".to_owned(), checkpoint.into_bytes());
    payload.insert("data/READ-ME.txt".to_owned(), READ_ME.as_bytes().to_vec());
    Ok(payload)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_packed_bag_reads_back_and_is_the_same_twice() {
        let payload = BTreeMap::from([
            ("data/a.txt".to_owned(), b"one".to_vec()),
            ("data/b c.txt".to_owned(), vec![0, 255, 7]),
        ]);
        let bag = Bag::around(payload);
        assert_eq!((bag.n_payload, bag.payload_bytes), (2, 6));
        let packed = bag.zipped("case").unwrap();
        assert_eq!(packed, bag.zipped("case").unwrap());
        let mut archive = zip::ZipArchive::new(Cursor::new(packed)).unwrap();
        assert_eq!(archive.len(), bag.files.len());
        for (name, content) in &bag.files {
            let mut file = archive.by_name(&format!("case/{name}")).unwrap();
            let mut read = Vec::new();
            std::io::Read::read_to_end(&mut file, &mut read).unwrap();
            assert_eq!(&read, content, "{name}");
        }
        // The manifest is that of the payload, line by line.
        let manifest = String::from_utf8(bag.files["manifest-sha256.txt"].clone()).unwrap();
        assert!(manifest.contains(&format!("{}  data/a.txt\n", sha256(b"one"))));
        assert_eq!(manifest.lines().count(), 2);
        assert_eq!(sha256(manifest.as_bytes()), bag.manifest_sha256);
    }
}
