"""Writes runs.toml: readings in order: charts drawn point by point, changes, drifts, bias, limits; by mpmath at 40 digits."""

from pathlib import Path

import numpy as np
from mpmath import *
from scipy import stats
from scipy.optimize import brentq

mp.dps = 40
HERE = Path(__file__).parent
HALF = mpf("0.025")
E = []


def case(id, clause, title, source="Own computation, 40 digits", more=""):
    E.append(
        '[[case]]\nid = "%s"\nsource = "%s"\nclause = "%s"\ntitle = "%s"\nstatus = "recomputed"\n%srows = ['
        % (id, source, clause, title, more)
    )


def row(ask, at, value, extra=""):
    at = ", ".join("inf" if x == inf else "-inf" if x == -inf else repr(float(x)) for x in at)
    E.append('  { by = "evidence", ask = "%s", at = [%s], value = "%s"%s },' % (ask, at, nstr(mpf(value), 20), extra))


def end():
    E.append("]\n")


# Numbers as binary floating point has them, so that what is computed is what was given.
X = [mpf(x) for x in [2.5, -1.25, 0.75, 3.0, 1.5, 4.25, 3.5, 5.0, 6.25]]
Y = [mpf(x) for x in [0.5, 0.25, 1.0, -0.5, 0.75, 0.0, 0.25, 12.0, 0.5, -0.25, 1.25, 0.75, 0.5, 0.0, 1.5, -0.75]]


def averages():
    """Roberts 1959: z = w x + (1 - w) z; limits mean +- L s sqrt(w/(2 - w) (1 - (1 - w)^(2n)))."""
    case("run-averages", "exponentially weighted averages, drawn", "weight 1/4, limits 1.5; process of mean 1 and sd 2")
    weight, limit, mean, sd = mpf("0.25"), mpf("1.5"), mpf(1), mpf(2)
    at = [weight, limit, mean, sd]
    for n in [1, 3, 9]:
        z = mean
        for x in X[:n]:
            z = weight * x + (1 - weight) * z
        reach = limit * sd * sqrt(weight / (2 - weight) * (1 - (1 - weight) ** (2 * n)))
        row("chart: averages: last point", at + X[:n], z)
        row("chart: averages: lower", at + X[:n], mean - reach)
        row("chart: averages: upper", at + X[:n], mean + reach)
    reach = limit * sd * sqrt(weight / (2 - weight))
    row("chart: averages: steady, lower", at, mean - reach)
    row("chart: averages: steady, upper", at, mean + reach)
    z, signal = mean, None
    for n, x in enumerate(X):
        z = weight * x + (1 - weight) * z
        reach = limit * sd * sqrt(weight / (2 - weight) * (1 - (1 - weight) ** (2 * n + 2)))
        if signal is None and abs(z - mean) > reach:
            signal = n
    row("chart: averages: signal", at + X, signal)
    end()


def sums():
    """Page 1954, with the head start of Lucas and Crosier 1982."""
    case("run-sums", "cumulative sums, drawn", "allowance 1/2, decision 2, head start 1/4; process of mean 1 and sd 2")
    allowance, decision, start, mean, sd = mpf("0.5"), mpf(2), mpf("0.25"), mpf(1), mpf(2)
    at = [allowance, decision, start, mean, sd]
    for sign, name in [(1, "upper"), (-1, "lower")]:
        for readings in [X[:2], X, [2 - x for x in X]]:
            total = start
            for x in readings:
                total = max(mpf(0), total + sign * (x - mean) / sd - allowance)
            row("chart: sums: last " + name, at + readings, total, ", within = 1e-15" if total == 0 else "")
    for readings in [X, [2 - x for x in X]]:
        up, down, began_up, began_down, found = start, start, 0, 0, None
        for n, x in enumerate(readings):
            z = (x - mean) / sd
            up, down = max(mpf(0), up + z - allowance), max(mpf(0), down - z - allowance)
            began_up = n + 1 if up == 0 else began_up
            began_down = n + 1 if down == 0 else began_down
            if found is None and max(up, down) > decision:
                found = (n, began_up if up > decision else began_down)
        row("chart: sums: signal", at + readings, found[0])
        row("chart: sums: began", at + readings, found[1])
    end()


