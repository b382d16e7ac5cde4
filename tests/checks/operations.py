"""Writes operations.toml: every operation of an expression by every propagation, by mpmath's derivatives at 40 digits."""

from pathlib import Path

from mpmath import *

mp.dps = 40
HERE = Path(__file__).parent
E = []
WIDE = mpf("0.25")


def case(id, title, sources, expression, clause="JCGM 100:2008, 5.1.2 and its note"):
    E.append(
        '[[case]]\nid = "operation-%s"\nsource = "Own computation, 40 digits"\nclause = "%s"\n'
        'title = "%s"\nstatus = "recomputed"' % (id, clause, title)
    )
    for name, text in sources:
        E.append("sources.%s = { %s }" % (name, text))
    E.append('outcomes.y = "%s"\nrows = [' % expression)


def row(by, ask, value, extra=""):
    if abs(value) < mpf(10) ** -30:
        extra += ", within = 1e-16"
        value = mpf(0)
    E.append('  { by = "%s", ask = "%s", value = "%s"%s },' % (by, ask, nstr(mpf(value), 25), extra))


def end():
    E.append("]\n")


# Name, expression, function, middle of x.
ONE = [
    ("negative", "-x", lambda x: -x, "0.5"),
    ("abs-of-positive", "abs(x)", abs, "0.75"),
    ("abs-of-negative", "abs(x)", abs, "-0.75"),
    ("square", "x^2", lambda x: x**2, "-0.75"),
    ("cube", "x^3", lambda x: x**3, "1.25"),
    ("fifth-power", "x^5", lambda x: x**5, "-0.5"),
    ("reciprocal", "1/x", lambda x: 1 / x, "-1.25"),
    ("power-minus-3", "x^-3", lambda x: x**-3, "1.25"),
    ("sqrt", "sqrt(x)", sqrt, "1.75"),
    ("exp", "exp(x)", exp, "-0.75"),
    ("ln", "ln(x)", log, "1.75"),
    ("sin", "sin(x)", sin, "0.5"),
    ("sin-over-its-top", "sin(x)", sin, "1.5"),
    ("cos", "cos(x)", cos, "2.25"),
    ("cos-over-its-top", "cos(x)", cos, "0.125"),
    ("tan", "tan(x)", tan, "-1.0"),
    ("asin", "asin(x)", asin, "0.5"),
    ("acos", "acos(x)", acos, "-0.5"),
    ("atan", "atan(x)", atan, "1.5"),
    ("atan-of-negative", "atan(x)", atan, "-0.5"),
]
TWO = [
    ("sum", "x + y", lambda x, y: x + y),
    ("difference", "x - y", lambda x, y: x - y),
    ("product", "x * y", lambda x, y: x * y),
    ("quotient", "x / y", lambda x, y: x / y),
    ("lesser", "min(x, y)", lambda x, y: min(x, y)),
    ("greater", "max(x, y)", lambda x, y: max(x, y)),
    ("chord", "sqrt(x^2 + y^2 - 2*x*y*cos(0.5 rad))", lambda x, y: sqrt(x**2 + y**2 - 2 * x * y * cos(mpf("0.5")))),
    ("slope", "x * tan(y * 0.5 rad) - sin(x * 1 rad) / y", lambda x, y: x * tan(y / 2) - sin(x) / y),
]


def extremes(f, low, high):
    """Over a fine lattice and then by halving about the best place: these have one turning point at most."""
    points = [low + (high - low) * k / 64 for k in range(65)]
    out = []
    for sign in (1, -1):
        best = min(points, key=lambda x: sign * f(x))
        a, b = max(low, best - (high - low) / 64), min(high, best + (high - low) / 64)
        g = (sqrt(5) - 1) / 2
        for _ in range(120):
            c, d = b - g * (b - a), a + g * (b - a)
            a, b = (a, d) if sign * f(c) < sign * f(d) else (c, b)
        out.append(sign * min(sign * f(x) for x in (a, b, low, high)))
    return out


def one(name, text, f, at):
    x = mpf(at)
    unit = " rad" if name.split("-")[0] in ("sin", "cos", "tan") else ""
    q = lambda v: '"%s rad"' % v if unit else v
    sources = [("x", "estimate = %s, rectangular = %s" % (q(at), q("0.25")))]
    case(name, "%s at %s, half-width 1/4" % (text, at), sources, text)
    # A Taylor series at the middle; higher powers of a rectangle have variance and moments in closed form.
    slope, second, third = (diff(f, x, k) for k in (1, 2, 3))
    if name.startswith(("abs", "negative")):
        second = third = mpf(0)
    u2 = WIDE**2 / 3
    row("value", "estimate", f(x))
    row("rss", "estimate", f(x))
    row("rss", "sensitivity to x", slope)
    row("rss", "u", abs(slope) * sqrt(u2))
    more = (second**2 / 2 + slope * third) * u2**2
    if more > 0:
        row("rss", "second-order part of u", sqrt(more), ", second_order = true")
    if slope**2 * u2 + more > 0:
        row("rss", "u²", slope**2 * u2 + more, ", second_order = true")
    low, high = extremes(f, x - WIDE, x + WIDE)
    row("worst-case", "lower", low)
    row("worst-case", "upper", high)
    mean = quad(f, [x - WIDE, x, x + WIDE]) / (2 * WIDE)
    sd = sqrt(quad(lambda t: (f(t) - mean) ** 2, [x - WIDE, x, x + WIDE]) / (2 * WIDE))
    kurtosis = quad(lambda t: (f(t) - mean) ** 4, [x - WIDE, x, x + WIDE]) / (2 * WIDE)
    of_u = sqrt(kurtosis - sd**4) / (2 * sd)
    row("monte-carlo", "estimate", mean, ", trials = 40000, one_trial = %.6g" % float(sd))
    row("monte-carlo", "u", sd, ", trials = 40000, one_trial = %.6g" % float(of_u))
    end()


