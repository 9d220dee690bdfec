//! The server: bound to loopback, guarded, stopped in order.

use std::future::Future;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use axum::Router;
use axum::middleware;
use holdline_geom::fault::{Fault, Faults};
use holdline_steps::job::Job;
use tokio::net::TcpListener;

use crate::answer::JobSlot;
use crate::calls::{Desk, routes};
use crate::doors::{Doors, guard};
use crate::page;
use crate::token::Token;

/// How long open connections may take to end once the server is told to stop.
const PATIENCE: Duration = Duration::from_secs(10);

/// Told the address, once the port is bound.
pub type OnReady = Box<dyn FnOnce(&str) + Send>;

/// How to serve.
#[derive(Default)]
pub struct ServeOptions {
    /// Port on loopback; 0 picks a free one.
    pub port: u16,
    /// Job to open at start.
    pub job: Option<PathBuf>,
    /// Folder for demo jobs; none is the current one.
    pub demo_dir: Option<PathBuf>,
    /// Told the address instead of printing it, by [`serve`].
    pub on_ready: Option<OnReady>,
}

impl std::fmt::Debug for ServeOptions {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let ServeOptions {
            port,
            job,
            demo_dir,
            on_ready: _,
        } = self;
        f.debug_struct("ServeOptions")
            .field("port", port)
            .field("job", job)
            .field("demo_dir", demo_dir)
            .finish_non_exhaustive()
    }
}

/// Where a demo job is made when nobody says where.
#[derive(Debug, Clone)]
pub struct DemoPlace {
    dir: PathBuf,
}

impl DemoPlace {
    /// A path that is free now; making the job claims it.
    pub fn free_path(&self) -> PathBuf {
        let named = |name: String| self.dir.join(name);
        let more = (2..10_000).map(|n| named(format!("holdline-demo-{n}.holdline")));
        let mut paths = std::iter::once(named("holdline-demo.holdline".to_owned())).chain(more);
        paths
            .find(|path| !path.exists())
            .unwrap_or_else(|| named("holdline-demo.holdline".to_owned()))
    }
}

/// A workbench that is bound and not yet serving.
#[derive(Debug)]
pub struct Workbench {
    listener: TcpListener,
    router: Router,
    address: String,
    port: u16,
    job: SlotForDrop,
}

/// The job's place, kept to close it last.
struct SlotForDrop(JobSlot);

impl std::fmt::Debug for SlotForDrop {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("job")
    }
}

impl Workbench {
    /// Opens the job, if one is named, makes the token and binds the port on 127.0.0.1.
    ///
    /// # Errors
    ///
    /// What [`Job::open`] gives; `W097` if the port is taken; `W098` without random bytes.
    pub async fn bind(options: ServeOptions) -> Result<Workbench, Faults> {
        let job = match &options.job {
            Some(path) => Some(open(path.clone()).await?),
            None => None,
        };
        let token = Token::new()?;
        let wanted = SocketAddr::from((Ipv4Addr::LOCALHOST, options.port));
        let listener = TcpListener::bind(wanted)
            .await
            .map_err(|e| taken(options.port, &e))?;
        let port = listener
            .local_addr()
            .map_err(|e| taken(options.port, &e))?
            .port();
        let address = format!("http://127.0.0.1:{port}/#token={}", token.text());
        let slot: JobSlot = Arc::new(Mutex::new(job));
        let dir = options
            .demo_dir
            .unwrap_or_else(|| Path::new(".").to_owned());
        let desk = Desk {
            job: Arc::clone(&slot),
            demo: DemoPlace { dir },
        };
        let doors = Arc::new(Doors { port, token });
        let router = Router::new()
            .merge(routes(desk))
            .fallback(page::file)
            .layer(middleware::from_fn_with_state(doors, guard));
        Ok(Workbench {
            listener,
            router,
            address,
            port,
            job: SlotForDrop(slot),
        })
    }

    /// The address with the token: whoever has it may do everything that this person may.
    pub fn address(&self) -> &str {
        &self.address
    }

    /// The port.
    pub fn port(&self) -> u16 {
        self.port
    }

