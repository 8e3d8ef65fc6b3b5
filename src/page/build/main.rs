//! Makes `target/whichmode.html`: `cargo run -p whichmode-page-build`.
//!
//! The module is compiled with SIMD by the toolchain at hand if it has the target wasm32-unknown-unknown (`rustup target
//! add wasm32-unknown-unknown`), else by Debian's packages rustc-web, cargo-web, rust-web-src and lld-19, which build the
//! standard library too. It is packed by gzip and written in base64 into the page beside its style, words and scripts;
//! the page's policy names the style and the script by their hashes.
//!
//! `-- --words FILE.json` makes a page in another language: a table with the keys and places of
//! `src/words/en.json`. It is checked first, and the page gives it to the module.

mod words;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

use base64::Engine;
use base64::engine::general_purpose::STANDARD as BASE64;
use flate2::{Compression, write::GzEncoder};
use sha2::{Digest, Sha256};
use words::Table;

const TARGET: &str = "wasm32-unknown-unknown";
const PACKAGE: &str = "whichmode-page";
/// Debian's compiler, its cargo and its linker for the target.
const DEBIAN_RUSTC: &str = "/usr/bin/rustc";
const DEBIAN_CARGO: &str = "/usr/bin/cargo";
const DEBIAN_LINKER: &str = "/usr/bin/wasm-ld-19";
/// The scripts of the page, in the order in which they run.
const SCRIPTS: &[&str] = &[
    "words.js",
    "safe.js",
    "engine.js",
    "store.js",
    "sound.js",
    "recorder.js",
    "hear.js",
    "class.js",
    "strings.js",
    "names.js",
    "main.js",
];

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let built = match words.as_slice() {
        [] => build(None),
        [option, file] if option == "--words" => build(Some(Path::new(file))),
        _ => Err("it takes nothing, or --words FILE.json".into()),
    };
    match built {
        Ok(path) => {
            println!("{}", path.display());
            ExitCode::SUCCESS
        }
        Err(why) => {
            eprintln!("The page was not built: {why}");
            ExitCode::FAILURE
        }
    }
}

fn build(words: Option<&Path>) -> Result<PathBuf, String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../..");
    let root = root.canonicalize().map_err(|e| e.to_string())?;
    let english = root.join("src/words/en.json");
    let words = words::table(&english, words.unwrap_or(&english))?;
    let module = compile(&root)?;
    let page = assemble(&root.join("src"), &module, &words)?;
    let path = root.join("target/whichmode.html");
    std::fs::write(&path, page).map_err(|e| format!("{}: {e}", path.display()))?;
    Ok(path)
}

/// Compiles the module; gives its bytes.
fn compile(root: &Path) -> Result<Vec<u8>, String> {
    let mut command = if has_target() {
        Command::new("cargo")
    } else if Path::new(DEBIAN_LINKER).exists() && Path::new(DEBIAN_CARGO).exists() {
        debian()
    } else {
        return Err(format!(
            "no compiler for {TARGET}. With rustup: rustup target add {TARGET}. On Debian: apt-get install rustc-web cargo-web rust-web-src lld-19"
        ));
    };
    let target = root.join("target/page");
    command
        .current_dir(root)
        .args([
            "build",
            "--profile",
            "page",
            "--target",
            TARGET,
            "--package",
            PACKAGE,
        ])
        .arg("--target-dir")
        .arg(&target)
        .env("RUSTFLAGS", "-C target-feature=+simd128");
    let status = command.status().map_err(|e| e.to_string())?;
    if !status.success() {
        return Err("the module could not be compiled; the compiler says why above".into());
    }
    let path = target.join(TARGET).join("page/whichmode_page.wasm");
    std::fs::read(&path).map_err(|e| format!("{}: {e}", path.display()))
}

/// Whether the toolchain at hand has the target's standard library.
fn has_target() -> bool {
    let shown = Command::new("rustc")
        .args(["--print", "target-libdir", "--target", TARGET])
        .output();
    shown.is_ok_and(|out| {
        let folder = String::from_utf8_lossy(&out.stdout).trim().to_string();
        out.status.success() && std::fs::read_dir(folder).is_ok_and(|mut d| d.next().is_some())
    })
}

/// Debian's toolchain, which compiles the standard library beside the module.
fn debian() -> Command {
    let mut command = Command::new(DEBIAN_CARGO);
    command
        .env("RUSTC", DEBIAN_RUSTC)
        .env("RUSTC_BOOTSTRAP", "1")
        .env("CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER", DEBIAN_LINKER)
        .env_remove("RUSTUP_TOOLCHAIN")
        .env_remove("CARGO");
    command.arg("-Zbuild-std=std,panic_abort");
    command
}

/// The page: the skeleton with everything put in its place.
fn assemble(source: &Path, module: &[u8], words: &Table) -> Result<String, String> {
    let read = |name: &str| {
        let path = source.join(name);
        std::fs::read_to_string(&path).map_err(|e| format!("{}: {e}", path.display()))
    };
    let style = read("report/html/style.css")? + &read("page/page.css")?;
    let mut script = String::from("\"use strict\";\n");
    script.push_str(&format!("const WORDS_TEXT = {};\n", quoted(&words.json()?)));
    script.push_str(&format!("const MODULE = \"{}\";\n", packed(module)?));
    script.push_str(&format!(
        "const WORKER = {};\n",
        quoted(&read("page/worker.js")?)
    ));
    script.push_str(&format!(
        "const CAPTURE = {};\n",
        quoted(&read("page/capture.js")?)
    ));
    for name in SCRIPTS {
        script.push_str(&read(&format!("page/{name}"))?);
    }
    let policy = format!(
        "default-src 'none'; style-src {}; script-src {} 'wasm-unsafe-eval' blob:; worker-src blob:; media-src blob:; img-src data:; connect-src 'none'; base-uri 'none'; form-action 'none'",
        hash(&style),
        hash(&script)
    );
    Ok(read("page/page.html")?
        .replace("@LANGUAGE@", &escaped(words.get("language")))
        .replace("@SCRIPTS_OFF@", &escaped(words.get("page.scripts_off")))
        .replace("@POLICY@", &policy)
        .replace("@STYLE@", &style)
        .replace("@SCRIPT@", &script))
}

fn packed(module: &[u8]) -> Result<String, String> {
    let mut packer = GzEncoder::new(Vec::new(), Compression::best());
    packer.write_all(module).map_err(|e| e.to_string())?;
    Ok(BASE64.encode(packer.finish().map_err(|e| e.to_string())?))
}

/// A text as a literal of JavaScript that can stand within a script element.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '<' => out.push_str("\\u003c"),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// A text that can stand in HTML.
fn escaped(text: &str) -> String {
    let text = text.replace('&', "&amp;").replace('<', "&lt;");
    text.replace('"', "&quot;")
}

/// What a Content-Security-Policy calls a text that may run: its SHA-256.
fn hash(text: &str) -> String {
    format!("'sha256-{}'", BASE64.encode(Sha256::digest(text)))
}
