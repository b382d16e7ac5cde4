"""The laws of errors, from scipy: nothing of Kerfwise is used."""

import numpy as np
from scipy import integrate, special, stats


class Law:
    """A law of an error in raw units, about its place. `u` is what the law of propagation counts (the scale of a
    Student t), `sd` the standard deviation (None where there is none)."""

    def __init__(self, dist, u=None, cf=None, dof=np.inf, atoms=None, kind="other"):
        self.dist, self.cf_of, self.dof, self.atoms, self.kind = dist, cf, dof, atoms, kind
        self.mean = float(dist.mean()) if np.isfinite(dist.mean()) else None
        variance = float(dist.var())
        self.sd = variance**0.5 if np.isfinite(variance) else None
        self.u = self.sd if u is None else u
        self.least, self.most = (float(x) for x in dist.support())

    def cf(self, t):
        if self.cf_of is not None:
            return self.cf_of(t)
        return by_quantiles(self.dist, t)

    def far(self):
        """How far it goes from 0, but for a chance of 1e-13."""
        if isinstance(self.dist, Mixed):
            return max(law.far() for _, law in self.dist.parts)
        if np.isfinite(self.most - self.least):
            return max(abs(self.least), abs(self.most))
        return max(abs(float(self.dist.ppf(1e-13))), abs(float(self.dist.isf(1e-13))))

    def sample(self, n, rng):
        return self.dist.rvs(size=n, random_state=rng)


def by_quantiles(dist, t):
    """E exp(itX) as an integral over the quantile, with nodes that crowd towards both ends."""
    s = np.linspace(-3.6, 3.6, 1201)
    u = 1 / (1 + np.exp(-np.pi * np.sinh(s)))
    weight = np.pi * np.cosh(s) * u * (1 - u)
    weight /= weight.sum()
    x = np.where(u < 0.5, dist.ppf(u), dist.isf(1 / (1 + np.exp(np.pi * np.sinh(s)))))
    out = np.empty(t.shape, dtype=complex)
    for k in range(0, t.size, 4096):
        out[k : k + 4096] = np.exp(1j * np.outer(t[k : k + 4096], x)) @ weight
    return out


def sinc(x):
    return np.sinc(x / np.pi)


def normal(sd):
    return Law(stats.norm(0, sd), cf=lambda t: np.exp(-0.5 * (sd * t) ** 2), kind="normal")


def rectangular(lo, hi):
    if lo == hi:
        return point(lo)
    m, a = (lo + hi) / 2, (hi - lo) / 2
    return Law(stats.uniform(lo, hi - lo), cf=lambda t: np.exp(1j * m * t) * sinc(a * t))


def triangular(lo, peak, hi):
    dist = stats.triang((peak - lo) / (hi - lo), lo, hi - lo)
    if abs(hi + lo - 2 * peak) > 1e-12 * (hi - lo):
        return Law(dist)
    a = (hi - lo) / 2
    return Law(dist, cf=lambda t: np.exp(1j * peak * t) * sinc(a * t / 2) ** 2)


def trapezoidal(a, ratio):
    if ratio >= 1:
        return rectangular(-a, a)
    side = (1 - ratio) / 2
    p, q = a * (1 + ratio) / 2, a * (1 - ratio) / 2
    return Law(stats.trapezoid(side, 1 - side, -a, 2 * a), cf=lambda t: sinc(p * t) * sinc(q * t))


def arcsine(lo, hi):
    m, a = (lo + hi) / 2, (hi - lo) / 2
    return Law(stats.arcsine(lo, hi - lo), cf=lambda t: np.exp(1j * m * t) * special.j0(a * t))


class Ctrap(stats.rv_continuous):
    """Rectangular whose half-width is itself rectangular within w - d and w + d (JCGM 101, 6.4.3)."""

    def _pdf(self, x, w, d):
        return np.log((w + d) / np.maximum(np.abs(x), w - d)).clip(0) / (4 * d)

    def _cdf(self, x, w, d):
        # The mean of (x + h) / 2h over half-widths h from max(|x|, w - d); narrower ones lie wholly on one side.
        a = np.maximum(np.abs(x), w - d)
        part = ((w + d - a) - np.abs(x) * np.log((w + d) / a)) / (4 * d)
        return np.where(x < 0, part, 1 - part)

    def _rvs(self, w, d, size=None, random_state=None):
        half = random_state.uniform(w - d, w + d, size)
        return half * random_state.uniform(-1, 1, size)

    def _stats(self, w, d):
        return 0.0, w * w / 3 + d * d / 9, 0.0, None

    def _get_support(self, w, d):
        return -(w + d), w + d


CTRAP = Ctrap(name="ctrap")


def curvilinear_trapezoid(w, d):
    si = lambda x: special.sici(x)[0]
    cf = lambda t: np.where(t == 0, 1, (si((w + d) * t) - si((w - d) * t)) / np.where(t == 0, 1, 2 * d * t))
    return Law(CTRAP(w, d), cf=cf)


def student_t(scale, nu):
    def cf(t):
        z = np.sqrt(nu) * scale * np.abs(t)
        small = z < 1e-300
        z = np.where(small, 1.0, z)
        log = np.log(special.kve(nu / 2, z)) - z + nu / 2 * np.log(z) - special.gammaln(nu / 2) - (nu / 2 - 1) * np.log(2)
        return np.where(small, 1.0, np.exp(log))

    return Law(stats.t(nu, 0, scale), u=scale, cf=cf, dof=nu)


