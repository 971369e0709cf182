//! Any line into commands, in the order a control carries them out.

use super::{Axes, Command, Dialect, DwellUnit, Guard, MotionWord, Plane, Stop, Wait, is_known};
use crate::grammar::{Kind, Word};

/// The commands of one line, each with the index of the word that asks for it.
pub type Commands = Vec<(Command, usize)>;

/// Reads every command of a line into `commands`, and its other numbers into `axes`.
///
/// A line with several G and M words is carried out in RS-274's order (NISTIR 6556, table 8).
pub fn read(words: &[Word], dialect: &Dialect, axes: &mut Axes, commands: &mut Commands) {
    commands.clear();
    axes.clear();
    let mut has_motion_axes = false;
    for (index, word) in words.iter().enumerate() {
        match (word.kind, word.letter) {
            (Kind::Name, _) => {
                commands.push((Command::Macro, index));
                return;
            }
            (Kind::Number, b'G' | b'M') => {}
            (Kind::Number | Kind::Bare | Kind::Quoted | Kind::Placeholder, 1..) => {
                axes.take(word);
                has_motion_axes |= matches!(word.letter, b'X' | b'Y' | b'Z' | b'E' | b'F');
            }
            (Kind::Stray, b'A'..=b'Z') => axes.take(word),
            _ => {}
        }
    }
    let elsewhere = names_a_tool_elsewhere(words);
    for (index, word) in words.iter().enumerate() {
        if word.kind != Kind::Number {
            continue;
        }
        let command = match word.letter {
            b'G' => g_word(word, dialect, axes),
            b'M' => m_word(word, dialect, axes),
            b'T' if !elsewhere => Command::Tool(tool(word)),
            _ => continue,
        };
        commands.push((command, index));
        if commands.len() == MOST_COMMANDS {
            break;
        }
    }
    let changes_tool = commands
        .iter()
        .any(|(command, _)| *command == Command::ChangeTool);
    // `G90 X5`, `T1 M6 F20`: the motion mode in force, behind the words that take no numbers.
    let takes_none = |command: &Command| match command {
        Command::Tool(_) | Command::ChangeTool => changes_tool,
        other => is_mode(other),
    };
    if has_motion_axes
        && (commands.is_empty() || !has_m_with_numbers(words))
        && commands.iter().all(|(command, _)| takes_none(command))
    {
        commands.push((Command::Motion(None), 0));
    }
    if commands.len() > 1 {
        commands.sort_by_key(|(command, _)| order(command));
    }
}

/// The most commands of one line; RS-274 has no line with so many (NISTIR 6556, 3.3.5).
const MOST_COMMANDS: usize = 64;

/// Whether an M word stands there that takes numbers of its own: the axis letters are its own then.
fn has_m_with_numbers(words: &[Word]) -> bool {
    words.iter().any(|word| {
        word.kind == Kind::Number
            && word.letter == b'M'
            && !matches!(word.whole(), Some(82 | 83 | 3..=9 | 48 | 49))
    })
}

/// Whether a T word is a parameter here, as in `M104 T1 S200`.
fn names_a_tool_elsewhere(words: &[Word]) -> bool {
    words.iter().any(|word| {
        word.letter == b'M'
            && word.kind == Kind::Number
            && !matches!(word.whole(), Some(6 | 82 | 83 | 117 | 118))
    })
}

const fn is_mode(command: &Command) -> bool {
    matches!(
        command,
        Command::Plane(_)
            | Command::Inches(_)
            | Command::SelectCoordinates(_)
            | Command::Absolute(_)
            | Command::AbsoluteExtrusion(_)
            | Command::InverseTime(_)
            | Command::Idle
    )
}

