//! The clock against published tables and closed forms.

use crate::published::rows;
use backporch::analysis::clock::Counts;
use backporch::analysis::clock::beat::Bar;
use backporch::analysis::clock::beat::BeatError;
use backporch::analysis::clock::beat::Seen;
use backporch::analysis::clock::beat::Turned;
use backporch::analysis::clock::beat::Way;
use backporch::analysis::clock::beat::candidates;
use backporch::analysis::clock::choose::Adjuster;
use backporch::analysis::clock::choose::Suits;
use backporch::analysis::clock::choose::Wanted;
use backporch::analysis::clock::lock::Window;
use backporch::analysis::clock::lock::Windows;
use backporch::analysis::clock::rates;
use backporch::analysis::clock::tone::Heard;
use backporch::analysis::clock::tone::Tone;
use backporch::analysis::clock::tone::pitches;
use backporch::base::math;
use backporch::base::preferred::Series;
use backporch::raster::rules::TONES;
use backporch::scenario::Scenario;
use backporch::scenario::load;
use backporch::scenario::set_library::Kind;
use backporch::scenario::set_library::Standard;
use backporch::signal::tank::Coil;
use backporch::signal::tank::Tank;
use backporch::signal::tank::TankCapacitor;
use backporch::signal::tank::Tap;
use backporch::signal::tank::farads_for;
use backporch::signal::tank::henries_for;
use std::f64::consts::TAU;

const FIFTY: Counts = Counts { clocks_per_line: 128, lines_per_field: 312 };
const SIXTY: Counts = Counts { clocks_per_line: 128, lines_per_field: 262 };

fn tank(uh: f64, capacitor: TankCapacitor, stray_pf: f64) -> Tank {
    let coil = Coil { henries: 1e-6 * uh, range: 0.0, core: 0.5, quality: None, per_kelvin: 0.0 };
    let (stray_farads, celsius) = (1e-12 * stray_pf, 25.0);
    Tank { coil, capacitor, stray_farads, tap: None, celsius, capacitor_per_kelvin: 0.0 }
}

/// Fails unless a number is the printed one to its last printed digit.
fn printed(found: f64, printed: &str, what: &str) {
    let decimals = printed.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    let half = 0.5 * math::pow(10.0, -math::from_usize(decimals));
    let wanted: f64 = printed.parse().unwrap();
    assert!((found - wanted).abs() <= half * (1.0 + 1e-6), "{what}: {found}, printed {printed}");
}

#[test]
fn the_clock_table_is_the_printed_one() {
    for row in rows("clock_table.csv") {
        let clock_hz = 1e6 * row[0].parse::<f64>().unwrap();
        let fifty = rates(clock_hz, (FIFTY, &TONES), Standard::Lines625, 50.0);
        printed(fifty.line_hz, &row[1], "line");
        printed(100.0 * fifty.errors[0], &row[2], "error to 625");
        printed(100.0 * fifty.errors[1], &row[3], "error to 525");
        printed(fifty.field_hz, &row[4], "field of 312");
        printed(SIXTY.field_hz(clock_hz), &row[5], "field of 262");
        for (index, pf) in [120.0, 180.0, 245.0, 330.0].into_iter().enumerate() {
            printed(1e6 * henries_for(clock_hz, 1e-12 * pf), &row[6 + index], "coil");
        }
        printed(fifty.tones[0].hertz, &row[10], "hit tone");
        let (kind, _, verdict) = &fifty.sets[0];
        assert_eq!((kind.name(), verdict.words()), ("tube-set", row[11].clone()), "{}", row[0]);
    }
}

/// Also 82 µH at 2 MHz, five picofarads more, and −½ to first order (handbook formulas, computed
/// independently).
#[test]
fn tanks_have_the_printed_frequencies() {
    for row in rows("tank.csv") {
        let number = |at: usize| row[at].parse::<f64>().unwrap();
        let capacitor = if row[3].is_empty() {
            TankCapacitor::One(1e-12 * number(2))
        } else {
            TankCapacitor::Split([1e-12 * number(2), 1e-12 * number(3)])
        };
        let found = tank(number(1), capacitor, number(4)).hertz() / 1e6;
        assert!((found - number(5)).abs() <= 0.5001 * number(6), "{} {found}", row[0]);
    }
    printed(1e12 * farads_for(2e6, 82e-6), "77.2265", "for 82 uH");
    let [exact, more] = [0.0, 5.0]
        .map(|more_pf| tank(82.0, TankCapacitor::One(farads_for(2e6, 82e-6)), more_pf).hertz());
    printed(100.0 * (more / exact - 1.0), "-3.088", "5 pF more");
    let first_order = tank(82.0, TankCapacitor::One(77.3e-12), 0.0);
    let share = 1e-15 / first_order.farads();
    let moved = first_order.loaded(1e-15).hertz() / first_order.hertz() - 1.0;
    assert!((moved / share + 0.5).abs() < 1e-4, "df/f for dC/C {}", moved / share);
}

