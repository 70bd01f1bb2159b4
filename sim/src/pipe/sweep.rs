//! The passes over the cells of a pipe. What is worked out at a place is written once for one cell and
//! for several at once. Every pass cuts its arrays to one length first, so that no index is checked
//! inside; all but one: that check keeps the compiler from working on several packs at once, which
//! costs more than it gains.
//!
//! # Decisions
//!
//! - Pipes reconstruct ρ, uA, p, b: with u in place of uA, what the limiter makes of the steep velocity
//!   in a taper acts as a resistance that damps a cone's lowest resonance within two periods. γ is frozen
//!   at the cell's mean; the face's energy is that of its own temperature. A burned fraction counts as
//!   inside [0, 1] to 1e-6, before its half step: what strays by more takes its cell's slopes (at 1e-12
//!   gas from a crankcase that did not quite repeat left an inlet of four cells without any, and its
//!   waves damped).
//! - At an end the slope of the last cell is judged by its two inner differences, at a wall by the mirror
//!   image; an end that goes on for ever has none.
//! - Walls: viscosity by Sutherland's law for air whatever the gas; Reynolds' analogy without a Prandtl
//!   factor; no recovery temperature.

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
}

impl<L: Lane> Stencil<L> {
    /// Limited changes of ρ, uA, p, b over the cell.
    #[inline(always)]
    fn changes(&self) -> [L; 4] {
        let (mut below, mut above) = (self.here, self.here);
        for k in 0..4 {
            below[k] = (self.here[k] - self.low[k]) * self.before;
            above[k] = (self.high[k] - self.here[k]) * self.after;
        }
        limited(below, above)
    }
}

/// What moves the gas of a cell by itself.
struct Motion<L: Lane> {
    velocity: L,
    over_density: L,
    gamma: L,
    /// V/Δx and one over it.
    area: L,
    over_area: L,
    /// By how much the pipe widens over the cell [m²].
    widening: L,
    /// Of the wall [N/m³], [W/m³].
    force: L,
    heat: L,
}

impl<L: Lane> Motion<L> {
    /// Changes of ρ, uA, p, b over a time, from their changes over the cell: the equations of motion as they
    /// stand for these four. `share` is the time over Δx [s/m].
    #[inline(always)]
    fn moved(
        &self,
        [density, flow, pressure, burned]: [L; 4],
        here: &[L; 4],
        share: L,
        time: f64,
    ) -> [L; 4] {
        let u = self.velocity;
        let spreads = flow * self.over_area;
        let warms = (self.heat - u * self.force) * self.gamma.plus(-1.0);
        let pushed = (self.force * self.over_density * self.area).scale(time);
        [
            -(share * (u * density + here[0] * spreads)),
            pushed
                - share
                    * (u * (flow - u * self.widening) + self.area * self.over_density * pressure),
            warms.scale(time) - share * (u * pressure + self.gamma * here[2] * spreads),
            -(share * u * burned),
        ]
    }
}

/// ρ, u, p, b at both ends of all cells, half a step from now.
pub(super) struct Predict<'a> {
    pub(super) arrays: &'a mut Arrays,
    pub(super) gas: &'a PipeGas,
    /// Half the step [s].
    pub(super) half: f64,
}

impl LaneJob for Predict<'_> {
    type Output = ();

    #[inline(always)]
    fn run<L: Lane>(self) {
        let Self { arrays, gas, half } = self;
        sides_all::<L>(arrays, half);
        match gas {
            PipeGas::Perfect(gas) => energies::<L>(arrays, gas),
            PipeGas::Mixtures(gas) => energies::<L>(arrays, &Gas::splat(gas)),
        }
    }
}

/// Weights of a step.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stride {
    /// Δt [s].
    pub(super) dt: f64,
    /// Weights of what walls do now and of what they did a step before, which give what they do in the
    /// middle of the step.
    pub(super) walls: [f64; 2],
}

impl Stride {
    /// A step of `dt` [s] after one of `last`; after none where that is zero.
    pub(super) fn after(last: f64, dt: f64) -> Self {
        let ahead = if last > 0.0 { 0.5 * dt / last } else { 0.0 };
        Self { dt, walls: [1.0 + ahead, -ahead] }
    }
}

/// The step itself, from the sides in its middle.
pub(super) struct Advance<'a> {
    pub(super) arrays: &'a mut Arrays,
    /// Through the two ends, times their areas, along the pipe.
    pub(super) ends: [[f64; 4]; 2],
    pub(super) stride: Stride,
}

impl LaneJob for Advance<'_> {
    type Output = ();

    #[inline(always)]
    fn run<L: Lane>(self) {
        let Self { arrays: a, ends, stride } = self;
        waves_all::<L>(a);
        flux_through_all::<L>(a);
        a.flux.set(LEAD, ends[0]);
        a.flux.set(LEAD + a.cells, ends[1]);
        update_all::<L>(a, stride);
        std::mem::swap(&mut a.force, &mut a.force_before);
        std::mem::swap(&mut a.heat, &mut a.heat_before);
    }
}

