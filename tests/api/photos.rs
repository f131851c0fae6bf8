//! Photos of reports: what comes out holds nothing but pixels, what is too much or no picture is refused, and nobody
//! but the keepers sees them.

use std::io::Cursor;
use std::time::Duration;

use axum::body::Body;
use axum::http::Method;
use futures_util::stream;
use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder as _, ImageFormat, Rgb, RgbImage};
use subimago::store::report_photo::find_photo;
use uuid::Uuid;

use crate::documents::{KEY, report};
use crate::support::{Answer, TestApp, on_both};

const ID: &str = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10";
const PHOTO: &str = "/v1/reports/018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10/photo";

/// A JPEG, red on the left and blue on the right.
pub(crate) fn picture(width: u32, height: u32) -> Vec<u8> {
    with_exif(width, height, None)
}

fn halves(width: u32, height: u32) -> RgbImage {
    RgbImage::from_fn(width, height, |x, _| if x < width / 2 { Rgb([200, 20, 20]) } else { Rgb([20, 20, 200]) })
}

fn with_exif(width: u32, height: u32, exif: Option<Vec<u8>>) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = JpegEncoder::new_with_quality(&mut bytes, 90);
    if let Some(exif) = exif {
        encoder.set_exif_metadata(exif).expect("takes EXIF");
    }
    encoder.write_image(&halves(width, height), width, height, ExtendedColorType::Rgb8).expect("encodes");
    bytes
}

/// A TIFF block as cameras write it (Exif 2.3, tags from memory): how to turn the picture, the camera's maker, and a
/// position of 57 degrees 30 minutes 50 seconds north.
fn camera(orientation: u16) -> Vec<u8> {
    let mut out: Vec<u8> = b"II*\0\x08\0\0\0".to_vec();
    let entry = |out: &mut Vec<u8>, tag: u16, kind: u16, count: u32, value: u32| {
        out.extend(tag.to_le_bytes());
        out.extend(kind.to_le_bytes());
        out.extend(count.to_le_bytes());
        out.extend(value.to_le_bytes());
    };
    out.extend(3_u16.to_le_bytes());
    entry(&mut out, 0x010F, 2, 12, 50); // Make
    entry(&mut out, 0x0112, 3, 1, u32::from(orientation)); // Orientation
    entry(&mut out, 0x8825, 4, 1, 62); // GPS directory
    out.extend(0_u32.to_le_bytes());
    out.extend(b"TattleMaker\0");
    out.extend(2_u16.to_le_bytes());
    entry(&mut out, 1, 2, 2, u32::from(b'N')); // GPSLatitudeRef
    entry(&mut out, 2, 5, 3, 92); // GPSLatitude
    out.extend(0_u32.to_le_bytes());
    for (number, of) in [(57_u32, 1_u32), (30, 1), (50, 1)] {
        out.extend(number.to_le_bytes());
        out.extend(of.to_le_bytes());
    }
    out
}

async fn filed(app: &TestApp) {
    app.post("/v1/reports", &report(ID)).token(&app.member).header("idempotency-key", KEY).send().await.expect(201);
}

async fn put(app: &TestApp, token: &str, bytes: impl Into<Body>) -> Answer {
    app.request(Method::PUT, PHOTO).token(token).header("content-type", "image/jpeg").raw(bytes).send().await
}

async fn kept(app: &TestApp) -> Option<Vec<u8>> {
    let mut tx = app.service.db().read().await.expect("reads");
    find_photo(&mut tx, Uuid::parse_str(ID).expect("an id")).await.expect("reads").map(|photo| photo.jpeg)
}

fn holds(bytes: &[u8], part: &[u8]) -> bool {
    bytes.windows(part.len()).any(|window| window == part)
}

on_both! {
    async fn a_photo_is_kept_without_what_the_camera_told(app) {
        filed(&app).await;
        let sent = with_exif(400, 200, Some(camera(6)));
        for told in [&b"Exif\0\0"[..], b"TattleMaker"] {
            assert!(holds(&sent, told), "the test sends what it looks for");
        }
        // It lies on its side: a quarter turn clockwise brings it upright, red on top.
        let answer = put(&app, &app.member, sent).await.expect(200).json();
        assert_eq!((answer["width_px"].as_u64(), answer["height_px"].as_u64()), (Some(200), Some(400)), "{answer}");
        assert_eq!(answer["report"], ID);
        let out = kept(&app).await.expect("a photo");
        for told in [&b"Exif"[..], b"TattleMaker", b"ICC_PROFILE", b"http://ns.adobe.com"] {
            assert!(!holds(&out, told), "{}", String::from_utf8_lossy(told));
        }
        // No segment but those that a decoder needs: APP0 (JFIF) is the only APPn (ITU-T T.81, B.1.1.3), no comment.
        let (mut at, mut markers) = (2, Vec::new());
        while out[at + 1] != 0xDA {
            markers.push(out[at + 1]);
            at += 2 + usize::from(u16::from_be_bytes([out[at + 2], out[at + 3]]));
        }
        assert!(markers.iter().all(|marker| !(0xE1..=0xEF).contains(marker) && *marker != 0xFE), "{markers:x?}");
        let image = image::load_from_memory(&out).expect("a picture").into_rgb8();
        let (top, bottom) = (image.get_pixel(100, 50), image.get_pixel(100, 350));
        assert!(top[0] > 150 && top[2] < 80 && bottom[2] > 150 && bottom[0] < 80, "{top:?} {bottom:?}");
    }
}

