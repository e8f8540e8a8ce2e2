//! A drawing as SVG text, and from there as PNG.
//!
//! Only what a plain textbook figure needs: lines, areas, text. Every text is measured when it is
//! set and its box is kept, so that a test can see whether two of them overlap.

use crate::base::math;
use crate::output::font;
use crate::output::png;
use crate::output::png::PngError;
use image::GrayImage;
use resvg::tiny_skia::Pixmap;
use resvg::tiny_skia::Transform;
use resvg::usvg;
use std::fmt::Write as _;
use std::io::Write;
use std::sync::Arc;
use thiserror::Error;

/// The inks. One accent (the blue of Okabe and Ito's set) and greys on white paper.
pub mod ink {
    /// Text and axes.
    pub const BLACK: &str = "#1f1f1f";
    /// Second-rank text and lines.
    pub const GREY: &str = "#6b6b6b";
    /// Outlines of bands, lines at rest.
    pub const PALE: &str = "#bdbdbd";
    /// Grid lines.
    pub const FAINT: &str = "#e9e9e9";
    /// Areas behind a curve.
    pub const BAND: &str = "#f1f1f1";
    /// The signal at the socket.
    pub const ACCENT: &str = "#0072b2";
    /// An area in the accent colour.
    pub const ACCENT_PALE: &str = "#94c3de";
    /// Paper.
    pub const WHITE: &str = "#ffffff";
}

/// Why a plot could not be drawn.
#[derive(Debug, Error)]
pub enum PlotError {
    /// The drawing is not SVG that can be read; a fault of this program.
    #[error("the drawing could not be read back")]
    Drawing(#[from] usvg::Error),
    /// Its size is zero or beyond what can be held.
    #[error("a drawing of {width} by {height} pixels cannot be held")]
    Size {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
    },
    /// It could not be written.
    #[error(transparent)]
    Png(#[from] PngError),
}

/// A rectangle on the paper, pixels from its top left corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Area {
    /// Left edge.
    pub left: f64,
    /// Top edge.
    pub top: f64,
    /// Right edge, not left of the left one.
    pub right: f64,
    /// Bottom edge, not above the top one.
    pub bottom: f64,
}

impl Area {
    /// Distance from left to right.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.right - self.left
    }

    /// Distance from top to bottom.
    #[must_use]
    pub fn height(&self) -> f64 {
        self.bottom - self.top
    }

    /// Half way from left to right.
    #[must_use]
    pub fn middle(&self) -> f64 {
        f64::midpoint(self.left, self.right)
    }

    /// Whether two rectangles have an area in common.
    #[must_use]
    pub fn overlaps(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pen {
    /// Colour.
    pub ink: &'static str,
    /// Width, pixels.
    pub width: f64,
    /// Lengths on and off, as SVG writes them; empty for an unbroken line.
    pub dash: &'static str,
}

impl Pen {
    /// An unbroken line.
    #[must_use]
    pub const fn new(ink: &'static str, width: f64) -> Self {
        Self { ink, width, dash: "" }
    }

    /// The same line, broken.
    #[must_use]
    pub const fn dashed(self, dash: &'static str) -> Self {
        Self { dash, ..self }
    }
}

/// Which point of a text its position means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Left end.
    Start,
    /// Middle.
    Middle,
    /// Right end.
    End,
}

/// How a text is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Style {
    /// Size of the em, pixels.
    pub size: f64,
    /// Colour.
    pub ink: &'static str,
    /// Which point is given.
    pub anchor: Anchor,
}

impl Style {
    /// Text from its left end on.
    #[must_use]
    pub const fn new(size: f64, ink: &'static str) -> Self {
        Self { size, ink, anchor: Anchor::Start }
    }

    /// The same, placed by another point.
    #[must_use]
    pub const fn by(self, anchor: Anchor) -> Self {
        Self { anchor, ..self }
    }
}

/// How full a round mark is; a shape beside a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fullness {
    /// ●
    Full,
    /// ◐
    Half,
    /// ○
    Empty,
}

/// A drawing in the making.
#[derive(Clone, Debug)]
pub struct Plot {
    width: u32,
    height: u32,
    body: String,
    texts: Vec<Area>,
    pictures: Vec<(usize, usize, GrayImage)>,
}

impl Plot {
    /// White paper of a size in pixels.
    #[must_use]
    pub fn new(width: u32, height: u32) -> Self {
        let mut plot =
            Self { width, height, body: String::new(), texts: Vec::new(), pictures: Vec::new() };
        let (right, bottom) = (f64::from(width), f64::from(height));
        plot.area(Area { left: 0.0, top: 0.0, right, bottom }, ink::WHITE);
        plot
    }

