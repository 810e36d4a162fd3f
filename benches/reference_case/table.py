"""Least time of each solver that meets an error, from the lines the solvers printed. Markdown."""

import sys
from collections import defaultdict

rows = defaultdict(lambda: defaultdict(list))
for line in open(sys.argv[1]):
    name, grid, tolerance, seconds, error, _ = line.split()
    rows[grid][name].append((float(seconds), float(error), float(tolerance)))

print("| grid | solver | 0.5 K | times ours | 0.05 K | times ours |")
print("|---|---|---|---|---|---|")
for grid, solvers in rows.items():
    least = {
        name: [min((r for r in runs if r[1] <= limit), default=None) for limit in (0.5, 0.05)]
        for name, runs in solvers.items()
    }
    ours = least["billet-thermal"]
    for name, found in least.items():
        cells = []
        for run, own in zip(found, ours):
            if run is None:
                cells += ["not met", ""]
            else:
                cells += [f"{run[0] * 1e3:.3g} ms ({run[1]:.2g} K)", f"{run[0] / own[0]:.3g}" if own else ""]
        print(f"| {grid} | {name} | " + " | ".join(cells) + " |")
