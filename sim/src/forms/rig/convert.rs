//! The rig file as written to the rig as meant, with every fault of sense.

use super::keys::FORM;
use super::{EndSpec, Filling, GasChoice, NodeSpec, OrificeSpec, PipeSpec, RigSpec, StationSpec};
use crate::forms::document::{Document, Value};
use crate::forms::fault::{FaultKind, Faults, displayable, quoted};
use crate::forms::nearest::or_nearest;
use crate::forms::place::Place;
use crate::pipe::ends::Outside;
use crate::pipe::{Friction, Grid, Heat, Schedule, Section, Side, State, Wall, end_correction};

/// Most cells of a rig: more would not end within a day.
const MOST_CELLS: f64 = 1e6;

/// Reads a rig file.
///
/// # Errors
/// Every fault found, in order of line.
pub fn read(text: &str) -> Result<RigSpec, Faults> {
    let (document, faults) = Document::read(text, FORM);
    if !document.readable() {
        return Err(faults.in_order());
    }
    let mut conversion = Conversion {
        document: &document,
        faults,
        names: Vec::new(),
        reservoirs: 0,
        pipes: Vec::new(),
    };
    let spec = conversion.rig();
    conversion.faults.none_or()?;
    Ok(spec)
}

struct Conversion<'a> {
    document: &'a Document,
    faults: Faults,
    /// Names of the nodes, in order.
    names: Vec<String>,
    /// How many of them are reservoirs: those come first.
    reservoirs: usize,
    /// Names of the pipes, in order.
    pipes: Vec<String>,
}