    /// Fills a rectangle.
    pub fn area(&mut self, area: Area, ink: &str) {
        let Area { left, top, .. } = area;
        let (width, height) = (area.width(), area.height());
        self.push(format_args!(
            r#"<rect x="{left:.2}" y="{top:.2}" width="{width:.2}" height="{height:.2}" fill="{ink}"/>"#
        ));
    }

    /// Puts a grey picture in its own pixels over everything else; it stands in the PNG only, and
    /// has to lie on the paper.
    pub fn picture(&mut self, (left, top): (f64, f64), picture: &GrayImage) {
        self.pictures.push((math::floor_index(left), math::floor_index(top), picture.clone()));
    }

    /// Draws the outline of a rectangle.
    pub fn outline(&mut self, area: Area, pen: Pen) {
        let Area { left, top, right, bottom } = area;
        self.path(&[(left, top), (right, top), (right, bottom), (left, bottom), (left, top)], pen);
    }

    /// Draws a straight line.
    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), pen: Pen) {
        self.path(&[from, to], pen);
    }

    /// Draws straight lines from point to point.
    pub fn path(&mut self, points: &[(f64, f64)], pen: Pen) {
        let Pen { ink, width, dash } = pen;
        let dash =
            if dash.is_empty() { String::new() } else { format!(r#" stroke-dasharray="{dash}""#) };
        let points = listed(points);
        self.push(format_args!(
            r#"<polyline points="{points}" fill="none" stroke="{ink}" stroke-width="{width:.2}" stroke-linejoin="round"{dash}/>"#
        ));
    }

    /// Fills the area that the points enclose.
    pub fn shape(&mut self, points: &[(f64, f64)], ink: &str) {
        let points = listed(points);
        self.push(format_args!(r#"<polygon points="{points}" fill="{ink}"/>"#));
    }

    /// Draws a round mark of radius 4.5.
    pub fn mark(&mut self, (x, y): (f64, f64), fullness: Fullness) {
        let (ink, fill) = match fullness {
            Fullness::Full => (ink::BLACK, ink::BLACK),
            Fullness::Half | Fullness::Empty => (ink::BLACK, ink::WHITE),
        };
        self.push(format_args!(
            r#"<circle cx="{x:.2}" cy="{y:.2}" r="4" fill="{fill}" stroke="{ink}" stroke-width="1.2"/>"#
        ));
        if fullness == Fullness::Half {
            let (top, bottom) = (y - 4.0, y + 4.0);
            self.push(format_args!(
                r#"<path d="M {x:.2} {top:.2} A 4 4 0 0 0 {x:.2} {bottom:.2} Z" fill="{ink}"/>"#
            ));
        }
    }

    /// Sets a text; `y` is the middle of its capitals.
    pub fn text(&mut self, (x, y): (f64, f64), text: &str, style: Style) {
        let width = font::width(text, style.size);
        let left = match style.anchor {
            Anchor::Start => x,
            Anchor::Middle => x - width / 2.0,
            Anchor::End => x - width,
        };
        let half = style.size / 2.0;
        self.texts.push(Area { left, top: y - half, right: left + width, bottom: y + half });
        let baseline = y + style.size * font::CAP_HEIGHT / 2.0;
        self.set((left, baseline), text, (style, ""));
    }

    /// Sets a text that reads upwards, its middle at the given point.
    pub fn text_upward(&mut self, (x, y): (f64, f64), text: &str, style: Style) {
        let (width, half) = (font::width(text, style.size), style.size / 2.0);
        let (top, bottom) = (y - width / 2.0, y + width / 2.0);
        self.texts.push(Area { left: x - half, top, right: x + half, bottom });
        let turn = format!(r#" transform="rotate(-90 {x:.2} {y:.2})""#);
        let baseline = y + style.size * font::CAP_HEIGHT / 2.0;
        self.set((x - width / 2.0, baseline), text, (style, &turn));
    }

    /// The boxes of all texts set so far.
    #[must_use]
    pub fn texts(&self) -> &[Area] {
        &self.texts
    }

    /// Its width and height, pixels.
    #[must_use]
    pub fn size(&self) -> (u32, u32) {
        (self.width, self.height)
    }

    /// The drawing as SVG.
    #[must_use]
    pub fn svg(&self) -> String {
        let Self { width, height, body, .. } = self;
        let family = font::FAMILY;
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
             viewBox=\"0 0 {width} {height}\" font-family=\"{family}\">\n{body}</svg>\n"
        )
    }

    /// Writes the drawing as PNG, one pixel for each of its units.
    ///
    /// # Errors
    ///
    /// [`PlotError::Size`] for an empty drawing, [`PlotError::Png`] if `out` fails.
    pub fn write_png(&self, out: &mut impl Write) -> Result<(), PlotError> {
        let (width, height) = (self.width, self.height);
        let tree = usvg::Tree::from_str(&self.svg(), &options())?;
        let mut paper = Pixmap::new(width, height).ok_or(PlotError::Size { width, height })?;
        resvg::render(&tree, Transform::identity(), &mut paper.as_mut());
        // The paper is opaque, so that premultiplied colours are the colours.
        let mut rgb: Vec<u8> =
            paper.data().chunks_exact(4).flat_map(|pixel| [pixel[0], pixel[1], pixel[2]]).collect();
        for (left, top, picture) in &self.pictures {
            let across = 3 * picture.width() as usize;
            for (row, pixels) in picture.rows().enumerate() {
                let grey: Vec<u8> = pixels.flat_map(|pixel| [pixel.0[0]; 3]).collect();
                let at = 3 * ((top + row) * width as usize + left);
                if let Some(place) = rgb.get_mut(at..at + across) {
                    place.copy_from_slice(&grey);
                }
            }
        }
        Ok(png::write_colour(&rgb, (width as usize, height as usize), out)?)
    }

    fn set(&mut self, (x, y): (f64, f64), text: &str, (style, turn): (Style, &str)) {
        let Style { size, ink, .. } = style;
        let text = escaped(text);
        self.push(format_args!(
            r#"<text x="{x:.2}" y="{y:.2}" font-size="{size}" fill="{ink}"{turn}>{text}</text>"#
        ));
    }

    fn push(&mut self, element: std::fmt::Arguments<'_>) {
        writeln!(self.body, "{element}").expect("writing to a string cannot fail");
    }
}

fn options() -> usvg::Options<'static> {
    let mut options = usvg::Options { font_family: font::FAMILY.into(), ..Default::default() };
    Arc::make_mut(&mut options.fontdb).load_font_data(font::BYTES.to_vec());
    options
}

fn listed(points: &[(f64, f64)]) -> String {
    points.iter().fold(String::new(), |mut list, (x, y)| {
        write!(list, "{x:.2},{y:.2} ").expect("writing to a string cannot fail");
        list
    })
}

/// Text as SVG may hold it; control characters, which XML cannot hold at all, become spaces.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            control if control.is_control() => safe.push(' '),
            plain => safe.push(plain),
        }
    }
    safe
}

