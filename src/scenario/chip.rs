//! `[chip]` and `[game]`: what drives the board.

use crate::base::diagnostic::Span;
use crate::document::fields::Fields;
use crate::document::fields::as_table;
use crate::document::fields::as_text;
use crate::document::fields::hint;
use crate::document::fields::index_of;
use crate::document::problems::Problems;
use crate::document::quantity::CURRENT;
use crate::document::tree::Table;
use crate::profile;
use crate::profile::Profile;
use crate::profile::builtin;
use crate::profile::drive;
use crate::profile::drive::Layer;
use crate::profile::drive::PinDrive;
use crate::profile::limits;
use crate::profile::limits::ChipLimits;
use crate::profile::pins::PIN_KEYS;
use crate::profile::pins::SENSES;
use crate::profile::pins::STRENGTHS;
use crate::profile::pins::Strength;
use crate::raster::plan::PinPlan;
use crate::raster::plan::RasterPlan;
use crate::raster::plan::Sense;
use crate::scenario::Specimen;
use crate::scenario::clock;
use crate::scenario::files::Files;
use crate::scenario::files::beside;
use crate::scenario::files::read_text;
use crate::scenario::game;
use crate::scenario::nodes::GROUND;
use crate::scenario::nodes::check_name;
use crate::scenario::pattern;
use crate::signal::tank::Tank;

/// A chip in its place on the board.
#[derive(Debug)]
pub(crate) struct Chip {
    pub(crate) raster: RasterPlan,
    pub(crate) pins: Vec<ChipPin>,
    /// The node that feeds the chip, and where it is named.
    pub(crate) supply: Option<(String, Span)>,
    pub(crate) draw_amps: f64,
    /// The pins' stages in every specimen of the chip, if it has several.
    pub(crate) specimens: Vec<Specimen>,
    pub(crate) limits: ChipLimits,
    /// Driven by patterns.
    pub(crate) is_pattern: bool,
    /// What makes the clock, if that is stated.
    pub(crate) tank: Option<Tank>,
    /// Share by which that moves the clock for each volt of the supply, if it is stated.
    pub(crate) clock_per_volt: Option<f64>,
    /// Supply at which volts are stated, V.
    pub(crate) nominal_volts: f64,
    /// The field rate that the chip is meant for, whatever its clock is here, Hz: a clock that is
    /// off does not make the set one of another standard.
    pub(crate) nominal_field_hz: f64,
}

/// A pin: what it does and where it goes.
#[derive(Debug)]
pub(crate) struct ChipPin {
    pub(crate) plan: PinPlan,
    pub(crate) drive: PinDrive,
    pub(crate) node: String,
    pub(crate) node_span: Option<Span>,
}

/// A chip as its profile or its patterns describe it, before the scenario has its say.
pub(crate) struct Body {
    pub(crate) raster: RasterPlan,
    /// The output stage of each pin, as written.
    pub(crate) drives: Vec<Table>,
    /// The same for every specimen of the chip, if it has several.
    pub(crate) specimens: Vec<(Strength, Vec<Table>)>,
    pub(crate) nominal_volts: f64,
    pub(crate) draw_amps: f64,
    pub(crate) limits: ChipLimits,
}

