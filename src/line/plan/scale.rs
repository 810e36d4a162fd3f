//! Scale as a layer that insulates.

/// Oxide scale on the part: it lies between metal and tools and between metal and air, grows in air, and
/// comes off where the part is descaled and at its first blow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScaleLayer {
    /// Thickness at heater exit, m; `None` where it grows on the way through a computed heater.
    pub at_exit_m: Option<f64>,
    /// Conductivity, W/mK.
    pub conductivity_w_mk: f64,
    /// Factor on the thickness that grows; kinetics are uncertain by two either way.
    pub growth: f64,
    /// Share of the thickness that the first blow of the line leaves.
    pub left_by_first_blow: f64,
    /// Share of the thickness that descaling leaves.
    pub left_by_descaling: f64,
}
