"""Writes reference/statistics_models.csv: the example tables of this project
put to scipy and statsmodels through models.py. Run from the project's folder:

    .venv/bin/python crates/statistics/tests/referees/rows_of_models.py
"""

import csv
import math
import subprocess
import sys

HERE = "crates/statistics/tests/referees/models.py"


def rows(name):
    with open(f"examples/{name}") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def numbers(values):
    return " ".join(repr(float(value)) for value in values)


def places(names):
    known = {}
    return [known.setdefault(name, len(known)) for name in names]


questions = []


def ask(kind, title, inputs, lists, tolerances):
    questions.append((kind, title, inputs, lists, tolerances))


joined = rows("read_and_judged.csv")
cut = math.log(24 - 16.2)
read = [row["rise_pa"] != "" for row in joined]
ask("joined", "joined", "examples/read_and_judged.csv; ln size; ln(rise - 16.2); threshold 24",
    [numbers(math.log(float(row["verified_um"])) for row in joined),
     numbers(math.log(float(row["rise_pa"]) - 16.2) if known else cut
             for row, known in zip(joined, read)),
     numbers(0 if known else 2 * int(row["found"]) - 1 for row, known in zip(joined, read))],
    {"intercept": 1e-5, "slope": 1e-5, "scatter": 1e-5, "ratio": 1e-5, "p": 1e-5})

floor = rows("blanks_and_leaks.csv")
leaks = [row for row in floor if float(row["verified_um"]) > 0]
blanks = [row for row in floor if float(row["verified_um"]) == 0]
ask("false calls", "false calls", "examples/blanks_and_leaks.csv; logit; ln size; floor estimated",
    ["logit", numbers(math.log(float(row["verified_um"])) for row in leaks),
     numbers(row["found"] for row in leaks), numbers(row["tested"] for row in leaks),
     numbers([sum(int(row["found"]) for row in blanks), sum(int(row["tested"]) for row in blanks)])],
    {"floor": 1e-5, "intercept": 1e-5, "slope": 1e-5, "a90": 1e-6, "a90/95": 1e-5})

repeated = rows("repeated_controls.csv")
x = [math.log(float(row["verified_um"])) for row in repeated]
y = [math.log(float(row["rise_pa"]) - 16.2) for row in repeated]
units = places(row["unit"] for row in repeated)
ask("unit effects", "unit effects", "examples/repeated_controls.csv; ln size; ln(rise - 16.2)",
    [numbers(x), numbers(y), numbers(units)],
    {"intercept": 1e-5, "slope": 1e-5, "between": 1e-4, "within": 1e-4})
middle = (min(x) + max(x)) / 2
ask("censored units", "spread in size",
    "examples/repeated_controls.csv; ln size; ln(rise - 16.2); log-linear spread, middle of ln size",
    ["size", numbers(x), numbers(y), numbers([0] * len(x)), numbers(units), numbers([middle]),
     numbers([1.0, 2.0, -2.0, 0.1, 0.0])],
    {"intercept": 1e-4, "slope": 1e-4, "within": 1e-3, "between": 1e-3, "exponent": 1e-3})

ask("exact place", "exact place",
    "x 0 0.5 1 1.5 2 2.5 3 3.5 4; y 1.2 1.9 3.4 3.6 5.3 5.6 7.4 7.7 9.1; threshold 4; p 0.9; "
    "confidence 0.95",
    [numbers([0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5, 4]),
     numbers([1.2, 1.9, 3.4, 3.6, 5.3, 5.6, 7.4, 7.7, 9.1]), "4", "0.9", "0.95"],
    {"upper": 1e-10})

gauge = rows("unequal_gauge.csv")
parts, operators = places(row["part"] for row in gauge), places(row["operator"] for row in gauge)
both = places(zip(parts, operators))
ask("random factors", "random factors", "examples/unequal_gauge.csv; part, operator, part:operator",
    [numbers(row["reading"] for row in gauge), numbers(parts), numbers(operators), numbers(both)],
    {"criterion": 1e-8, "variance 0": 1e-4, "variance 1": 1e-4, "variance 2": 1e-4,
     "variance 3": 1e-4})

sites = rows("sites_days_runs.csv")
site = places(row["site"] for row in sites)
day = places((row["site"], row["day"]) for row in sites)
run = places((row["site"], row["day"], row["run"]) for row in sites)
ask("random factors", "nested levels", "examples/sites_days_runs.csv; site, day, run",
    [numbers(row["rise_pa"] for row in sites), numbers(site), numbers(day), numbers(run)],
    {"criterion": 1e-8, "variance 0": 1e-4, "variance 1": 1e-4, "variance 2": 1e-4,
     "variance 3": 1e-4})

ask("welch power", "two groups", "units 6 and 14; sd 1 and 2.5; difference 1.5; margin 2.4; alpha 0.05",
    ["6", "14", "1", "2.5", "1.5", "0.05", "2.4"], {"difference": 1e-8, "equivalence": 1e-5})
ask("copula", "rectangular with triangular", "rectangular -1 to 4; triangular 0 to 2; r = -0.7",
    ["rectangular triangular", "-1 4", "0 2", "-0.7"], {"copula": 1e-5})
ask("copula", "t with normal", "t of 5 df, 1 and 2; normal; r = 0.6",
    ["t normal", "1 2 5", "0 1", "0.6"], {"copula": 1e-5})

text = "".join(f"{kind};{number};{'|'.join(lists)}\n"
               for number, (kind, _, _, lists, _) in enumerate(questions))
answers = subprocess.run([sys.executable, HERE], input=text, capture_output=True, text=True,
                         check=True).stdout
with open("reference/statistics_models.csv", "w", newline="") as file:
    out = csv.writer(file, lineterminator="\n")
    out.writerow("quantity,inputs,value,unit,tolerance,evidence,source,where".split(","))
    for answer in answers.splitlines():
        number, quantity, value = answer.split(";")
        kind, title, inputs, _, tolerances = questions[int(number)]
        tolerance = tolerances.get(quantity)
        # A variance at its boundary has no digits to compare.
        if tolerance is None or (quantity.startswith("variance") and abs(float(value)) < 1e-7):
            continue
        source = ("statsmodels 0.15.0" if kind == "unit effects"
                  else "scipy 1.17.1 with statsmodels 0.15.0" if kind == "joined"
                  else "scipy 1.17.1")
        where = ("noncentral t of the line's height in models.py; run for this project"
                 if kind == "exact place"
                 else "likelihood written out in models.py; run for this project")
        out.writerow([f"{title} {quantity}", inputs, value, "1", f"{tolerance:g} rel",
                      "independent program", source, where])
