//! The live page: who may ask, that its numbers are those of the commands, that nothing saved is lost, and a real
//! browser that uses it.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use billet_thermal::Line;
use html5ever::tendril::TendrilSink;
use serde_json::{Value, json};

use super::browser::{Browser, patient};

const BILLET: &str = env!("CARGO_BIN_EXE_billet");

/// A server for a file; ends when it goes.
pub struct Served {
    child: Child,
    host: String,
    token: String,
}

impl Served {
    pub fn of(file: &Path) -> Served {
        let mut child = Command::new(BILLET)
            .args(["-q", "page"])
            .arg(file)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut url = String::new();
        BufReader::new(child.stdout.take().unwrap())
            .read_line(&mut url)
            .unwrap();
        let rest = url.trim().strip_prefix("http://").unwrap();
        let (host, token) = rest.split_once('/').unwrap();
        Served {
            child,
            host: host.to_owned(),
            token: token.trim_end_matches('/').to_owned(),
        }
    }

    pub fn url(&self) -> String {
        format!("http://{}/{}/", self.host, self.token)
    }

    /// Sends a request as it is written; gives status, head and body.
    fn raw(&self, request: &str) -> (u16, String, String) {
        let mut socket = TcpStream::connect(&self.host).unwrap();
        socket.set_read_timeout(Some(Duration::from_secs(400))).unwrap();
        socket.write_all(request.as_bytes()).unwrap();
        let mut text = Vec::new();
        let _ = socket.read_to_end(&mut text);
        let text = String::from_utf8(text).unwrap();
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
        let status = head.split(' ').nth(1).and_then(|code| code.parse().ok()).unwrap_or(0);
        (status, head.to_lowercase(), body.to_owned())
    }

    fn get(&self, what: &str) -> (u16, String, String) {
        let (host, token) = (&self.host, &self.token);
        self.raw(&format!(
            "GET /{token}/{what} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
        ))
    }

