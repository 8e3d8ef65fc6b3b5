//! A whole file of one or more fragments: it fetches nothing, allows nothing but its own style and script, and reads
//! well with scripts off.

use base64::Engine;
use base64::engine::general_purpose::STANDARD as BASE64;
use sha2::{Digest, Sha256};

use super::write::Html;
use crate::report::words::word;

/// The style of fragments, for the page too.
pub const STYLE: &str = include_str!("style.css");
/// What wakes the moments of a report: a press plays the sound from there.
pub const SCRIPT: &str = include_str!("moments.js");

/// The sound that goes with a report.
#[derive(Debug, Clone, Copy)]
pub enum Sound<'a> {
    /// None.
    Left,
    /// A file beside the report, by its address.
    Linked(&'a str),
    /// The bytes of the recording with their media type.
    Embedded(&'a [u8], &'a str),
}

/// The file's HTML.
pub fn document(title: &str, fragment: &Html, sound: Sound) -> String {
    let mut html = Html::new();
    html.own("<!DOCTYPE html>\n");
    html.element("html", &[("lang", word("language"))], |h| {
        h.element("head", &[], |h| head(h, title));
        h.element("body", &[("class", "report")], |h| {
            player(h, sound);
            h.element("main", &[], |h| h.append(fragment));
            h.element("footer", &[], |h| {
                h.line("p", "small", word("report.footer"))
            });
            h.element("script", &[], |h| h.own(SCRIPT));
        });
    });
    html.own("\n");
    html.finish()
}

fn head(html: &mut Html, title: &str) {
    html.start("meta", &[("charset", "utf-8")]);
    let policy = format!(
        "default-src 'none'; style-src {}; script-src {}; media-src 'self' data: file:; base-uri 'none'; form-action 'none'",
        hash(STYLE),
        hash(SCRIPT)
    );
    html.start(
        "meta",
        &[
            ("http-equiv", "Content-Security-Policy"),
            ("content", &policy),
        ],
    );
    html.start(
        "meta",
        &[
            ("name", "viewport"),
            ("content", "width=device-width, initial-scale=1"),
        ],
    );
    html.start(
        "meta",
        &[("name", "color-scheme"), ("content", "light dark")],
    );
    html.start("meta", &[("name", "referrer"), ("content", "no-referrer")]);
    html.plain("title", title);
    html.element("style", &[], |h| h.own(STYLE));
}

/// What a Content-Security-Policy calls a text that may run: its SHA-256.
fn hash(text: &str) -> String {
    format!("'sha256-{}'", BASE64.encode(Sha256::digest(text)))
}

fn player(html: &mut Html, sound: Sound) {
    let source = match sound {
        Sound::Left => return,
        Sound::Linked(link) => link.to_string(),
        Sound::Embedded(bytes, kind) => format!("data:{kind};base64,{}", BASE64.encode(bytes)),
    };
    let attributes = [
        ("class", "player"),
        ("controls", ""),
        ("preload", "metadata"),
        ("aria-label", word("player.label")),
        ("src", &source),
    ];
    html.element("audio", &attributes, |_| {});
}

/// The media type of a recording by its name's ending; browsers look into the sound itself.
pub fn media_type(name: &str) -> &'static str {
    let ending = name.rsplit('.').next().unwrap_or_default().to_lowercase();
    match ending.as_str() {
        "wav" => "audio/wav",
        "flac" => "audio/flac",
        "mp3" => "audio/mpeg",
        "ogg" | "oga" | "opus" => "audio/ogg",
        "m4a" | "mp4" | "3gp" | "mov" => "audio/mp4",
        "aac" => "audio/aac",
        "webm" => "audio/webm",
        _ => "application/octet-stream",
    }
}
