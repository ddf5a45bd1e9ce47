#!/usr/bin/env python3
"""Checks PDF files against what PDF/A-3a and PDF/UA-1 ask of their structure.

An independent reader (pikepdf, which is qpdf) looks at what the typesetter
wrote: archival marks, colour, fonts, attachments, and the tree of tags that a
screen reader follows. It is no full validator: the rules are those listed in
`CHECKS`, from ISO 19005-3 and ISO 14289-1 (clauses from memory).

    python3 -m pip install pikepdf
    python3 tools/check_pdf.py REPORT.pdf ...
"""

import sys

import pikepdf
from pikepdf import Array, Dictionary, Name

STANDARD_TAGS = {
    "Document", "Part", "Art", "Sect", "Div", "BlockQuote", "Caption", "TOC", "TOCI", "Index",
    "NonStruct", "Private", "P", "H", "H1", "H2", "H3", "H4", "H5", "H6", "L", "LI", "Lbl",
    "LBody", "Table", "TR", "TH", "TD", "THead", "TBody", "TFoot", "Span", "Quote", "Note",
    "Reference", "BibEntry", "Code", "Link", "Annot", "Figure", "Formula", "Form", "Title", "Em",
    "Strong",
}


def tree(node, roles, found, parent=""):
    """Every tag of the tree as (tag, its dictionary, tag of its parent)."""
    if isinstance(node, Array):
        for kid in node:
            tree(kid, roles, found, parent)
        return
    if not isinstance(node, Dictionary) or Name.S not in node:
        return
    tag = str(node.S)[1:]
    tag = roles.get(tag, tag)
    found.append((tag, node, parent))
    if Name.K in node:
        tree(node.K, roles, found, tag)


def headings_in_order(tags):
    last = 0
    for tag, _, _ in tags:
        if len(tag) == 2 and tag[0] == "H" and tag[1].isdigit():
            level = int(tag[1])
            if level > last + 1:
                return False
            last = level
    return last > 0


def fonts_embedded(pdf):
    bad, seen = [], 0
    for obj in pdf.objects:
        if isinstance(obj, Dictionary) and obj.get(Name.Type) == Name.FontDescriptor:
            seen += 1
            if not any(key in obj for key in (Name.FontFile, Name.FontFile2, Name.FontFile3)):
                bad.append(str(obj.get(Name.FontName)))
    return seen > 0 and not bad


def unicode_of_fonts(pdf):
    fonts = [
        obj for obj in pdf.objects
        if isinstance(obj, Dictionary) and obj.get(Name.Type) == Name.Font
        and obj.get(Name.Subtype) == Name.Type0
    ]
    return bool(fonts) and all(Name.ToUnicode in font for font in fonts)


def content_is_marked(pdf):
    """Everything that is painted stands inside marked content."""
    painting = {"Tj", "TJ", "'", '"', "f", "F", "f*", "B", "B*", "b", "b*", "S", "s", "Do", "sh"}
    for page in pdf.pages:
        depth = 0
        for operands, operator in pikepdf.parse_content_stream(page):
            name = str(operator)
            if name in ("BDC", "BMC"):
                depth += 1
            elif name == "EMC":
                depth -= 1
            elif name in painting and depth == 0:
                return False
    return True


def check(path):
    pdf = pikepdf.open(path)
    root = pdf.Root
    with pdf.open_metadata() as xmp:
        part = xmp.get("pdfaid:part"), xmp.get("pdfaid:conformance")
        universal = xmp.get("pdfuaid:part")
        title = xmp.get("dc:title")
    struct = root.get(Name.StructTreeRoot)
    roles = {}
    if struct is not None and Name.RoleMap in struct:
        roles = {str(key)[1:]: str(value)[1:] for key, value in struct.RoleMap.items()}
    tags = []
    if struct is not None:
        tree(struct.K, roles, tags)
    of = lambda name: [node for tag, node, _ in tags if tag == name]
    cells_in_rows = all(p == "TR" for t, _, p in tags if t in ("TH", "TD"))
    rows_in_tables = all(p in ("Table", "THead", "TBody", "TFoot") for t, _, p in tags if t == "TR")
    heads = all(
        any(t == "TH" for t, _, _ in below)
        for below in ([] if not of("Table") else [flat(node, roles) for node in of("Table")])
    )
    links = [
        a for page in pdf.pages for a in page.get(Name.Annots, []) if a.get(Name.Subtype) == Name.Link
    ]
    attached = root.get(Name.AF, [])
    javascript = any(
        isinstance(obj, Dictionary) and (obj.get(Name.S) == Name.JavaScript or Name.JS in obj)
        for obj in pdf.objects
    )
    return [
        ("marked as PDF/A-3a", part == ("3", "A")),
        ("marked as PDF/UA-1", universal == "1"),
        ("has a title, shown instead of the file's name",
         bool(title) and bool(root.get(Name.ViewerPreferences, {}).get(Name.DisplayDocTitle))),
        ("says its language", bool(str(root.get(Name.Lang, "")))),
        ("is marked as tagged", bool(root.get(Name.MarkInfo, {}).get(Name.Marked))),
        ("has a tree of tags", len(tags) > 1),
        ("uses standard tags only", {t for t, _, _ in tags} <= STANDARD_TAGS),
        ("headings begin at 1 and skip no level", headings_in_order(tags)),
        ("every figure says what it shows",
         all(str(node.get(Name.Alt, "")).strip() for node in of("Figure"))),
        ("cells stand in rows, rows in tables", cells_in_rows and rows_in_tables),
        ("every table has heads", heads),
        ("every page belongs to the tree, tabs follow it",
         all(Name.StructParents in page and page.get(Name.Tabs) == Name.S or not page.get(Name.Annots)
             for page in pdf.pages)),
        ("everything painted is marked", content_is_marked(pdf)),
        ("every link has a place and words",
         all((Name.Dest in a or Name.A in a) and str(a.get(Name.Contents, "")).strip()
             for a in links)),
        ("every font is embedded", fonts_embedded(pdf)),
        ("every font says its characters", unicode_of_fonts(pdf)),
        ("names its colours (output intent)", len(root.get(Name.OutputIntents, [])) > 0),
        ("attached files say what they are",
         len(attached) > 0 and all(Name.AFRelationship in one for one in attached)),
        ("no script, no encryption", not javascript and not pdf.is_encrypted),
    ], len(pdf.pages), len(tags), len(links)


def flat(node, roles):
    found = []
    tree(node, roles, found)
    return found


def main(paths):
    failed = 0
    for path in paths:
        results, pages, tags, links = check(path)
        bad = [name for name, holds in results if not holds]
        failed += len(bad)
        print(f"{path}: {pages} pages, {tags} tags, {links} links, "
              f"{len(results) - len(bad)} of {len(results)} checks hold")
        for name in bad:
            print(f"  does not hold: {name}")
    return 1 if failed or not paths else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
