//! What a supply does to a board, for other programs.

use crate::analysis::supply::SupplyReport;
use crate::analysis::supply::bench::Clipped;
use crate::analysis::supply::discharge::Place;
use crate::analysis::supply::in_time::InTime;
use crate::analysis::supply::look::Look;
use crate::analysis::verdict::LockState;
use crate::network::circuit::PartId;
use crate::output::json::FORMAT;
use crate::output::json::milli;
use crate::output::json::thousandth;
use crate::output::json::write;
use crate::output::rating_json::RatingReport;
use crate::output::rating_json::rating_reports;
use crate::output::supply_bench::CAUTIONS;
use crate::output::supply_words;
use crate::scenario::Scenario;
use serde::Serialize;
use std::collections::BTreeMap;
use std::io::Write;

#[derive(Serialize)]
struct Report<'a> {
    format: u32,
    title: &'a str,
    source: &'a str,
    /// What it is, if it is a battery.
    battery: Option<BatteryReport>,
    /// Sources that stay as they are.
    others: Vec<&'a str>,
    /// Whether and how the clock follows the supply.
    clock: String,
    now: LookReport<'a>,
    steps: Vec<StepReport<'a>>,
    /// Why there are no more; null if there are all.
    ends: Option<&'a str>,
    losses: Vec<LossReport>,
    contacts: Vec<ContactReport<'a>>,
    contact_losses: Vec<ContactLossReport>,
    openings: Vec<OpeningReport<'a>>,
    beep: BeepReport<'a>,
    /// The board as it is in time; null if it was not run.
    in_time: Option<InTimeReport<'a>>,
    dried: Vec<DriedReport<'a>>,
    bench: Option<BenchReport<'a>>,
}

#[derive(Serialize)]
struct BatteryReport {
    words: String,
    charge: f64,
    capacity_ah: f64,
    capacity_off: f64,
    capacity_source: &'static str,
}

#[derive(Serialize)]
struct LookReport<'a> {
    source_v: f64,
    source_ma: f64,
    rails_v: BTreeMap<&'a str, f64>,
    chip_v: Option<f64>,
    clock_hz: f64,
    /// Regulators that have dropped out.
    dropped: Vec<&'a str>,
    black_mv: f64,
    tip_mv: f64,
    depth_mv: f64,
    sync: &'static str,
    elements: BTreeMap<&'a str, ElementReport>,
}

#[derive(Serialize)]
struct ElementReport {
    delta_mv: f64,
    seen: &'static str,
}

#[derive(Serialize)]
struct PlaceReport {
    charge: Option<f64>,
    hours: Option<f64>,
    open_v: f64,
    ohm: f64,
}

#[derive(Serialize)]
struct StepReport<'a> {
    at: PlaceReport,
    board: LookReport<'a>,
    /// How the picture stands; null if it was not run.
    picture: Option<Vec<&'static str>>,
}

#[derive(Serialize)]
struct LossReport {
    what: String,
    at: PlaceReport,
    source_v: f64,
    from_the_start: bool,
}

#[derive(Serialize)]
struct ContactReport<'a> {
    ohm: f64,
    board: LookReport<'a>,
}

#[derive(Serialize)]
struct ContactLossReport {
    what: String,
    ohm: f64,
}

#[derive(Serialize)]
struct OpeningReport<'a> {
    at_s: f64,
    open_s: f64,
    /// Null if it cannot be run.
    field: Option<InTimeReport<'a>>,
}

#[derive(Serialize)]
struct InTimeReport<'a> {
    porch_moves_mv: f64,
    porch_tilt_mv: f64,
    rails_ripple_mv: BTreeMap<&'a str, f64>,
    rails_lowest_v: BTreeMap<&'a str, f64>,
    depth_mv: f64,
    sync: &'static str,
    elements: BTreeMap<&'a str, Option<ElementReport>>,
    picture: Vec<&'static str>,
}

#[derive(Serialize)]
struct BeepReport<'a> {
    node: &'a str,
    ohm: f64,
    stated: bool,
    ma: f64,
    black_dips_mv: f64,
    rails_sag_v: BTreeMap<&'a str, f64>,
    board: LookReport<'a>,
}

#[derive(Serialize)]
struct DriedReport<'a> {
    part: &'a str,
    farad: f64,
    left: f64,
    series: f64,
    /// Null if it cannot be run.
    field: Option<InTimeReport<'a>>,
}

