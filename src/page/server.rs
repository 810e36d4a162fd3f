//! The server: connections, requests, and where each goes.

use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;
use std::time::Duration;

use http_body_util::{BodyExt, Limited};
use hyper::body::Incoming;
use hyper::header::CONTENT_TYPE;
use hyper::service::service_fn;
use hyper::{Method, Request, StatusCode};
use hyper_util::rt::{TokioIo, TokioTimer};
use serde_json::json;
use tokio::sync::Semaphore;

use super::body::{self, Body};
use super::guard::{Token, admitted};
use super::line::{Line, SaveError};
use super::options::{Options, PageError};
use super::reply::{self, Reply};
use super::work::{Declined, Desk, Sort, Work};
use super::{answer, form, panel};

/// Most connections at once.
const MOST_CONNECTIONS: usize = 256;
/// How long a request may take to arrive.
const ARRIVES: Duration = Duration::from_secs(15);
/// Longest head of a request, bytes.
const LONGEST_HEAD: usize = 16 * 1024;
/// Threads that wait for results; how many of them compute is the desk's affair.
const THREADS: usize = 16;

/// How long a question after a panel waits for what is new. The page asks again at once, so that it needs no clock: those
/// of pages in the background stand still for a minute.
const LATER: Duration = Duration::from_millis(300);
/// What is asked with a body.
const QUESTIONS: [&str; 8] = ["answer", "panel", "work", "stop", "line", "report", "save", "reload"];

/// A server that listens.
pub struct Server {
    listener: TcpListener,
    address: SocketAddr,
    shared: Arc<Shared>,
}

struct Shared {
    line: Line,
    options: Options,
    token: Token,
    port: u16,
    desk: Desk,
}

impl Server {
    /// Listens.
    ///
    /// # Errors
    /// [`PageError`].
    pub fn bind(line: Line, options: Options) -> Result<Server, PageError> {
        let wanted = options.address;
        if wanted.ip().is_unspecified() {
            return Err(PageError::Unspecified(wanted.ip()));
        }
        if !wanted.ip().is_loopback() && !options.network {
            return Err(PageError::NotLoopback(wanted));
        }
        let listen = |source| PageError::Listen {
            address: wanted,
            source,
        };
        let listener = TcpListener::bind(wanted).map_err(listen)?;
        listener.set_nonblocking(true).map_err(listen)?;
        let address = listener.local_addr().map_err(listen)?;
        let shared = Shared {
            line,
            options,
            token: Token::new()?,
            port: address.port(),
            desk: Desk::new(),
        };
        Ok(Server {
            listener,
            address,
            shared: Arc::new(shared),
        })
    }

    /// The address of the page.
    pub fn url(&self) -> String {
        format!("http://{}/{}/", self.address, self.shared.token.text())
    }

    /// Serves until the process ends.
    ///
    /// # Errors
    /// What the system refuses.
    pub fn run(self) -> Result<(), PageError> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .max_blocking_threads(THREADS)
            .build()?;
        runtime.block_on(serve(self.listener, self.shared))
    }
}

async fn serve(listener: TcpListener, shared: Arc<Shared>) -> Result<(), PageError> {
    let listener = tokio::net::TcpListener::from_std(listener)?;
    let places = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    loop {
        // A connection that breaks while it is made is no reason to end.
        let Ok((stream, _)) = listener.accept().await else {
            tokio::time::sleep(Duration::from_millis(50)).await;
            continue;
        };
        let Ok(place) = places.clone().try_acquire_owned() else {
            continue;
        };
        let shared = shared.clone();
        tokio::spawn(async move {
            let handle = service_fn(|request| {
                let shared = shared.clone();
                async move { Ok::<Reply, std::convert::Infallible>(handle(request, shared).await) }
            });
            let mut http = hyper::server::conn::http1::Builder::new();
            http.timer(TokioTimer::new())
                .header_read_timeout(ARRIVES)
                .max_buf_size(LONGEST_HEAD)
                .max_headers(64);
            // What a browser breaks off is its own affair.
            let _ = http.serve_connection(TokioIo::new(stream), handle).await;
            drop(place);
        });
    }
}

