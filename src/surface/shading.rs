//! What equal parts hide from each other: view factors among parts in rows, and out of a heap.
//!
//! Parts of one kind that lie close together are about equally hot, so what they radiate to each other
//! comes back. Only the share of the view that passes between them counts. View factors of cylinders,
//! discs and rectangles are those of the published catalogues (Hottel's crossed strings; Hamilton and
//! Morgan, NACA TN 2836, 1952; from memory).

use std::f64::consts::{FRAC_PI_2, PI};

use super::error::{SurfaceError, quantity};

const LAW: &str = "view factor among equal parts";

/// Places round a part from which its neighbours are looked at.
const POINTS: usize = 48;

/// Points and weights of Gauss and Legendre on -1 to 1.
const GAUSS: [(f64, f64); 4] = [
    (-0.861_136_311_594_052_6, 0.347_854_845_137_453_9),
    (-0.339_981_043_584_856_3, 0.652_145_154_862_546_1),
    (0.339_981_043_584_856_3, 0.652_145_154_862_546_1),
    (0.861_136_311_594_052_6, 0.347_854_845_137_453_9),
];

fn length(name: &'static str, value_m: f64) -> Result<f64, SurfaceError> {
    quantity(name, "m", LAW).within(value_m, 1e-6, 1e3)
}

fn gap(value_m: f64) -> Result<f64, SurfaceError> {
    quantity("clear gap", "m", LAW).within(value_m, 0.0, 1e3)
}

/// View factor from one of two endless parallel cylinders of a diameter \[m\] to the other across a clear
/// gap \[m\]: F = (1/π) [√(X² - 1) + asin(1/X) - X], X = 1 + gap/diameter (crossed strings).
///
/// ```
/// // Touching cylinders: (π/2 - 1)/π.
/// let f = billet_thermal::surface::shading::parallel_cylinders(0.06, 0.0)?;
/// assert!((f - 0.1817).abs() < 1e-4);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn parallel_cylinders(diameter_m: f64, gap_m: f64) -> Result<f64, SurfaceError> {
    let x = 1.0 + gap(gap_m)? / length("diameter", diameter_m)?;
    Ok((((x * x - 1.0).sqrt() - x + (1.0 / x).asin()) / PI).max(0.0))
}

/// View factor between two equal discs of a diameter \[m\] that face each other across a gap \[m\]:
/// F = 1 + (1 - √(4R² + 1))/(2R²), R = radius/gap. Touching discs see nothing else.
///
/// ```
/// // A gap of one radius: (3 - √5)/2.
/// let f = billet_thermal::surface::shading::facing_discs(0.2, 0.1)?;
/// assert!((f - 0.381_966).abs() < 1e-6);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn facing_discs(diameter_m: f64, gap_m: f64) -> Result<f64, SurfaceError> {
    let (radius, gap_m) = (0.5 * length("diameter", diameter_m)?, gap(gap_m)?);
    // As 2R²/(1 + 2R² + √(1 + 4R²)) it keeps its digits far apart and at no gap: r² over gap².
    let (r2, g2) = (radius * radius, gap_m * gap_m);
    Ok(2.0 * r2 / (g2 + 2.0 * r2 + gap_m * (g2 + 4.0 * r2).sqrt()))
}

/// View factor between two equal rectangles `a` by `b` \[m\] that face each other across a gap \[m\];
/// `b` of `None` is endless: F = √(1 + (gap/a)²) - gap/a (crossed strings). Touching ones see nothing else.
///
/// ```
/// // Two squares at a distance of their side.
/// let f = billet_thermal::surface::shading::facing_rectangles(0.1, Some(0.1), 0.1)?;
/// assert!((f - 0.1998).abs() < 1e-4);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn facing_rectangles(a_m: f64, b_m: Option<f64>, gap_m: f64) -> Result<f64, SurfaceError> {
    let (a_m, gap_m) = (length("height", a_m)?, gap(gap_m)?);
    if gap_m < 1e-9 * a_m {
        return Ok(1.0);
    }
    let Some(b_m) = b_m else {
        let w = gap_m / a_m;
        return Ok((1.0 + w * w).sqrt() - w);
    };
    let (x, y) = (a_m / gap_m, length("length", b_m)? / gap_m);
    let (x1, y1) = (1.0 + x * x, 1.0 + y * y);
    let sum = (x1 * y1 / (x1 + y * y)).sqrt().ln()
        + x * y1.sqrt() * (x / y1.sqrt()).atan()
        + y * x1.sqrt() * (y / x1.sqrt()).atan()
        - x * x.atan()
        - y * y.atan();
    Ok((2.0 * sum / (PI * x * y)).clamp(0.0, 1.0))
}

