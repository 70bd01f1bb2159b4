//! Sweeps: threads, order, files, resuming, shards, merging. What a case means stands in the library.

pub(crate) mod dry_run;
#[cfg(test)]
mod hostile;
pub(crate) mod job;
pub(crate) mod merge;
pub(crate) mod progress;
mod results_file;
mod row;
pub(crate) mod runner;
pub(crate) mod store;
pub(crate) mod sweep_file;
pub(crate) mod tally;
mod worker;

pub(crate) use crate::present::rows::Shard;
pub(crate) use progress::duration;
pub(crate) use results_file::ResultsFile;
