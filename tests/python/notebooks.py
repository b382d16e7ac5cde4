"""The second route for what is answered from readings: gauge, learn, pair, testcut and judge, with numpy and scipy.

    python notebooks.py KERFWISE FOLDER_OF_READINGS

Spreads: the restricted likelihood with whole covariance matrices, maximised by scipy. Pairing: linear assignment. Test
cuts and judgements: sums over lattices of what is not known. Nothing of Kerfwise is used but its JSON.
"""

import csv
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from scipy import optimize, stats

agree, faults = 0, []


def check(what, got, expected, tolerance):
    global agree
    if abs(got - expected) <= tolerance:
        agree += 1
    else:
        faults.append(f"{what}: Kerfwise {got!r}, second route {expected!r}, tolerance {tolerance:.3g}")


def ask(kerfwise, *words):
    run = subprocess.run([kerfwise, *map(str, words), "--json"], capture_output=True, text=True)
    if run.returncode:
        faults.append(f"{' '.join(map(str, words))}: {run.stderr.strip()[:300]}")
        return None
    return json.loads(run.stdout)


def table(place, name, columns, unit="thou"):
    """A file of readings with a head that Kerfwise knows, and its columns."""
    source, words, column = columns
    lines = list(csv.DictReader(open(source)))
    head = [word.replace("_", "-") for word in words] + [f"{name} ({unit})"]
    out = place / f"{name}.csv"
    with open(out, "w") as file:
        file.write(",".join(head) + "\n")
        for line in lines:
            file.write(",".join([line[w] for w in words] + [line[column]]) + "\n")
    return out, [[line[w] for line in lines] for w in words], np.array([float(line[column]) for line in lines])


def restricted_likelihood(labellings, y):
    """Variances of groups and of repeats: the likelihood of what is left when the mean is taken out, by its logarithm."""
    n = len(y)
    same = [np.equal.outer(np.array(labels), np.array(labels)).astype(float) for labels in labellings]
    parts = [*same, np.eye(n)]
    # Contrasts: n - 1 orthonormal combinations without the mean.
    contrasts = np.linalg.qr(np.column_stack([np.ones(n), np.eye(n)[:, : n - 1]]))[0][:, 1:]
    parts = [contrasts.T @ part @ contrasts for part in parts]
    z = contrasts.T @ (y - y.mean())

    def loss(logs):
        covariance = sum(np.exp(log) * part for log, part in zip(logs, parts))
        factor = np.linalg.cholesky(covariance)
        white = np.linalg.solve(factor, z)
        return np.log(np.diag(factor)).sum() + 0.5 * white @ white

    start = np.log(np.full(len(parts), y.var() / len(parts)))
    found = optimize.minimize(loss, start, method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-14, "maxiter": 20000, "maxfev": 20000})
    found = optimize.minimize(loss, found.x, method="BFGS", options={"gtol": 1e-9})
    return np.exp(found.x)


# The likelihood is flat at its top: 1e-14 of it moves a logarithm of a variance by about 1e-7.
FLAT = 1e-6


def gauge(kerfwise, place, data):
    file, (parts, people), y = table(place, "reading", (data / "uneven-crossed.csv", ["part", "person"], "y"))
    report = ask(kerfwise, "gauge", file)
    if report is None:
        return
    part, person, both, repeat = restricted_likelihood([parts, people, list(map("/".join, zip(parts, people)))], y)
    thou = {spread["name"]: spread["sd"] * 1000 for spread in report["spreads"]}
    for name, variance in [
        ("repeatability", repeat),
        ("reproducibility", person + both),
        ("gauge (both)", person + both + repeat),
        ("part", part),
        ("one reading (all)", part + person + both + repeat),
    ]:
        check(f"gauge, {name}", thou[name], variance**0.5, FLAT * variance**0.5)
    classes = (2 * part / (person + both + repeat)) ** 0.5
    check("gauge, distinct classes", report["distinct_classes"], classes, FLAT * classes)
    share = 6 * (person + both + repeat) ** 0.5 / 1000 / report["band"]
    check("gauge, share of the band", report["share_of_band"]["value"], share, FLAT * share)


