//! Shapes as a user says them: rings from the axis outwards, each with its outer diameter and height.

use std::f64::consts::FRAC_PI_4;

/// How a shape is said.
pub(super) const HELP: &str = "rings from the axis outwards as `diameter x height` in mm, with a name in front where \
    it has one and `?` for one height that the volume gives: `92 x ?`, or `body 66 x ?, flange 124 x 22, flash 150 x 3`; \
    with `;` between rings a comma is the decimal sign: `body 66,5 x ?; flash 150 x 3,2`";

/// A ring from the one before it to its outer diameter.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Ring {
    pub zone: String,
    pub outer_mm: f64,
    /// `None` where the volume gives it.
    pub height_mm: Option<f64>,
    /// Where its underside lies, where that was said.
    pub bottom_mm: Option<f64>,
}

/// Most rings of a shape.
const MOST: usize = 12;
/// Diameters and heights that a forging of the kind may have, mm.
const SIZE_MM: (f64, f64) = (0.5, 3000.0);

/// Longest name of a ring or cross-section.
const LONGEST_NAME: usize = 40;

/// Reads the rings of a shape.
pub(super) fn parse(text: &str) -> Result<Vec<Ring>, String> {
    let rings: Vec<Ring> = match text.contains(';') {
        true => text.replace(',', ".").split(';').map(ring).collect::<Result<_, _>>()?,
        false => text.split(',').map(ring).collect::<Result<_, _>>()?,
    };
    checked(rings)
}

/// Rings that make a shape.
pub(super) fn checked(rings: Vec<Ring>) -> Result<Vec<Ring>, String> {
    if rings.len() > MOST {
        return Err(format!("{} rings are too many, most are {MOST}", rings.len()));
    }
    if rings.windows(2).any(|pair| pair[1].outer_mm <= pair[0].outer_mm) {
        return Err("each ring is wider than the one before it".to_owned());
    }
    if rings.iter().filter(|ring| ring.height_mm.is_none()).count() > 1 {
        return Err("only one height can be left to the volume".to_owned());
    }
    let taken = |k: usize| !rings[k].zone.is_empty() && rings[..k].iter().any(|ring| ring.zone == rings[k].zone);
    match (0..rings.len()).find(|&k| taken(k)) {
        Some(k) => Err(format!("two rings are called `{}`", rings[k].zone)),
        None => Ok(rings),
    }
}

fn ring(text: &str) -> Result<Ring, String> {
    let text = text.trim();
    let wrong = || format!("`{text}` is no ring");
    let (left, height) = text.rsplit_once(['x', 'X', '\u{d7}']).ok_or_else(wrong)?;
    let (zone, outer) = match left.trim().rsplit_once(char::is_whitespace) {
        Some((zone, outer)) => (zone.trim(), outer),
        None => ("", left.trim()),
    };
    let size = |text: &str| size(text).unwrap_or_else(|| Err(wrong()));
    Ok(Ring {
        zone: self::zone(zone)?,
        outer_mm: size(outer)?,
        height_mm: match height.trim() {
            "?" => None,
            height => Some(size(height)?),
        },
        bottom_mm: None,
    })
}

/// A diameter or a height; `None` for what is no number.
pub(super) fn size(text: &str) -> Option<Result<f64, String>> {
    let text = text.trim().trim_end_matches("mm").trim();
    let number = text.parse::<f64>().ok()?;
    Some(match number >= SIZE_MM.0 && number <= SIZE_MM.1 {
        true => Ok(number),
        false => Err(format!("{text} is out of range: {} to {} mm", SIZE_MM.0, SIZE_MM.1)),
    })
}

/// The name of a ring or cross-section.
pub(super) fn zone(name: &str) -> Result<String, String> {
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    match name.len() <= LONGEST_NAME && name.chars().all(plain) {
        true => Ok(name.to_owned()),
        false => Err(format!(
            "`{name}` is no name here: at most {LONGEST_NAME} letters, digits, `_` and `-`"
        )),
    }
}

/// Plan area of each ring, mm².
pub(super) fn areas_mm2(rings: &[Ring]) -> Vec<f64> {
    let mut inner = 0.0;
    let mut areas = Vec::with_capacity(rings.len());
    for ring in rings {
        areas.push(FRAC_PI_4 * (ring.outer_mm * ring.outer_mm - inner * inner));
        inner = ring.outer_mm;
    }
    areas
}

