//! Cable and load as a set receives them: terminations, a coupling capacitor, slow edges, an open lead;
//! in the line, over the field and in the frame.
//!
//! Against closed forms, and the trade's figures for the biased follower (computed independently by nodal
//! analysis). What stands in quotation marks is common practice, no source, beside the formula that it
//! follows from.

use crate::boards::example;
use crate::boards::read;
use crate::closed_forms::passes_at_s;
use crate::closed_forms::step_board;
use crate::closed_forms::waveform;
use backporch::analysis::examine::examine;
use backporch::analysis::supply::in_time::porches;
use backporch::analysis::verdict::Note;
use backporch::base::math;
use backporch::scenario::Scenario;
use backporch::simulate::first_field;

const TABLE: &str = "scenarios/table-follower.toml";

/// The follower of the tables, its grey player through 3.3 kΩ, into a load.
fn table(load: &str) -> Scenario {
    let load = format!("output.load={load}");
    example(TABLE, &["P1=3k3", "P1.position=1", "receiver.gamma=2.4", &load])
}

#[test]
fn terminations_come_out_as_printed_in_the_waveform_and_as_dim_or_bright_in_the_frame() {
    // Tip, black, depth, field and left, mV.
    let rows = [
        ("75", [33.0, 334.0, 302.0, 695.0, 290.0]),
        ("37.5", [20.0, 220.0, 199.0, 461.0, 192.0]),
        ("open", [107.0, 732.0, 625.0, 1419.0, 594.0]),
    ];
    let mut lights = Vec::new();
    for (load, printed) in rows {
        let scenario = table(load);
        let field = first_field(&scenario).unwrap();
        let reading = examine(&scenario, &field).unwrap();
        let delta = |shape: &str| {
            let shape = reading.shapes.iter().find(|one| one.shape == shape).unwrap();
            shape.delta_v.unwrap()
        };
        let depth_v = reading.black_v - reading.tip_v;
        // In the middle of the grey paddle, which line 140 shows alone there.
        let timing = &scenario.raster.timing;
        let sample = math::to_index(8 * timing.tick(140, 41));
        let left_v = f64::from(field.traces[0].volts[sample]) - reading.black_v;
        let found = [reading.tip_v, reading.black_v, depth_v, delta("top line"), left_v];
        for (found, printed) in found.into_iter().zip(printed) {
            // Half a millivolt of the print, the rest what the wiring's 3 pF leave of a narrow paddle.
            assert!((1e3 * found - printed).abs() < 1.5, "{load}: {} {printed}", 1e3 * found);
        }
        let most = field.reception.picture.luminance.iter().copied().fold(0.0_f32, f32::max);
        lights.push(f64::from(most));
    }
    // Light goes as the 2.4th power of the drive: ITU-R BT.1886.
    let two_thirds = math::pow(461.0 / 695.0, 2.4);
    let ratio = lights[1] / lights[0];
    assert!((ratio / two_thirds - 1.0).abs() < 0.03, "{ratio}, {two_thirds}");
    assert!(lights[2] > 2.0 * lights[0], "{lights:?}");
}

/// "100 uF loses 74 % in a field, 470 uF 25 %, 1000 uF 12 % (worst case)": 1 − e^(−20 ms / 150 Ω C).
#[test]
fn a_small_coupling_capacitor_tilts_the_field_as_printed() {
    for (microfarads, printed) in [(100.0, 74.0), (470.0, 25.0), (1000.0, 12.0)] {
        let parts = format!(
            "[board.C1]\ncapacitor = \"{microfarads} uF\"\nfrom = \"step\"\nto = \"plug\"\n\
             [output]\nnode = \"plug\"\nload = 75\n"
        );
        let more = "[solve]\nstart = \"idle\"\nsamples_per_clock = 1\n";
        let trace = waveform(&step_board(75.0, 2.0, &parts, more));
        let lost = 1e2 * (1.0 - f64::from(trace.volts[251 * 128]));
        let formula = -1e2 * math::expm1(-20e-3 / (150.0 * microfarads * 1e-6));
        assert!((lost - formula).abs() < 0.01, "{microfarads} uF: {lost} {formula}");
        assert!((lost - printed).abs() < 0.6, "{microfarads} uF: {lost}, printed {printed}");
    }
}

/// With a picture on it: where the field is bright the porch sinks, by as much more as the capacitor is
/// smaller. Black for the first half, white for the second: the porch falls by the drop of a bright half.
#[test]
fn a_porch_sinks_under_a_bright_half_of_the_field() {
    let tilt = |microfarads: f64| {
        let scenario = read(&format!(
            "[chip.timing]\nclock = \"2 MHz\"\nclocks_per_line = 128\nlines = 312\nsync = 9\n\
             back_porch = 12\nfront_porch = 3\nfield_sync = \"inverted\"\nfirst_active_line = 24\n\
             [chip.drive]\nkind = \"fixed\"\nhigh_volts = 2\nhigh_ohms = 150\nlow_ohms = 150\n\
             [chip.pattern.white]\nactive = [{{ lines = [160, 312], clocks = [21, 125] }}]\n\
             [board.R1]\nresistor = 1000\nfrom = \"sync\"\nto = \"mix\"\n\
             [board.R2]\nresistor = 150\nfrom = \"white\"\nto = \"mix\"\n\
             [board.C1]\ncapacitor = \"{microfarads} uF\"\nfrom = \"mix\"\nto = \"plug\"\n\
             [output]\nnode = \"plug\"\n"
        ));
        let field = first_field(&scenario).unwrap();
        let porches = porches(&field.traces[0], &scenario.raster.timing);
        // From the middle of the field to its end.
        porches[porches.len() - 1] - porches[156 - 4]
    };
    // In the mean the white half drives the capacitor by its share of a line, 104 of 128 clocks, less the
    // mean of the field; 1000 uF and 10 000 uF are slow against a field, so that the tilt goes as 1 / C.
    let (small, large) = (tilt(1000.0), tilt(10_000.0));
    assert!(small < 0.0 && large < 0.0);
    assert!((small / large - 10.0).abs() < 0.5, "{small} {large}");
}