def zones():
    """Western Electric 1956: one beyond 3, two of three beyond 2, four of five beyond 1, eight on a side."""
    case("run-zones", "zone rules, drawn; anew after a signal", "runs made so that one rule after another signals")
    runs = [
        [0.1, -0.2, 3.1, 0.4],
        [2.1, 0.3, 2.2, 0.1],
        [-2.1, -2.2, 0.1],
        [1.1, 1.2, 0.5, 1.3, 1.4, 0.1],
        [-1.1, -1.2, -0.5, -1.3, -1.4],
        [0.1, 0.2, 0.3, 0.1, 0.4, 0.6, 0.2, 0.5, 0.1],
        [-0.1, -0.2, -0.3, -0.1, -0.4, -0.6, -0.2, -0.5],
        [2.1, -2.2, 1.1, -1.2, 0.5, -0.5, 2.2, 0.1, 0.2],
        [3.5, -3.5, 2.5, 0.0, 0.0, 2.5],
    ]
    for readings in runs:
        found, side, zone = [], [], []
        for n, z in enumerate(readings):
            side.append((z > 0) - (z < 0))
            zone.append(min(int(abs(z)), 3))
            beyond = lambda k, last, s: sum(1 for a, b in zip(zone[-last:], side[-last:]) if a >= k and b == s)
            if (
                zone[-1] >= 3
                or any(beyond(2, 3, s) >= 2 or beyond(1, 5, s) >= 4 for s in (1, -1))
                or (len(side) >= 8 and abs(sum(side[-8:])) == 8)
            ):
                found.append(n)
                side, zone = [], []
        for n, scale, mean in [(1, 1, 0), (4, 2, 3)]:
            values = [mean + scale / sqrt(mpf(n)) * mpf(z) for z in readings]
            at = [n, mean, scale] + values
            row("chart: zones: signals", at, len(found))
            if found:
                row("chart: zones: first signal", at, found[0])
                row("chart: zones: last signal", at, found[-1])
    end()


def changes():
    """Samuel, Pignatiello and Calvin 1998; Perry and Pignatiello 2006: the place of the greatest likelihood."""
    case("run-changes", "where a step or a drift began, by maximum likelihood", "process of mean 1 and sd 2")
    mean, sd = mpf(1), mpf(2)
    for readings in [X, [2 - x for x in X], Y]:
        for kind in ["step", "drift"]:
            best = None
            for began in range(len(readings)):
                tail = [(x - mean) / sd for x in readings[began:]]
                w = [1 if kind == "step" else k + 1 for k in range(len(tail))]
                top, bottom = fsum(a * b for a, b in zip(w, tail)), mpf(sum(a * a for a in w))
                gain = top**2 / (2 * bottom)
                if best is None or gain > best[0]:
                    best = (gain, began, sd * top / bottom, sd / sqrt(bottom))
            at = [mean, sd] + readings
            row("chart: %s: began" % kind, at, best[1], ", within = 1e-12")
            row("chart: %s: size" % kind, at, best[2])
            row("chart: %s: u of the size" % kind, at, best[3])
            row("chart: %s: gain" % kind, at, best[0])
    end()


def d2(n):
    return quad(lambda x: 1 - ncdf(x) ** n - (1 - ncdf(x)) ** n, [-12, -6, 0, 6, 12])


def limits():
    case("run-limits", "Shewhart: spread from ranges, limits of means and ranges", "d2 by quadrature")
    x = X
    moving = fsum(abs(b - a) for a, b in zip(x, x[1:])) / (len(x) - 1)
    row("chart: mean of single readings", x, fsum(x) / len(x))
    row("chart: sd of single readings", x, moving * sqrt(pi) / 2)
    ranges = [max(x[k : k + 3]) - min(x[k : k + 3]) for k in range(0, 9, 3)]
    row("chart: sd of groups of three", x, fsum(ranges) / 3 / d2(3))
    row("chart: limits of means: upper", [1, 2, 1], 7)
    row("chart: limits of means: upper", [1, 2, 4], 4)
    row("chart: limits of means: lower", [1, 2, 9], -1)
    # Of two readings: d2 = 2/sqrt(pi), d3 = sqrt(2 - 4/pi).
    row("chart: limits of ranges: upper", [2, 2], 2 * (2 / sqrt(pi) + 3 * sqrt(2 - 4 / pi)))
    row("chart: limits of ranges: lower", [2, 2], 0, ", within = 1e-15")
    end()


