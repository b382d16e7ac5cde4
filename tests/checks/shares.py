"""Writes shares.toml: Sobol indices of the test functions with closed forms, a wanted chance shared out among errors, and what an
error costs where the outcome is not affine; 25 digits with mpmath. Standard errors of one point are from a million points.
"""

from math import prod
from pathlib import Path

import numpy as np
from mpmath import *

mp.dps = 25
HERE = Path(__file__).parent
E = []
POINTS = 65536
RNG = np.random.default_rng(20)


def case(id, source, clause, title, sources, outcome):
    E.append('[[case]]\nid = "%s"\nsource = "%s"\nclause = "%s"\ntitle = "%s"\nstatus = "recomputed"' % (id, source, clause, title))
    for name, keys in sources:
        E.append("sources.%s = { %s }" % (name, keys))
    E.append(outcome + "\nrows = [")


def row(by, ask, value, of="", extra=""):
    of = ', of = "%s"' % of if of else ""
    E.append('  { by = "%s", ask = "%s"%s, value = "%s"%s },' % (by, ask, of, nstr(mpf(value), 18), extra))


def end():
    E.append("]\n")


def indices(f, draw, shares, variance):
    """Rows of every source. One point: f(B) (f(Ai) - f(A)) / V and (f(A) - f(Ai))^2 / 2V (Saltelli and others 2010; Jansen 1999)."""
    n = 1_000_000
    a, b = draw(n), draw(n)
    here, there = f(a), f(b)
    one = lambda values: ", trials = %d, one_trial = %.4g" % (POINTS, np.std(values))
    sd = float(sqrt(variance))
    row("sensitivity", "sd", sqrt(variance), extra=one((here - here.mean()) ** 2 / (2 * sd)))
    for i, (name, first, total) in enumerate(shares):
        mixed = a.copy()
        mixed[i] = b[i]
        moved = f(mixed)
        row("sensitivity", "first-order index", first, name, one(there * (moved - here) / sd**2))
        row("sensitivity", "total index", total, name, one((here - moved) ** 2 / (2 * sd**2)))
    end()


def ishigami():
    a, b = mpf(7), mpf("0.1")
    v1, v2, v13 = (1 + b * pi**4 / 5) ** 2 / 2, a**2 / 8, b**2 * pi**8 * (mpf(1) / 18 - mpf(1) / 50)
    v = v1 + v2 + v13
    case(
        "sobol-ishigami",
        "Ishigami and Homma 1990, closed form",
        "V1 = (1 + b pi^4/5)^2 / 2, V2 = a^2/8, V13 = b^2 pi^8 (1/18 - 1/50)",
        "sin x + 7 sin^2 y + 0.1 z^4 sin x, each within pi either way",
        [(name, "rectangular = %r" % float(pi)) for name in "xyz"],
        'outcomes.y = "sin(x * 1 rad) + 7 * sin(y * 1 rad)^2 + 0.1 * z^4 * sin(x * 1 rad)"',
    )
    f = lambda x: np.sin(x[0]) + 7 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0])
    shares = [("x", v1 / v, (v1 + v13) / v), ("y", v2 / v, v2 / v), ("z", 0, v13 / v)]
    indices(f, lambda n: RNG.uniform(-np.pi, np.pi, (3, n)), shares, v)


def g_function(number, coefficients):
    parts = [1 / (3 * (1 + mpf(a)) ** 2) for a in coefficients]
    v = fprod(1 + p for p in parts) - 1
    names = ["x%d" % i for i in range(len(parts))]
    case(
        "sobol-g-%d" % number,
        "Sobol 1993, closed form",
        "Vi = 1/(3 (1 + ai)^2), V = product of 1 + Vi, less 1",
        "product of (|4 x - 2| + a)/(1 + a), x within 0 to 1, a = %s" % ", ".join("%g" % a for a in coefficients),
        [(name, "rectangular = [0.0, 1.0]") for name in names],
        'outcomes.y = "%s"' % " * ".join("(abs(4 * %s - 2) + %r) / %r" % (n, float(a), 1.0 + a) for n, a in zip(names, coefficients)),
    )
    f = lambda x: prod((np.abs(4 * x[i] - 2) + a) / (1 + a) for i, a in enumerate(coefficients))
    shares = [(name, p / v, (p * (1 + v) / (1 + p)) / v) for name, p in zip(names, parts)]
    indices(f, lambda n: RNG.uniform(0, 1, (len(parts), n)), shares, v)


def others():
    m, s = [mpf("2.5"), mpf("-1.2")], [mpf("0.4"), mpf("0.3")]
    v1, v2, v12 = (m[1] * s[0]) ** 2, (m[0] * s[1]) ** 2, (s[0] * s[1]) ** 2
    v = v1 + v2 + v12
    case(
        "sobol-product",
        "Own computation, closed form",
        "V1 = m2^2 s1^2, V2 = m1^2 s2^2, V12 = s1^2 s2^2",
        "product of two normal errors, about 2.5 and -1.2",
        [("a", "estimate = 2.5, normal = 0.4"), ("b", "estimate = -1.2, normal = 0.3")],
        'outcomes.y = "a * b"',
    )
    draw = lambda n: np.array([RNG.normal(float(m[i]), float(s[i]), n) for i in range(2)])
    indices(lambda x: x[0] * x[1], draw, [("a", v1 / v, (v1 + v12) / v), ("b", v2 / v, (v2 + v12) / v)], v)
    s = [mpf("0.001"), mpf("0.0008"), mpf("0.0012")]
    parts = [s[0] ** 2, s[1] ** 2, s[2] ** 2 * (1 - 2 / pi)]
    v = sum(parts)
    case(
        "sobol-folded",
        "Own computation, closed form",
        "variance of a folded normal law: s^2 (1 - 2/pi)",
        "cut less stop less the size of a lean",
        [("cut", "normal = 0.001"), ("stop", "normal = 0.0008"), ("lean", "normal = 0.0012")],
        'outcomes.y = "cut - stop - abs(lean)"',
    )
    draw = lambda n: np.array([RNG.normal(0, float(x), n) for x in s])
    f = lambda x: x[0] - x[1] - np.abs(x[2])
    indices(f, draw, [(name, p / v, p / v) for name, p in zip(["cut", "stop", "lean"], parts)], v)


