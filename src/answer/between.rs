//! Whether a line lies between the twelve notes, and where it is at home there, by the scales that traditions have there.
//!
//! **Takes** what the scale stage found. **Gives** the places of the degrees ([`Between`]) where a scale of the label book
//! in cents makes the notes far likelier than the set on the twelve notes does.
//!
//! **Method.** Every such scale is laid at every place of the octave; the likelihood of the notes under it, for the
//! looseness of playing that suits it best, is weighed with the scale stage's probability of the centre and with where the
//! line ends. A long line counts as many notes as a short one, since its notes depart from theory together. Whether the line lies off the grid at all is decided
//! by the evidence ([`evidence`](crate::labels::evidence)) for the best of them against that for the set that was told, and for sets that differ from it
//! by a note or two, on a grid of any tuning. Constants were chosen on made lines (tests/off_grid, seeds 1 and 4) and on
//! singing from scores, and compared on performances of Turkish makam.

use std::sync::OnceLock;

use crate::histogram::{Histogram, PlacedNote, intonation};
use crate::labels::evidence::{Evidence, evidence, evidence_near};
use crate::labels::laid::{Likelihoods, NotePlaces, PLACE_CENTS, PLACES, Table, place_of};
use crate::labels::{Book, MOST_NOTES};
use crate::modes::{Band, NoteName, Scale};
use crate::scale::{Between, Prior, ScaleEstimate, Verdict};
use crate::units::{OCTAVE_CENTS, PitchClass, PitchClassSet, from_semitone};

/// Scales with no degree so far off the twelve notes, in cents, can't be told from them.
const OFF_CENTS: f64 = 34.0;
/// Weight of the logarithm of the centre's probability.
const CENTRE_WEIGHT: f64 = 3.0;
/// How much likelier the centre is where the line ends on a held note, as a natural logarithm. Of performances of Turkish
/// makam .77 end on it, against .04 for each of six other degrees, which makes 3; made lines (tests/off_grid), which all
/// end on it, take more. Chosen between.
const ENDS: f64 = 4.0;
/// Places that are that note, to either side.
const END_PLACES: usize = 6;
/// No centre is less likely than this.
const CENTRE_DOUBT: f64 = 0.01;
/// Natural logarithm of how much likelier the notes must be than on the twelve notes: for the closest playing, and more for
/// each cent of looseness beyond that. Chosen on made lines (tests/off_grid, seeds 1, 2 and 5 to 7), with singing from scores
/// and made singers (tests/fit/make_singers.py) as what must not be taken for them.
const SURE: f64 = 0.3;
const SURE_LOOSE: f64 = 0.13;
/// Where the scale stage finds degrees off the grid and the line is played so closely, in cents, they may be this much
/// less likely.
const FOUND: f64 = -1.0;
const FOUND_CENTS: f64 = 11.0;
/// The closest playing, and the loosest in which a quarter tone can be told from a note that is sung askew, in cents.
const CLOSEST_CENTS: f64 = 8.0;
const LOOSEST_CENTS: f64 = 27.0;
/// So many scales are weighed by their evidence, the best first.
const WEIGHED: usize = 40;
/// The grid is tried in steps of so many cents.
const GRID_CENTS: f64 = 10.0;
/// Notes that scatter less than this about the twelve of the recording's own tuning, in cents, lie on them.
const CLOSE_CENTS: f64 = 9.0;
/// A centre is tried where a note lies this near, in places.
const NEAR: usize = 2;

/// A scale with the likelihood of a note at each place above its centre.
struct Template {
    bands: Vec<Band>,
    /// How rare the scale is, as a natural logarithm.
    rarity: f64,
    cents: Vec<f64>,
    likelihoods: Likelihoods,
}

static TEMPLATES: OnceLock<Vec<Template>> = OnceLock::new();

