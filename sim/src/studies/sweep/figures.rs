//! Geometric figures of a build, in closed form: what limits refuse, what is held, what a row says
//! beside its results.

use crate::geometry;
use crate::portable;
use crate::spec::{EngineSpec, Intake, Window};
use crate::units::{CM3, DEG, MM, TURN};

/// One named figure of a build.
pub struct Figure {
    /// Key in plans, rows and charts, unit last.
    pub key: &'static str,
    /// Words for an axis, unit in brackets.
    pub title: &'static str,
    /// What it is.
    pub meaning: &'static str,
    /// Its value; none where the engine has none.
    pub value: fn(&EngineSpec) -> Option<f64>,
}

impl std::fmt::Debug for Figure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.key)
    }
}

impl PartialEq for Figure {
    fn eq(&self, other: &Self) -> bool {
        self.key == other.key
    }
}

macro_rules! figures {
    ($($key:literal, $title:literal, $meaning:literal, $value:expr;)*) => {
        /// Every figure. A new one is one line here.
        pub const FIGURES: &[Figure] = &[$(Figure {
            key: $key,
            title: $title,
            meaning: $meaning,
            value: $value,
        }),*];
    };
}

figures! {
    "deck_mm", "deck [mm]", "Crown edge below the top face at top dead centre.", |s| Some(s.stack.deck / MM);
    "base_total_mm", "base stack [mm]", "Base gaskets and spacers together.", |s| Some(s.stack.base_total() / MM);
    "head_total_mm", "head gaskets [mm]", "Head gaskets together.", |s| Some(s.stack.head_total() / MM);
    "squish_mm", "squish gap [mm]", "Crown to squish land at top dead centre, cold.", |s| Some(geometry::squish_gap(s) / MM);
    "clearance_cm3", "clearance volume [cm³]", "Above the piston at top dead centre.", |s| Some(geometry::clearance_volume(s) / CM3);
    "geometric_ratio", "geometric compression [–]", "Over the full stroke.", |s| Some(geometry::geometric_ratio(s));
    "trapped_ratio", "trapped compression [–]", "Above exhaust closing.", trapped_compression;
    "crankcase_ratio", "crankcase compression [–]", "Largest over smallest crankcase volume.", |s| Some(geometry::crankcase_ratio(s));
    "exhaust_opens_deg_atdc", "exhaust opens [deg after top]", "The crown passes the highest exhaust roof.", |s| Some(period(s, &s.exhaust.windows)?.0 / DEG);
    "exhaust_duration_deg", "exhaust duration [deg]", "From the exhaust's opening to its closing.", |s| duration(s, &s.exhaust.windows);
    "transfer_opens_deg_atdc", "transfers open [deg after top]", "The crown passes the highest transfer roof.", |s| Some(first_transfer(s)?.0 / DEG);
    "transfer_duration_deg", "transfer duration [deg]", "From the first transfer opening to the last closing.", |s| first_transfer(s).map(|(a, b)| (b - a) / DEG);
    "blowdown_deg", "blowdown [deg]", "From exhaust opening to the first transfer opening.", blowdown;
    "intake_duration_deg", "intake duration [deg]", "From the intake's opening to its closing.", intake_duration;
    "exhaust_chord_to_bore", "exhaust chord over bore [–]", "Widest exhaust window across the chord, over the bore.", |s| widest(&s.exhaust.windows).map(|c| c / s.bore);
    "transfer_chord_to_bore", "transfer chord over bore [–]", "Widest transfer window across the chord, over the bore.", |s| s.transfers.iter().filter_map(|g| widest(&g.windows)).reduce(f64::max).map(|c| c / s.bore);
    "skirt_below_exhaust_floor_mm", "skirt below exhaust floor [mm]", "How far the skirt reaches below the lowest exhaust floor at top dead centre; negative: the exhaust opens into the crankcase.", skirt_cover;
    "exhaust_floor_margin_mm", "crown below exhaust floor [mm]", "How far the crown stands below the lowest exhaust floor at bottom dead centre; negative: the floor stays covered.", |s| floor_step(s, lowest(&s.exhaust.windows)?);
    "transfer_floor_margin_mm", "crown below transfer floor [mm]", "How far the crown stands below the lowest transfer floor at bottom dead centre; negative: the floor stays covered.", |s| floor_step(s, s.transfers.iter().filter_map(|g| lowest(&g.windows)).reduce(f64::max)?);
    "ring_end_clearance_mm", "ring ends to windows [mm]", "Least distance round the bore from a ring's peg to a window that the ring passes; negative: the ends run over it.", ring_ends;
}

