"""Writes ahead.toml: how many test pieces are worth cutting, where to aim the first cut, the rest of a batch, and batches of an outcome
that is not affine. Chances by quadrature at 25 digits; where the best of many moves is looked for, by sums over a lattice, which are
as good as double precision for normal laws.
"""

from pathlib import Path

import numpy as np
from mpmath import *
from scipy.stats import norm

mp.dps = 25
HERE = Path(__file__).parent
E = []
BY_SUMS = ', digits = 7, note = "readings rarer than 1e-9 leave the jig as it is: some twenty of them"'


def case(id, clause, title, more, source="Own computation, quadrature"):
    E.append(
        '[[case]]\nid = "ahead-%s"\nsource = "%s"\nclause = "%s"\ntitle = "%s"\nstatus = "recomputed"\n%srows = ['
        % (id, source, clause, title, more)
    )


def row(by, ask, value, at=(), extra=""):
    at = ", at = [%s]" % ", ".join(repr(float(x)) for x in at) if at else ""
    E.append('  { by = "%s", ask = "%s"%s, value = "%s"%s },' % (by, ask, at, nstr(mpf(value), 18), extra))


def end():
    E.append("]\n")


def rest():
    """Conjugate normal model; given the offset the pieces are independent."""
    m, t, s = mpf("0.0004"), mpf("0.002"), mpf("0.001")
    low, high = mpf("-0.003"), mpf("0.0025")
    case(
        "rest",
        "the rest of a batch after some of it was measured, conjugate normal model",
        "offset 0.0004 with 0.002, pieces 0.001, band -0.003 to 0.0025",
        'sources.offset = { estimate = "0.0004 in", normal = "0.002 in" }\nsources.piece = { normal = "0.001 in", event = "piece" }\n'
        'outcomes.fit = { expression = "offset + piece", at_least = "-0.003 in", at_most = "0.0025 in" }\noutcomes.shown = "offset + piece"\n',
    )
    for readings, n in [(["0.0011", "-0.0004"], 6), (["0.0021", "0.0028", "0.0016"], 12), (["-0.0031"], 4)]:
        r = [mpf(x) for x in readings]
        weight = 1 / t**2 + len(r) / s**2
        mean, sd = (m / t**2 + fsum(r) / s**2) / weight, 1 / sqrt(weight)
        fits = lambda d: ncdf((high - d) / s) - ncdf((low - d) / s)
        of = lambda g: quad(lambda z: npdf(z) * g(fits(mean + sd * z)), linspace(-11, 11, 12))
        exactly = lambda k: of(lambda p: binomial(n, k) * p**k * (1 - p) ** (n - k))
        at = lambda k: [0.0] + r + [k]
        more = ", pieces = %d" % n
        for k in (n, n - 1, n // 2):
            row("test-cut", "the rest: exactly", exactly(k), at(k), more)
        row("test-cut", "the rest: at least", fsum(exactly(k) for k in range(n - 2, n + 1)), at(n - 2), more)
        first, second = of(lambda p: n * p), of(lambda p: n * p * (1 - p) + (n * p) ** 2)
        row("test-cut", "the rest: expected number", first, at(0), more)
        row("test-cut", "the rest: sd of the number", sqrt(second - first**2), at(0), more + ", digits = 11")
    end()


GRID = np.linspace(-0.03, 0.03, 6001)
DIAL = np.arange(-40, 41) / 2000
# Of a standard normal law, and what they weigh.
NODES = (np.linspace(-6, 6, 121), norm.pdf(np.linspace(-6, 6, 121)) / 10)


class SetUp:
    """Offset and pieces, a band, and what a tight and a loose joint cost."""

    def __init__(self, mean, offset, piece, low, high, tight, loose):
        self.prior = norm.pdf((GRID - mean) / offset) / offset * (GRID[1] - GRID[0])
        self.piece, self.low, self.high = piece, low, high
        # Costs and chances of a joint for each move (the last: none), times the lattice.
        parts = [self.chances(by) for by in [*DIAL, 0.0]]
        self.costs = np.array([tight * above + loose * below for below, above in parts])
        self.inside = np.array([1 - below - above for below, above in parts])

    def chances(self, by=0.0):
        below = norm.cdf((self.low - GRID - by) / self.piece)
        above = norm.cdf((GRID + by - self.high) / self.piece)
        return below, above

    def cheapest(self, weight):
        """Cost and chance of a joint, each times the weight of all: left, or moved by whole steps of the dial."""
        costs = self.costs @ weight
        best = int(np.argmin(costs[:-1]))
        best = -1 if costs[-1] <= costs[best] else best
        return np.array([costs[best], self.inside[best] @ weight])


def plans():
    mean, offset, piece, low, high = 0.0, 0.003, 0.0012, -0.0025, 0.0035
    case(
        "plan",
        "expected value of sample information (Raiffa and Schlaifer 1961), normal laws",
        "offset 0.003, pieces 0.0012, band -0.0025 to 0.0035, dial 0.0005",
        'sources.offset = { normal = "0.003 in" }\nsources.piece = { normal = "0.0012 in", event = "piece" }\n'
        'outcomes.fit = { expression = "offset + piece", at_least = "-0.0025 in", at_most = "0.0035 in" }\noutcomes.shown = "offset + piece"\n',
    )
    step = 0.001
    for tight, loose, joints, per_piece in [(5.0, 20.0, 24, 4.0), (12.0, 3.0, 6, 1.5)]:
        of = SetUp(mean, offset, piece, low, high, tight, loose)

        def measured(n):
            """The mean of n readings lies in a cell of a step sqrt(n) times smaller, and has sqrt(n) times less of a piece."""
            if n == 0:
                return of.cheapest(of.prior)
            size, sd = step / np.sqrt(n), piece / np.sqrt(n)
            total = np.zeros(2)
            for k in range(-60, 61):
                seen = norm.cdf(((k + 0.5) * size - GRID) / sd) - norm.cdf(((k - 0.5) * size - GRID) / sd)
                total += of.cheapest(of.prior * seen)
            return total

        def felt(n):
            below, above = of.chances()
            chances = [above, 1 - below - above, below]
            ways = [()]
            for _ in range(n):
                ways = [way + (k,) for way in ways for k in range(3)]
            total = np.zeros(2)
            for way in ways:
                total += of.cheapest(of.prior * np.prod([chances[k] for k in way] + [np.ones_like(GRID)], axis=0))
            return total

        for name, found in [("plan", [measured(n) for n in range(4)]), ("felt plan", [felt(n) for n in range(4)])]:
            totals = [joints * cost + n * per_piece for n, (cost, _) in enumerate(found)]
            for n, (cost, inside) in enumerate(found):
                at = [n, step, tight, loose, joints, per_piece]
                if n == 1:
                    row("test-cut", name + ": inside", inside, at, BY_SUMS)
                    row("test-cut", name + ": total", totals[n], at, BY_SUMS)
                if n == 3:
                    row("test-cut", name + ": rework", joints * cost, at, BY_SUMS)
            row("test-cut", name + ": best number", int(np.argmin(totals)), at)
    end()


def first_cuts(gauge, settings):
    """C stays, W is drawn anew by a second cut, the gauge has a step and maybe an error: sums over C and over C + W."""
    stays, anew, step, low, high = 0.002, 0.001, 0.0005, -0.003, 0.003
    source = 'sources.gauge = { normal = "%r in" }\n' % gauge if gauge else ""
    case(
        "first-cut-" + ("gauge" if gauge else "steps"),
        "the first cut of a piece that can be cut again, normal laws",
        "offset 0.002, each cut 0.001, gauge %g and its step 0.0005, dial 0.0005, band 0.003 either way" % gauge,
        'sources.offset = { normal = "0.002 in" }\nsources.cut = { normal = "0.001 in", event = "cut" }\n'
        + source
        + 'outcomes.fit = { expression = "offset + cut", at_least = "-0.003 in", at_most = "0.003 in" }\n'
        + 'outcomes.shown = "offset + cut%s"\n' % (" + gauge" if gauge else ""),
    )
    c, y = np.linspace(-0.012, 0.012, 241), np.linspace(-0.015, 0.015, 1201)
    dc, dy = c[1] - c[0], y[1] - y[0]
    both = norm.pdf(c / stays)[:, None] / stays * dc * norm.pdf((y[None, :] - c[:, None]) / anew) / anew * dy
    offsets = np.arange(-20, 21) * step
    targets = np.arange(-60, 61) * step
    # The chance of a fresh cut at each target to be at most, and at least, a limit, given C.
    over_there = norm.cdf((c[:, None] + targets[None, :] - high) / anew)
    under_there = norm.cdf((low - c[:, None] - targets[None, :]) / anew)

    def beyond(weight, places):
        """Sums over y above places that are places of the lattice: half of what lies on them."""
        above = np.cumsum(weight[:, ::-1], axis=1)[:, ::-1]
        at = np.rint((np.clip(places, y[0], y[-1]) - y[0]) / dy).astype(int)
        return above[:, at] - 0.5 * weight[:, at]

    def costs(tight, loose, recut, others):
        total = np.zeros(len(offsets))
        for k in range(-30, 31):
            ends = [(k + half) * step - y for half in (0.5, -0.5)]
            if gauge:
                seen = norm.cdf(ends[0] / gauge) - norm.cdf(ends[1] / gauge)
            else:
                # Half of what lies on an end, which is a place of the lattice.
                seen = np.heaviside(np.round(ends[0], 9), 0.5) - np.heaviside(np.round(ends[1], 9), 0.5)
            weight = both * seen[None, :]
            chance, of_c = weight.sum(), weight.sum(axis=1)
            if chance < 1e-15:
                continue
            over, not_under = beyond(weight, high - offsets), beyond(weight, low - offsets)
            keep = tight * over.sum(axis=0) + loose * (chance - not_under.sum(axis=0))
            again = recut * chance + tight * (over.T @ over_there) + loose * (chance - not_under.T @ (1 - under_there))
            fresh = of_c @ (tight * over_there + loose * under_there)
            # Left as it is, the others come with the C of this piece too.
            left = of_c @ (tight * norm.cdf((c[:, None] + offsets - high) / anew) + loose * norm.cdf((low - c[:, None] - offsets) / anew))
            moved = np.minimum(keep[:, None], again) + others * fresh[None, :]
            total += np.minimum(keep + others * left, moved.min(axis=1))
        return total

    for tight, loose, recut, others in settings:
        found = costs(tight, loose, recut, others)
        best = int(np.argmin(found))
        at = [step, tight, loose, recut, others]
        note = ', digits = 3, note = "about how far off it may be is stated with it, and checked too"'
        row("test-cut", "first cut: offset", mpf(repr(round(float(offsets[best]), 6))), at)
        row("test-cut", "first cut: cost", found[best], at, note)
        row("test-cut", "first cut: cost without an offset", found[20], at, note)
        above = ncdf((mpf(repr(round(float(offsets[best]), 6))) - mpf("0.003")) / sqrt(mpf("0.000005")))
        row("test-cut", "first cut: above", above, at)
    end()


def lopsided(name, q):
    """Pieces of a two-piece normal law: a joint is not as good on one side of the best place as on the other. What a move redraws is
    normal, so that given the shared error before it the one after it is normal too."""
    t, below, above, h, low, high = 0.003, 0.0016, 0.0006, 0.0005, -0.002, 0.002
    seat = " + seat" if q else ""
    case(
        name,
        "the worth of a move where pieces err more to one side than to the other",
        "offset 0.003, %s, pieces 0.0016 below and 0.0006 above, gauge in steps of 0.001, band 0.002 either way"
        % ("seat %s anew with a move" % q if q else "nothing anew with a move"),
        'sources.offset = { normal = "0.003 in" }\n'
        + ('sources.seat = { normal = "%s in", event = "jig move" }\n' % q if q else "")
        +
        'sources.piece = { two_piece_normal = { below = "0.0016 in", above = "0.0006 in" }, event = "piece" }\n'
        'outcomes.fit = { expression = "offset%s + piece", at_least = "-0.002 in", at_most = "0.002 in" }\n'
        'outcomes.shown = "offset%s + piece"\n' % (seat, seat),
    )

    def cdf(x):
        left = 2 * below / (below + above) * norm.cdf(np.minimum(x, 0) / below)
        return np.where(x < 0, left, 1 - 2 * above / (below + above) * norm.cdf(-np.maximum(x, 0) / above))

    fits = lambda s: cdf(high - s) - cdf(low - s)
    s = np.linspace(-0.02, 0.02, 16001)
    chance, total = fits(s), np.hypot(t, q)
    peak = int(np.argmax(chance))
    # Where it is as good on the other side of the best place.
    other = np.where(
        np.arange(len(s)) < peak,
        np.interp(-chance, -chance[peak:], s[peak:]),
        np.interp(chance, chance[: peak + 1], s[: peak + 1]),
    )
    from_, to = np.minimum(s, other), np.maximum(s, other)
    share, left = t * t / total**2, np.hypot(t * q / total, q)
    for r in [0.004, -0.003, 0.002]:
        weight = norm.pdf(s / total) * (cdf(r + h - s) - cdf(r - h - s))
        weight /= weight.sum()
        moved = lambda m: np.dot(weight, sum(p * fits(share * s + m + left * z) for z, p in zip(*NODES)))
        move = max((k / 2000 for k in range(-14, 15)), key=moved)
        middle = share * s + move
        beyond = lambda x: norm.cdf((x - middle) / left) if q else 1.0 * (x > middle)
        better = np.dot(weight, beyond(to) - beyond(from_))
        row("test-cut", "best move", mpf(repr(move)), [0.001, r], ", within = 1e-15")
        row("test-cut", "chance that moving is better", better, [0.001, r], ', within = 0.005, note = "a number of two digits, as it is shown"')
    end()


def simulated():
    """A lean that all pieces of a batch share takes away; given it they are independent."""
    t, s, m = mpf("0.001"), mpf("0.0008"), mpf("0.0004")
    low, high = mpf("-0.002"), mpf("0.0015")
    case(
        "simulated",
        "batches of an outcome that is not affine",
        "pieces 0.0004 with 0.0008, less the size of a lean of 0.001 that they share, band -0.002 to 0.0015",
        'sources.lean = { normal = "0.001 in" }\nsources.piece = { estimate = "0.0004 in", normal = "0.0008 in", event = "piece" }\n'
        'outcomes.fit = { expression = "piece - abs(lean)", at_least = "-0.002 in", at_most = "0.0015 in" }\n',
    )
    fits = lambda lean: ncdf((high - m + lean) / s) - ncdf((low - m + lean) / s)
    of = lambda g: 2 * quad(lambda z: npdf(z) * g(fits(t * z)), linspace(0, 11, 12))
    for n in (5, 24):
        exactly = lambda k: of(lambda p: binomial(n, k) * p**k * (1 - p) ** (n - k))
        one = lambda sd, n=n: ", pieces = %d, trials = 40000, one_trial = %.6g" % (n, sd)
        p = exactly(n)
        row("forecast", "simulated: all", p, extra=one(sqrt(p * (1 - p))))
        for k in (n - 1, n // 2):
            p = exactly(k)
            row("forecast", "simulated: exactly", p, [k], one(sqrt(p * (1 - p))))
        first, second = of(lambda p: n * p), of(lambda p: n * p * (1 - p) + (n * p) ** 2)
        sd = sqrt(second - first**2)
        row("forecast", "simulated: expected number", first, extra=one(sd))
    end()


rest()
plans()
first_cuts(0.0003, [(10.0, 30.0, 2.0, 0), (10.0, 30.0, 4.0, 8), (4.0, 25.0, 1.0, 3)])
first_cuts(0.0, [(10.0, 30.0, 2.0, 0), (4.0, 25.0, 1.0, 3)])
lopsided("lopsided", 0.0008)
lopsided("lopsided-shift", 0.0)
simulated()
HEAD = """# Before a batch is cut, and while it is; ahead.py wrote this.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.

"""
(HERE / "ahead.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")
