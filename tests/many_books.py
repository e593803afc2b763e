"""Writes many booked shipments with a year of events, to see how the books grow. Everything is invented.

    python3 tests/many_books.py BINARY WORKSPACE SHIPMENTS [SEED]

WORKSPACE has the demo's rates/. One shipment of 300 slabs is booked by the program; the others are that one under
another name, with bills, arrivals, moves and sales that the seed draws. One in twenty shares a bill with another, and
one in twenty a lorry between the yards: such events stand in books/yards/, as does a close of each half-year.
"""

import csv
import hashlib
import pathlib
import random
import subprocess
import sys

SLABS, IN_BUNDLE, IN_BOX = 300, 8, 5
LISTS = ("charges.csv", "workings.csv", "slabs.csv", "shares.csv")
HEAD = """to = "savannah"
containers = ["20gp"]
dates = { quoted = 2026-03-04, sails = 2026-04-11, arrives = 2026-05-09 }
[[invoice]]
supplier = "Quarry Abacus (invented)"
number = "AB-1"
term = "FOB TRIZM"
price-valid = "2026-03-01..2026-04-15"
[[invoice.line]]
id = "A"
stone = "teapot-white"
finish = "polished"
thickness = "20 mm"
price = "46.00 EUR/m2"
measure = { take-off = { length = "5 cm", height = "4 cm" }, places = 3 }
"""


def first(binary, workspace, chance):
    """Books a shipment by the program, and returns the head of its freeze without the digest, its lists, its charges."""
    folder = workspace / "shipments" / "first"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "shipment.toml").write_text(HEAD)
    rows = ["slab,bundle,container,length (cm),height (cm),block"]
    for slab in range(SLABS):
        bundle = slab // IN_BUNDLE
        sides = f"{chance.randrange(2400, 2800) / 10},{chance.randrange(1650, 1950) / 10}"
        rows.append(f"S{slab:03},B{bundle:02},{bundle // IN_BOX + 1},{sides},K{bundle // 4}")
    (folder / "packing.csv").write_text("\n".join(rows) + "\n")
    subprocess.run([binary, "--dir", workspace, "book", "first", "--carry"], check=True, stdout=subprocess.DEVNULL)
    books = workspace / "books" / "first"
    texts = {name: (books / name).read_text() for name in ("freeze.toml", *LISTS)}
    for path in books.iterdir():
        path.unlink()
    books.rmdir()
    head = texts.pop("freeze.toml").split("\n", 1)[1]
    return head, texts, list(csv.DictReader(texts["charges.csv"].splitlines()))


def event(kind, day, *rest):
    return f'[[event]]\nkind = "{kind}"\noccurred = {day}\n' + "".join(f"{line}\n" for line in rest)


def quoted(texts):
    return "[" + ", ".join(f'"{text}"' for text in texts) + "]"


def cents_of(charge, chance):
    """What a charge is billed at, near its estimate, in cents."""
    return int(charge["amount"].split(" ")[0].replace(".", "")) * chance.randrange(95, 108) // 100


def shown(cents):
    return f"{cents // 100}.{cents % 100:02}"


