//! Names that a job's marks give to objects, against the objects that its motion shows.

use super::{figures, stripped};
use crate::sliced::{Job, Line, Object, Shape, Sliced};
use meltgauge::survey::{NameFigures, WallFigures};

/// How a job marks that what follows is laid for a name, and that it is no longer.
type Form = fn(&str) -> [String; 2];

const FORMS: [Form; 3] = [
    |name| {
        [
            format!("BEGIN_OBJECT NAME=\"{name}\""),
            format!("END_OBJECT NAME=\"{name}\""),
        ]
    },
    |name| {
        [
            format!("; printing object {name}"),
            format!("; stop printing object {name}"),
        ]
    },
    |name| {
        let number = name.len();
        [format!("M486 S{number} A\"{name}\""), "M486 S-1".to_owned()]
    },
];

/// The job with marks before every line whose name differs from the one before.
fn marked(sliced: &Sliced, form: Form, name: impl Fn(&Line) -> Option<&'static str>) -> String {
    let mut text = String::new();
    let mut at_hand = None;
    let mut made = sliced.lines.iter().peekable();
    for (number, line) in (1..).zip(sliced.text.lines()) {
        if let Some(laid) = made.next_if(|laid| laid.number == number) {
            let next = name(laid);
            if next != at_hand {
                text.extend(at_hand.map(|name| form(name)[1].clone() + "\n"));
                text.extend(next.map(|name| form(name)[0].clone() + "\n"));
                at_hand = next;
            }
        }
        text += line;
        text.push('\n');
    }
    text.extend(at_hand.map(|name| form(name)[1].clone() + "\n"));
    text
}

fn two(one_after_another: bool) -> Job {
    let part = |x: f64, at: f64| Object {
        shape: Shape::Box { x, y: 20.0 },
        at: [at, 110.0],
        height: 3.0,
    };
    Job {
        one_after_another,
        ..Job::of(&[part(18.0, 70.0), part(30.0, 150.0)])
    }
}

fn own(line: &Line) -> Option<&'static str> {
    line.object.map(|object| ["lid", "bottom"][object])
}

fn names(told: &WallFigures) -> &[NameFigures] {
    told.names.as_deref().unwrap()
}

/// The objects of each name, and the names of each object.
type Who = (Vec<(String, Vec<usize>)>, Vec<Vec<usize>>);

fn who(told: &WallFigures) -> Who {
    let of_name = |name: &NameFigures| {
        let text = String::from_utf8(name.name.clone()).unwrap();
        (text, name.objects.clone())
    };
    let objects = told.objects.iter();
    (
        names(told).iter().map(of_name).collect(),
        objects
            .map(|object| object.names.iter().map(|(name, _)| *name).collect())
            .collect(),
    )
}

#[test]
fn each_object_has_its_own_name() {
    for one_after_another in [false, true] {
        let sliced = two(one_after_another).slice();
        for form in FORMS {
            let job = marked(&sliced, form, own);
            let told = figures(job.as_bytes());
            assert_eq!(
                who(&told),
                (
                    vec![("lid".to_owned(), vec![0]), ("bottom".to_owned(), vec![1])],
                    vec![vec![0], vec![1]]
                )
            );
            for (object, name) in told.objects.iter().zip(names(&told)) {
                assert!((name.volume / object.volume - 1.0).abs() < 1e-9);
                assert_eq!(name.begun, if one_after_another { 1 } else { 15 });
                let [begin, end] = form(std::str::from_utf8(&name.name).unwrap());
                let lines: Vec<&str> = job.lines().collect();
                assert_eq!(lines[name.lines[0] as usize - 1], begin);
                assert_eq!(lines[name.lines[1] as usize - 1], end);
            }
            // And nothing else is told otherwise.
            let bare = figures(&stripped(sliced.text.as_bytes()));
            assert_eq!((&told.walls.as_ref().map(|walls| walls.usual)), &Ok(2));
            assert_eq!((&told.infill, &told.contact), (&bare.infill, &bare.contact));
        }
    }
}

#[test]
fn names_that_motion_does_not_bear_out() {
    let sliced = two(false).slice();
    let shares = |name: &dyn Fn(&Line) -> Option<&'static str>| {
        let told = figures(marked(&sliced, FORMS[0], name).as_bytes());
        let (of_names, of_objects) = who(&told);
        (
            of_names
                .into_iter()
                .map(|(_, objects)| objects)
                .collect::<Vec<_>>(),
            of_objects,
        )
    };
    // Exchanged above the middle.
    let exchanged = |line: &Line| {
        let object = line.object?;
        Some(["lid", "bottom"][if line.z > 1.5 { 1 - object } else { object }])
    };
    assert_eq!(
        shares(&exchanged),
        (vec![vec![0, 1], vec![0, 1]], vec![vec![0, 1], vec![0, 1]])
    );
    // One name for both, as a file of several parts has it.
    assert_eq!(
        shares(&|line| line.object.map(|_| "sheet")),
        (vec![vec![0, 1]], vec![vec![0], vec![0]])
    );
    // One of them has none.
    assert_eq!(
        shares(&|line| own(line).filter(|name| *name == "lid")),
        (vec![vec![0]], vec![vec![0], vec![]])
    );
    // A name for the skirt is none of the part's.
    assert_eq!(
        shares(&|line| own(line).or((line.class == crate::sliced::Class::Skirt).then_some("rim"))),
        (vec![vec![], vec![0], vec![1]], vec![vec![1], vec![2]])
    );
    // Two names in one body.
    let inlay = |line: &Line| {
        line.object?;
        Some(if line.class == crate::sliced::Class::SparseInfill {
            "core"
        } else {
            "shell"
        })
    };
    let told = figures(marked(&sliced, FORMS[1], inlay).as_bytes());
    let (_, of_objects) = who(&told);
    assert_eq!(of_objects, [[0, 1], [0, 1]]);
    let inner = sliced.volume(|class| class == crate::sliced::Class::SparseInfill);
    assert!((names(&told)[1].volume / inner - 1.0).abs() < 0.01);
}

#[test]
fn prose_names_nothing_and_the_surest_mark_speaks() {
    let sliced = two(false).slice();
    let none = |job: &str| figures(job.as_bytes()).names.unwrap_err();
    assert_eq!(none(&sliced.text), "no mark names an object");
    let prose = format!("; printing object slowly\n{}; end of object\n", sliced.text);
    assert_eq!(none(&prose), "no mark names an object");
    let many: String = (0..600)
        .map(|number| format!("DEFINE_OBJECT NAME=n{number}\n"))
        .collect();
    assert_eq!(
        none(&format!("{many}{}", sliced.text)),
        "the job names more than 512 objects"
    );
    // Marked as comments and as macros, by names that differ.
    let both: Form = |name| {
        let [begin, end] = FORMS[0](name);
        [
            format!("; printing object {name}.part copy 0\n{begin}"),
            format!("{end}\n; stop printing object {name}.part copy 0"),
        ]
    };
    let told = figures(marked(&sliced, both, own).as_bytes());
    assert_eq!(
        who(&told).0,
        [("lid".to_owned(), vec![0]), ("bottom".to_owned(), vec![1])]
    );
    // Declared, and never laid.
    let declared = format!("DEFINE_OBJECT NAME=lug\n{}", marked(&sliced, FORMS[0], own));
    let told = figures(declared.as_bytes());
    assert_eq!(
        (names(&told)[0].begun, names(&told)[0].objects.len()),
        (0, 0)
    );
    assert_eq!(names(&told).len(), 3);
}
