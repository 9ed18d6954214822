# SPDX-License-Identifier: Apache-2.0
# Writes robust_table.inc: quantiles and a median absolute deviation from an independent program, scipy.
# Run: /usr/bin/python3 tests/oracle/watch/robust.py > tests/oracle/watch/robust_table.inc
import sys
import numpy
import scipy
from scipy import stats

print(f"// Made by tests/oracle/watch/robust.py with Python {sys.version.split()[0]}, numpy {numpy.__version__}, scipy {scipy.__version__}.")
print("// kind, two parameters, value")
for p in (1e-6, 0.001, 0.05, 0.3, 0.5, 0.97, 0.9999):
    print(f"{{Kind::normal, {p}, 0, {stats.norm.ppf(p):.12g}}},")
y = numpy.array([0.02, 0.07, 0.033, -0.009, 0.055, 0.021, 0.146, 0.294, 0.131, 0.138, 0.269, 0.276])
print(f"{{Kind::mad, 0, 0, {stats.median_abs_deviation(y):.12g}}},")
