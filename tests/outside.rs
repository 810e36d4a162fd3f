//! Checks against sources outside the project.

#[path = "outside/condition.rs"]
mod condition;
#[path = "outside/exact/mod.rs"]
mod exact;
#[path = "outside/exact_tables.rs"]
mod exact_tables;
#[path = "outside/surface.rs"]
mod surface;
#[path = "outside/steel_files.rs"]
mod steel_files;
#[path = "outside/steel_flow_stress.rs"]
mod steel_flow_stress;
#[path = "outside/steel_library.rs"]
mod steel_library;
#[path = "outside/report_fixture.rs"]
mod report_fixture;
#[path = "outside/report_pictures.rs"]
mod report_pictures;
#[path = "outside/report_text.rs"]
mod report_text;
