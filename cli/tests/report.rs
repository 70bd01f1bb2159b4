//! Write-ups through the binary: one page that asks nothing of anyone, names that are only text, paper at
//! true scale, fits.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use std::path::Path;
use std::process::{Command, Output, Stdio};

fn root() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
}

fn freshcharge(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_freshcharge"))
        .args(args)
        .current_dir(root())
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

fn said(out: &Output) -> String {
    String::from_utf8_lossy(&out.stdout).into_owned() + &String::from_utf8_lossy(&out.stderr)
}

/// Tags, quotes, a block of data's end, direction marks, Markdown, and ten thousand letters.
fn hostile() -> String {
    format!(
        "</script><script>alert(1)</script><img src=x onerror=alert(2)>\\\"'&amp; [a](http://x) | \\u202edlo\\u202c {}",
        "A".repeat(10_000)
    )
}

#[test]
fn a_hostile_name_is_only_text_everywhere() {
    let folder = tempfile::tempdir().unwrap();
    let text = std::fs::read_to_string(root().join("scenarios/touring.toml")).unwrap();
    let text = text.replace("name = \"Touring single 126\"", &format!("name = \"{}\"", hostile()));
    let engine = folder.path().join("engine.toml");
    std::fs::write(&engine, text).unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (engine, page, md) = (at("engine.toml"), at("page.html"), at("md"));
    let out = freshcharge(&[
        "report",
        &engine,
        "--rpm",
        "4000,6000",
        "-o",
        &page,
        "--markdown",
        &md,
        "-q",
    ]);
    assert_eq!(out.status.code(), Some(0), "{}", said(&out));
    let html = std::fs::read_to_string(&page).unwrap();
    // the data and the script are the only two, and nothing of the name is a tag
    assert_eq!(html.matches("<script").count(), 2);
    assert_eq!(html.matches("</script").count(), 2);
    assert!(!html.contains("<img") && !html.contains('\u{202e}'));
    let page_text = std::fs::read_to_string(Path::new(&md).join("build.md")).unwrap();
    assert!(!page_text.contains("<script") && !page_text.contains("<img"));
    assert!(!page_text.contains("](http") && !page_text.contains('\u{202e}'));
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
    assert!(std::fs::read_to_string(&page).unwrap().contains("What a sweep says"));
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
    let spaced = std::fs::read_to_string(root().join("scenarios/touring.toml"))
        .unwrap()
        .replace(
            "base_gaskets_mm = [0.4]\nhead",
            "base_gaskets_mm = [0.4]\nspacers_mm = [0.8]\nhead",
        )
        .replace(
            "[stack.measured]\n",
            "[stack.measured]\nbase_gaskets_mm = [0.4]\nspacers_mm = []\n",
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
