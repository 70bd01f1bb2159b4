//! What a settled operating point says: verdict, cycle figures, ledger, traces.

mod columns;
mod mean;
mod summary;
mod trace;

pub use columns::{COLUMNS, Column};
pub use summary::{
    Balance, GroupFigures, Point, ReedFigures, Standstill, Summary, Verdict, WorkCounts,
};
pub use trace::{
    GroupTrace, OpeningTrace, PipeGas, PipeTrace, ReedTrace, Trace, TraceEvent, VolumeTrace,
    WavePair,
};
