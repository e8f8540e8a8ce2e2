//! A part moved from one pin of the chip to another: what the one pin has otherwise than the other,
//! property by property, on a stand-in that drives the part alone.

use crate::analysis::cause::scene::open_volts;
use crate::analysis::cause::trial::stage_ohms;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::network::circuit::PinStage;
use crate::network::evaluation::MAX_STATES;
use crate::raster::plan::Carries;
use crate::raster::plan::CombinedLevels;
use crate::raster::plan::LinePart;
use crate::raster::plan::PinPlan;
use crate::raster::plan::Sense;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;
use crate::signal::pulse_train::Level;

/// What a pin can have otherwise than another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Aspect {
    /// What it does in the sync pulse and in blanking.
    Sync,
    /// Its height for the elements of the pin that the part comes from.
    Own,
    /// What it does for other elements.
    Picture,
    /// Its volts with nothing lit.
    Bias,
    /// Its resistance.
    Loading,
    /// Its delay, edges and capacitance.
    Delay,
}

impl Aspect {
    pub(super) const ALL: [Self; 6] =
        [Self::Sync, Self::Own, Self::Picture, Self::Bias, Self::Loading, Self::Delay];
}

/// A pin as a part sees it: volts behind a resistance in every state. The resistance of a
/// square-law stage is taken at half of its volts.
#[derive(Clone, Debug, PartialEq)]
struct View {
    name: String,
    volts: Vec<f64>,
    ohms: Vec<f64>,
    delay_s: f64,
    rise_s: f64,
    fall_s: f64,
    farads: f64,
}

/// States: tip, blanking, black, then one for each element.
const BLACK: usize = 2;
const FIRST_ELEMENT: usize = 3;

/// A part with one end moved from a pin to another.
#[derive(Clone, Debug)]
pub(super) struct Twin {
    pub(super) part: PartId,
    pub(super) terminal: usize,
    views: [View; 2],
    /// Elements that the first pin carries.
    own: Vec<usize>,
    supply: NodeId,
}

impl Twin {
    /// A move between two nodes of a scenario, each of which one pin drives; `supply_v` feeds the
    /// chip. `None` if it is not such a move, or if there are too many elements for a stand-in.
    pub(super) fn new(
        scenario: &Scenario,
        part: PartId,
        terminal: usize,
        nodes: [NodeId; 2],
        supply_v: f64,
    ) -> Option<Self> {
        let elements = scenario.raster.elements.len();
        if FIRST_ELEMENT + elements > MAX_STATES {
            return None;
        }
        let pin = |node: NodeId| {
            let mut pins = scenario.circuit.pins().enumerate();
            let found = pins.find(|(_, (_, pin))| pin.node == node)?;
            let count = scenario.circuit.pins().filter(|(_, pin)| pin.node == node).count();
            (count == 1).then_some((found.0, found.1.1))
        };
        let [first, second] = nodes.map(pin);
        let (first, second) = (first?, second?);
        // What lets go at some level has no volts of its own there.
        let lets_go = |pin: &Pin| pin.levels.iter().any(|s| matches!(s, PinStage::Off { .. }));
        if lets_go(first.1) || lets_go(second.1) {
            return None;
        }
        let views = [first, second].map(|(index, pin)| view(scenario, index, pin, supply_v));
        let moves = |index: &usize| {
            let state = FIRST_ELEMENT + index;
            let view = &views[0];
            (view.volts[state] - view.volts[BLACK]).abs() > 1e-9
        };
        let own = (0..elements).filter(moves).collect();
        Some(Self { part, terminal, views, own, supply: first.1.supply })
    }

    fn aspect_of(&self, state: usize) -> Option<Aspect> {
        match state {
            BLACK => None,
            state if state < BLACK => Some(Aspect::Sync),
            state if self.own.contains(&(state - FIRST_ELEMENT)) => Some(Aspect::Own),
            _ => Some(Aspect::Picture),
        }
    }

    /// Whether the two pins differ in something.
    pub(super) fn differs(&self, aspect: Aspect) -> bool {
        let same = self.view(&|_| false);
        self.view(&|chosen| chosen == aspect) != same
    }

    /// The pin with those properties of the second that are chosen, and the first's otherwise.
    fn view(&self, of_second: &dyn Fn(Aspect) -> bool) -> View {
        let of = |aspect: Aspect| &self.views[usize::from(of_second(aspect))];
        let states = 0..self.views[0].volts.len();
        let volts = states.map(|state| {
            let above = self.aspect_of(state).map_or(0.0, |aspect| {
                let view = of(aspect);
                view.volts[state] - view.volts[BLACK]
            });
            of(Aspect::Bias).volts[BLACK] + above
        });
        let late = of(Aspect::Delay);
        View {
            name: String::new(),
            volts: volts.collect(),
            ohms: of(Aspect::Loading).ohms.clone(),
            delay_s: late.delay_s,
            rise_s: late.rise_s,
            fall_s: late.fall_s,
            farads: late.farads,
        }
    }

