//! What goes to the controller: the Structured Text block against an interpreter that knows only the
//! standard (IEC 61131-3:2013, tables 50 to 72: operators and their order, IF, FOR, TRUNC, DINT_TO_LREAL, no
//! narrowing without conversion), and the event log against cycles drawn from known distributions.

use std::collections::HashMap;

use billet_thermal::inside::ask::decide::{Decision, DecisionTable, Identity, Log, PartVerdict, structured_text};
use billet_thermal::inside::ask::distribution::{Distribution, LogNormal, Normal, Retry};
use billet_thermal::inside::ask::model::Model;
use billet_thermal::inside::ask::random::{Sampler, Scheme};
use billet_thermal::inside::ask::risk::Guards;
use billet_thermal::inside::judge::Bound;

use crate::plan_support::Formula;

/// A value of the block.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Value {
    Whole(i64),
    Real(f64),
    Truth(bool),
}

/// The type of a variable.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    Int,
    Dint,
    Lreal,
    Bool,
}

#[derive(Debug, Clone, PartialEq)]
enum Token {
    Word(String),
    Number(Value),
    Sign(&'static str),
}

const SIGNS: [&str; 17] = [
    ":=", "<=", ">=", "..", "<", ">", "=", "+", "-", "*", "/", "(", ")", "[", "]", ",", ";",
];

fn tokens(text: &str) -> Vec<Token> {
    let mut out = Vec::new();
    let mut rest = text;
    'next: while !rest.is_empty() {
        if let Some(comment) = rest.strip_prefix("(*") {
            rest = &comment[comment.find("*)").expect("a comment ends") + 2..];
            continue;
        }
        let first = rest.chars().next().unwrap();
        if first.is_whitespace() {
            rest = &rest[first.len_utf8()..];
        } else if first.is_ascii_alphabetic() {
            let end = rest
                .find(|c: char| !c.is_ascii_alphanumeric() && c != '_')
                .unwrap_or(rest.len());
            out.push(Token::Word(rest[..end].to_owned()));
            rest = &rest[end..];
        } else if first.is_ascii_digit() {
            let bytes = rest.as_bytes();
            let mut end = 0;
            let mut real = false;
            while end < bytes.len() {
                let here = bytes[end];
                let dot = here == b'.' && bytes.get(end + 1).is_some_and(u8::is_ascii_digit);
                let power = here == b'E' || (matches!(here, b'-' | b'+') && bytes[end - 1] == b'E');
                if !here.is_ascii_digit() && !dot && !power {
                    break;
                }
                real |= dot || power;
                end += 1;
            }
            let word = &rest[..end];
            out.push(Token::Number(match real {
                true => Value::Real(word.parse().unwrap()),
                false => Value::Whole(word.parse().unwrap()),
            }));
            rest = &rest[end..];
        } else if let Some(after) = rest.strip_prefix(':').filter(|_| !rest.starts_with(":=")) {
            out.push(Token::Sign(":"));
            rest = after;
        } else {
            for sign in SIGNS {
                if let Some(after) = rest.strip_prefix(sign) {
                    out.push(Token::Sign(sign));
                    rest = after;
                    continue 'next;
                }
            }
            panic!("no token: {}", &rest[..rest.len().min(40)]);
        }
    }
    out
}

/// The block with its variables; statements run straight from the tokens.
struct Block {
    tokens: Vec<Token>,
    body: usize,
    kinds: HashMap<String, Kind>,
    scalars: HashMap<String, Value>,
    arrays: HashMap<String, Vec<Value>>,
    at: usize,
}

impl Block {
    fn new(text: &str) -> Block {
        let mut block = Block {
            tokens: tokens(text),
            body: 0,
            kinds: HashMap::new(),
            scalars: HashMap::new(),
            arrays: HashMap::new(),
            at: 0,
        };
        block.word("FUNCTION_BLOCK");
        block.at += 1;
        while matches!(block.peek_word(), "VAR" | "VAR_INPUT" | "VAR_OUTPUT") {
            block.at += 1;
            if block.peek_word() == "CONSTANT" {
                block.at += 1;
            }
            while block.peek_word() != "END_VAR" {
                block.declaration();
            }
            block.at += 1;
        }
        block.body = block.at;
        block
    }

