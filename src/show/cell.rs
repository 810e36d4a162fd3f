//! What stands in a cell of a table or in a place of a sentence: values with their kind, never
//! finished text.

use super::language::Language;
use super::quantity::Quantity;
use super::sense::Sense;
use super::view::{Side, View};
use super::words::Words;
use crate::judge::Moment;
use crate::text::clean;
use crate::text::number::down;

/// What a limit or a check came to. The word beside it carries the meaning; a renderer may add colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// Holds.
    Ok,
    /// Holds, but needs watching.
    Watch,
    /// Does not hold.
    Broken,
}

/// A time that something may take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Seconds {
    /// This many seconds.
    Of(f64, Side),
    /// As long as one likes.
    Any,
    /// No time is left.
    None,
}

/// A message with its arguments.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    /// Id in the message files.
    pub id: &'static str,
    /// Arguments by the name of their place. A count in the place `n` chooses the plural form.
    pub places: Vec<(&'static str, Cell)>,
}

/// The message with an id.
pub fn say(id: &'static str) -> Text {
    Text { id, places: Vec::new() }
}

impl Text {
    /// Fills a place.
    pub fn with(mut self, place: &'static str, cell: impl Into<Cell>) -> Text {
        self.places.push((place, cell.into()));
        self
    }

    /// Fills the place `n` with a number of things, which chooses the plural form.
    pub fn count(self, n: usize) -> Text {
        self.with("n", Cell::count(n))
    }

    fn render(&self, view: &View) -> String {
        let n = self.places.iter().find_map(|(place, cell)| match cell {
            Cell::Number { value, .. } if *place == "n" => Some(*value),
            _ => None,
        });
        Words::of(view.language).fill(self.id, n, |place| {
            self.places
                .iter()
                .find(|(name, _)| *name == place)
                .map(|(_, cell)| cell.whole(view))
        })
    }
}

/// One value of a table or a sentence.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing to say here.
    Empty,
    /// Words of the message files.
    Text(Text),
    /// A text of the user or a name of the file: never translated, always cleaned.
    Name(String),
    /// A node of the part, in the words of the language.
    Node(String),
    /// A node by the short name that curves and columns bear.
    Curve(String),
    /// A moment of a stage, in the words of the language.
    Moment(Moment),
    /// A name that the program gives: a tool, a phase of a stage, a kind of heat.
    Term(String),
    /// The unit of a kind of number.
    Unit(Quantity),
    /// A number.
    Number {
        /// Value in SI units.
        value: f64,
        /// What it is.
        quantity: Quantity,
        /// To which side it is rounded.
        side: Side,
        /// Whether a plus is written.
        signed: bool,
    },
    /// What must hold.
    Limit {
        /// At least or at most.
        sense: Sense,
        /// Value in SI units.
        value: f64,
        /// What it is.
        quantity: Quantity,
    },
    /// From one value to another; an end that is missing is open.
    Interval {
        /// Low end.
        low: Option<f64>,
        /// High end.
        high: Option<f64>,
        /// What the ends are.
        quantity: Quantity,
        /// Whether the ends are rounded inwards (an allowed range) instead of to the nearest.
        allowed: bool,
    },
    /// A time that something may take.
    Seconds(Seconds),
    /// A word with its meaning for renderers that have colour.
    Mark(Mark, Text),
    /// Several values in a row, parted by commas.
    List(Vec<Cell>),
    /// Two values with a sign between them and nothing else: `a / b`, `mean (low – high)`.
    Pair(Box<Cell>, Joint, Box<Cell>),
}

/// What stands between the two of a [`Cell::Pair`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Joint {
    /// `a / b`.
    Slash,
    /// `a, b`.
    Comma,
    /// `a (b)`.
    Brackets,
    /// `a: b`.
    Colon,
    /// `a b`.
    Space,
    /// `a × b`.
    Times,
}

impl From<Text> for Cell {
    fn from(text: Text) -> Cell {
        Cell::Text(text)
    }
}

impl Cell {
    /// A text of the user.
    pub fn name(text: impl Into<String>) -> Cell {
        Cell::Name(text.into())
    }

    /// A number, rounded as its quantity is.
    pub fn number(value: f64, quantity: Quantity) -> Cell {
        Cell::Number {
            value,
            quantity,
            side: quantity.side(),
            signed: false,
        }
    }

    /// A number, or nothing.
    pub fn maybe(value: Option<f64>, quantity: Quantity) -> Cell {
        value.map_or(Cell::Empty, |value| Cell::number(value, quantity))
    }

    /// A number of things.
    pub fn count(n: usize) -> Cell {
        Cell::number(n as f64, Quantity::Count)
    }

    /// The same number with a plus in front where it is positive.
    pub fn signed(mut self) -> Cell {
        if let Cell::Number { signed, .. } = &mut self {
            *signed = true;
        }
        self
    }

    /// The same number never below its value.
    pub fn up(mut self) -> Cell {
        if let Cell::Number { side, .. } = &mut self {
            *side = Side::Up;
        }
        self
    }

    /// The same number never above its value.
    pub fn down(mut self) -> Cell {
        if let Cell::Number { side, .. } = &mut self {
            *side = Side::Down;
        }
        self
    }