/// Split capacitors with 20 pF of strays and the coil for 2.000 MHz (computed independently).
#[test]
fn split_capacitors_act_as_printed() {
    let table = [
        (470.0, 470.0, "235", "24.8"),
        (330.0, 1000.0, "248", "23.6"),
        (1000.0, 1000.0, "500", "12.2"),
    ];
    for (first, second, acts, coil) in table {
        let farads = TankCapacitor::Split([1e-12 * first, 1e-12 * second]).farads();
        printed(1e12 * farads, acts, "series");
        printed(1e6 * henries_for(2e6, farads + 20e-12), coil, "coil");
    }
}

/// Drift over 20 K by coefficients from memory, the pull of a trimmer and of a loss, and the range a core needs (computed
/// independently).
#[test]
fn what_moves_a_tank_moves_it_as_printed() {
    let cold = tank(25.5, TankCapacitor::One(220e-12), 0.0);
    // Printed to first order, −½ of coil or capacitor; what is left is 3/8 of its square.
    for (ppm, percent) in [(150.0, -0.15), (300.0, -0.30), (600.0, -0.60)] {
        let rest = 100.0 * 0.38 * math::pow(20e-6 * ppm, 2.0);
        let coil = Tank { coil: Coil { per_kelvin: 1e-6 * ppm, ..cold.coil }, ..cold };
        let capacitor = Tank { capacitor_per_kelvin: 1e-6 * ppm, ..cold };
        for drifting in [coil, capacitor] {
            let found = 100.0 * (drifting.at(45.0).hertz() / cold.hertz() - 1.0);
            assert!((found - percent).abs() < rest, "{ppm} ppm: {found}");
        }
    }
    // Equal and opposite they cancel to second order.
    let both =
        Tank { coil: Coil { per_kelvin: 3e-4, ..cold.coil }, capacitor_per_kelvin: -3e-4, ..cold };
    assert!((both.at(45.0).hertz() / cold.hertz() - 1.0).abs() < 2e-5);
    let at = |trimmer_pf: f64| tank(22.0, TankCapacitor::One(245e-12), trimmer_pf).hertz();
    printed(100.0 * (1.0 - at(60.0) / at(5.0)), "9.5", "trimmer of 5 to 60 pF over 245 pF");
    // "Under 0.06 %" for a Q of 30: computed independently from the loaded resonance.
    let lossy = Tank { coil: Coil { quality: Some(30.0), ..cold.coil }, ..cold };
    let pull = 1.0 - lossy.hertz() / cold.hertz();
    assert!(pull > 0.0 && pull < 6e-4, "a Q of 30 pulls by {pull}");
    let ratio = |low: f64, high: f64| henries_for(low, 240e-12) / henries_for(high, 240e-12);
    printed(ratio(1.8e6, 2.2e6), "1.49", "1.8 to 2.2 MHz");
    printed(ratio(1.95e6, 2.05e6), "1.105", "1.95 to 2.05 MHz");
}

/// The zero of the susceptance of C beside L with R in series, found by halving.
#[test]
fn a_lossy_tank_runs_where_its_current_is_in_step_with_its_voltage() {
    for quality in [5.0, 30.0, 100.0] {
        let mut lossy = tank(25.5, TankCapacitor::One(220e-12), 20.0);
        lossy.coil.quality = Some(quality);
        let (henries, farads) = (lossy.henries(), lossy.farads());
        let ohms = (henries / farads).sqrt() / quality;
        let susceptance = |omega: f64| {
            let x = omega * henries;
            omega * farads - x / (ohms * ohms + x * x)
        };
        let (mut low, mut high) = (TAU * 1e6, TAU * 3e6);
        for _ in 0..80 {
            let middle = f64::midpoint(low, high);
            if susceptance(middle) < 0.0 { low = middle } else { high = middle }
        }
        assert!((lossy.hertz() * TAU / low - 1.0).abs() < 1e-9, "Q {quality}");
    }
}

#[test]
fn what_hangs_on_a_tap_counts_by_the_square_of_its_turns() {
    let plain = tank(25.5, TankCapacitor::One(220e-12), 22.5);
    let tapped = Tank {
        tap: Some(Tap { at: 0.5, farads: 10e-12 }),
        ..tank(25.5, TankCapacitor::One(220e-12), 20.0)
    };
    assert!((plain.hertz() - tapped.hertz()).abs() < 1e-3);
}

