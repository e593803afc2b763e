#!/usr/bin/env python3
"""Random changes of the demo and of tests/tiny, worked out by landed.py and by the program.

Each case copies the tables and one shipment, changes a few things in them (prices, days, terms, floors,
tiers, quotes, rows added or in another order, payments, policies, entries), lets the program load it,
keeps that load as given, and compares every charge and the totals to the cent. A case that the program
refuses is left out: what is wrong in a file is the program's to say.

    python3 tests/oracle/mutate.py --cases 2000                  compare, and show what differs
    python3 tests/oracle/mutate.py --seed 17 --keep FOLDER       one case, its workspace kept
    python3 tests/oracle/mutate.py --cases 150 --write           fixtures in tests/oracle/changes.json

Python 3.11, standard library only. It reads no source of the program.
"""

import argparse
import json
import pathlib
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections import defaultdict
from fractions import Fraction as F

import landed

HOME = pathlib.Path(__file__).resolve().parents[2]
FIXTURES = HOME / "tests" / "oracle" / "changes.json"
ROOTS = {".": HOME, "tests/tiny": HOME / "tests" / "tiny"}
ROW = '\nvalid = "2026-01-01..2026-12-31"\nsource = "invented"\n'


# ---------------------------------------------------------------- changes, as fixtures keep them

def apply(folder, change):
    """One change of a workspace. The program's own test has the same four."""
    kind, name, *rest = change
    path = folder / name
    text = path.read_text(encoding="utf-8")
    if kind == "line":                       # the nearest line that reads so, now reads so
        at, was, now = rest
        lines = text.split("\n")
        places = [i for i, line in enumerate(lines) if line == was]
        at = min(places, key=lambda i: abs(i - at))
        lines[at:at + 1] = now.split("\n")
        text = "\n".join(lines)
    elif kind == "add":                      # at the end
        text += rest[0]
    elif kind == "before":                   # before the first line that reads so
        mark, more = rest
        at = text.index(mark)
        text = text[:at] + more + text[at:]
    elif kind == "turn":                     # the rows of a table, so many of them to the end
        head, *rows = re.split(r"(?m)^(?=\[\[\w+\]\]|\[\w+\])", text)
        by = rest[0] % max(1, len(rows))
        ended = [row if row.endswith("\n") else row + "\n" for row in rows]
        text = head + "".join(ended[by:] + ended[:by])
    path.write_text(text, encoding="utf-8")


