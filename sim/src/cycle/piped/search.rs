//! The search for the periodic state from cycle to cycle.
//!
//! # Decisions
//!
//! - Each cycle's change is summed up over all cycles to come (`transport`): the derivative of the cycle
//!   map is nearly that of gas which moves down a row of mixed cells by the mass of a cycle, and (I −
//!   S)⁻¹ of that is one pass along the pipe; crankcase and silencer keep 1 − M/m. Anderson's method on
//!   pressures, velocities, temperatures and shares of all cells (weight 1/√n) and the volumes (weight 1)
//!   does the rest. Half the cycles on the finest grid are gone with it.
//! - Candidates that no gas can be in, or that go more than ten times as far as the plain image, are
//!   refused; where an accelerated state lets a small change grow by half, 2, 4, 8 … plain cycles follow,
//!   for a reed that bounces makes the map jump; far from the fixed point it begins anew at once, for
//!   between two states plain cycles only stray.

use super::coupled::Snapshot;
use crate::cycle::anderson::Anderson;
use crate::result::Point;

/// Differences the acceleration remembers.
const MEMORY: usize = 20;
/// Residual below which the steps are kept.
const NEAR: f64 = 2e-2;
/// Most cycles before the steps are kept all the same.
const PLAIN: u32 = 25;
/// Largest accelerated step over the plain one.
const LONGEST: f64 = 10.0;
/// Growth of the residual at which the acceleration is given up and begun anew, near and far.
const GROWN: [f64; 2] = [1.5, 3.0];
/// Residual above which it is far: between two states plain cycles go astray slowly, and waiting does not
/// help.
const FAR: f64 = 2e-3;
/// Near, the plain cycles after that double up to two to the power of this: the map jumps.
const MOST_DOUBLED: u32 = 5;
/// Differences from which the accelerated state tells how far away the periodic one is.
const TELLING: usize = 2;

/// Weight of headline results in the vectors: so little that it counts for nothing beside the state.
const FEATHER: f64 = 1.0 / (1_u64 << 50) as f64;

/// Results that a reader looks at first.
pub(super) type Headlines = [f64; 5];

/// The headline results of a point.
pub(super) fn headlines(point: &Point) -> Headlines {
    let s = &point.summary;
    let trapping = s.trapping_efficiency.unwrap_or_default();
    [s.imep, s.delivery_ratio, trapping, s.trapped_mass, s.cylinder_pressure_to]
}

/// What a cycle has shown.
pub(super) struct Cycle<'a> {
    /// Its number, from 1.
    pub(super) number: u32,
    pub(super) residual: f64,
    /// The state it starts from.
    pub(super) z: &'a [f64],
    pub(super) image: &'a [f64],
    /// Where the flow of further cycles would lead.
    pub(super) ahead: &'a [f64],
    pub(super) headlines: Headlines,
}

/// Where the search would go on.
#[derive(Default)]
pub(super) struct Aim {
    /// The periodic state as the cycles so far have it, and its headline results; none where they tell
    /// too little.
    pub(super) periodic: Option<(Vec<f64>, Headlines)>,
    /// The accelerated next state, where it is time for one.
    pub(super) candidate: Option<Vec<f64>>,
}

/// What the search remembers.
pub(super) struct Search {
    anderson: Anderson,
    /// Smallest residual since the acceleration was begun.
    best: f64,
    /// Image of the last cycle, to go on from where a candidate fails.
    pub(super) plain: Option<Snapshot>,
    /// Whether the present cycle starts from an accelerated state.
    pub(super) accelerated: bool,
    /// Whether steps are kept.
    pub(super) keeps_steps: bool,
    /// How often the acceleration has been given up near.
    failures: u32,
    /// Plain cycles before it goes on.
    rest: u32,
    /// Whether the acceleration has found a state that cycles lead away from: plain ones from there on.
    away: bool,
}

impl Search {
    pub(super) fn new() -> Self {
        Self {
            anderson: Anderson::new(MEMORY),
            best: f64::INFINITY,
            plain: None,
            accelerated: false,
            keeps_steps: false,
            failures: 0,
            rest: 0,
            away: false,
        }
    }

