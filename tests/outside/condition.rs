//! Scale, decarburisation, grain growth and cooling rates against published points.

use billet_thermal::inside::condition::grain::CHROMIUM_MOLYBDENUM;
use billet_thermal::inside::condition::{ScaleLaw, carbon, cooling_rate, decarburisation, scale, time_above};

fn hold(temp_c: f64, seconds: f64) -> [(f64, f64); 2] {
    [(0.0, temp_c), (seconds, temp_c)]
}

/// Scale on iron in air, calculated from the parabolic constant of Paidassi 1958: um after 60 s, mm
/// after 600 s and 1 h, mass gain in mg/cm² after 1 h.
#[test]
fn scale_thickness_table() {
    const TABLE: [(f64, [f64; 4]); 5] = [
        (900.0, [32.0, 0.10, 0.25, 32.0]),
        (1000.0, [64.0, 0.20, 0.50, 63.0]),
        (1100.0, [115.0, 0.36, 0.89, 113.0]),
        (1200.0, [189.0, 0.60, 1.47, 186.0]),
        (1250.0, [238.0, 0.75, 1.84, 234.0]),
    ];
    for (t, row) in TABLE {
        let at = |seconds| scale(ScaleLaw::Paidassi, &hold(t, seconds), 0.0).unwrap();
        assert!((at(60.0).thickness_m * 1e6 - row[0]).abs() < 0.6, "{t}");
        assert!((at(600.0).thickness_m * 1e3 - row[1]).abs() < 0.006, "{t}");
        let hour = at(3600.0);
        assert!((hour.thickness_m * 1e3 - row[2]).abs() < 0.006, "{t}");
        assert!((hour.mass_gain_kg_m2 * 100.0 - row[3]).abs() < 1.1, "{t}");
        assert_eq!(hour.thickness_high_m, 4.0 * hour.thickness_low_m);
    }
}

/// Metal recession in 600 s, um: the two published kinetics, calculated from their formulas. They differ
/// by about two, which is the uncertainty that every result carries.
#[test]
fn metal_loss_by_both_laws() {
    const TABLE: [(f64, f64, f64); 5] = [
        (900.0, 25.0, 57.0),
        (1000.0, 52.0, 113.0),
        (1100.0, 96.0, 203.0),
        (1200.0, 165.0, 336.0),
        (1250.0, 210.0, 421.0),
    ];
    for (t, birks, paidassi) in TABLE {
        let b = scale(ScaleLaw::BirksJackson, &hold(t, 600.0), 0.0).unwrap();
        let p = scale(ScaleLaw::Paidassi, &hold(t, 600.0), 0.0).unwrap();
        assert!((b.metal_loss_m * 1e6 - birks).abs() < 0.6, "{t}: {b:?}");
        assert!((p.metal_loss_m * 1e6 - paidassi).abs() < 1.1, "{t}: {p:?}");
        assert!(p.thickness_low_m < 1.2 * b.thickness_m);
    }
}

/// Induction heating: a minute or two above 1000 degC gives 0.1 to 0.2 mm of scale (common practice).
#[test]
fn induction_heating_scales_little() {
    let history = [(0.0, 20.0), (120.0, 1000.0), (240.0, 1240.0), (250.0, 1230.0)];
    let s = scale(ScaleLaw::Paidassi, &history, 0.0).unwrap();
    assert!((1e-4..3e-4).contains(&s.thickness_m), "{s:?}");
    assert_eq!(s.seconds_above_range, 0.0);
    let hot = scale(ScaleLaw::Paidassi, &hold(1260.0, 7.0), 0.0).unwrap();
    assert!((hot.seconds_above_range - 7.0).abs() < 1e-9);
}

/// Carbon diffusivity in austenite, 1e-11 m²/s: Callister's formula, and Ågren 1986 at 0 and 0.45 % C.
#[test]
fn carbon_diffusivity_table() {
    const TABLE: [(f64, f64, f64, f64); 3] = [
        (1000.0, 1.95, 2.04, 3.16),
        (1100.0, 5.39, 5.63, 8.39),
        (1200.0, 13.0, 13.6, 19.5),
    ];
    for (t, callister, dilute, medium) in TABLE {
        let c = carbon::diffusivity_callister(t).unwrap() * 1e11;
        let a = carbon::diffusivity_agren(t, 0.0).unwrap() * 1e11;
        let b = carbon::diffusivity_agren(t, 0.45).unwrap() * 1e11;
        assert!((c / callister - 1.0).abs() < 4e-3, "{t}: {c}");
        assert!((a / dilute - 1.0).abs() < 4e-3, "{t}: {a}");
        assert!((b / medium - 1.0).abs() < 4e-3, "{t}: {b}");
    }
}