    fn peek_word(&self) -> &str {
        match &self.tokens[self.at] {
            Token::Word(word) => word,
            _ => "",
        }
    }

    fn word(&mut self, wanted: &str) {
        assert_eq!(self.peek_word(), wanted, "at token {}", self.at);
        self.at += 1;
    }

    fn is(&mut self, sign: &'static str) -> bool {
        let found = self.tokens[self.at] == Token::Sign(sign);
        self.at += usize::from(found);
        found
    }

    fn sign(&mut self, sign: &'static str) {
        assert!(self.is(sign), "no `{sign}` at {:?}", &self.tokens[self.at..self.at + 3]);
    }

    fn name(&mut self) -> String {
        let name = self.peek_word().to_owned();
        assert!(!name.is_empty(), "no name at {:?}", self.tokens[self.at]);
        self.at += 1;
        name
    }

    fn declaration(&mut self) {
        let name = self.name();
        self.sign(":");
        let mut size = None;
        if self.peek_word() == "ARRAY" {
            self.at += 1;
            self.sign("[");
            assert_eq!(self.number(), Value::Whole(1));
            self.sign("..");
            size = Some(self.number());
            self.sign("]");
            self.word("OF");
        }
        let kind = match self.name().as_str() {
            "INT" => Kind::Int,
            "DINT" => Kind::Dint,
            "LREAL" => Kind::Lreal,
            "BOOL" => Kind::Bool,
            other => panic!("type {other}"),
        };
        let zero = match kind {
            Kind::Int | Kind::Dint => Value::Whole(0),
            Kind::Lreal => Value::Real(0.0),
            Kind::Bool => Value::Truth(false),
        };
        assert!(self.kinds.insert(name.clone(), kind).is_none(), "{name} twice");
        match size {
            Some(Value::Whole(size)) => {
                let mut values = vec![zero; size as usize];
                if self.is(":=") {
                    self.sign("[");
                    for (k, value) in values.iter_mut().enumerate() {
                        if k > 0 {
                            self.sign(",");
                        }
                        let minus = self.is("-");
                        *value = match (self.number(), kind) {
                            (Value::Real(x), Kind::Lreal) => Value::Real(if minus { -x } else { x }),
                            (Value::Whole(n), Kind::Int | Kind::Dint) => Value::Whole(n),
                            other => panic!("{name}: {other:?}"),
                        };
                    }
                    self.sign("]");
                }
                self.arrays.insert(name, values);
            }
            _ => {
                self.scalars.insert(name, zero);
            }
        }
        self.sign(";");
    }

    fn number(&mut self) -> Value {
        let Token::Number(value) = self.tokens[self.at] else {
            panic!("no number at {:?}", self.tokens[self.at]);
        };
        self.at += 1;
        value
    }

    fn run(&mut self) {
        self.at = self.body;
        self.statements(true, &["END_FUNCTION_BLOCK"]);
    }

    /// Statements up to one of some words, run or only passed over.
    fn statements(&mut self, run: bool, ends: &[&str]) {
        while !ends.contains(&self.peek_word()) {
            match self.peek_word() {
                "IF" => self.branch(run),
                "FOR" => self.repeat(run),
                _ => self.assign(run),
            }
        }
    }

    fn truth(&mut self, run: bool) -> bool {
        match self.either(run) {
            Value::Truth(truth) => truth,
            _ if !run => false,
            other => panic!("{other:?} is no truth"),
        }
    }

    fn branch(&mut self, run: bool) {
        self.word("IF");
        let mut open = run;
        let truth = self.truth(open);
        self.word("THEN");
        self.statements(open && truth, &["ELSE", "END_IF"]);
        open &= !truth;
        if self.peek_word() == "ELSE" {
            self.at += 1;
            self.statements(open, &["END_IF"]);
        }
        self.word("END_IF");
        self.sign(";");
    }

    fn repeat(&mut self, run: bool) {
        self.word("FOR");
        let name = self.name();
        self.sign(":=");
        let from = self.either(run);
        self.word("TO");
        let to = self.either(run);
        self.word("DO");
        let body = self.at;
        if let (true, Value::Whole(from), Value::Whole(to)) = (run, from, to) {
            for k in from..=to {
                self.at = body;
                self.put(&name, Value::Whole(k));
                self.statements(true, &["END_FOR"]);
            }
        }
        self.at = body;
        self.statements(false, &["END_FOR"]);
        self.word("END_FOR");
        self.sign(";");
    }

