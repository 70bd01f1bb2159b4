//! Write-ups through the binary: one page that asks nothing of anyone, names that are only text, paper at
//! true scale, fits.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod common;

use common::{freshcharge, root, said};
use std::path::Path;

/// Tags, quotes, a block of data's end, direction marks, Markdown, and ten thousand letters.
fn hostile() -> String {
    format!(
        "</script><script>alert(1)</script><img src=x onerror=alert(2)>\\\"'&amp; [a](http://x) | \\u202edlo\\u202c {}",
        "A".repeat(10_000)
    )
}

/// The touring engine with a hostile name, and another with its transfers and roof cut.
fn hostile_pair(folder: &Path) -> [String; 2] {
    let text = std::fs::read_to_string(root().join("scenarios/touring.toml")).unwrap();
    let text = text.replace("name = \"Touring single 126\"", &format!("name = \"{}\"", hostile()));
    let cut = text
        .replace("roof_depth_mm = 42.3", "roof_depth_mm = 41.9")
        .replace("roof_depth_mm = 33.1", "roof_depth_mm = 32.6");
    let write = |name: &str, text: &str| {
        let path = folder.join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    };
    [write("engine.toml", &text), write("planned.toml", &cut)]
}

#[test]
fn a_hostile_name_is_only_text_everywhere() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let [engine, planned] = hostile_pair(folder.path());
    let (page, md, sweep, dyno) = (at("page.html"), at("md"), at("results"), at("dyno.csv"));
    let vary = "stack.base_total_mm=0.4:0.8:0.2";
    let out = freshcharge(&[
        "sweep",
        &engine,
        "--vary",
        vary,
        "--rpm",
        "4000,6000",
        "--out",
        &sweep,
        "--no-charts",
        "-q",
    ]);
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    std::fs::write(&dyno, "rpm,power_kw,compression_gauge_bar\n5000,4.9,\n700,,8.2\n").unwrap();
    let out = freshcharge(&[
        "report",
        &engine,
        &planned,
        "--rpm",
        "4000,6000",
        "--sweep",
        &sweep,
        "--measured",
        &dyno,
        "-o",
        &page,
        "--markdown",
        &md,
        "-q",
    ]);
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    let html = std::fs::read_to_string(&page).unwrap();
    for section in ["cut-sheet", "measured", "sweep"] {
        assert!(html.contains(&format!("<section id=\"{section}\"")), "{section}");
    }
    // two blocks of data and the script are the only three, and nothing of the name is a tag
    assert_eq!(html.matches("<script").count(), 3);
    assert_eq!(html.matches("</script").count(), 3);
    assert!(!html.contains("<img") && !html.contains('\u{202e}'));
    let page_text = std::fs::read_to_string(Path::new(&md).join("build.md")).unwrap();
    assert!(!page_text.contains("<script") && !page_text.contains("<img"));
    assert!(!page_text.contains("](http") && !page_text.contains('\u{202e}'));
}

#[test]
fn a_hostile_name_is_only_text_on_paper_and_in_pictures() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let [engine, _] = hostile_pair(folder.path());
    for args in [
        vec!["portmap", &engine, "-o", &at("map")],
        vec!["disc", &engine, "-o", &at("disc")],
        vec!["plan", &engine, "scenarios/goals.toml", "--sheet", &at("sheet"), "-q"],
        vec!["chart", &engine, "--rpm", "6000", "-o", &at("charts")],
    ] {
        let out = freshcharge(&args);
        assert_eq!(out.status.code(), Some(0), "{args:?}: {}", said(&out));
    }
    let mut looked = 0;
    let sheet = std::fs::read_to_string(Path::new(&at("sheet")).join("cut-sheet.md")).unwrap();
    assert!(!sheet.contains("<script") && !sheet.contains("<img") && !sheet.contains("](http"));
    for name in ["map", "disc", "sheet", "charts"] {
        for file in std::fs::read_dir(at(name)).unwrap() {
            let path = file.unwrap().path();
            if path.extension().is_some_and(|e| e == "svg") {
                let svg = std::fs::read_to_string(&path).unwrap();
                assert!(!svg.contains("<script") && !svg.contains("<img"), "{path:?}");
                looked += 1;
            }
        }
    }
    assert!(looked >= 4, "{looked}");
}

