//! The rig file as written to the rig as meant, with every fault of sense.

use freshcharge_sim::pipe::ends::Outside;
use freshcharge_sim::pipe::{Friction, Grid, Heat, Section, Side, State, Wall, end_correction};
use freshcharge_sim::scenario::{Fault, FaultKind};
use freshcharge_sim::units::{ICE_POINT, STANDARD_ATMOSPHERE};

use super::reading::{Reading, Table, joined};
use super::spec::{
    EndSpec, Filling, GasChoice, NodeSpec, OrificeSpec, PipeSpec, RigSpec, StationSpec,
};

/// Cell size where none is given [m].
const CELL: f64 = 0.01;
/// Temperature where none is given [K].
const ROOM: f64 = ICE_POINT + 20.0;

/// Reads a rig file.
pub(crate) fn read(text: &str) -> Result<RigSpec, Vec<Fault>> {
    let clean = text.strip_prefix('\u{feff}').unwrap_or(text);
    let (reading, root) = Reading::read(clean);
    let mut conversion =
        Conversion { reading, names: Vec::new(), reservoirs: 0, pipes: Vec::new() };
    let spec = root.map(|root| conversion.rig(&root));
    let mut faults = conversion.reading.faults;
    faults.sort_by_key(|f| (f.line, f.column));
    match spec {
        Some(spec) if faults.is_empty() => Ok(spec),
        _ => Err(faults),
    }
}

struct Conversion<'a> {
    reading: Reading<'a>,
    /// Names of the nodes, in order.
    names: Vec<String>,
    /// How many of them are reservoirs: those come first.
    reservoirs: usize,
    /// Names of the pipes, in order.
    pipes: Vec<String>,
}

