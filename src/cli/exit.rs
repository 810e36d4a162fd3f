//! Exit status of the command, in one place.

use std::process::ExitCode;

/// Exit status of the command.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// 0: done; where limits were judged, all of them hold.
    Fine,
    /// 1: the run is valid and a limit is broken.
    LimitBroken,
    /// 2: the input or the command line is wrong; nothing was written.
    WrongInput,
    /// 3: the computation failed or a result could not be written.
    Failed,
    /// 130 and the like: a signal ended the work; what it said is complete, is.
    Interrupted(u8),
}

/// The table as `billet --help` shows it.
pub const TABLE: &str = "Exit status:
  0  done; where limits were judged, all of them hold
  1  the run is valid and a limit is broken
  2  the input or the command line is wrong; nothing was written
  3  the computation failed, or a result could not be written
130  interrupted (Ctrl-C); the message says what is complete";

impl Exit {
    /// The number.
    pub fn code(self) -> u8 {
        match self {
            Exit::Fine => 0,
            Exit::LimitBroken => 1,
            Exit::WrongInput => 2,
            Exit::Failed => 3,
            Exit::Interrupted(status) => status,
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> ExitCode {
        ExitCode::from(exit.code())
    }
}
