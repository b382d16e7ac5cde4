"""Reads a plan file (docs/plan-file.md) without Kerfwise: units, laws, readings, and the algebra of the joint."""

import csv
import math
import re
import tomllib
from pathlib import Path

import mpmath
import numpy as np

import laws

INCH = {"in": 1.0, "thou": 1e-3, "mm": 1 / 25.4, "um": 1e-3 / 25.4, "cm": 10 / 25.4, "m": 1000 / 25.4, "ft": 12.0}
ANGLE = {"rad": 1.0, "mrad": 1e-3, "deg": math.pi / 180, "arcmin": math.pi / 10800, "arcsec": math.pi / 648000}
UNITS = {**INCH, **ANGLE, "%MC": 1.0, "/%MC": 1.0, "in^2": 1.0, "": 1.0}
# Events that a new piece draws anew.
OF_A_PIECE = {"piece", "end", "cut"}


def number(value):
    """A number with its unit, in inches, radians or percent; fractions as on a drawing."""
    if isinstance(value, (int, float)):
        return float(value)
    text, unit = re.fullmatch(r"\s*([-+0-9./eE]*[0-9.](?:\s+[0-9]+/[0-9]+)?)\s*(\S*)\s*", value).groups()
    whole = re.fullmatch(r"([-+]?)(?:([0-9]+)(?:-|\s+))?([0-9]+)/([0-9]+)", text)
    if whole:
        sign, ones, top, bottom = whole.groups()
        x = (float(ones or 0) + float(top) / float(bottom)) * (-1 if sign == "-" else 1)
    else:
        x = float(text)
    if unit == "mm":
        return x / 25.4
    if unit == "um":
        return x / 25400
    if unit == "thou":
        return x / 1000
    return x * UNITS[unit]


def ends(value):
    if isinstance(value, list):
        return number(value[0]), number(value[1])
    a = number(value)
    return -a, a


def law_of(keys):
    """The law under whichever key there is; None when known exactly."""
    if "normal" in keys:
        return laws.normal(number(keys["normal"])) if number(keys["normal"]) > 0 else None
    if "rectangular" in keys:
        return laws.rectangular(*ends(keys["rectangular"]))
    if "arcsine" in keys:
        return laws.arcsine(*ends(keys["arcsine"]))
    if "triangular" in keys:
        value = keys["triangular"]
        if isinstance(value, list):
            return laws.triangular(*map(number, value))
        return laws.triangular(-number(value), 0.0, number(value))
    if "trapezoidal" in keys:
        t = keys["trapezoidal"]
        return laws.trapezoidal(number(t["half_width"]), t["top_ratio"])
    if "curvilinear_trapezoid" in keys:
        t = keys["curvilinear_trapezoid"]
        return laws.curvilinear_trapezoid(number(t["half_width"]), number(t["ends"]))
    if "student_t" in keys:
        t = keys["student_t"]
        return laws.student_t(number(t["scale"]), t["degrees_of_freedom"])
    if "exponential" in keys:
        t = keys["exponential"]
        return laws.exponential(number(t.get("origin", 0.0)), number(t["mean_excess"]))
    if "lognormal" in keys:
        t = keys["lognormal"]
        return laws.lognormal(number(t.get("origin", 0.0)), number(t["median"]), t["log_sd"])
    if "beta" in keys:
        t = keys["beta"]
        return laws.beta(number(t["lower"]), number(t["upper"]), t["a"], t["b"])
    if "truncated_normal" in keys:
        t = keys["truncated_normal"]
        far = {"lower": -np.inf, "upper": np.inf}
        return laws.truncated_normal(number(t.get("mean", 0.0)), number(t["sd"]), *(number(t[k]) if k in t else far[k] for k in far))
    if "two_piece_normal" in keys:
        t = keys["two_piece_normal"]
        return laws.two_piece_normal(number(t["below"]), number(t["above"]))
    if "discrete" in keys:
        return laws.discrete([(number(x), p) for x, p in keys["discrete"]])
    if "mixture" in keys:
        return laws.mixture([(part["weight"], law_of(part)) for part in keys["mixture"]])
    if "point" in keys:
        return laws.point(number(keys["point"]))
    if "resolution" in keys:
        half = number(keys["resolution"]) / 2
        return laws.rectangular(-half, half)
    if "certificate" in keys:
        return certificate(keys["certificate"])
    return None


