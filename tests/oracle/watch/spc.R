# SPDX-License-Identifier: Apache-2.0
# Writes spc_table.inc: average run lengths from an independent program, R package spc.
# Run: Rscript tests/oracle/watch/spc.R > tests/oracle/watch/spc_table.inc
library(spc)
cat("// Made by tests/oracle/watch/spc.R with R ", as.character(getRversion()), " and package spc ",
    as.character(packageVersion("spc")), ".\n", sep = "")
cat("// chart, lambda or k, L or h, shift, head start, average run length\n")
row <- function(chart, a, b, mu, hs, arl) cat(sprintf("{Chart::%s, %g, %.10g, %g, %g, %.10g},\n", chart, a, b, mu, hs, arl))
for (p in list(c(.05, 2.615), c(.1, 2.814), c(.2, 2.962), c(.25, 3), c(.5, 3.071), c(.03, 2.437), c(.2, 3.4)))
  for (mu in c(0, .25, .5, 1, 1.5, 2, 3))
    row("ewma", p[1], p[2], mu, 0, xewma.arl(p[1], p[2], mu, sided = "two", r = 80))
for (p in list(c(.5, 4), c(.5, 5), c(.25, 8), c(1, 2.5), c(.5, 8)))
  for (mu in c(0, .5, 1, 2)) {
    row("cusum_one", p[1], p[2], mu, 0, xcusum.arl(p[1], p[2], mu, sided = "one", r = 80))
    row("cusum_one", p[1], p[2], mu, p[2] / 2, xcusum.arl(p[1], p[2], mu, hs = p[2] / 2, sided = "one", r = 80))
  }
for (p in list(c(.5, 4), c(.5, 5), c(.25, 8)))
  for (mu in c(0, .5, 1, 2))
    row("cusum_two", p[1], p[2], mu, 0, xcusum.arl(p[1], p[2], mu, sided = "two", r = 80))
cat("// limits for a chosen run length in control\n")
for (l in c(.05, .1, .2, .4)) for (arl0 in c(370, 500, 1000, 5000))
  row("ewma_limit", l, arl0, 0, 0, xewma.crit(l, arl0, sided = "two", r = 80))
for (k in c(.25, .5, 1)) for (arl0 in c(500, 1000, 10000))
  row("cusum_limit", k, arl0, 0, 0, xcusum.crit(k, arl0, sided = "two", r = 80))
