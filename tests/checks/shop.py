"""Writes shop.toml: whole joints and moving wood, off their zeros; formulas of the documentation, derivatives by mpmath."""

from pathlib import Path

from mpmath import *

mp.dps = 40
HERE = Path(__file__).parent
E = []
DEGREE = pi / 180


def case(id, joinery, title, sources, outcomes, hidden=None, bands=None):
    """Sources: name to (text unit, estimate, sd); outcomes: name to a function of the estimates in raw units."""
    E.append(
        '[[case]]\nid = "shop-%s"\nsource = "Own computation, 40 digits"\nclause = "%s"\ntitle = "%s"\nstatus = "recomputed"\njoinery = "%s"'
        % (id, joinery, title, joinery)
    )
    raw = {"in": 1, "deg": DEGREE, "%MC": 1, "/%MC": 1, "": 1}
    means, spreads = {}, {}
    for name, (unit, estimate, sd) in sources.items():
        quantity = lambda x: '"%s %s"' % (x, unit) if unit else x
        E.append("sources.%s = { estimate = %s, normal = %s }" % (name, quantity(estimate), quantity(sd)))
        means[name], spreads[name] = mpf(estimate) * raw[unit], mpf(sd) * raw[unit]
    for name, (mean, sd) in (hidden or {}).items():
        means[name], spreads[name] = mpf(mean), mpf(sd)
    E.append("rows = [")
    names = list(means)
    for outcome, f in outcomes.items():
        point = [means[n] for n in names]
        g = lambda *x: f(**dict(zip(names, x)))
        slopes = []
        for k, n in enumerate(names):
            order = tuple(int(j == k) for j in range(len(names)))
            slopes.append(diff(g, tuple(point), order))
        value = g(*point)
        row("estimate", outcome, value, ", within = 1e-15" if abs(value) < 0.05 else "")
        u = sqrt(fsum((s * spreads[n]) ** 2 for s, n in zip(slopes, names)))
        row("u", outcome, u)
        for s, n in zip(slopes, names):
            if abs(s) > mpf(10) ** -25:
                row("sensitivity to " + n, outcome, s)
    for outcome, (low, high) in (bands or {}).items():
        f = outcomes[outcome]
        g = lambda *x: f(**dict(zip(names, x)))
        point = [means[n] for n in names]
        u = sqrt(fsum((diff(g, tuple(point), tuple(int(j == k) for j in range(len(names)))) * spreads[n]) ** 2 for k, n in enumerate(names)))
        row("inside", outcome, 1 - ncdf((mpf(low) - g(*point)) / u) - ncdf(-(mpf(high) - g(*point)) / u))
    E.append("]\n")


def row(ask, of, value, extra=""):
    E.append('  { by = "rss", ask = "%s", of = "%s", value = "%s"%s },' % (ask, of, nstr(mpf(value), 21), extra))


def thickness(indicator, lock, kerf, seating_1, seating_2, play_1, play_2, change_1, change_2, moved):
    return mpf("0.5") + indicator + lock - kerf + seating_2 - seating_1 + play_2 - play_1 - (change_1 + change_2) / 2 + moved


def shifted():
    base = {
        "indicator": ("in", "0.0004", "0.0005"),
        "lock": ("in", "0.0015", "0.0008"),
        "kerf": ("in", "0.1262", "0.0004"),
        "seating_1": ("in", "0.0003", "0.0006"),
        "seating_2": ("in", "0.0011", "0.0007"),
        "play_1": ("in", "-0.0004", "0.0009"),
        "play_2": ("in", "0.0006", "0.0003"),
        "change_1": ("in", "0.0002", "0.0002"),
        "change_2": ("in", "0.0008", "0.0003"),
        "cheek": ("in", "0.62", "0.01"),
        "coefficient": ("/%MC", "0.00274", "0.0004"),
        "gain": ("%MC", "0.75", "0.5"),
        "mortise": ("in", "0.3762", "0.0005"),
        "glue": ("in", "0.0021", "0.0004"),
        "far_cheek": ("in", "0.5625", "0.0012"),
        "wall": ("in", "0.1865", "0.0011"),
        "rail_stock": ("in", "0.752", "0.0021"),
        "leg_stock": ("in", "0.748", "0.0017"),
    }
    tenon = lambda v: thickness(**{n: v[n] for n in ["indicator", "lock", "kerf", "seating_1", "seating_2", "play_1", "play_2", "change_1", "change_2"]}, moved=v["cheek"] * v["coefficient"] * v["gain"])
    fit = lambda **v: tenon(v) - v["mortise"] + v["glue"]

    def face(**v):
        first = v["far_cheek"] - v["seating_1"] - v["play_1"] - v["change_1"] / 2 + v["cheek"] * v["coefficient"] * v["gain"]
        return first - tenon(v) / 2 - v["wall"] - v["mortise"] / 2

    back = lambda **v: v["rail_stock"] - v["leg_stock"] - face(**v)
    case("shifted", "shifted tenon", "every error of it, off zero", base, {"fit": fit, "face_step": face, "back_step": back}, bands={"fit": ("-0.006", "0.006"), "face_step": ("-0.008", "0.008"), "back_step": ("-0.01", "0.01")})