/// The places of the degrees, where the line lies between the twelve notes.
pub fn between(estimate: &ScaleEstimate, histogram: &Histogram) -> Option<Between> {
    estimate.centre?;
    let is_off = estimate.verdict == Verdict::OffGrid;
    if !is_off && intonation(&histogram.notes)?.1 < CLOSE_CENTS {
        return None;
    }
    let line = Line::new(estimate, histogram);
    let tried = TEMPLATES.get_or_init(templates).iter();
    let tried: Vec<Laid> = tried.flat_map(|template| line.laid(template)).collect();
    let by_class = best_by_class(&tried);
    let best = by_class.into_iter().flatten().max_by(by_score)?;
    if !line.is_off_grid(&tried, estimate.set, is_off) {
        return None;
    }
    let cents = PLACE_CENTS * best.place as f64;
    let scores = || by_class.iter().flatten().map(|laid| laid.score);
    let sum: f64 = scores().map(|score| (score - best.score).exp()).sum();
    Some(Between {
        places: best
            .template
            .cents
            .iter()
            .map(|above| (above + cents).rem_euclid(OCTAVE_CENTS))
            .collect(),
        centre_cents: cents,
        confidence: sum.recip(),
    })
}

/// A scale at a place.
#[derive(Clone, Copy)]
struct Laid<'a> {
    template: &'a Template,
    score: f64,
    place: usize,
}

fn by_score(a: &Laid, b: &Laid) -> std::cmp::Ordering {
    a.score.total_cmp(&b.score)
}

/// What fits best with each class as the centre.
fn best_by_class<'a>(laid: &[Laid<'a>]) -> [Option<Laid<'a>>; 12] {
    let mut best = [None; 12];
    for one in laid {
        let own: &mut Option<Laid> = &mut best[class_of(one.place)];
        if own.is_none_or(|known| known.score < one.score) {
            *own = Some(*one);
        }
    }
    best
}

/// Notes by place above C, with what is known of the centre.
struct Line {
    counts: NotePlaces,
    /// The notes in cents above C.
    cents: Vec<f64>,
    /// Places at which the centre is tried.
    open: Vec<usize>,
    /// How likely each place is to be the centre, as a weighted natural logarithm.
    centre: Table,
    weight: f64,
}

impl Line {
    fn new(estimate: &ScaleEstimate, histogram: &Histogram) -> Self {
        let notes = histogram.notes.iter();
        let cents: Vec<f64> = notes.map(PlacedNote::cents_above_c).collect();
        let counts = NotePlaces::of(cents.iter().map(|&cents| (cents, 1.0)));
        Self {
            open: (0..PLACES).filter(|&k| counts.has_near(k, NEAR)).collect(),
            centre: centre(estimate, histogram),
            weight: (MOST_NOTES / counts.total().max(1.0)).min(1.0),
            counts,
            cents,
        }
    }

    /// The score of a scale with its centre at a place.
    fn score(&self, likelihoods: &Likelihoods, place: usize) -> f64 {
        self.weight * self.counts.fit(likelihoods, place) + self.centre[place]
    }

