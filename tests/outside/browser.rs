//! A real browser without a window, driven over its debugging protocol (Chrome DevTools Protocol 1.3: JSON messages in
//! WebSocket frames, RFC 6455).

use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

/// Longest wait for anything; a loaded machine is slow.
const PATIENCE: Duration = Duration::from_secs(400);

/// A browser without a window that asks nothing of the network, with a profile of its own that goes with the folder;
/// `None` where the machine has no browser.
pub fn headless() -> Option<(Command, tempfile::TempDir)> {
    let program = ["/usr/bin/chromium", "/usr/bin/chromium-browser"]
        .into_iter()
        .find(|path| Path::new(path).exists())?;
    let profile = tempfile::tempdir().unwrap();
    let mut command = Command::new(program);
    command
        .args([
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
        ])
        .arg(format!("--user-data-dir={}", profile.path().display()));
    Some((command, profile))
}

/// A browser with one page; ends when it goes.
pub struct Browser {
    child: Child,
    socket: TcpStream,
    number: u64,
    /// What the page said on its console, and errors of its script.
    pub said: Vec<String>,
    _profile: tempfile::TempDir,
}

impl Browser {
    /// Starts a browser; `None` where the machine has none.
    pub fn start() -> Option<Browser> {
        let (mut program, profile) = headless()?;
        let child = program
            .args(["--remote-debugging-port=0", "about:blank"])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let port = patient("the port of the browser", || {
            let text = std::fs::read_to_string(profile.path().join("DevToolsActivePort")).ok()?;
            text.lines().next()?.parse::<u16>().ok()
        });
        let path = patient("a page of the browser", || {
            let list = list(port)?;
            let page = list.as_array()?.iter().find(|target| target["type"] == "page")?;
            let url = page["webSocketDebuggerUrl"].as_str()?;
            Some(url.splitn(4, '/').nth(3)?.to_owned())
        });
        let mut socket = TcpStream::connect(("127.0.0.1", port)).unwrap();
        socket.set_read_timeout(Some(PATIENCE)).unwrap();
        let key = "AAAAAAAAAAAAAAAAAAAAAA==";
        write!(
            socket,
            "GET /{path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n\
             Sec-WebSocket-Key: {key}\r\nSec-WebSocket-Version: 13\r\n\r\n"
        )
        .unwrap();
        let mut head = Vec::new();
        while !head.ends_with(b"\r\n\r\n") {
            let mut byte = [0];
            socket.read_exact(&mut byte).unwrap();
            head.push(byte[0]);
        }
        assert!(head.starts_with(b"HTTP/1.1 101"), "{}", String::from_utf8_lossy(&head));
        let mut browser = Browser {
            child,
            socket,
            number: 0,
            said: Vec::new(),
            _profile: profile,
        };
        browser.call("Page.enable", json!({}));
        browser.call("Runtime.enable", json!({}));
        browser.call("Log.enable", json!({}));
        Some(browser)
    }

    /// Calls a method of the protocol.
    pub fn call(&mut self, method: &str, params: Value) -> Value {
        self.number += 1;
        let number = self.number;
        self.send(&json!({ "id": number, "method": method, "params": params }).to_string());
        loop {
            let message: Value = serde_json::from_str(&self.receive()).unwrap();
            match message["method"].as_str() {
                Some("Runtime.exceptionThrown") => self.said.push(message["params"].to_string()),
                // A number that is refused is an answer, which the browser logs as a failed request.
                Some("Log.entryAdded") if message["params"]["entry"]["text"].to_string().contains("422") => {}
                Some("Log.entryAdded") if message["params"]["entry"]["level"] == "error" => {
                    self.said.push(message["params"]["entry"].to_string());
                }
                _ => {}
            }
            if message["id"] == number {
                assert!(message["error"].is_null(), "{method}: {}", message["error"]);
                return message["result"].clone();
            }
        }
    }

    /// The value of an expression on the page.
    pub fn value(&mut self, expression: &str) -> Value {
        let params = json!({ "expression": expression, "awaitPromise": true, "returnByValue": true });
        let got = self.call("Runtime.evaluate", params);
        assert!(
            got["exceptionDetails"].is_null(),
            "{expression}: {}",
            got["exceptionDetails"]
        );
        got["result"]["value"].clone()
    }

