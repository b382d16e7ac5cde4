"""The reference stack of the benches (benches/src/lib.rs) in numpy and scipy. Inches; the band is +-5 thou."""

import numpy as np
from scipy import stats

LIMIT = 5e-3
COSINE = (2.0833e-4 - 3.227e-4, 2.0833e-4 + 3.227e-4)


def found(y):
    """What a report needs of the values: mean, standard deviation, chance, 95 % interval."""
    inside = np.mean((y >= -LIMIT) & (y <= LIMIT))
    return y.mean(), y.std(ddof=1), inside, np.quantile(y, [0.025, 0.975])


def common(r, n, indicator):
    """The stack but for the cosine error."""
    return (
        4e-4 * r.standard_t(4, n)
        + r.uniform(-5e-4, 5e-4, n)
        + r.normal(0, 5e-4, n)
        + r.triangular(-1e-3, 0, 1e-3, n)
        + r.normal(0, 4e-4, n)
        + 1.2e-3 * np.sin(2 * np.pi * r.random(n))
        + r.normal(0, 1e-3, n)
        + indicator
        - r.normal(3e-4, 3e-4, n)
    )


def natural(seed, n):
    """As one would write it: one line for each source."""
    r = np.random.default_rng(seed)
    return found(common(r, n, r.uniform(-5e-4, 5e-4, n)) + r.uniform(*COSINE, n))


def natural_strong(seed, n):
    """The same with (1/2 + indicator)(1 - cos theta), theta within +-0.15 rad."""
    r = np.random.default_rng(seed)
    indicator = r.uniform(-5e-4, 5e-4, n)
    tilt = (0.5 + indicator) * (1 - np.cos(r.uniform(-0.15, 0.15, n)))
    return found(common(r, n, indicator) + tilt)


def scipy_rvs(seed, n):
    """By the distributions of scipy.stats."""
    r = np.random.default_rng(seed)

    def normal(sd, mean=0.0):
        return stats.norm.rvs(mean, sd, size=n, random_state=r)

    def uniform(low, high):
        return stats.uniform.rvs(low, high - low, size=n, random_state=r)

    y = (
        stats.t.rvs(4, scale=4e-4, size=n, random_state=r)
        + uniform(-5e-4, 5e-4)
        + normal(5e-4)
        + stats.triang.rvs(0.5, loc=-1e-3, scale=2e-3, size=n, random_state=r)
        + normal(4e-4)
        + stats.arcsine.rvs(loc=-1.2e-3, scale=2.4e-3, size=n, random_state=r)
        + normal(1e-3)
        + uniform(-5e-4, 5e-4)
        + uniform(*COSINE)
        - normal(3e-4, 3e-4)
    )
    return found(y)


def expert(seed, n, chunk=16384):
    """Fastest generator, chunks that stay in the cache, nothing allocated in the loop, normals merged by hand, and a
    Student t of 4 degrees of freedom from one normal and two exponentials."""
    r = np.random.Generator(np.random.SFC64(seed))
    sd = np.sqrt(5e-4**2 + 4e-4**2 + 1e-3**2 + 3e-4**2)
    y = np.empty(n)
    a, b = np.empty(chunk), np.empty(chunk)
    for start in range(0, n, chunk):
        out = y[start : start + chunk]
        x, w = a[: len(out)], b[: len(out)]
        r.standard_normal(out=out)
        out *= sd
        # Chi-square with 4 degrees of freedom over 4: half of the sum of two exponentials.
        r.standard_gamma(2.0, out=w)
        w *= 0.5
        np.sqrt(w, out=w)
        r.standard_normal(out=x)
        x /= w
        x *= 4e-4
        out += x
        # Each rectangle; the triangle is two.
        for half_width in (5e-4, 5e-4, 3.227e-4, 5e-4, 5e-4):
            r.random(out=x)
            x *= 2 * half_width
            out += x
        out += 2.0833e-4 - 3e-4 - (4 * 5e-4 + 3.227e-4)
        r.random(out=x)
        x *= 2 * np.pi
        np.sin(x, out=x)
        x *= 1.2e-3
        out += x
    return found(y)
