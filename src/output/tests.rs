//! Every call to the system made to fail once, and the program killed at every call: what is there then is inspected.

use std::cell::Cell;
use std::collections::BTreeMap;
use std::ffi::OsString;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::layer::{Disk, Kind, Layer, Lock, Look};
use super::{OutFile, OutputError, refuse_inputs, refuse_target, write, write_file, write_set};

/// What happens at the call that fails.
#[derive(Clone, Copy, PartialEq)]
enum Fault {
    /// It fails; the next ones do not.
    Once,
    /// The program is killed: nothing has an effect any more.
    Killed,
}

/// The system, failing at one call.
struct Failing {
    at: usize,
    fault: Fault,
    calls: Cell<usize>,
}

impl Failing {
    fn new(at: usize, fault: Fault) -> Failing {
        Failing {
            at,
            fault,
            calls: Cell::new(0),
        }
    }

    fn fails(&self) -> bool {
        let call = self.calls.replace(self.calls.get() + 1);
        match self.fault {
            Fault::Once => call == self.at,
            Fault::Killed => call >= self.at,
        }
    }

    fn gate(&self) -> io::Result<()> {
        match self.fails() {
            true => Err(io::Error::other("made to fail")),
            false => Ok(()),
        }
    }

    /// Whether this call is the one at which it begins.
    fn begins(&self) -> bool {
        self.calls.get() == self.at + 1
    }
}

impl Layer for Failing {
    fn look(&self, path: &Path) -> io::Result<Look> {
        self.gate().and_then(|()| Disk.look(path))
    }
    fn names(&self, folder: &Path) -> io::Result<Vec<OsString>> {
        self.gate().and_then(|()| Disk.names(folder))
    }
    fn real(&self, path: &Path) -> io::Result<PathBuf> {
        self.gate().and_then(|()| Disk.real(path))
    }
    fn hidden_folder(&self, parent: &Path) -> io::Result<PathBuf> {
        self.gate().and_then(|()| Disk.hidden_folder(parent))
    }
    fn make_folder(&self, path: &Path) -> io::Result<()> {
        self.gate().and_then(|()| Disk.make_folder(path))
    }
    fn lock(&self, folder: &Path) -> io::Result<Option<Lock>> {
        self.gate().and_then(|()| Disk.lock(folder))
    }
    fn write_new(&self, path: &Path, content: &[u8]) -> io::Result<()> {
        // A full disk, or a kill, leaves half of it.
        if self.fails() {
            if self.begins() {
                Disk.write_new(path, &content[..content.len() / 2])?;
            }
            return Err(io::Error::other("made to fail"));
        }
        Disk.write_new(path, content)
    }
    fn try_open(&self, path: &Path) -> io::Result<()> {
        self.gate().and_then(|()| Disk.try_open(path))
    }
    fn write_over(&self, path: &Path, content: &[u8]) -> io::Result<()> {
        if self.fails() {
            if self.begins() {
                Disk.write_over(path, &content[..content.len() / 2])?;
            }
            return Err(io::Error::other("made to fail"));
        }
        Disk.write_over(path, content)
    }
    fn read(&self, path: &Path) -> io::Result<Vec<u8>> {
        self.gate().and_then(|()| Disk.read(path))
    }
    fn copy_access(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.gate().and_then(|()| Disk.copy_access(from, to))
    }
    fn link(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.gate().and_then(|()| Disk.link(from, to))
    }
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.gate().and_then(|()| Disk.rename(from, to))
    }
    fn exchange(&self, one: &Path, other: &Path) -> io::Result<()> {
        self.gate().and_then(|()| Disk.exchange(one, other))
    }
    fn sync_folder(&self, folder: &Path) -> io::Result<()> {
        self.gate().and_then(|()| Disk.sync_folder(folder))
    }
    fn remove_file(&self, path: &Path) -> io::Result<()> {
        self.gate().and_then(|()| Disk.remove_file(path))
    }
    fn remove_empty(&self, path: &Path) -> io::Result<()> {
        self.gate().and_then(|()| Disk.remove_empty(path))
    }
    fn remove_folder(&self, path: &Path) -> io::Result<()> {
        self.gate().and_then(|()| Disk.remove_folder(path))
    }
}

