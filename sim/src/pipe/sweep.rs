//! The passes over the cells of a pipe. Each is written once for one cell and for several at once.

use super::flux::{Flux, Side, hllc};
use super::gas::{Cells, Properties, WIDTH};
use super::limiter::{admissible, limited};
use super::state::{Arrays, LEAD};
use crate::engine::wall_heat::viscosity;
use crate::lane::{Job, Lane, Mask};

#[inline(always)]
fn load<L: Lane>(from: &[f64], at: usize) -> L {
    let from = &from[at..at + L::WIDTH];
    L::from_fn(|k| from[k])
}

#[inline(always)]
fn store<L: Lane>(to: &mut [f64], at: usize, value: L) {
    let to = &mut to[at..at + L::WIDTH];
    for (k, x) in to.iter_mut().enumerate() {
        *x = value.lane(k);
    }
}

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

impl<G: Properties<Cells>> Job for ReadOff<'_, G> {
    type Output = Found;

    #[inline(always)]
    fn run(self) -> Found {
        let (mut rate, mut good) = (Cells::zero(), Cells::one());
        let end = LEAD + self.arrays.cells;
        let mut at = LEAD;
        while at < end {
            let (r, g) = read_off(self.arrays, self.gas, at);
            rate = rate.at_least(r);
            good = good.at_most(g);
            at += WIDTH;
        }
        let largest = rate.0.into_iter().fold(0.0, f64::max);
        Found { rate: largest, good: good.0.into_iter().all(|g| g > 0.0) }
    }
}

/// Means of the cells from `at` on, stored; gives their signal rate and 1 where all is well.
#[inline(always)]
fn read_off<L: Lane>(a: &mut Arrays, gas: &impl Properties<L>, at: usize) -> (L, L) {
    let density: L = load(&a.now.mass, at);
    let over = L::one() / density;
    let u = load::<L>(&a.now.momentum, at) * over;
    let burned = load::<L>(&a.now.burned, at) * over;
    let inner = load::<L>(&a.now.energy, at) * over - (u * u).scale(0.5);
    let state = gas.from_energy(inner, burned);
    let (rt, gamma) = (state.specific_pressure_volume(), state.gamma());
    let pressure = density * rt;
    store(&mut a.means.density, at, density);
    store(&mut a.means.velocity, at, u);
    store(&mut a.means.pressure, at, pressure);
    store(&mut a.means.burned, at, burned);
    store(&mut a.means.gamma, at, gamma);
    store(&mut a.means.temperature, at, state.temperature);

    // f|u| = fixed·|u| + smooth·max(16ν/D, 0.0791 Re^{−1/4}|u|), Re = |u|D/ν (H. Blasius, 1913)
    let d: L = load(&a.diameter, at);
    let still = viscosity(state.temperature) * over / d;
    let speed = u.abs();
    let reynolds = (speed / still).at_least(L::one());
    let rough = speed.scale(0.0791) / reynolds.sqrt().sqrt();
    let smooth = still.scale(16.0).at_least(rough);
    let fu = load::<L>(&a.walls.fixed, at) * speed + load::<L>(&a.walls.smooth, at) * smooth;
    let wetted: L = load(&a.wetted, at);
    let drag = (density * fu * wetted).scale(0.5);
    store(&mut a.force, at, -(drag * u));
    let excess = state.temperature - load(&a.walls.temperature, at);
    let carried = load::<L>(&a.walls.heat, at) * drag * state.heat_capacity * excess;
    store(&mut a.heat, at, -(carried + load::<L>(&a.walls.imposed, at) * wetted));

    let rate = (speed + (gamma * rt).sqrt()) * load(&a.over_width, at);
    let good = density.gt(L::zero()).and(rt.gt(L::zero())).and(rate.lt(L::splat(1e15)));
    (rate, L::select(good, L::one(), L::zero()))
}

