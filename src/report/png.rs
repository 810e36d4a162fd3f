//! Pictures as PNG, with the feature `png`: the SVG drawn by a renderer, with an embedded font, so
//! that the picture is the same on every machine.

use std::sync::Arc;

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb::Database};

use super::{OutFile, ReportError};

/// Width of a picture in pixels.
const WIDTH: f32 = 1600.0;

/// The PNG of an SVG picture.
///
/// # Errors
/// An SVG that cannot be read, or one without size.
pub fn png(name: &str, svg: &str) -> Result<Vec<u8>, ReportError> {
    let failed = |why: String| ReportError::Picture {
        name: name.to_owned(),
        why,
    };
    let mut fonts = Database::new();
    fonts.load_font_data(dejavu::sans::regular().to_vec());
    fonts.load_font_data(dejavu::sans::bold().to_vec());
    fonts.set_sans_serif_family("DejaVu Sans");
    let options = Options {
        font_family: "DejaVu Sans".to_owned(),
        fontdb: Arc::new(fonts),
        ..Options::default()
    };
    let tree = Tree::from_str(svg, &options).map_err(|e| failed(e.to_string()))?;
    let scale = WIDTH / tree.size().width();
    let height = (tree.size().height() * scale).ceil() as u32;
    let mut picture = Pixmap::new(WIDTH as u32, height).ok_or_else(|| failed("no size".to_owned()))?;
    picture.fill(resvg::tiny_skia::Color::WHITE);
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut picture.as_mut());
    picture.encode_png().map_err(|e| failed(e.to_string()))
}

/// Adds a PNG beside every SVG of a set.
///
/// # Errors
/// As [`png`].
pub fn add_to(files: &mut Vec<OutFile>) -> Result<(), ReportError> {
    let mut pictures = Vec::new();
    for file in files.iter() {
        if let Some(stem) = file.name.strip_suffix(".svg") {
            let svg = String::from_utf8_lossy(&file.content);
            pictures.push(OutFile {
                name: format!("{stem}.png"),
                content: png(&file.name, &svg)?,
            });
        }
    }
    files.append(&mut pictures);
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_black_square_comes_out_black() {
        let svg = r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10"><rect width="10" height="10"/></svg>"#;
        let bytes = png("square.svg", svg).unwrap();
        let picture = Pixmap::decode_png(&bytes).unwrap();
        assert_eq!((picture.width(), picture.height()), (1600, 1600));
        let middle = picture.pixel(800, 800).unwrap();
        assert_eq!(
            (middle.red(), middle.green(), middle.blue(), middle.alpha()),
            (0, 0, 0, 255)
        );
        assert!(png("broken.svg", "<svg").is_err());
    }

    #[test]
    fn every_svg_gets_a_picture() {
        let svg = r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10"><text x="1" y="8">T</text></svg>"#;
        let mut files = vec![OutFile::text("a.svg", svg), OutFile::text("b.csv", "x")];
        add_to(&mut files).unwrap();
        let names: Vec<&str> = files.iter().map(|f| f.name.as_str()).collect();
        assert_eq!(names, ["a.svg", "b.csv", "a.png"]);
        let picture = Pixmap::decode_png(&files[2].content).unwrap();
        assert!(picture.pixels().iter().any(|p| p.red() < 100), "the letter is drawn");
    }
}
