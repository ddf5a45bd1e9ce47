#!/usr/bin/env python3
"""Verify a benchbook with nothing but the Python standard library.

    verify_benchbook.py FILE [--against CHECKPOINT]

Written from the description of the format below, not from the program that
writes it, so that one mistake does not both write and verify wrongly.

The format: an SQLite file with application id 0x49736f62 and shape
(user_version) 1. Table `history` holds the events; `event` is the exact text,
`leaf` is SHA-256(0x00 || text), and the log is the Merkle tree of RFC 6962
over the leaves. Event 1 carries in `new_sha256` the SHA-256 of the lines
`name=value\\n` of the table `character`, sorted by name. Every other event with
a `record` names either one row of `records` (case, kind, version, SHA-256 of
the body, SHA-256 of the version before) or, for `run`, a batch of rows of
`runs`: the SHA-256 of the lines `number sha256\\n` in the order of their ids.
The body of a run names its columns in `channels` with count and SHA-256; a
column is little-endian binary64.

A checkpoint is the C2SP form: origin `isobar/benchbook/<identity>`, size and
root in base64, each on a line; signatures are not checked here.

Exit status: 0 valid, 1 not valid, 2 cannot be decided.
"""

import base64
import hashlib
import json
import pathlib
import re
import sqlite3
import sys

APPLICATION_ID = 0x49736F62
SHAPE = 1
TABLES = ["cases", "channels", "character", "history", "migrations", "records", "runs"]
GUARDS = sorted([f"{t}_no_{verb}" for t in TABLES for verb in ("update", "delete", "replace")]
                + ["history_without_gap"])


class Undecided(Exception):
    """Nothing can be said of this file."""


def sha256(data):
    return hashlib.sha256(data).digest()


def text_hash(text):
    return hashlib.sha256(text.encode()).hexdigest()


def tree_root(leaves):
    """Root by levels: neighbours join, an odd last one moves up unchanged.

    This is the tree of RFC 6962: the left part of each split is a whole power
    of two, so joining neighbours from the left builds the same nodes.
    """
    if not leaves:
        return sha256(b"")
    level = list(leaves)
    while len(level) > 1:
        joined = [sha256(b"\x01" + level[i] + level[i + 1]) for i in range(0, len(level) - 1, 2)]
        if len(level) % 2:
            joined.append(level[-1])
        level = joined
    return level[0]


def read_checkpoint(text):
    lines = text.split("\n")
    if len(lines) < 4 or not re.fullmatch(r"0|[1-9][0-9]*", lines[1]):
        raise Undecided("the checkpoint is not of its form")
    try:
        root = base64.b64decode(lines[2], validate=True)
    except ValueError:
        raise Undecided("the root of the checkpoint is not base64") from None
    if len(root) != 32 or not lines[0]:
        raise Undecided("the checkpoint is not of its form")
    return lines[0], int(lines[1]), root


def time_key(at):
    whole, _, fraction = at.removesuffix("Z").partition(".")
    return f"{whole}.{fraction:0<9}"