async fn handle(request: Request<Incoming>, shared: Arc<Shared>) -> Reply {
    if let Err(why) = admitted(request.headers(), shared.port, shared.options.network) {
        return reply::plain(StatusCode::FORBIDDEN, why);
    }
    let Some(what) = shared.token.rest(request.uri().path()).map(str::to_owned) else {
        return reply::plain(StatusCode::FORBIDDEN, "the address has no token or a wrong one");
    };
    match (request.method(), what.as_str()) {
        (&Method::GET, "") => {
            computed(shared, |shared| {
                let loaded = shared.line.loaded();
                let name = shared.line.name();
                let page = form::page(&loaded.document, &name, &shared.options.view, shared.options.network);
                reply::text("text/html; charset=utf-8", page)
            })
            .await
        }
        (&Method::GET, "page.js") => reply::text("text/javascript; charset=utf-8", form::SCRIPT),
        (&Method::GET, "page.css") => reply::text("text/css; charset=utf-8", form::STYLE),
        (&Method::POST, known) if QUESTIONS.contains(&known) => posted(request, &what, shared).await,
        (_, known) if QUESTIONS.contains(&known) || ["", "page.js", "page.css"].contains(&known) => {
            reply::plain(StatusCode::METHOD_NOT_ALLOWED, "not this way")
        }
        _ => reply::plain(StatusCode::NOT_FOUND, "there is nothing of this name"),
    }
}

/// A question with a body.
async fn posted(request: Request<Incoming>, what: &str, shared: Arc<Shared>) -> Reply {
    let kind = request.headers().get(CONTENT_TYPE).map(|kind| kind.as_bytes());
    if kind != Some(b"application/json") {
        return reply::plain(StatusCode::UNSUPPORTED_MEDIA_TYPE, "questions are application/json");
    }
    let read = Limited::new(request.into_body(), body::LONGEST).collect();
    let bytes = match tokio::time::timeout(ARRIVES, read).await {
        Ok(Ok(read)) => read.to_bytes(),
        Ok(Err(_)) => return reply::plain(StatusCode::PAYLOAD_TOO_LARGE, "the question is too long"),
        Err(_) => return reply::plain(StatusCode::REQUEST_TIMEOUT, "the question did not arrive"),
    };
    let body = match Body::read(&bytes) {
        Ok(body) => body,
        Err(why) => return reply::refused(StatusCode::BAD_REQUEST, &json!({ "problems": [{ "message": why }] })),
    };
    match what {
        "answer" => answered(body, shared).await,
        "panel" => taken_up(body, shared),
        "work" => watched(shared.desk.work(body.work)).await,
        "stop" => {
            let work = shared.desk.work(body.work);
            work.iter().for_each(|work| work.cancel());
            state(work)
        }
        "save" => computed(shared, move |shared| saved(&body, shared)).await,
        "reload" => {
            computed(shared, |shared| match shared.line.reload() {
                Ok(()) => reply::json(&json!({ "read": true })),
                Err(error) => reply::refused(StatusCode::UNPROCESSABLE_ENTITY, &answer::problems(&error)),
            })
            .await
        }
        // Nothing is run for the file itself.
        "line" => {
            computed(shared, move |shared| {
                file(
                    "application/toml; charset=utf-8",
                    answer::line_file(&shared.line.loaded(), &body, &shared.options.view),
                )
            })
            .await
        }
        _ => {
            seated(body, shared, Sort::Report, |body, shared| {
                let made = answer::report(&shared.line.loaded(), body, &shared.line.name(), &shared.options.view);
                file("text/html; charset=utf-8", made)
            })
            .await
        }
    }
}

async fn answered(body: Body, shared: Arc<Shared>) -> Reply {
    let sort = if body.settle { Sort::Settled } else { Sort::Quick };
    seated(body, shared, sort, |body, shared| {
        match answer::answer(&shared.line.loaded(), body, &shared.options.view) {
            Ok(value) => reply::json(&value),
            Err(value) => reply::refused(StatusCode::UNPROCESSABLE_ENTITY, &value),
        }
    })
    .await
}

/// Works on a question as soon as there is a place.
async fn seated(body: Body, shared: Arc<Shared>, sort: Sort, work: fn(&Body, &Shared) -> Reply) -> Reply {
    let desk = shared.clone();
    let seat = match desk.desk.seat(&body.page, sort).await {
        Ok(seat) => seat,
        Err(Declined::Busy) => return reply::refused(StatusCode::SERVICE_UNAVAILABLE, &json!({ "busy": true })),
        Err(Declined::Superseded) => return reply::refused(StatusCode::CONFLICT, &json!({ "superseded": true })),
    };
    computed(shared, move |shared| {
        // The work goes on where its connection has broken off, and so keeps its place.
        let _seat = seat;
        work(&body, shared)
    })
    .await
}