    fn post(&self, what: &str, body: &Value) -> (u16, Value) {
        let (host, token, body) = (&self.host, &self.token, body.to_string());
        let (status, _, text) = self.raw(&format!(
            "POST /{token}/{what} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nContent-Type: application/json\r\n\
             Content-Length: {}\r\nConnection: close\r\n\r\n{body}",
            body.len()
        ));
        let value = serde_json::from_str(&text).unwrap_or(Value::String(text));
        (status, value)
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A copy of an example at the quick resolution, in a folder of its own.
pub fn copy(folder: &Path, name: &str) -> PathBuf {
    let example = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name);
    let text = std::fs::read_to_string(example).unwrap();
    let file = folder.join(name);
    let text = match text.lines().any(|line| line.starts_with("resolution")) {
        true => text,
        false => format!("resolution = \"quick\"\n{text}"),
    };
    std::fs::write(&file, text).unwrap();
    file
}

fn billet(arguments: &[&str], file: &Path) -> Value {
    let output = Command::new(BILLET)
        .args(arguments)
        .arg(file)
        .arg("--json")
        .output()
        .unwrap();
    serde_json::from_slice(&output.stdout).unwrap_or_else(|error| panic!("{arguments:?} {}: {error}", file.display()))
}

#[test]
fn only_whoever_has_the_address_may_ask() {
    let folder = tempfile::tempdir().unwrap();
    let served = Served::of(&copy(folder.path(), "pin.toml"));
    let (host, token) = (served.host.clone(), served.token.clone());
    assert_eq!(served.get("").0, 200);
    assert!(host.starts_with("127.0.0.1:"), "{host}");
    let port = host.rsplit(':').next().unwrap();
    let get = |path: &str, headers: &str| {
        let (status, _, body) = served.raw(&format!("GET {path} HTTP/1.1\r\n{headers}Connection: close\r\n\r\n"));
        (status, body)
    };
    for (path, headers) in [
        (format!("/{token}/"), "Host: forge.example\r\n".to_owned()),
        (format!("/{token}/"), format!("Host: forge.example:{port}\r\n")),
        (
            format!("/{token}/"),
            format!("Host: 127.0.0.1.forge.example:{port}\r\n"),
        ),
        (format!("/{token}/"), "Host: 127.0.0.1:1\r\n".to_owned()),
        (
            format!("/{token}/"),
            format!("Host: {host}\r\nOrigin: http://forge.example\r\n"),
        ),
        (format!("/{token}/"), format!("Host: {host}\r\nOrigin: null\r\n")),
        (
            format!("/{token}/"),
            format!("Host: {host}\r\nSec-Fetch-Site: cross-site\r\n"),
        ),
        ("/".to_owned(), format!("Host: {host}\r\n")),
        ("/page.js".to_owned(), format!("Host: {host}\r\n")),
        (format!("/{}/", "0".repeat(token.len())), format!("Host: {host}\r\n")),
        (format!("/{}/", &token[1..]), format!("Host: {host}\r\n")),
    ] {
        let (status, body) = get(&path, &headers);
        assert_eq!(status, 403, "{path} {headers}");
        assert!(body.len() < 100 && !body.contains(&token), "{body}");
    }
    // Nothing but its own texts is served, whatever the path.
    for path in [
        "pin.toml",
        "../pin.toml",
        "..%2fpin.toml",
        "%2e%2e/%2e%2e/etc/passwd",
        "//etc/passwd",
        "page.js/",
        "x",
    ] {
        assert_eq!(served.get(path).0, 404, "{path}");
    }
    // Questions come as JSON of this page, and no longer than may be.
    let post = |headers: &str, body: &str| {
        let length = body.len();
        let head = format!("POST /{token}/save HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n");
        served
            .raw(&format!("{head}{headers}Content-Length: {length}\r\n\r\n{body}"))
            .0
    };
    assert_eq!(post("Content-Type: text/plain\r\n", "{}"), 415);
    assert_eq!(
        post(
            "Content-Type: application/json\r\nOrigin: http://forge.example\r\n",
            "{}"
        ),
        403
    );
    assert_eq!(post("Content-Type: application/json\r\n", "no"), 400);
    assert_eq!(post("Content-Type: application/json\r\n", "{\"other\": 1}"), 400);
    assert_eq!(post("Content-Type: application/json\r\n", &" ".repeat(70_000)), 413);
    let many: serde_json::Map<_, _> = (0..1000).map(|k| (format!("x{k}"), json!(1))).collect();
    assert_eq!(served.post("answer", &json!({ "changes": many })).0, 400);
    assert_eq!(
        served
            .raw(&format!(
                "PUT /{token}/ HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
            ))
            .0,
        405
    );
}

#[test]
fn the_page_stands_by_itself_and_is_small() {
    let folder = tempfile::tempdir().unwrap();
    let mut largest = 0;
    for name in ["hub.toml", "connecting-rod.toml", "heater_line.toml"] {
        let served = Served::of(&copy(folder.path(), name));
        let (status, head, html) = served.get("");
        assert_eq!(status, 200);
        let policy = head
            .lines()
            .find(|line| line.starts_with("content-security-policy"))
            .unwrap();
        assert!(
            policy.contains("default-src 'none'") && policy.contains("script-src 'self';"),
            "{policy}"
        );
        assert!(head.contains("x-content-type-options: nosniff") && head.contains("referrer-policy: no-referrer"));
        let dom = html5ever::parse_document(markup5ever_rcdom::RcDom::default(), Default::default()).one(html.as_str());
        let faults: Vec<String> = dom.errors.borrow().iter().map(ToString::to_string).collect();
        assert_eq!(faults, [""; 0], "{name}");
        assert!(!html.contains("http://") && !html.contains("https://") && !html.contains(" onclick"));
        assert!(html.contains("Decision support only. Not a safety function."));
        let all = html.len() + served.get("page.js").2.len() + served.get("page.css").2.len();
        largest = largest.max(all);
    }
    assert!(largest < 300_000, "{largest} bytes");
}

/// The first hand-over of a line and 0.7 s more than planned, where it has one.
fn a_change(file: &Path) -> Option<(String, f64)> {
    let line = Line::load(file).unwrap();
    let seconds = |path: &str| path.starts_with("stage.") && path.ends_with(".seconds");
    let input = line.inputs().iter().find(|input| seconds(&input.path))?;
    Some((input.path.clone(), input.number()? + 0.7))
}

#[test]
fn the_numbers_are_those_of_the_commands_in_every_example() {
    let folder = tempfile::tempdir().unwrap();
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut names: Vec<String> = std::fs::read_dir(examples)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.ends_with(".toml"))
        .collect();
    names.sort();
    assert!(names.len() >= 9, "{names:?}");
    for name in names {
        let file = copy(folder.path(), &name);
        let served = Served::of(&file);
        let changes: serde_json::Map<_, _> = a_change(&file)
            .into_iter()
            .map(|(path, value)| (path, json!(value)))
            .collect();
        let body = json!({ "changes": changes, "settle": true });
        let (status, settled) = served.post("answer", &body);
        assert_eq!(status, 200, "{name}: {settled}");
        let (status, quick) = served.post("answer", &json!({ "changes": changes }));
        assert_eq!(status, 200, "{name}");
        // The changed file as the page gives it, asked by the commands.
        let (status, text) = served.post("line", &body);
        assert_eq!(status, 200);
        let changed = folder.path().join(format!("changed-{name}"));
        std::fs::write(&changed, text.as_str().unwrap()).unwrap();
        let trace = billet(&["-q", "trace"], &changed);
        assert_eq!(settled["verdicts"], trace["verdicts"], "{name}");
        assert_eq!(settled["moments"], trace["moments"], "{name}");
        assert_eq!(settled["ledger"], trace["ledger"], "{name}");
        // The quick look is the run of the file itself here, without the seconds.
        assert_eq!(quick["moments"], trace["moments"], "{name}");
        // The seconds of the larger lines are compared in what a browser reads of the hub.
        let small = [
            "pin.toml",
            "long-bar.toml",
            "heater_line.toml",
            "heater_static.toml",
            "cold-start.toml",
        ];
        if !small.contains(&name.as_str()) {
            continue;
        }
        let delays = billet(&["-q", "delays"], &changed);
        let [ours, theirs] = [&settled["hand_overs"], &delays["handovers"]].map(|list| list.as_array().unwrap());
        assert_eq!(ours.len(), theirs.len(), "{name}");
        for (ours, theirs) in ours.iter().zip(theirs) {
            assert_eq!(ours["stage"], theirs["stage"]);
            for times in ["alone", "reject", "alarm"] {
                // Printed to the safe side, to a tenth.
                for (end, side) in [("earliest_s", 1.0), ("latest_s", -1.0)] {
                    match (ours[times][end].as_f64(), theirs[times][end].as_f64()) {
                        (Some(exact), Some(printed)) => {
                            let off = (printed - exact) * side;
                            assert!(
                                (-1e-6..0.1).contains(&off),
                                "{name} {times} {end}: {exact} and {printed}"
                            );
                        }
                        (ours, theirs) => assert_eq!(ours, theirs, "{name} {times} {end}"),
                    }
                }
            }
        }
    }
}

