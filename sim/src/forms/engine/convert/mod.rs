//! From the file as written to the engine as meant: defaults filled, SI, depths in the state to run.

mod pipes;
mod ports;
mod running;
mod stack;

use crate::crank::Crank;
use crate::forms::document::{Document, Value, numbered};
use crate::forms::fault::{FaultKind, Faults, displayable};
use crate::forms::place::Place;
pub(super) use crate::forms::place::difference_to_si;
use crate::spec::{CrankTrain, EngineSpec, Exhaust, ModelVersion, Piston, StudHole, TransferGroup};
use stack::State;

/// A conversion under way.
pub(super) struct Conversion<'a> {
    pub(super) document: &'a Document,
    pub(super) faults: Faults,
    pub(super) notes: Vec<String>,
    /// An engine that shares tables of its file with this one.
    known: Option<Known<'a>>,
}

/// An engine already understood, of which a few numbers are changed.
#[derive(Clone, Copy)]
pub(super) struct Known<'a> {
    pub(super) spec: &'a EngineSpec,
    pub(super) run_speeds: &'a [f64],
    pub(super) touched: &'a Touched,
}

/// What changes of some numbers may reach: parts that they do not are taken over as they are.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Touched {
    /// Parts of the file with a number that changes: the first step of its path, `transfer[0]`.
    parts: Vec<String>,
    /// Whether what windows are placed by may change.
    bench: bool,
}

impl Touched {
    /// By the numbers with these full paths; `kept` when the file says in which state it was measured, so
    /// that a stack to run does not move what was measured.
    pub(super) fn by<'p>(paths: impl Iterator<Item = &'p str> + Clone, kept: bool) -> Self {
        let part = |path: &str| path.split_once('.').map_or(path, |p| p.0).to_owned();
        let placing = |path: &str| {
            ["crank_train.", "piston.", "stack.measured", "stack.top_face_cut_mm"]
                .iter()
                .any(|start| path.starts_with(start))
                || (!kept && path.starts_with("stack."))
        };
        Self { parts: paths.clone().map(part).collect(), bench: paths.into_iter().any(placing) }
    }

    fn part(&self, part: &str) -> bool {
        self.parts.iter().any(|p| p == part)
    }

    /// Whether a part whose windows are placed by the bench may change.
    fn placed(&self, part: &str) -> bool {
        self.bench || self.part(part)
    }
}

/// What windows are placed by.
struct Bench {
    /// Bore [m].
    bore: f64,
    /// Pin offset [m].
    pin_offset: f64,
    /// Crown chamfer [m].
    chamfer: f64,
    /// What has been cut from the top face since the depths were measured [m].
    cut: f64,
    /// State the depths and, where nothing else is said, the angles were measured in.
    measured: State,
}

impl<'a> Conversion<'a> {
    pub(super) fn new(document: &'a Document, known: Option<Known<'a>>) -> Self {
        Self { document, faults: Faults::default(), notes: Vec::new(), known }
    }

    /// A part that comes from one table alone: as it is known where nothing touches the table, else made.
    fn part<T>(
        &mut self,
        table: &str,
        known: impl Fn(&EngineSpec) -> T,
        make: impl Fn(&mut Self) -> T,
    ) -> T {
        match self.known_unless(|touched| touched.part(table)) {
            Some(spec) => known(spec),
            None => make(self),
        }
    }

