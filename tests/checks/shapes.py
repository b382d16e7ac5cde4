"""Writes shapes.toml: laws at the size of a joint's errors, many shapes, at 40 digits with mpmath.

The densities are written down here; chances, moments and characteristic functions come from closed forms or from
quadrature over the density. Arguments are the binary numbers that the decimals read as.
"""

from pathlib import Path

from mpmath import *

mp.dps = 40
HERE = Path(__file__).parent
E = []
HALF = mpf(1) / 2


def f(x):
    return mpf(x)


def phi(z):
    return erfc(-z / sqrt(2)) / 2


class Law:
    """By its density in pieces; whatever is not given is found by quadrature."""

    def __init__(self, name, keys, places, pdf, cdf, sf, characteristic=True, mean=None, variance=None):
        self.__dict__.update(locals())

    def moment(self, g):
        return quad(lambda x: g(x) * self.pdf(x), self.places)


def piecewise(below, above, at):
    return lambda x: below(x) if x < at else above(x)


def triangular(a, c, b):
    up = lambda x: 2 * (x - a) / ((b - a) * (c - a))
    down = lambda x: 2 * (b - x) / ((b - a) * (b - c))
    low = lambda x: (x - a) ** 2 / ((b - a) * (c - a))
    high = lambda x: (b - x) ** 2 / ((b - a) * (b - c))
    pdf = lambda x: up(x) if x < c else down(x)
    cdf = lambda x: low(x) if x < c else 1 - high(x)
    sf = lambda x: 1 - low(x) if x < c else high(x)
    return [a, b] if c in (a, b) else [a, c, b], pdf, cdf, sf


