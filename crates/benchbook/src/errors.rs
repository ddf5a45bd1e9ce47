//! What can go wrong, each with its values and one thing to do next.

use std::path::PathBuf;

use crate::people::Refusal;

/// Why a benchbook could not be made, opened, read or written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum BenchbookError {
    /// Something of this name is there already.
    #[error("`{}` exists already and is not written over", path.display())]
    Exists {
        /// The name.
        path: PathBuf,
    },
    /// There is no such file.
    #[error("there is no file `{}`", path.display())]
    Missing {
        /// The name.
        path: PathBuf,
    },
    /// The folder of the file does not exist or is none.
    #[error("there is no folder `{}`", folder.display())]
    NoFolder {
        /// The folder.
        folder: PathBuf,
    },
    /// A file, but not a benchbook.
    #[error("`{}` is not a benchbook: it is {found}", path.display())]
    NotABenchbook {
        /// The name.
        path: PathBuf,
        /// What it is instead, with an article.
        found: String,
    },
    /// Written by a newer version of the program.
    #[error(
        "`{}` was written by a newer version: its shape is {found}, and this version knows \
         shapes up to {known}", path.display()
    )]
    Newer {
        /// The name.
        path: PathBuf,
        /// Shape of the file.
        found: i64,
        /// Newest shape that is known here.
        known: i64,
    },
    /// The system does not let this user read or write the file.
    #[error("`{}` may not be {wanted}: {reason}", path.display())]
    NotPermitted {
        /// The name.
        path: PathBuf,
        /// `read` or `written`.
        wanted: &'static str,
        /// What the system said.
        reason: String,
    },
    /// Another program holds the file.
    #[error("`{}` is held by another program, and was still held after {waited_ms} ms", path.display())]
    Locked {
        /// The name.
        path: PathBuf,
        /// How long was waited.
        waited_ms: u64,
    },
    /// The file lies where locks do not keep two machines apart.
    #[error(
        "`{}` lies on a network file system ({kind}), where locks do not keep two machines apart \
         and a benchbook would be damaged", path.display()
    )]
    NetworkFileSystem {
        /// The name.
        path: PathBuf,
        /// Kind of the file system.
        kind: String,
    },
    /// The database server cannot be reached, or is not one that is taken.
    #[error("`{}` cannot be used: {reason}", path.display())]
    Unreachable {
        /// Its address, without a password.
        path: PathBuf,
        /// What was said.
        reason: String,
    },
    /// Something that is done with files and not with databases.
    #[error("`{}` is a database, and {what} is for files", path.display())]
    NotForDatabases {
        /// Its address.
        path: PathBuf,
        /// What was asked for.
        what: &'static str,
    },
    /// The disk is full.
    #[error("no room left on the disk of `{}`; nothing of this step was kept", path.display())]
    DiskFull {
        /// The name.
        path: PathBuf,
    },
    /// The disk or the system refused a read or a write.
    #[error(
        "the disk of `{}` failed ({reason}); nothing of this step counts as kept", path.display()
    )]
    DiskFailed {
        /// The name.
        path: PathBuf,
        /// What the store said.
        reason: String,
    },
    /// The file or a record in it is damaged.
    #[error("`{}` is damaged: {what}", path.display())]
    Damaged {
        /// The name.
        path: PathBuf,
        /// Which record, and how that shows.
        what: String,
    },
    /// The store underneath is a version with a known fault.
    #[error(
        "SQLite {found} is built in, and benchbooks need {needed} or newer: older versions can \
         damage a file when two programs write to it"
    )]
    OldSqlite {
        /// Version built in.
        found: String,
        /// Oldest version that is taken.
        needed: &'static str,
    },
    /// The benchbook has no case of this name.
    #[error("the benchbook has no case `{id}`; {}", listed(there))]
    UnknownCase {
        /// The name asked for.
        id: String,
        /// The names there are.
        there: Vec<String>,
    },
    /// A case of this name is there already.
    #[error("the benchbook has a case `{id}` already")]
    CaseExists {
        /// The name.
        id: String,
    },
    /// A name that cannot be typed on a command line.
    #[error("`{id}` cannot name a case: {reason}")]
    BadCaseId {
        /// The name.
        id: String,
        /// What is wrong with it.
        reason: &'static str,
    },
    /// The case has no run of this number.
    #[error("case `{case_id}` has no run {number}; it has {n_runs} runs")]
    UnknownRun {
        /// The case.
        case_id: String,
        /// The number asked for.
        number: u32,
        /// How many runs there are.
        n_runs: u64,
    },
    /// The case has a run of this number already.
    #[error("case `{case_id}` has a run {number} already, and runs are never written over")]
    RunExists {
        /// The case.
        case_id: String,
        /// The number.
        number: u32,
    },
    /// A record that cannot be stored, such as one with an infinite number.
    #[error("{what} of case `{case_id}` cannot be stored: {reason}")]
    NotStorable {
        /// The case.
        case_id: String,
        /// Which record.
        what: String,
        /// Why.
        reason: String,
    },
    /// A version of a method that does not follow the one in force.
    #[error(
        "method version {given} of case `{case_id}` does not follow the one in force: {expected} \
         comes next"
    )]
    MethodVersion {
        /// The case.
        case_id: String,
        /// Version of the method that was given.
        given: u32,
        /// Version that comes next.
        expected: u32,
    },
    /// The benchbook was opened to be read only.
    #[error("`{}` was opened to be read only", path.display())]
    ReadOnly {
        /// The name.
        path: PathBuf,
    },
    /// A time that is not UTC in RFC 3339.
    #[error("`{given}` is not a time in UTC, such as 2026-11-25T01:02:03Z")]
    NotUtc {
        /// What was given.
        given: String,
    },
    /// A change without a person or program behind it.
    #[error("a change needs the name of the person or program that makes it")]
    NoActor,
    /// Something is refused to the person who asks for it.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// The store said something that is not foreseen here.
    #[error("the store of `{}` failed: {reason}", path.display())]
    Store {
        /// The name.
        path: PathBuf,
        /// What it said.
        reason: String,
    },
}

