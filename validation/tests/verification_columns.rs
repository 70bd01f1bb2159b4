//! Verification: gas columns against acoustics, a closed form and their own limits.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use std::sync::Arc;

use freshcharge_sim::column::Column;
use freshcharge_sim::cycle::{Settings, settle};
use freshcharge_sim::flow::Upstream;
use freshcharge_sim::model::{Engine, Model};
use freshcharge_sim::ode::{StepControl, Stepper, System};
use freshcharge_sim::result::Point;
use freshcharge_sim::scenario;
use freshcharge_validation::Tolerance;

const TOURING: &str = include_str!("../../scenarios/touring.toml");
const RT: f64 = 287.0 * 293.15;
const GAMMA: f64 = 1.4;
const AMBIENT: f64 = 1e5;

fn air(pressure: f64) -> Upstream<f64> {
    Upstream { pressure, specific_pressure_volume: RT, kappa: (GAMMA - 1.0) / GAMMA }
}

/// A volume behind a neck that ends in a reservoir: pressure [Pa] and flow out [kg/s].
struct Resonator {
    volume: f64,
    column: Column<f64>,
}

impl System<f64> for Resonator {
    fn rates(&mut self, _t: f64, y: &[f64], dy: &mut [f64], _dq: &mut [f64], _observed: bool) {
        // adiabatic volume: dp/dt = −γ RT ṁ / V
        dy[0] = -GAMMA * RT * y[1] / self.volume;
        let column = Column { from: air(y[0]), to: air(AMBIENT), ..self.column };
        dy[1] = column.acceleration(y[1]);
    }
}

/// Steps a system at 1e-10 and hands every step's end to `see`; stops after `end`.
fn integrate(
    system: &mut impl System<f64>,
    start: [f64; 2],
    scale: [f64; 2],
    end: f64,
    mut see: impl FnMut(f64, &[f64], &Stepper<f64>, f64),
) {
    let mut stepper = Stepper::<f64>::new(2, 2, 0);
    stepper.y[..2].copy_from_slice(&start);
    let (mut t, mut h, mut control) = (0.0, 1e-7, StepControl::default());
    while t < end {
        match control.judge(stepper.attempt(system, t, h, 1e-10, &scale)) {
            Ok(factor) => {
                t += h;
                see(t, &stepper.y_end, &stepper, h);
                stepper.accept(true);
                h *= factor;
            }
            Err(factor) => h *= factor,
        }
    }
}

/// Zero crossings of the flow from below, and the largest outward flows between them.
fn ring(system: &mut Resonator, amplitude: f64, end: f64) -> (Vec<f64>, Vec<f64>) {
    let (mut crossings, mut peaks) = (Vec::new(), Vec::new());
    let (mut last, mut peak) = (0.0, 0.0_f64);
    let scale = [amplitude, 1e-5];
    integrate(system, [AMBIENT + amplitude, 0.0], scale, end, |t, y, stepper, h| {
        peak = peak.max(y[1]);
        if last < 0.0 && y[1] >= 0.0 {
            // root of the dense output by bisection
            let (mut low, mut high) = (0.0, 1.0);
            for _ in 0..50 {
                let middle = 0.5 * (low + high);
                if stepper.dense(1, 0, h, middle) < 0.0 { low = middle } else { high = middle }
            }
            crossings.push(t - h + h * low);
            peaks.push(peak);
            peak = 0.0;
        }
        last = y[1];
    });
    (crossings, peaks)
}

fn resonator(area: f64, window: f64) -> Resonator {
    let column = Column {
        ease: area / 0.08,
        losses: (0.0, 0.0),
        area: window,
        from: air(AMBIENT),
        to: air(AMBIENT),
        fastest: 1e6,
    };
    Resonator { volume: 250e-6, column }
}