impl<'a> Conversion<'a> {
    fn all(&self, array: &str) -> Vec<Place<'a>> {
        Place::all(self.document, array)
    }

    /// Adds a fault at a key of a table.
    fn fault(&mut self, kind: FaultKind, place: &Place, key: &str, remedy: impl Into<String>) {
        let document = self.document;
        self.faults.add_with(|| document.fault(kind, &place.key(key), remedy));
    }

    fn rig(&mut self) -> RigSpec {
        let root = Place::at(self.document, "");
        let tables = self.all("pipe");
        self.pipes = self.own_names(&["pipe"]);
        self.names = self.own_names(&["reservoir", "vessel", "junction"]);
        self.reservoirs = self.document.count("reservoir");
        let mut nodes = self.nodes();
        let cell = root.number("cell_mm");
        let pipes: Vec<PipeSpec> = tables.iter().map(|p| self.pipe(p, cell)).collect();
        let orifices = self.all("orifice");
        if pipes.is_empty() && orifices.is_empty() {
            let remedy = "missing: a rig has at least one [[pipe]] or [[orifice]]";
            self.fault(FaultKind::Missing, &root, "pipe", remedy);
        }
        self.junctions(&mut nodes, &pipes);
        self.jumps(&tables, &pipes);
        let orifices = orifices.iter().map(|o| self.orifice(o)).collect();
        let stations = self.all("station");
        let stations = stations.iter().map(|s| self.station(s, &pipes)).collect();
        let end = root.number("end_ms");
        let profiles = root.numbers("profiles_ms").unwrap_or(vec![end]);
        if let Some(late) = profiles.iter().find(|t| **t > end * (1.0 + 1e-12)) {
            let remedy = format!("{} ms comes after the end of the run", late * 1e3);
            self.fault(FaultKind::Contradiction, &root, "profiles_ms", remedy);
        }
        RigSpec {
            name: displayable(&root.text("name")),
            gas: self.gas(&root),
            end,
            courant: root.number("courant"),
            nodes,
            pipes,
            orifices,
            stations,
            profiles,
            samples: root.number("samples") as usize,
            map_rows: root.number("map_rows") as usize,
        }
    }

    fn gas(&mut self, root: &Place) -> GasChoice {
        let perfect = root.text("gas") == "perfect";
        let strange: &[&str] = if perfect { &["lambda"] } else { &["gamma", "gas_constant"] };
        for name in strange.iter().filter(|n| root.tries(n)) {
            let remedy = if perfect {
                "a perfect gas has none: leave it out, or write gas = \"mixtures\""
            } else {
                "belongs to a perfect gas: leave it out, or write gas = \"perfect\""
            };
            self.fault(FaultKind::Contradiction, root, name, remedy);
        }
        if perfect {
            let (gamma, gas_constant) = (root.number("gamma"), root.number("gas_constant"));
            GasChoice::Perfect { gamma, gas_constant }
        } else {
            GasChoice::Mixtures { lambda: root.number("lambda") }
        }
    }

    /// Names of the tables of these kinds, each its own.
    fn own_names(&mut self, kinds: &[&str]) -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        let tables: Vec<Place> = kinds.iter().flat_map(|k| self.all(k)).collect();
        for table in tables {
            let name = named(&table, "name");
            let taken = ["closed", "endless"].contains(&name.as_str()) || name.contains('.');
            let remedy = if names.contains(&name) {
                "another has this name already"
            } else if taken {
                "choose another name: closed and endless mean something else, and no name has a point"
            } else {
                ""
            };
            if !remedy.is_empty() && !name.is_empty() {
                self.fault(FaultKind::Contradiction, &table, "name", remedy);
            }
            names.push(name);
        }
        names
    }

    fn nodes(&mut self) -> Vec<NodeSpec> {
        let mut nodes = Vec::new();
        for kind in ["reservoir", "vessel", "junction"] {
            for table in &self.all(kind) {
                let volume = match kind {
                    "reservoir" => None,
                    "vessel" => Some(table.number("volume_cm3")),
                    _ => Some(table.maybe("volume_cm3").unwrap_or(0.0)),
                };
                let state = outside(table);
                nodes.push(NodeSpec { name: named(table, "name"), volume, state });
            }
        }
        nodes
    }

    fn pipe(&mut self, table: &Place, cell: f64) -> PipeSpec {
        let cell = table.maybe("cell_mm").unwrap_or(cell);
        let (mut sections, walls) = self.sections(table);
        let ends = [self.end(table, "start"), self.end(table, "finish")];
        for (end, name) in [(0, "start"), (1, "finish")] {
            let key = format!("{name}_end_correction");
            if !table.flag(&key) {
                continue;
            }
            let free = matches!(&ends[end], EndSpec::Opening { area, .. } if area.is_infinite());
            let reservoir =
                matches!(ends[end], EndSpec::Opening { node, .. } if node < self.reservoirs);
            if !(free && reservoir) {
                let remedy = "belongs to an unthrottled end to a reservoir only: leave it out";
                self.fault(FaultKind::Contradiction, table, &key, remedy);
            } else if let Some(last) = sections.len().checked_sub(1) {
                let section = &mut sections[if end == 0 { 0 } else { last }];
                let bore = if end == 0 { section.from } else { section.to };
                let extra = Section::straight(end_correction(bore), bore);
                sections.insert(if end == 0 { 0 } else { last + 1 }, extra);
            }
        }
        let walls = if walls.len() < sections.len() { spread(&walls, table) } else { walls };
        let state = State {
            pressure: table.number("pressure_bar"),
            temperature: table.number("temperature_c"),
            velocity: table.number("velocity_m_per_s"),
            burned: table.number("burned"),
        };
        let length: f64 = sections.iter().map(|s| s.length).sum();
        let known = sections.iter().all(|s| (s.length + s.from + s.to).is_finite());
        if length / cell > MOST_CELLS {
            let remedy = format!(
                "would have {:.0} cells, and at most {MOST_CELLS} can be computed: larger cells, or a shorter pipe",
                length / cell
            );
            self.fault(FaultKind::OutOfRange, table, "cell_mm", remedy);
        } else if known
            && !sections.is_empty()
            && let Err(error) = Grid::new(&sections, cell)
        {
            self.fault(FaultKind::Implausible, table, "name", error.to_string());
        }
        PipeSpec {
            name: named(table, "name"),
            cell,
            fillings: self.fillings(table, state, length),
            sections,
            walls,
            ends,
            state,
        }
    }

    fn sections(&mut self, table: &Place) -> (Vec<Section>, Vec<Wall>) {
        let (mut sections, mut walls): (Vec<Section>, Vec<Wall>) = (Vec::new(), Vec::new());
        for piece in &self.all(&table.key("section")) {
            let length = piece.number("length_mm");
            let from = piece.number("diameter_mm");
            let to = piece.maybe("diameter_to_mm").unwrap_or(from);
            if let Some(last) = sections.last()
                && (from / last.to - 1.0).abs() > 1e-9
            {
                let remedy = format!(
                    "the piece before ends with {:.3} mm: begin with that, or make two pipes joined at their ends",
                    last.to * 1e3
                );
                self.fault(FaultKind::Contradiction, piece, "diameter_mm", remedy);
            }
            sections.push(Section { length, from, to });
            walls.push(wall(piece));
        }
        (sections, walls)
    }

    fn fillings(&mut self, table: &Place, base: State, length: f64) -> Vec<(f64, f64, Filling)> {
        let mut fillings = Vec::new();
        for part in &self.all(&table.key("fill")) {
            let state = State {
                pressure: part.maybe("pressure_bar").unwrap_or(base.pressure),
                temperature: part.maybe("temperature_c").unwrap_or(base.temperature),
                velocity: part.maybe("velocity_m_per_s").unwrap_or(base.velocity),
                burned: part.maybe("burned").unwrap_or(base.burned),
            };
            let (from, to) = self.stretch(part, length);
            fillings.push((from, to, Filling::Even(state)));
        }
        for part in &self.all(&table.key("pulse")) {
            let peak = part.number("peak_bar");
            let direction = if part.text("direction") == "against" { -1.0 } else { 1.0 };
            let (from, to) = self.stretch(part, length);
            fillings.push((from, to, Filling::Pulse { peak, direction }));
        }
        fillings
    }

    fn stretch(&mut self, part: &Place, length: f64) -> (f64, f64) {
        let from = part.maybe("from_mm").unwrap_or(0.0);
        let to = part.maybe("to_mm").unwrap_or(length);
        if to <= from || from >= length {
            let remedy =
                format!("must be more than from_mm, which lies inside {:.1} mm", length * 1e3);
            self.fault(FaultKind::Contradiction, part, "to_mm", remedy);
        }
        (from, to)
    }

    fn end(&mut self, table: &Place, name: &'static str) -> EndSpec {
        let what = named(table, name);
        let area_key = format!("{name}_area_mm2");
        let opening_key = format!("{name}_opening");
        if let Some(node) = self.names.iter().position(|n| *n == what).filter(|_| !what.is_empty())
        {
            return EndSpec::Opening {
                node,
                area: table.maybe(&area_key).unwrap_or(f64::INFINITY),
                schedule: opening(table, &opening_key),
            };
        }
        for key in [&area_key, &opening_key] {
            if table.tries(key) {
                let remedy =
                    "only an opening to a vessel, junction or reservoir has one: leave it out";
                self.fault(FaultKind::Contradiction, table, key, remedy);
            }
        }
        match what.as_str() {
            "closed" | "" => return EndSpec::Closed,
            "endless" => return EndSpec::Endless,
            _ => {}
        }
        if let Some((pipe, side)) = what.rsplit_once('.')
            && let Some(pipe) = self.pipes.iter().position(|p| p == pipe)
        {
            match side {
                "start" => return EndSpec::Jump { pipe, side: Side::Start },
                "finish" => return EndSpec::Jump { pipe, side: Side::Finish },
                _ => {}
            }
        }
        let names = self.names.iter().cloned();
        let ends = self.pipes.iter().flat_map(|p| [format!("{p}.start"), format!("{p}.finish")]);
        let names = names.chain(["closed", "endless"].map(str::to_owned)).chain(ends);
        let remedy = or_nearest("nothing has this name", &what, names);
        self.fault(FaultKind::Unknown, table, name, remedy);
        EndSpec::Closed
    }

    /// A jump joins two ends, each of which names the other.
    fn jumps(&mut self, tables: &[Place], pipes: &[PipeSpec]) {
        for (index, (pipe, table)) in pipes.iter().zip(tables).enumerate() {
            for (end, name, side) in [(0, "start", Side::Start), (1, "finish", Side::Finish)] {
                let EndSpec::Jump { pipe: other, side: other_side } = pipe.ends[end] else {
                    continue;
                };
                let back = &pipes[other].ends[other_side as usize];
                let itself = (other, other_side) == (index, side);
                if itself || *back != (EndSpec::Jump { pipe: index, side }) {
                    let remedy = format!(
                        "the end it names must name this one: write \"{}.{name}\" there",
                        quoted(&pipe.name)
                    );
                    self.fault(FaultKind::Contradiction, table, name, remedy);
                }
            }
        }
    }

    /// A junction is at least about one cell of the widest pipe that ends in it.
    fn junctions(&mut self, nodes: &mut [NodeSpec], pipes: &[PipeSpec]) {
        let first = self.reservoirs + self.document.count("vessel");
        for (offset, table) in self.all("junction").iter().enumerate() {
            let node = first + offset;
            let mut least = 0.0_f64;
            for pipe in pipes {
                for (end, bore) in [
                    (0, pipe.sections.first().map(|s| s.from)),
                    (1, pipe.sections.last().map(|s| s.to)),
                ] {
                    let here =
                        matches!(pipe.ends[end], EndSpec::Opening { node: n, .. } if n == node);
                    if let Some(bore) = bore.filter(|_| here) {
                        least = least.max(0.25 * std::f64::consts::PI * bore * bore * pipe.cell);
                    }
                }
            }
            match table.maybe("volume_cm3") {
                None => nodes[node].volume = Some(least.max(1e-9)),
                Some(volume) if volume < 0.5 * least => {
                    let remedy = format!(
                        "a junction holds at least about one cell of its widest pipe: {:.3} cm³",
                        least * 1e6
                    );
                    self.fault(FaultKind::OutOfRange, table, "volume_cm3", remedy);
                }
                Some(_) => {}
            }
        }
    }

    fn orifice(&mut self, table: &Place) -> OrificeSpec {
        let from = self.node(table, "from");
        let to = self.node(table, "to");
        OrificeSpec {
            from,
            to,
            area: table.number("area_mm2"),
            schedule: opening(table, "opening"),
        }
    }

    fn node(&mut self, table: &Place, key: &'static str) -> usize {
        let name = named(table, key);
        if let Some(node) = self.names.iter().position(|n| *n == name) {
            return node;
        }
        if !name.is_empty() {
            let why = "no vessel, junction or reservoir has this name";
            let remedy = or_nearest(why, &name, self.names.iter().cloned());
            self.fault(FaultKind::Unknown, table, key, remedy);
        }
        0
    }

    fn station(&mut self, table: &Place, pipes: &[PipeSpec]) -> StationSpec {
        let name = named(table, "pipe");
        let at = table.number("at_mm");
        let pipe = self.pipes.iter().position(|p| *p == name);
        if pipe.is_none() && !name.is_empty() {
            let names = self.pipes.iter().cloned();
            let remedy = or_nearest("no pipe has this name", &name, names);
            self.fault(FaultKind::Unknown, table, "pipe", remedy);
        }
        let length: f64 =
            pipe.map_or(f64::INFINITY, |p| pipes[p].sections.iter().map(|s| s.length).sum());
        if at > length {
            let remedy = format!("the pipe is {:.1} mm long", length * 1e3);
            self.fault(FaultKind::OutOfRange, table, "at_mm", remedy);
        }
        let own =
            table.words("name").map_or_else(|| format!("{name} {:.0} mm", at * 1e3), displayable);
        StationSpec { name: own, pipe: pipe.unwrap_or(0), at }
    }
}

