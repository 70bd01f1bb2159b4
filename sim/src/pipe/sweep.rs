//! The passes over the cells of a pipe. What is worked out at a place is written once for one cell and
//! for several at once. Every pass cuts its arrays to one length first, so that no index is checked
//! inside; all but one: that check keeps the compiler from working on several packs at once, which
//! costs more than it gains.

use super::flux::{Flux, Side, hllc};
use super::gas::{Cells, Properties, WIDTH};
use super::limiter::{admissible, limited};
use super::state::{Arrays, LEAD};
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
        let Arrays {
            now,
            means,
            force,
            heat,
            walls,
            over_width,
            over_diameter,
            wetted,
            mean_area,
            ..
        } = self.arrays;
        let n = now.mass.len();
        let held = [&now.mass[..n], &now.momentum[..n], &now.energy[..n], &now.burned[..n]];
        let (density, velocity) = (&mut means.density[..n], &mut means.velocity[..n]);
        let (pressure, burned) = (&mut means.pressure[..n], &mut means.burned[..n]);
        let (gamma, sound) = (&mut means.gamma[..n], &mut means.sound[..n]);
        let (temperature, flow) = (&mut means.temperature[..n], &mut means.flow[..n]);
        let mean_area = &mean_area[..n];
        let (force, heat) = (&mut force[..n], &mut heat[..n]);
        let (fixed, smooth) = (&walls.fixed[..n], &walls.smooth[..n]);
        let (carry, wall) = (&walls.heat[..n], &walls.temperature[..n]);
        let (imposed, wetted) = (&walls.imposed[..n], &wetted[..n]);
        let over_diameter = &over_diameter[..n];
        let (mut rate, mut good) = (Cells::zero(), Cells::one());
        let mut at = LEAD;
        while at + 2 * WIDTH <= n {
            let cells = mean(load(held, at), self.gas);
            cells.density.store(density, at);
            cells.velocity.store(velocity, at);
            (cells.velocity * Cells::load(mean_area, at)).store(flow, at);
            cells.pressure.store(pressure, at);
            cells.burned.store(burned, at);
            cells.gamma.store(gamma, at);
            cells.sound.store(sound, at);
            cells.temperature.store(temperature, at);
            let surface = Surface {
                fixed: Cells::load(fixed, at),
                smooth: Cells::load(smooth, at),
                heat: Cells::load(carry, at),
                temperature: Cells::load(wall, at),
                imposed: Cells::load(imposed, at),
                over_diameter: Cells::load(over_diameter, at),
                wetted: Cells::load(wetted, at),
            };
            let (drag, loss) = wall_effects(&cells, &surface);
            drag.store(force, at);
            loss.store(heat, at);
            let speed = cells.velocity.abs() + cells.sound;
            let here = speed * Cells::load(over_width, at);
            let positive = cells.density.gt(Cells::zero()).and(cells.pressure.gt(Cells::zero()));
            let sane = positive.and(here.lt(Cells::splat(ABSURD)));
            rate = rate.at_least(here);
            good = Cells::select(sane, good, Cells::zero());
            at += WIDTH;
        }
        let largest = rate.0.into_iter().fold(0.0, f64::max);
        Found { rate: largest, good: good.0.into_iter().all(|g| g > 0.0) }
    }
}

/// Means of a cell.
struct Mean<L: Lane> {
    density: L,
    over_density: L,
    velocity: L,
    pressure: L,
    burned: L,
    gamma: L,
    sound: L,
    temperature: L,
    heat_capacity: L,
    /// μ [Pa s].
    viscosity: L,
}

/// Sutherland's law for air, μ = 1.458·10⁻⁶ T^{3/2}/(T + 110.4), *U.S. Standard Atmosphere, 1976*.
const SUTHERLAND: (f64, f64) = (1.458e-6, 110.4);

