//! The passes over the cells of a pipe. What is worked out at a place is written once for one cell and
//! for several at once. Every pass cuts its arrays to one length first, so that no index is checked
//! inside; all but one: that check keeps the compiler from working on several packs at once, which
//! costs more than it gains.

use super::flux::{Flux, Side, hllc, waves};
use super::gas::{PipeGas, Properties, WIDTH};
use super::limiter::{admissible, limited};
use super::state::{Arrays, LEAD};
use crate::gas::Gas;
use crate::lane::{Lane, LaneJob, Mask};

/// Means, wall forces and signal rate of all cells from what they hold.
pub(super) struct ReadOff<'a> {
    pub(super) arrays: &'a mut Arrays,
    pub(super) gas: &'a PipeGas,
}

/// What a pass over the means found.
pub(super) struct Found {
    /// Largest (|u| + c)/Δx [1/s].
    pub(super) rate: f64,
    /// Whether every cell holds a gas.
    pub(super) good: bool,
}

/// Largest rate [1/s] of a gas that is one.
const ABSURD: f64 = 1e15;

impl LaneJob for ReadOff<'_> {
    type Output = Found;

    #[inline(always)]
    fn run<L: Lane>(self) -> Found {
        // in three short passes: one long chain of dependent operations would leave the processor waiting
        divide_all::<L>(self.arrays);
        match self.gas {
            PipeGas::Perfect(gas) => temperatures::<L>(self.arrays, gas),
            PipeGas::Mixtures(gas) => temperatures::<L>(self.arrays, &Gas::splat(gas)),
        }
        walls_and_rates::<L>(self.arrays)
    }
}

/// Velocity, burned fraction and internal energy.
#[inline(always)]
fn divide_all<L: Lane>(a: &mut Arrays) {
    let Arrays { now, means, mean_area, .. } = a;
    let n = now.mass.len();
    let held = [&now.mass[..n], &now.momentum[..n], &now.energy[..n], &now.burned[..n]];
    let (density, velocity) = (&mut means.density[..n], &mut means.velocity[..n]);
    let (volume, inner) = (&mut means.volume[..n], &mut means.inner[..n]);
    let (flow, burned) = (&mut means.flow[..n], &mut means.burned[..n]);
    let mut at = LEAD;
    while at + WIDTH + L::WIDTH <= n {
        let [mass, momentum, energy, mixed] = load(held, at);
        let over = L::one() / mass;
        let u = momentum * over;
        mass.store(density, at);
        over.store(volume, at);
        u.store(velocity, at);
        (u * L::load(mean_area, at)).store(flow, at);
        (mixed * over).store(burned, at);
        (energy * over - (u * u).scale(0.5)).store(inner, at);
        at += L::WIDTH;
    }
}

/// Temperatures from the internal energies.
#[inline(always)]
fn temperatures<L: Lane>(a: &mut Arrays, gas: &impl Properties<L>) {
    let means = &mut a.means;
    let n = means.density.len();
    let (inner, burned) = (&means.inner[..n], &means.burned[..n]);
    let (temperature, constant) = (&mut means.temperature[..n], &mut means.gas_constant[..n]);
    let capacity = &mut means.heat_capacity;
    let mut at = LEAD;
    while at + WIDTH + L::WIDTH <= n {
        let state = gas.at_energy(L::load(inner, at), L::load(burned, at));
        state.temperature.store(temperature, at);
        state.gas_constant.store(constant, at);
        state.heat_capacity.store(capacity, at);
        at += L::WIDTH;
    }
}

