//! The font of the plots, carried in the program so that a plot is the same on every machine, and
//! just enough reading of it to know how wide a text will be before it is placed.

/// Family name to ask for in a drawing.
pub const FAMILY: &str = "Inter";

/// The font file: Inter Regular cut down to Latin and the signs the plots use, with figures of one
/// width. Licence: `font/OFL.txt`.
pub static BYTES: &[u8] = include_bytes!("font/inter-subset.ttf");

/// Height of capitals and figures as a share of the size.
pub const CAP_HEIGHT: f64 = 0.727;

/// Width of a line of text set at `size`, in the unit of `size`.
///
/// Kerning is left out; it draws a text together by less than one per cent.
#[must_use]
pub fn width(text: &str, size: f64) -> f64 {
    let units: u32 = text.chars().map(|character| advance(glyph(character))).sum();
    let head = table(*b"head");
    size * f64::from(units) / f64::from(u16_at(head, 18))
}

/// `text`, or as much of its beginning as fits into `room` with "…" for the rest.
#[must_use]
pub fn fitted(text: &str, size: f64, room: f64) -> String {
    if width(text, size) <= room {
        return text.into();
    }
    let mut kept: String = text.into();
    while kept.pop().is_some() && width(&kept, size) + width("…", size) > room {}
    kept + "…"
}

/// Whether the font can draw `character`.
#[must_use]
pub fn has(character: char) -> bool {
    glyph(character) != 0
}

/// A table of the font by its tag; empty if there is none.
///
/// Source of this and the offsets below: ISO/IEC 14496-22, *Open Font Format*: table directory,
/// `cmap` format 4, `head`, `hhea`, `hmtx`.
fn table(tag: [u8; 4]) -> &'static [u8] {
    let count = usize::from(u16_at(BYTES, 4));
    let record = (0..count).map(|index| 12 + 16 * index).find(|&at| BYTES[at..at + 4] == tag);
    record.map_or(&[], |at| {
        let start = u32_at(BYTES, at + 8);
        &BYTES[start..start + u32_at(BYTES, at + 12)]
    })
}

fn advance(glyph: u16) -> u32 {
    let listed = u16_at(table(*b"hhea"), 34);
    // Glyphs past the list share its last width.
    let index = glyph.min(listed.saturating_sub(1));
    u32::from(u16_at(table(*b"hmtx"), 4 * usize::from(index)))
}

/// Glyph of a character, 0 if the font has none.
fn glyph(character: char) -> u16 {
    let Ok(code) = u16::try_from(u32::from(character)) else { return 0 };
    let cmap = table(*b"cmap");
    let map = &cmap[u32_at(cmap, 8)..];
    let segments = usize::from(u16_at(map, 6)) / 2;
    let (ends, starts) = (14, 16 + 2 * segments);
    let (deltas, offsets) = (starts + 2 * segments, starts + 4 * segments);
    let Some(segment) = (0..segments).find(|index| code <= u16_at(map, ends + 2 * index)) else {
        return 0;
    };
    let start = u16_at(map, starts + 2 * segment);
    if code < start {
        return 0;
    }
    let delta = u16_at(map, deltas + 2 * segment);
    let offset = u16_at(map, offsets + 2 * segment);
    if offset == 0 {
        return code.wrapping_add(delta);
    }
    let at = offsets + 2 * segment + usize::from(offset) + 2 * usize::from(code - start);
    match u16_at(map, at) {
        0 => 0,
        glyph => glyph.wrapping_add(delta),
    }
}

fn u16_at(data: &[u8], at: usize) -> u16 {
    u16::from_be_bytes([data[at], data[at + 1]])
}

fn u32_at(data: &[u8], at: usize) -> usize {
    usize::from(u16_at(data, at)) << 16 | usize::from(u16_at(data, at + 2))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_sign_of_the_plots_is_in_the_font() {
        let missing: String = "0123456789 az AZ äéøő Ωµμ Δ − × ≥ ≤ → ▲ ▼ ■ ● ◆ · – ± ≈ ’ …"
            .chars()
            .filter(|&character| !has(character))
            .collect();
        assert_eq!(missing, "");
        assert!(!has('漢') && !has('😀'));
    }

    #[test]
    fn a_text_too_long_is_cut_to_its_room() {
        assert_eq!(fitted("plug", 10.0, 100.0), "plug");
        let cut = fitted("a very long name of a node", 10.0, 60.0);
        assert!(cut.ends_with('…') && cut.starts_with("a ver"), "{cut}");
        assert!(width(&cut, 10.0) <= 60.0);
    }

    #[test]
    fn figures_have_one_width_and_letters_have_not() {
        let one = width("1", 10.0);
        for figure in '0'..='9' {
            assert!((width(&figure.to_string(), 10.0) - one).abs() < 1e-12);
        }
        assert!(width("W", 10.0) > 2.0 * width("i", 10.0));
    }
}
