"""Small whole loads solved by a model of its own: CP-SAT over boxes, places and moments.

    python loads.py --write    draws the loads, solves them, writes loads/*.json beside this file
    python loads.py --check    solves the written loads again and compares the costs

Needs `pip install ortools`. Nothing here is taken from the Rust: the rules are those of the
problem as src/load/engine/mod.rs tells them. All numbers are whole: kg, mm, whole currency units.
The loads are invented.
"""

import json
import random
import sys
from pathlib import Path

from ortools.sat.python import cp_model

HERE = Path(__file__).parent / "loads"


def draw(seed):
    """A load of seven to eleven bundles for two kinds of boxes."""
    dice = random.Random(seed)
    gap = dice.choice([0, 40])
    groups = dice.choice(["free", "rule", "wish"])
    kinds = [
        dict(length=length, width=2350, door=2280, payload=payload - 100 * dice.randint(0, 30),
             cost=cost + 10 * dice.randint(0, 9), available=available, gap_end=gap,
             gap_side=gap // 2, line=4600 if dice.random() < 0.6 else None, along=50, across=60)
        for length, payload, cost, available in
        [(5900, 21700, 1500, None), (12030, 26500, 2400, dice.choice([1, None]))]
    ]
    pieces = [
        dict(mass=10 * dice.randint(150, 430), length=10 * dice.randint(220, 325),
             width=5 * dice.randint(50, 130), height=10 * dice.randint(140, 200),
             group=dice.choice([None, None, 0, 1]))
        for _ in range(dice.randint(7, 11))
    ]
    return dict(note="invented; kg, mm, whole currency units; tolerances in thousandths",
                groups=groups, wish=300, kinds=kinds, pieces=pieces)


def solve(load, rounded_up):
    """The least cost, proven by CP-SAT; line loads in grams per metre, rounded down or up."""
    model, pieces = cp_model.CpModel(), load["pieces"]
    boxes = [kind for kind in load["kinds"] for _ in range(min(kind["available"] or 99, 4))]
    inside, used = {}, []
    for b, kind in enumerate(boxes):
        used.append(model.new_bool_var(f"used{b}"))
        spans, moments = [[], []], [[], []]
        for p, piece in enumerate(pieces):
            inside[p, b] = here = model.new_bool_var(f"in{p},{b}")
            model.add_implication(here, used[b])
            if piece["height"] > kind["door"]:
                model.add(here == 0)
            for axis, (extent, own, free) in enumerate([
                (kind["length"], piece["length"], kind["gap_end"]),
                (kind["width"], piece["width"], kind["gap_side"]),
            ]):
                # Every box has places of its own for every bundle: slower, and plain to read.
                start = model.new_int_var(free, max(free, extent - free - own), "")
                if extent - 2 * free < own:
                    model.add(here == 0)
                spans[axis].append(model.new_optional_fixed_size_interval_var(start, own, here, ""))
                most = piece["mass"] * 2 * extent
                moment = model.new_int_var(-most, most, "")
                arm = 2 * start + own - extent
                model.add(moment == piece["mass"] * arm).only_enforce_if(here)
                model.add(moment == 0).only_enforce_if(~here)
                moments[axis].append(moment)
        model.add_no_overlap_2d(*spans)
        mass = sum(piece["mass"] * inside[p, b] for p, piece in enumerate(pieces))
        model.add(mass <= kind["payload"])
        for axis, extent, share in [(0, kind["length"], kind["along"]),
                                    (1, kind["width"], kind["across"])]:
            model.add(1000 * sum(moments[axis]) <= 2 * share * extent * mass)
            model.add(-1000 * sum(moments[axis]) <= 2 * share * extent * mass)
        if kind["line"]:
            shares = [(piece["mass"] * 1000 * 1000 + (piece["length"] - 1) * rounded_up)
                      // piece["length"] for piece in pieces]
            model.add_cumulative(spans[0], shares, kind["line"] * 1000)
        if b and boxes[b - 1] is kind:
            model.add(used[b - 1] >= used[b])
    for p in range(len(pieces)):
        model.add_exactly_one(inside[p, b] for b in range(len(boxes)))
    cost = sum(kind["cost"] * used[b] for b, kind in enumerate(boxes))
    for group in sorted({piece["group"] for piece in pieces} - {None}):
        touched = [model.new_bool_var("") for _ in boxes]
        for p, piece in enumerate(pieces):
            if piece["group"] == group:
                for b in range(len(boxes)):
                    model.add_implication(inside[p, b], touched[b])
        if load["groups"] == "rule":
            model.add(sum(touched) <= 1)
        elif load["groups"] == "wish":
            cost += load["wish"] * (sum(touched) - 1)
    model.minimize(cost)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = 60
    if solver.solve(model) != cp_model.OPTIMAL:
        return None
    return round(solver.objective_value)


def settled(load):
    """The cost if it is the same whichever way the line loads are rounded."""
    costs = {solve(load, rounded_up) for rounded_up in (0, 1)}
    return costs.pop() if len(costs) == 1 else None


def write():
    """Keeps the first six loads that need more than one box."""
    HERE.mkdir(exist_ok=True)
    wanted, seed = 6, 0
    while wanted:
        seed += 1
        load = draw(seed)
        cost = settled(load)
        print(seed, len(load["pieces"]), load["groups"], cost, flush=True)
        if cost is not None and cost > max(kind["cost"] for kind in load["kinds"]):
            text = json.dumps(dict(load, seed=seed, cost=cost), indent=1)
            (HERE / f"load-{seed:02}.json").write_text(text + "\n")
            wanted -= 1


def check():
    for file in sorted(HERE.glob("*.json")):
        load = json.loads(file.read_text())
        cost = settled(load)
        print(file.name, load["cost"], cost)
        if cost != load["cost"]:
            sys.exit(f"{file.name}: says {load['cost']}, CP-SAT finds {cost}")


if __name__ == "__main__":
    {"--write": write, "--check": check}[sys.argv[1]]()