#[test]
fn the_page_is_whole_small_and_asks_for_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("build.html");
    let out = freshcharge(&[
        "report",
        "scenarios/touring.toml",
        "scenarios/short-blowdown.toml",
        "-o",
        page.to_str().unwrap(),
        "-q",
    ]);
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    let html = std::fs::read_to_string(&page).unwrap();
    assert!(html.len() < 2_000_000, "{} bytes", html.len());
    assert!(html.contains("default-src 'none'") && html.contains("script-src 'sha256-"));
    assert!(!html.contains("script-src 'unsafe"));
    // names of XML are no addresses that anything is loaded from
    let bare = html.replace("http://www.w3.org/", "");
    assert!(!bare.contains("http://") && !bare.contains("https://") && !bare.contains("src="));
    assert!(!bare.contains("url(http") && !bare.contains("@import"));
    // the data is JSON with both builds
    let data = html.split("id=\"data\">").nth(1).unwrap().split("</script>").next().unwrap();
    let data: serde_json::Value = serde_json::from_str(data).unwrap();
    let builds = data["builds"].as_array().unwrap();
    assert_eq!(builds.len(), 2);
    for build in builds {
        let traces = build["traces"].as_array().unwrap();
        assert_eq!(traces.len(), build["speeds"].as_array().unwrap().len());
        let x = traces[0]["x"].as_array().unwrap();
        assert!(x.len() > 150, "{}", x.len());
        for curve in traces[0]["y"][0].as_array().unwrap() {
            assert_eq!(curve["y"].as_array().unwrap().len(), x.len());
        }
    }
}

#[test]
fn a_sweep_comes_onto_the_page() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (results, page) = (at("results"), at("page.html"));
    let vary = "stack.base_total_mm=0.4:0.8:0.2";
    let out = freshcharge(&[
        "sweep",
        "scenarios/touring.toml",
        "--vary",
        vary,
        "--rpm",
        "4000,6000",
        "--out",
        &results,
        "--no-charts",
        "-q",
    ]);
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    let args = ["report", "scenarios/touring.toml", "--rpm", "6000", "-o", &page, "-q"];
    let without = freshcharge(&args);
    assert_eq!(without.status.code(), Some(0), "{}", said(&without));
    let pictures = |page: &str| std::fs::read_to_string(page).unwrap().matches("<figure>").count();
    let before = pictures(&page);
    let with = freshcharge(&[&args[..], &["--sweep", &results]].concat());
    assert_eq!(with.status.code(), Some(0), "{}", said(&with));
    assert!(pictures(&page) > before);
    let html = std::fs::read_to_string(&page).unwrap();
    assert!(html.contains("What a sweep says"));
    // every combination is on the page, for charts that let their axes be chosen
    let data = html.split("id=\"grid-data\">").nth(1).unwrap().split("</script>").next().unwrap();
    let data: serde_json::Value = serde_json::from_str(data).unwrap();
    assert_eq!(data["axes"][0]["values"].as_array().unwrap().len(), 3);
    assert_eq!(data["axes"][0]["chosen"], 0);
    assert_eq!(data["axes"][1]["values"], serde_json::json!([4000.0, 6000.0]));
    for result in data["results"].as_array().unwrap() {
        assert!(result["z"].as_array().unwrap().iter().all(serde_json::Value::is_number));
        assert_eq!(result["z"].as_array().unwrap().len(), 6);
    }
}

#[test]
fn a_fit_finds_what_made_the_measurements_and_holds_a_build_out() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    // measurements of builds with more friction than their files say
    let measure = |engine: &str, name: &str| {
        let set = "friction.constant_bar=0.5";
        let out =
            freshcharge(&["run", engine, "--set", set, "--rpm", "3000:8000:1000", "--json", "-q"]);
        let json: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
        let mut csv = String::from("rpm,torque_nm\n");
        for point in json["points"].as_array().unwrap() {
            csv += &format!("{},{}\n", point["rpm"], point["torque_nm"]);
        }
        std::fs::write(at(name), csv).unwrap();
    };
    measure("scenarios/touring.toml", "base.csv");
    let spaced = std::fs::read_to_string(root().join("scenarios/touring.toml")).unwrap().replace(
        "base_gaskets_mm = [0.4]\nhead",
        "base_gaskets_mm = [0.4]\nspacers_mm = [0.8]\nhead",
    );
    std::fs::write(at("spacer.toml"), spaced).unwrap();
    measure(&at("spacer.toml"), "spacer.csv");
    let args = [
        "fit",
        "scenarios/touring.toml",
        "--measured",
        &at("base.csv"),
        "--input",
        "friction.constant_bar=0.1:0.8",
        "--held-out",
        &at("spacer.toml"),
        &at("spacer.csv"),
    ];
    let out = freshcharge(&[&args[..], &["--json"]].concat());
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    let json: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let value = json["inputs"][0]["value"].as_f64().unwrap();
    assert!((value - 0.5).abs() < 1e-3, "{json}");
    assert!(json["held_out"]["off_after"].as_f64().unwrap() < 1e-3, "{json}");
    assert!(json["held_out"]["off_before"].as_f64().unwrap() > 1e-2, "{json}");
    let words = said(&freshcharge(&args));
    assert!(words.contains("Held out") && words.contains("tell it better"), "{words}");
    let out = freshcharge(&[
        "fit",
        "scenarios/touring.toml",
        "--measured",
        &at("base.csv"),
        "--input",
        "friction",
    ]);
    assert_eq!(out.status.code(), Some(2));
    assert!(said(&out).contains("write PATH=LOW:HIGH"), "{}", said(&out));
}