    /// The same number to the nearest.
    pub fn nearest(mut self) -> Cell {
        if let Cell::Number { side, .. } = &mut self {
            *side = Side::Nearest;
        }
        self
    }

    /// A range that is allowed: its ends are rounded inwards.
    pub fn allowed(low: Option<f64>, high: Option<f64>, quantity: Quantity) -> Cell {
        Cell::Interval {
            low,
            high,
            quantity,
            allowed: true,
        }
    }

    /// A range of estimates.
    pub fn range(low: f64, high: f64, quantity: Quantity) -> Cell {
        Cell::Interval {
            low: Some(low),
            high: Some(high),
            quantity,
            allowed: false,
        }
    }

    /// This and another, joined.
    pub fn joined(self, joint: Joint, other: impl Into<Cell>) -> Cell {
        Cell::Pair(Box::new(self), joint, Box::new(other.into()))
    }

    /// As it stands in a sentence: numbers with their units.
    pub fn whole(&self, view: &View) -> String {
        self.render(view, true)
    }

    /// As it stands in a column whose head has the unit.
    pub fn bare(&self, view: &View) -> String {
        self.render(view, false)
    }

    /// Whether a spreadsheet should take it for a number.
    pub fn is_number(&self) -> bool {
        matches!(self, Cell::Number { .. } | Cell::Seconds(Seconds::Of(..)))
    }

    fn render(&self, view: &View, unit: bool) -> String {
        match self {
            Cell::Empty => String::new(),
            Cell::Text(text) | Cell::Mark(_, text) => text.render(view),
            Cell::Name(name) => clean(name),
            Cell::Node(node) => clean(&view.node(node)),
            Cell::Curve(node) => clean(&view.curve(node)),
            Cell::Moment(moment) => clean(&view.moment(*moment)),
            Cell::Unit(quantity) => quantity.unit(view.display).replace(' ', "\u{a0}"),
            Cell::Term(term) => clean(&view.term(term)),
            Cell::Number {
                value,
                quantity,
                side,
                signed,
            } => number((*value, *quantity, *side), *signed, view, unit),
            Cell::Limit { sense, value, quantity } => {
                let number = quantity.with_unit(*value, sense.side(), false, view);
                let delta = if *quantity == Quantity::Temperature {
                    ""
                } else {
                    "\u{394}\u{a0}"
                };
                format!("{delta}{}\u{a0}{number}", sense.sign())
            }
            Cell::Interval {
                low,
                high,
                quantity,
                allowed,
            } => {
                let sides = match allowed {
                    true => (Side::Up, Side::Down),
                    false => (Side::Nearest, Side::Nearest),
                };
                if let (true, Some(low), Some(high)) = (*allowed, low, high)
                    && let Some(step) = quantity.wider_than(*low, *high, view)
                {
                    return say("number.narrow").with("step", Cell::Name(step)).render(view);
                }
                let of = |value: &Option<f64>, side| value.map(|v| quantity.digits(v, side, false, view));
                let text = match (of(low, sides.0), of(high, sides.1)) {
                    (Some(a), Some(b)) => format!("{a}\u{a0}\u{2013}\u{a0}{b}"),
                    (Some(a), None) => format!("\u{2265}\u{a0}{a}"),
                    (None, Some(b)) => format!("\u{2264}\u{a0}{b}"),
                    (None, None) => String::new(),
                };
                if unit {
                    quantity.and_unit(text, view.display)
                } else {
                    text
                }
            }
            Cell::Seconds(Seconds::Of(value, side)) => number((*value, Quantity::Seconds, *side), false, view, unit),
            Cell::Seconds(Seconds::Any) => say("time.any").render(view),
            Cell::Seconds(Seconds::None) => say("time.none").render(view),
            Cell::List(cells) => {
                let parts: Vec<String> = cells.iter().map(|cell| cell.render(view, unit)).collect();
                parts.join(view.language.comma())
            }
            Cell::Pair(a, joint, b) => {
                let (a, b) = (a.render(view, unit), b.render(view, unit));
                match joint {
                    Joint::Slash => format!("{a} / {b}"),
                    Joint::Comma => format!("{a}{}{b}", view.language.comma()),
                    Joint::Brackets if view.language == Language::Zh => format!("{a}\u{ff08}{b}\u{ff09}"),
                    Joint::Brackets => format!("{a} ({b})"),
                    Joint::Colon => format!("{a}{}{b}", view.language.colon()),
                    Joint::Space => format!("{a} {b}"),
                    Joint::Times => format!("{a}\u{a0}\u{d7}\u{a0}{b}"),
                }
            }
        }
    }
}

impl Seconds {
    /// Seconds that are allowed: rounded down, none where nothing is left.
    pub fn allowed(seconds: f64) -> Seconds {
        if down(seconds, 1) > 0.0 {
            Seconds::Of(seconds, Side::Down)
        } else {
            Seconds::None
        }
    }
}

fn number((value, quantity, side): (f64, Quantity, Side), signed: bool, view: &View, unit: bool) -> String {
    if unit {
        quantity.with_unit(value, side, signed, view)
    } else {
        quantity.digits(value, side, signed, view)
    }
}
