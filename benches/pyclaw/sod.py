"""Sod's shock tube with PyClaw's Roe solver and with the pipes of this project, in one run.

By hand, from the root of the repository (building clawpack takes a Fortran compiler):

    python3 -m venv /tmp/pyclaw && /tmp/pyclaw/bin/pip install -r benches/pyclaw/requirements.txt
    /tmp/pyclaw/bin/python benches/pyclaw/sod.py

Prints for each the cells, the fastest of many runs and the L1 errors, then how many times longer PyClaw takes
to reach the same L1 error: its time and error are straight lines in logarithms between its own rows.
"""

import subprocess
import time

import numpy as np
from clawpack import pyclaw, riemann

GAMMA, MIDDLE, TIME, RUNS = 1.4, 0.5, 0.2, 20
# density, velocity, pressure: G. A. Sod, J. Comput. Phys. 27 (1978) 1
LEFT, RIGHT = (1.0, 0.0, 1.0), (0.125, 0.0, 0.1)
# between the waves of the exact solution: E. F. Toro, Riemann Solvers (2009), sec. 4.3.3, more digits by Newton's method
PRESSURE = 0.303_130_178_050_646
NAMES = ("density", "velocity", "pressure")


def exact(speed):
    """Density, velocity and pressure on the rays x/t = speed."""
    g = GAMMA
    sound = (g * LEFT[2] / LEFT[0]) ** 0.5
    velocity = 2 / (g - 1) * sound * (1 - (PRESSURE / LEFT[2]) ** ((g - 1) / (2 * g)))
    behind = LEFT[0] * (PRESSURE / LEFT[2]) ** (1 / g)
    ratio, k = PRESSURE / RIGHT[2], (g - 1) / (g + 1)
    ahead = RIGHT[0] * (ratio + k) / (k * ratio + 1)
    shock = (g * RIGHT[2] / RIGHT[0] * ((g + 1) / (2 * g) * ratio + (g - 1) / (2 * g))) ** 0.5
    fan_speed = 2 / (g + 1) * (sound + speed)
    fan = np.clip(2 / (g + 1) - k / sound * speed, 1e-9, None)
    where = [
        speed < -sound,
        speed < velocity - (g * PRESSURE / behind) ** 0.5,
        speed < velocity,
        speed < shock,
    ]
    pick = lambda *values: np.select(where, values[:-1], values[-1])
    density = pick(LEFT[0], LEFT[0] * fan ** (2 / (g - 1)), behind, ahead, RIGHT[0])
    pressure = pick(LEFT[2], LEFT[2] * fan ** (2 * g / (g - 1)), PRESSURE, PRESSURE, RIGHT[2])
    return density, pick(0.0, fan_speed, velocity, velocity, 0.0), pressure


def primitive(q):
    velocity = q[1] / q[0]
    return q[0], velocity, (GAMMA - 1) * (q[2] - 0.5 * q[0] * velocity**2)


def pyclaw_run(cells):
    """Time [s] and L1 errors of one run."""
    solver = pyclaw.ClawSolver1D(riemann.euler_with_efix_1D)
    solver.kernel_language = "Fortran"
    solver.order = 2
    solver.limiters = pyclaw.limiters.tvd.vanleer
    solver.cfl_desired, solver.cfl_max = 0.9, 1.0
    solver.dt_initial = 0.2 / cells
    solver.max_steps = 100_000
    solver.bc_lower[0] = solver.bc_upper[0] = pyclaw.BC.extrap
    domain = pyclaw.Domain([pyclaw.Dimension(0.0, 1.0, cells, name="x")])
    state = pyclaw.State(domain, 3)
    state.problem_data["gamma"], state.problem_data["gamma1"] = GAMMA, GAMMA - 1
    x = state.grid.x.centers
    density, velocity, pressure = (np.where(x < MIDDLE, a, b) for a, b in zip(LEFT, RIGHT))
    state.q[0], state.q[1] = density, density * velocity
    state.q[2] = pressure / (GAMMA - 1) + 0.5 * density * velocity**2
    solution = pyclaw.Solution(state, domain)
    solver.setup(solution)
    began = time.perf_counter()
    solver.evolve_to_time(solution, TIME)
    took = time.perf_counter() - began
    wanted = exact((x - MIDDLE) / TIME)
    errors = [np.sum(abs(a - b)) / cells for a, b in zip(primitive(solution.state.q), wanted)]
    return took, errors


def main():
    command = ["cargo", "run", "--quiet", "--release", "-p", "freshcharge-benches", "--example", "sod"]
    printed = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    own = np.array([[float(word) for word in line.split()] for line in printed.splitlines()])
    other = []
    for cells in (50, 100, 200, 400, 800, 1600, 3200):
        runs = [pyclaw_run(cells) for _ in range(RUNS)]
        other.append([cells, min(took for took, _ in runs), *runs[0][1]])
    other = np.array(other)
    for name, rows in (("Freshcharge", own), ("PyClaw", other)):
        for cells, took, *errors in rows:
            updates = ", ".join(f"{n} {e:.3e}" for n, e in zip(NAMES, errors))
            print(f"{name:12} {cells:5.0f} cells {1e3 * took:9.3f} ms, L1 {updates}")
    for k, name in enumerate(NAMES, 2):
        for cells, took, *errors in own:
            error = errors[k - 2]
            if other[-1, k] <= error <= other[0, k]:
                # errors fall along the rows; interpolation wants them rising
                at = np.interp(np.log(error), np.log(other[::-1, k]), np.log(other[::-1, 1]))
                print(f"{name:8} L1 {error:.3e} ({cells:.0f} cells): PyClaw takes {np.exp(at) / took:.1f} times as long")


if __name__ == "__main__":
    main()
