//! The passes over the cells of a pipe. What is worked out at a place is written once for one cell and
//! for several at once. Every pass cuts its arrays to one length first, so that no index is checked
//! inside; all but one: that check keeps the compiler from working on several packs at once, which
//! costs more than it gains.

use super::flux::{Flux, Side, hllc, waves};
use super::gas::{Cells, Properties, WIDTH};
use super::limiter::{admissible, limited};
use super::state::{Arrays, LEAD, Sides};
use crate::lane::{Job, Lane, Mask};

/// Means, wall forces and signal rate of all cells from what they hold.
pub(super) struct ReadOff<'a, G> {
    pub(super) arrays: &'a mut Arrays,
    pub(super) gas: &'a G,
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

impl<G: Properties<Cells>> Job for ReadOff<'_, G> {
    type Output = Found;

    #[inline(always)]
    fn run(self) -> Found {
        // in three short passes: one long chain of dependent operations would leave the processor waiting
        divide_all(self.arrays);
        temperatures(self.arrays, self.gas);
        walls_and_rates(self.arrays)
    }
}

/// Velocity, burned fraction and internal energy.
#[inline(always)]
fn divide_all(a: &mut Arrays) {
    let Arrays { now, means, mean_area, .. } = a;
    let n = now.mass.len();
    let held = [&now.mass[..n], &now.momentum[..n], &now.energy[..n], &now.burned[..n]];
    let (density, velocity) = (&mut means.density[..n], &mut means.velocity[..n]);
    let (volume, inner) = (&mut means.volume[..n], &mut means.inner[..n]);
    let (flow, burned) = (&mut means.flow[..n], &mut means.burned[..n]);
    let mut at = LEAD;
    while at + 2 * WIDTH <= n {
        let [mass, momentum, energy, mixed] = load(held, at);
        let over = Cells::one() / mass;
        let u = momentum * over;
        mass.store(density, at);
        over.store(volume, at);
        u.store(velocity, at);
        (u * Cells::load(mean_area, at)).store(flow, at);
        (mixed * over).store(burned, at);
        (energy * over - (u * u).scale(0.5)).store(inner, at);
        at += WIDTH;
    }
}

/// Temperatures from the internal energies.
#[inline(always)]
fn temperatures(a: &mut Arrays, gas: &impl Properties<Cells>) {
    let means = &mut a.means;
    let n = means.density.len();
    let (inner, burned) = (&means.inner[..n], &means.burned[..n]);
    let (temperature, constant) = (&mut means.temperature[..n], &mut means.gas_constant[..n]);
    let capacity = &mut means.heat_capacity;
    let mut at = LEAD;
    while at + 2 * WIDTH <= n {
        let state = gas.at_energy(Cells::load(inner, at), Cells::load(burned, at));
        state.temperature.store(temperature, at);
        state.gas_constant.store(constant, at);
        state.heat_capacity.store(capacity, at);
        at += WIDTH;
    }
}

/// Pressure, γ, speed of sound, forces and heat of the walls; signal rate.
#[inline(always)]
fn walls_and_rates(a: &mut Arrays) -> Found {
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
    let (mut rate, mut good) = (Cells::zero(), Cells::one());
    let mut at = LEAD;
    while at + 2 * WIDTH <= n {
        let cell = Mean::of(
            load([density, volume, velocity, temperature], at),
            Cells::load(constant, at),
            Cells::load(capacity, at),
        );
        cell.pressure.store(pressure, at);
        cell.gamma.store(gamma, at);
        cell.sound.store(sound, at);
        let surface = Surface {
            fixed: Cells::load(fixed, at),
            smooth: Cells::load(smooth, at),
            heat: Cells::load(carry, at),
            temperature: Cells::load(wall, at),
            imposed: Cells::load(imposed, at),
            over_diameter: Cells::load(over_diameter, at),
            wetted: Cells::load(wetted, at),
        };
        let (drag, loss) = wall_effects(&cell, &surface);
        drag.store(force, at);
        loss.store(heat, at);
        let speed = cell.velocity.abs() + cell.sound;
        let here = speed * Cells::load(over_width, at);
        let positive = cell.density.gt(Cells::zero()).and(cell.pressure.gt(Cells::zero()));
        let sane = positive.and(here.lt(Cells::splat(ABSURD)));
        rate = rate.at_least(here);
        good = Cells::select(sane, good, Cells::zero());
        at += WIDTH;
    }
    let largest = rate.0.into_iter().fold(0.0, f64::max);
    Found { rate: largest, good: good.0.into_iter().all(|g| g > 0.0) }
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
    let side = |[density, velocity, pressure, burned]: [f64; 4]| {
        let (inner, volume) = gas.energy(density, pressure, burned);
        let energy = inner + 0.5 * velocity * velocity;
        let (gamma, sound) = (m.gamma[at], m.sound[at]);
        Side { density, volume, velocity, pressure, burned, energy, gamma, sound }
    };
    (side(lower), side(upper))
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
pub(super) struct Advance<'a, G> {
    pub(super) arrays: &'a mut Arrays,
    pub(super) gas: &'a G,
    /// Through the two ends, times their areas, along the pipe.
    pub(super) ends: [[f64; 4]; 2],
    pub(super) stage: Stage,
}