#[test]
fn the_cut_sheet_between_two_files_is_the_one_of_the_plan() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (goals, job) = (at("goals.toml"), at("job"));
    let wish = "[goals]\nblowdown_deg = { least = 24.5 }\nexhaust_chord_to_bore = { least = 0.645 }\n[shelf]\nbase_gaskets_mm = [0.6]\nspacers_mm = [0.0]\nhead_gaskets_mm = [0.3]\n[operations]\nroof = { most_mm = 2.0, tolerance_mm = 0.15 }\nwidth = { most_mm = 2.0, tolerance_mm = 0.2 }\n";
    std::fs::write(&goals, wish).unwrap();
    let out = freshcharge(&["plan", "scenarios/touring.toml", &goals, "--sheet", &job, "-q"]);
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    let text = std::fs::read_to_string(Path::new(&job).join("job.toml")).unwrap();
    let job_file: toml::Table = text.parse().unwrap();
    let to = |path: &str| -> f64 {
        let cuts = job_file["cut"].as_array().unwrap();
        let cut = cuts.iter().find(|c| c["path"].as_str().unwrap().ends_with(path)).unwrap();
        cut["to"].as_float().unwrap()
    };
    let planned = std::fs::read_to_string(root().join("scenarios/touring.toml"))
        .unwrap()
        .replace(
            "base_gaskets_mm = [0.4]\nhead_gaskets_mm = [0.5]\n\n",
            "base_gaskets_mm = [0.6]\nhead_gaskets_mm = [0.3]\n\n",
        )
        .replace("volume_cm3 = 13.2", "volume_cm3 = 13.2\ndeck_mm = 0.3")
        .replace("roof_depth_mm = 33.1", &format!("roof_depth_mm = {}", to("roof_depth_mm")))
        .replace("chord_mm = 35.0", &format!("chord_mm = {}", to("chord_mm")));
    std::fs::write(at("planned.toml"), planned).unwrap();
    let report = |files: &[&str], md: &str| {
        let page = at("page.html");
        let more = ["--rpm", "5000", "-o", &page, "--markdown", md, "-q"];
        let out = freshcharge(&[&["report"], files, &more].concat());
        assert_eq!(out.status.code(), Some(0), "{}", said(&out));
        let markdown = std::fs::read_to_string(Path::new(md).join("build.md")).unwrap();
        (std::fs::read_to_string(&page).unwrap(), markdown)
    };
    let (html, markdown) = report(&["scenarios/touring.toml", &at("planned.toml")], &at("md"));
    let sheet = std::fs::read_to_string(Path::new(&job).join("cut-sheet.md")).unwrap();
    // the same operations, stack and expectations, word for word
    let rows = sheet.lines().filter(|l| l.starts_with("| ")).collect::<Vec<_>>();
    assert!(rows.len() > 16, "{sheet}");
    for row in rows {
        assert!(markdown.contains(row), "{row}\n{markdown}");
    }
    assert!(rows_with(&sheet, "exhaust, sides").contains("a side as chord"));
    assert!(html.contains("Cut sheet") && html.contains("eye and face shield"));
    // the other way round metal would have to be put back
    let (html, _) = report(&[&at("planned.toml"), "scenarios/touring.toml"], &at("md2"));
    assert!(html.contains("NOT by cutting"));
    let (html, markdown) = report(&["scenarios/touring.toml"], &at("md3"));
    assert!(!html.contains("id=\"cut-sheet\"") && !markdown.contains("Cut sheet"));
}

fn rows_with(markdown: &str, words: &str) -> String {
    markdown.lines().filter(|l| l.contains(words)).collect::<Vec<_>>().join("\n")
}