/// A coordinate moved to the middle of its pixel, where a line of one pixel is sharp.
#[must_use]
pub fn sharp(coordinate: f64) -> f64 {
    math::floor(coordinate) + 0.5
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boxes(node: &usvg::Group, found: &mut Vec<usvg::Rect>) {
        for child in node.children() {
            match child {
                usvg::Node::Text(text) => found.push(text.abs_bounding_box()),
                usvg::Node::Group(group) => boxes(group, found),
                usvg::Node::Path(_) | usvg::Node::Image(_) => {}
            }
        }
    }

    #[test]
    fn a_text_takes_the_width_it_was_measured_at() {
        let mut plot = Plot::new(800, 200);
        plot.text((40.0, 50.0), "back porch 0.334 V, −40 IRE → Ω µ", Style::new(20.0, ink::BLACK));
        let tree = usvg::Tree::from_str(&plot.svg(), &options()).unwrap();
        let mut found = Vec::new();
        boxes(tree.root(), &mut found);
        assert_eq!(found.len(), 1);
        let measured = plot.texts()[0];
        let (left, right) = (f64::from(found[0].left()), f64::from(found[0].right()));
        assert!((left - measured.left).abs() < 0.5);
        // Kerning only ever took away from these.
        let over = measured.right - right;
        assert!(over > -0.5 && over < 0.01 * measured.width(), "{found:?} {measured:?}");
    }

    #[test]
    fn text_with_marks_of_xml_is_shown_and_not_read() {
        let mut plot = Plot::new(100, 100);
        plot.text((0.0, 50.0), "R1 < R2 & \"R3\" \u{1} </svg>", Style::new(12.0, ink::BLACK));
        let tree = usvg::Tree::from_str(&plot.svg(), &options()).unwrap();
        let mut found = Vec::new();
        boxes(tree.root(), &mut found);
        assert_eq!(found.len(), 1);
    }

    #[test]
    fn a_line_of_one_pixel_on_its_pixel_is_drawn_in_full_ink() {
        let mut plot = Plot::new(20, 10);
        plot.line((0.0, sharp(5.2)), (20.0, sharp(5.2)), Pen::new(ink::ACCENT, 1.0));
        let mut file = Vec::new();
        plot.write_png(&mut file).unwrap();
        let read = image::load_from_memory(&file).unwrap().into_rgb8();
        assert_eq!(read.get_pixel(10, 5).0, [0x00, 0x72, 0xb2]);
        assert_eq!(read.get_pixel(10, 4).0, [0xff; 3]);
        assert_eq!(read.get_pixel(10, 6).0, [0xff; 3]);
    }

    #[test]
    fn a_drawing_without_a_size_is_refused() {
        assert!(Plot::new(0, 10).write_png(&mut Vec::new()).is_err());
    }
}
