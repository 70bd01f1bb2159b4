//! `freshcharge recheck`: readings in mid-job, what is left, go or stop.

mod slips;
mod ways;

use std::fmt::Write as _;
use std::path::Path;

use freshcharge_sim::cycle::Settings;
use freshcharge_sim::forms::Faults;
use freshcharge_sim::scenario::keys::{Unit, UsualError};
use freshcharge_sim::scenario::{Scenario, key_at, parse_quantity};

use super::goals::{Goals, LAND_OFFSET, add, land_at};
use super::plan::{cautions, simulate_all};
use super::sheet::{self, Job, JobCut};
use crate::Outcome;
use crate::args::RecheckArgs;
use crate::present::faults;
use crate::present::tables::layout::{number, wrapped};
use crate::session::engine::load;
use crate::session::files::{self, Failure};
use crate::session::progress::Watch;

/// Reads a job file with its engine and goals.
pub(super) fn read(path: &Path) -> Result<(Job, Goals, Scenario), Failure> {
    let text = files::read_text(path)?;
    let refused = |faults: &Faults| {
        let report = faults::report(path, &text, faults);
        Failure::Faults(format!(
            "{report}Write readings as reading = 31.2, in the unit of the cut.\n"
        ))
    };
    let (job, mut written) = freshcharge_sim::forms::job::read(&text).map_err(|f| refused(&f))?;
    let mut job = Job::from_file(job);
    sheet::name(&mut job.cuts);
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
    for (i, cut) in job.cuts.iter().enumerate().filter(|(_, c)| !c.path.is_empty()) {
        if let Err(remedy) = scenario.paths(&cut.path) {
            written.add(&format!("cut[{i}].path"), remedy);
        }
    }
    let goals = Goals::of(written, &scenario).map_err(|f| refused(&f))?;
    Ok((job, goals, scenario))
}

/// Runs the command.
pub(crate) fn run(args: &RecheckArgs) -> Result<Outcome, Failure> {
    let (mut job, goals, scenario) = read(&args.job)?;
    for given in &args.readings {
        enter(&mut job, given)?;
    }
    for name in &args.confirm {
        find(&job, name, "--confirm")?;
    }
    let mut out = format!("{}\n", scenario.spec.name);
    let (mut asked, mut over, mut open) = (false, false, false);
    for i in 0..job.cuts.len() {
        let cut = &job.cuts[i];
        let sure = args.confirm.contains(&cut.name);
        if let Some(why) = slips::odd(&job, cut, error_of(cut), &scenario).filter(|_| !sure) {
            ask(&mut out, cut, &why);
            asked = true;
            job.cuts[i].reading = None;
            continue;
        }
        match judge(&mut out, cut) {
            State::Over => over = true,
            State::Open => open = true,
            State::Done => {}
        }
    }
    if asked {
        let words = format!(
            "Cut nothing until this is cleared up. Measure again, then freshcharge recheck {} NAME=READING; a reading that is really so is taken with --confirm NAME.",
            args.job.display()
        );
        let _ = writeln!(out, "\n{}", wrapped(&words));
        files::print(&out)?;
        return Ok(Outcome::Incomplete);
    }
    let builds = Builds::of(&job, &scenario);
    if let Some(end) = &builds.end {
        forecast(&mut out, &goals, &scenario, end, &Watch::listening(args.quiet));
    }
    if over {
        ways::out(&mut out, &job, &goals, &builds, args)?;
    }
    if open || over {
        cautions(&mut out, true);
    }
    files::print(&out)?;
    Ok(if over { Outcome::Incomplete } else { Outcome::Done })
}

/// Place of a cut by its name.
fn find(job: &Job, name: &str, given: &str) -> Result<usize, Failure> {
    let plain = |n: &str| n.trim().to_lowercase().replace(['-', ' '], "_");
    job.cuts.iter().position(|c| plain(&c.name) == plain(name)).ok_or_else(|| {
        let names: Vec<String> =
            job.cuts.iter().map(|c| format!("{} ({}, {})", c.name, c.what, c.unit())).collect();
        let remedy = if names.is_empty() {
            "this job has no cut, so there is nothing to read".to_owned()
        } else {
            format!("this job has the cuts {}", names.join(", "))
        };
        Failure::Argument { flag: "the reading", value: given.to_owned(), remedy }
    })
}

/// Enters a reading given as `roof=32.5`.
fn enter(job: &mut Job, given: &str) -> Result<(), Failure> {
    let example = job.cuts.first().map_or("roof", |c| c.name.as_str()).to_owned();
    let wrong =
        |remedy: String| Failure::Argument { flag: "the reading", value: given.to_owned(), remedy };
    let (name, number) = given.split_once('=').ok_or_else(|| {
        wrong(format!("write the cut's name and what you read, such as {example}=32.5"))
    })?;
    let place = find(job, name, given)?;
    let cut = &mut job.cuts[place];
    let unit = if cut.unit() == "mm" { Unit::Millimetre } else { Unit::CubicCentimetre };
    let text = number.trim().replace(',', ".");
    let reading = text.parse().or_else(|_| parse_quantity(&text, unit)).map_err(&wrong)?;
    if !f64::is_finite(reading) {
        return Err(wrong(format!("write a number in {}", cut.unit())));
    }
    cut.reading = Some(reading);
    Ok(())
}