/// What makers' data of deflection processors say, as clocks (computed independently): a panel asks for
/// the 600 Hz to either side that such a processor catches at least, 1.923 to 2.077 MHz; a tube set's
/// fields are 46 to 54 Hz of 312 lines. Catch and hold of tube sets come of their loops and have to lie
/// within the same data; what the oldest catch, 200 to 600 Hz, is service practice, from memory.
#[test]
fn lock_windows_are_the_published_ones() {
    let windows = |kind: Kind| Windows::of_kind(kind, Standard::Lines625, FIFTY);
    let check = |window: Window, [low, high]: [&str; 2]| {
        printed(window.low_hz / 1e6, low, "low");
        printed(window.high_hz / 1e6, high, "high");
    };
    let panel = windows(Kind::FlatPanel);
    check(panel.locks(), ["1.923", "2.077"]);
    check(windows(Kind::TubeSet).field, ["1.837", "2.157"]);
    let reach_hz = |window: Window| 0.5 * (window.high_hz - window.low_hz) / 128.0;
    for kind in [Kind::LateTubeSet, Kind::Monitor] {
        let (catch, hold) = (reach_hz(windows(kind).catch), reach_hz(windows(kind).hold));
        assert!(catch >= 600.0, "{kind:?} catches {catch} Hz");
        assert!((900.0..=1200.0).contains(&hold), "{kind:?} holds {hold} Hz");
    }
    let old = windows(Kind::TubeSet);
    assert!((200.0..=600.0).contains(&reach_hz(old.catch)), "{old:?}");
    // 0.9 kHz is 5.8 %.
    printed(100.0 * reach_hz(old.hold) / 15_625.0, "5.8", "hold");
    // 1 % off is 156 Hz, 3.1 bands at 50 Hz.
    let counts = Counts { lines_per_field: 315, ..FIFTY };
    let off = rates(1.01 * 2e6, (counts, &TONES), Standard::Lines625, 50.0);
    printed(off.line_hz - 15_625.0, "156", "1 %");
    printed(off.bands, "3.1", "bands");
}

/// Crawl of a hum bar (computed independently).
#[test]
fn hum_bars_crawl_as_printed() {
    let time = |field_hz: f64, mains_hz: f64| match Bar::of(field_hz, mains_hz) {
        Bar::Crawls { period_s, .. } => period_s,
        Bar::Stands => f64::INFINITY,
    };
    printed(time(FIFTY.field_hz(2e6), 50.0), "12.5", "50.08 Hz");
    printed(time(FIFTY.field_hz(2.012_16e6), 50.0), "2.6", "50.38 Hz");
    printed(time(51.0, 50.0), "1.0", "51.0 Hz");
    assert_eq!(Bar::of(SIXTY.field_hz(2.012_16e6), 60.0), Bar::Stands);
    assert_eq!(Bar::of(FIFTY.field_hz(1.9968e6), 50.0), Bar::Stands);
    let still = Seen { period_s: None, mains_hz: 50.0, turned: None, way: None };
    let still_hz = candidates(&still, FIFTY).unwrap()[0].clock_hz;
    printed(
        100.0 * (still_hz / FIFTY.nominal_hz(Standard::Lines625) - 1.0),
        "-0.16",
        "no movement",
    );
}

/// The line in each field at which the mains are at their crest, found field by field.
#[test]
fn a_bar_goes_down_where_the_field_is_the_faster() {
    for (field_hz, mains_hz) in [(50.08, 50.0), (49.9, 50.0), (60.2, 60.0), (59.64, 60.0)] {
        let place = |field: u32| {
            let start = f64::from(field) / field_hz;
            let crest = math::ceil(start * mains_hz) / mains_hz;
            (crest - start) * field_hz
        };
        let goes_down = place(11) > place(10);
        let Bar::Crawls { period_s, way } = Bar::of(field_hz, mains_hz) else { panic!("stands") };
        assert_eq!(goes_down, way == Way::Down, "{field_hz}");
        // How far it has gone in one field, of the whole screen.
        let speed = (place(11) - place(10)).abs() * field_hz;
        assert!((speed * period_s - 1.0).abs() < 0.01, "{field_hz}: {}", speed * period_s);
    }
}