/// Share of the view of a cylinder's side that equal parallel cylinders take, all of a diameter \[m\]
/// and between the same two planes a length \[m\] apart (`None`: endless). `others` are their axes from
/// its own \[m\], none nearer than a diameter. What lies behind another does not count twice.
///
/// Exact but for a sum over points round the cylinder: in a plane across the axes a direction φ from the
/// normal has the weight cos φ/2, and of what leaves a generator towards an equal one at the distance r,
/// the share (2/π) atan(length/r) meets it between the two planes, which is the integral of
/// cos φ₁ cos φ₂/(π r²) along both (calculated).
///
/// ```
/// use billet_thermal::surface::shading::{among_cylinders, parallel_cylinders};
/// let both = among_cylinders(0.06, None, &[(0.09, 0.0), (-0.09, 0.0)])?;
/// assert!((both - 2.0 * parallel_cylinders(0.06, 0.03)?).abs() < 1e-4);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn among_cylinders(diameter_m: f64, length_m: Option<f64>, others: &[(f64, f64)]) -> Result<f64, SurfaceError> {
    let radius = 0.5 * length("diameter", diameter_m)?;
    let between = match length_m {
        Some(value) => Some(length("length", value)?),
        None => None,
    };
    for (x, y) in others {
        quantity("distance of two axes", "m", LAW).within(x.hypot(*y), diameter_m * (1.0 - 1e-9), 1e6)?;
    }
    let mut seen = Vec::with_capacity(others.len());
    let mut edges = Vec::with_capacity(2 * others.len());
    let mut sum = 0.0;
    for point in 0..POINTS {
        let turn = 2.0 * PI * (point as f64 + 0.5) / POINTS as f64;
        let (sin, cos) = turn.sin_cos();
        seen.clear();
        edges.clear();
        for (x, y) in others {
            let (dx, dy) = (x - radius * cos, y - radius * sin);
            let away = dx.hypot(dy).max(radius);
            // Direction of its axis from the normal, and half the angle that it fills.
            let to = (dy * cos - dx * sin).atan2(dx * cos + dy * sin);
            let half = (radius / away).min(1.0).asin();
            let (low, high) = ((to - half).max(-FRAC_PI_2), (to + half).min(FRAC_PI_2));
            if high > low {
                seen.push((away, to, low, high));
                edges.extend([low, high]);
            }
        }
        edges.sort_by(f64::total_cmp);
        for ends in edges.windows(2) {
            let (low, high) = (ends[0], ends[1]);
            let middle = 0.5 * (low + high);
            // Of equal circles that do not overlap, the one with the nearer centre is met first.
            let covering = seen.iter().filter(|s| s.2 < middle && middle < s.3);
            let Some((away, to, ..)) = covering.min_by(|a, b| a.0.total_cmp(&b.0)) else {
                continue;
            };
            sum += match between {
                None => 0.5 * (high.sin() - low.sin()),
                Some(between) => {
                    let half = 0.5 * (high - low);
                    let share = |phi: f64| {
                        let (across, along) = (phi - to).sin_cos();
                        let inside = (radius * radius - away * away * across * across).max(0.0).sqrt();
                        let distance = (away * along - inside).max(0.0);
                        phi.cos() * between.atan2(distance) / PI
                    };
                    half * GAUSS.iter().map(|(x, w)| w * share(middle + half * x)).sum::<f64>()
                }
            };
        }
    }
    Ok((sum / POINTS as f64).clamp(0.0, 1.0))
}

/// Emissivity with which a grey surface acts towards the outside when it sees the outside with a view
/// factor `open` and surfaces like itself with the rest: ε/(F + ε (1 - F)), to be multiplied by F (theory
/// of grey enclosures, one radiosity for all). What the neighbours reflect makes up for some of what they
/// hide; a deep gap is black.
///
/// ```
/// let e = billet_thermal::surface::shading::acting_emissivity(0.8, 0.5)?;
/// assert!((e - 0.8 / 0.9).abs() < 1e-12);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn acting_emissivity(emissivity: f64, open: f64) -> Result<f64, SurfaceError> {
    quantity("emissivity", "", LAW).within(emissivity, 0.0, 1.0)?;
    quantity("view factor", "", LAW).within(open, 0.0, 1.0)?;
    Ok(in_enclosure(emissivity, open))
}

/// [`acting_emissivity`] of numbers known to be shares.
pub(crate) fn in_enclosure(emissivity: f64, open: f64) -> f64 {
    let all = open + emissivity * (1.0 - open);
    if all > 0.0 { emissivity / all } else { 0.0 }
}

/// Outside of a heap that fills a box of a length and width \[m\] up to where its volume \[m³\] reaches:
/// all six sides, m².
///
/// ```
/// let a = billet_thermal::surface::shading::box_m2(0.4, 1.0, 0.8)?;
/// assert!((a - (2.0 * 0.8 + 2.0 * 1.8 * 0.5)).abs() < 1e-12);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn box_m2(volume_m3: f64, length_m: f64, width_m: f64) -> Result<f64, SurfaceError> {
    let (l, w) = (length("length", length_m)?, length("width", width_m)?);
    let height = quantity("volume", "m3", LAW).within(volume_m3, 0.0, 1e9)? / (l * w);
    Ok(2.0 * l * w + 2.0 * (l + w) * height)
}

/// Outside of a heap poured on the floor as a cone of a volume \[m³\] and slope \[°\], m²: V = (π/3) R³ tan β,
/// A = π R²/cos β. Its base, on the floor, does not count.
///
/// ```
/// let a = billet_thermal::surface::shading::cone_m2(std::f64::consts::PI / 3.0, 45.0)?;
/// assert!((a - std::f64::consts::PI * 2.0_f64.sqrt()).abs() < 1e-12);
/// # Ok::<(), billet_thermal::surface::SurfaceError>(())
/// ```
pub fn cone_m2(volume_m3: f64, slope_deg: f64) -> Result<f64, SurfaceError> {
    let slope = quantity("slope", "deg", LAW).within(slope_deg, 1.0, 89.0)?.to_radians();
    let volume = quantity("volume", "m3", LAW).within(volume_m3, 0.0, 1e9)?;
    let radius = (3.0 * volume / (PI * slope.tan())).cbrt();
    Ok(PI * radius * radius / slope.cos())
}
