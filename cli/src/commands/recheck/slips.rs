//! Readings that the job cannot have, and the slip that is likely behind each.
//!
//! Metal only comes off: between where an edge stood and where it shall stand lies every reading of an
//! honest job, and a little beyond, by the error of the reading or by a cut that went too far. What lies
//! elsewhere is more likely a slip of the pen, of the rule or of the datum than the truth.

use freshcharge_sim::scenario::Scenario;

use crate::commands::sheet::{Job, JobCut};

/// How far too far a cut is believed without asking [mm or cm³]: twice what is filed in the last steps
/// (common practice, no source). A larger planned cut is believed to go too far by as much again.
const BELIEVED: f64 = 1.0;

/// What is odd about a reading, in words; none where the job can have it.
pub(super) fn odd(job: &Job, cut: &JobCut, error: f64, scenario: &Scenario) -> Option<String> {
    let reading = cut.reading?;
    let unit = cut.unit();
    let done = cut.direction() * (reading - cut.from);
    let whole = (cut.to - cut.from).abs();
    // two readings of the same edge may differ by both their errors
    let slack = 2.0 * error;
    let most = whole + whole.max(BELIEVED) + error;
    let why = if done < -slack {
        let word = if cut.direction() < 0.0 { "at most" } else { "at least" };
        format!(
            "it stood at {:.2} {unit} before the first cut, and metal only comes off: {word} {:.2} {unit} is possible, with the errors of both readings",
            cut.from,
            cut.from - cut.direction() * slack
        )
    } else if done > most {
        format!(
            "that would be {:.2} {unit} beyond the mark of {:.2} {unit}, more than the whole cut of {whole:.2} {unit}",
            done - whole,
            cut.to
        )
    } else {
        return None;
    };
    let slips = slips(job, cut, error, scenario);
    let likely = if slips.is_empty() {
        "No usual slip explains it: look which edge and which datum you measured from, and read again.".to_owned()
    } else {
        format!("Likely: {}.", slips.join("; or "))
    };
    Some(format!("{why}. {likely}"))
}

/// Slips that would make an honest reading into this one.
fn slips(job: &Job, cut: &JobCut, error: f64, scenario: &Scenario) -> Vec<String> {
    let Some(reading) = cut.reading else { return Vec::new() };
    let unit = cut.unit();
    let fits = |value: f64, cut: &JobCut| {
        let (low, high) = (cut.from.min(cut.to), cut.from.max(cut.to));
        (low - cut.tolerance - error..=high + 1e-9 + error).contains(&value)
    };
    let mut found = Vec::new();
    for power in [0.1, 10.0, 0.01, 100.0] {
        if fits(reading * power, cut) {
            found.push(format!(
                "the decimal point slipped, and it is {:.2} {unit}",
                reading * power
            ));
        }
    }
    for value in transposed(reading) {
        if fits(value, cut) {
            found.push(format!("two digits changed places, and it is {value} {unit}"));
        }
    }
    if cut.unit() == "mm" && fits(reading * 25.4, cut) {
        found.push(format!("it was read in inches, and is {:.2} mm", reading * 25.4));
    }
    for (shift, words) in datums(job, cut, scenario) {
        if fits(reading + shift, cut) {
            found.push(format!("{words}, and it is {:.2} {unit}", reading + shift));
        }
    }
    let bore = scenario.value("crank_train.bore_mm").unwrap_or(0.0);
    if cut.path.ends_with(".chord_mm") && bore > 0.0 {
        let chord = bore * (reading / bore).sin();
        if fits(chord, cut) {
            found.push(format!("it was read along the wall instead of straight across, and the chord is {chord:.2} mm"));
        }
    }
    for other in job.cuts.iter().filter(|o| o.path != cut.path && o.unit() == unit) {
        if fits(reading, other) {
            found.push(format!("it belongs to {} ({})", other.name, other.what));
        }
    }
    found
}

/// The number with two neighbouring digits changed about.
fn transposed(reading: f64) -> Vec<f64> {
    let text = format!("{reading}");
    let digits: Vec<char> = text.chars().collect();
    let places: Vec<usize> = (0..digits.len()).filter(|i| digits[*i].is_ascii_digit()).collect();
    let swap = |pair: &[usize]| {
        let mut other = digits.clone();
        other.swap(pair[0], pair[1]);
        let value: f64 = other.into_iter().collect::<String>().parse().ok()?;
        (value != reading).then_some(value)
    };
    places.windows(2).filter_map(swap).collect()
}

/// Other places from which a depth may have been read: what to add to come to the right one.
fn datums(job: &Job, cut: &JobCut, scenario: &Scenario) -> Vec<(f64, String)> {
    if !cut.path.ends_with("_depth_mm") {
        return Vec::new();
    }
    let mut found = Vec::new();
    let face = job.cuts.iter().find(|c| c.name == "top_face").map_or(0.0, |c| c.to - c.from);
    if face > 0.0 {
        found.push((
            face,
            format!("it was read from the top face after that was cut by {face:.2} mm"),
        ));
    }
    for (thick, part) in [
        (job.stack.head, "the new head gasket"),
        (scenario.value("stack.head_total_mm").unwrap_or(0.0), "the old head gasket"),
    ] {
        if thick > 0.0 {
            found.push((-thick, format!("{part} ({thick:.2} mm) lay on the face")));
        }
    }
    let deck = scenario.spec.stack.deck * 1e3;
    if deck.abs() > 0.05 {
        found.push((
            deck,
            format!("it was read from the crown at top dead centre ({deck:.2} mm below the face)"),
        ));
    }
    let window = cut.path.trim_end_matches(".roof_depth_mm");
    let floor = scenario.value(&format!("{window}.floor_depth_mm")).unwrap_or(0.0);
    if floor > 0.0 {
        let reading = cut.reading.unwrap_or(0.0);
        found.push((
            floor - 2.0 * reading,
            "it is the height of the window, read from its floor".to_owned(),
        ));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_change_places() {
        assert_eq!(transposed(23.5), vec![32.5, 25.3]);
        assert_eq!(transposed(33.0), Vec::<f64>::new());
    }
}
