#!/usr/bin/env python3
"""A second reading of the limits of a box: plate, carriers, hauliers, roads.

Written from the files' own comments, not from the program. For every box that the program
loads (`quaystone load NAME --as json` says its type, class and offers) it works out every limit on
cargo, timber and dunnage together, by its name and in kilograms, and how much cargo a box bears on
its rig however that lies within the balance window: the vertices of the half planes, in fractions.

    python3 tests/oracle/limits.py --dir . --write tests/oracle/limits.json
    python3 tests/oracle/limits.py --dir . --check tests/oracle/limits.json

Python 3.11, standard library only.
"""

import argparse
import json
import math
import pathlib
import subprocess
import sys
from fractions import Fraction as F

from landed import LENGTHS, MASSES, Rates, Shipment, holds, listed, percent, plain, places_away, quantity, window

GROUPS = ["steer", "drive", "bogie"]


def mass(text):
    """In grams."""
    return quantity(text, MASSES) * 1000


def length(text):
    """In mm."""
    return quantity(text, LENGTHS)


def rows(root, stem, name):
    """The rows of a table; `landed` says where they stand."""
    return [row | {"window": window(row["valid"])} for row in listed(root, stem, name)]


# ---------------------------------------------------------------- which rows are for a box

def fits(row, asked):
    keys = ["lane", "port", "yard", "container", "class", "regime", "term-place"]
    return all(row[key] == asked.get(key) for key in keys if key in row)


def offered(row, table, box):
    return "offer" not in row or row["offer"] == box["offers"].get(table)


def asked(shipment, box, port):
    return {"lane": shipment.lane, "port": port, "yard": shipment.yard["id"],
            "container": box["type"], "class": box["class"], "regime": shipment.yard["regime"]}


def stated(root, shipment, box, tare):
    """Carriers' rows by sailing; hauliers' by delivery, or by sailing on the road to the port."""
    first, last = shipment.lane.split("-")
    for row in rows(root, "freight", "limit"):
        if (fits(row, asked(shipment, box, last if row.get("port") != first else first))
                and offered(row, "freight", box) and holds(row, shipment.dates["sails"])):
            yield row, tare
    for row in rows(root, "drayage", "limit"):
        is_origin = row.get("port") == first
        day = shipment.dates["sails" if is_origin else "delivered"]
        if (fits(row, asked(shipment, box, first if is_origin else last))
                and offered(row, "drayage", box) and holds(row, day)):
            yield row, tare


def rigs(root, shipment, box):
    first, last = shipment.lane.split("-")
    for is_origin in (True, False):
        day = shipment.dates["sails" if is_origin else "delivered"]
        own = [row for row in rows(root, "rigs", "rig")
               if (row.get("port") == first) == is_origin
               and fits(row, asked(shipment, box, first if is_origin else last))
               and offered(row, "drayage", box) and holds(row, day)]
        assert len(own) < 2, own
        for rig in own:
            laws = [row for row in rows(root, "roads", "road")
                    if row["id"] == rig["road"] and holds(row, day)]
            assert len(laws) == 1
            yield rig, laws[0]


# ---------------------------------------------------------------- a rig by statics

def axles_of(rig):
    """(group, mm behind the middle of the steer axles), from the front."""
    tractor, chassis = rig["tractor"], rig["chassis"]
    base = length(tractor["wheelbase"])
    kingpin = base - length(tractor["fifth-wheel"])
    groups = [("steer", F(0), tractor.get("steer-spacing", [])),
              ("drive", base, tractor.get("drive-spacing", [])),
              ("bogie", kingpin + length(chassis["bogie"]), chassis.get("spacing", []))]
    out = []
    for group, middle, gaps in groups:
        gaps = [length(gap) for gap in gaps]
        at = middle - sum(gaps, F(0)) / 2
        out.append((group, at))
        for gap in gaps:
            at += gap
            out.append((group, at))
    return out, kingpin


class Load:
    """fixed + per gram of cargo + per gram and mm of its place from the front end."""
    def __init__(self, fixed=0, mass=0, moment=0):
        self.parts = (F(fixed), F(mass), F(moment))

    def __add__(self, other):
        return Load(*(a + b for a, b in zip(self.parts, other.parts)))

    def __mul__(self, factor):
        return Load(*(a * factor for a in self.parts))

    def __sub__(self, other):
        return self + other * -1