class Mutator:
    """Draws changes for one shipment of a workspace."""

    def __init__(self, folder, name, dice):
        self.folder, self.name, self.dice = folder, name, dice
        self.shipment = f"shipments/{name}/shipment.toml"
        rates = folder / "rates"
        of = lambda stem: [rates / f"{stem}.toml", *sorted((rates / stem).glob("*.toml"))]
        priced = [path for stem in ("freight", "drayage", "crating", "fees") for path in of(stem)]
        self.priced = [str(path.relative_to(folder)) for path in priced if path.exists()]
        self.tables = self.priced + ["rates/duty.toml", "rates/exchange.toml"]

    def lines(self, name, pattern):
        text = (self.folder / name).read_text(encoding="utf-8").split("\n")
        return [(i, line) for i, line in enumerate(text) if re.match(pattern, line)]

    def scaled(self, text):
        """A figure of the text, by some other factor, with as many places."""
        spots = list(re.finditer(r'(?<=")-?\d+(?:\.\d+)?(?= ?[%A-Z])', text))
        if not spots:
            return None
        spot = self.dice.choice(spots)
        figure = F(spot[0])
        places = len(spot[0].partition(".")[2])
        by = self.dice.choice([F(1, 3), F(9, 10), F(101, 100), F(5, 4), F(2), F(3)])
        new = landed.plain(landed.places_away(figure * by, places), places)
        return text[:spot.start()] + new + text[spot.end():]

    def draw(self):
        kinds = [self.figure] * 5 + [self.price] * 2 + [self.steps, self.quote, self.row, self.row, self.part,
                 self.part, self.term, self.discount, self.payments, self.policy, self.turn, self.days,
                 self.entries, self.key, self.commission]
        for _ in range(50):
            change = self.dice.choice(kinds)()
            if change:
                return change
        raise AssertionError("nothing to change")

    def figure(self):
        name = self.dice.choice(self.priced + ["rates/duty.toml"])
        lines = self.lines(name, r"\s*(amount|rate|minimum|maximum|annual|each) = |\s*\{ .*(amount|rate) = ")
        if not lines:
            return None
        at, was = self.dice.choice(lines)
        now = self.scaled(was)
        return now and ("line", name, at, was, now)

    def price(self):
        lines = self.lines(self.shipment, r"(price|amount|discount|packing) = \"[\d.]+ ")
        if not lines:
            return None
        at, was = self.dice.choice(lines)
        now = self.scaled(was)
        return now and ("line", self.shipment, at, was, now)

    def steps(self):
        """A price with a step near the quantity, by the line or the invoice, and something added to it."""
        lines = self.lines(self.shipment, r"price = \"[\d.]+ \w+/(m2|ft2|t|slab)\"")
        if not lines:
            return None
        at, was = self.dice.choice(lines)
        price = re.match(r'price = "([\d.]+) (\w+)/(\w+)"', was)
        figure, currency, by = F(price[1]), price[2], price[3]
        dice = self.dice
        start = {"m2": dice.choice([1, 100, 300, 350, 800]), "ft2": dice.choice([10, 3000, 4000, 9000]),
                 "t": dice.choice([5, 15, 20, 60]), "slab": dice.choice([5, 40, 70, 300])}[by]
        unit = by
        applies = dice.choice(["whole", "part above"])
        if applies == "whole" and dice.random() < 0.3:
            start, unit = dice.choice([2, 5, 8, 12]), "bundles"
        elif by == "slab":
            unit = "slabs"
        less = landed.plain(landed.places_away(figure * F(95, 100), 2), 2)
        text = [f'price = [{{ price = "{price[1]} {currency}/{by}" }}, {{ from = "{start} {unit}", price = "{less} {currency}/{by}" }}]',
                f'applies = "{applies}"', f'counted = "{dice.choice(["line", "invoice"])}"']
        if dice.random() < 0.5:
            per = dice.choice([by, by, "t", "slab"])
            text.append(f'extra = [{{ name = "resin", price = "{dice.choice(["1.25", "0.333", "2.40"])} {currency}/{per}" }}]')
        return ("line", self.shipment, at, was, "\n".join(text))

    def quote(self):
        at, was = self.dice.choice(self.lines("rates/exchange.toml", '.*quote = "'))
        found = re.search(r'quote = "(1 \w+) = ([\d.]+) (\w+)"', was)
        left, rate, unit = found.groups()
        places = len(rate.partition(".")[2])
        new = landed.places_away(F(rate) * self.dice.choice([F(99, 100), F(103, 100)]), places)
        return ("line", "rates/exchange.toml", at, was,
                was.replace(found[0], f'quote = "{left} = {landed.plain(new, places)} {unit}"'))

    def days(self):
        at, was = self.dice.choice(self.lines(self.shipment, "dates = "))
        spots = list(re.finditer(r"(sails|arrives|quoted|delivered|returned|entered) = 2026-(\d\d)-(\d\d)", was))
        spot = self.dice.choice(spots)
        day = min(28, max(1, int(spot[3]) + self.dice.choice([-3, -2, -1, 1, 2, 4])))
        return ("line", self.shipment, at, was,
                was[:spot.start(3)] + f"{day:02d}" + was[spot.end(3):])

    def term(self):
        at, was = self.dice.choice(self.lines(self.shipment, "term = "))
        rule = self.dice.choice("EXW FCA FAS FOB CFR CIF CPT CIP DAP DPU".split())
        place = was.split(" ", 3)[3] if len(was.split(" ", 3)) > 3 else 'XXXXX"'
        return ("line", self.shipment, at, was, f'term = "{rule} {place}')

    def discount(self):
        if self.lines(self.shipment, "discount = "):
            return None
        at, was = self.dice.choice(self.lines(self.shipment, "price-valid = "))
        return ("line", self.shipment, at, was,
                was + f'\ndiscount = "{self.dice.randint(1, 900) / 100:.2f} %"')

    def commission(self):
        if self.lines(self.shipment, "commission = "):
            return None
        at, was = self.dice.choice(self.lines(self.shipment, "price-valid = "))
        agent = self.dice.choice(["buying", "selling"])
        return ("line", self.shipment, at, was,
                was + f'\ncommission = {{ rate = "{self.dice.randint(10, 500) / 100:.2f} %", agent = "{agent}" }}')

    def payments(self):
        if self.lines(self.shipment, r"\[\[invoice.payment"):
            return None
        share = self.dice.choice([10, 30, 33, 50])
        first = self.dice.choice(["quoted + 3 days", "sails - 10 days", "sails - 1 day"])
        last = self.dice.choice(["sails", "arrives - 5 days", "arrives + 30 days"])
        return ("before", self.shipment, "[[invoice.line]]",
                f'[[invoice.payment]]\nname = "deposit"\nshare = "{share} %"\ndue = "{first}"\n'
                f'[[invoice.payment]]\nname = "balance"\nshare = "rest"\ndue = "{last}"\n')

    def names(self):
        names = []
        for table in self.priced:
            names += re.findall(r'\bname = "([^"]+)"', (self.folder / table).read_text(encoding="utf-8"))
        return sorted(set(names))

    def policy(self):
        name = self.dice.choice(self.names())
        asked = self.dice.choice(['key = "mass"', 'key = "value"', 'key = "count"',
                                  'treatment = "period"', 'treatment = "stock"'])
        return ("add", self.shipment, f'\n[[policy]]\ncharge = "{name}"\n{asked}\nreason = "a change"\n')

    def key(self):
        name = self.dice.choice(self.priced)
        lines = self.lines(name, "name = ")
        if not lines:
            return None
        at, was = self.dice.choice(lines)
        asked = self.dice.choice(['key = "mass"', 'key = "value"', 'key = "count"', 'key = "area"',
                                  'treatment = "period"', 'treatment = "notional"',
                                  'treatment = "recoverable"'])
        return ("line", name, at, was, was + "\n" + asked)

    def row(self):
        """A charge by something counted."""
        leg = self.dice.choice(["destination terminal", "import clearance", "on-carriage", "unloading",
                                "main carriage", "insurance", "pre-carriage", "origin terminal"])
        currency = self.dice.choice(["USD", "USD", "EUR"])
        per = self.dice.choice(["shipment", "bundle", "slab", "tonne", "m2", "container", "entry",
                                "bill of lading", "day", "tariff line"])
        more = [f'amount = "{self.dice.randint(1, 40000) / 100:.2f} {currency}"', f'per = "{per}"']
        if per == "day":
            more.append('days = "arrives..delivered"')
            if self.dice.random() < 0.5:
                more.append(f"free-days = {self.dice.randint(0, 3)}")
        if self.dice.random() < 0.4:
            more.append(self.dice.choice(['key = "mass"', 'key = "value"', 'key = "count"']))
        if self.dice.random() < 0.3:
            more.append(self.dice.choice(['treatment = "period"', 'treatment = "notional"',
                                          'treatment = "recoverable"']))
        if self.dice.random() < 0.3:
            more.append(f'minimum = "{self.dice.randint(1, 300)} {currency}"')
        if self.dice.random() < 0.3:
            more.append(f'maximum = "{self.dice.randint(200, 900)} {currency}"')
        if self.dice.random() < 0.3:
            more.append(self.dice.choice(['due = "quoted + 2 days"', 'due = "sails - 4 days"',
                                          'due = "arrives + 20 days"']))
        table = self.dice.choice(self.priced)
        return ("add", table, f'\n[[charge]]\nname = "added {self.dice.randint(100, 999)}"\nleg = "{leg}"\n'
                + "\n".join(more) + ROW)

    def part(self):
        """A charge that is a part of something."""
        of = self.dice.choice(["goods", "entered value", "insured value", "all main carriage",
                               "all on-carriage"] + self.names())
        leg = self.dice.choice(["destination terminal", "import clearance", "on-carriage", "unloading",
                                "insurance"])
        more = [f'of = "{of}"']
        if self.dice.random() < 0.8 or of in ("insured value", "entered value"):
            more.append(f'rate = "{self.dice.randint(1, 900) / 100:.2f} %"')
        else:
            more += [f'amount = "{self.dice.randint(1, 90)} USD"', f'each = "{self.dice.randint(50, 900)} USD"']
            if self.dice.random() < 0.5:
                more.append('part = "whole"')
        if of == "insured value":
            leg = "insurance"
            more.append('insured = "110 %"')
        if of == "entered value":
            leg = self.dice.choice(["import clearance", "duty and tax"])
            more.append(f'per = "{self.dice.choice(["entry", "tariff line"])}"')
        elif of in ("goods", "insured value") or of.startswith("all "):
            more.append('per = "shipment"')
        if self.dice.random() < 0.4:
            more.append(f'minimum = "{self.dice.randint(1, 100)} USD"')
        if self.dice.random() < 0.4:
            more.append(f'maximum = "{self.dice.randint(100, 400)} USD"')
        if self.dice.random() < 0.3:
            more.append(self.dice.choice(['key = "mass"', 'key = "value"', 'key = "count"']))
        table = self.dice.choice(self.priced)
        return ("add", table, f'\n[[charge]]\nname = "part {self.dice.randint(100, 999)}"\nleg = "{leg}"\n'
                + "\n".join(more) + ROW)

    def turn(self):
        name = self.dice.choice(self.tables + ["rates/stones.toml"])
        rows = self.lines(name, r"\[")
        return ("turn", name, self.dice.randint(1, max(1, len(rows) - 1)))

    def entries(self):
        """Each invoice on a bill and an entry of its own."""
        if self.lines(self.shipment, r"\[\[(entry|bill)\]\]"):
            return None
        numbers = [line.split('"')[1] for _, line in self.lines(self.shipment, "number = ")]
        if len(numbers) < 2:
            return None
        text = ""
        for at, number in enumerate(numbers):
            text += f'\n[[entry]]\nid = "E-{at}"\ninvoices = ["{number}"]\n'
        return ("add", self.shipment, text)


