"""Writes choices.toml: which error to mend (closed forms, 22 digits), pairing (all ways tried), readings judged and
pieces felt (quadrature)."""

from itertools import combinations, permutations
from pathlib import Path

import numpy as np
from mpmath import *
from scipy.stats import norm

mp.dps = 22
HERE = Path(__file__).parent
E = []


def case(id, clause, title, source="Own computation, closed form", more=""):
    E.append(
        '[[case]]\nid = "%s"\nsource = "%s"\nclause = "%s"\ntitle = "%s"\nstatus = "recomputed"\n%srows = ['
        % (id, source, clause, title, more)
    )


def row(by, ask, value, of="", at=(), extra=""):
    of = ', of = "%s"' % of if of else ""
    at = ", at = [%s]" % ", ".join(repr(float(x)) for x in at) if at else ""
    E.append('  { by = "%s", ask = "%s"%s%s, value = "%s"%s },' % (by, ask, of, at, nstr(mpf(value), 20), extra))


def end():
    E.append("]\n")


def uniform_normal_below(x, half, sd):
    """P(U + N <= x), U uniform within +-half: the integral of Phi."""
    g = lambda z: z * ncdf(z) + npdf(z)
    if half == 0:
        return ncdf(x / sd)
    if sd == 0:
        return min(max((x + half) / (2 * half), mpf(0)), mpf(1))
    return sd / (2 * half) * (g((x + half) / sd) - g((x - half) / sd))


def root(f, low, high):
    """By halving; f falls."""
    low, high = mpf(low), mpf(high)
    for _ in range(70):
        middle = (low + high) / 2
        low, high = (middle, high) if f(middle) > 0 else (low, middle)
    return low


def normals():
    case(
        "worth-normals",
        "normal laws",
        "blade and stop, correlated 0.4, and a piece; mean off by 0.001",
        more='sources.blade = { estimate = "0.001 in", normal = "0.002 in" }\nsources.piece = { normal = "0.001 in", event = "piece" }\n'
        'sources.stop = { normal = "0.0015 in" }\ncorrelations = [["blade", "stop", 0.4]]\n'
        'outcomes.fit = { expression = "blade - 2 * stop + piece", at_least = "-0.004 in", at_most = "0.005 in" }\n',
    )
    m = mpf("0.001")

    def chance(blade=1, stop=1, piece=1):
        a, b, c = blade * mpf("0.002"), 2 * stop * mpf("0.0015"), piece * mpf("0.001")
        sd = sqrt(a * a + b * b - 2 * mpf("0.4") * a * b + c * c)
        below, above = ncdf((mpf("-0.004") - m) / sd), ncdf(-(mpf("0.005") - m) / sd)
        return below, 1 - below - above, above

    row("worth", "inside", chance()[1])
    for name in ["blade", "stop", "piece"]:
        row("worth", "inside, halved", chance(**{name: mpf("0.5")})[1], name)
        row("worth", "inside, removed", chance(**{name: 0})[1], name)
    row("worth", "below, removed", chance(stop=0)[0], "stop")
    row("worth", "above, halved", chance(stop=mpf("0.5"))[2], "stop")
    row("worth", "largest factor", root(lambda f: chance(stop=f)[1] - mpf("0.93"), mpf("0.3"), 3), "stop", [0.93], ", digits = 11")
    row("worth", "largest factor of all", root(lambda f: chance(f, f, f)[1] - mpf("0.95"), mpf("0.01"), 3), "", [0.95], ", digits = 11")
    offers = [("blade", mpf("0.5"), 20), ("stop", mpf("0.5"), 35), ("piece", mpf("0.25"), 12)]
    for wanted in ["0.9", "0.97"]:
        best = None
        for n in range(4):
            for chosen in combinations(offers, n):
                price = sum(p for _, _, p in chosen)
                c = chance(**{s: f for s, f, _ in chosen})[1]
                if c >= mpf(wanted) and (best is None or (price, -c) < best):
                    best = (price, -c)
        at = [wanted] + [x for _, f, p in offers for x in (f, p)]
        row("worth", "cheapest: price", best[0], "blade stop piece", at)
        row("worth", "cheapest: inside", -best[1], "blade stop piece", at)
    end()