#[inline(always)]
fn mean<L: Lane>(held: [L; 4], gas: &impl Properties<L>) -> Mean<L> {
    let [density, momentum, energy, burned] = held;
    let over = L::one() / density;
    let (velocity, burned) = (momentum * over, burned * over);
    let state = gas.at_energy(energy * over - (velocity * velocity).scale(0.5), burned);
    let (t, rt) = (state.temperature, state.specific_pressure_volume());
    // γ = c_p/c_v and Sutherland's quotient over one denominator
    let isochoric = state.heat_capacity - state.gas_constant;
    let warmer = t.plus(SUTHERLAND.1);
    let quotient = L::one() / (isochoric * warmer);
    let gamma = state.heat_capacity * warmer * quotient;
    Mean {
        density,
        over_density: over,
        velocity,
        pressure: density * rt,
        burned,
        gamma,
        sound: (gamma * rt).sqrt(),
        temperature: t,
        heat_capacity: state.heat_capacity,
        viscosity: (t * t.sqrt()).scale(SUTHERLAND.0) * isochoric * quotient,
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
pub(super) struct Stencil<L: Lane> {
    pub(super) low: [L; 4],
    pub(super) here: [L; 4],
    pub(super) high: [L; 4],
    /// Δxᵢ over the distances to the neighbours.
    pub(super) before: L,
    pub(super) after: L,
    /// One over the areas at its two ends.
    pub(super) over_areas: [L; 2],
    pub(super) gamma: L,
    pub(super) sound: L,
}

impl<L: Lane> Stencil<L> {
    /// States at the lower and at the upper end of the cell.
    #[inline(always)]
    pub(super) fn sides(&self, gas: &impl Properties<L>) -> (Side<L>, Side<L>) {
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
        (self.side(below, gas), self.side(above, gas))
    }

    #[inline(always)]
    fn side(
        &self,
        [density, velocity, pressure, burned]: [L; 4],
        gas: &impl Properties<L>,
    ) -> Side<L> {
        let (inner, volume) = gas.energy(density, pressure, burned);
        Side {
            density,
            volume,
            velocity,
            pressure,
            burned,
            energy: inner + (velocity * velocity).scale(0.5),
            gamma: self.gamma,
            sound: self.sound,
        }
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
        gamma: m.gamma[at],
        sound: m.sound[at],
    };
    stencil.sides(gas)
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
        reconstruct_all(a, gas);
        flux_through_all(a);
        a.flux.set(LEAD, ends[0]);
        a.flux.set(LEAD + a.cells, ends[1]);
        update_all(a, stage);
    }
}

#[inline(always)]
fn reconstruct_all(a: &mut Arrays, gas: &impl Properties<Cells>) {
    let Arrays { means, lower, upper, before, after, over_area, .. } = a;
    let n = means.density.len();
    let (density, flow) = (&means.density[..n], &means.flow[..n]);
    let (pressure, burned) = (&means.pressure[..n], &means.burned[..n]);
    let (gamma, sound) = (&means.gamma[..n], &means.sound[..n]);
    let over_area = &over_area[..n];
    let before = &before[..n];
    let [l0, l1, l2, l3, l4, l5] = lower.cut(n);
    let [u0, u1, u2, u3, u4, u5] = upper.cut(n);
    let mut at = LEAD;
    while at + 2 * WIDTH <= n {
        let stencil = Stencil {
            low: load([density, flow, pressure, burned], at - 1),
            here: load([density, flow, pressure, burned], at),
            high: load([density, flow, pressure, burned], at + 1),
            before: Cells::load(before, at),
            after: Cells::load(after, at),
            over_areas: [Cells::load(over_area, at), Cells::load(over_area, at + 1)],
            gamma: Cells::load(gamma, at),
            sound: Cells::load(sound, at),
        };
        let (low, high) = stencil.sides(gas);
        low.density.store(l0, at);
        low.velocity.store(l1, at);
        low.pressure.store(l2, at);
        low.burned.store(l3, at);
        low.energy.store(l4, at);
        low.volume.store(l5, at);
        high.density.store(u0, at);
        high.velocity.store(u1, at);
        high.pressure.store(u2, at);
        high.burned.store(u3, at);
        high.energy.store(u4, at);
        high.volume.store(u5, at);
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

/// Flux through the lower faces of all cells.
#[inline(always)]
fn flux_through_all(a: &mut Arrays) {
    let Arrays { means, lower, upper, flux, area, .. } = a;
    let n = means.gamma.len();
    let (gamma, sound) = (&means.gamma[..n], &means.sound[..n]);
    let (upper, lower) = (upper.seen(n), lower.seen(n));
    let (mass, momentum) = (&mut flux.mass[..n], &mut flux.momentum[..n]);
    let (energy, burned) = (&mut flux.energy[..n], &mut flux.burned[..n]);
    let mut at = LEAD;
    while at + 2 * WIDTH <= n {
        let left = side(&upper, gamma, sound, at - 1);
        let right = side(&lower, gamma, sound, at);
        let through: Flux<Cells> = hllc(&left, &right);
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
