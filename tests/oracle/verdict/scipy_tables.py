#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
# An independent program for tests/oracle/verdict: writes scipy_table.inc. Run by hand:
#   /usr/bin/python3 scipy_tables.py > scipy_table.inc
import numpy
import scipy
from scipy.stats import norm, t

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
