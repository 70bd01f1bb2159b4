//! `freshcharge recheck`: readings in mid-job, what is left, go or stop.

use std::fmt::Write as _;
use std::path::Path;

use freshcharge_sim::scenario::keys::UsualError;
use freshcharge_sim::scenario::{Scenario, key_at};

use super::goals::{Goals, LAND_OFFSET, add, land_at};
use super::plan;
use super::run::load;
use super::sheet::{Job, JobCut};
use crate::Outcome;
use crate::args::RecheckArgs;
use crate::export::layout::number;
use crate::faults;
use crate::files::{self, Failure};

/// Reads a job file with its engine and goals.
pub(super) fn read(path: &Path) -> Result<(Job, Goals, Scenario), Failure> {
    let text = files::read_text(path)?;
    let job: Job = toml::from_str(&text).map_err(|error| {
        let line = error.span().map_or(1, |s| 1 + text[..s.start].matches('\n').count());
        Failure::Faults(format!(
            "{}:{line}: {}\nWrite readings as reading = 31.2, in the unit of the cut; nothing was checked.\n",
            path.display(),
            faults::syntax_remedy(&text, &error)
        ))
    })?;
    let beside = path.parent().unwrap_or(Path::new(""));
    let (scenario, _) = load(&beside.join(&job.engine))?;
    let (planned, now) = (job.model, scenario.spec.model.number());
    if planned != now {
        return Err(Failure::Faults(format!(
            "{}: the plan was made with version {planned} of the model, {} is now computed by version {now}. Results of two versions are never mixed: add --model {planned}, or make the plan anew.\n",
            path.display(),
            job.engine.display()
        )));
    }
    let goals = Goals::of(job.plan.clone(), &scenario).map_err(|(name, remedy)| {
        Failure::Faults(format!("{}: {name}: {remedy}\n", path.display()))
    })?;
    Ok((job, goals, scenario))
}

/// Runs the command.
pub(crate) fn run(args: &RecheckArgs) -> Result<Outcome, Failure> {
    let (job, goals, scenario) = read(&args.job)?;
    let mut out = format!("{}\n", scenario.spec.name);
    let mut over = false;
    for cut in &job.cuts {
        over |= judge(&mut out, cut);
    }
    let engine = forecast(&mut out, &job, &goals, &scenario);
    if over && let Some(engine) = engine {
        rescue(&mut out, &job, &goals, &engine);
    }
    files::print(&out)?;
    Ok(if over { Outcome::Incomplete } else { Outcome::Done })
}

/// Error of a reading: told, or usual for such a measurement.
fn error_of(cut: &JobCut) -> f64 {
    cut.reading_error.unwrap_or_else(|| match key_at(&cut.path).map(|(_, k)| k.usual_error) {
        Some(UsualError::Absolute(e)) => e,
        _ => 0.05,
    })
}

/// What is left of one cut; true when it has gone too far.
fn judge(out: &mut String, cut: &JobCut) -> bool {
    let unit = if cut.path.ends_with("cm3") { "cm³" } else { "mm" };
    let Some(reading) = cut.reading else {
        let _ = writeln!(
            out,
            "{}: no reading yet; {:.2} {unit} to go.",
            cut.what,
            (cut.to - cut.from).abs()
        );
        return false;
    };
    let direction = (cut.to - cut.from).signum();
    let left = direction * (cut.to - reading);
    let error = error_of(cut);
    // chance that the true size is already past the final one's tolerance, with the half-width taken as
    // two standard deviations
    let risk = 1.0 - normal((left + cut.tolerance) / (0.5 * error).max(1e-9));
    let _ = write!(out, "{}: reads {reading:.2} ± {error} {unit}, ", cut.what);
    if left < -cut.tolerance {
        let _ = writeln!(out, "{:.2} {unit} too far. STOP.", -left);
        return true;
    }
    if left <= cut.tolerance {
        let _ = writeln!(
            out,
            "done: within ± {} of {:.2}. Stop here (chance that it is already too far: {:.0} %).",
            cut.tolerance,
            cut.to,
            100.0 * risk
        );
    } else if left <= error + cut.tolerance {
        let _ = writeln!(
            out,
            "{left:.2} {unit} left, within reach of the reading's own error. Measure twice more before going on."
        );
    } else {
        let _ = writeln!(
            out,
            "{left:.2} {unit} left. Go on to {:.2}, then measure again.",
            cut.to - direction * (0.3 * left).max(cut.tolerance)
        );
    }
    false
}