def laws():
    s = f(0.0015)
    yield Law("normal", "normal = 0.0015", [-12 * s, -4 * s, 0, 4 * s, 12 * s], lambda x: npdf(x / s) / s, lambda x: phi(x / s), lambda x: phi(-x / s))
    a, b = f(-0.002), f(0.0005)
    yield Law("rectangular", "rectangular = [-0.002, 0.0005]", [a, b], lambda x: 1 / (b - a), lambda x: (x - a) / (b - a), lambda x: (b - x) / (b - a))
    yield Law("triangular", "triangular = [-0.001, -0.0005, 0.004]", *triangular(f(-0.001), f(-0.0005), f(0.004)))
    yield Law("triangular to the right", "triangular = [-0.001, 0.004, 0.004]", *triangular(f(-0.001), f(0.004), f(0.004)))
    yield Law("triangular to the left", "triangular = [-0.001, -0.001, 0.004]", *triangular(f(-0.001), f(-0.001), f(0.004)))
    # Trapezoid on +-w, the top a quarter of the base.
    w, top = f(0.004), f(0.25)
    height = 1 / (w * (1 + top))
    edge = lambda d: height * d * d / (2 * w * (1 - top))
    inner = w * top
    yield Law(
        "trapezoidal",
        "trapezoidal = { half_width = 0.004, top_ratio = 0.25 }",
        [-w, -inner, inner, w],
        lambda x: height if abs(x) <= inner else height * (w - abs(x)) / (w - inner),
        lambda x: edge(w + x) if x < -inner else (HALF + height * x if x <= inner else 1 - edge(w - x)),
        lambda x: edge(w - x) if x > inner else (HALF - height * x if x >= -inner else 1 - edge(w + x)),
    )
    h, d = f(0.002), f(0.0005)
    part = lambda x, y: (y + x * log(y)) / 2
    low = lambda x: (part(x, h + d) - part(x, max(-x, h - d))) / (2 * d)
    yield Law(
        "curvilinear trapezoidal",
        "curvilinear_trapezoid = { half_width = 0.002, ends = 0.0005 }",
        [-(h + d), -(h - d), h - d, h + d],
        lambda x: log((h + d) / max(abs(x), h - d)) / (4 * d),
        lambda x: low(x) if x <= 0 else 1 - low(-x),
        lambda x: low(-x) if x >= 0 else 1 - low(x),
    )
    r = f(0.003)
    yield Law("arcsine", "arcsine = 0.003", [-r, 0, r], lambda x: 1 / (pi * sqrt(r * r - x * x)), lambda x: HALF + asin(x / r) / pi, lambda x: HALF - asin(x / r) / pi, mean=mpf(0), variance=r * r / 2, characteristic=lambda t: (besselj(0, r * t), mpf(0)))
    c = f(0.001)
    for nu in [1, 2, 3, 4, 30]:
        peak = gamma(f(nu + 1) / 2) / (gamma(f(nu) / 2) * sqrt(nu * pi))

        def tail(x, nu=nu):
            t = abs(x) / c
            half = betainc(f(nu) / 2, HALF, 0, nu / (nu + t * t), regularized=True) / 2
            return half if x >= 0 else 1 - half

        def transform(t, nu=nu):
            z = sqrt(mpf(nu)) * c * abs(t)
            return (besselk(f(nu) / 2, z) * z ** (f(nu) / 2) / (gamma(f(nu) / 2) * mpf(2) ** (f(nu) / 2 - 1)), mpf(0))

        yield Law(
            "Student t, %d" % nu,
            "student_t = { scale = 0.001, degrees_of_freedom = %s }" % float(nu),
            [-c, c],
            lambda x, nu=nu, peak=peak: peak * (1 + (x / c) ** 2 / nu) ** (-f(nu + 1) / 2) / c,
            lambda x, tail=tail: tail(-x),
            tail,
            transform,
            mpf(0) if nu > 1 else "none",
            c * c * nu / (nu - 2) if nu > 2 else "none",
        )
    o, m = f(-0.001), f(0.002)
    yield Law("exponential", "exponential = { origin = -0.001, mean_excess = 0.002 }", [o, o + m, o + 5 * m, o + 20 * m, o + 90 * m], lambda x: exp(-(x - o) / m) / m, lambda x: -expm1(-(x - o) / m), lambda x: exp(-(x - o) / m))
    lo, med, g = f(-0.002), f(0.001), f(0.75)
    k = log(med - lo)
    yield Law(
        "lognormal",
        "lognormal = { origin = -0.002, median = 0.001, log_sd = 0.75 }",
        [lo],
        lambda x: npdf((log(x - lo) - k) / g) / (g * (x - lo)),
        lambda x: phi((log(x - lo) - k) / g),
        lambda x: phi(-(log(x - lo) - k) / g),
        False,
        lo + exp(k + g * g / 2),
        expm1(g * g) * exp(2 * k + g * g),
    )
    l, u = f(-0.001), f(0.003)
    for p, q in [(0.5, 0.5), (5.0, 2.0), (40.0, 30.0), (0.3, 3.0), (1.0, 4.0)]:
        P, Q = f(p), f(q)
        at = lambda x: (x - l) / (u - l)
        yield Law(
            "beta, %g and %g" % (p, q),
            "beta = { lower = -0.001, upper = 0.003, a = %s, b = %s }" % (p, q),
            [l, (l + u) / 2, u],
            lambda x, P=P, Q=Q: at(x) ** (P - 1) * ((u - x) / (u - l)) ** (Q - 1) / beta(P, Q) / (u - l),
            lambda x, P=P, Q=Q: betainc(P, Q, 0, at(x), regularized=True),
            lambda x, P=P, Q=Q: betainc(Q, P, 0, (u - x) / (u - l), regularized=True),
            # Of unequal shapes Kerfwise has none.
            p == q and (lambda t, P=P: (lambda z: (z.real, z.imag))(hyp1f1(P, 2 * P, 1j * t * (u - l)) * exp(1j * t * l))),
            l + (u - l) * P / (P + Q),
            (u - l) ** 2 * P * Q / ((P + Q) ** 2 * (P + Q + 1)),
        )
    for sd, lower, upper in [(0.002, -0.003, 0.001), (0.002, 0.0005, 0.004), (0.001, 0.007, 0.009), (0.002, -0.0001, 0.0003), (0.002, -0.009, -0.001)]:
        S, A, B = f(sd), f(lower), f(upper)
        sign = -1 if A + B > 0 else 1
        between = lambda x, y, S=S, sign=sign: (phi(y / S) - phi(x / S)) if sign > 0 else (phi(-x / S) - phi(-y / S))
        whole = between(A, B)
        yield Law(
            "truncated normal, %g to %g" % (lower, upper),
            "truncated_normal = { sd = %s, lower = %s, upper = %s }" % (sd, lower, upper),
            [A, (A + B) / 2, B],
            lambda x, S=S, whole=whole: npdf(x / S) / S / whole,
            lambda x, A=A, whole=whole, between=between: between(A, x) / whole,
            lambda x, B=B, whole=whole, between=between: between(x, B) / whole,
            False,
        )
    s1, s2 = f(0.002), f(0.0005)
    both = sqrt(2 / pi) / (s1 + s2)
    yield Law(
        "two-piece normal",
        "two_piece_normal = { below = 0.002, above = 0.0005 }",
        [-14 * s1, -4 * s1, 0, 4 * s2, 14 * s2],
        lambda x: both * exp(-(x / (s1 if x < 0 else s2)) ** 2 / 2),
        lambda x: 2 * s1 / (s1 + s2) * phi(x / s1) if x < 0 else 1 - 2 * s2 / (s1 + s2) * phi(-x / s2),
        lambda x: 1 - 2 * s1 / (s1 + s2) * phi(x / s1) if x < 0 else 2 * s2 / (s1 + s2) * phi(-x / s2),
        False,
    )
    w1, w2, n, p, q = f(0.75), f(0.25), f(0.001), f(0.0005), f(0.0035)
    box = lambda x: min(max((x - p) / (q - p), mpf(0)), mpf(1))
    yield Law(
        "mixture",
        "mixture = [{ weight = 0.75, normal = 0.001 }, { weight = 0.25, rectangular = [0.0005, 0.0035] }]",
        [-13 * n, -4 * n, 0, p, q, 13 * n],
        lambda x: w1 * npdf(x / n) / n + (w2 / (q - p) if p <= x <= q else 0),
        lambda x: w1 * phi(x / n) + w2 * box(x),
        lambda x: w1 * phi(-x / n) + w2 * (1 - box(x)),
    )


