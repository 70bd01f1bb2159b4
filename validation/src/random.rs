//! Random engines: every intake, every scavenging law, columns, silencers, leaks, pipes, at any speed. Invented
//! numbers within what is built; a few are refused by the reader, as files of people are.

use std::fmt::Write as _;

/// A repeatable stream of numbers in [0, 1): SplitMix64 (G. L. Steele, D. Lea, C. H. Flood 2014).
#[derive(Debug, Clone)]
pub struct Draws(u64);

impl Draws {
    /// A stream of its own for every number.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next share, in [0, 1).
    pub fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// The next number between two.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    /// True in `share` of all cases.
    pub fn chance(&mut self, share: f64) -> bool {
        self.share() < share
    }

    /// A stream of its own that takes nothing from this one.
    #[must_use]
    pub fn apart(&self) -> Self {
        Self(self.0 ^ 0x6a09_e667_f3bc_c908)
    }

    /// A whole number below `count`.
    pub fn one_of(&mut self, count: usize) -> usize {
        (self.share() * count as f64) as usize
    }
}

/// An engine file and a speed.
#[derive(Debug, Clone)]
pub struct Sample {
    /// The file's text.
    pub text: String,
    /// Speed [1/min], from 500 to 16 000.
    pub rpm: f64,
}

/// What the parts of an engine have to suit.
struct Size {
    bore: f64,
    stroke: f64,
    skirt: f64,
    /// Swept volume [cm³].
    swept: f64,
}

/// A random engine without pipes, or with at least one.
#[must_use]
pub fn engine(draws: &mut Draws, pipes: bool) -> Sample {
    let bore = draws.between(36.0, 70.0);
    let stroke = bore * draws.between(0.8, 1.15);
    let swept = bore * bore * stroke * 0.7854e-3;
    // long enough that the crown never uncovers a piston-controlled inlet
    let skirt = stroke * draws.between(1.15, 1.3) + 1.0;
    let size = Size { bore, stroke, skirt, swept };
    let (outlet, inlet) = match (pipes, draws.one_of(3)) {
        (false, _) => (false, false),
        (true, 0) => (true, false),
        (true, 1) => (false, true),
        (true, _) => (true, true),
    };
    let mut text = "name = \"random\"\n".to_owned();
    trunk(&mut text, draws, &size);
    exhaust(&mut text, draws, &size, outlet);
    inlet_side(&mut text, draws, &size, inlet);
    running(&mut text, draws);
    Sample { text, rpm: draws.between(500.0, 16_000.0) }
}

fn put(text: &mut String, words: std::fmt::Arguments) {
    // a string takes every word
    let _ = text.write_fmt(words);
}

fn trunk(text: &mut String, s: &mut Draws, size: &Size) {
    let Size { bore, stroke, skirt, swept } = size;
    let offset = if s.chance(0.3) { s.between(-1.0, 1.0) } else { 0.0 };
    put(
        text,
        format_args!(
            "[crank_train]\nbore_mm = {bore}\nstroke_mm = {stroke}\nrod_mm = {}\npin_offset_mm = {offset}\n\
             [piston]\nskirt_length_mm = {skirt}\n[stack]\nbase_gaskets_mm = [0.4]\nhead_gaskets_mm = [0.5]\n\
             [stack.measured]\ndeck_mm = {}\n[head]\nland_offset_mm = 0.4\n[head.assembled]\nvolume_cm3 = {}\n\
             [crankcase]\nvolume_cm3 = {}\nwall_w_per_k = {}\n",
            stroke * s.between(1.8, 2.2),
            s.between(-0.2, 0.6),
            swept / s.between(7.0, 12.0),
            swept * s.between(2.6, 4.5),
            s.between(0.0, 1.0),
        ),
    );
}

