#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
# An independent program for tests/oracle/verdict: writes scipy_table.inc. Run by hand:
#   /usr/bin/python3 scipy_tables.py > scipy_table.inc
import math

import numpy
import scipy
from scipy.integrate import quad
from scipy.stats import gamma, norm, t, truncnorm

print("// SPDX-License-Identifier: Apache-2.0")
print(f"// Made by scipy_tables.py with scipy {scipy.__version__}, numpy {numpy.__version__}. Not edited by hand.")


def table(name, kind, rows):
    print(f"constexpr {kind} {name}[] = {{")
    for row in rows:
        print("    {" + ", ".join(repr(float(x)) for x in row) + "},")
    print("};")


print("struct CdfRow { double z, p; };")
table("scipy_normal", "CdfRow", [(z, norm.cdf(z)) for z in numpy.linspace(-8, 6, 57)])

print("struct StudentRow { double probability, freedom, k; };")
table("scipy_student", "StudentRow",
      [(p, v, t.ppf((1 + p) / 2, v)) for p in (0.5, 0.6827, 0.9, 0.95, 0.9545, 0.99, 0.9973)
       for v in (1, 2, 3, 4, 5, 8, 10, 16, 19, 20, 50, 143, 1000)])

print("struct BoundedRow { double y, u, limit, least, p, mean; };")
rows = []
for y in (-0.10, -0.05, 0.0, 0.02, 0.05, 0.2, 0.7):
    for u in (0.02, 0.05, 0.1):
        for least in (0.0, 0.015):
            a = (least - y) / u
            law = truncnorm(a, math.inf, loc=y, scale=u)
            rows.append((y, u, 0.10, least, law.cdf(0.10), law.mean()))
table("scipy_bounded", "BoundedRow", rows)

print("struct RiskRow { double u, w, consumer, producer, non_conforming; };")
shape, scale, limit = 17.131, 0.02802, 0.75
rows = []
for u in (0.01, 0.02, 0.05, 0.1, 0.19):
    for factor in (-1.645, 0, 1, 1.645, 2):
        edge = limit - factor * u
        law = gamma(shape, scale=scale)
        cuts = sorted({limit, edge, *(edge + k * u for k in (-6, -3, -1, 1, 3, 6))})

        def pieces(f, lo, hi):
            inside = [lo] + [c for c in cuts if lo < c < hi] + [hi]
            return sum(quad(f, a, b, epsabs=1e-14, epsrel=1e-12, limit=400)[0] for a, b in zip(inside, inside[1:]))

        consumer = pieces(lambda x: law.pdf(x) * norm.cdf((edge - x) / u), limit, 3)
        producer = pieces(lambda x: law.pdf(x) * norm.sf((edge - x) / u), 0, limit)
        rows.append((u, factor * u, consumer, producer, law.sf(limit)))
table("scipy_risks", "RiskRow", rows)
