//! What writing asks of the system, call by call. Tests put a layer in its place that fails where they want.

use std::ffi::OsString;
use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind, Write as _};
use std::path::{Path, PathBuf};

/// What stands at a path.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Nothing.
    Missing,
    /// A regular file.
    File,
    /// A folder.
    Folder,
    /// A symbolic link.
    Link,
    /// A pipe, socket or device.
    Other,
}

/// What stands at a path, links not followed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Look {
    pub kind: Kind,
    /// Nobody has permission to write.
    pub read_only: bool,
    /// Other names that a file has.
    pub other_names: bool,
    /// Device, and number on it; what tells a thing from another of the same name.
    pub identity: (u64, u64),
    /// User and group that it belongs to.
    pub owner: (u32, u32),
}

/// Keeps other runs away while it lives.
pub(super) struct Lock(#[allow(dead_code, reason = "holds the lock by being open")] Option<File>);

/// The calls.
pub(super) trait Layer {
    /// What stands at a path.
    fn look(&self, path: &Path) -> io::Result<Look>;
    /// Names in a folder.
    fn names(&self, folder: &Path) -> io::Result<Vec<OsString>>;
    /// The path without links and dots.
    fn real(&self, path: &Path) -> io::Result<PathBuf>;
    /// Makes a hidden folder of a name that no other has.
    fn hidden_folder(&self, parent: &Path) -> io::Result<PathBuf>;
    /// Makes a folder.
    fn make_folder(&self, path: &Path) -> io::Result<()>;
    /// Locks a folder, or tells that another run has it locked.
    fn lock(&self, folder: &Path) -> io::Result<Option<Lock>>;
    /// Writes a new file, down to the disk.
    fn write_new(&self, path: &Path, content: &[u8]) -> io::Result<()>;
    /// Opens a file for writing and closes it again as it was.
    fn try_open(&self, path: &Path) -> io::Result<()>;
    /// Writes over a file in its place, down to the disk.
    fn write_over(&self, path: &Path, content: &[u8]) -> io::Result<()>;
    /// Content of a file.
    fn read(&self, path: &Path) -> io::Result<Vec<u8>>;
    /// Gives `to` the mode and the owner of `from`.
    fn copy_access(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Gives a file one name more.
    fn link(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Renames, replacing a file that is there.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Exchanges two folders in one step.
    fn exchange(&self, one: &Path, other: &Path) -> io::Result<()>;
    /// Makes what was done in a folder last.
    fn sync_folder(&self, folder: &Path) -> io::Result<()>;
    /// Removes a file.
    fn remove_file(&self, path: &Path) -> io::Result<()>;
    /// Removes an empty folder.
    fn remove_empty(&self, path: &Path) -> io::Result<()>;
    /// Removes a folder with all in it; links are removed, not followed.
    fn remove_folder(&self, path: &Path) -> io::Result<()>;
}

/// The user that the program runs as.
#[cfg(unix)]
pub(super) fn user() -> u32 {
    rustix::process::geteuid().as_raw()
}

/// The user that the program runs as; not told apart here.
#[cfg(not(unix))]
pub(super) fn user() -> u32 {
    0
}

/// The system itself.
pub(super) struct Disk;

impl Layer for Disk {
    fn look(&self, path: &Path) -> io::Result<Look> {
        let found = match fs::symlink_metadata(path) {
            Ok(found) => found,
            Err(error) if error.kind() == ErrorKind::NotFound => {
                return Ok(Look {
                    kind: Kind::Missing,
                    read_only: false,
                    other_names: false,
                    identity: (0, 0),
                    owner: (0, 0),
                });
            }
            Err(error) => return Err(error),
        };
        let kind = match found.file_type() {
            kind if kind.is_file() => Kind::File,
            kind if kind.is_dir() => Kind::Folder,
            kind if kind.is_symlink() => Kind::Link,
            _ => Kind::Other,
        };
        let read_only = found.permissions().readonly();
        #[cfg(unix)]
        let (other_names, identity, owner) = {
            use std::os::unix::fs::MetadataExt as _;
            (
                found.nlink() > 1,
                (found.dev(), found.ino()),
                (found.uid(), found.gid()),
            )
        };
        #[cfg(not(unix))]
        let (other_names, identity, owner) = (false, (0, 0), (0, 0));
        Ok(Look {
            kind,
            read_only,
            other_names,
            identity,
            owner,
        })
    }

    fn names(&self, folder: &Path) -> io::Result<Vec<OsString>> {
        let mut names = fs::read_dir(folder)?
            .map(|entry| Ok(entry?.file_name()))
            .collect::<io::Result<Vec<_>>>()?;
        names.sort();
        Ok(names)
    }

    fn real(&self, path: &Path) -> io::Result<PathBuf> {
        path.canonicalize()
    }

    fn hidden_folder(&self, parent: &Path) -> io::Result<PathBuf> {
        let made = tempfile::Builder::new()
            .prefix(super::names::PREFIX)
            .suffix(super::names::SUFFIX)
            .tempdir_in(parent)?;
        Ok(made.keep())
    }

    fn make_folder(&self, path: &Path) -> io::Result<()> {
        fs::create_dir(path)
    }

    #[cfg(unix)]
    fn lock(&self, folder: &Path) -> io::Result<Option<Lock>> {
        use rustix::fs::{FlockOperation, flock};
        let file = File::open(folder)?;
        match flock(&file, FlockOperation::NonBlockingLockExclusive) {
            Ok(()) => Ok(Some(Lock(Some(file)))),
            Err(rustix::io::Errno::WOULDBLOCK) => Ok(None),
            // A file system without locks: runs there are not kept apart.
            Err(_) => Ok(Some(Lock(None))),
        }
    }

    #[cfg(not(unix))]
    fn lock(&self, _: &Path) -> io::Result<Option<Lock>> {
        Ok(Some(Lock(None)))
    }

    fn write_new(&self, path: &Path, content: &[u8]) -> io::Result<()> {
        let mut file = File::create_new(path)?;
        file.write_all(content)?;
        file.sync_all()
    }

    fn try_open(&self, path: &Path) -> io::Result<()> {
        OpenOptions::new().append(true).open(path).map(|_| ())
    }

    fn write_over(&self, path: &Path, content: &[u8]) -> io::Result<()> {
        let mut file = OpenOptions::new().write(true).open(path)?;
        file.write_all(content)?;
        file.set_len(content.len() as u64)?;
        file.sync_all()
    }

    fn read(&self, path: &Path) -> io::Result<Vec<u8>> {
        fs::read(path)
    }

    fn copy_access(&self, from: &Path, to: &Path) -> io::Result<()> {
        let old = fs::metadata(from)?;
        #[cfg(unix)]
        {
            use std::os::unix::fs::MetadataExt as _;
            let new = fs::metadata(to)?;
            if (old.uid(), old.gid()) != (new.uid(), new.gid()) {
                std::os::unix::fs::chown(to, Some(old.uid()), Some(old.gid()))?;
            }
        }
        fs::set_permissions(to, old.permissions())
    }

    fn link(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::hard_link(from, to)
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::rename(from, to)
    }

    #[cfg(target_os = "linux")]
    fn exchange(&self, one: &Path, other: &Path) -> io::Result<()> {
        use rustix::fs::{CWD, RenameFlags, renameat_with};
        Ok(renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE)?)
    }

    #[cfg(not(target_os = "linux"))]
    fn exchange(&self, _: &Path, _: &Path) -> io::Result<()> {
        Err(ErrorKind::Unsupported.into())
    }

    #[cfg(unix)]
    fn sync_folder(&self, folder: &Path) -> io::Result<()> {
        File::open(folder)?.sync_all()
    }

    #[cfg(not(unix))]
    fn sync_folder(&self, _: &Path) -> io::Result<()> {
        Ok(())
    }

    fn remove_file(&self, path: &Path) -> io::Result<()> {
        fs::remove_file(path)
    }

    fn remove_empty(&self, path: &Path) -> io::Result<()> {
        fs::remove_dir(path)
    }

    fn remove_folder(&self, path: &Path) -> io::Result<()> {
        fs::remove_dir_all(path)
    }
}