/// How far a volume may be off that is still made good at the widest ring, share of it: drawings are rounded.
pub(super) const MADE_GOOD: f64 = 0.03;

/// The heights that give the shape its volume, mm, and which one was computed or changed.
pub(super) fn heights_mm(rings: &[Ring], volume_mm3: f64) -> Result<(Vec<f64>, Option<usize>), String> {
    let areas = areas_mm2(rings);
    let known: f64 = rings
        .iter()
        .zip(&areas)
        .map(|(ring, area)| area * ring.height_mm.unwrap_or(0.0))
        .sum();
    let mut heights: Vec<f64> = rings.iter().map(|ring| ring.height_mm.unwrap_or(0.0)).collect();
    if let Some(open) = rings.iter().position(|ring| ring.height_mm.is_none()) {
        let height = (volume_mm3 - known) / areas[open];
        if !(height >= SIZE_MM.0 && height <= SIZE_MM.1) {
            return Err(format!(
                "the billet's volume leaves ring {} a height of {height:.1} mm; allowed are {} to {} mm",
                open + 1,
                SIZE_MM.0,
                SIZE_MM.1
            ));
        }
        heights[open] = rounded(height);
        return Ok((heights, Some(open)));
    }
    let off = known / volume_mm3 - 1.0;
    if off.abs() < 1e-4 {
        return Ok((heights, None));
    }
    if off.abs() > MADE_GOOD {
        return Err(format!(
            "the shape has {:.2} cm3, the billet {:.2} cm3: {:.1} % {}; give `?` for one height, or other numbers \
             within {:.0} %",
            known * 1e-3,
            volume_mm3 * 1e-3,
            off.abs() * 100.0,
            if off > 0.0 { "too much" } else { "too little" },
            MADE_GOOD * 100.0
        ));
    }
    let share = |k: &usize| areas[*k] * heights[*k];
    let most = (0..rings.len())
        .max_by(|a, b| share(a).total_cmp(&share(b)))
        .unwrap_or(0);
    heights[most] = rounded(heights[most] + (volume_mm3 - known) / areas[most]);
    Ok((heights, Some(most)))
}

/// A computed length to a thousandth of a millimetre.
pub(super) fn rounded(mm: f64) -> f64 {
    (mm * 1e3).round() / 1e3
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_height_comes_from_the_volume() {
        // A disc of 60 x 140 upset to 92: 140 (60/92)².
        let volume = FRAC_PI_4 * 60.0 * 60.0 * 140.0;
        let rings = parse("92 x ?").unwrap();
        let (heights, which) = heights_mm(&rings, volume).unwrap();
        assert!((heights[0] - 59.546).abs() < 1e-3, "{heights:?}");
        assert_eq!(which, Some(0));
        let rings = parse("body 66 x ?, flange 124 x 22, flash 150x3").unwrap();
        let (heights, _) = heights_mm(&rings, volume).unwrap();
        let sum: f64 = areas_mm2(&rings).iter().zip(&heights).map(|(a, h)| a * h).sum();
        assert!((sum / volume - 1.0).abs() < 1e-5);
        let comma = parse("body 66,5 x ?; flange 124 x 22,25").unwrap();
        assert_eq!(comma, parse("body 66.5 x ?, flange 124 x 22.25").unwrap());
    }

    #[test]
    fn what_is_no_shape_says_why() {
        for (text, why) in [
            ("", "is no ring"),
            ("92", "is no ring"),
            ("92 x ?, 80 x 3", "wider"),
            ("92 x ?, 100 x ?", "one height"),
            ("a 92 x 3, a 100 x 3", "two rings"),
            ("0 x 3", "out of range"),
            ("nan x 3", "out of range"),
            ("92 x inf", "out of range"),
            ("b\"d 92 x 3", "no name"),
            ("66,5 x ?, 124 x 22", "is no ring"),
        ] {
            assert!(parse(text).unwrap_err().contains(why), "{text}");
        }
        let volume = FRAC_PI_4 * 60.0 * 60.0 * 140.0;
        let wrong = heights_mm(&parse("92 x 80").unwrap(), volume).unwrap_err();
        assert!(wrong.contains("34.3 % too much"), "{wrong}");
        let wrong = heights_mm(&parse("92 x ?, 300 x 40").unwrap(), volume).unwrap_err();
        assert!(wrong.contains("ring 1"), "{wrong}");
    }
}
