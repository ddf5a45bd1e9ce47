-- Second shape: people, signatures, the register, attachments, signed
-- checkpoints, and samples packed into one row for each run. Nothing of the
-- first shape is changed; its rows stay as they were written.

-- Everything that has versions and a name of its own: accounts, log keys,
-- signed checkpoints, signatures, audit trail reviews, open items, register,
-- records of units, attachments. `case_id` repeats the event's field; `verify`
-- compares them.
CREATE TABLE entries (
    id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,
    subject TEXT NOT NULL CHECK (subject <> ''),
    version INTEGER NOT NULL CHECK (version >= 1),
    case_id TEXT REFERENCES cases (id),
    body TEXT NOT NULL,
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    event INTEGER NOT NULL REFERENCES history (number),
    UNIQUE (kind, subject, version)
) STRICT;

CREATE INDEX entries_by_case ON entries (case_id, kind);

-- Bytes of files as they came in: originals of runs, certificates,
-- attachments. One row for the same bytes, however often they are named.
CREATE TABLE files (
    id INTEGER PRIMARY KEY,
    sha256 BLOB NOT NULL UNIQUE CHECK (length(sha256) = 32),
    n INTEGER NOT NULL CHECK (n >= 0),
    encoding TEXT NOT NULL CHECK (encoding IN ('raw', 'zlib')),
    bytes BLOB NOT NULL,
    event INTEGER NOT NULL REFERENCES history (number)
) STRICT;

-- Samples of a run, all its columns in one row. The record of the run names
-- each column with the hash of its samples as little-endian binary64.
CREATE TABLE samples (
    id INTEGER PRIMARY KEY,
    case_id TEXT NOT NULL,
    run INTEGER NOT NULL,
    encoding TEXT NOT NULL CHECK (encoding IN ('packed1')),
    bytes BLOB NOT NULL,
    UNIQUE (case_id, run),
    FOREIGN KEY (case_id, run) REFERENCES runs (case_id, number)
) STRICT;

CREATE TRIGGER entries_no_update BEFORE UPDATE ON entries
BEGIN SELECT RAISE(ABORT, 'entries: append-only, no row may be changed'); END;
CREATE TRIGGER entries_no_delete BEFORE DELETE ON entries
BEGIN SELECT RAISE(ABORT, 'entries: append-only, no row may be removed'); END;
CREATE TRIGGER entries_no_replace BEFORE INSERT ON entries
WHEN EXISTS (SELECT 1 FROM entries WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM entries WHERE kind = NEW.kind AND subject = NEW.subject AND version = NEW.version)
BEGIN SELECT RAISE(ABORT, 'entries: append-only, this row exists'); END;

CREATE TRIGGER files_no_update BEFORE UPDATE ON files
BEGIN SELECT RAISE(ABORT, 'files: append-only, no row may be changed'); END;
CREATE TRIGGER files_no_delete BEFORE DELETE ON files
BEGIN SELECT RAISE(ABORT, 'files: append-only, no row may be removed'); END;
CREATE TRIGGER files_no_replace BEFORE INSERT ON files
WHEN EXISTS (SELECT 1 FROM files WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM files WHERE sha256 = NEW.sha256)
BEGIN SELECT RAISE(ABORT, 'files: append-only, this row exists'); END;

CREATE TRIGGER samples_no_update BEFORE UPDATE ON samples
BEGIN SELECT RAISE(ABORT, 'samples: append-only, no row may be changed'); END;
CREATE TRIGGER samples_no_delete BEFORE DELETE ON samples
BEGIN SELECT RAISE(ABORT, 'samples: append-only, no row may be removed'); END;
CREATE TRIGGER samples_no_replace BEFORE INSERT ON samples
WHEN EXISTS (SELECT 1 FROM samples WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM samples WHERE case_id = NEW.case_id AND run = NEW.run)
BEGIN SELECT RAISE(ABORT, 'samples: append-only, this row exists'); END;
