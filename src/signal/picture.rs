//! What the screen shows.

/// A grey picture in raster order, as the screen emits it.
///
/// # Units
///
/// Luminance relative to the display's nominal white: 0 is no light, 1 is white; may exceed 1.
///
/// # Invariants
///
/// `luminance.len() == width * height`.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Row by row from the top left.
    pub luminance: Vec<f32>,
}
