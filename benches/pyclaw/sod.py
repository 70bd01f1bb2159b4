#!/usr/bin/env python3
"""Sod's shock tube by this project's pipes and by PyClaw (high-resolution wave propagation with Roe's solver, compiled
and in Python), in turns in one run; prints how many times less time ours takes to the same mean error of density.

usage, in the project's folder:  python benches/pyclaw/sod.py
packages: benches/pyclaw/requirements.txt (the registry's name of PyClaw is clawpack). One core, by hand, not a test."""
import subprocess
import time

import numpy as np
from clawpack import pyclaw, riemann
from clawpack.riemann.euler_1D_py import euler_roe_1D

GAMMA, MIDDLE, TIME = 1.4, 0.5, 0.2
LEFT, RIGHT = (1.0, 0.0, 1.0), (0.125, 0.0, 0.1)
CELLS = [50, 100, 200, 400, 800, 1600]
ROUNDS = 3


def star():
    """Pressure and velocity between the waves, by bisection of the two wave curves (Toro, ch. 4)."""

    def curve(p, side):
        density, _, pressure = side
        a, b = 2 / ((GAMMA + 1) * density), (GAMMA - 1) / (GAMMA + 1) * pressure
        if p > pressure:
            return (p - pressure) * np.sqrt(a / (p + b))
        sound = np.sqrt(GAMMA * pressure / density)
        return 2 * sound / (GAMMA - 1) * ((p / pressure) ** ((GAMMA - 1) / (2 * GAMMA)) - 1)

    low, high = 1e-6, 10.0
    for _ in range(200):
        p = 0.5 * (low + high)
        if curve(p, LEFT) + curve(p, RIGHT) + RIGHT[1] - LEFT[1] > 0:
            high = p
        else:
            low = p
    return p, 0.5 * (LEFT[1] + RIGHT[1] + curve(p, RIGHT) - curve(p, LEFT))


def exact(x):
    """Density at the end: a rarefaction to the left, a contact, a shock to the right."""
    p, u = star()
    s = (x - MIDDLE) / TIME
    sound = np.sqrt(GAMMA * LEFT[2] / LEFT[0])
    behind = sound * (p / LEFT[2]) ** ((GAMMA - 1) / (2 * GAMMA))
    fan = LEFT[0] * (2 / (GAMMA + 1) - (GAMMA - 1) / ((GAMMA + 1) * sound) * s) ** (2 / (GAMMA - 1))
    q = p / RIGHT[2]
    shocked = RIGHT[0] * (q + (GAMMA - 1) / (GAMMA + 1)) / ((GAMMA - 1) / (GAMMA + 1) * q + 1)
    speed = np.sqrt(GAMMA * RIGHT[2] / RIGHT[0]) * np.sqrt((GAMMA + 1) / (2 * GAMMA) * q + (GAMMA - 1) / (2 * GAMMA))
    places = [s < -sound, s < u - behind, s < u, s < speed]
    return np.select(places, [LEFT[0], fan, LEFT[0] * (p / LEFT[2]) ** (1 / GAMMA), shocked], RIGHT[0])


def claw(cells, compiled):
    """Seconds and error of PyClaw."""
    solver = pyclaw.ClawSolver1D(riemann.euler_with_efix_1D if compiled else euler_roe_1D)
    if not compiled:
        solver.kernel_language = "Python"
    solver.num_waves, solver.num_eqn = 3, 3
    solver.limiters = [pyclaw.limiters.tvd.MC] * 3
    solver.order, solver.cfl_desired, solver.cfl_max = 2, 0.9, 1.0
    solver.bc_lower[0] = solver.bc_upper[0] = pyclaw.BC.extrap
    domain = pyclaw.Domain([0.0], [1.0], [cells])
    state = pyclaw.State(domain, 3)
    state.problem_data.update(gamma=GAMMA, gamma1=GAMMA - 1, efix=compiled)
    x = domain.grid.x.centers
    first = [np.where(x < MIDDLE, left, right) for left, right in zip(LEFT, RIGHT)]
    state.q[0], state.q[1] = first[0], first[0] * first[1]
    state.q[2] = first[2] / (GAMMA - 1) + 0.5 * first[0] * first[1] ** 2
    solution = pyclaw.Solution(state, domain)
    solver.dt_initial = 0.1 / cells
    solver.max_steps = 100000
    solver.setup(solution)
    clock = time.perf_counter()
    solver.evolve_to_time(solution, TIME)
    return time.perf_counter() - clock, np.mean(np.abs(solution.q[0] - exact(x)))


def ours():
    command = ["cargo", "bench", "-q", "-p", "freshcharge-benches", "--bench", "sod"]
    lines = subprocess.run(command, check=True, capture_output=True, text=True).stdout.split("\n")
    rows = [line.split() for line in lines if line.strip()]
    return {int(cells): (float(seconds), float(error)) for cells, seconds, error in rows}


def fastest(runs):
    return {n: (min(run[n][0] for run in runs), runs[0][n][1]) for n in runs[0]}


def main():
    import logging

    logging.disable(logging.INFO)
    found = {"ours": [], "PyClaw, compiled": [], "PyClaw, Python": []}
    for _ in range(ROUNDS):
        found["ours"].append(ours())
        found["PyClaw, compiled"].append({n: claw(n, True) for n in CELLS})
        found["PyClaw, Python"].append({n: claw(n, False) for n in CELLS[:5]})
    best = {name: fastest(runs) for name, runs in found.items()}
    for name, rows in best.items():
        for n, (seconds, error) in rows.items():
            print(f"{name:<17} {n:5d} cells {1e3 * seconds:9.3f} ms  error {error:.3e}")
    logs = {name: np.log([rows[n] for n in rows]) for name, rows in best.items()}
    mine = logs["ours"]
    print("times less time to the same error")
    for name in ["PyClaw, compiled", "PyClaw, Python"]:
        # PyClaw's time at our errors, by lines through its own points
        order = np.argsort(logs[name][:, 1])
        known = logs[name][order]
        for cells, (seconds, error) in zip(best["ours"], mine):
            if known[0, 1] <= error <= known[-1, 1]:
                there = np.interp(error, known[:, 1], known[:, 0])
                print(f"  {name:<17} at our {cells:4d} cells: {np.exp(there - seconds):6.1f}")


if __name__ == "__main__":
    main()