/// Birks and Jackson 1970 at constant temperature: the depth returned must satisfy the formula
/// itself, with every piece recomputed here.
#[test]
fn decarburised_depth_satisfies_its_formula() {
    let (t, seconds, fraction) = (1200.0, 600.0, 0.94);
    let d = decarburisation(&hold(t, seconds), 0.45, fraction).unwrap();
    let diffusivity = carbon::diffusivity_agren(t, 0.45).unwrap();
    // 0.56 of the scale of Paidassi 1958: X² = 0.56² k_p t = 2 k_c t.
    let recession = 0.5 * 0.56 * 0.56 * 6.1e-4 * (-169_452.0 / (8.314_462_618 * (t + 273.15_f64))).exp();
    let x = d.depth_m + (2.0 * recession * seconds).sqrt();
    // 336 um of metal in 600 s at 1200 degC (calculated table).
    assert!((d.recession_m * 1e6 - 336.0).abs() < 1.0, "{d:?}");
    let carbon = 1.0
        - libm::erfc(x / (2.0 * (diffusivity * seconds).sqrt())) / libm::erfc((recession / (2.0 * diffusivity)).sqrt());
    assert!((carbon - fraction).abs() < 1e-9, "{carbon}");
    // √(Dt) = 0.34 mm for 0.45 C at 1200 degC in 600 s (calculated from Ågren).
    assert!((d.diffusion_length_m * 1e3 - 0.342).abs() < 0.002, "{d:?}");
}

/// The approximation for a changing temperature is exact for a history that only changes its pace,
/// and lies between the two temperatures of a history of two levels.
#[test]
fn decarburisation_over_a_history() {
    let low = decarburisation(&hold(1100.0, 300.0), 0.45, 0.95).unwrap();
    let high = decarburisation(&hold(1200.0, 300.0), 0.45, 0.95).unwrap();
    let steps = [(0.0, 1100.0), (150.0, 1100.0), (150.0, 1200.0), (300.0, 1200.0)];
    let both = decarburisation(&steps, 0.45, 0.95).unwrap();
    assert!(low.depth_m < both.depth_m && both.depth_m < high.depth_m);
    let pieces = [(0.0, 1200.0), (10.0, 1200.0), (170.0, 1200.0), (300.0, 1200.0)];
    let again = decarburisation(&pieces, 0.45, 0.95).unwrap();
    assert!((again.depth_m / high.depth_m - 1.0).abs() < 1e-12);
}

/// Grain growth of a 0.39C-1.04Cr-0.69Mn-0.19Mo steel (points of an open literature data set), um after 119, 238,
/// 360 and 479 s; the fit with n = 3 has an rms error of 3.6 %.
#[test]
fn grain_growth_points() {
    const TABLE: [(f64, f64, [f64; 4]); 3] = [
        (900.0, 21.3, [29.3, 33.7, 36.7, 38.9]),
        (1000.0, 45.0, [56.0, 63.7, 68.6, 73.2]),
        (1100.0, 79.9, [107.8, 119.5, 128.3, 136.2]),
    ];
    let mut sum = 0.0;
    for (t, start, row) in TABLE {
        for (seconds, published) in [119.0, 238.0, 360.0, 479.0].into_iter().zip(row) {
            let g = CHROMIUM_MOLYBDENUM.after(&hold(t, seconds), start, 100.0).unwrap();
            let error: f64 = g.size_um / published - 1.0;
            assert!(error.abs() < 0.09, "{t} {seconds}: {}", g.size_um);
            assert_eq!(g.coarse, g.size_um > 100.0);
            sum += error * error;
        }
    }
    let rms = (sum / 12.0).sqrt();
    assert!(rms < 0.045, "{rms}");
}

/// A bar whose cooling is an exponential towards 25 degC: 800 -> 500 degC takes τ ln(775/475).
#[test]
fn cooling_rate_of_an_exponential() {
    let tau = 300.0;
    let history: Vec<(f64, f64)> = (0..=800)
        .map(|i| {
            let t = f64::from(i);
            (t, 25.0 + 1175.0 * (-t / tau).exp())
        })
        .collect();
    let rate = cooling_rate(&history, 800.0, 500.0).unwrap().unwrap();
    let exact = 300.0 / (tau * (775.0_f64 / 475.0).ln());
    assert!((rate.rate_k_s / exact - 1.0).abs() < 1e-4, "{rate:?} {exact}");
    let above = time_above(&history, 1000.0).unwrap();
    assert!((above - tau * (1175.0_f64 / 975.0).ln()).abs() < 0.01, "{above}");
}
