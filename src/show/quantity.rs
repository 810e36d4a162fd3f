//! What kind of number a number is: that decides its unit, its decimals, the conversion to US units
//! and, where a side is the safe one, the rounding. Nothing else does.

use super::view::{Side, View};
use crate::text::number::{down, fixed, plain, up};
use crate::units::Display;

/// A kind of number. Values are SI, with temperatures in degC; shares are parts of one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// A temperature, whole degrees.
    Temperature,
    /// A margin to a limit, whole degrees, rounded down: never more than there is.
    Margin,
    /// A temperature difference, tenths.
    Difference,
    /// What a small change does to a temperature, hundredths.
    Effect,
    /// A rate of cooling, K/s.
    CoolingRate,
    /// A time, tenths of a second.
    Seconds,
    /// A time of a short phase or a crossing, milliseconds.
    Phase,
    /// A pause or a stop, in s, shown in whole minutes.
    Minutes,
    /// A long time, in s, shown in hours.
    Hours,
    /// An acceleration.
    Acceleration,
    /// A length of the part, mm or in.
    Length,
    /// A volume, m³, shown in cm³ or in³.
    Volume,
    /// A place along a heater, m or in.
    Place,
    /// A thickness of scale or of a decarburised layer, in m, shown in µm.
    Thickness,
    /// A mass of one part.
    Mass,
    /// A mass of many parts, whole.
    Batch,
    /// Mass per time, in kg/s, shown per hour.
    Throughput,
    /// An energy of one part, J, shown in kJ.
    Heat,
    /// An energy from the mains, J, shown in kWh.
    Energy,
    /// Energy per mass, J/kg, shown in kWh/t.
    EnergyPerTonne,
    /// Specific enthalpy, J/kg, shown in kJ/kg.
    Enthalpy,
    /// A power, W, shown in kW.
    Power,
    /// A flow of water, m³/s, shown in l/min or gal/min.
    Flow,
    /// A film or contact coefficient.
    Coefficient,
    /// A conductivity.
    Conductivity,
    /// A specific heat.
    SpecificHeat,
    /// An electrical resistivity, Ω m, shown in µΩ m.
    Resistivity,
    /// A frequency in Hz.
    Frequency,
    /// Magnetic field strength, A/m, shown in kA/m.
    FieldStrength,
    /// A voltage, V.
    Voltage,
    /// A current, A.
    Current,
    /// A reactive power, var, shown in kvar.
    Reactive,
    /// A share of a whole, shown in whole percent.
    Percent,
    /// A share of a whole, shown in percent with one decimal.
    Share,
    /// A probability: percent, parts per million where it is small, a power of ten below; always with its unit.
    Probability,
    /// A number of things.
    Count,
    /// How many times as much, one decimal.
    Factor,
    /// A number without unit, two decimals: emissivity, power factor, capability.
    Ratio,
    /// A number as a file gives it, in its own unit: at most six significant digits.
    Plain,
}

impl Quantity {
    /// Decimals shown.
    pub fn decimals(self, display: Display) -> usize {
        match self {
            Quantity::Temperature
            | Quantity::Margin
            | Quantity::Minutes
            | Quantity::Thickness
            | Quantity::Batch
            | Quantity::Throughput
            | Quantity::Coefficient
            | Quantity::SpecificHeat
            | Quantity::Frequency
            | Quantity::Voltage
            | Quantity::Current
            | Quantity::Percent
            | Quantity::Count
            | Quantity::Plain => 0,
            Quantity::Place if display == Display::Us => 0,
            Quantity::Length if display == Display::Us => 2,
            Quantity::Difference
            | Quantity::Seconds
            | Quantity::Length
            | Quantity::Volume
            | Quantity::Energy
            | Quantity::EnergyPerTonne
            | Quantity::Enthalpy
            | Quantity::Power
            | Quantity::Flow
            | Quantity::FieldStrength
            | Quantity::Reactive
            | Quantity::Share
            | Quantity::Factor
            | Quantity::Hours
            | Quantity::Probability => 1,
            Quantity::Effect
            | Quantity::CoolingRate
            | Quantity::Acceleration
            | Quantity::Place
            | Quantity::Heat
            | Quantity::Conductivity
            | Quantity::Ratio => 2,
            Quantity::Phase | Quantity::Mass | Quantity::Resistivity => 3,
        }
    }

