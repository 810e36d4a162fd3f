//! The measurements of a line file, checked and in SI units.

use std::ops::Range;
use std::path::{Path, PathBuf};

use serde::Serialize;
use toml::Spanned;

use super::error::MeasuredError;
use super::instrument::{Instrument, Principle};
use crate::body::Place;
use crate::judge::Moment;
use crate::line::file::tables::{RawFile, RawInstrument, RawMeasurement, RawUnknown};
use crate::line::file::{LineFileError, read_tables};
use crate::text::{Found, Given as Entry, ProblemKind, Problems, Source, keys_of};

/// What was measured.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum What {
    /// A node at a moment, one reading a part.
    Temperature(At),
    /// A node over time, one part.
    Curve(At),
    /// The seconds of a stage, one reading a part.
    Seconds {
        /// The stage.
        stage: String,
    },
    /// Energy of the heater for a part, kWh.
    Energy,
    /// Power of the heater, kW.
    Power,
}

/// Where and when.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct At {
    /// Stage; `heater` for the exit.
    pub stage: String,
    /// Moment of it.
    pub moment: Moment,
    /// Seconds after the moment.
    pub after_s: f64,
    /// Node.
    pub node: String,
}

impl At {
    /// Whether it is what a pyrometer at the exit sees.
    #[must_use]
    pub fn is_exit_surface(&self) -> bool {
        self.moment == Moment::Exit && self.after_s == 0.0 && self.node == Place::Surface.word()
    }
}

/// Unit of the readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Unit {
    /// degC.
    Celsius,
    /// degF.
    Fahrenheit,
    /// K.
    Kelvin,
    /// s, kWh, kW: as the program counts.
    Own,
    /// min.
    Minutes,
    /// MJ.
    Megajoules,
}

impl Unit {
    /// A reading in degC, s, kWh or kW.
    #[must_use]
    pub fn value(self, reading: f64) -> f64 {
        match self {
            Unit::Celsius | Unit::Own => reading,
            Unit::Fahrenheit => (reading - 32.0) / 1.8,
            Unit::Kelvin => reading - 273.15,
            Unit::Minutes => 60.0 * reading,
            Unit::Megajoules => reading / 3.6,
        }
    }

    /// Its word; `own` where it is the unit that the program counts in.
    #[must_use]
    pub fn word(self, own: &'static str) -> &'static str {
        match self {
            Unit::Celsius => "degC",
            Unit::Fahrenheit => "degF",
            Unit::Kelvin => "K",
            Unit::Own => own,
            Unit::Minutes => "min",
            Unit::Megajoules => "MJ",
        }
    }
}

/// Where readings come from.
#[derive(Debug, Clone, PartialEq)]
pub enum Readings {
    /// A column of a file.
    Column {
        /// The file.
        file: PathBuf,
        /// Column of the readings.
        column: String,
    },
    /// Two columns of a clock: what lies between them.
    Clock {
        /// The file.
        file: PathBuf,
        /// Column of the start.
        from: String,
        /// Column of the end.
        to: String,
    },
    /// Typed in place: values with the times of a curve.
    Typed(Vec<(f64, f64)>),
}

impl Readings {
    /// Its file.
    #[must_use]
    pub fn file(&self) -> Option<&Path> {
        match self {
            Readings::Column { file, .. } | Readings::Clock { file, .. } => Some(file),
            Readings::Typed(_) => None,
        }
    }
}

/// A measurement.
#[derive(Debug, Clone, PartialEq)]
pub struct Measurement {
    /// Name.
    pub name: String,
    /// What was measured.
    pub what: What,
    /// Index of the instrument.
    pub instrument: usize,
    /// Name of the trial.
    pub trial: String,
    /// Another line on which it was measured.
    pub line: Option<PathBuf>,
    /// Readings.
    pub readings: Readings,
    /// Column that names the part.
    pub part_column: Option<String>,
    /// Column of the clock.
    pub time_column: Option<String>,
    /// Seconds to add to its clock.
    pub clock_offset_s: Option<f64>,
    /// Unit of the readings.
    pub unit: Unit,
    /// What runs may be off by here, K.
    pub model_sd_k: f64,
}

impl Measurement {
    /// Where it was taken, in words.
    #[must_use]
    pub fn place(&self) -> String {
        match &self.what {
            What::Energy | What::Power => "heater".to_owned(),
            What::Seconds { stage } => stage.clone(),
            What::Temperature(at) | What::Curve(at) => {
                let after = if at.after_s > 0.0 {
                    format!(" + {} s", at.after_s)
                } else {
                    String::new()
                };
                format!("{}, {}{after}, {}", at.stage, at.moment, at.node)
            }
        }
    }