def rectangle():
    case(
        "worth-rectangle",
        "a rectangle and a normal law",
        "limits of a rectangle within +-0.004, sd 0.001, mean -0.0005, a band with one limit",
        more='sources.play = { estimate = "-0.0005 in", rectangular = "0.004 in" }\n'
        'sources.piece = { normal = "0.001 in", event = "piece" }\n'
        'outcomes.fit = { expression = "play + piece", at_most = "0.003 in" }\n',
    )
    x = mpf("0.0035")
    below = lambda half, sd: uniform_normal_below(x, half, sd)
    a, s = mpf("0.004"), mpf("0.001")
    row("worth", "inside", below(a, s))
    row("worth", "inside, halved", below(a / 2, s), "play")
    row("worth", "inside, removed", below(0, s), "play")
    row("worth", "inside, halved", below(a, s / 2), "piece")
    row("worth", "inside, removed", below(a, 0), "piece")
    row("worth", "above, halved", 1 - below(a / 2, s), "play", extra=', within = 1e-14, note = "a small chance is good to 14 decimals"')
    row("worth", "largest factor", root(lambda f: below(a * f, s) - mpf("0.99"), mpf("0.001"), 3), "play", [0.99], ", digits = 11")
    end()


def best_pairing(tenons, mortises, wanted, least, most):
    """All ways: most pairs that fit, of these the least squares; then of the rest the least stock."""

    def ways(rows, columns):
        small, large, turned = (rows, columns, False) if len(rows) <= len(columns) else (columns, rows, True)
        for chosen in permutations(large, len(small)):
            yield [(b, a) if turned else (a, b) for a, b in zip(small, chosen)]

    hair = 1e-10
    best = None
    for way in ways(range(len(tenons)), range(len(mortises))):
        fits = [(t, m) for t, m in way if least - hair <= mortises[m] - tenons[t] <= most + hair]
        cost = sum((mortises[m] - tenons[t] - wanted) ** 2 for t, m in fits)
        if best is None or (-len(fits), round(cost, 15)) < best[:2]:
            best = (-len(fits), round(cost, 15), fits)
    fits = best[2]
    left = [t for t in range(len(tenons)) if t not in [a for a, _ in fits]]
    over = [m for m in range(len(mortises)) if m not in [b for _, b in fits]]
    rework = min(
        (sum(abs(mortises[m] - tenons[t] - wanted) for t, m in way), sorted(way)) for way in ways(left, over)
    )
    return sorted(fits), rework


def pairings():
    lists = [
        ([0.3745, 0.3752, 0.3738, 0.3761], [0.3755, 0.3749, 0.3762, 0.3771], 0.0008, 0.0, 0.002),
        ([0.376, 0.3748, 0.3731], [0.3764, 0.3739, 0.375, 0.3782, 0.3741], 0.001, 0.0003, 0.0018),
        ([0.3772, 0.3769, 0.3745, 0.3738, 0.375], [0.375, 0.3752, 0.3781], 0.0009, 0.0004, 0.0014),
        ([0.38, 0.3745, 0.379, 0.3736], [0.3751, 0.375, 0.374, 0.3752], 0.001, 0.0005, 0.0015),
    ]
    for number, (tenons, mortises, wanted, least, most) in enumerate(lists, 1):
        case(
            "pairing-%d" % number,
            "pairing, all ways tried",
            "%d tenons and %d mortises" % (len(tenons), len(mortises)),
            "Own computation, all ways tried",
        )
        fits, (stock, rework) = best_pairing(tenons, mortises, wanted, least, most)
        at = [wanted, least, most, len(tenons)] + tenons + mortises
        squares = fsum((mpf(repr(mortises[m])) - mpf(repr(tenons[t])) - mpf(repr(wanted))) ** 2 for t, m in fits)
        near = ', within = 1e-15, note = "differences of widths near 3/8 in"'
        row("pairing", "number that fit", len(fits), at=at)
        row("pairing", "rms deviation", sqrt(squares / len(fits)), at=at, extra=near)
        row("pairing", "number to rework", len(rework), at=at, extra=", within = 1e-12")
        row("pairing", "stock to take off", stock, at=at, extra=near)
        row("pairing", "tenons left over", len(tenons) - len(fits) - len(rework), at=at, extra=", within = 1e-12")
        row("pairing", "mortises left over", len(mortises) - len(fits) - len(rework), at=at, extra=", within = 1e-12")
        for t, m in fits:
            row("pairing", "mortise of tenon", m, str(t), at, ", within = 1e-12")
        end()


