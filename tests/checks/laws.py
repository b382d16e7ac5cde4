"""Writes laws.toml: every law's moments, chances and quantiles, in both far tails, at 40 digits with mpmath.

Arguments are the binary numbers that the table's decimals read as, so the value is that of the same argument.
Nothing here is taken from Kerfwise: chances come from closed forms, or from quadrature over the density.

    python laws.py > laws.toml
"""

from mpmath import mp, mpf, sqrt, exp, log, ncdf, asin, pi, sin, betainc, quad, findroot, erfc, inf, gamma

mp.dps = 60
HALF = mpf(1) / 2


def phi(z):
    return erfc(-z / sqrt(2)) / 2


def density_normal(z):
    return exp(-z * z / 2) / sqrt(2 * pi)


class Law:
    """A law from chances below and above; moments and quantiles follow, or are given."""

    def __init__(self, name, keys, cdf, sf, mean, variance, lows, highs, lower, upper):
        self.__dict__.update(locals())

    def quantile(self, p):
        return invert(lambda x: self.cdf(x), mpf(p), self.lower, self.upper)

    def upper_quantile(self, q):
        return invert(lambda x: -self.sf(x), -mpf(q), self.lower, self.upper)


def invert(rising, target, lower, upper):
    """Bisection, then secant steps, on a rising function."""
    lo, hi = mpf(lower), mpf(upper)
    for _ in range(400):
        mid = (lo + hi) / 2
        if rising(mid) < target:
            lo = mid
        else:
            hi = mid
        if hi - lo < mpf(10) ** -48 * max(abs(lo), abs(hi)):
            break
    return (lo + hi) / 2


def f(x):
    return mpf(x)


