//! The words of a lesson's pages: a heading, a few short sentences with the numbers of the run, and
//! what a standard says.

use crate::analysis::cause::ohms;
use crate::analysis::lesson::Lesson;
use crate::analysis::lesson::Page;
use crate::analysis::lesson::Step;
use crate::analysis::lesson::broadcast::Stated;
use crate::analysis::lesson::sum::Carried;
use crate::analysis::verdict::Seen;
use crate::output::axis::number;
use crate::output::axis::trimmed;
use crate::output::lesson_mistakes;
use crate::output::lesson_set;

/// What is said on a page.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// A short name, for files and sections: letters, figures and hyphens.
    pub name: String,
    /// The heading.
    pub heading: String,
    /// Two or three sentences, sometimes four.
    pub sentences: Vec<String>,
    /// What a standard says, with its name.
    pub source: Option<String>,
    /// The numbers in the sentences.
    pub figures: Vec<Figure>,
}

/// A number of the run.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// What it is.
    pub name: String,
    /// Its value in the unit.
    pub value: f64,
    /// The unit.
    pub unit: &'static str,
}

impl Told {
    /// A page without a source or figures so far.
    pub(super) fn new(name: &str, heading: &str, sentences: Vec<String>) -> Self {
        let (name, heading) = (name.to_owned(), heading.to_owned());
        Self { name, heading, sentences, source: None, figures: Vec::new() }
    }

    /// With a figure more.
    pub(super) fn figure(mut self, name: &str, value: f64, unit: &'static str) -> Self {
        self.figures.push(Figure { name: name.to_owned(), value, unit });
        self
    }

    pub(super) fn source(mut self, source: String) -> Self {
        self.source = Some(source);
        self
    }
}

/// The words of a page.
#[must_use]
pub fn told(lesson: &Lesson, page: Page) -> Told {
    match page {
        Page::Sync => sync(lesson),
        Page::Porches => porches(lesson),
        Page::Element(index) => element(lesson, index),
        Page::Mixer => mixer(lesson),
        Page::Load => load(lesson),
        Page::Slice => lesson_set::slice(lesson),
        Page::Clamp => lesson_set::clamp(lesson),
        Page::Stripe => lesson_set::stripe(lesson),
        Page::Lines => lesson_set::lines(lesson),
        Page::FieldSync => lesson_set::field_sync(lesson),
        Page::Mistake(index) => lesson_mistakes::mistake(lesson, index),
    }
}

/// "703 mV".
pub(super) fn millivolts(volts: f64) -> String {
    format!("{} mV", number(1e3 * volts, 0))
}

/// "1.11 V".
pub(super) fn volts(value: f64) -> String {
    format!("{} V", number(value, 2))
}

/// "4.5 µs".
pub(super) fn microseconds(seconds: f64) -> String {
    format!("{} µs", trimmed(1e6 * seconds, 2))
}

/// Length of so many clocks, s.
pub(super) fn clocks(lesson: &Lesson, count: u32) -> f64 {
    lesson.timing.clock.seconds(u64::from(count))
}

/// "the left paddle".
pub(super) fn the(element: &str) -> String {
    match element {
        "field" => "the field lines".to_owned(),
        "ball" => "the ball".to_owned(),
        "left" => "the left paddle".to_owned(),
        "right" => "the right paddle".to_owned(),
        other => format!("the “{other}”"),
    }
}

/// The same at the start of a sentence or a heading.
pub(super) fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn stated(stated: &Stated) -> String {
    let value = trimmed(stated.value, 2);
    match stated.range {
        Some([low, high]) => {
            format!("{value} µs ({} to {})", trimmed(low, 2), trimmed(high, 2))
        }
        None => format!("{value} µs"),
    }
}

fn sync(lesson: &Lesson) -> Told {
    let width_s = clocks(lesson, lesson.timing.line_sync);
    let depth_v = lesson.reading.black_v - lesson.reading.tip_v;
    let sentences = vec![
        "A television draws its picture line by line; a socket on the board gives it each line as a \
         voltage that changes in time."
            .to_owned(),
        "Before each line the voltage dips: this is the sync pulse, which tells the set, the \
         television, where a line starts."
            .to_owned(),
        format!(
            "Here it lasts {} (millionths of a second) and lies {} (thousandths of a volt) below \
             black, the level of a dark screen.",
            microseconds(width_s),
            millivolts(depth_v)
        ),
    ];
    let standard = lesson.broadcast;
    Told::new("sync", "The sync pulse", sentences)
        .source(format!(
            "{}: {} wide, {} deep where white lies {} above black.",
            standard.source,
            stated(&standard.sync_us),
            millivolts(standard.depth_v),
            millivolts(standard.white_v)
        ))
        .figure("sync width", 1e6 * width_s, "µs")
        .figure("sync depth", 1e3 * depth_v, "mV")
        .figure("black", 1e3 * lesson.reading.black_v, "mV")
        .figure("tip", 1e3 * lesson.reading.tip_v, "mV")
}