def learn(kerfwise, place, data):
    file, (set_ups, pieces), y = table(place, "tenon", (data / "uneven-log.csv", ["set_up", "piece"], "y"))
    report = ask(kerfwise, "learn", file)
    if report is None:
        return
    found = restricted_likelihood([set_ups, list(map("/".join, zip(set_ups, pieces)))], y)
    for spread, variance in zip(report["spreads"], found):
        check(f"learn, {spread['name']}", spread["sd"] * 1000, variance**0.5, FLAT * variance**0.5)
    means = {}
    for key, value in zip(zip(set_ups, pieces), y):
        means.setdefault(key[0], {}).setdefault(key[1], []).append(value)
    of_set_ups = [np.mean([np.mean(v) for v in pieces.values()]) for pieces in means.values()]
    u = stats.sem(of_set_ups)
    check("learn, mean", report["mean"] * 1000, np.mean(of_set_ups), 1e-12)
    check("learn, u of the mean", report["standard_error"] * 1000, u, 1e-12)
    low, high = stats.t.interval(0.95, len(of_set_ups) - 1, np.mean(of_set_ups), u)
    check("learn, lower", report["mean_interval"][0] * 1000, low, 1e-10)
    check("learn, upper", report["mean_interval"][1] * 1000, high, 1e-10)


def pair(kerfwise, place):
    rng = np.random.default_rng(20260102)
    for n, m in [(8, 8), (12, 9), (7, 15), (20, 20)]:
        tenons = np.round(0.374 + 0.002 * rng.standard_normal(n), 4)
        mortises = np.round(0.3755 + 0.002 * rng.standard_normal(m), 4)
        for name, widths in [("tenons", tenons), ("mortises", mortises)]:
            (place / f"{name}.csv").write_text("width (in)\n" + "".join(f"{w}\n" for w in widths))
        wanted, least, most = 0.001, 0.0002, 0.0022
        report = ask(kerfwise, "pair", place / "tenons.csv", place / "mortises.csv", "--clearance", f"{wanted} in", "--least", f"{least} in", "--most", f"{most} in")
        if report is None:
            return
        clearance = mortises[None, :] - tenons[:, None]
        fits = (clearance > least - 1e-10) & (clearance < most + 1e-10)
        # A pair more counts for more than any sum of squares.
        cost = np.where(fits, (clearance - wanted) ** 2 - 1.0, 0.0)
        rows, columns = optimize.linear_sum_assignment(cost)
        good = fits[rows, columns]
        squares = ((clearance[rows, columns] - wanted) ** 2)[good]
        what = f"pair, {n} and {m}"
        check(f"{what}, fits", len(report["fits"]), good.sum(), 0)
        check(f"{what}, rms", report["rms_deviation_in"], squares.mean() ** 0.5, 1e-12)
        left = [k for k in range(n) if k + 1 not in [p["tenon"] for p in report["fits"]]]
        over = [k for k in range(m) if k + 1 not in [p["mortise"] for p in report["fits"]]]
        off = abs(clearance - wanted)[np.ix_(left, over)]
        rows, columns = optimize.linear_sum_assignment(off)
        said = sum(abs(p["clearance_in"] - wanted) for p in report["rework"])
        check(f"{what}, stock to take off", said, off[rows, columns].sum(), 1e-12)


PLAN = """
version = 1
title = "normal laws, and a caliper"
[joint]
method = "shifted"
travel = "0.5 in"
dial_step = "0.0005 in"
kerf = { source = "kerf" }
mortise = { at_feel = "mortise" }
seating = "seating"
[source.kerf]
estimate = "0.1255 in"
normal = "0.0018 in"
stated = "invented"
[source.mortise]
estimate = "0.3752 in"
normal = "0.0006 in"
stated = "invented"
event = "mortise set-up"
[source.seating]
normal = "0.0007 in"
stated = "invented"
"""
KERF, MORTISE, CUTS = 0.0018, 0.0006, 0.0007 * 2**0.5
MIDDLE, TENON, BAND = 0.5 - 0.1255 - 0.3752, 0.5 - 0.1255, 0.005
# The caliper that goes with the commands: right within 20 um.
CALIPER, STEP = 0.02 / 25.4, 0.0005


def chances(middle, sd):
    """Below and above the band."""
    return stats.norm.cdf((-BAND - middle) / sd), stats.norm.sf((BAND - middle) / sd)


def midpoints(low, high, n):
    width = (high - low) / n
    return low + width * (np.arange(n) + 0.5)


