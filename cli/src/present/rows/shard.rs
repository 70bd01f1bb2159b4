//! Which part of a sweep a process computes.

use std::fmt;
use std::path::{Path, PathBuf};
use std::str::FromStr;

/// Which part of a sweep this process computes: every `of`-th chain, counted from `number`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Shard {
    /// From 1.
    pub(crate) number: u64,
    /// Parts in all.
    pub(crate) of: u64,
}

impl Shard {
    /// The whole sweep.
    pub(crate) const WHOLE: Self = Self { number: 1, of: 1 };

    /// How many of `chains` are its own.
    pub(crate) fn chains(self, chains: u64) -> u64 {
        (chains + self.of - self.number) / self.of
    }

    /// Its chain at a position.
    pub(crate) fn chain(self, position: u64) -> u64 {
        position * self.of + self.number - 1
    }

    /// Its results file.
    pub(crate) fn file(self, folder: &Path) -> PathBuf {
        if self == Self::WHOLE {
            return folder.join("results.csv");
        }
        folder.join(format!("results-{}-of-{}.csv", self.number, self.of))
    }
}

impl fmt::Display for Shard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.number, self.of)
    }
}

impl FromStr for Shard {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let parts = text.split_once('/');
        let numbers = parts.and_then(|(n, of)| Some((n.parse().ok()?, of.parse().ok()?)));
        match numbers {
            Some((number, of)) if (1..=of).contains(&number) && of <= 100_000 => {
                Ok(Self { number, of })
            }
            _ => Err("write number/of, such as 2/7, counted from 1".to_owned()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shards_share_every_chain_once() {
        for (chains, of) in [(0, 3), (1, 4), (7, 7), (100, 7), (495, 4)] {
            let mut seen = vec![0; chains as usize];
            for number in 1..=of {
                let shard = Shard { number, of };
                (0..shard.chains(chains)).for_each(|p| seen[shard.chain(p) as usize] += 1);
            }
            assert!(seen.iter().all(|n| *n == 1), "{chains} of {of}");
        }
        assert!("0/3".parse::<Shard>().is_err() && "4/3".parse::<Shard>().is_err());
        assert!("x".parse::<Shard>().is_err());
        assert_eq!("2/7".parse(), Ok(Shard { number: 2, of: 7 }));
    }
}
