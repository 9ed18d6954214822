#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
# A second implementation of the verdict of a link, from the rules in docs/methods/verdict.md, in plain Python with
# pandas: slow, row by row, shares nothing with the program. Writes judge_table.inc: readings and what follows.
#   /usr/bin/python3 judge_model.py > judge_table.inc
import random
import sys

import pandas

LIMIT = {850: 0.75, 1300: 0.60}
U = 0.05
Z = 1.6448536269514722
DRAWN, TOLERANCE = 30.0, 2.0
LINKS, POSITIONS = 40, 12
ORDER = ["pass", "marginal_pass", "marginal_fail", "open", "held", "fail"]


def worst(states):
    return max(states, key=ORDER.index)


def expected_far(position):  # type B, from either end
    return 13 - position


def readings(rng):
    rows = []
    clock = 0
    for link in range(LINKS):
        trouble = ["none", "loss", "near", "over", "swap", "dark", "length", "hole", "held", "retest"][link % 10]
        for end in "ab" if rng.random() < 0.7 else "a":
            for position in range(1, POSITIONS + 1):
                for nm in (850, 1300):
                    clock += rng.randint(1, 9)
                    row = dict(link=link, end=end, position=position, nm=nm, far=expected_far(position),
                               db=round(rng.uniform(0.1, 0.5), 2), length=30.1, taken=clock, held=0)
                    hit = rng.random() < 0.06
                    if trouble == "loss" and hit:
                        row["db"] = round(rng.uniform(0.8, 1.5), 2)
                    if trouble == "near" and hit:
                        row["db"] = round(LIMIT[nm] - rng.uniform(0, 0.09), 2)
                    if trouble == "over" and hit:
                        row["db"] = round(LIMIT[nm] + rng.uniform(-0.09, 0.09), 2)
                    if trouble == "swap" and position in (3, 4):
                        row["far"] = expected_far(7 - position)
                    if trouble == "dark" and position == 9:
                        row.update(far=0, db=45.0)
                    if trouble == "length":
                        row["length"] = 33.0
                    if trouble == "held" and hit:
                        row["held"] = 1
                    if trouble == "hole" and hit:
                        continue
                    rows.append(row)
                    if trouble == "retest" and hit:
                        rows.append(dict(row, db=2.0, taken=row["taken"] - 5000))
    rng.shuffle(rows)
    return pandas.DataFrame(rows)


def state_of(db, limit, rule):
    margin = limit - db
    if rule == 0:
        return "pass" if margin >= 0 else "fail"
    band = Z * U
    return "pass" if margin >= band else "marginal_pass" if margin >= 0 else \
        "marginal_fail" if margin >= -band else "fail"


def judge(frame, rule, directions):
    latest = frame.sort_values("taken").groupby(["end", "position", "nm"]).tail(1)
    states, margins, missing = [], [], 0
    for fibre in range(1, POSITIONS + 1):
        for nm in (850, 1300):
            found = latest[(latest.nm == nm) & (((latest.end == "a") & (latest.position == fibre)) |
                                                ((latest.end == "b") & (latest.position == expected_far(fibre))))]
            lacking = max(0, directions - len(found))
            missing += lacking
            if lacking:
                states.append("open")
            for row in found.itertuples():
                states.append("held" if row.held else state_of(row.db, LIMIT[nm], rule))
                margins.append((LIMIT[nm] - row.db, fibre, nm))
    wrong = latest[latest.apply(lambda row: row.far != expected_far(row.position), axis=1)]
    off = latest[(latest.length - DRAWN).abs() > TOLERANCE]
    for bad in (wrong, off):
        if len(bad):
            states.append("fail" if (bad.held == 0).any() else "held")
    # A fibre whose far end no reading gives leaves polarity open.
    for fibre in range(1, POSITIONS + 1):
        told = latest[((latest.end == "a") & (latest.position == fibre)) |
                      ((latest.end == "b") & (latest.position == expected_far(fibre)))]
        if not len(told):
            states.append("open")
    return worst(states), min(margin for margin, _, _ in margins), missing, len(latest)


frame = readings(random.Random(20260302))
print("// SPDX-License-Identifier: Apache-2.0")
print(f"// Made by judge_model.py with Python {sys.version.split()[0]}, pandas {pandas.__version__}. Not edited by hand.")
print("constexpr ModelReading model_readings[] = {")
for row in frame.itertuples():
    print(f"{{{row.link}, '{row.end}', {row.position}, {row.far}, {row.nm}, {row.db!r}, {row.length!r}, {row.taken}, {row.held}}},")
print("};")
print("constexpr ModelVerdict model_verdicts[] = {")
for link, part in frame.groupby("link"):
    for rule in (0, 1):
        for directions in (1, 2):
            state, margin, missing, current = judge(part, rule, directions)
            print(f"{{{link}, {rule}, {directions}, State::{state}, {margin!r}, {missing}, {current}}},")
print("};")
