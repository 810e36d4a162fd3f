//! What the shop measured: instruments, measurements, and what is fitted to them. Nothing of it changes a run.

use toml::Spanned;

use super::ranges::{SECONDS, SHARE, TEMPERATURE};
use crate::text::{above, any, number, table, text};

/// Wavelengths of pyrometers and cameras: from silicon to thermal cameras, µm.
const WAVELENGTH_UM: (f64, f64) = (0.3, 20.0);
/// Kinds that see radiation.
const RADIATION: &[&str] = &["pyrometer", "two-colour", "camera"];

table! {
    /// An instrument: what it would show of a part whose temperature is known.
    pub(crate) struct RawInstrument = "Instrument";

    /// Name that measurements use.
    name: String = text(200.0).required();
    /// `pyrometer`: one band; `two-colour`: the ratio of two bands; `camera`: one band, long wave; `thermocouple`: a
    /// couple in or on the part; `meter`: energy, power or time.
    kind: String = any().required().words(&["pyrometer", "two-colour", "camera", "thermocouple", "meter"]);
    /// Wavelength in the middle of its band; of a two-colour pyrometer that of the shorter band.
    wavelength_um: f64 = above("um", WAVELENGTH_UM)
        .or_by_kind(&[
            ("pyrometer", 1.0, "silicon detectors, common practice"),
            ("two-colour", 0.95, "silicon detectors, common practice"),
            ("camera", 10.0, "uncooled cameras, 8 to 14 um, common practice"),
        ])
        .of(RADIATION);
    /// Wavelength of the longer band.
    second_wavelength_um: f64 = above("um", WAVELENGTH_UM)
        .or(1.05, "silicon detectors, common practice")
        .of(&["two-colour"]);
    /// Emissivity that the instrument is set to.
    set_emissivity: f64 = above("", SHARE).follows("that of the surface").of(&["pyrometer", "camera"]);
    /// Emissivity of the surface in its band (of a two-colour pyrometer in the shorter one).
    emissivity: f64 = above("", SHARE)
        .or(0.85, "oxidised steel at 1 um, 0.8 to 0.9 (from memory)")
        .of(RADIATION);
    /// Standard deviation of what is known of that emissivity, as part of the bias.
    emissivity_sd: f64 = number("", SHARE)
        .or(0.0, "only the stated bias counts")
        .of(&["pyrometer", "camera"]);
    /// Ratio of the emissivities, shorter band over longer, that the instrument is set to.
    set_ratio: f64 = above("", (0.0, 2.0)).or(1.0, "a grey surface").of(&["two-colour"]);
    /// Ratio of the emissivities of the surface, shorter band over longer.
    ratio: f64 = above("", (0.0, 2.0)).or(1.0, "a grey surface").of(&["two-colour"]);
    /// Share of the radiation that windows, mirrors and smoke let through and that the instrument is not set for.
    transmission: f64 = above("", SHARE).or(1.0, "a clean window").of(RADIATION);
    /// Share of the spot that is filled by the part.
    spot_share: f64 = above("", SHARE).or(1.0, "the spot lies on the part").of(RADIATION);
    /// Temperature of what the rest of the spot sees, and of what the part reflects.
    background_c: f64 = number("degC", TEMPERATURE).follows("the temperature of the shop").of(RADIATION);
    /// How much colder scale that stands off is than the steel under it, where it is in the spot.
    loose_scale_k: f64 = number("K", (0.0, 300.0)).or(0.0, "no loose scale in the spot").of(RADIATION);
    /// Time constant of a couple that is pressed on, or of slow electronics.
    time_constant_s: f64 = number("s", SECONDS).or(0.0, "at once").of(&["thermocouple"]);
    /// What it shows too much, K (or the unit of the measurement).
    bias: f64 = number("", (-1.0e6, 1.0e6)).or(0.0, "none known");
    /// Standard deviation of what is known of the bias.
    bias_sd: f64 = number("", (0.0, 1.0e6)).or_by_kind(&[
        ("pyrometer", 5.0, "0.5 % of the reading at 1000 degC and more, common practice"),
        ("two-colour", 7.0, "0.7 % of the reading, common practice"),
        ("camera", 15.0, "2 % of the reading, common practice"),
        ("thermocouple", 4.0, "class 1 of IEC 60584, 0.4 % of the reading (from memory)"),
        ("meter", 0.0, "give it with the class of the meter"),
    ]);
    /// Standard deviation of single readings about the truth. From 20 readings on a fit takes that of the readings about it
    /// and shows this one beside it; without either, what is common practice counts, and is shown.
    sd: f64 = above("", (0.0, 1.0e6));
    /// Class of a meter: largest error in percent of the reading.
    class_percent: f64 = above("%", (0.0, 50.0)).of(&["meter"]);
    /// Lowest reading that is one.
    reads_from: f64 = number("", (-1.0e6, 1.0e6));
    /// Highest reading that is one: at it and above, the instrument is saturated.
    reads_to: f64 = number("", (-1.0e6, 1.0e6));
}

