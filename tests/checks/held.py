"""Writes held.toml: outcomes that are affine once a source or two are held fixed, by quadrature over these, at 25 digits."""

from pathlib import Path

from mpmath import *

mp.dps = 25
HERE = Path(__file__).parent
E = []


def case(id, title, sources, expression, low, high):
    E.append(
        '[[case]]\nid = "held-%s"\nsource = "Own computation, quadrature"\nclause = "affine once a source is held"\ntitle = "%s"\nstatus = "recomputed"'
        % (id, title)
    )
    for name, text in sources:
        E.append("sources.%s = { %s }" % (name, text))
    E.append('outcomes.y = { expression = "%s", at_least = %s, at_most = %s }\nrows = [' % (expression, low, high))


def rows(below, low, high, quasi=True):
    """From the chance below a place."""
    a, b = below(mpf(low)), below(mpf(high))
    small = ', within = 1e-12, note = "the quadrature is asked for 1e-12"'
    for ask, value in [("below", a), ("inside", b - a), ("above", 1 - b)]:
        E.append('  { by = "semi-exact", ask = "%s", value = "%s"%s },' % (ask, nstr(value, 18), small))
        one = sqrt(value * (1 - value))
        if quasi:
            E.append('  { by = "quasi-monte-carlo", ask = "%s", value = "%s", trials = 65536, one_trial = %.6g },' % (ask, nstr(value, 18), one))
        E.append('  { by = "monte-carlo", ask = "%s", value = "%s", trials = 200000, one_trial = %.6g },' % (ask, nstr(value, 18), one))
    E.append("]\n")


# A tilt: the saw's error, and half an inch of what a tilt of a tenth takes off.
s = mpf("0.001")
case(
    "tilt",
    "normal of 0.001 and 0.5 t^2, t within 0.1 either way",
    [("saw", "estimate = 0.0004, normal = 0.001"), ("tilt", "rectangular = 0.1")],
    "saw - 0.5 * tilt^2",
    -0.004,
    0.001,
)
rows(lambda y: quad(lambda t: 10 * ncdf((y - mpf("0.0004") + t * t / 2) / s), [0, mpf("0.1")]), -0.004, 0.001)

# A factor: a normal error counts from once to twice.
case(
    "factor",
    "normal of 0.002 about 0.001 times a factor within 1 to 2, and another normal",
    [("play", "estimate = 0.001, normal = 0.002"), ("lever", "estimate = 1.5, rectangular = 0.5"), ("seat", "estimate = -0.0005, normal = 0.0007")],
    "play * lever + seat",
    -0.003,
    0.0055,
)
spread = lambda k: sqrt((k * mpf("0.002")) ** 2 + mpf("0.0007") ** 2)
rows(lambda y: quad(lambda k: ncdf((y - k * mpf("0.001") + mpf("0.0005")) / spread(k)), [1, 1.5, 2]), -0.003, 0.0055)

# A triangle, whose sum with a rectangle of changing width is exact at every node.
case(
    "width",
    "rectangle of 0.003 times exp(normal of 0.2), and a normal",
    [("bow", "rectangular = 0.003"), ("growth", "normal = 0.2"), ("cut", "estimate = 0.0006, normal = 0.0008")],
    "bow * exp(growth) + cut",
    -0.002,
    0.0045,
)


def box(y, half, sd):
    g = lambda z: z * ncdf(z) + npdf(z)
    return sd / (2 * half) * (g((y + half) / sd) - g((y - half) / sd))


rows(
    lambda y: quad(
        lambda z: npdf(z) * box(y - mpf("0.0006"), mpf("0.003") * exp(mpf("0.2") * z), mpf("0.0008")),
        linspace(-10, 10, 11),
    ),
    -0.002,
    0.0045,
)
# The tilt again, beside a shim that is known exactly and does not lie at its estimate.
case(
    "shim",
    "normal of 0.001 and 0.5 t^2, t within 0.1 either way, and a shim that is off by 0.0007",
    [("saw", "estimate = 0.0004, normal = 0.001"), ("tilt", "rectangular = 0.1"), ("shim", "estimate = 0.001, point = 0.0007")],
    "saw - 0.5 * tilt^2 - shim",
    -0.0045,
    0.0005,
)
rows(lambda y: quad(lambda t: 10 * ncdf((y + mpf("0.0013") + t * t / 2) / s), [0, mpf("0.1")]), -0.0045, 0.0005)

# Two factors: given both the rest is normal.
case(
    "two-factors",
    "two normal errors, each times a factor of its own",
    [("saw", "estimate = 0.0005, normal = 0.001"), ("lever", "estimate = 1.5, rectangular = 0.5"), ("seat", "normal = 0.0008"), ("arm", "estimate = 1, triangular = 0.5")],
    "saw * lever - seat * arm",
    -0.0025,
    0.003,
)
mp.dps = 20
spread = lambda k, l: sqrt((k * mpf("0.001")) ** 2 + (l * mpf("0.0008")) ** 2)
tent = lambda l: 2 * (1 - 2 * abs(l - 1))
given = lambda y: lambda k, l: tent(l) * ncdf((y - k * mpf("0.0005")) / spread(k, l))
both = lambda y, a, b: quad(given(y), [1, 2], [a, b], method="gauss-legendre")
# No normal error is only added to the rest, which the even points want.
rows(lambda y: both(y, mpf("0.5"), 1) + both(y, 1, mpf("1.5")), -0.0025, 0.003, quasi=False)
mp.dps = 25

# Steps: at each of them the rest is as it is.
case(
    "steps",
    "a normal error times a number in steps, and a rectangle",
    [("saw", "estimate = 0.0002, normal = 0.0012"), ("turns", "discrete = [[1.0, 0.5], [2.0, 0.3], [3.0, 0.2]]"), ("play", "rectangular = 0.001")],
    "saw * turns + play",
    -0.003,
    0.0045,
)
TURNS = [(1, mpf("0.5")), (2, mpf("0.3")), (3, mpf("0.2"))]
rows(lambda y: fsum(p * box(y - n * mpf("0.0002"), mpf("0.001"), n * mpf("0.0012")) for n, p in TURNS), -0.003, 0.0045, quasi=False)
HEAD = """# Outcomes that are affine once a source is held fixed; held.py wrote this.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.

"""
(HERE / "held.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")