def two(name, text, f):
    x, y = mpf("1.25"), mpf("1.75")
    sx, sy = mpf("0.02"), mpf("0.03")
    case(name, "%s at 1.25 and 1.75" % text, [("x", "estimate = 1.25, normal = 0.02"), ("y", "estimate = 1.75, normal = 0.03")], text)
    if name in ("lesser", "greater"):
        fx, fy = (mpf(1), mpf(0)) if name == "lesser" else (mpf(0), mpf(1))
        higher = {}
    else:
        fx, fy = diff(f, (x, y), (1, 0)), diff(f, (x, y), (0, 1))
        higher = {n: diff(f, (x, y), n) for n in [(2, 0), (1, 1), (0, 2), (3, 0), (2, 1), (1, 2), (0, 3)]}
    row("value", "estimate", f(x, y))
    row("rss", "sensitivity to x", fx)
    row("rss", "sensitivity to y", fy)
    first = fx**2 * sx**2 + fy**2 * sy**2
    row("rss", "u", sqrt(first))
    row("rss", "share of x", fx**2 * sx**2 / first)
    if higher:
        h = higher
        more = (
            (h[2, 0] ** 2 / 2 + fx * h[3, 0]) * sx**4
            + (h[0, 2] ** 2 / 2 + fy * h[0, 3]) * sy**4
            + (h[1, 1] ** 2 + fx * h[1, 2] + fy * h[2, 1]) * sx**2 * sy**2
        )
        row("rss", "u²", first + more, ", second_order = true")
    row("rss", "lower", f(x, y) - sqrt(2) * erfinv(mpf("0.9")) * sqrt(first), ", level = 0.9")
    end()


def by_trials(raw):
    """Mean, standard deviation and what one trial is off by, from the first four raw moments."""
    m1, m2, m3, m4 = raw
    variance = m2 - m1**2
    fourth = m4 - 4 * m1 * m3 + 6 * m1**2 * m2 - 3 * m1**4
    sd = sqrt(variance)
    row("monte-carlo", "estimate", m1, ", trials = 200000, one_trial = %.6g" % float(sd))
    row("monte-carlo", "u", sd, ", trials = 200000, one_trial = %.6g" % float(sqrt(fourth - variance**2) / (2 * sd)))


def sobol_functions():
    """Functions of which the shares of the variance are published; mean and variance have closed forms."""
    case(
        "ishigami",
        "Ishigami and Homma 1990: sin x + 7 sin^2 y + z^4 sin(x)/10 within +-pi; variance 1/2 + 49/8 + pi^4/50 + pi^8/1800",
        [(name, "estimate = 0.0, rectangular = 3.141592653589793") for name in "xyz"],
        "sin(x * 1 rad) + 7 * sin(y * 1 rad)^2 + 0.1 * z^4 * sin(x * 1 rad)",
        "test functions of sensitivity analysis",
    )
    mean = lambda f: quad(f, linspace(-pi, pi, 5)) / (2 * pi)
    a = [mean(lambda x: sin(x) ** k) for k in range(5)]
    b = [mean(lambda x: (1 + x**4 / 10) ** k) for k in range(5)]
    c = [mean(lambda x: (7 * sin(x) ** 2) ** k) for k in range(5)]
    raw = [fsum(binomial(n, k) * a[k] * b[k] * c[n - k] for k in range(n + 1)) for n in range(1, 5)]
    assert abs(raw[1] - raw[0] ** 2 - (mpf(1) / 2 + mpf(49) / 8 + pi**4 / 50 + pi**8 / 1800)) < mpf(10) ** -25
    by_trials(raw)
    end()
    weights = [0, 1, mpf("4.5"), 9]
    case(
        "g-function",
        "Saltelli and Sobol 1995: product of (|4 x - 2| + a)/(1 + a), a 0, 1, 4.5, 9; variance prod(1 + 1/(3 (1 + a)^2)) - 1",
        [("x%d" % k, "estimate = 0.5, rectangular = 0.5") for k in range(4)],
        " * ".join("(abs(4 * x%d - 2) + %s) / %s" % (k, nstr(a, 3), nstr(1 + a, 3)) for k, a in enumerate(weights)),
        "test functions of sensitivity analysis",
    )
    raw = [fprod(quad(lambda x: ((abs(4 * x - 2) + a) / (1 + a)) ** n, [0, 0.5, 1]) for a in weights) for n in range(1, 5)]
    by_trials(raw)
    end()


for of in ONE:
    one(*of)
for of in TWO:
    two(*of)
sobol_functions()
HEAD = """# Every operation of an expression by every propagation; operations.py wrote this.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.

"""
(HERE / "operations.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")