/// The step of NISTIR 6556, table 8; additive words keep the place of their kin.
const fn order(command: &Command) -> u8 {
    match command {
        Command::InverseTime(_) => 2,
        Command::Tool(_) => 5,
        Command::ChangeTool => 6,
        Command::Dwell(_) => 10,
        Command::Plane(_) => 11,
        Command::Inches(_) => 12,
        Command::SelectCoordinates(_) => 15,
        Command::Absolute(_) | Command::AbsoluteExtrusion(_) => 17,
        Command::Home
        | Command::SetCoordinates
        | Command::SetPosition
        | Command::Offsets(_)
        | Command::Probe => 19,
        Command::Motion(_) => 20,
        Command::Stop(_) | Command::End(_) => 21,
        _ => 9,
    }
}

fn tool(word: &Word) -> Option<u32> {
    word.whole()
        .and_then(|tool| u32::try_from(tool).ok())
        .filter(|tool| *tool < 64)
}

/// The tool's number behind a letter.
fn whole_tool(axes: &Axes, letter: u8) -> Option<u32> {
    axes.get(letter)
        .filter(|n| n.fract() == 0.0 && (0.0..64.0).contains(n))
        .map(|n| n as u32)
}

fn g_word(word: &Word, dialect: &Dialect, axes: &Axes) -> Command {
    let Some(tenths) = word.tenths() else {
        return Command::Unknown(b'G', word.value);
    };
    match tenths {
        0 => Command::Motion(Some(MotionWord::Rapid)),
        10 => Command::Motion(Some(MotionWord::Straight)),
        20 => Command::Motion(Some(MotionWord::Clockwise)),
        30 => Command::Motion(Some(MotionWord::Counterclockwise)),
        40 => {
            let p = axes.get(b'P').map(|p| match dialect.dwell {
                DwellUnit::Milliseconds => p / 1000.0,
                DwellUnit::Seconds => p,
            });
            Command::Dwell(axes.get(b'S').or(p).unwrap_or(0.0).max(0.0))
        }
        100 if dialect.g10_retracts && !axes.named(b'L') && !axes.named(b'P') => {
            Command::Retract(true)
        }
        // `G10 P0 S210`: a tool's temperature (common practice); RS-274's has an L.
        100 if axes.any(b"P") && axes.any(b"S") && !axes.named(b'L') => Command::Hotend {
            target: axes.get(b'S'),
            tool: whole_tool(axes, b'P'),
            wait: Wait::No,
        },
        100 => Command::SetCoordinates,
        110 => Command::Retract(false),
        170 => Command::Plane(Plane::Xy),
        180 => Command::Plane(Plane::Xz),
        190 => Command::Plane(Plane::Yz),
        200 => Command::Inches(true),
        210 => Command::Inches(false),
        280 => Command::Home,
        290..=309 | 320 | 330 | 380..=389 => Command::Probe,
        540 | 550 | 560 | 570 | 580 | 590 => select((tenths - 540) / 10),
        591..=593 => select(tenths - 585),
        900 => Command::Absolute(true),
        910 => Command::Absolute(false),
        920 => Command::SetPosition,
        921 | 922 => Command::Offsets(false),
        923 => Command::Offsets(true),
        930 => Command::InverseTime(true),
        940 => Command::InverseTime(false),
        _ if is_known(b'G', tenths) => Command::Idle,
        _ => Command::Unknown(b'G', tenths),
    }
}

/// G54 is 0, G59.3 is 8.
fn select(system: i64) -> Command {
    Command::SelectCoordinates(u8::try_from(system).unwrap_or(0))
}

