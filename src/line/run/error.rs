//! Why a run failed although its plan was sound.

use thiserror::Error;

use crate::body::GridError;
use crate::conduction::SolveError;
use crate::heater::HeaterError;
use crate::surface::SurfaceError;

/// Why a run failed although its plan was sound.
#[derive(Debug, Error)]
pub enum RunError {
    /// The solver gave up.
    #[error("stage `{stage}`: {source}")]
    Solve {
        /// Stage name.
        stage: String,
        /// What the solver said.
        #[source]
        source: SolveError,
    },
    /// A shape could not be meshed.
    #[error("stage `{stage}`: {source}")]
    Mesh {
        /// Stage name.
        stage: String,
        /// What the grid said.
        #[source]
        source: GridError,
    },
    /// A surface law was used outside what it allows.
    #[error("stage `{stage}`: {source}")]
    Surface {
        /// Stage name.
        stage: String,
        /// What the law said.
        #[source]
        source: SurfaceError,
    },
    /// The heater could not be computed.
    #[error("heater: {source}")]
    Heater {
        /// What the heater said.
        #[source]
        source: HeaterError,
    },
    /// A limit that met none of its moments with its node there.
    #[error("{limit}: nothing was judged, for the part has no `{node}` at that moment")]
    NotJudged {
        /// The limit.
        limit: String,
        /// Its node.
        node: String,
    },
    /// A result that is not a number; a fault of the program.
    #[error("stage `{stage}`: the temperature of `{node}` at {time_s:.3} s is not a number")]
    NotANumber {
        /// Stage name.
        stage: String,
        /// Node name.
        node: String,
        /// Time in s.
        time_s: f64,
    },
}