def quantile(p):
    """Of the normal law."""
    return findroot(lambda z: ncdf(z) - p, 2)


def shared():
    """Parts in proportion to cube roots of weights; the standard deviation that gives the chance is shared by squares."""
    near = ", digits = 11"
    sizes = {"blade": mpf("0.003"), "stop": mpf("0.004"), "piece": 2 * mpf("0.001")}
    case(
        "shared-out-normals",
        "Own computation, closed form",
        "a wanted chance shared out: parts as the cube roots of the weights",
        "three normal errors, a band of 0.006 either way",
        [("blade", 'normal = "0.003 in"'), ("stop", 'normal = "0.004 in"'), ("piece", 'normal = "0.001 in"')],
        'outcomes.fit = { expression = "blade - stop + 2 * piece", at_least = "-0.006 in", at_most = "0.006 in" }',
    )
    for wanted in ("0.97", "0.8"):
        sd = mpf("0.006") / quantile((1 + mpf(wanted)) / 2)
        for names, weights in [([], []), (["blade", "stop", "piece"], [1, 8, 27]), (["piece"], [64])]:
            of = dict(zip(names, weights))
            root = {name: cbrt(mpf(of.get(name, 1))) for name in sizes}
            unit = sd / sqrt(sum(r * r for r in root.values()))
            for name in sizes:
                extra = ', at = [%s]' % ", ".join(["%r" % float(wanted)] + ["%r" % float(w) for w in weights])
                if names:
                    extra += ', with = "%s"' % " ".join(names)
                row("worth", "shared out: part", unit * root[name], name, extra + near)
                row("worth", "shared out: factor", unit * root[name] / sizes[name], name, extra + near)
    end()
    case(
        "shared-out-rectangles",
        "Own computation, closed form",
        "a wanted chance shared out: two equal rectangles make a triangle",
        "rectangles of 0.004 and 0.002, a band of 0.003 either way",
        [("blade", 'rectangular = "0.004 in"'), ("stop", 'rectangular = "0.002 in"')],
        'outcomes.fit = { expression = "blade + stop", at_least = "-0.003 in", at_most = "0.003 in" }',
    )
    for wanted in ("0.95", "0.99"):
        # Outside of d on both sides: (1 - d/2a)^2.
        half = mpf("0.003") / (2 * (1 - sqrt(1 - mpf(wanted))))
        at = ", at = %s" % wanted
        row("worth", "shared out: part", half / sqrt(3), "blade", at + near)
        row("worth", "shared out: factor", half / mpf("0.004"), "blade", at + near)
        row("worth", "shared out: factor", half / mpf("0.002"), "stop", at + near)
    end()


def cbrt(x):
    return x ** (mpf(1) / 3)


def sampled():
    """P(saw - |lean| <= y), saw normal: an average over the lean."""
    low, high = mpf("-0.003"), mpf("0.0015")
    case(
        "worth-folded",
        "Own computation, quadrature",
        "what an error costs where the outcome is not affine",
        "a normal error less the size of another",
        [("saw", 'estimate = "0.0003 in", normal = "0.001 in"'), ("lean", 'normal = "0.0012 in"')],
        'outcomes.fit = { expression = "saw - abs(lean)", at_least = "-0.003 in", at_most = "0.0015 in" }',
    )

    def inside(saw, lean):
        s, t, m = saw * mpf("0.001"), lean * mpf("0.0012"), mpf("0.0003")
        if lean == 0:
            return ncdf((high - m) / s) - ncdf((low - m) / s)
        if saw == 0:
            return 2 * ncdf((m - low) / t) - 1
        given = lambda x: ncdf((high - m + x * t) / s) - ncdf((low - m + x * t) / s)
        return 2 * quad(lambda x: npdf(x) * given(x), linspace(0, 12, 13))

    for ask, saw, lean, of in [
        ("inside", 1, 1, ""),
        ("inside, halved", 0.5, 1, "saw"),
        ("inside, removed", 0, 1, "saw"),
        ("inside, halved", 1, 0.5, "lean"),
        ("inside, removed", 1, 0, "lean"),
    ]:
        p = inside(mpf(saw), mpf(lean))
        row("worth", "sampled: " + ask, p, of, ", trials = %d, one_trial = %.6g" % (POINTS, sqrt(p * (1 - p))))
    end()


ishigami()
g_function(1, [0, 1, 4.5, 9, 99, 99, 99, 99])
g_function(2, [0, 0.5, 3, 9, 99, 99])
g_function(3, [0, 0, 0, 0])
others()
shared()
sampled()
HEAD = """# Which errors matter, and how large each may be; shares.py wrote this.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.

"""
(HERE / "shares.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")
