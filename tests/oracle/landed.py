#!/usr/bin/env python3
"""An independent landed cost, written from the rules and not from the program.

It reads a workspace (rates/*.toml, shipments/NAME/shipment.toml and packing.csv) and works out the
landed cost of every slab with exact fractions. Rounding happens where a rule says so and nowhere
else. Which bundle is in which box is an input: from `--load FILE` or from the program's own
`load NAME --as json` (`--program`). It reads sound files only: what is wrong in a file is the
program's to say.

    python3 tests/oracle/landed.py --dir . --show NAME       one shipment, as a table
    python3 tests/oracle/landed.py --dir . --write OUTDIR    fixtures for every shipment
    python3 tests/oracle/landed.py --dir . --check OUTDIR    compares with the fixtures, exit 1 if not

Python 3.11, standard library only.
"""

import argparse
import csv
import itertools
import json
import math
import pathlib
import re
import subprocess
import sys
import tomllib
from collections import defaultdict
from datetime import date, timedelta
from fractions import Fraction as F

from saw import sawn

# ISO 4217 minor units that are not two.
MINOR = dict.fromkeys("JPY KRW VND CLP PYG ISK XAF XOF XPF RWF UGX BIF DJF GNF KMF VUV".split(), 0)
MINOR |= dict.fromkeys("BHD KWD OMR JOD TND IQD LYD".split(), 3)

LEGS = [
    "goods", "export packing", "origin loading", "pre-carriage", "export clearance",
    "origin terminal", "loading on board", "main carriage", "insurance", "destination terminal",
    "import clearance", "duty and tax", "on-carriage", "unloading",
]
# S the seller bears it, B the buyer, C as the contract of carriage has it. In the order of LEGS.
# Incoterms 2020, clauses A9 and B9. P: the named place is a port; I: it lies inland.
TERMS = {
    "EXW I": "SSBBBBBBBBBBBB", "FCA I": "SSSBSBBBBBBBBB", "FCA P": "SSSSSBBBBBBBBB",
    "FAS P": "SSSSSCBBBBBBBB", "FOB P": "SSSSSSSBBBBBBB", "CFR P": "SSSSSSSSBCBBBB",
    "CIF P": "SSSSSSSSSCBBBB", "CPT P": "SSSSSSSSBCBBBB", "CPT I": "SSSSSSSSBSBBSB",
    "CIP P": "SSSSSSSSSCBBBB", "CIP I": "SSSSSSSSSSBBSB", "DAP P": "SSSSSSSSSSBBBB",
    "DAP I": "SSSSSSSSSSBBSB", "DPU P": "SSSSSSSSSSBBBS", "DPU I": "SSSSSSSSSSBBSS",
    "DDP P": "SSSSSSSSSSSSBB", "DDP I": "SSSSSSSSSSSSSB",
}
LENGTHS = {"mm": F(1), "cm": F(10), "m": F(1000), "in": F("25.4"), "ft": F("304.8"),
           "inch": F("25.4"), "inches": F("25.4")}                      # to mm
MASSES = {"kg": F(1), "t": F(1000), "lb": F("0.45359237")}              # to kg
AREAS = {"m2": F(1), "ft2": F("0.09290304")}                            # to m2
ROUNDING = "rounding of the invoice"
TABLES = ["freight", "drayage", "crating", "fees"]


# ---------------------------------------------------------------- numbers

def places_away(x, places):
    """Half away from zero."""
    scale = 10 ** places
    n = abs(x) * scale
    n = math.floor(n + F(1, 2))
    return F(n if x >= 0 else -n, scale)


def places_by(x, places, how):
    scale = 10 ** places
    if how == "nearest":
        return places_away(x, places)
    return F({"down": math.floor, "up": math.ceil}[how](x * scale), scale)


def minor(currency):
    return MINOR.get(currency, 2)


def money(x, currency):
    """R1: a charge rounds once, to the minor unit, half away from zero."""
    return places_away(x, minor(currency))


def plain(x, places):
    """A fraction that has at most so many places, as a decimal with exactly so many."""
    n = x * 10 ** places
    assert n.denominator == 1, (x, places)
    digits = f"{abs(n.numerator):0{places + 1}d}"
    text = digits if places == 0 else f"{digits[:-places]}.{digits[-places:]}"
    return ("-" if n < 0 else "") + text


def spread(units, weights):
    """R3: largest remainder of the magnitude, ties to the earlier; the sign restored."""
    total = sum(weights)
    if units == 0:
        return [0] * len(weights)
    assert total > 0 and min(weights) >= 0, "a key that totals nothing"
    size = abs(units)
    exact = [F(size) * w / total for w in weights]
    parts = [math.floor(e) for e in exact]
    left = size - sum(parts)
    order = sorted(range(len(weights)), key=lambda i: (-(exact[i] - parts[i]), i))
    for i in order[:left]:
        parts[i] += 1
    return parts if units >= 0 else [-p for p in parts]


# ---------------------------------------------------------------- the forms of the files

def split(text):
    number, unit = re.fullmatch(r"\s*([-+]?\d+(?:\.\d+)?)\s*(.*?)\s*", text).groups()
    return F(number), unit


def quantity(text, units):
    number, unit = split(text)
    return held(number * units[unit], units)


def held(figure, units):
    """A length is read to a hundredth of a millimetre, half away from zero."""
    return places_away(figure, 2) if units is LENGTHS else figure


def percent(text):
    number, unit = split(text)
    assert unit == "%"
    return number / 100


def amount(text):
    return split(text)


def sides(text):
    parts = re.fullmatch(r"(.*?)([a-z]+)\s*", text).groups()
    return [held(F(p.strip()) * LENGTHS[parts[1]], LENGTHS) for p in parts[0].split("x")]


def window(text):
    first, last = (p.strip() for p in text.split(".."))
    return date.fromisoformat(first), date.fromisoformat(last) if last else date.max


def holds(row, day):
    first, last = row["window"]
    return first <= day <= last


def is_port(place):
    return re.fullmatch(r"[A-Z]{2}[A-Z2-9]{3}", place) is not None


def priced(text):
    """A price as figure, currency and unit."""
    figure, unit = split(text)
    return (figure, *(part.strip() for part in unit.split("/")))


def opened(root, stem):
    """A table: its file, and the files of its folder, in the order of their names."""
    own = root / "rates" / f"{stem}.toml"
    found = {}
    for path in [own] * own.exists() + sorted((root / "rates" / stem).glob("*.toml")):
        with open(path, "rb") as file:
            for key, value in tomllib.load(file).items():
                if isinstance(value, list):
                    found.setdefault(key, []).extend(value)
                else:
                    found[key] = value
    return found


# The kinds of rows that may stand under a head.
UNDER = ("method", "step", "charge", "limit", "duty", "exchange", "stone", "finish", "quality", "usable", "yard", "rig", "road")


def listed(root, stem, kind):
    """Rows of a kind: those that stand alone, and those of quotes, which have what their head says. A row has one
    amount, or is one for each."""
    top = opened(root, stem)
    found = list(top.get(kind, []))
    for quote in top.get("quote", []):
        head = {k: v for k, v in quote.items() if not (k in UNDER and isinstance(v, list))}
        found += [head | row for row in quote.get(kind, [])]
    for row in found:
        if not isinstance(row.get("amount"), dict):
            yield row
            continue
        for by, amount in row["amount"].items():
            yield row | {"lane" if "-" in by and by.isupper() else "container": by, "amount": amount}


class Rates:
    def __init__(self, root):
        table = lambda stem: opened(root, stem)
        self.stones = {row["id"]: row for row in listed(root, "stones", "stone")}
        self.finishes = {row["id"]: row for row in listed(root, "stones", "finish")}
        self.yards = {row["id"]: row for row in listed(root, "yards", "yard")}
        self.charges = []
        for stem in TABLES:
            for row in listed(root, stem, "charge"):
                self.charges.append(row | {"table": stem, "window": window(row["valid"])})
        crating = table("crating")
        self.timber, self.nominal = crating["timber"], crating.get("nominal")
        self.methods, self.steps = (list(listed(root, "sawing", kind)) for kind in ("method", "step"))
        self.bonds = [r | {"window": window(r["valid"])} for r in table("fees").get("bond", [])]
        self.containers = {row["id"]: row for row in table("containers")["container"]}
        self.calendars = {}
        if (root / "rates" / "calendars.toml").exists():
            self.calendars = {row["id"]: row for row in table("calendars")["calendar"]}
        duty = table("duty")
        self.regimes = [r | {"window": window(r["valid"])} for r in duty.get("regime", [])]
        self.duties = [r | {"window": window(r["valid"])} for r in listed(root, "duty", "duty")]
        self.exchange = []
        for row in listed(root, "exchange", "exchange"):
            left, right = row["quote"].split("=")
            (one, base), (rate, counter) = split(left), split(right)
            assert one == 1
            self.exchange.append({"use": row["use"], "base": base, "rate": rate,
                                  "counter": counter, "window": window(row["valid"])})

    def works(self, calendar, day):
        row = self.calendars[calendar]
        assert holds({"window": window(row["valid"])}, day)
        return day.strftime("%A").lower() not in row["weekend"] and day not in row["holidays"]

    def after(self, calendar, day, count):
        """The day on which so many working days after another are full."""
        while count > 0:
            day += timedelta(1)
            count -= self.works(calendar, day)
        return day

    def convert(self, x, source, target, use, day):
        """R2: as quoted, multiplied or divided, never turned round. Not rounded here."""
        if source == target:
            return x
        row = self.rate(source, target, use, day)
        return x * row["rate"] if row["base"] == source else x / row["rate"]

    def rate(self, source, target, use, day):
        rows = [r for r in self.exchange if r["use"] == use and holds(r, day)
                and {r["base"], r["counter"]} == {source, target}]
        assert len(rows) == 1, f"{len(rows)} {use} rows {source} to {target} on {day}"
        return rows[0]