def near(x):
    return ', within = %s, note = "%s"' % x


def judging():
    m, s, w, g, bias, h = mpf("0.0007"), mpf("0.003"), mpf("0.0008"), mpf("0.0012"), mpf("0.0004"), mpf("0.0005")
    low, high = mpf("-0.004"), mpf("0.005")
    case(
        "judge-off-zero",
        "normal laws, quadrature",
        "process, what the gauge does not see, a gauge that reads 0.0004 too much in steps of 0.001",
        "Own computation, quadrature",
        'sources.process = { estimate = "0.0007 in", normal = "0.003 in" }\nsources.later = { normal = "0.0008 in" }\n'
        'sources.reading = { estimate = "0.0004 in", normal = "0.0012 in" }\n'
        'outcomes.fit = { expression = "process + later", at_least = "-0.004 in", at_most = "0.005 in" }\n'
        'outcomes.shown = "process + reading"\n',
    )
    share, total = s * s / (s * s + g * g), sqrt(s * s + g * g)
    spread = sqrt(s * s * (1 - share) + w * w)
    given = lambda x: m + share * (x - m - bias)
    seen = lambda x: npdf((x - m - bias) / total) / total
    below = lambda x: ncdf((low - given(x)) / spread)
    above = lambda x: ncdf((given(x) - high) / spread)
    for r in ["-0.003", "0.001", "0.006"]:
        r = mpf(r)
        whole = quad(seen, [r - h, r, r + h])
        a = quad(lambda x: seen(x) * below(x), [r - h, r, r + h]) / whole
        b = quad(lambda x: seen(x) * above(x), [r - h, r, r + h]) / whole
        small = near(("1e-14", "a small chance is good to 14 decimals"))
        row("judge", "below", a, at=[0.001, r], extra=small)
        row("judge", "inside", 1 - a - b, at=[0.001, r])
        row("judge", "above", b, at=[0.001, r], extra=small)
    for a, b in [("-0.003", "0.004"), ("0", "0.006")]:
        a, b = mpf(a), mpf(b)
        cuts = linspace(a - h, b + h, 4)
        accepted = ncdf((b + h - m - bias) / total) - ncdf((a - h - m - bias) / total)
        consumer = quad(lambda x: seen(x) * (below(x) + above(x)), cuts)
        conforming = ncdf((high - m) / sqrt(s * s + w * w)) - ncdf((low - m) / sqrt(s * s + w * w))
        at = [0.001, a, b]
        row("judge", "conforming", conforming, at=at)
        row("judge", "accepted", accepted, at=at)
        row("judge", "consumer's risk", consumer, at=at, extra=near(("1e-14", "a small chance is good to 14 decimals")))
        row("judge", "producer's risk", conforming - accepted + consumer, at=at, extra=near(("1e-14", "a small chance is good to 14 decimals")))
    inside = lambda x: 1 - below(x) - above(x)
    top = (low + high) / 2
    best = m + bias + (top - m) / share
    found = near(("1e-9", "a limit is found to 1e-10 of the range of readings, in the chance's own error"))
    for wanted in ["0.9", "0.6"]:
        p = mpf(wanted)
        upper = root(lambda x: inside(x) - p, best, best + mpf("0.02"))
        lower = -root(lambda x: inside(-x) - p, -best, -best + mpf("0.02"))
        row("judge", "accept from", lower, at=[0.0, p], extra=found)
        row("judge", "accept to", upper, at=[0.0, p], extra=found)
        row("judge", "guard below", lower - (low + bias), at=[0.0, p], extra=found)
        row("judge", "guard above", high + bias - upper, at=[0.0, p], extra=found)
    row("judge", "best reading", best, at=[0.0], extra=near(("2e-6", "the best place is looked for in steps of a thousandth of the gauge")))
    row("judge", "inside at the best reading", inside(best), at=[0.0], extra=near(("1e-7", "the best place is looked for in steps")))
    row("judge", "uncertainty of a reading", sqrt(g * g + mpf("0.001") ** 2 / 12), at=[0.001])
    row("judge", "measurement capability", (high - low) / (4 * sqrt(g * g + mpf("0.0005") ** 2 / 12)), at=[0.0005])
    end()


