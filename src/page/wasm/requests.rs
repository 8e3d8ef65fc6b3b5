//! What the page may ask, as JSON `{"do": …}`, and the replies: the JSON that the command prints, and HTML to show.

use serde::Deserialize;
use serde_json::{Value, json};
use whichmode::error::{Error, Result};
use whichmode::modes::{Notation, written};
use whichmode::render::neck;
use whichmode::report::html::Html;
use whichmode::report::html::document::{Sound, document, media_type};
use whichmode::report::words;

use crate::class::{Told, whole_class};
use crate::hear::{Hear, asked, identify, review, samples};
use crate::strings::Tune;
use crate::{live, lookup, strings};

/// A request, and how note names are read and written in it.
#[derive(Deserialize)]
struct Asked {
    #[serde(default)]
    german: bool,
    #[serde(flatten)]
    request: Request,
}

/// What is asked.
#[derive(Deserialize)]
#[serde(tag = "do", rename_all = "snake_case")]
enum Request {
    /// Has all that is said taken from another table; before anything else.
    Words {
        table: String,
    },
    Identify(Hear),
    Review(Hear),
    Tuning(Tune),
    /// Begins to listen to strings as they are plucked; the sound comes with `push`.
    Listen(Tune),
    Push,
    End,
    Class {
        submissions: Vec<Told>,
    },
    Sheet {
        submission: Box<Told>,
        #[serde(default)]
        strings: String,
    },
    /// What an assignment means, before anything runs.
    Asked {
        assignment: String,
    },
    LookUp(lookup::Wanted),
    Play {
        place: Option<usize>,
        #[serde(flatten)]
        wanted: lookup::Wanted,
    },
    /// A whole file of fragments, with the sound that lies in its room.
    Document {
        title: String,
        html: String,
        #[serde(default)]
        sound_name: String,
    },
    Names,
    Sets,
}

/// The reply to a request and the sound that goes with it.
pub fn answer(request: &[u8], sound: Vec<u8>) -> Result<Value> {
    let asked: Asked = serde_json::from_slice(request)
        .map_err(|e| Error::Internal(format!("the page asked what is not understood: {e}")))?;
    let notation = notation(asked.german);
    written(notation, || reply(asked.request, sound, notation))
}

fn reply(request: Request, sound: Vec<u8>, notation: Notation) -> Result<Value> {
    match request {
        Request::Words { table } => words::choose(&table)
            .map(|()| json!({}))
            .map_err(Error::Text),
        Request::Identify(hear) => identify(&hear, sound, notation),
        Request::Review(hear) => review(&hear, sound, notation),
        Request::Tuning(tune) => strings::tuning(&tune, sound, notation),
        Request::Listen(tune) => strings::listen(tune, notation),
        Request::Push => live::push(&samples(&sound)),
        Request::End => live::end(),
        Request::Class { submissions } => Ok(whole_class(&submissions)),
        Request::Sheet {
            submission,
            strings,
        } => Ok(html(submission.sheet(&neck::strings(&strings, notation)?))),
        Request::Asked { assignment } => asked(&assignment, notation),
        Request::LookUp(wanted) => lookup::look_up(&wanted, notation).map(html),
        Request::Play { place, wanted } => lookup::play(&wanted, place, notation),
        Request::Document {
            title,
            html,
            sound_name,
        } => Ok(json!({ "file": whole(&title, &html, &sound, &sound_name) })),
        Request::Names => lookup::names(),
        Request::Sets => Ok(json!(strings::sets())),
    }
}

fn html(fragment: Html) -> Value {
    json!({ "html": fragment.finish() })
}

fn whole(title: &str, fragments: &str, sound: &[u8], sound_name: &str) -> String {
    let sound = match sound {
        [] => Sound::Left,
        bytes => Sound::Embedded(bytes, media_type(sound_name)),
    };
    document(title, &Html::of_fragments(fragments), sound)
}

/// How note names are read and written.
pub fn notation(german: bool) -> Notation {
    match german {
        true => Notation::German,
        false => Notation::International,
    }
}