type Tree = BTreeMap<String, Option<String>>;

/// Everything below a folder: content of files, `None` for folders.
fn tree(folder: &Path) -> Tree {
    let mut found = Tree::new();
    let mut waiting = vec![folder.to_owned()];
    while let Some(here) = waiting.pop() {
        for entry in fs::read_dir(&here).unwrap() {
            let path = entry.unwrap().path();
            let name = path.strip_prefix(folder).unwrap().to_string_lossy().into_owned();
            let content = path.is_file().then(|| fs::read_to_string(&path).unwrap());
            if content.is_none() && path.is_dir() {
                waiting.push(path);
            }
            found.insert(name, content);
        }
    }
    found
}

/// The set that is written.
fn set() -> Vec<OutFile> {
    ["a.csv", "b.csv", "c.csv"]
        .map(|name| OutFile::text(name, format!("new {name}")))
        .to_vec()
}

/// The tree without what hidden folders hold.
fn visible(tree: &Tree) -> Tree {
    let hidden = |name: &String| name.split('/').any(|part| part.starts_with(".billet-"));
    let shown = tree.iter().filter(|(name, _)| !hidden(name));
    shown.map(|(name, content)| (name.clone(), content.clone())).collect()
}

/// The files of a tree.
fn files_of(tree: &Tree) -> Tree {
    let files = tree.iter().filter(|(_, content)| content.is_some());
    files.map(|(name, content)| (name.clone(), content.clone())).collect()
}

/// A situation: what is there, what is done, and whether it is one step.
struct Case {
    name: &'static str,
    prepare: fn(&Path),
    act: fn(&dyn Layer, &Path) -> Result<(), OutputError>,
    one_step: bool,
}

fn old_files(folder: &Path) {
    fs::create_dir(folder.join("out")).unwrap();
    for name in ["a.csv", "b.csv", "mine.txt"] {
        fs::write(
            folder.join("out").join(name),
            format!("old {name}, longer than the new one"),
        )
        .unwrap();
    }
}

fn write_out(layer: &dyn Layer, folder: &Path) -> Result<(), OutputError> {
    write::set(layer, &folder.join("out"), &set()).map(|_| ())
}

fn write_one(layer: &dyn Layer, folder: &Path) -> Result<(), OutputError> {
    write::file(layer, &folder.join("page.html"), b"new page")
}

const CASES: [Case; 8] = [
    Case {
        name: "a folder that is not there",
        prepare: |_| {},
        act: write_out,
        one_step: true,
    },
    Case {
        name: "two folders that are not there",
        prepare: |_| {},
        act: |layer, folder| write::set(layer, &folder.join("x/out"), &set()).map(|_| ()),
        one_step: true,
    },
    Case {
        name: "a folder of plain files",
        prepare: old_files,
        act: write_out,
        one_step: cfg!(target_os = "linux"),
    },
    Case {
        name: "a folder with a folder in it",
        prepare: |folder| {
            old_files(folder);
            fs::create_dir(folder.join("out/mine")).unwrap();
        },
        act: write_out,
        one_step: false,
    },
    Case {
        name: "a folder with a file of two names",
        prepare: |folder| {
            old_files(folder);
            fs::hard_link(folder.join("out/b.csv"), folder.join("other.csv")).unwrap();
        },
        act: write_out,
        one_step: false,
    },
    Case {
        name: "one file",
        prepare: |folder| fs::write(folder.join("page.html"), "old page, longer than the new one").unwrap(),
        act: write_one,
        one_step: true,
    },
    Case {
        name: "one file in folders that are not there",
        prepare: |_| {},
        act: |layer, folder| write::file(layer, &folder.join("x/out/page.html"), b"new page"),
        one_step: true,
    },
    Case {
        name: "one file of two names",
        prepare: |folder| {
            fs::write(folder.join("page.html"), "old page, longer than the new one").unwrap();
            fs::hard_link(folder.join("page.html"), folder.join("other.html")).unwrap();
        },
        act: write_one,
        one_step: false,
    },
];

