#!/usr/bin/env python3
"""Every chain of ports and ships, counted here: the first sailing that the goods make, its days, and the cost that
`cost` says of files with lane and days written in. It shares nothing with the program but the files.

    python3 tests/oracle/routes.py --program target/debug/quaystone --cases 100 [--seed 1]
"""

import argparse
import json
import random
import shutil
import subprocess
import sys
import tempfile
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

TINY = Path(__file__).resolve().parent.parent / "tiny"
WEEK = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
QUOTED, DELIVERY = date(2026, 3, 4), 3
HEAD = 'title = "Plain marble (invented)"\nto = "savannah"\nlane = "{lane}"\n' \
       'dates = {{ quoted = 2026-03-04, sails = {sails}, arrives = {arrives} }}\n' \
       '[[invoice]]\nsupplier = "Quarry Inkwell (invented)"\nnumber = "I-1"\nterm = "FOB {port}"\n' \
       'price-valid = "2026-03-01..2026-04-15"\n[[invoice.line]]\nid = "A"\nstone = "chalk"\nfinish = "polished"\n' \
       'thickness = "20 mm"\nprice = "40.00 EUR/m2"\n{ready}'


def first(row, ready):
    """The first sailing whose port closes on the day or later, by looking at one day after the other."""
    day = max(ready, row["from"])
    while day <= row["until"]:
        leaves = day in row["days"] if row["days"] else WEEK[day.weekday()] in row["weekdays"]
        if leaves and day - timedelta(row["closes"]) >= ready:
            return day
        day += timedelta(1)
    return None


def case(seed, program):
    draw = random.Random(seed)
    loads = ["TRIZM"] + (["TRMER"] if draw.random() < 0.6 else [])
    lands = ["USSAV"] + (["USCHS"] if draw.random() < 0.6 else [])
    prices = {(one, other): draw.randint(1500, 2500) for one in loads for other in lands}
    rows = []
    for lane in prices:
        for number in range(draw.randint(0, 2)):
            start = date(2026, 3, 1) + timedelta(draw.randint(0, 40))
            until = start + timedelta(draw.randint(5, 90))
            listed = draw.random() < 0.4
            rows.append({
                "lane": lane, "service": f"S{number}", "closes": draw.randint(0, 9), "transit": draw.randint(12, 35),
                "from": start, "until": until, "weekdays": draw.sample(WEEK, draw.randint(1, 2)),
                "days": sorted(start + timedelta(draw.randint(0, (until - start).days)) for _ in range(3)) if listed else [],
            })
    if draw.random() < 0.5:
        ready = date(2026, 3, 1) + timedelta(draw.randint(0, 50))
        said = f"ready = {ready}\n"
    else:
        days = draw.randint(0, 50)
        ready, said = QUOTED + timedelta(days), f"lead-days = {days}\n"
    ready = max(ready, QUOTED)
    if len(loads) > 1:
        said += 'ports = ["TRMER"]\n'
    folder = Path(tempfile.mkdtemp())
    shutil.copytree(TINY / "rates", folder / "rates")
    window = 'valid = "2026-03-01..2026-06-30"\nsource = "invented"\n'
    freight = ""
    for (one, other), price in prices.items():
        freight += f'[[charge]]\nlane = "{one}-{other}"\ncontainer = "20gp"\nname = "ocean freight"\nleg = "main carriage"\n' \
                   f'amount = "{price} USD"\nper = "container"\n{window}'
    (folder / "rates" / "freight.toml").write_text(freight)
    text = (folder / "rates" / "yards.toml").read_text()
    if len(lands) > 1:
        text = text.replace('port = "USSAV"\n', 'port = "USSAV"\nports = ["USCHS"]\n')
    (folder / "rates" / "yards.toml").write_text(text)
    schedule = ""
    for row in rows:
        when = f'days = [{", ".join(map(str, row["days"]))}]' if row["days"] else f"weekdays = {json.dumps(row['weekdays'])}"
        schedule += f'[[sailing]]\nlane = "{"-".join(row["lane"])}"\nservice = "{row["service"]}"\n{when}\ncloses = {row["closes"]}\n' \
                    f'transit-days = {row["transit"]}\nvalid = "{row["from"]}..{row["until"]}"\nsource = "invented"\n'
    (folder / "rates" / "sailings.toml").write_text(schedule)

    def write(name, lane, sails, arrives):
        own = folder / "shipments" / name
        own.mkdir(parents=True)
        (own / "packing.csv").write_text((TINY / "shipments" / "plain" / "packing.csv").read_text())
        (own / "shipment.toml").write_text(HEAD.format(
            lane="-".join(lane), sails=sails, arrives=arrives, port=lane[0], ready=said))

    def ask(*words):
        run = subprocess.run([program, *words, "--as", "json", "--dir", str(folder)], capture_output=True, text=True)
        return json.loads(run.stdout) if run.stdout else None

    write("plain", ("TRIZM", "USSAV"), date(2026, 4, 11), date(2026, 5, 9))
    found = ask("routes", "plain")
    chains = []
    for lane in ((one, other) for one in loads for other in lands):
        for row in (row for row in rows if row["lane"] == lane):
            sails = first(row, ready)
            chain = [*lane, row["service"], None, None, None, None]
            if sails:
                arrives = sails + timedelta(row["transit"])
                delivered = arrives + timedelta(DELIVERY)
                name = f"chain-{len(chains)}"
                write(name, lane, sails, arrives)
                cost = ask("cost", name)
                chain[3:] = [str(sails), str(arrives), (delivered - QUOTED).days, cost and cost["decision_total"]]
            chains.append(chain)
    if found is None:
        shutil.rmtree(folder)
        return f"{seed}: no page"
    told = [[one["from"], one["to"], one["service"], one["sails"], one["arrives"], one["days"], one["decision"]]
            for one in found["routes"] if one["service"]]
    shutil.rmtree(folder)
    if told != chains:
        return f"{seed}: said {told}; by hand {chains}"
    costed = [(Decimal(one["decision"]), one["days"], at) for at, one in enumerate(found["routes"]) if one["decision"]]
    cheapest = min(costed)[2] if costed else None
    fastest = min((days, cost, at) for cost, days, at in costed)[2] if costed else None
    if (found["cheapest"], found["fastest"]) != (cheapest, fastest):
        return f"{seed}: cheapest and fastest {found['cheapest']}, {found['fastest']}; by hand {cheapest}, {fastest}"
    return None


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("--program", default="target/debug/quaystone")
    asked.add_argument("--cases", type=int, default=100)
    asked.add_argument("--seed", type=int, default=1)
    asked = asked.parse_args()
    wrong = [said for said in (case(seed, asked.program) for seed in range(asked.seed, asked.seed + asked.cases)) if said]
    print(f"{asked.cases} schedules, {len(wrong)} otherwise")
    for said in wrong:
        print(said)
    sys.exit(1 if wrong else 0)


main()