/// Reads the chip. `game` is the `[game]` table, if there is one.
pub(crate) fn read(table: &Table, game: Option<&Table>, files: &mut Files<'_>) -> Option<Chip> {
    let problems = files.problems;
    let fields = Fields::open(table, "[chip]", problems);
    let strength = fields.choice("strength", &STRENGTHS).unwrap_or(Strength::Typical);
    let supply = supply(&fields);
    let current = fields.quantity("current", &CURRENT);
    let has_clock = fields.has("clock");
    let clock = clock::read(&fields);
    let pattern_driven = fields.has("pattern") || fields.has("timing");
    let body = match (fields.has("profile"), pattern_driven) {
        (true, true) => {
            let message = "a chip has a profile or patterns, not both".to_owned();
            problems.add(fields.place("profile"), message, "expected one of the two");
            None
        }
        (_, true) => pattern::read(&fields, game),
        (_, false) => profiled(&fields, strength, game, files),
    };
    let below = body.as_ref().map_or(limits::USUAL, |body| body.limits);
    let limits = limits::read(&fields, below);
    let [ties, words] = ["pins", "pin"].map(|key| fields.table(key));
    let pins = body.as_ref().and_then(|body| pins(&fields, (body, &body.drives), ties, words));
    let specimens = body.as_ref().map(|body| specimens(table, body, ties, words));
    if !pattern_driven || body.is_some() {
        fields.close();
    }
    let (body, pins, specimens) = (body?, pins?, specimens?);
    needs_supply(table, &pins, supply.as_ref(), files);
    let mut raster = body.raster;
    raster.pins = pins.iter().map(|pin| pin.plan.clone()).collect();
    let nominal_field_hz = raster.timing.field_hz();
    let tank = clock.as_ref().and_then(|clock| clock.tank);
    let clock_per_volt = clock.as_ref().and_then(|clock| clock.per_volt);
    let nominal_volts = body.nominal_volts;
    if has_clock {
        raster.timing.clock = clock?.rate;
    }
    let draw_amps = current.unwrap_or(body.draw_amps);
    let is_pattern = pattern_driven;
    Some(Chip {
        raster,
        pins,
        supply,
        draw_amps,
        specimens,
        limits,
        is_pattern,
        tank,
        clock_per_volt,
        nominal_volts,
        nominal_field_hz,
    })
}

/// The pins of every specimen; one for which the scenario's own words make no sense is left out, as
/// are all if they do not differ.
fn specimens(
    table: &Table,
    body: &Body,
    ties: Option<&Table>,
    words: Option<&Table>,
) -> Vec<Specimen> {
    let mut all: Vec<Specimen> = Vec::new();
    for (strength, drives) in &body.specimens {
        // What is wrong with the words is said once, of the specimen in hand.
        let unheard = Problems::default();
        let fields = Fields::open(table, "[chip]", &unheard);
        let pins = pins(&fields, (body, drives), ties, words).filter(|_| unheard.is_empty());
        let stages = |pins: Vec<ChipPin>| pins.into_iter().map(|pin| pin.drive.levels).collect();
        all.extend(pins.map(|pins| Specimen { strength: *strength, stages: stages(pins) }));
    }
    let differ = all.windows(2).any(|pair| pair[0].stages != pair[1].stages);
    if differ { all } else { Vec::new() }
}

fn supply(fields: &Fields<'_>) -> Option<(String, Span)> {
    let (name, span) = fields.text("supply")?;
    check_name(name, span, fields.problems())?;
    if name == GROUND {
        let message = "the chip is supplied from ground".to_owned();
        fields.problems().add(span, message, "expected the node that feeds it");
        return None;
    }
    Some((name.to_owned(), span.clone()))
}

/// A pin that follows the supply needs one.
fn needs_supply(
    table: &Table,
    pins: &[ChipPin],
    supply: Option<&(String, Span)>,
    files: &Files<'_>,
) {
    let following = pins.iter().find(|pin| pin.drive.follows_supply());
    if let (None, Some(pin), None) = (supply, following, table.get("supply")) {
        let message =
            format!("the chip has no `supply`, but its pin `{}` follows it", pin.plan.name);
        let expected = "expected the node that feeds the chip, such as `supply = \"chip_rail\"`";
        files.problems.add(&table.span, message, expected);
    }
}

fn profiled(
    fields: &Fields<'_>,
    strength: Strength,
    game: Option<&Table>,
    files: &mut Files<'_>,
) -> Option<Body> {
    let profile = profile(fields, files)?;
    let drives =
        |strength| profile.pins.iter().map(|pin| pin.drive(strength).clone()).collect::<Vec<_>>();
    let specimens = STRENGTHS.map(|(_, strength)| (strength, drives(strength)));
    let drives = drives(strength);
    let content = game::content(game, &profile, files.problems)?;
    Some(Body {
        raster: RasterPlan {
            timing: profile.timing,
            elements: profile.elements,
            pins: profile.pins.into_iter().map(|pin| pin.plan).collect(),
            sync_blocks: None,
            content,
        },
        drives,
        specimens: specimens.into(),
        nominal_volts: profile.nominal_volts,
        draw_amps: profile.draw_amps,
        limits: profile.limits,
    })
}

