//! The state at exhaust opening as the vector that must repeat: masses, temperatures and shares, all
//! of order one.

use crate::model::Model;
use crate::network::layout::{
    BURNED, ENERGY, HOT, LATE, LIFT, Layout, MASS, OLD, SLUG_BURNED, SLUG_MASS, SLUG_POTENTIAL,
    VELOCITY,
};

/// Temperature that counts as one [K].
const TEMPERATURE_SCALE: f64 = 1000.0;

/// Scaled vector of a state at exhaust opening.
#[must_use]
pub(super) fn vector(model: &Model, y: &[f64]) -> Vec<f64> {
    let layout = model.case.choices.layout;
    let gas = &model.case.numbers.gas;
    let mut z = Vec::with_capacity(y.len());
    for at in volumes(&layout) {
        let mass = y[at + MASS];
        let b = y[at + BURNED] / mass;
        z.push(mass / model.scale[at + MASS]);
        z.push(gas.at(b).from_energy(y[at + ENERGY] / mass).temperature / TEMPERATURE_SCALE);
        z.push(b);
    }
    let case_mass = y[Layout::CRANKCASE + MASS];
    for tracer in [OLD, HOT, LATE] {
        z.push(y[layout.crankcase_tracers() + tracer] / case_mass);
    }
    if layout.silencer {
        z.push(y[layout.silencer_old()] / y[layout.silencer() + MASS]);
    }
    for g in 0..layout.groups {
        let (at, tracers) = (layout.slug(g), layout.slug_tracers(g));
        for part in [SLUG_MASS, SLUG_BURNED, SLUG_POTENTIAL] {
            z.push(y[at + part] / model.scale[at + part]);
        }
        for tracer in [OLD, HOT, LATE] {
            z.push(y[tracers + tracer] / model.scale[at + SLUG_MASS]);
        }
    }
    z.extend(columns(&layout).chain(petals(&layout)).map(|at| y[at] / model.scale[at]));
    z
}

/// The state of a scaled vector; none when it lies outside what gas can be. All gas in the cylinder
/// counts as old from here on.
#[must_use]
pub(super) fn state(model: &Model, z: &[f64]) -> Option<Vec<f64>> {
    let layout = model.case.choices.layout;
    let gas = &model.case.numbers.gas;
    let mut y = vec![0.0; layout.states()];
    let mut values = z.iter().copied();
    for at in volumes(&layout) {
        let mass = values.next()? * model.scale[at + MASS];
        let temperature = values.next()? * TEMPERATURE_SCALE;
        let b = values.next()?;
        if !(mass > 0.0 && admissible_temperature(temperature) && candidate_share(b)) {
            return None;
        }
        y[at + MASS] = mass;
        y[at + ENERGY] = mass * gas.at(b).state(temperature).energy();
        y[at + BURNED] = mass * b;
    }
    let case_mass = y[Layout::CRANKCASE + MASS];
    for tracer in [OLD, HOT, LATE] {
        y[layout.crankcase_tracers() + tracer] = values.next()? * case_mass;
    }
    if layout.silencer {
        y[layout.silencer_old()] = values.next()? * y[layout.silencer() + MASS];
    }
    let mut slugs = 0.0;
    for g in 0..layout.groups {
        let (at, tracers) = (layout.slug(g), layout.slug_tracers(g));
        for part in [SLUG_MASS, SLUG_BURNED, SLUG_POTENTIAL] {
            y[at + part] = values.next()? * model.scale[at + part];
        }
        for tracer in [OLD, HOT, LATE] {
            y[tracers + tracer] = values.next()? * model.scale[at + SLUG_MASS];
        }
        slugs += y[at + SLUG_MASS];
        if y[at + SLUG_MASS] < -1e-3 * model.scale[at + SLUG_MASS] {
            return None;
        }
    }
    for at in columns(&layout).chain(petals(&layout)) {
        y[at] = values.next()? * model.scale[at];
    }
    for s in 0..layout.petals {
        let at = layout.petal(s) + LIFT;
        let near = y[at].abs() <= FARTHEST * model.case.numbers.petals[s].stop;
        if !near {
            return None;
        }
    }
    y[layout.cylinder_old()] = y[Layout::CYLINDER + MASS];
    (slugs < 0.9 * case_mass).then_some(y)
}

/// A petal goes no farther than this from its seat, over the lift at the stop.
const FARTHEST: f64 = 2.0;

/// An entry is displaced in a probing cycle by this much.
const DISPLACEMENT: f64 = 1e-4;
/// Below this a column counts as at rest.
const AT_REST: f64 = 1e-9;

/// Entries displaced together in a probing cycle.
pub(super) type Probe = Vec<usize>;

