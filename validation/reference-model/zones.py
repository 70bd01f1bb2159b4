"""The two zones of the cylinder during scavenging: states, laws of what leaves, exhaust flow.

A new zone n and an old zone o share one pressure from the first transfer opening to exhaust closing. Totals
m, U, B, O are the cylinder's; m_n, B_n, O_n and Θ_n, Θ_o (mass times potential temperature) are added. SI units.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq


@dataclass
class Gas:
    """A stream or a zone: burned and old share, temperature, properties."""

    b: float
    o: float
    T: float
    cp: float
    h: float
    R: float

    @property
    def RT(self):
        return self.R * self.T

    @property
    def kappa(self):
        return self.R / self.cp


def blend(parts):
    """Mean of (mass, Gas) by mass; T is what the mean R T asks, so that the mean density is that of the parts."""
    total = sum(m for m, _ in parts)
    mean = lambda f: sum(m * f(g) for m, g in parts) / total
    R, RT = mean(lambda g: g.R), mean(lambda g: g.RT)
    return Gas(mean(lambda g: g.b), mean(lambda g: g.o), RT / R, mean(lambda g: g.cp), mean(lambda g: g.h), R)


def by_mass(parts):
    """Mean of (mass, Gas) with every quantity, the temperature too, by mass."""
    total = sum(m for m, _ in parts)
    return Gas(*(sum(m * getattr(g, key) for m, g in parts) / total for key in ("b", "o", "T", "cp", "h", "R")))


# Laws: φ_n(χ), the leaving volume share of n, from 1 − η′(η⁻¹(χ)).


def mixing(chi):
    return chi


def displacement(chi, width=1e-4):
    return math.exp(-(1.0 - chi) / width)


def two_part(d):
    """Displacement up to χ = d, then mixing, passed over d ± 0.02 by a smoothstep; d ≤ 0 is mixing."""

    def share(chi):
        if d <= 0:
            return chi
        x = min(1.0, max(0.0, (chi - d + 0.02) / 0.04))
        s = x * x * (3 - 2 * x)
        return s * chi / (1 - chi + s * chi)

    return share


def fitted(k1, k2):
    """η = 1 − exp(k1 S + k2 S²), k1 < 0, through the origin."""

    def share(chi):
        y = math.log(max(1.0 - chi, 1e-300))
        S = (-k1 - math.sqrt(k1 * k1 + 4 * k2 * y)) / (2 * k2) if k2 else y / k1
        return 1.0 + (k1 + 2 * k2 * S) * (1.0 - chi)

    return share


def default(chi):
    S = (math.sqrt(1.0 - 1.5452 * math.log(max(1.0 - chi, 1e-300))) - 1.0) / 0.7726
    return 1.0 - (1.0 + 0.7726 * S) * (1.0 - chi)


def table(points):
    """A measured curve by its slope: Fritsch–Carlson monotone cubic through the origin and the points (S, η)."""
    S, eta = zip((0.0, 0.0), *points)
    curve = PchipInterpolator(S, eta)
    slope = curve.derivative()
    if max(slope(np.linspace(0.0, S[-1], 2000))) > 1.0:
        raise ValueError("a curve that rises faster than the delivered volume")

    def share(chi):
        if chi >= eta[-1]:
            return 1.0 - float(slope(S[-1]))
        if chi <= 0.0:
            return 1.0 - float(slope(0.0))
        return 1.0 - float(slope(brentq(lambda s: float(curve(s)) - chi, 0.0, S[-1], xtol=1e-13)))

    share.curve = curve
    return share


class Law:
    """What leaves: φ_n after the minimum with χ, and the short circuit's share with what the curve adds to it."""

    def __init__(self, share, sigma=0.0):
        self.share, self.sigma = share, sigma

    def __call__(self, chi):
        phi = min(max(self.share(min(max(chi, 0.0), 1.0)), 0.0), 1.0)
        extra = max(0.0, phi - chi) / (1.0 - chi) if chi < 1.0 else 0.0
        return min(phi, chi), 1.0 - (1.0 - self.sigma) * (1.0 - min(extra, 1.0))


LAWS = {"default": default, "mixing": mixing, "displacement": displacement}


def named(name, sigma=0.0):
    """A law by its name, a two-part law by its displaced part."""
    return Law(LAWS[name] if name in LAWS else two_part(float(name)), sigma)


class OneZone:
    """The cylinder with one temperature, perfectly mixed."""

    def __init__(self, gas, totals, V, guess):
        m, U, B, O = totals
        b = min(max(B / m, 0.0), 1.0)
        T, _, _ = gas.T_of_u(b, U / m, guess)
        self.gas = Gas(B / m, O / m, T, *gas.at(b, T))
        self.m, self.p = m, m * self.gas.RT / V

    def at_the_windows(self):
        return self.gas, 1.0

    def blown_back(self, flow, old):
        pass

    def delivered(self, coming, mixing):
        pass

    def returned(self, flow, stream):
        pass

    def through_exhaust(self, law, coming, conductance):
        return [(conductance(self.gas.kappa) * math.sqrt(self.p / self.gas.RT), self.gas)]

    def walls(self, V):
        return [(1.0, (self.gas.T, self.gas.cp, self.m / V))]


