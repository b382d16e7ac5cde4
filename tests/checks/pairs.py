"""Writes pairs.toml: sums of two laws of different families, by quadrature at 34 digits: density of one, chance of the other."""

from itertools import combinations
from pathlib import Path

from mpmath import *
from shapes import laws

mp.dps = 34
HERE = Path(__file__).parent
E = []

NAMES = [
    "normal",
    "rectangular",
    "triangular",
    "trapezoidal",
    "curvilinear trapezoidal",
    "arcsine",
    "Student t, 1",
    "Student t, 4",
    "exponential",
    "lognormal",
    "beta, 5 and 2",
    "truncated normal, -0.003 to 0.001",
    "two-piece normal",
    "mixture",
]


def places(law):
    """Ends and kinks; of a law without ends none beyond."""
    if law.name.startswith("Student"):
        c = mpf("0.001")
        return [-inf, -c, c, inf]
    if law.name == "exponential":
        return [law.places[0], inf]
    if law.name == "lognormal":
        return [law.places[0], law.places[0] + mpf("0.003"), law.places[0] + mpf("0.02"), inf]
    return law.places


def chance(x, y, at):
    """P(X + Y <= at) and P(X + Y > at): the density of X times the chance of Y, cut where either has a kink."""
    own = places(x)
    other = [at - p for p in places(y)]
    cuts = sorted({p for p in own + [q for q in other if own[0] < q < own[-1]]})
    clamp = lambda f, z, low, high: low if z <= places(y)[0] else (high if z >= places(y)[-1] else f(z))
    below = quad(lambda u: x.pdf(u) * clamp(y.cdf, at - u, mpf(0), mpf(1)), cuts)
    above = quad(lambda u: x.pdf(u) * clamp(y.sf, at - u, mpf(1), mpf(0)), cuts)
    assert abs(below + above - 1) < mpf(10) ** -16, (x.name, y.name, below + above - 1)
    return below, above


def rough(law, p):
    low, high = mpf("-0.5"), mpf("0.5")
    for _ in range(30):
        middle = (low + high) / 2
        inside = places(law)[0] < middle < places(law)[-1]
        value = law.cdf(middle) if inside else (mpf(0) if middle <= places(law)[0] else mpf(1))
        low, high = (middle, high) if value < p else (low, middle)
    return low


def row(ask, at, value):
    E.append('  { by = "exact", ask = "%s", at = %r, value = "%s" },' % (ask, at, nstr(value, 18)))


def main():
    known = {law.name: law for law in laws()}
    for first, second in combinations(NAMES, 2):
        a, b = known[first], known[second]
        E.append(
            '[[case]]\nid = "pair-%s"\nsource = "Own computation, quadrature"\nclause = "sum of two laws"\ntitle = "%s + %s"\nstatus = "recomputed"'
            % ("-".join((first + " " + second).replace(",", "").split()), first, second)
        )
        E.append("sources.a = { %s }\nsources.b = { %s }\noutcomes.y = \"a + b\"\nrows = [" % (a.keys, b.keys))
        for p, q in [(0.1, 0.2), (0.45, 0.6), (0.85, 0.9)]:
            at = float(nstr(rough(a, p) + rough(b, q), 4))
            below, above = chance(a, b, mpf(at))
            row("cdf", at, below)
            row("upper tail", at, above)
        E.append("]\n")


ATOMS = [("-0.001", "0.25"), ("0.0", "0.625"), ("0.005", "0.125")]


def with_atoms():
    """A law in steps and another: the chances of the other at each step."""
    known = {law.name: law for law in laws()}
    inside = lambda law, f, z, low, high: low if z <= places(law)[0] else (high if z >= places(law)[-1] else f(z))
    for name in NAMES:
        law = known[name]
        E.append(
            '[[case]]\nid = "steps-%s"\nsource = "Own computation, quadrature"\nclause = "a law in steps and another"\ntitle = "steps + %s"\nstatus = "recomputed"'
            % ("-".join(name.replace(",", "").split()), name)
        )
        E.append(
            'sources.a = { discrete = [[-0.001, 0.25], [0.0, 0.625], [0.005, 0.125]] }\nsources.b = { %s }\noutcomes.y = "a - b"\nrows = ['
            % law.keys
        )
        for p in (0.15, 0.55, 0.9):
            at = float(nstr(mpf("0.0005") - rough(law, p), 4))
            # A step of a that meets an end of b by a hair would be rounding's to decide.
            parts = [(mpf(float(x)) - mpf(at), mpf(float(q))) for x, q in ATOMS]
            row("cdf", at, fsum(q * inside(law, law.sf, z, mpf(1), mpf(0)) for z, q in parts))
            row("upper tail", at, fsum(q * inside(law, law.cdf, z, mpf(0), mpf(1)) for z, q in parts))
        E.append("]\n")


HEAD = """# Sums of two laws of different families at the size of a joint's errors; pairs.py wrote this.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.

"""
main()
with_atoms()
(HERE / "pairs.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")
