//! Checks against sources outside the project.

#[path = "outside/condition.rs"]
mod condition;
#[path = "outside/exact/mod.rs"]
mod exact;
#[path = "outside/exact_tables.rs"]
mod exact_tables;
#[path = "outside/surface.rs"]
mod surface;
#[path = "outside/eddy_difference.rs"]
mod eddy_difference;
#[path = "outside/eddy_exact.rs"]
mod eddy_exact;
#[path = "outside/eddy_field.rs"]
mod eddy_field;
#[path = "outside/eddy_order.rs"]
mod eddy_order;
#[path = "outside/eddy_saturation.rs"]
mod eddy_saturation;
#[path = "outside/heater_coil.rs"]
mod heater_coil;
#[path = "outside/heater_line.rs"]
mod heater_line;
#[path = "outside/heater_steel.rs"]
mod heater_steel;