/// Computes on a thread of its own.
async fn computed(shared: Arc<Shared>, work: impl FnOnce(&Shared) -> Reply + Send + 'static) -> Reply {
    let made = tokio::task::spawn_blocking(move || work(&shared)).await;
    made.unwrap_or_else(|_| reply::plain(StatusCode::INTERNAL_SERVER_ERROR, "the program has a fault here"))
}

/// What is kept as a file.
fn file(kind: &'static str, made: Result<String, serde_json::Value>) -> Reply {
    match made {
        Ok(text) => reply::text(kind, text),
        Err(value) => reply::refused(StatusCode::UNPROCESSABLE_ENTITY, &value),
    }
}

fn saved(body: &Body, shared: &Shared) -> Reply {
    match shared.line.save(&body.changes()) {
        Ok(()) => reply::json(&json!({ "saved": true })),
        Err(SaveError::File(error)) => reply::refused(StatusCode::UNPROCESSABLE_ENTITY, &answer::problems(&error)),
        Err(error) => {
            let changed = matches!(error, SaveError::ChangedOnDisk);
            let value = json!({ "problems": [{ "message": error.to_string() }], "changed_on_disk": changed });
            reply::refused(StatusCode::CONFLICT, &value)
        }
    }
}

/// Takes up a panel; its state is asked for later.
fn taken_up(body: Body, shared: Arc<Shared>) -> Reply {
    if !panel::exists(&body.panel) {
        let value = json!({ "problems": [{ "message": "there is no such panel" }] });
        return reply::refused(StatusCode::BAD_REQUEST, &value);
    }
    let Some(work) = shared.desk.take_up() else {
        return reply::refused(StatusCode::SERVICE_UNAVAILABLE, &json!({ "busy": true }));
    };
    let here = work.clone();
    let ended = Ended(work.clone());
    tokio::task::spawn_blocking(move || {
        let result = panel::panel(&shared.line.loaded(), &body, &work, &shared.options.view);
        work.end(result);
        drop(ended);
    });
    state(Some(here))
}

/// Ends a piece of work that a fault of the program left without a result.
struct Ended(Arc<Work>);

impl Drop for Ended {
    fn drop(&mut self) {
        if self.0.result().is_none() {
            self.0.end(Err("the program has a fault here".to_owned()));
        }
    }
}

/// The state of a piece of work, a little later where it is not done.
async fn watched(work: Option<Arc<Work>>) -> Reply {
    if let Some(work) = work.as_ref().filter(|work| !work.is_done()) {
        work.watched();
        tokio::time::sleep(LATER).await;
    }
    state(work)
}

fn state(work: Option<Arc<Work>>) -> Reply {
    let Some(work) = work else {
        return reply::plain(StatusCode::NOT_FOUND, "there is no such work");
    };
    let (done, of) = work.progress();
    let value = match work.result() {
        None => json!({ "work": work.number, "done": done, "of": of }),
        Some(Ok(html)) => json!({ "work": work.number, "html": html }),
        Some(Err(_)) if work.is_cancelled() => json!({ "work": work.number, "stopped": true }),
        Some(Err(why)) => json!({ "work": work.number, "problems": [{ "message": why }] }),
    };
    reply::json(&value)
}

#[cfg(test)]
mod tests {
    use std::path::Path;
    use std::sync::atomic::{AtomicBool, Ordering};

    use super::*;
    use crate::line::run::Budget;
    use crate::show::View;

    /// Lets the work of the test below end.
    static GO: AtomicBool = AtomicBool::new(false);

    /// A browser that goes away does not end the run that it asked for, and two more of them have to wait for it.
    #[test]
    fn a_place_is_taken_until_the_work_ends() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/pin.toml");
        let options = Options {
            address: SocketAddr::from(([127, 0, 0, 1], 0)),
            network: false,
            view: View::default(),
        };
        let line = Line::load(&file, Budget::default(), |_, _| Ok(())).unwrap();
        let shared = Server::bind(line, options).unwrap().shared;
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap();
        runtime.block_on(async {
            let all = shared.desk.free();
            let work = |_: &Body, _: &Shared| {
                while !GO.load(Ordering::SeqCst) {
                    std::thread::sleep(Duration::from_millis(2));
                }
                reply::plain(StatusCode::OK, "")
            };
            let asked = seated(Body::default(), shared.clone(), Sort::Settled, work);
            assert!(tokio::time::timeout(Duration::from_millis(50), asked).await.is_err());
            assert_eq!(shared.desk.free(), all - 1);
            GO.store(true, Ordering::SeqCst);
            while shared.desk.free() < all {
                tokio::time::sleep(Duration::from_millis(2)).await;
            }
        });
    }
}