/// A name that the file gives, as it is shown.
fn named(table: &Place, key: &str) -> String {
    displayable(table.words(key).unwrap_or_default())
}

/// A schedule; always open where it is left out.
fn opening(table: &Place, key: &str) -> Schedule {
    match table.entry(key).map(|e| &e.value) {
        Some(Value::Rows(rows)) => {
            let point = |row: &Vec<f64>| Some((1e-3 * row.first()?, *row.get(1)?));
            Schedule::new(rows.iter().filter_map(point).collect())
        }
        _ => Schedule::default(),
    }
}

fn outside(table: &Place) -> Outside {
    Outside {
        pressure: table.number("pressure_bar"),
        temperature: table.number("temperature_c"),
        burned: table.number("burned"),
    }
}

fn wall(piece: &Place) -> Wall {
    let smooth = Friction::Smooth(piece.number("roughness"));
    let friction = match (piece.maybe("friction_factor"), piece.words("friction")) {
        (Some(factor), _) => Friction::Fixed(factor),
        (None, Some("none")) => Friction::None,
        (None, _) => smooth,
    };
    let heat = match (piece.maybe("heat_w_per_m2"), piece.maybe("wall_temperature_c")) {
        (Some(heat), _) => Heat::Imposed(-heat),
        (None, Some(temperature)) => Heat::Wall { temperature, scale: 1.0 },
        (None, None) => Heat::Adiabatic,
    };
    Wall { friction, heat }
}

/// Walls for sections to which end corrections have been added: those have none.
fn spread(walls: &[Wall], table: &Place) -> Vec<Wall> {
    let mut out = Vec::new();
    if table.flag("start_end_correction") {
        out.push(Wall::IDEAL);
    }
    out.extend_from_slice(walls);
    if table.flag("finish_end_correction") {
        out.push(Wall::IDEAL);
    }
    out
}
