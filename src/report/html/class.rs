//! A class's recordings: counts by verdict, what most got wrong, and a table that begins with who needs attention most.

use std::collections::BTreeMap;

use super::write::{Html, section};
use super::{file_name, moment};
use crate::report::review::ReviewRow;
use crate::report::words::{clock, counted, phrase, said, sure, word};
use crate::review::Judgement;
use crate::tuning::StringNote;

/// Things that several students got wrong are told, at most so many.
const MOST_COMMON: usize = 5;
/// The heads of the table's columns, the last one only where a note lies outside.
const TITLES: [&str; 4] = [
    "class.recording",
    "class.verdict",
    "class.told",
    "class.slips",
];
/// Wrong notes that a row of the table names.
const MOST_SLIPS: usize = 6;

/// One submission with what came of it.
pub struct Submission<'a> {
    /// The recording's name.
    pub file: &'a str,
    /// The review, or a sentence on why there is none.
    pub result: Result<&'a ReviewRow, &'a str>,
    /// A link to the recording, where it lies beside the report.
    pub sound: Option<String>,
    /// A link to the student's sheet.
    pub sheet: Option<String>,
    /// The strings on whose neck the sheet shows what was asked; none draws none.
    pub strings: &'a [StringNote],
}

impl Submission<'_> {
    /// How soon a teacher should look at it: 0 is first.
    fn need(&self) -> usize {
        match self.result {
            Err(_) => 0,
            Ok(row) => match row.verdict {
                Judgement::Unusable => 1,
                Judgement::Other => 2,
                Judgement::AlteredDegree => 3,
                Judgement::MissingDegree => 4,
                Judgement::Transposed => 5,
                Judgement::SameNotesOtherCentre => 6,
                Judgement::SameRootOtherMode => 7,
                Judgement::AsAssigned if !row.slips.is_empty() || !row.limits_missed.is_empty() => {
                    8
                }
                Judgement::AsAssigned => 9,
            },
        }
    }
}

/// The key, sign and words of a verdict; no verdict means that the recording could not be read.
pub(super) fn verdict(kind: Option<Judgement>) -> (&'static str, &'static str, &'static str) {
    match kind {
        None => ("error", "!", word("verdict.error")),
        Some(Judgement::Unusable) => ("unusable", "?", word("verdict.unusable")),
        Some(Judgement::AsAssigned) => ("as_assigned", "●", word("verdict.as_assigned")),
        Some(Judgement::SameRootOtherMode) => ("other_mode", "◐", word("verdict.other_mode")),
        Some(Judgement::SameNotesOtherCentre) => {
            ("other_centre", "◑", word("verdict.other_centre"))
        }
        Some(Judgement::Transposed) => ("transposed", "↕", word("verdict.transposed")),
        Some(Judgement::MissingDegree) => ("missing", "−", word("verdict.missing")),
        Some(Judgement::AlteredDegree) => ("altered", "±", word("verdict.altered")),
        Some(Judgement::Other) => ("other", "○", word("verdict.other")),
    }
}

/// The fragment. Places in the table are those of `submissions`, which scripts and links find as `data-row`.
pub fn class(submissions: &[Submission]) -> Html {
    let mut order: Vec<usize> = (0..submissions.len()).collect();
    order.sort_by_key(|&k| submissions[k].need());
    let mut html = Html::new();
    html.element("article", &[("class", "class")], |h| {
        h.element("header", &[], |h| {
            h.line("p", "eyebrow", &asked(submissions));
            h.line(
                "h2",
                "answer",
                &counted("class.title.one", "class.title.many", submissions.len()),
            );
        });
        counts(h, submissions);
        common(h, submissions);
        section(h, "class-table", word("class.heading"), |h| {
            rows(h, submissions, &order)
        });
    });
    html
}

/// The table. On a narrow screen its rows are laid out as blocks, so that the roles are written out.
fn rows(html: &mut Html, submissions: &[Submission], order: &[usize]) {
    let has_slips = |s: &Submission| s.result.is_ok_and(|row| !row.slips.is_empty());
    let columns = match submissions.iter().any(has_slips) {
        true => TITLES.len(),
        false => TITLES.len() - 1,
    };
    let attributes = [("role", "table"), ("aria-label", word("class.heading"))];
    html.element("table", &attributes, |h| {
        h.element("thead", &[("role", "rowgroup")], |h| {
            h.element("tr", &[("role", "row")], |h| {
                for &title in &TITLES[..columns] {
                    let attributes = [("scope", "col"), ("role", "columnheader")];
                    h.element("th", &attributes, |h| h.text(word(title)));
                }
            });
        });
        h.element("tbody", &[("role", "rowgroup")], |h| {
            for &k in order {
                submission(h, k, &submissions[k], columns == TITLES.len());
            }
        });
    });
}

/// What was asked, each task once.
fn asked(submissions: &[Submission]) -> String {
    let mut asked: Vec<String> = Vec::new();
    for row in submissions.iter().filter_map(|s| s.result.ok()) {
        let scale = &row.assignment.scale;
        let notes = scale.note_names.join(" ");
        let text = said!("class.scale", version = scale.version, notes = notes);
        if !asked.contains(&text) {
            asked.push(text);
        }
    }
    phrase("class.asked", &[("scales", &asked.join("; "))])
}