/// The figure with this key.
#[must_use]
pub fn figure(key: &str) -> Option<&'static Figure> {
    FIGURES.iter().find(|f| f.key == key)
}

fn edge(spec: &EngineSpec) -> f64 {
    spec.stack.deck + spec.piston.crown_chamfer
}

/// Depth of the highest roof [m].
fn highest(windows: &[Window]) -> Option<f64> {
    windows.iter().map(|w| w.roof_depth).reduce(f64::min)
}

/// Depth of the lowest floor [m].
fn lowest(windows: &[Window]) -> Option<f64> {
    windows.iter().map(|w| w.floor_depth).reduce(f64::max)
}

/// Width of the widest [m].
fn widest(windows: &[Window]) -> Option<f64> {
    windows.iter().map(|w| w.chord).reduce(f64::max)
}

/// Opening and closing of crown-controlled windows [rad after top dead centre].
fn period(spec: &EngineSpec, windows: &[Window]) -> Option<(f64, f64)> {
    let crank = geometry::crank(spec);
    let drop = highest(windows)? - edge(spec);
    Some((crank.angle_down(drop)?, crank.angle_up(drop)?))
}

fn duration(spec: &EngineSpec, windows: &[Window]) -> Option<f64> {
    period(spec, windows).map(|(opens, closes)| (closes - opens) / DEG)
}

/// First opening and last closing of all transfers [rad after top dead centre].
fn first_transfer(spec: &EngineSpec) -> Option<(f64, f64)> {
    let roof = spec.transfers.iter().filter_map(|g| highest(&g.windows)).reduce(f64::min)?;
    let crank = geometry::crank(spec);
    let drop = roof - edge(spec);
    Some((crank.angle_down(drop)?, crank.angle_up(drop)?))
}

fn blowdown(spec: &EngineSpec) -> Option<f64> {
    let (exhaust, transfer) = (period(spec, &spec.exhaust.windows)?, first_transfer(spec)?);
    Some((transfer.0 - exhaust.0) / DEG)
}

fn trapped_compression(spec: &EngineSpec) -> Option<f64> {
    let drop = highest(&spec.exhaust.windows)? - edge(spec);
    Some(geometry::trapped_ratio(spec, drop))
}

fn intake_duration(spec: &EngineSpec) -> Option<f64> {
    match &spec.intake {
        Intake::Rotary { valve, .. } => Some((valve.closes - valve.opens) / DEG),
        Intake::PistonPort { windows, .. } | Intake::Reed { windows, .. } => {
            let crank = geometry::crank(spec);
            let drop = lowest(windows)? - spec.stack.deck - spec.piston.skirt_length;
            // open round top dead centre, as long as the skirt stands above the lowest floor
            let (shuts, opens) = (crank.angle_down(drop)?, crank.angle_up(drop)?);
            Some((shuts + TURN - opens) / DEG)
        }
    }
}

fn skirt_cover(spec: &EngineSpec) -> Option<f64> {
    let skirt = spec.stack.deck + spec.piston.skirt_length;
    lowest(&spec.exhaust.windows).map(|floor| (skirt - floor) / MM)
}

fn floor_step(spec: &EngineSpec, floor: f64) -> Option<f64> {
    let crown = spec.stack.deck + geometry::crank(spec).travel();
    Some((crown - floor) / MM)
}

fn ring_ends(spec: &EngineSpec) -> Option<f64> {
    let travel = geometry::crank(spec).travel();
    let inlet = spec.intake.windows();
    let transfers = spec.transfers.iter().flat_map(|g| &g.windows);
    let windows: Vec<&Window> = spec.exhaust.windows.iter().chain(transfers).chain(inlet).collect();
    let rings = spec.piston.ring_depths.iter().zip(&spec.piston.ring_pegs);
    let distances = rings.flat_map(|(depth, peg)| {
        let (top, bottom) = (spec.stack.deck + depth, spec.stack.deck + depth + travel);
        let passed = windows.iter().filter(move |w| w.roof_depth < bottom && w.floor_depth > top);
        passed.map(move |w| {
            let apart = (peg - w.centre).rem_euclid(TURN);
            let half = portable::asin((w.chord / spec.bore).clamp(-1.0, 1.0));
            0.5 * spec.bore * (apart.min(TURN - apart) - half)
        })
    });
    distances.reduce(f64::min).map(|d| d / MM)
}