/// Pressure, γ, speed of sound, forces and heat of the walls; signal rate.
#[inline(always)]
fn walls_and_rates<L: Lane>(a: &mut Arrays) -> Found {
    let Arrays { means, force, heat, walls, over_width, over_diameter, wetted, .. } = a;
    let n = means.density.len();
    let (density, velocity) = (&means.density[..n], &means.velocity[..n]);
    let (volume, temperature) = (&means.volume[..n], &means.temperature[..n]);
    let (constant, capacity) = (&means.gas_constant[..n], &means.heat_capacity[..n]);
    let (pressure, gamma) = (&mut means.pressure[..n], &mut means.gamma[..n]);
    let (sound, force, heat) = (&mut means.sound[..n], &mut force[..n], &mut heat[..n]);
    let (fixed, smooth) = (&walls.fixed[..n], &walls.smooth[..n]);
    let (carry, wall) = (&walls.heat[..n], &walls.temperature[..n]);
    let (imposed, wetted) = (&walls.imposed[..n], &wetted[..n]);
    let over_diameter = &over_diameter[..n];
    let (mut rate, mut good) = (L::zero(), L::one());
    let mut at = LEAD;
    while at + WIDTH + L::WIDTH <= n {
        let cell = Mean::of(
            load([density, volume, velocity, temperature], at),
            L::load(constant, at),
            L::load(capacity, at),
        );
        cell.pressure.store(pressure, at);
        cell.gamma.store(gamma, at);
        cell.sound.store(sound, at);
        let surface = Surface {
            fixed: L::load(fixed, at),
            smooth: L::load(smooth, at),
            heat: L::load(carry, at),
            temperature: L::load(wall, at),
            imposed: L::load(imposed, at),
            over_diameter: L::load(over_diameter, at),
            wetted: L::load(wetted, at),
        };
        let (drag, loss) = wall_effects(&cell, &surface);
        drag.store(force, at);
        loss.store(heat, at);
        let speed = cell.velocity.abs() + cell.sound;
        let here = speed * L::load(over_width, at);
        let positive = cell.density.gt(L::zero()).and(cell.pressure.gt(L::zero()));
        let sane = positive.and(here.lt(L::splat(ABSURD)));
        rate = rate.at_least(here);
        good = L::select(sane, good, L::zero());
        at += L::WIDTH;
    }
    let largest = (0..L::WIDTH).map(|i| rate.lane(i)).fold(0.0, f64::max);
    Found { rate: largest, good: (0..L::WIDTH).all(|i| good.lane(i) > 0.0) }
}

/// Means of a cell.
struct Mean<L: Lane> {
    density: L,
    over_density: L,
    velocity: L,
    pressure: L,
    gamma: L,
    sound: L,
    temperature: L,
    heat_capacity: L,
    /// μ [Pa s].
    viscosity: L,
}

/// Sutherland's law for air, μ = 1.458·10⁻⁶ T^{3/2}/(T + 110.4), *U.S. Standard Atmosphere, 1976*.
const SUTHERLAND: (f64, f64) = (1.458e-6, 110.4);

impl<L: Lane> Mean<L> {
    /// From ρ, 1/ρ, u, T, and R and c_p.
    #[inline(always)]
    fn of([density, over_density, velocity, t]: [L; 4], constant: L, heat_capacity: L) -> Self {
        let rt = constant * t;
        // γ = c_p/c_v and Sutherland's quotient over one denominator
        let isochoric = heat_capacity - constant;
        let warmer = t.plus(SUTHERLAND.1);
        let quotient = L::one() / (isochoric * warmer);
        let gamma = heat_capacity * warmer * quotient;
        Self {
            density,
            over_density,
            velocity,
            pressure: density * rt,
            gamma,
            sound: (gamma * rt).sqrt(),
            temperature: t,
            heat_capacity,
            viscosity: (t * t.sqrt()).scale(SUTHERLAND.0) * isochoric * quotient,
        }
    }
}

/// Wall of a cell.
struct Surface<L: Lane> {
    fixed: L,
    smooth: L,
    heat: L,
    temperature: L,
    imposed: L,
    over_diameter: L,
    wetted: L,
}