/// Runs a case with each call failing in turn; `judge` gets the layer's result, the tree before, the tree that it
/// should give, and the folder.
fn each_call(case: &Case, fault: Fault, judge: impl Fn(&str, &Result<(), OutputError>, &Tree, &Tree, &Path)) -> usize {
    for at in 0.. {
        let folder = tempfile::tempdir().unwrap();
        (case.prepare)(folder.path());
        let before = tree(folder.path());
        let after = {
            let other = tempfile::tempdir().unwrap();
            (case.prepare)(other.path());
            (case.act)(&Disk, other.path()).unwrap();
            tree(other.path())
        };
        let layer = Failing::new(at, fault);
        let result = (case.act)(&layer, folder.path());
        if layer.calls.get() <= at {
            assert!(result.is_ok());
            return at;
        }
        let what = format!("{}, call {at}", case.name);
        judge(&what, &result, &before, &after, folder.path());
    }
    unreachable!()
}

#[test]
fn a_call_that_fails_leaves_all_or_nothing() {
    for case in &CASES {
        let calls = each_call(case, Fault::Once, |what, result, before, after, folder| {
            let now = tree(folder);
            match result {
                Ok(()) => assert_eq!(&visible(&now), after, "{what}"),
                Err(error) => {
                    assert!(!matches!(error, OutputError::Half { .. }), "{what}: {error}");
                    assert_eq!(&visible(&now), before, "{what}: {error}");
                }
            }
            // A removal that failed is made good by the next run.
            (case.act)(&Disk, folder).unwrap();
            assert_eq!(&tree(folder), after, "{what}, next run");
        });
        assert!(calls > 8, "{}: {calls} calls", case.name);
    }
}

#[test]
fn a_kill_at_any_call_leaves_a_whole_set_and_nothing_after_the_next_run() {
    for case in &CASES {
        each_call(case, Fault::Killed, |what, _, before, after, folder| {
            let (before, after) = (&files_of(before), &files_of(after));
            let now = files_of(&visible(&tree(folder)));
            if case.one_step {
                assert!(&now == before || &now == after, "{what}: {now:?}");
            }
            // The next run may write something else.
            write_file(&folder.join("next"), b"x").unwrap();
            for out in ["out", "x", "x/out"]
                .map(|name| folder.join(name))
                .iter()
                .filter(|out| out.is_dir())
            {
                write_file(&out.join("next"), b"x").unwrap();
                fs::remove_file(out.join("next")).unwrap();
            }
            assert!(tree(folder).keys().all(|name| !name.contains(".billet-")), "{what}");
            fs::remove_file(folder.join("next")).unwrap();
            let next = files_of(&tree(folder));
            assert!(&next == before || &next == after, "{what}, next run: {next:?}");
        });
    }
}

#[test]
fn modes_and_names_are_kept_and_protected_files_refused() {
    let folder = tempfile::tempdir().unwrap();
    old_files(folder.path());
    let out = folder.path().join("out");
    fs::hard_link(out.join("b.csv"), folder.path().join("other.csv")).unwrap();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let mode = |name: &str| fs::metadata(out.join(name)).unwrap().permissions().mode() & 0o7777;
        fs::set_permissions(out.join("a.csv"), fs::Permissions::from_mode(0o600)).unwrap();
        write_set(&out, &set()).unwrap();
        assert_eq!(mode("a.csv"), 0o600);
        fs::remove_file(folder.path().join("other.csv")).unwrap();
        // Now by exchange.
        fs::set_permissions(&out, fs::Permissions::from_mode(0o750)).unwrap();
        write_set(&out, &set()).unwrap();
        assert_eq!((mode("a.csv"), mode("")), (0o600, 0o750));
        fs::hard_link(out.join("b.csv"), folder.path().join("other.csv")).unwrap();
    }
    write_set(&out, &[OutFile::text("b.csv", "newer")]).unwrap();
    assert_eq!(fs::read_to_string(folder.path().join("other.csv")).unwrap(), "newer");
    let mut access = fs::metadata(out.join("c.csv")).unwrap().permissions();
    access.set_readonly(true);
    fs::set_permissions(out.join("c.csv"), access).unwrap();
    let before = tree(folder.path());
    let error = write_set(&out, &set()).unwrap_err();
    assert!(error.to_string().contains("write-protected"), "{error}");
    assert_eq!(tree(folder.path()), before);
}