def loads_of(rig, container):
    """What each axle carries under the box, doors to the rear."""
    axles, kingpin = axles_of(rig)
    mean = {g: sum((at for own, at in axles if own == g), F(0)) / sum(own == g for own, _ in axles)
            for g in GROUPS}
    count = {g: sum(own == g for own, _ in axles) for g in GROUPS}
    tractor, chassis = rig["tractor"], rig["chassis"]
    empty = mass(container["tare"]) + mass(container["securing"])
    own = mass(chassis["tare"])
    middle = length(chassis["box-middle"])
    half = F(math.floor(length_of(container))) / 2
    # Moments about the kingpin: the bogie bears them at the mean of its axles.
    bogie = Load(own * length(chassis["tare-centre"]) + empty * middle, middle - half, 1)
    bogie = bogie * (1 / (mean["bogie"] - kingpin))
    pin = Load(own + empty, 1) - bogie
    ahead = (mean["drive"] - kingpin) / (mean["drive"] - mean["steer"])
    total = {"steer": pin * ahead + Load(mass(tractor["steer-tare"])),
             "drive": pin * (1 - ahead) + Load(mass(tractor["drive-tare"])), "bogie": bogie}
    return [(g, at, total[g] * F(1, count[g])) for g, at in axles]


def length_of(container):
    text, unit = container["inside"].rsplit(" ", 1)
    return quantity(f"{text.split('x')[0].strip()} {unit}", LENGTHS)


def whole_feet(spread, how):
    feet, rest = divmod(spread, F("304.8"))
    up = {"up": rest > 0, "down": False, "nearest, half up": rest * 2 >= F("304.8"),
          "nearest, half down": rest * 2 > F("304.8")}[how]
    return int(feet) + up


def within(spread, ends):
    tests = {"over": lambda a: spread > a, "from": lambda a: spread >= a,
             "to": lambda a: spread <= a, "below": lambda a: spread < a}
    return all(test(length(ends[key])) for key, test in tests.items() if key in ends)


def bridge_of(law, places):
    """What a set of axles may carry by the bridge formula; None where it asks nothing of the set."""
    rule = law.get("bridge")
    spread = places[-1] - places[0]
    if rule is None or len(places) < 2 or spread <= length(rule["beyond"]):
        return None
    feet, n = whole_feet(spread, rule["foot"]), len(places)
    cells = [c for c in rule.get("cell", []) if (c["feet"], c["axles"]) == (feet, n)]
    if cells:
        most = mass(cells[0]["most"])
    else:
        steps, rest = divmod(F(feet * n, n - 1) + 12 * n + 36, 1)
        steps += rest * 2 >= 1 if rule["ties"] == "up" else rest * 2 > 1
        most = steps * 500 * mass("1 lb")
    pair = rule.get("two-tandems")
    if pair and n == 4 and spread >= length(pair["from"]):
        gaps = [places[1] - places[0], places[3] - places[2]]
        if all(within(gap, pair["tandem"]) for gap in gaps):
            most = max(most, mass(pair["most"]))
    return most


def gross_of(law, axles):
    """The rule for the whole rig: of those it has the axles for, the one that asks for most."""
    tractor = sum(g != "bogie" for g, *_ in axles)
    own = [r for r in law.get("gross", [])
           if r.get("axles", 0) <= len(axles) and r.get("tractor-axles", 0) <= tractor]
    return max(own, key=lambda r: (r.get("axles", 0), r.get("tractor-axles", 0)), default=None)