/// Standard normal distribution (Abramowitz and Stegun 1964, 7.1.26, error below 1.5e-7).
fn normal(z: f64) -> f64 {
    let x = z.abs() / std::f64::consts::SQRT_2;
    let t = 1.0 / (1.0 + 0.327_591_1 * x);
    let poly = t
        * (0.254_829_592
            + t * (-0.284_496_736
                + t * (1.421_413_741 + t * (-1.453_152_027 + t * 1.061_405_429))));
    let erf = 1.0 - poly * (-x * x).exp();
    0.5 * (1.0 + erf.copysign(z))
}

/// The engine as it would be if everything else came out as planned; goals held against it.
fn forecast(out: &mut String, job: &Job, goals: &Goals, scenario: &Scenario) -> Option<Scenario> {
    let mut changes = vec![
        ("stack.base_total_mm".to_owned(), job.stack.base + job.stack.spacer),
        ("stack.head_total_mm".to_owned(), job.stack.head),
    ];
    let mut so_far = changes.clone();
    for cut in &job.cuts {
        let direction = (cut.to - cut.from).signum();
        // what is past the mark stays there; the rest is still to come
        let end = cut.reading.filter(|r| direction * (r - cut.to) > 0.0).unwrap_or(cut.to);
        let so_far_at = cut.reading.unwrap_or(cut.from);
        for (list, at) in [(&mut changes, end), (&mut so_far, so_far_at)] {
            if cut.path == LAND_OFFSET {
                for (path, value) in land_at(scenario, at) {
                    add(scenario, list, path.to_owned(), value);
                }
            } else {
                add(scenario, list, cut.path.clone(), at);
            }
        }
    }
    let with = |changes: &[(String, f64)]| {
        let changes: Vec<(&str, f64)> = changes.iter().map(|(p, v)| (p.as_str(), *v)).collect();
        scenario.with_all(&changes).ok()
    };
    let end = with(&changes)?;
    let values = goals.values(&end)?;
    let _ = writeln!(out, "\nForecast when the rest comes out as planned:");
    for ((key, value), (goal, range)) in
        goals.keys.iter().zip(&values).zip(goals.goals.iter().zip(goals.file.goals.values()))
    {
        let low = goal.least.is_some_and(|l| *value < l - 1e-9);
        let high = goal.most.is_some_and(|m| *value > m + 1e-9);
        let word = if low || high { "MISSED" } else { "met" };
        let _ = writeln!(out, "  {key} = {} ({}): {word}", number(*value), range.words());
    }
    with(&so_far)
}

/// What can still be done after a cut has gone too far, best first.
fn rescue(out: &mut String, job: &Job, goals: &Goals, engine: &Scenario) {
    let plans = plan::search(engine, goals);
    let _ = writeln!(out, "\nWays out, cheapest first (stack from the shelf, cuts from here on):");
    for (i, plan) in plans.iter().take(3).enumerate() {
        let c = plan.choice;
        let same = c == job.stack;
        let _ = write!(
            out,
            "  {}. base gasket {:.2}, spacer {:.2}, head gasket {:.2} mm{}",
            i + 1,
            c.base,
            c.spacer,
            c.head,
            if same { " (the planned stack)" } else { "" }
        );
        for (kind, amount) in
            goals.kinds.iter().zip(&plan.solution.amounts).filter(|(_, a)| **a > 1e-6)
        {
            let _ = write!(out, "; {amount:.2} {} {}", kind.unit(), kind.words());
        }
        if plan.solution.relaxation > 0.0 {
            out.push_str("; a goal must give way:");
            for ((key, goal), value) in
                goals.keys.iter().zip(&goals.goals).zip(&plan.solution.values)
            {
                let low = goal.least.is_some_and(|l| *value < l - 1e-9);
                let high = goal.most.is_some_and(|m| *value > m + 1e-9);
                if low || high {
                    let _ = write!(out, " {key} = {}", number(*value));
                }
            }
        }
        out.push('\n');
    }
}
