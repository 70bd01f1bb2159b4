"""The 0D gas-exchange model written a second time, on SciPy's integrators and Cantera's gas data.

Usage: python reference_model.py ENGINE.toml RPM [RPM ...] [--bare] [--zones 2 ...] (see --help) > numbers.csv

Written from the model's equations, sharing no code with the Rust engine. SI units inside. What differs on
purpose: DOP853 at 1e-9 split at every event, plain repetition to 1e-7, window areas by numerical
quadrature, thermodynamics from Cantera's species objects. With two zones of the cylinder (zones.py) the cycles are
accelerated by Anderson's method; one plain cycle still judges them.
"""

import argparse
import math
import sys
import tomllib

import cantera as ct
import numpy as np
from scipy.integrate import quad, solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

import zones
from zones import OneZone, TwoZones
from zones import Gas as Stream

RU = ct.gas_constant / 1000.0
SPECIES = {s.name: s for s in ct.Species.list_from_file("nasa_gas.yaml")}
FUEL = "C8H18,isooctane"
EPS = 2e-4


class Mixture:
    """Fixed composition: mass-based NASA polynomials taken from Cantera's species data."""

    def __init__(self, moles):
        mass = sum(n * SPECIES[s].molecular_weight / 1000.0 for s, n in moles.items())
        self.R = sum(moles.values()) * RU / mass
        self.low = np.zeros(6)
        self.high = np.zeros(6)
        for s, n in moles.items():
            c = SPECIES[s].thermo.coeffs
            self.high += n * RU / mass * np.array(c[1:7])
            self.low += n * RU / mass * np.array(c[8:14])
        self.low, self.high = self.low.tolist(), self.high.tolist()
        self.moles = moles


def mixtures(lam):
    air = {"N2": 0.78084, "O2": 0.20946, "Ar": 0.009365}
    total = sum(air.values())
    air = {k: v / total for k, v in air.items()}
    n_air = lam * 12.5 / air["O2"]
    a = {k: v * n_air for k, v in air.items()}
    fresh = Mixture({**a, FUEL: 1.0})
    if lam >= 1.0:
        prod = {"N2": a["N2"], "Ar": a["Ar"], "O2": a["O2"] - 12.5, "CO2": 8.0, "H2O": 9.0}
    else:
        oxygen = 2.0 * a["O2"]

        def unbalanced(c):
            co2 = 8.0 - c
            h2o = oxygen - 2.0 * co2 - c
            return c * h2o - 3.5 * co2 * (9.0 - h2o)

        c = brentq(unbalanced, max(0.0, 16.0 - oxygen) + 1e-12, min(8.0, 25.0 - oxygen) - 1e-12, xtol=1e-15)
        h2o = oxygen - 2.0 * (8.0 - c) - c
        prod = {"N2": a["N2"], "Ar": a["Ar"], "CO": c, "CO2": 8.0 - c, "H2O": h2o, "H2": 9.0 - h2o}
    burned = Mixture(prod)
    m_air = sum(a[k] * SPECIES[k].molecular_weight for k in a)
    return fresh, burned, m_air / SPECIES[FUEL].molecular_weight


def check_against_cantera(mix):
    gas = ct.Solution(thermo="ideal-gas", species=[SPECIES[s] for s in mix.moles])
    for T in (250.0, 400.0, 999.0, 1001.0, 2500.0):
        gas.TPX = T, 1e5, mix.moles
        cp, h = cp_h(mix.low if T < 1000.0 else mix.high, T)
        assert abs(cp / gas.cp_mass - 1.0) < 1e-10 and abs(h - gas.enthalpy_mass) < 1e-10 * 1e6


def cp_h(c, T):
    cp = c[0] + T * (c[1] + T * (c[2] + T * (c[3] + T * c[4])))
    h = c[5] + T * (c[0] + T * (c[1] / 2 + T * (c[2] / 3 + T * (c[3] / 4 + T * c[4] / 5))))
    return cp, h


class Gas:
    def __init__(self, lam):
        self.f, self.b, self.afr = mixtures(lam)
        check_against_cantera(self.f)
        check_against_cantera(self.b)

    def R(self, b):
        return self.f.R + b * (self.b.R - self.f.R)

    def at(self, b, T):
        """cp, h, R at burned fraction and temperature."""
        pick = "low" if T < 1000.0 else "high"
        cf, hf = cp_h(getattr(self.f, pick), T)
        cb, hb = cp_h(getattr(self.b, pick), T)
        return cf + b * (cb - cf), hf + b * (hb - hf), self.R(b)

    def T_of_u(self, b, u, guess):
        b = min(max(b, 0.0), 1.0)
        T = guess
        for _ in range(60):
            cp, h, R = self.at(b, T)
            step = (h - R * T - u) / (cp - R)
            T -= step
            if abs(step) < 1e-11 * T:
                return T, cp - (0.0), R
        raise ArithmeticError("temperature")


