//! `meltgauge traveler`: the page, whatever the job. What a browser makes of it is held by
//! `tests/traveler/check.py`.

use super::{FAST, Shop};
use std::path::{Path, PathBuf};

/// A page for any job stays below this, in bytes.
const LARGEST: usize = 1_000_000;

fn corpus(folder: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("corpus")
        .join(folder);
    let mut jobs: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_none_or(|end| end != "md"))
        .collect();
    jobs.sort();
    jobs
}

/// Every element is closed in its turn, and the page asks for nothing and runs nothing but its own script.
fn assert_sound(page: &str) {
    assert!(page.len() < LARGEST, "{} bytes", page.len());
    let harmful = |letter: char| {
        letter.is_control() && letter != '\n'
            || matches!(letter, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}' | '\u{200E}' | '\u{200F}')
    };
    assert!(!page.contains(harmful), "{:?}", page.find(harmful));
    for (word, times) in [
        ("<script", 1),
        ("</script>", 1),
        ("<style", 1),
        ("<!DOCTYPE", 1),
    ] {
        assert_eq!(page.matches(word).count(), times, "{word}");
    }
    let (style, script) = (inner(page, "style"), inner(page, "script"));
    let rest = page.replace(style, "").replace(script, "");
    let mut open: Vec<&str> = Vec::new();
    for piece in rest.split('<').skip(2) {
        let (tag, text) = piece.split_once('>').expect("a tag ends");
        assert!(
            !text.contains('>'),
            "an angle bracket that is no tag's: {text}"
        );
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name), "{piece}");
            continue;
        }
        let name = tag.split(' ').next().unwrap();
        let known = "html head meta title style script body header main footer nav section article h1 h2 h3 p ul ol \
                     li a div span strong code pre del ins mark dl dt dd label input figure figcaption table \
                     caption thead tbody tr th td svg path line rect text";
        assert!(known.split(' ').any(|known| known.trim() == name), "{tag}");
        for word in [" on", "src=", "style=", "javascript:", "url("] {
            let outside_values: String = tag.split('"').step_by(2).collect();
            assert!(!outside_values.contains(word), "{tag}");
        }
        for link in tag.split("href=\"").skip(1) {
            assert!(link.starts_with('#'), "{tag}");
        }
        if !matches!(name, "meta" | "input") {
            open.push(name);
        }
    }
    assert_eq!(open, Vec::<&str>::new());
    for word in [
        "http:",
        "https:",
        "url(",
        "@import",
        "fetch(",
        "XMLHttp",
        "innerHTML",
        "eval(",
    ] {
        assert!(!style.contains(word) && !script.contains(word), "{word}");
    }
}

fn inner<'a>(page: &'a str, name: &str) -> &'a str {
    let (_, rest) = page.split_once(&format!("<{name}>")).expect("is there");
    rest.split_once(&format!("</{name}>")).expect("ends").0
}

const SECTIONS: [&str; 15] = [
    "verdict",
    "change",
    "prepare",
    "cautions",
    "sign-off",
    "job",
    "findings",
    "rework",
    "plots",
    "plans",
    "strength",
    "concessions",
    "not-held",
    "values",
    "words",
];

#[test]
fn the_demo_jobs_page_says_what_to_do() {
    let shop = Shop::new();
    let job = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/demo/bracket.gcode");
    shop.put("bracket.gcode", std::fs::read(job).unwrap());
    let on = [
        "bracket.gcode",
        "--material",
        "PA6-CF",
        "--machine",
        "open-lined",
    ];
    let ran = shop.run([&["traveler"], &on[..], &["--section", "-o", "page.html"]].concat());
    assert_eq!((ran.code, ran.out.as_str(), ran.err.as_str()), (1, "", ""));
    let page = std::fs::read_to_string(shop.folder.path().join("page.html")).unwrap();
    assert_sound(&page);
    // Its parts in the order in which they are wanted.
    let places: Vec<usize> = SECTIONS
        .iter()
        .map(|id| page.find(&format!("<section id=\"{id}\"")).expect(id))
        .collect();
    assert!(places.is_sorted(), "{places:?}");
    let part = |id: &str| {
        let from = page.find(&format!("<section id=\"{id}\"")).unwrap();
        page[from..].split("</section>").next().unwrap()
    };
    for (id, words) in [
        ("verdict", "Do not print this job as it is"),
        (
            "verdict",
            "filament, dry (80 °C for 8 h to 12 h), nozzle, hotend, bed surface",
        ),
        ("verdict", "10 K below the 230 °C"),
        ("verdict", "Run the rework below"),
        ("verdict", "it stays held, by nozzle-soft (major)"),
        ("change", "hotend-setpoints: 220 °C → 240 °C"),
        ("change", "Fit a nozzle of hardened steel"),
        ("prepare", "Dry it at 80 °C for 8 h to 12 h"),
        ("prepare", "smooth spring steel with adhesive"),
        (
            "prepare",
            "See that 4.5 g (1.57 m) and some to spare are on it",
        ),
        ("prepare", "Gives off caprolactam when hot: ventilate"),
        ("plots", "modelled: at most 220 °C"),
        ("plots", "sheet PA6-CF: 240 to 270 °C"),
        ("plots", "hotend: at most 12 mm³/s, kept"),
        ("plots", "material: at most 8 mm³/s, kept"),
        ("plots", "to cool: at least 5 s, kept"),
        ("plots", "Not drawn: the machine is an open frame"),
        ("plans", "First layer, Z 0.2 mm: commanded speed"),
        ("plans", "past the limit: 3 strokes, 4,369 mm, at 45 mm/s"),
        ("plans", "Layer 2, Z 0.4 mm: part fan"),
        ("findings", "line 2,543"),
        ("rework", "<del>-M140 S60</del>"),
        ("rework", "<ins>+M140 S70</ins>"),
        ("strength", "One more wall adds"),
        ("concessions", "None are declared"),
        ("not-held", "6 of 71 requirements were not checked"),
        ("cautions", "local rules"),
        ("sign-off", "First layer watched"),
        ("sign-off", "Hold lifted, and why"),
        ("words", "Worked out from the file and the machine sheet"),
    ] {
        let found = part(id).contains(words);
        let is_shown = words != "line 2,543";
        assert_eq!(found, is_shown, "{id}: {words}: {}", part(id));
    }
    for words in [
        "meltgauge traveler bracket.gcode --material PA6-CF --machine open-lined --section -o FILE.html",
        "job, BLAKE3",
        "meltgauge 0.",
    ] {
        assert!(page.contains(words), "{words}");
    }
}

