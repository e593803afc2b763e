"""Sums the journal and the stock list again, by SQLite: what the program exports must hold without the program.

    python3 tests/books_by_sql.py target/debug/quaystone [WORKSPACE]

At every date on which something is posted: each entry balances; every account of stock, by shipment and yard, is the
sum of its slabs; what is written down, sold, used, lost and sent back as well; an account of foreign money that is
closed in its own currency is closed in the books; and a later export has the earlier one in it, line by line. The
files that are parted by shipment are, read as one table, the whole.
"""

import csv
import io
import sqlite3
import pathlib
import subprocess
import sys
import tempfile


def cents(text):
    """A figure with two places as a whole number, without a float."""
    if not text:
        return 0
    sign = -1 if text.startswith("-") else 1
    whole, _, rest = text.lstrip("-").partition(".")
    return sign * (int(whole) * 100 + int((rest + "00")[:2]))


def table(binary, workspace, *args):
    command = [binary, "--dir", workspace, *args, "--as", "csv"]
    text = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    return list(csv.DictReader(io.StringIO(text)))


def load(base, binary, workspace, day):
    base.executescript(
        """
        drop table if exists line; drop table if exists slab;
        create table line (entry text, line int, account text, yard text, party text, shipment text, book int,
                           amount int, currency text, books text);
        create table slab (shipment text, yard text, status text, cost int, down int);
        """
    )
    lines = table(binary, workspace, "journal", "--to", day)
    rows = [
        (
            one["entry"], int(one["line"]), one["account"], one["yard"], one["party"], one["shipment"],
            cents(one["debit"]) - cents(one["credit"]), cents(one["amount"]), one["currency"], one["books"],
        )
        for one in lines
    ]
    base.executemany("insert into line values (?,?,?,?,?,?,?,?,?,?)", rows)
    slabs = table(binary, workspace, "stock", "--all", "--on", day)
    rows = [
        (one["shipment"], one["yard"], one["status"], cents(one["cost"]), cents(one["written down"]))
        for one in slabs
    ]
    base.executemany("insert into slab values (?,?,?,?,?)", rows)
    return [tuple(one.values()) for one in lines]


# An account, and which slabs it holds.
HOLDS = [
    ("stock in transit", "status = 'in transit'"),
    ("stock on hand", "status = 'on hand'"),
    ("own use and samples", "status in ('used', 'given as a sample')"),
    ("abnormal loss", "status in ('lost', 'cut')"),
    ("goods sent back", "status = 'sent back'"),
]

CHECKS = [("an entry that does not balance", "select entry, sum(book) from line group by entry having sum(book) != 0")]
CHECKS += [
    (
        account,
        f"""select shipment, yard, sum(book) from (
            select shipment, yard, book from line where account = '{account}'
            union all select shipment, yard, -cost from slab where {which})
        group by shipment, yard having sum(book) != 0""",
    )
    for account, which in HOLDS
]
CHECKS += [
    (
        "cost of sales",
        """select shipment, sum(book) from (
            select shipment, book from line where account = 'cost of sales'
            union all select shipment, -cost from slab where status = 'sold'
            union all select shipment, -down from slab)
        group by shipment having sum(book) != 0""",
    ),
    (
        "allowance on stock",
        """select shipment, sum(book) from (
            select shipment, book from line where account = 'allowance on stock'
            union all select shipment, down from slab) group by shipment having sum(book) != 0""",
    ),
    (
        "foreign money",
        """select account, party, currency, sum(amount), sum(book) from line
        where currency != '' and account in ('payables', 'accrued charges', 'receivables', 'claims', 'deposits')
        group by account, party, currency having sum(amount) = 0 and sum(book) != 0""",
    ),
]


def parted(binary, workspace, *args):
    """The rows of all files of an export in parts."""
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        command = [binary, "--dir", workspace, *args, "--parts", folder]
        subprocess.run(command, capture_output=True, check=True)
        for path in pathlib.Path(folder).glob("*.csv"):
            rows += csv.DictReader(io.StringIO(path.read_text()))
    return rows


def main():
    binary = sys.argv[1]
    workspace = sys.argv[2] if len(sys.argv) > 2 else "."
    days = sorted({one["posted"] for one in table(binary, workspace, "journal")})
    base = sqlite3.connect(":memory:")
    wrong = 0
    before = []
    for day in days:
        lines = load(base, binary, workspace, day)
        if lines[: len(before)] != before:
            wrong += 1
            print(f"{day}: the export before is not the beginning of this one")
        before = lines
        for what, check in CHECKS:
            for row in base.execute(check):
                wrong += 1
                print(f"{day}: {what}: {row}")
    for args in (["journal"], ["stock", "--all"]):
        key = lambda row: sorted(row.items())
        if sorted(parted(binary, workspace, *args), key=key) != sorted(table(binary, workspace, *args), key=key):
            wrong += 1
            print(f"{args[0]}: the parts are not the whole")
    print(f"{len(days)} dates, {len(before)} lines, {len(CHECKS)} checks: {wrong} wrong")
    return 1 if wrong or not before else 0


if __name__ == "__main__":
    sys.exit(main())
