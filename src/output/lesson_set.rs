//! The words of the pages on what the set does with a line.

use crate::analysis::lesson::Lesson;
use crate::output::axis::number;
use crate::output::axis::trimmed;
use crate::output::lesson_words::Told;
use crate::output::lesson_words::capital;
use crate::output::lesson_words::clocks;
use crate::output::lesson_words::microseconds;
use crate::output::lesson_words::millivolts;
use crate::output::lesson_words::the;
use crate::receiver::scan::visible_time;
use crate::receiver::screen::visible_lines;
use crate::receiver::spec::Clamp;
use crate::signal::timing::FieldSync;

const SLICE: (&str, &str) = ("slice", "How the set finds the sync");

pub(super) fn slice(lesson: &Lesson) -> Told {
    let cut = format!(
        "The set cuts the voltage {} % of the way up from the pulse's floor, its tip, to black; what \
         lies below counts as sync.",
        trimmed(100.0 * lesson.receiver.slice, 0)
    );
    let Some(sync) = &lesson.whole().reception.sync else {
        let none =
            "It finds no pulses here: the dips are too small, or lie upside down.".to_owned();
        let so = "It then runs at a speed of its own, and the picture drifts.".to_owned();
        return Told::new(SLICE.0, SLICE.1, vec![cut, none, so]);
    };
    let room_v = sync.porch_v - sync.slice_v;
    let sentences = vec![
        cut,
        format!(
            "Here it cuts at {} and finds a pulse of {} every {}.",
            millivolts(sync.slice_v),
            microseconds(sync.line_sync_s),
            microseconds(sync.line_period_s)
        ),
        format!(
            "From black to the cut it is {}: a disturbance has to be larger to be taken for a pulse.",
            millivolts(room_v)
        ),
    ];
    Told::new(SLICE.0, SLICE.1, sentences)
        .figure("cut", 1e3 * sync.slice_v, "mV")
        .figure("found width", 1e6 * sync.line_sync_s, "µs")
        .figure("found period", 1e6 * sync.line_period_s, "µs")
        .figure("from black to the cut", 1e3 * room_v, "mV")
}

/// Black of the line that is built, as it reaches the socket, V.
pub(super) fn porch_v(lesson: &Lesson) -> f64 {
    lesson.whole().reception.sync.map_or(lesson.reading.black_v, |sync| sync.porch_v)
}

pub(super) fn clamp(lesson: &Lesson) -> Told {
    let porch_v = porch_v(lesson);
    let (first, second) = match lesson.receiver.clamp {
        Clamp::BackPorch => (
            "No set knows beforehand which voltage is black: on every line it measures the back \
             porch and takes that for black."
                .to_owned(),
            format!(
                "The part that does so is the clamp; here it finds {} and takes them off the whole \
                 line.",
                millivolts(porch_v)
            ),
        ),
        Clamp::SyncTip => (
            "No set knows beforehand which voltage is black: this one holds on to the tip of the \
             sync pulse."
                .to_owned(),
            format!(
                "The part that does so is the clamp; it takes black to lie {} above the tip, here it \
                 lies {} above.",
                millivolts(3.0 / 7.0 * lesson.receiver.span_v),
                millivolts(lesson.reading.black_v - lesson.reading.tip_v)
            ),
        ),
        Clamp::None => (
            "Many sets measure black anew on every line; the part that does so is called the clamp."
                .to_owned(),
            "This set has none: its black is 0 V, wherever the line's own black lies.".to_owned(),
        ),
    };
    let highest_v = highest_v(lesson);
    let third = format!(
        "Behind it the line reaches {} at its highest; {} would be full white on this set.",
        millivolts(highest_v),
        millivolts(lesson.receiver.span_v)
    );
    Told::new("clamp", "What the set takes for black", vec![first, second, third])
        .figure("porch", 1e3 * porch_v, "mV")
        .figure("highest behind the clamp", 1e3 * highest_v, "mV")
}

