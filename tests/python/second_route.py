"""The second route: recomputes plans with numpy, scipy and mpmath, and holds the answers of `kerfwise --json` against
them. Nothing of Kerfwise is used but its JSON.

    python second_route.py KERFWISE PLAN_FILE_OR_FOLDER ...

Root sum of squares: derivatives by mpmath at 30 digits. Exact: inversion of the characteristic function (Gil-Pelaez
1951) on a fine grid, or one law averaged over another. Monte Carlo: draws of numpy. Worst case: a search by scipy.
Batches and their forecasts: the two parts' distribution functions on a grid. What a way cannot do in reasonable time is
skipped and counted.
"""

import json
import math
import subprocess
import sys
from pathlib import Path

import mpmath
import numpy as np
from scipy import optimize, stats

import laws
from plans import DIGITS, FLOAT, OF_A_PIECE, Plan

mpmath.mp.dps = 30
DRAWS = 400_000
counts = {"agree": 0, "skipped": 0}
faults = []


def check(what, got, expected, tolerance):
    """One comparison."""
    if abs(got - expected) <= tolerance:
        counts["agree"] += 1
    else:
        faults.append(f"{what}: Kerfwise {got!r}, second route {expected!r}, off by {abs(got - expected):.3g}, tolerance {tolerance:.3g}")


def skip(what, why):
    counts["skipped"] += 1
    skipped.setdefault(why, []).append(what)


skipped = {}


class Stack:
    """One outcome over its sources, with derivatives at the estimates."""

    def __init__(self, plan, outcome):
        self.plan, self.outcome = plan, outcome
        names = [n for n in plan.sources if n in outcome.code.co_names]
        self.fixed = {n: plan.sources[n].estimate for n in names if plan.sources[n].law is None}
        self.names = sorted(n for n in names if plan.sources[n].law is not None)
        self.laws = [plan.sources[n].law for n in self.names]
        # What is off on average belongs to the estimate.
        means = [law.mean or 0.0 for law in self.laws]
        self.middle = [mpmath.mpf(plan.sources[n].estimate) + m for n, m in zip(self.names, means)]
        self.value = self.digits(*self.middle)

    def digits(self, *x):
        values = {**{k: mpmath.mpf(v) for k, v in self.fixed.items()}, **dict(zip(self.names, x))}
        return self.outcome.at(values, DIGITS)

    def floats(self, x):
        return self.outcome.at({**self.fixed, **dict(zip(self.names, x))}, FLOAT)

    def gradient(self):
        slopes = []
        for k in range(len(self.names)):
            along = lambda x: self.digits(*self.middle[:k], x, *self.middle[k + 1 :])
            slope = mpmath.diff(along, self.middle[k])
            # At the kink of abs the central difference is 0, as if nothing could move; Kerfwise takes the slope to the right.
            right = mpmath.diff(along, self.middle[k], direction=1)
            is_kink = abs(right) > 1e-12 and abs(slope) < 1e-6 * abs(right)
            slopes.append(right if is_kink else slope)
        return slopes

    def is_affine(self, slopes):
        """Whether the tangent is the function, as far as some points within three spreads can tell."""
        rng = np.random.default_rng(1)
        scale = max([abs(self.value), *(abs(g) * law.u for g, law in zip(slopes, self.laws))])
        for _ in range(12):
            steps = [mpmath.mpf(s) * law.u for s, law in zip(rng.uniform(-3, 3, len(self.names)), self.laws)]
            away = self.digits(*(m + s for m, s in zip(self.middle, steps)))
            line = self.value + sum(g * s for g, s in zip(slopes, steps))
            if not abs(away - line) <= 1e-20 * scale:
                return False
        return True


