//! Names that come near one that is not known: what "did you mean" is made from, everywhere.

use super::fault::quoted;

/// Likeness from which a known name is offered instead of a list of all.
const LIKELY: f64 = 0.75;
/// Known names that are listed where none is likely.
const LISTED: usize = 60;

/// Of names with their likeness, the greatest likeness and the names that come near it, at most three.
pub(super) fn nearest<T: AsRef<str>>(known: impl Iterator<Item = (f64, T)>) -> (f64, Vec<T>) {
    let mut known: Vec<_> = known.collect();
    known.sort_by(|a, b| b.0.total_cmp(&a.0));
    let best = known.first().map_or(0.0, |k| k.0);
    known.retain(|k| k.0 > best - 0.04);
    (best, known.into_iter().take(3).map(|k| k.1).collect())
}

/// What to say of a name that is not known: why, and the names that it may have meant, else those there are.
#[must_use]
pub fn or_nearest(why: &str, name: &str, known: impl Iterator<Item = impl AsRef<str>>) -> String {
    let name: String = name.chars().take(200).collect();
    let known: Vec<_> = known.collect();
    let likeness = |k: &str| strsim::jaro_winkler(k, &name);
    let (best, near) = nearest(known.iter().map(|k| (likeness(k.as_ref()), k.as_ref())));
    let shown =
        |names: &[&str], join: &str| names.iter().map(|n| quoted(n)).collect::<Vec<_>>().join(join);
    if known.is_empty() {
        return format!("{why}; there is none");
    }
    if best > LIKELY {
        return format!("{why}; did you mean {}?", shown(&near, " or "));
    }
    let listed: Vec<&str> = known.iter().take(LISTED).map(AsRef::as_ref).collect();
    let more = known.len().saturating_sub(LISTED);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{why}; known are {}{more}", shown(&listed, ", "))
}