# ---------------------------------------------------------------- the shipment

COLUMNS = {
    "slab": "slab,slab no,slab number,slab id", "bundle": "bundle,bundle no,bundle number,bundle id",
    "length": "length,gross length", "height": "height,gross height,width,gross width",
    "billed length": "billed length,net length",
    "billed height": "billed height,net height,billed width,net width",
    "thickness": "thickness", "line": "line,invoice line", "stone": "stone,material",
    "finish": "finish", "quality": "quality", "weighed": "weighed mass,bundle mass,weighed bundle mass",
}
HEADS = {name: column for column, names in COLUMNS.items() for name in names.split(",")}


def packing_rows(path):
    text = path.read_text(encoding="utf-8-sig")
    first = text.splitlines()[0]
    mark = max(";,\t", key=first.count)
    rows = csv.reader(text.splitlines(), delimiter=mark)
    heads = []
    for cell in next(rows):
        words = re.findall(r"[^\W_]+", cell.lower())
        unit = words.pop() if len(words) > 1 and words[-1] in LENGTHS | MASSES else None
        heads.append((HEADS.get(" ".join(words)), unit))
    for row in rows:
        cells = {}
        for (column, unit), cell in zip(heads, row):
            cell = cell.strip()
            if column is None or not cell:
                continue
            if column in ("length", "height", "billed length", "billed height", "thickness", "weighed"):
                units = MASSES if column == "weighed" else LENGTHS
                cell = cell.replace(",", ".")
                cells[column] = held(F(cell) * units[unit], units) if unit else quantity(cell, units)
            else:
                cells[column] = cell
        if cells:
            yield cells


def step(x, size, how):
    n = x / size
    return size * (math.floor(n) if how == "down" else math.floor(n + F(1, 2)))


def billed_sides(measure, length, height):
    """A supplier's own way to measure."""
    got = [length, height]
    off = measure.get("take-off")
    size = quantity(measure["side"], LENGTHS) if "side" in measure else None
    how = measure.get("side-rounding", "down")
    before = measure.get("side-order", "before take-off") == "before take-off"
    if size and before:
        got = [step(x, size, how) for x in got]
    if off:
        got = [got[0] - quantity(off["length"], LENGTHS), got[1] - quantity(off["height"], LENGTHS)]
    if size and not before:
        got = [step(x, size, how) for x in got]
    return got


def billed_area(measure, m2):
    """(area in m2, figure that the price is multiplied by)"""
    how = measure.get("rounding", "nearest")
    if measure.get("unit", "m2") == "m2":
        area = places_by(m2, measure["places"], how) if "places" in measure else m2
        return area, area
    factor = measure.get("factor", "exact")
    feet = m2 / AREAS["ft2"] if factor == "exact" else m2 * F(factor)
    if "places" in measure:
        feet = places_by(feet, measure["places"], how)
        return feet * AREAS["ft2"], feet
    # Nothing is rounded but the figure that the price is multiplied by, to a millionth of a foot.
    return feet * AREAS["ft2"], places_by(feet, 6, "nearest")


def saw_line(rates, line, invoices, quoted):
    """A line of the works that saw a block, as one with a price for the lot and so many slabs."""
    of = line["sawn"]
    [block] = [b for i in invoices for b in i.get("block", []) if b["id"] == of["block"]]
    first, last = (lambda row: window(row["valid"])[0]), (lambda row: window(row["valid"])[1])
    holding = lambda rows: [row for row in rows if first(row) <= quoted <= last(row)]
    [method] = [m for m in holding(rates.methods) if m["id"] == of["method"]
                and of.get("offer") in (None, m.get("offer"))]
    works = [s for s in holding(rates.steps) if s.get("offer") == method.get("offer")]
    steps = [[s for s in works if s["name"] == name][0] for name in of.get("steps", [])]
    paid = lambda row: {"price": priced(row["price"])[0], "per": priced(row["price"])[2],
                        "least": amount(row["least"])[0] if "least" in row else None,
                        "loss": percent(row.get("loss", "0 %")) * 100}
    mm = lambda text: quantity(text, LENGTHS)
    bought = {"sides": sides(block["size"]), "price": priced(block["price"])[0],
              "places": block.get("places"), "rounding": block.get("rounding", "nearest")}
    off = block.get("allowance", "")
    if "weighed" in block:
        bought["weighed_kg"] = quantity(block["weighed"], MASSES)
    elif off.endswith("%"):
        bought["off_percent"] = percent(off) * 100
    elif off:
        bought["off_sides"] = sides(off)
    made = sawn({
        "block": bought, "through": of["through"], "thickness": mm(line["thickness"]),
        "saw": paid(method) | {"kerf": mm(method["kerf"]), "widest": mm(method["widest"]),
                               "longest": mm(method["longest"]), "most": method["most-slabs"]},
        "steps": [paid(step) for step in steps], "outer_is_waste": of.get("outer") == "waste",
        "squaring": sides(of["squaring"]) if "squaring" in of else None,
    })
    currency = priced(method["price"])[1]
    whole, part = divmod(sum(made["step_cents"]), 100)
    return line | {"price": f"{whole}.{part:02} {currency}/lot", "bundles": made["slabs"],
                   "face": [F(side, 10) for side in made["face_tenths"]], "block-cents": made["block_cents"],
                   "quality": line.get("quality", block.get("quality"))}