def certificate(t):
    from scipy import stats

    expanded = number(t["expanded"])
    if "coverage_factor" in t:
        return laws.normal(expanded / t["coverage_factor"])
    q = (1 - t["level"]) / 2
    if "degrees_of_freedom" in t:
        nu = t["degrees_of_freedom"]
        return laws.student_t(expanded / stats.t.isf(q, nu), nu)
    return laws.normal(expanded / stats.norm.isf(q))


class Source:
    def __init__(self, name, keys, folder):
        self.name, self.event = name, keys.get("event", "batch")
        self.estimate = number(keys.get("estimate", 0.0))
        self.law = law_of(keys)
        if "readings" in keys:
            self.read(keys, folder)
        self.dof = keys.get("degrees_of_freedom", self.law.dof if self.law else np.inf)
        self.limits = self.bounds(keys)

    def read(self, keys, folder):
        x = column(folder / keys["readings"], keys.get("column"))
        n, mean, s = len(x), x.mean(), x.std(ddof=1)
        if keys["use"] == "mean":
            self.estimate, self.law = mean, laws.student_t(s / math.sqrt(n), n - 1)
        elif keys["use"] == "spread":
            self.law = laws.normal(s)
            self.law.dof = n - 1
        else:
            self.estimate, self.law = mean, laws.discrete([(v - mean, 1 / n) for v in x])

    def bounds(self, keys):
        if "limits" in keys:
            return tuple(map(number, keys["limits"]))
        if self.law is None:
            return self.estimate, self.estimate
        if "limits_at_sd" in keys:
            reach = keys["limits_at_sd"] * self.law.sd
            middle = self.estimate + self.law.mean
            return middle - reach, middle + reach
        return self.estimate + self.law.least, self.estimate + self.law.most

    def copy(self, name):
        twin = object.__new__(Source)
        twin.__dict__.update(self.__dict__)
        twin.name = name
        return twin


def column(path, name):
    rows = [r for r in csv.reader(line for line in path.read_text().splitlines() if not line.startswith("#"))]
    head = [h.strip() for h in rows[0]]
    k = head.index(name) if name else next(i for i, h in enumerate(head) if "(" in h)
    unit = head[k][head[k].rindex("(") + 1 : -1]
    scale = lambda x: float(x) if unit == "1" else number(f"{x.strip()} {unit}")
    return np.array([scale(r[k]) for r in rows[1:] if r[k].strip()])


class Outcome:
    def __init__(self, name, text, lower, upper):
        self.name, self.text, self.lower, self.upper = name, text, lower, upper
        self.code = compile(python_of(text), text, "eval")

    def at(self, values, functions):
        return eval(self.code, {"__builtins__": {}}, {**functions, **values})


NAME = r"[A-Za-z][A-Za-z0-9_.]*(?:#[0-9]+)?"


def python_of(text):
    """The algebra as Python: names made safe, numbers with units put in raw units, powers with **."""
    units = "|".join(re.escape(u) for u in sorted(UNITS, key=len, reverse=True) if u)
    quantity = re.compile(rf"\[?([0-9][0-9./-]*(?:[eE][-+]?[0-9]+)?)\s*({units})(?![A-Za-z0-9_])\]?")
    text = quantity.sub(lambda m: f"({number(m.group(1) + ' ' + m.group(2))!r})", text)
    text = re.sub(NAME, lambda m: safe(m.group(0)) if not re.fullmatch(r"[eE][0-9]+", m.group(0)) else m.group(0), text)
    # A minus before a power: Python reads it as the algebra does.
    return text.replace("^", "**")


def safe(name):
    return name if name in FLOAT else "_" + name.replace(".", "_dot_").replace("#", "_no_")


FLOAT = {
    "sqrt": np.sqrt, "abs": np.abs, "exp": np.exp, "ln": np.log, "sin": np.sin, "cos": np.cos, "tan": np.tan,
    "asin": np.arcsin, "acos": np.arccos, "atan": np.arctan, "square": np.square, "min": np.minimum, "max": np.maximum,
}
DIGITS = {
    **{k: getattr(mpmath, k) for k in ("sqrt", "exp", "ln", "sin", "cos", "tan", "asin", "acos", "atan")},
    "abs": abs, "square": lambda x: x * x, "min": min, "max": max,
}


