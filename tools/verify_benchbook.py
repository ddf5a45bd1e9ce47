#!/usr/bin/env python3
"""Verify a benchbook with nothing but the Python standard library.

    verify_benchbook.py FILE [--against CHECKPOINT]

Written from the description of the format below, not from the program that
writes it, so that one mistake does not both write and verify wrongly.

The format: an SQLite file with application id 0x49736f62 and shape
(user_version) 1 or 2. Table `history` holds the events; `event` is the exact
text, `leaf` is SHA-256(0x00 || text), and the log is the Merkle tree of RFC 6962
over the leaves. Event 1 carries in `new_sha256` the SHA-256 of the lines
`name=value\\n` of the table `character`, sorted by name. Every other event with
a `record` names either one row of `records` (case, kind, version, SHA-256 of
the body, SHA-256 of the version before); or one row of `entries` (the same with
`subject`); or, for `migrations`, the lines `version name sha256\\n` of the
migrations done; or, for `run`, a batch of rows of `runs`: the SHA-256 of the
lines `number sha256\\n` in the order of their ids. The body of a run names its
columns in `channels` with count and SHA-256; a column is little-endian
binary64, stored as it is in `channels`, or packed in `samples` as the head of
crates/benchbook/src/columns.rs describes.

Entries `log_key` hold the Ed25519 keys of the log; entries `checkpoint` hold
checkpoints over the events before them, signed by the key in force. Entries `signature` hold statements signed by the
key of an account over the state of a case: the lines `event record subject
version sha256\\n` of the newest version of each record of the case and of all
batches of runs, but for signatures, audit reviews and open items.

A checkpoint is the C2SP form: origin `isobar/benchbook/<identity>`, size and
root in base64, each on a line; then, after an empty line, lines of signatures
(C2SP signed-note). Those of a key of the log are checked.

Exit status: 0 valid, 1 not valid, 2 cannot be decided.
"""

import base64
import hashlib
import json
import pathlib
import re
import sqlite3
import struct
import sys
import zlib

APPLICATION_ID = 0x49736F62
SHAPE = 2
TABLES = {1: ["cases", "channels", "character", "history", "migrations", "records", "runs"]}
TABLES[2] = sorted(TABLES[1] + ["entries", "files", "samples"])
MIGRATIONS = ["0001_first.sql", "0002_people.sql"]
BESIDE = ("signature", "audit_review", "open_item")


def guards(shape):
    return sorted([f"{t}_no_{verb}" for t in TABLES[shape]
                   for verb in ("update", "delete", "replace")] + ["history_without_gap"])


