//! Answers judged against those before them: what is asked back, and why.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::scenario::Answers;

const BOTTOM_END: &str = "[crank_train]\nbore_mm = 54.0\nstroke_mm = 52.0\nrod_mm = 105.0\n[piston]\nskirt_length_mm = 58.0\n";
const STACK: &str = "[stack.measured]\ndeck_mm = 0.3\n[stack]\nbase_gaskets_mm = [0.4]\nhead_gaskets_mm = [0.5]\n[head]\nland_offset_mm = 0.4\nsquish_band_mm = 8.0\n";
const WINDOW: &str = "[[exhaust.window]]\nchord_mm = 34.0\nroof_depth_mm = 33.0\n";
const TRANSFER: &str = "[[transfer]]\nname = \"main\"\nduct_volume_cm3 = 34.0\nduct_length_mm = 75.0\n[[transfer.window]]\n";

/// Answers, the key given last, and words of what is said of it.
fn doubted(answers: &str, path: &str, words: &[&str]) {
    let judged = Answers::read(answers);
    assert!(judged.faults().is_empty(), "{path}: {:?}", judged.faults());
    let said = judged.doubt(path).map(|d| d.to_string()).unwrap_or_default();
    for word in words {
        assert!(said.contains(word), "{path}: {word:?} in {said:?}");
    }
}

fn refused(answers: &str, path: &str, words: &str) {
    let judged = Answers::read(answers);
    let fault = judged.faults().iter().find(|f| f.key == path);
    assert!(fault.is_some_and(|f| f.remedy.contains(words)), "{path}: {:?}", judged.faults());
}

#[test]
fn nothing_is_said_of_a_usual_engine_at_any_of_its_answers() {
    let whole = format!(
        "{BOTTOM_END}{STACK}[head.assembled]\nvolume_cm3 = 12.8\n{WINDOW}{TRANSFER}centre_deg = 78.0\nchord_mm = 18.5\nroof_depth_mm = 42.0\n"
    );
    // every beginning of the file is a state of the asking
    for (end, _) in whole.match_indices('\n') {
        let so_far = &whole[..=end];
        let judged = Answers::read(so_far);
        assert!(judged.faults().is_empty(), "{so_far}\n{:?}", judged.faults());
        for path in [
            "crank_train.stroke_mm",
            "crank_train.rod_mm",
            "stack.measured.deck_mm",
            "head.land_offset_mm",
            "head.assembled.volume_cm3",
            "exhaust.window[0].chord_mm",
            "exhaust.window[0].roof_depth_mm",
            "transfer[0].window[0].centre_deg",
            "transfer[0].window[0].roof_depth_mm",
        ] {
            assert_eq!(judged.doubt(path), None, "{path} in\n{so_far}");
        }
    }
}

#[test]
fn slips_of_the_bottom_end_are_asked_back() {
    let train = "[crank_train]\nbore_mm = 54\nstroke_mm = 54\nrod_mm = 54\n";
    doubted(train, "crank_train.rod_mm", &["a rod 1.00 times the stroke", "the stroke again"]);
    let throw = "[crank_train]\nbore_mm = 54\nstroke_mm = 26\n";
    doubted(throw, "crank_train.stroke_mm", &["crank throw", "52.0 mm"]);
    let deck = format!("{BOTTOM_END}[stack.measured]\ndeck_mm = 5\n");
    doubted(&deck, "stack.measured.deck_mm", &["5 mm is unusual", "0.5 mm would be usual"]);
    let gasket = format!("{BOTTOM_END}[stack.measured]\nbase_gaskets_mm = [0.0, 5.0]\n");
    doubted(&gasket, "stack.measured.base_gaskets_mm", &["0 mm is unusual", "none"]);
    let crankcase = format!("{BOTTOM_END}[crankcase]\nvolume_cm3 = 2000\n");
    doubted(&crankcase, "crankcase.volume_cm3", &["a crankcase ratio of 1.06"]);
    refused(
        &format!("{BOTTOM_END}[crankcase]\nvolume_cm3 = 100\n"),
        "crankcase.volume_cm3",
        "swept",
    );
    let carburettor = format!("{BOTTOM_END}[carburettor]\nbore_mm = 60\n");
    doubted(&carburettor, "carburettor.bore_mm", &["0.3 to 0.75 times the bore"]);
}

#[test]
fn slips_of_the_head_are_asked_back() {
    let squish = format!("{BOTTOM_END}{}", STACK.replace("offset_mm = 0.4", "offset_mm = 5.1"));
    doubted(&squish, "head.land_offset_mm", &["a squish gap of 5.90 mm", "0.5 to 2.0 mm"]);
    let filled = format!("{squish}[head.assembled]\nvolume_cm3 = 13\n");
    doubted(&filled, "head.assembled.volume_cm3", &["holds less than half"]);
    let ratio = format!("{BOTTOM_END}{STACK}[head.assembled]\nvolume_cm3 = 128\n");
    doubted(&ratio, "head.assembled.volume_cm3", &["compression ratio of 1.9", "12.8 cm³"]);
}

#[test]
fn slips_of_windows_are_asked_back_or_refused() {
    let before = format!("{BOTTOM_END}{STACK}");
    let roof = format!("{before}[[exhaust.window]]\nchord_mm = 34\nroof_depth_mm = 19.3\n");
    doubted(&roof, "exhaust.window[0].roof_depth_mm", &["bottom dead centre", "33.0 mm"]);
    let late = format!("{before}[[exhaust.window]]\nchord_mm = 34\nopens_deg_atdc = 165\n");
    doubted(&late, "exhaust.window[0].opens_deg_atdc", &["a duration of 30.0°", "97.5°"]);
    refused(
        &format!("{before}[[exhaust.window]]\nchord_mm = 55\nroof_depth_mm = 33\n"),
        "exhaust.window[0].chord_mm",
        "narrower than the bore",
    );
    let floor = format!("{before}{WINDOW}floor_depth_mm = 30\n");
    refused(&floor, "exhaust.window[0].floor_depth_mm", "below the roof");
    let centre = format!("{before}{WINDOW}{TRANSFER}centre_deg = 0\n");
    doubted(&centre, "transfer[0].window[0].centre_deg", &["0° is unusual", "reaches to 39°"]);
    let inside = format!("{centre}chord_mm = 18\nroof_depth_mm = 42\n");
    refused(&inside, "transfer[0].window[0].centre_deg", "cover each other");
    let early =
        format!("{before}{WINDOW}{TRANSFER}centre_deg = 78\nchord_mm = 18\nroof_depth_mm = 32\n");
    refused(&early, "transfer[0].window[0].roof_depth_mm", "exhaust must open first");
}