fn counts(html: &mut Html, submissions: &[Submission]) {
    let mut found: BTreeMap<Option<Judgement>, usize> = BTreeMap::new();
    for submission in submissions {
        *found
            .entry(submission.result.ok().map(|r| r.verdict))
            .or_default() += 1;
    }
    let mut found: Vec<_> = found.into_iter().collect();
    found.sort_by_key(|&(_, count)| std::cmp::Reverse(count));
    html.element(
        "ul",
        &[("class", "counts"), ("aria-label", word("class.counts"))],
        |h| {
            for (kind, count) in found {
                let (key, sign, words) = verdict(kind);
                h.element("li", &[("class", &format!("tone-{key}"))], |h| {
                    h.line("span", "count", &count.to_string());
                    h.text(" ");
                    h.element("span", &[("class", "sign"), ("aria-hidden", "true")], |h| {
                        h.text(sign)
                    });
                    h.text(words);
                });
            }
        },
    );
}

/// What several students got wrong, the most frequent first.
fn common(html: &mut Html, submissions: &[Submission]) {
    let mut found: BTreeMap<String, usize> = BTreeMap::new();
    for row in submissions.iter().filter_map(|s| s.result.ok()) {
        for fault in faults(row) {
            *found.entry(fault).or_default() += 1;
        }
    }
    let mut found: Vec<_> = found.into_iter().filter(|&(_, count)| count > 1).collect();
    found.sort_by_key(|&(_, count)| std::cmp::Reverse(count));
    if found.is_empty() {
        return;
    }
    section(html, "common", word("common.heading"), |h| {
        h.element("ul", &[("class", "faults")], |h| {
            for (fault, count) in found.iter().take(MOST_COMMON) {
                let count = count.to_string();
                h.plain(
                    "li",
                    &phrase("common.line", &[("fault", fault), ("count", &count)]),
                );
            }
        });
    });
}

/// The faults of one student, each once.
fn faults(row: &ReviewRow) -> Vec<String> {
    let altered = row.altered.iter();
    let mut faults: Vec<String> = altered
        .map(|a| {
            phrase(
                "fault.altered",
                &[("played", &a.played), ("wanted", &a.name)],
            )
        })
        .collect();
    if row.altered.is_empty() && row.verdict == Judgement::MissingDegree {
        faults.extend(
            row.missing
                .iter()
                .map(|m| phrase("fault.missing", &[("note", &m.name)])),
        );
    }
    if row.verdict == Judgement::SameNotesOtherCentre || row.verdict == Judgement::Transposed {
        let home = row.heard.as_ref().map_or("", |h| h.centre.name.as_str());
        faults.push(phrase("fault.home", &[("note", home)]));
    }
    for slip in &row.slips {
        let note = super::line::without_octave(&slip.name);
        let fault = phrase("fault.slip", &[("note", &note)]);
        if !faults.contains(&fault) {
            faults.push(fault);
        }
    }
    faults
}

fn submission(html: &mut Html, place: usize, submission: &Submission, with_slips: bool) {
    let kind = submission.result.ok().map(|r| r.verdict);
    let (key, sign, words) = verdict(kind);
    let need = submission.need().to_string();
    let place = place.to_string();
    html.element("tr", &[("role", "row"), ("data-row", &place)], |h| {
        let attributes = [
            ("scope", "row"),
            ("role", "rowheader"),
            ("data-sort", submission.file),
        ];
        h.element("th", &attributes, |h| match &submission.sheet {
            Some(link) => h.element("a", &[("href", link)], |h| file_name(h, submission.file)),
            None => file_name(h, submission.file),
        });
        cell(h, &format!("tone-{key}"), &need, |h| {
            sign_of(h, sign);
            h.text(words);
            if let Ok(row) = submission.result {
                let sure = said!("sheet.sure", sure = sure(row.verdict_confidence));
                h.line("span", "small sure", &format!(" {sure}"));
            }
        });
        let told = submission
            .result
            .map_or_else(|e| e, |row| row.explanation.as_str());
        cell(h, "", told, |h| h.text(told));
        if !with_slips {
            return;
        }
        let count = submission.result.map_or(0, |row| row.slips.len());
        cell(h, "", &count.to_string(), |h| {
            if let Some(row) = submission.result.ok().filter(|_| count > 0) {
                slips(h, row, submission.sound.as_deref());
            }
        });
    });
}

/// A cell that is sorted by `key`.
fn cell(html: &mut Html, class: &str, key: &str, inside: impl FnOnce(&mut Html)) {
    let attributes = [("role", "cell"), ("class", class), ("data-sort", key)];
    html.element("td", &attributes, inside);
}

/// A verdict's sign; the words beside it say the same.
pub(super) fn sign_of(html: &mut Html, sign: &str) {
    let attributes = [("class", "sign"), ("aria-hidden", "true")];
    html.element("span", &attributes, |h| h.text(sign));
}

fn slips(html: &mut Html, row: &ReviewRow, sound: Option<&str>) {
    html.element("ul", &[("class", "moments")], |h| {
        for slip in row.slips.iter().take(MOST_SLIPS) {
            let at = clock(slip.start_s);
            let label = phrase("outside.note", &[("note", &slip.name), ("time", &at)]);
            h.element("li", &[], |h| moment(h, slip.start_s, &label, sound));
        }
        let more = row.slips.len().saturating_sub(MOST_SLIPS);
        if more > 0 {
            h.plain("li", &counted("class.more.one", "class.more.many", more));
        }
    });
}
