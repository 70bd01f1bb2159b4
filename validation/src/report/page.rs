//! The page itself.

use std::fmt::Write as _;

use super::{Check, Kind, counts, tightest};

const STYLE: &str = "body{font:15px/1.45 system-ui,sans-serif;max-width:84rem;margin:0 auto;padding:1rem;color:#1a1a1a;background:#fff}h2{margin:2rem 0 .4rem}table{border-collapse:collapse;width:100%;font-size:.82rem}td,th{border-bottom:1px solid #ccc;padding:.25rem .45rem;text-align:right;vertical-align:top}td.words,th.words{text-align:left;max-width:19rem;overflow-wrap:anywhere}td.over{color:#A33B00;font-weight:700}svg text{font:11px system-ui,sans-serif;fill:#333}.note{border-left:4px solid #D55E00;padding:.3rem .8rem;background:#fff6ef}";

const NOT_VALIDATED: &str = "<b>No measurement of a whole engine stands behind the model.</b> Power, torque, delivery and backflow of a running engine are not validated, and neither are the discharge coefficients, burning, friction, wall temperatures and scavenging that an engine file states: they are inputs. What the checks below show is that the equations are solved as they are written, and that their parts agree with what is published of each. Differences between neighbouring builds deserve more trust than absolute numbers.</p><p>What would change that, and in which form: of one engine, <b>before and after a single change of its base stack</b>, power or torque over speed as CSV with the heads <code>rpm,power_kw</code> or <code>rpm,torque_nm</code>, measured at steady speed on the same day; beside it fuel as <code>fuel_g_per_min</code>, which gives the delivery ratio; and its measurements as an engine file (<code>freshcharge new</code> asks for them). Best of all, cylinder and crankcase pressure over the crank angle around exhaust and transfer opening, as CSV with the heads <code>rpm,angle_deg,cylinder_pressure_bar,crankcase_pressure_bar</code>. <code>freshcharge report --measured</code> lays both beside what is computed, <code>freshcharge fit</code> reads the first kind; one build stays out of the fit and tells how well it predicts.";