/// Force [N/m³] and heat [W/m³] of the wall on the gas.
///
/// f|u| = fixed·|u| + smooth·max(16ν/D, 0.0791 Re^{−1/4}|u|), Re = |u|D/ν (H. Blasius, 1913); so
/// Re^{−1/4}|u| = (|u|³ν/D)^{1/4}. Heat by Reynolds' analogy, q̇ = ½ρ f|u| c_p (T − T_w).
#[inline(always)]
fn wall_effects<L: Lane>(cell: &Mean<L>, wall: &Surface<L>) -> (L, L) {
    let speed = cell.velocity.abs();
    let still = cell.viscosity * cell.over_density * wall.over_diameter;
    let rough = (speed * speed * speed * still).sqrt().sqrt().scale(0.0791);
    let smooth = still.scale(16.0).at_least(rough);
    let fu = wall.fixed * speed + wall.smooth * smooth;
    let drag = (cell.density * fu * wall.wetted).scale(0.5);
    let excess = cell.temperature - wall.temperature;
    let carried = wall.heat * drag * cell.heat_capacity * excess;
    (-(drag * cell.velocity), -(carried + wall.imposed * wall.wetted))
}

/// Means before, in and after a cell: ρ, uA, p, b. Flow is reconstructed, not velocity: in a taper slow gas
/// has the one constant and the other steep, and what the limiter makes of that acts as a resistance.
struct Stencil<L: Lane> {
    low: [L; 4],
    here: [L; 4],
    high: [L; 4],
    /// Δxᵢ over the distances to the neighbours.
    before: L,
    after: L,
    /// One over the areas at its two ends.
    over_areas: [L; 2],
}

impl<L: Lane> Stencil<L> {
    /// ρ, u, p, b at the lower and at the upper end of the cell.
    #[inline(always)]
    fn sides(&self) -> ([L; 4], [L; 4]) {
        let (mut below, mut above) = (self.here, self.here);
        for k in 0..4 {
            below[k] = (self.here[k] - self.low[k]) * self.before;
            above[k] = (self.high[k] - self.here[k]) * self.after;
        }
        let mut half = limited(below, above);
        for k in 0..4 {
            half[k] = half[k].scale(0.5);
            below[k] = self.here[k] - half[k];
            above[k] = self.here[k] + half[k];
        }
        let good =
            admissible(below[0], below[2], below[3]).and(admissible(above[0], above[2], above[3]));
        for k in 0..4 {
            below[k] = L::select(good, below[k], self.here[k]);
            above[k] = L::select(good, above[k], self.here[k]);
        }
        below[1] = below[1] * self.over_areas[0];
        above[1] = above[1] * self.over_areas[1];
        (below, above)
    }
}

/// The states at the ends of one cell.
pub(super) fn reconstruct(
    a: &Arrays,
    gas: &impl Properties<f64>,
    at: usize,
) -> (Side<f64>, Side<f64>) {
    let m = &a.means;
    let of = |at: usize| [m.density[at], m.flow[at], m.pressure[at], m.burned[at]];
    let stencil = Stencil {
        low: of(at - 1),
        here: of(at),
        high: of(at + 1),
        before: a.before[at],
        after: a.after[at],
        over_areas: [a.over_area[at], a.over_area[at + 1]],
    };
    let (lower, upper) = stencil.sides();
    let both = |k: usize| [lower[k], upper[k]];
    let inside = gas.energies(both(0), both(2), both(3));
    let side = |[density, velocity, pressure, burned]: [f64; 4], (inner, volume): (f64, f64)| {
        let energy = inner + 0.5 * velocity * velocity;
        let (gamma, sound) = (m.gamma[at], m.sound[at]);
        Side { density, volume, velocity, pressure, burned, energy, gamma, sound }
    };
    (side(lower, inside[0]), side(upper, inside[1]))
}

/// Weights of a stage: new = start·(start of the step) + now·(now) + dt·(rates).
#[derive(Debug, Clone, Copy)]
pub(super) struct Stage {
    pub(super) start: f64,
    pub(super) now: f64,
    /// [s].
    pub(super) dt: f64,
}

impl Stage {
    /// The first stage of a step: start + dt·rates.
    pub(super) fn first(dt: f64) -> Self {
        Self { start: 1.0, now: 0.0, dt }
    }

    /// The second: the mean of the start and of an equal step from the first stage's end.
    pub(super) fn second(dt: f64) -> Self {
        Self { start: 0.5, now: 0.5, dt: 0.5 * dt }
    }
}