def rules_of(law, axles):
    """(load, most): the load is at most that."""
    out = []
    for first in range(len(axles)):
        for last in range(first, len(axles)):
            own = axles[first:last + 1]
            load = sum((one for *_, one in own), Load())
            places = [at for _, at, _ in own]
            groups = {g for g, *_ in own}
            whole = len(groups) == 1 and len(own) == sum(g in groups for g, *_ in axles)
            for rule in law.get("axles", []):
                if (("on" not in rule or (whole and groups == {rule["on"]}))
                        and rule.get("axles", len(own)) == len(own)
                        and within(places[-1] - places[0], rule)):
                    out.append((load, mass(rule["most"])))
            most = bridge_of(law, places)
            if most is not None:
                out.append((load, most))
    whole = sum((one for *_, one in axles), Load())
    gross = gross_of(law, axles)
    if gross:
        out.append((whole, mass(gross["most"])))
    for group in GROUPS:
        load = sum((one for g, _, one in axles if g == group), Load())
        out.append((load * -1, F(0)))                                  # no group may lift
        if group == "drive" and "least-drive" in law:
            out.append((whole * percent(law["least-drive"]) - load, F(0)))
    return out


def most_cargo(rules, inside, permille):
    """The greatest mass of bundles, in whole grams, for some centre of gravity within the window:
    the greatest vertex of the half planes in mass and moment."""
    lines = [(-one.parts[1], -one.parts[2], one.parts[0] - most) for one, most in rules]
    lines = [(-a, -b, c) for a, b, c in lines]                         # a M + b Mx + c <= 0
    near, far = (inside * F(500 + sign * permille, 1000) for sign in (-1, 1))
    lines += [(-far, F(1), F(0)), (near, F(-1), F(0)), (F(-1), F(0), F(0))]
    best = None
    for i, (a, b, c) in enumerate(lines):
        for d, e, f in lines[i + 1:]:
            det = a * e - b * d
            if det == 0:
                continue
            m, x = (b * f - c * e) / det, (c * d - a * f) / det
            if all(p * m + q * x + r <= 0 for p, q, r in lines) and (best is None or m > best):
                best = m
    return max(0, math.floor(best))


# ---------------------------------------------------------------- the limits of a box

def limits_of(root, shipment, box, container):
    tare, securing = mass(container["tare"]), mass(container["securing"])
    out = [("plate payload", mass(container["max-gross"]) - tare)]
    for row, _ in stated(root, shipment, box, tare):
        out.append((row["name"], mass(row["cargo"]) if "cargo" in row else mass(row["gross"]) - tare))
    permille = 50
    if balance := shipment.top.get("load", {}).get("balance"):
        permille = percent(balance["along"]) * 1000 if "along" in balance else permille
    for rig, law in rigs(root, shipment, box):
        axles = loads_of(rig, container)
        if gross := gross_of(law, axles):
            empty = sum(mass(t) for t in (rig["tractor"]["steer-tare"], rig["tractor"]["drive-tare"],
                                          rig["chassis"]["tare"]))
            out.append((f"gross on rig {rig['id']}", mass(gross["most"]) - empty - tare))
        inside = F(math.floor(length_of(container)))
        most = most_cargo(rules_of(law, axles), inside, permille) + securing
        # Named only where nothing else is as low.
        if most < min(kg for _, kg in out):
            out.append((f"axles of rig {rig['id']}", most))
    return out


def result(args, root, rates, name):
    command = [args.program, "--dir", str(root), "load", name, "--as", "json"]
    text = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    shipment = Shipment(rates, root / "shipments" / name)
    out = []
    for one in json.loads(text)["containers"]:
        box = {"type": one["type"], "class": one.get("class"),
               "offers": {o["table"]: o["offer"] for o in one["offers"]}}
        limits = limits_of(root, shipment, box, rates.containers[one["type"]])
        kg = [{"name": n, "kg": plain(places_away(g / 1000, 1), 1)} for n, g in limits]
        out.append(box | {"container": one["container"], "limits": kg})
    return out


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--dir", default=".")
    parser.add_argument("--program", default="target/debug/quaystone")
    parser.add_argument("--write")
    parser.add_argument("--check")
    args = parser.parse_args()
    root = pathlib.Path(args.dir)
    rates = Rates(root)
    names = sorted(p.name for p in (root / "shipments").iterdir() if p.is_dir())
    found = {name: result(args, root, rates, name) for name in names}
    text = json.dumps(found, indent=1) + "\n"
    if args.write:
        pathlib.Path(args.write).write_text(text)
    if args.check and pathlib.Path(args.check).read_text() != text:
        sys.exit("limits differ")


if __name__ == "__main__":
    main()