#[test]
fn the_beat_gives_back_the_clock() {
    for clock_hz in [1.93e6, 1.99e6, 2.0e6, 2.012e6, 2.05e6] {
        let field_hz = FIFTY.field_hz(clock_hz);
        let Bar::Crawls { period_s, way } = Bar::of(field_hz, 50.0) else { panic!("stands") };
        let seen = Seen { period_s: Some(period_s), mains_hz: 50.0, turned: None, way: None };
        let found = candidates(&seen, FIFTY).unwrap();
        assert_eq!(found.len(), 2);
        assert!(found.iter().any(|one| (one.clock_hz - clock_hz).abs() < 1e-3));
        // A core turned in lowers the clock a little.
        let Bar::Crawls { period_s: after, .. } = Bar::of(FIFTY.field_hz(clock_hz - 500.0), 50.0)
        else {
            panic!("stands")
        };
        let turned = if after > period_s { Turned::Grew } else { Turned::Shrank };
        for seen in [Seen { turned: Some(turned), ..seen }, Seen { way: Some(way), ..seen }] {
            let found = candidates(&seen, FIFTY).unwrap();
            assert_eq!(found.len(), 1);
            assert!((found[0].clock_hz - clock_hz).abs() < 1e-3, "{clock_hz}");
        }
    }
}

#[test]
fn a_beat_that_cannot_be_is_refused() {
    let seen = Seen {
        period_s: Some(3.0),
        mains_hz: 50.0,
        turned: Some(Turned::Grew),
        way: Some(Way::Up),
    };
    assert_eq!(candidates(&seen, FIFTY), Err(BeatError::Contradiction));
    let still = Seen { period_s: None, way: None, ..seen };
    assert_eq!(candidates(&still, FIFTY), Err(BeatError::Stands));
    let still = candidates(&Seen { turned: None, ..still }, FIFTY).unwrap();
    assert!((still[0].clock_hz - 1.9968e6).abs() < 1e-6 && still.len() == 1);
}

/// Tones of class data sheets, and how well a burst of 32 ms is heard (computed independently).
#[test]
fn tones_are_the_printed_ones() {
    let table = [(2.0e6, ["976.6", "488.3", "1953.1"]), (2.012_16e6, ["982.5", "491.2", "1965.0"])];
    for (clock_hz, tones) in table {
        for (pitch, hertz) in pitches(&TONES, clock_hz).iter().zip(tones) {
            printed(pitch.hertz, hertz, pitch.tone.name());
        }
    }
    let clocks = TONES.hit;
    let heard = Heard { tone: Tone::Hit, clocks, pitch_hz: 976.5625, burst_s: 0.032, bursts: 1 };
    let (clock_hz, doubt_hz) = heard.clock_hz();
    assert!((clock_hz - 2e6).abs() < 1e-6);
    printed(100.0 * doubt_hz / clock_hz, "1.6", "one burst");
    let many = Heard { bursts: 16, ..heard };
    assert!((many.doubt_hz() - heard.doubt_hz() / 4.0).abs() < 1e-9);
}

fn wanted(pf: f64, series: Series) -> Wanted {
    let locks = Windows::of_kind(Kind::TubeSet, Standard::Lines625, FIFTY).locks();
    Wanted { farads: 1e-12 * pf, strays: (15e-12, 25e-12), locks, aim_hz: 2e6, series }
}

/// Every choice put on the board: the core or trimmer at the place that is told gives the clock that
/// is told.
#[test]
fn a_chosen_coil_does_what_is_said_of_it() {
    let mut judged = 0;
    for (pf, adjuster) in [
        (220.0, Adjuster::Core(0.15)),
        (68.0, Adjuster::Core(0.45)),
        (245.0, Adjuster::Trimmer(5e-12, 60e-12)),
        (100.0, Adjuster::Trimmer(5e-12, 60e-12)),
    ] {
        let wanted = wanted(pf, Series::E24);
        let choices = wanted.choices(adjuster);
        assert!(choices.windows(2).all(|pair| pair[0].suits <= pair[1].suits), "not ranked");
        for choice in choices {
            let at = |place: f64, stray: f64| match adjuster {
                Adjuster::Core(range) => {
                    let mut tank =
                        tank(1e6 * choice.henries, TankCapacitor::One(wanted.farads), 1e12 * stray);
                    tank.coil.range = range;
                    assert!(
                        (tank.core_for(tank.with_core(place).hertz()).unwrap() - place).abs()
                            < 1e-9
                    );
                    tank.with_core(place).hertz()
                }
                Adjuster::Trimmer(low, high) => {
                    let trimmer = low + place * (high - low);
                    let capacitor = TankCapacitor::One(wanted.farads + trimmer);
                    tank(1e6 * choice.henries, capacitor, 1e12 * stray).hertz()
                }
            };
            let (least, most) = wanted.strays;
            for (place, stray, hertz) in [
                (choice.aim[0], least, wanted.aim_hz),
                (choice.aim[1], most, wanted.aim_hz),
                (choice.window[0], most, wanted.locks.high_hz),
                (choice.window[1], least, wanted.locks.low_hz),
            ] {
                assert!((at(place, stray) / hertz - 1.0).abs() < 1e-9);
            }
            let reached =
                |stray: f64| at(0.0, stray) >= wanted.aim_hz && at(1.0, stray) <= wanted.aim_hz;
            let always = reached(least) && reached(most);
            assert_eq!(always, choice.suits != Suits::Perhaps, "{choice:?}");
            judged += 1;
        }
    }
    assert!(judged >= 8, "only {judged} choices");
}