/// States at the lower and at the upper end of the cells from `at` on.
#[inline(always)]
pub(super) fn reconstruct<L: Lane>(
    a: &Arrays,
    gas: &impl Properties<L>,
    at: usize,
) -> (Side<L>, Side<L>) {
    let m = &a.means;
    let (before, after): (L, L) = (load(&a.before, at), load(&a.after, at));
    let halves = |of: &[f64]| {
        let (low, here, high): (L, L, L) = (load(of, at - 1), load(of, at), load(of, at + 1));
        (here, limited((here - low) * before, (high - here) * after).scale(0.5))
    };
    let (rho, drho) = halves(&m.density);
    let (u, du) = halves(&m.velocity);
    let (p, dp) = halves(&m.pressure);
    let (b, db) = halves(&m.burned);
    let lower = admissible(rho - drho, p - dp, b - db);
    let good = lower.and(admissible(rho + drho, p + dp, b + db));
    let keep = |d: L| L::select(good, d, L::zero());
    let (drho, du, dp, db) = (keep(drho), keep(du), keep(dp), keep(db));
    let gamma = load(&m.gamma, at);
    let side = |density: L, velocity: L, pressure: L, burned: L| Side {
        density,
        velocity,
        pressure,
        burned,
        energy: gas.energy(density, pressure, burned) + (velocity * velocity).scale(0.5),
        gamma,
    };
    (side(rho - drho, u - du, p - dp, b - db), side(rho + drho, u + du, p + dp, b + db))
}

/// Weights of a stage: new = keep·start + (1 − keep)·(now + dt·rates).
#[derive(Debug, Clone, Copy)]
pub(super) struct Stage {
    /// Share of the state at the start of the step.
    pub(super) keep: f64,
    /// Step [s].
    pub(super) dt: f64,
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
        let end = LEAD + a.cells;
        for at in (LEAD..end).step_by(WIDTH) {
            reconstruct_cells(a, gas, at);
        }
        for at in (LEAD..=end).step_by(WIDTH) {
            flux_through(a, at);
        }
        a.flux.set(LEAD, ends[0]);
        a.flux.set(end, ends[1]);
        for at in (LEAD..end).step_by(WIDTH) {
            update(a, at, stage);
        }
    }
}

#[inline(always)]
fn reconstruct_cells(a: &mut Arrays, gas: &impl Properties<Cells>, at: usize) {
    let (lower, upper) = reconstruct::<Cells>(a, gas, at);
    for (sides, side) in [(&mut a.lower, lower), (&mut a.upper, upper)] {
        store(&mut sides.density, at, side.density);
        store(&mut sides.velocity, at, side.velocity);
        store(&mut sides.pressure, at, side.pressure);
        store(&mut sides.burned, at, side.burned);
        store(&mut sides.energy, at, side.energy);
    }
}

/// Flux through the lower faces of the cells from `at` on.
#[inline(always)]
fn flux_through(a: &mut Arrays, at: usize) {
    let side = |s: &super::state::Sides, at: usize| Side::<Cells> {
        density: load(&s.density, at),
        velocity: load(&s.velocity, at),
        pressure: load(&s.pressure, at),
        burned: load(&s.burned, at),
        energy: load(&s.energy, at),
        gamma: load(&a.means.gamma, at),
    };
    let Flux { mass, momentum, energy, burned } =
        hllc(&side(&a.upper, at - 1), &side(&a.lower, at));
    let area: Cells = load(&a.area, at);
    store(&mut a.flux.mass, at, mass * area);
    store(&mut a.flux.momentum, at, momentum * area);
    store(&mut a.flux.energy, at, energy * area);
    store(&mut a.flux.burned, at, burned * area);
}

#[inline(always)]
fn update(a: &mut Arrays, at: usize, stage: Stage) {
    let over: Cells = load(&a.over_volume, at);
    let (keep, dt) = (Cells::splat(stage.keep), Cells::splat(stage.dt));
    let share = Cells::splat(1.0 - stage.keep);
    let push =
        load::<Cells>(&a.means.pressure, at) * (load::<Cells>(&a.area, at + 1) - load(&a.area, at));
    let zero = Cells::zero();
    let book = |now: &mut [f64], start: &[f64], flux: &[f64], push: Cells, source: Cells| {
        let net = load::<Cells>(flux, at) - load::<Cells>(flux, at + 1) + push;
        let next = load::<Cells>(now, at) + dt * (net * over + source);
        store(now, at, keep * load(start, at) + share * next);
    };
    let (force, heat): (Cells, Cells) = (load(&a.force, at), load(&a.heat, at));
    book(&mut a.now.mass, &a.start.mass, &a.flux.mass, zero, zero);
    book(&mut a.now.momentum, &a.start.momentum, &a.flux.momentum, push, force);
    book(&mut a.now.energy, &a.start.energy, &a.flux.energy, zero, heat);
    book(&mut a.now.burned, &a.start.burned, &a.flux.burned, zero, zero);
}
