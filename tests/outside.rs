//! Checks against sources outside the project.

#[cfg(feature = "page")]
#[path = "outside/browser.rs"]
mod browser;
#[path = "outside/condition.rs"]
mod condition;
#[path = "outside/conduction_contact.rs"]
mod conduction_contact;
#[path = "outside/conduction_fire.rs"]
mod conduction_fire;
#[path = "outside/conduction_linear.rs"]
mod conduction_linear;
#[path = "outside/conduction_long_steps.rs"]
mod conduction_long_steps;
#[path = "outside/conduction_nonlinear.rs"]
mod conduction_nonlinear;
#[path = "outside/conduction_order.rs"]
mod conduction_order;
#[path = "outside/conduction_support.rs"]
mod conduction_support;
#[path = "outside/controller.rs"]
mod controller;
#[path = "outside/cooling_stage.rs"]
mod cooling_stage;
#[path = "outside/cooling_views.rs"]
mod cooling_views;
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
#[path = "outside/eddy_time.rs"]
mod eddy_time;
#[path = "outside/exact/mod.rs"]
mod exact;
#[path = "outside/exact_tables.rs"]
mod exact_tables;
#[path = "outside/first_line.rs"]
mod first_line;
#[path = "outside/heater_coil.rs"]
mod heater_coil;
#[path = "outside/heater_command.rs"]
mod heater_command;
#[path = "outside/heater_fixed.rs"]
mod heater_fixed;
#[path = "outside/heater_line.rs"]
mod heater_line;
#[path = "outside/heater_order.rs"]
mod heater_order;
#[path = "outside/heater_panel.rs"]
mod heater_panel;
#[path = "outside/heater_search.rs"]
mod heater_search;
#[path = "outside/heater_square.rs"]
mod heater_square;
#[path = "outside/heater_steel.rs"]
mod heater_steel;
#[path = "outside/heater_transient.rs"]
mod heater_transient;
#[path = "outside/heater_transition.rs"]
mod heater_transition;
#[path = "outside/heater_truth.rs"]
mod heater_truth;
#[cfg(feature = "page")]
#[path = "outside/live_page.rs"]
mod live_page;
#[path = "outside/measured/mod.rs"]
mod measured;
#[path = "outside/nonsense.rs"]
mod nonsense;
#[path = "outside/numerical_error.rs"]
mod numerical_error;
#[path = "outside/one_truth.rs"]
mod one_truth;
#[path = "outside/plan_commands.rs"]
mod plan_commands;
#[path = "outside/plan_limits.rs"]
mod plan_limits;
#[path = "outside/plan_line.rs"]
mod plan_line;
#[path = "outside/plan_moves.rs"]
mod plan_moves;
#[path = "outside/plan_rare.rs"]
mod plan_rare;
#[path = "outside/plan_sampling.rs"]
mod plan_sampling;
#[path = "outside/plan_scatter.rs"]
mod plan_scatter;
#[path = "outside/plan_statistics.rs"]
mod plan_statistics;
#[path = "outside/plan_support/mod.rs"]
mod plan_support;
#[path = "outside/steel_files.rs"]
mod steel_files;
#[path = "outside/steel_flow_stress.rs"]
mod steel_flow_stress;
#[path = "outside/steel_library.rs"]
mod steel_library;
#[path = "outside/surface.rs"]
mod surface;

#[path = "outside/layers.rs"]
mod layers;
#[path = "outside/line_file.rs"]
mod line_file;
#[path = "outside/report_access.rs"]
mod report_access;
#[path = "outside/report_boxes.rs"]
mod report_boxes;
#[path = "outside/report_command.rs"]
mod report_command;
#[path = "outside/report_fixture.rs"]
mod report_fixture;
#[path = "outside/report_pages.rs"]
mod report_pages;
#[path = "outside/report_pictures.rs"]
mod report_pictures;
#[path = "outside/report_text.rs"]
mod report_text;

#[path = "outside/command.rs"]
mod command;
#[path = "outside/line_file_changes.rs"]
mod line_file_changes;
#[path = "outside/line_file_fuzz.rs"]
mod line_file_fuzz;
#[path = "outside/line_file_schema.rs"]
mod line_file_schema;

#[path = "outside/bad_shapes.rs"]
mod bad_shapes;
#[path = "outside/blows.rs"]
mod blows;
#[path = "outside/chain_scipy.rs"]
mod chain_scipy;
#[path = "outside/dependencies.rs"]
mod dependencies;
#[path = "outside/dice.rs"]
mod dice;
#[path = "outside/die_block.rs"]
mod die_block;
#[path = "outside/dies.rs"]
mod dies;
#[path = "outside/examples.rs"]
mod examples;
#[path = "outside/fuzz.rs"]
mod fuzz;
#[path = "outside/fuzz_inputs.rs"]
mod fuzz_inputs;
#[path = "outside/handling.rs"]
mod handling;
#[path = "outside/outputs.rs"]
mod outputs;
#[path = "outside/own_views.rs"]
mod own_views;
#[path = "outside/properties.rs"]
mod properties;
#[path = "outside/risk.rs"]
mod risk;
#[path = "outside/scale_layer.rs"]
mod scale_layer;
#[path = "outside/speed.rs"]
mod speed;
#[path = "outside/strips.rs"]
mod strips;
#[path = "outside/transformation.rs"]
mod transformation;
#[path = "outside/walk.rs"]
mod walk;

#[path = "outside/measured_fit.rs"]
mod measured_fit;
#[path = "outside/measured_least.rs"]
mod measured_least;
#[path = "outside/measured_logs.rs"]
mod measured_logs;
#[path = "outside/measured_support.rs"]
mod measured_support;
#[path = "outside/shift.rs"]
mod shift;
#[path = "outside/sorting.rs"]
mod sorting;