/// Reconstruction, moved on by half a step (B. van Leer's second order by Hancock's predictor: each cell by
/// itself). Where no gas can be in what comes of it, the means.
#[inline(always)]
fn sides_all<L: Lane>(a: &mut Arrays, half: f64) {
    let n = a.area.len();
    let m = &a.means;
    let quantities = [&m.density[..n], &m.flow[..n], &m.pressure[..n], &m.burned[..n]];
    let own = [&m.velocity[..n], &m.volume[..n], &m.gamma[..n], &a.mean_area[..n]];
    let (force, heat) = (&a.force[..n], &a.heat[..n]);
    let (before, after, over_width) = (&a.before[..n], &a.after, &a.over_width[..n]);
    let (area, over_area, over_mean) = (&a.area[..n], &a.over_area[..n], &a.over_mean_area[..n]);
    let [l0, l1, l2, l3, ..] = a.lower.cut(n);
    let [u0, u1, u2, u3, ..] = a.upper.cut(n);
    let mut at = LEAD;
    while at + WIDTH + L::WIDTH <= n {
        let stencil = Stencil {
            low: load(quantities, at - 1),
            here: load(quantities, at),
            high: load(quantities, at + 1),
            before: L::load(before, at),
            after: L::load(after, at),
        };
        let here = stencil.here;
        let [velocity, over_density, gamma, mean_area] = load(own, at);
        let motion = Motion {
            velocity,
            over_density,
            gamma,
            area: mean_area,
            over_area: L::load(over_mean, at),
            widening: L::load(area, at + 1) - L::load(area, at),
            force: L::load(force, at),
            heat: L::load(heat, at),
        };
        let changes = stencil.changes();
        let moved = motion.moved(changes, &here, L::load(over_width, at).scale(half), half);
        let (mut low, mut high) = (here, here);
        for k in 0..4 {
            let (middle, side) = (here[k] + moved[k], changes[k].scale(0.5));
            low[k] = middle - side;
            high[k] = middle + side;
        }
        // the share is judged before it moves: of a side that the gas leaves, where it went is not asked
        let mixed = here[3];
        let share = changes[3].scale(0.5);
        let good = admissible(low[0], low[2], mixed - share).and(admissible(
            high[0],
            high[2],
            mixed + share,
        ));
        for k in 0..4 {
            low[k] = L::select(good, low[k], here[k]);
            high[k] = L::select(good, high[k], here[k]);
        }
        low[0].store(l0, at);
        (low[1] * L::load(over_area, at)).store(l1, at);
        low[2].store(l2, at);
        low[3].store(l3, at);
        high[0].store(u0, at);
        (high[1] * L::load(over_area, at + 1)).store(u1, at);
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

/// The step of one quantity: `rate` per volume.
#[inline(always)]
fn next<L: Lane>(now: &mut [f64], at: usize, dt: f64, rate: L) {
    (L::load(now, at) + rate.scale(dt)).store(now, at);
}

/// What flows into the cells at `at` and does not leave them.
#[inline(always)]
fn left_in<L: Lane>(flux: &[f64], at: usize) -> L {
    L::load(flux, at) - L::load(flux, at + 1)
}

#[inline(always)]
fn update_all<L: Lane>(a: &mut Arrays, Stride { dt, walls }: Stride) {
    let n = a.area.len();
    let (over, area) = (&a.over_volume, &a.area[..n]);
    let (lower, upper) = (&a.lower.pressure[..n], &a.upper.pressure[..n]);
    let sources = [&a.force[..n], &a.force_before[..n], &a.heat[..n], &a.heat_before[..n]];
    let (now, flux) = (&mut a.now, &a.flux);
    let (m, fm) = (&mut now.mass[..n], &flux.mass[..n]);
    let (q, fq) = (&mut now.momentum[..n], &flux.momentum[..n]);
    let (e, fe) = (&mut now.energy[..n], &flux.energy[..n]);
    let (b, fb) = (&mut now.burned[..n], &flux.burned[..n]);
    let mut at = LEAD;
    while at + WIDTH + L::WIDTH <= n {
        let over = L::load(over, at);
        let widening = L::load(area, at + 1) - L::load(area, at);
        let push = (L::load(lower, at) + L::load(upper, at)).scale(0.5) * widening;
        let [force, force_before, heat, heat_before]: [L; 4] = load(sources, at);
        let force = force.scale(walls[0]) + force_before.scale(walls[1]);
        let heat = heat.scale(walls[0]) + heat_before.scale(walls[1]);
        next(m, at, dt, left_in::<L>(fm, at) * over);
        next(q, at, dt, (left_in::<L>(fq, at) + push) * over + force);
        next(e, at, dt, left_in::<L>(fe, at) * over + heat);
        next(b, at, dt, left_in::<L>(fb, at) * over);
        at += L::WIDTH;
    }
}
