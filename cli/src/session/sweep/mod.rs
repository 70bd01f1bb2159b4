//! Sweeps: threads, order, files, resuming, shards, merging. What a case means stands in the library.

pub(crate) mod commands;
mod dry_run;
#[cfg(test)]
mod hostile;
mod job;
mod merge;
mod progress;
pub(crate) mod results;
mod results_file;
mod row;
mod runner;
mod store;
mod sweep_file;
mod tally;
mod worker;

pub(crate) use crate::present::rows::Shard;
pub(crate) use results_file::ResultsFile;
