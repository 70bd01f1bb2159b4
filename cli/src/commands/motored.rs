//! `freshcharge run --motored`: what a compression gauge reads.

use std::fmt::Write as _;
use std::path::Path;

use freshcharge_sim::cycle::{Settings, WithoutPipes, simulate};
use freshcharge_sim::result::Point;
use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::spec::{EngineSpec, Gauge};
use freshcharge_sim::sweep::figure;
use freshcharge_sim::units::{BAR, CM3, ICE_POINT, MM2};
use serde_json::json;

use crate::Outcome;
use crate::args::RunArgs;
use crate::export;
use crate::export::layout::wrapped;
use crate::files::{self, Failure};
use crate::session::engine::speeds_or;

/// Exponents between which p₀·CR^n is expected (common practice, no source).
const BAND: [f64; 2] = [1.2, 1.3];
/// Largest plausible volume of a gauge and its hose [cm³].
const LARGEST_GAUGE: f64 = 100.0;
/// Largest leak area asked for [mm²].
const LARGEST_LEAK: f64 = 20.0;
/// Temperatures of an engine that is turned over [°C].
const TEMPERATURES: [f64; 2] = [-40.0, 300.0];

/// Steps allowed in a cycle: turning slowly, an engine takes more of them.
const MOST_STEPS: u32 = 200_000;

/// What the gauge reads at one speed.
struct Reading {
    point: Point,
    /// Over ambient pressure [Pa].
    reading: f64,
    /// n of p·CRⁿ, p being the pressure at exhaust closing.
    exponent: f64,
}

/// Runs the command.
pub(super) fn run(args: &RunArgs, scenario: &Scenario, hash: &str) -> Result<Outcome, Failure> {
    let faults = scenario.faults_for_running();
    if !faults.is_empty() {
        let text = &scenario.document.text;
        return Err(Failure::Faults(crate::faults::report(&args.file, text, &faults)));
    }
    let gauge = gauge(args, scenario)?;
    let speeds = speeds_or(args.rpm.as_deref(), &[])?;
    let spec = scenario.spec.motored(&gauge);
    let ratio = figure("trapped_ratio").and_then(|f| (f.value)(&spec)).unwrap_or(f64::NAN);
    let readings: Result<Vec<Reading>, Failure> =
        speeds.iter().map(|rpm| read(&args.file, &spec, ratio, *rpm)).collect();
    let readings = readings?;
    let settled = readings.iter().all(|r| r.point.verdict.settled());
    let text = if args.json {
        as_json(scenario, hash, &gauge, ratio, &readings)
    } else {
        words(scenario, &gauge, ratio, &readings)
    };
    files::print(&text)?;
    Ok(if settled { Outcome::Done } else { Outcome::Incomplete })
}

/// What a gauge without volume of its own reads on an engine at ambient temperature with its throttle open: over ambient
/// [bar], beside the band that is usual; none where the cycle does not settle.
pub(super) fn predicted(file: &Path, scenario: &Scenario, rpm: f64) -> Option<(f64, [f64; 2])> {
    let (leak, temperature) = (scenario.spec.leaks.blow_by, scenario.spec.ambient.temperature);
    let spec = scenario.spec.motored(&Gauge { volume: 0.0, leak, temperature });
    let ratio = figure("trapped_ratio").and_then(|f| (f.value)(&spec))?;
    let reading = read(file, &spec, ratio, rpm).ok().filter(|r| r.point.verdict.settled())?;
    Some((reading.reading / BAR, band(scenario, ratio).map(|p| p / BAR)))
}

/// A flag's number between bounds.
fn between(
    flag: &'static str,
    value: f64,
    [low, high]: [f64; 2],
    unit: &str,
) -> Result<f64, Failure> {
    if (low..=high).contains(&value) {
        return Ok(value);
    }
    let remedy = format!("write a number between {low} and {high} {unit}");
    Err(Failure::Argument { flag, value: format!("{value}"), remedy })
}

fn gauge(args: &RunArgs, scenario: &Scenario) -> Result<Gauge, Failure> {
    let spec = &scenario.spec;
    let bounds = [0.0, LARGEST_GAUGE];
    let volume = between("--gauge-volume-cm3", args.gauge_volume_cm3, bounds, "cm³")? * CM3;
    let leak = |mm2| between("--leak-mm2", mm2, [0.0, LARGEST_LEAK], "mm²");
    let warm = |c| between("--engine-temperature-c", c, TEMPERATURES, "°C");
    Ok(Gauge {
        volume,
        leak: args.leak_mm2.map(leak).transpose()?.map_or(spec.leaks.blow_by, |a| a * MM2),
        temperature: args
            .engine_temperature_c
            .map(warm)
            .transpose()?
            .map_or(spec.ambient.temperature, |c| c + ICE_POINT),
    })
}