def root_sum_of_squares(what, stack, slopes, answer):
    contributions = [float(g) * law.u for g, law in zip(slopes, stack.laws)]
    variance = sum(c * c for c in contributions)
    correlated = False
    for i, a in enumerate(stack.names):
        for j, b in enumerate(stack.names[:i]):
            r = stack.plan.correlation.get((a, b), 0.0)
            correlated |= r != 0
            variance += 2 * r * contributions[i] * contributions[j]
    u = math.sqrt(max(variance, 0.0))
    magnitude = max([abs(float(m * g)) for m, g in zip(stack.middle, slopes)] + [abs(float(stack.value))])
    check(f"{what}, estimate", answer["estimate"], float(stack.value), 4e-15 * magnitude + 1e-12 * u)
    check(f"{what}, u", answer["standard_uncertainty"], u, 1e-9 * max(map(abs, contributions), default=0.0))
    dofs = [stack.plan.sources[n].dof for n in stack.names]
    shares = sum(c**4 / nu for c, nu in zip(contributions, dofs) if np.isfinite(nu))
    k = stats.norm.isf(0.025)
    if shares > 0 and not correlated:
        k = stats.t.isf(0.025, u**4 / shares)
    check(f"{what}, k", answer["coverage_factor"], k, 1e-9 * k)


def frequencies(cf, spread, reach):
    """Midpoints up to where the characteristic function is spent; None when that is too far."""
    step = 2 * math.pi / (24 * reach)
    top = 16 / spread
    while True:
        probe = np.linspace(0.7 * top, top, 64)
        if np.max(np.abs(cf(probe))) < 1e-13 or top > 4e6 * step:
            break
        top *= 2
    n = int(top / step) + 1
    return None if n > 4_000_000 else (np.arange(n) + 0.5) * step