def others():
    # The shortfall is beta with shapes 1/2 and 1 up to 0.5 in times 1 - cos 4 degrees: mean a third, variance 4/45.
    most = mpf("0.5") * (1 - cos(4 * DEGREE))
    case(
        "plunger",
        "shifted tenon, plunger within limits",
        "cosine error, one glue line, mortise of one pass",
        {"kerf": ("in", "0.1262", "0.0004"), "bit": ("in", "0.374", "0.0003"), "run_out": ("in", "0.0015", "0.0005"), "glue": ("in", "0.0013", "0.0002")},
        {"fit": lambda kerf, bit, run_out, glue, cosine: mpf("0.5") + cosine - kerf - bit - run_out + 2 * glue},
        {"cosine": (-most / 3, most * sqrt(mpf(4) / 45))},
    )
    case(
        "angle",
        "shifted tenon, plunger at an angle",
        "the cosine itself; mortise by wedges of 1 in 16",
        {"angle": ("deg", "3.5", "0.75"), "kerf": ("in", "0.1262", "0.0004"), "closed": ("in", "0.2515", "0.0003"), "slide": ("in", "1.97", "0.015"), "feel": ("in", "-0.0008", "0.0004")},
        {"fit": lambda angle, kerf, closed, slide, feel: cos(angle) / 2 - kerf - closed - slide / 16 - feel},
    )
    case(
        "tongue-and-groove",
        "tongue and groove",
        "one cutter for both: the kerf counts twice",
        {"spacer": ("in", "0.503", "0.0008"), "kerf": ("in", "0.2508", "0.0005"), "glue": ("in", "0.0016", "0.0003")},
        {"fit": lambda spacer, kerf, glue: spacer - 2 * kerf + glue},
        bands={"fit": ("-0.005", "0.005")},
    )
    case(
        "bridle",
        "bridle",
        "slot at two settings of the same blade",
        {"spacer": ("in", "0.503", "0.0008"), "kerf": ("in", "0.1258", "0.0005"), "glue": ("in", "0.0016", "0.0003"), "slot_travel": ("in", "0.2515", "0.0006"), "slot_seat_1": ("in", "0.0004", "0.0004"), "slot_seat_2": ("in", "-0.0007", "0.0009")},
        {"fit": lambda spacer, kerf, glue, slot_travel, slot_seat_1, slot_seat_2: spacer - kerf - (slot_travel + kerf + slot_seat_2 - slot_seat_1) + glue},
        bands={"fit": ("-0.005", "0.005")},
    )
    case(
        "by-chisel",
        "mortise by chisel",
        "chopped walls; one bows in, the other is hollow",
        {"pins": ("in", "0.374", "0.0006"), "wall_1": ("in", "0.0012", "0.002"), "wall_2": ("in", "-0.0005", "0.0025"), "bow_1": ("in", "0.0022", "0.0004"), "bow_2": ("in", "-0.0031", "0.0005")},
        {
            "chopped": lambda pins, wall_1, wall_2, bow_1, bow_2: pins + wall_1 + wall_2,
            "bowed": lambda pins, wall_1, wall_2, bow_1, bow_2: pins + wall_1 + wall_2 - bow_1,
        },
    )