/// The probing cycles that tell how `image` depends on `z`: one for each mass, temperature, share and
/// flow that is not at rest. Left out are mass and burned share of the cylinder, because what it
/// holds leaves (two of ten cycles saved for less than one more at the end; leaving out any other
/// costs several), and the gas returned to all groups of transfer ducts but one, because to the rest
/// of the engine it matters little where it lies, and of ducts that hold none. The tags of origin are carried along without acting
/// on anything: one cycle displaces each kind of tag in another place.
#[must_use]
pub(super) fn probes(model: &Model, z: &[f64], image: &[f64]) -> Vec<Probe> {
    let layout = &model.case.choices.layout;
    let tags = tags(layout);
    let tagged = |i: usize| tags.iter().flatten().any(|tag| *tag == i);
    let rests = |i: usize| z[i].abs() < AT_REST && image[i].abs() < AT_REST;
    let empty = empty_slugs(model, z, image);
    let pattern = empty.iter().position(|empty| !empty);
    let likened =
        |i: usize| (0..layout.groups).any(|g| Some(g) != pattern && slug(&tags, g).contains(&i));
    let petals = z.len() - 2 * layout.petals;
    let columns = petals - self::columns(layout).count();
    // petals pressed on their seats forget at once how they came there
    let seated = |i: usize| i >= petals && z[i - (i - petals) % 2] <= 0.0;
    // the cylinder comes first
    let leaves = |i: usize| i == 0 || i == 2;
    let alone = (0..z.len())
        .filter(|i| {
            !(leaves(*i)
                || tagged(*i)
                || likened(*i)
                || (*i >= columns && (rests(*i) || seated(*i))))
        })
        .map(|i| vec![i]);
    let places: Vec<(bool, [usize; 3])> =
        std::iter::once(false).chain(empty.iter().copied()).zip(tags.iter().copied()).collect();
    let kinds = |places: &[(bool, [usize; 3])]| {
        let kept = places.iter().enumerate().filter(|(_, (empty, _))| !empty);
        kept.map(|(k, (_, at))| at[k]).collect::<Probe>()
    };
    alone.chain(places.chunks(3).map(kinds)).filter(|probe| !probe.is_empty()).collect()
}

/// Groups whose ducts hold so little returned gas, at the start and at the end, that a displacement would be all
/// of it. How a slug of almost nothing goes on says nothing: its heat and its tags stay, for nothing leaves that
/// would take them along, and to Newton's method such an entry is a direction in which the map does not move.
fn empty_slugs(model: &Model, z: &[f64], image: &[f64]) -> Vec<bool> {
    let layout = &model.case.choices.layout;
    let tags = tags(layout);
    let empty = |g: usize| {
        let mass = slug(&tags, g).start;
        z[mass].abs() < DISPLACEMENT && image[mass].abs() < DISPLACEMENT
    };
    (0..layout.groups).map(empty).collect()
}

/// The vector of a probing cycle.
#[must_use]
pub(super) fn displaced(z: &[f64], probe: &Probe) -> Vec<f64> {
    let mut z = z.to_vec();
    for entry in probe {
        z[*entry] += DISPLACEMENT;
    }
    z
}

/// Columns of the derivative of the cycle map that took `z` to `image`, from the images of the probing cycles.
#[must_use]
pub(super) fn derivative(
    model: &Model,
    (z, image): (&[f64], &[f64]),
    probes: &[Probe],
    images: &[Vec<f64>],
) -> Vec<Vec<f64>> {
    let n = image.len();
    let layout = &model.case.choices.layout;
    let tags = tags(layout);
    let mut columns = vec![vec![0.0; n]; n];
    for (probe, moved) in probes.iter().zip(images) {
        let rate = |row: usize| (moved[row] - image[row]) / DISPLACEMENT;
        for entry in probe {
            let Some((place, kind)) = position(&tags, *entry) else {
                columns[*entry] = (0..n).map(rate).collect();
                continue;
            };
            // what becomes of one kind of tag would become of any other
            for like in 0..3 {
                for to in &tags {
                    columns[tags[place][like]][to[like]] = rate(to[kind]);
                }
            }
        }
    }
    let empty = empty_slugs(model, z, image);
    let Some(pattern) = empty.iter().position(|empty| !empty) else { return columns };
    for g in (0..layout.groups).filter(|g| *g != pattern && !empty[*g]) {
        for (part, (of, like)) in slug(&tags, g).zip(slug(&tags, pattern)).enumerate() {
            let full = |g: usize| model.scale[layout.slug(g) + part];
            let ratio = full(g) / full(pattern);
            columns[of] = columns[like].iter().map(|rate| rate * ratio).collect();
        }
    }
    columns
}

/// Entries of the gas returned to a group's ducts, ahead of its tags.
fn slug(tags: &[[usize; 3]], group: usize) -> std::ops::Range<usize> {
    let end = tags[1 + group][0];
    end - 3..end
}