def laws():
    m, s = f(0.5), f(2.0)
    yield Law("normal", "estimate = 0.0, normal = 2.0", lambda x: phi(x / s), lambda x: phi(-x / s), 0, s * s, [-12.0, -70.0], [12.0, 70.0], -80, 80)
    a, b = f(-1.0), f(3.0)
    yield Law("rectangular", "rectangular = [-1.0, 3.0]", lambda x: (x - a) / (b - a), lambda x: (b - x) / (b - a), 1, (b - a) ** 2 / 12, [-0.9999], [2.9999], a, b)
    p = f(0.5)
    yield Law(
        "triangular",
        "triangular = [-1.0, 0.5, 3.0]",
        lambda x: (x - a) ** 2 / ((b - a) * (p - a)) if x <= p else 1 - (b - x) ** 2 / ((b - a) * (b - p)),
        lambda x: (b - x) ** 2 / ((b - a) * (b - p)) if x >= p else 1 - (x - a) ** 2 / ((b - a) * (p - a)),
        (a + b + p) / 3,
        (a * a + b * b + p * p - a * b - a * p - b * p) / 18,
        [-0.9999],
        [2.9999],
        a,
        b,
    )
    # Trapezoid on (-2, 2), top half as long as the base: flat from -1 to 1, height 1/3.
    slope = lambda d: d * d / 6
    yield Law(
        "trapezoidal",
        "trapezoidal = { half_width = 2.0, top_ratio = 0.5 }",
        lambda x: slope(x + 2) if x <= -1 else (HALF + x / 3 if x <= 1 else 1 - slope(2 - x)),
        lambda x: slope(2 - x) if x >= 1 else (HALF - x / 3 if x >= -1 else 1 - slope(x + 2)),
        0,
        4 * (1 + f(0.25)) / 6,
        [-1.9999],
        [1.9999],
        -2,
        2,
    )
    # Rectangular with limits +-1 known to 1/4 (JCGM 101, 6.4.3): E over the half-width h of (x + h) / 2h.
    w, d = mpf(1), f(0.25)

    def ctrap_low(x):
        h0 = max(-x, w - d)
        part = lambda h: (h + x * log(h)) / 2
        return (part(w + d) - part(h0)) / (2 * d)

    yield Law("curvilinear trapezoidal", "curvilinear_trapezoid = { half_width = 1.0, ends = 0.25 }", lambda x: ctrap_low(x) if x <= 0 else 1 - ctrap_low(-x), lambda x: ctrap_low(-x) if x >= 0 else 1 - ctrap_low(x), 0, mpf(1) / 3 + d * d / 9, [-1.2499], [1.2499], -(w + d), w + d)
    yield Law("arcsine", "arcsine = 2.0", lambda x: HALF + asin(x / 2) / pi, lambda x: HALF - asin(x / 2) / pi, 0, 2, [-1.9999999], [1.9999999], -2, 2)
    nu = f(4.5)

    def t_sf(t):
        tail = betainc(nu / 2, HALF, 0, nu / (nu + t * t), regularized=True) / 2
        return tail if t >= 0 else 1 - tail

    yield Law("Student t", "student_t = { scale = 0.5, degrees_of_freedom = 4.5 }", lambda x: t_sf(-2 * x), lambda x: t_sf(2 * x), 0, f(0.25) * nu / (nu - 2), [-5.0, -1000.0], [5.0, 1000.0], -(mpf(10) ** 12), mpf(10) ** 12)
    yield Law("exponential", 'exponential = { origin = 1.0, mean_excess = 2.0 }', lambda x: -mp.expm1(-(x - 1) / 2), lambda x: exp(-(x - 1) / 2), 3, 4, [1.0000001], [100.0], 1, 4000)
    g = f(0.5)
    yield Law("lognormal", "lognormal = { origin = 1.0, median = 3.0, log_sd = 0.5 }", lambda x: phi(log((x - 1) / 2) / g), lambda x: phi(-log((x - 1) / 2) / g), 1 + 2 * exp(g * g / 2), (exp(g * g) - 1) * 4 * exp(g * g), [1.01], [50.0], 1 + mpf(10) ** -40, 10**9)
    ba, bb = f(2.5), f(0.75)
    unit = lambda x: (x + 1) / 4
    yield Law(
        "beta",
        "beta = { lower = -1.0, upper = 3.0, a = 2.5, b = 0.75 }",
        lambda x: betainc(ba, bb, 0, unit(x), regularized=True),
        lambda x: betainc(bb, ba, 0, 1 - unit(x), regularized=True),
        -1 + 4 * ba / (ba + bb),
        16 * ba * bb / ((ba + bb) ** 2 * (ba + bb + 1)),
        [-0.9999],
        [2.99999],
        a,
        b,
    )
    lo, hi = f(1.0), f(9.0)
    whole = phi(-lo) - phi(-hi)
    tmean = (density_normal(lo) - density_normal(hi)) / whole
    tvar = 1 + (lo * density_normal(lo) - hi * density_normal(hi)) / whole - tmean**2
    yield Law("truncated normal", "truncated_normal = { sd = 1.0, lower = 1.0, upper = 9.0 }", lambda x: (phi(-lo) - phi(-x)) / whole, lambda x: (phi(-x) - phi(-hi)) / whole, tmean, tvar, [1.0001], [8.0], lo, hi)
    s1, s2 = f(1.0), f(3.0)
    below = s1 / (s1 + s2)
    k = sqrt(2 / pi)
    tp_mean = k * (s2 - s1)
    yield Law(
        "two-piece normal",
        "two_piece_normal = { below = 1.0, above = 3.0 }",
        lambda x: 2 * below * phi(x / s1) if x <= 0 else 1 - 2 * (1 - below) * phi(-x / s2),
        lambda x: 2 * (1 - below) * phi(-x / s2) if x >= 0 else 1 - 2 * below * phi(x / s1),
        tp_mean,
        (1 - 2 / pi) * (s2 - s1) ** 2 + s1 * s2,
        [-8.0, -35.0],
        [24.0, 100.0],
        -100,
        300,
    )
    # 0.9 N(0, 1) and 0.1 uniform on (2, 10).
    w1, w2 = f(0.875), f(0.125)
    box = lambda x: min(max((x - 2) / 8, 0), mpf(1))
    mix_mean = w2 * 6
    yield Law(
        "mixture",
        "mixture = [{ weight = 0.875, normal = 1.0 }, { weight = 0.125, rectangular = [2.0, 10.0] }]",
        lambda x: w1 * phi(x) + w2 * box(x),
        lambda x: w1 * phi(-x) + w2 * (1 - box(x)),
        mix_mean,
        w1 + w2 * (36 + mpf(64) / 12) - mix_mean**2,
        [-7.0, -30.0],
        [9.9999, 30.0],
        -60,
        60,
    )


