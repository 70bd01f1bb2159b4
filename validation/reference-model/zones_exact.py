"""The zones' potential temperatures against exact energy equations of both zones.

Usage: python zones_exact.py ENGINE.toml RPM LAW

From one state at the first transfer opening of a settled cycle both forms run to exhaust closing. The exact one has
m_n, B_n, O_n, T_n, T_o as states and dp/dt from the volumes' sum: m_k c_p,k dT_k/dt = Σ_in ṁ (h(b_in, T_in) −
h(b_in, T_k)) + V_k dp/dt − Q_k. It starts with a new zone of 1e-5 of the cylinder's gas.
"""

import math
import sys

import numpy as np
from scipy.integrate import solve_ivp

import reference_model
import zones


class ExactZones(zones.TwoZones):
    """Both zones by their temperatures as states; what enters, leaves and is lost is booked as in the other form."""

    def __init__(self, gas, totals, zone, V, V_rate):
        m, _, B, O = totals
        mn, Bn, On, Tn, To = zone
        if not (0 < mn < m and Tn > 50 and To > 50):
            raise ArithmeticError("a trial step outside what gas can be")
        self.gas, self.V, self.V_rate, self.tau = gas, V, V_rate, 1.0
        self.m = (mn, m - mn)
        state = lambda b, o, T: zones.Gas(b, o, T, *gas.at(min(max(b, 0.0), 1.0), T))
        self.n, self.o = state(Bn / mn, On / mn, Tn), state((B - Bn) / (m - mn), (O - On) / (m - mn), To)
        self.both = (self.n, self.o)
        self.p = sum(mk * g.RT for mk, g in zip(self.m, self.both)) / V
        self.chi = mn * self.n.RT / (self.p * V)
        self.rho = (self.p / self.n.RT, self.p / self.o.RT)
        self.energy = sum(mk * (g.h - g.RT) for mk, g in zip(self.m, self.both))
        self.masses, self.dm, self.dR, self.heating = np.zeros(3), [0.0, 0.0], [0.0, 0.0], [0.0, 0.0]

    def enters(self, new, flow, b, o, T):
        k = 0 if new else 1
        g, inside = self.both[k], min(max(b, 0.0), 1.0)
        if new:
            self.masses += flow, flow * b, flow * o
        self.dm[k] += flow
        self.dR[k] += flow * (self.gas.R(b) - self.gas.R(g.b))
        self.heating[k] += flow * (self.gas.at(inside, T)[1] - self.gas.at(inside, g.T)[1])

    def heat(self, new, Q):
        self.heating[0 if new else 1] -= Q

    @property
    def dz(self):
        V = [mk * g.RT / self.p for mk, g in zip(self.m, self.both)]
        grows = sum(dm * g.RT + dR * g.T + g.kappa * X for g, dm, dR, X in zip(self.both, self.dm, self.dR, self.heating))
        dp = (grows - self.p * self.V_rate) / (self.V - sum(g.kappa * Vk for g, Vk in zip(self.both, V)))
        dT = [(X + Vk * dp) / (mk * g.cp) for X, Vk, mk, g in zip(self.heating, V, self.m, self.both)]
        return np.array([*self.masses, *dT])


class Engine(reference_model.Engine):
    """An engine whose zones take either form."""

    exact = False

    def balances(self, th, y, two, charge, log=None):
        self.V_rate = self.A * self.drop(th)[1] * self.omega
        return super().balances(th, y, two, charge, log)

    def cylinder(self, y, V, two):
        if two and self.exact:
            self.seen = ExactZones(self.gas, y[:4], y[-5:], V, self.V_rate)
        else:
            self.seen = super().cylinder(y, V, two)
        return self.seen

    def run(self, start, end, y, two, exact=False):
        """The state at the end, and the cylinder there."""
        self.exact, n = exact, len(self.groups)
        atol = np.full(len(y), 1e-14)
        atol[1] = atol[5] = 1e-8
        atol[10 : 8 + 4 * n : 4] = 1e-10
        atol[8 + 4 * n : -5] = 1e-8
        atol[-2:] = 1e-7
        rates = lambda th, z: self.rates(th, z, two, None)
        y = solve_ivp(rates, (start, end), y, method="DOP853", rtol=1e-8, atol=atol, max_step=0.02).y[:, -1]
        log = self.see(end, y, two)
        return y, self.seen, log


def main():
    engine = Engine(sys.argv[1], float(sys.argv[2]), True, zones.named(sys.argv[3]))
    y0, _, _, _ = engine.settle(1e-5)
    y = np.concatenate([y0, np.zeros(10 + 4 * len(engine.groups) + 5)])
    y[3] = y[0]
    y, _, log = engine.run(engine.EO, engine.TO, y, False)
    a, b = y.copy(), y.copy()
    a[-5:] = 0, 0, 0, 0, y[0] * log["T"] * (engine.p0 / log["p"]) ** 0.25
    engine.tau = (log["p"] / engine.p0) ** 0.25
    seed = 1e-5 * y[0]
    b[-5:] = seed, seed * y[2] / y[0], seed * y[3] / y[0], log["T"], log["T"]
    stops = np.linspace(engine.TO, engine.EC, 9)
    for start, end in zip(stops, stops[1:]):
        a, one, _ = engine.run(start, end, a, True)
        b, other, _ = engine.run(start, end, b, True, exact=True)
        print(f"{math.degrees(end):.1f} deg: mass {a[0] / b[0] - 1:+.1e}, new mass {one.m[0] / other.m[0] - 1:+.1e}, pressure {one.p / other.p - 1:+.1e}, "
              f"T_n {one.n.T:.1f} and {other.n.T:.1f} K, T_o {one.o.T:.1f} and {other.o.T:.1f} K, chi {one.chi:.4f} and {other.chi:.4f}; "
              f"energy of the exact zones less the total {other.energy - b[1]:+.0e} J", flush=True)
    assert abs(a[0] / b[0] - 1) < 2e-3 and abs(one.n.T / other.n.T - 1) < 1e-2 and abs(one.o.T / other.o.T - 1) < 1e-2


if __name__ == "__main__":
    main()
