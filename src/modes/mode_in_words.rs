//! Reading a parent mode with altered, missing or added degrees, in the order that the user writes them:
//! "Aeolian natural 7 no 4", "Ionian add b7".

use super::degree::{Degree, parse_degree};
use super::parents;
use super::shape::Shape;

/// A mode with altered, missing or added degrees, in the order that the user writes them: "Aeolian natural 7 no 4".
pub fn mode_in_words(text: &str) -> Option<Shape> {
    let lower = text
        .to_lowercase()
        .replace(['♭'], "b")
        .replace(['♯'], "#")
        .replace("natural ", "natural")
        .replace("nat ", "natural")
        .replace('♮', "natural");
    let (base, rest) = base_mode(&lower)?;
    let mut degrees: Vec<Degree> = base;
    let mut verb = "alter";
    for word in rest
        .split(|c: char| c.is_whitespace() || c == ',')
        .filter(|word| !word.is_empty())
    {
        match word {
            "no" | "without" | "omit" => verb = "no",
            "add" | "with" | "plus" => verb = "add",
            _ => apply(verb, parse_degree(word)?, &mut degrees)?,
        }
    }
    Some(Shape::from_offsets(
        degrees.iter().map(|degree| degree.offset()),
    ))
}

/// The longest mode name that the text begins with, and what follows it.
fn base_mode(lower: &str) -> Option<(Vec<Degree>, &str)> {
    let names = parents::modes()
        .iter()
        .map(|mode| (mode.name.to_lowercase(), mode));
    let fitting =
        names.filter_map(|(name, mode)| Some((name.len(), lower.strip_prefix(&name)?, mode)));
    let (_, rest, mode) = fitting.max_by_key(|(length, _, _)| *length)?;
    Some((mode.degrees(), rest))
}

/// Alters, drops or adds one degree; `None` where there is none to drop.
fn apply(verb: &str, degree: Degree, degrees: &mut Vec<Degree>) -> Option<()> {
    let at = degrees.iter().position(|own| own.number == degree.number);
    match verb {
        "add" => degrees.push(degree),
        "no" => drop(degrees.remove(at.filter(|_| degree.number != 1)?)),
        _ => degrees[at?] = relative_to(degrees[at?], degree),
    }
    Some(())
}

/// A sharp on a degree that the mode has flat raises it, as many write ("Locrian #2"): it becomes natural.
fn relative_to(own: Degree, written: Degree) -> Degree {
    let raises_flat = written.alteration > 0 && own.alteration < 0;
    if raises_flat {
        Degree {
            alteration: own.alteration + written.alteration,
            ..written
        }
    } else {
        written
    }
}