/// A built-in profile by name, or a user's own by its file name.
fn profile(fields: &Fields<'_>, files: &mut Files<'_>) -> Option<Profile> {
    let names = builtin::BUILTIN.map(|(name, _)| name);
    let quoted = names.map(|name| format!("`{name}`")).join(", ");
    let expected = format!("expected {quoted} or a file ending in `.toml`");
    let (name, span) = fields.needed("profile", &expected, fields.text("profile"))?;
    let problems = files.problems;
    let root = if let Some(text) = builtin::text(name) {
        read_text(&format!("built-in {name}"), text.to_owned(), problems)
    } else if name.ends_with(".toml") {
        files.table(&beside(span, name), Some(span))
    } else {
        let hint = hint(name, &names);
        problems.add_hinted(span, format!("unknown chip profile `{name}`"), &expected, hint);
        None
    };
    profile::read(&root?, problems)
}

/// Puts the scenario's own words over each pin: `[chip.pins]` for nodes, `[chip.pin.NAME]` for
/// sense and output stage.
fn pins(
    fields: &Fields<'_>,
    (body, drives): (&Body, &[Table]),
    ties: Option<&Table>,
    words: Option<&Table>,
) -> Option<Vec<ChipPin>> {
    let problems = fields.problems();
    let names: Vec<String> = body.raster.pins.iter().map(|pin| pin.name.clone()).collect();
    let mut known = Some(());
    for entry in [ties, words].into_iter().flatten().flat_map(|table| &table.entries) {
        let name = (entry.key.as_str(), &entry.key_span);
        known = index_of(name, "pin", &names, problems).and(known);
    }
    let mut pins = Vec::new();
    for (plan, drive) in body.raster.pins.iter().zip(drives) {
        let own = words.and_then(|words| words.get(&plan.name));
        let own = own.and_then(|entry| as_table(&entry.item, &entry.key, problems));
        let plan = PinPlan { sense: sense(own, plan, fields), ..plan.clone() };
        let drive = driven(own, drive, &plan, body.nominal_volts, fields);
        let tie = ties.and_then(|ties| ties.get(&plan.name));
        let tie = tie.and_then(|entry| as_text(&entry.item, problems));
        let tie = tie.filter(|(name, span)| check_name(name, span, problems).is_some());
        let node = tie.map_or(plan.name.as_str(), |(name, _)| name).to_owned();
        let node_span = tie.map(|(_, span)| span.clone());
        pins.push(drive.map(|drive| ChipPin { plan, drive, node, node_span }));
    }
    known?;
    pins.into_iter().collect()
}

fn sense(own: Option<&Table>, plan: &PinPlan, chip: &Fields<'_>) -> Sense {
    let own = own.map(|own| Fields::open(own, format!("pin `{}`", plan.name), chip.problems()));
    own.and_then(|own| own.choice("sense", &SENSES)).unwrap_or(plan.sense)
}

fn driven(
    own: Option<&Table>,
    below: &Table,
    plan: &PinPlan,
    nominal_volts: f64,
    chip: &Fields<'_>,
) -> Option<PinDrive> {
    let mut layers = Layer::default();
    layers.put(below);
    if let Some(own) = own {
        layers.put(own);
    }
    let span = own.map_or(&below.span, |own| &own.span);
    let known: Vec<&str> = PIN_KEYS.into_iter().chain(pattern::PATTERN_KEYS).collect();
    let context = drive::Context { nominal_volts, plan, known: &known };
    drive::read(&layers.into_table(span), &context, chip.problems())
}
