-- First shape of a benchbook.
--
-- Nothing in it is ever changed or removed. Triggers refuse UPDATE and DELETE,
-- and an INSERT whose key exists: REPLACE would delete the old row, and fires
-- delete triggers only where recursive_triggers is on. Triggers stop mistakes;
-- what shows a deed is the hash of the history that has left the machine.

-- Every change, in order. `event` is the exact text whose hash is `leaf`:
-- leaf = SHA-256(0x00 || event), RFC 6962 section 2.1. `case_id` repeats the
-- event's field for look-ups; `verify` compares them.
CREATE TABLE history (
    number INTEGER PRIMARY KEY CHECK (number >= 1),
    event TEXT NOT NULL,
    leaf BLOB NOT NULL CHECK (length(leaf) = 32),
    case_id TEXT
) STRICT;

-- What this benchbook is for ever: its identity, and what it may not be used
-- for.
CREATE TABLE character (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    value TEXT NOT NULL,
    event INTEGER NOT NULL REFERENCES history (number)
) STRICT;

-- Which migrations made this file, with the hash of their text.
CREATE TABLE migrations (
    version INTEGER PRIMARY KEY CHECK (version >= 1),
    name TEXT NOT NULL,
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    event INTEGER NOT NULL REFERENCES history (number)
) STRICT;

-- The cases.
CREATE TABLE cases (
    number INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    event INTEGER NOT NULL REFERENCES history (number)
) STRICT;

-- Profiles with rig and cycle (`input`), forecasts, methods, plans, results.
-- A change is a new version; no version is ever written over.
CREATE TABLE records (
    id INTEGER PRIMARY KEY,
    case_id TEXT NOT NULL REFERENCES cases (id),
    kind TEXT NOT NULL CHECK (kind IN ('input', 'forecast', 'method', 'plan', 'results')),
    version INTEGER NOT NULL CHECK (version >= 1),
    body TEXT NOT NULL,
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    event INTEGER NOT NULL REFERENCES history (number),
    UNIQUE (case_id, kind, version)
) STRICT;

-- The runs. A number is given once: a repeated test of a unit is another run.
CREATE TABLE runs (
    id INTEGER PRIMARY KEY,
    case_id TEXT NOT NULL REFERENCES cases (id),
    number INTEGER NOT NULL CHECK (number >= 0),
    body TEXT NOT NULL,
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    event INTEGER NOT NULL REFERENCES history (number),
    UNIQUE (case_id, number)
) STRICT;

-- Samples of the runs, a column each. `f64le` is little-endian IEEE 754
-- binary64, one after the other.
CREATE TABLE channels (
    id INTEGER PRIMARY KEY,
    case_id TEXT NOT NULL,
    run INTEGER NOT NULL,
    name TEXT NOT NULL,
    n INTEGER NOT NULL CHECK (n >= 0),
    encoding TEXT NOT NULL CHECK (encoding IN ('f64le')),
    bytes BLOB NOT NULL,
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    UNIQUE (case_id, run, name),
    FOREIGN KEY (case_id, run) REFERENCES runs (case_id, number)
) STRICT;

CREATE INDEX history_by_case ON history (case_id, number);

-- Numbers of the history leave no gap.
CREATE TRIGGER history_without_gap BEFORE INSERT ON history
WHEN NEW.number <> (SELECT coalesce(max(number), 0) + 1 FROM history)
BEGIN SELECT RAISE(ABORT, 'history: the number does not follow the last one'); END;

CREATE TRIGGER history_no_update BEFORE UPDATE ON history
BEGIN SELECT RAISE(ABORT, 'history: append-only, no row may be changed'); END;
CREATE TRIGGER history_no_delete BEFORE DELETE ON history
BEGIN SELECT RAISE(ABORT, 'history: append-only, no row may be removed'); END;
CREATE TRIGGER history_no_replace BEFORE INSERT ON history
WHEN EXISTS (SELECT 1 FROM history WHERE number = NEW.number)
BEGIN SELECT RAISE(ABORT, 'history: append-only, this row exists'); END;