    /// A number of a cell in degC, s, kWh or kW; `unit` is what stands behind it, empty where nothing does.
    ///
    /// # Errors
    /// A unit that is not that of the measurement.
    pub fn value(&self, reading: f64, unit: &str) -> Result<f64, String> {
        let own = match self.what {
            What::Energy => "kWh",
            What::Power => "kW",
            _ => "s",
        };
        let wanted = self.unit.word(own);
        if unit.is_empty() || unit == wanted {
            return Ok(self.unit.value(reading));
        }
        Err(format!("{reading} {unit} stands in it, its unit is {wanted}"))
    }

    /// Place and time of a temperature.
    #[must_use]
    pub fn at(&self) -> Option<&At> {
        match &self.what {
            What::Temperature(at) | What::Curve(at) => Some(at),
            _ => None,
        }
    }
}

/// Something that is fitted, as the file asks for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    /// Path.
    pub path: String,
    /// Standard deviation of what is known before.
    pub sd: Option<f64>,
    /// What is believed before.
    pub mean: Option<f64>,
}

/// All that a line file says of measurements.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Given {
    /// Instruments; those that a measurement leaves out are added as meters or couples.
    pub instruments: Vec<Instrument>,
    /// Measurements.
    pub measurements: Vec<Measurement>,
    /// What is fitted.
    pub wanted: Vec<Wanted>,
}

impl Given {
    /// Reads the tables of a line file; `ambient_c` is the temperature of its shop.
    ///
    /// # Errors
    /// All that is wrong with them, each with its place.
    pub fn read(text: &str, path: &Path, ambient_c: f64) -> Result<Given, MeasuredError> {
        let source = Source::new(text);
        let raw = read_tables(&source, path)?;
        let mut check = Checked {
            found: Found::new(&source),
            folder: path.parent().unwrap_or_else(|| Path::new("")).to_owned(),
            ambient_c,
        };
        let given = check.all(&raw);
        if check.found.problems.is_empty() {
            return Ok(given);
        }
        let problems = Problems::new(path, text, check.found.problems);
        Err(LineFileError::Wrong(Box::new(problems)).into())
    }
}

struct Checked<'t> {
    found: Found<'t>,
    folder: PathBuf,
    ambient_c: f64,
}