/// "its cases are `a`, `b`", or that there are none.
fn listed(there: &[String]) -> String {
    if there.is_empty() {
        return "it holds no cases yet".to_owned();
    }
    let names: Vec<String> = there.iter().map(|id| format!("`{id}`")).collect();
    format!("its cases are {}", names.join(", "))
}

impl BenchbookError {
    /// True where the user can mend it; false where the program is at fault.
    #[must_use]
    pub const fn is_users(&self) -> bool {
        !matches!(
            self,
            Self::OldSqlite { .. }
                | Self::NotUtc { .. }
                | Self::NoActor
                | Self::NotStorable { .. }
                | Self::MethodVersion { .. }
                | Self::Store { .. }
        )
    }

    /// One thing to do next.
    #[must_use]
    pub fn next_step(&self) -> String {
        match self {
            Self::Refused(refusal) => return refusal.next_step(),
            Self::Exists { .. } => "choose another name, or open the one that is there",
            Self::Missing { .. } => "check the name; `isobar demo` makes an example",
            Self::NoFolder { .. } => "make the folder first, or check the name",
            Self::NotABenchbook { .. } => {
                "check the name; a benchbook is made by this program and is one file"
            }
            Self::Newer { .. } => "use the version that wrote it, or a newer one",
            Self::NotPermitted { wanted: "written", .. } => {
                "check the permissions of the file and of its folder, which must be writable too"
            }
            Self::NotPermitted { .. } => "check the permissions of the file",
            Self::Locked { .. } => "close the other program, then try again",
            Self::NetworkFileSystem { .. } => {
                "work on a disk of this machine and keep backups on the network"
            }
            Self::Unreachable { .. } => {
                "check the address and that the server runs: postgres://USER@localhost/DATABASE, or \
                 postgres://USER@HOST/DATABASE?sslmode=verify-full&sslrootcert=FILE"
            }
            Self::NotForDatabases { .. } => {
                "back up the server with pg_basebackup or pg_dump and verify what it restores, or put a \
                 case into a file, proven equal: isobar copy DATABASE --case ID --into FILE"
            }
            Self::DiskFull { .. } => "make room, then try again",
            Self::DiskFailed { .. } => {
                "check that the disk has room and is connected, verify the benchbook, then try again"
            }
            Self::Damaged { .. } => {
                "keep this file as it is, restore the last backup beside it and compare the two"
            }
            Self::OldSqlite { .. } => "build the program with its bundled SQLite",
            Self::UnknownCase { .. } => "use one of the names that are there",
            Self::CaseExists { .. } => "use another id, or record a new version of the case",
            Self::BadCaseId { .. } => "use letters, digits, `-`, `_` and `.`",
            Self::UnknownRun { .. } => "look up the numbers in the list of runs",
            Self::RunExists { .. } => {
                "give the run the next free number; a repeated test of a unit is another run"
            }
            Self::NotStorable { .. } => "report this with the command and the input",
            Self::MethodVersion { .. } => "give the method the version that comes next",
            Self::ReadOnly { .. } => "open it for writing",
            Self::NotUtc { .. } | Self::NoActor => "pass a UTC time and a name with each change",
            Self::Store { .. } => "report this with the command and the input",
        }
        .to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_case_lists_those_there_are() {
        let none = BenchbookError::UnknownCase { id: "a".into(), there: vec![] };
        assert_eq!(none.to_string(), "the benchbook has no case `a`; it holds no cases yet");
        let some =
            BenchbookError::UnknownCase { id: "a".into(), there: vec!["b".into(), "c".into()] };
        assert_eq!(some.to_string(), "the benchbook has no case `a`; its cases are `b`, `c`");
    }
}
