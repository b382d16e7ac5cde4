"""Standard errors of one Monte Carlo trial, for the column `one_trial` of the tables.

For the mean it is the standard deviation, for the standard deviation sd * sqrt(kurtosis - 1) / 2, for a chance
sqrt(p (1 - p)), for an end of an interval sqrt(q (1 - q)) / density there. Moments and densities are read off ten
million draws of numpy, which knows them to about 1 %: enough for a tolerance of four standard errors.

    python one_trial.py
"""

import numpy as np

N = 10_000_000
rng = np.random.default_rng(20081101)


def show(name, y, levels=(0.95,)):
    y = y[np.isfinite(y)]
    m, sd = y.mean(), y.std()
    kurt = np.mean(((y - m) / sd) ** 4)
    print(f"{name}: mean {sd:.4g}, u {sd * np.sqrt(kurt - 1) / 2:.4g}", end="")
    for level in levels:
        for q in ((1 - level) / 2, (1 + level) / 2):
            h = 0.02 * min(q, 1 - q)
            lo, hi = np.quantile(y, [q - h, q + h])
            density = 2 * h / (hi - lo)
            print(f", {q:.4g} {np.sqrt(q * (1 - q)) / density:.4g}", end="")
    print()


def rect(a):
    return rng.uniform(-a, a, N)


def main():
    r3 = np.sqrt(3)
    show("9.2.2", 2 * rng.standard_normal(N))
    show("9.2.3", rect(r3) + rect(r3) + rect(r3) + rect(r3))
    show("9.2.4", rect(r3) + rect(r3) + rect(r3) + rect(10 * r3))
    mass = 1e5 + 0.05 * rng.standard_normal(N) + 1.234 + 0.02 * rng.standard_normal(N)
    air = rect(0.1)
    show("9.3", mass * (1 + air * (1 / (8000 + rect(1000)) - 1 / (8000 + rect(50)))) - 1e5)
    for x1 in (0.0, 0.010, 0.050):
        for r in (0.0, 0.9):
            a = rng.standard_normal(N)
            b = r * a + np.sqrt(1 - r * r) * rng.standard_normal(N)
            show(f"9.4 {x1} {r}", 1e6 * ((x1 + 0.005 * a) ** 2 + (0.005 * b) ** 2))
    ls = 50000623 + 25 * rng.standard_t(18, N)
    d = 215 + 6 * rng.standard_t(24, N) + 4 * rng.standard_t(5, N) + 7 * rng.standard_t(8, N)
    theta = -0.1 + 0.2 * rng.standard_normal(N) + 0.5 * np.sin(2 * np.pi * rng.random(N))

    def ctrap(a, half):
        return (a + rng.uniform(-half, half, N)) * rng.uniform(-1, 1, N)

    alphas = 11.5e-6 + rect(2e-6)
    show("9.5", ls + d - ls * (ctrap(1e-6, 1e-7) * theta + alphas * ctrap(0.05, 0.025)) - 5e7, (0.99, 0.95))
    for x1 in (0.001, 0.010, 0.100):
        for r in (0.0, 0.9):
            a = rng.standard_normal(N)
            b = r * a + np.sqrt(1 - r * r) * rng.standard_normal(N)
            x, y = x1 + 0.01 * a, 0.01 * b
            show(f"102 9.3 R {x1} {r}", np.hypot(x, y))
            show(f"102 9.3 theta {x1} {r}", np.arctan2(y, x))
    a = rng.standard_normal(N)
    b = 0.6 * a + 0.8 * rng.standard_normal(N)
    show("product", (0.5 + 0.1 * a) * (0.25 + 0.08 * b))


main()
