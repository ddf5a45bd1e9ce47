//! A database on another machine: the connection is encrypted, and the server
//! must show a certificate in its own name. The certificates are made with
//! the program `openssl`, which is not ours.
#![allow(clippy::unwrap_used, clippy::print_stdout)] // a test fails by panicking

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use benchbook::{Benchbook, BenchbookError, verify};

use crate::database_server;
use crate::invented::{self, moment, small_case};

/// Runs `openssl`; false where it is not installed.
fn openssl(folder: &Path, arguments: &[&str]) -> bool {
    let mut command = Command::new("openssl");
    command.current_dir(folder).args(arguments).stderr(Stdio::null()).stdout(Stdio::null());
    match command.status() {
        Ok(status) => {
            assert!(status.success(), "openssl {arguments:?}");
            true
        }
        Err(_) => false,
    }
}

/// An authority `NAME.crt` and, signed by it, `NAME-server.crt` with its key
/// for the host name `localhost`.
fn authority(folder: &Path, name: &str) -> bool {
    let [key, crt, request] = ["key", "crt", "csr"].map(|end| format!("{name}.{end}"));
    let [server_key, server_crt] = ["key", "crt"].map(|end| format!("{name}-server.{end}"));
    std::fs::write(folder.join("names"), "subjectAltName=DNS:localhost\n").unwrap();
    openssl(
        folder,
        &[
            "req",
            "-x509",
            "-newkey",
            "rsa:2048",
            "-nodes",
            "-days",
            "2",
            "-subj",
            "/CN=invented authority",
            "-addext",
            "basicConstraints=critical,CA:TRUE",
            "-keyout",
            &key,
            "-out",
            &crt,
        ],
    ) && openssl(
        folder,
        &[
            "req",
            "-newkey",
            "rsa:2048",
            "-nodes",
            "-subj",
            "/CN=localhost",
            "-keyout",
            &server_key,
            "-out",
            &request,
        ],
    ) && openssl(
        folder,
        &[
            "x509",
            "-req",
            "-days",
            "2",
            "-in",
            &request,
            "-CA",
            &crt,
            "-CAkey",
            &key,
            "-CAcreateserial",
            "-extfile",
            "names",
            "-out",
            &server_crt,
        ],
    )
}

#[tokio::test]
async fn a_database_far_away_is_reached_encrypted_and_by_its_name() {
    let folder = tempfile::tempdir().unwrap();
    if !authority(folder.path(), "site") || !authority(folder.path(), "other") {
        println!("notice: openssl is not installed, so this test checks nothing");
        return;
    }
    let port = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    database_server::give_to_server(folder.path(), &["site-server.key", "site-server.crt"]);
    let file = |name: &str| folder.path().join(name).display().to_string();
    let Some(server) = database_server::start(&[
        "listen_addresses=127.0.0.1",
        &format!("port={port}"),
        "ssl=on",
        &format!("ssl_cert_file={}", file("site-server.crt")),
        &format!("ssl_key_file={}", file("site-server.key")),
    ]) else {
        return;
    };
    server.database("book");
    let address = |host: &str, trusted: &str| {
        PathBuf::from(format!(
            "postgres://lab@{host}:{port}/book?sslmode=verify-full&sslrootcert={}",
            file(trusted)
        ))
    };
    let place = address("localhost", "site.crt");
    let book = Benchbook::create(&place, &moment(0)).await.unwrap();
    let case = small_case();
    invented::store(&book, &case).await;
    assert_eq!(book.case(case.input.id.as_str()).await.unwrap(), case);
    // What the server says of every session of the program.
    let sessions = "SELECT count(*), bool_and(ssl) FROM pg_stat_ssl JOIN pg_stat_activity USING \
                    (pid) WHERE application_name = 'isobar'";
    let said = server.psql("book", sessions).unwrap();
    let (n, all) = said.split_once('|').unwrap();
    assert!(n.parse::<u32>().unwrap() >= 2 && all == "t", "{said}");
    assert!(verify(&place, None).await.unwrap().is_valid());
    // Control: without the word the same server is read in the clear.
    let clear = PathBuf::from(format!("postgres://lab@localhost:{port}/book?sslmode=disable"));
    let open = Benchbook::open_read_only(&clear).await.unwrap();
    assert!(server.psql("book", sessions).unwrap().ends_with("|f"));
    open.close().await;
    // A certificate in another name, or of an authority that nobody trusts.
    for wrong in [address("127.0.0.1", "site.crt"), address("localhost", "other.crt")] {
        let said = Benchbook::open(&wrong).await.map(drop).unwrap_err();
        assert!(matches!(said, BenchbookError::Unreachable { .. }), "{said:?}");
        assert!(said.to_string().contains("certificate"), "{said}");
    }
}
