//! `freshcharge results`: rows of a sweep filtered, sorted, the best, the Pareto front.

use comfy_table::{Cell, CellAlignment, ContentArrangement, presets};
use serde_json::{Map, Value, json};

use crate::args::ResultsArgs;
use crate::present::rows::analysis::{self, Gathering};
use crate::present::rows::{Header, Row};
use crate::present::rows::{Objective, Outcome};
use crate::session::files::{self, Failure};
use crate::session::sweep::ResultsFile;
use crate::session::sweep::tally::Tally;

/// Rows of a table when nothing else is said.
const SHOWN: usize = 20;
/// Rows of an overview.
const OVERVIEW: usize = 10;
/// Rows a spreadsheet takes.
const SPREADSHEET: usize = 1_048_575;

/// Runs the command.
pub(super) fn run(args: &ResultsArgs) -> Result<crate::Outcome, Failure> {
    let mut table = ResultsFile::open(&args.results)?;
    if args.tolerances {
        let text = tolerances(&mut table)?;
        files::print(&text)?;
        return ended(&table);
    }
    let filters: Vec<Filter> =
        args.filter.iter().map(|f| Filter::read(f, &table.header)).collect::<Result<_, _>>()?;
    let order = order(args, &table.header)?;
    let goals = match &args.pareto {
        Some(text) => goals(text, &table.header)?,
        None => Vec::new(),
    };
    let shown = shown(args, &table.header, &filters, &order, &goals)?;
    let plain = order.is_none() && goals.is_empty();
    let listed = args.csv || args.json || !args.columns.is_empty();
    let overview = plain && filters.is_empty() && !listed;
    let mut out = Output::new(args, &table.header, shown);
    let first = table.header.objectives().into_iter().next();
    let usual = first.and_then(|o| Some((table.header.place(&o.key)?, o.rising)));
    let (best, order) = if overview { (Some(OVERVIEW), usual) } else { (args.best, order) };
    let plain = plain && order.is_none();
    let mut chosen = Chosen::new(best, order, goals);
    let mut tally = Tally::default();
    while let Some(row) = table.next()? {
        let outcome = table.outcome(&row);
        count(&mut tally, &table.header, &row, outcome);
        if !filters.iter().all(|f| f.passes(&row)) {
            continue;
        }
        if plain {
            out.row(&row)?;
        } else {
            chosen.offer(&row, outcome);
        }
    }
    if overview {
        files::print(&overview_of(&table.header, &tally))?;
    }
    for place in chosen.places() {
        if let Some(row) = table.row_at(place)? {
            out.row(&row)?;
        }
    }
    out.finish()?;
    ended(&table)
}

fn ended(table: &ResultsFile) -> Result<crate::Outcome, Failure> {
    table.warn();
    Ok(if table.damaged == 0 { crate::Outcome::Done } else { crate::Outcome::Incomplete })
}

fn count(tally: &mut Tally, header: &Header, row: &Row, outcome: Option<Outcome>) {
    let Some(outcome) = outcome else { return };
    let reason = header.place("reason").and_then(|p| row.cells.get(p));
    let by = reason.and_then(|r| r.split_once(':')).map(|(by, _)| by.trim_start_matches("hold "));
    tally.add(outcome, by.filter(|_| outcome == Outcome::Refused));
    if matches!(outcome, Outcome::Settled | Outcome::Repeats | Outcome::Geometry) {
        for (which, objective) in header.objectives().iter().enumerate() {
            let value = header.place(&objective.key).and_then(|p| row.number(p));
            if let Some(value) = value {
                tally.offer(which, objective, value, row.case);
            }
        }
    }
}

fn overview_of(header: &Header, tally: &Tally) -> String {
    let mut out = format!(
        "{} on {}: {} of {} cases: {}\n",
        header.word("name"),
        header.word("engine"),
        tally.rows(),
        header.count("cases"),
        tally.words(),
    );
    for (objective, best) in header.objectives().iter().zip(&tally.best) {
        if let Some((value, case)) = best {
            let way = if objective.rising { "Most" } else { "Least" };
            out.push_str(&format!("{way} {}: {value:.4} in case {case}.\n", objective.key));
        }
    }
    out.push('\n');
    out
}

