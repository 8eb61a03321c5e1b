//! The small picture of an attached photograph.
//!
//! The rule inside: the same bytes give the same small picture on every machine (no code that depends on the processor), and a picture that
//! would fill the memory or the day is left unpacked. Whoever makes a page has compared the bytes with their hash before.

use image::metadata::Orientation;
use image::{DynamicImage, GrayImage, ImageDecoder, Limits, RgbImage};
use jpeg_decoder::{CodingProcess, PixelFormat};

/// The longer side of a small picture, in pixels: some 220 to the inch on the page.
pub(super) const SIDE: u16 = 360;
/// The most pixels that are unpacked: a telephone's camera makes 12 million.
const PIXELS_MAX: u64 = 16_000_000;
/// The most pixels of a JPEG of several passes, which are all kept until the last one, in up to 6 bytes each. No camera packs like that.
const PIXELS_KEPT_MAX: u64 = 8_000_000;
/// The most memory that a PNG may be unpacked to, in bytes.
const BYTES_MAX: u64 = 64 << 20;
/// The most passes of a JPEG, each of which goes over the whole picture: encoders make ten or so, and one of the camera's own thumbnail.
const PASSES_MAX: usize = 100;

/// A small picture: rows of red, green and blue, a byte each.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Thumbnail {
    pub(super) width: u32,
    pub(super) height: u32,
    pub(super) pixels: Vec<u8>,
}

/// Why there is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub(super) enum Without {
    #[error("it is neither JPEG nor PNG")]
    OtherKind,
    #[error("it has more than 16 million pixels")]
    Pixels,
    #[error("it has more than 8 million pixels, packed in several passes")]
    PixelsKept,
    #[error("it is packed in more than 100 passes")]
    Passes,
    #[error("it is packed in a way that is not read here")]
    Packing,
    #[error("its colours are those of a printing press")]
    Colours,
    #[error("it cannot be unpacked, as if it were damaged")]
    Damaged,
}

/// What a file is by its first bytes (ITU-T T.81 B.2.1; PNG 5.2; ISO/IEC 23008-12 10.2).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Jpeg,
    Png,
    Heic,
    Other,
}

impl Kind {
    pub(super) fn of(bytes: &[u8]) -> Kind {
        match bytes {
            [0xff, 0xd8, 0xff, ..] => Kind::Jpeg,
            [0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a, ..] => Kind::Png,
            [_, _, _, _, b'f', b't', b'y', b'p', b'h', b'e', b'i' | b'v', ..]
            | [_, _, _, _, b'f', b't', b'y', b'p', b'm', b'i', b'f', b'1', ..] => Kind::Heic,
            _ => Kind::Other,
        }
    }

    /// Its media type (IANA).
    pub(super) fn media_type(self) -> &'static str {
        match self {
            Kind::Jpeg => "image/jpeg",
            Kind::Png => "image/png",
            Kind::Heic => "image/heic",
            Kind::Other => "application/octet-stream",
        }
    }
}

/// The small picture of a file.
pub(super) fn thumbnail(bytes: &[u8]) -> Result<Thumbnail, Without> {
    let (unpacked, orientation) = match Kind::of(bytes) {
        Kind::Jpeg => jpeg(bytes)?,
        Kind::Png => png(bytes)?,
        Kind::Heic | Kind::Other => return Err(Without::OtherKind),
    };
    let side = u32::from(SIDE);
    let mut small = match side < unpacked.width().max(unpacked.height()) {
        true => unpacked.thumbnail(side, side),
        false => unpacked,
    };
    small.apply_orientation(orientation);
    let small = on_white(&small);
    Ok(Thumbnail {
        width: small.width(),
        height: small.height(),
        pixels: small.into_raw(),
    })
}