/// With 220 pF and 15 to 25 pF of strays, 26.4 µH is wanted (1 / (2π f)² C for 240 pF, computed
/// independently): 27 µH of E12.
#[test]
fn the_usual_board_wants_27_microhenries() {
    let choices = wanted(220.0, Series::E12).choices(Adjuster::Core(0.15));
    assert!((1e6 * choices[0].henries - 27.0).abs() < 1e-9);
    assert_eq!(choices[0].suits, Suits::AimInMiddle);
    // A core with more travel holds the whole lock window in its middle.
    let choices = wanted(220.0, Series::E12).choices(Adjuster::Core(0.3));
    assert_eq!(choices[0].suits, Suits::WindowInMiddle);
}

fn chapel(sets: &[&str]) -> Result<Scenario, Vec<String>> {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/chapel-follower.toml");
    let sets: Vec<String> = sets.iter().map(|&set| set.to_owned()).collect();
    load(root, &sets, &mut |path| std::fs::read_to_string(path))
        .map_err(|all| all.into_iter().map(|one| one.message).collect())
}

#[test]
fn a_scenario_runs_at_the_frequency_of_its_tank() {
    let sets = ["chip.clock.coil=25.5uH", "chip.clock.capacitor=220pF"];
    let board = chapel(&sets).unwrap();
    let exact = tank(25.5, TankCapacitor::One(220e-12), 20.0).hertz();
    let (hertz, one) = board.raster.timing.clock.ratio();
    assert_eq!(one, 1);
    assert!((f64::from(u32::try_from(hertz).unwrap()) - exact).abs() <= 0.5);
    let turned =
        chapel(&[sets[0], sets[1], "chip.clock.core=0.7", "chip.clock.core_range=20%"]).unwrap();
    let ratio = exact / turned.raster.timing.clock.hertz();
    assert!((ratio * ratio - 1.08).abs() < 1e-5, "{ratio}");
    let split = chapel(&[sets[0], "chip.clock.capacitors=['470 pF', '470 pF']"]).unwrap();
    let exact = tank(25.5, TankCapacitor::Split([470e-12, 470e-12]), 20.0).hertz();
    assert!((split.raster.timing.clock.hertz() - exact).abs() <= 0.5);
}

#[test]
fn a_scenario_may_state_its_clock_as_a_number_and_the_set_stays_of_its_standard() {
    let board = chapel(&["chip.clock=2.2MHz"]).unwrap();
    assert_eq!(board.raster.timing.clock.ratio(), (2_200_000, 1));
    assert_eq!(board.tank, None);
    // 55.09 fields a second of a chip for 50: still a 625-line set.
    assert_eq!(board.receiver, chapel(&[]).unwrap().receiver);
}

#[test]
fn what_is_wrong_with_a_tank_is_said() {
    let coil = "chip.clock.coil=25.5uH";
    let cases: [(&[&str], &str); 6] = [
        (&["chip.clock.core=0.7"], "[chip.clock] has no `coil`"),
        (&[coil], "[chip.clock] has no `capacitor`"),
        (&[coil, "chip.clock.capacitor=220 uF"], "this tank makes 0.0021 MHz"),
        (&[coil, "chip.clock.capacitors=['1 nF']"], "`capacitors` has 1 items"),
        (
            &[coil, "chip.clock.capacitor=220pF", "chip.clock.tap=0.5"],
            "a tap needs what hangs on it",
        ),
        (
            &[coil, "chip.clock.capacitor=220pF", "chip.clock.cor=1"],
            "[chip.clock] has no key `cor`",
        ),
    ];
    for (sets, wanted) in cases {
        let said = chapel(sets).unwrap_err();
        assert!(said.iter().any(|message| message.starts_with(wanted)), "{wanted}: {said:?}");
    }
}
