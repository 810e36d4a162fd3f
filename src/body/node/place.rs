//! The words of nodes: a place of the part, or of one of its zones.

/// Where a node is taken; in a file and in tables behind the name of a zone, as in `flash.mean`, or alone for the
/// whole part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The heart of the part or zone.
    Core,
    /// Its skin: at mid-length of a part, all of it of a zone.
    Surface,
    /// Centre of the end face that is gripped.
    GripEnd,
    /// Centre of the other end face.
    FreeEnd,
    /// The colder of the two rims.
    Edge,
    /// The temperature of the mean enthalpy.
    Mean,
    /// The coldest spot.
    Coldest,
    /// The hottest spot.
    Hottest,
}

impl Place {
    /// Those of every part with ends, in the order of the tables.
    pub const ALL: [Place; 8] = [
        Place::Core,
        Place::Surface,
        Place::GripEnd,
        Place::FreeEnd,
        Place::Edge,
        Place::Mean,
        Place::Coldest,
        Place::Hottest,
    ];

    /// Those of a zone, in the order of the tables.
    pub const OF_ZONE: [Place; 5] = [Place::Mean, Place::Core, Place::Surface, Place::Coldest, Place::Hottest];

    /// Its word.
    pub const fn word(self) -> &'static str {
        match self {
            Place::Core => "core",
            Place::Surface => "surface",
            Place::GripEnd => "grip_end",
            Place::FreeEnd => "free_end",
            Place::Edge => "edge",
            Place::Mean => "mean",
            Place::Coldest => "coldest",
            Place::Hottest => "hottest",
        }
    }

    /// The zone and the place of a node; `None` where the last word is no place.
    pub fn of(node: &str) -> Option<(Option<&str>, Place)> {
        let (zone, word) = match node.rsplit_once('.') {
            Some((zone, word)) => (Some(zone), word),
            None => (None, node),
        };
        let place = Place::ALL.into_iter().find(|place| place.word() == word)?;
        (zone.is_none() || Place::OF_ZONE.contains(&place)).then_some((zone, place))
    }

    /// The node of a zone here.
    pub fn in_zone(self, zone: &str) -> String {
        format!("{zone}.{}", self.word())
    }

    /// Whether it lies on an end face or rim, which a body without ends has not.
    pub fn is_of_ends(self) -> bool {
        matches!(self, Place::GripEnd | Place::FreeEnd | Place::Edge)
    }

    /// Whether it wanders with the temperatures.
    pub fn is_extreme(self) -> bool {
        matches!(self, Place::Coldest | Place::Hottest)
    }

    /// Whether it lies on the skin.
    pub fn is_on_skin(self) -> bool {
        self == Place::Surface || self.is_of_ends()
    }
}

#[cfg(test)]
mod tests {
    use super::Place;

    #[test]
    fn every_node_reads_back_as_it_is_written() {
        for place in Place::ALL {
            assert_eq!(Place::of(place.word()), Some((None, place)));
        }
        for place in Place::OF_ZONE {
            assert_eq!(Place::of(&place.in_zone("eye.flash")), Some((Some("eye.flash"), place)));
        }
        for none in ["", "flash", "flash.edge", "body.", "Core"] {
            assert_eq!(Place::of(none), None, "{none}");
        }
    }
}