/// Place and kind of a tag.
fn position(tags: &[[usize; 3]], entry: usize) -> Option<(usize, usize)> {
    let found = |place: &[usize; 3]| place.iter().position(|tag| *tag == entry);
    tags.iter().enumerate().find_map(|(place, of)| Some((place, found(of)?)))
}

/// Entries of the tags of origin, by place: crankcase, then each group's ducts.
fn tags(layout: &Layout) -> Vec<[usize; 3]> {
    let crankcase = 3 * volumes(layout).count();
    let slugs = crankcase + 3 + usize::from(layout.silencer);
    let group = |g: usize| slugs + 6 * g + 3;
    let from = std::iter::once(crankcase).chain((0..layout.groups).map(group));
    from.map(|first| std::array::from_fn(|tag| first + tag)).collect()
}

/// Largest change from `from` to `to`, relative for masses and temperatures, absolute for shares and
/// for what is measured in filled ducts; and which entry it is.
#[must_use]
pub(super) fn change(model: &Model, from: &[f64], to: &[f64]) -> (f64, usize) {
    let count = 3 * volumes(&model.case.choices.layout).count();
    let mut largest = (0.0, 0);
    for (i, (a, b)) in from.iter().zip(to).enumerate() {
        let share = i >= count || i % 3 == 2;
        let difference = (b - a).abs() / if share { 1.0 } else { a.abs() };
        // a NaN must win
        if difference > largest.0 || difference.is_nan() {
            largest = (difference, i);
        }
    }
    largest
}

/// What entry `index` of the vector is, in words.
#[must_use]
pub(super) fn name(model: &Model, index: usize) -> String {
    let layout = model.case.choices.layout;
    let places: &[&str] = if layout.silencer {
        &["cylinder", "crankcase", "silencer"]
    } else {
        &["cylinder", "crankcase"]
    };
    let quantity = ["mass", "temperature", "burned share"];
    if index < 3 * places.len() {
        return format!("{} of the {}", quantity[index % 3], places[index / 3]);
    }
    let rest = index - 3 * places.len();
    if rest < 3 + usize::from(layout.silencer) {
        return "origin of the gas in the crankcase".to_owned();
    }
    let count = 6 * layout.groups + columns(&layout).count();
    let rest = rest - 3 - usize::from(layout.silencer);
    if rest >= count {
        return "petals of the reed valve".to_owned();
    }
    let group = rest / 6;
    match model.reference.group_names.get(group) {
        Some(name) => format!("returned gas in the transfer ducts {name}"),
        None => "returned gas in the transfer ducts".to_owned(),
    }
}

/// Entries of a volume that the gas passes on its way through the engine.
pub(super) struct Passed {
    pub(super) mass_and_temperature: [usize; 2],
    /// Burned share and shares of tags.
    pub(super) shares: Vec<usize>,
    /// Mass that counts as one [kg].
    pub(super) scale: f64,
}

/// The volumes that the gas passes but for the cylinder, which it leaves.
pub(super) fn passed(model: &Model) -> Vec<Passed> {
    let layout = &model.case.choices.layout;
    let tags = 3 * volumes(layout).count();
    let volume = |number: usize, state: usize, tags: std::ops::Range<usize>| Passed {
        mass_and_temperature: [3 * number, 3 * number + 1],
        shares: std::iter::once(3 * number + 2).chain(tags).collect(),
        scale: model.scale[state + MASS],
    };
    let mut all = vec![volume(1, Layout::CRANKCASE, tags..tags + 3)];
    if layout.silencer {
        all.push(volume(2, layout.silencer(), tags + 3..tags + 4));
    }
    all
}

/// Flows of gas columns; at rest at exhaust opening where their windows are shut then.
fn columns(layout: &Layout) -> impl Iterator<Item = usize> + use<> {
    let layout = *layout;
    (0..layout.groups).filter_map(move |g| layout.column(g)).chain(layout.inlet())
}

/// Lifts and velocities of petals.
fn petals(layout: &Layout) -> impl Iterator<Item = usize> + use<> {
    let layout = *layout;
    (0..layout.petals).flat_map(move |s| [LIFT, VELOCITY].map(|part| layout.petal(s) + part))
}

fn volumes(layout: &Layout) -> impl Iterator<Item = usize> + use<> {
    [Layout::CYLINDER, Layout::CRANKCASE]
        .into_iter()
        .chain(layout.silencer.then(|| layout.silencer()))
}

/// Bounds within which the property polynomials hold [K].
pub(super) fn admissible_temperature(t: f64) -> bool {
    (150.0..6000.0).contains(&t)
}

/// An accelerated state must not lean on the bound that the running cycle is held to.
pub(super) fn candidate_share(b: f64) -> bool {
    (-5e-3..=1.005).contains(&b)
}

/// Rounding and integration error may carry a share a little outside 0 to 1.
pub(super) fn admissible_share(b: f64) -> bool {
    (-0.01..=1.01).contains(&b)
}