def designs():
    case(
        "run-designs",
        "limits for a wanted time between false alarms",
        "integral equations at 300 nodes, solved by numpy and scipy",
        "Own computation, double precision",
    )
    nodes, weights = np.polynomial.legendre.leggauss(300)

    def sums(h, k):
        x, w = h * (nodes + 1) / 2, h * weights / 2
        a = np.eye(300) - w * stats.norm.pdf(x[None, :] - x[:, None] + k)
        a = np.hstack([np.vstack([a, -(w * stats.norm.pdf(x + k))]), np.append(-stats.norm.cdf(k - x), 1 - stats.norm.cdf(k))[:, None]])
        return np.linalg.solve(a, np.ones(301))[-1] / 2

    def averages(limit, weight):
        reach = limit * (weight / (2 - weight)) ** 0.5
        x, w = reach * nodes, reach * weights
        step = lambda z: stats.norm.pdf((x - (1 - weight) * z) / weight) / weight
        lengths = np.linalg.solve(np.eye(300) - w * np.array([step(z) for z in x]), np.ones(300))
        return 1 + w * step(0) @ lengths

    near = ', within = 2e-8, note = "a limit is found to 1e-9, from run lengths good to 1e-9 of themselves"'
    for every, allowance in [(370.4, 0.5), (200, 0.25)]:
        row("chart: decision for", [every, allowance], brentq(lambda h: sums(h, allowance) - every, 1, 12, xtol=1e-13), near)
    for every, weight in [(500, 0.1), (370.4, 0.4)]:
        row("chart: limit for", [every, weight], brentq(lambda l: averages(l, weight) - every, 1, 5, xtol=1e-13), near)
    end()


def t_upper(q, nu):
    nu = mpf(nu)
    start = mpf(stats.t.isf(float(q), float(nu)))
    return findroot(lambda t: betainc(nu / 2, mpf(1) / 2, 0, nu / (nu + t * t), regularized=True) / 2 - q, start)


def t_tail(t, nu):
    nu = mpf(nu)
    return betainc(nu / 2, mpf(1) / 2, 0, nu / (nu + t * t), regularized=True) / 2


def chi_upper(q, nu):
    start = mpf(stats.chi2.isf(float(q), nu))
    return findroot(lambda x: gammainc(mpf(nu) / 2, x / 2, inf, regularized=True) - q, start)