# Ed25519 after RFC 8032, section 5.1: verification only. Points are extended
# coordinates (X, Y, Z, T) with x = X/Z, y = Y/Z, x y = T/Z.
P = 2**255 - 19
ORDER = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, P - 2, P) % P
SQRT_MINUS_1 = pow(2, (P - 1) // 4, P)


def point_add(p, q):
    a = (p[1] - p[0]) * (q[1] - q[0]) % P
    b = (p[1] + p[0]) * (q[1] + q[0]) % P
    c = 2 * p[3] * q[3] * D % P
    d = 2 * p[2] * q[2] % P
    e, f, g, h = b - a, d - c, d + c, b + a
    return e * f % P, g * h % P, f * g % P, e * h % P


def point_multiply(scalar, p):
    result = (0, 1, 1, 0)
    while scalar:
        if scalar & 1:
            result = point_add(result, p)
        p = point_add(p, p)
        scalar >>= 1
    return result


def point_equal(p, q):
    return (p[0] * q[2] - q[0] * p[2]) % P == 0 and (p[1] * q[2] - q[1] * p[2]) % P == 0


def recover_x(y, sign):
    if y >= P:
        return None
    x2 = (y * y - 1) * pow(D * y * y + 1, P - 2, P) % P
    if x2 == 0:
        return None if sign else 0
    x = pow(x2, (P + 3) // 8, P)
    if (x * x - x2) % P:
        x = x * SQRT_MINUS_1 % P
    if (x * x - x2) % P:
        return None
    return P - x if (x & 1) != sign else x


def point_decompress(data):
    if len(data) != 32:
        return None
    y = int.from_bytes(data, "little")
    sign, y = y >> 255, y & ((1 << 255) - 1)
    x = recover_x(y, sign)
    return None if x is None else (x, y, 1, x * y % P)


BASE = point_decompress((4 * pow(5, P - 2, P) % P).to_bytes(32, "little"))


def ed25519_verifies(public, message, signature):
    a, r = point_decompress(public), point_decompress(signature[:32])
    if len(signature) != 64 or a is None or r is None:
        return False
    s = int.from_bytes(signature[32:], "little")
    if s >= ORDER:
        return False
    h = int.from_bytes(hashlib.sha512(signature[:32] + public + message).digest(), "little")
    return point_equal(point_multiply(s, BASE), point_add(r, point_multiply(h % ORDER, a)))


def unbase64(text):
    return base64.b64decode(text, validate=True)


class Key:
    """A key of the form name+id+base64 (C2SP signed-note)."""

    def __init__(self, text):
        self.text = text
        self.name, id_, key = text.split("+", 2)
        data = unbase64(key)
        self.public = data[1:]
        self.id = sha256(self.name.encode() + b"\n" + data)[:4]
        if data[0] != 1 or len(data) != 33 or id_ != self.id.hex():
            raise ValueError("this is no key")

    def signed(self, text, lines):
        """None where no line is of this key, else whether it is right."""
        for name, id_, signature in lines:
            if name == self.name and id_ == self.id:
                return ed25519_verifies(self.public, text.encode(), signature)
        return None


def signature_lines(text):
    lines = []
    for line in text.removesuffix("\n").split("\n"):
        dash, name, data = line.split(" ")
        data = unbase64(data)
        if dash != "\u2014":
            raise ValueError("this is no line of a signature")
        lines.append((name, data[:4], data[4:]))
    return lines


def read_note(note):
    """Body and lines of signatures."""
    if "\n\n" not in note:
        return note, []
    body, _, lines = note.rpartition("\n\n")
    return body + "\n", signature_lines(lines)


def unpack(packed, counts):
    """Columns of a run as little-endian binary64; see columns.rs."""
    plain = packed[1:]
    length = sum(1 + 8 * n for n in counts)
    if packed[0] == 1:
        plain = zlib.decompressobj().decompress(plain, length + 1)
    if packed[0] > 1 or len(plain) != length:
        raise ValueError("packed in an unknown way")
    columns, mask = [], (1 << 64) - 1
    for n in counts:
        predictor, planes, plain = plain[0], plain[1:1 + 8 * n], plain[1 + 8 * n:]
        if predictor > 2:
            raise ValueError("packed in an unknown way")
        before = before_that = 0
        values = []
        for i in range(n):
            folded = int.from_bytes(planes[i::n], "little")
            residual = (folded >> 1) ^ (mask if folded & 1 else 0)
            said = (0, before, 2 * before - before_that)[predictor]
            before, before_that = (residual + said) & mask, before
            values.append(before)
        columns.append(struct.pack(f"<{n}Q", *values))
    return columns


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
    try:
        body, signatures = read_note(text)
    except ValueError:
        raise Undecided("what follows the checkpoint are not lines of signatures") from None
    return lines[0], int(lines[1]), root, body, signatures


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
        self.shape = shape = self.db.execute("PRAGMA user_version").fetchone()[0]
        if shape > SHAPE:
            raise Undecided(f"the file has shape {shape}, and this verifier knows {SHAPE}")
        if shape < 1:
            self.find("file", f"its shape is {shape}")
            self.shape = shape = SHAPE
        for (line,) in self.db.execute("PRAGMA integrity_check(20)"):
            if line != "ok":
                self.find("file", line)
        for row in self.db.execute("PRAGMA foreign_key_check"):
            self.find(f"table {row[0]}", "a row refers to one that is not there")
        named = lambda kind: [r[0] for r in self.db.execute(
            "SELECT name FROM sqlite_schema WHERE type = ? ORDER BY name", (kind,))]
        if named("table") != TABLES[shape] or named("view"):
            self.find("file", "its tables are not those of a benchbook")
        if named("trigger") != guards(shape):
            self.find("file", "its guards are not those of a benchbook")
        # What the guards say is in the migrations, whose hashes the file carries.
        schema = self.db.execute("SELECT type, sql FROM sqlite_schema WHERE sql NOT NULL")
        texts = migration_texts()
        if texts is not None:
            for kind, sql in schema:
                if not any(sql in text for text in texts[:shape]):
                    self.find("file", f"a {kind} is not as the migration made it")

    def migrations(self):
        rows = self.db.execute(
            "SELECT version, name, sha256, event FROM migrations ORDER BY version").fetchall()
        texts = migration_texts()
        if texts is not None:
            known = [(i + 1, name[5:-4], sha256(text.encode())) for i, (name, text)
                     in enumerate(zip(MIGRATIONS, texts))][:self.shape]
            if [row[:3] for row in rows] != known:
                self.find("migrations", "they are not the known ones")
        if len(rows) != self.shape:
            self.find("migrations", "they do not lead to this shape")
        for event in sorted({row[3] for row in rows} - {1}):
            lines = "".join(f"{v} {n} {h.hex()}\n" for v, n, h, e in rows if e == event)
            self.named_by(event, "migrations", record="migrations", new_sha256=text_hash(lines))

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
        self.size, self.root, self.leaves = len(leaves), tree_root(leaves), leaves
        self.all_naming = dict(self.naming)
        if against is not None:
            _, size, root, _, _ = against
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
        self.samples(columns)
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

    def samples(self, columns):
        if self.shape < 2:
            return
        of_run = {}
        for (case, run, name), named in columns.items():
            of_run.setdefault((case, run), []).append((name, *named))
        for case, run, encoding, data in self.db.execute(
                "SELECT case_id, run, encoding, bytes FROM samples"):
            place = f"samples of run {run} of case `{case}`"
            named = of_run.get((case, run), [])
            try:
                unpacked = unpack(data, [n for _, n, _ in named])
                hashes = [sha256(column).hex() for column in unpacked]
            except (ValueError, IndexError, TypeError, zlib.error) as error:
                hashes = [str(error)]
            if encoding != "packed1" or hashes != [h for _, _, h in named] or not named:
                self.find(place, "they are not the columns that the run names")
            for name, _, _ in named:
                columns.pop((case, run, name), None)

    def entries(self):
        self.accounts, self.keys, self.signed, self.kept, files = {}, [], [], [], {}
        last = (None, None, 0, None)
        for kind, subject, version, case, body, stored, event in self.db.execute(
                "SELECT kind, subject, version, case_id, body, sha256, event FROM entries "
                "ORDER BY kind, subject, version"):
            place = f"{kind} `{subject}` version {version}"
            computed = text_hash(body)
            if bytes.fromhex(computed) != stored:
                self.find(place, "its text does not have its hash")
            same = last[:2] == (kind, subject)
            if version != (last[2] + 1 if same else 1):
                self.find(place, "a version is missing before it")
            self.named_by(event, place, case=case, record=kind, subject=subject, version=version,
                          old_sha256=last[3] if same else None, new_sha256=computed)
            last = (kind, subject, version, computed)
            try:
                content = json.loads(body)
                record = content["record"]
                if content["kind"] != kind:
                    self.find(place, "its text is that of another record")
                if kind == "account":
                    self.accounts.setdefault(subject, []).append((event, record))
                elif kind == "log_key":
                    self.log_key(place, event, record)
                elif kind == "checkpoint":
                    self.kept.append((event, record))
                elif kind == "signature":
                    self.signed.append((event, case, record))
                elif isinstance(record, dict) and isinstance(record.get("file_sha256"), str):
                    hash_ = record["file_sha256"]
                    files[hash_] = min(event, files.get(hash_, event))
            except (ValueError, KeyError, TypeError, AttributeError) as error:
                self.find(place, f"its text is not of its form: {error}")
        for hash_, n, encoding, data, event in self.db.execute(
                "SELECT sha256, n, encoding, bytes, event FROM files"):
            try:
                data = zlib.decompress(data) if encoding == "zlib" else data
            except zlib.error:
                data = b""
            if sha256(data) != hash_ or len(data) != n or encoding not in ("raw", "zlib"):
                self.find(f"file {hash_.hex()}", "its bytes do not have their hash")
            if files.pop(hash_.hex(), None) != event:
                self.find(f"file {hash_.hex()}", "it did not come in with what names it")
        for hash_ in files:
            self.find(f"file {hash_}", "it is missing")

    def log_key(self, place, event, record):
        key = Key(record["key"])
        before = self.keys[-1][1] if self.keys else None
        after = before.text if before else "none"
        if record["statement"] != f"isobar log key v1\n{key.text}\nafter {after}\n":
            self.find(place, "its statement is not of its form")
        lines = signature_lines(record["signatures"])
        if key.signed(record["statement"], lines) is not True:
            self.find(place, "it did not sign that it takes over")
        others = [line for line in lines if line[1] != key.id]
        if others and (before is None or before.signed(record["statement"], others) is not True):
            self.find(place, "the signature of the key before it is wrong")
        self.keys.append((event, key))

    def checkpoints(self):
        for number, record in self.kept:
            place = f"checkpoint under event {number}"
            try:
                origin, size, root, body, lines = read_checkpoint(record["note"])
                if size != record["size"]:
                    raise Undecided("its size is another")
            except (Undecided, KeyError, TypeError, AttributeError) as error:
                self.find(place, str(error))
                continue
            keys = [key for event, key in self.keys if event < number]
            if not number - 2 <= size < number or origin != f"isobar/benchbook/{self.identity}":
                self.find(place, "it is of another log or stands in another place")
            if tree_root(self.leaves[:size]) != root:
                self.find(place, "the first events are not those it stands for")
            if not keys or keys[-1].signed(body, lines) is not True:
                self.find(place, "it is not signed by the log key that was in force")

    def state_before(self, case, before):
        newest = {}
        for number, event in sorted(self.all_naming.items()):
            if number >= before or event["case"] != case or event["record"] in BESIDE:
                continue
            batch = number if event["record"] == "run" else 0
            newest[event["record"], event.get("subject") or "-", batch] = (number, event)
        return "".join(
            f"{number} {record} {subject} {event['version'] or 0} {event['new_sha256']}\n"
            for (record, subject, _), (number, event)
            in sorted(newest.items(), key=lambda item: item[1][0]))

    def signatures(self):
        keys = ["origin", "case", "state", "report", "meaning", "account", "name", "roles", "at",
                "software", "log"]
        for number, case, record in self.signed:
            place = f"signature under event {number}"
            try:
                statement, state = record["statement"], record["state"]
                lines = statement.split("\n")
                said = [line.split(" ", 1) for line in lines[1:-1]]
                if lines[0] != "isobar signature v1" or lines[-1] or [k for k, _ in said] != keys:
                    raise ValueError("its statement is not of its form")
                said = dict(said)
                public = unbase64(record["public_key"])
                size, root = said["log"].split(" ")
                accounts = [a for event, a in self.accounts.get(said["account"], [])
                            if event < number]
                event = self.all_naming.get(number, {})
                checks = [
                    (ed25519_verifies(public, statement.encode(), unbase64(record["signature"])),
                     "its signature is wrong"),
                    (accounts and accounts[-1]["public_key"] == record["public_key"]
                     and accounts[-1]["name"] == said["name"]
                     and ", ".join(accounts[-1]["roles"]) == said["roles"],
                     "key, name or roles are not those of the account"),
                    (said["origin"] == f"isobar/benchbook/{self.identity}",
                     "it was given in another benchbook"),
                    (said["case"] == case, "it was given on another case"),
                    (event.get("at") == said["at"] and event.get("account") == said["account"],
                     "its event names another person or another time"),
                    (text_hash(state) == said["state"] and state == self.state_before(case, number),
                     "the state is not the one that was signed"),
                    (number - 2 <= int(size) < number
                     and tree_root(self.leaves[:int(size)]) == unbase64(root),
                     "it was given at another place in the log"),
                ]
            except (ValueError, KeyError, TypeError, AttributeError) as error:
                checks = [(False, f"it is not of its form: {error}")]
            for right, problem in checks:
                if not right:
                    self.find(place, problem)

    def against_signature(self, against):
        for _, key in self.keys:
            if key.signed(against[3], against[4]) is False:
                self.find("checkpoint", "its signature is wrong")

    def verify(self, against):
        self.file()
        self.events(against)
        self.character()
        self.migrations()
        self.records()
        self.runs()
        if self.shape >= 2:
            self.entries()
            self.signatures()
            self.checkpoints()
            if against is not None:
                self.against_signature(against)
        for number, event in self.naming.items():
            self.find(f"event {number}", f"the {event['record']} that it names is missing")
        origin = f"isobar/benchbook/{self.identity}"
        if against is not None and against[0] != origin:
            self.find("checkpoint", f"it is of `{against[0]}`, and this file is `{origin}`")


def migration_texts():
    """The migrations beside the source of the project, where they are at hand."""
    folder = pathlib.Path(__file__).resolve().parent.parent / "crates/benchbook/migrations"
    files = [folder / name for name in MIGRATIONS]
    return [file.read_text() for file in files] if all(f.is_file() for f in files) else None


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
