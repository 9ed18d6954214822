#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
# pandas_verdicts.py READINGS.csv SCHEDULE.csv FIXED ALPHA850 ALPHA1300: the work of bench_verdicts in pandas.
# The clock starts when the library is loaded.
import json
import sys
import time

import pandas

readings_path, schedule_path = sys.argv[1:3]
fixed, alpha850, alpha1300 = map(float, sys.argv[3:6])
start = time.perf_counter()
schedule = pandas.read_csv(schedule_path, usecols=["link", "length_m"])
readings = pandas.read_csv(readings_path, parse_dates=["taken_at"])
rows = readings.merge(schedule, on="link", suffixes=("", "_drawn"))
alpha = rows["wavelength_nm"].map({850: alpha850, 1300: alpha1300})
rows["margin"] = fixed + rows["length_m_drawn"] / 1000 * alpha - rows["attenuation_db"]
worst = rows.loc[rows.groupby("link")["margin"].idxmin(), ["link", "position", "margin"]]
answer = {"links": len(worst), "failing": int((worst["margin"] < 0).sum()), "margins": float(worst["margin"].sum())}
print(json.dumps({"seconds": time.perf_counter() - start, **answer}))