/// A JPEG as small as it can be unpacked without being smaller than asked; and how the camera was held.
fn jpeg(bytes: &[u8]) -> Result<(DynamicImage, Orientation), Without> {
    // a marker stands nowhere in what is packed (ITU-T T.81 B.1.1.5)
    if PASSES_MAX < bytes.windows(2).filter(|pair| *pair == [0xff, 0xda]).count() {
        return Err(Without::Passes);
    }
    let damaged = |_| Without::Damaged;
    let mut decoder = jpeg_decoder::Decoder::new(bytes);
    decoder.read_info().map_err(damaged)?;
    let info = decoder.info().ok_or(Without::Damaged)?;
    let pixels = u64::from(info.width) * u64::from(info.height);
    match info.coding_process {
        CodingProcess::Lossless => return Err(Without::Packing),
        CodingProcess::DctProgressive if PIXELS_KEPT_MAX < pixels => return Err(Without::PixelsKept),
        _ if PIXELS_MAX < pixels => return Err(Without::Pixels),
        _ => {}
    }
    let (width, height) = decoder.scale(SIDE, SIDE).map_err(damaged)?;
    let pixels = decoder.decode().map_err(damaged)?;
    let orientation = decoder.exif_data().and_then(Orientation::from_exif_chunk);
    let (width, height) = (u32::from(width), u32::from(height));
    let image = match info.pixel_format {
        PixelFormat::L8 => GrayImage::from_raw(width, height, pixels).map(DynamicImage::from),
        PixelFormat::RGB24 => RgbImage::from_raw(width, height, pixels).map(DynamicImage::from),
        PixelFormat::L16 => return Err(Without::Packing),
        PixelFormat::CMYK32 => return Err(Without::Colours),
    };
    Ok((
        image.ok_or(Without::Damaged)?,
        orientation.unwrap_or(Orientation::NoTransforms),
    ))
}

fn png(bytes: &[u8]) -> Result<(DynamicImage, Orientation), Without> {
    let damaged = |_| Without::Damaged;
    let mut limits = Limits::default();
    limits.max_alloc = Some(BYTES_MAX);
    let mut decoder =
        image::codecs::png::PngDecoder::with_limits(std::io::Cursor::new(bytes), limits).map_err(damaged)?;
    let (width, height) = decoder.dimensions();
    if PIXELS_MAX < u64::from(width) * u64::from(height) || BYTES_MAX < decoder.total_bytes() {
        return Err(Without::Pixels);
    }
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    Ok((DynamicImage::from_decoder(decoder).map_err(damaged)?, orientation))
}