fn porches(lesson: &Lesson) -> Told {
    let timing = &lesson.timing;
    let front_s = clocks(lesson, timing.clocks_per_line - timing.active_stop);
    let back_s = clocks(lesson, timing.active_start - timing.line_sync);
    let all_s = front_s + back_s + clocks(lesson, timing.line_sync);
    let sentences = vec![
        "The two short rests beside the pulse are the porches: the front porch before it, the back \
         porch behind it."
            .to_owned(),
        "Meanwhile the beam, the spot of light that draws the picture, flies back from the right \
         edge to the left."
            .to_owned(),
        format!(
            "Here the front porch lasts {}, the back porch {}; with the pulse that makes {} of \
             darkness, called line blanking.",
            microseconds(front_s),
            microseconds(back_s),
            microseconds(all_s)
        ),
    ];
    let standard = lesson.broadcast;
    Told::new("porches", "The two porches", sentences)
        .source(format!(
            "{}: front porch {}, back porch {}, line blanking {}.",
            standard.source,
            stated(&standard.front_porch_us),
            stated(&standard.back_porch_us),
            stated(&standard.blanking_us)
        ))
        .figure("front porch", 1e6 * front_s, "µs")
        .figure("back porch", 1e6 * back_s, "µs")
        .figure("line blanking", 1e6 * all_s, "µs")
}

fn element(lesson: &Lesson, index: usize) -> Told {
    let step = &lesson.steps[index];
    let mut sentences = Vec::new();
    if index == 0 {
        sentences.push(first_words(lesson));
    }
    sentences.push(pulse_words(lesson, step, index));
    sentences.extend(seen_words(step, index));
    if index > 0 {
        sentences.extend(shade_words(lesson, step));
    }
    let told = Told::new(&file_name(&step.name), &capital(&the(&step.name)), sentences);
    match step.shape.delta_v {
        Some(delta_v) => told.figure("pulse", 1e3 * delta_v, "mV").figure(
            "width",
            1e6 * clocks(lesson, step.clocks),
            "µs",
        ),
        None => told,
    }
}

fn first_words(lesson: &Lesson) -> String {
    let moved =
        if lesson.moved { "; for this lesson paddles and ball stand at one height" } else { "" };
    format!(
        "Now the game's chip, its one big circuit, adds light by its pins, the metal legs it stands \
         on{moved}."
    )
}

fn pulse_words(lesson: &Lesson, step: &Step, index: usize) -> String {
    let name = capital(&the(&step.name));
    let plural = if step.name == "field" { "make" } else { "makes" };
    let elsewhere = if step.line == lesson.line { "" } else { ", another one," };
    let width = microseconds(clocks(lesson, step.clocks));
    let Some((delta_v, level_v)) = step.shape.delta_v.zip(step.shape.level_v) else {
        return format!(
            "{name} {plural} no pulse of {} own on line {}: others cover all of it.",
            if step.name == "field" { "their" } else { "its" },
            step.line
        );
    };
    let side = if delta_v < 0.0 { "below" } else { "above" };
    let own = step.shape.shape != step.name && step.shape.shape.len() < 30;
    let what = if own { format!(" ({})", step.shape.shape) } else { String::new() };
    let to = if index == 0 { format!(", at {}", volts(level_v)) } else { String::new() };
    format!(
        "On line {}{elsewhere} {}{what} {plural} a pulse of {width}, {} {side} black{to}.",
        step.line,
        the(&step.name),
        millivolts(delta_v.abs())
    )
}

