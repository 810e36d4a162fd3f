//! Checks against sources outside the project.

#[path = "outside/condition.rs"]
mod condition;
#[path = "outside/exact/mod.rs"]
mod exact;
#[path = "outside/exact_tables.rs"]
mod exact_tables;
#[path = "outside/plan_moves.rs"]
mod plan_moves;
#[path = "outside/plan_rare.rs"]
mod plan_rare;
#[path = "outside/plan_sampling.rs"]
mod plan_sampling;
#[path = "outside/plan_statistics.rs"]
mod plan_statistics;
#[path = "outside/surface.rs"]
mod surface;