fn m_word(word: &Word, dialect: &Dialect, axes: &Axes) -> Command {
    let Some(tenths) = word.tenths() else {
        return Command::Unknown(b'M', word.value);
    };
    if tenths % 10 != 0 {
        return if is_known(b'M', tenths) {
            Command::Idle
        } else {
            Command::Unknown(b'M', tenths)
        };
    }
    let tool = whole_tool(axes, b'T');
    let heat = |waits: bool| {
        let target = axes.get(b'S').or_else(|| axes.get(b'R'));
        let both = axes.get(b'S').is_none() && axes.any(b"R") && dialect.r_waits_for_cooling;
        let wait = match (waits, both) {
            (false, _) => Wait::No,
            (true, false) => Wait::WhileHeating,
            (true, true) => Wait::Both,
        };
        (target, wait)
    };
    match tenths / 10 {
        0 | 1 | 25 | 125 | 226 | 601 => Command::Stop(Stop::Pause),
        600 => Command::Stop(Stop::FilamentChange),
        2 => Command::End(dialect.m2_ends),
        30 if dialect.m30_ends => Command::End(true),
        6 => Command::ChangeTool,
        // `M84 S60` sets after how long the motors go off by themselves; `M84 E` is one motor.
        18 | 84 if axes.any(b"S") || (axes.named(b'E') && !axes.named(b'X')) => Command::Idle,
        18 | 84 => Command::MotorsOff,
        80 => Command::Power(true),
        81 => Command::Power(false),
        82 => Command::AbsoluteExtrusion(true),
        83 => Command::AbsoluteExtrusion(false),
        104 => {
            let (target, wait) = heat(false);
            Command::Hotend { target, tool, wait }
        }
        109 => {
            let (target, wait) = heat(true);
            Command::Hotend { target, tool, wait }
        }
        140 => {
            let (target, wait) = heat(false);
            Command::Bed { target, wait }
        }
        190 => {
            let (target, wait) = heat(true);
            Command::Bed { target, wait }
        }
        141 => {
            let (target, wait) = heat(false);
            Command::Chamber { target, wait }
        }
        191 => {
            let (target, wait) = heat(true);
            Command::Chamber { target, wait }
        }
        116 => Command::WaitForHeat,
        // A tool's temperatures: S in use, R on standby, A0 off (common practice).
        568 if axes.get(b'A') == Some(0.0) => Command::Hotend {
            target: Some(0.0),
            tool: whole_tool(axes, b'P'),
            wait: Wait::No,
        },
        568 if axes.any(b"S") => Command::Hotend {
            target: axes.get(b'S'),
            tool: whole_tool(axes, b'P'),
            wait: Wait::No,
        },
        568 => Command::Idle,
        // A file of the control's own is carried out: nobody knows what it does.
        98 => Command::Macro,
        106 => {
            let full = f64::from(dialect.fan_full.max(1));
            let share = axes
                .get(b'S')
                .map_or(1.0, |speed| (speed / full).clamp(0.0, 1.0));
            Command::Fan {
                share,
                index: whole_tool(axes, b'P').unwrap_or(0),
            }
        }
        107 => Command::Fan {
            share: 0.0,
            index: whole_tool(axes, b'P').unwrap_or(0),
        },
        112 => Command::EmergencyStop,
        200 if axes.get(b'S') == Some(0.0) => Command::Volumetric(None),
        200 => Command::Volumetric(axes.get(b'D').filter(|diameter| *diameter > 0.0)),
        number @ (201..=205 | 566) => Command::Limits(number),
        220 => Command::SpeedFactor(axes.get(b'S')),
        221 => Command::FlowFactor {
            percent: axes.get(b'S'),
            tool,
        },
        211 => match axes.get(b'S') {
            Some(on) => Command::Guard(Guard::TravelLimits, on != 0.0),
            None => Command::Idle,
        },
        302 if !axes.any(b"PS") => Command::Idle,
        302 => match (axes.get(b'P'), axes.get(b'S')) {
            (Some(allow), _) => Command::Guard(Guard::ColdExtrusion, allow == 0.0),
            // `M302 S0`: the least temperature is none at all.
            (None, Some(least)) => Command::Guard(Guard::ColdExtrusion, least > 0.0),
            (None, None) => Command::Guard(Guard::ColdExtrusion, false),
        },
        500 | 502 => Command::StoreSettings,
        number @ (92 | 206 | 301 | 304 | 428 | 665 | 666 | 851) => Command::ChangeSettings(number),
        number if is_known(b'M', number * 10) => Command::Idle,
        501 | 503 => Command::Idle,
        number => Command::Unknown(b'M', number * 10),
    }
}