    fn assign(&mut self, run: bool) {
        let name = self.name();
        let mut place = None;
        if self.is("[") {
            place = Some(self.either(run));
            self.sign("]");
        }
        self.sign(":=");
        let value = self.either(run);
        self.sign(";");
        if !run {
            return;
        }
        match place {
            None => self.put(&name, value),
            Some(Value::Whole(k)) => {
                let kind = self.kinds[&name];
                assert!(fits(kind, value), "{name}[{k}] := {value:?}");
                self.arrays.get_mut(&name).unwrap()[k as usize - 1] = value;
            }
            Some(other) => panic!("{name}[{other:?}]"),
        }
    }

    fn put(&mut self, name: &str, value: Value) {
        let kind = *self.kinds.get(name).unwrap_or_else(|| panic!("{name} is not declared"));
        assert!(fits(kind, value), "{name} := {value:?}");
        self.scalars.insert(name.to_owned(), value);
    }

    fn either(&mut self, run: bool) -> Value {
        let mut left = self.both(run);
        while self.peek_word() == "OR" {
            self.at += 1;
            let right = self.both(run);
            left = logic(run, left, right, |a, b| a | b);
        }
        left
    }

    fn both(&mut self, run: bool) -> Value {
        let mut left = self.compare(run);
        while self.peek_word() == "AND" {
            self.at += 1;
            let right = self.compare(run);
            left = logic(run, left, right, |a, b| a & b);
        }
        left
    }

    fn compare(&mut self, run: bool) -> Value {
        let left = self.sum(run);
        for sign in ["<=", ">=", "<", ">", "="] {
            if self.is(sign) {
                let right = self.sum(run);
                if !run {
                    return Value::Truth(false);
                }
                let (a, b) = match (left, right) {
                    (Value::Whole(a), Value::Whole(b)) => (a as f64, b as f64),
                    (Value::Real(a), Value::Real(b)) => (a, b),
                    other => panic!("compared {other:?}"),
                };
                return Value::Truth(match sign {
                    "<=" => a <= b,
                    ">=" => a >= b,
                    "<" => a < b,
                    ">" => a > b,
                    _ => a == b,
                });
            }
        }
        left
    }

    fn sum(&mut self, run: bool) -> Value {
        let mut left = self.product(run);
        loop {
            left = if self.is("+") {
                arithmetic(run, left, self.product(run), |a, b| a + b, |a, b| a + b)
            } else if self.is("-") {
                arithmetic(run, left, self.product(run), |a, b| a - b, |a, b| a - b)
            } else {
                return left;
            };
        }
    }

    fn product(&mut self, run: bool) -> Value {
        let mut left = self.single(run);
        loop {
            left = if self.is("*") {
                arithmetic(run, left, self.single(run), |a, b| a * b, |a, b| a * b)
            } else if self.is("/") {
                arithmetic(
                    run,
                    left,
                    self.single(run),
                    |_, _| panic!("whole division"),
                    |a, b| a / b,
                )
            } else {
                return left;
            };
        }
    }

    fn single(&mut self, run: bool) -> Value {
        if self.is("(") {
            let value = self.either(run);
            self.sign(")");
            return value;
        }
        if let Token::Number(value) = self.tokens[self.at] {
            self.at += 1;
            return value;
        }
        let name = self.name();
        match name.as_str() {
            "TRUE" => return Value::Truth(true),
            "FALSE" => return Value::Truth(false),
            "NOT" => {
                let truth = self.single(run);
                return logic(run, truth, truth, |a, _| !a);
            }
            _ => {}
        }
        if self.is("(") {
            let value = self.either(run);
            self.sign(")");
            return match (name.as_str(), value) {
                ("TRUNC", Value::Real(x)) => Value::Whole(x.trunc() as i64),
                ("ABS", Value::Real(x)) => Value::Real(x.abs()),
                ("DINT_TO_LREAL", Value::Whole(n)) => Value::Real(n as f64),
                _ if !run => Value::Whole(0),
                other => panic!("{other:?}"),
            };
        }
        if self.is("[") {
            let place = self.either(run);
            self.sign("]");
            let array = self.arrays.get(&name).unwrap_or_else(|| panic!("{name} is no array"));
            return match (run, place) {
                (true, Value::Whole(k)) => array[usize::try_from(k - 1).unwrap()],
                (false, _) => array[0],
                other => panic!("{name}[{other:?}]"),
            };
        }
        *self
            .scalars
            .get(&name)
            .unwrap_or_else(|| panic!("{name} is not declared"))
    }
}

