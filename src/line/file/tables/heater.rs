//! The heater and what stands inside it.

use toml::Spanned;

use super::ranges::{COEFFICIENT, SECONDS, SHARE, SIZE_MM, TEMPERATURE};
use crate::heater::line::{Motion, Target};
use crate::heater::search::Least;
use crate::text::{Choice, Words, above, any, number, table, text};

/// Terminals of one coil: the largest billet heaters have some 10 MW in all (from memory).
const POWER_KW: (f64, f64) = (0.0, 20_000.0);
const FIELD: (f64, f64) = (0.0, 1.0e7);
const HZ: (f64, f64) = (0.0, 1.0e6);
/// Coils, gaps and tunnels: a shorter one is a length in metres.
const LENGTH_MM: (f64, f64) = (5.0, 100_000.0);

/// Windings on mains frequency have up to some 6 kV, those on converters up to 3 kV (from memory).
const VOLTS: (f64, f64) = (0.0, 20_000.0);
/// Currents before the capacitor, several times those of the converter (from memory).
const AMPERES: (f64, f64) = (0.0, 100_000.0);
/// Capacitors have some five times the active power (from memory).
const KVAR: (f64, f64) = (0.0, 200_000.0);

/// From blankets, 0.05, to silicon carbide, 20 (from memory).
const LINING_W_MK: (f64, f64) = (0.01, 20.0);

/// How a converter divides its power among its coils.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Share {
    /// Windings in parallel on one voltage.
    Voltage,
    /// Each a part of the power.
    Power,
}

impl Words for Share {
    const WORDS: &'static [(&'static str, Share)] = &[("voltage", Share::Voltage), ("power", Share::Power)];
}

/// How the billet gets hot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum HeaterKind {
    Measured,
    Furnace,
    CoilLine,
    StaticCoil,
}

impl Words for HeaterKind {
    const WORDS: &'static [(&'static str, HeaterKind)] = &[
        ("measured", HeaterKind::Measured),
        ("furnace", HeaterKind::Furnace),
        ("coil_line", HeaterKind::CoilLine),
        ("static_coil", HeaterKind::StaticCoil),
    ];
}

impl Words for Motion {
    const WORDS: &'static [(&'static str, Motion)] = &[("indexed", Motion::Indexed), ("steady", Motion::Continuous)];
}

impl Words for Target {
    const WORDS: &'static [(&'static str, Target)] = &[
        ("mean", Target::Mean),
        ("surface", Target::Surface),
        ("core", Target::Core),
    ];
}

impl Words for Least {
    const WORDS: &'static [(&'static str, Least)] = &[("energy", Least::Energy), ("scaling", Least::Scaling)];
}

