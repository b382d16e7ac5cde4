"""Writes advice.toml: moves after test pieces, the worth of one more, forecasts of a batch; closed form and quadrature."""

from pathlib import Path

from mpmath import *
import numpy as np

mp.dps = 40
E = []


def num(x):
    return nstr(mpf(x), 19)


def head(id, src, clause, title, sources, band, shown="offset + piece", expr="offset + piece"):
    E.append(
        '[[case]]\nid = "%s"\nsource = "%s"\nclause = "%s"\ntitle = "%s"\nstatus = "recomputed"'
        % (id, src, clause, title)
    )
    for n, t in sources:
        E.append("sources.%s = { %s }" % (n, t))
    E.append('outcomes.fit = { expression = "%s", at_least = "%s in", at_most = "%s in" }' % (expr, band[0], band[1]))
    if shown:
        E.append('outcomes.shown = "%s"' % shown)
    E.append("rows = [")


def r(by, ask, v, extra=""):
    E.append('  { by = "%s", ask = "%s", value = "%s"%s },' % (by, ask, num(v), extra))


def end():
    E.append("]\n")


def ins(m, u, lo, hi):
    # P(lo<=N(m,u)<=hi), each tail directly
    return 1 - ncdf((lo - m) / u) - ncdf((m - hi) / u)


z = mpf("1.95996398454005423552459443052055152795555")


# ---- test cuts: kept offset K~N(m,k), play of a jig move J~N(0,j), gauge's steady error G~N(0,g), pieces p
def tc(i, m, k, j, g, p, band, x, betters=True):
    m, k, j, g, p = map(mpf, (m, k, j, g, p))
    lo, hi = map(mpf, band)
    y = [mpf(a) for a in x]
    n = len(y)
    src = [("offset", 'estimate = "%s in", normal = "%s in"' % (nstr(m, 6), nstr(k, 6)))]
    e, sh = "offset + piece", "offset + piece"
    if j:
        src.append(("play", 'normal = "%s in", event = "jig move"' % nstr(j, 6)))
        e = "offset + play + piece"
        sh = e
    if g:
        src.append(("gauge", 'normal = "%s in"' % nstr(g, 6)))
        sh += " + gauge"
    src.append(("piece", 'normal = "%s in", event = "piece"' % nstr(p, 6)))
    head(
        "test-cut-move-%d" % i,
        "Own computation, closed form",
        "conjugate normal model, with the move",
        "offset %s +- %s, play of a move %s, gauge %s, pieces %s, %d test pieces, dial 0.0005"
        % (nstr(m, 6), nstr(k, 6), nstr(j, 6), nstr(g, 6), nstr(p, 6), n),
        src,
        band,
        sh,
        e,
    )
    at = ", at = [0.0, %s]" % ", ".join(x)
    V = k * k + j * j + g * g + p * p / n  # of the mean reading
    d = fsum(y) / n - m

    def post(v):  # a part with prior variance v inside the mean
        return d * v / V, v - v * v / V

    mb, vb = post(k * k + j * j)
    mb += m
    mk, vk = post(k * k)
    mk += m
    uo = sqrt(vb)
    R = lambda a, v, e="": r("test-cut", a, v, at + e)
    R("offset", mb)
    R("u of the offset", uo)
    R("offset, lower", mb - z * uo)
    R("offset, upper", mb + z * uo)
    R("u of the offset before", sqrt(k * k + j * j))
    R("inside before", ins(m, sqrt(k * k + j * j + p * p), lo, hi))
    R("inside", ins(mb, sqrt(vb + p * p), lo, hi))
    R(
        "above",
        ncdf((mb - hi) / sqrt(vb + p * p)),
        ', within = 1e-14, note = "a small chance is good to 14 decimals, not to 12 digits"',
    )
    um = sqrt(vk + j * j + p * p)
    step = mpf("0.0005")
    want = (lo + hi) / 2 - mk
    q = nint(want / step)
    assert abs(want / step - q) < 0.45, want / step
    mv = q * step
    R("best move", mv)
    R("inside when moved", ins(mk + mv, um, lo, hi))
    R(
        "above when moved",
        ncdf((mk + mv - hi) / um),
        ', within = 1e-14, note = "a small chance is good to 14 decimals, not to 12 digits"',
    )
    if j and betters:
        # old = K+J, new = K+J'+x jointly normal; better when nearer to the middle c
        c = (lo + hi) / 2
        cov = k * k - (k * k) * (k * k + j * j) / V  # K with K+J after the readings
        vn = vk + j * j
        o0, n0 = mb - c, mk + mv - c
        # A=new-old, B=new+old ; better when A B < 0
        mA, mB = n0 - o0, n0 + o0
        vA = vn + vb - 2 * cov
        vB = vn + vb + 2 * cov
        cAB = vn - vb
        rr = cAB / sqrt(vA * vB)
        mp.dps = 20

        def f(t):
            a = mA + sqrt(vA) * t
            cm = mB + cAB / vA * (a - mA)
            s = sqrt(vB * (1 - rr * rr))
            pneg = ncdf(-cm / s)
            return npdf(t) * ((1 - pneg) if a < 0 else pneg)

        t0 = -mA / sqrt(vA)
        pts = sorted(set([mpf(-9), mpf(9)] + [t0] if abs(t0) < 9 else [mpf(-9), mpf(9)]))
        pts = sorted(pts + [mpf(0)])
        val = quad(f, pts)
        mp.dps = 40
        R("chance that moving is better", val, TWO_DIGITS)
    if not j and betters:
        R("chance that moving is better", shift_is_better(mv, mb, vb, lo, hi), OF_A_SHIFT)
    end()


