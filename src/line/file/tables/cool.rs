//! What a stage of cooling has inside: conveyor, heap, fan.

use super::ranges::{COEFFICIENT, SECONDS, SHARE, SIZE_MM, TEMPERATURE};
use crate::line::plan::Pose;
use crate::text::{Choice, above, any, number, table, whole};

table! {
    /// Neighbours on a conveyor: equal parts, equally hot, that hide the hall from each other.
    pub(crate) struct RawConveyor = "Conveyor";

    /// Clear gap from a part to the next along the belt.
    spacing_mm: f64 = number("mm", SIZE_MM).required();
    /// Rows of parts side by side across the belt.
    rows: i64 = whole((1.0, 50.0)).or(1.0, "one part after the other");
    /// Clear gap from row to row.
    row_spacing_mm: f64 = number("mm", SIZE_MM).follows("equal to spacing_mm");
    /// The row of the part that is followed, from 1 at the edge of the belt.
    row: i64 = whole((1.0, 50.0)).follows("the middle row, which cools slowest");
    /// `standing` with the bar axis upright, or `lying` with the bar axis across the belt.
    pose: Choice<Pose> = any();
    /// Temperature of the belt, which faces that look down see.
    belt_c: f64 = number("degC", TEMPERATURE)
        .follows("that of the support where there is one, else that of the surroundings");
    /// View factor of the side past the neighbours, in place of the computed one.
    side_view: f64 = number("", SHARE)
        .follows("1 less the view factors of the neighbours, by size, spacing, rows and pose");
    /// View factor of the end faces of a lying part past the neighbours, in place of the computed one.
    end_view: f64 = number("", SHARE)
        .follows("1 less the mean view factor of the neighbours end to end, by diameter or section and row_spacing_mm");
}

table! {
    /// A basket or heap of equal parts, all alike: what leaves it leaves its outside.
    pub(crate) struct RawPile = "Pile";

    /// Parts in the basket or heap.
    parts: i64 = whole((2.0, 1e6));
    /// Share of the volume of the heap that is metal.
    fill: f64 = number("", (0.05, 0.95)).or(0.5, "forgings tipped in at random, common practice 0.3 to 0.6");
    /// Length of the basket inside. Without a basket the parts lie on the floor as a cone.
    basket_length_mm: f64 = above("mm", SIZE_MM);
    /// Width of the basket inside.
    basket_width_mm: f64 = above("mm", SIZE_MM);
    /// Slope of a heap on the floor.
    slope_deg: f64 = number("deg", (5.0, 60.0)).or(35.0, "angle of repose of rough pieces, common practice 30 to 40");
    /// Outside of the heap over the surface of all its parts, in place of the computed one.
    exposed_share: f64 = above("", (0.0, 1.0))
        .follows("outside of the heap over the surface of its parts, by parts, fill and outline");
}

table! {
    /// Forced air during a part of the stage.
    pub(crate) struct RawFan = "Fan";

    /// Speed of the air past the part while the fan blows.
    air_speed_m_s: f64 = number("m/s", (0.0, 100.0));
    /// Film coefficient while the fan blows, in place of the speed and its correlations.
    film_w_m2k: f64 = number("W/m2K", COEFFICIENT);
    /// When it starts, after the start of the stage.
    from_s: f64 = number("s", SECONDS).or(0.0, "from the start of the stage");
    /// When it stops, after the start of the stage. Default: at its end.
    until_s: f64 = number("s", SECONDS);
}
