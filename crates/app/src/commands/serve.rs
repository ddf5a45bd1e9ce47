//! `isobar serve`: the web workbench on an address of this machine.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};

use benchbook::{Benchbook, BenchbookError};
use clap::Args;

use crate::fault::Fault;
use crate::web::Front;

/// The web workbench.
#[derive(Args)]
#[command(after_help = "Example:
  isobar serve demo/demo.benchbook --port 8338

In a PostgreSQL database (15 or newer) that several people share; the password is
taken from ~/.pgpass or PGPASSWORD:
  isobar serve --database postgres://lab@localhost/benchbook

A database on another machine is reached encrypted, and must show a certificate in its own name;
?sslmode=verify-full&sslrootcert=FILE names the authority of the site.

For other machines: a benchbook with accounts behind a program that speaks TLS and passes
the host name on (such as nginx, Caddy or stunnel on this machine):
  isobar serve lab.benchbook --front https://isobar.lab.example")]
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
    /// Address to listen on; one that other machines reach needs accounts and --front.
    #[arg(long)]
    listen: Option<IpAddr>,
    /// Address of the TLS front through which people come: https://NAME or https://NAME:PORT.
    #[arg(long, value_name = "URL")]
    front: Option<String>,
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
        let door = Door { listen: command.listen, front: command.front.as_deref() };
        serve_book(book, &place, command.port, door).await
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

/// Where the workbench listens, and through what people come.
#[derive(Clone, Copy, Default)]
pub struct Door<'a> {
    /// Address to listen on; this machine alone where none is given.
    pub listen: Option<IpAddr>,
    /// Address of a TLS front.
    pub front: Option<&'a str>,
}

/// What a TLS front must do, for whoever sets one up.
const TLS_FRONT: &str = "put a program that speaks TLS before it (nginx, Caddy or stunnel, best on \
    this machine, so that --listen is not needed), let it pass the host name on, and name its \
    address: --front https://isobar.lab.example";

impl Door<'_> {
    /// How people reach the workbench.
    ///
    /// # Errors
    /// Where other machines would reach it without accounts or without TLS.
    async fn front(&self, book: &Benchbook, port: u16) -> Result<Front, Fault> {
        let is_loopback = self.listen.is_none_or(|address| address.is_loopback());
        let listen = self.listen.map_or_else(String::new, |address| address.to_string());
        if is_loopback && self.front.is_none() {
            return Ok(Front::Loopback(port));
        }
        if !book.has_accounts().await? {
            let what = match is_loopback {
                true => "this benchbook has no accounts, and --front lets other machines in",
                false => {
                    "this benchbook has no accounts, and that is not an address of this \
                          machine alone"
                }
            };
            return Err(Fault::users(
                format!(
                    "{}{what}",
                    if is_loopback { String::new() } else { format!("`{listen}`: ") }
                ),
                "leave out --listen and --front, or begin a benchbook with accounts: isobar \
                 account begin BENCHBOOK --id ID --name NAME",
            ));
        }
        let Some(front) = self.front else {
            return Err(Fault::users(
                format!(
                    "`{listen}` is not an address of this machine alone, and passwords must not travel without TLS"
                ),
                TLS_FRONT,
            ));
        };
        Front::of_address(front).ok_or_else(|| {
            Fault::users(format!("`{front}` is not the address of a TLS front"), TLS_FRONT)
        })
    }
}

/// Serves an open benchbook and prints the link.
pub async fn serve_book(
    book: Benchbook,
    path: &Path,
    port: u16,
    door: Door<'_>,
) -> Result<(), Fault> {
    // Whether it may be served at all is known before anything listens.
    door.front(&book, port).await?;
    let address = door.listen.unwrap_or(IpAddr::V4(Ipv4Addr::LOCALHOST));
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
    // Port 0 has become a real one.
    let front = door.front(&book, bound.port()).await?;
    announce(path, bound, &front);
    let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into());
    let served = tokio::select! {
        served = crate::web::serve(book.clone(), listener, name, front) => served,
        _ = tokio::signal::ctrl_c() => Ok(()),
    };
    // Closing folds everything into the one file.
    book.close().await;
    served.map_err(|error| Fault::ours(format!("the server stopped: {error}")))
}

fn announce(path: &Path, bound: SocketAddr, front: &Front) {
    use std::io::Write;
    let mut out = std::io::stdout().lock();
    let _ = match front {
        Front::Loopback(_) => writeln!(out, "\nServing {} at http://{bound}/", path.display()),
        Front::Tls(name) => writeln!(
            out,
            "\nServing {} at https://{name}/ through its TLS front, which finds it at {bound}",
            path.display()
        ),
    };
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
