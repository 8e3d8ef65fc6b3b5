// Prints the notes of an ABC file as MIDI numbers, as the npm package abcjs parses them; a warning of the parser is an error.

const abcjs = require("abcjs");
const fs = require("fs");

const LETTERS = "CDEFGAB";
const NATURAL = [0, 2, 4, 5, 7, 9, 11];
const SIGNS = { sharp: 1, flat: -1, natural: 0, dblsharp: 2, dblflat: -2 };

function ofKey(key, letter) {
  const found = (key.accidentals || []).find((a) => a.note.toUpperCase() === letter);
  return found ? SIGNS[found.acc] : 0;
}

const tune = abcjs.parseOnly(fs.readFileSync(process.argv[2], "utf8"))[0];
if (tune.warnings) throw new Error(tune.warnings.join("\n"));
const notes = [];
let key = null;
for (const staff of tune.lines.flatMap((line) => line.staff || [])) {
  key = key || staff.key;
  for (const element of staff.voices.flat().filter((e) => e.el_type === "note" && e.pitches)) {
    for (const { pitch, accidental } of element.pitches) {
      const octave = Math.floor(pitch / 7);
      const place = pitch - 7 * octave;
      const sign = accidental === undefined ? ofKey(key, LETTERS[place]) : SIGNS[accidental];
      notes.push(60 + 12 * octave + NATURAL[place] + sign);
    }
  }
}
console.log(JSON.stringify(notes));
