//! The billet, the shop, scale, cross-sections and limits.

use super::ranges::{COEFFICIENT, SHARE, TEMPERATURE};
use crate::line::file::metals::SteelRef;
use crate::surface::contact::{POROUS_SCALE, SCALE_CONDUCTIVITY};
use crate::text::{Usual, above, any, flag, number, table, text};

/// Below a millimetre no billet is forged hot: it would be cold before the first tool.
const ACROSS_MM: (f64, f64) = (1.0, 5000.0);

/// The fastest horizontal formers make some three parts a second (from memory); the slowest heating takes hours.
const TAKT_S: (f64, f64) = (0.1, 36_000.0);

/// Air beyond this is no shop, though a part may pass through hotter places.
const SHOP_AIR: Usual = Usual {
    low: -40.0,
    high: 60.0,
    of: "the usual range",
    code: "unusual-temperature",
};

table! {
    /// The billet.
    pub(crate) struct RawBillet = "Billet";

    /// Metal: a grade of the library, the path of a steel file (ending in `.toml`, relative to this
    /// file), or a table with the keys of a steel file.
    steel: SteelRef = any().required();
    /// Cross-section.
    section: String = any().words(&["round", "square", "rectangle", "plate"]);
    /// Diameter of a round billet.
    diameter_mm: f64 = number("mm", ACROSS_MM).required().of(&["round"]);
    /// Side of a square billet.
    side_mm: f64 = number("mm", ACROSS_MM).required().of(&["square"]);
    /// Width of a rectangular billet.
    width_mm: f64 = number("mm", ACROSS_MM).required().of(&["rectangle"]);
    /// Height of a rectangular billet.
    height_mm: f64 = number("mm", ACROSS_MM).required().of(&["rectangle"]);
    /// Thickness of a plate, cooled on its two faces only.
    thickness_mm: f64 = number("mm", (0.1, 5000.0)).required().of(&["plate"]);
    /// Length. Without it the piece is a long bar, followed by its section alone.
    length_mm: f64 = number("mm", (1.0, 20_000.0));
    /// Emissivity of the surface in place of the metal's.
    emissivity: f64 = number("", SHARE).follows("that of the steel");
    /// Share of the mass that turns into scale in the heater and comes off with the first new shape.
    scale_loss_percent: f64 = number("%", (0.0, 10.0))
        .or(0.0, "nothing taken off; common practice: 0.5 to 1 % in induction heating, 2 to 3 % in a furnace");
    /// Temperature below which the ends of a gripped bar count as too cold.
    cold_end_c: f64 = number("degC", TEMPERATURE).follows("the forging minimum of the steel");
}

table! {
    /// The shop.
    pub(crate) struct RawShop = "Shop";

    /// Air temperature.
    ambient_c: f64 = number("degC", TEMPERATURE).or(25.0, "common practice: a forge at rest").usual(SHOP_AIR);
    /// Temperature of what the part radiates to.
    surroundings_c: f64 = number("degC", TEMPERATURE).follows("equal to ambient_c");
    /// Time from part to part.
    takt_s: f64 = number("s", TAKT_S);
    /// Speed of the air past the part: a draught, a fan, or the speed of the move.
    air_speed_m_s: f64 = number("m/s", (0.0, 100.0)).or(0.0, "still air");
    /// Fixed film coefficient in place of the correlations.
    film_w_m2k: f64 = number("W/m2K", COEFFICIENT);
    /// Film coefficient of the air at tool faces that no part touches.
    tool_film_w_m2k: f64 = number("W/m2K", COEFFICIENT)
        .or(10.0, "a tool face in still air while no part touches it, common practice 5 to 15 W/m2K");
    /// View factor from the part to its surroundings.
    view_factor: f64 = number("", SHARE).or(1.0, "nothing hot in sight");
}

table! {
    /// Scale between the metal and what it meets.
    pub(crate) struct RawScale = "Scale";

    /// Thickness at heater exit. A measured exit needs it; on the way through a computed heater it grows.
    at_exit_um: f64 = number("um", (0.0, 5000.0))
        .follows("grown on the way through a computed heater; a measured exit needs it");
    /// Conductivity.
    w_mk: f64 = number("W/mK", (0.01, 100.0)).or(SCALE_CONDUCTIVITY, POROUS_SCALE);
    /// Factor on the thickness that grows.
    growth: f64 = number("", (0.0, 10.0))
        .or(1.0,
            "x2 = kp t, kp = 6.1 exp(-169452/RT) cm2/s in air (Paidassi 1958, from memory); kinetics differ by a factor of two");
    /// Share of the thickness that the first blow leaves.
    left_by_first_blow: f64 = number("", SHARE).or(0.0, "common practice: the first blow breaks the scale off");
    /// Share of the thickness that descaling leaves.
    left_by_descaling: f64 = number("", SHARE).or(0.0, "common practice: water at high pressure takes the scale off");
}

table! {
    /// A limit: what must hold, at which node and which moment.
    pub(crate) struct RawLimit = "Limit";

    /// Stage by name, or `heater`. Without it: every stage that has the moment.
    stage: String = text(200.0);
    /// `start`, `end`, `exit` (heater), `first blow`, `last blow`, `every blow`, `blow N`, `always`.
    /// A trimming stroke is the one blow of its stage; without a stage, blows are those of forging.
    moment: String = text(200.0).required();
    /// `core`, `surface`, `grip_end`, `free_end`, `edge`, `mean`, `coldest`, `hottest`, or a zone's
    /// `<zone>.mean`, `<zone>.core`, `<zone>.surface`, `<zone>.coldest`, `<zone>.hottest`.
    node: String = text(200.0).required();
    /// The node must be at least this hot.
    min_c: f64 = number("degC", TEMPERATURE);
    /// The node must be at most this hot.
    max_c: f64 = number("degC", TEMPERATURE);
    /// Second node of a difference limit.
    difference_to: String = text(200.0);
    /// The two nodes may differ by at most this much.
    max_k: f64 = number("K", (0.0, 1600.0));
    /// Where the limit comes from, shown beside it.
    source: String = text(1000.0);
}

table! {
    /// A cross-section of a long part, and the piece of the part that it stands for. Heat flow along the
    /// part from one section to the next is neglected.
    pub(crate) struct RawSection = "Section";

    /// Name: nodes are `<name>.mean`, `<name>.<zone>.mean` and so on.
    name: String = text(40.0).required();
    /// Share of the billet's mass, in the order of the sections from the grip end on.
    mass_percent: f64 = above("%", (0.0, 100.0)).required();
    /// Length of the forging that it stands for.
    length_mm: f64 = above("mm", (0.0, 5e3)).required();
    /// Whether its strips are the right half of it. Default: false.
    symmetric: bool = flag();
}
