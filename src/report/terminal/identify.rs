//! What was heard, as a teacher reads it: the answer in the first line, then what it rests on.

use super::page::{Page, Style};
use super::passages::{open_text, passages_text};
use crate::modes::Version;
use crate::report::data::identify::{CentreAnswer, DegreeRow, GridRow, Identify, TouchedRow};
use crate::report::data::names::LabelRow;
use crate::report::sentences::phrasing::{clock, counted, listed, percent, sureness};
use crate::report::sentences::usage::more_names;
use crate::report::words::said;
use crate::scale::Verdict;

/// Other readings that are listed at the most.
const MOST_ALTERNATIVES: usize = 3;
/// Names that are listed for a version at the most.
const MOST_NAMES: usize = 3;
/// Names that are listed for a line between the notes at the most.
const MOST_NEAREST: usize = 5;
/// Other meanings that are listed at the most.
const MOST_MEANINGS: usize = 4;
/// Notes outside the set that are listed at the most.
const MOST_OUTSIDE: usize = 8;
/// Lines of evidence at the most.
const MOST_EVIDENCE: usize = 10;
/// Log odds from which evidence is called strong (it makes a note 2.7 times as likely) and fair (1.35 times).
const STRONG: f64 = 1.0;
const FAIR: f64 = 0.3;
/// A centre that is so much surer than the notes is told apart from them. Engineering judgement, as is the next one.
const MORE_SURE: f64 = 0.1;
/// An answer below this is called "only" so sure.
const HALF_SURE: f64 = 0.5;
/// A reference this near to 440 Hz is not worth a line, in cents.
const USUAL_WITHIN_CENTS: f64 = 3.0;

/// Writes the answer to a page.
pub fn identify_text(answer: &Identify, page: &mut Page) {
    if answer.is_parted() {
        passages_text(answer, page);
    } else {
        one_text(answer, page);
    }
    open_text(answer, page);
}

/// Writes the answer about one passage.
pub fn one_text(answer: &Identify, page: &mut Page) {
    page.set(&headline(answer), 0, 2, Style::Strong);
    let mut rows = Vec::new();
    row(&mut rows, "centre", centre_line(answer));
    row(&mut rows, "notes", degrees_line(answer));
    row(
        &mut rows,
        "steps",
        answer.steps.as_ref().map(|s| steps_line(s, answer)),
    );
    row(&mut rows, "modes", modes_line(answer));
    row(&mut rows, "two forms", forms_line(answer));
    row(&mut rows, "pitch", pitch_line(answer));
    let has_scale = answer.verdict != Verdict::TooLittle;
    let grid = answer.grid.as_ref().filter(|_| has_scale);
    row(&mut rows, "grid", grid.map(grid_line));
    row(&mut rows, "between", answer.between_told.clone());
    row(&mut rows, "made of", answer.parts_told.clone());
    row(
        &mut rows,
        "drone",
        answer
            .drone
            .as_ref()
            .map(|d| format!("{}, held {} of the time", d.name, percent(d.share))),
    );
    row(
        &mut rows,
        "why",
        Some(answer.decided_by.clone()).filter(|s| !s.is_empty()),
    );
    rows.extend(alternatives(answer));
    row(&mut rows, "touched", line_of(touched_notes(answer)));
    row(&mut rows, "outside", line_of(outside_notes(answer)));
    page.table(&rows, 2);
    names(answer, page);
    other_starts(answer, page);
    evidence(answer, page);
    for warning in &answer.warnings {
        page.set(&format!("note: {warning}"), 2, 4, Style::Faint);
    }
}

fn row(rows: &mut Vec<Vec<String>>, name: &str, text: Option<String>) {
    rows.extend(text.map(|text| vec![name.to_string(), text]));
}

/// Whether the notes are so much less sure than the centre that the two are told apart.
fn notes_are_less_sure(answer: &Identify, centre: &CentreAnswer) -> bool {
    answer.set_confidence < centre.confidence - MORE_SURE
}

/// How sure the answer is: of the notes where they are less sure, else of the centre.
fn sure_text(answer: &Identify, centre: &CentreAnswer) -> String {
    let sure = centre.confidence.min(answer.set_confidence);
    let only = if sure < HALF_SURE { "only " } else { "" };
    let of_what = match notes_are_less_sure(answer, centre) {
        true => " of the notes",
        false => "",
    };
    format!(
        "centre {}, {only}{} sure{of_what}",
        centre.name,
        sureness(sure)
    )
}

/// The centre's own confidence where the headline tells that of the notes.
fn centre_line(answer: &Identify) -> Option<String> {
    let centre = answer.centre.as_ref()?;
    let is_told = answer.version.is_some() && notes_are_less_sure(answer, centre);
    is_told.then(|| format!("{}, {} sure", centre.name, sureness(centre.confidence)))
}