#[test]
fn nonsense_is_told_with_its_range_and_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let file = copy(folder.path(), "pin.toml");
    let before = std::fs::read(&file).unwrap();
    let served = Served::of(&file);
    let (path, _) = a_change(&file).unwrap();
    for what in ["answer", "line", "report", "save"] {
        for (path, value, why) in [
            (path.as_str(), json!(-3), "0 to 1000000 s"),
            (path.as_str(), json!(1e300), "0 to 1000000 s"),
            ("billet.diameter_mm", json!(0), "1 to 5000 mm"),
            ("no.such.input", json!(1), "no.such.input"),
            ("billet.diameter_mm", json!(70), "volume of the shape"),
        ] {
            let (status, reply) = served.post(what, &json!({ "changes": { path: value } }));
            assert_eq!(status, 422, "{what} {path} {value}: {reply}");
            let problems = reply["problems"].to_string();
            // A path that is no input is told by its name, or as the key that it would be.
            let told = problems.contains(why) || path.starts_with("no.") && problems.contains("unknown key `no`");
            assert!(told, "{what} {path} {value}: {problems}");
        }
        for body in [
            "{\"changes\": {\"a\": 1e999}}",
            "{\"changes\": {\"a\": NaN}}",
            "{\"changes\": [1]}",
            "[]",
            "",
        ] {
            let (host, token) = (&served.host, &served.token);
            let (status, _, _) = served.raw(&format!(
                "POST /{token}/{what} HTTP/1.1\r\nHost: {host}\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\
                 Connection: close\r\n\r\n{body}",
                body.len()
            ));
            assert_eq!(status, 400, "{what} {body}");
        }
    }
    assert_eq!(std::fs::read(&file).unwrap(), before);
}