on_both! {
    async fn every_kind_is_read_by_its_content_and_made_small(app) {
        filed(&app).await;
        for format in [ImageFormat::Jpeg, ImageFormat::Png, ImageFormat::WebP] {
            let mut bytes = Cursor::new(Vec::new());
            halves(3000, 1500).write_to(&mut bytes, format).expect("encodes");
            let answer = put(&app, &app.member, bytes.into_inner()).await.expect(200).json();
            assert_eq!((answer["width_px"].as_u64(), answer["height_px"].as_u64()), (Some(1600), Some(800)), "{format:?}");
            let out = kept(&app).await.expect("a photo");
            assert!(out.starts_with(&[0xFF, 0xD8, 0xFF]) && out.len() < 200_000, "{format:?}: {}", out.len());
        }
    }
}

/// A PNG that promises `width` times `height` pixels and holds none (W3C PNG, 11.2.1: signature, IHDR, CRC).
fn promise(width: u32, height: u32, depth: u8) -> Vec<u8> {
    let mut chunk = b"IHDR".to_vec();
    chunk.extend(width.to_be_bytes());
    chunk.extend(height.to_be_bytes());
    chunk.extend([depth, 6, 0, 0, 0]);
    let mut out = b"\x89PNG\r\n\x1a\n\0\0\0\x0d".to_vec();
    out.extend(&chunk);
    out.extend(crc32fast::hash(&chunk).to_be_bytes());
    let empty = crc32fast::hash(b"IDAT");
    out.extend(0_u32.to_be_bytes());
    out.extend(b"IDAT");
    out.extend(empty.to_be_bytes());
    out
}

on_both! {
    async fn what_is_no_picture_or_too_much_of_one_is_refused(app) {
        filed(&app).await;
        let long = promise(60_000, 10, 8);
        let wide = promise(10_000, 10_000, 8);
        let deep = promise(4_400, 4_400, 16);
        for (name, bytes) in [("long", long), ("wide", wide), ("deep", deep)] {
            let refused = put(&app, &app.member, bytes).await.problem(422, "invalid-document");
            assert_eq!(refused["errors"][0]["code"], "too_large", "{name}: {refused}");
            assert_eq!(refused["errors"][0]["pointer"], "#");
        }
        let mut cut = picture(400, 300);
        cut.truncate(300);
        let refused = put(&app, &app.member, cut).await.problem(422, "invalid-document");
        assert_eq!(refused["errors"][0]["code"], "damaged", "{refused}");
        for wrong in [&b"GIF89a\x01\0\x01\0\0\0\0;"[..], b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"%PDF-1.4", b""] {
            let answer = put(&app, &app.member, wrong).await;
            assert_eq!(answer.header("accept"), "image/jpeg, image/png, image/webp");
            answer.problem(415, "unsupported-media-type");
        }
        // As phones keep them; the boxes after the first are not looked at.
        for brand in ["heic", "mif1", "avif"] {
            let file = [&b"\0\0\0\x18ftyp"[..], brand.as_bytes(), b"\0\0\0\0mif1heic\0\0\0\x08mdat"].concat();
            let refused = put(&app, &app.member, file).await.problem(415, "unsupported-media-type");
            let told = refused["detail"].as_str().expect("words");
            assert!(told.contains("HEIC") && told.contains("save it as JPEG"), "{told}");
        }
        put(&app, &app.member, vec![0xFF; 8 * 1024 * 1024 + 1]).await.problem(413, "too-large");
        assert_eq!(kept(&app).await, None, "nothing of it is kept");
    }
}

on_both! {
    async fn nothing_is_taken_in_from_whom_nothing_is_kept(app) {
        filed(&app).await;
        // A body that never comes: whoever waits for it waits longer than this test.
        let never = || Body::from_stream(stream::pending::<Result<Vec<u8>, std::io::Error>>());
        let refused = app.request(Method::PUT, PHOTO).token(&app.other_member).raw(never()).send();
        let refused = tokio::time::timeout(Duration::from_secs(20), refused).await.expect("an answer before the body");
        refused.problem(404, "not-found");
    }
}

on_both! {
    async fn only_its_sender_adds_one_and_it_goes_with_the_report(app) {
        filed(&app).await;
        put(&app, &app.other_member, picture(40, 30)).await.problem(404, "not-found");
        put(&app, &app.keeper, picture(40, 30)).await.problem(403, "forbidden");
        put(&app, &app.member, picture(40, 30)).await.expect(200);
        let told = app.get(&format!("/v1/reports/{ID}/moderation")).token(&app.keeper).send().await.expect(200).json();
        assert_eq!(told["has_photo"], true);
        app.get(PHOTO).token(&app.keeper).send().await.expect(405);
        let tag = app.get(&format!("/v1/reports/{ID}")).token(&app.member).send().await.header("etag").to_owned();
        let withdraw = app.request(Method::DELETE, &format!("/v1/reports/{ID}")).token(&app.member);
        withdraw.header("if-match", tag).send().await.expect(204);
        assert_eq!(kept(&app).await, None, "withdrawn with its report");
        put(&app, &app.member, picture(40, 30)).await.problem(404, "not-found");
    }
}

on_both! {
    async fn forgetting_its_sender_forgets_it(app) {
        filed(&app).await;
        put(&app, &app.member, picture(40, 30)).await.expect(200);
        app.request(Method::POST, "/v1/tokens/me/erasure").token(&app.member).send().await.expect(200);
        assert_eq!(kept(&app).await, None);
    }
}

on_both! {
    async fn a_keeper_may_remove_one(app) {
        filed(&app).await;
        put(&app, &app.member, picture(40, 30)).await.expect(200);
        app.request(Method::DELETE, PHOTO).token(&app.other_member).send().await.problem(404, "not-found");
        assert!(kept(&app).await.is_some());
        app.request(Method::DELETE, PHOTO).token(&app.keeper).send().await.expect(204);
        assert_eq!(kept(&app).await, None);
        app.request(Method::DELETE, PHOTO).token(&app.member).send().await.expect(204);
    }
}
