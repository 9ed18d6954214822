# SPDX-License-Identifier: Apache-2.0
# Writes robust_table.inc: quantiles, critical values and slopes from an independent program, scipy.
# Run: /usr/bin/python3 tests/oracle/watch/robust.py > tests/oracle/watch/robust_table.inc
import math
import sys
import numpy
import scipy
from scipy import stats

print(f"// Made by tests/oracle/watch/robust.py with Python {sys.version.split()[0]}, numpy {numpy.__version__}, scipy {scipy.__version__}.")
print("// kind, two parameters, value")
for p in (0.95, 0.975, 0.99, 0.999):
    for df in (1, 2, 5, 10, 16.7, 50):
        print(f"{{Kind::student, {p}, {df}, {stats.t.ppf(p, df):.12g}}},")
for p in (1e-6, 0.001, 0.05, 0.3, 0.5, 0.97, 0.9999):
    print(f"{{Kind::normal, {p}, 0, {stats.norm.ppf(p):.12g}}},")
for n in (3, 7, 12, 24, 96):
    for alpha in (0.01, 0.05):
        t = stats.t.ppf(1 - alpha / (2 * n), n - 2)
        print(f"{{Kind::grubbs_two_sided, {n}, {alpha}, {(n - 1) / math.sqrt(n) * math.sqrt(t * t / (n - 2 + t * t)):.12g}}},")
x = numpy.arange(1.0, 13.0)
y = numpy.array([0.02, 0.07, 0.033, -0.009, 0.055, 0.021, 0.146, 0.294, 0.131, 0.138, 0.269, 0.276])
line = stats.theilslopes(y, x, 0.95)
print(f"{{Kind::theil_sen_slope, 0, 0, {line.slope:.12g}}},")
print(f"{{Kind::theil_sen_slope_low, 0, 0, {line.low_slope:.12g}}},")
print(f"{{Kind::theil_sen_slope_high, 0, 0, {line.high_slope:.12g}}},")
print(f"{{Kind::mad, 0, 0, {stats.median_abs_deviation(y):.12g}}},")
walsh = [(y[i] + y[j]) / 2 for i in range(12) for j in range(i, 12)]
print(f"{{Kind::hodges_lehmann, 0, 0, {numpy.median(walsh):.12g}}},")
