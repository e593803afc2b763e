"""A second reading of how blocks are sawn, from the rules of shipments/README.md and rates/README.md.

    python3 saw.py > saw.json       # 300 invented blocks, the same each time

It shares nothing with the program: fractions throughout, lengths in millimetres.
"""

import json
import random
from fractions import Fraction as F
from math import floor


def half_away(value, places):
    """Rounds half away from zero."""
    scaled = abs(value) * 10**places
    whole = floor(scaled + F(1, 2))
    return F(whole if value >= 0 else -whole, 10**places)


def rounded(value, places, mode):
    if places is None:
        return value
    unit = F(1, 10**places)
    down = floor(value / unit) * unit
    if mode == "down":
        return down
    if mode == "up":
        return down if down == value else down + unit
    return half_away(value, places)


def billed(block):
    """What the quarry bills: tonnes as weighed, or net cubic metres."""
    if "weighed_kg" in block:
        return F(block["weighed_kg"]) / 1000
    length, width, height = (F(side) for side in block["sides"])
    off = block.get("off_sides")
    if off:
        length, width, height = length - F(off[0]), width - F(off[1]), height - F(off[2])
    net = length * width * height / 10**9
    if "off_percent" in block:
        net = net * (100 - F(block["off_percent"])) / 100
    return rounded(net, block["places"], block["rounding"])


def sawn(one):
    """What comes of a block: the word of a refusal, or its figures."""
    block, saw = one["block"], one["saw"]
    sides = [F(side) for side in block["sides"]]
    squared = [side - F(off) for side, off in zip(sides, one["squaring"] or [0, 0, 0])]
    if min(squared) <= 0:
        return {"refused": "squared"}
    at = ["length", "width", "height"].index(one["through"])
    cut = squared.pop(at)
    face = sorted(squared, reverse=True)
    if cut > F(saw["widest"]):
        return {"refused": "wide"}
    if face[0] > F(saw["longest"]):
        return {"refused": "long"}
    kerf, thick = F(saw["kerf"]), F(one["thickness"])
    # n slabs and n - 1 kerfs between them: n t + (n - 1) k <= w.
    count = 0
    while (count + 1) * thick + count * kerf <= cut:
        count += 1
    kept = count - (2 if one["outer_is_waste"] else 0)
    if kept <= 0:
        return {"refused": "thin"}
    charged = -(-count // saw["most"])
    area = face[0] * face[1] / 10**6
    volume = sides[0] * sides[1] * sides[2] / 10**9
    pieces, amounts, goes_in = F(count), [], []
    for number, step in enumerate([saw, *one["steps"]]):
        much = volume if step["per"] == "m3" else pieces * area
        amount = F(step["price"]) * much
        least = F(step["least"] or 0) * (charged if number == 0 else 1)
        amounts.append(half_away(max(amount, least), 2))
        goes_in.append(much)
        if number == 0:
            pieces = F(kept)
        pieces = pieces * (100 - F(step["loss"])) / 100
    if floor(pieces) == 0:
        return {"refused": "lost"}
    quantity = billed(block)
    return {
        "sawn": count,
        "passes": charged,
        "slabs": floor(pieces),
        "face_tenths": [int(side * 10) for side in face],
        "billed_billionths": int(half_away(quantity, 9) * 10**9),
        "block_cents": int(half_away(F(block["price"]) * quantity, 2) * 100),
        "step_cents": [int(amount * 100) for amount in amounts],
        "goes_in_ten_thousandths": [int(half_away(much, 4) * 10**4) for much in goes_in],
    }


def step(draw):
    return {
        "price": f"{draw.randint(100, 2500) / 100:.2f}",
        "per": "m2",
        "least": draw.choice([None, None, f"{draw.randint(1, 9)}00"]),
        "loss": draw.choice(["0", "1", "2.5", "4"]) if draw.random() < 0.97 else "99.5",
    }


def case(draw):
    block = {
        "sides": [str(draw.randint(8, 350) * 10), str(draw.randint(2, 210) * 10), str(draw.randint(2, 2100))],
        "price": f"{draw.randint(5000, 150000) / 100:.2f}",
        "places": draw.choice([None, 2, 3]),
        "rounding": draw.choice(["nearest", "down", "up"]),
    }
    kind = draw.randrange(4)
    if kind == 0:
        block["off_sides"] = [str(draw.randint(0, 7)), str(draw.randint(0, 5)), "1.5"]
    elif kind == 1:
        block["off_percent"] = draw.choice(["3", "5", "7.5"])
    elif kind == 2:
        block["weighed_kg"] = str(draw.randint(500, 30000))
    saw = step(draw)
    saw.update(
        kerf=draw.choice(["5", "5.3", "6", "8", "10"]),
        widest=str(draw.choice([1500, 2000, 2200])),
        longest=str(draw.choice([2800, 3500])),
        most=draw.choice([20, 60, 90]),
    )
    if draw.random() < 0.2:
        saw["per"], saw["price"] = "m3", f"{draw.randint(200, 600)}"
    return {
        "block": block,
        "saw": saw,
        "steps": [step(draw) for _ in range(draw.randint(0, 3))],
        "through": draw.choice(["length", "width", "height"]),
        "thickness": draw.choice(["12", "20", "30", "60"]),
        "squaring": draw.choice([None, None, ["40", "20", "40"], ["15", "15", "15.5"]]),
        "outer_is_waste": draw.random() < 0.4,
    }


def main():
    draw = random.Random(17)
    cases = [case(draw) for _ in range(300)]
    for one in cases:
        one["expected"] = sawn(one)
    print("[\n" + ",\n".join(json.dumps(one) for one in cases) + "\n]")


if __name__ == "__main__":
    main()
