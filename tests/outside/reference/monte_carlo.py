"""Monte-Carlo by a path of its own, for comparison with `billet scatter`: the scattered inputs are drawn by
scipy.stats from the definitions of their distributions, every draw is put into the line as a row of `billet family`,
and shares, means and standard deviations are those of the margins that come back. Sampling, distributions, counting
and intervals are not those of the program; only the run of one line is.

Run:  python3 monte_carlo.py path/of/billet > monte_carlo.json
"""

import csv
import json
import pathlib
import subprocess
import sys
import tempfile

import numpy as np
import scipy
from scipy import stats

COUNT, SEED = 2000, 20261128
HERE = pathlib.Path(__file__).resolve().parent
EXAMPLES = HERE.parent.parent.parent / "examples"


def truncated(rng, mean, sd, low, high):
    return stats.truncnorm((low - mean) / sd, (high - mean) / sd, mean, sd).rvs(COUNT, random_state=rng)


def triangular(rng, low, mode, high):
    return stats.triang((mode - low) / (high - low), low, high - low).rvs(COUNT, random_state=rng)


def lognormal(rng, mean, sd, offset):
    spread = np.log1p((sd / (mean - offset)) ** 2)
    return offset + stats.lognorm(np.sqrt(spread), scale=(mean - offset) * np.exp(-0.5 * spread)).rvs(COUNT, random_state=rng)


def retry(rng, base, sd, probability, seconds, seconds_sd=0.0, most=3):
    """After every attempt another one follows with the same probability; each takes a normal time."""
    total = rng.normal(base, sd, COUNT)
    again = np.ones(COUNT, bool)
    for _ in range(most):
        again &= rng.random(COUNT) < probability
        total = total + again * rng.normal(seconds, seconds_sd, COUNT)
    return total


LINES = {
    "hub": lambda rng: {
        "heater.surface_c": rng.normal(1240, 8, COUNT),
        "billet.emissivity": truncated(rng, 0.85, 0.03, 0.7, 0.9),
        "die.bulk_c": triangular(rng, 170, 220, 270),
        "stage.heater to upsetter.seconds": retry(rng, 4.2, 0.1, 0.008, 2.2, 0.3),
        "stage.to trim press.seconds": lognormal(rng, 8.3, 0.4, 7.6),
    },
    "press": lambda rng: {
        "heater.temperature_c": rng.normal(1220, 9, COUNT),
        "stage.to press.seconds": retry(rng, 3, 0.15, 0.03, 2.4),
        "stage.to coining.seconds": lognormal(rng, 4.2, 0.5, 3.4),
        "die.bulk_c": triangular(rng, 150, 200, 320),
        "billet.emissivity": truncated(rng, 0.85, 0.03, 0.7, 0.95),
    },
}


def interval(bad, count):
    """Clopper and Pearson, 95 %."""
    low = stats.beta.ppf(0.025, bad, count - bad + 1) if bad else 0.0
    high = stats.beta.ppf(0.975, bad + 1, count - bad) if bad < count else 1.0
    return [float(low), float(high)]


def ask(billet, line, draws):
    with tempfile.TemporaryDirectory() as folder:
        table, out = pathlib.Path(folder, "draws.csv"), pathlib.Path(folder, "out.csv")
        with table.open("w", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(["part", *draws])
            for k in range(COUNT):
                writer.writerow([k, *(repr(float(values[k])) for values in draws.values())])
        command = [billet, "family", str(line), str(table), "--resolution", "quick", "--csv", str(out), "--quiet"]
        subprocess.run(command, check=False, stdout=subprocess.DEVNULL)
        with out.open() as file:
            rows = list(csv.DictReader(file))
    assert len(rows) == COUNT and all(row["verdict"] != "no run" for row in rows)
    return {name: np.array([float(row[name]) for row in rows]) for name in rows[0] if name.startswith("margin_k: ")}


def main():
    answer = {
        "versions": {"numpy": np.__version__, "scipy": scipy.__version__},
        "samples": COUNT,
        "lines": {},
    }
    for name, draw in LINES.items():
        line = EXAMPLES / "hub.toml" if name == "hub" else HERE / "press.toml"
        margins = ask(sys.argv[1], line, draw(np.random.default_rng(SEED)))
        of = {}
        for limit, values in margins.items():
            bad = int((values < 0).sum())
            of[limit.removeprefix("margin_k: ")] = {
                "bad": bad,
                "interval": interval(bad, COUNT),
                "mean_margin_k": float(values.mean()),
                "sd_k": float(values.std(ddof=1)),
            }
        anything = int((np.min(list(margins.values()), axis=0) < 0).sum())
        answer["lines"][name] = {"limits": of, "any": {"bad": anything, "interval": interval(anything, COUNT)}}
    json.dump(answer, sys.stdout, indent=1)
    print()


main()