/// What is seen through stands on white paper.
fn on_white(image: &DynamicImage) -> RgbImage {
    let seen = image.to_rgba8();
    RgbImage::from_fn(seen.width(), seen.height(), |x, y| {
        let [red, green, blue, alpha] = seen.get_pixel(x, y).0.map(u16::from);
        let on = |colour: u16| u8::try_from((colour * alpha + 255 * (255 - alpha)) / 255).unwrap_or(u8::MAX);
        image::Rgb([on(red), on(green), on(blue)])
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::ImageEncoder;
    use proptest::prelude::*;

    /// 16 x 8 pixels: the left half red, the right half blue, as libjpeg 6b packs it in one pass.
    const JPEG: &[u8] = include_bytes!("../../../fixtures/pictures/halves.jpg");
    /// The same with an orientation by which its right side is up, in several passes.
    const TURNED: &[u8] = include_bytes!("../../../fixtures/pictures/halves-turned.jpg");

    fn png(width: u32, height: u32, pixel: [u8; 4]) -> Vec<u8> {
        let mut bytes = Vec::new();
        let pixels = pixel.repeat((width * height) as usize);
        image::codecs::png::PngEncoder::new(&mut bytes)
            .write_image(&pixels, width, height, image::ExtendedColorType::Rgba8)
            .unwrap();
        bytes
    }

    fn size(bytes: &[u8]) -> Result<(u32, u32), Without> {
        thumbnail(bytes).map(|small| (small.width, small.height))
    }

    /// The pixel at a place.
    fn at(small: &Thumbnail, x: u32, y: u32) -> [u8; 3] {
        let from = ((y * small.width + x) * 3) as usize;
        small.pixels[from..from + 3].try_into().unwrap()
    }

    /// Makes a JPEG say that it has another size.
    fn sized(bytes: &[u8], width: u16, height: u16) -> Vec<u8> {
        let mut bytes = bytes.to_vec();
        let frame = bytes
            .windows(2)
            .position(|pair| matches!(pair, [0xff, 0xc0 | 0xc2]))
            .unwrap();
        bytes[frame + 5..frame + 7].copy_from_slice(&height.to_be_bytes());
        bytes[frame + 7..frame + 9].copy_from_slice(&width.to_be_bytes());
        bytes
    }

    #[test]
    fn a_picture_is_made_small_whichever_way_the_camera_was_held() {
        let small = thumbnail(JPEG).unwrap();
        assert_eq!((small.width, small.height), (16, 8));
        let [red, blue] = [at(&small, 2, 4), at(&small, 13, 4)];
        assert!(
            200 < red[0] && red[2] < 60 && blue[0] < 60 && 200 < blue[2],
            "{red:?} {blue:?}"
        );
        // turned by a quarter: what was on the left is on top
        let turned = thumbnail(TURNED).unwrap();
        assert_eq!((turned.width, turned.height), (8, 16));
        let [top, bottom] = [at(&turned, 4, 2), at(&turned, 4, 13)];
        assert!(
            200 < top[0] && top[2] < 60 && bottom[0] < 60 && 200 < bottom[2],
            "{top:?} {bottom:?}"
        );
    }

    #[test]
    fn the_longer_side_has_as_many_pixels_as_the_page_takes_and_no_picture_is_made_larger() {
        for (width, height, expected) in [
            (1, 1, (1, 1)),
            (360, 300, (360, 300)),
            (720, 360, (360, 180)),
            (361, 2, (360, 2)),
            (100_000, 1, (360, 1)),
        ] {
            assert_eq!(
                size(&png(width, height, [9, 9, 9, 255])),
                Ok(expected),
                "{width} x {height}"
            );
        }
    }

    #[test]
    fn what_is_seen_through_is_white() {
        for (pixel, expected) in [
            ([0, 0, 0, 0], [255, 255, 255]),
            ([10, 20, 30, 255], [10, 20, 30]),
            ([0, 0, 0, 51], [204, 204, 204]),
        ] {
            assert_eq!(at(&thumbnail(&png(2, 2, pixel)).unwrap(), 1, 1), expected);
        }
    }

    #[test]
    fn what_would_fill_the_memory_or_the_day_is_left_unpacked() {
        assert_eq!(size(&sized(JPEG, 65_500, 65_500)), Err(Without::Pixels));
        assert_eq!(size(&sized(TURNED, 4000, 2001)), Err(Without::PixelsKept));
        assert_eq!(size(&png(16_001, 1000, [0; 4])), Err(Without::Pixels));
        // its header alone says so: nothing of it is unpacked
        let mut header = png(1, 1, [0; 4]);
        header[16..24].copy_from_slice(&[0x7f, 0xff, 0xff, 0xff, 0x7f, 0xff, 0xff, 0xff]);
        assert!(matches!(size(&header), Err(Without::Pixels | Without::Damaged)));
        let passes = [JPEG, &[0xff, 0xda].repeat(100)].concat();
        assert_eq!(size(&passes), Err(Without::Passes));
    }

    #[test]
    fn what_is_no_picture_that_is_read_here_has_none() {
        for (bytes, expected) in [
            (&b""[..], Without::OtherKind),
            (b"a picture", Without::OtherKind),
            (b"\0\0\0\x18ftypheic", Without::OtherKind),
            (b"GIF89a", Without::OtherKind),
            (&JPEG[..JPEG.len() / 2], Without::Damaged),
            (b"\xff\xd8\xff", Without::Damaged),
            (b"\x89PNG\r\n\x1a\n", Without::Damaged),
        ] {
            assert_eq!(size(bytes), Err(expected), "{bytes:?}");
        }
        assert_eq!(Kind::of(b"\0\0\0\x18ftypheic").media_type(), "image/heic");
        assert_eq!(Kind::of(b"\0\0\0\x1cftypmif1").media_type(), "image/heic");
        assert_eq!(Kind::of(b"\0\0\0\x1cftypisom").media_type(), "application/octet-stream");
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn a_changed_picture_is_made_small_or_not_and_nothing_else(
            which in 0..3_usize,
            changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..8),
        ) {
            let mut bytes = [JPEG.to_vec(), TURNED.to_vec(), png(9, 7, [1, 2, 3, 4])][which].clone();
            for (at, byte) in changes {
                let at = at.index(bytes.len());
                bytes[at] = byte;
            }
            if let Ok(small) = thumbnail(&bytes) {
                prop_assert_eq!(small.pixels.len(), (small.width * small.height * 3) as usize);
                prop_assert!(small.width.max(small.height) <= u32::from(SIDE));
            }
        }
    }
}