impl Checked<'_> {
    fn all(&mut self, raw: &RawFile) -> Given {
        let mut instruments = Vec::new();
        for entry in raw.instrument.items() {
            let Some(made) = self.instrument(entry) else { continue };
            if instruments.iter().any(|other: &Instrument| other.name == made.name) {
                self.rule(
                    entry.span(),
                    format!("two instruments `{}`", made.name),
                    "one name for each",
                );
            }
            instruments.push(made);
        }
        let mut given = Given {
            instruments,
            ..Given::default()
        };
        for entry in raw.measurement.items() {
            self.measurement(entry, &mut given);
        }
        for entry in raw.unknown.items() {
            given.wanted.extend(self.wanted(entry));
        }
        given
    }

    fn rule(&mut self, place: Range<usize>, detail: String, help: &str) {
        self.found
            .problem(ProblemKind::rule("measurement", detail, help), place);
    }

    fn number(&mut self, kind: &str, given: &Entry<f64>) -> f64 {
        let default = given.key.default_for(kind).map_or(f64::NAN, |default| default.0);
        self.found.number(given).unwrap_or(default)
    }

    fn needed(&mut self, given: &Entry<String>, place: &Range<usize>) -> Option<String> {
        if given.is_none() {
            self.found.missing(place.clone(), &format!("`{}`", given.key.name), "");
        }
        self.found.text(given)
    }

    fn instrument(&mut self, entry: &Spanned<RawInstrument>) -> Option<Instrument> {
        let (place, raw) = (entry.span(), entry.get_ref());
        let name = self.needed(&raw.name, &place);
        if raw.kind.is_none() {
            let hint = format!("kind = one of {}", raw.kind.key.words.join(", "));
            self.found.missing(place.clone(), "`kind` of the instrument", &hint);
        }
        let kind = self.found.one_of(&raw.kind)?;
        let keys = keys_of::<RawInstrument>(kind);
        let told = format!("for kind = \"{kind}\"");
        self.found.only(raw, kind, &told, |_| format!("its keys are {keys}"));
        let wavelength_m = 1e-6 * self.number(kind, &raw.wavelength_um);
        let principle = match kind {
            "two-colour" => {
                let second = 1e-6 * self.number(kind, &raw.second_wavelength_um);
                if second <= wavelength_m {
                    let detail = "the second wavelength is not the longer one".to_owned();
                    self.rule(place.clone(), detail, "second_wavelength_um = the longer band");
                }
                Principle::TwoBands {
                    wavelengths_m: (wavelength_m, second),
                    set_ratio: self.number(kind, &raw.set_ratio),
                    ratio: self.number(kind, &raw.ratio),
                }
            }
            "pyrometer" | "camera" => Principle::OneBand {
                wavelength_m,
                set_emissivity: self.found.number(&raw.set_emissivity),
                counts_background: kind == "camera",
            },
            "thermocouple" => Principle::Couple {
                time_constant_s: self.number(kind, &raw.time_constant_s),
            },
            _ => Principle::Meter,
        };
        let reads_from = self.found.number(&raw.reads_from).unwrap_or(f64::NEG_INFINITY);
        let reads_to = self.found.number(&raw.reads_to).unwrap_or(f64::INFINITY);
        if reads_from >= reads_to {
            self.rule(
                place,
                "it reads from more than it reads to".to_owned(),
                "reads_from < reads_to",
            );
        }
        let optical = matches!(kind, "pyrometer" | "two-colour" | "camera");
        let or = |value: f64, other: f64| if optical { value } else { other };
        Some(Instrument {
            name: name?,
            principle,
            emissivity: or(self.number(kind, &raw.emissivity), 1.0),
            emissivity_sd: or(self.number(kind, &raw.emissivity_sd), 0.0),
            transmission: or(self.number(kind, &raw.transmission), 1.0),
            spot_share: or(self.number(kind, &raw.spot_share), 1.0),
            background_c: self.found.number(&raw.background_c).unwrap_or(self.ambient_c),
            loose_scale_k: or(self.number(kind, &raw.loose_scale_k), 0.0),
            bias: self.number(kind, &raw.bias),
            bias_sd: self.number(kind, &raw.bias_sd),
            class: 0.01 * self.found.number(&raw.class_percent).unwrap_or(0.0),
            sd: self.found.number(&raw.sd),
            reads: (reads_from, reads_to),
        })
    }

    fn measurement(&mut self, entry: &Spanned<RawMeasurement>, given: &mut Given) -> Option<()> {
        let (place, raw) = (entry.span(), entry.get_ref());
        let before = self.found.problems.len();
        let name = self.needed(&raw.name, &place);
        if raw.kind.is_none() {
            let hint = format!("kind = one of {}", raw.kind.key.words.join(", "));
            self.found.missing(place.clone(), "`kind` of the measurement", &hint);
        }
        let kind = self.found.one_of(&raw.kind)?;
        let told = format!("for kind = \"{kind}\"");
        let keys = keys_of::<RawMeasurement>(kind);
        self.found.only(raw, kind, &told, |_| format!("its keys are {keys}"));
        let what = self.what(kind, raw, &place);
        let unit = self.unit(kind, &raw.unit);
        let readings = self.readings(kind, raw, &place);
        let instrument = self.instrument_of(kind, raw, given);
        let [trial, line, part, time] =
            [&raw.trial, &raw.line, &raw.part_column, &raw.time_column].map(|given| self.found.text(given));
        let clock_offset_s = self.found.number(&raw.clock_offset_s);
        let model_sd_k = match kind {
            "temperature" | "curve" => self.number(kind, &raw.model_sd_k),
            _ => 0.0,
        };
        if given.measurements.iter().any(|m| Some(&m.name) == name.as_ref()) {
            self.rule(place, "two measurements of one name".to_owned(), "one name for each");
        }
        if self.found.problems.len() > before {
            return None;
        }
        let unused = |index: usize| index < given.instruments.len();
        let instrument = match instrument {
            Some(index) if unused(index) => index,
            _ => {
                given.instruments.push(plain(kind, name.as_deref()?));
                given.instruments.len() - 1
            }
        };
        given.measurements.push(Measurement {
            name: name?,
            what: what?,
            instrument,
            trial: trial.unwrap_or_default(),
            line: line.map(|line| self.folder.join(line)),
            readings: readings?,
            part_column: part,
            time_column: time,
            clock_offset_s,
            unit: unit?,
            model_sd_k,
        });
        Some(())
    }

    fn what(&mut self, kind: &str, raw: &RawMeasurement, place: &Range<usize>) -> Option<What> {
        match kind {
            "energy" => return Some(What::Energy),
            "power" => return Some(What::Power),
            "time" => {
                return Some(What::Seconds {
                    stage: self.needed(&raw.stage, place)?,
                });
            }
            _ => {}
        }
        let stage = self.needed(&raw.stage, place)?;
        let node = self.needed(&raw.node, place)?;
        let moment = match raw.moment.as_ref() {
            None if stage == "heater" => Moment::Exit,
            None => Moment::End,
            Some(at) => {
                let moment = Moment::parse(at.get_ref());
                if moment.is_none_or(|m| matches!(m, Moment::Always | Moment::EveryBlow)) {
                    let words = ["exit", "start", "end", "first blow", "last blow", "blow N"];
                    self.found
                        .unknown_word("moment", at.get_ref(), at.span(), words.into_iter());
                    return None;
                }
                moment?
            }
        };
        if (moment == Moment::Exit) != (stage == "heater") {
            let detail = format!("stage `{stage}` has no moment `{moment}`");
            self.rule(place.clone(), detail, "stage = \"heater\" goes with moment = \"exit\"");
        }
        let at = At {
            stage,
            moment,
            after_s: self.number(kind, &raw.after_s),
            node,
        };
        Some(if kind == "curve" {
            What::Curve(at)
        } else {
            What::Temperature(at)
        })
    }

    fn unit(&mut self, kind: &str, given: &Entry<String>) -> Option<Unit> {
        let word = match given.is_some() {
            true => self.found.one_of(given)?,
            false => match kind {
                "temperature" | "curve" => "degC",
                "time" => "s",
                "energy" => "kWh",
                _ => "kW",
            },
        };
        let unit = match (kind, word) {
            ("temperature" | "curve", "degC") => Unit::Celsius,
            ("temperature" | "curve", "degF") => Unit::Fahrenheit,
            ("temperature" | "curve", "K") => Unit::Kelvin,
            ("time", "s") | ("energy", "kWh") | ("power", "kW") => Unit::Own,
            ("time", "min") => Unit::Minutes,
            ("energy", "MJ") => Unit::Megajoules,
            _ => {
                let span = given.span().unwrap_or(0..0);
                self.rule(
                    span,
                    format!("a {kind} is not in {word}"),
                    "leave it out, or take a unit of its kind",
                );
                return None;
            }
        };
        Some(unit)
    }

    fn readings(&mut self, kind: &str, raw: &RawMeasurement, place: &Range<usize>) -> Option<Readings> {
        let curve = kind == "curve";
        let file = self.found.text(&raw.file).map(|file| self.folder.join(file));
        let typed = raw.value.is_some() || raw.values.is_some();
        match (file, typed) {
            (Some(file), false) => {
                let clock = (self.found.text(&raw.from_column), self.found.text(&raw.to_column));
                if let (Some(from), Some(to)) = clock {
                    return Some(Readings::Clock { file, from, to });
                }
                if curve && raw.time_column.is_none() {
                    self.found
                        .missing(place.clone(), "`time_column` of the curve", "time_column = its clock");
                }
                let column = self.needed(&raw.column, place)?;
                Some(Readings::Column { file, column })
            }
            (None, true) => {
                let single = self.found.number(&raw.value);
                let values: Vec<f64> = match single {
                    Some(value) => vec![value],
                    None => raw.values.items().iter().map(|v| *v.get_ref()).collect(),
                };
                let times: Vec<f64> = raw.times_s.items().iter().map(|v| *v.get_ref()).collect();
                if !values.iter().chain(&times).all(|v| v.is_finite()) {
                    self.rule(
                        place.clone(),
                        "a reading that is no number".to_owned(),
                        "finite numbers only",
                    );
                }
                if curve && times.len() != values.len() {
                    let detail = format!("{} times for {} values", times.len(), values.len());
                    self.rule(place.clone(), detail, "times_s and values of one length");
                }
                let zero = std::iter::repeat(0.0);
                let times = times.into_iter().chain(zero);
                Some(Readings::Typed(times.zip(values).collect()))
            }
            (found, _) => {
                let detail = match found {
                    Some(_) => "a file and typed readings",
                    None => "no readings",
                };
                self.rule(
                    place.clone(),
                    detail.to_owned(),
                    "give file and column, or value, or values",
                );
                None
            }
        }
    }

    /// Index of its instrument; one past the last where it names none.
    fn instrument_of(&mut self, kind: &str, raw: &RawMeasurement, given: &Given) -> Option<usize> {
        let Some(at) = raw.instrument.as_ref() else {
            return Some(given.instruments.len());
        };
        let Some(index) = given.instruments.iter().position(|i| i.name == *at.get_ref()) else {
            let known = given.instruments.iter().map(|i| i.name.as_str());
            self.found.unknown_word("instrument", at.get_ref(), at.span(), known);
            return None;
        };
        let meter = given.instruments[index].principle == Principle::Meter;
        if meter == matches!(kind, "temperature" | "curve") {
            let detail = format!("`{}` measures no {kind}", at.get_ref());
            self.rule(
                at.span(),
                detail,
                "a meter measures energy, power and time, the others temperatures",
            );
        }
        Some(index)
    }

    fn wanted(&mut self, entry: &Spanned<RawUnknown>) -> Option<Wanted> {
        let raw = entry.get_ref();
        Some(Wanted {
            path: self.needed(&raw.input, &entry.span())?,
            sd: self.found.number(&raw.sd),
            mean: self.found.number(&raw.mean),
        })
    }
}

/// The instrument of a measurement that names none: the value itself.
fn plain(kind: &str, name: &str) -> Instrument {
    let principle = match kind {
        "temperature" | "curve" => Principle::Couple { time_constant_s: 0.0 },
        _ => Principle::Meter,
    };
    Instrument::plain(name, principle)
}