/// Error of a reading: told, or usual for such a measurement.
fn error_of(cut: &JobCut) -> f64 {
    cut.reading_error.unwrap_or_else(|| match key_at(&cut.path).map(|(_, k)| k.usual_error) {
        Some(UsualError::Absolute(e)) => e,
        _ => 0.05,
    })
}

/// Asks a reading back.
fn ask(out: &mut String, cut: &JobCut, why: &str) {
    let reading = cut.reading.unwrap_or(f64::NAN);
    let words = format!(
        "{} ({}): {reading} {} cannot be right: {why} STOP, and measure again.",
        cut.what,
        cut.name,
        cut.unit()
    );
    let _ = writeln!(out, "{}", wrapped(&words));
}

/// How far a cut has come.
enum State {
    /// There is metal to come off.
    Open,
    /// On the mark.
    Done,
    /// Too far.
    Over,
}

/// What is left of one cut.
fn judge(out: &mut String, cut: &JobCut) -> State {
    let unit = cut.unit();
    let Some(reading) = cut.reading else {
        let _ = writeln!(
            out,
            "{} ({}): no reading yet; {:.2} {unit} to go, from {:.2} to {:.2}.",
            cut.what,
            cut.name,
            (cut.to - cut.from).abs(),
            cut.from,
            cut.to
        );
        return State::Open;
    };
    let direction = cut.direction();
    let left = direction * (cut.to - reading);
    let error = error_of(cut);
    // chance that the true size is already past the final one's tolerance, with the half-width taken as
    // two standard deviations
    let risk = 1.0 - normal((left + cut.tolerance) / (0.5 * error).max(1e-9));
    let _ = write!(out, "{} ({}): reads {reading:.2} ± {error} {unit}, ", cut.what, cut.name);
    if left < -cut.tolerance {
        let _ = writeln!(out, "{:.2} {unit} too far. STOP.", -left);
        return State::Over;
    }
    if left <= cut.tolerance {
        let _ = writeln!(
            out,
            "done: within ± {} of {:.2}. Stop here (chance that it is already too far: {:.0} %).",
            cut.tolerance,
            cut.to,
            100.0 * risk
        );
        return State::Done;
    }
    if left <= error + cut.tolerance {
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
    State::Open
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

/// The engine of a job at three moments; none where it cannot be built.
struct Builds {
    /// As it was planned to come out.
    planned: Option<Scenario>,
    /// As it comes out when what is left comes out as planned, and what went too far stays there.
    end: Option<Scenario>,
    /// With what is cut so far, on the planned stack.
    so_far: Option<Scenario>,
}

impl Builds {
    fn of(job: &Job, scenario: &Scenario) -> Self {
        let with = |place: &dyn Fn(&JobCut) -> f64| {
            let mut changes = vec![
                ("stack.base_total_mm".to_owned(), job.stack.base + job.stack.spacer),
                ("stack.head_total_mm".to_owned(), job.stack.head),
            ];
            for cut in &job.cuts {
                let at = place(cut);
                if cut.path == LAND_OFFSET {
                    for (path, value) in land_at(scenario, at) {
                        add(scenario, &mut changes, path.to_owned(), value);
                    }
                } else {
                    add(scenario, &mut changes, cut.path.clone(), at);
                }
            }
            let changes: Vec<(&str, f64)> = changes.iter().map(|(p, v)| (p.as_str(), *v)).collect();
            scenario.with_all(&changes).ok()
        };
        let beyond = |cut: &JobCut| cut.reading.filter(|r| cut.direction() * (r - cut.to) > 0.0);
        Self {
            planned: with(&|cut| cut.to),
            end: with(&|cut| beyond(cut).unwrap_or(cut.to)),
            so_far: with(&|cut| cut.reading.unwrap_or(cut.from)),
        }
    }
}

/// Goals held against the engine as it would be if everything else came out as planned.
fn forecast(out: &mut String, goals: &Goals, scenario: &Scenario, end: &Scenario, watch: &Watch) {
    let speeds = goals.simulated_speeds();
    let cases: Vec<_> = speeds.iter().map(|rpm| (end.spec.clone(), *rpm)).collect();
    watch.begin("Simulations", cases.len());
    let points = simulate_all(&cases, &Settings::single(), watch);
    watch.clear();
    let Some(values) = goals.values_of(&end.spec, &points) else {
        let _ = writeln!(
            out,
            "\nThere is no forecast: {} cannot be simulated as it would come out.",
            scenario.spec.name
        );
        return;
    };
    let _ = writeln!(out, "\nForecast when the rest comes out as planned:");
    for ((key, value), (goal, range)) in
        goals.keys.iter().zip(&values).zip(goals.goals.iter().zip(goals.file.goals.values()))
    {
        let word = match (goal.missed(*value, *value) > 1e-9, goal.held) {
            (true, true) => "BROKEN, and it is a safety goal",
            (true, false) => "MISSED",
            (false, _) => "met",
        };
        let _ = writeln!(out, "  {key} = {} ({}): {word}", number(*value), range.words());
    }
}