/// Exhaust and transfer windows, what stands behind them.
fn exhaust(text: &mut String, s: &mut Draws, size: &Size, pipe: bool) {
    let Size { bore, stroke, swept, .. } = size;
    let roof = stroke * s.between(0.52, 0.68);
    let transfer = roof + stroke * s.between(0.07, 0.20);
    let chord = bore * s.between(0.45, 0.68);
    let exit = bore * s.between(0.45, 0.65);
    put(text, format_args!("[exhaust]\nduct_exit_diameter_mm = {exit}\n"));
    if pipe {
        let length = stroke * s.between(0.5, 1.2);
        let volume = exit * exit * 0.7854e-3 * length * s.between(0.9, 1.3);
        put(text, format_args!("duct_length_mm = {length}\nduct_volume_cm3 = {volume}\n"));
    }
    put(
        text,
        format_args!(
            "[[exhaust.window]]\nchord_mm = {chord}\nroof_depth_mm = {roof}\nroof_radius_mm = {}\nroof_arch_mm = {}\n",
            chord * s.between(0.0, 0.15),
            chord * s.between(0.0, 0.04)
        ),
    );
    match (pipe, s.chance(0.4)) {
        (true, tuned) => exhaust_pipe(text, s, size, exit, tuned),
        (false, true) => put(
            text,
            format_args!(
                "[exhaust.silencer]\nvolume_cm3 = {}\noutlet_diameter_mm = {}\n",
                swept * s.between(4.0, 15.0),
                bore * s.between(0.25, 0.4)
            ),
        ),
        (false, false) => {}
    }
    let width = bore * s.between(0.25, 0.4);
    let volume = swept * s.between(0.08, 0.25);
    put(text, format_args!("[[transfer]]\nname = \"side\"\nduct_volume_cm3 = {volume}\n"));
    if s.chance(0.6) {
        put(text, format_args!("duct_length_mm = {}\n", stroke * s.between(0.6, 2.5)));
    }
    for centre in [90, -90] {
        put(
            text,
            format_args!(
                "[[transfer.window]]\ncentre_deg = {centre}\nchord_mm = {width}\nroof_depth_mm = {transfer}\n"
            ),
        );
    }
}

/// A header into a box with a tail pipe, or a tuned pipe.
fn exhaust_pipe(text: &mut String, s: &mut Draws, size: &Size, exit: f64, tuned: bool) {
    let wall = s.between(100.0, 450.0);
    put(text, format_args!("[exhaust.pipe]\nwall_temperature_c = {wall}\n"));
    let mut piece = |length: f64, from: Option<f64>, to: f64| {
        put(text, format_args!("[[exhaust.pipe.section]]\nlength_mm = {length}\n"));
        if let Some(from) = from {
            put(text, format_args!("from_mm = {from}\n"));
        }
        put(text, format_args!("to_mm = {to}\n"));
    };
    let tail = exit * s.between(0.5, 0.7);
    piece(s.between(120.0, 350.0), Some(exit), exit * s.between(1.0, 1.15));
    if tuned {
        let belly = exit * s.between(1.8, 3.0);
        piece(s.between(150.0, 350.0), None, belly);
        piece(s.between(40.0, 150.0), None, belly);
        piece(s.between(120.0, 300.0), None, tail);
        piece(s.between(100.0, 300.0), None, tail);
    } else {
        let box_volume = size.swept * s.between(5.0, 20.0);
        let length = s.between(60.0, 200.0);
        put(
            text,
            format_args!(
                "[[exhaust.pipe.section]]\nvolume_cm3 = {box_volume}\n\
                 [[exhaust.pipe.section]]\nlength_mm = {length}\nfrom_mm = {tail}\nto_mm = {tail}\n"
            ),
        );
    }
}

/// Share of engines with reed valves.
const REEDS: f64 = 0.1;

/// The intake and what stands before it.
fn inlet_side(text: &mut String, s: &mut Draws, size: &Size, pipe: bool) {
    let Size { bore, stroke, skirt, swept } = size;
    // petals draw for themselves, so that engines without them are what they were; they bounce, and take some ten
    // times as long as others
    let mut apart = s.apart();
    let petals = apart.chance(REEDS);
    match s.one_of(3) {
        _ if petals => reed(text, &mut apart, size),
        0 => put(
            text,
            format_args!(
                "[intake.crank_web]\nopens_deg_btdc = {}\ncloses_deg_atdc = {}\nwindow_area_mm2 = {}\n",
                s.between(105.0, 135.0),
                s.between(40.0, 70.0),
                swept * s.between(2.5, 4.5)
            ),
        ),
        1 => put(
            text,
            format_args!(
                "[intake.disc_valve]\nopens_deg_btdc = {}\ncloses_deg_atdc = {}\nwindow_area_mm2 = {}\n",
                s.between(125.0, 150.0),
                s.between(55.0, 85.0),
                swept * s.between(3.0, 5.0)
            ),
        ),
        _ => {
            let floor = skirt + stroke * s.between(0.18, 0.3);
            put(
                text,
                format_args!(
                    "[intake.piston_port]\n[[intake.piston_port.window]]\ncentre_deg = 180\nchord_mm = {}\n\
                     roof_depth_mm = {}\nfloor_depth_mm = {floor}\n",
                    bore * s.between(0.4, 0.6),
                    floor - stroke * 0.3
                ),
            );
        }
    }
    let bore_of_carburettor = bore * s.between(0.3, 0.6);
    let (length, diameter) = (bore * s.between(1.0, 5.0), bore * s.between(0.35, 0.6));
    match (pipe, s.chance(0.4)) {
        (true, _) => put(
            text,
            format_args!(
                "[inlet_pipe]\n[[inlet_pipe.section]]\nlength_mm = {length}\nfrom_mm = {diameter}\nto_mm = {diameter}\n"
            ),
        ),
        (false, true) => put(
            text,
            format_args!("[inlet_tract]\nlength_mm = {length}\ndiameter_mm = {diameter}\n"),
        ),
        (false, false) => {}
    }
    if petals && apart.chance(0.25) {
        return;
    }
    put(
        text,
        format_args!("[carburettor]\nbore_mm = {bore_of_carburettor}\nthrottle = {}\n", {
            if s.chance(0.2) { s.between(0.05, 1.0) } else { 1.0 }
        }),
    );
}

