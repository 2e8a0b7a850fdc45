"""The same numbers by SciPy and NumPy (Debian's python3-scipy): censored fits by maximising the
likelihood, quantiles of weighted and plain lists. Reads the lists that bench_numbers wrote, prints one
line a task: name seconds result. Starting Python is not counted.
"""

import sys
import time

import numpy as np
from scipy import optimize, stats


def fit(length, complete, family):
    x = np.log(length)

    def loss(p):
        z = (x - p[0]) / np.exp(p[1])
        if family == "lognormal":
            dense, tail = stats.norm.logpdf(z), stats.norm.logsf(z)
        else:
            dense, tail = z - np.exp(z), -np.exp(z)
        return -np.sum(np.where(complete, dense - p[1], tail))

    r = optimize.minimize(loss, [x.mean(), np.log(x.std())], method="BFGS")
    middle = 0 if family == "lognormal" else np.log(np.log(2))
    return np.exp(r.x[0] + np.exp(r.x[1]) * middle)


def weighted(value, weight, p):
    order = np.argsort(value, kind="stable")
    w = np.cumsum(weight[order])
    return value[order][np.searchsorted(w, np.asarray(p) * w[-1])]


def repeat(work):
    """Mean seconds over about half a second of repeats."""
    begin, n = time.perf_counter(), 0
    while True:
        result = work()
        n += 1
        took = time.perf_counter() - begin
        if took > 0.5:
            return took / n, result


for line in sys.stdin:
    name, path = line.split()
    table = np.loadtxt(path, ndmin=2)
    if name.startswith("quantiles"):
        seconds, got = repeat(lambda: weighted(table[:, 0], table[:, 1], [0.05, 0.5, 0.95])[1])
    elif name.startswith("plain"):
        seconds, got = repeat(lambda: np.quantile(table[:, 0], [0.05, 0.5, 0.95], method="inverted_cdf")[1])
    else:
        family = name.split("-")[0]
        seconds, got = repeat(lambda: fit(table[:, 0], table[:, 1] > 0, family))
    print(name, seconds, got)
