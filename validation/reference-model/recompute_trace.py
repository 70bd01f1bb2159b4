"""Air, fuel, burned mass and energy of a settled cycle from its exported trace, by own quadrature.

Usage: python recompute_trace.py ENGINE.toml TRACE.csv RESULT.json RPM
"""

import csv
import json
import sys

import numpy as np

from reference_model import Engine, cp_h


def main():
    engine_file, trace_file, result_file, rpm = sys.argv[1:]
    rpm = float(rpm)
    rows = list(csv.DictReader(open(trace_file)))
    t = {k: np.array([float(r[k]) for r in rows]) for k in rows[0]}
    point = next(p for p in json.load(open(result_file))["points"] if p["rpm"] == rpm)
    engine = Engine(engine_file, rpm)
    gas = engine.gas
    time = t["time_ms"] / 1e3

    def integral(y, x=time):
        # Simpson on the irregular grid, via a cubic through neighbouring points
        from scipy.interpolate import CubicSpline

        keep = np.concatenate([[True], np.diff(x) > 1e-12])
        return float(np.trapezoid(y[keep], x[keep])) if len(y) < 5 else float(CubicSpline(x[keep], y[keep]).integrate(x[0], x[-1]))

    g = 1e-3
    intake, intake_burned = t["intake_mass_flow_g_per_s"] * g, t["intake_burned_mass_flow_g_per_s"] * g
    exhaust, exhaust_burned = t["exhaust_mass_flow_g_per_s"] * g, t["exhaust_burned_mass_flow_g_per_s"] * g
    fresh = integral(intake - intake_burned)
    air = engine.alpha * fresh
    fuel = (1 - engine.alpha) * fresh
    burned = integral(t["burn_rate_g_per_s"] * g)
    checks = {
        "air over reference mass / delivery_ratio": (air / engine.m_ref, point["delivery_ratio"]),
        "fuel_mass_mg": (fuel * 1e6, point["fuel_mass_mg"]),
        "burned_mass_mg": (burned * 1e6, point["burned_mass_mg"]),
        "mass out / mass in": (integral(exhaust), integral(intake)),
    }

    def h(mix, T):
        return np.array([cp_h(mix.low if x < 1000 else mix.high, x)[1] for x in T])

    T = t["cylinder_temperature_k"]
    zero_f, zero_b = cp_h(gas.f.low, 298.15)[1], cp_h(gas.b.low, 298.15)[1]
    # sensible enthalpies: above 298.15 K, each gas from its own level
    # what returns through the exhaust is burned gas at the file's temperature
    back = exhaust < 0
    leaving = (exhaust - exhaust_burned) * (h(gas.f, T) - zero_f) + exhaust_burned * (h(gas.b, T) - zero_b)
    sensible_out = integral(np.where(back, exhaust * (engine.back.h - zero_b), leaving))
    inflow = np.where(intake > 0, engine.fresh.h - zero_f, 0.0)
    # what blows back out of the inlet is the crankcase's gas outside the returned slugs
    Tr = t["crankcase_rest_temperature_k"]
    out, out_burned = np.where(intake < 0, intake, 0.0), np.where(intake < 0, intake_burned, 0.0)
    sensible_in = integral(np.where(intake > 0, intake, 0.0) * inflow)
    sensible_in += integral((out - out_burned) * (h(gas.f, Tr) - zero_f) + out_burned * (h(gas.b, Tr) - zero_b))

    def indicated(pressure, volume):
        # p dV by the rule that is exact for the trapezium between two rows
        return float(np.trapezoid(t[pressure] * 1e5, t[volume] * 1e-6))

    work = indicated("cylinder_pressure_bar", "cylinder_volume_cm3") + indicated("crankcase_pressure_bar", "crankcase_volume_cm3")
    heat = integral(t["wall_heat_w"]) + integral(t["crankcase_heat_w"])
    per_mass = zero_f - zero_b
    fuel_heat = fresh * per_mass
    unburned = integral(exhaust - exhaust_burned) * per_mass
    checks["fuel heat = work + heat + sensible + unburned [J]"] = (work + heat + sensible_out - sensible_in + unburned, fuel_heat)
    for name, (ours, theirs) in checks.items():
        print(f"{rpm:6.0f} {name}: {ours:.6g} against {theirs:.6g}, {abs(ours / theirs - 1):.1e}")


if __name__ == "__main__":
    main()