/// A condition on one column.
struct Filter {
    place: usize,
    test: Test,
}

enum Test {
    Number(fn(f64, f64) -> bool, f64),
    Word(bool, String),
}

impl Filter {
    fn read(text: &str, header: &Header) -> Result<Self, Failure> {
        type Compare = fn(f64, f64) -> bool;
        let signs: [(&str, Compare); 6] = [
            ("<=", |a, b| a <= b),
            (">=", |a, b| a >= b),
            ("!=", |a, b| a != b),
            ("<", |a, b| a < b),
            (">", |a, b| a > b),
            ("=", |a, b| a == b),
        ];
        let found = signs.iter().find_map(|(sign, compare)| {
            text.split_once(sign).map(|(key, value)| (*sign, *compare, key.trim(), value.trim()))
        });
        let Some((sign, compare, key, value)) = found else {
            let remedy = "write COLUMN<NUMBER, with one of < <= > >= = !=, such as \"hot_backflow_mass_mg<1\" or \"outcome=settled\"".to_owned();
            return Err(Failure::Argument { flag: "--filter", value: text.to_owned(), remedy });
        };
        let place = header.find("--filter", key)?;
        let test = match value.parse() {
            Ok(number) => Test::Number(compare, number),
            Err(_) if matches!(sign, "=" | "!=") => Test::Word(sign == "=", value.to_owned()),
            Err(_) => {
                let remedy = format!("{value:?} is not a number");
                return Err(Failure::Argument { flag: "--filter", value: text.to_owned(), remedy });
            }
        };
        Ok(Self { place, test })
    }

    fn passes(&self, row: &Row) -> bool {
        match &self.test {
            Test::Number(compare, number) => {
                row.number(self.place).is_some_and(|v| compare(v, *number))
            }
            Test::Word(equal, word) => {
                row.cells.get(self.place).is_some_and(|c| (c == word) == *equal)
            }
        }
    }
}

/// A column and whether large values come first.
type Order = (usize, bool);

/// What rows are sorted by: what was asked for, else the first objective where the best are wanted.
fn order(args: &ResultsArgs, header: &Header) -> Result<Option<Order>, Failure> {
    let objectives = header.objectives();
    let Some(text) = &args.sort else {
        let first = objectives.first().filter(|_| args.best.is_some() && args.pareto.is_none());
        return Ok(first.and_then(|o| Some((header.place(&o.key)?, o.rising))));
    };
    let (key, way) = text.rsplit_once(':').unwrap_or((text, ""));
    let place = header.find("--sort", key)?;
    let falling = match way {
        "down" => true,
        "up" => false,
        "" => objectives.iter().any(|o| o.key == key && o.rising),
        _ => {
            let remedy = "write COLUMN, COLUMN:up or COLUMN:down".to_owned();
            return Err(Failure::Argument { flag: "--sort", value: text.clone(), remedy });
        }
    };
    Ok(Some((place, falling)))
}

/// Columns of a Pareto front and which way is better.
fn goals(text: &str, header: &Header) -> Result<Vec<Order>, Failure> {
    let objectives = header.objectives();
    let fail =
        |remedy: String| Failure::Argument { flag: "--pareto", value: text.to_owned(), remedy };
    let one = |word: &str| {
        let (key, way) = word.trim().rsplit_once(':').unwrap_or((word.trim(), ""));
        let place = header.find("--pareto", key)?;
        let known = objectives.iter().find(|o: &&Objective| o.key == key).map(|o| o.rising);
        match (way, known) {
            ("most", _) => Ok((place, true)),
            ("least", _) => Ok((place, false)),
            ("", Some(rising)) => Ok((place, rising)),
            _ => Err(fail(format!("say which way is better: {key}:most or {key}:least"))),
        }
    };
    let all: Vec<Order> = text.split(',').map(one).collect::<Result<_, _>>()?;
    if !(2..=3).contains(&all.len()) {
        return Err(fail("name two or three columns".to_owned()));
    }
    Ok(all)
}