def summaries():
    case("readings-summary", "order statistics, drift, outliers", "nine readings that drift, sixteen with one far out")
    median = lambda v: (sorted(v)[len(v) // 2] + sorted(v)[(len(v) - 1) // 2]) / 2
    quartile = sqrt(2) * erfinv(mpf("0.5"))
    for v in [X, Y]:
        n = len(v)
        mean = fsum(v) / n
        middle = median(v)
        row("readings: median", v, middle)
        row("readings: smallest", v, min(v))
        row("readings: largest", v, max(v))
        row("readings: number of different ones", v, len(set(v)))
        row("readings: robust spread", v, median([abs(x - middle) for x in v]) / quartile)
        row("readings: lag-1 autocorrelation", v, fsum((a - mean) * (b - mean) for a, b in zip(v, v[1:])) / fsum((a - mean) ** 2 for a in v))
        order = [mpf(k) - mpf(n - 1) / 2 for k in range(n)]
        xx = fsum(k * k for k in order)
        slope = fsum(k * x for k, x in zip(order, v)) / xx
        rest = fsum((x - mean - slope * k) ** 2 for k, x in zip(order, v))
        u = sqrt(rest / (n - 2) / xx)
        row("readings: slope", v, slope)
        row("readings: u of the slope", v, u)
        row("readings: p of the slope", v, 2 * t_tail(abs(slope / u), n - 2))
        reach = t_upper(HALF, n - 2) * u
        row("readings: slope, lower", v, slope - reach)
        row("readings: slope, upper", v, slope + reach)
    n = len(Y)
    mean = fsum(Y) / n
    sd = sqrt(fsum((x - mean) ** 2 for x in Y) / (n - 1))
    t = t_upper(mpf("0.05") / (2 * n), n - 2)
    row("readings: number of outliers", Y, 1)
    row("readings: the farthest", Y, 12)
    row("readings: deviate of the farthest", Y, (12 - mean) / sd)
    row("readings: limit of the farthest", Y, (n - 1) * t / sqrt((n - 2 + t * t) * n))
    row("readings: number of outliers", X, 0, ", within = 1e-12")
    end()


def normality():
    """Anderson and Darling; D'Agostino and Stephens 1986, table 4.9, for mean and variance from the readings."""
    case("readings-normality", "Anderson-Darling, one list for each piece of the formula of p", "statistic at 40 digits; p by the four formulas of the table")
    scores = [mpf(round(float(sqrt(2) * erfinv(2 * (k - mpf("0.375")) / mpf("12.25") - 1)), 3)) for k in range(1, 13)]
    lists = [scores, X, [mpf(k * k) / 8 for k in range(1, 13)], [mpf(k**3) / 32 for k in range(1, 11)], [mpf(x) for x in [1, 2, 3, 3.5, 4, 4.25, 9, 10, 10.5, 11]], [mpf(x) for x in [1, 1.25, 1.5, 1.75, 2, 6, 6.25, 6.5, 7, 7.5]], Y]
    for v in lists:
        n = len(v)
        mean = fsum(v) / n
        sd = sqrt(fsum((x - mean) ** 2 for x in v) / (n - 1))
        z = sorted((x - mean) / sd for x in v)
        a = -n - fsum((2 * i + 1) * (log(ncdf(z[i])) + log(ncdf(-z[n - 1 - i]))) for i in range(n)) / n
        b = a * (1 + mpf("0.75") / n + mpf("2.25") / n**2)
        if b < mpf("0.2"):
            p = 1 - exp(mpf("-13.436") + mpf("101.14") * b - mpf("223.73") * b * b)
        elif b < mpf("0.34"):
            p = 1 - exp(mpf("-8.318") + mpf("42.796") * b - mpf("59.938") * b * b)
        elif b < mpf("0.6"):
            p = exp(mpf("0.9177") - mpf("4.279") * b - mpf("1.38") * b * b)
        else:
            p = exp(mpf("1.2937") - mpf("5.709") * b + mpf("0.0186") * b * b)
        row("readings: A²", v, a)
        row("readings: A², adjusted", v, b)
        row("readings: p of A²", v, p, ', digits = 11, note = "a sum of logarithms rounds, and p with it"')
    end()


def biases():
    case("readings-bias", "achieved less predicted over set-ups", "t interval; chi-square for the ratio of spreads")
    rows = [(0.5, 1.0, 2.0), (0.0, 2.0, 3.5), (-1.0, 1.5, 0.25), (0.25, 0.5, 1.0), (1.0, 1.0, 3.25)]
    at = [x for r in rows for x in r]
    d = [mpf(a) - mpf(p) for p, _, a in rows]
    n = len(d)
    mean = fsum(d) / n
    sd = sqrt(fsum((x - mean) ** 2 for x in d) / (n - 1))
    u = sd / sqrt(n)
    row("bias: mean", at, mean)
    row("bias: sd", at, sd)
    row("bias: mean, lower", at, mean - t_upper(HALF, n - 1) * u)
    row("bias: mean, upper", at, mean + t_upper(HALF, n - 1) * u)
    row("bias: p", at, 2 * t_tail(mean / u, n - 1))
    w = [1 / mpf(s) ** 2 for _, s, _ in rows]
    centre = fsum(a * b for a, b in zip(w, d)) / fsum(w)
    squares = fsum(a * (b - centre) ** 2 for a, b in zip(w, d))
    row("bias: ratio of spreads", at, sqrt(squares / (n - 1)))
    row("bias: ratio of spreads, lower", at, sqrt(squares / chi_upper(HALF, n - 1)))
    row("bias: ratio of spreads, upper", at, sqrt(squares / chi_upper(1 - HALF, n - 1)))
    end()


def counts():
    case("readings-counts", "counted fractions and limits without a distribution", "Clopper and Pearson; Wilks")

    def beta_low(p, a, b):
        start = mpf(stats.beta.ppf(float(p), a, b))
        return findroot(lambda x: betainc(a, b, 0, x, regularized=True) - p, start)

    row("one-sided upper limit", [3, 40], beta_low(mpf("0.95"), 4, 37))
    row("one-sided lower limit", [3, 40], beta_low(mpf("0.05"), 3, 38))
    at = [0.0, 1.0] + Y
    outside = sum(1 for y in Y if not 0 <= y <= 1)
    row("counted outside", at, mpf(outside) / len(Y))
    row("counted outside, lower", at, beta_low(HALF, outside, len(Y) - outside + 1))
    row("counted outside, upper", at, beta_low(1 - HALF, outside + 1, len(Y) - outside))
    readings = [mpf((37 * k) % 101) / 4 for k in range(1, 61)]
    # The content between order statistics k and n + 1 - k is beta(n + 1 - 2k, 2k).
    k = 1
    while betainc(60 + 1 - 2 * (k + 1), 2 * (k + 1), mpf("0.8"), 1, regularized=True) >= mpf("0.95"):
        k += 1
    row("free limit, lower", [0.8] + readings, sorted(readings)[k - 1])
    row("free limit, upper", [0.8] + readings, sorted(readings)[-k])
    end()


def noncentral_root(t, nu, below):
    """The noncentrality with P(T <= t) = below; T = (Z + delta)/sqrt(chi2/nu), by quadrature over the chi."""

    def chance(delta):
        log_density = lambda s: log(2) + (nu / mpf(2)) * log(nu / mpf(2)) - loggamma(nu / mpf(2)) + (nu - 1) * log(s) - nu * s * s / 2
        return quad(lambda s: ncdf(t * s - delta) * exp(log_density(s)), [mpf("1e-9"), 0.3, 0.6, 0.8, 1, 1.2, 1.5, 2, 3, 6])

    start = t + (0.5 - float(below)) * 4
    return findroot(lambda d: chance(d) - below, (start, start + mpf("0.3")), tol=1e-18)


def one_sided():
    mp.dps = 22
    case("capability-one-limit", "one limit: the index is noncentral t", "quadrature over the chi law at 22 digits", "Own computation, quadrature")
    mean, sd, n = mpf("1.5"), mpf("0.75"), 12
    for at, index in [([-inf, 4.0, 1.5, 0.75, 12], (4 - mean) / (3 * sd)), ([-1.25, inf, 1.5, 0.75, 12], (mean + mpf("1.25")) / (3 * sd))]:
        scale = 3 * sqrt(mpf(n))
        true = lambda below: noncentral_root(scale * index, n - 1, below) / scale
        low, high = true(1 - HALF), true(HALF)
        row("Cpk", at, index)
        row("Cpk, lower", at, low, ", digits = 10")
        row("Cpk, upper", at, high, ", digits = 10")
        row("Cpk at least", at, true(mpf("0.95")), ", digits = 10")
        row("C: fraction outside", at, ncdf(-3 * index))
        row("C: fraction outside, lower", at, ncdf(-3 * high), ", digits = 9")
        row("C: fraction outside, upper", at, ncdf(-3 * low), ", digits = 9")
    both = [-1.25, 4.0, 1.5, 0.75, 12]
    row("C: fraction outside", both, ncdf(-(4 - mean) / sd) + ncdf(-(mean + mpf("1.25")) / sd))
    end()
    mp.dps = 40


def percentiles():
    """ISO 22514-2: distances from the median over those of the percentiles 0.135 and 99.865."""
    tail = mpf("0.00135")
    laws = [
        ("normal", 'normal = "0.002 in"', lambda p: mpf("0.002") * sqrt(2) * erfinv(2 * p - 1)),
        ("triangular", 'triangular = "0.01 in"', lambda p: mpf("0.01") * ((sqrt(2 * p) - 1) if p < 0.5 else 1 - sqrt(2 * (1 - p)))),
        ("rectangular", 'rectangular = "0.01 in"', lambda p: mpf("0.01") * (2 * p - 1)),
    ]
    for name, text, quantile in laws:
        case("percentile-" + name, "percentile indices of a law that need not be normal", "limits -0.004 and 0.009; " + name, "Own computation, 40 digits", "sources.x = { %s }\n" % text)
        low, mid, high = quantile(tail), quantile(mpf("0.5")), quantile(1 - tail)
        l, u = mpf("-0.004"), mpf("0.009")
        row("percentile index Pp", [-0.004, 0.009], (u - l) / (high - low))
        row("percentile index Ppk", [-0.004, 0.009], min((u - mid) / (high - mid), (mid - l) / (mid - low)))
        row("percentile index Ppk", [-inf, 0.009], (u - mid) / (high - mid))
        row("percentile index Ppk", [-0.004, inf], (mid - l) / (mid - low))
        end()


averages()
sums()
zones()
changes()
limits()
designs()
summaries()
normality()
biases()
counts()
one_sided()
percentiles()
HEAD = """# Readings in order: charts drawn, changes, drifts, outliers, bias, limits; runs.py wrote this.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.

"""
(HERE / "runs.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")
