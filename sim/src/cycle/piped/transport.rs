//! What becomes of a difference in the gas from cycle to cycle.
//!
//! Gas goes down the pipes by the mass M that passes the engine in a cycle, and mixes on its way about as
//! in a row of cells of which each is well mixed: dφᵢ/dτ = (φᵢ₋₁ − φᵢ)/mᵢ, τ from 0 to M, with the mass mᵢ
//! of a cell or a vessel. Waves are forgotten. With S for what this makes of temperatures and shares over a
//! cycle, a change r is followed by Sr, S²r and so on, in all (I − S)⁻¹r. Place after place in the direction
//! of the flow this is one pass: φ at the start of a cycle is r and what is left of it at the end.
//!
//! A volume that the gas passes keeps the share 1 − M/m of what it held.

use crate::cycle::vector::passed;
use crate::model::{Model, Part, Piped};
use crate::pipe::{End, Node, Opening, Side};

/// Implicit steps from 0 to M.
const STEPS: usize = 16;
/// Share of a difference in temperature that the walls of pipes leave over a cycle (anything from 0.8 to 1
/// serves).
const LEFT: f64 = 0.95;
/// Most that a volume is taken to keep.
const MOST_KEPT: f64 = 0.95;
/// γ of what stands in volumes, to tell how a difference in mass or temperature becomes one in entropy.
const GAMMA: f64 = 1.4;

/// Temperature and burned share of a cell or vessel.
pub(super) type Mixture = [f64; 2];

/// Sums up in place what follows from changes of the mixture over a cycle, for each cell and vessel in the
/// order of the network's states, when `through` [kg] passes. The network is taken as last read off.
pub(super) fn sum_up(piped: &Piped, through: f64, changes: &mut [Mixture]) {
    if through <= 0.0 {
        return;
    }
    if let Some(part) = &piped.exhaust {
        pass(row(piped, part).into_iter(), through, changes);
    }
    if let Some(part) = &piped.inlet {
        pass(row(piped, part).into_iter().rev(), through, changes);
    }
}

/// One pass along places and their masses [kg], in the direction of the flow.
fn pass(row: impl Iterator<Item = (usize, f64)>, through: f64, changes: &mut [Mixture]) {
    // what leaves the place before, at the end of each step
    let mut arriving = [[0.0; STEPS]; 2];
    for (place, mass) in row {
        let c = through / mass / STEPS as f64;
        let step = |now: f64, arrives: f64| (now + c * arrives) / (1.0 + c);
        for ((change, arriving), left) in
            changes[place].iter_mut().zip(&mut arriving).zip([LEFT, 1.0])
        {
            let arrived = arriving.iter().fold(0.0, |now, a| step(now, *a));
            let kept = (0..STEPS).fold(1.0, |now, _| step(now, 0.0));
            *change = (*change + left * arrived) / (1.0 - left * kept);
            let mut now = *change;
            for a in arriving {
                now = step(now, *a);
                *a = now;
            }
        }
    }
}

/// Cells and vessels of a part from the engine outward, by number, with what they hold [kg].
fn row(piped: &Piped, part: &Part) -> Vec<(usize, f64)> {
    let network = &piped.network;
    let cells = |pipes: &[crate::pipe::Pipe]| pipes.iter().map(|p| p.grid().cells()).sum::<usize>();
    let mut row = Vec::new();
    for number in part.pipes.clone() {
        let pipe = &network.pipes()[number];
        let first = cells(&network.pipes()[..number]);
        let volumes = pipe.grid().volumes().iter().enumerate();
        row.extend(volumes.map(|(cell, volume)| (first + cell, pipe.density(cell) * volume)));
        if let End::Opening(Opening { to: Node::Vessel(vessel), .. }) =
            network.end(number, Side::Finish)
        {
            let mass = network.vessels()[*vessel].content.mass;
            row.push((cells(network.pipes()) + vessel, mass));
        }
    }
    row
}

/// The same for the volumes that the gas passes: replaces `image` by where cycles from `z` lead.
pub(super) fn sum_up_volumes(model: &Model, through: f64, z: &[f64], image: &mut [f64]) {
    for volume in passed(model) {
        let [mass, temperature] = volume.mass_and_temperature;
        let kept = 1.0 - through / (image[mass] * volume.scale);
        if !(0.0..1.0).contains(&kept) {
            continue;
        }
        let follows = 1.0 / (1.0 - kept.min(MOST_KEPT)) - 1.0;
        // a difference in entropy, at the pressure that always comes back
        let of = |at: usize, image: &[f64]| (image[at] - z[at]) / z[at];
        let hotter = (of(temperature, image) - (GAMMA - 1.0) * of(mass, image)) / GAMMA;
        image[mass] -= follows * hotter * z[mass];
        image[temperature] += follows * hotter * z[temperature];
        for share in volume.shares {
            image[share] += follows * (image[share] - z[share]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Places with their masses, and what passes them.
    const ROW: [f64; 6] = [0.3, 0.05, 0.2, 1.4, 0.1, 0.1];
    const THROUGH: f64 = 0.25;

    /// One cycle of the row: the same implicit steps, written down in time.
    fn cycle(now: &[f64; 6], left: f64) -> [f64; 6] {
        let mut now = *now;
        for _ in 0..STEPS {
            let mut before = 0.0;
            for (value, mass) in now.iter_mut().zip(ROW) {
                let c = THROUGH / mass / STEPS as f64;
                *value = (*value + c * before) / (1.0 + c);
                before = *value;
            }
        }
        now.map(|value| left * value)
    }

    #[test]
    fn one_pass_is_the_sum_of_all_cycles_to_come() {
        let first = [1.0, -0.5, 0.3, 0.8, 0.0, 0.2];
        let mut changes = first.map(|r| [r, -2.0 * r]);
        pass(ROW.into_iter().enumerate(), THROUGH, &mut changes);
        for (part, (left, factor)) in [(LEFT, 1.0), (1.0, -2.0)].into_iter().enumerate() {
            let (mut sum, mut now) = ([0.0; 6], first);
            for _ in 0..2000 {
                for (s, n) in sum.iter_mut().zip(now) {
                    *s += factor * n;
                }
                now = cycle(&now, left);
            }
            for (found, due) in changes.iter().zip(sum) {
                assert!((found[part] - due).abs() < 1e-10, "{changes:?} {sum:?}");
            }
        }
    }

    #[test]
    fn a_mixed_volume_keeps_what_the_exponential_says() {
        let mut changes = [[1.0; 2]];
        pass(std::iter::once((0, 5.0)), 1.0, &mut changes);
        let due = 1.0 / (1.0 - (-0.2_f64).exp());
        assert!((changes[0][1] / due - 1.0).abs() < 1e-2, "{changes:?} {due}");
    }
}
