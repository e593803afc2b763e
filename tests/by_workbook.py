#!/usr/bin/env python3
"""Reads workbooks by a library that is not ours: `openpyxl`, which takes stored values and recalculates nothing.

Of some commands over the demo each cell of the list that `--as csv` writes must stand in a sheet of the workbook: words
as words, figures to their last place. Each formula must be a sum, and carry that sum. Where LibreOffice is at hand, it
recalculates one workbook and must come to the same.

    tests/by_workbook.py BINARY [--recalculate]
"""
import csv
import io
import subprocess
import sys
import tempfile
from decimal import Decimal
from pathlib import Path
from shutil import which

import openpyxl

ROOT = Path(__file__).resolve().parent.parent
BINARY = Path(sys.argv[1]).resolve()
COMMANDS = [
    ["cost", "white-marble-spring"],
    ["cost", "dock-tandem", "--by", "bundle"],
    ["cash", "pink-granite-halifax"],
    ["load", "white-marble-spring"],
    ["load", "dock-tandem", "--for", "haulier"],
    ["worksheet", "white-marble-rotterdam"],
    ["stock"],
    ["settle", "white-marble-spring"],
]
failed = []


def written(args):
    """What a command writes. Its warnings are not looked at."""
    made = subprocess.run([BINARY, "--dir", ROOT, *args], capture_output=True, check=False)
    if not made.stdout:
        sys.exit(f"{' '.join(args)}: {made.stderr.decode()}")
    return made.stdout


def same(cell, text):
    """Whether a cell says what one of CSV says, which marks words that a spreadsheet would run."""
    if cell is None:
        return text == ""
    if isinstance(cell, str):
        return text in (cell, f"'{cell}")
    try:
        figure = Decimal(text)
    except ArithmeticError:
        return False
    # The shortest digits of a binary number are those that were written.
    return Decimal(repr(cell)) == figure


def sums(book, values, name):
    """Sees that each formula is a sum of its column and carries it; gives their count."""
    count = 0
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type != "f":
                    continue
                count += 1
                column = cell.column_letter
                places = str(cell.value).rsplit(",", 1)[-1].rstrip(")")
                if cell.value != f"=ROUND(SUM({column}2:{column}{cell.row - 1}),{places})":
                    failed.append(f"{name}: {sheet.title} {cell.coordinate}: {cell.value}")
                own = values[sheet.title]
                above = (own.cell(at, cell.column).value for at in range(2, cell.row))
                total = sum((Decimal(repr(one)) for one in above if isinstance(one, (int, float))), Decimal())
                if Decimal(repr(own[cell.coordinate].value)) != total:
                    failed.append(f"{name}: {sheet.title} {cell.coordinate} carries {own[cell.coordinate].value}, not {total}")
    return count


cells = formulas = 0
for args in COMMANDS:
    name = " ".join(args)
    file = io.BytesIO(written([*args, "--as", "xlsx"]))
    values, book = openpyxl.load_workbook(file, data_only=True), openpyxl.load_workbook(file)
    heads, *rows = csv.reader(io.StringIO(written([*args, "--as", "csv"]).decode()))
    sheet = next((one for one in values if [cell.value for cell in one[1]] == heads), None)
    if sheet is None:
        failed.append(f"{name}: no sheet has the heads of its CSV")
        continue
    for at, row in enumerate(rows, start=2):
        for column, text in enumerate(row, start=1):
            cells += 1
            if not same(sheet.cell(at, column).value, text):
                failed.append(f"{name}: row {at}, {heads[column - 1]}: {sheet.cell(at, column).value!r} is not {text}")
    formulas += sums(book, values, name)

if "--recalculate" in sys.argv and (office := which("soffice")):
    with tempfile.TemporaryDirectory() as folder:
        before, after = Path(folder) / "cost.xlsx", Path(folder) / "after"
        file = io.BytesIO(written([*COMMANDS[0], "--as", "xlsx"]))
        # Written anew its formulas carry nothing, and have to be worked out.
        openpyxl.load_workbook(file).save(before)
        convert = [office, f"-env:UserInstallation=file://{folder}/profile", "--headless", "--convert-to", "xlsx"]
        subprocess.run([*convert, "--outdir", after, before], check=True, capture_output=True)
        again = openpyxl.load_workbook(after / "cost.xlsx", data_only=True)
        for sheet in openpyxl.load_workbook(file, data_only=True):
            for row in sheet.iter_rows():
                for cell in row:
                    new = again[sheet.title][cell.coordinate].value
                    if isinstance(cell.value, (int, float)) and Decimal(repr(new)) != Decimal(repr(cell.value)):
                        failed.append(f"recalculated: {sheet.title} {cell.coordinate} is {new}, not {cell.value}")
    print("one workbook recalculated")

for what in failed:
    print(what)
print(f"{cells} cells and {formulas} sums of {len(COMMANDS)} workbooks read: {len(failed)} wrong")
sys.exit(1 if failed or formulas == 0 else 0)