/// f = c/(2π)·√(A/(L V)); H. von Helmholtz (1860), in the form of Kinsler, Frey, Coppens and Sanders,
/// *Fundamentals of Acoustics*, 4th ed., sec. 10.8.
#[test]
fn a_volume_with_a_neck_rings_at_the_helmholtz_frequency() {
    let area = 4e-4;
    // a window ten times the neck: its loss is negligible at this amplitude
    let mut system = resonator(area, 10.0 * area);
    let (crossings, _) = ring(&mut system, 1.0, 0.12);
    let count = crossings.len() - 1;
    let frequency = count as f64 / (crossings[count] - crossings[0]);
    let sound = (GAMMA * RT).sqrt();
    let wanted = sound / std::f64::consts::TAU * (area / (0.08 * 250e-6)).sqrt();
    Tolerance::relative(5e-3, "demanded at small amplitude").check("frequency", frequency, wanted);
}

/// With a loss k·ṁ|ṁ| the amplitude falls as d(1/a)/dt = 4β/(3π), β = (A/L)·k/ρ (energy lost over a
/// period by quadratic damping; L. D. Landau and E. M. Lifshitz, *Mechanics*, § 25, averaged).
#[test]
fn it_decays_as_its_loss_says() {
    let area = 4e-4;
    let mut system = resonator(area, area);
    let (crossings, peaks) = ring(&mut system, 1000.0, 0.2);
    let (first, last) = (2, peaks.len() - 1);
    let rise = (1.0 / peaks[last] - 1.0 / peaks[first]) / (crossings[last] - crossings[first]);
    let density = AMBIENT / RT;
    let beta = area / 0.08 * 0.5 / (density * area * area);
    let wanted = 4.0 * beta / (3.0 * std::f64::consts::PI);
    Tolerance::relative(0.03, "averaging over a period, 1 % pressure amplitude").check(
        "rise of 1/a",
        rise,
        wanted,
    );
}

/// A column between two reservoirs: ṁ = ṁ∞·tanh(t/τ), τ = L ṁ∞/(A_d Δp), for a drop k ṁ².
struct Column2 {
    column: Column<f64>,
}

impl System<f64> for Column2 {
    fn rates(&mut self, _t: f64, y: &[f64], dy: &mut [f64], _dq: &mut [f64], _observed: bool) {
        dy[0] = 0.0;
        dy[1] = self.column.acceleration(y[1]);
    }
}

#[test]
fn a_column_between_reservoirs_accelerates_as_the_hyperbolic_tangent() {
    let (area, length, difference) = (4e-4, 0.08, 20.0);
    let column = Column {
        ease: area / length,
        losses: (0.0, 0.0),
        area,
        from: air(AMBIENT + difference),
        to: air(AMBIENT),
        fastest: 1e6,
    };
    let density = AMBIENT / RT;
    let last = area * (2.0 * density * difference).sqrt();
    let tau = length * last / (area * difference);
    let near =
        Tolerance::relative(1e-3, "demanded; compressibility of 2e-4").or_absolute(1e-4 * last);
    let mut compared = 0;
    integrate(&mut Column2 { column }, [1.0, 0.0], [1.0, last], 2.5 * tau, |t, y, _, _| {
        near.check("flow", y[1], last * (t / tau).tanh());
        compared += 1;
    });
    assert!(compared > 10);
}

fn model(text: &str, rpm: f64) -> Model {
    let spec = scenario::read(text).unwrap_or_else(|f| panic!("{f:#?}")).spec;
    Engine::new(&spec).unwrap().at_speed(rpm).unwrap()
}

fn settled(model: Model) -> Point {
    let point = settle(&Arc::new(model), &Settings::single()).unwrap();
    assert!(point.verdict.settled(), "{:?}", point.verdict);
    point
}

fn headline(p: &Point) -> [f64; 5] {
    let s = &p.summary;
    [
        s.delivery_ratio,
        s.trapping_efficiency.unwrap(),
        s.cylinder_pressure_to,
        s.crankcase_pressure_to,
        s.bmep,
    ]
}