/// The highest level of the line behind the clamp, V.
fn highest_v(lesson: &Lesson) -> f64 {
    let reception = &lesson.whole().reception;
    let timing = &lesson.timing;
    let at = |clock: u32| timing.clock.seconds(timing.tick(lesson.line, clock)) + reception.delay_s;
    let (from_s, to_s) = (at(timing.active_start), at(timing.active_stop));
    let step_s = reception.video.step_s();
    let held = reception.video.volts.iter().zip(0_u32..);
    held.map(|(&volts, index)| (f64::from(volts), f64::from(index) * step_s))
        .filter(|(_, at_s)| (from_s..to_s).contains(at_s))
        .map(|(volts, _)| volts)
        .fold(f64::NEG_INFINITY, f64::max)
}

pub(super) fn stripe(lesson: &Lesson) -> Told {
    let seen = visible_time(&lesson.receiver);
    let seen_s = seen.end - seen.start;
    let line_s = clocks(lesson, lesson.timing.clocks_per_line);
    let mut sentences = vec![
        "The higher the voltage, the brighter the beam: in one line it paints one stripe across the \
         screen."
            .to_owned(),
        format!(
            "A line lasts {}, and {} of it are seen on this set.",
            microseconds(line_s),
            microseconds(seen_s)
        ),
    ];
    let narrow = lesson.steps.iter().find(|step| step.name != "field").or(lesson.steps.first());
    if let Some(step) = narrow {
        let width_s = clocks(lesson, step.clocks);
        sentences.push(format!(
            "{}, {} long, is {} % of the screen's width.",
            capital(&the(&step.name)),
            microseconds(width_s),
            number(100.0 * width_s / seen_s, 1)
        ));
    }
    Told::new("line", "One line of light", sentences)
        .source(format!(
            "{}: a line of {} µs, {} µs of it picture.",
            lesson.broadcast.source,
            trimmed(lesson.broadcast.line_us, 2),
            trimmed(lesson.broadcast.line_us - lesson.broadcast.blanking_us.value, 2)
        ))
        .figure("line", 1e6 * line_s, "µs")
        .figure("seen", 1e6 * seen_s, "µs")
}

pub(super) fn lines(lesson: &Lesson) -> Told {
    let timing = &lesson.timing;
    let visible = visible_lines(&lesson.receiver).1;
    let mut sentences = vec![
        "After every sync pulse the beam starts anew on the left, a little lower: line under line \
         becomes a picture."
            .to_owned(),
        format!(
            "This chip makes {} lines in a second; {} of its {} lines from top to bottom can be seen.",
            number(timing.line_hz(), 0),
            visible,
            timing.lines_per_field
        ),
    ];
    if let Some(step) = lesson.steps.iter().find(|step| step.name != "field") {
        let here = |line: u32| lesson.map.on_line(line).contains(step.element);
        let count = (0..timing.lines_per_field).filter(|&line| here(line)).count();
        sentences.push(format!(
            "{} is nothing but its pulse at the same place on {count} lines.",
            capital(&the(&step.name))
        ));
    }
    Told::new("picture", "Line under line", sentences)
        .figure("line rate", timing.line_hz(), "Hz")
        .figure("lines of a field", f64::from(timing.lines_per_field), "lines")
}

pub(super) fn field_sync(lesson: &Lesson) -> Told {
    let timing = &lesson.timing;
    let form = match timing.field_sync {
        _ if lesson.own_sync => "the voltage stays low for longer than in a line's pulse",
        FieldSync::Held => "the voltage stays low all the time",
        FieldSync::Inverted => "the pulses are upside down: low for most of each line",
        FieldSync::Broad { .. } => "each line has two long dips in place of a short one",
    };
    let count = match timing.field_sync_lines {
        1 => "one line".to_owned(),
        lines => format!("{lines} lines"),
    };
    let sentences = vec![
        format!(
            "One picture from top to bottom is a field: {} lines, {} times a second.",
            timing.lines_per_field,
            number(timing.field_hz(), 2)
        ),
        format!("A field starts with the field sync: for {count} {form}."),
        "The set notices that it is low for long, and the beam flies back to the top.".to_owned(),
    ];
    let standard = lesson.broadcast;
    Told::new("field-sync", "Where a picture starts", sentences)
        .source(format!(
            "{}: fields of {} lines, {} a second, marked by {} lines of broad pulses.",
            standard.source,
            trimmed(standard.field_lines, 1),
            trimmed(standard.field_hz, 2),
            trimmed(standard.field_sync_lines, 1)
        ))
        .figure("field rate", timing.field_hz(), "Hz")
        .figure("field sync", f64::from(timing.field_sync_lines), "lines")
}