table! {
    /// The heater.
    pub(crate) struct RawHeater = "Heater";

    /// `measured`: the state at heater exit is known. `furnace`, `coil_line` (a row of coils) and
    /// `static_coil` (one charge at a time): heating from cold is computed.
    kind: Choice<HeaterKind> = any().required();
    /// Uniform temperature at heater exit (measured), or temperature of the furnace.
    temperature_c: f64 = number("degC", TEMPERATURE).required().of(&["measured", "furnace"]);
    /// Surface temperature at heater exit, mid-length.
    surface_c: f64 = number("degC", TEMPERATURE).required().of(&["measured"]);
    /// What a pyrometer shows at heater exit, in place of surface_c: with [scale] the outside of the scale, from which the
    /// metal under it follows.
    pyrometer_c: f64 = number("degC", TEMPERATURE).of(&["measured"]);
    /// Core temperature at heater exit.
    core_c: f64 = number("degC", TEMPERATURE).required().of(&["measured"]);
    /// How much colder the core is than the surface (negative: hotter).
    core_below_surface_k: f64 = number("K", (-600.0, 600.0)).required().of(&["measured"]);
    /// Temperatures from the core (at = 0) to the surface (at = 1), in place of surface and core.
    points: Vec<Spanned<RawPoint>> = any().of(&["measured"]);
    /// Time in the furnace.
    seconds: f64 = above("s", SECONDS).required().of(&["furnace"]);
    /// Time in the furnace.
    minutes: f64 = above("min", (0.0, 16_000.0)).required().of(&["furnace"]);
    /// Temperature of the billet when it goes in.
    start_c: f64 = number("degC", TEMPERATURE)
        .or(20.0, "a bar from the store")
        .of(&["furnace", "coil_line", "static_coil"]);
    /// Emissivity of the exchange between furnace and billet.
    emissivity: f64 = number("", SHARE)
        .or(0.8, "scaled steel in a furnace large against it (oxidised steel 0.8 to 0.9, from memory)")
        .of(&["furnace"]);
    /// Film coefficient of the furnace gas.
    film_w_m2k: f64 = number("W/m2K", COEFFICIENT)
        .or(25.0, "hot gas at a steel face, EN 1991-1-2:2002 3.2.1(2), from memory")
        .of(&["furnace"]);
    /// Added everywhere to the exit temperatures that the heater gives: what a pyrometer reads more.
    exit_offset_k: f64 = number("K", (-400.0, 400.0)).or(0.0, "the exit as the heater gives it");
    /// How billets move through a coil line: `indexed` by one length a takt, or `steady`.
    motion: Choice<Motion> = any().of(&["coil_line"]);
    /// Frequency of the coils.
    frequency_hz: f64 = above("Hz", HZ).required().of(&["coil_line", "static_coil"]);
    /// Inner diameter of the windings.
    bore_mm: f64 = above("mm", SIZE_MM).required().of(&["coil_line", "static_coil"]);
    /// Length of a static coil.
    length_mm: f64 = number("mm", LENGTH_MM).required().of(&["static_coil"]);
    /// Billets end to end in a static coil.
    billets: f64 = above("", (0.0, 1000.0)).or(1.0, "one billet at a time").of(&["static_coil"]);
    /// Thickness of the lining inside the winding.
    lining_mm: f64 = above("mm", SIZE_MM)
        .or(10.0, "refractory tube with an insulating sleeve (common practice)")
        .of(&["coil_line", "static_coil"]);
    /// Thermal conductivity of the lining.
    lining_w_mk: f64 = number("W/mK", LINING_W_MK)
        .or(0.5, "between a dense refractory, about 1, and an insulating blanket, 0.2 to 0.3 (from memory)")
        .of(&["coil_line", "static_coil"]);
    /// Emissivity of the lining.
    lining_emissivity: f64 = above("", SHARE).or(0.8, "refractory, from memory").of(&["coil_line", "static_coil"]);
    /// Temperature of the copper.
    copper_c: f64 = number("degC", (0.0, 150.0))
        .or(50.0, "water-cooled copper at work (common practice)")
        .of(&["coil_line", "static_coil"]);
    /// Winding space factor: copper over pitch.
    fill: f64 = above("", SHARE)
        .or(0.85, "winding space factor, practice 0.7 to 0.9 (from memory)")
        .of(&["coil_line", "static_coil"]);
    /// Turns of each winding, for volts and amperes.
    turns: f64 = above("", (0.0, 1000.0)).of(&["coil_line", "static_coil"]);
    /// Power at the coils' terminals over power from the mains.
    supply_efficiency: f64 = above("", SHARE)
        .or(0.93, "transformer, inverter, capacitors and busbars together (from memory)")
        .of(&["coil_line", "static_coil"]);
    /// Highest power at the terminals of each coil.
    highest_kw: f64 = above("kW", POWER_KW)
        .or(1000.0, "no limit worth the name: give the converter's rating")
        .of(&["coil_line", "static_coil"]);
    /// Highest voltage (RMS) of each winding; needs its turns.
    highest_v: f64 = above("V", VOLTS).of(&["coil_line"]);
    /// Highest current (RMS) of each winding, before any capacitor; needs its turns.
    highest_a: f64 = above("A", AMPERES).of(&["coil_line"]);
    /// Highest reactive power of each winding: what its capacitor has.
    highest_kvar: f64 = above("kvar", KVAR).of(&["coil_line"]);
    /// Rise of the cooling water in the windings, for its flow.
    water_rise_k: f64 = above("K", (0.0, 80.0))
        .or(20.0, "water in at 25 to 30 degC and out below 50, so that no scale falls out (common practice)")
        .of(&["coil_line"]);
    /// Converters that feed several coils each; a coil on none is set on its own.
    converter: Vec<Spanned<RawConverter>> = any().of(&["coil_line"]);
    /// Stretches of a coil line from the cold end, or further zones of a furnace.
    zone: Vec<Spanned<RawZone>> = any().of(&["furnace", "coil_line"]);
    /// Programme of a static coil.
    step: Vec<Spanned<RawStep>> = any().of(&["static_coil"]);
    /// What the powers of a coil line are to reach.
    target: RawTarget = any().of(&["coil_line", "static_coil"]);
}