def judging_finely():
    """A gauge that could be coarser still; and a band of one limit with a gauge of a bounded error."""
    s, g, high = mpf("0.002"), mpf("0.0002"), mpf("0.004")
    case(
        "judge-fine",
        "normal laws, quadrature",
        "process 0.002 about -0.0005, a gauge of 0.0002, band 0.004 either way",
        "Own computation, quadrature",
        'sources.process = { estimate = "-0.0005 in", normal = "0.002 in" }\nsources.reading = { normal = "0.0002 in" }\n'
        'outcomes.fit = { expression = "process", at_least = "-0.004 in", at_most = "0.004 in" }\noutcomes.shown = "process + reading"\n',
    )
    m, small = mpf("-0.0005"), near(("1e-14", "a small chance is good to 14 decimals"))
    for step in ["0", "0.0005", "0.002"]:
        u = sqrt(g * g + mpf(step) ** 2 / 12)
        row("judge", "uncertainty of a reading", u, at=[step])
        row("judge", "measurement capability", 2 * high / (4 * u), at=[step])
        # JCGM 106, 7.6.3: band / (4 u) = 4.
        row("judge", "step for four", sqrt(12 * ((2 * high / 16) ** 2 - g * g)), at=[step])
    share, total = s * s / (s * s + g * g), sqrt(s * s + g * g)
    spread = sqrt(s * s * (1 - share))
    given = lambda x: m + share * (x - m)
    inside = lambda x: ncdf((high - given(x)) / spread) - ncdf((-high - given(x)) / spread)
    seen = lambda x: npdf((x - m) / total) / total
    h = mpf("0.00025")
    rounded = lambda r: quad(lambda x: seen(x) * inside(x), [r - h, r, r + h]) / quad(seen, [r - h, r, r + h])
    for r in ["0.004", "-0.0035"]:
        row("judge", "inside", rounded(mpf(r)), at=[0.0005, r])
        row("judge", "inside", inside(mpf(r)), at=[0.0, r])
    found = near(("1e-9", "a limit is found to 1e-10 of the range of readings, in the chance's own error"))
    for wanted in ["0.99", "0.5"]:
        for step, chance in [(0.0, inside), (0.0005, rounded)]:
            upper = root(lambda x: chance(x) - mpf(wanted), 0, mpf("0.008"))
            lower = -root(lambda x: chance(-x) - mpf(wanted), 0, mpf("0.008"))
            at = [step, wanted]
            row("judge", "accept from", lower, at=at, extra=found)
            row("judge", "accept to", upper, at=at, extra=found)
            row("judge", "guard below", lower + high, at=at, extra=found)
            row("judge", "guard above", high - upper, at=at, extra=found)
    end()
    w, k, top = mpf("0.0015"), mpf("0.0006"), mpf("0.0021")
    case(
        "judge-one-limit",
        "a rectangle seen with a triangle, quadrature",
        "process within 0.003, later 0.0015 unseen, a gauge of a triangle within 0.0006, at most 0.0021",
        "Own computation, quadrature",
        'sources.process = { rectangular = "0.003 in" }\nsources.later = { normal = "0.0015 in" }\nsources.reading = { triangular = "0.0006 in" }\n'
        'outcomes.fit = { expression = "process - later", at_most = "0.0021 in" }\noutcomes.shown = "process + reading"\n',
    )
    half = mpf("0.003")
    tent = lambda d: max(1 - abs(d) / k, mpf(0)) / k
    fits = lambda c: ncdf((top - c) / w)

    def up_to(d):
        """Distribution function of the triangle."""
        d = max(min(d, k), -k)
        return (d + k) ** 2 / (2 * k * k) if d < 0 else 1 - (k - d) ** 2 / (2 * k * k)

    def chance(r, step):
        turns = [r + e + f for e in (-k, 0, k) for f in ((-step / 2, step / 2) if step else (0,))]
        cuts = sorted({-half, half} | {t for t in turns if -half < t < half})
        like = (lambda c: up_to(r + step / 2 - c) - up_to(r - step / 2 - c)) if step else (lambda c: tent(r - c))
        return quad(lambda c: like(c) * fits(c), cuts) / quad(like, cuts)

    for step in ["0", "0.0005"]:
        for r in ["-0.0032", "0.001", "0.003"]:
            row("judge", "inside", chance(mpf(r), mpf(step)), at=[step, r])
            row("judge", "above", 1 - chance(mpf(r), mpf(step)), at=[step, r], extra=small)
        upper = root(lambda x: chance(x, mpf(step)) - mpf("0.9"), -half, half)
        row("judge", "accept to", upper, at=[step, 0.9], extra=found)
        row("judge", "guard above", top - upper, at=[step, 0.9], extra=found)
    end()