    /// Takes note of a cycle and aims for the next.
    pub(super) fn aim(&mut self, cycle: &Cycle) -> Aim {
        if !self.keeps_steps {
            self.keeps_steps = cycle.number > 1 && cycle.residual < NEAR || cycle.number >= PLAIN;
            return Aim::default();
        }
        self.rest = self.rest.saturating_sub(1);
        if self.accelerated && cycle.residual > GROWN[usize::from(self.best > FAR)] * self.best {
            self.fail();
        }
        self.best = self.best.min(cycle.residual);
        // headline results ride along: what combines the states combines them, and they change no weight
        let with = |state: &[f64]| [state, &cycle.headlines.map(|h| h * FEATHER)].concat();
        let mut next = self.anderson.next(&with(cycle.z), &with(cycle.ahead));
        let results = next.split_off(cycle.z.len());
        let results = std::array::from_fn(|i| results[i] / FEATHER);
        let long = distance(&next, cycle.image) > LONGEST * distance(cycle.image, cycle.z);
        let candidate = (self.rest == 0 && !long && !self.away).then(|| next.clone());
        let tells = self.anderson.differences() >= TELLING;
        Aim { periodic: tells.then_some((next, results)), candidate }
    }

    /// Whether it has found a state that cycles lead away from: between two states plain cycles stray.
    pub(super) fn strays(&self) -> bool {
        self.away
    }

    /// Whether cycles lead away from what has been found: then plain ones take over.
    pub(super) fn leads_away(&mut self) -> bool {
        let away = self.anderson.leads_away();
        self.away |= away;
        away
    }

    /// A cycle from a candidate could not be computed: the plain image instead.
    pub(super) fn give_up(&mut self) -> Option<Snapshot> {
        self.fail();
        self.accelerated = false;
        self.plain.take()
    }

    fn fail(&mut self) {
        self.anderson.clear();
        self.failures += u32::from(self.best <= FAR);
        self.rest = if self.best > FAR { 2 } else { 1 << self.failures.min(MOST_DOUBLED) };
        self.best = f64::INFINITY;
    }
}

fn distance(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b) * (a - b)).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_are_foretold_before_the_state_has_come_to_rest() {
        // z ← Az + b with results linear in z: known where it ends
        let map = |z: &[f64]| vec![0.9 * z[0] + 0.05 * z[1] + 1.0, 0.02 * z[0] + 0.7 * z[1] - 0.3];
        let results = |z: &[f64]| [z[0], z[1], z[0] + z[1], 1.0, 2.0 * z[0] - z[1]];
        let determinant = 0.1 * 0.3 - 0.05 * 0.02;
        let end = [(0.3 - 0.05 * 0.3) / determinant, (0.02 - 0.1 * 0.3) / determinant];
        let mut search = Search::new();
        search.keeps_steps = true;
        let mut z = vec![8.0, 1.0];
        for number in 1..=3 {
            let image = map(&z);
            let headlines = results(&z);
            let cycle =
                Cycle { number, residual: 0.1, z: &z, image: &image, ahead: &image, headlines };
            let aim = search.aim(&cycle);
            assert_eq!(aim.periodic.is_some(), number > TELLING as u32);
            if let Some((state, foretold)) = aim.periodic {
                let apart = distance(&state, &end) + distance(&foretold, &results(&end));
                assert!(apart < 1e-9, "{apart:e}");
                return;
            }
            // plainly on: the acceleration would be there already
            z = image;
        }
        unreachable!("two differences tell");
    }

    #[test]
    fn after_growth_plain_cycles_double() {
        let mut search = Search::new();
        search.keeps_steps = true;
        let plain_after = |search: &mut Search, z: &mut f64| {
            let mut one = |accelerated: bool, residual: f64| {
                *z += 1.0;
                search.accelerated = accelerated;
                let at = [*z, 1.0];
                let image = [*z + 0.5, 1.0];
                let cycle = Cycle {
                    number: 9,
                    residual,
                    z: &at,
                    image: &image,
                    ahead: &image,
                    headlines: [1.0; 5],
                };
                search.aim(&cycle).candidate.is_some()
            };
            one(false, 1e-3);
            let mut plain = u32::from(!one(true, 2e-3));
            while !one(false, 1e-3) {
                plain += 1;
            }
            plain
        };
        let mut z = 0.0;
        let counts: Vec<u32> = (0..3).map(|_| plain_after(&mut search, &mut z)).collect();
        assert_eq!(counts, [2, 4, 8]);
    }
}