#[test]
fn the_verdict_is_that_of_an_inspection() {
    let shop = Shop::new();
    for folder in ["conforming", "hostile", "demo"] {
        for job in corpus(folder) {
            let job = job.to_str().unwrap();
            for material in ["PLA", "PA6-CF"] {
                let on = [job, "--material", material, "--machine", "closed-hardened"];
                let inspected = shop.run([&["inspect", "--quiet"], &on[..]].concat());
                let ran = shop.run([&["traveler"], &on[..], &["-o", "-"]].concat());
                assert_eq!(ran.code, inspected.code, "{job}: {}", ran.err);
                match ran.code {
                    2 => assert!(ran.out.is_empty() && !ran.err.is_empty(), "{job}"),
                    _ => assert_sound(&ran.out),
                }
                if material == "PLA" && folder == "hostile" {
                    break;
                }
            }
        }
    }
}

#[test]
fn text_of_a_job_shows_as_text() {
    let shop = Shop::new();
    let evil = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>&amp;\u{202E}gnp\u{2066}\x1b[2J\x07";
    let mut job = format!("; {evil}\n; material: {evil}\nSTART_{evil} A=\"{evil}\"\n");
    job.push_str(FAST);
    job = job.replace("M84\n", "M104 <b>S0</b>\nG1 X{evil} Y[\"<script>\"]\n");
    job.push_str(&format!("FOO_{} X1\n", "<'>".repeat(300_000)));
    job.push_str(&format!("M117 {}\n", "\u{202E}\"&".repeat(150_000)));
    for name in [
        "<script>alert(3)<script>.gcode",
        "a\"b'c&d.gcode",
        "\u{202E}x\x1b[31m.gcode",
    ] {
        shop.put(name, &job);
        let mut call = vec![
            "traveler",
            name,
            "--material",
            "PLA",
            "--machine",
            "open-lined",
        ];
        call.extend(["--walls", "-o", "page.html"]);
        let ran = shop.run(call);
        assert_eq!(ran.code, 1, "{}", ran.err);
        let page = std::fs::read(shop.folder.path().join("page.html")).unwrap();
        let page = String::from_utf8(page).unwrap();
        assert_sound(&page);
        assert!(
            !page.contains("<img") && !page.contains("<b>"),
            "tags of the job"
        );
        assert!(page.contains("&lt;script&gt;"), "the job's text is shown");
        assert!(
            page.contains("(cut)") || page.contains("left out"),
            "what is cut is said"
        );
    }
}

#[test]
fn a_page_stays_small_whatever_the_job_finds() {
    let shop = Shop::new();
    // Thousands of words that nobody knows, a layer of a hundred thousand short strokes, and feeds to lower.
    let mut job = FAST.replace("M84\n", "");
    job.push_str("M83\n");
    for word in 0..3000 {
        job.push_str(&format!("UNKNOWN_WORD_{word}_{} P1\n", "x".repeat(400)));
    }
    for stroke in 0..60_000 {
        let (x, y) = (stroke % 300, stroke / 300);
        let (x, y) = (20.0 + f64::from(x) * 0.5, 20.0 + f64::from(y) * 0.7);
        job.push_str(&format!(
            "G1 X{x:.2} Y{y:.2} Z0.8 F9000\nG1 X{:.2} E0.4 F3000\n",
            x + 0.4
        ));
    }
    shop.put("many.gcode", &job);
    let call = [
        "traveler",
        "many.gcode",
        "--material",
        "PLA",
        "--machine",
        "open-lined",
        "--repair",
    ];
    let ran = shop.run([&call[..], &["-o", "page.html"]].concat());
    assert!(ran.code < 2, "{}", ran.err);
    let page = std::fs::read_to_string(shop.folder.path().join("page.html")).unwrap();
    assert_sound(&page);
    assert!(
        page.contains("have no room on this page"),
        "what is left out is said"
    );
}

#[test]
fn no_page_is_better_than_half_a_page() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let on = ["--material", "PLA", "--machine", "open-lined"];
    let ran = shop.run([&["traveler", "lid.gcode", "-o", "none/page.html"], &on[..]].concat());
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("cannot be written"), "{}", ran.err);
    let ran = shop.run([&["traveler", "gone.gcode", "-o", "page.html"], &on[..]].concat());
    assert_eq!(ran.code, 2, "{}", ran.err);
    assert!(!shop.folder.path().join("page.html").exists());
    // Without sheets there is a page, and it says what is missing.
    let ran = shop.fed(&["traveler", "-", "-o", "-"], FAST.as_bytes());
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_sound(&ran.out);
    for words in [
        "No material sheet was held against this job",
        "Not drawn: no machine is named",
    ] {
        assert!(ran.out.contains(words), "{words}");
    }
}