    /// A scale at every place at which the line may be at home.
    fn laid<'a>(&self, template: &'a Template) -> impl Iterator<Item = Laid<'a>> {
        self.open.iter().map(|&place| Laid {
            template,
            score: self.score(&template.likelihoods, place) - template.rarity,
            place,
        })
    }

    /// Whether scales off the grid explain the line better than the set that was told or one like it.
    fn is_off_grid(&self, tried: &[Laid], told: PitchClassSet, is_found: bool) -> bool {
        let own = tried.chunk_by(|a, b| std::ptr::eq(a.template, b.template));
        let mut best: Vec<Laid> = own
            .filter_map(|all| all.iter().copied().max_by(by_score))
            .collect();
        best.sort_by(|a, b| by_score(b, a));
        let off = best.iter().take(WEIGHED).map(|laid| self.weighed(laid));
        let Some(off) = off.max_by(by_log) else {
            return false;
        };
        let on = self.on_grid(told);
        let sure = match is_found && off.spread_cents <= FOUND_CENTS {
            true => FOUND,
            false => SURE + SURE_LOOSE * (off.spread_cents - CLOSEST_CENTS),
        };
        off.spread_cents <= LOOSEST_CENTS && off.log - on > sure
    }

    /// The evidence for a scale, with its centre near a place.
    fn weighed(&self, laid: &Laid) -> Evidence {
        let prior = self.centre[laid.place] - laid.template.rarity;
        let home = PLACE_CENTS * laid.place as f64;
        let best = evidence_near(&self.cents, self.weight, &laid.template.bands, home);
        Evidence {
            log: best.log + prior,
            ..best
        }
    }

    /// The evidence for the twelve notes: for the set that was told, or one that a note or two part from it.
    fn on_grid(&self, told: PitchClassSet) -> f64 {
        let prior = self.centre.into_iter().fold(f64::NEG_INFINITY, f64::max);
        let of = |set: PitchClassSet| {
            let bands: Vec<Band> = set
                .iter()
                .map(|class| Band::at(100.0 * class.index() as f64))
                .collect();
            let grids = (-5..=5).map(|k| GRID_CENTS * f64::from(k));
            let found = grids.map(|grid| evidence(&self.cents, self.weight, &bands, grid).log);
            found.fold(f64::NEG_INFINITY, f64::max)
        };
        let best = like(told).map(of).fold(f64::NEG_INFINITY, f64::max);
        best + prior
    }
}

/// How likely each place is to be the centre: by the scale stage, and because the line ends there.
fn centre(estimate: &ScaleEstimate, histogram: &Histogram) -> Table {
    let chosen = match estimate.prior {
        Prior::Neutral => &estimate.neutral,
        Prior::CommonPractice => &estimate.common_practice,
    };
    let log = chosen.map(|p| ((p + CENTRE_DOUBT) / (1.0 + 12.0 * CENTRE_DOUBT)).ln());
    let mut centre = std::array::from_fn(|place| CENTRE_WEIGHT * log[class_of(place)]);
    let last = histogram.notes.last();
    if let Some(held) = last.filter(|n| n.duration_s() >= histogram.median_s) {
        let end = place_of(held.cents_above_c()) + PLACES - END_PLACES;
        (end..=end + 2 * END_PLACES).for_each(|place| centre[place % PLACES] += ENDS);
    }
    centre
}

/// A set, and those that a note or two part from it.
fn like(told: PitchClassSet) -> impl Iterator<Item = PitchClassSet> {
    let pairs = (0..12).flat_map(|a| (0..=a).map(move |b| (a, b)));
    let changed = move |(a, b): (i64, i64)| {
        let turned = [PitchClass::new(a), PitchClass::new(b)];
        let is_in = |class: &PitchClass| told.contains(*class) != turned.contains(class);
        PitchClass::all().filter(is_in).collect::<PitchClassSet>()
    };
    std::iter::once(told)
        .chain(pairs.map(changed))
        .filter(|set| !set.is_empty())
}

fn by_log(a: &Evidence, b: &Evidence) -> std::cmp::Ordering {
    a.log.total_cmp(&b.log)
}

/// The class nearest to a place.
fn class_of(place: usize) -> usize {
    (PLACE_CENTS * place as f64 / 100.0).round() as usize % 12
}

/// The scales of our own book that lie off the twelve notes.
fn templates() -> Vec<Template> {
    let Ok(book) = Book::own() else {
        return Vec::new();
    };
    let entries = book.entries().iter().filter(|e| e.in_cents.is_some());
    let scales = entries.flat_map(|entry| {
        let rarity = book.rarity(entry);
        let scales = entry.scales(NoteName::C, 0.0).into_iter();
        scales.map(move |(scale, _)| (scale, rarity))
    });
    scales
        .filter(|(scale, _)| is_off(scale))
        .map(|(scale, rarity)| Template {
            bands: scale.bands().to_vec(),
            rarity,
            cents: scale.cents(),
            likelihoods: Likelihoods::of(&scale),
        })
        .collect()
}

fn is_off(scale: &Scale) -> bool {
    let mut degrees = scale.cents().into_iter();
    degrees.any(|cents| from_semitone(cents) >= OFF_CENTS)
}