    /// Serves until `stop` is done; then lets what is under way end, and closes the job.
    ///
    /// What a call has answered is on the disk before the answer, so nothing said to be saved can be lost here.
    ///
    /// # Errors
    ///
    /// `W097` if the port fails while serving.
    pub async fn run(self, stop: impl Future<Output = ()> + Send + 'static) -> Result<(), Faults> {
        let Workbench {
            listener,
            router,
            port,
            job,
            ..
        } = self;
        let (told, hears) = tokio::sync::oneshot::channel::<()>();
        let stop = async move {
            stop.await;
            // If nobody hears it, the server has ended already.
            let _ = told.send(());
        };
        let serving = axum::serve(listener, router)
            .with_graceful_shutdown(stop)
            .into_future();
        // A page that keeps its connection open must not keep the program from ending.
        let patience = async {
            match hears.await {
                Ok(()) => tokio::time::sleep(PATIENCE).await,
                Err(_) => std::future::pending().await,
            }
        };
        tokio::select! {
            served = serving => served.map_err(|e| Faults::from(taken(port, &e)))?,
            () = patience => {}
        }
        // Waits for a save under way: the lock is free only between saves.
        let slot = job.0;
        let closed = tokio::task::spawn_blocking(move || {
            slot.lock()
                .unwrap_or_else(std::sync::PoisonError::into_inner)
                .take();
        });
        // It cannot be cancelled, and a panic in it leaves the file as the last save left it.
        let _ = closed.await;
        Ok(())
    }
}

async fn open(path: PathBuf) -> Result<Job, Faults> {
    let opened = tokio::task::spawn_blocking(move || Job::open(&path)).await;
    opened.unwrap_or_else(|error| {
        let fix = "this is a fault of the program; report it";
        Err(Fault::new("W099", "job", error.to_string(), "an open job", fix).into())
    })
}

fn taken(port: u16, error: &std::io::Error) -> Fault {
    Fault::new(
        "W097",
        format!("127.0.0.1:{port}"),
        error.to_string(),
        "a port on this computer that is free",
        "use port 0, which picks a free one, or close the program that has this port",
    )
}

/// Binds, prints the address, and serves until Ctrl-C or the system's word to end.
///
/// # Errors
///
/// As [`Workbench::bind`] and [`Workbench::run`].
pub async fn serve(mut options: ServeOptions) -> Result<(), Faults> {
    let on_ready = options.on_ready.take();
    let workbench = Workbench::bind(options).await?;
    match on_ready {
        Some(on_ready) => on_ready(workbench.address()),
        None => println!("workbench at {}", workbench.address()),
    }
    if !page::is_built() {
        eprint!("{}", page::NOT_BUILT);
    }
    workbench.run(told_to_stop()).await
}

/// As [`serve`], for a caller without a runtime.
///
/// # Errors
///
/// As [`serve`]; `W099` if the system gives no threads.
pub fn serve_blocking(options: ServeOptions) -> Result<(), Faults> {
    run_blocking(serve(options))
}

/// Runs a future to its end on a runtime of its own.
///
/// # Errors
///
/// Its own; `W099` if the system gives no threads.
pub fn run_blocking(work: impl Future<Output = Result<(), Faults>>) -> Result<(), Faults> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build();
    let runtime = runtime.map_err(|error| {
        let fix = "close other programs and try again";
        Fault::new(
            "W099",
            "workbench",
            error.to_string(),
            "threads from the system",
            fix,
        )
    })?;
    runtime.block_on(work)
}

/// Done when a person or the system says stop.
pub async fn told_to_stop() {
    let by_hand = async {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await; // no way to hear it: only the system can end us
        }
    };
    #[cfg(unix)]
    let by_system = async {
        use tokio::signal::unix::{SignalKind, signal};
        match signal(SignalKind::terminate()) {
            Ok(mut heard) => {
                heard.recv().await;
            }
            Err(_) => std::future::pending().await,
        }
    };
    #[cfg(not(unix))]
    let by_system = std::future::pending::<()>();
    tokio::select! {
        () = by_hand => {}
        () = by_system => {}
    }
}