def show(x):
    return mp.nstr(mpf(x), 40, min_fixed=-3, max_fixed=20) if x != 0 else "0"


def row(ask, value, at=None, within=0.0, note=None):
    where = f", at = {at!r}" if at is not None else ""
    # An exact 0 has no digits; a mean that is 0 must come out as 0.
    extra = f", within = {within}" if value == 0 else ""
    extra += f', note = "{note}"' if note else ""
    return f'  {{ by = "distribution", ask = "{ask}"{where}, value = "{show(value)}"{extra} }},'


def discrete_case():
    values = [(-1.0, 0.25), (0.0, 0.625), (5.0, 0.125)]
    mean = sum(f(v) * f(p) for v, p in values)
    variance = sum((f(v) - mean) ** 2 * f(p) for v, p in values)
    rows = [row("mean", mean), row("variance", variance), row("cdf", f(0.25), -1.0), row("cdf", f(0.875), 4.9999), row("upper tail", f(0.125), 0.0), row("quantile", f(0.0), 0.25000001), row("upper quantile", f(5.0), 0.1)]
    case("discrete", "discrete = [[-1.0, 0.25], [0.0, 0.625], [5.0, 0.125]]", rows)


def empirical_case():
    values = [0.5, -1.25, 3.0, 0.25, 0.5]
    mean = sum(map(f, values)) / 5
    deviations = [f(v) - mean for v in values]
    rounding = "deviations are taken from a mean that is rounded"
    rows = [row("mean", 0, within=3e-16, note=rounding), row("variance", sum(x * x for x in deviations) / 5), row("cdf", mpf(1) / 5, -1.8), row("cdf", mpf(4) / 5, 2.3), row("upper tail", mpf(1) / 5, 2.0), row("quantile", -mpf("1.85"), 0.1), row("upper quantile", mpf("2.4"), 0.1), row("upper quantile", -mpf("0.1"), 0.3)]
    case("empirical", 'values = [0.5, -1.25, 3.0, 0.25, 0.5], use = "empirical"', rows)


def case(name, keys, rows):
    print(f"\n[[case]]\nid = \"law-{name.replace(' ', '-')}\"\nsource = \"Own computation, 40 digits\"\nclause = \"law: {name}\"")
    print(f"title = \"{name} law, moments and both tails\"\nstatus = \"recomputed\"\nsources.x = {{ {keys} }}\nrows = [")
    print("\n".join(rows))
    print("]")


def main():
    print("# Every law in both tails, at 40 digits: written by laws.py, see there.")
    for law in laws():
        rows = [row("mean", law.mean), row("variance", law.variance)]
        rows += [row("cdf", law.cdf(f(x)), x) for x in law.lows]
        rows += [row("upper tail", law.sf(f(x)), x) for x in law.highs]
        rows += [row("quantile", law.quantile(p), p) for p in (1e-12, 0.3)]
        rows += [row("upper quantile", law.upper_quantile(q), q) for q in (1e-12, 0.2)]
        case(law.name, law.keys, rows)
    discrete_case()
    empirical_case()


main()
