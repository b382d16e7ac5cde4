"""Times our work against peers and floors, in turns, and writes docs/performance.md. Started by benches/peers/run."""

import datetime
import platform
import resource
import statistics
import subprocess
import sys
import time

import numpy
import scipy
import stacks

TRIALS = 1 << 20
ROUNDS = 11
STARTS = 20
# The same of the stack that is not affine, by quadrature over theta of the exact chance (24 nodes, good to 1e-10).
CHANCE_STRONG = 0.91270561691
# The exact chance, computed independently at 30 digits with mpmath.
CHANCE = 0.99673151972492011


class Subject:
    """A process of ours that runs what it is told, one line at a time."""

    def __init__(self, program):
        self.process = subprocess.Popen([program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def run(self, work, seed, trials):
        """Processor time in ns for each trial, and the chance that was found."""
        self.process.stdin.write(f"{work} {seed} {trials}\n")
        self.process.stdin.flush()
        seconds, found = self.process.stdout.readline().split()
        return float(seconds) / trials * 1e9, float(found)

    def peak_kib(self):
        """The most memory that the process ever held, where the system tells."""
        try:
            with open(f"/proc/{self.process.pid}/status", encoding="utf-8") as status:
                return next(int(line.split()[1]) for line in status if line.startswith("VmHWM"))
        except OSError:
            return None

    def end(self):
        self.process.stdin.close()
        self.process.wait()


def peer(work):
    """A function of numpy as `Subject.run` is one of ours."""

    def run(seed, trials):
        start = time.thread_time()
        found = work(seed, trials)
        return (time.thread_time() - start) / trials * 1e9, found[2]

    return run


def in_turns(works, check=True):
    """Medians of each work's time; all are run once in each round, so that what slows the machine slows all."""
    times = {name: [] for name in works}
    chances = {name: [] for name in works}
    for round_ in range(ROUNDS + 1):
        for name, (work, trials) in works.items():
            taken, found = work(round_ + 1, trials)
            # The first round warms up.
            if round_ > 0:
                times[name].append(taken)
                chances[name].append(found)
    if check:
        assert_same_stack(chances)
    return {name: statistics.median(taken) for name, taken in times.items()}


def assert_same_stack(chances):
    """Whoever simulates another stack would be timed in vain: five standard errors of all rounds together."""
    allowed = 5 * (CHANCE * (1 - CHANCE) / (TRIALS * ROUNDS)) ** 0.5
    for name, found in chances.items():
        off = statistics.mean(found) - CHANCE
        if abs(off) > allowed:
            raise SystemExit(f"{name}: the chance is off by {off}, more than {allowed}")


def command_ms(command, words):
    """Median processor and wall time in ms of the command, from its start to its end."""
    cpu, wall = [], []
    for _ in range(STARTS):
        before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
        subprocess.run([command, *words], stdout=subprocess.DEVNULL, check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        wall.append(time.perf_counter() - start)
        cpu.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return 1e3 * statistics.median(cpu), 1e3 * statistics.median(wall)


def processor():
    try:
        with open("/proc/cpuinfo", encoding="utf-8") as info:
            text = info.read()
    except OSError:
        return platform.processor() or platform.machine()
    model = next((line.split(":")[1].strip() for line in text.splitlines() if line.startswith("model name")), "unknown")
    family = [next((line.split(":")[1].strip() for line in text.splitlines() if line.startswith(key)), "?") for key in
              ("cpu family", "model\t")]
    wide = "AVX-512" if "avx512dq" in text else "AVX2" if "avx2" in text else "no AVX2"
    return f"{model}, family {family[0]} model {family[1]}, {wide}"


def table(head, rows):
    lines = ["", "| " + " | ".join(head) + " |", "| --- " + "| ---: " * (len(head) - 1) + "|"]
    return lines + ["| " + " | ".join(row) + " |" for row in rows]


def main():
    program, command, document = sys.argv[1:]
    subject = Subject(program)

    def ours(work):
        return lambda seed, trials: subject.run(work, seed, trials)

    peers = {
        "numpy, natural (`default_rng`)": stacks.natural,
        "scipy.stats, `.rvs`": stacks.scipy_rvs,
        "numpy, expert (SFC64, chunks, merged by hand)": stacks.expert,
    }
    each, merged = "Kerfwise, each source drawn", "Kerfwise, normals merged"
    works = {name: (peer(work), TRIALS) for name, work in peers.items()}
    works |= {each: (ours("trials"), TRIALS), merged: (ours("merged"), TRIALS)}
    medians = in_turns(works)

    floors = in_turns(
        {work: (ours(work), TRIALS) for work in ("trials", "merged", "words", "merged_words", "single", "single_draw")},
        check=False,
    )
    exact = in_turns({"chance": (ours("chance"), 200), "report": (ours("report"), 200), "batch": (ours("batch"), 50),
                      "mild": (ours("semi_mild"), 40), "strong": (ours("semi_strong"), 40)}, check=False)

    strong_ns = in_turns({"numpy": (peer(stacks.natural_strong), TRIALS), "points": (ours("points"), 20)}, check=False)
    squares = [(subject.run("points", seed, 1)[1] - CHANCE_STRONG) ** 2 for seed in range(1, 129)]

    fresh = Subject(program)
    fresh.run("merged", 1, 1024)
    before = fresh.peak_kib()
    fresh.run("merged", 1, 10**8)
    after = fresh.peak_kib()
    fresh.end()
    subject.end()

    lines = HEAD.format(
        date=datetime.date.today(), processor=processor(), python=platform.python_version(),
        numpy=numpy.__version__, scipy=scipy.__version__, rounds=ROUNDS,
    ).splitlines()
    lines += table(
        ["Monte Carlo, one thread", "ns a trial", "each drawn is faster by", "merged by"],
        [[name, f"{ns:.1f}", f"{ns / medians[each]:.1f}", f"{ns / medians[merged]:.1f}"] for name, ns in medians.items()],
    )
    lines += FLOOR.splitlines()
    counting = floors["single"] - floors["single_draw"]
    lines += table(
        ["", "ns a trial", "of its floor"],
        [
            ["floor: ten random words", f"{floors['words']:.2f}", ""],
            [each, f"{floors['trials']:.1f}", f"{floors['trials'] / floors['words']:.1f}x"],
            ["floor: seven random words", f"{floors['merged_words']:.2f}", ""],
            [merged, f"{floors['merged']:.1f}", f"{floors['merged'] / floors['merged_words']:.1f}x"],
            ["counting: all that is not drawing, one rectangular source", f"{counting:.2f}", ""],
        ],
    )
    if after is not None:
        lines += ["", f"Memory at 10⁸ trials: {after / 1024:.1f} MiB in all, {(after - before) / 1024:.2f} MiB more than at 1,024."]
    million = medians["numpy, natural (`default_rng`)"] * 1e6
    lines += EXACT.splitlines()
    lines += table(
        ["exact, one thread", "µs", "numpy's million trials take"],
        [[name, f"{exact[work] / 1e3:.0f}", f"{million / exact[work]:.0f}x"] for name, work in [
            ("chance", "chance"), ("chance, mean, standard deviation, 95 % interval", "report")]]
        + [["chance that all of 24 fit", f"{exact['batch'] / 1e3:.0f}", ""],
           ["semi-exact chance, the indicator leans by up to 0.05 rad", f"{exact['mild'] / 1e3:.0f}", ""],
           ["the same by up to 0.15 rad", f"{exact['strong'] / 1e3:.0f}", ""]],
    )
    # Variance times time, for numpy of one trial.
    of_numpy = CHANCE_STRONG * (1 - CHANCE_STRONG) * strong_ns["numpy"]
    error = statistics.mean(squares) ** 0.5
    better = of_numpy / (error**2 * strong_ns["points"])
    lines += STRONG.format(
        numpy=strong_ns["numpy"], ms=strong_ns["points"] / 1e6, error=error, better=float(f"{better:.1g}"),
        trials=CHANCE_STRONG * (1 - CHANCE_STRONG) / error**2 / 1e6,
    ).splitlines()
    starts = [(words, *command_ms(command, words.split())) for words in COMMANDS]
    lines += START.splitlines()
    lines += table(["command", "processor ms", "from start to end, ms"],
                   [[f"`kerfwise {words}`", f"{cpu:.1f}", f"{wall:.1f}"] for words, cpu, wall in starts])
    with open(document, "w", encoding="utf-8") as file:
        file.write("\n".join(lines) + "\n")
    print("\n".join(lines))


HEAD = """\
# Performance

Written by `benches/peers/run` on {date}; run it to have the figures of your machine.

{processor}. Python {python}, numpy {numpy}, scipy {scipy}. Processor time of one thread; all
works of a table in turns, medians of {rounds} rounds. Ratios hold better than times: other work on the machine
slows all of them.

The stack is the reference of `benches/src/lib.rs`: ten error sources (a Student t, four normals, three
rectangles, a triangle, an arcsine), added. Each work gives mean, standard deviation, chance of a band and
95 % interval of 2²⁰ trials. The peers are in `benches/peers/stacks.py`.
"""

FLOOR = """
What the trials cost beside the random words that they take, and nothing else (the same generator):
"""

EXACT = """
The exact propagation of the same stack; a million trials would know the chance to 6e-5:
"""

STRONG = """
A stack that is not affine (the indicator leans by up to 0.15 rad): quasi-Monte Carlo with its default of 32,768
points takes {ms:.2f} ms for the chance to {error:.1e} (root mean square of 128 seeds, against quadrature). numpy needs
{numpy:.0f} ns a trial and {trials:.0f} million trials for that. Variance times time is {better:.0f} times better.
"""

START = f"""
The command on the plan that it has inside, 200,000 trials included; medians of {STARTS} starts. Wall time is that of a
machine with other work on it:
"""
COMMANDS = ["--help", "budget", "setting", "chance", "job"]

if __name__ == "__main__":
    main()