#[test]
fn a_column_without_length_is_the_bare_window() {
    let near = Tolerance::relative(2e-3, "demanded");
    for rpm in [5000.0, 8000.0] {
        let spec = scenario::read(TOURING).unwrap().spec.with_bare_windows();
        let bare = settled(Engine::new(&spec).unwrap().at_speed(rpm).unwrap());
        let mut short = model(TOURING, rpm);
        for group in &mut short.case.numbers.groups {
            group.column_ease *= 1e4;
        }
        let short = settled(short);
        for (a, b) in headline(&short).into_iter().zip(headline(&bare)) {
            near.check("headline result", a, b);
        }
        let moved = short.summary.hot_backflow_mass - bare.summary.hot_backflow_mass;
        assert!((moved / bare.summary.delivered_fresh).abs() < 2e-3, "{moved:e}");
    }
}

#[test]
fn the_rate_of_the_relaxation_leaves_no_trace() {
    let near = Tolerance::relative(1e-3, "demanded");
    for rpm in [4000.0, 8000.0] {
        let usual = settled(model(TOURING, rpm));
        for factor in [1.0 / 3.0, 3.0] {
            let mut other = model(TOURING, rpm);
            other.case.numbers.figures.fastest *= factor;
            let other = settled(other);
            for (a, b) in headline(&other).into_iter().zip(headline(&usual)) {
                near.check("headline result", a, b);
            }
            let moved = other.summary.hot_backflow_mass - usual.summary.hot_backflow_mass;
            assert!((moved / usual.summary.delivered_fresh).abs() < 1e-3, "{moved:e}");
        }
    }
}

#[test]
fn columns_cost_at_most_six_tenths_more_work() {
    let (mut with, mut without) = (0, 0);
    for rpm in [3000.0, 4000.0, 5000.0, 6000.0, 7000.0, 8000.0, 9000.0] {
        let spec = scenario::read(TOURING).unwrap().spec;
        let on = Engine::new(&spec).unwrap().at_speed(rpm).unwrap();
        let off = Engine::new(&spec.with_bare_windows()).unwrap().at_speed(rpm).unwrap();
        with += settled(on).work.evaluations;
        without += settled(off).work.evaluations;
    }
    let ratio = with as f64 / without as f64;
    println!("work with columns over work without: {ratio:.2}");
    assert!(ratio <= 1.6, "{ratio}");
}

/// Speed of the largest delivery ratio, by a parabola through the best of a grid and its neighbours.
fn best_speed(text: &str) -> f64 {
    let speeds: Vec<f64> = (0..13).map(|i| 2500.0 + 500.0 * f64::from(i)).collect();
    let values: Vec<f64> =
        speeds.iter().map(|rpm| settled(model(text, *rpm)).summary.delivery_ratio).collect();
    let best = (1..values.len() - 1).max_by(|a, b| values[*a].total_cmp(&values[*b])).unwrap();
    let (a, b, c) = (values[best - 1], values[best], values[best + 1]);
    speeds[best] + 500.0 * 0.5 * (a - c) / (a - 2.0 * b + c)
}

#[test]
fn longer_columns_bring_the_best_delivery_to_lower_speed() {
    let mut last = f64::INFINITY;
    for length in [40.0, 75.0, 140.0] {
        // the duct's area stays, its length changes
        let duct = format!("duct_length_mm = {length}\nduct_area_mm2 = 450.0");
        let best = best_speed(&TOURING.replace("duct_length_mm = 75.0", &duct));
        println!("transfer duct {length} mm: best delivery at {best:.0}/min");
        assert!(best < last, "{length}: {best}");
        last = best;
    }
    let mut last = f64::INFINITY;
    for length in [60.0, 150.0, 300.0] {
        let tract = format!("{TOURING}\n[inlet_tract]\nlength_mm = {length}\ndiameter_mm = 23.0\n");
        let best = best_speed(&tract);
        println!("inlet tract {length} mm: best delivery at {best:.0}/min");
        assert!(best < last, "{length}: {best}");
        last = best;
    }
}