TWO_DIGITS = ', within = 0.005, note = "a number of two digits, as it is shown"'
OF_A_SHIFT = ', within = 1e-6, note = "six decimals: the best place is the top of a curve, told to the root of rounding"'


def shift_is_better(mv, m, v, lo, hi):
    """Where a move redraws nothing it is right for all joints that lie beyond half of it from the middle."""
    side = 1 if mv > 0 else -1
    return ncdf(side * ((lo + hi) / 2 - mv / 2 - m) / sqrt(v))


def shifted(i, k, e, p, band, x):
    """Offset kept, nothing redrawn by a move, and an error of the mortise that no reading of a tenon shows."""
    k, e, p = map(mpf, (k, e, p))
    lo, hi = map(mpf, band)
    y = [mpf(a) for a in x]
    head(
        "test-cut-shift-%d" % i,
        "Own computation, closed form",
        "conjugate normal model, a move that redraws nothing",
        "offset %s, mortise %s, pieces %s, %d test pieces, dial 0.0005" % (nstr(k, 6), nstr(e, 6), nstr(p, 6), len(y)),
        [
            ("offset", 'normal = "%s in"' % nstr(k, 6)),
            ("mortise", 'normal = "%s in"' % nstr(e, 6)),
            ("piece", 'normal = "%s in", event = "piece"' % nstr(p, 6)),
        ],
        band,
        expr="offset + piece - mortise",
    )
    V = k * k + p * p / len(y)
    m, v = fsum(y) / len(y) * k * k / V, k * k - k**4 / V
    step = mpf("0.0005")
    mv = nint(((lo + hi) / 2 - m) / step) * step
    at = ", at = [0.0, %s]" % ", ".join(x)
    r("test-cut", "best move", mv, at)
    r("test-cut", "inside", ins(m, sqrt(v + e * e + p * p), lo, hi), at)
    r("test-cut", "inside when moved", ins(m + mv, sqrt(v + e * e + p * p), lo, hi), at)
    r("test-cut", "chance that moving is better", shift_is_better(mv, m, v + e * e, lo, hi), at + TWO_DIGITS)
    end()


tc(1, "0", ".003", 0, 0, ".001", ("-0.002", "0.002"), ["0.0021", "0.0035", "0.0028"])
tc(2, ".001", ".002", ".0006", 0, ".0012", ("-0.003", "0.003"), ["0.0031", "0.0024"])
tc(3, "0", ".003", ".0008", ".0005", ".001", ("-0.001", "0.004"), ["-0.0034", "-0.0026", "-0.0021", "-0.003"])
tc(4, "-.002", ".004", ".0004", ".0010", ".0007", ("-0.003", "0.003"), ["0.0052"])
tc(5, "0", ".003", 0, 0, ".0015", ("-0.002", "0.002"), ["0.0011"])
tc(6, "0", ".003", ".0001", 0, ".0015", ("-0.002", "0.002"), ["0.0011"])
tc(7, "0", ".002", ".00001", 0, ".002", ("-0.002", "0.003"), ["-0.0012"])
shifted(1, ".003", ".0002", ".001", ("-0.002", "0.002"), ["0.0015"])
shifted(2, ".002", ".003", ".001", ("-0.003", "0.003"), ["-0.0021", "-0.0013"])