impl<G: Properties<Cells>> Job for Advance<'_, G> {
    type Output = ();

    #[inline(always)]
    fn run(self) {
        let Self { arrays: a, gas, ends, stage } = self;
        reconstruct_all(a);
        energies(&mut a.lower, gas);
        energies(&mut a.upper, gas);
        waves_all(a);
        flux_through_all(a);
        a.flux.set(LEAD, ends[0]);
        a.flux.set(LEAD + a.cells, ends[1]);
        update_all(a, stage);
    }
}

#[inline(always)]
fn reconstruct_all(a: &mut Arrays) {
    let Arrays { means, lower, upper, before, after, over_area, .. } = a;
    let n = means.density.len();
    let quantities =
        [&means.density[..n], &means.flow[..n], &means.pressure[..n], &means.burned[..n]];
    let (before, over_area) = (&before[..n], &over_area[..n]);
    let [l0, l1, l2, l3, ..] = lower.cut(n);
    let [u0, u1, u2, u3, ..] = upper.cut(n);
    let mut at = LEAD;
    while at + 2 * WIDTH <= n {
        let stencil = Stencil {
            low: load(quantities, at - 1),
            here: load(quantities, at),
            high: load(quantities, at + 1),
            before: Cells::load(before, at),
            after: Cells::load(after, at),
            over_areas: [Cells::load(over_area, at), Cells::load(over_area, at + 1)],
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
        at += WIDTH;
    }
}

/// Total energies and specific volumes of the sides, from their temperatures.
#[inline(always)]
fn energies(sides: &mut Sides, gas: &impl Properties<Cells>) {
    let n = sides.density.len();
    let (density, velocity) = (&sides.density[..n], &sides.velocity[..n]);
    let (pressure, burned) = (&sides.pressure[..n], &sides.burned[..n]);
    let (energy, volume) = (&mut sides.energy[..n], &mut sides.volume);
    let mut at = LEAD;
    while at + 2 * WIDTH <= n {
        let [rho, u, p, b] = load([density, velocity, pressure, burned], at);
        let (inner, specific) = gas.energy(rho, p, b);
        (inner + (u * u).scale(0.5)).store(energy, at);
        specific.store(volume, at);
        at += WIDTH;
    }
}

#[inline(always)]
fn load(from: [&[f64]; 4], at: usize) -> [Cells; 4] {
    let [a, b, c, d] = from;
    [Cells::load(a, at), Cells::load(b, at), Cells::load(c, at), Cells::load(d, at)]
}

/// Side of the faces at `at`, γ and speed of sound from the cells they belong to.
#[inline(always)]
fn side(s: &[&[f64]; 6], gamma: &[f64], sound: &[f64], at: usize) -> Side<Cells> {
    Side {
        density: Cells::load(s[0], at),
        velocity: Cells::load(s[1], at),
        pressure: Cells::load(s[2], at),
        burned: Cells::load(s[3], at),
        energy: Cells::load(s[4], at),
        volume: Cells::load(s[5], at),
        gamma: Cells::load(gamma, at),
        sound: Cells::load(sound, at),
    }
}

/// Wave speeds at the lower faces of all cells.
#[inline(always)]
fn waves_all(a: &mut Arrays) {
    let Arrays { means, lower, upper, waves: speeds, .. } = a;
    let n = means.gamma.len();
    let (gamma, sound) = (&means.gamma[..n], &means.sound[..n]);
    let (upper, lower) = (upper.seen(n), lower.seen(n));
    let [left, middle, right] = speeds;
    let (left, middle) = (&mut left[..n], &mut middle[..n]);
    let mut at = LEAD;
    while at + 2 * WIDTH <= n {
        let sides = (side(&upper, gamma, sound, at - 1), side(&lower, gamma, sound, at));
        let [l, m, r] = waves::<Cells>(&sides.0, &sides.1);
        l.store(left, at);
        m.store(middle, at);
        r.store(right, at);
        at += WIDTH;
    }
}

/// Flux through the lower faces of all cells.
#[inline(always)]
fn flux_through_all(a: &mut Arrays) {
    let Arrays { means, lower, upper, flux, area, waves, .. } = a;
    let n = means.gamma.len();
    let (gamma, sound) = (&means.gamma[..n], &means.sound[..n]);
    let (upper, lower) = (upper.seen(n), lower.seen(n));
    let [l, m, r] = waves;
    let (l, m, r) = (&l[..n], &m[..n], &r[..n]);
    let (mass, momentum) = (&mut flux.mass[..n], &mut flux.momentum[..n]);
    let (energy, burned) = (&mut flux.energy[..n], &mut flux.burned[..n]);
    let mut at = LEAD;
    while at + 2 * WIDTH <= n {
        let left = side(&upper, gamma, sound, at - 1);
        let right = side(&lower, gamma, sound, at);
        let speeds = [Cells::load(l, at), Cells::load(m, at), Cells::load(r, at)];
        let through: Flux<Cells> = hllc(&left, &right, speeds);
        let area = Cells::load(area, at);
        (through.mass * area).store(mass, at);
        (through.momentum * area).store(momentum, at);
        (through.energy * area).store(energy, at);
        (through.burned * area).store(burned, at);
        at += WIDTH;
    }
}

/// The stage of one quantity: `rate` per volume.
#[inline(always)]
fn next(now: &mut [f64], start: &[f64], at: usize, stage: Stage, rate: Cells) {
    let (before, here) = (Cells::load(start, at), Cells::load(now, at));
    (before.scale(stage.start) + here.scale(stage.now) + rate.scale(stage.dt)).store(now, at);
}

/// What flows into the cells at `at` and does not leave them.
#[inline(always)]
fn left_in(flux: &[f64], at: usize) -> Cells {
    Cells::load(flux, at) - Cells::load(flux, at + 1)
}

#[inline(always)]
fn update_all(a: &mut Arrays, stage: Stage) {
    let n = a.area.len();
    let (over, area, pressure) = (&a.over_volume, &a.area[..n], &a.means.pressure[..n]);
    let (force, heat) = (&a.force[..n], &a.heat[..n]);
    let (now, start, flux) = (&mut a.now, &a.start, &a.flux);
    let (m, m0, fm) = (&mut now.mass[..n], &start.mass[..n], &flux.mass[..n]);
    let (q, q0, fq) = (&mut now.momentum[..n], &start.momentum[..n], &flux.momentum[..n]);
    let (e, e0, fe) = (&mut now.energy[..n], &start.energy[..n], &flux.energy[..n]);
    let (b, b0, fb) = (&mut now.burned[..n], &start.burned[..n], &flux.burned[..n]);
    let mut at = LEAD;
    while at + 2 * WIDTH <= n {
        let over = Cells::load(over, at);
        let widening = Cells::load(area, at + 1) - Cells::load(area, at);
        let push = Cells::load(pressure, at) * widening;
        next(m, m0, at, stage, left_in(fm, at) * over);
        next(q, q0, at, stage, (left_in(fq, at) + push) * over + Cells::load(force, at));
        next(e, e0, at, stage, left_in(fe, at) * over + Cells::load(heat, at));
        next(b, b0, at, stage, left_in(fb, at) * over);
        at += WIDTH;
    }
}
