"""The reference case in SciPy: BDF with a sparse Jacobian in closed form, and LSODA with a banded one.

    scipy_bdf.py CASE REFERENCE

CASE is the grid and the property table that the library wrote; the equations are the same, term by
term, written for whole arrays. The unknown is the specific enthalpy of each cell.
"""

import sys
import time

import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import csc_matrix, diags

SIGMA = 5.670374419e-8
TIMES = np.arange(10.0, 61.0, 10.0)


class Case:
    def __init__(self, path):
        v = np.array(open(path).read().split(), dtype=float)
        self.nz, self.nr, nf, intervals = (int(x) for x in v[:4])
        self.h_low, self.per_h, self.h0, self.film, self.eps, self.ambient = v[4:10]
        n = self.nz * self.nr
        at = 10
        self.mass, self.along, self.across = v[at : at + 3 * n].reshape(3, n)
        at += 3 * n
        faces = v[at : at + 3 * nf].reshape(nf, 3)
        self.cell = faces[:, 0].astype(int)
        self.area, self.depth = faces[:, 1].copy(), faces[:, 2].copy()
        at += 3 * nf
        self.nodes = v[at : at + 4 * intervals].reshape(intervals, 4)
        self.n = n
        self.face_h = np.full(nf, self.h0)
        nr = self.nr
        low_r = np.concatenate(([0.0], self.across[:-1]))
        low_z = np.concatenate((np.zeros(nr), self.along[:-nr]))
        self.conduct = diags(
            [
                self.along[:-nr],
                self.across[:-1],
                -(self.along + self.across + low_r + low_z),
                self.across[:-1],
                self.along[:-nr],
            ],
            [-nr, -1, 0, 1, nr],
            format="csc",
        )

    def lookup(self, h):
        x = (h - self.h_low) * self.per_h
        i = np.clip(x.astype(int), 0, len(self.nodes) - 1)
        f = x - i
        n = self.nodes[i]
        return n[:, 0] + f * n[:, 1], n[:, 1] * self.per_h, n[:, 2] + f * n[:, 3], n[:, 3] * self.per_h

    def faces(self, theta):
        g = 1 / self.depth
        a4 = (self.ambient + 273.15) ** 4
        for _ in range(30):
            t, dt, th, dth = self.lookup(self.face_h)
            k = t + 273.15
            q = self.film * (t - self.ambient) + self.eps * SIGMA * (k**4 - a4)
            dq = self.film + 4 * self.eps * SIGMA * k**3
            slope = dq * dt
            total = g * dth + slope
            change = (g * (theta - th) - q) / total
            self.face_h = self.face_h + change
            out = q + slope * change
            if np.max(np.abs(change * dt)) < 1e-9:
                break
        return out, slope * g / total

    def rhs(self, _, h):
        theta = self.lookup(h)[2]
        q = self.conduct @ theta
        out, _ = self.faces(theta[self.cell])
        np.subtract.at(q, self.cell, self.area * out)
        return q / self.mass

    def slopes(self, h):
        _, _, theta, dtheta = self.lookup(h)
        _, slope = self.faces(theta[self.cell])
        extra = np.zeros(self.n)
        np.add.at(extra, self.cell, self.area * slope)
        return dtheta, extra

    def jacobian(self, _, h):
        dtheta, extra = self.slopes(h)
        j = self.conduct - diags(extra)
        return csc_matrix(diags(1 / self.mass) @ j @ diags(dtheta))

    def banded(self, _, h):
        """Rows are diagonals, from the highest to the lowest, as LSODA wants them."""
        dtheta, extra = self.slopes(h)
        nr, n = self.nr, self.n
        out = np.zeros((2 * nr + 1, n))
        out[nr] = (self.conduct.diagonal() - extra) * dtheta / self.mass
        for k, g in ((1, self.across), (nr, self.along)):
            out[nr - k, k:] = g[:-k] * dtheta[k:] / self.mass[:-k]
            out[nr + k, :-k] = g[:-k] * dtheta[:-k] / self.mass[k:]
        return out


def main():
    case, reference = Case(sys.argv[1]), np.loadtxt(sys.argv[2])
    h0 = np.full(case.n, case.h0)
    methods = {
        "SciPy-BDF": dict(method="BDF", jac=case.jacobian),
        "SciPy-LSODA": dict(method="LSODA", jac=case.banded, lband=case.nr, uband=case.nr),
    }
    for name, options in methods.items():
        tolerance = 8.0
        while tolerance > 1e-3:
            best = np.inf
            total = 0.0
            for _ in range(3):
                case.face_h = np.full(len(case.cell), case.h0)
                begin = time.process_time()
                # 650 J/kgK is the specific heat above the transformation.
                s = solve_ivp(case.rhs, (0, 60), h0, t_eval=TIMES, rtol=1e-10, atol=650 * tolerance, **options)
                spent = time.process_time() - begin
                best = min(best, spent)
                total += spent
                if total > 20:
                    break
            if s.success and s.y.shape[1] == len(TIMES):
                got = np.concatenate([case.lookup(s.y[:, k])[0] for k in range(len(TIMES))])
                error = np.max(np.abs(got - reference))
                print(f"{name} {case.nr}x{case.nz} {tolerance:g} {best:.6f} {error:.4f} {s.nfev}", flush=True)
                if error < 0.02:
                    break
            if best > 60:
                break
            tolerance /= 2


main()