/// Fluxes and rates of all cells, and the stage itself.
pub(super) struct Advance<'a> {
    pub(super) arrays: &'a mut Arrays,
    pub(super) gas: &'a PipeGas,
    /// Through the two ends, times their areas, along the pipe.
    pub(super) ends: [[f64; 4]; 2],
    pub(super) stage: Stage,
}

impl LaneJob for Advance<'_> {
    type Output = ();

    #[inline(always)]
    fn run<L: Lane>(self) {
        let Self { arrays: a, gas, ends, stage } = self;
        reconstruct_all::<L>(a);
        match gas {
            PipeGas::Perfect(gas) => energies::<L>(a, gas),
            PipeGas::Mixtures(gas) => energies::<L>(a, &Gas::splat(gas)),
        }
        waves_all::<L>(a);
        flux_through_all::<L>(a);
        a.flux.set(LEAD, ends[0]);
        a.flux.set(LEAD + a.cells, ends[1]);
        update_all::<L>(a, stage);
    }
}

#[inline(always)]
fn reconstruct_all<L: Lane>(a: &mut Arrays) {
    let Arrays { means, lower, upper, before, after, over_area, .. } = a;
    let n = means.density.len();
    let quantities =
        [&means.density[..n], &means.flow[..n], &means.pressure[..n], &means.burned[..n]];
    let (before, over_area) = (&before[..n], &over_area[..n]);
    let [l0, l1, l2, l3, ..] = lower.cut(n);
    let [u0, u1, u2, u3, ..] = upper.cut(n);
    let mut at = LEAD;
    while at + WIDTH + L::WIDTH <= n {
        let stencil = Stencil {
            low: load(quantities, at - 1),
            here: load(quantities, at),
            high: load(quantities, at + 1),
            before: L::load(before, at),
            after: L::load(after, at),
            over_areas: [L::load(over_area, at), L::load(over_area, at + 1)],
        };
        let (low, high) = stencil.sides();
        low[0].store(l0, at);
        low[1].store(l1, at);
        low[2].store(l2, at);
        low[3].store(l3, at);
        high[0].store(u0, at);
        high[1].store(u1, at);
        high[2].store(u2, at);
        high[3].store(u3, at);
        at += L::WIDTH;
    }
}

/// Total energies and specific volumes of the sides, from their temperatures.
#[inline(always)]
fn energies<L: Lane>(a: &mut Arrays, gas: &impl Properties<L>) {
    let n = a.lower.density.len();
    let [l0, l1, l2, l3, l4, l5] = a.lower.cut(n);
    let [u0, u1, u2, u3, u4, u5] = a.upper.cut(n);
    let mut at = LEAD;
    while at + WIDTH + L::WIDTH <= n {
        let (l, u) = (L::load(l1, at), L::load(u1, at));
        let two = |a: &[f64], b: &[f64]| [L::load(a, at), L::load(b, at)];
        let [below, above] = gas.energies(two(l0, u0), two(l2, u2), two(l3, u3));
        (below.0 + (l * l).scale(0.5)).store(l4, at);
        below.1.store(l5, at);
        (above.0 + (u * u).scale(0.5)).store(u4, at);
        above.1.store(u5, at);
        at += L::WIDTH;
    }
}

#[inline(always)]
fn load<L: Lane>(from: [&[f64]; 4], at: usize) -> [L; 4] {
    let [a, b, c, d] = from;
    [L::load(a, at), L::load(b, at), L::load(c, at), L::load(d, at)]
}

/// Side of the faces at `at`, γ and speed of sound from the cells they belong to.
#[inline(always)]
fn side<L: Lane>(s: &[&[f64]; 6], gamma: &[f64], sound: &[f64], at: usize) -> Side<L> {
    Side {
        density: L::load(s[0], at),
        velocity: L::load(s[1], at),
        pressure: L::load(s[2], at),
        burned: L::load(s[3], at),
        energy: L::load(s[4], at),
        volume: L::load(s[5], at),
        gamma: L::load(gamma, at),
        sound: L::load(sound, at),
    }
}