def feeling():
    m, s, e = mpf("0.001"), mpf("0.004"), mpf("0.0012")
    low, high = mpf("-0.003"), mpf("0.0035")
    case(
        "test-cut-felt",
        "normal laws, quadrature",
        "pieces felt: offset 0.001 +- 0.004, piece 0.0012, band -0.003 to 0.0035",
        "Own computation, quadrature",
        'sources.offset = { estimate = "0.001 in", normal = "0.004 in" }\nsources.piece = { normal = "0.0012 in", event = "piece" }\n'
        'outcomes.fit = { expression = "offset + piece", at_least = "-0.003 in", at_most = "0.0035 in" }\n',
    )
    loose = lambda x: ncdf((low - x) / e)
    tight = lambda x: ncdf((x - high) / e)
    fits = lambda x: 1 - loose(x) - tight(x)
    by = {1: tight, 0: fits, -1: loose}
    cuts = linspace(m - 11 * s, m + 11 * s, 12)
    grid = np.linspace(-0.04, 0.04, 16001)
    chances = {1: norm.cdf((grid - float(high)) / float(e)), -1: norm.cdf((float(low) - grid) / float(e))}
    chances[0] = 1 - chances[1] - chances[-1]
    for feels in [[1], [1, 1], [0], [-1, 0], [1, 0, 0]]:
        weight = lambda x: npdf((x - m) / s) * fprod(by[f](x) for f in feels)
        whole = quad(weight, cuts)
        mean = quad(lambda x: weight(x) * x, cuts) / whole
        sd = sqrt(quad(lambda x: weight(x) * (x - mean) ** 2, cuts) / whole)
        inside = quad(lambda x: weight(x) * fits(x), cuts) / whole
        above = quad(lambda x: weight(x) * tight(x), cuts) / whole
        moved = lambda d: quad(lambda x: weight(x) * fits(x + d), cuts) / whole
        # The step of the dial by sums over a lattice, its chance by quadrature.
        likely = norm.pdf((grid - float(m)) / float(s)) * np.prod([chances[f] for f in feels], axis=0)
        fit = lambda k: norm.cdf((float(high) - grid - k / 2000) / float(e)) - norm.cdf((float(low) - grid - k / 2000) / float(e))
        best = mpf(max(range(-30, 31), key=lambda k: np.sum(likely * fit(k)))) / 2000
        row("test-cut", "felt: offset", mean, at=feels)
        row("test-cut", "felt: u of the offset", sd, at=feels)
        row("test-cut", "felt: inside", inside, at=feels)
        row("test-cut", "felt: above", above, at=feels, extra=near(("1e-14", "a small chance is good to 14 decimals")))
        if moved(best) > inside:
            row("test-cut", "felt: best move", best, at=feels, extra=", within = 1e-15")
            row("test-cut", "felt: inside when moved", moved(best), at=feels)
    end()