    /// Ties the part to a stand-in of its own.
    pub(super) fn apply(&self, scenario: &mut Scenario, of_second: &dyn Fn(Aspect) -> bool) {
        let view = self.view(of_second);
        let circuit = &mut scenario.circuit;
        let node = NodeId(circuit.nodes.len());
        let name =
            format!("stand-in for {} at {}", self.views[0].name, circuit.parts[self.part.0].name);
        circuit.nodes.push(name.clone());
        let mut terminals =
            crate::network::terminal::terminals_mut(&mut circuit.parts[self.part.0].kind);
        if let Some((_, tied)) = terminals.get_mut(self.terminal) {
            **tied = node;
        }
        let stages = view.volts.iter().zip(&view.ohms);
        let levels =
            stages.map(|(&offset, &ohms)| PinStage::Linear { offset, share: 0.0, ohms }).collect();
        let View { delay_s, rise_s, fall_s, farads, .. } = view;
        let supply = self.supply;
        let pin = Pin { node, supply, levels, delay_s, rise_s, fall_s, farads };
        circuit.parts.push(Part { name: name.clone(), kind: PartKind::Pin(Box::new(pin)) });
        scenario.raster.pins.push(PinPlan {
            name,
            carries: Carries::Combined(self.levels()),
            sense: Sense::ActiveHigh,
        });
    }

    /// The states as levels of a combined pin; its own elements come first where several are lit.
    fn levels(&self) -> CombinedLevels {
        let elements = 0..self.views[0].volts.len() - FIRST_ELEMENT;
        let (own, others): (Vec<usize>, Vec<usize>) =
            elements.partition(|element| self.own.contains(element));
        let level = |element: usize| {
            let byte = |index: usize| u8::try_from(index).unwrap_or(u8::MAX);
            (ElementId(byte(element)), Level(byte(FIRST_ELEMENT + element)))
        };
        CombinedLevels {
            tip: Level(0),
            blanking: Level(1),
            black: Level(2),
            lit: own.into_iter().chain(others).map(level).collect(),
        }
    }

    /// The difference in words.
    pub(super) fn words(&self, scenario: &Scenario, aspect: Aspect) -> String {
        let part = &scenario.circuit.parts[self.part.0].name;
        let [first, second] = &self.views;
        let (from, to) = (first.name.to_uppercase(), second.name.to_uppercase());
        let above = |view: &View, state: usize| view.volts[state] - view.volts[BLACK];
        let pair = |state: usize| {
            format!("{:+.2} V in place of {:+.2} V", above(second, state), above(first, state))
        };
        let what = match aspect {
            Aspect::Sync => format!("its sync: in the pulse {} from black", pair(0)),
            Aspect::Own => {
                let names: Vec<String> = self
                    .own
                    .iter()
                    .map(|&element| {
                        let name = &scenario.raster.elements[element];
                        format!("{name} {}", pair(FIRST_ELEMENT + element))
                    })
                    .collect();
                format!("its own element: {}", names.join(", "))
            }
            Aspect::Picture => {
                let others = (0..scenario.raster.elements.len())
                    .filter(|element| !self.own.contains(element))
                    .map(|element| {
                        let name = &scenario.raster.elements[element];
                        format!("{name} {:+.2} V", above(second, FIRST_ELEMENT + element))
                    });
                format!("the rest of its picture: {}", others.collect::<Vec<_>>().join(", "))
            }
            Aspect::Bias => format!(
                "its DC bias: black at {:.2} V in place of {:.2} V",
                second.volts[BLACK], first.volts[BLACK]
            ),
            Aspect::Loading => format!(
                "its loading: {:.2} kΩ at black in place of {:.2} kΩ",
                1e-3 * second.ohms[BLACK],
                1e-3 * first.ohms[BLACK]
            ),
            Aspect::Delay => "its delay, edges and capacitance".to_owned(),
        };
        format!("{part} on pin {to}, not {from}: {what}").replace(" -", " −")
    }
}

fn view(scenario: &Scenario, index: usize, pin: &Pin, supply_v: f64) -> View {
    let elements = (0..scenario.raster.elements.len()).map(|element| {
        let only = ElementSet::only(ElementId(u8::try_from(element).unwrap_or(u8::MAX)));
        (only, LinePart::Active)
    });
    let states = [LinePart::Sync, LinePart::Blanking, LinePart::Active]
        .map(|part| (ElementSet::EMPTY, part))
        .into_iter()
        .chain(elements);
    let stages: Vec<&PinStage> = states
        .map(|(lit, part)| {
            let level = scenario.raster.pins[index].level(lit, part);
            &pin.levels[usize::from(level.0)]
        })
        .collect();
    let supply_v = if pin.supply == NodeId::GROUND { 0.0 } else { supply_v };
    View {
        name: scenario.raster.pins[index].name.clone(),
        volts: stages.iter().map(|stage| open_volts(pin, stage, supply_v)).collect(),
        ohms: stages.iter().map(|stage| stage_ohms(stage, supply_v).max(1.0)).collect(),
        delay_s: pin.delay_s,
        rise_s: pin.rise_s,
        fall_s: pin.fall_s,
        farads: pin.farads,
    }
}