/// The answer in one line.
pub fn headline(answer: &Identify) -> String {
    let notes = notes_text(answer);
    let sure = answer
        .centre
        .as_ref()
        .map(|c| sure_text(answer, c))
        .unwrap_or_default();
    let name = answer.centre.as_ref().map_or("", |c| c.name.as_str());
    match (answer.verdict, &answer.version) {
        (Verdict::Clear, Some(version)) => format!("{version}: {notes}, {sure}"),
        (Verdict::Ambiguous, Some(version)) => {
            let other = answer.alternatives.first().and_then(|a| a.version.clone());
            let or = other.map_or_else(String::new, |other| format!(" or {other}"));
            format!("{version}{or}: {notes}, {sure}")
        }
        (Verdict::OffGrid, _) => {
            let near = answer.called.first();
            let near = near.map_or_else(String::new, |c| format!(", nearest to {}", c.name));
            let cents = cents_line(&answer.degrees);
            format!("no 12-tone scale{near}: {cents} above {name}, {sure}")
        }
        _ if notes.is_empty() => "too little to say: no note was heard".to_string(),
        _ => format!("too little to say: heard only {notes}"),
    }
}

/// The notes from the centre upward, rising and falling where that differs.
fn notes_text(answer: &Identify) -> String {
    let rising = answer.note_names.join(" ");
    match &answer.two_forms {
        Some(forms) => format!(
            "rising {rising}, falling {}",
            forms.falling.note_names.join(" ")
        ),
        None => rising,
    }
}

fn cents_line(degrees: &[DegreeRow]) -> String {
    let cents: Vec<String> = degrees
        .iter()
        .filter_map(|d| d.cents_from_centre)
        .map(|c| format!("{:.0}", c.round() + 0.0))
        .collect();
    format!("{} cents", cents.join(" "))
}

fn degrees_line(answer: &Identify) -> Option<String> {
    let shares: Vec<String> = answer
        .degrees
        .iter()
        .map(|d| format!("{} {}", d.told(), percent(d.share)))
        .collect();
    (!shares.is_empty()).then(|| shares.join(", "))
}

fn steps_line(steps: &[u8], answer: &Identify) -> String {
    let steps: Vec<String> = steps.iter().map(u8::to_string).collect();
    let degrees = answer
        .heard
        .as_ref()
        .map_or_else(Vec::new, Version::degree_names);
    format!("{} (degrees {})", steps.join("-"), degrees.join(" "))
}

fn modes_line(answer: &Identify) -> Option<String> {
    let name = &answer.centre.as_ref()?.name;
    let parents = &answer.family.as_ref()?.parents;
    let diatonic: Vec<String> = parents
        .iter()
        .filter(|p| p.parent == "diatonic")
        .map(|p| format!("{name} {}", p.mode))
        .collect();
    Some(match diatonic.len() {
        0 => "no diatonic mode holds all of these notes".to_string(),
        1 => format!(
            "{} is the only diatonic mode from {name} that holds these notes",
            diatonic[0]
        ),
        _ => format!("{} hold these notes", listed(&diatonic)),
    })
}

fn forms_line(answer: &Identify) -> Option<String> {
    let forms = answer.two_forms.as_ref()?;
    Some(format!(
        "rises {} ({}), falls {} ({})",
        forms.rising.note_names.join(" "),
        forms.rising.version,
        forms.falling.note_names.join(" "),
        forms.falling.version
    ))
}

fn pitch_line(answer: &Identify) -> Option<String> {
    let hz = answer.reference_hz?;
    let cents = crate::units::cents_between(crate::units::STANDARD_A4_HZ, hz);
    let side = if cents < 0.0 { "flat" } else { "sharp" };
    (cents.abs() > USUAL_WITHIN_CENTS)
        .then(|| format!("A4 = {hz:.1} Hz, {:.0} cents {side} of 440", cents.abs()))
}

/// How far the degrees lie from the 12-tone grid, and what they come nearest to where it has no name for them.
fn grid_line(grid: &GridRow) -> String {
    let cents = format!(
        "up to {} from the 12-tone grid, {:.0} on average",
        counted(grid.worst_cents.round() as usize, "cent"),
        grid.mean_cents
    );
    match &grid.nearest {
        Some(near) => format!(
            "nearest to {} ({}), its degrees {cents}",
            near.version,
            near.note_names.join(" ")
        ),
        None => format!("degrees {cents}"),
    }
}

/// The next readings, one a line.
fn alternatives(answer: &Identify) -> Vec<Vec<String>> {
    let named = answer.alternatives.iter().take(MOST_ALTERNATIVES);
    let told = named.filter_map(|a| Some((a.version.as_ref()?, a.confidence)));
    told.enumerate()
        .map(|(k, (version, confidence))| {
            let head = if k == 0 { "or else" } else { "" };
            vec![
                head.to_string(),
                format!("{version}, {}", percent(confidence)),
            ]
        })
        .collect()
}

fn line_of(notes: Vec<String>) -> Option<String> {
    (!notes.is_empty()).then(|| notes.join(", "))
}