/// A reed block of one to three stages, with windows in the bore behind it or straight into the crankcase.
fn reed(text: &mut String, s: &mut Draws, size: &Size) {
    let Size { bore, stroke, skirt, .. } = size;
    put(text, format_args!("[intake.reed]\ndischarge_coefficient = {}\n", s.between(0.6, 0.85)));
    let stages = [1, 1, 1, 2, 2, 3][s.one_of(6)];
    let area = bore * bore * s.between(0.5, 1.2) / f64::from(stages);
    for stage in 0..stages {
        // thickness over the bore, for petals of some hundred hertz
        let (material, thin, thick) =
            [("steel", 0.003, 0.006), ("glass", 0.006, 0.013), ("carbon", 0.005, 0.010)]
                [s.one_of(3)];
        let length = bore * s.between(0.5, 0.9);
        let overlap = s.between(0.5, 3.0);
        let window = (length - overlap) * s.between(0.6, 0.9);
        let petals = (area / (window * bore * s.between(0.2, 0.6))).ceil();
        let width = area / (window * petals);
        put(
            text,
            format_args!(
                "[[intake.reed.stage]]\nname = \"stage-{stage}\"\nmaterial = \"{material}\"\npetals = {petals}\n\
                 length_mm = {length}\nwidth_mm = {}\nthickness_mm = {}\nwindow_length_mm = {window}\n\
                 window_width_mm = {width}\ntip_overlap_mm = {overlap}\nstop_mm = {}\n\
                 damping_ratio = {}\nrestitution = {}\n",
                width + s.between(1.0, 4.0),
                bore * s.between(thin, thick),
                length * s.between(0.1, 0.35),
                s.between(0.01, 0.1),
                s.between(0.1, 0.6),
            ),
        );
        if s.chance(0.2) {
            put(text, format_args!("frequency_hz = {}\n", s.between(120.0, 450.0)));
        }
    }
    if s.chance(0.25) {
        let floor = skirt + stroke * s.between(0.2, 0.45);
        put(
            text,
            format_args!(
                "[[intake.reed.window]]\ncentre_deg = 180\nchord_mm = {}\nroof_depth_mm = {}\nfloor_depth_mm = {floor}\n",
                bore * s.between(0.4, 0.65),
                floor - stroke * 0.3
            ),
        );
    }
}

/// Burning, heat, leaks, scavenging, mixture.
fn running(text: &mut String, s: &mut Draws) {
    let heat = ["annand", "woschni", "adiabatic"][s.one_of(3)];
    let leak = if s.chance(0.3) { s.between(0.0, 0.6) } else { 0.0 };
    put(
        text,
        format_args!(
            "[combustion]\nstart_deg_btdc = {}\nduration_deg = {}\n[leaks]\nblow_by_mm2 = {leak}\n\
             crankcase_mm2 = {leak}\n[heat]\nlaw = \"{heat}\"\n[fuel]\nlambda = {}\n[scavenging]\n",
            s.between(5.0, 20.0),
            s.between(40.0, 60.0),
            s.between(0.75, 1.15)
        ),
    );
    match s.one_of(5) {
        0 => text.push_str("law = \"perfect-mixing\"\n"),
        1 => text.push_str("law = \"perfect-displacement\"\n"),
        2 => put(
            text,
            format_args!(
                "law = \"two-part\"\ndisplaced = {}\nshort_circuit = {}\n",
                s.between(0.05, 0.6),
                s.between(0.0, 0.3)
            ),
        ),
        3 => put(
            text,
            format_args!(
                "law = \"curve\"\nk0 = {}\nk1 = {}\nk2 = {}\n",
                if s.chance(0.5) { s.between(-0.05, 0.05) } else { 0.0 },
                s.between(-1.0, -0.8),
                s.between(-0.1, 0.0)
            ),
        ),
        _ => {
            let first = s.between(0.3, 0.4);
            let second = first + s.between(0.15, 0.25);
            put(
                text,
                format_args!(
                    "law = \"table\"\nratio = [0.0, 0.5, 1.0, 2.0, 4.0]\nefficiency = [0.0, {first}, {second}, {}, 0.99]\n",
                    second + 0.7 * (0.99 - second)
                ),
            );
        }
    }
}
