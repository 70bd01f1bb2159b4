//! Windows in the bore: widths, areas, metal between them, ring ends.

use super::{List, Section};
use crate::portable;
use crate::spec::{StudHole, Window};
use crate::units::{DEG, MM, TURN};
use crate::window::Shape;

/// A window with the names it goes by.
struct Named<'a> {
    key: String,
    words: String,
    window: &'a Window,
    exhaust: bool,
}

fn all<'a>(list: &List<'a>) -> Vec<Named<'a>> {
    let spec = list.spec;
    let mut ports: Vec<(String, &[Window], bool)> =
        vec![("exhaust".to_owned(), &spec.exhaust.windows, true)];
    for group in &spec.transfers {
        ports.push((format!("transfer {}", group.name), &group.windows, false));
    }
    ports.push(("intake".to_owned(), spec.intake.windows(), false));
    let mut named = Vec::new();
    for (words, windows, exhaust) in ports {
        let several = windows.len() > 1;
        for (i, window) in windows.iter().enumerate() {
            let words = if several { format!("{words} {}", i + 1) } else { words.clone() };
            let key = words.replace([' ', '-'], "_").to_lowercase();
            named.push(Named { key, words, window, exhaust });
        }
    }
    named
}

/// Half the angle a window takes of the bore [rad].
fn half_angle(window: &Window, bore: f64) -> f64 {
    portable::asin((window.chord / bore).clamp(0.0, 1.0))
}

pub(super) fn gather(list: &mut List) {
    let bore = list.spec.bore;
    let section = Section::Windows;
    let named = all(list);
    for n in &named {
        let w = n.window;
        let mut put = |name: &str, what: &str, unit, value: f64| {
            list.put(
                section,
                format!("{}_{name}", n.key),
                format!("{} {what}", n.words),
                unit,
                value,
            );
        };
        put("chord_mm", "chord", "mm", w.chord / MM);
        put("arc_mm", "arc along the wall", "mm", bore * half_angle(w, bore) / MM);
        put("chord_to_bore", "chord to bore", "–", w.chord / bore);
        let Ok(shape) = Shape::of(w) else { continue };
        put("area_mm2", "area", "mm²", shape.area() * 1e6);
        let square = w.chord * shape.height();
        put(
            "shape_loss_percent",
            "area that radii and arch take",
            "%",
            100.0 * (1.0 - shape.area() / square),
        );
    }
    bridges(list, &named);
    stud_holes(list, &named);
    ring_ends(list, &named);
}

/// Least metal between windows and stud holes [m], the ducts taken to run straight out from the bore at
/// their windows' width; negative where one would break into a hole.
fn stud_holes(list: &mut List, named: &[Named]) {
    let bore = list.spec.bore;
    let metal = |n: &Named, hole: &StudHole| {
        let around = hole.centre - n.window.centre;
        // across the duct and along it, from the bore's axis
        let (across, along) =
            (hole.distance * portable::sin(around).abs(), hole.distance * portable::cos(around));
        let side = 0.5 * n.window.chord;
        let mouth = 0.5 * bore * portable::cos(half_angle(n.window, bore));
        let beside = across - side;
        let beyond = (mouth - along).max(0.0);
        let gap = if beyond > 0.0 { portable::hypot(beside.max(0.0), beyond) } else { beside };
        gap - 0.5 * hole.diameter
    };
    let holes = &list.spec.stud_holes;
    let nearest = |n: &Named| holes.iter().map(|hole| metal(n, hole)).reduce(f64::min);
    let found: Vec<Option<f64>> = named.iter().map(nearest).collect();
    for (n, least) in named.iter().zip(&found) {
        let Some(least) = least else { return };
        let key = format!("{}_stud_metal_mm", n.key);
        let words = format!("{} to the nearest stud hole", n.words);
        list.put(Section::Windows, key, words, "mm", least / MM);
    }
    if let Some(least) = found.into_iter().flatten().reduce(f64::min) {
        let words = "least metal to stud holes, ducts straight out";
        list.put(Section::Windows, "least_stud_metal_mm", words, "mm", least / MM);
    }
}

/// Least metal along the wall between windows that share a height [m].
fn bridges(list: &mut List, named: &[Named]) {
    let bore = list.spec.bore;
    let mut least: Option<f64> = None;
    let mut least_exhaust: Option<f64> = None;
    for (i, a) in named.iter().enumerate() {
        for b in &named[i + 1..] {
            let (wa, wb) = (a.window, b.window);
            let apart_in_height =
                wa.roof_depth >= wb.floor_depth || wb.roof_depth >= wa.floor_depth;
            if apart_in_height {
                continue;
            }
            let between = (wa.centre - wb.centre).rem_euclid(TURN);
            let between = between.min(TURN - between);
            let metal = (between - half_angle(wa, bore) - half_angle(wb, bore)) * 0.5 * bore;
            // a window that nothing but the default places has no known metal beside it; where a
            // place is given, windows that cover each other are refused
            let unplaced = |n: &Named| !n.exhaust && n.window.centre == 0.0;
            if metal < 0.0 && (unplaced(a) || unplaced(b)) {
                continue;
            }
            least = Some(least.map_or(metal, |l| l.min(metal)));
            if a.exhaust != b.exhaust {
                least_exhaust = Some(least_exhaust.map_or(metal, |l| l.min(metal)));
            }
        }
    }
    if let Some(metal) = least {
        let words = "least metal between neighbouring windows, along the wall";
        list.put(Section::Windows, "least_bridge_mm", words, "mm", metal / MM);
    }
    if let Some(metal) = least_exhaust {
        let words = "least metal between exhaust and its neighbours, along the wall";
        list.put(Section::Windows, "exhaust_bridge_mm", words, "mm", metal / MM);
    }
}

/// How far the ends of the rings stay from the edges of the windows they pass [°]; negative where an
/// end runs over a window.
fn ring_ends(list: &mut List, named: &[Named]) {
    let bore = list.spec.bore;
    let (deck, travel) = (list.spec.stack.deck, list.crank.travel());
    let mut least: Option<f64> = None;
    for (depth, peg) in list.spec.piston.ring_depths.iter().zip(&list.spec.piston.ring_pegs) {
        for n in named {
            let w = n.window;
            // the ring travels from here to there below the top face
            let (top, bottom) = (deck + depth, deck + depth + travel);
            if w.floor_depth < top || w.roof_depth > bottom {
                continue;
            }
            let apart = (peg - w.centre).rem_euclid(TURN);
            let apart = apart.min(TURN - apart) - half_angle(w, bore);
            least = Some(least.map_or(apart, |l| l.min(apart)));
        }
    }
    if let Some(apart) = least {
        let words = "ring ends to the nearest window edge they pass";
        list.put(Section::Windows, "ring_end_margin_deg", words, "°", apart / DEG);
    }
}