def row(ask, value, at=None, extra=""):
    where = ", at = %r" % float(at) if at is not None else ""
    E.append('  { by = "distribution", ask = "%s"%s, value = "%s"%s },' % (ask, where, nstr(mpf(value), 25), extra))


def quantile(law, p, is_upper):
    """By halving from the inside of the support; the chance on the far side is small."""
    reach = lambda x: (law.sf(x) < p) if is_upper else (law.cdf(x) >= p)
    step = abs(law.places[-1] - law.places[0])
    low, high = law.places[0], law.places[-1]
    if law.name.startswith(("Student", "lognormal")):
        low, high = law.places[0] - mpf(10) ** 7, law.places[0] + mpf(10) ** 7
    if law.name == "lognormal":
        low = law.places[0] + mpf(10) ** -30
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (low, middle) if reach(middle) else (middle, high)
    return (low + high) / 2


def spread(law):
    return quantile(law, f(0.25), True) - quantile(law, f(0.25), False)


def draws(law, mean, variance):
    """What trials say of the law: the draws, not its functions."""
    trials = 'by = "monte-carlo", ask = "%s", level = 0.9, value = "%s", trials = 200000, one_trial = %.6g'
    if variance != "none":
        E.append("  { %s }," % (trials % ("estimate", nstr(mean, 15), sqrt(variance))))
    for ask, p, is_upper in [("lower", 0.05, False), ("upper", 0.05, True)]:
        # The pole of this one is narrower than a cell of the histogram that quantiles are read off.
        if ask == "lower" and law.name == "beta, 0.3 and 3":
            continue
        x = quantile(law, f(p), is_upper)
        E.append("  { %s }," % (trials % (ask, nstr(x, 15), sqrt(f(p) * (1 - f(p))) / law.pdf(x))))


def main():
    for law in laws():
        E.append(
            '[[case]]\nid = "shape-%s"\nsource = "Own computation, 40 digits"\nclause = "law: %s"\ntitle = "at the size of a joint\'s errors"\n'
            'status = "recomputed"\nsources.x = { %s }\nrows = [' % (law.name.replace(", ", "-").replace(" ", "-"), law.name, law.keys)
        )
        mean, variance = law.mean, law.variance
        if mean is None:
            mean = law.moment(lambda x: x)
            variance = law.moment(lambda x: (x - mean) ** 2)
        if mean != "none":
            row("mean", mean if abs(mean) > mpf(10) ** -25 else 0, extra=", within = 1e-18")
        if variance != "none":
            row("variance", variance)
            row("sd", sqrt(variance))
        places = [f(float(quantile(law, f(p), up))) for p, up in [(1e-6, False), (0.06, False), (0.3, False), (0.4, True), (0.07, True), (1e-6, True)]]
        for x in places[1:5]:
            row("density", law.pdf(x), x)
        for x in places:
            row("cdf", law.cdf(x), x)
            row("upper tail", law.sf(x), x)
        for p in [1e-9, 0.05, 0.4]:
            row("quantile", quantile(law, f(p), False), p)
            row("upper quantile", quantile(law, f(p), True), p)
        draws(law, mean, variance)
        if law.characteristic:
            for k in [0.25, 1.5, 8.0]:
                t = f(float(k / spread(law)))
                if callable(law.characteristic):
                    re, im = law.characteristic(t)
                else:
                    cut = linspace(law.places[0], law.places[-1], 9)
                    pieces = sorted(set(law.places + cut))
                    re = quad(lambda x: cos(t * x) * law.pdf(x), pieces)
                    im = quad(lambda x: sin(t * x) * law.pdf(x), pieces)
                row("characteristic function, real part", re, t, ', within = 4e-15, note = "promised to about 1e-15 of one"')
                if abs(im) > mpf(10) ** -20:
                    row("characteristic function, imaginary part", im, t, ', within = 4e-15, note = "promised to about 1e-15 of one"')
        E.append("]\n")
    (HERE / "shapes.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")


HEAD = """# Laws at the size of a joint's errors, in many shapes; shapes.py wrote this.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.

"""
if __name__ == "__main__":
    main()