fn escape(words: &str) -> String {
    words.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

/// The page; `held` says whether all tests passed.
#[must_use]
pub fn page(checks: &[Check], held: bool) -> String {
    let (all, external, published) = counts(checks);
    let comparisons: usize = checks.iter().map(|c| c.all.len()).sum();
    let mut out = format!(
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\"><meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\"><title>Freshcharge: checks</title><style>{STYLE}</style></head><body><h1>What Freshcharge is checked against</h1><p>{external} checks against things outside this project, {published} of them with a named publication, and {} against ourselves; {comparisons} comparisons in all. {}</p><h2>What is not validated</h2><p class=\"note\">{NOT_VALIDATED}</p>",
        all - external,
        if held { "All hold." } else { "<b>Not all hold.</b>" }
    );
    out.push_str("<h2>The three with the least margin</h2>");
    list(&mut out, &tightest(checks, |_| true));
    out.push_str("<p>Where a reference is given to some digits and many of its numbers are compared, some difference always comes near half of the last digit. Of those whose tolerance is more than that, these three have the least margin:</p>");
    list(&mut out, &tightest(checks, |c| !c.to_the_digit()));
    out.push_str("<h2>How much of each tolerance is used</h2>");
    out.push_str(&overview(checks));
    out.push_str("<p>Each line below is the comparison that uses most of its tolerance. The small chart shows every comparison of the line in order: its difference from the reference, between minus and plus what is allowed. Volumes, pages and sections of publications are given as remembered where the line says so.</p>");
    for kind in Kind::ALL {
        let of = |c: &&Check| c.basis.as_ref().is_some_and(|b| b.kind == kind);
        section(&mut out, kind.heading(), &checks.iter().filter(of).collect::<Vec<_>>());
    }
    let unsorted: Vec<_> = checks.iter().filter(|c| c.basis.is_none()).collect();
    if !unsorted.is_empty() {
        section(&mut out, "Of which nobody has said what it rests on", &unsorted);
        out.push_str("<p>For these nobody has said what it rests on: add them to validation/sources.csv.</p>");
    }
    out.push_str("</body></html>\n");
    out
}

/// Checks with how much of their tolerance is used, why it is that wide, and their source.
fn list(out: &mut String, checks: &[&Check]) {
    out.push_str("<ol>");
    for check in checks {
        let source = check.basis.as_ref().map_or("", |b| &b.source);
        let _ = write!(
            out,
            "<li><b>{}</b>: {} of its tolerance is used ({}). Source: {}</li>",
            escape(&check.title()),
            percent(check.used()),
            escape(&check.reason),
            escape(source)
        );
    }
    out.push_str("</ol>");
}

fn percent(share: f64) -> String {
    if share < 0.001 { "under 0.1 %".to_owned() } else { format!("{:.3} %", Short(100.0 * share)) }
}

/// A number with three digits.
struct Short(f64);

impl std::fmt::Display for Short {
    fn fmt(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        let places = if self.0 >= 100.0 {
            0
        } else if self.0 >= 10.0 {
            1
        } else {
            2
        };
        write!(f, "{:.places$}", self.0)
    }
}

fn number(value: f64) -> String {
    let size = value.abs();
    if value == 0.0 || (1e-3..1e6).contains(&size) {
        let digits = if size >= 1.0 { 7 - size.log10().floor() as usize } else { 9 };
        let text = format!("{value:.digits$}");
        if text.contains('.') {
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        } else {
            text
        }
    } else {
        format!("{value:.6e}")
    }
}

fn section(out: &mut String, heading: &str, checks: &[&Check]) {
    if checks.is_empty() {
        return;
    }
    let mut order = checks.to_vec();
    order.sort_by(|a, b| b.used().total_cmp(&a.used()));
    let _ = write!(
        out,
        "<h2>{}</h2><p>{} checks.</p><table><tr><th class=\"words\">what</th><th class=\"words\">test</th><th>reference</th><th>ours</th><th>difference</th><th>allowed</th><th>used</th><th>all comparisons</th><th>verdict</th><th class=\"words\">why that far</th><th class=\"words\">source</th></tr>",
        escape(heading),
        order.len()
    );
    for check in order {
        let c = check.worst();
        let (class, verdict) =
            if check.used() <= 1.0 { ("", "holds") } else { (" class=\"over\"", "FAILS") };
        let source = check.basis.as_ref().map_or("nobody has said", |b| &b.source);
        let _ = write!(
            out,
            "<tr><td class=\"words\">{}</td><td class=\"words\">{}</td><td>{}</td><td>{}</td><td>{:.1e}</td><td>{:.1e}</td><td>{}</td><td>{}</td><td{class}>{verdict}</td><td class=\"words\">{}</td><td class=\"words\">{}</td></tr>",
            escape(&check.what),
            escape(&check.test.replace('_', " ")),
            number(c.reference),
            number(c.value),
            c.value - c.reference,
            c.allowed,
            percent(check.used()),
            chart(check),
            escape(&check.reason),
            escape(source)
        );
    }
    out.push_str("</table>");
}

/// Every comparison of a check between minus and plus its tolerance.
fn chart(check: &Check) -> String {
    let (wide, high) = (110.0, 34.0);
    let mut dots = String::new();
    let last = (check.all.len().max(2) - 1) as f64;
    // no more dots than can be told apart, but the worst always
    let every = check.all.len().div_ceil(110);
    for (index, c) in check.all.iter().enumerate() {
        if index % every != 0 && !std::ptr::eq(c, check.worst()) {
            continue;
        }
        let x = if check.all.len() == 1 {
            wide / 2.0
        } else {
            3.0 + (wide - 6.0) * index as f64 / last
        };
        let y = high / 2.0 - (high / 2.0 - 3.0) * c.used().clamp(-1.15, 1.15);
        let colour = if c.used().abs() > 1.0 { "#D55E00" } else { "#0072B2" };
        let _ = write!(dots, "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"1.8\" fill=\"{colour}\"/>");
    }
    let (top, bottom, middle) = (3.0, high - 3.0, high / 2.0);
    format!(
        "<svg width=\"{wide}\" height=\"{high}\" role=\"img\" aria-label=\"{} comparisons\"><path d=\"M0 {top}H{wide}M0 {bottom}H{wide}\" stroke=\"#bbb\"/><path d=\"M0 {middle}H{wide}\" stroke=\"#ddd\"/>{dots}</svg><br>{}",
        check.all.len(),
        check.all.len()
    )
}

/// One dot for each check over the share of its tolerance that is used.
fn overview(checks: &[Check]) -> String {
    let (left, wide, row) = (420.0, 1070.0, 34.0);
    let place = |used: f64| {
        let decades = used.clamp(1e-8, 10.0).log10();
        left + (wide - left - 20.0) * (decades + 8.0) / 9.0
    };
    let high = row * Kind::ALL.len() as f64 + 40.0;
    let mut out = format!(
        "<svg width=\"{wide}\" height=\"{high}\" role=\"img\" aria-label=\"share of tolerance used\">"
    );
    for decade in (-8_i32..=1).step_by(1) {
        let (x, bottom) = (place(10_f64.powi(decade)), high - 36.0);
        let colour = if decade == 0 { "#D55E00" } else { "#ddd" };
        let words = match decade {
            0 => "all of it".to_owned(),
            -2 => "1 %".to_owned(),
            -1 => "10 %".to_owned(),
            1 => "ten times".to_owned(),
            _ if decade % 2 == 0 => format!("1e{}", decade + 2) + " %",
            _ => String::new(),
        };
        let _ = write!(
            out,
            "<path d=\"M{x:.1} 4V{bottom:.1}\" stroke=\"{colour}\"/><text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{words}</text>",
            bottom + 14.0
        );
    }
    for (line, kind) in Kind::ALL.into_iter().enumerate() {
        let y = 4.0 + row * (line as f64 + 0.5);
        let of = checks.iter().filter(|c| c.basis.as_ref().is_some_and(|b| b.kind == kind));
        let _ = write!(out, "<text x=\"0\" y=\"{:.1}\">{}</text>", y + 4.0, kind.heading());
        for (index, check) in of.enumerate() {
            let up = 8.0 * ((index * 7 % 11) as f64 / 10.0 - 0.5) * 2.0;
            let _ = write!(
                out,
                "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"2.6\" fill=\"#0072B2\" fill-opacity=\"0.55\"><title>{}</title></circle>",
                place(check.used()),
                y + up,
                escape(&check.title())
            );
        }
    }
    let _ = write!(
        out,
        "<text x=\"{left}\" y=\"{:.1}\">share of the tolerance that is used (logarithmic; what uses less than 1e-6 % stands at the left)</text></svg>",
        high - 4.0
    );
    out
}