/// What is touched beside the scale, how often, and its part of the time.
pub fn touched_notes(answer: &Identify) -> Vec<String> {
    let one = |t: &TouchedRow| {
        let share = percent(t.share);
        match t.times.as_slice() {
            [once] => said!(
                "touched.once",
                note = t.name,
                time = clock(*once),
                share = share
            ),
            times => {
                let count = times.len();
                said!("touched.often", note = t.name, count = count, share = share)
            }
        }
    };
    answer.touched.iter().map(one).collect()
}

/// The notes outside the scale that are not touched, with their times, and how many more there are.
pub fn outside_notes(answer: &Identify) -> Vec<String> {
    let slips = answer.slips();
    let told = slips.iter().take(MOST_OUTSIDE);
    let mut notes: Vec<String> = told
        .map(|o| said!("told.slip_at", note = o.name, time = clock(o.start_s)))
        .collect();
    let more = slips.len().saturating_sub(MOST_OUTSIDE);
    notes.extend((more > 0).then(|| said!("outside.more", count = more)));
    notes
}

/// Who calls it what, and who means something else by the same names.
fn names(answer: &Identify, page: &mut Page) {
    if answer.verdict == Verdict::OffGrid {
        nearest_names(answer, page);
        return;
    }
    let exact = || answer.labels.iter().filter(|l| l.distance_cents.is_none());
    if exact().next().is_none() {
        return;
    }
    page.heading("Called");
    let mut rows: Vec<Vec<String>> = exact()
        .take(MOST_NAMES)
        .map(|l| vec![l.name.clone(), whose(l)])
        .collect();
    let more = exact().count().saturating_sub(MOST_NAMES);
    let version = answer.version.as_deref().filter(|_| more > 0);
    rows.extend(version.map(|version| vec![String::new(), more_names(more, version)]));
    page.table(&rows, 2);
    if answer.disputed.is_empty() {
        return;
    }
    page.heading("The same name for something else");
    let rows: Vec<Vec<String>> = answer
        .disputed
        .iter()
        .take(MOST_MEANINGS)
        .map(|d| {
            let steps: Vec<String> = d.steps.iter().map(u8::to_string).collect();
            let relation = match d.relation {
                crate::labels::Kinship::Rotation => "other rotation of this family",
                crate::labels::Kinship::AnotherFamily => "another family",
                crate::labels::Kinship::Mixed => "rotations and other families",
            };
            vec![
                d.name.clone(),
                format!(
                    "{} = {}: {} ({relation})",
                    steps.join("-"),
                    d.version,
                    d.source
                ),
            ]
        })
        .collect();
    page.table(&rows, 2);
}

/// The names that a line between the notes may bear: how likely the notes are by each, and how rare it is, not the distance
/// of its degrees, is their order.
fn nearest_names(answer: &Identify, page: &mut Page) {
    if answer.called.is_empty() {
        return;
    }
    page.heading("Called, likeliest first");
    let named = answer.called.iter().take(MOST_NEAREST);
    let rows: Vec<Vec<String>> = named
        .map(|c| vec![format!("{} ({})", c.name, c.tradition), c.told.clone()])
        .collect();
    page.table(&rows, 2);
}

/// A source, with its tradition and the user's book where there are such.
fn whose(label: &LabelRow) -> String {
    let book = label.book.as_ref().map(|book| format!("your book {book}"));
    let tradition = Some(label.tradition.clone()).filter(|tradition| !tradition.is_empty());
    let notes: Vec<String> = tradition.into_iter().chain(book).collect();
    match notes.is_empty() {
        true => label.source.clone(),
        false => format!("{} ({})", label.source, notes.join(", ")),
    }
}

/// The same notes from their other starts.
fn other_starts(answer: &Identify, page: &mut Page) {
    let own = answer.version.as_deref();
    let others: Vec<Vec<String>> = answer
        .rotations
        .iter()
        .filter(|r| Some(r.version.as_str()) != own)
        .map(|r| vec![r.note_names.join(" "), r.version.clone()])
        .collect();
    if !others.is_empty() {
        page.heading("The same notes from another start");
        page.table(&others, 2);
    }
}

fn evidence(answer: &Identify, page: &mut Page) {
    let Some(evidence) = answer.evidence.as_ref().filter(|e| !e.is_empty()) else {
        return;
    };
    page.heading("What speaks for and against");
    let rows: Vec<Vec<String>> = evidence
        .iter()
        .take(MOST_EVIDENCE)
        .map(|e| {
            let side = if e.weight > 0.0 { "for" } else { "against" };
            vec![
                format!("{side} {}", e.name),
                strength(e.weight).to_string(),
                e.what.clone(),
            ]
        })
        .collect();
    page.table(&rows, 2);
}

/// How much a piece of evidence weighs, in words.
fn strength(weight: f64) -> &'static str {
    match weight.abs() {
        w if w >= STRONG => "strongly",
        w if w >= FAIR => "fairly",
        _ => "a little",
    }
}