/// "10 k node × 100 pF: 2.2 us edges; 1 us paddle reaches 63 %."
#[test]
fn slow_edges_dim_what_is_narrow() {
    let scenario = read(
        "[chip.timing]\nclock = \"2 MHz\"\nclocks_per_line = 128\nlines = 312\nsync = 9\n\
         back_porch = 12\nfront_porch = 3\nfield_sync = \"inverted\"\nfirst_active_line = 24\n\
         [chip.drive]\nkind = \"fixed\"\nhigh_volts = 1\nhigh_ohms = 10\nlow_ohms = 10\n\
         [chip.pattern.wide]\nactive = [{ lines = [100, 140], clocks = [50, 74] }]\n\
         [chip.pattern.paddle]\nactive = [{ lines = [160, 200], clocks = [60, 62] }]\n\
         [chip.pin.sync]\nhigh_volts = 0.9\n\
         [board.R1]\nresistor = \"30 k\"\nfrom = \"sync\"\nto = \"node\"\n\
         [board.R2]\nresistor = \"30 k\"\nfrom = \"wide\"\nto = \"node\"\n\
         [board.R3]\nresistor = \"30 k\"\nfrom = \"paddle\"\nto = \"node\"\n\
         [board.C1]\ncapacitor = \"100 pF\"\nfrom = \"node\"\nto = \"ground\"\n\
         [wiring]\nstray = 0\n[output]\nnode = \"node\"\nload = 1e12\n",
    );
    let field = first_field(&scenario).unwrap();
    let reading = examine(&scenario, &field).unwrap();
    let shape = |name: &str| reading.shapes.iter().find(|one| one.element == name).unwrap();
    // Three times 30 kΩ at the node are 10 kΩ.
    let rise_s = shape("wide").rise_s.unwrap();
    assert!((rise_s / (1e-6 * math::ln(9.0)) - 1.0).abs() < 0.02, "{rise_s}");
    assert!((1e6 * rise_s - 2.2).abs() < 0.05);
    let timing = &scenario.raster.timing;
    let peak = |line: u32| {
        let sample = |clock| math::to_index(8 * timing.tick(line, clock));
        let volts = &field.traces[0].volts[sample(40)..sample(100)];
        let black_v = f64::from(volts[0]);
        volts.iter().fold(0.0_f64, |most, &volts| most.max(f64::from(volts) - black_v))
    };
    let share = peak(180) / peak(120);
    assert!((share - (1.0 - math::exp(-1.0))).abs() < 2e-3, "{share}");
    assert!(shape("paddle").notes.contains(&Note::Smeared));
    // In the frame its light is that much less, and more, for light goes by a power of the drive (ITU-R
    // BT.1886).
    let picture = &field.reception.picture;
    let light = |line: f64| {
        let row = math::floor_index((line - 24.0) / 288.0 * math::from_usize(picture.height));
        let row = &picture.luminance[row * picture.width..(row + 1) * picture.width];
        row.iter().copied().fold(0.0_f32, f32::max)
    };
    assert!(light(180.0) < 0.63 * light(120.0), "{} {}", light(180.0), light(120.0));
}

/// "A 2 m lead echoes in about 20 ns", and so one of 20 m in 200: 2 × 20 m at 0.66 of the speed of
/// light, of solid polyethylene (1/√2.25; from memory).
#[test]
fn an_open_lead_of_twenty_metres_echoes_in_two_hundred_nanoseconds() {
    // An edge that is straight over several samples passes a level where the line between two of them does.
    let parts = "rise = \"40 ns\"\n\
                 [board.W1]\ncable = \"20 m\"\nloss = 0\nfrom = \"step\"\nto = \"far\"\n\
                 [board.R1]\nresistor = 1e6\nfrom = \"far\"\nto = \"ground\"\n\
                 [output]\nnode = \"step\"\nload = 1e12\n";
    let more = "[solve]\nstart = \"idle\"\nsamples_per_clock = 64\n";
    let trace = waveform(&step_board(75.0, 2.0, parts, more));
    // Half of the step goes out, and its echo brings the other half.
    let echo_s = passes_at_s(&trace, 1.5) - passes_at_s(&trace, 0.5);
    let wanted_s = 40.0 / (0.66 * 299_792_458.0);
    assert!((echo_s / wanted_s - 1.0).abs() < 2e-3, "{echo_s} {wanted_s}");
    assert!((echo_s / 200e-9 - 1.0).abs() < 0.02, "{echo_s}, printed 200 ns");
}
