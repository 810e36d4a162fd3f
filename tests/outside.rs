//! Checks against sources outside the project.

#[path = "outside/condition.rs"]
mod condition;
#[path = "outside/exact/mod.rs"]
mod exact;
#[path = "outside/exact_tables.rs"]
mod exact_tables;
#[path = "outside/steel_files.rs"]
mod steel_files;
#[path = "outside/steel_flow_stress.rs"]
mod steel_flow_stress;
#[path = "outside/steel_library.rs"]
mod steel_library;
#[path = "outside/surface.rs"]
mod surface;