CREATE TRIGGER character_no_update BEFORE UPDATE ON character
BEGIN SELECT RAISE(ABORT, 'character: append-only, no row may be changed'); END;
CREATE TRIGGER character_no_delete BEFORE DELETE ON character
BEGIN SELECT RAISE(ABORT, 'character: append-only, no row may be removed'); END;
CREATE TRIGGER character_no_replace BEFORE INSERT ON character
WHEN EXISTS (SELECT 1 FROM character WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM character WHERE name = NEW.name)
BEGIN SELECT RAISE(ABORT, 'character: append-only, this row exists'); END;

CREATE TRIGGER migrations_no_update BEFORE UPDATE ON migrations
BEGIN SELECT RAISE(ABORT, 'migrations: append-only, no row may be changed'); END;
CREATE TRIGGER migrations_no_delete BEFORE DELETE ON migrations
BEGIN SELECT RAISE(ABORT, 'migrations: append-only, no row may be removed'); END;
CREATE TRIGGER migrations_no_replace BEFORE INSERT ON migrations
WHEN EXISTS (SELECT 1 FROM migrations WHERE version = NEW.version)
BEGIN SELECT RAISE(ABORT, 'migrations: append-only, this row exists'); END;

CREATE TRIGGER cases_no_update BEFORE UPDATE ON cases
BEGIN SELECT RAISE(ABORT, 'cases: append-only, no row may be changed'); END;
CREATE TRIGGER cases_no_delete BEFORE DELETE ON cases
BEGIN SELECT RAISE(ABORT, 'cases: append-only, no row may be removed'); END;
CREATE TRIGGER cases_no_replace BEFORE INSERT ON cases
WHEN EXISTS (SELECT 1 FROM cases WHERE number = NEW.number)
    OR EXISTS (SELECT 1 FROM cases WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'cases: append-only, this row exists'); END;

CREATE TRIGGER records_no_update BEFORE UPDATE ON records
BEGIN SELECT RAISE(ABORT, 'records: append-only, no row may be changed'); END;
CREATE TRIGGER records_no_delete BEFORE DELETE ON records
BEGIN SELECT RAISE(ABORT, 'records: append-only, no row may be removed'); END;
CREATE TRIGGER records_no_replace BEFORE INSERT ON records
WHEN EXISTS (SELECT 1 FROM records WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM records WHERE case_id = NEW.case_id AND kind = NEW.kind AND version = NEW.version)
BEGIN SELECT RAISE(ABORT, 'records: append-only, this row exists'); END;

CREATE TRIGGER runs_no_update BEFORE UPDATE ON runs
BEGIN SELECT RAISE(ABORT, 'runs: append-only, no row may be changed'); END;
CREATE TRIGGER runs_no_delete BEFORE DELETE ON runs
BEGIN SELECT RAISE(ABORT, 'runs: append-only, no row may be removed'); END;
CREATE TRIGGER runs_no_replace BEFORE INSERT ON runs
WHEN EXISTS (SELECT 1 FROM runs WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM runs WHERE case_id = NEW.case_id AND number = NEW.number)
BEGIN SELECT RAISE(ABORT, 'runs: append-only, this row exists'); END;

CREATE TRIGGER channels_no_update BEFORE UPDATE ON channels
BEGIN SELECT RAISE(ABORT, 'channels: append-only, no row may be changed'); END;
CREATE TRIGGER channels_no_delete BEFORE DELETE ON channels
BEGIN SELECT RAISE(ABORT, 'channels: append-only, no row may be removed'); END;
CREATE TRIGGER channels_no_replace BEFORE INSERT ON channels
WHEN EXISTS (SELECT 1 FROM channels WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM channels WHERE case_id = NEW.case_id AND run = NEW.run AND name = NEW.name)
BEGIN SELECT RAISE(ABORT, 'channels: append-only, this row exists'); END;