def window_area(w):
    """Area above a depth below the roof's apex, by adaptive quadrature of the width."""
    c, H = w["chord"], w["floor"] - w["roof"]
    s, rr, rf = w["arch"], w["roof_radius"], w["floor_radius"]
    x0 = c / 2 - rr
    R = (c * c / 4 + s * s) / (2 * s) if s > 1e-6 else None

    def under_arc(d):
        return math.sqrt(max(0.0, R * R - (R - d) ** 2)) if R is not None and d < s else c / 2

    def under_corner(d):
        return x0 + math.sqrt(max(0.0, rr * rr - (rr - d) ** 2)) if d < rr else c / 2

    def half(d):
        e = d - (H - rf)
        floor = c / 2 - rf + math.sqrt(max(0.0, rf * rf - e * e)) if e > 0 else c / 2
        return min(under_arc(d), under_corner(d), floor)

    # where the arc passes into the corners
    crossing = 0.0
    if R is not None and s <= rr:
        excess = lambda d: under_arc(d) - under_corner(d)
        grid = [s * k / 400 for k in range(400)]
        below = [d for d in grid if excess(d) < 0]
        if below:
            low, high = below[-1], min(s * (1 - 1e-12), below[-1] + s / 400)
            crossing = brentq(excess, low, high, xtol=1e-15) if excess(high) > 0 else s
    y0 = max(rr, s)
    marks = sorted({0.0, crossing, rr, y0, H - rf, H})
    depths, areas = [0.0], [0.0]
    for a, b in zip(marks, marks[1:]):
        if b - a < 1e-12:
            continue
        # graded toward both ends, where corners make the width rise steeply
        nodes = a + (b - a) * 0.5 * (1 - np.cos(np.pi * np.arange(1, 161) / 160))
        last = a
        for d in nodes:
            areas.append(areas[-1] + 2 * quad(half, last, d, epsabs=1e-16, epsrel=1e-12)[0])
            depths.append(d)
            last = d
    spline = PchipInterpolator(depths, areas)
    flow = math.cos(w["axial"]) * math.cos(w["radial"])
    total = areas[-1]

    def area(d):
        if d <= 0:
            return 0.0
        return flow * (total if d >= H else float(spline(d)))

    return area, flow * total


def psi(pi, kappa):
    gamma = 1.0 / (1.0 - kappa)
    crit = (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0))

    def plain(x):
        x = max(x, crit)
        return math.sqrt(2 * gamma / (gamma - 1) * (x ** (2 / gamma) - x ** ((gamma + 1) / gamma)))

    s = (1.0 - pi) / EPS
    if s <= 1.0:
        return plain(1.0 - EPS) * (5 * s - s**3) / 4
    return plain(pi)


def orifice(area, pu, RTu, kappa, pd):
    if area <= 0:
        return 0.0
    return area * pu / math.sqrt(RTu) * psi(pd / pu, kappa)


def column_rate(mdot, ease, loss, area, pf, RTf, kf, pt, RTt, kt, fastest=1e6):
    """dm/dt of the gas column: inertia against the drop at which the opening passes the flow."""
    if pt <= pf:
        quasi = orifice(area, pf, RTf, kf, pt)
    else:
        quasi = -orifice(area, pt, RTt, kt, pf)
    relaxed = fastest * (quasi - mdot)

    def psi_plain(pi, kappa):
        gamma = 1.0 / (1.0 - kappa)
        pi = max(pi, (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0)))
        return math.sqrt(max(0.0, 2 * gamma / (gamma - 1) * (pi ** (2 / gamma) - pi ** ((gamma + 1) / gamma))))

    if mdot >= 0:
        want = mdot * math.sqrt(RTf) / area
        # upstream pressure from which the opening passes the flow down to pt
        hi = pt + 1.0
        while hi * psi_plain(pt / hi, kf) < want:
            hi = pt + (hi - pt) * 4.0
        pu = brentq(lambda q: q * psi_plain(pt / q, kf) - want, pt, hi, xtol=1e-9, rtol=1e-14) if want > 0 else pt
        drive = pf - pu - loss[0] * mdot**2 * RTf / pf
    else:
        gamma = 1.0 / (1.0 - kt)
        crit = (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0))
        want = -mdot * math.sqrt(RTt) / (area * pt)
        if want >= psi_plain(crit, kt) * (1 - 5e-7):
            return relaxed
        pd = pt * brentq(lambda pi: psi_plain(pi, kt) - want, crit, 1.0, xtol=1e-15, rtol=1e-14)
        drive = pf - pd + loss[1] * mdot**2 * RTt / pt
    inertial = ease * drive
    return inertial if abs(inertial) <= abs(relaxed) else relaxed


def series(a, b):
    return a * b / math.sqrt(a * a + b * b) if a > 0 and b > 0 else 0.0