class Shipment:
    def __init__(self, rates, folder):
        with open(folder / "shipment.toml", "rb") as file:
            top = tomllib.load(file)
        self.name, self.top = folder.name, top
        self.yard = rates.yards[top["to"]]
        self.book = self.yard["currency"]
        days = dict(top["dates"])
        days.setdefault("collected", days["sails"])
        days.setdefault("entered", days["arrives"])
        days.setdefault("delivered", days["arrives"] + timedelta(self.yard.get("delivery-days", 0)))
        days.setdefault("returned", days["delivered"] + timedelta(1))
        self.dates = days
        self.invoices = top["invoice"]
        whole = {"id": folder.name, "invoices": [i["number"] for i in self.invoices]}
        self.entries = top.get("entry", [whole])
        for entry in self.entries:
            entry.setdefault("entered", days["entered"])
        if len({entry["entered"] for entry in self.entries}) == 1:
            days["entered"] = self.entries[0]["entered"]
        self.lines = []
        for at, invoice in enumerate(self.invoices):
            rule, place = invoice["term"].split(" ", 1)
            invoice["rule"], invoice["place"] = rule, place.strip()
            for line in invoice.get("line", []):
                if "sawn" in line:
                    line = saw_line(rates, line, self.invoices, days["quoted"])
                stone = rates.stones[line["stone"]]
                # A price is one, or a list of them, each from a quantity on; the first from nothing.
                rows = line["price"] if isinstance(line["price"], list) else [{"price": line["price"]}]
                currency, by = priced(rows[0]["price"])[1:]
                steps = [(*split(row.get("from", "0 any")), priced(row["price"])[0], row.get("quality"))
                         for row in rows]
                extras = [priced(extra["price"]) for extra in line.get("extra", [])]
                mm = quantity(line["thickness"], LENGTHS)
                self.lines.append(line | {
                    "invoice": at, "steps": steps, "extras": extras, "currency": currency, "by": by, "mm": mm,
                    # An area is billed in the unit of its price, where the measure does not say.
                    "measure": {"unit": "ft2" if by == "ft2" else "m2"} | line.get("measure", {}), "data": stone, "worked": rates.finishes[line["finish"]],
                    "origin": line.get("origin", invoice.get("origin", stone["origin"])),
                    "per-m2": split(stone["density"])[0] * mm / 1000,
                })
            invoice["currency"] = self.lines[-1]["currency"] if "line" in invoice else None
        # A block's line stands behind the others, and bills the slabs of the line that saws it.
        for at, invoice in enumerate(self.invoices):
            for block in invoice.get("block", []):
                [of] = [i for i, line in enumerate(self.lines) if line.get("sawn", {}).get("block") == block["id"]]
                currency = priced(block["price"])[1]
                price = (*split("0 any"), F(self.lines[of]["block-cents"], 100), None)
                self.lines.append({k: v for k, v in self.lines[of].items() if k not in ("bundles", "control")} | {
                    "id": block["id"], "invoice": at, "slabs-of": of, "steps": [price], "currency": currency})
                invoice["currency"] = currency
        if "lane" in top:
            self.lane = top["lane"]
        else:
            port = next(i["place"] for i in self.invoices if i["rule"] in ("FCA", "FAS", "FOB"))
            self.lane = f"{port}-{self.yard['port']}"
        self.read_slabs(rates, folder)

    def read_slabs(self, rates, folder):
        timber = quantity(rates.timber["mass"], MASSES)
        self.slabs, self.bundles = [], {}          # bundle -> mass with timber, in kg
        self.at_most = {}                          # the same with the margin of thickness
        weighed = {}
        if (folder / "packing.csv").exists():
            for row in packing_rows(folder / "packing.csv"):
                at = self.line_of(row)
                line = self.lines[at]
                gross = row["length"] * row["height"] / 1_000_000
                if "billed length" in row or "billed height" in row:
                    long, high = row["billed length"], row["billed height"]
                else:
                    long, high = billed_sides(line["measure"], row["length"], row["height"])
                area, figure = billed_area(line["measure"], long * high / 1_000_000)
                self.slabs.append({"slab": row["slab"], "bundle": row["bundle"], "line": at,
                                   "quality": row.get("quality", line.get("quality")), "gross": gross, "area": area, "figure": figure, "mass": gross * line["per-m2"]})
                if "weighed" in row:
                    weighed[row["bundle"]] = row["weighed"]
        for at, line in enumerate(self.lines):
            if "bundles" in line and "sawn" in line:
                long, high = line["face"]
                full = long * high / 1_000_000
                net = billed_sides(line["measure"], long, high)
                made = [(full, billed_area(line["measure"], net[0] * net[1] / 1_000_000))] * line["bundles"]
                group = max(1, quantity(rates.nominal["bundle-mass"], MASSES) // (full * line["per-m2"]))
            elif "bundles" in line:
                long, high = sides(line["size"])
                off = line["measure"].get("take-off")
                if line.get("size-is") == "billed":
                    # As sawn it is larger by the take-off, where one is stated.
                    net = [long, high]
                    if off:
                        long += quantity(off["length"], LENGTHS)
                        high += quantity(off["height"], LENGTHS)
                else:
                    net = billed_sides(line["measure"], long, high)
                full = long * high / 1_000_000
                billed = billed_area(line["measure"], net[0] * net[1] / 1_000_000)
                made = [(full, billed)] * (line["bundles"] * line["slabs"])
                group = line["slabs"]
            elif "quantity" in line:
                long, high = sides(rates.nominal["size"])
                full, rest, made = long * high / 1_000_000, quantity(line["quantity"], AREAS), []
                # Of a slab as long and high as is assumed, a stated take-off leaves less to be billed.
                each = full
                if "take-off" in line["measure"]:
                    net = billed_sides(line["measure"], long, high)
                    each = net[0] * net[1] / 1_000_000
                while rest > 0:
                    part = min(each, rest)
                    gross = full if part == each else places_by(full * part / each, 6, "nearest")
                    made.append((gross, billed_area(line["measure"], part)))
                    rest -= part
                group = max(1, quantity(rates.nominal["bundle-mass"], MASSES) // (full * line["per-m2"]))
            else:
                continue
            for n, (gross, (area, figure)) in enumerate(made):
                bundle = f"{line['id']}-B{n // group + 1}"
                self.slabs.append({"slab": f"{bundle}-{n % group + 1}", "bundle": bundle, "line": at,
                                   "quality": line.get("quality"), "gross": gross, "area": area, "figure": figure, "mass": gross * line["per-m2"]})
        members = defaultdict(list)
        for slab in self.slabs:
            members[slab["bundle"]].append(slab)
        for bundle, slabs in members.items():
            if bundle in weighed:
                grams = math.floor((weighed[bundle] - timber) * 1000)
                for slab, g in zip(slabs, spread(grams, [s["mass"] for s in slabs])):
                    slab["mass"] = F(g, 1000)
                self.bundles[bundle] = self.at_most[bundle] = weighed[bundle]
            else:
                self.bundles[bundle] = sum(s["mass"] for s in slabs) + timber
                # Slabs come thicker rather than thinner: what limits and surcharges go by.
                margin = lambda s: 1 + percent(self.lines[s["line"]]["data"].get("thickness-margin", "0 %"))
                self.at_most[bundle] = sum(s["mass"] * margin(s) for s in slabs) + timber

    def line_of(self, row):
        fits = []
        for at, line in enumerate(self.lines):
            if "bundles" in line or "quantity" in line:
                continue
            if "line" in row:
                ok = line["id"] == row["line"]
            else:
                ok = (row.get("stone") in (None, line["stone"], line["data"]["name"])
                      and row.get("finish") in (None, line["finish"])
                      and row.get("thickness") in (None, line["mm"]))
            if ok:
                fits.append(at)
        assert len(fits) == 1, (row, fits)
        return fits[0]

    def bears(self, leg):
        """Whether the importer pays for a leg himself, for any of the invoices."""
        return any(self.invoice_bears(i, leg) for i in self.invoices)

    def invoice_bears(self, invoice, leg):
        if "block" in invoice:
            # Its slabs travel under the term of the works.
            return False
        if leg == "export packing":
            return invoice.get("packing", "in price") == "apart"
        if leg in invoice.get("includes", []):
            return False
        place = "P" if is_port(invoice["place"]) else "I"
        return TERMS[f"{invoice['rule']} {place}"][LEGS.index(leg)] in "BC"


# ---------------------------------------------------------------- the cost

class NoOffer(Exception):
    pass


def event_of(leg):
    at = LEGS.index(leg)
    if at <= LEGS.index("insurance"):
        return "sails"
    return {"destination terminal": "arrives", "import clearance": "entered",
            "duty and tax": "entered"}.get(leg, "delivered")


class Cost:
    """One shipment, one load, one choice of offers."""

    def __init__(self, rates, shipment, boxes, offers):
        self.r, self.s, self.boxes, self.offers = rates, shipment, boxes, offers
        self.all = list(range(len(shipment.slabs)))
        # Tables of which boxes go by different offers.
        self.mixed = {t for t in TABLES if len({b[0].offers.get(t) for b in boxes}) > 1}
        # Which slabs each bill and each entry is about.
        self.by_bill = {b["number"]: self.covered(b) for b in shipment.top.get("bill", [])}
        self.by_entry = {e["id"]: self.covered(e) for e in shipment.entries}
        self.charges = []
        self.policy = {p["charge"]: p for p in shipment.top.get("policy", [])}
        self.goods()
        self.rows = self.choose()
        # Rows in an order in which what a percentage is of comes before it; the entry once all is
        # known up to the border.
        waiting, entered = list(self.rows), False
        while waiting or not entered:
            early = [r for r in waiting if LEGS.index(r["leg"]) <= LEGS.index("insurance")]
            if not entered and not early:
                self.customs()
                entered = True
                continue
            ready = next(r for r in waiting if self.is_ready(r, waiting, entered))
            waiting.remove(ready)
            self.apply(ready)
        self.share()

    def is_ready(self, row, waiting, entered):
        of, others = row.get("of"), [r for r in waiting if r is not row]
        on_leg = lambda leg: any(r["leg"] == leg for r in others)
        if of in (None, "goods"):
            return entered or row.get("per") not in ("entry", "tariff line")
        if of in ("entered value", "continuous bond"):
            return entered
        if of == "taxed value":
            way = [leg for leg in self.regime().get("tax-adds", []) if leg != "duty and tax"]
            return entered and not any(on_leg(leg) for leg in way)
        if of == "single bond":
            return entered and not on_leg("duty and tax")
        if of == "insured value":
            return all(LEGS.index(r["leg"]) > LEGS.index("main carriage") for r in others)
        if of == "payments":
            return entered and all(r.get("of") == "payments" for r in others)
        if of.startswith("all "):
            return not on_leg(of[4:])
        return not any(r["name"] == of for r in others)

    # ---- exchange

    def to_customs(self, x, currency, entry):
        [entered] = [e["entered"] for e in self.s.entries if e["id"] == entry]
        day = entered if self.regime().get("exchange-on") == "entered" else self.s.dates["sails"]
        target = self.regime()["currency"]
        # A rate that is certified for the day serves, also where that is still to come.
        pair = lambda r, use: (r["use"] == use and holds(r, day)
                               and {r["base"], r["counter"]} == {currency, target})
        quarter = [r for r in self.r.exchange if pair(r, "customs")]
        own = [r for r in self.r.exchange if pair(r, "customs daily")]
        own = own if "daily-rate-from" in self.regime() else []
        use = "customs"
        if own and quarter:
            # 19 CFR 159.34(b): a day's rate that is 5 % off that of the quarter takes its place.
            [a], [b] = own, quarter
            far = percent(self.regime()["daily-rate-from"]) * b["rate"]
            if a["base"] == b["base"] and abs(a["rate"] - b["rate"]) >= far:
                use = "customs daily"
        elif own:
            use = "customs daily"
        elif not quarter and day > self.s.dates["quoted"]:
            use = "plan"
        return self.r.convert(x, currency, target, use, day)

    def regime(self):
        day = self.s.dates["entered"]
        rows = [r for r in self.r.regimes if r["id"] == self.s.yard["regime"] and holds(r, day)]
        assert len(rows) == 1
        return rows[0]

    # ---- charges

    def add(self, name, leg, scope, of, slabs, x, currency, key="area", treatment="stock",
            weights=None, fixed=False, event=None, plan=None, paid=None, back=None,
            about=None, on=None, by="mass"):
        on = on or about or slabs           # what it is counted by, whoever shares it
        x = money(x, currency)
        if plan:
            book, parts = self.book_in_parts(x, currency, *plan)
            flows = [(p[0], part) for p, part in zip(plan[0], parts)]
        else:
            event = self.date(event or event_of(leg), about or slabs)
            paid = paid or event
            day = min(event, paid)
            book = x if currency == self.s.book else money(
                self.r.convert(x, currency, self.s.book, self.use_on(day), day), self.s.book)
            flows = [(paid, book)] + ([(back, -book)] if back else [])
        rule = self.policy.get(name, {})
        key, treatment = rule.get("key", key), rule.get("treatment", treatment)
        if "key" in rule:
            weights = None
        if "scope" in rule and not fixed:
            scope, of, slabs = self.widen(rule["scope"], scope, of, slabs)
        charge = {"name": name, "leg": leg, "scope": scope, "of": of, "slabs": slabs, "amount": x,
                  "currency": currency, "book": book, "key": key, "treatment": treatment,
                  "weights": weights, "flows": flows, "on": on, "by": by, "back": back}
        self.charges.append(charge)
        return charge

    def widen(self, to, scope, of, slabs):
        """The slabs of a scope that holds all of these."""
        for label, members in self.objects(to):
            if set(slabs) <= set(members):
                return to, label, members
        raise AssertionError(f"{scope} {of} does not fit in a {to}")

    def borne(self, leg):
        """The slabs of invoices whose terms leave this leg to the importer."""
        s = self.s
        return [i for i in self.all
                if s.invoice_bears(s.invoices[s.lines[s.slabs[i]["line"]]["invoice"]], leg)]

    def leg_of(self, row):
        """The leg that says whose slabs a row is about; none where it is the importer's own anyway."""
        return None if row.get("borne-by") == "importer" else row["leg"]

    def objects(self, kind, leg=None):
        """The objects of a kind, each with its slabs; only those that a leg's cost is about."""
        s, about = self.s, set(self.borne(leg) if leg else self.all)
        if kind == "shipment":
            all_of = [(s.name, self.all)]
        elif kind == "bill of lading":
            all_of = list(self.by_bill.items()) or [(s.name, self.all)]
            listed = any("containers" in b for b in s.top.get("bill", []))
            if "freight" in self.mixed and not listed:
                # A forwarder makes out a bill of its own.
                offers = sorted({b[0].offers["freight"] for b in self.boxes})
                all_of = [(f"{label}, {o}", self.by_offer("freight", o, members))
                          for label, members in all_of for o in offers]
        elif kind == "entry":
            all_of = list(self.by_entry.items())
        elif kind == "container":
            all_of = [(label, [i for i in self.all if s.slabs[i]["bundle"] in inside])
                      for label, _, inside in self.boxes]
        elif kind == "bundle":
            all_of = [(b, [i for i in self.all if s.slabs[i]["bundle"] == b]) for b in s.bundles]
        elif kind == "tariff line":
            all_of = [(self.label(key), members) for key, members in self.entry_lines().items()]
        elif kind == "slab":
            all_of = [(s.slabs[i]["slab"], [i]) for i in self.all]
        else:
            raise AssertionError(kind)
        kept = [(label, [i for i in members if i in about]) for label, members in all_of]
        return [(label, members) for label, members in kept if members]

    def by_offer(self, table, offer, slabs):
        """The slabs in boxes that go by an offer."""
        inside = {b for label, _, bundles in self.boxes if label.offers.get(table) == offer
                  for b in bundles}
        return [i for i in slabs if self.s.slabs[i]["bundle"] in inside]

    def in_boxes_of(self, row, slabs):
        """What a row is about: where boxes go by different offers, the slabs in those of its own."""
        if "offer" not in row or row["table"] not in self.mixed:
            return slabs
        return self.by_offer(row["table"], row["offer"], slabs)

    def covered(self, document):
        """The slabs of what a bill or an entry lists: invoices, containers, bills."""
        s = self.s
        number = lambda i: s.invoices[s.lines[s.slabs[i]["line"]]["invoice"]]["number"]
        held = {i for i in self.all if number(i) in document.get("invoices", [])}
        for label, _, inside in self.boxes:
            if label in document.get("containers", []):
                held |= {i for i in self.all if s.slabs[i]["bundle"] in inside}
        for bill in document.get("bills", []):
            held |= set(self.by_bill[bill])
        return sorted(held)

    def entered_on(self, slabs):
        """The day of entry of some slabs: of the entry that holds them all, or the shipment's."""
        days = [e["entered"] for e in self.s.entries if set(slabs) <= set(self.by_entry[e["id"]])]
        return days[0] if days else self.s.dates["entered"]

    def date(self, event, slabs):
        return self.entered_on(slabs) if event == "entered" else self.s.dates[event]

    def label(self, key):
        """Number and origin; with several entries, the entry too."""
        number, origin, entry = key
        return f"{number} {origin}" + (f" on {entry}" if len(self.s.entries) > 1 else "")
    # ---- when things are paid

    def due(self, text, calendar, slabs=()):
        """ "entered + 10 working days" as a day; the entry is that of these slabs."""
        event, sign, count, working = re.fullmatch(
            r"(\w+)(?:\s*([+-])\s*(\d+)(\s+working)?\s+days?)?", text).groups()
        day, count = self.date(event, slabs) if slabs else self.s.dates[event], int(count or 0)
        if working:
            return self.r.after(calendar, day, count)
        return day + timedelta(-count if sign == "-" else count)

    def paid_on(self, row, slabs):
        """The day a row's charge is paid: as it says, as the regime says of duties, or its leg's."""
        if "due" in row:
            return self.due(row["due"], row.get("calendar"), slabs)
        if row["leg"] == "duty and tax" and "duty-due" in self.regime():
            return self.due(self.regime()["duty-due"], self.regime().get("calendar"), slabs)
        return self.date(event_of(row["leg"]), slabs)

    def control(self, slab, line):
        """The day on which control of a slab passes: as its bill of lading states it, its line or its
        invoice, and as the delivery term has it otherwise (Incoterms 2020, A2)."""
        s = self.s
        invoice = s.invoices[line["invoice"]]
        bills = [b for b in s.top.get("bill", []) if slab in self.by_bill[b["number"]]]
        for one in bills + [line, invoice]:
            if "control" in one:
                return one["control"]
        rule, days = invoice["rule"], s.dates
        if rule in ("EXW", "FCA", "CPT", "CIP"):
            return days["collected"]
        if rule in ("FAS", "FOB", "CFR", "CIF"):
            return days["sails"]
        if not is_port(invoice["place"]):
            return days["delivered"]
        return max(days["arrives"], days["entered"]) if rule == "DDP" else days["arrives"]

    def plan(self, invoice, total, last):
        """[(day, amount, whether it is a claim on money)]: how an invoice is paid; without a plan, when
        the last of its goods pass."""
        rows = invoice.get("payment", [])
        if not rows:
            return [(last, total, False)]
        sums = []
        for row in rows:
            if row.get("share", "rest") != "rest":
                sums.append(money(percent(row["share"]) * total, invoice["currency"]))
            else:
                sums.append(amount(row["amount"])[0] if "amount" in row else F(0))
        takers = [i for i, row in enumerate(rows) if row.get("share") == "rest"] or [
            i for i, row in enumerate(rows) if "share" in row]
        if takers:
            sums[takers[-1]] += total - sum(sums)
        assert sum(sums) == total, "payments that are not the invoice"
        return [(row["on"] if "on" in row else self.due(row["due"], row.get("calendar")), x,
                 row.get("repaid-in") == "money") for row, x in zip(rows, sums)]

    def book_in_parts(self, x, currency, plan, passing):
        """R2: one rounding for each part with a rate of its own, always the rate of a day: an advance
        has its own day's, and all else, a claim on money too, that of the day control passes (IAS 21.21,
        IFRIC 22.8). Gives the book amounts by payment."""
        groups = {}
        for at, (day, share, claim) in enumerate(plan):
            for passes, goods in passing.items():
                on = day if day < passes and not claim else passes
                row = ("own",) if currency == self.s.book else tuple(
                    self.r.rate(currency, self.s.book, self.use_on(on), on).items())
                mine = groups.setdefault(row, (on, defaultdict(F)))[1]
                mine[at] += share * goods
        whole = sum(sum(mine.values()) for _, mine in groups.values())
        if not whole:
            groups = dict(list(groups.items())[:1])
        paid, unit, book = [F(0)] * len(plan), 10 ** minor(self.s.book), F(0)
        for on, mine in groups.values():
            part = x if len(groups) == 1 else x * sum(mine.values()) / whole
            if currency != self.s.book:
                part = money(self.r.convert(part, currency, self.s.book, self.use_on(on), on), self.s.book)
            book += part
            weights = list(mine.values()) if any(mine.values()) else [1] + [0] * (len(mine) - 1)
            for at, units in zip(mine, spread(int(part * unit), weights)):
                paid[at] += F(units, unit)
        return book, paid

    def use_on(self, day):
        return "plan" if day > self.s.dates["quoted"] else "book"

    # ---- goods

    def goods(self):
        s = self.s
        self.value = [F(0)] * len(s.slabs)        # a slab's own invoiced amount, original currency
        self.weight = [F(0)] * len(s.slabs)       # what its goods go by: areas where it is priced by area
        self.line_amounts = [F(0)] * len(s.lines)
        self.own = []                               # by invoice: what is invoiced for each slab
        self.invoiced = []                          # (invoice, what, amount): items beside the lines
        for at, invoice in enumerate(s.invoices):
            currency = invoice["currency"]
            free = set(invoice.get("free-slabs", []))
            own_lines = {line.get("slabs-of", index) for index, line in enumerate(s.lines) if line["invoice"] == at}
            members = [i for i in self.all if s.slabs[i]["line"] in own_lines]
            billed = []
            for index, line in enumerate(s.lines):
                if line["invoice"] != at:
                    continue
                mine = [i for i in members if s.slabs[i]["line"] == line.get("slabs-of", index)]
                for i, x in self.values(line, mine, free).items():
                    by_slab = line["by"] not in ("bundle", "lot")
                    if by_slab and line["measure"].get("money") == "slab":
                        x = money(x, currency)
                    self.value[i] = self.weight[i] = x
                    own_prices = line["extras"] or line["steps"][0][3]
                    by_area = line["by"] in ("m2", "ft2") and not own_prices
                    if by_area and line["measure"].get("money") != "slab":
                        self.weight[i] = s.slabs[i]["area"] if x else F(0)
                # A price per bundle is one charge for each bundle: its slabs sum to that price.
                key = {"t": "mass", "bundle": "area", "lot": "area"}.get(line["by"], "value")
                if (line["extras"] or line["steps"][0][3]) and line["by"] == "t":
                    key = "value"               # a slab's price is no longer in proportion to its mass
                parts = {("line", line["id"]): mine}
                if line["by"] == "bundle":
                    parts = defaultdict(list)
                    for i in mine:
                        parts["bundle", s.slabs[i]["bundle"]].append(i)
                for (scope, of), part in parts.items():
                    billed.append([index, scope, of, part, key, sum(self.value[i] for i in part)])
            # Where only the invoice is rounded, its rounded total goes over what it consists of.
            whole = [b for b in billed if s.lines[b[0]]["measure"].get("money") == "invoice"]
            if whole:
                unit = 10 ** minor(currency)
                exact = [b[5] for b in whole]
                for b, x in zip(whole, spread(int(money(sum(exact), currency) * unit), exact)):
                    b[5] = F(x, unit)
            unit = 10 ** minor(currency)
            own = [F(0)] * len(s.slabs)         # what is invoiced for a slab, in its currency
            for one in billed:
                one[5] = money(one[5], currency)
                self.line_amounts[one[0]] += one[5]
                whole = sum(self.weight[i] for i in one[3])
                for i in one[3]:
                    own[i] += one[5] * self.weight[i] / whole if whole else 0
            self.own.append(own)
            total = sum(x for x, line in zip(self.line_amounts, s.lines) if line["invoice"] == at)
            whole = total
            if "discount" in invoice:
                text = invoice["discount"]
                off = percent(text) * total if text.strip().endswith("%") else amount(text)[0]
                whole -= money(off, currency)
            if "rounding" in invoice:
                whole += amount(invoice["rounding"])[0]
            if invoice.get("packing", "in price") not in ("in price", "apart"):
                whole += amount(invoice["packing"])[0]
            passing, parted = defaultdict(F), []
            for index, scope, of, part, key, x in billed:
                # Where bills of lading pass on days of their own, a line is a charge for each day.
                by_day = defaultdict(list)
                for i in part:
                    by_day[self.control(i, s.lines[index])].append(i)
                worth = [sum(self.value[i] for i in some) for some in by_day.values()]
                sums = spread(int(x * unit), worth) if len(by_day) > 1 else [int(x * unit)]
                for (day, some), units in zip(by_day.items(), sums):
                    passing[day] += F(units, unit)
                    parted.append((scope, of, some, key, F(units, unit), day))
            paid = self.plan(invoice, whole, max(passing))
            plan = (paid, passing)
            for scope, of, part, key, x, day in parted:
                c = self.add("goods", "goods", scope, of, part, x, currency, key=key,
                             weights=[self.weight[i] for i in part], plan=(paid, {day: F(1)}))
                c["invoice"] = at
            less = F(0)
            if "discount" in invoice:
                text = invoice["discount"]
                off = percent(text) * total if text.strip().endswith("%") else amount(text)[0]
                less = money(off, currency)
                self.add("discount", "goods", "invoice", invoice["number"], members, -less, currency,
                         key="value", plan=plan, by="value")
                self.invoiced.append((at, "discount", -less))
            if "rounding" in invoice:
                x = amount(invoice["rounding"])[0]
                self.add(ROUNDING, "goods", "invoice", invoice["number"], members, x, currency,
                         key="value", plan=plan)
                self.invoiced.append((at, "rounding", x))
            packing = invoice.get("packing", "in price")
            if packing not in ("in price", "apart"):
                x = amount(packing)[0]
                self.add("export packing", "export packing", "invoice", invoice["number"], members, x,
                         currency, plan=plan)
                self.invoiced.append((at, "packing", x))
            if "commission" in invoice:
                deal = invoice["commission"]
                x = money(percent(deal["rate"]) * (total - less), currency)
                self.add(f"{deal['agent']} commission", "goods", "invoice", invoice["number"], members,
                         x, currency, key="value",
                         plan=([(max(passing), x, False)], passing))
                if deal["agent"] == "selling":
                    self.invoiced.append((at, "commission", x))
            if "basis-adjustment" in invoice:
                # IFRS 9.6.5.11(d)(i): to the goods like a charge; no price, no value, no payment.
                x, unit_of = amount(invoice["basis-adjustment"]["amount"])
                assert unit_of == s.book and s.yard.get("framework") != "us-gaap"
                c = self.add("basis adjustment", "goods", "invoice", invoice["number"], members, x,
                             s.book, key="value", plan=([], {}))
                c["book"], c["hedge"] = x, True

    def values(self, line, mine, free):
        """Each slab's own invoiced amount, unrounded. A free slab has none."""
        s, by = self.s, line["by"]
        paid = [i for i in mine if s.slabs[i]["slab"] not in free]
        got = dict.fromkeys(mine, F(0))
        extra = {i: sum(p * self.quantity(line, i, per) for p, _, per in line["extras"]) for i in paid}
        prices = {q: self.unit_price(line, free, q) for q in {s.slabs[i]["quality"] for i in paid}}
        for i in paid:
            slab = s.slabs[i]
            price = prices[slab["quality"]]
            if by in ("bundle", "lot"):             # by billed area inside
                same = [j for j in paid if by == "lot" or s.slabs[j]["bundle"] == slab["bundle"]]
                whole = price + sum(extra[j] for j in same)
                got[i] = whole * slab["area"] / sum(s.slabs[j]["area"] for j in same)
            else:
                got[i] = price * self.quantity(line, i, by) + extra[i]
        return got

    def quantity(self, line, i, unit):
        """What is billed of a slab in a unit."""
        slab = self.s.slabs[i]
        return {"m2": slab["figure"], "ft2": slab["figure"], "m3": slab["figure"] * line["mm"] / 1000,
                "t": slab["mass"] / 1000, "slab": F(1)}[unit]

    def unit_price(self, line, free, quality):
        """The price of a unit of a quality: that of the step which the quantity billed of the line has
        reached, exactly on it included. Where a step is for the part above it, the average over all that
        counts."""
        s = self.s
        steps = [(start, unit, price) for start, unit, price, of in line["steps"] if of in (None, quality)]
        if len(steps) == 1:
            return steps[0][2]
        unit = steps[1][1].removesuffix("s")
        together = line.get("counted", "line") == "invoice"
        counts = lambda other: other["invoice"] == line["invoice"] if together else other is line
        mine = [i for i in self.all if s.slabs[i]["slab"] not in free and counts(s.lines[s.slabs[i]["line"]])]
        if unit == "bundle":
            count = F(len({s.slabs[i]["bundle"] for i in mine}))
        else:
            count = sum((self.quantity(s.lines[s.slabs[i]["line"]], i, unit) for i in mine), F(0))
        reached = [(start, price) for start, _, price in steps if start <= count]
        if line.get("applies", "whole") == "whole" or not count:
            return reached[-1][1]
        ends = [start for start, _ in reached[1:]] + [count]
        return sum(price * (end - start) for (start, price), end in zip(reached, ends)) / count

    # ---- rows

    def day_of(self, row):
        event = {"freight": "sails", "crating": "sails", "drayage": "delivered"}.get(row["table"])
        return self.s.dates[event or event_of(row["leg"])]

    def fits(self, row, container=None):
        s = self.s
        origin, arrival = s.lane.split("-")
        at_origin = LEGS.index(row["leg"]) < LEGS.index("main carriage")
        asked = {"lane": [s.lane], "port": [origin if at_origin else arrival],
                 "term-place": [i["place"] for i in s.invoices], "yard": [s.yard["id"]],
                 "regime": [s.yard["regime"]], "stone": [line["stone"] for line in s.lines],
                 "container": [container] if container else [kind for _, kind, _ in self.boxes],
                 "class": [label.road_class for label, _, _ in self.boxes]}
        return all(row[key] in values for key, values in asked.items() if key in row)

    def choose(self):
        """The rows that apply: the leg is the importer's, the row fits and is in force."""
        s = self.s
        chosen, covered = [], set()
        for row in self.r.charges:
            days = [self.day_of(row)]
            if row.get("per") in ("entry", "tariff line"):
                days = [e["entered"] if row["table"] == "fees" and event_of(row["leg"]) == "entered"
                        else days[0] for e in s.entries]
            own = self.leg_of(row) is None
            if not (own or s.bears(row["leg"])) or not self.fits(row):
                continue
            if not any(holds(row, day) for day in days):
                continue
            served = [self.offers[row["table"]]]
            if row["table"] in self.mixed:
                served = [label.offers.get(row["table"]) for label, _, _ in self.boxes]
            if "offer" in row and row["offer"] not in served:
                continue
            chosen.append(row)
            if not own:
                covered.add(row["leg"])
        # Of two rows of one name that fit one thing, the one that says more about it serves.
        keys = ("lane", "port", "term-place", "container", "class", "yard", "regime", "stone")
        said = lambda row: sum(key in row for key in keys)
        best = []
        for row in chosen:
            rivals = [r for r in chosen if r["name"] == row["name"] and r["table"] == row["table"]
                      and r is not row and said(r) > said(row)
                      and r.get("offer") == row.get("offer")]
            if any("container" not in r or "container" in row for r in rivals):
                continue
            best.append(row)
        for leg in LEGS[1:]:
            if s.bears(leg) and leg not in covered and leg != "duty and tax":
                raise NoOffer(f"no row for {leg}")
        for kind in {kind for _, kind, _ in self.boxes}:
            for leg in ("main carriage", "on-carriage"):
                # Carriage is quoted by the type of box; surcharges alone carry nothing.
                by_type = any(r["leg"] == leg and "container" in r for r in self.r.charges)
                named = lambda r: r["container"] == kind if by_type else True
                if s.bears(leg) and not any(
                        r["leg"] == leg and r.get("per") == "container"
                        and (not by_type or "container" in r) and named(r) for r in best):
                    raise NoOffer(f"no row for {leg} of a {kind}")
        return best

    def inside(self, row, chosen):
        """What chosen charges come to on the slabs that a row is about."""
        leg = self.leg_of(row)
        about, total = set(self.borne(leg) if leg else self.all), F(0)
        for c in filter(chosen, self.charges):
            if about >= set(c["slabs"]):
                total += c["book"]
            else:
                weights = self.weights(c)
                inside = sum(w for i, w in zip(c["slabs"], weights) if i in about)
                total += c["book"] * inside / sum(weights)
        return total

    def apply(self, row):
        s = self.s
        per, scope = row.get("per"), row.get("scope")
        on_value = row.get("of") in ("goods", "insured value", "entered value", "taxed value")
        usual = "base" if on_value and s.yard.get("percentages") == "base" else "area"
        common = {"key": row.get("key", usual), "treatment": row.get("treatment", "stock")}

        by = {"m2": "area", "slab": "count"}.get(per, "mass")
        if row.get("of") and not row["of"].startswith("all "):
            by = "value"

        def put(kind, of, slabs, x, currency, fixed=False, about=None, on=None, by=by):
            for bound, choose in (("minimum", max), ("maximum", min)):
                if bound in row:
                    limit, unit = amount(row[bound])
                    assert unit == currency
                    x = choose(x, limit) if x else x
            about = about or slabs
            back = None
            if "recovered" in row:
                back = self.due(row["recovered"], row.get("calendar"), about)
            share = self.base(row["of"]) if common["key"] == "base" else None
            c = self.add(row["name"], row["leg"], kind, of, slabs, x, currency, fixed=fixed,
                         paid=self.paid_on(row, about), back=back, about=about, on=on, by=by,
                         **common)
            if share and c["key"] == "base":
                c["weights"] = [share[i] for i in c["slabs"]]
            c["interest"] = row.get("of") == "payments"
            c["offer"] = row.get("offer")

        if "tiers" in row:
            unit, currency = None, amount(row["tiers"][0]["amount"])[1]
        elif "amount" in row and "each" not in row:
            unit, currency = amount(row["amount"])
        else:
            currency = s.book
            if "each" in row:
                # An amount for each so much of something, a part of it whole where the row says so.
                fee, size = amount(row["amount"]), amount(row["each"])
                whole = row.get("part") == "whole"
                rate = lambda base: fee[0] * (math.ceil(base / size[0]) if whole else base / size[0])
                assert size[1] == s.book
                currency = fee[1]
            else:
                share = percent(row["rate"])
                rate = lambda base: share * base
            unit = percent(row["rate"]) if "rate" in row else None
            of = row["of"]
            # Books change no value: what is expensed or recovered is paid. A deposit comes back.
            spent = lambda c: c["treatment"] != "notional" and not c["back"] and not c.get("hedge")
            if of == "goods":
                unit = rate(self.inside(row, lambda c: c["name"] in ("goods", "discount", ROUNDING)))
            elif of.startswith("all "):
                unit = rate(self.inside(row, lambda c: c["leg"] == of[4:] and spent(c)))
            elif of == "single bond":
                assert per == "entry"
                for entry in s.entries:
                    own = {key: x for key, x in self.entered.items() if key[2] == entry["id"]}
                    labels = {self.label(key) for key in own} | {entry["id"]}
                    levied = sum(c["amount"] for c in self.charges
                                 if c["leg"] == "duty and tax" and c["of"] in labels)
                    if own and self.files(row, entry):
                        put("entry", entry["id"], sorted(i for key in own for i in self.entry_lines()[key]),
                            rate(levied + sum(own.values())), currency)
                return
            elif of == "continuous bond":
                [bond] = [b for b in self.r.bonds if b["regime"] == s.yard["regime"]
                          and holds(b, s.dates["entered"])]
                size = max(amount(bond["least"])[0], percent(bond["share"]) * amount(bond["annual"])[0])
                step = next(amount(t["by"])[0] for t in bond["steps"]
                            if "to" not in t or size <= amount(t["to"])[0])
                unit = rate(step * math.ceil(size / step)) / bond["entries"]
            elif of == "payments":
                until = s.dates[row["until"]]
                unit = sum(x * max(0, (until - day).days) for c in self.charges
                           if c["treatment"] != "notional" and not c.get("interest")
                           for day, x in c["flows"]) * percent(row["rate"]) / row["days-in-year"]
            elif of in ("entered value", "taxed value"):
                assert per in ("entry", "tariff line")
            elif of == "insured value":
                # premium = rate x cover x (cost and freight + premium)
                share = unit * percent(row["insured"])
                base = self.inside(row, lambda c: spent(c)
                                   and LEGS.index(c["leg"]) < LEGS.index("insurance"))
                unit = share * base / (1 - share)
            else:
                same = lambda c: not (row.get("offer") and c.get("offer")) or (
                    row["table"] not in self.mixed or row["offer"] == c["offer"])
                for c in [c for c in self.charges if c["name"] == of and same(c)]:
                    put(c["scope"], c["of"], c["slabs"], rate(c["amount"]), c["currency"],
                        on=c["on"], by=c["by"])
                return

        if row.get("of") in ("entered value", "taxed value"):
            exempt = self.exempt(row)
            base = self.entered if row["of"] == "entered value" else self.taxed()
            currency = self.regime()["currency"]
            for entry in s.entries:
                lines = {key: v for key, v in base.items()
                         if key[1] not in exempt and key[2] == entry["id"]}
                if not lines or not self.files(row, entry):
                    continue
                members = sorted(i for key in lines for i in self.entry_lines()[key])
                if per == "entry":
                    put("entry", entry["id"], members, unit * sum(lines.values()), currency)
                else:
                    for key, value in lines.items():
                        put("tariff line", self.label(key), self.entry_lines()[key], unit * value,
                            currency)
            return

        leg = self.leg_of(row)
        own = lambda slabs: self.in_boxes_of(row, slabs)
        objects = lambda kind, leg: [(label, own(members)) for label, members
                                     in self.objects(kind, leg) if own(members)]
        times = lambda slabs: self.times(row, slabs)
        price = lambda count: unit * count
        if "tiers" in row and "gross" not in row["tiers"][0]:
            price = lambda count: self.by_tiers(row["tiers"], count)
        if per == "tariff line" and "tiers" in row:
            exempt = self.exempt(row)
            for entry in s.entries:
                keys = [key for key in self.entry_lines()
                        if key[1] not in exempt and key[2] == entry["id"]]
                members = sorted(i for key in keys for i in self.entry_lines()[key])
                if members:
                    put("entry", entry["id"], members, price(len(keys)), currency)
            return
        everything = self.objects("shipment", leg)
        if not everything:
            return
        [(_, whole)] = everything
        concerned = own(whole)
        if not concerned:
            return
        if per == "shipment":
            put(scope or per, s.name, concerned, unit, currency)
        elif per in ("bill of lading", "entry"):
            for label, members in objects(per, leg):
                filed = [e for e in s.entries if per == "entry" and e["id"] == label]
                if filed and not self.files(row, filed[0]):
                    continue
                if scope in (None, per):
                    put(per, label, members, unit, currency)
                else:
                    put(scope, s.name, members if per == "entry" else concerned, unit, currency,
                        on=members)
        elif per == "hour" or per in ("month", "quarter"):
            for label, members in objects(scope or "shipment", leg):
                put(scope or "shipment", label, members, price(times(members)), currency)
        elif per == "container":
            kinds = {label: kind for label, kind, _ in self.boxes}
            for label, members in objects("container", leg):
                if row.get("container", kinds[label]) != kinds[label]:
                    continue
                if "class" in row and row["class"] not in [
                        one.road_class for one, _, _ in self.boxes if one == label]:
                    continue
                each = unit
                if "tiers" in row and "gross" in row["tiers"][0]:
                    each = self.by_gross(row["tiers"], label)
                elif times(members) is not None:
                    each = price(times(members))
                if scope == "container":
                    put("container", label, members, each, currency)
                else:
                    put("shipment", s.name, whole, each, currency, about=members)
        elif per == "bundle":
            for label, members in objects("bundle", leg):
                if scope == "container":
                    bundle = s.slabs[members[0]]["bundle"]
                    for box, inside in objects("container", leg):
                        if any(s.slabs[i]["bundle"] == bundle for i in inside):
                            put("container", box, inside, unit, currency, on=members)
                elif scope and scope != "bundle":
                    put(scope, s.name, concerned, unit, currency, on=members)
                else:
                    put("bundle", label, members, unit, currency)
        elif per == "tariff line":
            for label, members in objects("tariff line", leg):
                put("tariff line", label, members, unit, currency)
        elif per == "slab":
            # One charge over all slabs by count: the same cents as one charge for each slab.
            common["key"] = row.get("key", "count")
            put("slab", s.name, concerned, unit * len(concerned), currency)
        elif per == "day":
            for label, members in objects(scope or "shipment", leg):
                put(scope or "shipment", label, members, price(times(members)), currency)
        elif per in ("m2", "tonne") and scope == "container":
            for label, inside in objects("container", leg):
                if per == "m2":
                    count = sum(s.slabs[i]["gross"] for i in inside)
                else:
                    count = sum(s.bundles[b] for b in {s.slabs[i]["bundle"] for i in inside}) / 1000
                put("container", label, inside, unit * count, currency)
        elif per == "m2":
            # As sawn: who handles stone handles all of it, whatever its supplier bills.
            put("shipment", s.name, concerned, unit * sum(s.slabs[i]["gross"] for i in concerned), currency)
        elif per == "tonne":
            # Gross: timber and straps ride along.
            bundles = [b for b, _ in objects("bundle", leg)]
            put("shipment", s.name, concerned, unit * sum(s.bundles[b] for b in bundles) / 1000, currency)
        else:
            raise AssertionError(per)

    def times(self, row, slabs):
        """Days, hours, months or quarters that a row charges for some slabs."""
        if "hours" in row:
            stated = {h["of"]: quantity(h["count"], {"h": F(1)}) for h in self.s.top.get("hours", [])}
            free = quantity(row.get("free-hours", "0 h"), {"h": F(1)})
            beyond = max(F(0), stated.get(row["hours"], F(0)) - free)
            return F(math.ceil(beyond)) if row.get("part") == "whole" else beyond
        if "days" not in row:
            return None
        first, last = (self.date(e.strip(), slabs) for e in row["days"].split(".."))
        if row["per"] in ("month", "quarter"):
            months, count = {"month": 1, "quarter": 3}[row["per"]], 0
            while self.month_on(first, months * count) < last:
                count += 1
            return F(count)
        free, how = row.get("free-days", 0), row.get("day-count", "calendar days")
        if how == "free working days":
            first, free = self.r.after(row["calendar"], first, free), 0
        if how == "working days":
            days = (first + timedelta(n) for n in range(1, (last - first).days + 1))
            return F(max(0, sum(self.r.works(row["calendar"], d) for d in days) - free))
        return F(max(0, (last - first).days - free))

    @staticmethod
    def month_on(day, months):
        year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
        last = (date(year + (month == 11), (month + 1) % 12 + 1, 1) - timedelta(1)).day
        return date(year, month + 1, min(day.day, last))

    @staticmethod
    def by_tiers(tiers, count):
        """Each day or line at the price of the tier it is in."""
        total = F(0)
        for tier in tiers:
            first, last = (tier.get("days") or tier["lines"]).split("..")
            last = min(F(last or count), F(count))
            total += amount(tier["amount"])[0] * max(F(0), last - F(first) + 1)
        return total

    def by_gross(self, tiers, box):
        """The price of the tier that a box's mass lies in: bundles, securing, tare."""
        [(kind, inside)] = [(kind, inside) for label, kind, inside in self.boxes if label == box]
        data = self.r.containers[kind]
        mass = sum(self.s.at_most[b] for b in inside)
        mass += quantity(data["tare"], MASSES) + quantity(data["securing"], MASSES)
        for tier in tiers:
            last = tier["gross"].split("..")[1].strip()
            if not last or mass <= quantity(last, MASSES):
                return amount(tier["amount"])[0]

    # ---- customs

    def files(self, row, entry):
        """Whether a row is about entries of this kind, mode and day."""
        by_entry = row["table"] == "fees" and event_of(row["leg"]) == "entered"
        if by_entry and not holds(row, entry["entered"]):
            return False
        return (row.get("entry", entry.get("kind", "formal")) == entry.get("kind", "formal")
                and row.get("mode", entry.get("mode", "sea")) == entry.get("mode", "sea"))

    def exempt(self, row):
        """Origins that are free of a row: without a claim, which no line here makes."""
        return set(row.get("exempt-product-of", []))

    def entry_lines(self):
        """Tariff number, origin and entry -> slabs, whatever the invoice's lines. What the seller
        enters is on no entry of the importer's."""
        lines = {}
        for i in self.borne("duty and tax"):
            lines.setdefault(self.entry_key(i), []).append(i)
        return lines

    def entry_key(self, slab):
        line = self.s.lines[self.s.slabs[slab]["line"]]
        rows = [t for t in line["data"]["tariff"] if t["regime"] == self.s.yard["regime"]]
        form = line.get("form", "slab")
        finish = line["worked"]
        fits = [t for t in rows if t.get("form", form) == form
                and t.get("finish", line["finish"]) == line["finish"]
                and all(t.get(part, finish[part]) == finish[part] for part in ("faces", "edges"))]
        best = max(fits, key=lambda t: ("form" in t, "finish" in t, ("faces" in t) + ("edges" in t)))
        [entry] = [e["id"] for e in self.s.entries if slab in self.by_entry[e["id"]]]
        return best["line"], line["origin"], entry

    def legs_of(self, key, usual):
        return self.regime().get(key, usual)

    def customs(self):
        s, regime = self.s, self.regime()
        border = regime["value-basis"] == "border"
        upto = LEGS.index("insurance" if border else "export packing")
        adds = self.legs_of("adds", LEGS[1:upto + 1])
        out = self.legs_of("takes-out", LEGS[LEGS.index("destination terminal" if border
                                                       else "main carriage"):])
        raw = dict.fromkeys(self.entry_lines(), F(0))
        # The customs value of each slab, for what is shared by it.
        self.worth = [F(0)] * len(s.slabs)
        # What comes out of the price by leg: an import tax may want it back.
        self.taken = {key: defaultdict(F) for key in raw}
        for at, invoice in enumerate(s.invoices):
            currency = invoice["currency"]
            # A line may be on several entries: its amount falls on them as on its slabs.
            mine, own = defaultdict(F), [F(0)] * len(s.slabs)
            for c in self.charges:
                if c["name"] == "goods" and c["slabs"] and c["invoice"] == at:
                    for i, w in zip(c["slabs"], c["weights"]):
                        if sum(c["weights"]):
                            mine[self.entry_key(i)] += c["amount"] * w / sum(c["weights"])
                            own[i] += c["amount"] * w / sum(c["weights"])
            total = sum(x for x, line in zip(self.line_amounts, s.lines) if line["invoice"] == at)
            extra = sum(x for index, what, x in self.invoiced if index == at and what != "packing")
            for added in invoice.get("addition", []):
                extra += amount(added["amount"])[0]
            for key, x in mine.items():
                if key in raw:
                    x = self.to_customs(x + extra * x / total, currency, key[2])
                    raw[key] += x
                    self.fall(key, x, own)
            for stated in invoice.get("stated", []):
                # What the regime leaves out, stated apart and proved, comes out; a leg before the
                # ship only under a through bill. What the term leaves to the importer is not in
                # the price.
                inside = not s.invoice_bears(invoice, stated["leg"])
                through = stated["leg"] in regime.get("takes-out-through", []) and "through" in stated
                if inside and "evidence" in stated and (stated["leg"] in out or through):
                    for key, x in self.stated(stated, at, currency).items():
                        if key in raw:
                            x = self.to_customs(x, currency, key[2])
                            raw[key] -= x
                            self.taken[key][stated["leg"]] += x
                            self.fall(key, -x, own)
        beside = defaultdict(lambda: defaultdict(F))
        falls = defaultdict(lambda: [F(0)] * len(s.slabs))
        for c in self.charges:
            # What the importer bears beside the price and the value has falls on the entries of what
            # it was counted by, whoever shares it.
            cost = c["treatment"] != "notional" and not c["back"] and not c.get("hedge")
            if c["leg"] in adds and cost or c["leg"] == "export packing":
                for key, x in self.by_line(c).items():
                    raw[key] += x
                    beside[c["name"], c["leg"]][key] += x
                    row = falls[c["name"], c["leg"]]
                if self.by_line(c):
                    weights = self.weights(c)
                    for i, w in zip(c["slabs"], weights):
                        row[i] += c["amount"] * w / sum(weights)
        # On a line's slabs they fall as their row does.
        for name, keys in beside.items():
            for key, x in keys.items():
                self.fall(key, x, falls[name])
        self.adds = adds
        size = amount(regime["value-step"])[0] if "value-step" in regime else F(0)
        size = size or F(1, 10 ** minor(regime["currency"]))
        self.entered = {key: size * places_away(x / size, 0) for key, x in raw.items()}
        self.duty = dict.fromkeys(raw, F(0))
        for key, members in self.entry_lines().items():
            self.levy(key, members)

    def fall(self, key, x, shares):
        """Lets a part of a line's value fall on its slabs, as some amounts lie on them."""
        members = self.entry_lines()[key]
        whole = sum(shares[i] for i in members)
        if not whole:
            shares, whole = list(self.worth), sum(self.worth[i] for i in members)
        for i in members:
            self.worth[i] += x * shares[i] / whole if whole else 0

    def by_line(self, c):
        """A charge by line of an entry, at the customs rate: by what it was counted by; inside of that
        by what it is charged on, and by mass where that says nothing."""
        slabs = c["on"]
        if c["by"] == "value":
            weights = self.goods_worth(slabs, "book")
        elif c["by"] == "count":
            weights = [F(1)] * len(slabs)
        else:
            weights = [self.s.slabs[i][c["by"]] for i in slabs]
        got = defaultdict(F)
        lines = {i: key for key, members in self.entry_lines().items() for i in members}
        for i, w in zip(slabs, weights):
            if i in lines:
                x = self.to_customs(c["amount"], c["currency"], lines[i][2])
                got[lines[i]] += x * w / sum(weights)
        return got

    def goods_worth(self, slabs, figure):
        """What the goods of some slabs come to, exactly."""
        worth = defaultdict(F)
        for c in self.charges:
            if c["name"] == "goods" and sum(c["weights"]):
                for i, w in zip(c["slabs"], c["weights"]):
                    worth[i] += c[figure] * w / sum(c["weights"])
        return [worth[i] for i in slabs]

    def stated(self, stated, invoice, currency):
        """What an invoice states of a leg in its price, by line of an entry: each box alike, inside a box
        by mass; what is charged on a value by price."""
        s = self.s
        x, unit = amount(stated["amount"])
        assert unit == currency
        slabs = [i for i in self.all if s.lines[s.slabs[i]["line"]]["invoice"] == invoice]
        if "bill" in stated:
            slabs = [i for i in slabs if i in self.by_bill[stated["bill"]]]
        got = defaultdict(F)
        if stated["leg"] in ("insurance", "duty and tax") or stated.get("key") == "value":
            worth = self.goods_worth(slabs, "amount")
            for i, w in zip(slabs, worth):
                got[self.entry_key(i)] += x * w / sum(worth)
            return got
        boxes = [[i for i in slabs if s.slabs[i]["bundle"] in inside] for _, _, inside in self.boxes]
        boxes = [box for box in boxes if box]
        for box in boxes:
            mass = sum(s.slabs[i]["mass"] for i in box)
            for i in box:
                got[self.entry_key(i)] += x / len(boxes) * s.slabs[i]["mass"] / mass
        return got

    def levy(self, key, members):
        """Every layer of duty on a line, each rounded alone."""
        s, regime = self.s, self.regime()
        number, origin, entry = key
        day = [e["entered"] for e in s.entries if e["id"] == entry][0]
        rows = [r for r in self.r.duties if r["regime"] == regime["id"] and holds(r, day)
                and (r["line"] == number or r["layer"] != "base" and number.startswith(r["line"]))
                and ("origins" not in r or origin in r["origins"])
                and ("loaded" not in r or window(r["loaded"])[0] <= s.dates["sails"]
                     <= window(r["loaded"])[1])]
        off = {name for r in rows for name in r.get("excludes", [])}
        rows = [r for r in rows if r["name"] not in off]
        base = [percent(r["rate"]) for r in rows if r["layer"] == "base"][0]
        for row in rows:
            assert row["layer"] in ("base", "additive", "top-up")
            rate = percent(row["rate"])
            if row["layer"] == "top-up":
                rate = max(F(0), rate - base)
            x = money(rate * self.entered[key], regime["currency"])
            self.duty[key] += x
            key_of_row = row.get("key", "base" if s.yard.get("percentages") == "base" else "area")
            self.add(row["name"], "duty and tax", "tariff line", self.label(key), members, x,
                     regime["currency"], paid=self.paid_on({"leg": "duty and tax"}, members), key=key_of_row,
                     weights=[self.worth[i] for i in members] if key_of_row == "base" else None)

    def taxed(self):
        """The base of an import tax: value, duty, and the legs that the regime adds, rounded once
        for an entry; here by line, as one entry has one line in every shipment that is taxed."""
        regime = self.regime()
        wanted = regime.get("tax-adds", [])
        got = {}
        for key, x in self.entered.items():
            x += self.duty[key] + sum(y for leg, y in self.taken[key].items() if leg in wanted)
            for c in self.charges:
                beside = c["leg"] in wanted and c["leg"] not in self.adds
                if beside and c["treatment"] != "notional" and not c["back"]:
                    x += self.by_line(c)[key]
            got[key] = money(x, regime["currency"])
        return got

    # ---- spreading

    def share(self):
        """R4: every charge straight over the slabs of its scope. Its shares, and what every slab,
        bundle and box bears of the stock charges together, are the exact figure rounded down or
        up; which of the two is the program's to choose. Here are the exact figures, in units."""
        s = self.s
        unit = 10 ** minor(s.book)
        self.costs = [F(0)] * len(s.slabs)
        for c in self.charges:
            if c["treatment"] == "stock" and c["book"]:
                weights = self.weights(c)
                whole = sum(weights)
                assert whole > 0 and min(weights) >= 0, "a key that totals nothing"
                for i, w in zip(c["slabs"], weights):
                    self.costs[i] += c["book"] * unit * w / whole
        self.total = sum(self.costs)
        of = lambda kinds: sum(c["book"] for c in self.charges if c["treatment"] in kinds)
        assert of(["stock"]) * unit == self.total
        self.decision = of(["stock", "period", "notional"])

    def weights(self, c):
        """The key of a charge, for each slab of its scope."""
        if c["weights"] is not None:
            return c["weights"]
        s, key = self.s, c["key"]
        if key == "value" and c["scope"] == "invoice":
            # An item of an invoice goes by what that invoice bills for each slab, in its currency.
            [at] = {s.lines[s.slabs[i]["line"]]["invoice"] for i in c["slabs"]}
            return [self.own[at][i] for i in c["slabs"]]
        if key == "value":
            share = self.goods_share()
            return [share[i] for i in c["slabs"]]
        if key == "count":
            return [F(1)] * len(c["slabs"])
        return [s.slabs[i][key] for i in c["slabs"]]

    def base(self, of):
        """What a percentage is of, slab by slab (IAS 2.10-11)."""
        if of in ("entered value", "taxed value"):
            return self.worth
        share = [F(0)] * len(self.s.slabs)
        for c in self.charges:
            price = c["name"] in ("goods", "discount", ROUNDING)
            paid = c["treatment"] != "notional" and not c["back"] and not c.get("hedge")
            if price if of == "goods" else paid and LEGS.index(c["leg"]) < LEGS.index("insurance"):
                weights = self.weights(c)
                for i, w in zip(c["slabs"], weights):
                    share[i] += c["book"] * w / sum(weights) if sum(weights) else 0
        return share

    def goods_share(self):
        """What each slab's goods come to in the book currency, exactly: one footing for invoices in
        several currencies."""
        share = [F(0)] * len(self.s.slabs)
        for c in self.charges:
            if c["name"] == "goods":
                whole = sum(c["weights"])
                for i, w in zip(c["slabs"], c["weights"]):
                    share[i] += c["book"] * w / whole if whole else 0
        return share


# ---------------------------------------------------------------- running it

def load_of(args, root, name):
    """[(label, type, bundles)], as the program loads or the plan says."""
    if args.load:
        text = pathlib.Path(args.load).read_text()
    else:
        command = [args.program, "--dir", str(root), "load", name, "--as", "json"]
        text = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    offers = lambda box: {o["table"]: o["offer"] for o in box.get("offers", [])}
    return [(Label(box["container"], box.get("class"), offers(box)), box["type"],
             [b["bundle"] for b in box["bundles"]]) for box in json.loads(text)["containers"]]


class Label(str):
    """A container's label that knows the road class and the offers it goes by."""

    def __new__(cls, label, road_class, offers):
        made = super().__new__(cls, label)
        made.road_class, made.offers = road_class, offers
        return made


def cheapest(rates, shipment, boxes):
    """Offers of one table are choices: the one of least decision cost that serves, unless the shipment
    names one."""
    pins = shipment.top.get("offers", {})
    options = []
    for table in TABLES:
        # Only who serves this way: a forwarder of another lane offers nothing here.
        here = {"lane": [shipment.lane], "port": shipment.lane.split("-"), "yard": [shipment.yard["id"]]}
        names = sorted({r["offer"] for r in rates.charges if r["table"] == table and "offer" in r
                        and all(r[key] in here[key] for key in here if key in r)})
        pinned = pins.get(table, [])
        pinned = [pinned] if isinstance(pinned, str) else pinned
        options.append(pinned or names or [None])
    best, last = None, None
    for choice in itertools.product(*options):
        try:
            cost = Cost(rates, shipment, boxes, dict(zip(TABLES, choice)))
        except NoOffer as error:
            last = error
            continue
        if best is None or cost.decision < best.decision:
            best = cost
    if best is None:
        raise last
    return best


def result(cost):
    s, digits = cost.s, minor(cost.s.book)
    charges = []
    for c in cost.charges:
        if c["amount"] == 0:
            continue
        charges.append({
            "name": c["name"], "leg": c["leg"], "scope": c["scope"], "of": c["of"], "key": c["key"],
            "amount": plain(c["amount"], minor(c["currency"])), "currency": c["currency"],
            "book_amount": plain(c["book"], digits), "treatment": c["treatment"]})
    amount_of = lambda x: plain(F(x, 10 ** digits), digits)
    bounds = lambda x: {"least": amount_of(math.floor(x)), "most": amount_of(math.ceil(x))}
    of_bundle = defaultdict(F)
    for slab, x in zip(s.slabs, cost.costs):
        of_bundle[slab["bundle"]] += x
    of_box = [(b[0], sum(of_bundle[bundle] for bundle in b[2])) for b in cost.boxes]
    charges.sort(key=lambda c: (LEGS.index(c["leg"]), c["name"], c["scope"], c["of"], c["amount"]))
    return {
        "about": "written by tests/oracle/landed.py; see tests/oracle/README.md",
        "shipment": s.name,
        "currency": s.book,
        "containers": [{"container": b[0], "type": b[1], "bundles": b[2]} for b in cost.boxes],
        "offers": {t: " and ".join(sorted({r["offer"] for r in cost.rows
                                           if r["table"] == t and "offer" in r}))
                   for t in dict.fromkeys(r["table"] for r in cost.rows if "offer" in r)},
        "entered": {cost.label(key): plain(x, digits) for key, x in cost.entered.items()},
        "slabs": [{"slab": slab["slab"], "bundle": slab["bundle"],
                   "billed_area_m2": plain(places_away(slab["area"], 6), 6),
                   **bounds(x)}
                  for slab, x in zip(s.slabs, cost.costs)],
        "bundles": [{"bundle": bundle, **bounds(x)} for bundle, x in of_bundle.items()],
        "boxes": [{"container": label, **bounds(x)} for label, x in of_box],
        "charges": charges,
        "total": amount_of(cost.total),
        "decision_total": plain(cost.decision, digits),
    }


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--dir", default=".", help="the workspace")
    parser.add_argument("--program", default="target/debug/quaystone")
    parser.add_argument("--load", help="a load as JSON, for --show")
    parser.add_argument("--show", metavar="NAME")
    parser.add_argument("--write", metavar="OUTDIR")
    parser.add_argument("--check", metavar="OUTDIR")
    args = parser.parse_args()
    root = pathlib.Path(args.dir)
    rates = Rates(root)
    wrong = 0
    for folder in sorted(f.parent for f in root.glob("shipments/*/shipment.toml")):
        if args.show and folder.name != args.show:
            continue
        shipment = Shipment(rates, folder)
        cost = cheapest(rates, shipment, load_of(args, root, folder.name))
        text = json.dumps(result(cost), indent=1, ensure_ascii=False) + "\n"
        name = f"{folder.name}.json"
        if args.write:
            (pathlib.Path(args.write) / name).write_text(text, encoding="utf-8")
        elif args.check:
            same = (pathlib.Path(args.check) / name).read_text(encoding="utf-8") == text
            print(f"{name}: {'as written' if same else 'DIFFERS'}")
            wrong += not same
        else:
            print(text, end="")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
