//! The heat of forming: flow stress times strain, or a share of the blow energy.

use super::{RunError, Runner};
use crate::line::plan::{DeformationHeat, Forge};

/// Raster of a [`MeanStress`], K. Between two points a flow stress that falls by half in 150 K is
/// off by 2e-4 of itself at most.
const RASTER_K: f64 = 8.0;

/// Mean flow stress of one blow against temperature, on a raster filled where it is asked for:
/// the integral over the strain is worth some hundred evaluations of the law, and thousands of
/// cells ask for it at much the same temperatures.
struct MeanStress {
    /// Strain at the end of the blow, by which the table is found again.
    end: f64,
    low_c: f64,
    values: Vec<Option<f64>>,
}

impl MeanStress {
    fn new(temps_c: &[f64], end: f64) -> MeanStress {
        let (low, high) = temps_c
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), t| {
                (low.min(*t), high.max(*t))
            });
        let low_c = (low / RASTER_K).floor() * RASTER_K;
        let points = ((high - low_c) / RASTER_K) as usize + 2;
        MeanStress {
            end,
            low_c,
            values: vec![None; points],
        }
    }

    /// The value at a temperature within those the table was made for.
    fn at(&mut self, temp_c: f64, law: impl Fn(f64) -> f64) -> f64 {
        let x = (temp_c - self.low_c) / RASTER_K;
        let i = (x as usize).min(self.values.len() - 2);
        let low_c = self.low_c;
        let mut point = |k: usize| *self.values[k].get_or_insert_with(|| law(low_c + RASTER_K * k as f64));
        let (a, b) = (point(i), point(i + 1));
        a + (x - i as f64) * (b - a)
    }
}

impl Runner<'_> {
    /// Sets the heat of forming of one blow as a source over its contact time.
    pub(super) fn forming_heat(&mut self, forge: &Forge, at: f64) -> Result<(), RunError> {
        debug_assert!((self.part.solver.time_s() - at).abs() < 1e-6);
        let grid = self.part.mesh.grid.clone();
        let volume = grid.volume();
        let blows = f64::from(forge.blows);
        let joules: Vec<f64> = match &forge.heat {
            DeformationHeat::None => return Ok(()),
            DeformationHeat::BlowEnergy {
                energy_j,
                efficiency,
                heat_share,
            } => {
                let per_volume = energy_j * efficiency * heat_share / grid.total_volume();
                volume.iter().map(|v| v * per_volume).collect()
            }
            DeformationHeat::FlowStress {
                strain,
                ring_strain,
                strain_rate_1_s,
                flow_stress_pa,
                heat_share,
            } => {
                let done = self.recorder.blows_done();
                let rings: Vec<Option<usize>> = self.part.ring_of_cells();
                let mut out_of_range = None;
                let temps_c = self.part.solver.temperatures();
                let mut tables: Vec<MeanStress> = Vec::new();
                let joules = (0..grid.cells())
                    .map(|c| {
                        if volume[c] == 0.0 {
                            return 0.0;
                        }
                        let total = rings[c].and_then(|r| ring_strain.get(r)).copied().unwrap_or(*strain);
                        let share = total / blows;
                        let temp_c = temps_c[c];
                        let stress = match (flow_stress_pa, &self.plan.metal.flow_stress) {
                            (Some(p), _) => *p,
                            (None, Some(law)) => {
                                let so_far = share * (done - 1.0);
                                let end = so_far + share;
                                out_of_range = out_of_range.take().or(law.out_of_range(temp_c, end, *strain_rate_1_s));
                                // Cells of one ring share their strain.
                                let table = match tables.iter().position(|t| t.end == end) {
                                    Some(table) => &mut tables[table],
                                    None => {
                                        tables.push(MeanStress::new(&temps_c, end));
                                        let last = tables.len() - 1;
                                        &mut tables[last]
                                    }
                                };
                                table.at(temp_c, |t| law.mean_between_pa(t, so_far, end, *strain_rate_1_s))
                            }
                            (None, None) => 0.0,
                        };
                        heat_share * stress * share * volume[c]
                    })
                    .collect();
                if let Some(out) = out_of_range {
                    let stage = self.recorder.stage_name().to_owned();
                    let start = format!("stage `{stage}`: flow stress used at {}", out.quantity);
                    // Once a stage and quantity is enough; later blows only go further.
                    if !self.warnings.iter().any(|w| w.message.starts_with(&start)) {
                        let unit = if out.unit.is_empty() {
                            String::new()
                        } else {
                            format!(" {}", out.unit)
                        };
                        let message = format!(
                            "{start} {:.2}{unit}, outside the {} to {}{unit} it was fitted to",
                            out.value, out.range.0, out.range.1
                        );
                        self.warn("flow-stress-extrapolated", message);
                    }
                }
                joules
            }
        };
        let account = self.part.solver.account("deformation");
        let power: Vec<f64> = joules.iter().map(|q| q / forge.contact_s).collect();
        self.part.solver.set_source(account, &power);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::steel::{FlowLaw, FlowStress, Provenance};

    #[test]
    fn the_raster_follows_the_law() {
        let law = FlowStress::new(FlowLaw::Misaka { carbon: 0.42 }, "", Provenance::Given);
        let temps: Vec<f64> = (0..200).map(|i| 760.0 + 2.5 * f64::from(i)).collect();
        let exact = |t: f64| law.mean_between_pa(t, 0.1, 0.3, 60.0);
        let mut table = MeanStress::new(&temps, 0.3);
        for t in temps {
            let ratio = table.at(t, exact) / exact(t);
            assert!((ratio - 1.0).abs() < 2e-4, "{t}: {ratio}");
        }
    }
}