# ---------------------------------------------------------------- a case

def program(args, folder, *command):
    done = subprocess.run([args.program, "--dir", str(folder), *command, "--as", "json"],
                          capture_output=True, text=True)
    return done.returncode, done.stdout, done.stderr


def plan_text(boxes):
    text = ""
    for box in boxes:
        text += f'[[container]]\ncontainer = "{box["container"]}"\ntype = "{box["type"]}"\n'
        if box.get("class"):
            text += f'class = "{box["class"]}"\n'
        if box.get("offers"):
            text += "offers = { " + ", ".join(f'{t} = "{o}"' for t, o in box["offers"].items()) + " }\n"
        text += "bundles = [" + ", ".join(f'"{b}"' for b in box["bundles"]) + "]\n"
    return text


def copied(root, name, target):
    shutil.copytree(root / "rates", target / "rates")
    shutil.copytree(root / "shipments" / name, target / "shipments" / name)


def sums(charges):
    total = defaultdict(F)
    for c in charges:
        total[f"{c['leg']}: {c['name']}", c["treatment"]] += F(c["book_amount"])
    return {f"{what} ({how})": x for (what, how), x in sorted(total.items()) if x}


def case(args, seed, root_name, name):
    """("refused" | "other load" | "same" | "differs" | "unread", what, the case as a fixture)"""
    dice = random.Random(f"{root_name} {name} {seed}")
    with tempfile.TemporaryDirectory() as scratch:
        folder = pathlib.Path(scratch)
        copied(ROOTS[root_name], name, folder)
        changes = []
        for _ in range(dice.randint(1, 4)):
            change = Mutator(folder, name, dice).draw()
            apply(folder, change)
            changes.append(change)
        if args.keep:
            shutil.copytree(folder, args.keep, dirs_exist_ok=True)
        code, out, err = program(args, folder, "load", name)
        if code:
            return "refused", err, changes
        load = json.loads(out)
        boxes = [{"container": b["container"], "type": b["type"], "class": b.get("class"),
                  "offers": {o["table"]: o["offer"] for o in b.get("offers", [])},
                  "bundles": [x["bundle"] for x in b["bundles"]]} for b in load["containers"]]
        plan = folder / "shipments" / name / "plan.toml"
        if not plan.exists() and load["proof"] != "given":
            plan.write_text(plan_text(boxes), encoding="utf-8")
            plan = plan_text(boxes)
        else:
            plan = None
        if args.keep:
            shutil.copytree(folder, args.keep, dirs_exist_ok=True)
        code, out, err = program(args, folder, "cost", name)
        if code:
            return "refused", err, changes
        ours = json.loads(out)
        try:
            rates = landed.Rates(folder)
            shipment = landed.Shipment(rates, folder / "shipments" / name)
            labels = [(landed.Label(b["container"], b["class"], b["offers"]), b["type"], b["bundles"])
                      for b in boxes]
            cost = landed.cheapest(rates, shipment, labels)
        except Exception as error:  # what the second reading does not know
            return "unread", f"{type(error).__name__}: {error}", changes
        theirs = landed.result(cost)
        mine, other = sums(ours["charges"]), sums(theirs["charges"])
        wrong = [f"  {key}: program {float(mine.get(key, 0)):.2f}, second reading {float(other.get(key, 0)):.2f}"
                 for key in sorted(mine.keys() | other.keys()) if mine.get(key) != other.get(key)]
        for key in ("total", "decision_total"):
            if ours[key] != theirs[key]:
                wrong.append(f"  {key}: program {ours[key]}, second reading {theirs[key]}")
        if not wrong:
            wrong += slabs_off(cost, ours)
        if not [c for c in theirs["charges"] if F(c["book_amount"])]:
            return "unread", "nothing", changes
        digits = landed.minor(shipment.book)
        fixture = {"of": root_name, "shipment": name, "changes": changes, "plan": plan,
                   "total": theirs["total"], "decision_total": theirs["decision_total"],
                   "sums": {key: landed.plain(x, digits) for key, x in other.items()}}
        return ("differs" if wrong else "same"), "\n".join(wrong), fixture


