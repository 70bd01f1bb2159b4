//! `freshcharge fit`: uncertain inputs found from measurements, with bands and a build held out.

use std::fmt::Write as _;
use std::path::Path;

use freshcharge_sim::inquiry::{self, BAND, Fit, FitError, Measured, Unknown};
use freshcharge_sim::scenario::Scenario;
use freshcharge_sim::spec::ModelVersion;
use serde_json::json;

use crate::Outcome;
use crate::args::FitArgs;
use crate::present::tables as export;
use crate::present::tables::layout::{number, wrapped};
use crate::session::engine::load;
use crate::session::files::{self, Failure};
use crate::session::measured::{self, Quantity, Series};

/// Runs the command.
pub(crate) fn run(args: &FitArgs) -> Result<Outcome, Failure> {
    let (scenario, hash) = load(&args.file)?;
    let inputs: Vec<Unknown> = args.input.iter().map(|i| input(i)).collect::<Result<_, _>>()?;
    if !(args.error > 0.0 && args.error <= 50.0) {
        return Err(Failure::Argument {
            flag: "--error",
            value: args.error.to_string(),
            remedy: "write the standard deviation of the measurements in percent, such as 2"
                .to_owned(),
        });
    }
    let series = measurable(&args.measured, &scenario)?;
    let data = data(&series, args.error);
    if let [engine, _] = &args.held_out[..] {
        crate::session::version::same_model(
            [(&*args.file, &scenario), (&**engine, &load(engine)?.0)].into_iter(),
        )?;
    }
    let fit = inquiry::fit(&scenario, &inputs, &data).map_err(|e| failure(&args.file, &e))?;
    let held = match &args.held_out[..] {
        [engine, file] => Some(held_out(engine, file, &inputs, &fit, args.error)?),
        _ => None,
    };
    let text = if args.json {
        as_json((&hash, scenario.spec.model), &inputs, &fit, &data, held.as_ref())
    } else {
        let mut text = format!("{}\n\n", scenario.spec.name);
        found(&mut text, &scenario, &inputs, &fit);
        verdicts(&mut text, &inputs, &fit, data.len());
        compared(&mut text, &series, &fit.computed);
        if let Some(held) = &held {
            held.words(&mut text);
        }
        text
    };
    files::print(&text)?;
    Ok(Outcome::Done)
}

/// An input as `PATH=LOW:HIGH`.
fn input(text: &str) -> Result<Unknown, Failure> {
    let parts = text.split_once('=').and_then(|(path, range)| {
        let (low, high) = range.split_once(':')?;
        let (low, high) = (low.trim().parse().ok()?, high.trim().parse().ok()?);
        Some(Unknown { path: path.trim().to_owned(), low, high })
    });
    parts.ok_or_else(|| Failure::Argument {
        flag: "--input",
        value: text.to_owned(),
        remedy: "write PATH=LOW:HIGH, such as exhaust.discharge_coefficient=0.65:0.90".to_owned(),
    })
}

fn failure(file: &Path, error: &FitError) -> Failure {
    match error {
        FitError::Engine(why) => {
            Failure::Engine { file: file.display().to_string(), why: why.clone() }
        }
        other => {
            Failure::Argument { flag: "--input", value: String::new(), remedy: other.to_string() }
        }
    }
}

/// What was measured and can be computed of a running engine.
fn measurable<P: AsRef<Path>>(files: &[P], scenario: &Scenario) -> Result<Vec<Series>, Failure> {
    let mut series = measured::read_all(files, &scenario.spec)?.series;
    series.retain(|s| s.quantity != Quantity::Gauge);
    if series.is_empty() {
        let names: Vec<String> = files.iter().map(|f| f.as_ref().display().to_string()).collect();
        let why = "a fit needs something of a running engine: power, torque, fuel, air, or pressures over the crank angle when the ports open; a compression gauge is read on one that is turned over";
        return Err(Failure::Faults(format!("{}: {why}\n", names.join(", "))));
    }
    Ok(series)
}

/// Every point with its deviation: a share [%] of the largest value of its column.
fn data(series: &[Series], error: f64) -> Vec<Measured> {
    let mut data = Vec::new();
    for column in series {
        let largest = column.points.iter().map(|p| p.1.abs()).fold(0.0, f64::max);
        let deviation = (0.01 * error * largest).max(1e-9);
        let of = column.quantity.of();
        data.extend(column.points.iter().map(|(rpm, value)| Measured {
            rpm: *rpm,
            of,
            value: *value,
            deviation,
        }));
    }
    data
}

fn found(text: &mut String, scenario: &Scenario, inputs: &[Unknown], fit: &Fit) {
    let width = inputs.iter().map(|i| i.path.len()).max().unwrap_or(0).max(5);
    let _ = writeln!(text, "{:<width$}  in the file     found         ±   range tried", "input");
    for (i, input) in inputs.iter().enumerate() {
        let now = scenario.value(&input.path).map_or("–".to_owned(), number);
        let half = fit.half_widths[i];
        let half = if half.is_finite() { number(half) } else { "no end".to_owned() };
        let _ = writeln!(
            text,
            "{:<width$}  {now:>11} {:>9} {half:>9}   {} to {}",
            input.path,
            number(fit.values[i]),
            number(input.low),
            number(input.high)
        );
    }
    let _ = writeln!(
        text,
        "{}",
        wrapped(&format!(
            "± is {BAND:.0} standard deviations of the linearised problem. Misfit (root mean square in standard deviations of the measurements): {:.2} before, {:.2} after, {} engines computed.",
            fit.misfit[0], fit.misfit[1], fit.engines
        ))
    );
}