    /// The known engine, unless what is wanted of it may have changed.
    fn known_unless(&self, changed: impl Fn(&Touched) -> bool) -> Option<&'a EngineSpec> {
        self.known.filter(|k| !changed(k.touched)).map(|k| k.spec)
    }

    fn at(&self, path: impl Into<String>) -> Place<'a> {
        Place::at(self.document, path)
    }

    fn fault(&mut self, kind: FaultKind, path: &str, remedy: impl Into<String>) {
        self.faults.add(self.document.fault(kind, path, remedy));
    }

    /// One of two keys that say the same in different words; `convert` brings the second into the
    /// first. Two that differ by more than a reading's error are a fault.
    fn one_of(
        &mut self,
        place: &Place,
        names: (&str, &str),
        convert: impl Fn(f64) -> f64,
    ) -> Option<f64> {
        let (first, second) = (place.maybe(names.0), place.maybe(names.1).map(convert));
        if let (Some(a), Some(b)) = (first, second) {
            let percent = 100.0 * (b - a) / a;
            if percent.abs() > 5.0 {
                let remedy = format!(
                    "{} says {percent:+.1} % of this; measure again or leave one out",
                    names.1
                );
                self.fault(FaultKind::Contradiction, &place.key(names.0), remedy);
            } else if percent.abs() > 0.1 {
                self.notes.push(format!(
                    "{}: {} gives {percent:+.1} % against {}, which is used",
                    place.path, names.1, names.0
                ));
            }
        }
        first.or(second)
    }

    /// Speeds to run at when nothing else is asked [1/min].
    pub(super) fn run_speeds(&self) -> Vec<f64> {
        if let Some(known) = self.known {
            return known.run_speeds.to_vec();
        }
        let run = self.at("run");
        run.numbers("rpm")
            .unwrap_or_else(|| super::parse_speeds(&run.text("rpm")).unwrap_or_default())
    }

    /// The engine. Faults are gathered; what a fault leaves open is not a number.
    pub(super) fn spec(&mut self) -> EngineSpec {
        if self.known.is_none() {
            self.suspicious_lists();
        }
        let train = self.at("crank_train");
        let bore = train.number("bore_mm");
        let crank_train = CrankTrain {
            radius: train.number("stroke_mm") / 2.0,
            rod: train.number("rod_mm"),
            pin_offset: train.number("pin_offset_mm"),
        };
        let piston = self.piston(bore);
        let (stack, measured) = self.stack(&crank_train, &piston);
        let bench = Bench {
            bore,
            pin_offset: crank_train.pin_offset,
            chamfer: piston.crown_chamfer,
            cut: self.at("stack").number("top_face_cut_mm"),
            measured,
        };
        let exhaust = self.exhaust_side(&bench);
        let transfers = self.transfers(&bench);
        EngineSpec {
            name: self.part("name", |k| k.name.clone(), |s| displayable(&s.at("").text("name"))),
            model: self.model(),
            bore,
            head: self.head(&bench, &stack, piston.dome_volume),
            exhaust,
            crankcase: self.crankcase(bore, &crank_train, &transfers),
            transfers,
            intake: match self.known_unless(|t| t.placed("intake")) {
                Some(known) => known.intake.clone(),
                None => self.intake(&bench),
            },
            carburettor: self.part("carburettor", |k| k.carburettor, |s| s.carburettor()),
            inlet_tract: self.part("inlet_tract", |k| k.inlet_tract, |s| s.inlet_tract()),
            inlet_pipe: self.part(
                "inlet_pipe",
                |k| k.inlet_pipe.clone(),
                |s| s.pipework("inlet_pipe"),
            ),
            combustion: self.part("combustion", |k| k.combustion.clone(), |s| s.combustion()),
            heat: self.part("heat", |k| k.heat, |s| s.heat()),
            friction: self.part("friction", |k| k.friction, |s| s.friction()),
            leaks: self.part("leaks", |k| k.leaks, |s| s.leaks()),
            scavenging: self.part("scavenging", |k| k.scavenging.clone(), |s| s.scavenging()),
            zone_exchange: self.at("scavenging").number("zone_exchange"),
            ambient: self.part("ambient", |k| k.ambient, |s| s.ambient()),
            fuel: self.part("fuel", |k| k.fuel, |s| s.fuel()),
            cell: self.part("run", |k| k.cell, |s| s.at("run").number("cells_mm")),
            crank_train,
            piston,
            stack,
            stud_holes: self.stud_holes(),
        }
    }

    fn exhaust_side(&mut self, bench: &Bench) -> Exhaust {
        let outside = |t: &Touched| t.placed("exhaust") || t.part("ambient");
        match self.known_unless(outside) {
            Some(known) => known.exhaust.clone(),
            None => Exhaust {
                windows: self.windows("exhaust", bench, true),
                pipe: self.pipework("exhaust.pipe"),
                ..self.exhaust()
            },
        }
    }

    /// The version of the model that the file names, where there is such a one.
    fn version(&self) -> Option<ModelVersion> {
        match self.known {
            Some(known) => Some(known.spec.model),
            None => self.at("").maybe(MODEL).and_then(ModelVersion::numbered),
        }
    }

    /// The version of the model: as given, else the standard one, which is said.
    fn model(&mut self) -> ModelVersion {
        let numbers: Vec<String> =
            ModelVersion::ALL.iter().map(|v| v.number().to_string()).collect();
        if self.document.tolerances.contains_key(MODEL) {
            let remedy = "a version has no tolerance: write model = 2".to_owned();
            self.fault(FaultKind::WrongKind, MODEL, remedy);
        }
        let standard = ModelVersion::STANDARD;
        match (self.version(), self.at("").maybe(MODEL)) {
            (Some(version), _) => version,
            (None, Some(number)) => {
                // what cannot be read has its fault already
                if !number.is_nan() {
                    let remedy = format!("there are the versions {}", numbers.join(" and "));
                    self.fault(FaultKind::OutOfRange, MODEL, remedy);
                }
                standard
            }
            (None, None) => {
                let number = standard.number();
                self.notes.push(format!(
                    "the file names no version of the model and gets version {number}; write model = {number} at its top to keep that, model = 2 for new and old gas apart in the cylinder"
                ));
                standard
            }
        }
    }

    fn transfers(&mut self, bench: &Bench) -> Vec<TransferGroup> {
        if let Some(known) = self.known {
            let groups = known.spec.transfers.iter().enumerate();
            return groups
                .map(|(g, group)| {
                    let same = !known.touched.placed(&numbered("transfer", g));
                    if same { group.clone() } else { self.transfer(g, bench) }
                })
                .collect();
        }
        (0..self.document.count("transfer")).map(|g| self.transfer(g, bench)).collect()
    }

    fn stud_holes(&self) -> Vec<StudHole> {
        (0..self.document.count("stud_hole"))
            .map(|i| {
                let hole = self.at(numbered("stud_hole", i));
                StudHole {
                    centre: hole.number("centre_deg"),
                    distance: hole.number("distance_mm"),
                    diameter: hole.number("diameter_mm"),
                }
            })
            .collect()
    }

    fn piston(&mut self, bore: f64) -> Piston {
        if let Some(known) = self.known_unless(|t| t.part("piston") || t.part("crank_train")) {
            return known.piston.clone();
        }
        let piston = self.at("piston");
        Piston {
            compression_height: piston.maybe("compression_height_mm").unwrap_or(0.55 * bore),
            skirt_length: piston.maybe("skirt_length_mm").unwrap_or(bore),
            ring_depths: piston.numbers("ring_depths_mm").unwrap_or_default(),
            ring_pegs: piston.numbers("ring_pegs_deg").unwrap_or_default(),
            dome_volume: piston.number("dome_volume_cm3"),
            crown_chamfer: piston.number("crown_chamfer_mm"),
            mass: piston.maybe("mass_g"),
        }
    }

    /// A decimal comma inside brackets makes two numbers of one: `[0,4]`.
    fn suspicious_lists(&mut self) {
        let pairs = |value: &Value| matches!(value, Value::Numbers(n) if n.len() == 2);
        for (path, entry) in self.document.entries_where(pairs) {
            let written = self.document.snippet(&entry.span);
            let inner = written.strip_prefix('[').and_then(|w| w.strip_suffix(']'));
            let parts = inner.and_then(|w| w.split_once(','));
            let digits = |s: &str| !s.is_empty() && s.chars().all(|c| c.is_ascii_digit());
            if let Some((before, after)) = parts.filter(|(a, b)| digits(a) && digits(b)) {
                self.notes.push(format!(
                    "{path} = {written} is read as two numbers; for one, write [{before}.{after}]"
                ));
            }
        }
    }
}

/// Key of the version of the model.
pub(super) const MODEL: &str = "model";

/// Crank of a state.
fn crank_of(state: &State, pin_offset: f64) -> Crank<f64> {
    Crank::new(state.radius, state.rod, pin_offset)
}