/// Wave speeds at the lower faces of all cells.
#[inline(always)]
fn waves_all<L: Lane>(a: &mut Arrays) {
    let Arrays { means, lower, upper, waves: speeds, .. } = a;
    let n = means.gamma.len();
    let (gamma, sound) = (&means.gamma[..n], &means.sound[..n]);
    let (upper, lower) = (upper.seen(n), lower.seen(n));
    let [left, middle, right] = speeds;
    let (left, middle) = (&mut left[..n], &mut middle[..n]);
    let mut at = LEAD;
    while at + WIDTH + L::WIDTH <= n {
        let sides = (side(&upper, gamma, sound, at - 1), side(&lower, gamma, sound, at));
        let [l, m, r] = waves::<L>(&sides.0, &sides.1);
        l.store(left, at);
        m.store(middle, at);
        r.store(right, at);
        at += L::WIDTH;
    }
}

/// Flux through the lower faces of all cells.
#[inline(always)]
fn flux_through_all<L: Lane>(a: &mut Arrays) {
    let Arrays { means, lower, upper, flux, area, waves, .. } = a;
    let n = means.gamma.len();
    let (gamma, sound) = (&means.gamma[..n], &means.sound[..n]);
    let (upper, lower) = (upper.seen(n), lower.seen(n));
    let [l, m, r] = waves;
    let (l, m, r) = (&l[..n], &m[..n], &r[..n]);
    let (mass, momentum) = (&mut flux.mass[..n], &mut flux.momentum[..n]);
    let (energy, burned) = (&mut flux.energy[..n], &mut flux.burned[..n]);
    let mut at = LEAD;
    while at + WIDTH + L::WIDTH <= n {
        let left = side(&upper, gamma, sound, at - 1);
        let right = side(&lower, gamma, sound, at);
        let speeds = [L::load(l, at), L::load(m, at), L::load(r, at)];
        let through: Flux<L> = hllc(&left, &right, speeds);
        let area = L::load(area, at);
        (through.mass * area).store(mass, at);
        (through.momentum * area).store(momentum, at);
        (through.energy * area).store(energy, at);
        (through.burned * area).store(burned, at);
        at += L::WIDTH;
    }
}

/// The stage of one quantity: `rate` per volume.
#[inline(always)]
fn next<L: Lane>(now: &mut [f64], start: &[f64], at: usize, stage: Stage, rate: L) {
    let (before, here) = (L::load(start, at), L::load(now, at));
    (before.scale(stage.start) + here.scale(stage.now) + rate.scale(stage.dt)).store(now, at);
}

/// What flows into the cells at `at` and does not leave them.
#[inline(always)]
fn left_in<L: Lane>(flux: &[f64], at: usize) -> L {
    L::load(flux, at) - L::load(flux, at + 1)
}

#[inline(always)]
fn update_all<L: Lane>(a: &mut Arrays, stage: Stage) {
    let n = a.area.len();
    let (over, area, pressure) = (&a.over_volume, &a.area[..n], &a.means.pressure[..n]);
    let (force, heat) = (&a.force[..n], &a.heat[..n]);
    let (now, start, flux) = (&mut a.now, &a.start, &a.flux);
    let (m, m0, fm) = (&mut now.mass[..n], &start.mass[..n], &flux.mass[..n]);
    let (q, q0, fq) = (&mut now.momentum[..n], &start.momentum[..n], &flux.momentum[..n]);
    let (e, e0, fe) = (&mut now.energy[..n], &start.energy[..n], &flux.energy[..n]);
    let (b, b0, fb) = (&mut now.burned[..n], &start.burned[..n], &flux.burned[..n]);
    let mut at = LEAD;
    while at + WIDTH + L::WIDTH <= n {
        let over = L::load(over, at);
        let widening = L::load(area, at + 1) - L::load(area, at);
        let push = L::load(pressure, at) * widening;
        next(m, m0, at, stage, left_in::<L>(fm, at) * over);
        next(q, q0, at, stage, (left_in::<L>(fq, at) + push) * over + L::load(force, at));
        next(e, e0, at, stage, left_in::<L>(fe, at) * over + L::load(heat, at));
        next(b, b0, at, stage, left_in::<L>(fb, at) * over);
        at += L::WIDTH;
    }
}