table! {
    /// Something that was measured on the line.
    pub(crate) struct RawMeasurement = "Measurement";

    /// Name, for tables and pictures.
    name: String = text(200.0).required();
    /// `temperature`: of a node at a moment, one a part; `curve`: of a node over time, one part; `time`: the seconds of
    /// a stage, one a part; `energy` and `power`: of the heater, one a part.
    kind: String = any().required().words(&["temperature", "curve", "time", "energy", "power"]);
    /// Name of the instrument.
    instrument: String = text(200.0);
    /// Line file that this was measured on, relative to this one, for a trial that goes another way: a billet that cools
    /// slowly, say. Default: this line.
    line: String = text(1000.0).follows("this line");
    /// Name of the trial. Measurements of one trial are of the same parts, and their files are joined.
    trial: String = text(200.0).follows("one trial for all");
    /// Stage; `heater` for the exit.
    stage: String = text(200.0);
    /// Moment of the stage: `exit`, `start`, `end`, `first blow`, `last blow`, `blow N`. Default: its end.
    moment: String = text(20.0).of(&["temperature", "curve"]);
    /// Seconds after that moment.
    after_s: f64 = number("s", SECONDS).or(0.0, "at the moment").of(&["temperature", "curve"]);
    /// Node of the part.
    node: String = text(200.0).of(&["temperature", "curve"]);
    /// CSV file, relative to this one.
    file: String = text(1000.0);
    /// Column of the readings (a name of the head, or a number from 1).
    column: String = text(200.0);
    /// Column that names the part, by which files are joined.
    part_column: String = text(200.0);
    /// Column of the clock: for a curve the times, for other readings the time at which it was taken.
    time_column: String = text(200.0);
    /// Column of the clock at the start of the stage, for its seconds.
    from_column: String = text(200.0).of(&["time"]);
    /// Column of the clock at the end of the stage.
    to_column: String = text(200.0).of(&["time"]);
    /// Seconds to add to the clock of this file to get that of the first file of the trial, or of a curve to have zero
    /// at its moment. Default: found from the rows.
    clock_offset_s: f64 = number("s", (-1.0e9, 1.0e9));
    /// Unit of the readings.
    unit: String = any().words(&["degC", "degF", "K", "s", "min", "kWh", "MJ", "kW"]);
    /// Reading typed in place of a file.
    value: f64 = number("", (-1.0e6, 1.0e6));
    /// Readings typed in place of a file, one a part (or over the times of a curve).
    values: Vec<Spanned<f64>> = any();
    /// Times of a curve typed in place, s.
    times_s: Vec<Spanned<f64>> = any().of(&["curve"]);
    /// Standard deviation of what runs of the program may be off by at this place, the same for all parts.
    model_sd_k: f64 = number("K", (0.0, 200.0))
        .or(1.5, "what runs differ from independent computations by, at most places")
        .of(&["temperature", "curve"]);
}

table! {
    /// An unknown that is fitted to the measurements.
    pub(crate) struct RawUnknown = "Unknown";

    /// Path of the input: of this line, or `instrument.<name>.bias` and `instrument.<name>.emissivity`.
    input: String = text(500.0).required();
    /// Standard deviation of what is known of it before.
    sd: f64 = above("", (0.0, 1.0e9)).follows("the spread of the value's owner");
    /// What is believed before.
    mean: f64 = number("", (-1.0e9, 1.0e9)).follows("the value of the line file");
}