def slabs_off(cost, ours):
    """Each slab costs its exact shares, give or take less than a cent for each charge."""
    exact = [F(0)] * len(cost.s.slabs)
    count = [0] * len(exact)
    for c in cost.charges:
        if c["treatment"] == "stock" and c["book"]:
            weights = cost.weights(c)
            for i, w in zip(c["slabs"], weights):
                exact[i] += c["book"] * w / sum(weights)
                count[i] += 1
    unit = F(1, 10 ** landed.minor(cost.s.book))
    return [f"  slab {slab['slab']}: {slab['cost']}, exactly {float(x):.4f}"
            for slab, x, n in zip(ours["slabs"], exact, count)
            if abs(F(slab["cost"]) - x) >= max(1, n) * unit][:3]


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", default=str(HOME / "target/debug/quaystone"))
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--from", dest="first", type=int, default=0, help="the first seed")
    parser.add_argument("--seed", type=int, help="this seed alone")
    parser.add_argument("--keep", help="keep the changed workspace in this folder")
    parser.add_argument("--write", action="store_true")
    args = parser.parse_args()
    shipments = [(root, folder.parent.name) for root, path in ROOTS.items()
                 for folder in sorted(path.glob("shipments/*/shipment.toml"))]
    seeds = [args.seed] if args.seed is not None else range(args.first, 10 ** 9)
    counts, kept = defaultdict(int), []
    for seed in seeds:
        root, name = shipments[seed % len(shipments)]
        how, what, made = case(args, seed, root, name)
        counts[how] += 1
        if how in ("differs", "unread") or args.seed is not None:
            changes = made["changes"] if isinstance(made, dict) else made
            print(f"seed {seed}, {name}: {how}\n{what}", *changes, sep="\n    ", flush=True)
        if how == "same":
            kept.append(made)
        done = len(kept) if args.write else sum(counts.values()) - counts["refused"]
        if done >= args.cases:
            break
    print(", ".join(f"{count} {how}" for how, count in sorted(counts.items())))
    if args.write:
        write(kept)
    return 1 if counts["differs"] else 0


def write(kept):
    """Fixtures: of the sums only what is not as in the shipment unchanged."""
    bases = {}
    for one in kept:
        path = HOME / "tests" / "oracle" / ("tiny" if one["of"] != "." else ".") / f"{one['shipment']}.json"
        base = bases.setdefault(path, json.loads(path.read_text()))
        before = sums(base["charges"])
        zero = "0" if "." not in one["total"] else "0.00"
        after = {key: F(x) for key, x in one["sums"].items()}
        one["sums"] = {key: one["sums"].get(key, zero) for key in sorted(before.keys() | after.keys())
                       if before.get(key) != after.get(key)}
    lines = ",\n".join(json.dumps(one, ensure_ascii=False) for one in kept)
    FIXTURES.write_text(f"[\n{lines}\n]\n", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
