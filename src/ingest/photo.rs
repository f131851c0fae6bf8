//! Photos that members send: known by their first bytes, decoded within bounds, turned upright, made small and written
//! anew, so that nothing of the file that came is kept but what is seen on it.

use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder as _, ImageFormat, ImageReader, Limits};
use thiserror::Error;

use crate::domain::photo::Photo;

/// Largest file, bytes.
pub const MAX_BYTES: usize = 8 * 1024 * 1024;
/// Most pixels that are decoded.
const MAX_PIXELS: u64 = 20_000_000;
/// Longest side that is decoded, pixels.
const MAX_SIDE_PX: u32 = 12_000;
/// Most memory for the decoded pixels, bytes: four channels of eight bits for the most pixels.
const MAX_DECODED_BYTES: u64 = MAX_PIXELS * 4;
/// Longest side that is kept, pixels: a wing's veins can be told in a close picture, and a page of the desk loads.
const KEPT_SIDE_PX: u32 = 1600;
/// Quality of the JPEG that is kept, of 100.
const QUALITY: u8 = 82;

/// Why a file is not taken as a photo.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PhotoFault {
    /// Its first bytes are not those of a kind that is read.
    #[error("is not a JPEG, PNG or WebP picture")]
    UnknownKind,
    /// It is of the family in which phones keep photos (HEIC, AVIF), for which no decoder comes with the program.
    #[error("is a HEIC or AVIF picture")]
    Heif,
    /// It would take too much memory.
    #[error("has more than {} million pixels, or a side of more than {MAX_SIDE_PX}", MAX_PIXELS / 1_000_000)]
    TooLarge,
    /// It is damaged, or cut off.
    #[error("cannot be decoded: {0}")]
    Damaged(String),
}

/// Reads `bytes` as a photo and writes it anew.
///
/// # Errors
/// [`PhotoFault`].
pub fn photo(bytes: &[u8]) -> Result<Photo, PhotoFault> {
    if is_heif(bytes) {
        return Err(PhotoFault::Heif);
    }
    let format = image::guess_format(bytes).map_err(|_| PhotoFault::UnknownKind)?;
    if !matches!(format, ImageFormat::Jpeg | ImageFormat::Png | ImageFormat::WebP) {
        return Err(PhotoFault::UnknownKind);
    }
    let image = upright(bytes, format)?;
    let large = image.width().max(image.height()) > KEPT_SIDE_PX;
    let small = if large { image.thumbnail(KEPT_SIDE_PX, KEPT_SIDE_PX) } else { image };
    let pixels = small.into_rgb8();
    let mut jpeg = Vec::new();
    JpegEncoder::new_with_quality(&mut jpeg, QUALITY).encode_image(&pixels).map_err(|error| damaged(&error))?;
    Ok(Photo { jpeg, width_px: pixels.width(), height_px: pixels.height() })
}

/// True where the file begins as ISO/IEC 23008-12 has it: a box `ftyp` whose major brand is one of the family's (from
/// memory).
fn is_heif(bytes: &[u8]) -> bool {
    const BRANDS: [&[u8]; 8] = [b"heic", b"heix", b"heim", b"heis", b"hevc", b"mif1", b"msf1", b"avif"];
    bytes.get(4..8) == Some(b"ftyp".as_slice()) && bytes.get(8..12).is_some_and(|brand| BRANDS.contains(&brand))
}

/// The picture, turned as its file says that it is to be seen.
fn upright(bytes: &[u8], format: ImageFormat) -> Result<DynamicImage, PhotoFault> {
    let mut limits = Limits::default();
    limits.max_image_width = Some(MAX_SIDE_PX);
    limits.max_image_height = Some(MAX_SIDE_PX);
    limits.max_alloc = Some(MAX_DECODED_BYTES);
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(|error| fault(&error))?;
    let (width, height) = decoder.dimensions();
    // Before a pixel is decoded: a small file can promise a very large picture.
    if u64::from(width) * u64::from(height) > MAX_PIXELS || decoder.total_bytes() > MAX_DECODED_BYTES {
        return Err(PhotoFault::TooLarge);
    }
    // What tells how to turn it may itself be damaged; the picture is then kept as it lies.
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let mut image = DynamicImage::from_decoder(decoder).map_err(|error| fault(&error))?;
    image.apply_orientation(orientation);
    Ok(image)
}

fn fault(error: &image::ImageError) -> PhotoFault {
    match error {
        image::ImageError::Limits(_) => PhotoFault::TooLarge,
        other => damaged(other),
    }
}

fn damaged(error: &image::ImageError) -> PhotoFault {
    PhotoFault::Damaged(error.to_string())
}
