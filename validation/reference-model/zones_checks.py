"""The two zones against what is known of them: a vessel at constant pressure and volume, and an engine.

Usage: python zones_checks.py                         the vessel against closed forms
       python zones_checks.py --table > TABLE.csv     its course for every law
       python zones_checks.py ENGINE.toml RPM         short circuit, leftovers and curves in a settled engine

S is the delivered volume over the vessel's, r the density of the residual over that of the fresh gas; masses are
in units of the fresh gas that fills the vessel.
"""

import math
import sys

import numpy as np
from scipy.integrate import solve_ivp

import zones

PRESSURE, VOLUME, FRESH_T, R, CP = 1e5, 1e-4, 300.0, 287.0, 1005.0
UNIT = PRESSURE * VOLUME / (R * FRESH_T)
FIT = (-0.9, -0.25)
TABLE = [(0.25, 0.23), (0.5, 0.43), (0.75, 0.6), (1.0, 0.72), (1.5, 0.86), (2.0, 0.93), (3.0, 0.98)]
LAWS = {
    "mixing": zones.mixing,
    "displacement": zones.displacement,
    "two-part 0.4": zones.two_part(0.4),
    "default": zones.default,
    "fit -0.9 -0.25": zones.fitted(*FIT),
    "table": zones.table(TABLE),
}


class PlainGas:
    """One perfect gas, burned or not."""

    @staticmethod
    def at(b, T):
        return CP, CP * T, R


def vessel(law, sigma, r, times, mixing=0.0):
    """Fresh mass, total mass and new volume share at the times S, from a vessel full of residual."""
    law, gas, tau = zones.Law(law, sigma), PlainGas(), [1.0]
    coming = [(UNIT, zones.Gas(0.0, 0.0, FRESH_T, CP, CP * FRESH_T, R))]
    old = FRESH_T / r

    def look(y):
        z = zones.TwoZones(gas, y[:4], y[4:], VOLUME, 1e-6 * UNIT, tau[0])
        tau[0] = z.tau
        return z

    def rates(S, y):
        before = tau[0]
        try:
            return balances(y)
        except (ArithmeticError, ValueError):
            # the integrator refuses a trial step that is no number
            tau[0] = before
            return np.full(9, np.nan)

    def balances(y):
        z = look(y)
        rho_r, _ = z.residual(law(z.chi)[0])
        short = law(z.chi)[1]
        rho_x = rho_r + short * (UNIT / VOLUME - rho_r)
        z.delivered(coming, mixing)
        # as much volume leaves as comes in
        out = z.through_exhaust(law, coming, lambda kappa: VOLUME * math.sqrt(rho_x))
        dy = np.zeros(9)
        for flow, g in [*coming, *((-m, g) for m, g in out)]:
            dy[:4] += flow, flow * g.h, flow * g.b, flow * g.o
        dy[4:] = z.dz
        return dy

    m = r * UNIT
    y = np.array([m, m * (CP - R) * old, m, m, 0, 0, 0, 0, m * old])
    size = np.array([UNIT, UNIT * CP * FRESH_T, UNIT, UNIT, UNIT, UNIT, UNIT, UNIT * FRESH_T, UNIT * FRESH_T])
    sol = solve_ivp(rates, (0, times[-1]), y, method="DOP853", rtol=1e-10, atol=1e-11 * size, t_eval=times)
    assert sol.success, sol.message
    rows = []
    for y in sol.y.T:
        z = look(y)
        assert abs(z.p / PRESSURE - 1) < 1e-6, z.p
        rows.append(((y[0] - y[2]) / UNIT, y[0] / UNIT, z.chi))
    return rows


def curve(name, S):
    """η(S) as the law's own definition gives it."""
    if name == "mixing":
        return 1 - math.exp(-S)
    if name == "displacement":
        return min(S, 1.0)
    if name.startswith("two-part"):
        return S if S <= 0.4 else 1 - 0.6 * math.exp(0.4 - S)
    if name == "default":
        return 1 - math.exp(-S - 0.3863 * S * S)
    if name.startswith("fit"):
        return 1 - math.exp(FIT[0] * S + FIT[1] * S * S)
    return float(LAWS["table"].curve(S))


def check(what, found, expected, near):
    print(f"{what}: {found:.7f} against {expected:.7f}, {found - expected:+.1e}", flush=True)
    assert abs(found - expected) < near, what