def events(charges, name, elsewhere, chance):
    """A year of one shipment: each charge is owed, each party bills what is its own, boxes arrive, some slabs move to
    another yard, a third is sold, bills are paid. The charge `elsewhere` is billed together with that of another
    shipment."""
    # After the day of the quote.
    months = sorted(chance.sample(range(4, 12), 2))
    sails, arrives = (f"2026-{month:02}-{chance.randrange(1, 28):02}" for month in months)
    rates = {one["rate"] for one in charges if one["rate"]}
    control = [f'rate = "{rate}"' for rate in rates if "EUR" in rate][:1]
    text = event("control", sails, *control)
    owed = owed_of(charges)
    text += event("owed", arrives, f"of = {quoted(one['key'] for one in owed)}", *control)
    text += event("arrive", arrives, 'yard = "savannah"')
    parties = sorted({(one["payee"], one["amount"].split(" ")[1]) for one in owed})
    for at, (payee, currency) in enumerate(parties):
        own = [one for one in owed if (one["payee"], one["amount"].split(" ")[1]) == (payee, currency)]
        own = [one for one in own if one["key"] != elsewhere and chance.random() < 0.9]
        cents = [cents_of(one, chance) for one in own]
        lines = [f'    {{ of = "{one["key"]}", amount = "{shown(sum)} {currency}" }},' for one, sum in zip(own, cents)]
        if not lines:
            continue
        party = f'party = "{payee}"'
        text += event("billed", "2026-12-01", party, f'number = "{name}-{at}"', "final = true", "line = [", *lines, "]")
        if currency == "USD" and sum(cents) > 0 and chance.random() < 0.5:
            text += event("paid", "2026-12-20", party, f'bills = ["{name}-{at}"]')
    moved = sorted(chance.sample(range(1, SLABS), 20))
    text += event("move", "2026-12-05", f"slabs = {quoted(f'S{slab:03}' for slab in moved)}", 'yard = "norfolk"')
    sold = sorted(chance.sample(range(1, SLABS), SLABS // 3))
    for at in range(0, len(sold), 20):
        text += event("issue", "2026-12-10", f"slabs = {quoted(f'S{slab:03}' for slab in sold[at:at + 20])}")
    return text


def owed_of(charges):
    return [one for one in charges if not one["invoice"] and one["treatment"] != "notional"]


def together(number, names, charge, chance):
    """A bill for a charge of two shipments, and slabs of both that move together."""
    lines = (f'{{ of = "{name}/{charge["key"]}", amount = "{shown(cents_of(charge, chance))} USD" }}' for name in names)
    text = event("billed", "2026-12-02", f'party = "{charge["payee"]}"', f'number = "both-{number}"', "final = true",
                 f"line = [{', '.join(lines)}]")
    slabs = quoted(f"{name}/S000" for name in names)
    return text + event("move", "2026-12-06", f"slabs = {slabs}", 'yard = "norfolk"')


def main():
    binary, workspace, count = sys.argv[1], pathlib.Path(sys.argv[2]), int(sys.argv[3])
    chance = random.Random(int(sys.argv[4]) if len(sys.argv) > 4 else 1)
    head, lists, charges = first(binary, workspace, chance)
    charge = next(one for one in owed_of(charges) if one["amount"].endswith(" USD") and cents_of(one, chance) > 0)
    names = [f"many-{number:05}" for number in range(1, count + 1)]
    # Pairs of a shipment and one of the next few; nobody is billed twice for the same.
    billed, both = set(), ""
    for at in chance.sample(range(count), count // 20):
        other = at + chance.randrange(1, 30)
        if other < count and billed.isdisjoint((at, other)):
            billed.update((at, other))
            both += together(at, (names[at], names[other]), charge, chance)
    for at, name in enumerate(names):
        own = head.replace('shipment = "first"', f'shipment = "{name}"')
        digest = hashlib.sha256((own + "".join(lists.values())).encode()).hexdigest()
        folder = workspace / "books" / name
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "freeze.toml").write_text(f'digest = "sha256 {digest}"\n{own}')
        for file, text in lists.items():
            (folder / file).write_text(text)
        (folder / "events.toml").write_text(events(charges, name, charge["key"] if at in billed else None, chance))
    yards = workspace / "books" / "yards"
    yards.mkdir(exist_ok=True)
    rates = 'rates = ["1 EUR = 1.1020 USD"]'
    closes = [("2026-07-08", "2026-06-30"), ("2027-01-15", "2026-12-31")]
    closes = "".join(event("close", day, f"until = {until}", rates) for day, until in closes)
    (yards / "2026.toml").write_text(both + closes)


if __name__ == "__main__":
    main()
