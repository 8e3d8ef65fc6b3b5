//! Files of fitted numbers say where they come from, and one that was cut, changed by hand or fitted on other features is
//! refused in words.
//!
//! The format is that of `src/network/table.rs`, written here once more by hand; FNV-1a of "foobar" is a published test value
//! (G. Fowler, L. C. Noll, K.-P. Vo, "The FNV non-cryptographic hash algorithm", 2019).

use std::path::Path;

use whichmode::network::table::{MAGIC, Table, TableError, fnv1a};
use whichmode::scale::Feature;

const TABLES: [&str; 3] = [
    "src/scale/centre.bin",
    "src/scale/set.bin",
    "src/pitch/model.bin",
];
const NAMES: [&str; 3] = ["length", "height", "onset"];
const NUMBERS: [f32; 6] = [0.25, -1.5, 3.0e-3, 7.0, 0.0, -0.125];

fn text(bytes: &mut Vec<u8>, text: &str) {
    bytes.extend((text.len() as u32).to_le_bytes());
    bytes.extend(text.as_bytes());
}

/// A table of one part, 2 × 3.
fn table() -> Vec<u8> {
    let numbers: Vec<u8> = NUMBERS.iter().flat_map(|x| x.to_le_bytes()).collect();
    let names = NAMES.map(|name| format!("{name}\0")).concat();
    let mut bytes = b"wm-net 1".to_vec();
    bytes.extend(fnv1a(numbers.iter().copied()).to_le_bytes());
    bytes.extend(fnv1a(names.bytes()).to_le_bytes());
    text(&mut bytes, "Made up.");
    bytes.extend(1u32.to_le_bytes());
    text(&mut bytes, "weights");
    bytes.extend(2u32.to_le_bytes());
    bytes.extend(3u32.to_le_bytes());
    bytes.extend(numbers);
    bytes
}

#[test]
fn the_hash_is_fnv_1a() {
    assert_eq!(fnv1a([]), 0xcbf2_9ce4_8422_2325);
    assert_eq!(fnv1a("foobar".bytes()), 0x8594_4171_f739_67e8);
}

#[test]
fn a_table_is_read_as_it_was_written() {
    let table = Table::read(&table(), NAMES).unwrap();
    assert_eq!(table.provenance, "Made up.");
    assert_eq!(table.part("weights", 2, 3), Ok(&NUMBERS[..]));
    assert_eq!(
        table.part("weights", 3, 2),
        Err(TableError::Shape("weights".into()))
    );
    assert_eq!(
        table.part("bias", 1, 3),
        Err(TableError::Missing("bias".into()))
    );
}

/// Reordered, renamed, missing and added features, and ones that only run together otherwise.
#[test]
fn other_features_are_refused() {
    let others: [&[&str]; 5] = [
        &["height", "length", "onset"],
        &["length", "height", "onsets"],
        &["length", "height"],
        &["length", "height", "onset", "pitch"],
        &["lengthh", "eight", "onset"],
    ];
    for names in others {
        let error = Table::read(&table(), names).unwrap_err();
        assert_eq!(error, TableError::Features, "{names:?}");
        assert!(error.to_string().contains("in another order"));
    }
}

/// Every cut and every changed byte is noticed, but for a change of the text that says where the numbers come from, or of
/// names and shapes, which are asked for.
#[test]
fn a_damaged_table_is_refused_without_panic() {
    let whole = table();
    for length in 0..whole.len() {
        assert!(Table::read(&whole[..length], NAMES).is_err(), "{length}");
    }
    let as_it_is = Table::read(&whole, NAMES).unwrap();
    for at in 0..whole.len() {
        let mut changed = whole.clone();
        changed[at] ^= 0x15;
        if let Ok(table) = Table::read(&changed, NAMES) {
            assert!(
                table.provenance != as_it_is.provenance || table.part("weights", 2, 3).is_err()
            );
            assert_eq!(table.parts[0].numbers, as_it_is.parts[0].numbers, "{at}");
        }
    }
    let mut longer = whole.clone();
    longer.push(0);
    assert_eq!(Table::read(&longer, NAMES), Err(TableError::Numbers));
    assert_eq!(Table::read(b"RIFF", NAMES), Err(TableError::Magic));
}

fn shipped(table: &str) -> Vec<u8> {
    std::fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join(table)).expect(table)
}

/// The first text of a file, which stands behind the magic and two hashes.
fn provenance(bytes: &[u8]) -> String {
    let length = u32::from_le_bytes(bytes[24..28].try_into().unwrap()) as usize;
    String::from_utf8(bytes[28..28 + length].to_vec()).unwrap()
}

#[test]
fn shipped_tables_say_what_they_were_fitted_on() {
    for table in TABLES {
        let bytes = shipped(table);
        assert!(bytes.starts_with(&MAGIC), "{table}");
        let text = provenance(&bytes);
        assert!(text.starts_with("Fitted by tests/fit/"), "{table}: {text}");
        assert!(text.contains("hash of the"), "{table}: {text}");
    }
}

/// The shipped numbers belong to the features of this program, and to none in another order.
#[test]
fn shipped_tables_fit_the_features() {
    let reordered = Feature::NAMES.iter().rev();
    let error = Table::read(&shipped(TABLES[0]), reordered).unwrap_err();
    assert_eq!(error, TableError::Features);
    #[cfg(feature = "fitting")]
    {
        use whichmode::{pitch, scale::fitting};
        Table::read(&shipped(TABLES[0]), fitting::feature_names()).unwrap();
        Table::read(&shipped(TABLES[1]), fitting::set::Feature::NAMES).unwrap();
        Table::read(&shipped(TABLES[2]), pitch::fitting::feature_names()).unwrap();
    }
}
