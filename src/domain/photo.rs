//! A photo that came with a report, as it is kept: written anew by us, without anything but its pixels.

/// A photo on its way to the store, or out of it.
#[derive(Clone, PartialEq, Eq)]
pub struct Photo {
    /// A baseline JPEG file without metadata.
    pub jpeg: Vec<u8>,
    /// Width, pixels.
    pub width_px: u32,
    /// Height, pixels.
    pub height_px: u32,
}

impl std::fmt::Debug for Photo {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Photo({} x {} px, {} bytes)", self.width_px, self.height_px, self.jpeg.len())
    }
}
