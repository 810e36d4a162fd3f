//! Colours, dash patterns and markers of the house style.
//!
//! Chosen for this program: the eight line colours differ in lightness as well as in hue, so that
//! they stay apart for readers with red-green or blue-yellow weakness and on a grey printer; the
//! dash pattern repeats the difference without colour at all.

/// An opaque colour.
pub type Rgb = (u8, u8, u8);

/// How one series is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ink {
    /// Line colour as red, green, blue.
    pub colour: Rgb,
    /// SVG dash pattern in pixels, empty for a full line.
    pub dash: &'static str,
}

/// The first eight series styles; the further ones of [`ink`] are the same colours with other dash patterns.
pub const PALETTE: [Ink; 8] = [
    Ink {
        colour: (0x15, 0x3e, 0x75),
        dash: "",
    },
    Ink {
        colour: (0xc2, 0x4a, 0x12),
        dash: "22 7",
    },
    Ink {
        colour: (0x00, 0x69, 0x5c),
        dash: "5 6",
    },
    Ink {
        colour: (0x8e, 0x55, 0xac),
        dash: "24 6 5 6",
    },
    Ink {
        colour: (0x7a, 0x60, 0x00),
        dash: "12 6",
    },
    Ink {
        colour: (0x4a, 0x4a, 0x4a),
        dash: "2 5",
    },
    Ink {
        colour: (0x1d, 0x7d, 0xb3),
        dash: "16 5 3 5 3 5",
    },
    Ink {
        colour: (0x8c, 0x1c, 0x3f),
        dash: "30 10",
    },
];

/// The style of a number: all of the first 64 differ, in colour or in dash.
pub fn ink(number: usize) -> Ink {
    let (colour, turn) = (number % PALETTE.len(), number / PALETTE.len());
    Ink {
        colour: PALETTE[colour].colour,
        dash: PALETTE[(colour + 3 * turn) % PALETTE.len()].dash,
    }
}

/// Text and axis lines.
pub(crate) const INK: Rgb = (0x1c, 0x1f, 0x24);
/// Secondary text and leader lines (contrast with white above 4.5 to 1).
pub(crate) const SOFT: Rgb = (0x5a, 0x60, 0x69);
/// Grid lines.
pub(crate) const GRID: Rgb = (0xdd, 0xe0, 0xe4);
/// Fill of the window band.
pub(crate) const BAND: Rgb = (0xe9, 0xf1, 0xe4);
/// A broken limit; always together with a cross and words.
pub(crate) const ALARM: Rgb = (0xa6, 0x12, 0x12);
/// Paper.
pub(crate) const PAPER: Rgb = (0xff, 0xff, 0xff);

/// Fixed points of the scale of a picture that has one of its own, so that nobody compares it with the others.
const OWN: [Rgb; 4] = [
    (0x0b, 0x25, 0x45),
    (0x12, 0x65, 0x82),
    (0x5d, 0xb0, 0xb2),
    (0xe6, 0xf5, 0xe1),
];

/// Fixed points of the temperature scale, cold to hot; lightness rises all the way, so that the
/// order survives a grey printer.
const HEAT: [Rgb; 8] = [
    (0x16, 0x1b, 0x3d),
    (0x3b, 0x28, 0x6e),
    (0x7a, 0x2a, 0x7c),
    (0xb5, 0x35, 0x66),
    (0xe0, 0x54, 0x3f),
    (0xf3, 0x8b, 0x2c),
    (0xf8, 0xc4, 0x4c),
    (0xfd, 0xf3, 0xb8),
];

/// Colour of the temperature scale at a share of its range, 0 (cold, dark) to 1 (hot, light);
/// shares outside are drawn as the nearest end.
pub fn heat_colour(share: f64) -> Rgb {
    between(&HEAT, share)
}

/// The same for a picture with a scale of its own.
pub fn own_colour(share: f64) -> Rgb {
    between(&OWN, share)
}

fn between(points: &[Rgb], share: f64) -> Rgb {
    let share = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 };
    let at = share * (points.len() - 1) as f64;
    let low = (at.floor() as usize).min(points.len() - 2);
    let part = at - low as f64;
    let mix = |a: u8, b: u8| (f64::from(a) + (f64::from(b) - f64::from(a)) * part).round() as u8;
    let (a, b) = (points[low], points[low + 1]);
    (mix(a.0, b.0), mix(a.1, b.1), mix(a.2, b.2))
}

/// Relative luminance of a colour, 0 to 1 (WCAG 2.1, definition of relative luminance).
pub(crate) fn luminance(colour: Rgb) -> f64 {
    let linear = |part: u8| {
        let share = f64::from(part) / 255.0;
        if share <= 0.040_45 {
            share / 12.92
        } else {
            ((share + 0.055) / 1.055).powf(2.4)
        }
    };
    0.2126 * linear(colour.0) + 0.7152 * linear(colour.1) + 0.0722 * linear(colour.2)
}

/// Black or white, whichever reads better on a colour.
pub(crate) fn text_on(colour: Rgb) -> Rgb {
    // contrast with white equals contrast with black at luminance sqrt(1.05 * 0.05) - 0.05
    if luminance(colour) > 0.179 { INK } else { PAPER }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heat_scale_gets_lighter_all_the_way() {
        for scale in [heat_colour, own_colour] {
            let mut before = -1.0;
            for i in 0..=100 {
                let now = luminance(scale(f64::from(i) / 100.0));
                assert!(now > before, "share {i} %: {now} after {before}");
                before = now;
            }
        }
    }

    #[test]
    fn lines_and_text_stand_out_from_paper() {
        // WCAG 2.1: 3 to 1 for graphics, 4.5 to 1 for text
        let contrast = |c| 1.05 / (luminance(c) + 0.05);
        for ink in PALETTE {
            // names stand in the colours of their curves
            assert!(contrast(ink.colour) >= 4.5, "{:?}", ink);
        }
        for colour in [INK, SOFT, ALARM] {
            assert!(contrast(colour) >= 4.5, "{colour:?}");
        }
    }

    #[test]
    fn no_two_styles_are_the_same() {
        for (i, a) in PALETTE.iter().enumerate() {
            for b in &PALETTE[i + 1..] {
                assert_ne!(a.dash, b.dash);
            }
        }
        for i in 0..64 {
            for j in i + 1..64 {
                assert_ne!(ink(i), ink(j), "{i} {j}");
            }
        }
    }
}