class Engine:
    def __init__(self, path, rpm, bare=False, law=None, mixing=0.0):
        """law: of the two zones' exhaust; None is one zone, perfectly mixed. mixing: C_m between the zones."""
        self.law, self.entrainment = law, mixing
        d = tomllib.load(open(path, "rb"))
        mm, cc, deg, bar = 1e-3, 1e-6, math.pi / 180, 1e5
        self.rpm, self.omega = rpm, rpm * 2 * math.pi / 60
        ct_, st = d["crank_train"], d["stack"]
        self.bore = ct_["bore_mm"] * mm
        self.r, self.l = ct_["stroke_mm"] * mm / 2, ct_["rod_mm"] * mm
        assert ct_.get("pin_offset_mm", 0) == 0
        self.A = math.pi / 4 * self.bore**2
        self.Vs = self.A * 2 * self.r
        me = st["measured"]
        base = sum(st["base_gaskets_mm"]) + sum(st.get("spacers_mm", []))
        base0 = sum(me.get("base_gaskets_mm", st["base_gaskets_mm"])) + sum(me.get("spacers_mm", st.get("spacers_mm", [])))
        self.deck = (me["deck_mm"] + base - base0) * mm
        tg = sum(st.get("head_gaskets_mm", [])) * mm
        head = d["head"]
        if "assembled" in head:
            self.Vc = head["assembled"]["volume_cm3"] * cc + self.A * (self.deck - me["deck_mm"] * mm)
        else:
            z = self.deck + tg + head.get("land_offset_mm", 0) * mm
            self.Vc = head["squish_plane"]["volume_cm3"] * cc + self.A * z - d.get("piston", {}).get("dome_volume_cm3", 0) * cc
        amb = d.get("ambient", {})
        self.p0, self.T0 = amb.get("pressure_bar", 1.01325) * bar, amb.get("temperature_c", 20.0) + 273.15
        fuel = d.get("fuel", {})
        self.gas = Gas(fuel.get("lambda", 0.9))
        self.alpha = self.gas.afr / (1 + self.gas.afr)
        air = Mixture({"N2": 0.78084, "O2": 0.20946, "Ar": 0.009365})
        self.zone_mf = 1e-6 * self.p0 * self.Vs / (self.gas.f.R * self.T0)
        self.m_ref = self.p0 * self.Vs / (air.R * self.T0)

        def windows(port):
            out = []
            for w in port["window"]:
                ww = dict(chord=w["chord_mm"] * mm, roof=w["roof_depth_mm"] * mm,
                          floor=w["floor_depth_mm"] * mm if "floor_depth_mm" in w else self.deck + 2 * self.r,
                          arch=w.get("roof_arch_mm", 0) * mm, roof_radius=w.get("roof_radius_mm", 0) * mm,
                          floor_radius=w.get("floor_radius_mm", 0) * mm,
                          axial=w.get("axial_deg", 0) * deg, radial=w.get("radial_deg", 0) * deg)
                out.append((ww, *window_area(ww)))
            return out

        ex = d["exhaust"]
        self.ex_w, self.ex_cd = windows(ex), ex.get("discharge_coefficient", 0.75)
        if "duct_exit_diameter_mm" in ex:
            self.exit = math.pi / 4 * (ex["duct_exit_diameter_mm"] * mm) ** 2
        else:
            self.exit = ex.get("duct_exit_area_mm2", 0) * 1e-6 or None
        assert ex.get("ledge_loss_outward", 0) == 0 and "silencer" not in ex
        self.pb = ex.get("back_pressure_bar", self.p0 / bar) * bar
        self.Tb = ex.get("gas_temperature_c", 400.0) + 273.15
        self.groups = []
        for t in d["transfer"]:
            Vd = t["duct_volume_cm3"] * cc
            ease = None
            if "duct_length_mm" in t and t.get("inertive", True) and not bare:
                length = t["duct_length_mm"] * mm
                area = t["duct_area_mm2"] * 1e-6 if "duct_area_mm2" in t else Vd / length
                assert not t.get("entry_loss") and not t.get("friction_factor")
                ease = area / length
            md = 1e-2 * self.p0 * Vd / (self.gas.f.R * self.T0)
            self.groups.append(dict(name=t["name"], w=windows(t), cd=t.get("discharge_coefficient", 0.75), Vd=Vd, md=md, mf=1e-6 * md, ease=ease))
        cr = d["crankcase"]
        assert cr.get("measured_at", "top") == "top"
        self.Vcc0 = cr["volume_cm3"] * cc
        self.Gcc, self.Tcc = cr.get("wall_w_per_k", 0), cr.get("wall_temperature_c", 90) + 273.15
        it = d["intake"]
        v = it.get("crank_web") or it.get("disc_valve")
        self.io, self.ic, self.ramp = -v["opens_deg_btdc"] * deg, v["closes_deg_atdc"] * deg, v.get("ramp_deg", 20) * deg
        self.i_area, self.i_cd = v["window_area_mm2"] * 1e-6, v.get("discharge_coefficient", 0.75)
        c = d.get("carburettor")
        self.venturi = c and c.get("discharge_coefficient", 0.85) * c.get("throttle", 1) * math.pi / 4 * (c["bore_mm"] * mm) ** 2

        def over(x, default):
            if x is None:
                return default
            return float(np.interp(rpm, x["rpm"], x["value"])) if isinstance(x, dict) else x

        co = d.get("combustion", {})
        self.b0 = 2 * math.pi - over(co.get("start_deg_btdc"), 10) * deg
        self.bd = over(co.get("duration_deg"), 50) * deg
        self.wm, self.wa, self.eta = co.get("form", 2.0), co.get("completeness", 6.908), co.get("efficiency", 0.9)
        h = d.get("heat", {})
        assert h.get("law", "annand") == "annand"
        self.ha, self.hc = h.get("convective", 0.26), h.get("radiative_w_per_m2k4", 0)
        self.Th = h.get("head_temperature_c", 200) + 273.15
        self.Tp = h.get("piston_temperature_c", 250) + 273.15
        self.Tl = h.get("liner_temperature_c", 150) + 273.15
        self.har, self.car = h.get("head_area_ratio", 1.2), h.get("crown_area_ratio", 1.1)
        f = d.get("friction", {})
        self.cm = 2 * 2 * self.r * rpm / 60
        self.fmep = (f.get("constant_bar", 0.3) + f.get("per_piston_speed_bar", 0.03) * self.cm) * bar
        assert not d.get("leaks")
        # one zone knows perfect mixing only; with two the law is given beside the file
        assert law or d.get("scavenging", {}).get("law", "perfect-mixing") == "perfect-mixing"
        self.EO = self.angle(min(w[0]["roof"] for w in self.ex_w) - self.deck)
        self.EC = 2 * math.pi - self.EO
        for g in self.groups:
            g["open"] = self.angle(min(w[0]["roof"] for w in g["w"]) - self.deck)
            g["close"] = 2 * math.pi - g["open"]
        self.TO = min(g["open"] for g in self.groups)
        self.TC = max(g["close"] for g in self.groups)
        self.fresh = Stream(0.0, 0.0, self.T0, *self.gas.at(0.0, self.T0))
        self.back = Stream(1.0, 1.0, self.Tb, *self.gas.at(1.0, self.Tb))

    def angle(self, x):
        y = self.r + self.l - x
        return math.acos((y * y + self.r**2 - self.l**2) / (2 * self.r * y))

    def drop(self, th):
        s, c = math.sin(th), math.cos(th)
        q = math.sqrt(self.l**2 - (self.r * s) ** 2)
        return self.r + self.l - self.r * c - q, self.r * s + self.r**2 * s * c / q

    def area(self, windows, x):
        return sum(a(x + self.deck - w["roof"]) for w, a, _ in windows)

    def intake_area(self, th):
        since = (th - self.io) % (2 * math.pi)
        left = (self.ic - self.io) - since
        return self.i_area * min(1.0, max(0.0, min(since, left) / self.ramp))

    # state: cylinder m U B O | crankcase m U B O | per group ms Bs Ths Os | integrals | columns | zones mn Bn On Thn Tho
    def rates(self, th, y, two, charge, log=None):
        """Rates; not-a-number outside what gas can be, so that the trial step is refused."""
        guess, tau = self.guess, self.tau
        try:
            return self.balances(th, y, two, charge, log)
        except (ArithmeticError, ValueError):
            self.guess, self.tau = guess, tau
            return np.full(len(y), np.nan)

    def balances(self, th, y, two, charge, log=None):
        q = 8 + 4 * len(self.groups)
        x, slope = self.drop(th)
        V, Vcc, dV = self.Vc + self.A * x, self.Vcc0 - self.A * x, self.A * slope
        cyl, case = self.cylinder(y, V, two), self.crankcase(y, Vcc)
        p, pc = cyl.p, case["p"]
        dy = np.zeros(len(y))
        coming, net = self.transfers(dy, y, x, cyl, case)
        leaving, me = self.exhaust(dy, x, cyl, coming)
        mi, intake = self.intake(th, case)
        for j, v in enumerate((1.0, intake.h, intake.b, intake.o)):
            dy[4 + j] += mi * v
        burn = self.burning(th, charge)
        if burn:
            b, o = y[2] / y[0], y[3] / y[0]
            dy[2] += burn
            dy[3] += burn * (1 - o) / (1 - b) if b < 1 - 1e-9 else 0.0
        Q = sum(self.wall_heat(x, *part) * share for share, part in cyl.walls(V))
        Qc = self.Gcc * (case["rest"].T - self.Tcc)
        dy[1] -= Q
        dy[5] -= Qc
        fresh_in, fresh_out = mi * (1 - intake.b), leaving[0] - leaving[2]
        dy[q : q + 10] = [fresh_in, me if me < 0 else 0.0, fresh_out, 0.0, 0.0, Q, Qc, burn, net, mi * intake.h - leaving[1]]
        if two:
            for new, (share, part) in zip((True, False), cyl.walls(V)):
                cyl.heat(new, self.wall_heat(x, *part) * share)
            dy[-5:] = cyl.dz
        dy /= self.omega
        dy[1] -= p * dV
        dy[5] += pc * dV
        dy[q + 3], dy[q + 4] = p * dV, -pc * dV
        if log is not None:
            R = self.gas.R(min(max(y[2] / y[0], 0.0), 1.0))
            log.update(p=p, T=p * V / (y[0] * R), pc=pc, Tc=case["T"], chi=getattr(cyl, "chi", 0.0))
            log["net"] = [pc - p if g["ease"] is None else y[self.flow_at(i)] for i, g in enumerate(self.groups)]
            log["fill"] = [ms * s.RT / pc / g["Vd"] for (ms, _, s), g in zip(case["slugs"], self.groups)]
        return dy

    def cylinder(self, y, V, two):
        if two:
            cyl = TwoZones(self.gas, y[:4], y[-5:], V, self.zone_mf, self.tau)
            self.tau = cyl.tau
            return cyl
        cyl = OneZone(self.gas, y[:4], V, self.guess[0])
        self.guess = (cyl.gas.T, self.guess[1])
        return cyl

    def crankcase(self, y, Vcc):
        """Mixed temperature, slugs of the ducts as (mass, potential temperature, gas), the rest, the pressure."""
        gas = self.gas
        M, UM, BM, OM = y[4:8]
        Tm, _, Rm = gas.T_of_u(BM / M, UM / M, self.guess[1])
        self.guess = (self.guess[0], Tm)
        pm = M * Rm * Tm / Vcc
        theta_m = Tm * (self.p0 / pm) ** 0.25
        slugs, mr, Ur, Br, Or, pv = [], M, UM, BM, OM, 0.0
        for i, g in enumerate(self.groups):
            ms, Bs, Ths, Os = (max(v, 0.0) for v in y[8 + 4 * i : 12 + 4 * i])
            mf = g["mf"]
            ths = (Ths + mf * theta_m) / (ms + mf)
            bs = (Bs + mf * BM / M) / (ms + mf)
            os_ = (Os + mf * OM / M) / (ms + mf)
            Ts = ths * (pm / self.p0) ** 0.25
            slug = Stream(bs, os_, Ts, *gas.at(min(max(bs, 0.0), 1.0), Ts))
            slugs.append((ms, ths, slug))
            mr, Ur, Br, Or = mr - ms, Ur - ms * (slug.h - slug.RT), Br - Bs, Or - Os
            pv += ms * slug.RT
        br, orr = Br / mr, Or / mr
        Tr, _, Rr = gas.T_of_u(br, Ur / mr, Tm)
        rest = Stream(br, orr, Tr, *gas.at(min(max(br, 0.0), 1.0), Tr))
        return dict(T=Tm, slugs=slugs, rest=rest, p=(mr * rest.RT + pv) / Vcc)

    def transfers(self, dy, y, x, cyl, case):
        """Books what passes the transfers; returns the streams that come forward and the net mass rate."""
        n = len(self.groups)
        q, p, pc, rest = 8 + 4 * n, cyl.p, case["p"], case["rest"]
        out, old = cyl.at_the_windows()
        coming, net = [], 0.0
        for i, g in enumerate(self.groups):
            a = g["cd"] * self.area(g["w"], x)
            if a <= 0:
                continue
            ms, ths, slug = case["slugs"][i]
            k = 8 + 4 * i
            wgt = 1 - math.exp(-ms / g["md"])
            f1, f2, rev = 0.0, 0.0, 0.0
            if g["ease"] is not None:
                flow = y[self.flow_at(i)]
                ps, pr = wgt / math.sqrt(slug.RT), (1 - wgt) / math.sqrt(rest.RT)
                share, rt = ps / (ps + pr), 1.0 / (ps + pr) ** 2
                kap = rest.kappa + share * (slug.kappa - rest.kappa)
                dy[self.flow_at(i)] = column_rate(flow, g["ease"], (0.0, 0.0), a, pc, rt, kap, p, out.RT, out.kappa)
                f1, f2 = max(flow, 0.0) * share, max(flow, 0.0) * (1 - share)
                rev = max(-flow, 0.0)
            elif p <= pc:
                f1 = wgt * orifice(a, pc, slug.RT, slug.kappa, p)
                f2 = (1 - wgt) * orifice(a, pc, rest.RT, rest.kappa, p)
            else:
                rev = orifice(a, p, out.RT, out.kappa, pc)
            u = min(1.0, max(0.0, (ms * slug.RT / pc / g["Vd"] - 0.98) / 0.02))
            over = rev * u * u * (3 - 2 * u) * out.RT / slug.RT
            for j, f in enumerate((lambda s: 1.0, lambda s: s.h, lambda s: s.b, lambda s: s.o)):
                passed = f1 * f(slug) + f2 * f(rest) - rev * f(out)
                dy[j] += passed
                dy[4 + j] -= passed
            dy[k] = rev - f1 - over
            dy[k + 1] = rev * out.b - (f1 + over) * slug.b
            dy[k + 2] = rev * out.T * (self.p0 / pc) ** 0.25 - (f1 + over) * ths
            dy[k + 3] = rev * out.o - (f1 + over) * slug.o
            net += f1 + f2 - rev
            dy[q + 10 + 3 * i : q + 13 + 3 * i] = rev, rev * out.b, over * slug.RT / pc / g["Vd"]
            coming += [(f, s) for f, s in ((f1, slug), (f2, rest)) if f > 0]
            cyl.blown_back(rev, old)
        cyl.delivered(coming, self.entrainment)
        return coming, net

    def exhaust(self, dy, x, cyl, coming):
        """Mass, energy, burned and old mass that leave through the exhaust, and the mass rate."""
        area = self.ex_cd * self.area(self.ex_w, x)
        if self.exit:
            area = series(area, self.exit)
        if cyl.p >= self.pb:
            conductance = lambda kappa: area * math.sqrt(cyl.p) * psi(self.pb / cyl.p, kappa) if area > 0 else 0.0
            parts = cyl.through_exhaust(self.law, coming, conductance)
        else:
            back = orifice(area, self.pb, self.back.RT, self.back.kappa, cyl.p)
            cyl.returned(back, self.back)
            parts = [(-back, self.back)]
        leaving = [sum(m * v for m, v in ((m, f(s)) for m, s in parts)) for f in (lambda s: 1.0, lambda s: s.h, lambda s: s.b, lambda s: s.o)]
        for j in range(4):
            dy[j] -= leaving[j]
        return leaving, leaving[0]

    def intake(self, th, case):
        area = self.i_cd * self.intake_area(th)
        if self.venturi:
            area = series(area, self.venturi)
        if self.p0 >= case["p"]:
            return orifice(area, self.p0, self.fresh.RT, self.fresh.kappa, case["p"]), self.fresh
        return -orifice(area, case["p"], case["rest"].RT, case["rest"].kappa, self.p0), case["rest"]

    def burning(self, th, charge):
        if charge is None or not self.b0 < th < self.b0 + self.bd:
            return 0.0
        y, form = (th - self.b0) / self.bd, self.wm + 1
        slope = self.wa * form * y**self.wm * math.exp(-self.wa * y**form) / (1 - math.exp(-self.wa))
        return self.eta * charge * slope / self.bd * self.omega

    def wall_heat(self, x, T, cp, rho):
        if not (T > 0 and rho > 0):
            raise ArithmeticError("a trial step outside what gas can be")
        mu = 1.458e-6 * T**1.5 / (T + 110.4)
        hc = self.ha * (cp * mu / 0.7) / self.bore * (rho * self.cm * self.bore / mu) ** 0.7
        Ah, Ap, Al = self.har * self.A, self.car * self.A, math.pi * self.bore * (x + self.deck)
        return sum(Ai * (hc * (T - Tw) + self.hc * (T**4 - Tw**4)) for Ai, Tw in ((Ah, self.Th), (Ap, self.Tp), (Al, self.Tl)))

    def flow_at(self, i):
        """Where a column's flow stands: after everything else."""
        n = len(self.groups)
        return 8 + 4 * n + 10 + 3 * n + i

    def see(self, th, y, two=False, charge=None):
        log = {}
        self.rates(th, y, two, charge, log)
        return log

    def cold(self):
        n = len(self.groups)
        y = np.zeros(8 + 4 * n)
        x, _ = self.drop(self.EO)
        for k, (p, T, b, V) in enumerate([(3.5, 1300, 0.93, self.Vc + self.A * x), (1.2, 330, 0.02, self.Vcc0 - self.A * x)]):
            cp, h, R = self.gas.at(b, T)
            m = p * self.p0 * V / (R * T)
            y[4 * k : 4 * k + 4] = [m, m * (h - R * T), m * b, m if k == 0 else m * b]
        self.guess, self.tau = (1300.0, 330.0), 1.0
        return y

    def cycle(self, y0, rtol=1e-9):
        n = len(self.groups)
        q = 8 + 4 * n
        y = np.concatenate([y0, np.zeros(10 + 4 * n + 5)])
        y[3] = y[0]
        marks = {self.EO, self.EC, self.TO, self.TC, self.EO + 2 * math.pi, self.b0, self.b0 + self.bd}
        ws = list(self.ex_w)
        for g in self.groups:
            ws += g["w"]
        for w, _, _ in ws:
            for depth in (w["roof"], w["floor"]):
                xx = depth - self.deck
                if 0 < xx < 2 * self.r - 1e-9:
                    a = self.angle(xx)
                    marks |= {a, 2 * math.pi - a}
        for a in (self.io, self.io + self.ramp, self.ic - self.ramp, self.ic):
            while a < self.EO:
                a += 2 * math.pi
            marks.add(a)
        marks = sorted(marks)
        marks = [a for i, a in enumerate(marks) if i == 0 or a - marks[i - 1] > 1e-9]
        scale = np.abs(y).copy()
        scale[:8] = np.maximum(scale[:8], 1e-9)
        atol = np.full(len(y), 1e-14)
        atol[1] = atol[5] = 1e-8
        for i in range(n):
            atol[8 + 4 * i : 12 + 4 * i] = 1e-13
            atol[10 + 4 * i] = 1e-10
        atol[q + 3 : q + 7] = 1e-8
        atol[q + 10 + 3 * n :] = 1e-9
        atol[q + 9] = 1e-8
        atol[-5:] = 1e-14, 1e-14, 1e-14, 1e-11, 1e-11
        out, charge = {}, None
        out["EO"] = self.see(self.EO, y)
        late, turned = None, [None] * n
        peak = 0.0
        for a, b in zip(marks, marks[1:]):
            if abs(a - self.TO) < 1e-9:
                out["TO"] = self.see(a, y)
                y[-5:] = 0.0, 0.0, 0.0, 0.0, y[0] * out["TO"]["T"] * (self.p0 / out["TO"]["p"]) ** 0.25
                self.tau = (out["TO"]["p"] / self.p0) ** 0.25
            if abs(a - self.EC) < 1e-9:
                charge = y[0] - y[2]
                out["EC"], out["mixed"] = y[:4].copy(), self.see(a, y)
                out["unmixed"] = self.see(a, y, self.law is not None)
                out["unmixed"]["new"] = y[-5] / y[0] if self.law else float("nan")
            two = self.law is not None and self.TO - 1e-9 < a < self.EC - 1e-9
            if not two:
                y[-5:] = 0.0
            watching = self.TO - 1e-9 <= a < self.TC and (late is None or any(t is None for t in turned))
            sol = solve_ivp(lambda t, z: self.rates(t, z, two, charge), (a, b), y, method="DOP853", rtol=rtol, atol=atol, dense_output=watching or b > 2 * math.pi - 0.1 and a < 2 * math.pi + 1.2)
            assert sol.success, sol.message
            if watching:
                ts = np.linspace(a + 1e-7, b, 60)

                def crossing(f):
                    values = [f(t) for t in ts]
                    if values[0] >= 0:
                        return a
                    for i in range(1, len(ts)):
                        if values[i - 1] < 0 <= values[i]:
                            return brentq(f, ts[i - 1], ts[i], xtol=1e-10)
                    return None

                seen = lambda t: self.see(t, sol.sol(t), two)
                if late is None:
                    late = crossing(lambda t: (lambda s: s["pc"] - s["p"])(seen(t)))
                for i, g in enumerate(self.groups):
                    if turned[i] is None and g["open"] <= a + 1e-9:
                        t_turn = crossing(lambda t: seen(t)["net"][i])
                        if t_turn is None:
                            continue
                        z = sol.sol(t_turn)
                        k = q + 10 + 3 * i
                        mass = z[k]
                        some = mass > 0
                        turned[i] = dict(mass=mass, burned=z[k + 1], duration=max(t_turn - g["open"], 0.0) if some else 0.0, penetration=self.see(t_turn, z, two)["fill"][i] + z[k + 2] if some else 0.0)
            if sol.sol is not None and a >= self.EC:
                for t in np.linspace(max(a, 2 * math.pi - 0.1), min(b, 2 * math.pi + 1.2), 400):
                    if a <= t <= b:
                        peak = max(peak, self.see(t, sol.sol(t), charge=charge)["p"])
            y = sol.y[:, -1].copy()
            for i, g in enumerate(self.groups):
                if abs(b - g["close"]) < 1e-9:
                    y[self.flow_at(i)] = 0.0
        out.update(late=late, turned=turned, integrals=y[q:].copy(), peak=peak, charge=charge)
        return y[: 8 + 4 * n], out

    def settle(self, limit=1e-7):
        y = self.cold()
        anderson = Anderson(y)
        for cycle in range(200):
            tight = cycle > 3
            new, out = self.cycle(y, 1e-9 if tight else 1e-8)
            change = max(abs(new[0] / y[0] - 1), abs(new[4] / y[4] - 1), abs(new[2] / new[0] - y[2] / y[0]), abs(new[6] / new[4] - y[6] / y[4]), abs(new[7] / new[4] - y[7] / y[4]), abs((new[1] - y[1]) / new[0] / 1e6), abs((new[5] - y[5]) / new[4] / 1e6))
            old, image = y, new
            y = anderson.next(y, new) if self.law is not None and cycle > 5 and change > 1e-6 else new
            print(f"# {self.rpm} cycle {cycle + 1} change {change:.2e}", file=sys.stderr, flush=True)
            if change < limit and tight:
                break
        return old, image, out, cycle + 1

    def results(self):
        y0, y1, out, cycles = self.settle()
        n = len(self.groups)
        I = out["integrals"]
        fresh_in, returned, lost, work, work_c, Q, Qc, burnt, net, hflow = I[:10]
        m, U, B, O = out["EC"]
        dr = self.alpha * fresh_in / self.m_ref
        te = (m - O) / fresh_in
        imep, imep_c = work / self.Vs, work_c / self.Vs
        bmep = imep + imep_c - self.fmep
        hot = sum(t["mass"] for t in out["turned"])
        rev = sum(I[10 + 3 * i] for i in range(n))
        r = dict(delivery_ratio=dr, trapping_efficiency=te, charging_efficiency=dr * te,
                 scavenging_efficiency=(m - B) / m, scavenge_ratio=net / self.m_ref,
                 cylinder_pressure_at_exhaust_opening_bar=out["EO"]["p"] / 1e5,
                 cylinder_temperature_at_exhaust_opening_k=out["EO"]["T"],
                 crankcase_pressure_at_exhaust_opening_bar=out["EO"]["pc"] / 1e5,
                 cylinder_pressure_at_transfer_opening_bar=out["TO"]["p"] / 1e5,
                 cylinder_temperature_at_transfer_opening_k=out["TO"]["T"],
                 crankcase_pressure_at_transfer_opening_bar=out["TO"]["pc"] / 1e5,
                 crankcase_temperature_at_transfer_opening_k=out["TO"]["Tc"],
                 late_angle_deg=math.degrees(out["late"] - self.TO),
                 hot_backflow_mass_mg=hot * 1e6,
                 hot_backflow_burned_mg=sum(t["burned"] for t in out["turned"]) * 1e6,
                 hot_backflow_duration_deg=math.degrees(max(t["duration"] for t in out["turned"])),
                 hot_backflow_penetration=max(t["penetration"] for t in out["turned"]),
                 late_backflow_mass_mg=(rev - hot) * 1e6,
                 exhaust_return_mass_mg=-returned * 1e6, fresh_lost_mg=lost * 1e6,
                 imep_bar=imep / 1e5, crankcase_imep_bar=imep_c / 1e5, bmep_bar=bmep / 1e5,
                 power_kw=bmep * self.Vs * self.rpm / 60 / 1e3, peak_pressure_bar=out["peak"] / 1e5,
                 trapped_mass_mg=m * 1e6, burned_mass_mg=burnt * 1e6, heat_to_walls_j=Q,
                 fuel_mass_mg=(1 - self.alpha) * fresh_in * 1e6)
        if self.law is not None:
            mixed, apart = out["mixed"], out["unmixed"]
            r |= dict(cylinder_temperature_at_exhaust_closing_k=mixed["T"],
                      cylinder_pressure_at_exhaust_closing_bar=mixed["p"] / 1e5,
                      cylinder_pressure_before_mixing_bar=apart["p"] / 1e5,
                      pressure_rise_by_mixing_percent=100 * (mixed["p"] / apart["p"] - 1),
                      new_zone_mass_share_before_mixing=apart["new"],
                      new_zone_volume_share_before_mixing=apart["chi"],
                      leftover_fresh_mg=(O - B) * 1e6,
                      leftover_over_burned_at_exhaust_closing=(O - B) / B,
                      leftover_over_burned_at_exhaust_opening=(y0[0] - y0[2]) / y0[2])
        stored = (y1[1] + y1[5]) - (y0[1] + y0[5])
        energy = hflow - Q - Qc - work - work_c - stored
        print(f"# {self.rpm}: {cycles} cycles, energy balance {energy:.2e} J", file=sys.stderr)
        return r


