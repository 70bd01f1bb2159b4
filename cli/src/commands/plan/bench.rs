//! Many engines at many speeds at once: in lanes, on all cores.

use std::sync::Arc;

use freshcharge_sim::cycle::{Chain, Settings, solve};
use freshcharge_sim::model::Engine;
use freshcharge_sim::result::Point;
use freshcharge_sim::spec::EngineSpec;
use rayon::prelude::*;

use crate::session::progress::Watch;

/// Each case from cold, as a single run would settle it, to the bit; none where it cannot be simulated,
/// does not settle, or the work was stopped before.
pub(crate) fn simulate_all(
    cases: &[(EngineSpec, f64)],
    settings: &Settings,
    watch: &Watch,
) -> Vec<Option<Point>> {
    let threads = rayon::current_num_threads().clamp(1, cases.len().max(1));
    // neighbours go to different threads: they take about the same time
    let share = |thread: usize| {
        let mut next = (thread..cases.len()).step_by(threads);
        let mut found = Vec::new();
        let mut source = || {
            while let Some(index) = next.next().filter(|_| !watch.stopped()) {
                let (spec, rpm) = &cases[index];
                match Engine::new(spec).and_then(|engine| engine.at_speed(*rpm)) {
                    Ok(model) => return Some(Chain { index, models: vec![Ok(Arc::new(model))] }),
                    Err(_) => watch.advance(),
                }
            }
            None
        };
        solve(settings, &mut source, &mut |index, _, result| {
            watch.advance();
            found.extend(result.ok().filter(|p| p.verdict.settled()).map(|p| (index, p)));
        });
        found
    };
    let found: Vec<(usize, Point)> = (0..threads).into_par_iter().flat_map_iter(share).collect();
    let mut points: Vec<Option<Point>> = cases.iter().map(|_| None).collect();
    for (index, point) in found {
        points[index] = Some(point);
    }
    points
}