table! {
    /// One point of a temperature profile.
    pub(crate) struct RawPoint = "Point";

    /// Place: 0 at the core, 1 at the surface.
    at: f64 = number("", SHARE).required();
    /// Temperature there.
    temperature_c: f64 = number("degC", TEMPERATURE).required();
}

table! {
    /// A stretch of a coil line, or a zone of a furnace.
    pub(crate) struct RawZone = "Zone";

    /// `coil`, `open` (a gap open to the shop) or `tunnel` (lined, without power) in a coil line;
    /// `furnace` in a furnace.
    kind: String = any().words(&["coil", "open", "tunnel", "furnace"]);
    /// Name for tables and pictures. Default: the kind with its number.
    name: String = text(200.0);
    /// Length along the bar.
    length_mm: f64 = number("mm", LENGTH_MM).required().of(&["coil", "open", "tunnel"]);
    /// Frequency of this coil, in place of the heater's.
    frequency_hz: f64 = above("Hz", HZ).follows("that of the heater").of(&["coil"]);
    /// Power at the coil's terminals. Without any of the three the target decides.
    power_kw: f64 = number("kW", POWER_KW).of(&["coil"]);
    /// Power into the billets.
    load_kw: f64 = number("kW", POWER_KW).of(&["coil"]);
    /// Field strength (RMS) at the billets' surface.
    field_a_m: f64 = number("A/m", FIELD).of(&["coil"]);
    /// Turns of this winding, in place of the heater's.
    turns: f64 = above("", (0.0, 1000.0)).follows("that of the heater").of(&["coil"]);
    /// Highest power of this coil, in place of the heater's.
    highest_kw: f64 = above("kW", POWER_KW).follows("that of the heater").of(&["coil"]);
    /// Highest voltage (RMS) of this winding, in place of the heater's.
    highest_v: f64 = above("V", VOLTS).follows("that of the heater").of(&["coil"]);
    /// Highest current (RMS) of this winding, in place of the heater's.
    highest_a: f64 = above("A", AMPERES).follows("that of the heater").of(&["coil"]);
    /// Highest reactive power of this winding, in place of the heater's.
    highest_kvar: f64 = above("kvar", KVAR).follows("that of the heater").of(&["coil"]);
    /// Inner diameter of this winding, in place of the heater's.
    bore_mm: f64 = above("mm", SIZE_MM).follows("that of the heater").of(&["coil", "tunnel"]);
    /// Thickness of the lining here, in place of the heater's.
    lining_mm: f64 = above("mm", SIZE_MM).follows("that of the heater").of(&["coil", "tunnel"]);
    /// Conductivity of the lining here, in place of the heater's.
    lining_w_mk: f64 = number("W/mK", LINING_W_MK).follows("that of the heater").of(&["coil", "tunnel"]);
    /// Temperature of a furnace zone.
    temperature_c: f64 = number("degC", TEMPERATURE).required().of(&["furnace"]);
    /// Time in a furnace zone.
    seconds: f64 = above("s", SECONDS).required().of(&["furnace"]);
    /// Time in a furnace zone.
    minutes: f64 = above("min", (0.0, 16_000.0)).required().of(&["furnace"]);
}