def invert(cf, spread, reach, places):
    """P(Y < y) for all places, or None. The midpoint rule wraps the law round a circle many times its size."""
    t = frequencies(cf, spread, reach)
    if t is None or len(t) * len(places) > 2e8:
        return None
    out = np.zeros(len(places))
    step = 2 * t[0]
    for part in np.array_split(t, max(1, len(t) // 200_000)):
        phi = cf(part) / part
        for k, y in enumerate(places):
            out[k] += np.sum(np.imag(np.exp(-1j * part * y) * phi))
    return 0.5 - out * step / math.pi


class Sum:
    """Σ c (X - mean) as a distribution: normals in one, the others by their characteristic functions."""

    def __init__(self, terms, correlation=None):
        self.normal = math.sqrt(max(variance_of([t for t in terms if t[1].kind == "normal"], correlation), 0.0))
        self.others = [(c, law) for c, law, _ in terms if law.kind != "normal" and c != 0]
        sds = [abs(c) * (law.sd if law.sd is not None else law.u * 10) for c, law in self.others]
        self.spread = math.sqrt(self.normal**2 + sum(s * s for s in sds))

    def reach(self):
        """How far from its middle the sum goes, but for a chance of 1e-13."""
        return 12 * self.normal + sum(abs(c) * law.far() for c, law in self.others)

    def cf(self, t):
        out = np.exp(-0.5 * (self.normal * t) ** 2).astype(complex)
        for c, law in self.others:
            out = out * law.cf(c * t)
        return out

    def below(self, places):
        """P(sum <= y), or None where this route does not go."""
        if not self.others:
            return stats.norm.cdf(np.asarray(places) / self.normal) if self.normal > 0 else None
        pair = [*self.others, *([(1.0, laws.normal(self.normal))] if self.normal > 0 else [])]
        if len(pair) == 1:
            return np.array([laws.chance_below(pair[0][1], pair[0][0], y) for y in places])
        if len(pair) == 2 and len(places) < 10:
            (c1, first), (c2, second) = pair
            if second.atoms is not None:
                (c1, first), (c2, second) = pair[::-1]
            return np.array([laws.cdf_of_two(first, c1, second, c2, y) for y in places])
        return invert(self.cf, self.spread, self.reach(), places)


def variance_of(normals, correlation):
    total = sum((c * law.sd) ** 2 for c, law, _ in normals)
    for i, (c, law, a) in enumerate(normals):
        for d, other, b in normals[:i]:
            total += 2 * (correlation or {}).get((a, b), 0.0) * c * law.sd * d * other.sd
    return total


def exact(what, stack, slopes, answer):
    terms = [(float(g), law, n) for g, law, n in zip(slopes, stack.laws, stack.names)]
    if any(law.mean is None for law in stack.laws):
        return skip(what, "exact: a law without a mean")
    # Everything about the estimates: the laws carry their own means.
    base = float(stack.value - sum(g * law.mean for g, law in zip(slopes, stack.laws)))
    whole = Sum(terms, stack.plan.correlation)
    outcome = stack.outcome
    limits = [x for x in (outcome.lower, outcome.upper) if np.isfinite(x)]
    ends = list(answer["interval_95"])
    found = whole.below([x - base for x in (*limits, *ends)])
    if found is None:
        return skip(what, "exact: no route in reasonable time")
    found = list(found)
    # Limits that meet an atom differ by whether they belong to the band.
    atoms = any(law.atoms is not None for law in stack.laws) and whole.normal == 0 and len(whole.others) < 2
    chance = answer.get("chance")
    tolerance = 2e-9 + (chance or {}).get("error", 0.0)
    if chance and not atoms:
        below = found.pop(0) if np.isfinite(outcome.lower) else 0.0
        above = 1 - found.pop(0) if np.isfinite(outcome.upper) else 0.0
        check(f"{what}, below", chance["below"], below, tolerance)
        check(f"{what}, above", chance["above"], above, tolerance)
    if not atoms and ends[1] > ends[0] and whole.spread > 0:
        for q, p in zip(found[-2:], (0.025, 0.975)):
            check(f"{what}, chance below the {p} quantile", q, p, 2e-9)
    if all(law.sd is not None for law in stack.laws):
        sd = math.sqrt(max(whole.normal**2 + sum((c * law.sd) ** 2 for c, law in whole.others), 0.0))
        if answer.get("standard_deviation") is not None:
            check(f"{what}, sd", answer["standard_deviation"], sd, 1e-9 * max([sd, *(abs(c) * law.sd for c, law, _ in terms)]))


def draw(stack, rng):
    """Trials of the outcome; correlated normals by their covariance."""
    columns = [law.sample(DRAWS, rng) for law in stack.laws]
    r = stack.plan.correlation
    if any((a, b) in r for a in stack.names for b in stack.names):
        matrix = np.array([[1.0 if a == b else r.get((a, b), 0.0) for b in stack.names] for a in stack.names])
        values, vectors = np.linalg.eigh(matrix)
        z = (vectors * np.sqrt(values.clip(0))) @ rng.standard_normal((len(stack.names), DRAWS))
        columns = [law.sd * row if law.kind == "normal" else x for law, row, x in zip(stack.laws, z, columns)]
    at = [stack.plan.sources[n].estimate + x for n, x in zip(stack.names, columns)]
    with np.errstate(all="ignore"):
        return np.broadcast_to(np.asarray(stack.floats(at), float), (DRAWS,))


def monte_carlo(what, stack, answer, trials, rng):
    y = draw(stack, rng)
    y = y[np.isfinite(y)]
    chance = answer.get("chance")
    if chance:
        for name, share in (("below", np.mean(y < stack.outcome.lower)), ("above", np.mean(y > stack.outcome.upper))):
            p = (share * len(y) + 2) / (len(y) + 4)
            check(f"{what}, {name}", chance[name], share, 5 * math.sqrt(p * (1 - p) * (1 / len(y) + 1 / trials)))
    heavy = any(law.sd is None or law.dof <= 4 for law in stack.laws)
    if not heavy and len(stack.laws) > 0:
        error = y.std() * math.sqrt(1 / len(y) + 1 / trials)
        check(f"{what}, mean", answer["mean"], y.mean(), 5 * error + 1e-12 * abs(y.mean()))
        fourth = np.mean((y - y.mean()) ** 4)
        error = math.sqrt(max(fourth - y.var() ** 2, 0.0)) / (2 * y.std()) * math.sqrt(1 / len(y) + 1 / trials) if y.std() > 0 else 0.0
        check(f"{what}, sd", answer["standard_deviation"], y.std(), 5 * error + 1e-12 * abs(y.mean()))


def worst_case(what, stack, slopes, affine, answer):
    box = [stack.plan.sources[n].limits for n in stack.names]
    if not all(np.isfinite(e) for pair in box for e in pair):
        return skip(what, "worst case: an unbounded source")
    lower, upper = answer["lower_attained"], answer["upper_attained"]
    if affine:
        base = float(stack.value - sum(g * m for g, m in zip(slopes, stack.middle)))
        low = base + sum(min(float(g) * a, float(g) * b) for g, (a, b) in zip(slopes, box))
        high = base + sum(max(float(g) * a, float(g) * b) for g, (a, b) in zip(slopes, box))
        scale = max([abs(base)] + [abs(float(g) * e) for g, pair in zip(slopes, box) for e in pair])
        check(f"{what}, lower", lower, low, 1e-14 * scale * (1 + len(box)))
        check(f"{what}, upper", upper, high, 1e-14 * scale * (1 + len(box)))
        return None
    width = max(answer["upper"] - answer["lower"], 1e-300)
    for sign, got in ((1, lower), (-1, upper)):
        found = optimize.differential_evolution(lambda x: sign * float(stack.floats(x)), [(a, b + 1e-300) for a, b in box], seed=7, tol=1e-12, maxiter=400)
        best = sign * found.fun
        # The search of scipy may stop short; it must not find better, nor be far off.
        check(f"{what}, {'lower' if sign > 0 else 'upper'}", got, best, 1e-6 * width)
        if sign * (best - got) < -1e-7 * width:
            faults.append(f"{what}: scipy reaches {best!r}, Kerfwise only {got!r}")
    return None


def batch(what, stack, slopes, answer, pieces):
    """E p(S)^n over the shared part, with both distribution functions on a grid."""
    if any(law.mean is None or not np.isfinite(law.dof) and law.sd is None for law in stack.laws):
        return skip(what, "batch: a law without moments")
    mean = {n: law.mean for n, law in zip(stack.names, stack.laws)}
    base = float(stack.value - sum(g * mean[n] for g, n in zip(slopes, stack.names)))
    terms = [(float(g), law, n) for g, law, n in zip(slopes, stack.laws, stack.names)]
    is_own = lambda n: stack.plan.sources[n].event in OF_A_PIECE
    own, shared = Sum([t for t in terms if is_own(t[2])]), Sum([t for t in terms if not is_own(t[2])])
    if own.spread == 0 or shared.spread == 0:
        return skip(what, "batch: nothing shared, or nothing of its own")
    grid = np.linspace(-10 * shared.spread, 10 * shared.spread, 1601)
    limits = [x - base for x in (stack.outcome.lower, stack.outcome.upper)]
    shared_at = shared.below(grid)
    middle = (grid[1:] + grid[:-1]) / 2
    own_at = [own.below(limit - middle) if np.isfinite(limit) else np.full(middle.shape, float(limit > 0)) for limit in limits]
    if shared_at is None or any(x is None for x in own_at):
        return skip(what, "batch: no route in reasonable time")
    p = (own_at[1] - own_at[0]).clip(0, 1)
    weight = np.diff(shared_at)
    # The midpoints of 1,600 cells over 20 standard deviations: the error is the second derivative's, some 1e-5.
    check(f"{what}, all {pieces}", answer["all"], float(weight @ p**pieces), 1e-4)
    check(f"{what}, expected", answer["expected"], pieces * float(weight @ p), 1e-4 * pieces)
    return p, weight


def forecast(what, kerfwise, path, outcome, pieces, p, weight):
    """How many of the batch fit: a binomial number for each place of the shared part; and the fewest spares."""
    report = ask(kerfwise, "batch", path, "--outcome", outcome, "--pieces", str(pieces))
    if report is None:
        return
    for k, said in enumerate(report["fits"]):
        check(f"{what}, {k} fit", said, float(weight @ stats.binom.pmf(k, pieces, p)), 1e-4)
    chance = report["one"]["inside"]
    for k, said in enumerate(report["if_independent"]):
        check(f"{what}, {k} fit if independent", said, stats.binom.pmf(k, pieces, chance), 1e-10)
    enough = lambda more: float(weight @ stats.binom.sf(pieces - 1, pieces + more, p))
    needed = report["most_spares"] if report["spares"] is None else report["spares"]
    check(f"{what}, enough with {needed} spares", report["spares_chance"], enough(needed), 1e-4)
    if report["spares"] and enough(needed - 1) >= report["assurance"] + 1e-4:
        faults.append(f"{what}: {needed - 1} spares are enough, Kerfwise wants {needed}")


def ask(kerfwise, command, path, *more):
    run = subprocess.run([kerfwise, command, str(path), "--json", *more], capture_output=True, text=True)
    if run.returncode:
        faults.append(f"{path}: {run.stderr.strip()[:500]}")
        return None
    return json.loads(run.stdout)


def chance(kerfwise, path):
    report = ask(kerfwise, "chance", path, "--trials", "100000")
    if report is None:
        return
    plan = Plan(path, report["subject"].get("travel_in"))
    rng = np.random.default_rng(20260101)
    for outcome, said in zip(plan.outcomes, report["outcomes"]):
        what = f"{path.parent.name} {outcome.name}"
        assert outcome.name == said["name"], (outcome.name, said["name"])
        stack = Stack(plan, outcome)
        slopes = stack.gradient()
        affine = stack.is_affine(slopes)
        answers = {k: said[k]["answer"] for k in ("root_sum_of_squares", "exact", "monte_carlo", "worst_case", "batch") if said.get(k) and "answer" in said[k]}
        if "root_sum_of_squares" in answers:
            root_sum_of_squares(f"{what}, root sum of squares", stack, slopes, answers["root_sum_of_squares"])
        if "exact" in answers:
            if affine:
                exact(f"{what}, exact", stack, slopes, answers["exact"])
            else:
                faults.append(f"{what}: answered exactly, and is not affine")
        elif affine:
            skip(what, "exact: declined by Kerfwise")
        if "monte_carlo" in answers:
            monte_carlo(f"{what}, Monte Carlo", stack, answers["monte_carlo"], report["trials"], rng)
        if "worst_case" in answers:
            worst_case(f"{what}, worst case", stack, slopes, affine, answers["worst_case"])
        if "batch" in answers and affine:
            pieces = answers["batch"]["pieces"]
            found = batch(f"{what}, batch", stack, slopes, answers["batch"], pieces)
            if found:
                forecast(f"{what}, forecast", kerfwise, path, outcome.name, pieces, *found)
    if plan.joint:
        setting(kerfwise, path)


def setting(kerfwise, path):
    """Every setting of the curve anew, the best of them, and the nominal travel."""
    report = ask(kerfwise, "setting", path)
    if report is None or report["by"] != "exact":
        return skip(str(path), "setting: not exact")
    what = f"{path.parent.name}, setting"
    inside = []
    for point in report["curve"]:
        plan = Plan(path, point["setting_in"])
        stack = Stack(plan, plan.outcomes[0])
        slopes = stack.gradient()
        base = float(stack.value - sum(g * law.mean for g, law in zip(slopes, stack.laws)))
        whole = Sum([(float(g), law, n) for g, law, n in zip(slopes, stack.laws, stack.names)], plan.correlation)
        found = whole.below([stack.outcome.lower - base, stack.outcome.upper - base])
        if found is None:
            return skip(str(path), "setting: no route in reasonable time")
        if any(law.atoms is not None for _, law in whole.others) and whole.normal == 0:
            return skip(str(path), "setting: limits meet atoms")
        check(f"{what} {point['setting_in']}, inside", point["inside"], found[1] - found[0], 3e-9 + report["chance"]["error"])
        inside.append(found[1] - found[0])
    best = max(inside)
    near = [p["setting_in"] for p, x in zip(report["curve"], inside) if x > best - 1e-8]
    check(f"{what}, best", report["best_in"], min(near, key=lambda x: abs(x - report["best_in"])), 1e-12)
    fine = [p["setting_in"] for p, x in zip(report["curve"], inside) if x >= best - report["loss"]]
    check(f"{what}, fine from", report["fine_in"][0], fine[0], 1e-12)
    check(f"{what}, fine to", report["fine_in"][1], fine[-1], 1e-12)
    travel = report["subject"]["travel_in"]
    plan = Plan(path, travel)
    # What brings the fit to nought, at the slant error of the travel that the plan has.
    nominal = travel - float(Stack(plan, plan.outcomes[0]).value)
    return check(f"{what}, nominal", report["nominal_in"], nominal, 1e-12)


def main():
    kerfwise, *places = sys.argv[1:]
    paths = []
    for place in map(Path, places):
        paths += sorted(place.rglob("plan.toml")) if place.is_dir() else [place]
    for path in paths:
        try:
            chance(kerfwise, path)
        except NotImplementedError as why:
            skip(str(path), str(why))
    for why, whom in skipped.items():
        print(f"skipped, {why}: {len(whom)}, e.g. {whom[0]}")
    for fault in faults:
        print(fault)
    print(f"{len(paths)} plans: {counts['agree']} comparisons agree, {len(faults)} do not, {counts['skipped']} skipped")
    sys.exit(bool(faults))


main()
