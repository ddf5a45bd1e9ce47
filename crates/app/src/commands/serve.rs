//! `isobar serve`: the web workbench on an address of this machine.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};

use benchbook::{Benchbook, BenchbookError};
use clap::Args;

use crate::fault::Fault;

/// The web workbench.
#[derive(Args)]
#[command(after_help = "Example:
  isobar serve demo/demo.benchbook --port 8338

In a PostgreSQL database (15 or newer) that several people share; the password is
taken from ~/.pgpass or PGPASSWORD:
  isobar serve --database postgres://lab@localhost/benchbook")]
pub struct Serve {
    /// The benchbook to open.
    #[arg(required_unless_present = "database")]
    benchbook: Option<PathBuf>,
    /// Address of a PostgreSQL database; a benchbook is begun in it where there is none.
    #[arg(long, value_name = "URL", conflicts_with = "benchbook")]
    database: Option<PathBuf>,
    /// Port on this machine; 0 takes a free one.
    #[arg(long, default_value_t = 8338)]
    port: u16,
    /// Address to listen on; only addresses of this machine are accepted.
    #[arg(long)]
    listen: Option<IpAddr>,
}

/// Runs the workbench until it is stopped.
pub fn run(command: &Serve) -> Result<(), Fault> {
    let runtime = runtime()?;
    runtime.block_on(async {
        let book = match (&command.database, &command.benchbook) {
            (Some(address), _) => open_or_begin(address).await?,
            (None, Some(path)) => Benchbook::open(path).await?,
            (None, None) => return Err(Fault::ours("no benchbook was named".to_owned())),
        };
        let place = book.path().to_owned();
        serve_book(book, &place, command.port, command.listen).await
    })
}

/// The benchbook of a database, begun there where it has none.
pub async fn open_or_begin(address: &Path) -> Result<Benchbook, Fault> {
    if !benchbook::is_database(address) {
        return Err(Fault::users(
            format!("`{}` is not the address of a database", benchbook::shown(address)),
            "give one such as postgres://lab@localhost/benchbook, or a file without --database",
        ));
    }
    match Benchbook::open(address).await {
        Err(BenchbookError::NotABenchbook { .. }) => {
            Ok(Benchbook::create(address, &crate::clock::moment()).await?)
        }
        opened => Ok(opened?),
    }
}

/// The thread pool of the workbench.
pub fn runtime() -> Result<tokio::runtime::Runtime, Fault> {
    tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(|error| Fault::ours(format!("the server could not be started: {error}")))
}

/// Serves an open benchbook and prints the link.
pub async fn serve_book(
    book: Benchbook,
    path: &Path,
    port: u16,
    listen: Option<IpAddr>,
) -> Result<(), Fault> {
    let address = listen.unwrap_or(IpAddr::V4(Ipv4Addr::LOCALHOST));
    if !address.is_loopback() {
        return Err(Fault::users(
            format!("`{address}` is not an address of this machine alone"),
            "without accounts the workbench serves this machine only; leave out --listen",
        ));
    }
    let socket = SocketAddr::new(address, port);
    let listener = tokio::net::TcpListener::bind(socket).await.map_err(|error| {
        if error.kind() == std::io::ErrorKind::AddrInUse {
            Fault::users(
                format!("port {port} is in use"),
                format!("stop the other program, or choose one with --port {}", free_port(port)),
            )
        } else {
            Fault::users(
                format!("cannot listen on {socket}: {error}"),
                "choose another port with --port, or --port 0 for a free one",
            )
        }
    })?;
    let bound = listener
        .local_addr()
        .map_err(|error| Fault::ours(format!("the address is not known: {error}")))?;
    announce(path, bound);
    let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into());
    let served = tokio::select! {
        served = crate::web::serve(book.clone(), listener, name) => served,
        _ = tokio::signal::ctrl_c() => Ok(()),
    };
    // Closing folds everything into the one file.
    book.close().await;
    served.map_err(|error| Fault::ours(format!("the server stopped: {error}")))
}

fn announce(path: &Path, bound: SocketAddr) {
    use std::io::Write;
    let mut out = std::io::stdout().lock();
    let _ = writeln!(out, "\nServing {} at http://{bound}/", path.display());
    let _ = writeln!(out, "Press Ctrl+C to stop.");
    let _ = out.flush();
}

/// A higher port to suggest.
const fn free_port(port: u16) -> u16 {
    if port < 65_000 { port + 1 } else { 8339 }
}

impl From<BenchbookError> for Fault {
    fn from(error: BenchbookError) -> Self {
        let hint = error.next_step();
        if error.is_users() {
            Self::users(error.to_string(), hint)
        } else {
            let mut fault = Self::ours(error.to_string());
            fault.hint = hint;
            fault
        }
    }
}