def costs():
    """Normal fit about travel - kerf - mortise; the cheapest of the dial's steps, and those within 1 % of the dearer cost."""
    u, nominal = sqrt(mpf("0.0021") ** 2 + mpf("0.0007") ** 2), mpf("0.1252") + mpf("0.3751")
    case(
        "setting-costs",
        "a loose joint costs more than a tight one",
        "kerf 0.1252 +- 0.0021, mortise 0.3751 +- 0.0007, dial 0.0005, band 0.005 either way",
        "Settings, closed form",
        'sources.kerf = { estimate = "0.1252 in", normal = "0.0021 in" }\nsources.mortise = { estimate = "0.3751 in", normal = "0.0007 in" }\n'
        'joint.method = "shifted"\njoint.travel = "0.5 in"\njoint.dial_step = "0.0005 in"\njoint.kerf = { source = "kerf" }\n'
        'joint.mortise = { at_feel = "mortise" }\n',
    )
    band = mpf("0.005")
    loose = lambda travel: ncdf((-band - (travel - nominal)) / u)
    tight = lambda travel: ncdf(((travel - nominal) - band) / u)
    dial = [mpf(k) / 2000 for k in range(980, 1021)]
    for of_tight, of_loose in [(4, 20), (15, 2), (5, 5)]:
        cost = lambda travel: of_tight * tight(travel) + of_loose * loose(travel)
        best = min(dial, key=cost)
        fine = [d for d in dial if cost(d) <= cost(best) + mpf("0.01") * max(of_tight, of_loose)]
        at = [of_tight, of_loose]
        near = ', digits = 10, note = "lengths near 1/2 in, of which some have no exact binary form"'
        row("setting", "best", best, at=at)
        row("setting", "cost", cost(best), at=at, extra=near)
        row("setting", "below", loose(best), at=at, extra=near)
        row("setting", "above", tight(best), at=at, extra=near)
        row("setting", "fine from", fine[0], at=at)
        row("setting", "fine to", fine[-1], at=at)
        row("setting", "likeliest", min(dial, key=lambda d: tight(d) + loose(d)), at=at)
    end()


def card():
    """What to do for each first reading: steps of the gauge of 0.001, of the dial of 0.0005; nothing comes anew with a move."""
    m, s, e, h, band = mpf("0.0005"), mpf("0.003"), mpf("0.001"), mpf("0.0005"), mpf("0.003")
    case(
        "test-cut-card",
        "normal laws, quadrature",
        "what to do for each first reading: offset 0.0005 +- 0.003, piece 0.001, gauge in steps of 0.001, dial 0.0005",
        "Own computation, quadrature",
        'sources.offset = { estimate = "0.0005 in", normal = "0.003 in" }\nsources.piece = { normal = "0.001 in", event = "piece" }\n'
        'outcomes.fit = { expression = "offset + piece", at_least = "-0.003 in", at_most = "0.003 in" }\noutcomes.shown = "offset + piece"\n',
    )
    grid = np.linspace(-0.03, 0.03, 12001)
    fits = lambda by: norm.cdf((float(band) - grid - by) / float(e)) - norm.cdf((-float(band) - grid - by) / float(e))

    def line(k):
        r = k / 1000
        weight = norm.pdf((grid - float(m)) / float(s)) * (
            norm.cdf((r + float(h) - grid) / float(e)) - norm.cdf((r - float(h) - grid) / float(e))
        )
        weight /= weight.sum()
        chance = lambda j: (weight * fits(j / 2000)).sum()
        best = max(range(-40, 41), key=chance)
        return (best, chance(best)) if chance(best) > chance(0) else (0, chance(0))

    total = float(sqrt(s * s + e * e))
    first, last = (round((float(m) + sign * 3.0902323 * total) * 1000) for sign in (-1, 1))
    lines = {k: line(k) for k in range(first, last + 1)}
    near_sum = ', within = 1e-9, note = "sums over a lattice of 12,001 places, to 1e-10"'
    for k in [-7, -4, -1, 0, 1, 3, 6, 9]:
        by = lines[k][0]
        low = high = k
        while lines.get(low - 1, (None,))[0] == by:
            low -= 1
        while lines.get(high + 1, (None,))[0] == by:
            high += 1
        at = [0.001, k / 1000]
        row("test-cut", "card: move", mpf(by) / 2000, at=at, extra=", within = 1e-15")
        row("test-cut", "card: from", mpf(low) / 1000, at=at, extra=", within = 1e-15")
        row("test-cut", "card: to", mpf(high) / 1000, at=at, extra=", within = 1e-15")
        row("test-cut", "card: inside", min(lines[j][1] for j in range(low, high + 1)), at=at, extra=near_sum)
    end()


normals()
rectangle()
costs()
card()
pairings()
judging()
judging_finely()
feeling()
HEAD = """# Decisions: which error to mend, which tenon goes into which mortise, readings judged, pieces felt; choices.py wrote this.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.

"""
(HERE / "choices.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")