#[test]
fn what_is_saved_is_kept_and_what_others_write_too() {
    let folder = tempfile::tempdir().unwrap();
    let file = copy(folder.path(), "hub.toml");
    let mut line = Line::load(&file).unwrap();
    let (path, value) = a_change(&file).unwrap();
    let served = Served::of(&file);
    let body = json!({ "changes": { path.as_str(): value } });
    assert_eq!(served.post("save", &body), (200, json!({ "saved": true })));
    line.set(&path, value).unwrap();
    let text = std::fs::read_to_string(&file).unwrap();
    assert_eq!(text, line.text());
    assert!(
        text.contains("# robot, one axis change on the way"),
        "comments are kept"
    );
    // Killed and started again: what was saved is there.
    drop(served);
    let served = Served::of(&file);
    let (_, reply) = served.post("answer", &json!({}));
    assert_eq!(reply["numbers"][path.as_str()], json!(value));
    // Written by another since: refused, and the file is as the other left it.
    let theirs = format!("{text}# written by another\n");
    std::fs::write(&file, &theirs).unwrap();
    let (status, reply) = served.post("save", &json!({ "changes": { path.as_str(): value + 1.0 } }));
    assert_eq!((status, &reply["changed_on_disk"]), (409, &json!(true)));
    assert_eq!(std::fs::read_to_string(&file).unwrap(), theirs);
    // Read again, it can be saved.
    assert_eq!(served.post("reload", &json!({})).0, 200);
    assert_eq!(
        served
            .post("save", &json!({ "changes": { path.as_str(): value + 1.0 } }))
            .0,
        200
    );
    assert!(
        std::fs::read_to_string(&file)
            .unwrap()
            .ends_with("# written by another\n")
    );
    // A folder that holds nothing but the file.
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

#[test]
fn twenty_clients_at_once_get_their_own_answers() {
    let folder = tempfile::tempdir().unwrap();
    let file = copy(folder.path(), "pin.toml");
    let (path, value) = a_change(&file).unwrap();
    let served = Served::of(&file);
    std::thread::scope(|scope| {
        let clients: Vec<_> = (0..20)
            .map(|k| {
                let (served, path) = (&served, &path);
                scope.spawn(move || {
                    let own = value + f64::from(k) * 0.01;
                    let settle = k % 4 == 0;
                    let page = format!("client {k}");
                    let body = json!({ "page": page, "changes": { path.as_str(): own }, "settle": settle });
                    let (status, reply) = served.post("answer", &body);
                    (status, reply["numbers"][path.as_str()] == json!(own))
                })
            })
            .collect();
        for client in clients {
            assert_eq!(client.join().unwrap(), (200, true));
        }
    });
}

/// Browsers that go away while they wait leave no trace in the queue.
#[test]
fn broken_off_questions_hinder_nobody() {
    let folder = tempfile::tempdir().unwrap();
    let file = copy(folder.path(), "pin.toml");
    let (path, value) = a_change(&file).unwrap();
    let served = Served::of(&file);
    let (host, token) = (&served.host, &served.token);
    let broken_off: Vec<TcpStream> = (0..70)
        .map(|k| {
            let own = value + f64::from(k) * 0.01;
            let body = json!({ "changes": { path.as_str(): own }, "settle": true }).to_string();
            let mut socket = TcpStream::connect(host).unwrap();
            let length = body.len();
            write!(
                socket,
                "POST /{token}/answer HTTP/1.1\r\nHost: {host}\r\nContent-Type: application/json\r\n\
                 Content-Length: {length}\r\n\r\n{body}"
            )
            .unwrap();
            socket
        })
        .collect();
    // All have arrived when the server is told that they are gone.
    assert_eq!(served.get("page.js").0, 200);
    drop(broken_off);
    let answer = patient("an answer", || {
        let (status, reply) = served.post("answer", &json!({ "settle": true }));
        (status != 503).then_some((status, reply["settled"].clone()))
    });
    assert_eq!(answer, (200, json!(true)));
}

#[test]
fn panels_tell_how_far_they_are_and_can_be_cancelled() {
    let folder = tempfile::tempdir().unwrap();
    let file = copy(folder.path(), "hub.toml");
    let served = Served::of(&file);
    let ask = |body: Value| {
        let (status, taken) = served.post("panel", &body);
        assert_eq!(status, 200, "{taken}");
        taken["work"].clone()
    };
    let end = |work: &Value| {
        patient("the end of a panel", || {
            let (_, state) = served.post("work", &json!({ "work": work }));
            (state["done"].is_null()).then_some(state)
        })
    };
    // The same words as the command prints for the same samples.
    let work = ask(json!({ "panel": "scatter", "samples": 40 }));
    let html = end(&work)["html"].as_str().unwrap().to_owned();
    let output = Command::new(BILLET)
        .args(["-q", "scatter", "--samples", "40"])
        .arg(&file)
        .output()
        .unwrap();
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let printed = String::from_utf8_lossy(&output.stdout).into_owned();
    let begin = printed.lines().position(|line| line.contains("of parts break a limit"));
    let from: Vec<&str> = printed.lines().skip(begin.unwrap()).collect();
    let all = words(&from.join(" "));
    let (estimate, _) = all.split_once(" runs at resolution").unwrap();
    assert!(estimate.contains('%') && estimate.ends_with(" 40"), "{estimate}");
    assert!(words(&html).contains(estimate), "{estimate}: {html}");
    let work = ask(json!({ "panel": "scatter", "samples": 20000 }));
    patient("some samples", || {
        let (_, state) = served.post("work", &json!({ "work": work }));
        state["done"].as_u64().filter(|done| *done > 0)
    });
    served.post("stop", &json!({ "work": work }));
    assert_eq!(end(&work)["stopped"], json!(true));
    for panel in ["exit-band", "sorting"] {
        let work = ask(json!({ "panel": panel }));
        assert!(end(&work)["html"].as_str().unwrap().contains("<table"), "{panel}");
    }
    let (status, _) = served.post("panel", &json!({ "panel": "no such" }));
    assert_eq!(status, 400);
    let work = ask(json!({ "panel": "scatter", "samples": 1_000_000 }));
    assert!(end(&work)["problems"].to_string().contains("20000"));
}

/// The slider of an input, by its path.
fn slider(path: &str) -> String {
    format!("[data-path=\"{path}\"] input[type=range]")
}

fn field(path: &str) -> String {
    format!("[data-path=\"{path}\"] input[type=text]")
}

pub const SETTLED: &str = "document.body.dataset.state === 'settled'";
const MOVE: &str = "stage.heater to upsetter.seconds";

#[test]
fn a_browser_uses_the_page() {
    let Some(mut browser) = Browser::start() else {
        println!("skipped: no chromium on this machine");
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let file = copy(folder.path(), "hub.toml");
    let served = Served::of(&file);
    browser.size(1280, 900);
    browser.open(&served.url());
    browser.until(SETTLED);
    let headline = "document.getElementById('headline').textContent";
    assert_eq!(browser.value(headline), json!("PASS: 6 limits judged, none broken"));
    // The latest time that the page states is that of `delays`.
    let delays = billet(&["-q", "delays"], &file);
    let latest = delays["handovers"][0]["alone"]["latest_s"].as_f64().unwrap();
    let times = browser.value("document.querySelector('#times').textContent");
    assert!(
        times.as_str().unwrap().contains(&format!("{latest:.1}")),
        "{latest}: {times}"
    );
    // A designer drags the move until the limit breaks, and back. The slider goes as far as any number that was typed.
    set(&mut browser, MOVE, "15");
    browser.until(SETTLED);
    browser.value(&format!("document.querySelector({}).focus()", json!(slider(MOVE))));
    browser.press("Home", 36);
    browser.until("document.querySelector('.bar').classList.contains('holds')");
    browser.press("End", 35);
    browser.until("document.querySelector('.bar').classList.contains('breaks')");
    let text = browser.value(headline);
    assert!(text.as_str().unwrap().starts_with("FAIL"), "{text}");
    // By the keyboard alone to either side of the stated second.
    for (seconds, holds) in [(latest, true), (latest + 0.1, false)] {
        set(&mut browser, MOVE, &format!("{seconds:.1}"));
        browser.until(SETTLED);
        let now = browser.value("document.querySelector('.bar').classList.contains('holds')");
        assert_eq!(now, json!(holds), "{seconds}");
    }
    a_pinned_line_and_undo(&mut browser);
    nonsense_at_its_field(&mut browser);
    // Saved with its comments, as the library saves it.
    set(&mut browser, MOVE, "4.6");
    browser.until(SETTLED);
    browser.click_at("#save", (0.5, 0.5));
    browser.until("document.getElementById('changed').textContent.includes('Saved')");
    let text = std::fs::read_to_string(&file).unwrap();
    assert!(
        text.contains("seconds = 4.6           # robot, one axis change on the way"),
        "{text}"
    );
    on_a_phone(&mut browser);
    assert_eq!(browser.said, [""; 0], "the console is silent");
}

/// Puts a number into a field by hand.
fn set(browser: &mut Browser, path: &str, text: &str) {
    let field = json!(field(path));
    browser.value(&format!(
        "(() => {{ const f = document.querySelector({field}); f.focus(); f.select(); }})()"
    ));
    browser.value("document.body.dataset.state = 'typed'");
    browser.type_text(text);
    browser.press("Enter", 13);
}

fn a_pinned_line_and_undo(browser: &mut Browser) {
    set(browser, MOVE, "4.2");
    browser.until(SETTLED);
    browser.click_at("#pin", (0.5, 0.5));
    set(browser, MOVE, "5.2");
    browser.until("!document.getElementById('beside').hidden");
    browser.until(SETTLED);
    let beside = browser.value("document.getElementById('beside').textContent");
    let beside = beside.as_str().unwrap();
    assert!(
        beside.contains(MOVE) && beside.contains("4.2") && beside.contains("5.2"),
        "{beside}"
    );
    browser.click_at("#undo", (0.5, 0.5));
    browser.until(&format!(
        "document.querySelector({}).value === '4.2'",
        json!(field(MOVE))
    ));
    browser.click_at("#pin", (0.5, 0.5));
    browser.until("document.getElementById('beside').hidden");
}

fn nonsense_at_its_field(browser: &mut Browser) {
    let error = format!("document.querySelector('[data-path=\"{MOVE}\"] .error').textContent");
    let invalid = format!(
        "document.querySelector({}).getAttribute('aria-invalid')",
        json!(field(MOVE))
    );
    for (text, why) in [("abc", "no number"), ("-3", "Out of range"), ("1e99", "Out of range")] {
        set(browser, MOVE, text);
        browser.until(&format!("{error}.includes({})", json!(why)));
        assert!(browser.value(&error).as_str().unwrap().contains("0 to 1000000 s"));
        assert_eq!(browser.value(&invalid), json!("true"), "{text}");
    }
    // What only the check of the file refuses stands at the field as well, and goes with the next good number.
    set(browser, "billet.diameter_mm", "70");
    browser.until("document.querySelector('[data-path=\"billet.diameter_mm\"] .error').textContent.includes('volume')");
    set(browser, "billet.diameter_mm", "60");
    browser.until("document.querySelector('[data-path=\"billet.diameter_mm\"] .error').textContent === ''");
    set(browser, MOVE, "4.2");
    browser.until(SETTLED);
    assert_eq!(browser.value(&invalid), Value::Null);
}

fn on_a_phone(browser: &mut Browser) {
    browser.size(390, 844);
    let wide = browser.value("[document.documentElement.scrollWidth, window.innerWidth]");
    assert_eq!(wide[1], json!(390));
    assert!(wide[0].as_f64().unwrap() <= 390.0, "{wide}");
    // The verdict stays in sight while the inputs are moved.
    browser.value(&format!(
        "document.querySelector({}).scrollIntoView({{block: 'center'}})",
        json!(slider(MOVE))
    ));
    let seen = browser.value(
        "(() => { const r = document.getElementById('headline').getBoundingClientRect(); \
         return r.top >= 0 && r.bottom <= window.innerHeight; })()",
    );
    assert_eq!(seen, json!(true));
    // Every control has a name for a screen reader, and the whole page can be walked with the tab key.
    let nameless = browser.value(
        "[...document.querySelectorAll('input, select, button, progress')].filter(e => !(e.labels && e.labels.length) && \
         !e.getAttribute('aria-label') && !e.getAttribute('aria-labelledby') && !e.textContent.trim()).map(e => e.outerHTML)",
    );
    assert_eq!(nameless, json!([]));
    browser.value("(() => { document.activeElement.blur(); window.scrollTo(0, 0); })()");
    browser.value("document.getElementById('find').focus()");
    let mut reached = Vec::new();
    for _ in 0..6 {
        browser.press("Tab", 9);
        reached.push(browser.value("document.activeElement.tagName + ' ' + (document.activeElement.type || '')"));
    }
    let reached: Vec<&str> = reached.iter().filter_map(Value::as_str).collect();
    assert!(reached.iter().any(|what| what.contains("range")), "{reached:?}");
}

/// Sliders in a report: the state that they show is that of a run with their numbers, or they say that it is open.
#[test]
fn a_report_has_working_sliders() {
    let folder = tempfile::tempdir().unwrap();
    let file = copy(folder.path(), "hub.toml");
    let report = folder.path().join("hub.html");
    let make = |more: &[&str]| {
        let mut command = Command::new(BILLET);
        command
            .args(["-q", "report", "--interactive", "--out"])
            .arg(&report)
            .args(more)
            .arg(&file);
        command.output().unwrap()
    };
    assert_eq!(make(&[]).status.code(), Some(0));
    let html = std::fs::read_to_string(&report).unwrap();
    let dom = html5ever::parse_document(markup5ever_rcdom::RcDom::default(), Default::default()).one(html.as_str());
    assert_eq!(dom.errors.borrow().len(), 0);
    assert!(html.contains("default-src 'none'") && !html.contains("src=") && !html.contains("href=\"http"));
    assert!(html.len() < 2_000_000, "{}", html.len());
    for (vary, why) in [
        (vec!["--vary", "no.such"], "no.such"),
        (vec!["--vary", "shop.ambient_c", "--vary", "shop.ambient_c"], "twice"),
        (vec!["--vary", "stage.blocker.blows"], "whole number"),
    ] {
        let output = make(&vary);
        assert_ne!(output.status.code(), Some(0));
        assert!(String::from_utf8_lossy(&output.stderr).contains(why));
    }
    assert_eq!(
        make(&["--vary", MOVE, "--vary", "heater.surface_c"]).status.code(),
        Some(0)
    );
    let Some(mut browser) = Browser::start() else {
        println!("skipped: no chromium on this machine");
        return;
    };
    browser.open(&format!("file://{}", report.display()));
    browser.until("document.getElementById('explore-answer') && !document.getElementById('explore').hidden");
    let state = "document.getElementById('explore-answer').dataset.state";
    assert_eq!(browser.value(state), json!("holds"));
    let mut line = Line::load(&file).unwrap();
    let (mut right, mut open) = (0, 0);
    for (seconds, exit_c) in [
        (4.2, 1240.0),
        (1.0, 1240.0),
        (8.0, 1240.0),
        (4.2, 1200.0),
        (6.0, 1260.0),
        (3.0, 1280.0),
    ] {
        for (k, value) in [seconds, exit_c].into_iter().enumerate() {
            browser.value(&format!(
                "(() => {{ const f = document.querySelector('[data-field=\"{k}\"]'); f.value = '{value}'; \
                 f.dispatchEvent(new Event('change')); }})()"
            ));
        }
        line.set_all(&[(MOVE, seconds), ("heater.surface_c", exit_c)]).unwrap();
        let trace = line.trace(&billet_thermal::RunOptions::bare()).unwrap();
        for (k, verdict) in trace.verdicts.iter().enumerate() {
            let shown = browser.value(&format!("document.querySelector('[data-limit=\"{k}\"]').dataset.state"));
            match (shown.as_str().unwrap(), verdict.holds) {
                ("open", _) => open += 1,
                (shown, holds) => {
                    assert_eq!(
                        shown == "holds",
                        holds,
                        "{seconds} s, {exit_c} degC, limit {}: {shown}",
                        k + 1
                    );
                    right += 1;
                }
            }
        }
    }
    assert!(right > 4 * open, "{right} right, {open} open");
    // Nonsense stands at its field.
    browser.value(
        "(() => { const f = document.querySelector('[data-field=\"0\"]'); f.value = 'abc'; \
         f.dispatchEvent(new Event('change')); })()",
    );
    assert!(
        browser
            .value("document.querySelector('[data-error=\"0\"]').textContent")
            .as_str()
            .unwrap()
            .contains("allowed")
    );
    assert_eq!(browser.said, [""; 0]);
}