impl Conversion<'_> {
    fn rig(&mut self, root: &Table) -> RigSpec {
        let cell = root.number("cell_mm").unwrap_or(CELL);
        self.pipes = self.own_names(root, &["pipe"]);
        self.names = self.own_names(root, &["reservoir", "vessel", "junction"]);
        self.reservoirs = root.children("reservoir").len();
        let mut nodes = self.nodes(root);
        let pipes: Vec<PipeSpec> =
            root.children("pipe").iter().map(|p| self.pipe(p, cell)).collect();
        if pipes.is_empty() && root.children("orifice").is_empty() {
            let remedy = "missing: a rig has at least one [[pipe]] or [[orifice]]";
            self.reading.fault(FaultKind::Missing, &(0..0), "pipe", remedy);
        }
        self.junctions(root, &mut nodes, &pipes);
        self.jumps(root, &pipes);
        let orifices = root.children("orifice").iter().map(|o| self.orifice(o)).collect();
        let stations = root.children("station").iter().map(|s| self.station(s, &pipes)).collect();
        let end = self.reading.needed(root, "end_ms");
        let profiles = root.numbers("profiles_ms").map_or(vec![end], <[f64]>::to_vec);
        if let Some(late) = profiles.iter().find(|t| **t > end * (1.0 + 1e-12)) {
            let remedy = format!("{} ms comes after the end of the run", late * 1e3);
            let span = root.span("profiles_ms");
            self.reading.fault(FaultKind::Contradiction, &span, "profiles_ms", remedy);
        }
        RigSpec {
            name: self.reading.needed_text(root, "name"),
            gas: self.gas(root),
            end,
            courant: root.number("courant").unwrap_or(0.5),
            nodes,
            pipes,
            orifices,
            stations,
            profiles,
            samples: root.number("samples").unwrap_or(1000.0) as usize,
            map_rows: root.number("map_rows").unwrap_or(200.0) as usize,
        }
    }

    fn gas(&mut self, root: &Table) -> GasChoice {
        let perfect = root.text("gas") == Some("perfect");
        let strange: &[&str] = if perfect { &["lambda"] } else { &["gamma", "gas_constant"] };
        for name in strange.iter().filter(|n| root.gives(n)) {
            let remedy = if perfect {
                "a perfect gas has none: leave it out, or write gas = \"mixtures\""
            } else {
                "belongs to a perfect gas: leave it out, or write gas = \"perfect\""
            };
            self.reading.fault(FaultKind::Contradiction, &root.span(name), name, remedy);
        }
        if perfect {
            GasChoice::Perfect {
                gamma: root.number("gamma").unwrap_or(1.4),
                gas_constant: root.number("gas_constant").unwrap_or(287.0),
            }
        } else {
            GasChoice::Mixtures { lambda: root.number("lambda").unwrap_or(0.9) }
        }
    }

    /// Names of the tables of these kinds, each its own.
    fn own_names(&mut self, root: &Table, kinds: &[&str]) -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for table in kinds.iter().flat_map(|k| root.children(k)) {
            let name = self.reading.needed_text(table, "name");
            let taken = ["closed", "endless"].contains(&name.as_str()) || name.contains('.');
            let remedy = if names.contains(&name) {
                "another has this name already"
            } else if taken {
                "choose another name: closed and endless mean something else, and no name has a point"
            } else {
                ""
            };
            if !remedy.is_empty() && !name.is_empty() {
                let path = joined(&table.path, "name");
                self.reading.fault(FaultKind::Contradiction, &table.span("name"), &path, remedy);
            }
            names.push(name);
        }
        names
    }

    fn nodes(&mut self, root: &Table) -> Vec<NodeSpec> {
        let mut nodes = Vec::new();
        for kind in ["reservoir", "vessel", "junction"] {
            for table in root.children(kind) {
                let volume = match kind {
                    "reservoir" => None,
                    "vessel" => Some(self.reading.needed(table, "volume_cm3")),
                    _ => Some(table.number("volume_cm3").unwrap_or(0.0)),
                };
                let state = outside(table);
                nodes.push(NodeSpec {
                    name: table.text("name").unwrap_or_default().to_owned(),
                    volume,
                    state,
                });
            }
        }
        nodes
    }

    fn pipe(&mut self, table: &Table, cell: f64) -> PipeSpec {
        let cell = table.number("cell_mm").unwrap_or(cell);
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
                let path = joined(&table.path, &key);
                self.reading.fault(FaultKind::Contradiction, &table.span(&key), &path, remedy);
            } else if let Some(last) = sections.len().checked_sub(1) {
                let section = &mut sections[if end == 0 { 0 } else { last }];
                let bore = if end == 0 { section.from } else { section.to };
                let extra = Section::straight(end_correction(bore), bore);
                sections.insert(if end == 0 { 0 } else { last + 1 }, extra);
            }
        }
        let walls = if walls.len() < sections.len() { spread(&walls, table) } else { walls };
        let state = State {
            pressure: table.number("pressure_bar").unwrap_or(STANDARD_ATMOSPHERE),
            temperature: table.number("temperature_c").unwrap_or(ROOM),
            velocity: table.number("velocity_m_per_s").unwrap_or(0.0),
            burned: table.number("burned").unwrap_or(0.0),
        };
        if !sections.is_empty()
            && let Err(error) = Grid::new(&sections, cell)
        {
            let span = table.span("name");
            self.reading.fault(FaultKind::Implausible, &span, &table.path, error.to_string());
        }
        let length: f64 = sections.iter().map(|s| s.length).sum();
        PipeSpec {
            name: table.text("name").unwrap_or_default().to_owned(),
            cell,
            fillings: self.fillings(table, state, length),
            sections,
            walls,
            ends,
            state,
        }
    }

    fn sections(&mut self, table: &Table) -> (Vec<Section>, Vec<Wall>) {
        let (mut sections, mut walls): (Vec<Section>, Vec<Wall>) = (Vec::new(), Vec::new());
        for piece in table.children("section") {
            let length = self.reading.needed(piece, "length_mm");
            let from = self.reading.needed(piece, "diameter_mm");
            let to = piece.number("diameter_to_mm").unwrap_or(from);
            if let Some(last) = sections.last()
                && (from / last.to - 1.0).abs() > 1e-9
            {
                let remedy = format!(
                    "the piece before ends with {:.3} mm: begin with that, or make two pipes joined at their ends",
                    last.to * 1e3
                );
                let path = joined(&piece.path, "diameter_mm");
                let span = piece.span("diameter_mm");
                self.reading.fault(FaultKind::Contradiction, &span, &path, remedy);
            }
            sections.push(Section { length, from, to });
            walls.push(self.wall(piece));
        }
        if sections.is_empty() {
            let remedy = "missing: a pipe has at least one [[pipe.section]]";
            let path = joined(&table.path, "section");
            self.reading.fault(FaultKind::Missing, &table.span("name"), &path, remedy);
        }
        (sections, walls)
    }

    fn wall(&mut self, piece: &Table) -> Wall {
        for (one, other) in [
            ("friction_factor", "friction"),
            ("friction_factor", "roughness"),
            ("heat_w_per_m2", "wall_temperature_c"),
        ] {
            if piece.gives(one) && piece.gives(other) {
                let remedy = format!("give only one of {one} or {other}");
                let path = joined(&piece.path, one);
                self.reading.fault(FaultKind::Contradiction, &piece.span(one), &path, remedy);
            }
        }
        let smooth = Friction::Smooth(piece.number("roughness").unwrap_or(1.0));
        let friction = match (piece.number("friction_factor"), piece.text("friction")) {
            (Some(factor), _) => Friction::Fixed(factor),
            (None, Some("none")) => Friction::None,
            (None, _) => smooth,
        };
        let heat = match (piece.number("heat_w_per_m2"), piece.number("wall_temperature_c")) {
            (Some(heat), _) => Heat::Imposed(-heat),
            (None, Some(temperature)) => Heat::Wall { temperature, scale: 1.0 },
            (None, None) => Heat::Adiabatic,
        };
        Wall { friction, heat }
    }

    fn fillings(&mut self, table: &Table, base: State, length: f64) -> Vec<(f64, f64, Filling)> {
        let mut fillings = Vec::new();
        for part in table.children("fill") {
            let state = State {
                pressure: part.number("pressure_bar").unwrap_or(base.pressure),
                temperature: part.number("temperature_c").unwrap_or(base.temperature),
                velocity: part.number("velocity_m_per_s").unwrap_or(base.velocity),
                burned: part.number("burned").unwrap_or(base.burned),
            };
            let (from, to) = self.stretch(part, length);
            fillings.push((from, to, Filling::Even(state)));
        }
        for part in table.children("pulse") {
            let peak = self.reading.needed(part, "peak_bar");
            let direction = if part.text("direction") == Some("against") { -1.0 } else { 1.0 };
            let (from, to) = self.stretch(part, length);
            fillings.push((from, to, Filling::Pulse { peak, direction }));
        }
        fillings
    }

    fn stretch(&mut self, part: &Table, length: f64) -> (f64, f64) {
        let from = part.number("from_mm").unwrap_or(0.0);
        let to = part.number("to_mm").unwrap_or(length);
        if to <= from || from >= length {
            let remedy =
                format!("must be more than from_mm, which lies inside {:.1} mm", length * 1e3);
            let path = joined(&part.path, "to_mm");
            self.reading.fault(FaultKind::Contradiction, &part.span("to_mm"), &path, remedy);
        }
        (from, to)
    }

    fn end(&mut self, table: &Table, name: &'static str) -> EndSpec {
        let what = self.reading.needed_text(table, name);
        let area_key = format!("{name}_area_mm2");
        let opening_key = format!("{name}_opening");
        if let Some(node) = self.names.iter().position(|n| *n == what).filter(|_| !what.is_empty())
        {
            return EndSpec::Opening {
                node,
                area: table.number(&area_key).unwrap_or(f64::INFINITY),
                schedule: table.schedule(&opening_key),
            };
        }
        for key in [&area_key, &opening_key] {
            if table.gives(key) {
                let remedy =
                    "only an opening to a vessel, junction or reservoir has one: leave it out";
                let path = joined(&table.path, key);
                self.reading.fault(FaultKind::Contradiction, &table.span(key), &path, remedy);
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
        let mut names: Vec<String> = self.names.iter().map(|n| format!("\"{n}\"")).collect();
        names.extend(["\"closed\"".to_owned(), "\"endless\"".to_owned()]);
        names.extend(self.pipes.iter().map(|p| format!("\"{p}.start\", \"{p}.finish\"")));
        let remedy = format!("nothing has this name; write one of {}", names.join(", "));
        let path = joined(&table.path, name);
        self.reading.fault(FaultKind::Unknown, &table.span(name), &path, remedy);
        EndSpec::Closed
    }

    /// A jump joins two ends, each of which names the other.
    fn jumps(&mut self, root: &Table, pipes: &[PipeSpec]) {
        for (index, (pipe, table)) in pipes.iter().zip(root.children("pipe")).enumerate() {
            for (end, name, side) in [(0, "start", Side::Start), (1, "finish", Side::Finish)] {
                let EndSpec::Jump { pipe: other, side: other_side } = pipe.ends[end] else {
                    continue;
                };
                let back = &pipes[other].ends[other_side as usize];
                let itself = (other, other_side) == (index, side);
                if itself || *back != (EndSpec::Jump { pipe: index, side }) {
                    let remedy = format!(
                        "the end it names must name this one: write \"{}.{name}\" there",
                        pipe.name
                    );
                    let path = joined(&table.path, name);
                    let span = table.span(name);
                    self.reading.fault(FaultKind::Contradiction, &span, &path, remedy);
                }
            }
        }
    }

    /// A junction is at least about one cell of the widest pipe that ends in it.
    fn junctions(&mut self, root: &Table, nodes: &mut [NodeSpec], pipes: &[PipeSpec]) {
        let first = root.children("reservoir").len() + root.children("vessel").len();
        for (offset, table) in root.children("junction").iter().enumerate() {
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
            match table.number("volume_cm3") {
                None => nodes[node].volume = Some(least.max(1e-9)),
                Some(volume) if volume < 0.5 * least => {
                    let remedy = format!(
                        "a junction holds at least about one cell of its widest pipe: {:.3} cm³",
                        least * 1e6
                    );
                    let path = joined(&table.path, "volume_cm3");
                    let span = table.span("volume_cm3");
                    self.reading.fault(FaultKind::OutOfRange, &span, &path, remedy);
                }
                Some(_) => {}
            }
        }
    }

    fn orifice(&mut self, table: &Table) -> OrificeSpec {
        let from = self.node(table, "from");
        let to = self.node(table, "to");
        OrificeSpec {
            from,
            to,
            area: self.reading.needed(table, "area_mm2"),
            schedule: table.schedule("opening"),
        }
    }

    fn node(&mut self, table: &Table, key: &'static str) -> usize {
        let name = self.reading.needed_text(table, key);
        if let Some(node) = self.names.iter().position(|n| *n == name) {
            return node;
        }
        if !name.is_empty() {
            let remedy = format!(
                "no vessel, junction or reservoir has this name; there {}",
                listed(&self.names)
            );
            let path = joined(&table.path, key);
            self.reading.fault(FaultKind::Unknown, &table.span(key), &path, remedy);
        }
        0
    }

    fn station(&mut self, table: &Table, pipes: &[PipeSpec]) -> StationSpec {
        let name = self.reading.needed_text(table, "pipe");
        let at = self.reading.needed(table, "at_mm");
        let pipe = self.pipes.iter().position(|p| *p == name);
        if pipe.is_none() && !name.is_empty() {
            let remedy = format!("no pipe has this name; there {}", listed(&self.pipes));
            let path = joined(&table.path, "pipe");
            self.reading.fault(FaultKind::Unknown, &table.span("pipe"), &path, remedy);
        }
        let length: f64 =
            pipe.map_or(f64::INFINITY, |p| pipes[p].sections.iter().map(|s| s.length).sum());
        if at > length {
            let remedy = format!("the pipe is {:.1} mm long", length * 1e3);
            let path = joined(&table.path, "at_mm");
            self.reading.fault(FaultKind::OutOfRange, &table.span("at_mm"), &path, remedy);
        }
        let own =
            table.text("name").map_or_else(|| format!("{name} {:.0} mm", at * 1e3), str::to_owned);
        StationSpec { name: own, pipe: pipe.unwrap_or(0), at }
    }
}

fn outside(table: &Table) -> Outside {
    Outside {
        pressure: table.number("pressure_bar").unwrap_or(STANDARD_ATMOSPHERE),
        temperature: table.number("temperature_c").unwrap_or(ROOM),
        burned: table.number("burned").unwrap_or(0.0),
    }
}

/// Walls for sections to which end corrections have been added: those have none.
fn spread(walls: &[Wall], table: &Table) -> Vec<Wall> {
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

/// Names there are, as the end of a sentence.
fn listed(names: &[String]) -> String {
    if names.is_empty() { "is none".to_owned() } else { format!("are {}", names.join(", ")) }
}
