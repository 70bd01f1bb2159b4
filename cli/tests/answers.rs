//! The answer comes first, a sentence ends it, and its words say what the numbers say.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod common;

use common::{freshcharge, text};

/// What a command prints.
fn said(line: &str) -> String {
    let args: Vec<&str> = line.split_whitespace().collect();
    let out = freshcharge(&args);
    assert!(matches!(out.status.code(), Some(0 | 1)), "{line}: {}", text(&out.stderr));
    text(&out.stdout).to_owned()
}

fn json(line: &str) -> serde_json::Value {
    serde_json::from_str(&said(&format!("{line} --json"))).unwrap()
}

/// Limits that a check finds broken, in their order: quantity, danger being in the file only.
fn broken(line: &str) -> Vec<String> {
    let found = json(line);
    let limits = found["limits"].as_array().unwrap().iter();
    let broken = limits.filter(|l| l["standing"] == "broken");
    broken.map(|l| l["quantity"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn check_answers_in_a_dozen_lines_and_keeps_the_rest_for_all() {
    for line in [
        "check scenarios/touring.toml",
        "check scenarios/utility.toml --use utility",
        "check scenarios/short-blowdown.toml",
        "check scenarios/touring.toml --set stack.base_total_mm=1.4",
    ] {
        let brief = said(line);
        assert!(brief.lines().count() <= 12, "{line}: {} lines\n{brief}", brief.lines().count());
        for word in ["exhaust open", "transfers open", "blowdown", "squish", "compression", "chord"]
        {
            assert!(brief.contains(word), "{line}: no {word}\n{brief}");
        }
        let all = said(&format!("{line} --all"));
        assert!(all.lines().count() > 60 && all.contains("Held against limits"), "{all}");
    }
}

#[test]
fn a_calm_engine_breaks_no_limit_that_is_not_its_own() {
    // the touring single has more compression than air-cooled engines on pump fuel are given
    assert_eq!(broken("check scenarios/touring.toml"), ["trapped_ratio"]);
    // a ring end of the utility engine dips into the inlet window at bottom dead centre
    assert_eq!(broken("check scenarios/utility.toml --use utility"), ["ring_end_margin_deg"]);
}

#[test]
fn what_can_destroy_the_engine_is_told_first() {
    let line =
        "check scenarios/utility.toml --use utility --set stack.head_total_mm=0.1 --rpm 16000";
    let order = broken(line);
    let place = |key: &str| order.iter().position(|q| q.starts_with(key)).unwrap();
    // the piston on the head and a ring in a window before overspeed
    assert!(place("squish_mm") < place("mean_piston_speed"), "{order:?}");
    assert!(place("ring_end_margin") < place("mean_piston_speed"), "{order:?}");
    let brief = said(line).replace('\n', " ");
    assert!(brief.contains("breaks a limit: squish gap at the wall"), "{brief}");
    let all = said(&format!("{line} --all"));
    let at = |word: &str| all.find(word).unwrap_or_else(|| panic!("{word}: {all}"));
    assert!(at("BROKEN squish gap") < at("BROKEN mean piston speed"), "{all}");
}

#[test]
fn a_limit_within_the_error_of_the_readings_is_not_called_broken() {
    // squish of 0.97 mm is known to about 0.06 mm, and 1.0 mm is asked for
    let line = "check scenarios/touring.toml --set stack.head_total_mm=0.27";
    let found = json(line);
    let squish = found["facts"].as_array().unwrap().iter().find(|f| f["key"] == "squish_mm");
    let (value, error) = (&squish.unwrap()["value"], &squish.unwrap()["half_width"]);
    let (value, error) = (value.as_f64().unwrap(), error.as_f64().unwrap());
    assert!(value < 1.0 && value + error > 1.0, "{value} ± {error}");
    assert!(!broken(line).contains(&"squish_mm".to_owned()));
    let asked = said(&format!("{line} --ask clearance")).replace('\n', " ");
    assert!(asked.contains("within the error of your readings"), "{asked}");
}

/// The last sentence of an answer on one line: what stands after the last empty line, or the last paragraph.
fn last_words(line: &str) -> String {
    let all = said(line);
    let mut rows: Vec<&str> = all.trim_end().lines().collect();
    let from = rows.iter().rposition(|r| r.trim().is_empty()).map_or(0, |i| i + 1);
    rows.drain(..from);
    rows.join(" ")
}

/// The command that the README's table gives for a question, without the program's name.
fn command(question: &str) -> String {
    let readme = std::fs::read_to_string(common::root().join("README.md")).unwrap();
    let row = readme.lines().find(|l| l.starts_with(&format!("| {question} |")));
    let row = row.unwrap_or_else(|| panic!("{question}"));
    row.split('`').nth(1).unwrap().trim_start_matches("freshcharge ").to_owned()
}

/// A number as the sentences show it.
fn shown(value: f64) -> String {
    let size = value.abs();
    let digits = match size {
        s if s >= 1000.0 => 0,
        s if s >= 100.0 => 1,
        s if s >= 1.0 => 2,
        s if s >= 0.1 => 3,
        _ => 4,
    };
    format!("{value:.digits$}")
}

/// A command without some of its flags and their values.
fn without(line: &str, flags: &[&str]) -> String {
    let mut kept = Vec::new();
    let mut words = line.split_whitespace();
    while let Some(word) = words.next() {
        if flags.contains(&word) {
            words.next();
        } else {
            kept.push(word);
        }
    }
    kept.join(" ")
}

/// A fact and its half-width from the JSON of a check.
fn fact(line: &str, key: &str) -> (f64, f64) {
    let found = json(line);
    let fact = found["facts"].as_array().unwrap().iter().find(|f| f["key"] == key).cloned();
    let fact = fact.unwrap_or_else(|| panic!("{key}"));
    (fact["value"].as_f64().unwrap(), fact["half_width"].as_f64().unwrap())
}

/// A result of a run's JSON at a speed.
fn result(line: &str, rpm: f64, key: &str) -> f64 {
    let found = json(line);
    let points = found["points"].as_array().unwrap();
    let at = |p: &&serde_json::Value| (p["rpm"].as_f64().unwrap() - rpm).abs() < 0.5;
    let point = points.iter().find(at).unwrap_or_else(|| panic!("{rpm}: {found}"));
    point[key].as_f64().unwrap_or_else(|| panic!("{key}: {point}"))
}

fn holds(sentence: &str, parts: &[String]) {
    for part in parts {
        assert!(sentence.contains(part.as_str()), "{part:?} is not in {sentence:?}");
    }
    assert!(sentence.ends_with('.'), "{sentence:?}");
}

const TOURING: &str = "check scenarios/touring.toml";

#[test]
fn questions_to_check_end_in_a_sentence_with_the_numbers_of_its_json() {
    let spacer = "--set stack.base_total_mm=1.4";
    // question, its command's JSON keys and what else the sentence must say
    let line = command("What are my timings really?");
    for key in ["exhaust_duration_deg", "transfer_duration_deg", "blowdown_deg"] {
        holds(&last_words(&line), &[shown(fact(&line, key).0)]);
    }
    let line = command("How much must come off head or barrel to get the squish back?");
    assert!(line.contains(spacer), "{line}");
    let plain = without(&line, &["--ask"]);
    let (now, old) = (fact(&plain, "squish_mm").0, fact(TOURING, "squish_mm").0);
    let take = format!("Take {:.2} mm off", now - old);
    holds(&last_words(&line), &[take, format!("{now:.2}"), format!("{old:.2} mm")]);

    let line = command("What compression after the spacer, gasket, skim?");
    let plain = without(&line, &["--ask"]);
    let parts = ["trapped_ratio", "geometric_ratio"].map(|k| shown(fact(&plain, k).0));
    holds(&last_words(&line), &parts);

    let line = command("How wide can I go safely?");
    let plain = without(&line, &["--ask"]);
    let (chord, bore) = (fact(&plain, "exhaust_chord_mm").0, 55.5);
    let limits = json(&plain)["limits"].as_array().unwrap().clone();
    let most = limits.iter().filter(|l| l["quantity"] == "exhaust_chord_to_bore");
    let most = most.map(|l| l["most"].as_f64().unwrap()).fold(1.0, f64::min);
    let widest = (most * bore * 10.0).floor() / 10.0;
    let parts = [format!("no further than {widest:.1} mm"), format!("{chord:.2} mm")];
    holds(&last_words(&line), &parts);

    let line = command("Does my roof shape waste area?");
    let plain = without(&line, &["--ask"]);
    let parts = ["blowdown_shape_loss_percent", "exhaust_shape_loss_percent"];
    holds(&last_words(&line), &parts.map(|k| shown(fact(&plain, k).0)));

    let line = command("Long stroke or long rod: what spacer, what timings?");
    let plain = without(&line, &["--ask"]);
    let fitted = 1.4 + fact(TOURING, "squish_mm").0 - fact(&plain, "squish_mm").0;
    let parts = ["exhaust_duration_deg", "transfer_duration_deg"].map(|k| shown(fact(&plain, k).0));
    let sentence = last_words(&line);
    holds(&sentence, &[format!("Fit a base stack of {fitted:.2} mm")]);
    // the stack of the command is the one that holds the squish
    if (fitted - 1.4).abs() < 1e-6 {
        holds(&sentence, &parts);
    }

    let line = command("Is squish velocity too high or too low for this speed?");
    let plain = without(&line, &["--ask"]);
    let value = fact(&plain, "squish_velocity_m_per_s@9000").0;
    let word = if value > 25.0 {
        "too high"
    } else if value < 15.0 {
        "too low"
    } else {
        "neither"
    };
    holds(&last_words(&line), &[shown(value), word.to_owned()]);

    let line = command("Will the piston hit the head?");
    let (gap, error) = fact(&without(&line, &["--ask"]), "squish_mm");
    let word = if gap + error < 1.0 { "breaks a limit" } else { "within the error" };
    holds(&last_words(&line), &[format!("{gap:.2} ±"), word.to_owned()]);
}

#[test]
fn questions_of_accuracy_and_time_end_in_a_sentence_with_the_numbers_of_the_json() {
    let line = command("How accurate must I measure?");
    let (_, error) = fact(&without(&line, &["--ask"]), "blowdown_deg");
    holds(&last_words(&line), &[format!("± {error:.2}°"), "Measure exhaust.window".to_owned()]);

    let line = command("How long does the blowdown last at each speed?");
    let plain = without(&line, &["--ask"]);
    for rpm in ["6000", "8000", "10000"] {
        let ms = fact(&plain, &format!("blowdown_ms@{rpm}")).0;
        holds(&last_words(&line), &[format!("{} ms at {rpm}/min", shown(ms))]);
    }
}

#[test]
fn questions_to_run_end_in_a_sentence_with_the_numbers_of_its_json() {
    let line = without(&command("Where is the power going to peak?"), &[]);
    let (at, sentence) = (without(&line.replace("--sketch", ""), &[]), last_words(&line));
    let last = result(&at, 9000.0, "power_kw");
    let rising = last > result(&at, 8000.0, "power_kw");
    let parts = [format!("{last:.2} kW at 9000/min"), "still rising".to_owned()];
    assert!(rising);
    holds(&sentence, &parts);
    // a finer range that ends beyond the peak names it
    let beyond = last_words("run scenarios/touring.toml --rpm 7000:12000:1000");
    holds(&beyond, &["Power peaks at about ".to_owned()]);
    let falling = last_words("run scenarios/touring.toml --rpm 11000:13000:1000");
    holds(&falling, &["Power falls from the start".to_owned()]);

    for (question, speeds) in [
        ("Which inlet timing?", [5000.0, 7000.0]),
        ("What does packing the crankcase do?", [5000.0, 7000.0]),
        ("Which petals for this reed block?", [6000.0, 9000.0]),
        ("Is the carburettor the limit?", [7000.0, 8000.0]),
        ("Is the exhaust exit limiting?", [7000.0, 8000.0]),
    ] {
        let line = command(question);
        let base = without(&line, &["--set"]);
        let sentence = last_words(&line);
        let mut gains = Vec::new();
        for rpm in speeds {
            let torque = |line: &str| result(line, rpm, "torque_nm");
            let (new, old) = (torque(&line), torque(&base));
            gains.push(new - old);
            let part =
                format!("torque at {rpm:.0}/min {} N·m instead of {}", shown(new), shown(old));
            holds(&sentence, &[part, format!("({:+.2} ±", new - old)]);
        }
        let all = |worth: bool| gains.iter().all(|g| (*g > 0.0) == worth);
        assert!(!(sentence.ends_with("worth it.") && all(false)), "{sentence}");
        assert!(!(sentence.ends_with("worse.") && all(true)), "{sentence}");
        let begins = ["Take", "Keep", "The carburettor", "The exhaust exit", "intake", "crankcase"];
        assert!(begins.iter().any(|b| sentence.starts_with(b)), "{question}: {sentence}");
    }

    let line = command("What will the compression gauge read?");
    let found = result(&line, 500.0, "gauge_reading_bar");
    holds(&last_words(&line), &[format!("expect the gauge to read {found:.2} bar")]);
}

#[test]
fn questions_to_the_other_commands_end_in_a_sentence_that_answers_them() {
    // comparisons, held against the JSON of both runs
    for (question, a, b, rpm) in [
        ("What does a spacer do to every timing?", "", " --set stack.base_total_mm=1.4", 7000.0),
        ("What do I lose low down?", "", "short-blowdown", 3500.0),
        ("Two builds: what changed, and why?", "", "short-blowdown", 7000.0),
    ] {
        let line = |other: &str| match other {
            "short-blowdown" => format!("run scenarios/short-blowdown.toml --rpm {rpm}"),
            set => format!("run scenarios/touring.toml --rpm {rpm}{set}"),
        };
        let torque = |other: &str| result(&line(other), rpm, "torque_nm");
        let (old, new) = (torque(a), torque(b));
        let verdict = if new < old { "worse" } else { "worth it" };
        let part = format!("torque {} N·m instead of {}", shown(new), shown(old));
        holds(&last_words(&command(question)), &[part, verdict.to_owned()]);
    }
    let sentence = last_words(&command("What does a spacer do to every timing?"));
    let variant = format!("{TOURING} --set stack.base_total_mm=1.4");
    for (key, word) in [("exhaust_duration_deg", "exhaust"), ("transfer_duration_deg", "transfers")]
    {
        let change = fact(&variant, key).0 - fact(TOURING, key).0;
        holds(&sentence, &[format!("{word} {change:+.2}°")]);
    }
    // raise or widen: the one with more torque is named first
    let line = command("Raise the roof or widen?");
    let torque = |set: &str| {
        result(&format!("run scenarios/touring.toml --rpm 7000 --set {set}"), 7000.0, "torque_nm")
    };
    let roof = torque("exhaust.window.roof_depth_mm=32.6");
    let chord = torque("exhaust.window.chord_mm=37.5");
    let sentence = last_words(&line);
    let first =
        if chord > roof { "Rather exhaust.window.chord_mm" } else { "Rather exhaust.window.roof" };
    let neither = sentence.starts_with("Neither");
    assert!(neither || sentence.starts_with(first), "{sentence} {roof} {chord}");
    holds(&sentence, &[shown(roof), shown(chord)]);
}

#[test]
fn questions_to_plan_explain_target_and_angles_end_in_a_sentence_that_answers_them() {
    // plan: the engine of its sentence has the squish it promises
    {
        let sentence = last_words(&command("Which head gasket for the wanted squish?"));
        let number = |before: &str| -> f64 {
            let rest = sentence.split(before).nth(1).unwrap_or_else(|| panic!("{sentence}"));
            rest.trim().split([' ', '°']).next().unwrap().parse().unwrap()
        };
        let (head, base, spacer) =
            (number("Fit the"), number("base gasket of"), number("spacer of"));
        let set = format!(
            "{TOURING} --set stack.head_total_mm={head} --set stack.base_total_mm={}",
            base + spacer
        );
        let (squish, _) = fact(&set, "squish_mm");
        holds(&sentence, &[format!("squish {squish:.2} mm")]);
    }

    let line = command("How much blowdown for this speed?");
    let (there, _) = fact(&format!("{TOURING} --rpm 7000"), "blowdown_deg");
    holds(&last_words(&line), &[format!("there are {there:.1}°"), "At this speed".to_owned()]);

    let line = command("Will the transfers blow back and carbon up the crankcase?");
    let run = "run scenarios/short-blowdown.toml --rpm 7000";
    let back = result(run, 7000.0, "hot_backflow_mass_mg");
    let depth = result(run, 7000.0, "hot_backflow_penetration");
    let parts = [format!("{back:.2} mg of hot gas"), format!("{:.0} %", 100.0 * depth)];
    holds(&last_words(&line), &parts);

    let line = command("How do I raise transfers without losing blowdown?");
    let power = result("run scenarios/touring.toml --rpm 7000", 7000.0, "power_kw");
    holds(&last_words(&line), &[format!("{power:.2} kW at 7000/min"), "of blowdown".to_owned()]);

    let line = command("Which port limits power?");
    holds(
        &last_words(&line),
        &["out of reach".to_owned(), "transfer windows (chord) limits most".to_owned()],
    );

    let line = command("Can I believe published timings?");
    let (transfer, exhaust) =
        (fact(TOURING, "transfer_duration_deg"), fact(TOURING, "exhaust_duration_deg"));
    let parts = [format!("against {:.2}", transfer.0), format!("against {:.2}", exhaust.0)];
    let sentence = last_words(&line);
    holds(&sentence, &parts);
    assert!(sentence.contains("not this engine's"), "{sentence}");
}

/// Words in a picture, in their order.
fn picture_words(svg: &str) -> String {
    let texts = svg.split("<text").skip(1).filter_map(|t| {
        let inside = t.split_once('>')?.1.split_once("</text>")?.0;
        Some(inside.to_owned())
    });
    texts.collect::<Vec<_>>().join(" ")
}

#[test]
fn cautions_stand_beside_every_advised_cut() {
    use freshcharge_sim::studies::{CUT, MODEL};
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let flat = |words: &str| words.split_whitespace().collect::<Vec<_>>().join(" ");
    let has = |name: &str, words: &str| {
        // as the page or the picture escapes it
        let words = flat(words).replace("&#39;", "'").replace("&amp;", "&").replace("\\", "");
        for caution in [CUT, MODEL] {
            assert!(words.contains(caution), "{name} lacks {caution:?}\n{words}");
        }
    };
    let (plan, job) = ("plan scenarios/touring.toml scenarios/goals.toml", path("job"));
    for line in [
        "check scenarios/touring.toml --all".to_owned(),
        format!("{TOURING} --set stack.base_total_mm=1.4 --ask squish"),
        format!("{TOURING} --set exhaust.window.chord_mm=37.5 --use road --ask width"),
        format!(
            "explain scenarios/touring.toml --rpm 7000 --speeds 6000,7000 --charts {}",
            path("x")
        ),
        "target scenarios/touring.toml --power 5.5 --rpm 7000 -q".to_owned(),
        format!("{plan} --sheet {job}"),
        "compare scenarios/touring.toml --set exhaust.window.roof_depth_mm=32.6".to_owned(),
    ] {
        has(&line, &said(&line));
    }
    has("recheck", &said(&format!("recheck {}", path("job/job.toml"))));
    let read = |name: &str| std::fs::read_to_string(folder.path().join(name)).unwrap();
    has("cut sheet", &read("job/cut-sheet.md"));
    let mut pages = String::new();
    for i in 1.. {
        let page = folder.path().join(format!("job/cut-sheet-{i}.svg"));
        let Ok(svg) = std::fs::read_to_string(page) else { break };
        pages += &picture_words(&svg);
        pages.push(' ');
    }
    has("cut sheet's pages, of which the PDF is made", &pages);
    for entry in std::fs::read_dir(folder.path().join("job")).unwrap() {
        let entry = entry.unwrap().path();
        let name = entry.file_name().unwrap().to_str().unwrap().to_owned();
        if name.starts_with("cut-") && !name.starts_with("cut-sheet") && name.ends_with(".svg") {
            has(&name, &picture_words(&std::fs::read_to_string(entry).unwrap()));
        }
    }
    has("required blowdown", &picture_words(&read("x/required-blowdown.svg")));
    said(&format!(
        "portmap scenarios/touring.toml scenarios/short-blowdown.toml -o {}",
        path("map")
    ));
    has("port map", &picture_words(&read("map/port-map.svg")));
    said(&format!("disc scenarios/touring.toml -o {}", path("disc")));
    has("degree disc", &picture_words(&read("disc/degree-disc.svg")));
    said(&format!(
        "report scenarios/touring.toml scenarios/short-blowdown.toml --rpm 6000,7000 -q -o {} --markdown {}",
        path("b.html"),
        path("md")
    ));
    has("report", &read("b.html"));
    has("report for a forum", &read("md/build.md"));
}

#[test]
fn no_command_contradicts_the_verdict_of_another() {
    // what explain calls enough is what its own list of required blowdown calls so
    let all = said("explain scenarios/touring.toml --rpm 7000 --speeds 7000").replace('\n', " ");
    assert!(!all.contains("blowdown is too short for this speed"), "{all}");
    assert!(all.trim_end().ends_with("the blowdown is enough."), "{all}");
    // and compare calls a change worse where run does
    let set = "--set intake.crank_web.closes_deg_atdc=60";
    let run = last_words(&format!("run scenarios/touring.toml --rpm 7000 {set}"));
    let compare = last_words(&format!("compare scenarios/touring.toml --rpm 7000 {set}"));
    for verdict in ["worth it", "worse", "within the error"] {
        assert_eq!(run.contains(verdict), compare.contains(verdict), "{run}\n{compare}");
    }
}
