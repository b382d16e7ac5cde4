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
HEAD = """# Outcomes that are affine once a source is held fixed; held.py wrote this.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.

"""
(HERE / "held.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")