/// Traces of the touring engine at 6000/min as a logger would have them: two degrees early, and the crankcase's
/// sensor 0.05 bar high.
fn logged(folder: &Path, set: &str) -> String {
    let traces = folder.join("traces");
    let out = freshcharge(&[
        "run",
        "scenarios/touring.toml",
        "--rpm",
        "6000",
        "--set",
        set,
        "--trace",
        traces.to_str().unwrap(),
        "-q",
    ]);
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    let trace = std::fs::read_to_string(traces.join("trace-6000rpm.csv")).unwrap();
    let mut lines = trace.lines();
    let heads: Vec<&str> = lines.next().unwrap().split(',').collect();
    let place = |name: &str| heads.iter().position(|h| *h == name).unwrap();
    let wanted = ["angle_deg", "cylinder_pressure_bar", "crankcase_pressure_bar"].map(place);
    let mut csv =
        "# a day on the bench\nrpm,angle_deg,cylinder_pressure_bar,crankcase_pressure_kpa\n"
            .to_owned();
    for line in lines {
        let cells: Vec<f64> = line.split(',').map(|c| c.parse().unwrap_or(f64::NAN)).collect();
        let [angle, cylinder, case] = wanted.map(|p| cells[p]);
        csv += &format!("6000,{},{cylinder},{}\n", angle - 2.0, 100.0 * (case + 0.05));
    }
    let path = folder.join("trace.csv");
    std::fs::write(&path, csv).unwrap();
    path.to_str().unwrap().to_owned()
}

#[test]
fn measured_pressures_lie_over_computed_ones_and_show_what_is_wrong_with_them() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let csv = logged(folder.path(), "friction.constant_bar=0.3");
    let (page, md) = (at("page.html"), at("md"));
    let gauge = at("gauge.csv");
    std::fs::write(&gauge, "rpm,compression_gauge_bar\n500,8.5\n").unwrap();
    // at a speed that the page does not have otherwise
    let out = freshcharge(&[
        "report",
        "scenarios/touring.toml",
        "--rpm",
        "5000,7000",
        "--measured",
        &csv,
        "--measured",
        &gauge,
        "-o",
        &page,
        "--markdown",
        &md,
        "-q",
    ]);
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    let markdown = std::fs::read_to_string(Path::new(&md).join("build.md")).unwrap();
    for (place, mean) in [("cylinder", None), ("crankcase", Some(-0.05))] {
        let row = rows_with(&markdown, &format!("| {place} | 6000 |"));
        let cells: Vec<&str> = row.split('|').map(str::trim).collect();
        let number = |i: usize| -> f64 { cells[i].parse().unwrap() };
        if let Some(mean) = mean {
            assert!((number(4) - mean).abs() < 2e-3, "{row}");
        }
        // read two degrees later nothing is left between but rounding and straight lines
        assert!((number(8) - 2.0).abs() < 0.05 && number(9) < 0.02, "{row}");
        assert!(number(5) > 3.0 * number(9), "{row}");
        assert!(Path::new(&md).join(format!("measured-{place}-apart-6000rpm.png")).exists());
    }
    assert!(markdown.contains("Check the mark of the top dead centre"), "{markdown}");
    // what the gauge should read is what the motored run says
    let out =
        freshcharge(&["run", "scenarios/touring.toml", "--motored", "--rpm", "500", "--json"]);
    let json: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let bar = json["points"][0]["gauge_reading_bar"].as_f64().unwrap();
    assert!(rows_with(&markdown, "| 500 | 8.50 |").contains(&format!("| {bar:.2} |")), "{bar}");
    assert!(
        markdown.contains("crankcase pressure at transfer opening \\[bar\\] | 6000 |"),
        "{markdown}"
    );
    let html = std::fs::read_to_string(&page).unwrap();
    let data = html.split("id=\"data\">").nth(1).unwrap().split("</script>").next().unwrap();
    let data: serde_json::Value = serde_json::from_str(data).unwrap();
    assert_eq!(data["measured_traces"][1]["name"], "crankcase");
    assert_eq!(data["builds"][0]["traces"].as_array().unwrap().len(), 3);
}

