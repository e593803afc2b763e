#!/usr/bin/env python3
"""What else to take of a list, by trying every choice. It shares nothing with the program but the files.

    python3 tests/oracle/topup.py --program target/debug/quaystone --cases 200 [--seed 1] [--keep FOLDER]

Each case is an invented workspace with a list of up to 12 bundles, some kept, some not for sale, some in
book-matched sets, some of a second invoice; one or two boxes; and at random a budget, a most of one block,
or the question for the most area. Every choice of bundles is costed from the rules of rates/README.md and
tried in the boxes by mass, which alone binds here. The best is compared with what `topup` says, to the cent.
"""

import argparse
import json
import math
import random
import subprocess
import sys
import tempfile
from fractions import Fraction
from itertools import combinations
from pathlib import Path

TINY = Path(__file__).resolve().parent.parent / "tiny"
CAP = 9000 - 200  # kg of bundles in a box: its cargo less the lashing
EMPTY = 2280 + 200  # kg of tare and lashing


def money(figure):
    """Half away from zero, to the cent."""
    cents = abs(figure) * 100
    whole = math.floor(cents + Fraction(1, 2))
    return Fraction(whole if figure >= 0 else -whole, 100)


def whole_dollars(figure):
    return math.floor(figure + Fraction(1, 2))