fn read(file: &Path, spec: &EngineSpec, ratio: f64, rpm: f64) -> Result<Reading, Failure> {
    let without_pipes = WithoutPipes { steps: MOST_STEPS, ..WithoutPipes::single() };
    let settings = Settings { without_pipes, ..Settings::single() };
    let point = simulate(spec, rpm, &settings)
        .map_err(|e| Failure::Engine { file: file.display().to_string(), why: e.to_string() })?;
    let peak = point.summary.peak_pressure;
    let exponent = (peak / point.summary.cylinder_pressure_ec).ln() / ratio.ln();
    Ok(Reading { reading: peak - spec.ambient.pressure, exponent, point })
}

/// Readings that the band's exponents give, over ambient pressure [Pa].
fn band(scenario: &Scenario, ratio: f64) -> [f64; 2] {
    let ambient = scenario.spec.ambient.pressure;
    BAND.map(|n| ambient * (ratio.powf(n) - 1.0))
}

fn words(scenario: &Scenario, gauge: &Gauge, ratio: f64, readings: &[Reading]) -> String {
    let mut text = format!("{}, turned over without burning\n\n", scenario.spec.name);
    let _ = writeln!(
        text,
        "speed   gauge reads   highest pressure   at            closed from   exponent"
    );
    for r in readings {
        let s = &r.point.summary;
        let _ = writeln!(
            text,
            "{:5.0}   {:7.2} bar   {:7.2} bar abs.   {:+5.1}° after top   {:.3} bar      {:.3}",
            r.point.rpm,
            r.reading / BAR,
            s.peak_pressure / BAR,
            s.peak_pressure_angle.to_degrees(),
            s.cylinder_pressure_ec / BAR,
            r.exponent
        );
    }
    let [low, high] = band(scenario, ratio);
    let note = format!(
        "Trapped compression {ratio:.2} with {:.2} cm³ of gauge up to its check valve; leak area past the rings {:.3} mm²; whole engine at {:.0} °C; throttle open. From the pressure at which the exhaust closes the cylinder compresses like CR to the exponent in the last column. p0·CR^{:.1} to CR^{:.1} less leakage is usual: {:.1} to {:.1} bar on the gauge (common practice, no source). The gauge holds the highest pressure it has seen; turn the engine until it rises no more. Gauges differ by 0.2 to 0.5 bar: compare readings of one gauge on one engine.",
        gauge.volume / CM3,
        gauge.leak / MM2,
        gauge.temperature - ICE_POINT,
        BAND[0],
        BAND[1],
        low / BAR,
        high / BAR
    );
    let _ = writeln!(text, "\n{}", wrapped(&note));
    let caution = "Before turning the engine: earth the plug lead, keep flames away from the plug hole, and hands and sleeves away from what turns.";
    let _ = writeln!(text, "{}", wrapped(caution));
    for r in readings.iter().filter(|r| !r.point.verdict.settled()) {
        let _ = writeln!(
            text,
            "At {:.0}/min the cycle did not settle; do not use that row.",
            r.point.rpm
        );
    }
    if let Some(r) = readings.first() {
        let words = format!(
            "At {:.0}/min expect the gauge to read {:.2} bar with {:.3} mm² of leak past the rings; {:.1} to {:.1} bar are usual for a trapped ratio of {ratio:.2} (common practice, no source).",
            r.point.rpm,
            r.reading / BAR,
            gauge.leak / MM2,
            low / BAR,
            high / BAR
        );
        let _ = writeln!(text, "\n{}", wrapped(&words));
    }
    text
}

fn as_json(
    scenario: &Scenario,
    hash: &str,
    gauge: &Gauge,
    ratio: f64,
    readings: &[Reading],
) -> String {
    let [low, high] = band(scenario, ratio);
    let rows: Vec<_> = readings
        .iter()
        .map(|r| {
            json!({
                "rpm": r.point.rpm,
                "gauge_reading_bar": r.reading / BAR,
                "peak_pressure_bar": r.point.summary.peak_pressure / BAR,
                "peak_pressure_angle_deg": r.point.summary.peak_pressure_angle.to_degrees(),
                "cylinder_pressure_at_exhaust_closing_bar": r.point.summary.cylinder_pressure_ec / BAR,
                "polytropic_exponent": r.exponent,
                "settled": r.point.verdict.settled(),
                "residual": r.point.verdict.residual(),
            })
        })
        .collect();
    let value = json!({
        "engine": scenario.spec.name,
        "motored": {
            "trapped_ratio": ratio,
            "gauge_volume_cm3": gauge.volume / CM3,
            "leak_mm2": gauge.leak / MM2,
            "engine_temperature_c": gauge.temperature - ICE_POINT,
            "usual_reading_low_bar": low / BAR,
            "usual_reading_high_bar": high / BAR,
        },
        "points": rows,
    });
    export::json::headed(hash, scenario.spec.model, value)
}