#[cfg(unix)]
#[test]
fn only_regular_files_are_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let (target, link, socket) = (
        folder.path().join("target"),
        folder.path().join("a.csv"),
        folder.path().join("socket"),
    );
    fs::write(&target, "mine").unwrap();
    std::os::unix::fs::symlink(&target, &link).unwrap();
    let _listener = std::os::unix::net::UnixListener::bind(&socket).unwrap();
    for path in [&link, &socket, &PathBuf::from("/dev/null"), &folder.path().to_owned()] {
        let error = write_file(path, b"x").unwrap_err();
        assert!(matches!(error, OutputError::Refused { .. }), "{error}");
        assert!(refuse_target(path).is_err());
    }
    let error = write_set(folder.path(), &set()).unwrap_err();
    assert!(matches!(error, OutputError::Refused { .. }), "{error}");
    assert_eq!(fs::read_to_string(&target).unwrap(), "mine");
    assert!(link.is_symlink());
    assert_eq!(Disk.look(&socket).unwrap().kind, Kind::Other);
    // A folder by another name is a folder.
    let other = folder.path().join("other");
    fs::create_dir(folder.path().join("real")).unwrap();
    std::os::unix::fs::symlink("real", &other).unwrap();
    write_set(&other, &set()).unwrap();
    assert!(other.is_symlink());
    assert_eq!(
        fs::read_to_string(folder.path().join("real/a.csv")).unwrap(),
        "new a.csv"
    );
}

#[test]
fn an_input_is_known_by_any_name() {
    let folder = tempfile::tempdir().unwrap();
    let (line, second) = (folder.path().join("line.toml"), folder.path().join("second"));
    fs::write(&line, "x").unwrap();
    fs::hard_link(&line, &second).unwrap();
    let roundabout = folder
        .path()
        .join("../")
        .join(folder.path().file_name().unwrap())
        .join("line.toml");
    for target in [&line, &second, &roundabout] {
        let error = refuse_inputs([target.as_path()], std::slice::from_ref(&line)).unwrap_err();
        assert!(error.is_input() && error.to_string().contains("line.toml"), "{error}");
    }
    refuse_inputs([folder.path().join("new").as_path()], &[line]).unwrap();
}

#[test]
fn paths_that_leave_the_folder_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["../a", "x/y", "", "..", "."] {
        let error = write_set(folder.path(), &[OutFile::text(name, "x")]).unwrap_err();
        assert!(matches!(error, OutputError::FileName { .. }), "{name}");
    }
    for path in ["", "..", "x/", "x/."] {
        assert!(write_file(Path::new(path), b"x").unwrap_err().is_input(), "{path}");
    }
}

#[test]
fn a_file_in_the_way_of_the_folder_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("file");
    fs::write(&path, "x").unwrap();
    for out in [path.join("out"), path.clone()] {
        assert!(write_set(&out, &[OutFile::text("a", "x")]).is_err());
    }
    assert_eq!(fs::read_to_string(&path).unwrap(), "x");
}

#[test]
fn two_runs_at_one_place_leave_one_whole_set() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    std::thread::scope(|scope| {
        for run in 0..4 {
            let out = &out;
            scope.spawn(move || {
                let files: Vec<OutFile> = (0..5)
                    .map(|k| OutFile::text(format!("{k}"), format!("{run}")))
                    .collect();
                for _ in 0..20 {
                    write_set(out, &files).unwrap();
                }
            });
        }
    });
    let now = tree(folder.path());
    assert_eq!(now.len(), 6, "{now:?}");
    let contents: std::collections::BTreeSet<_> = now.values().flatten().collect();
    assert_eq!(contents.len(), 1, "{now:?}");
}
