//! What a cycle with pipes leaves behind: traces, and the gas in the pipes over place and angle.

use super::coupled::Observer;
use crate::cycle::recorder::Tracer;
use crate::model::{Part, Piped};
use crate::network::Signals;
use crate::network::layout::{Layout, MASS};
use crate::pipe::Side;
use crate::result::{PipeGas, PipeTrace};
use crate::units::DEG;

/// Angle between two rows of a map [rad].
const ROW: f64 = 0.5 * DEG;

/// Records into a tracer.
pub(super) struct Recorder<'a> {
    tracer: &'a mut Tracer,
    exhaust: Option<PipeTrace>,
    inlet: Option<PipeTrace>,
    next: f64,
    /// What volumes and pipes hold at the start of the cycle.
    start: Vec<f64>,
}

impl<'a> Recorder<'a> {
    pub(super) fn new(tracer: &'a mut Tracer) -> Self {
        Self { tracer, exhaust: None, inlet: None, next: f64::NEG_INFINITY, start: Vec::new() }
    }

    /// Hands over what was recorded.
    pub(super) fn close(self) {
        let pipes = self.exhaust.into_iter().chain(self.inlet).collect();
        self.tracer.set_pipes(pipes, self.start);
    }
}

impl Observer for Recorder<'_> {
    fn at(&mut self, angle: f64, signals: &Signals<f64>, y: &[f64], piped: &Piped) {
        if self.start.is_empty() {
            self.start = [y, &piped.network.stored()].concat();
        }
        let masses = [y[Layout::CYLINDER + MASS], y[Layout::CRANKCASE + MASS]];
        self.tracer.at(angle, signals, masses);
        if angle < self.next {
            return;
        }
        self.next = angle + ROW;
        let sides = [
            ("exhaust", &piped.exhaust, &mut self.exhaust),
            ("inlet", &piped.inlet, &mut self.inlet),
        ];
        for (name, part, trace) in sides {
            if let Some(part) = part {
                let trace = trace.get_or_insert_with(|| begin(name, part, piped));
                row(trace, angle, part, piped);
            }
        }
    }
}

/// An empty trace with the places of all cells.
fn begin(name: &str, part: &Part, piped: &Piped) -> PipeTrace {
    let mut trace =
        PipeTrace { side: name.to_owned(), marks: part.marks.clone(), ..PipeTrace::default() };
    for (pipe, start) in part.pipes.clone().zip(&part.starts) {
        let grid = piped.network.pipes()[pipe].grid();
        trace.places.extend((0..grid.cells()).map(|cell| start + grid.middle(cell)));
        trace.diameters.extend_from_slice(grid.diameters());
        trace.ends.push(start + grid.length());
    }
    trace
}

fn row(trace: &mut PipeTrace, angle: f64, part: &Part, piped: &Piped) {
    trace.angle.push(angle);
    for index in part.pipes.clone() {
        let pipe = &piped.network.pipes()[index];
        trace.gas.extend((0..pipe.grid().cells()).map(|cell| {
            let s = pipe.middle_state(cell);
            PipeGas {
                pressure: s.pressure,
                velocity: s.velocity,
                temperature: s.temperature,
                burned: s.burned,
                sound: pipe.sound(cell),
            }
        }));
    }
    let port = piped.network.ports()[part.port].passing;
    let near = piped.network.end_state(part.pipes.start, Side::Start);
    trace.port_pressure.push(port.face_pressure);
    trace.port_velocity.push(near.velocity);
}
