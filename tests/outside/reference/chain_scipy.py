"""A whole chain by a general-purpose solver, for comparison with billet-thermal.

Two-dimensional axisymmetric finite volumes for the billet, one-dimensional finite volumes for a die
column behind every face cell of its two end faces, integrated by scipy.integrate.solve_ivp (BDF).
Nothing of billet-thermal is used; only the problem is the same:

    carry   3.0 s in air
    forge   1.0 s lying on the lower die, one stroke of 20 ms between both dies, 0.5 s lying
    wait    2.0 s in air

Run:  python3 chain_scipy.py > chain_scipy.json
"""

import json
import platform
import sys

import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.sparse import lil_matrix

SIGMA = 5.670374419e-8
RADIUS, LENGTH = 0.030, 0.060
START, AMBIENT, DIE_START = 1200.0, 25.0, 200.0
EMISSIVITY, FILM, DIE_FILM = 0.8, 12.0, 10.0
RESTING, BLOW = 1000.0, 10000.0
DENSITY, DIE_DENSITY, DIE_DEPTH = 7500.0, 7700.0, 0.060
DIE_K, DIE_C = 28.0, 560.0

CASES = {
    "constant": (lambda t: 28.0 + 0.0 * t, lambda t: 650.0 + 0.0 * t),
    "linear": (lambda t: 17.2 + 0.0098 * t, lambda t: 540.0 + 0.10 * t),
}


def graded(low, high, first_low, first_high, growth, largest):
    """Cell edges that grow from either end."""
    left, right = [low], [high]
    a, b = first_low, first_high
    while right[-1] - left[-1] > 1e-15:
        gap = right[-1] - left[-1]
        step = min(a, b)
        if gap < 2.2 * step:
            if gap > 1.4 * step:
                left.append(0.5 * (left[-1] + right[-1]))
            break
        if a <= b:
            left.append(left[-1] + a)
            a = min(a * growth, largest)
        else:
            right.append(right[-1] - b)
            b = min(b * growth, largest)
    return np.array(left + right[::-1])


def joined(*parts):
    edges = parts[0]
    for part in parts[1:]:
        edges = np.concatenate([edges, part[1:]])
    return edges