class TwoZones:
    """Temperatures, pressure and volume share of both zones from the totals and the zones' states."""

    def __init__(self, gas, totals, zone, V, mf, tau):
        m, U, B, O = totals
        mn, Bn, On, Thn, Tho = zone
        self.mf = mf
        mean = ((Thn + Tho) / m, B / m, O / m)
        self.m = (min(max(mn, 0.0), m), m - min(max(mn, 0.0), m))
        regular = lambda mk, xs: [(x + mf * q) / (mk + mf) for x, q in zip(xs, mean)]
        raw = [regular(self.m[0], (Thn, Bn, On)), regular(self.m[1], (Tho, B - Bn, O - On))]
        clip = [min(max(b, 0.0), 1.0) for _, b, _ in raw]
        self.theta = [t for t, _, _ in raw]
        for _ in range(60):
            states = [gas.at(b, tau * t) for b, t in zip(clip, self.theta)]
            excess = sum(mk * (h - R * tau * t) for mk, t, (cp, h, R) in zip(self.m, self.theta, states)) - U
            step = excess / sum(mk * t * (cp - R) for mk, t, (cp, h, R) in zip(self.m, self.theta, states))
            tau -= step
            if abs(step) < 1e-11 * tau:
                break
        else:
            raise ArithmeticError("two zones")
        self.tau = tau
        self.n, self.o = (Gas(b, o, tau * t, *gas.at(c, tau * t)) for (t, b, o), c in zip(raw, clip))
        self.p = (self.m[0] * self.n.RT + self.m[1] * self.o.RT) / V
        self.chi = self.m[0] * self.n.RT / (self.p * V)
        self.rho = (self.p / self.n.RT, self.p / self.o.RT)
        self.dz = np.zeros(5)

    # rates of the zones' states

    def enters(self, new, flow, b, o, T):
        """A stream of mass rate flow enters the new zone or the old one."""
        if new:
            self.dz[:3] += flow, flow * b, flow * o
        self.dz[3 if new else 4] += flow * T / self.tau

    def leaves(self, new, flow):
        g = self.n if new else self.o
        self.enters(new, -flow, g.b, g.o, g.T)

    def heat(self, new, Q):
        self.dz[3 if new else 4] -= Q / ((self.n if new else self.o).cp * self.tau)

    def exchange(self, volume_rate):
        """Equal volumes pass each way between the zones."""
        for new in (True, False):
            g, flow = (self.n, volume_rate * self.rho[0]) if new else (self.o, volume_rate * self.rho[1])
            self.leaves(new, flow)
            self.enters(not new, flow, g.b, g.o, g.T)

    def blown_back(self, flow, old):
        """Charge that blows back into the transfers, with the old zone's share by mass."""
        self.leaves(False, flow * old)
        self.leaves(True, flow * (1.0 - old))

    def delivered(self, coming, mixing):
        """What the transfers bring; it entrains the residual at mixing times its volume."""
        for flow, g in coming:
            self.enters(True, flow, g.b, g.o, g.T)
        if mixing > 0:
            V_in = sum(flow * g.RT for flow, g in coming) / self.p
            self.exchange(mixing * V_in * self.chi * (1.0 - self.chi))

    def returned(self, flow, stream):
        """What comes back through the exhaust: its unburned share to n, its burned one to o."""
        self.enters(True, (1.0 - stream.b) * flow, 0.0, (stream.o - stream.b) / (1.0 - stream.b) if stream.b < 1 else 0.0, stream.T)
        self.enters(False, stream.b * flow, 1.0, 1.0, stream.T)

    def walls(self, V):
        """Per zone the share of the walls it touches and what its heat transfer needs."""
        return [(share, (g.T, g.cp, rho)) for share, g, rho in zip((self.chi, 1.0 - self.chi), (self.n, self.o), self.rho)]

    # what stands at the windows and at the exhaust

    def at_the_windows(self):
        """Gas that would blow back into the transfers, and the old zone's share in it by mass."""
        w = min(max(1.0 - self.chi, 0.0), 1.0) ** 4
        old, new = w * self.rho[1], (1.0 - w) * self.rho[0]
        share = old / (old + new)
        return blend([(share, self.o), (1.0 - share, self.n)]), share

    def residual(self, phi):
        """What leaves without the short circuit: its density and γ's κ by mass."""
        new, old = phi * self.rho[0], (1.0 - phi) * self.rho[1]
        return new + old, (new * self.n.kappa + old * self.o.kappa) / (new + old)

    def through_exhaust(self, law, coming, conductance):
        """Mass rates and gases that leave through the exhaust: of n, of o, and the short circuit; books them.

        coming: the streams from the transfers as (mass rate, Gas); conductance: K as a function of κ.
        """
        phi, sigma = law(self.chi)
        rho_r, kappa = self.residual(phi)
        K = conductance(kappa)
        flow, fresh = sum(m for m, _ in coming), by_mass(coming) if coming else None
        rho_in = flow * self.p / sum(m * g.RT for m, g in coming) if fresh else rho_r
        q = sigma * flow / rho_in
        if K <= 0.0:
            return [(0.0, self.o)]
        if q * math.sqrt(rho_in) >= K:
            direct, z = 1.0, math.sqrt(rho_in)
        else:
            c = q * (rho_in - rho_r) / K
            root = math.sqrt(c * c + 4 * rho_r)
            z = (c + root) / 2 if c > 0 else 2 * rho_r / (root - c)
            direct = q * z / K
        V = K / z
        rest = (1.0 - direct) * V
        parts = [(rest * phi * self.rho[0], self.n), (rest * (1.0 - phi) * self.rho[1], self.o)]
        self.leaves(True, parts[0][0])
        self.leaves(False, parts[1][0])
        if direct > 0:
            away = direct * rho_in * V
            parts.append((away, fresh))
            self.enters(True, -away, fresh.b, fresh.o, fresh.T)
        return parts