#[derive(Serialize)]
struct BenchReport<'a> {
    node: &'a str,
    volts: f64,
    limit_ma: f64,
    /// With the board's own source off.
    alone: ClippedReport<'a>,
    /// With it left in.
    together: ClippedReport<'a>,
    bypassed: Vec<&'a str>,
    ratings: Vec<RatingReport>,
    caution: &'static str,
}

#[derive(Serialize)]
struct ClippedReport<'a> {
    ma: f64,
    limited: bool,
    node_v: f64,
    /// Into each part there.
    flows_ma: BTreeMap<&'a str, f64>,
    /// Sources that are fed.
    fed_ma: BTreeMap<&'a str, f64>,
    /// Regulators whose output stands above their input.
    backward_v: BTreeMap<&'a str, f64>,
    board: LookReport<'a>,
}

/// Writes the report as JSON.
///
/// # Errors
///
/// If `out` fails.
pub fn write_supply(
    scenario: &Scenario,
    report: &SupplyReport,
    out: &mut impl Write,
) -> std::io::Result<()> {
    let told = Told { scenario, report };
    let part = |id| supply_words::part(scenario, id);
    let all = Report {
        format: FORMAT,
        title: &scenario.title,
        source: part(report.source),
        battery: report.battery.as_ref().map(|battery| BatteryReport {
            words: supply_words::battery(battery),
            charge: battery.charge,
            capacity_ah: battery.capacity.ampere_hours,
            capacity_off: battery.capacity.off,
            capacity_source: battery.capacity.source,
        }),
        others: report.others.iter().map(|&other| part(other)).collect(),
        clock: supply_words::clock(report.clock),
        now: told.look(&report.now),
        steps: told.steps(),
        ends: report.discharge.ends.as_deref(),
        losses: told.losses(),
        contacts: told.contacts(),
        contact_losses: told.contact_losses(),
        openings: told.openings(),
        beep: told.beep(),
        in_time: report.dried.as_ref().map(|dried| told.in_time(&dried.now)),
        dried: told.dried(),
        bench: told.bench(),
    };
    write(&all, out)
}

fn words(lock: &[LockState]) -> Vec<&'static str> {
    lock.iter().map(|state| state.word()).collect()
}

fn place(at: &Place) -> PlaceReport {
    PlaceReport {
        charge: at.charge.map(thousandth),
        hours: at.hours.map(thousandth),
        open_v: thousandth(at.open_v),
        ohm: thousandth(at.ohms),
    }
}

/// A report with the board that it tells of.
struct Told<'a> {
    scenario: &'a Scenario,
    report: &'a SupplyReport,
}

