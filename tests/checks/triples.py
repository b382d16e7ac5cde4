"""Writes triples.toml: a law that falls abruptly, a rectangle and a normal law much narrower than it, by quadrature at 24 digits.

Beside so narrow a normal law the characteristic function of the first is needed far out, where only its ends and kinks are
heard. Of the other two together the chance is closed: the integral of the normal distribution function.
"""

from pathlib import Path

from mpmath import *
from shapes import laws

mp.dps = 24
HERE = Path(__file__).parent
E = []


class Beta:
    """Taken apart in the middle, so that at most one end has a pole."""

    def __init__(self, low, high, a, b):
        self.low, self.high, self.a, self.b = mpf(low), mpf(high), mpf(a), mpf(b)
        self.name = "beta, %g and %g" % (a, b)
        self.keys = "beta = { lower = %r, upper = %r, a = %r, b = %r }" % (low, high, a, b)
        self.places = [self.low, self.high]

    def cdf(self, x):
        return betainc(self.a, self.b, 0, (x - self.low) / (self.high - self.low), regularized=True)

    def half(self, a, b, f, turns):
        """The half beside an end, over the power of the distance from it that takes the pole away."""
        g = lambda r: (lambda v: (1 - v) ** (b - 1) * f(v))(r ** (1 / a))
        cuts = sorted({mpf(0), mpf("0.5") ** a} | {t**a for t in turns if 0 < t < 0.5})
        return quad(g, cuts) / a / beta(self.a, self.b)

    def mean_of(self, f, turns):
        """E f(X), cut where f turns."""
        width = self.high - self.low
        below = self.half(self.a, self.b, lambda v: f(self.low + v * width), [(t - self.low) / width for t in turns])
        above = self.half(self.b, self.a, lambda v: f(self.high - v * width), [(self.high - t) / width for t in turns])
        return below + above


NAMES = [
    "triangular",
    "triangular to the right",
    "trapezoidal",
    "curvilinear trapezoidal",
    "truncated normal, -0.003 to 0.001",
    "truncated normal, 0.0005 to 0.004",
    "two-piece normal",
]


class Sum:
    """The law plus a rectangle of this half-width plus a normal law."""

    def __init__(self, law, half, sd):
        self.law, self.half, self.sd = law, mpf(half), mpf(sd)

    def other_cdf(self, z):
        g = lambda z: z * ncdf(z) + npdf(z)
        return self.sd / (2 * self.half) * (g((z + self.half) / self.sd) - g((z - self.half) / self.sd))

    def other_pdf(self, z):
        return (ncdf((z + self.half) / self.sd) - ncdf((z - self.half) / self.sd)) / (2 * self.half)

    def mean_of(self, f, at):
        """E f(at - X), where f turns within a few sd of either end of the rectangle."""
        turns = [at + side * self.half + k * self.sd for side in (-1, 1) for k in (-8, -3, 0, 3, 8)]
        g = lambda x: f(at - x)
        if isinstance(self.law, Beta):
            return self.law.mean_of(g, turns)
        own = self.law.places
        cuts = sorted(set(own) | {t for t in turns if own[0] < t < own[-1]})
        return quad(lambda x: self.law.pdf(x) * g(x), cuts, method="gauss-legendre")

    def cdf(self, at):
        return self.mean_of(self.other_cdf, at)

    def sf(self, at):
        return self.mean_of(lambda z: self.other_cdf(-z), at)

    def pdf(self, at):
        return self.mean_of(self.other_pdf, at)

    def rough(self, p):
        """Of the law alone; the others are narrow."""
        low, high = self.law.places[0], self.law.places[-1]
        for _ in range(30):
            middle = (low + high) / 2
            low, high = (middle, high) if self.law.cdf(middle) < p else (low, middle)
        return low

    def quantile(self, p):
        x = self.rough(p)
        for _ in range(12):
            step = (self.cdf(x) - p) / self.pdf(x)
            x -= max(min(step, self.half), -self.half)
            if abs(step) < mpf(10) ** -20:
                return x
        raise ValueError("no quantile of " + self.law.name)


def row(ask, at, value, extra=""):
    at = ", at = %r" % float(at) if at is not None else ""
    E.append('  { by = "exact", ask = "%s"%s, value = "%s"%s },' % (ask, at, nstr(value, 18), extra))


def shortest(total, p):
    """Equal densities at both ends: Newton on both conditions."""
    a, b = total.quantile(mpf("0.05")), total.quantile(mpf("0.05") + p)
    h = total.sd / 10**6
    for _ in range(12):
        slope = lambda x: (total.pdf(x + h) - total.pdf(x - h)) / (2 * h)
        f, g = total.cdf(b) - total.cdf(a) - p, total.pdf(b) - total.pdf(a)
        if abs(f) < mpf(10) ** -20 and abs(g) < mpf(10) ** -8:
            break
        matrix_ = matrix([[-total.pdf(a), total.pdf(b)], [-slope(a), slope(b)]])
        step = lu_solve(matrix_, matrix([f, g]))
        a, b = a - step[0], b - step[1]
    assert abs(f) < mpf(10) ** -18, f
    return a, b


def main():
    known = {law.name: law for law in laws()}
    betas = [(-0.003, 0.003, 0.5, 0.5), (-0.001, 0.003, 5.0, 2.0), (-0.001, 0.003, 0.3, 3.0), (-0.001, 0.003, 1.0, 4.0), (-0.0019, 0.0, 1.0, 0.5)]
    all_laws = [(known[name], "0.0002", "0.00008") for name in NAMES] + [(Beta(*b), "0.0002", "0.00008") for b in betas]
    all_laws.append((Beta(-0.5, 1.0, 1.5, 0.75), "0.05", "0.0125"))
    for law, half, sd in all_laws:
        total = Sum(law, half, sd)
        E.append(
            '[[case]]\nid = "triple-%s"\nsource = "Own computation, quadrature"\nclause = "sum of three laws"\ntitle = "%s, a rectangle and a narrow normal law"\nstatus = "recomputed"'
            % ("-".join(law.name.replace(",", "").split()), law.name)
        )
        E.append(
            "sources.a = { %s }\nsources.b = { rectangular = %s }\nsources.c = { normal = %s }\noutcomes.y = \"a + b + c\"\nrows = ["
            % (law.keys, half, sd)
        )
        total.half, total.sd = mpf(float(half)), mpf(float(sd))
        for p in ("0.02", "0.4", "0.93"):
            at = mpf(float(nstr(total.rough(mpf(p)), 4)))
            row("cdf", at, total.cdf(at))
            row("upper tail", at, total.sf(at))
        row("density", at, total.pdf(at))
        row("quantile", 0.25, total.quantile(mpf("0.25")))
        if law.name in ("triangular", "beta, 5 and 2", "two-piece normal"):
            a, b = shortest(total, mpf("0.9"))
            near = ', level = 0.9, digits = 6, note = "where two densities are equal is found to about the root of what they are known to"'
            row("shortest lower", None, a, near)
            row("shortest upper", None, b, near)
            row("shortest width", None, b - a, ', level = 0.9, digits = 11, note = "as quantiles, twice"')
        E.append("]\n")


HEAD = """# Sums of three laws, of which one falls abruptly and one is narrow; triples.py wrote this.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.

"""
main()
(HERE / "triples.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")
