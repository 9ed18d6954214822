# SPDX-License-Identifier: Apache-2.0
# Writes planning_table.inc from an independent program, scipy: how many connections fit in a limit, what length does,
# and sums that do not close (a splice beside connections, a joint taken out with the reference) by numerical convolution.
# Run: /usr/bin/python3 tests/oracle/job/planning.py > tests/oracle/job/planning_table.inc
import sys

import numpy
import scipy
from scipy import optimize, signal, stats

print(f"// Made by tests/oracle/job/planning.py with Python {sys.version.split()[0]}, scipy {scipy.__version__}, numpy {numpy.__version__}.")

GRADES = {"B": (0.12, 0.25), "C": (0.25, 0.50), "Bm": (0.30, 0.60), "Cm": (0.50, 1.00)}


def gamma_of(mean, p97):
    """Shape and scale of the gamma with this mean that 97 of 100 keep."""
    shape = optimize.brentq(lambda k: stats.gamma.ppf(0.97, k) / k - p97 / mean, 1, 30, xtol=1e-13)
    return shape, mean / shape


def connections(grade, limit, fibres, share):
    """Largest number of connections of the grade with which all fibres keep the limit."""
    shape, scale = gamma_of(*GRADES[grade])
    count = 0
    while stats.gamma.cdf(limit, shape * (count + 1), scale=scale) ** fibres >= share:
        count += 1
    return count


print("// kind, grade, limit in dB, fibres, share of links, connections (length: two connections, dB of fibre that is left)")
for grade in GRADES:
    for limit in (0.75, 1.5, 2.0, 3.5):
        for fibres, share in ((1, 0.95), (12, 0.95), (24, 0.99)):
            print(f'{{Plan::connections, "{grade}", {limit}, {fibres}, {share}, {connections(grade, limit, fibres, share)}}},')
            shape, scale = gamma_of(*GRADES[grade])
            left = limit - stats.gamma.ppf(share ** (1 / fibres), 2 * shape, scale=scale)
            print(f'{{Plan::length, "{grade}", {limit}, {fibres}, {share}, {left:.10g}}},')

STEP = 0.0002


def cells(shape, scale):
    """Masses of a gamma on a grid of STEP, cell i around i * STEP."""
    top = stats.gamma.isf(1e-13, shape, scale=scale)
    edges = (numpy.arange(int(top / STEP) + 2) - 0.5) * STEP
    return numpy.diff(stats.gamma.cdf(edges, shape, scale=scale))


def quantile(mass, first, share):
    """Linear between the upper edges of cells."""
    edges = first + (numpy.arange(len(mass)) + 0.5) * STEP
    return numpy.interp(share, numpy.cumsum(mass), edges)


print("// kind, what, -, fibres, share, quantile of the worst fibre in dB")
# As in the test: 2 ends and 1 inside of B, 2 splices with (0.075, 0.15); the same less one joint of (0.1, 0.2).
shape, scale = gamma_of(*GRADES["B"])
splice = gamma_of(0.075, 0.15)
joint = gamma_of(0.1, 0.2)
total = signal.fftconvolve(cells(3 * shape, scale), cells(2 * splice[0], splice[1]))
taken = cells(*joint)
less = signal.fftconvolve(total, taken[::-1])
for fibres, share in ((1, 0.5), (12, 0.5), (12, 0.95), (24, 0.99)):
    each = share ** (1 / fibres)
    print(f'{{Plan::spliced, "", 0, {fibres}, {share}, {quantile(total, 0, each):.7g}}},')
    print(f'{{Plan::taken_out, "", 0, {fibres}, {share}, {quantile(less, -(len(taken) - 1) * STEP, each):.7g}}},')
