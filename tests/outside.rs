//! Checks against sources outside the project.

#[path = "outside/condition.rs"]
mod condition;
#[path = "outside/exact/mod.rs"]
mod exact;
#[path = "outside/exact_tables.rs"]
mod exact_tables;
#[path = "outside/surface.rs"]
mod surface;
