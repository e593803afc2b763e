"""Sums the journal and the stock list again, by SQLite: what the program exports must hold without the program.

    python3 tests/books_by_sql.py target/debug/quaystone [WORKSPACE]

At every date on which something is posted: each entry balances; every account of stock, by shipment and yard, is the
sum of its slabs; what is written down, sold, used, lost and sent back as well; an account of foreign money that is
closed in its own currency is closed in the books; and a later export has the earlier one in it, line by line. The
files that are parted by shipment are, read as one table, the whole.

At the last date of each month: each charge is what its lines come to, and what is accrued for it is what is still to
come; the charges that are cost are, shipment by shipment, what its slabs bear wherever they are; each account of `audit`
opens with what its lines came to before, moves by them and closes with their sum. At the end: the debits that a final
close states are those of its period, whatever was posted since; shares of an estimate add up to its charges; and each
packed slab is listed once, with the line, box and area it was packed with.

On copies: events and what takes them back come to nothing, account by account, and leave each slab as it was; with other
figures in every table of rates, what is booked stays to the letter; and of slabs that break, the part that a normal loss
gives goes to the sound ones of their line and box, to the cent and by area.
"""

import csv
import io
import pathlib
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import tomllib
from contextlib import contextmanager
from datetime import date, timedelta
from fractions import Fraction


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
                           amount int, currency text, books text, charge text, posted text);
        create table slab (shipment text, yard text, status text, cost int, down int);
        """
    )
    lines = table(binary, workspace, "journal", "--to", day)
    rows = [
        (
            one["entry"], int(one["line"]), one["account"], one["yard"], one["party"], one["shipment"],
            cents(one["debit"]) - cents(one["credit"]), cents(one["amount"]), one["currency"], one["books"],
            one["charge"], one["posted"],
        )
        for one in lines
    ]
    base.executemany("insert into line values (?,?,?,?,?,?,?,?,?,?,?,?)", rows)
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


# What a charge came to, by its lines and by `settle`; and what its shipment's slabs bear. Money is in whole cents, as all
# currencies of the demo's bills have two places.
MONTHLY = [
    (
        "a charge and its lines",
        """select shipment, charge, sum(book) from (
            select shipment, charge, book from line where charge != '' and account != 'accrued charges'
            union all select shipment, charge, -came from settled) group by shipment, charge having sum(book) != 0""",
    ),
    (
        "a charge and what is accrued for it",
        """select shipment, charge, sum(amount) from (
            select shipment, charge, case currency when '' then book else amount end amount
            from line where account = 'accrued charges'
            union all select shipment, charge, open from settled)
        group by shipment, charge having sum(amount) != 0""",
    ),
    (
        "the cost of a shipment",
        """select shipment, sum(cost) from (
            select shipment, cost from slab
            union all select shipment, -came from settled where treatment = 'stock')
        group by shipment having sum(cost) != 0""",
    ),
    (
        "an account of the audit",
        """select account, currency, sum(opening), sum(debits), sum(credits), sum(closing) from (
            select account, currency, opening, debits, credits, closing from audited
            union all select account, books, -book * (posted < first), -max(book, 0) * (posted >= first),
                             min(book, 0) * (posted >= first), -book from line, month
            union all select account, currency, -amount * (posted < first), -max(amount, 0) * (posted >= first),
                             min(amount, 0) * (posted >= first), -amount from line, month where currency != '')
        group by account, currency
        having sum(opening) != 0 or sum(debits) != 0 or sum(credits) != 0 or sum(closing) != 0""",
    ),
]


def load_month(base, binary, workspace, day, shipments):
    """What `settle` and `audit` say on a day, beside the lines and slabs of that day."""
    base.executescript(
        """
        drop table if exists settled; drop table if exists audited; drop table if exists month;
        create table settled (shipment text, charge text, treatment text, came int, open int);
        create table audited (account text, currency text, opening int, debits int, credits int, closing int);
        create table month (first text);
        """
    )
    first = day[:8] + "01"
    base.execute("insert into month values (?)", (first,))
    for shipment in shipments:
        for one in table(binary, workspace, "settle", shipment, "--on", day):
            came = cents(one["estimated in books"]) + cents(one["more in books"]) if one["owed on"] else 0
            row = (one["shipment"], one["charge"], one["treatment"], came, cents(one["to come"]))
            base.execute("insert into settled values (?,?,?,?,?)", row)
    for one in table(binary, workspace, "audit", "--from", first, "--to", day):
        figures = [cents(one[key]) for key in ("opening", "debits", "credits", "closing")]
        base.execute("insert into audited values (?,?,?,?,?,?)", [one["account"], one["currency"], *figures])


def kept(base, binary, workspace, books):
    """What the files of the books say against what is exported of them, at the last date."""
    wrong = []
    for path in sorted(books.glob("yards/*.toml")):
        for at, event in enumerate(tomllib.loads(path.read_text()).get("event", []), 1):
            if event["kind"] == "close" and "debits" in event:
                figure, currency = event["debits"].split()
                # What the close itself posts came after it was stated.
                own = event.get("id", f"books/yards/{path.stem}#{at}")
                sum_of = "select sum(max(book, 0)) from line where books = ? and posted <= ? and entry != ?"
                debits = base.execute(sum_of, (currency, str(event["until"]), own)).fetchone()[0]
                if debits != cents(figure):
                    wrong.append(f"the close of {event['until']}: {debits} for {figure}")
    listed = {}
    for one in table(binary, workspace, "stock", "--all"):
        listed.setdefault((one["shipment"], one["slab"]), []).append(one)
    for folder in sorted(books.glob("*/freeze.toml")):
        name = folder.parent.name
        shares = {}
        for one in csv.DictReader((folder.parent / "shares.csv").open()):
            shares[one["sharing"]] = shares.get(one["sharing"], 0) + cents(one["share"])
        for charge in csv.DictReader((folder.parent / "charges.csv").open()):
            shares[charge["sharing"]] -= cents(charge["book"].split()[0])
        wrong += [f"the shares of {name}: list {at} is {rest} off" for at, rest in shares.items() if rest]
        for one in csv.DictReader((folder.parent / "slabs.csv").open()):
            own = listed.get((name, one["slab"]), [])
            keys = [("line", "line"), ("container", "container"), ("gross_m2", "gross m2"), ("billed_m2", "billed m2")]
            same = [float(got[b]) == float(one[a]) if "m2" in a else got[b] == one[a] for got in own for a, b in keys]
            if len(own) != 1 or not all(same):
                wrong.append(f"slab {one['slab']} of {name} is listed {len(own)} times, or otherwise")
    return wrong


def parted(binary, workspace, *args):
    """The rows of all files of an export in parts."""
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        command = [binary, "--dir", workspace, *args, "--parts", folder]
        subprocess.run(command, capture_output=True, check=True)
        for path in pathlib.Path(folder).glob("*.csv"):
            rows += csv.DictReader(io.StringIO(path.read_text()))
    return rows


@contextmanager
def copied(workspace):
    """A copy of a workspace, to be changed. Closes state no debits there, as what is added moves them."""
    with tempfile.TemporaryDirectory() as folder:
        for name in ("rates", "shipments", "books"):
            shutil.copytree(pathlib.Path(workspace) / name, pathlib.Path(folder) / name)
        for path in pathlib.Path(folder).glob("books/yards/*.toml"):
            path.write_text(re.sub("(?m)^debits = .*\n", "", path.read_text()))
        yield pathlib.Path(folder)


def taken_back(base, binary, workspace, last):
    """Events of several kinds on the day after the last, each taken back on that day."""
    wrong = []
    day = str(date.fromisoformat(last) + timedelta(days=1))
    with copied(workspace) as folder:
        slabs = table(binary, folder, "stock", "--on", day)
        stands = [one for one in slabs if one["status"] == "on hand" and not one["reserved for"]]
        own = [one for one in stands if one["shipment"] == stands[0]["shipment"]]
        first, second, third = [one["slab"] for one in own if cents(one["written down"]) == 0][:3]
        bill = 'party = "P (invented)"\nnumber = "R-1"\nline = [{ new = "storage", amount = "100.01 USD", reason = "r" }]'
        events = [
            ("billed", bill),
            ("issue", f'slabs = ["{first}"]'),
            ("loss", f'slabs = ["{second}"]\nreason = "r"'),
            ("write down", f'slabs = ["{third}"]\nworth = "1.00 USD"\nreason = "r"'),
            ("move", f'slabs = ["{third}"]\nyard = "another yard"'),
        ]
        text = ""
        for at, (kind, rest) in enumerate(events):
            text += f'\n[[event]]\nkind = "{kind}"\nid = "taken-back-{at}"\noccurred = {day}\n{rest}\n'
        for at in reversed(range(len(events))):
            text += f'\n[[event]]\nkind = "reverse"\noccurred = {day}\nevent = "taken-back-{at}"\nreason = "r"\n'
        path = folder / "books" / own[0]["shipment"] / "events.toml"
        path.write_text(path.read_text() + text)
        load(base, binary, folder, day)
        rest = """select account, yard, party, shipment, charge, currency, sum(book), sum(amount) from line where posted = ?
            group by account, yard, party, shipment, charge, currency having sum(book) != 0 or sum(amount) != 0"""
        wrong += [f"what is taken back leaves {row}" for row in base.execute(rest, (day,))]
        count = base.execute("select count(*) from line where posted = ?", (day,)).fetchone()[0]
        if count < 4 * len(events):
            wrong.append(f"only {count} lines are of what is taken back")
        if table(binary, folder, "stock", "--on", day) != slabs:
            wrong.append("what is taken back leaves another stock list")
    return wrong


def other_rates(binary, workspace, shipments):
    """Every amount, percentage and rate of the tables is another: nothing that is booked moves."""
    exports = [["journal"], ["stock", "--all"], ["audit"], *(["settle", name] for name in shipments)]
    with copied(workspace) as folder:
        before = [table(binary, folder, *args) for args in exports]
        count = 0
        for path in folder.glob("rates/*.toml"):
            figures = r'(?m)\b(amount|rate|minimum|price) = "(1 [A-Z]{3} = )?(\d)'
            text, some = re.subn(figures, r'\1 = "\g<2>1\3', path.read_text())
            count += some
            path.write_text(text)
        after = [table(binary, folder, *args) for args in exports]
    wrong = [f"{' '.join(args)} moves with the rates" for args, a, b in zip(exports, before, after) if a != b]
    return wrong + ([] if count > 40 else [f"only {count} figures of the rates are others"])


# The stone whose slabs break in the demo year, with the event, and the rate of its normal loss on the copy.
BREAKS = ("pink-granite-summer", "pink-granite-summer-arrival", "lantern-pink", Fraction(1, 100))


def normal_loss(binary, workspace):
    """A shipment booked anew with a rate of normal loss: what stood on the slabs the day before they broke."""
    name, arrival, stone, rate = BREAKS
    wrong = []
    with copied(workspace) as folder:
        stones = folder / "rates/stones.toml"
        row = f'id = "{stone}"\n'
        stones.write_text(stones.read_text().replace(row, row + f'normal-loss = "{rate * 100} %"\n'))
        events = (folder / "books" / name / "events.toml").read_text()
        shutil.rmtree(folder / "books" / name)
        subprocess.run([binary, "--dir", folder, "book", name], capture_output=True, check=True)
        (folder / "books" / name / "events.toml").write_text(events)
        lines = table(binary, folder, "journal", name)
        day = next(one["posted"] for one in lines if one["entry"] == arrival)
        other = [one["entry"] for one in lines if one["posted"] == day and one["charge"]]
        if other:
            return [f"charges are posted as the slabs break: {other}"]
        before = str(date.fromisoformat(day) - timedelta(days=1))
        cost = lambda on: {
            one["slab"]: one for one in table(binary, folder, "stock", "--all", "--on", on) if one["shipment"] == name
        }
        was, now = cost(before), cost(day)
        sets = {}
        for slab, one in now.items():
            sets.setdefault((one["line"], one["container"]), []).append(slab)
        given_in_all = 0
        for key, slabs in sets.items():
            area = {slab: Fraction(now[slab]["billed m2"]) for slab in slabs}
            lost = [slab for slab in slabs if now[slab]["status"] == "lost"]
            sound = [slab for slab in slabs if slab not in lost]
            rise = {slab: cents(now[slab]["cost"]) - cents(was[slab]["cost"]) for slab in slabs}
            shipped, gone = sum(area.values()), sum(area[slab] for slab in lost)
            normal = min(gone, rate * shipped)
            part = normal / gone * (shipped - gone) / (shipped - normal) if lost and sound else 0
            given = -sum(rise[slab] for slab in lost)
            given_in_all += given
            stood = sum(cents(was[slab]["cost"]) for slab in lost)
            if abs(given - part * stood) > 1:
                wrong.append(f"{key}: {given} of {stood} is given, not {float(part * stood):.2f}")
            if sum(rise.values()) != 0:
                wrong.append(f"{key}: {sum(rise.values())} is lost between the slabs")
            for slab in sound:
                own = given * area[slab] / (shipped - gone)
                if abs(rise[slab] - own) > 2:
                    wrong.append(f"slab {slab} takes {rise[slab]}, not {float(own):.2f}")
        if not given_in_all:
            wrong.append("no loss is normal")
    return wrong


def main():
    binary = sys.argv[1]
    workspace = sys.argv[2] if len(sys.argv) > 2 else "."
    days = sorted({one["posted"] for one in table(binary, workspace, "journal")})
    months = {max(one for one in days if one[:7] == day[:7]) for day in days}
    books = pathlib.Path(workspace) / "books"
    shipments = sorted(path.parent.name for path in books.glob("*/freeze.toml"))
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
        if day in months:
            load_month(base, binary, workspace, day, shipments)
            for what, check in MONTHLY:
                for row in base.execute(check):
                    wrong += 1
                    print(f"{day}: {what}: {row}")
    on_copies = [
        *taken_back(base, binary, workspace, days[-1]),
        *other_rates(binary, workspace, shipments),
        *normal_loss(binary, workspace),
    ]
    load(base, binary, workspace, days[-1])
    for said in kept(base, binary, workspace, books) + on_copies:
        wrong += 1
        print(said)
    for args in (["journal"], ["stock", "--all"]):
        key = lambda row: sorted(row.items())
        if sorted(parted(binary, workspace, *args), key=key) != sorted(table(binary, workspace, *args), key=key):
            wrong += 1
            print(f"{args[0]}: the parts are not the whole")
    print(f"{len(days)} dates, {len(before)} lines, {len(CHECKS) + len(MONTHLY)} checks: {wrong} wrong")
    return 1 if wrong or not before else 0


if __name__ == "__main__":
    sys.exit(main())
