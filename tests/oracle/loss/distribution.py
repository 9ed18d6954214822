# SPDX-License-Identifier: Apache-2.0
# Writes distribution_table.inc from an independent program, scipy.
# Run: /usr/bin/python3 tests/oracle/loss/distribution.py > tests/oracle/loss/distribution_table.inc
import sys
import scipy
from scipy import integrate, optimize, stats

print(f"// Made by tests/oracle/loss/distribution.py with Python {sys.version.split()[0]}, scipy {scipy.__version__}.")
print("// kind, three parameters, value")


def row(kind, a, b, c, value):
    print(f"{{Kind::{kind}, {a!r}, {b!r}, {c!r}, {value:.13g}}},")


for shape in (0.5, 1.0, 4.2828, 17.1312, 60.0):
    for x in (0.01, 0.12, 0.5, 0.75, 2.0):
        row("gamma_cdf", shape, 0.02802, x, stats.gamma.cdf(x, shape, scale=0.02802))
        row("gamma_survival", shape, 0.02802, x, stats.gamma.sf(x, shape, scale=0.02802))
    for p in (0.001, 0.05, 0.5, 0.97, 0.9999):
        row("gamma_quantile", shape, 0.0507, p, stats.gamma.ppf(p, shape, scale=0.0507))
for mean, p97 in ((0.07, 0.15), (0.12, 0.25), (0.25, 0.5), (0.5, 1.0), (0.3, 0.6)):
    k = optimize.brentq(lambda k: stats.gamma.ppf(0.97, k) / k - p97 / mean, 1, 30, xtol=1e-13)
    row("grade_shape", mean, p97, 0.0, k)
# Pearson type III with mean, standard deviation, skewness
for skew in (0.3, 0.966, -0.5):
    for p in (0.01, 0.5, 0.99, 0.9999):
        row("pearson3_quantile", skew, 0.74, p, stats.pearson3.ppf(p, skew, loc=0.74, scale=0.1791))
# A sum that does not close: 2 B + 2 C by Fourier-free brute force, the convolution integral of two gammas.
b2 = stats.gamma(2 * 4.2828, scale=0.02802)
c2 = stats.gamma(2 * 4.9313, scale=0.0507)
for limit in (0.8, 1.0, 1.2, 1.5):
    value = integrate.quad(lambda x: b2.pdf(x) * c2.sf(limit - x), 0, 3, epsabs=1e-14, epsrel=1e-11, limit=400, points=[0.24, limit] if limit < 3 else None)[0]
    row("two_b_two_c", limit, 0.0, 0.0, value + b2.sf(3))