class Case:
    def __init__(self, seed):
        draw = random.Random(seed)
        self.bundles = []
        self.prices = [Fraction(draw.randint(3600, 4800), 100), Fraction(draw.randint(3600, 4800), 100)]
        has_second = draw.random() < 0.4
        self.boxes = draw.choice([1, 1, 2])
        self.whole = draw.random() < 0.5
        count = draw.randint(5, 12 if self.boxes == 1 else 10)
        for at in range(count):
            slabs = draw.randint(4, 9)
            length, height = draw.randint(240, 300), draw.randint(150, 190)
            second = has_second and draw.random() < 0.4
            self.bundles.append({
                "id": f"B{at + 1}", "slabs": slabs, "length": length, "height": height,
                "block": f"K{draw.randint(1, 3)}", "line": 1 if second else 0,
                "set": f"M{draw.randint(1, 2)}" if draw.random() < 0.2 else "",
                "mass": draw.randint(1900, 3100),
                "take": "", "area": Fraction(slabs * length * height, 10000),
            })
        kept = 0
        for one in self.bundles:
            roll = draw.random()
            if self.whole:
                one["take"] = "keep" if roll < 0.1 else "no" if roll < 0.2 else "open" if roll < 0.5 else ""
            elif kept < 2 and one["line"] == 0 and roll < 0.6:
                one["take"], kept = "keep", kept + 1
            else:
                one["take"] = "no" if roll < 0.15 else "open"
        self.fees = {
            "freight": draw.randint(1500, 3000), "heavy": draw.choice([0, 120, 300]),
            "unloading": draw.randint(10, 40), "agent": Fraction(draw.randint(0, 90), 100),
            "invoice": draw.choice([0, 180, 600]),
        }
        self.of_a_block = draw.choice([None, None, None, 2, 3])
        self.most_area = draw.random() < 0.25
        self.budget = draw.choice([None, None, None, draw.randint(12, 40) * 500])

    def write(self, folder):
        rates = folder / "rates"
        rates.mkdir(parents=True)
        for name in ("containers", "stones", "duty", "exchange", "ports", "yards"):
            (rates / f"{name}.toml").write_text((TINY / "rates" / f"{name}.toml").read_text())
        row = "[[charge]]\n{}valid = \"2026-01-01..2026-12-31\"\nsource = \"invented\"\n"
        rows = [
            'lane = "TRIZM-USSAV"\ncontainer = "20gp"\nname = "ocean freight"\nleg = "main carriage"\n'
            f'amount = "{self.fees["freight"]} USD"\nper = "container"\n',
        ]
        if self.fees["heavy"]:
            rows.append(
                'lane = "TRIZM-USSAV"\nname = "heavy box surcharge"\nleg = "main carriage"\n'
                f'tiers = [{{ gross = "..9 t", amount = "0 USD" }}, {{ gross = "9 t..", amount = "{self.fees["heavy"]} USD" }}]\n'
                'per = "container"\nscope = "container"\n')
        (rates / "freight.toml").write_text(
            "".join(row.format(one) for one in rows)
            + '[[limit]]\nlane = "TRIZM-USSAV"\ncontainer = "20gp"\nname = "carrier\'s cap"\n'
            f'cargo = "{CAP + 200} kg"\nkind = "carrier"\nvalid = "2026-01-01..2026-12-31"\nsource = "invented"\n')
        (rates / "drayage.toml").write_text(row.format(
            'yard = "savannah"\ncontainer = "20gp"\nname = "haulage"\nleg = "on-carriage"\namount = "500 USD"\nper = "container"\n'))
        fees = [
            'regime = "us"\nname = "merchandise processing fee"\nleg = "duty and tax"\nrate = "0.3464 %"\n'
            'of = "entered value"\nper = "entry"\nminimum = "33.58 USD"\nmaximum = "651.50 USD"\n',
            'regime = "us"\nname = "harbor maintenance fee"\nleg = "duty and tax"\nrate = "0.125 %"\nof = "entered value"\nper = "entry"\n',
            'regime = "us"\nname = "customs entry"\nleg = "import clearance"\namount = "150 USD"\nper = "entry"\n',
            f'yard = "savannah"\nname = "unloading"\nleg = "unloading"\namount = "{self.fees["unloading"]} USD"\nper = "bundle"\n',
        ]
        if self.fees["agent"]:
            fees.append(f'yard = "savannah"\nname = "agent"\nleg = "import clearance"\namount = "{float(self.fees["agent"])} USD"\nper = "m2"\n')
        fees.append('name = "insurance"\nleg = "insurance"\namount = "0 USD"\nper = "shipment"\n')
        # The second quarry sells at its works: its haul to the port is one bill, however much is taken.
        for leg in ("export packing", "pre-carriage", "export clearance", "origin terminal"):
            haul = self.fees["invoice"] if leg == "pre-carriage" else 0
            fees.append(f'port = "TRIZM"\nname = "{leg}"\nleg = "{leg}"\namount = "{haul} USD"\nper = "shipment"\n')
        (rates / "fees.toml").write_text("".join(row.format(one) for one in fees))
        (rates / "crating.toml").write_text(
            '[timber]\nmass = "80 kg"\nheight = "120 mm"\nwidth = "60 mm"\nlength = "0 mm"\nbetween = "1 mm"\nsource = "invented"\n'
            '[nominal]\nsize = "300 x 180 cm"\nbundle-mass = "2500 kg"\nsource = "invented"\n')
        own = folder / "shipments" / "list"
        own.mkdir(parents=True)
        text = 'title = "A list (invented)"\nto = "savannah"\nlane = "TRIZM-USSAV"\ndates = { quoted = 2026-03-04, sails = 2026-04-11, arrives = 2026-05-09 }\n'
        for at, line in enumerate("AB"):
            if any(one["line"] == at for one in self.bundles):
                text += (
                    f'[[invoice]]\nsupplier = "Quarry {line} (invented)"\nnumber = "I-{line}"\nterm = "{"FOB TRIZM" if at == 0 else "EXW Works (invented)"}"\n'
                    f'price-valid = "2026-03-01..2026-04-30"\n[[invoice.line]]\nid = "{line}"\nstone = "chalk"\n'
                    f'finish = "polished"\nthickness = "20 mm"\nprice = "{float(self.prices[at]):.2f} USD/m2"\n')
        (own / "shipment.toml").write_text(text)
        rows = ["slab,bundle,length (cm),height (cm),line,block,match,take,weighed mass (kg)"]
        for one in self.bundles:
            for at in range(one["slabs"]):
                rows.append(f'{one["id"]}-{at + 1},{one["id"]},{one["length"]},{one["height"]},{"AB"[one["line"]]},'
                            f'{one["block"]},{one["set"]},{one["take"]},{one["mass"]}')
        (own / "packing.csv").write_text("\n".join(rows) + "\n")

    def cost(self, some, loads):
        """The cost of these bundles in boxes of these masses, in dollars."""
        goods = [money(sum((one["area"] for one in some if one["line"] == at), Fraction(0)) * self.prices[at]) for at in (0, 1)]
        # One stone, one tariff line: the goods of both invoices are entered together.
        value = whole_dollars(sum(goods))
        duty = money(value * Fraction(25, 1000))
        fee = money(min(max(value * Fraction(3464, 1000000), Fraction("33.58")), Fraction("651.50")))
        harbor = money(value * Fraction(125, 100000))
        area = sum((one["area"] for one in some), Fraction(0))
        boxes = sum(self.fees["freight"] + 500 + (self.fees["heavy"] if load + EMPTY > 9000 else 0) for load in loads)
        haul = self.fees["invoice"] if any(one["line"] == 1 for one in some) else 0
        return (sum(goods) + duty + fee + harbor + 150 + boxes + self.fees["unloading"] * len(some)
                + money(area * self.fees["agent"]) + haul)

    def loads(self, some, boxes):
        """The ways to divide them over at most so many boxes."""
        masses = [one["mass"] for one in some]
        if sum(masses) <= CAP:
            yield [sum(masses)]
        if boxes == 2:
            for size in range(1, len(some) // 2 + 1):
                for first in combinations(range(len(some)), size):
                    one = sum(masses[at] for at in first)
                    if one <= CAP and sum(masses) - one <= CAP:
                        yield [one, sum(masses) - one]

    def best_cost(self, some, boxes):
        ways = list(self.loads(some, boxes))
        return min((self.cost(some, loads) for loads in ways), default=None)

    def units(self):
        """What is taken, and what is chosen together; None where a set is torn."""
        groups = []
        for one in self.bundles:
            home = next((group for group in groups if one["set"] and group[0]["set"] == one["set"]), None)
            groups.append([one]) if home is None else home.append(one)
        taken, units = [], []
        for group in groups:
            marks = ["keep" if one["take"] == "" and not self.whole else one["take"] for one in group]
            if "keep" in marks:
                if "no" in marks:
                    return None
                taken += group
            elif "no" not in marks:
                units.append(group)
        return taken, units

    def answer(self):
        found = self.units()
        if found is None:
            return None
        taken, units = found
        boxes = self.boxes
        if not self.whole:
            if not taken:
                return None
            one, two = self.best_cost(taken, 1), self.best_cost(taken, 2)
            if one is None and two is None:
                return None
            # The boxes of the cheapest load.
            boxes = 1 if two is None or one is not None and one <= two else 2
        best = None
        for size in range(0, len(units) + 1):
            for some in combinations(units, size):
                own = taken + [one for unit in some for one in unit]
                if not own:
                    continue
                blocks = [one["block"] for one in own]
                if self.of_a_block and any(blocks.count(block) > self.of_a_block for block in blocks):
                    continue
                cost = self.best_cost(own, boxes)
                if cost is None or self.budget and cost > self.budget:
                    continue
                area = sum(one["area"] for one in own)
                rank = (-area, cost / area) if self.most_area else (cost / area,)
                if best is None or rank < best[0]:
                    best = (rank, cost, area)
        return best

    def command(self):
        words = ["topup", "list", "--as", "json", "--footing", "gross"]
        words += ["--boxes", f"{self.boxes}x20gp"] if self.whole else []
        words += ["--most-area"] if self.most_area else []
        words += ["--of-a-block", str(self.of_a_block)] if self.of_a_block else []
        words += ["--budget", f"{self.budget} USD"] if self.budget else []
        return words


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("--program", default="target/debug/quaystone")
    asked.add_argument("--cases", type=int, default=200)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--keep")
    asked = asked.parse_args()
    found = {"equal": 0, "none": 0, "proven": 0}
    wrong = []
    for seed in range(asked.seed, asked.seed + asked.cases):
        case = Case(seed)
        with tempfile.TemporaryDirectory() as folder:
            folder = Path(asked.keep or folder) / str(seed)
            case.write(folder)
            run = subprocess.run([asked.program, *case.command(), "--dir", str(folder)], capture_output=True, text=True)
        best = case.answer()
        if run.returncode == 3 and best is None:
            found["none"] += 1
            continue
        if run.returncode != 0 or best is None:
            # Nothing open is an answer of its own: what is taken is all.
            units = case.units()
            if run.returncode == 3 and units and (not units[1] or "no open bundle fits" in run.stderr):
                found["none"] += 1
                continue
            wrong.append(f"{seed}: exit {run.returncode}, {run.stderr.strip()[-300:]}; by hand {best and float(best[1])}")
            continue
        said = json.loads(run.stdout)
        own = (Fraction(said["best"]["decision"]), Fraction(said["best"]["area_m2"]))
        found["proven"] += said["open"] is None
        if own[0] / own[1] == best[1] / best[2] or own == (best[1], best[2]):
            found["equal"] += 1
        else:
            state = "proven" if said["open"] is None else said["open"]
            wrong.append(f"{seed}: program {float(own[0])} for {float(own[1])} m2, {state}; by hand {float(best[1])} for {float(best[2])}")
    print(found)
    for one in wrong:
        print(one)
    sys.exit(1 if wrong else 0)


main()