def closed_forms():
    times = np.array([0.25, 0.5, 0.8, 1.0, 1.5, 2.0])
    for r in (1.0, 0.28):
        for name, law in LAWS.items():
            rows = vessel(law, 0.0, r, times)
            letter = "f" if r < 1 else "a"
            for S, (fresh, _, chi) in zip(times, rows):
                eta = curve(name, S)
                check(f"({letter}) {name}, r = {r}, S = {S}: new volume share", chi, eta, 1e-4)
                check(f"({letter}) {name}, r = {r}, S = {S}: fresh mass", fresh, eta, 1e-4)
            rows = vessel(law, 0.2, r, times)
            for S, (fresh, _, chi) in zip(times, rows):
                # where displacement ends, the smoothstep's width shows
                knee = name.startswith("two-part") and abs(0.8 * S - 0.4) < 0.02
                what = f"(d) {name}, sigma = 0.2, r = {r}, S = {S}: new volume share"
                check(what, chi, curve(name, 0.8 * S), 2e-3 if knee else 1e-4)
    for S in (0.8, 1.0):
        print(f"(b) one zone, displacement, r = 0.28, S = {S}: 1 - 0.72 exp(-S) = {1 - 0.72 * math.exp(-S):.3f}")
    for r in (1.0, 0.5, 0.28, 0.15):
        for S, (fresh, total, _) in zip(times, vessel(zones.displacement, 0.0, r, times)):
            check(f"(b) displacement, r = {r}, S = {S}: fresh mass", fresh, min(S, 1.0), 1e-4)
        for sigma in (0.0, 0.2, 0.4):
            for S, (fresh, total, _) in zip(times, vessel(zones.mixing, sigma, r, times)):
                kept = math.exp(-(1 - sigma) * S)
                letter = "d" if sigma else "c"
                check(f"({letter}) mixing, sigma = {sigma}, r = {r}, S = {S}: fresh mass", fresh, 1 - kept, 2e-6)
                check(f"({letter}) mixing, sigma = {sigma}, r = {r}, S = {S}: total mass", total, 1 - (1 - r) * kept, 2e-6)
        for S, (fresh, total, _) in zip(times, vessel(zones.displacement, 0.0, r, times, mixing=1000.0)):
            check(f"C_m = 1000, displacement, r = {r}, S = {S}: fresh mass of perfect mixing", fresh, 1 - math.exp(-S), 1e-3)


def write_table():
    import scipy

    print("# A vessel at constant p and V filled with residual of density r and scavenged in two zones: course of every law; the second model's zones (validation/reference-model/zones_checks.py --table)")
    print(f"# scipy {scipy.__version__} (DOP853, rtol 1e-10), numpy {np.__version__}, Python {sys.version.split()[0]}; one perfect gas, cp 1005, R 287; fresh gas enters at constant volume rate, as much volume leaves")
    print("# S: delivered volume over V; sigma: share of the short circuit; c_m: entrainment; masses over rho_n V; fit: 1 - exp(-0.9 S - 0.25 S^2); two-part 0.4: displacement to 0.4, then mixing, passed over 0.02 to either side")
    points = " ".join(f"{S}:{e}" for S, e in TABLE)
    print(f"# table: monotone cubic (Fritsch and Carlson, as SciPy's PchipInterpolator) through 0:0 {points}; from memory: no")
    print("law,sigma,c_m,r,S,fresh_mass,total_mass,new_volume_share")
    times = np.array([0.25, 0.5, 0.8, 1.0, 1.5, 2.0])
    for name, law in LAWS.items():
        for sigma, mixing in ((0.0, 0.0), (0.2, 0.0), (0.0, 1.0)):
            for r in (1.0, 0.28):
                for S, row in zip(times, vessel(law, sigma, r, times, mixing)):
                    print(f"{name},{sigma:g},{mixing:g},{r:g},{S:g}," + ",".join(f"{v:.9f}" for v in row), flush=True)


def engine(path, rpm):
    from reference_model import Engine

    seen = {}
    for name in ("displacement", "0.4", "default", "mixing"):
        for sigma in (0.0, 0.2, 0.4) if name != "displacement" else (0.0,):
            r = seen[name, sigma] = Engine(path, rpm, True, zones.named(name, sigma)).results()
            print(f"{name}, sigma = {sigma}: trapped {r['trapped_mass_mg']:.3f} mg, delivery {r['delivery_ratio']:.5f}, "
                  f"trapping {r['trapping_efficiency']:.5f}, charging {r['charging_efficiency']:.5f}, "
                  f"closing at {r['cylinder_temperature_at_exhaust_closing_k']:.2f} K, "
                  f"{r['cylinder_pressure_before_mixing_bar']:.4f} to {r['cylinder_pressure_at_exhaust_closing_bar']:.4f} bar by mixing, "
                  f"leftover over burned {r['leftover_over_burned_at_exhaust_opening']:.7f} at opening, "
                  f"{r['leftover_over_burned_at_exhaust_closing']:.7f} at closing, "
                  f"returned {r['exhaust_return_mass_mg']:.4f} mg", flush=True)
            if r["exhaust_return_mass_mg"] == 0:
                opening, closing = (r[f"leftover_over_burned_at_exhaust_{k}"] for k in ("opening", "closing"))
                check(f"(e) {name}, sigma = {sigma}: leftover over burned", closing, opening, 1e-5)
    for name in ("0.4", "default", "mixing"):
        rows = [seen[name, s] for s in (0.0, 0.2, 0.4)]
        for key in ("trapped_mass_mg", "charging_efficiency"):
            assert rows[0][key] > rows[1][key] > rows[2][key], (name, key)
        temperatures = [f"{r['cylinder_temperature_at_exhaust_closing_k']:.2f}" for r in rows]
        print(f"(d) {name}: trapped mass and charging fall with sigma; temperature at closing {temperatures}")
    for key in ("trapping_efficiency", "charging_efficiency"):
        values = [seen[name, 0.0][key] for name in ("displacement", "0.4", "default", "mixing")]
        print(f"(f) {key}: displacement, two-part 0.4, default, mixing: {[round(float(v), 5) for v in values]}")


def main():
    if sys.argv[1:] == ["--table"]:
        write_table()
    elif len(sys.argv) == 3:
        engine(sys.argv[1], float(sys.argv[2]))
    else:
        closed_forms()


if __name__ == "__main__":
    main()
