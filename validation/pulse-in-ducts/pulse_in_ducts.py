#!/usr/bin/env python3
"""A pulse of finite amplitude in a duct of cones, by PyClaw: high-resolution wave propagation (R. J. LeVeque, Finite
Volume Methods for Hyperbolic Problems, 2002, ch. 6 and 15) with Roe's solver; the change of area as a source that is
split off (Strang). Nothing of it is shared with the program that is checked.

usage: pulse_in_ducts.py OUT.csv [CELLS]     (packages: requirements.txt; the registry's name of PyClaw is clawpack)"""
import csv
import sys

import numpy as np
from clawpack import pyclaw
from clawpack.riemann.euler_1D_py import euler_roe_1D

GAMMA, R, SOUND, P0 = 1.4, 287.0, 340.0, 1e5
T0 = SOUND**2 / (GAMMA * R)
# ends of the pieces [m] and diameters there [m]
PLACES = np.array([0.0, 0.8, 1.1, 1.3, 1.5, 2.0])
DIAMETERS = np.array([0.030, 0.030, 0.060, 0.060, 0.020, 0.020])
PEAK = 1.3
TIMES_MS = [1.0, 2.0, 3.0, 4.0, 5.0]
# cells of the stored table
COARSE = 400


def pulse(x):
    """Pressure ratio of the pulse: a square of a cosine between 0.2 and 0.6 m."""
    inside = (x > 0.2) & (x < 0.6)
    return 1.0 + inside * (PEAK - 1.0) * np.sin(np.pi * (x - 0.2) / 0.4) ** 2


def start(q, x):
    """A simple wave to the right in air at rest."""
    ratio = pulse(x)
    stretch = ratio ** ((GAMMA - 1) / (2 * GAMMA))
    density = P0 * ratio / (R * T0 * stretch**2)
    velocity = 2 * SOUND / (GAMMA - 1) * (stretch - 1)
    q[0] = density
    q[1] = density * velocity
    q[2] = P0 * ratio / (GAMMA - 1) + 0.5 * density * velocity**2


def area_source(solver, state, dt):
    """dq/dt = -(A'/A) (rho u, rho u^2, u (E + p)) by a midpoint step."""

    def rate(q):
        velocity = q[1] / q[0]
        pressure = (GAMMA - 1) * (q[2] - 0.5 * q[1] * velocity)
        return -state.aux[0] * np.array([q[1], q[1] * velocity, velocity * (q[2] + pressure)])

    middle = state.q + 0.5 * dt * rate(state.q)
    state.q += dt * rate(middle)


def main():
    out = sys.argv[1]
    cells = int(sys.argv[2]) if len(sys.argv) > 2 else 8000
    solver = pyclaw.ClawSolver1D(euler_roe_1D)
    solver.kernel_language = "Python"
    solver.num_waves, solver.num_eqn = 3, 3
    solver.limiters = [pyclaw.limiters.tvd.MC] * 3
    solver.bc_lower[0] = solver.bc_upper[0] = pyclaw.BC.wall
    solver.aux_bc_lower[0] = solver.aux_bc_upper[0] = pyclaw.BC.extrap
    solver.step_source, solver.source_split = area_source, 2
    solver.cfl_max, solver.cfl_desired, solver.max_steps = 0.9, 0.8, 10**6
    solver.dt_initial = 1e-7
    domain = pyclaw.Domain([0.0], [PLACES[-1]], [cells])
    state = pyclaw.State(domain, 3, 1)
    state.problem_data.update(gamma=GAMMA, gamma1=GAMMA - 1, efix=False)
    x = state.grid.x.centers
    edges = np.linspace(0.0, PLACES[-1], cells + 1)
    area = np.interp(edges, PLACES, DIAMETERS) ** 2
    # d(ln A)/dx as the mean over the cell
    state.aux[0] = np.diff(np.log(area)) / np.diff(edges)
    start(state.q, x)
    solution = pyclaw.Solution(state, domain)
    rows = []
    for ms in TIMES_MS:
        solver.evolve_to_time(solution, ms * 1e-3)
        q = solution.q
        velocity = q[1] / q[0]
        pressure = (GAMMA - 1) * (q[2] - 0.5 * q[1] * velocity)
        each = [v.reshape(COARSE, -1).mean(axis=1) for v in (x, pressure / P0, velocity)]
        rows += [(ms, *row) for row in zip(*each)]
    with open(out, "w", newline="", encoding="utf-8") as file:
        file.write(
            "# A pulse of finite amplitude in a duct of cones with closed ends, perfect gas gamma 1.4, R 287 J/(kg K), 1 bar, speed of sound 340 m/s\n"
            "# pieces end at 0, 0.8, 1.1, 1.3, 1.5, 2 m with diameters 30, 30, 60, 60, 20, 20 mm; at the start a simple wave to the right, pressure ratio 1 + 0.3 sin^2(pi (x - 0.2)/0.4) between 0.2 and 0.6 m\n"
            f"# source: PyClaw of Clawpack 5.14.0 (Roe's solver, MC limiter, area source split by Strang), {cells} cells, means over 5 mm; computed by pulse-in-ducts/pulse_in_ducts.py\n"
        )
        writer = csv.writer(file)
        writer.writerow(["t_ms", "x_m", "p_bar", "u_m_s"])
        # every fourth of the coarse cells, from the second on
        for index, (ms, place, p, u) in enumerate(rows):
            if index % 4 == 1:
                writer.writerow([ms, f"{place:.4f}", f"{p:.7f}", f"{u:.5f}"])


main()