impl<'a> Told<'a> {
    fn rails(&self, volts: &[f64], unit: impl Fn(f64) -> f64) -> BTreeMap<&'a str, f64> {
        let names = self.report.rails.iter().map(|&rail| supply_words::node(self.scenario, rail));
        names.zip(volts.iter().map(|&volts| unit(volts))).collect()
    }

    fn parts(&self, pairs: &[(PartId, f64)], factor: f64) -> BTreeMap<&'a str, f64> {
        let named = |&(part, value): &(_, f64)| {
            (supply_words::part(self.scenario, part), thousandth(factor * value))
        };
        pairs.iter().map(named).collect()
    }

    fn steps(&self) -> Vec<StepReport<'a>> {
        let steps = self.report.discharge.steps.iter();
        let told = steps.map(|step| StepReport {
            at: place(&step.at),
            board: self.look(&step.look),
            picture: step.lock.as_ref().map(|lock| words(lock)),
        });
        told.collect()
    }

    fn losses(&self) -> Vec<LossReport> {
        let losses = self.report.discharge.losses.iter();
        let told = losses.map(|loss| LossReport {
            what: supply_words::lost(self.scenario, loss.what),
            at: place(&loss.at),
            source_v: thousandth(loss.source_v),
            from_the_start: loss.from_start,
        });
        told.collect()
    }

    fn contacts(&self) -> Vec<ContactReport<'a>> {
        let steps = self.report.contacts.steps.iter();
        steps.map(|step| ContactReport { ohm: step.ohms, board: self.look(&step.look) }).collect()
    }

    fn contact_losses(&self) -> Vec<ContactLossReport> {
        let losses = self.report.contacts.losses.iter();
        let told = losses.map(|loss| ContactLossReport {
            what: supply_words::lost(self.scenario, loss.what),
            ohm: thousandth(loss.ohms),
        });
        told.collect()
    }

    fn openings(&self) -> Vec<OpeningReport<'a>> {
        let openings = self.report.contacts.openings.iter();
        let told = openings.map(|opening| OpeningReport {
            at_s: opening.at_s,
            open_s: opening.open_s,
            field: opening.found.as_ref().ok().map(|found| self.in_time(found)),
        });
        told.collect()
    }

    fn look(&self, look: &Look) -> LookReport<'a> {
        let regulators = self.report.regulators.iter().zip(&look.regulators);
        let dropped = regulators.filter(|(_, stands)| stands.has_dropped());
        let names = self.scenario.raster.elements.iter().map(String::as_str);
        let elements = look.elements.iter().map(|element| ElementReport {
            delta_mv: milli(element.delta_v),
            seen: element.seen.word(),
        });
        LookReport {
            source_v: thousandth(look.source_v),
            source_ma: milli(look.source_a),
            rails_v: self.rails(&look.rails_v, thousandth),
            chip_v: look.chip_v.map(thousandth),
            clock_hz: look.clock_hz,
            dropped: dropped.map(|(&part, _)| supply_words::part(self.scenario, part)).collect(),
            black_mv: milli(look.sync.black_v),
            tip_mv: milli(look.sync.tip_v),
            depth_mv: milli(look.sync.depth_v),
            sync: look.sync.state.word(),
            elements: names.zip(elements).collect(),
        }
    }

    fn in_time(&self, found: &InTime) -> InTimeReport<'a> {
        let names = self.scenario.raster.elements.iter().map(String::as_str);
        let elements = found.seen.iter().map(|seen| {
            seen.map(|(delta_v, seen)| ElementReport {
                delta_mv: milli(delta_v),
                seen: seen.word(),
            })
        });
        InTimeReport {
            porch_moves_mv: milli(found.porch_moves_v),
            porch_tilt_mv: milli(found.porch_tilt_v),
            rails_ripple_mv: self.rails(&found.rails_ripple_v, milli),
            rails_lowest_v: self.rails(&found.rails_lowest_v, thousandth),
            depth_mv: milli(found.depth_v),
            sync: found.sync.word(),
            elements: names.zip(elements).collect(),
            picture: words(&found.lock),
        }
    }

    fn beep(&self) -> BeepReport<'a> {
        let beep = &self.report.beep;
        BeepReport {
            node: supply_words::node(self.scenario, beep.node),
            ohm: beep.ohms,
            stated: beep.is_stated,
            ma: milli(beep.amps),
            black_dips_mv: milli(beep.black_sags_v),
            rails_sag_v: self.rails(&beep.rails_sag_v, thousandth),
            board: self.look(&beep.look),
        }
    }

    fn dried(&self) -> Vec<DriedReport<'a>> {
        let parts = self.report.dried.iter().flat_map(|dried| &dried.parts);
        let steps = parts.flat_map(|part| part.steps.iter().map(move |step| (part, step)));
        let told = steps.map(|(part, step)| DriedReport {
            part: supply_words::part(self.scenario, part.part),
            farad: part.farads,
            left: step.left,
            series: step.series,
            field: step.found.as_ref().ok().map(|found| self.in_time(found)),
        });
        told.collect()
    }

    fn bench(&self) -> Option<BenchReport<'a>> {
        let bench = self.report.bench.as_ref()?;
        Some(BenchReport {
            node: supply_words::node(self.scenario, bench.clip.node),
            volts: bench.clip.volts,
            limit_ma: milli(bench.clip.limit_a),
            alone: self.clipped(&bench.alone),
            together: self.clipped(&bench.together),
            bypassed: bench
                .bypassed
                .iter()
                .map(|&part| supply_words::part(self.scenario, part))
                .collect(),
            ratings: rating_reports(&bench.ratings),
            caution: CAUTIONS,
        })
    }

    fn clipped(&self, clipped: &Clipped) -> ClippedReport<'a> {
        ClippedReport {
            ma: milli(clipped.amps),
            limited: clipped.is_limited,
            node_v: thousandth(clipped.node_v),
            flows_ma: self.parts(&clipped.flows, 1e3),
            fed_ma: self.parts(&clipped.fed, 1e3),
            backward_v: self.parts(&clipped.backward, 1.0),
            board: self.look(&clipped.look),
        }
    }
}