def over_a_pole(offset, p, reading, band):
    """An offset of an arcsine law, whose density has no end: K = a sin t with t even, so that nothing is left of the poles."""
    mp.dps = 25
    a, p, y = map(mpf, (offset, p, reading))
    lo, hi = map(mpf, band)
    head(
        "test-cut-pole",
        "Own computation, quadrature",
        "a shared error of which the ends are likeliest",
        "offset arcsine within %s, pieces %s, dial 0.0005" % (offset, nstr(p, 6)),
        [("offset", 'arcsine = "%s in"' % offset), ("piece", 'normal = "%s in", event = "piece"' % nstr(p, 6))],
        band,
    )
    of = lambda g: quad(lambda t: g(a * sin(t)), linspace(-pi / 2, pi / 2, 13)) / pi
    weight = of(lambda k: npdf((y - k) / p))
    after = lambda g: of(lambda k: g(k) * npdf((y - k) / p)) / weight
    at = ", at = [0.0, %s]" % reading
    m = after(lambda k: k)
    fits = lambda x: after(lambda k: ins(k + x, p, lo, hi))
    mv = max((mpf(n) * mpf("0.0005") for n in range(-14, 15)), key=fits)
    r("test-cut", "inside before", of(lambda k: ins(k, p, lo, hi)), at)
    r("test-cut", "offset", m, at)
    r("test-cut", "u of the offset", sqrt(after(lambda k: (k - m) ** 2)), at)
    r("test-cut", "inside", fits(0), at)
    r("test-cut", "best move", mv, at)
    r("test-cut", "inside when moved", fits(mv), at)
    end()
    mp.dps = 40


def sampled(k, a, g, reading, band, trials=16384, joints=4):
    """Pieces of a rectangular law and a gauge that repeats with g: nothing of the fit can be integrated out. The variance of a
    trial's weighted value, over the offset and over the error of the test piece; each trial has four joints."""
    mp.dps = 20
    k, a, g, y = map(mpf, (k, a, g, reading))
    lo, hi = map(mpf, band)
    head(
        "test-cut-sampled",
        "Own computation, quadrature",
        "weighted trials",
        "offset %s, pieces rectangular within %s, a gauge that repeats with %s, at least %d trials" % (k, a, g, trials),
        [
            ("offset", 'normal = "%s in"' % nstr(k, 6)),
            ("piece", 'rectangular = "%s in", event = "piece"' % nstr(a, 6)),
            ("repeat", 'normal = "%s in", event = "piece"' % nstr(g, 6)),
        ],
        band,
        "offset + piece + repeat",
    )
    of = lambda f: quad(lambda t: npdf(t) * f(k * t), sorted(set([mpf(n) / 2 for n in range(-18, 19)] + [s / k for s in KINKS(lo, hi, a)])))
    first = lambda c: (ncdf((y - c + a) / g) - ncdf((y - c - a) / g)) / (2 * a)
    # The square of a normal density is one of g over the root of two, over 2 g root pi.
    second = lambda c: (ncdf((y - c + a) * sqrt(2) / g) - ncdf((y - c - a) * sqrt(2) / g)) / (2 * a) / (2 * g * sqrt(pi))
    below = lambda c: min(mpf(1), max(mpf(0), (lo - c + a) / (2 * a)))
    above = lambda c: min(mpf(1), max(mpf(0), (c + a - hi) / (2 * a)))
    inside_ = lambda c: 1 - below(c) - above(c)
    weight = of(first)
    at = ", at = [0.0, %s]" % reading
    for ask, chance in [("inside", inside_), ("above", above)]:
        m = of(lambda c: first(c) * chance(c)) / weight
        variance = of(lambda c: second(c) * ((chance(c) - m) ** 2 + chance(c) * (1 - chance(c)) / joints)) / weight**2
        r("test-cut", "sampled: " + ask, m, at + ", trials = %d, one_trial = %s" % (trials, nstr(sqrt(variance), 6)))
    m = of(inside_)
    sd = sqrt(of(lambda c: (inside_(c) - m) ** 2 + inside_(c) * (1 - inside_(c)) / joints))
    r("test-cut", "sampled: inside before", m, at + ", trials = %d, one_trial = %s" % (trials, nstr(sd, 6)))
    end()
    mp.dps = 40


def KINKS(lo, hi, a):
    return [lo - a, lo + a, hi - a, hi + a]


over_a_pole(".003", ".001", "0.0022", ("-0.002", "0.002"))
sampled(".002", ".0015", ".0008", "0.0012", ("-0.002", "0.002"))