class Anderson:
    """Anderson's acceleration of the settled cycle's search, on the state scaled by its own size."""

    def __init__(self, y, memory=6):
        self.memory, self.xs, self.fs = memory, [], []
        self.scale = np.abs(y) + 1e-7
        self.scale[1], self.scale[5] = 1e6 * y[0], 1e6 * y[4]
        self.scale[10::4] = 1e-4

    def next(self, y, image):
        x, f = y / self.scale, (image - y) / self.scale
        self.xs, self.fs = [*self.xs, x][-self.memory :], [*self.fs, f][-self.memory :]
        if len(self.xs) < 2:
            return image
        dx, df = np.diff(self.xs, axis=0).T, np.diff(self.fs, axis=0).T
        weights = np.linalg.lstsq(df, f, rcond=1e-10)[0]
        new = (x + f - (dx + df) @ weights) * self.scale
        new[8:] = np.maximum(new[8:], 0.0)
        return new


def main():
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("engine")
    arguments.add_argument("rpm", nargs="+", type=float)
    arguments.add_argument("--bare", action="store_true", help="transfer ducts without the inertia of their columns")
    arguments.add_argument("--zones", type=int, choices=(1, 2), default=1)
    arguments.add_argument("--law", default="default", help="default, mixing, displacement, or a two-part law's displaced part")
    arguments.add_argument("--short", type=float, default=0.0, help="share of the short circuit")
    arguments.add_argument("--entrain", type=float, default=0.0, help="entrainment between the zones, C_m")
    given = arguments.parse_args()
    law = zones.named(given.law, given.short) if given.zones == 2 else None
    name = given.engine.rsplit("/", 1)[-1].removesuffix(".toml") + (" bare" if given.bare else "")
    if law:
        label = given.law if given.law in zones.LAWS else f"two-part {given.law}"
        name += f",{label},{given.short:g},{given.entrain:g}"
    for rpm in given.rpm:
        for key, value in Engine(given.engine, rpm, given.bare, law, given.entrain).results().items():
            print(f"{name},{rpm:.0f},{key},{value:.10g}", flush=True)


if __name__ == "__main__":
    main()