#[test]
fn a_fit_takes_pressures_at_the_events_fuel_and_air_and_no_gauge() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let traces = at("traces");
    let set = "exhaust.discharge_coefficient=0.70";
    let engine = "scenarios/touring.toml";
    let out = freshcharge(&[
        "run",
        engine,
        "--rpm",
        "6000,8000",
        "--set",
        set,
        "--trace",
        &traces,
        "--json",
        "-q",
    ]);
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    let json: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let mut csv = "rpm,angle_deg,cylinder_pressure_bar\n".to_owned();
    let mut air = "rpm,air_g_per_min,fuel_g,time_s\n".to_owned();
    for point in json["points"].as_array().unwrap() {
        let of = |key: &str| point[key].as_f64().unwrap();
        let rpm = of("rpm");
        let trace = Path::new(&traces).join(format!("trace-{rpm:.0}rpm.csv"));
        let trace = std::fs::read_to_string(trace).unwrap();
        let heads: Vec<&str> = trace.lines().next().unwrap().split(',').collect();
        let place = heads.iter().position(|h| *h == "cylinder_pressure_bar").unwrap();
        for line in trace.lines().skip(1) {
            let cells: Vec<&str> = line.split(',').collect();
            csv += &format!("{rpm},{},{}\n", cells[0], cells[place]);
        }
        // the definitions once more: air a cycle is the delivery ratio times the reference mass
        let drawn = of("delivery_ratio") * of("reference_mass_mg") * 1e-3 * rpm;
        let fuel = of("fuel_mass_mg") * 1e-3 * rpm * 1.5;
        air += &format!("{rpm},{drawn},{fuel},90\n");
    }
    let gauge = "rpm,compression_gauge_bar\n600,8.1\n";
    for (name, text) in [("trace.csv", csv.as_str()), ("air.csv", &air), ("gauge.csv", gauge)] {
        std::fs::write(at(name), text).unwrap();
    }
    let input = "exhaust.discharge_coefficient=0.60:0.90";
    let fit = |files: &[&str]| {
        let mut args = vec!["fit", engine, "--input", input, "--json"];
        files.iter().for_each(|f| args.extend(["--measured", f]));
        freshcharge(&args)
    };
    let out = fit(&[&at("trace.csv"), &at("air.csv"), &at("gauge.csv")]);
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    let json: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let value = json["inputs"][0]["value"].as_f64().unwrap();
    assert!((value - 0.70).abs() < 2e-3, "{json}");
    // highest, at exhaust and at transfer opening, air and fuel, at two speeds
    assert_eq!(json["points"].as_array().unwrap().len(), 10, "{json}");
    let out = fit(&[&at("gauge.csv")]);
    assert_eq!(out.status.code(), Some(2));
    assert!(said(&out).contains("gauge.csv: a fit needs something of a running engine"));
}

#[test]
fn a_template_orders_names_and_styles_and_is_refused_before_anything_runs() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (own, page, md) = (at("own.toml"), at("page.html"), at("md"));
    let out = freshcharge(&["report", "--write-template", &own]);
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    let report = |more: &[&str]| {
        let args = ["report", "scenarios/touring.toml", "--rpm", "5000,6000", "-o", &page, "-q"];
        freshcharge(&[&args, more].concat())
    };
    assert_eq!(report(&[]).status.code(), Some(0));
    let plain = std::fs::read_to_string(&page).unwrap();
    assert_eq!(report(&["--template", &own]).status.code(), Some(0));
    let same = std::fs::read_to_string(&page).unwrap();
    // but for the command that made it
    let cut = |html: &str| html.split("id=\"again\"").next().unwrap().to_owned();
    assert_eq!(cut(&plain), cut(&same));
    let text = "title = \"{engine} <b>for</b> {use}\"\nstyle = \"body{{color:#123456}}\"\n[[section]]\nshow = \"results\"\nheading = \"What it makes\"\ntext = \"{peak_power_kw} kW with {blowdown_deg}° of blowdown.\"\n[[section]]\nshow = \"engine\"\n";
    std::fs::write(&own, text.replace("{{", "{").replace("}}", "}")).unwrap();
    let out = report(&["--template", &own, "--markdown", &md]);
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    let html = std::fs::read_to_string(&page).unwrap();
    assert!(html.contains("body{color:#123456}") && !html.contains("max-width:52rem"));
    assert!(html.contains("Touring single 126 &lt;b&gt;for&lt;/b&gt; touring"));
    let place = |words: &str| html.find(words).unwrap_or_else(|| panic!("{words}"));
    assert!(place("What it makes") < place("A crankcase-scavenged single"));
    assert!(place("A crankcase-scavenged single") < place("<h2>Cautions</h2>"));
    assert!(!html.contains("Port map"));
    let markdown = std::fs::read_to_string(Path::new(&md).join("build.md")).unwrap();
    assert!(
        markdown.contains("kW with 23.02° of blowdown.") || markdown.contains("kW with 23"),
        "{markdown}"
    );
    std::fs::write(&own, "title = \"x\"\n[[section]]\nshow = \"engine\"\ntext = \"{powr_kw}\"\n")
        .unwrap();
    let out = report(&["--template", &own]);
    assert_eq!(out.status.code(), Some(2));
    let words = said(&out);
    assert!(
        words.contains("own.toml:4:9: section[0].text = {powr_kw: there is no {powr_kw}"),
        "{words}"
    );
    assert!(words.contains("blowdown_deg"), "{words}");
}