fn fits(kind: Kind, value: Value) -> bool {
    match (kind, value) {
        (Kind::Int, Value::Whole(n)) => i16::try_from(n).is_ok(),
        (Kind::Dint, Value::Whole(n)) => i32::try_from(n).is_ok(),
        (Kind::Lreal, Value::Real(_)) | (Kind::Bool, Value::Truth(_)) => true,
        _ => false,
    }
}

fn logic(run: bool, a: Value, b: Value, of: fn(bool, bool) -> bool) -> Value {
    match (a, b) {
        (Value::Truth(a), Value::Truth(b)) => Value::Truth(of(a, b)),
        _ if !run => Value::Truth(false),
        other => panic!("{other:?}"),
    }
}

fn arithmetic(run: bool, a: Value, b: Value, whole: fn(i64, i64) -> i64, real: fn(f64, f64) -> f64) -> Value {
    match (a, b) {
        _ if !run => a,
        (Value::Whole(a), Value::Whole(b)) => Value::Whole(whole(a, b)),
        (Value::Real(a), Value::Real(b)) => Value::Real(real(a, b)),
        other => panic!("mixed {other:?}"),
    }
}

/// A line with two hand-overs before a press, one before a trim that is too hot when it comes too soon.
fn table() -> DecisionTable {
    let line = Formula::new(
        &[
            ("heater.temperature_c", "degC", 1240.0),
            ("stage.to press.seconds", "s", 4.0),
            ("stage.to coining.seconds", "s", 3.0),
            ("stage.to trim.seconds", "s", 20.0),
        ],
        &[
            ("press", Bound::MinC(1180.0)),
            ("coining", Bound::MinC(1090.0)),
            ("trim", Bound::MinC(750.0)),
            ("trim", Bound::MaxC(1080.0)),
        ],
        |x| {
            let press = x[0] - 9.0 * x[1] + 0.03 * x[1] * x[1];
            let coining = press - 30.0 - 7.0 * x[2];
            let trim = 25.0 + (coining - 25.0) * (-0.0085 * x[3]).exp();
            vec![press, coining, trim, trim]
        },
    );
    let planned = line.run(&[]).unwrap().margins_k();
    let identity = Identity {
        title: "Hub (* of old *) line".to_owned(),
        part: Some("A-1".to_owned()),
        revision: None,
        input_sha256: "0".repeat(64),
        program: "test".to_owned(),
        reject_risk: 0.05,
        alarm_risk: 0.001_35,
    };
    let guards = Guards {
        reject: vec![4.0, 5.0, 6.0, 7.0],
        alarm: vec![9.0, 11.0, 13.0, 15.0],
    };
    DecisionTable::build(&line, &planned, guards, identity).unwrap()
}

/// Verdicts of the block and of the library on the same ten thousand conditions.
#[test]
fn the_structured_text_decides_as_the_table_does() {
    decides_as(&table());
}

/// The same where two rows are of one limit, as the stages of one that holds at any moment.
#[test]
fn the_structured_text_takes_the_least_row_of_a_limit() {
    let mut table = table();
    table.limit_of = vec![0, 1, 2, 2];
    for list in [&mut table.guard_k, &mut table.alarm_guard_k] {
        list.truncate(3);
    }
    table.limits.truncate(3);
    decides_as(&table);
}

