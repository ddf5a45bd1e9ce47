//! A PostgreSQL of its own for a test: the Debian package's programs, a
//! scratch folder, a socket in it, and no network.
// A test may fail by panicking; every test binary takes a part of it.
#![allow(dead_code, clippy::unwrap_used, clippy::print_stdout)]

use std::io::Write;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// Set by `./test`: then the server must be there.
const REQUIRED: &str = "ISOBAR_POSTGRES";

/// A running server. It ends with this value.
pub struct Server {
    folder: tempfile::TempDir,
    programs: PathBuf,
    user: Option<(u32, u32)>,
    port: String,
    server: Child,
}

/// Programs of the newest version that is installed.
fn programs() -> Option<PathBuf> {
    let mut versions: Vec<(u32, PathBuf)> = std::fs::read_dir("/usr/lib/postgresql")
        .ok()?
        .filter_map(|entry| {
            let entry = entry.ok()?;
            let version = entry.file_name().to_str()?.parse().ok()?;
            Some((version, entry.path().join("bin")))
        })
        .filter(|(_, bin)| bin.join("initdb").is_file())
        .collect();
    versions.sort();
    versions.pop().map(|(_, bin)| bin)
}

/// User and group under which the server runs: PostgreSQL refuses root.
fn other_user() -> Option<(u32, u32)> {
    let id = |arguments: &[&str]| -> Option<u32> {
        let said = Command::new("id").args(arguments).stderr(Stdio::null()).output().ok()?;
        String::from_utf8(said.stdout).ok()?.trim().parse().ok()
    };
    if id(&["-u"]) != Some(0) {
        return None;
    }
    let named = |name| Some((id(&["-u", name])?, id(&["-g", name])?));
    named("postgres").or_else(|| named("nobody"))
}

/// Gives files of a folder to the user under which the server runs, who alone
/// reads them.
pub fn give_to_server(folder: &Path, names: &[&str]) {
    use std::os::unix::fs::{PermissionsExt, chown};
    let open = std::fs::Permissions::from_mode(0o755);
    std::fs::set_permissions(folder, open).unwrap();
    for name in names {
        let file = folder.join(name);
        std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o600)).unwrap();
        if let Some((user, group)) = other_user() {
            chown(&file, Some(user), Some(group)).unwrap();
        }
    }
}

/// A server with the login `lab`, which may make roles and databases. `None`,
/// with a notice, where PostgreSQL is not installed and need not be.
pub fn start(settings: &[&str]) -> Option<Server> {
    let Some(programs) = programs() else {
        assert!(std::env::var_os(REQUIRED).is_none(), "PostgreSQL is not installed");
        println!("notice: PostgreSQL is not installed, so this test checks nothing");
        return None;
    };
    let user = other_user();
    let folder = tempfile::tempdir().unwrap();
    if let Some((user, group)) = user {
        std::os::unix::fs::chown(folder.path(), Some(user), Some(group)).unwrap();
    }
    let data = folder.path().join("data");
    let made = command(&programs.join("initdb"), user)
        .args(["--auth=trust", "--username=postgres", "--encoding=UTF8", "--locale=C"])
        .arg("--no-sync")
        .arg("-D")
        .arg(&data)
        .output()
        .unwrap();
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let mut server = command(&programs.join("postgres"), user);
    server.arg("-D").arg(&data).arg("-k").arg(folder.path()).args(["-c", "listen_addresses="]);
    for setting in settings {
        server.args(["-c", setting]);
    }
    let server = server.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let port = settings.iter().find_map(|setting| setting.strip_prefix("port="));
    let port = port.unwrap_or("5432").to_owned();
    let server = Server { folder, programs, user, port, server };
    for _ in 0..600 {
        if server.psql("postgres", "SELECT 1").is_ok() {
            server.psql("postgres", "CREATE ROLE lab LOGIN CREATEROLE CREATEDB").unwrap();
            return Some(server);
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("the server did not start");
}

fn command(program: &Path, user: Option<(u32, u32)>) -> Command {
    let mut command = Command::new(program);
    command.current_dir("/").env_remove("LC_ALL").env_remove("LANG");
    if let Some((user, group)) = user {
        command.uid(user).gid(group);
    }
    command
}

impl Server {
    /// Address of a database for a login.
    pub fn address(&self, login: &str, database: &str) -> PathBuf {
        let socket = self.folder.path().display();
        PathBuf::from(format!("postgres://{login}@localhost/{database}?host={socket}"))
    }

    /// A new database of the login `lab`, and its address for that login.
    pub fn database(&self, name: &str) -> PathBuf {
        self.psql("postgres", &format!("CREATE DATABASE {name} OWNER lab")).unwrap();
        self.address("lab", name)
    }

    /// Runs SQL as the superuser, with a program that is not ours.
    pub fn psql(&self, database: &str, sql: &str) -> Result<String, String> {
        self.psql_as("postgres", database, sql)
    }

    /// Runs SQL as a login.
    pub fn psql_as(&self, login: &str, database: &str, sql: &str) -> Result<String, String> {
        let said = command(&self.programs.join("psql"), self.user)
            .args(["-X", "-q", "-A", "-t", "-v", "ON_ERROR_STOP=1", "-h"])
            .arg(self.folder.path())
            .args(["-p", &self.port, "-U", login, "-d", database, "-c", sql])
            .output()
            .unwrap();
        match said.status.success() {
            true => Ok(String::from_utf8_lossy(&said.stdout).trim().to_owned()),
            false => Err(String::from_utf8_lossy(&said.stderr).into_owned()),
        }
    }

    /// A database as the text that `pg_dump` writes of it.
    pub fn dump(&self, database: &str) -> String {
        let said = command(&self.programs.join("pg_dump"), self.user)
            .arg("-h")
            .arg(self.folder.path())
            .args(["-p", &self.port, "-U", "postgres", database])
            .output()
            .unwrap();
        assert!(said.status.success(), "{}", String::from_utf8_lossy(&said.stderr));
        String::from_utf8(said.stdout).unwrap()
    }

    /// Runs a text of SQL as the superuser, however long it is.
    pub fn restore(&self, database: &str, text: &str) {
        let mut psql = command(&self.programs.join("psql"), self.user)
            .args(["-X", "-q", "-v", "ON_ERROR_STOP=1", "-h"])
            .arg(self.folder.path())
            .args(["-p", &self.port, "-U", "postgres", "-d", database])
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .spawn()
            .unwrap();
        psql.stdin.take().unwrap().write_all(text.as_bytes()).unwrap();
        assert!(psql.wait().unwrap().success());
    }

    /// Stops every process of the server at once, as a power cut would, and
    /// starts it again on what it had written.
    pub fn crash_and_restart(&mut self) {
        self.signal("-QUIT");
        let _ = self.server.wait();
        let mut again = command(&self.programs.join("postgres"), self.user);
        again.arg("-D").arg(self.folder.path().join("data")).arg("-k").arg(self.folder.path());
        again.args(["-c", "listen_addresses="]).stdout(Stdio::null()).stderr(Stdio::null());
        self.server = again.spawn().unwrap();
        for _ in 0..600 {
            if self.psql("postgres", "SELECT 1").is_ok() {
                return;
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        panic!("the server did not start again");
    }

    fn signal(&self, signal: &str) {
        let _ = Command::new("kill").arg(signal).arg(self.server.id().to_string()).status();
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        self.signal("-INT");
        let _ = self.server.wait();
    }
}
