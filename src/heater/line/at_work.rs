//! What coils and converters show in a settled state, and the drives that keep it.

use super::channel::Highest;
use super::converter::{Converter, Reading};
use super::layout::HeaterLine;
use super::result::CoilResult;
use crate::heater::coil::Drive;

impl HeaterLine {
    /// Drives that keep what the coils do at their own by themselves: the voltage where it is common, the field elsewhere.
    pub fn kept(&self, coils: &[CoilResult]) -> Vec<Drive> {
        let parallel = |c: usize| {
            let of = self.converters.iter().find(|v| v.coils.contains(&c));
            of.is_some_and(Converter::is_parallel)
        };
        let drive = |(c, coil): (usize, &CoilResult)| match parallel(c) {
            true => Drive::Volts(coil.electrical.volts),
            false => Drive::Field(coil.field_a_m),
        };
        coils.iter().enumerate().map(drive).collect()
    }

    /// Readings of coils and converters in a settled state.
    pub fn readings(&self, coils: &[CoilResult]) -> Highest {
        let mut readings = Highest::default();
        let of = |c: &CoilResult| Reading::of(&c.electrical, c.terminals_w);
        readings.take(self, &coils.iter().map(of).collect::<Vec<_>>());
        readings
    }
}