fn verdicts(text: &mut String, inputs: &[Unknown], fit: &Fit, count: usize) {
    let mut said = Vec::new();
    for (a, b, correlation) in &fit.alike {
        said.push(format!(
            "{} and {} cannot be told apart by these data (correlation {correlation:+.3}): {} of the one is made up for by the other. Hold one at a value you trust, or measure something that only one of them moves.",
            inputs[*a].path,
            inputs[*b].path,
            if *correlation < 0.0 { "more" } else { "less" }
        ));
    }
    for (i, input) in inputs.iter().enumerate() {
        if fit.half_widths[i] >= 0.5 * (input.high - input.low) {
            said.push(format!(
                "{}: the band is as wide as the range; these data do not tell it.",
                input.path
            ));
        }
        if fit.at_end[i] {
            said.push(format!(
                "{} ended at an end of its range: either the range is too narrow, or something else is wrong and this input pays for it.",
                input.path
            ));
        }
    }
    if fit.misfit[1] > 2.0 {
        said.push("After the fit the computed curve still lies further from the measured one than the measurements' errors: the model or another input is wrong, and the bands have been widened for it.".to_owned());
    }
    if count < 2 * inputs.len() {
        said.push("There are few measurements for so many inputs; measure at more speeds before believing the bands.".to_owned());
    }
    for words in said {
        let _ = writeln!(text, "{}", wrapped(&words));
    }
}

fn compared(text: &mut String, series: &[Series], computed: &[f64]) {
    let mut computed = computed.iter();
    for column in series {
        let _ = writeln!(text, "\n{:<14} measured  computed  difference", column.quantity.words());
        for ((rpm, value), ours) in column.points.iter().zip(&mut computed) {
            let off = 100.0 * (ours / value - 1.0);
            let _ = writeln!(
                text,
                "{rpm:>6.0}/min     {:>9} {:>9}   {off:+.1} %",
                number(*value),
                number(*ours)
            );
        }
    }
}

/// How well a build that was not fitted is told.
struct Held {
    name: String,
    /// Root mean square of the relative differences: as the file stands, and with the fitted inputs.
    off: [f64; 2],
    misfit: f64,
}

impl Held {
    fn words(&self, text: &mut String) {
        let [before, after] = self.off.map(|o| 100.0 * o);
        let verdict = if after < before {
            "The fitted inputs tell it better than the file's own."
        } else {
            "The fitted inputs do NOT tell it better: do not carry them over to other builds."
        };
        let _ = writeln!(
            text,
            "\n{}",
            wrapped(&format!(
                "Held out: {}, which had no part in the fit, lies {before:.1} % off with its own inputs and {after:.1} % off with the fitted ones (root mean square; {:.2} standard deviations). {verdict}",
                self.name, self.misfit
            ))
        );
    }
}

fn held_out(
    engine: &Path,
    file: &Path,
    inputs: &[Unknown],
    fit: &Fit,
    error: f64,
) -> Result<Held, Failure> {
    let (scenario, _) = load(engine)?;
    let data = data(&measurable(&[file], &scenario)?, error);
    let own: Vec<f64> =
        inputs.iter().map(|i| scenario.value(&i.path).unwrap_or(f64::NAN)).collect();
    let predict = |values: &[f64]| {
        inquiry::predicted(&scenario, inputs, values, &data).map_err(|e| failure(engine, &e))
    };
    let (before, after) = (predict(&own)?, predict(&fit.values)?);
    let mean = |squares: f64| (squares / data.len() as f64).sqrt();
    let off = |computed: &[f64]| {
        mean(data.iter().zip(computed).map(|(m, c)| (c / m.value - 1.0).powi(2)).sum())
    };
    let misfit =
        mean(data.iter().zip(&after).map(|(m, c)| ((c - m.value) / m.deviation).powi(2)).sum());
    Ok(Held { name: scenario.spec.name.clone(), off: [off(&before), off(&after)], misfit })
}

fn as_json(
    (hash, model): (&str, ModelVersion),
    inputs: &[Unknown],
    fit: &Fit,
    data: &[Measured],
    held: Option<&Held>,
) -> String {
    let inputs_json: Vec<_> = inputs
        .iter()
        .enumerate()
        .map(|(i, input)| {
            json!({
                "path": input.path, "low": input.low, "high": input.high, "value": fit.values[i],
                "half_width": fit.half_widths[i], "at_end": fit.at_end[i],
            })
        })
        .collect();
    let alike: Vec<_> = fit
        .alike
        .iter()
        .map(|(a, b, c)| json!({ "paths": [inputs[*a].path, inputs[*b].path], "correlation": c }))
        .collect();
    let points: Vec<_> = data
        .iter()
        .zip(&fit.computed)
        .map(|(m, c)| json!({ "rpm": m.rpm, "measured": m.value, "computed": c, "deviation": m.deviation }))
        .collect();
    let held = held.map(|h| {
        json!({ "engine": h.name, "off_before": h.off[0], "off_after": h.off[1], "misfit": h.misfit })
    });
    let value = json!({
        "band_standard_deviations": BAND,
        "inputs": inputs_json,
        "cannot_be_told_apart": alike,
        "misfit_before": fit.misfit[0],
        "misfit_after": fit.misfit[1],
        "points": points,
        "held_out": held,
    });
    export::json::headed(hash, model, value)
}
