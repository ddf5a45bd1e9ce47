#!/usr/bin/env python3
"""Redraw the map in ARCHITECTURE.md from the folders.

Each line is a module and the first sentence of its own description, so the
map cannot drift from the code. Run from anywhere in the project.
"""
import pathlib
import re

ROOT = pathlib.Path(__file__).resolve().parent.parent
ROOMS = ["digits", "physics", "statistics", "study", "intake", "report", "benchbook", "app"]


def sentence(path: pathlib.Path) -> str:
    """First sentence of the description at the top of a module."""
    for name in (path, path / "mod.rs"):
        if name.is_file():
            lines = []
            for line in name.read_text().splitlines():
                if not line.startswith("//!"):
                    break
                lines.append(line[3:].strip())
            text = re.split(r"(?<=[.:])\s|\n\n", " ".join(lines).strip())[0]
            text = text.replace("`", "").rstrip(".:")
            return text if len(text) <= 78 else text[:76].rsplit(" ", 1)[0] + " ..."
    return ""


def order(room: pathlib.Path) -> list[str]:
    """Modules in the order of lib.rs, the rest by name."""
    listed = []
    lib = room / "lib.rs"
    if lib.exists():
        listed = re.findall(r"^(?:pub )?mod (\w+);", lib.read_text(), re.M)
    names = {p.name.removesuffix(".rs"): p for p in room.iterdir() if p.name != "lib.rs"}
    rest = sorted(n for n in names if n not in listed)
    return [names[n].name + ("/" if names[n].is_dir() else "") for n in listed + rest if n in names]


def main() -> None:
    lines = []
    for room in ROOMS:
        source = ROOT / "crates" / room / "src"
        for name in order(source):
            place = f"{room}/{name}"
            lines.append(f"{place:<38} {sentence(source / name.rstrip('/'))}".rstrip())
    page = ROOT / "ARCHITECTURE.md"
    text = page.read_text()
    head, rest = text.split("<!-- map -->\n```text\n", 1)
    _, tail = rest.split("```\n", 1)
    page.write_text(head + "<!-- map -->\n```text\n" + "\n".join(lines) + "\n```\n" + tail)


main()