fn decides_as(table: &DecisionTable) {
    let mut block = Block::new(&structured_text(table));
    let sampler = Sampler::new(Scheme::Independent, 11, 10_000, 5).unwrap();
    let mut seen = [0; 5];
    for index in 0..10_000 {
        let u = sampler.point(index);
        let exit_c = 1185.0 + 115.0 * u[0];
        let count = (u[4] * 4.0) as usize;
        let taken = [0.0 + 14.0 * u[1], 10.0 * u[2], 52.0 * u[3]];
        let mut seconds = taken[..count].to_vec();
        match index % 1000 {
            0 => seconds.iter_mut().for_each(|s| *s = f64::NAN),
            1 => seconds.iter_mut().for_each(|s| *s = -*s),
            2 => seconds = table.stages[..count].iter().map(|s| s.planned_s).collect(),
            _ => {}
        }
        let decision = table.decide(exit_c, &seconds);
        let wanted = match decision {
            Decision::Outside => (0, 0, 0.0, 0.0),
            Decision::Good { limit, margin_k } => (1, limit + 1, margin_k, 0.0),
            Decision::Wait {
                limit,
                margin_k,
                until_s,
            } => (2, limit + 1, margin_k, until_s),
            Decision::Alarm { limit, margin_k } => (3, limit + 1, margin_k, 0.0),
            Decision::Reject { limit, margin_k } => (4, limit + 1, margin_k, 0.0),
            other => panic!("{other:?}"),
        };
        seen[wanted.0] += 1;
        block.put("ExitC", Value::Real(exit_c));
        block.put("Done", Value::Whole(count as i64));
        let mut given = vec![Value::Real(0.0); 3];
        given.iter_mut().zip(&seconds).for_each(|(to, s)| *to = Value::Real(*s));
        block.arrays.insert("Seconds".to_owned(), given);
        block.run();
        let found = |name: &str| block.scalars[name];
        assert_eq!(
            found("State"),
            Value::Whole(wanted.0 as i64),
            "{exit_c} {seconds:?} {decision:?}"
        );
        if wanted.0 > 0 {
            assert_eq!(found("LimitNo"), Value::Whole(wanted.1 as i64), "{exit_c} {seconds:?}");
            assert_eq!(found("MarginK"), Value::Real(wanted.2), "{exit_c} {seconds:?}");
            assert_eq!(found("UntilS"), Value::Real(wanted.3), "{exit_c} {seconds:?}");
        }
    }
    assert!(seen.iter().all(|n| *n > 30), "every state is met: {seen:?}");
}

/// Good, wait and reject say what a run of the whole line says: no part is good that breaks a limit, a wait
/// ends where the part is good.
#[test]
fn a_wait_ends_at_the_first_good_tenth() {
    let table = table();
    let mut waits = 0;
    for exit in 0..20 {
        for start in 0..30 {
            let exit_c = 1200.0 + 4.0 * f64::from(exit);
            let seconds = [4.0, 3.0, 0.5 * f64::from(start)];
            let Decision::Wait { until_s, .. } = table.decide(exit_c, &seconds) else {
                continue;
            };
            waits += 1;
            assert!(
                table.decide(exit_c, &[4.0, 3.0, until_s]).goes_on(),
                "{exit_c} {until_s}"
            );
            let before = table.decide(exit_c, &[4.0, 3.0, until_s - 0.11]);
            assert!(!before.goes_on() || until_s - 0.11 < seconds[2], "{exit_c} {until_s}");
        }
    }
    assert!(waits > 50, "{waits}");
}