/// The word and, where it comes first, what the words mean.
fn seen_words(step: &Step, index: usize) -> Option<String> {
    let word = step.shape.seen?.word();
    let meaning = match step.shape.seen? {
        Seen::Clear => "plainly seen on the screen",
        Seen::Faint => "seen only by who looks for it",
        Seen::Missing => "not seen on the screen",
    };
    Some(if index == 0 {
        format!(
            "The word for that is {word}: {meaning}; the three words are clear, faint and missing."
        )
    } else {
        format!("It is {word}: {meaning}.")
    })
}

/// Its height beside that of the field lines.
fn shade_words(lesson: &Lesson, step: &Step) -> Option<String> {
    let field = lesson.steps.iter().find(|step| step.name == "field")?.shape.delta_v?;
    let own = step.shape.delta_v?;
    if field <= 0.0 || own <= 0.0 {
        return None;
    }
    let near = lesson.verdict.same_shade * lesson.verdict.span_v;
    let shade = match own - field {
        apart if apart.abs() <= near => "of the same shade",
        apart if apart < 0.0 => "a darker grey",
        _ => "brighter",
    };
    let percent = number(100.0 * own / field, 0);
    Some(format!("Its pulse is {percent} % as high as that of the field lines: it is {shade}."))
}

fn mixer(lesson: &Lesson) -> Told {
    let sum = &lesson.sum;
    let mut sentences = vec![
        "The mixer is all that lies between the chip's pins and the socket: it makes one voltage of \
         many."
            .to_owned(),
    ];
    if let Some(pulse) = sum.pulses.first() {
        let what = match pulse.carried {
            Carried::Sync => "sync pulse".to_owned(),
            Carried::Element(id) => {
                format!("pulse of {}", the(&lesson.map.elements[usize::from(id.0)]))
            }
        };
        sentences.push(format!(
            "Each pin swings by volts, the socket by less: the {what} is {} at its pin and {} at \
             the socket.",
            volts(pulse.pin_v.abs()),
            millivolts(pulse.socket_v.abs())
        ));
    }
    if lesson.steps.len() > 1 && sum.added_v > 0.0 {
        let share = sum.together_v / sum.added_v;
        let adds = (0.9..1.1).contains(&share);
        let kind = if adds { "this mixer adds" } else { "this mixer does not simply add" };
        sentences.push(format!(
            "The picture's pulses, each alone, come to {} in all; lit at once they make {}: {kind}.",
            millivolts(sum.added_v),
            millivolts(sum.together_v)
        ));
    }
    let mut told = Told::new("mixer", "The mixer: many pins, one wire", sentences);
    for pulse in &sum.pulses {
        let name = match pulse.carried {
            Carried::Sync => "sync".to_owned(),
            Carried::Element(id) => lesson.map.elements[usize::from(id.0)].clone(),
        };
        told = told.figure(&format!("{name} at its pin"), pulse.pin_v, "V").figure(
            &format!("{name} at the socket"),
            1e3 * pulse.socket_v,
            "mV",
        );
    }
    told.figure("added", 1e3 * sum.added_v, "mV").figure("together", 1e3 * sum.together_v, "mV")
}

fn load(lesson: &Lesson) -> Told {
    let [own, two, none] = &lesson.loads;
    let white = |index: usize| lesson.loads[index].white_v();
    let sentences = vec![
        format!(
            "What is plugged into the socket takes current: it is a load, here of {} (Ω, ohm: the \
             lower, the more it takes).",
            ohms(own.ohms)
        ),
        format!(
            "With this load white, the brightest pulse, lies {} above black; with two such loads {}, \
             with none {}.",
            millivolts(white(0)),
            millivolts(white(1)),
            millivolts(white(2))
        ),
        format!(
            "The sync pulse changes too: {}, {} and {}; so measure a board with its load plugged in.",
            millivolts(own.sync.depth_v),
            millivolts(two.sync.depth_v),
            millivolts(none.sync.depth_v)
        ),
    ];
    let mut told = Told::new("load", "The load: what is plugged in", sentences);
    for (name, loaded) in ["one load", "two loads", "no load"].into_iter().zip(&lesson.loads) {
        told = told.figure(&format!("{name}, white"), 1e3 * loaded.white_v(), "mV").figure(
            &format!("{name}, sync depth"),
            1e3 * loaded.sync.depth_v,
            "mV",
        );
    }
    told
}

/// A name that every file system takes.
pub(super) fn file_name(name: &str) -> String {
    let plain = |letter: char| if letter.is_ascii_alphanumeric() { letter } else { '-' };
    name.chars().map(plain).collect()
}