class Plan:
    """Sources and outcomes of a plan, with the travel of a joint set as told."""

    def __init__(self, path, travel=None):
        path = Path(path)
        table = tomllib.loads(path.read_text())
        self.pieces = table.get("batch", {}).get("pieces")
        known = {k: Source(k, v, path.parent) for k, v in table.get("source", {}).items()}
        self.outcomes = []
        self.joint = table.get("joint")
        if self.joint:
            self.outcomes += shifted(self.joint, known, travel)
        for name, t in table.get("outcome", {}).items():
            lower, upper = t.get("band", (None, None))
            lower, upper = t.get("at_least", lower), t.get("at_most", upper)
            limit = lambda x, far: far if x is None else number(x)
            self.outcomes.append(Outcome(name, t["expression"], limit(lower, -np.inf), limit(upper, np.inf)))
        self.sources = {}
        for outcome in self.outcomes:
            for name in re.findall(NAME, re.sub(r"[0-9.]+[eE][-+]?[0-9]+|\[[^\]]*\]", "0", outcome.text)):
                base = name.split("#")[0]
                if base in known:
                    self.sources[safe(name)] = known[base].copy(name)
        self.correlation = {}
        for entry in table.get("correlation", []):
            a, b = map(safe, entry["between"])
            self.correlation[a, b] = self.correlation[b, a] = entry["coefficient"]


def shifted(joint, known, travel):
    """The outcomes of a tenon cut by the shifted method, worked out from docs/plan-file.md."""
    for key in ("seating", "runner_play", "kerf_change"):
        if key in joint:
            for cut in ("first", "second"):
                name = f"{joint[key]}.{cut}"
                known[name] = known[joint[key]].copy(name)
                known[name].event = "cut" if known[joint[key]].event == "batch" else known[joint[key]].event
    if travel is None:
        travel = number(joint["travel"])
    known["travel"] = Source("travel", {"estimate": travel}, None)
    tenon = ["travel", *joint.get("travel_errors", [])]
    if "plunger_within" in joint:
        most = travel * 2 * math.sin(number(joint["plunger_within"]) / 2) ** 2
        known["cosine"] = Source("cosine", {"beta": {"lower": -most, "upper": 0.0, "a": 1.0, "b": 0.5}, "event": "jig move"}, None)
        tenon.append("cosine")
    lock = joint.get("lock_down")
    if lock:
        tenon.append(lock["residual"] if lock["read"] == "after locking" else lock["shift"])
    text = " + ".join(tenon) + " - (" + kerf(joint["kerf"], known) + ")"
    if "seating" in joint:
        text += " + {0}.second - {0}.first".format(joint["seating"])
    if "runner_play" in joint:
        text += " + {0}.second - {0}.first".format(joint["runner_play"])
    if "kerf_change" in joint:
        text += " - {0}.first / 2 - {0}.second / 2".format(joint["kerf_change"])
    moisture = joint.get("moisture")
    grown = "{first_cheek} * {coefficient} * {change}".format(**moisture) if moisture else None
    if grown:
        text += f" + {grown}"
    mortise = joint["mortise"]
    text += " - (" + " + ".join([mortise.get("at_feel") or mortise["width"], *mortise.get("errors", [])]) + ")"
    if "clearance" in joint:
        text += f" + {joint['clearance']}"
    band = joint.get("fit_band", ["-0.005 in", "0.005 in"])
    outcomes = [Outcome("fit", text, *map(number, band))]
    if "face_step" in joint:
        step = joint["face_step"]
        # The cheek cut first lies where the jig put it, less what stood off then; half of the fit deviation tells
        # where the tenon's middle sits in the mortise.
        cheek = step["first_cheek"]
        for key in ("seating", "runner_play"):
            if key in joint:
                cheek += f" - {joint[key]}.first"
        if "kerf_change" in joint:
            cheek += f" - {joint['kerf_change']}.first / 2"
        if grown:
            cheek += f" + {grown}"
        tenon_only = text[: text.index(" - (" + (mortise.get("at_feel") or mortise["width"]))]
        width = " + ".join([mortise.get("at_feel") or mortise["width"], *mortise.get("errors", [])])
        lower, upper = map(number, step["band"])
        face = f"{cheek} - ({tenon_only}) / 2 - ({step['wall']} + ({width}) / 2)"
        outcomes.append(Outcome("face_step", face, lower, upper))
    return outcomes


def kerf(keys, known):
    if "source" in keys:
        return keys["source"]
    if "test_cut" in keys:
        return f"{keys['test_cut']} + {keys['gauge']}"
    goes, not_goes = number(keys["goes"]), number(keys["does_not_go"])
    half = (not_goes - goes) / 2
    known["leaves"] = Source("leaves", {"estimate": goes + half, "rectangular": half, "event": "blade"}, None)
    text = f"{keys['pin']} + leaves + {keys['leaves']} * {keys['leaf_error']}"
    return text + (f" + {keys['film']}" if "film" in keys else "")