def wood():
    radial, tangential = mpf("0.00169"), mpf("0.00274")
    # White ash, Wood Handbook, table 13-5; boards differ by 15 % of it.
    moved = lambda v: v["size"] * v["board"] * (v["home"] - v["shop"] - v["meter"])
    outcomes = {
        "tangential": lambda **v: moved(v) * tangential,
        "radial": lambda **v: moved(v) * radial,
        "askew": lambda **v: moved(v) * (radial * cos(v["rings"]) ** 2 + tangential * sin(v["rings"]) ** 2),
        "by_shrinkage": lambda **v: v["size"] * (v["home"] - v["shop"] - v["meter"]) / (3000 / v["shrinkage"] - 30 + v["shop"] + v["meter"]),
        "clearance": lambda **v: v["mortise_length"] - v["size"] - moved(v) * tangential,
    }
    case(
        "ash",
        "white ash",
        "movement across the grain, eq. 13-2 and 13-3 of the Wood Handbook; room beside a tenon's edges",
        {
            "size": ("in", "3.02", "0.01"),
            "shop": ("%MC", "8.25", "0.4"),
            "home": ("%MC", "11.5", "0.9"),
            "meter": ("%MC", "0.5", "1.0"),
            "rings": ("deg", "35", "6"),
            "shrinkage": ("", "7.8", "0.7"),
            "mortise_length": ("in", "3.09", "0.008"),
        },
        outcomes,
        {"board": (1, "0.15")},
    )

    def moisture(celsius, humidity):
        t = celsius
        w = 349 + mpf("1.29") * t + mpf("0.0135") * t * t
        k = mpf("0.805") + mpf("0.000736") * t - mpf("0.00000273") * t * t
        k1 = mpf("6.27") - mpf("0.00938") * t - mpf("0.000303") * t * t
        k2 = mpf("1.91") + mpf("0.0407") * t - mpf("0.000293") * t * t
        h = k * humidity
        return 1800 / w * (h / (1 - h) + (k1 * h + 2 * k1 * k2 * h * h) / (1 + k1 * h + k1 * k2 * h * h))

    for number, (t, h) in enumerate([("21.5", "0.47"), ("5.25", "0.86"), ("33", "0.22")], 1):
        case("air-%d" % number, "air", "equilibrium moisture content, eq. 4-5 of the Wood Handbook (FPL-GTR-282)", {"celsius": ("", t, "0.8"), "humidity": ("", h, "0.03")}, {"moisture": moisture})


def units():
    """As a shop writes them; an inch is 25.4 mm, held are inches, radians and percent."""
    E.append(
        '[[case]]\nid = "shop-units"\nsource = "Own computation, 40 digits"\nclause = "units"\n'
        'title = "quantities as a shop writes them, in inches, radians and percent"\nstatus = "recomputed"'
    )
    inch = mpf("25.4")
    written = [
        ("3/8 in", mpf(3) / 8),
        ("1-1/2 in", mpf(3) / 2),
        ("2 3/16 in", 2 + mpf(3) / 16),
        ("-0.625 in", mpf("-0.625")),
        ("2.5 thou", mpf("0.0025")),
        ("9.5 mm", mpf("9.5") / inch),
        ("20 um", mpf("0.02") / inch),
        ("1.9 cm", 19 / inch),
        ("1.2 m", 1200 / inch),
        ("3 ft", mpf(36)),
        ("0.25 deg", pi / 720),
        ("15 arcmin", pi / 720),
        ("40 arcsec", pi / 16200),
        ("3.5 mrad", mpf("0.0035")),
        ("1.5 rad", mpf("1.5")),
        ("8.5 %MC", mpf("8.5")),
        ("0.00274 /%MC", mpf("0.00274")),
        ("2 in^2", mpf(2)),
        ("1e-3 in", mpf("0.001")),
    ]
    for k, (text, _) in enumerate(written):
        E.append('sources.q%02d = { estimate = "%s" }' % (k, text))
    E.append("rows = [")
    for k, (text, value) in enumerate(written):
        E.append('  { by = "source", ask = "estimate", of = "q%02d", value = "%s", note = "%s" },' % (k, nstr(value, 20), text))
    E.append("]\n")


shifted()
others()
wood()
units()
HEAD = """# Whole joints and moving wood, off their zeros; shop.py wrote this.
# See tests/src/checks for what the keys mean, docs/checks.md for the record they make.

"""
(HERE / "shop.toml").write_text(HEAD + "\n".join(E).rstrip() + "\n")