# ---- what one more piece is worth, readings in steps of r
def nextcase(i, k, p, band, step):
    mp.dps = 20
    k, p, step = map(mpf, (k, p, step))
    lo, hi = map(mpf, band)
    head(
        "test-cut-next-%d" % i,
        "Own computation, quadrature",
        "worth of the first test piece",
        "set-up 0 +- %s, pieces %s, gauge in steps of %s, dial 0.0005: over every reading, the best of leaving and moving"
        % (nstr(k, 6), nstr(p, 6), nstr(step, 6)),
        [("offset", 'normal = "%s in"' % nstr(k, 6)), ("piece", 'normal = "%s in", event = "piece"' % nstr(p, 6))],
        band,
    )
    now = max(ins(mpf(q) * mpf(".0005"), sqrt(k * k + p * p), lo, hi) for q in range(-20, 21))
    # fine trapezoid over the offset: a smooth integrand that dies out, so the error falls faster than any power
    import math
    from scipy.special import ndtr

    N = 6000
    s = np.linspace(-10, 10, 2 * N + 1) * float(k)
    w = np.exp(-0.5 * (s / float(k)) ** 2)
    w /= w.sum()
    P = float(p)
    L, H = float(lo), float(hi)
    st = float(step)
    shifts = np.arange(-60, 61) * 0.0005
    fit = np.array([ndtr((H - s - x) / P) - ndtr((L - s - x) / P) for x in shifts])
    then = 0
    for b in range(-60, 61):
        pr = ndtr(((b + 0.5) * st - s) / P) - ndtr(((b - 0.5) * st - s) / P)
        then += (fit @ (w * pr)).max()
    at = ", at = [%s]" % nstr(step, 6)
    r("test-cut", "one more: now", now, at)
    r(
        "test-cut",
        "one more: then",
        then,
        at + ', within = 1e-7, note = "readings rarer than 1e-9 leave the advice as it is"',
    )
    end()
    mp.dps = 40


nextcase(1, ".003", ".001", ("-0.002", "0.002"), ".001")
nextcase(2, ".002", ".0015", ("-0.003", "0.0035"), ".0005")


# ---- forecasts
def fc(i, mu, sb, sp, n, band, lev):
    mp.dps = 25
    mu, sb, sp = map(mpf, (mu, sb, sp))
    lo, hi = map(mpf, band)
    head(
        "forecast-%d" % i,
        "Own computation, quadrature",
        "distribution of the number that fit",
        "%d pieces, set-up %s +- %s, pieces %s; spares for %s" % (n, nstr(mu, 6), nstr(sb, 6), nstr(sp, 6), lev),
        [
            ("set_up", 'estimate = "%s in", normal = "%s in"' % (nstr(mu, 6), nstr(sb, 6))),
            ("piece", 'normal = "%s in", event = "piece"' % nstr(sp, 6)),
        ],
        band,
        None,
        "set_up + piece",
    )

    def tails(s):
        return ncdf((lo - s) / sp), ncdf((s - hi) / sp)

    def ex(f):
        g = lambda t: npdf(t) * f(mu + sb * t)
        return quad(g, linspace(-10, 10, 41))

    def pk(k, N=n):
        def f(s):
            a, b = tails(s)
            q = a + b
            return binomial(N, k) * (1 - q) ** k * q ** (N - k)

        return ex(f)

    below, above = ex(lambda s: tails(s)[0]), ex(lambda s: tails(s)[1])
    p1 = 1 - below - above
    p2 = ex(lambda s: (1 - sum(tails(s))) ** 2)
    pc = ", pieces = %d" % n
    fits = {k: pk(k) for k in range(n + 1)}
    assert abs(sum(fits.values()) - 1) < 1e-18
    sm = ', within = 1e-13, note = "13 decimals"'
    for k in (n, n - 1, n // 2, 0):
        r("forecast", "exactly", fits[k], ", at = %d.0" % k + pc + sm)
    r(
        "forecast",
        "exactly, if independent",
        binomial(n, n - 1) * p1 ** (n - 1) * (1 - p1),
        ", at = %d.0" % (n - 1) + pc,
    )
    r("forecast", "at least", fsum(fits[k] for k in range(n - 2, n + 1)), ", at = %d.0" % (n - 2) + pc + sm)
    r("forecast", "expected number", n * p1, pc)
    r("forecast", "sd of the number", sqrt(n * p1 * (1 - p1) + n * (n - 1) * (p2 - p1 * p1)), pc)
    r("forecast", "minutes of rework", n * (10 * below + 3 * above), pc)
    s = 0
    while True:
        # at least n of n+s fit
        en = 1 - fsum(pk(k, n + s) for k in range(n))
        if en >= mpf(lev):
            break
        s += 1
        assert s <= max(n, 10)
    r("forecast", "spares", s, pc + ", level = %s" % lev)
    r("forecast", "chance with spares", en, pc + ", level = %s" % lev + sm)
    end()
    mp.dps = 40


fc(1, "0", ".0015", ".001", 8, ("-0.005", "0.005"), "0.99")
fc(2, ".001", ".001", ".002", 12, ("-0.004", "0.005"), "0.9")
fc(3, "-.0005", ".0012", ".0015", 24, ("-0.004", "0.004"), "0.8")
Path(__file__).with_name("advice.toml").write_text(
    "# Decisions: where to move after test pieces and what one more is worth; how many of a batch fit, and spares.\n# Closed form for normal laws, or quadrature by mpmath at 25 digits or more.\n# at: of a test cut the step of the gauge, then readings, in inches; of a forecast the number of pieces.\n# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.\n\n"
    + "\n".join(E).rstrip()
    + "\n"
)
print(len(E))
