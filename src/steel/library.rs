//! The grades that come with the program.

use std::sync::{Arc, OnceLock};

use super::embedded::GRADES;
use super::error::{SteelError, nearest};
use super::grade::Steel;

/// A set of grades, found by name or alias.
///
/// ```
/// use billet_thermal::steel::Library;
/// let library = Library::builtin()?;
/// assert_eq!(library.find("1.7225")?.name, "42CrMo4");
/// assert!(library.find("42CrMo5").unwrap_err().to_string().contains("is `42CrMo4` meant?"));
/// # Ok::<(), billet_thermal::steel::SteelError>(())
/// ```
#[derive(Debug, Clone)]
pub struct Library {
    grades: Vec<Arc<Steel>>,
}

/// One line of a table of grades.
#[derive(Debug, Clone, PartialEq)]
pub struct GradeSummary {
    /// Name of the grade.
    pub name: String,
    /// Other names.
    pub aliases: Vec<String>,
    /// Kind of metal.
    pub family: String,
    /// Solidus estimate, degC.
    pub solidus_c: Option<f64>,
    /// Never-exceed temperature, degC.
    pub never_exceed_c: Option<f64>,
    /// Start maximum, degC.
    pub start_max_c: Option<f64>,
    /// Forging minimum, degC.
    pub forging_min_c: Option<f64>,
    /// Trim window, degC.
    pub trim_c: Option<(f64, f64)>,
    /// Tempering temperature of a die steel, degC.
    pub tempering_c: Option<f64>,
}

impl Library {
    /// The grades that come with the program, read once.
    pub fn builtin() -> Result<&'static Library, SteelError> {
        static BUILTIN: OnceLock<Result<Library, SteelError>> = OnceLock::new();
        BUILTIN
            .get_or_init(|| Library::from_texts(&GRADES))
            .as_ref()
            .map_err(Clone::clone)
    }

    /// A library from (file name, text) pairs, by the library's rules.
    fn from_texts(files: &[(&str, &str)]) -> Result<Library, SteelError> {
        let grades = files
            .iter()
            .map(|(file, text)| Steel::from_library_str(text, file).map(Arc::new))
            .collect::<Result<Vec<_>, _>>()?;
        Ok(Library { grades })
    }

    /// The grade with this name or alias; case and spaces do not matter.
    pub fn find(&self, name: &str) -> Result<Arc<Steel>, SteelError> {
        let wanted = plain(name);
        let hit = self.grades.iter().find(|g| plain(&g.name) == wanted).or_else(|| {
            self.grades
                .iter()
                .find(|g| g.aliases.iter().any(|a| plain(a) == wanted))
        });
        hit.cloned().ok_or_else(|| SteelError::UnknownGrade {
            name: name.to_string(),
            near: nearest(
                name,
                self.grades
                    .iter()
                    .flat_map(|g| std::iter::once(g.name.as_str()).chain(g.aliases.iter().map(String::as_str))),
            ),
            known: self.names(),
        })
    }

    /// Names of all grades, in the library's order.
    pub fn names(&self) -> Vec<String> {
        self.grades.iter().map(|g| g.name.clone()).collect()
    }

    /// All grades.
    pub fn grades(&self) -> &[Arc<Steel>] {
        &self.grades
    }

    /// One line per grade, for a table.
    pub fn list(&self) -> Vec<GradeSummary> {
        self.grades.iter().map(|g| g.summary()).collect()
    }
}

impl Steel {
    /// The steel in one line of a table.
    pub fn summary(&self) -> GradeSummary {
        let value = |s: &Option<super::limits::Sourced<f64>>| s.as_ref().map(|s| s.value);
        let l = &self.limits;
        GradeSummary {
            name: self.name.clone(),
            aliases: self.aliases.clone(),
            family: self.family.clone(),
            solidus_c: value(&self.solidus_c),
            never_exceed_c: value(&l.never_exceed_c),
            start_max_c: value(&l.start_max_c),
            forging_min_c: value(&l.forging_min_c),
            trim_c: value(&l.trim_min_c).zip(value(&l.trim_max_c)),
            tempering_c: value(&self.tempering_c),
        }
    }
}

/// A name without case and spaces.
fn plain(name: &str) -> String {
    name.chars()
        .filter(|c| !c.is_whitespace())
        .flat_map(char::to_lowercase)
        .collect()
}