    /// Waits until an expression is true.
    pub fn until(&mut self, expression: &str) {
        let begin = Instant::now();
        while self.value(expression) != json!(true) {
            assert!(begin.elapsed() < PATIENCE, "never true: {expression}");
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Opens an address and waits for its script.
    pub fn open(&mut self, url: &str) {
        self.call("Page.navigate", json!({ "url": url }));
        self.until("document.readyState === 'complete' && location.href !== 'about:blank'");
    }

    /// Sets the size of the window, CSS pixels.
    pub fn size(&mut self, width: u32, height: u32) {
        let params = json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false });
        self.call("Emulation.setDeviceMetricsOverride", params);
    }

    /// Presses a key as a hand does.
    pub fn press(&mut self, key: &str, code: u32) {
        let text = match key {
            "Enter" => "\r",
            one if one.chars().count() == 1 => one,
            _ => "",
        };
        let mut params = json!({ "type": "keyDown", "key": key, "code": key, "windowsVirtualKeyCode": code });
        if !text.is_empty() {
            params["text"] = json!(text);
        }
        self.call("Input.dispatchKeyEvent", params);
        self.call(
            "Input.dispatchKeyEvent",
            json!({ "type": "keyUp", "key": key, "code": key, "windowsVirtualKeyCode": code }),
        );
    }

    /// Types a text into what has the focus.
    pub fn type_text(&mut self, text: &str) {
        self.call("Input.insertText", json!({ "text": text }));
    }

    /// Clicks with the mouse at a place of an element: shares of its width and height.
    pub fn click_at(&mut self, selector: &str, (across, down): (f64, f64)) {
        let place = self.value(&format!(
            "(() => {{ const e = document.querySelector({}); e.scrollIntoView({{block: 'center'}}); \
             const r = e.getBoundingClientRect(); return [r.left + r.width * {across}, r.top + r.height * {down}]; }})()",
            json!(selector)
        ));
        for kind in ["mousePressed", "mouseReleased"] {
            let params = json!({ "type": kind, "x": place[0], "y": place[1], "button": "left", "clickCount": 1 });
            self.call("Input.dispatchMouseEvent", params);
        }
    }

    fn send(&mut self, text: &str) {
        // A frame of a client is masked; zeros are a mask.
        let mut frame = vec![0x81];
        match text.len() {
            n @ 0..=125 => frame.push(0x80 | u8::try_from(n).unwrap()),
            n @ 126..=65535 => {
                frame.push(0x80 | 126);
                frame.extend(u16::try_from(n).unwrap().to_be_bytes());
            }
            n => {
                frame.push(0x80 | 127);
                frame.extend((n as u64).to_be_bytes());
            }
        }
        frame.extend([0; 4]);
        frame.extend(text.as_bytes());
        self.socket.write_all(&frame).unwrap();
    }

    /// The next whole text message.
    fn receive(&mut self) -> String {
        let mut text = Vec::new();
        loop {
            let mut head = [0; 2];
            self.socket.read_exact(&mut head).unwrap();
            let length = match head[1] & 0x7f {
                126 => {
                    let mut bytes = [0; 2];
                    self.socket.read_exact(&mut bytes).unwrap();
                    u64::from(u16::from_be_bytes(bytes))
                }
                127 => {
                    let mut bytes = [0; 8];
                    self.socket.read_exact(&mut bytes).unwrap();
                    u64::from_be_bytes(bytes)
                }
                n => u64::from(n),
            };
            let mut payload = vec![0; usize::try_from(length).unwrap()];
            self.socket.read_exact(&mut payload).unwrap();
            match head[0] & 0x0f {
                0 | 1 => text.extend(payload),
                8 => panic!("the browser closed the connection"),
                _ => continue,
            }
            if head[0] & 0x80 != 0 {
                return String::from_utf8(text).unwrap();
            }
        }
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Waits for something to be there.
pub fn patient<T>(what: &str, mut look: impl FnMut() -> Option<T>) -> T {
    let begin = Instant::now();
    loop {
        if let Some(found) = look() {
            return found;
        }
        assert!(begin.elapsed() < PATIENCE, "{what} did not come");
        std::thread::sleep(Duration::from_millis(30));
    }
}

/// The targets of a browser.
fn list(port: u16) -> Option<Value> {
    let mut socket = TcpStream::connect(("127.0.0.1", port)).ok()?;
    socket.set_read_timeout(Some(Duration::from_secs(5))).ok()?;
    write!(
        socket,
        "GET /json/list HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\r\n"
    )
    .ok()?;
    let mut text = String::new();
    let _ = socket.read_to_string(&mut text);
    serde_json::from_str(text.split_once("\r\n\r\n")?.1).ok()
}
