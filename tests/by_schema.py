#!/usr/bin/env python3
"""Tries the schemas by a validator that is not ours: `jsonschema`, draft 7 (json-schema.org, 2018-03-19).

Every file of the demo must be valid. Each of their keys is then misspelt, and each value replaced by one of another
kind: both must be invalid. Of the cases of faults each unknown key must be; of the others as many as a schema can
know of, counted here: what hangs on several keys, on another file or on a calendar, no schema of one file says.

    cargo test --locked --test suite schema::
    tests/by_schema.py [target]
"""
import json
import sys
from pathlib import Path

import jsonschema

ROOT = Path(__file__).resolve().parent.parent
TARGET = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "target"
# The least that must be found invalid of each code, in percent.
LEAST = {"unknown-key": 100, "wrong-type": 85, "unknown-word": 50, "bad-quantity": 60, "missing-key": 14}

tried = json.loads((TARGET / "tmp/schema/tried.json").read_text())
schemas = {}
for path in sorted((ROOT / "rates/schemas").glob("*.json")):
    schema = json.loads(path.read_text())
    jsonschema.Draft7Validator.check_schema(schema)
    schemas[path.stem] = jsonschema.Draft7Validator(schema)



def slips(value, named=False):
    """The same with one key misspelt, or with one value of another kind, each in turn. The keys of a table that is
    `named` by the user, such as amounts by type of container, are known to the other tables alone."""
    if isinstance(value, dict):
        for key, inner in value.items():
            rest = {k: v for k, v in value.items() if k != key}
            if not named:
                yield f"{key} misspelt", rest | {key + "zz": inner}
            yield f"{key} of another kind", rest | {key: 0.5}
            for what, changed in slips(inner, named=key == "amount"):
                yield f"{key}.{what}", rest | {key: changed}
    elif isinstance(value, list):
        for at, inner in enumerate(value):
            for what, changed in slips(inner):
                yield f"{at}.{what}", value[:at] + [changed] + value[at + 1:]


failed = False
count = 0
for one in tried["valid"]:
    for what, changed in slips(one["value"]):
        count += 1
        if schemas[one["schema"]].is_valid(changed):
            failed = True
            print(one["file"], what, "is valid")
print(f"{count} slips of one key tried")
for one in tried["valid"]:
    for error in schemas[one["schema"]].iter_errors(one["value"]):
        failed = True
        print(one["file"], list(error.absolute_path), error.message[:200])
for code, least in LEAST.items():
    own = [one for one in tried["wrong"] if one["code"] == code]
    passed = [one["case"] for one in own
              if all(schemas[f["schema"]].is_valid(f["value"]) for f in one["files"])]
    found = 100 * (len(own) - len(passed)) // max(1, len(own))
    print(f"{code}: {len(own) - len(passed)} of {len(own)} are invalid")
    if found < least:
        failed = True
        print("  valid:", ", ".join(passed))
print(f"{len(tried['valid'])} files of the demo and of the tests tried")
sys.exit(1 if failed else 0)