def test_cut(kerfwise, path):
    readings = [0.376, 0.3765, 0.3755]
    words = [w for r in readings for w in ("--measured", f"{r} in")]
    report = ask(kerfwise, "testcut", path, *words)
    if report is None:
        return
    kerf = midpoints(-9 * KERF, 9 * KERF, 1800)[:, None]
    caliper = midpoints(-CALIPER, CALIPER, 600)[None, :]
    weight = stats.norm.pdf(kerf / KERF) * np.ones_like(caliper)
    for r in readings:
        off = r - (TENON - kerf + caliper)
        weight = weight * (stats.norm.cdf((off + STEP / 2) / CUTS) - stats.norm.cdf((off - STEP / 2) / CUTS))
    weight = weight.sum(axis=1) / weight.sum()
    kerf = kerf[:, 0]
    mean = -(weight @ kerf)
    sd = (weight @ (kerf + mean) ** 2 + MORTISE**2) ** 0.5
    check("testcut, mean", report["after"]["mean_in"], MIDDLE + mean, 1e-9)
    check("testcut, sd", report["after"]["sd_in"], sd, 1e-9)
    spread = (MORTISE**2 + CUTS**2) ** 0.5

    def moved(by):
        below, above = (weight @ chance for chance in chances(MIDDLE - kerf + by, spread))
        return below, 1 - below - above, above

    for move in report["moves"]:
        below, inside, above = moved(move["move_in"])
        check(f"testcut, below when moved by {move['move_in']}", move["below"], below, 1e-7)
        check(f"testcut, inside when moved by {move['move_in']}", move["inside"], inside, 1e-7)
    best = max((k * STEP for k in range(-20, 21)), key=lambda by: moved(by)[1])
    check("testcut, best move", report["best_move_in"], best, 1e-12)
    below, above = chances(MIDDLE, (KERF**2 + spread**2) ** 0.5)
    check("testcut, untested below", report["untested"]["below"], below, 1e-12)
    check("testcut, untested above", report["untested"]["above"], above, 1e-12)


def judge(kerfwise, path):
    readings = [0.3741, 0.377, 0.38]
    words = [w for r in readings for w in ("--measured", f"{r} in")]
    report = ask(kerfwise, "judge", path, *words)
    if report is None:
        return
    sd = (KERF**2 + CUTS**2) ** 0.5
    tenon = midpoints(-9 * sd, 9 * sd, 40_000)
    weight = stats.norm.pdf(tenon / sd)
    weight /= weight.sum()
    low, high = chances(MIDDLE + tenon, MORTISE)

    def up_to(x):
        """The chance that the caliper, a rectangle, makes this tenon show at most x."""
        return np.clip((x - TENON - tenon + CALIPER) / (2 * CALIPER), 0, 1)

    def given(r):
        likely = weight * (up_to(r + STEP / 2) - up_to(r - STEP / 2))
        likely /= likely.sum()
        return likely @ low, likely @ high

    for piece in report["pieces"]:
        below, above = given(piece["reading_in"])
        what = f"judge, {piece['reading_in']}"
        check(f"{what}, below", piece["chance"]["below"], below, 1e-6)
        check(f"{what}, above", piece["chance"]["above"], above, 1e-6)
    steps = [k * STEP for k in range(736, 765)]
    good = [r for r in steps if 1 - sum(given(r)) >= report["wanted"]]
    check("judge, accept from", report["accept"]["lower_in"], good[0], 1e-12)
    check("judge, accept to", report["accept"]["upper_in"], good[-1], 1e-12)
    accepted = up_to(good[-1] + STEP / 2) - up_to(good[0] - STEP / 2)
    check("judge, accepted", report["accept"]["accepted"], weight @ accepted, 1e-6)
    check("judge, consumer's risk", report["accept"]["consumer"], weight @ (accepted * (low + high)), 1e-6)
    check("judge, producer's risk", report["accept"]["producer"], weight @ ((1 - accepted) * (1 - low - high)), 1e-6)
    u = (CALIPER**2 / 3 + STEP**2 / 12) ** 0.5
    check("judge, uncertainty of the gauge", report["gauge"]["uncertainty_in"], u, 1e-12)
    check("judge, capability", report["gauge"]["capability"], 2 * BAND / (4 * u), 1e-9)


def main():
    kerfwise, data = sys.argv[1], Path(sys.argv[2])
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        plan = place / "plan.toml"
        plan.write_text(PLAN)
        gauge(kerfwise, place, data)
        learn(kerfwise, place, data)
        pair(kerfwise, place)
        test_cut(kerfwise, plan)
        judge(kerfwise, plan)
    for fault in faults:
        print(fault)
    print(f"readings and decisions: {agree} comparisons agree, {len(faults)} do not")
    sys.exit(bool(faults))


main()