/// Ten thousand parts with retries, a skewed wait and a heater that drifts: what is read from their log is
/// what they were drawn from.
#[test]
fn a_log_gives_verdicts_and_the_scatter_it_was_drawn_from() {
    let table = table();
    let (count, retry) = (10_000_u32, Retry::new(4.1, 0.12, 0.02, 2.3, 0.2, 3).unwrap());
    let press = Distribution::Retry(retry);
    let trim = Distribution::LogNormal(LogNormal::new(21.0, 1.5, 17.0).unwrap());
    let coining = Distribution::Normal(Normal::new(3.05, 0.08).unwrap());
    let exit = Distribution::Normal(Normal::new(1240.0, 6.0).unwrap());
    let sampler = Sampler::new(Scheme::Independent, 5, u64::from(count), 4).unwrap();
    let mut text = String::from("part;exit_c;to press start;to press end;to coining;to trim;operator\n");
    let mut good = 0;
    for k in 0..count {
        let u = sampler.point(u64::from(k));
        let exit_c = exit.quantile(u[0]) + 12.0 * (f64::from(k) / f64::from(count) - 0.5);
        let start = 0.25 * f64::from(k % 1000);
        let taken = [press.quantile(u[1]), coining.quantile(u[2]), trim.quantile(u[3])];
        // What is written is what is decided.
        let shown = |x: f64| format!("{x:.3}");
        let read = |x: f64| shown(x).parse::<f64>().unwrap();
        let end = read(start + taken[0]);
        good += usize::from(
            table
                .decide(read(exit_c), &[end - read(start), read(taken[1]), read(taken[2])])
                .goes_on(),
        );
        let row = format!(
            "P{k};{exit_c:.3};{start:.3};{end:.3};{:.3};{:.3};x\n",
            taken[1], taken[2]
        );
        text.push_str(&row.replace('.', ","));
    }
    let begun = std::time::Instant::now();
    let log = Log::read(&text, &table).unwrap();
    // 0.1 s in release.
    assert!(begun.elapsed().as_secs_f64() < 3.0, "{:?}", begun.elapsed());
    assert_eq!(log.parts.iter().filter(|part| part.verdict.goes_on()).count(), good);
    assert!(good > 5000 && good < 10_000, "{good}");
    let near = |found: f64, wanted: f64, within: f64| assert!((found - wanted).abs() < within, "{found} for {wanted}");
    let found = log.steps[0].retries.unwrap();
    near(found.probability, 0.02, 0.004);
    near(found.retry_s, 2.3, 0.05);
    near(found.base_s, 4.1, 0.01);
    near(found.base_sd_s, 0.12, 0.01);
    near(found.retry_sd_s, 0.2, 0.06);
    assert!(log.steps[1].retries.is_none());
    near(log.steps[2].mean, 21.0, 0.06);
    near(log.steps[2].sd, 1.5, 0.1);
    // A drift is told where it is one, and not where it is noise.
    near(log.exit.as_ref().unwrap().drift, 12.0, 0.8);
    assert!(log.exit.as_ref().unwrap().drifts() && !log.steps[1].drifts());
    let written: toml::Table = log.scatter().parse().unwrap();
    let tables = written["study"]["scatter"].as_array().unwrap();
    let kinds: Vec<&str> = tables.iter().map(|t| t["kind"].as_str().unwrap()).collect();
    assert_eq!(kinds, ["normal", "retry", "normal", "lognormal"]);
    assert_eq!(tables[1]["input"].as_str(), Some("stage.to press.seconds"));
    near(tables[3]["offset"].as_float().unwrap(), 17.0, 1.0);
}

/// Nothing is good by default: a row that says nothing clear is refused with its reason, the others go on.
#[test]
fn rows_that_cannot_be_are_refused() {
    let table = table();
    let text = "part,exit_c,to press start,to press end,to coining,to trim\n\
        a,1240,6:00:01,6:00:05,3,20\n\
        b,nan,1,5,3,20\n\
        c,1240,5,1,3,20\n\
        d,1240,1,5,,20\n\
        e,1240,1,5,-3,20\n\
        f,,1,5,3,20\n\
        g,1240,,5,3,20\n\
        h,1240,1,5,3,inf\n\
        i,1240,1,5,3,2\n\
        j,1240,1,5,3\n\
        k,1240,25:00:01,25:00:05,3,20\n\
        l,1400,1,5,3,20\n";
    let log = Log::read(text, &table).unwrap();
    let words: Vec<&str> = log.parts.iter().map(|part| part.verdict.word()).collect();
    assert_eq!(words[9], "not complete");
    assert!(log.parts[0].verdict.goes_on(), "{:?}", log.parts[0]);
    for k in [1, 2, 3, 4, 5, 6, 7, 10] {
        assert_eq!(words[k], "refused", "{:?}", log.parts[k]);
    }
    // A part that left too hot cannot wait any more, and outside the table nothing is good.
    assert_eq!((words[8], words[11]), ("reject", "outside the table: reject"));
    let PartVerdict::Refused { reason } = &log.parts[3].verdict else {
        panic!()
    };
    assert!(
        reason.contains("`to trim` has a time, `to coining` before it has none"),
        "{reason}"
    );
    for (bad, word) in [
        ("part,exit_c\n", "to press"),
        ("part,to press,to coining,to trim\n1,2,3,4\n", "exit_c"),
        ("exit_c,exit_c,to press,to coining,to trim\n", "twice"),
        ("exit_c,to press,to coining,to trim\n", "no parts"),
    ] {
        let error = Log::read(bad, &table).unwrap_err().to_string();
        assert!(error.contains(word), "{error}");
    }
}