    /// The unit; empty for numbers without one.
    pub fn unit(self, display: Display) -> &'static str {
        match self {
            Quantity::Temperature => display.temperature_unit(),
            Quantity::Margin | Quantity::Difference | Quantity::Effect => display.difference_unit(),
            Quantity::CoolingRate => match display {
                Display::Metric => "K/s",
                Display::Us => "F\u{b0}/s",
            },
            Quantity::Seconds | Quantity::Phase => "s",
            Quantity::Minutes => "min",
            Quantity::Hours => "h",
            Quantity::Acceleration => "m/s\u{b2}",
            Quantity::Length => display.length_unit(),
            Quantity::Volume => match display {
                Display::Metric => "cm\u{b3}",
                Display::Us => "in\u{b3}",
            },
            Quantity::Place => match display {
                Display::Metric => "m",
                Display::Us => "in",
            },
            Quantity::Thickness => "\u{b5}m",
            Quantity::Mass | Quantity::Batch => display.mass_unit(),
            Quantity::Throughput => match display {
                Display::Metric => "kg/h",
                Display::Us => "lb/h",
            },
            Quantity::Heat => "kJ",
            Quantity::Energy => "kWh",
            Quantity::EnergyPerTonne => "kWh/t",
            Quantity::Enthalpy => "kJ/kg",
            Quantity::Power => "kW",
            Quantity::Flow => match display {
                Display::Metric => "l/min",
                Display::Us => "gal/min",
            },
            Quantity::Coefficient => "W/(m\u{b2} K)",
            Quantity::Conductivity => "W/(m K)",
            Quantity::SpecificHeat => "J/(kg K)",
            Quantity::Resistivity => "\u{b5}\u{3a9} m",
            Quantity::Frequency => "Hz",
            Quantity::FieldStrength => "kA/m",
            Quantity::Voltage => "V",
            Quantity::Current => "A",
            Quantity::Reactive => "kvar",
            Quantity::Share | Quantity::Percent => "%",
            Quantity::Count | Quantity::Factor | Quantity::Ratio | Quantity::Probability | Quantity::Plain => "",
        }
    }

    /// The value in the unit shown.
    pub fn shown(self, value: f64, display: Display) -> f64 {
        match self {
            Quantity::Temperature => display.temperature(value),
            Quantity::Margin | Quantity::Difference | Quantity::Effect | Quantity::CoolingRate => {
                display.difference(value)
            }
            Quantity::Minutes => value / 60.0,
            Quantity::Hours => value / 3600.0,
            Quantity::Length => display.length(value),
            // the lengths are shown in mm or in
            Quantity::Volume => match display {
                Display::Metric => value * 1e6,
                Display::Us => value * display.length(1.0).powi(3),
            },
            Quantity::Place if display == Display::Us => display.length(value),
            Quantity::Thickness | Quantity::Resistivity => value * 1e6,
            // The gallon is 3.785411784 l by definition.
            Quantity::Flow => match display {
                Display::Metric => value * 60e3,
                Display::Us => value * 60e3 / 3.785_411_784,
            },
            Quantity::Mass | Quantity::Batch => display.mass(value),
            Quantity::Throughput => display.mass(value * 3600.0),
            Quantity::Heat | Quantity::Enthalpy | Quantity::Power | Quantity::FieldStrength | Quantity::Reactive => {
                value * 1e-3
            }
            Quantity::Energy => value / 3.6e6,
            // 1 kWh/t is 3600 J/kg
            Quantity::EnergyPerTonne => value / 3.6e3,
            Quantity::Share | Quantity::Percent | Quantity::Probability => value * 100.0,
            Quantity::Seconds
            | Quantity::Phase
            | Quantity::Acceleration
            | Quantity::Place
            | Quantity::Coefficient
            | Quantity::Conductivity
            | Quantity::SpecificHeat
            | Quantity::Frequency
            | Quantity::Voltage
            | Quantity::Current
            | Quantity::Count
            | Quantity::Factor
            | Quantity::Ratio
            | Quantity::Plain => value,
        }
    }

    /// To which side numbers of this kind are rounded where nothing else is asked for.
    pub fn side(self) -> Side {
        match self {
            Quantity::Margin => Side::Down,
            _ => Side::Nearest,
        }
    }

    /// The number without unit, empty for one that is not finite.
    pub fn digits(self, value: f64, side: Side, signed: bool, view: &View) -> String {
        let shown = self.shown(value, view.display);
        if self == Quantity::Probability {
            return probability(value, view);
        }
        if self == Quantity::Plain {
            return plain(value, view.decimal_comma);
        }
        let decimals = self.decimals(view.display);
        let rounded = match side {
            Side::Nearest => shown,
            Side::Down => down(shown, decimals as u32),
            Side::Up => up(shown, decimals as u32),
        };
        let text = fixed(rounded, decimals, view.decimal_comma);
        let positive = text.bytes().any(|b| (b'1'..=b'9').contains(&b)) && !text.starts_with('-');
        if signed && positive { format!("+{text}") } else { text }
    }

    /// The number with its unit behind a no-break space, so that the two are never torn.
    pub fn with_unit(self, value: f64, side: Side, signed: bool, view: &View) -> String {
        self.and_unit(self.digits(value, side, signed, view), view.display)
    }

    /// The last digit shown with its unit where no number with such digits lies from `low` to `high`.
    pub(super) fn wider_than(self, low: f64, high: f64, view: &View) -> Option<String> {
        let decimals = self.decimals(view.display);
        let [low, high] = [low, high].map(|value| self.shown(value, view.display));
        let step = || fixed(0.1_f64.powi(decimals as i32), decimals, view.decimal_comma);
        (up(low, decimals as u32) > down(high, decimals as u32)).then(|| self.and_unit(step(), view.display))
    }

    /// A finished number with the unit.
    pub(super) fn and_unit(self, digits: String, display: Display) -> String {
        let unit = self.unit(display).replace(' ', "\u{a0}");
        if unit.is_empty() || digits.is_empty() {
            digits
        } else {
            format!("{digits}\u{a0}{unit}")
        }
    }
}

/// A probability, with the unit that suits its size.
fn probability(p: f64, view: &View) -> String {
    let ppm = p * 1e6;
    let text = if !p.is_finite() {
        return String::new();
    } else if p == 0.0 {
        "0".to_owned()
    } else if p < 1e-8 {
        format!("{p:.0e}")
    } else if p < 1e-3 {
        // three significant digits
        let digits = (2 - ppm.log10().floor() as i32).clamp(0, 4) as usize;
        format!("{ppm:.digits$}\u{a0}ppm")
    } else {
        format!("{:.2}\u{a0}%", 100.0 * p)
    };
    if view.decimal_comma {
        text.replace('.', ",")
    } else {
        text
    }
}