class Verifier:
    def __init__(self, path):
        self.findings = []
        self.identity = ""
        # as_uri gives a name that no character in the path can turn into options.
        uri = pathlib.Path(path).resolve().as_uri() + "?mode=ro"
        self.db = sqlite3.connect(uri, uri=True)
        self.db.execute("PRAGMA trusted_schema = OFF")
        self.db.execute("PRAGMA cell_size_check = ON")
        self.db.execute("BEGIN")

    def find(self, place, problem):
        self.findings.append((place, problem))

    def file(self):
        if self.db.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
            raise Undecided("the file is not a benchbook")
        shape = self.db.execute("PRAGMA user_version").fetchone()[0]
        if shape > SHAPE:
            raise Undecided(f"the file has shape {shape}, and this verifier knows {SHAPE}")
        if shape != SHAPE:
            self.find("file", f"its shape is {shape}")
        for (line,) in self.db.execute("PRAGMA integrity_check(20)"):
            if line != "ok":
                self.find("file", line)
        for row in self.db.execute("PRAGMA foreign_key_check"):
            self.find(f"table {row[0]}", "a row refers to one that is not there")
        named = lambda kind: [r[0] for r in self.db.execute(
            "SELECT name FROM sqlite_schema WHERE type = ? ORDER BY name", (kind,))]
        if named("table") != TABLES or named("view"):
            self.find("file", "its tables are not those of a benchbook")
        if named("trigger") != GUARDS:
            self.find("file", "its guards are not those of a benchbook")
        # What the guards say is in the migration, whose hash the file carries.
        schema = self.db.execute("SELECT type, sql FROM sqlite_schema WHERE sql NOT NULL")
        text = migration_text()
        if text is not None:
            for kind, sql in schema:
                if sql not in text:
                    self.find("file", f"a {kind} is not as the migration made it")
            rows = self.db.execute("SELECT version, name, sha256, event FROM migrations").fetchall()
            if rows != [(1, "first", sha256(text.encode()), 1)]:
                self.find("migrations", "they are not the known ones")

    def events(self, against):
        self.naming, self.added, leaves, before, named = {}, [], [], "", set()
        for number, text, leaf, case_id in self.db.execute(
                "SELECT number, event, leaf, case_id FROM history ORDER BY number"):
            place = f"event {len(leaves) + 1}"
            computed = sha256(b"\x00" + text.encode())
            leaves.append(computed)
            if number != len(leaves):
                self.find(place, "a number is missing before it")
            if computed != leaf:
                self.find(place, "its text does not have the hash in the log")
            try:
                event = json.loads(text)
                if event["number"] != number or event["case"] != case_id:
                    self.find(place, "its text differs from its columns")
                if time_key(event["at"]) < before and event["what"] != "clock went back":
                    self.find(place, "it is earlier than the one before")
                before = time_key(event["at"])
                if event["what"] == "case added":
                    self.added.append((event["case"], number))
                if event["case"] is not None:
                    named.add(event["case"])
                if event["record"] is not None:
                    self.naming[number] = event
            except (ValueError, KeyError, TypeError, AttributeError) as error:
                self.find(place, f"its text is no event: {error}")
        self.size, self.root = len(leaves), tree_root(leaves)
        if against is not None:
            _, size, root = against
            if size > len(leaves):
                self.find("checkpoint", f"records are missing after event {len(leaves)}")
            elif tree_root(leaves[:size]) != root:
                self.find("checkpoint", f"the first {size} events are not those it stands for")
        if self.db.execute("SELECT id, event FROM cases ORDER BY number").fetchall() != self.added:
            self.find("cases", "the list is not the one in the history")
        if not named <= {case for case, _ in self.added}:
            self.find("cases", "the history names one that was never added")

    def named_by(self, number, place, **expected):
        """The event must name exactly this, and only once."""
        event = self.naming.get(number)
        if event is None or any(event.get(key) != value for key, value in expected.items()):
            self.find(place, f"event {number} does not name it")
        else:
            del self.naming[number]

    def character(self):
        rows = self.db.execute("SELECT name, value, event FROM character ORDER BY name").fetchall()
        self.identity = dict((name, value) for name, value, _ in rows).get("identity", "")
        lines = "".join(f"{name}={value}\n" for name, value, _ in rows)
        if any(event != 1 for _, _, event in rows):
            self.find("character", "it was changed after the beginning")
        self.named_by(1, "character", record="character", new_sha256=text_hash(lines))

    def records(self):
        last = (None, None, 0, None)
        for case, kind, version, body, stored, event in self.db.execute(
                "SELECT case_id, kind, version, body, sha256, event FROM records "
                "ORDER BY case_id, kind, version"):
            place = f"{kind} version {version} of case `{case}`"
            computed = text_hash(body)
            if bytes.fromhex(computed) != stored:
                self.find(place, "its text does not have its hash")
            same = last[:2] == (case, kind)
            if version != (last[2] + 1 if same else 1):
                self.find(place, "a version is missing before it")
            self.named_by(event, place, case=case, record=kind, version=version,
                          old_sha256=last[3] if same else None, new_sha256=computed)
            last = (case, kind, version, computed)

    def runs(self):
        batches, columns = {}, {}
        for case, number, body, stored, event in self.db.execute(
                "SELECT case_id, number, body, sha256, event FROM runs ORDER BY id"):
            place = f"run {number} of case `{case}`"
            computed = text_hash(body)
            if bytes.fromhex(computed) != stored:
                self.find(place, "its text does not have its hash")
            owner, lines = batches.setdefault(event, (case, []))
            if owner != case:
                self.find(place, "its event added runs of another case")
            lines.append(f"{number} {computed}\n")
            try:
                run = json.loads(body)
                if run["kind"] != "run" or run["record"]["number"] != number:
                    self.find(place, "its text is that of another record")
                for column in run["record"]["channels"]:
                    columns[case, number, column["name"]] = (column["n"], column["sha256"])
            except (ValueError, KeyError, TypeError) as error:
                self.find(place, f"its text is no run: {error}")
        for event, (case, lines) in batches.items():
            self.named_by(event, f"runs under event {event}", case=case, record="run",
                          new_sha256=text_hash("".join(lines)))
        for case, run, name, n, encoding, data, stored in self.db.execute(
                "SELECT case_id, run, name, n, encoding, bytes, sha256 FROM channels"):
            place = f"{name} of run {run} of case `{case}`"
            computed = sha256(data)
            if computed != stored or len(data) != 8 * n or encoding != "f64le":
                self.find(place, "its bytes are not as they were written")
            if columns.pop((case, run, name), None) != (n, computed.hex()):
                self.find(place, "it is not the column that the run names")
        for case, run, name in columns:
            self.find(f"{name} of run {run} of case `{case}`", "it is missing")

    def verify(self, against):
        self.file()
        self.events(against)
        self.character()
        self.records()
        self.runs()
        for number, event in self.naming.items():
            self.find(f"event {number}", f"the {event['record']} that it names is missing")
        origin = f"isobar/benchbook/{self.identity}"
        if against is not None and against[0] != origin:
            self.find("checkpoint", f"it is of `{against[0]}`, and this file is `{origin}`")