/// Columns that are shown.
fn shown(
    args: &ResultsArgs,
    header: &Header,
    filters: &[Filter],
    order: &Option<Order>,
    goals: &[Order],
) -> Result<Vec<usize>, Failure> {
    if !args.columns.is_empty() {
        let places = args.columns.iter().map(|c| Ok(header.find("--columns", c)?));
        return places.collect();
    }
    let all = 0..header.columns.len().saturating_sub(1);
    if args.csv || args.json {
        return Ok(all.collect());
    }
    let varied = header.words("paths");
    let goal = |key: &String| header.objectives().iter().any(|o| o.key == *key);
    let wanted = all.filter(|place| {
        let key = &header.columns[*place];
        matches!(key.as_str(), "case" | "rpm" | "outcome")
            || varied.contains(key)
            || goal(key)
            || filters.iter().any(|f| f.place == *place)
            || order.is_some_and(|o| o.0 == *place)
            || goals.iter().any(|g| g.0 == *place)
    });
    Ok(wanted.collect())
}

/// Rows that are kept: by place in the file, so that a large file needs little memory.
struct Chosen {
    best: Option<usize>,
    order: Option<Order>,
    goals: Vec<Order>,
    /// Value (more is better), case, place.
    sorted: Vec<(f64, u64, u64)>,
    /// Values (more is better), place.
    front: Vec<(Vec<f64>, u64)>,
}

impl Chosen {
    fn new(best: Option<usize>, order: Option<Order>, goals: Vec<Order>) -> Self {
        Self { best, order, goals, sorted: Vec::new(), front: Vec::new() }
    }

    fn offer(&mut self, row: &Row, outcome: Option<Outcome>) {
        let sound =
            matches!(outcome, Some(Outcome::Settled | Outcome::Repeats | Outcome::Geometry));
        let signed = |(place, rising): &Order| {
            let value = row.number(*place)?;
            Some(if *rising { value } else { -value })
        };
        if !self.goals.is_empty() {
            let values: Option<Vec<f64>> = self.goals.iter().map(signed).collect();
            if let Some(values) = values.filter(|_| sound) {
                self.join_front(values, row.place);
            }
        } else if let Some(order) = self.order
            && (sound || self.best.is_none())
        {
            let value = signed(&order).unwrap_or(f64::NEG_INFINITY);
            if self.best.is_some() && value == f64::NEG_INFINITY {
                return;
            }
            self.sorted.push((value, row.case, row.place));
            if let Some(best) = self.best
                && self.sorted.len() >= 2 * best + 1024
            {
                self.sort();
                self.sorted.truncate(best);
            }
        }
    }

    fn join_front(&mut self, values: Vec<f64>, place: u64) {
        let beats = |a: &[f64], b: &[f64]| a.iter().zip(b).all(|(a, b)| a >= b);
        if self.front.iter().any(|(other, _)| beats(other, &values)) {
            return;
        }
        self.front.retain(|(other, _)| !beats(&values, other));
        self.front.push((values, place));
    }

    fn sort(&mut self) {
        self.sorted.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    }

    /// Places of the rows in order.
    fn places(mut self) -> Vec<u64> {
        if !self.goals.is_empty() {
            self.front.sort_by(|a, b| b.0[0].total_cmp(&a.0[0]));
            let all = self.front.into_iter().map(|(_, place)| place);
            return all.take(self.best.unwrap_or(usize::MAX)).collect();
        }
        self.sort();
        let all = self.sorted.into_iter().map(|(_, _, place)| place);
        all.take(self.best.unwrap_or(usize::MAX)).collect()
    }
}

/// Rows on their way out.
struct Output {
    kind: Kind,
    columns: Vec<(usize, String)>,
    text: String,
    rows: Vec<Vec<String>>,
    count: usize,
}

#[derive(PartialEq)]
enum Kind {
    ResultsFile,
    Csv,
    Json,
}

impl Output {
    fn new(args: &ResultsArgs, header: &Header, shown: Vec<usize>) -> Self {
        let kind = match (args.csv, args.json) {
            (true, _) => Kind::Csv,
            (_, true) => Kind::Json,
            _ => Kind::ResultsFile,
        };
        let columns: Vec<(usize, String)> =
            shown.into_iter().map(|p| (p, header.columns[p].clone())).collect();
        let names: Vec<&str> = columns.iter().map(|c| c.1.as_str()).collect();
        let text = match kind {
            Kind::ResultsFile => String::new(),
            Kind::Csv => names.join(",") + "\n",
            Kind::Json => format!(
                "{{\"schema_version\":1,\"sweep\":{},\"rows\":[",
                json!({ "name": header.word("name"), "engine": header.word("engine"),
                        "model": header.line("model").parse::<u8>().ok(),
                        "cases": header.count("cases") })
            ),
        };
        Self { kind, columns, text, rows: Vec::new(), count: 0 }
    }