table! {
    /// A converter that feeds several coils of a coil line.
    pub(crate) struct RawConverter = "Converter";

    /// Name for tables. Default: `converter` with its number.
    name: String = text(200.0);
    /// Names of the zones whose coils it feeds; all of one frequency.
    coils: Vec<Spanned<String>> = any().required();
    /// How its coils divide its power: `voltage` (windings in parallel on one voltage, each takes what its impedance lets
    /// it; needs turns) or `power` (each a part of the power). Default: `voltage`.
    share: Choice<Share> = any();
    /// With share = "power": the part of each coil, in the order of `coils`, of any sum. Without, parts are those of the
    /// coils' own power_kw, or equal.
    parts: Vec<Spanned<f64>> = above("", (0.0, 1e6));
    /// Power at the terminals of its coils together. Without, the target decides.
    power_kw: f64 = number("kW", POWER_KW);
    /// Highest power at the terminals of its coils together.
    highest_kw: f64 = above("kW", POWER_KW).follows("the sum of its coils");
    /// Highest common voltage (RMS).
    highest_v: f64 = above("V", VOLTS);
    /// Highest current (RMS) of its coils together, before any capacitor.
    highest_a: f64 = above("A", AMPERES);
    /// Highest reactive power of its coils together: what its capacitors have.
    highest_kvar: f64 = above("kvar", KVAR);
    /// Lowest frequency that it gives.
    lowest_hz: f64 = above("Hz", HZ);
    /// Highest frequency that it gives.
    highest_hz: f64 = above("Hz", HZ);
}

table! {
    /// One step of a static coil's programme.
    pub(crate) struct RawStep = "Step";

    /// Length of the step.
    seconds: f64 = number("s", SECONDS).required();
    /// Power at the coil's terminals; 0 to wait.
    power_kw: f64 = number("kW", POWER_KW);
    /// Power into the billets.
    load_kw: f64 = number("kW", POWER_KW);
    /// Field strength (RMS) at the billets' surface.
    field_a_m: f64 = number("A/m", FIELD);
}

table! {
    /// What the coil powers are to reach.
    pub(crate) struct RawTarget = "Target";

    /// Node that is to reach the temperature.
    node: Choice<Target> = any().of(&["coil_line", "static_coil"]);
    /// The temperature. A static coil without steps gets its programme for it.
    temperature_c: f64 = number("degC", TEMPERATURE).required().of(&["coil_line", "static_coil"]);
    /// When it counts: this long after the exit, in still air (0: at the exit).
    after_s: f64 = number("s", (0.0, 3600.0)).or(0.0, "at the exit").of(&["coil_line"]);
    /// Largest difference between surface and core at that moment.
    difference_k: f64 = above("K", (0.0, 1000.0))
        .or(50.0, "typical of forging: 25 to 50 K at the exit (from memory)");
    /// Never to be exceeded anywhere inside.
    never_above_c: f64 = number("degC", TEMPERATURE).follows("the never-exceed temperature of the steel");
    /// What is to be small besides: `energy`, or `scaling` (time above 900 degC).
    least: Choice<Least> = any().of(&["coil_line"]);
    /// How far below the target a billet is still good at the exit gate.
    accept_below_k: f64 = number("K", (0.0, 1000.0))
        .or(30.0, "exit gate, common practice 20 to 40 K")
        .of(&["coil_line"]);
    /// How far above the target a billet is still good at the exit gate.
    accept_above_k: f64 = number("K", (0.0, 1000.0))
        .or(30.0, "exit gate, common practice 20 to 40 K")
        .of(&["coil_line"]);
}