class Chain:
    def __init__(self, conductivity, heat, fine):
        self.k, self.c = conductivity, heat
        s, g = 1.0 / fine, 1.0 + 0.35 / fine
        # Lines at 2 mm from the rims, where the edge ring ends.
        self.r = joined(
            graded(0.0, RADIUS - 0.002, 2.5e-3 * s, 1.0e-3 * s, g, 2.5e-3 * s),
            graded(RADIUS - 0.002, RADIUS, 1.0e-3 * s, 1.0e-4 * s, g, 1.0e-3 * s),
        )
        low = graded(0.0, 0.002, 5e-5 * s, 6e-4 * s, g, 6e-4 * s)
        middle = graded(0.002, LENGTH - 0.002, 6e-4 * s, 6e-4 * s, g, 2.5e-3 * s)
        self.z = joined(low, middle, LENGTH - low[::-1])
        self.d = graded(0.0, DIE_DEPTH, 5e-5 * s, 6e-3 * s, g, 6e-3 * s)
        self.nr, self.nz, self.nd = len(self.r) - 1, len(self.z) - 1, len(self.d) - 1
        self.rc = 0.5 * (self.r[1:] + self.r[:-1])
        self.zc = 0.5 * (self.z[1:] + self.z[:-1])
        self.dr, self.dz, self.dd = np.diff(self.r), np.diff(self.z), np.diff(self.d)
        self.end_area = np.pi * (self.r[1:] ** 2 - self.r[:-1] ** 2)
        self.volume = self.dz[:, None] * self.end_area[None, :]
        self.side_area = 2 * np.pi * RADIUS * self.dz
        self.n = self.nz * self.nr
        self.m = self.nd * self.nr
        self.touch = (None, None)
        self.pattern = self.sparsity()

    def sparsity(self):
        total = self.n + 2 * self.m
        pattern = lil_matrix((total, total), dtype=int)

        def link(a, b):
            pattern[a, b] = pattern[b, a] = 1

        for i in range(total):
            pattern[i, i] = 1
        for i in range(self.nz):
            for j in range(self.nr):
                here = i * self.nr + j
                if i + 1 < self.nz:
                    link(here, here + self.nr)
                if j + 1 < self.nr:
                    link(here, here + 1)
        for t in range(2):
            base = self.n + t * self.m
            face = 0 if t == 0 else (self.nz - 1) * self.nr
            for j in range(self.nr):
                link(face + j, base + j)
                for i in range(self.nd - 1):
                    link(base + i * self.nr + j, base + (i + 1) * self.nr + j)
        return pattern.tocsr()

    @staticmethod
    def air(t, film):
        return film * (t - AMBIENT) + EMISSIVITY * SIGMA * ((t + 273.15) ** 4 - (AMBIENT + 273.15) ** 4)

    def open_face(self, cell, k, half, film):
        """Face temperature and flux out of a face in air, by Newton's rule."""
        t = cell.copy()
        for _ in range(12):
            slope = film + 4 * EMISSIVITY * SIGMA * (t + 273.15) ** 3
            t -= (self.air(t, film) - k * (cell - t) / half) / (slope + k / half)
        return t, k * (cell - t) / half

    def parts(self, y):
        body = y[: self.n].reshape(self.nz, self.nr)
        tools = [y[self.n + t * self.m : self.n + (t + 1) * self.m].reshape(self.nd, self.nr) for t in range(2)]
        return body, tools

    def end(self, body, tools, which):
        """Flux out of the end faces, flux into the die faces, and the billet's face temperature."""
        cell = body[0] if which == 0 else body[-1]
        half = 0.5 * (self.dz[0] if which == 0 else self.dz[-1])
        k = self.k(cell)
        die = tools[which][0]
        if self.touch[which] is None:
            face, q = self.open_face(cell, k, half, FILM)
            _, out = self.open_face(die, DIE_K, 0.5 * self.dd[0], DIE_FILM)
            return q, -out, face
        u = 1.0 / (half / k + 1.0 / self.touch[which] + 0.5 * self.dd[0] / DIE_K)
        q = u * (cell - die)
        return q, q, cell - q * half / k

    def rate(self, _, y):
        body, tools = self.parts(y)
        k = self.k(body)
        heat = np.zeros_like(body)
        resistance = 0.5 * self.dz[:, None] / k
        q = (body[:-1] - body[1:]) / (resistance[:-1] + resistance[1:]) * self.end_area[None, :]
        heat[:-1] -= q
        heat[1:] += q
        resistance = 0.5 * self.dr[None, :] / k
        area = 2 * np.pi * self.r[1:-1][None, :] * self.dz[:, None]
        q = (body[:, :-1] - body[:, 1:]) / (resistance[:, :-1] + resistance[:, 1:]) * area
        heat[:, :-1] -= q
        heat[:, 1:] += q
        _, q = self.open_face(body[:, -1], k[:, -1], 0.5 * self.dr[-1], FILM)
        heat[:, -1] -= q * self.side_area
        out = [None, None]
        for which in range(2):
            q, into, _ = self.end(body, tools, which)
            heat[0 if which == 0 else -1] -= q * self.end_area
            die = tools[which]
            flux = np.zeros_like(die)
            apart = 0.5 * (self.dd[1:] + self.dd[:-1])
            inner = DIE_K * (die[:-1] - die[1:]) / apart[:, None]
            flux[:-1] -= inner
            flux[1:] += inner
            flux[0] += into
            flux[-1] += DIE_K * (DIE_START - die[-1]) / (0.5 * self.dd[-1])
            out[which] = flux / (DIE_DENSITY * DIE_C * self.dd[:, None])
        body_rate = heat / (DENSITY * self.c(body) * self.volume)
        return np.concatenate([body_rate.ravel(), out[0].ravel(), out[1].ravel()])

    def nodes(self, y):
        body, tools = self.parts(y)
        k = self.k(body)
        side, _ = self.open_face(body[:, -1], k[:, -1], 0.5 * self.dr[-1], FILM)
        ends = [self.end(body, tools, which)[2] for which in range(2)]
        r1, r2 = self.rc[0], self.rc[1]
        on_axis = lambda row: row[0] + (row[0] - row[1]) * r1**2 / (r2**2 - r1**2)
        core = np.interp(0.5 * LENGTH, self.zc, np.array([on_axis(row) for row in body]))
        ring = self.rc > RADIUS - 0.002
        rims = []
        for band in (self.zc < 0.002, self.zc > LENGTH - 0.002):
            weight = self.volume[np.ix_(band, ring)]
            rims.append(float((body[np.ix_(band, ring)] * weight).sum() / weight.sum()))
        # Mean enthalpy over 0 degC; the inverse is exact for a linear specific heat.
        c0, slope = float(self.c(np.array(0.0))), float(self.c(np.array(1.0)) - self.c(np.array(0.0)))
        h = c0 * body + 0.5 * slope * body**2
        mean_h = float((h * self.volume).sum() / self.volume.sum())
        mean = mean_h / c0 if slope == 0.0 else (-c0 + np.sqrt(c0**2 + 2 * slope * mean_h)) / slope
        return {
            "core": float(core),
            "surface": float(np.interp(0.5 * LENGTH, self.zc, side)),
            "grip_end": float(on_axis(ends[0])),
            "free_end": float(on_axis(ends[1])),
            "edge": min(rims),
            "mean": float(mean),
        }

    def run(self):
        y = np.concatenate([np.full(self.n, START), np.full(2 * self.m, DIE_START)])
        phases = [
            ("carry end", 3.0, (None, None)),
            ("blow", 1.0, (RESTING, None)),
            ("blow end", 0.020, (BLOW, BLOW)),
            ("forge end", 0.5, (RESTING, None)),
            ("wait end", 2.0, (None, None)),
        ]
        out = {}
        for name, seconds, touch in phases:
            if name == "blow":
                # The dies have waited at their bulk temperature until the part came.
                y[self.n :] = DIE_START
            self.touch = touch
            first = 1e-5
            answer = solve_ivp(
                self.rate, (0.0, seconds), y, method="BDF", rtol=1e-6, atol=1e-3, first_step=first,
                jac_sparsity=self.pattern,
            )
            assert answer.success, answer.message
            y = answer.y[:, -1]
            out[name] = {"with the contact of the phase": self.nodes(y)}
            if name != "blow end":
                # Just after a stroke the face in air changes within a millisecond.
                self.touch = (None, None)
                out[name]["in air"] = self.nodes(y)
        return out


def main():
    result = {
        "versions": {
            "python": platform.python_version(),
            "numpy": np.__version__,
            "scipy": scipy.__version__,
        },
        "method": "solve_ivp BDF, rtol 1e-6, atol 1e-3 K",
        "cases": {},
    }
    fine = float(sys.argv[1]) if len(sys.argv) > 1 else 2.0
    for name, (k, c) in CASES.items():
        chain = Chain(k, c, fine)
        coarse = Chain(k, c, 0.5 * fine)
        print(name, chain.n + 2 * chain.m, "unknowns", file=sys.stderr)
        best, other = chain.run(), coarse.run()
        worst = max(
            abs(best[phase][contact][node] - other[phase][contact][node])
            for phase in best
            for contact in best[phase]
            for node in best[phase][contact]
        )
        result["cases"][name] = {
            "unknowns": chain.n + 2 * chain.m,
            "largest_difference_from_half_as_fine_k": worst,
            "moments": best,
        }
    json.dump(result, sys.stdout, indent=1)
    print()


main()