    fn row(&mut self, row: &Row) -> Result<(), Failure> {
        let cell = |place: &usize| row.cells.get(*place).map_or("", String::as_str);
        match self.kind {
            Kind::ResultsFile => {
                if self.rows.len() < SHOWN {
                    let short = |(place, _): &(usize, String)| shortened(cell(place));
                    self.rows.push(self.columns.iter().map(short).collect());
                }
            }
            Kind::Csv => {
                let cells: Vec<String> = self
                    .columns
                    .iter()
                    .map(|(place, _)| {
                        let text = cell(place);
                        if text.contains([',', '"']) {
                            format!("\"{}\"", text.replace('"', "\"\""))
                        } else {
                            text.to_owned()
                        }
                    })
                    .collect();
                self.text.push_str(&cells.join(","));
                self.text.push('\n');
            }
            Kind::Json => {
                let mut map = Map::new();
                for (place, name) in &self.columns {
                    let text = cell(place);
                    let number = text.parse::<f64>().ok().filter(|v| v.is_finite());
                    let value = match number {
                        Some(number) => Value::from(number),
                        None if text.is_empty() => Value::Null,
                        None => Value::from(text),
                    };
                    map.insert(name.clone(), value);
                }
                self.text.push_str(if self.count == 0 { "\n" } else { ",\n" });
                self.text.push_str(&Value::Object(map).to_string());
            }
        }
        self.count += 1;
        if self.text.len() > 1 << 16 {
            files::print(&std::mem::take(&mut self.text))?;
        }
        Ok(())
    }

    fn finish(mut self) -> Result<(), Failure> {
        if self.kind == Kind::Json {
            self.text.push_str("\n]}\n");
        }
        if self.kind == Kind::Csv && self.count > SPREADSHEET {
            files::say(&format!(
                "{} rows are more than a spreadsheet takes ({SPREADSHEET}); use --filter, --best or --pareto.\n",
                self.count
            ));
        }
        if self.kind == Kind::ResultsFile {
            self.text = self.table();
        }
        files::print(&self.text)
    }

    fn table(&self) -> String {
        let mut table = comfy_table::Table::new();
        // long paths break at their dots
        let head = |(_, name): &(usize, String)| {
            Cell::new(name.replace('.', ".\n").replace("_at_", "\n_at_"))
                .set_alignment(CellAlignment::Right)
        };
        table
            .load_style(presets::NOTHING)
            .set_content_arrangement(ContentArrangement::Disabled)
            .set_header(self.columns.iter().map(head));
        for row in &self.rows {
            table.add_row(row.iter().map(|c| Cell::new(c).set_alignment(CellAlignment::Right)));
        }
        let mut text = format!("{table}\n");
        if self.count > self.rows.len() {
            text.push_str(&format!(
                "{} rows of {}; --csv and --json give all.\n",
                self.rows.len(),
                self.count
            ));
        }
        text
    }
}

/// A cell for people: six digits are enough.
fn shortened(cell: &str) -> String {
    match cell.parse::<f64>() {
        Ok(value) if cell.len() > 8 => {
            let digits = if value.abs() >= 100.0 { 1 } else { 4 };
            format!("{value:.digits$}")
        }
        _ => cell.to_owned(),
    }
}

/// Results of a sampled sweep with ± and the two numbers that matter most, in words.
pub(super) fn tolerances(table: &mut ResultsFile) -> Result<String, Failure> {
    let header = table.header.clone();
    let objectives: Vec<String> = header.objectives().into_iter().map(|o| o.key).collect();
    let mut gathering = Gathering::new(&header, &objectives);
    for row in table.rows() {
        let (row, outcome) = row?;
        gathering.row(&row, outcome);
    }
    Ok(analysis::tolerances(&header, &gathering))
}