def exponential(origin, excess):
    if excess > 0:
        return Law(stats.expon(origin, excess), cf=lambda t: np.exp(1j * origin * t) / (1 - 1j * excess * t))
    raise NotImplementedError("exponential below its origin")


def point(x):
    return discrete([(x, 1.0)])


class Atoms:
    """A law of a few values, with the methods of scipy that are used here."""

    def __init__(self, values, chances):
        order = np.argsort(values)
        self.x, self.p = np.asarray(values, float)[order], np.asarray(chances, float)[order]

    def mean(self):
        return self.p @ self.x

    def var(self):
        return self.p @ (self.x - self.mean()) ** 2

    def support(self):
        return self.x[0], self.x[-1]

    def rvs(self, size, random_state):
        return random_state.choice(self.x, size, p=self.p / self.p.sum())

    def cdf(self, y):
        return np.sum(self.p * (self.x <= np.asarray(y)[..., None] + 1e-15), axis=-1)


def discrete(pairs):
    x, p = zip(*pairs)
    return Law(Atoms(x, p), cf=lambda t: np.exp(1j * np.outer(t, x)) @ np.asarray(p), atoms=list(pairs))


class Mixed:
    """A mixture, with the methods of scipy that are used here."""

    def __init__(self, parts):
        self.parts = parts

    def mean(self):
        """Infinite where a part has none."""
        if any(law.mean is None for _, law in self.parts):
            return np.inf
        return sum(w * law.mean for w, law in self.parts)

    def var(self):
        if any(law.sd is None for _, law in self.parts):
            return np.inf
        return sum(w * (law.sd**2 + law.mean**2) for w, law in self.parts) - self.mean() ** 2

    def support(self):
        return min(law.least for _, law in self.parts), max(law.most for _, law in self.parts)

    def cdf(self, y):
        return sum(w * law.dist.cdf(y) for w, law in self.parts)

    def rvs(self, size, random_state):
        which = random_state.choice(len(self.parts), size, p=[w for w, _ in self.parts])
        out = np.empty(size)
        for k, (_, law) in enumerate(self.parts):
            out[which == k] = law.sample(int((which == k).sum()), random_state)
        return out


def mixture(parts):
    # Where there is no standard deviation, a width all the same, since steps are taken in it.
    width = max(law.u for _, law in parts) if any(law.sd is None for _, law in parts) else None
    return Law(Mixed(parts), u=width, cf=lambda t: sum(w * law.cf(t) for w, law in parts))


def lognormal(origin, median, log_sd):
    return Law(stats.lognorm(log_sd, origin, median - origin))


def beta(lower, upper, a, b):
    return Law(stats.beta(a, b, lower, upper - lower))


def truncated_normal(mean, sd, lower, upper):
    return Law(stats.truncnorm((lower - mean) / sd, (upper - mean) / sd, mean, sd))


class TwoPiece(stats.rv_continuous):
    """Two half normals joined at 0."""

    def _cdf(self, x, below, above):
        share = below / (below + above)
        left = 2 * share * stats.norm.cdf(x / below)
        right = 1 - 2 * (1 - share) * stats.norm.sf(x / above)
        return np.where(x < 0, left, right)

    def _pdf(self, x, below, above):
        height = 2 / (below + above)
        return height * np.where(x < 0, stats.norm.pdf(x / below), stats.norm.pdf(x / above))

    def _ppf(self, u, below, above):
        share = below / (below + above)
        left = below * stats.norm.ppf(np.minimum(u / (2 * share), 0.5))
        right = above * stats.norm.isf(np.minimum((1 - u) / (2 * (1 - share)), 0.5))
        return np.where(u < share, left, right)

    def _rvs(self, below, above, size=None, random_state=None):
        return self._ppf(random_state.random(size), below, above)

    def _stats(self, below, above):
        return np.sqrt(2 / np.pi) * (above - below), (1 - 2 / np.pi) * (above - below) ** 2 + below * above, None, None

    def _argcheck(self, below, above):
        return (below > 0) & (above > 0)


TWO_PIECE = TwoPiece(name="two_piece")


def two_piece_normal(below, above):
    return Law(TWO_PIECE(below, above))


def cdf_of_two(first, c1, second, c2, y):
    """P(c1 X1 + c2 X2 <= y), averaging the law that has a distribution function over the other."""
    if first.atoms is not None:
        return sum(p * chance_below(second, c2, y - c1 * x) for x, p in first.atoms)
    if isinstance(first.dist, Mixed):
        return sum(w * cdf_of_two(law, c1, second, c2, y) for w, law in first.dist.parts)
    # Part by part, so that the kinks of each are marks.
    if isinstance(second.dist, Mixed):
        return sum(w * cdf_of_two(first, c1, law, c2, y) for w, law in second.dist.parts)
    integrand = lambda u: chance_below(second, c2, y - c1 * first.dist.ppf(u))
    marks = [first.dist.cdf((y - c2 * e) / c1) for e in (second.least, second.most) if np.isfinite(e)]
    marks = sorted(m for m in set(float(m) for m in marks) if 1e-12 < m < 1 - 1e-12)
    ends = [0.0, *marks, 1.0]
    return sum(integrate.quad(integrand, a, b, epsabs=1e-13, epsrel=1e-12, limit=400)[0] for a, b in zip(ends, ends[1:]))


def chance_below(law, c, y):
    """P(c X <= y)."""
    if c > 0:
        return float(law.dist.cdf(y / c))
    if law.atoms is not None:
        return sum(p for x, p in law.atoms if c * x <= y)
    return float(law.dist.sf(y / c)) if hasattr(law.dist, "sf") else 1 - float(law.dist.cdf(y / c))