def migration_text():
    """The migration beside the source of the project, where it is at hand."""
    path = pathlib.Path(__file__).resolve().parent.parent / "crates/benchbook/migrations"
    file = path / "0001_first.sql"
    return file.read_text() if file.is_file() else None


def main(arguments):
    if len(arguments) not in (1, 3) or (len(arguments) == 3 and arguments[1] != "--against"):
        print(__doc__, file=sys.stderr)
        return 2
    try:
        if not pathlib.Path(arguments[0]).is_file():
            raise Undecided("there is no such file")
        against = None
        if len(arguments) == 3:
            against = read_checkpoint(pathlib.Path(arguments[2]).read_text())
        verifier = Verifier(arguments[0])
    except (Undecided, OSError, UnicodeDecodeError, sqlite3.Error) as error:
        print(f"cannot be decided: {error}")
        return 2
    try:
        verifier.verify(against)
    except Undecided as error:
        print(f"cannot be decided: {error}")
        return 2
    except (sqlite3.Error, UnicodeDecodeError, ValueError, TypeError, AttributeError) as error:
        verifier.find("file", f"it cannot be read to its end: {error}")
    for place, problem in verifier.findings[:50]:
        print(f"{place}: {problem}")
    if verifier.findings:
        print(f"not valid: {len(verifier.findings)} findings")
        return 1
    print(f"valid\nisobar/benchbook/{verifier.identity}\n{verifier.size}\n"
          f"{base64.b64encode(verifier.root).decode()}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
