//! Forms: what was sent, read within limits, and whether it came from a page
//! of this workbench in this session.

use std::sync::Arc;
use std::time::Duration;

use axum::body::Body;
use axum::extract::{DefaultBodyLimit, FromRequest, Multipart, Request};
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;

use super::address;
use super::reply::Reply;

/// Name of the field that carries the token of the session.
pub const TOKEN: &str = "form_token";

/// Bytes of a form without large files.
pub const FORM_BYTES: usize = 1 << 20;

/// Fields and files of one form.
const MOST_PARTS: usize = 2_000;

/// How long a form may take to arrive.
const PATIENCE: Duration = Duration::from_secs(30);
/// How long files may take to arrive.
const PATIENCE_FOR_FILES: Duration = Duration::from_secs(300);

/// How much is read of a form, and of whom.
#[derive(Clone, Copy)]
pub struct Limits<'a> {
    /// Bytes at most.
    pub bytes: usize,
    /// How long it may take to arrive.
    patience: Duration,
    /// The token that must have come before a file is read.
    token: Option<&'a str>,
}

impl<'a> Limits<'a> {
    /// A form without large files.
    pub const SMALL: Self = Self { bytes: FORM_BYTES, patience: PATIENCE, token: None };

    /// A form with large files, of which none is read before its token.
    pub const fn with_files(bytes: usize, token: &'a str) -> Self {
        Self { bytes, patience: PATIENCE_FOR_FILES, token: Some(token) }
    }
}

/// Fields whose text is never shown again.
const SECRET: [&str; 5] = [TOKEN, "password", "old", "new", "again"];

/// A file within a form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SentFile {
    /// Name of the field.
    pub field: String,
    /// Its name when it came in: data, never a path.
    pub name: String,
    /// Its bytes.
    pub bytes: Arc<[u8]>,
}

/// What was sent. Empty where a page is only looked at.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Form {
    fields: Vec<(String, String)>,
    files: Vec<SentFile>,
}

impl Form {
    /// The form of a request, within limits.
    ///
    /// # Errors
    /// Where it is too large, too slow, or not of a form that is read.
    pub async fn read(request: Request, limits: Limits<'_>) -> Result<Self, Reply> {
        match tokio::time::timeout(limits.patience, read(request, limits)).await {
            Ok(read) => read,
            Err(_) => Err(refused(
                StatusCode::REQUEST_TIMEOUT,
                format!("the form did not arrive within {} s", limits.patience.as_secs()),
                "send it again",
            )),
        }
    }

    /// The text of a field without the blanks around it; empty where it was
    /// not sent.
    pub fn text(&self, name: &str) -> String {
        self.raw(name).replace("\r\n", "\n").trim().to_owned()
    }

    /// The text of a field exactly as it was sent, for passwords.
    pub fn raw(&self, name: &str) -> &str {
        address::value(&self.fields, name).unwrap_or_default()
    }

    /// The text of a field; none where it is empty.
    pub fn given(&self, name: &str) -> Option<String> {
        Some(self.text(name)).filter(|text| !text.is_empty())
    }

    /// Every value of a field, as of boxes that are ticked.
    pub fn all<'f>(&'f self, name: &'f str) -> impl Iterator<Item = &'f str> {
        self.fields.iter().filter(move |(key, _)| key == name).map(|(_, value)| value.as_str())
    }

    /// The file of a field; none where no file was chosen.
    pub fn file<'f>(&'f self, field: &'f str) -> Option<&'f SentFile> {
        self.files(field).next()
    }

    /// The files of a field.
    pub fn files<'f>(&'f self, field: &'f str) -> impl Iterator<Item = &'f SentFile> {
        let chosen = |file: &&SentFile| !(file.name.is_empty() && file.bytes.is_empty());
        self.files.iter().filter(move |file| file.field == field).filter(chosen)
    }

    /// The lines of a field that hold something.
    pub fn lines(&self, name: &str) -> Vec<String> {
        let text = self.text(name);
        text.lines().map(str::trim).filter(|line| !line.is_empty()).map(str::to_owned).collect()
    }

    /// True where nothing was sent.
    pub fn is_empty(&self) -> bool {
        self.fields.is_empty() && self.files.is_empty()
    }

    /// True where it carries this token. The time does not tell how much of
    /// it is right.
    pub fn carries(&self, token: &str) -> bool {
        let given = self.raw(TOKEN).as_bytes();
        let differ = given.iter().zip(token.as_bytes()).fold(0, |sum, (a, b)| sum | (a ^ b));
        given.len() == token.len() && std::hint::black_box(differ) == 0
    }

    /// What somebody has typed, to be shown again where nothing came of it;
    /// passwords are left out.
    pub fn typed(&self) -> Vec<(String, String)> {
        self.fields
            .iter()
            .filter(|(name, value)| !SECRET.contains(&name.as_str()) && !value.trim().is_empty())
            .cloned()
            .collect()
    }

    /// A form of these fields, for tests and for pages that fill one in.
    pub fn of(fields: &[(&str, &str)]) -> Self {
        let owned = |&(name, value): &(&str, &str)| (name.to_owned(), value.to_owned());
        Self { fields: fields.iter().map(owned).collect(), files: Vec::new() }
    }
}

fn refused(status: StatusCode, what: String, next_step: &str) -> Reply {
    Reply::Denied {
        status,
        what,
        next_step: next_step.to_owned(),
        link: "/".to_owned(),
        typed: Vec::new(),
    }
}

fn too_large(most_bytes: usize) -> Reply {
    refused(
        StatusCode::PAYLOAD_TOO_LARGE,
        format!("the form is larger than {most_bytes} bytes, and nothing of it was kept"),
        "send less at once; large files are taken by the command line",
    )
}

async fn read(mut request: Request, limits: Limits<'_>) -> Result<Form, Reply> {
    let most_bytes = limits.bytes;
    let kind = request
        .headers()
        .get(CONTENT_TYPE)
        .and_then(|kind| kind.to_str().ok())
        .unwrap_or_default()
        .to_ascii_lowercase();
    match kind.split(';').next().unwrap_or_default().trim() {
        "application/x-www-form-urlencoded" => {
            let body = std::mem::replace(request.body_mut(), Body::empty());
            let bytes =
                axum::body::to_bytes(body, most_bytes).await.map_err(|_| too_large(most_bytes))?;
            let text = std::str::from_utf8(&bytes).map_err(|_| {
                refused(StatusCode::BAD_REQUEST, "the form is not text".to_owned(), "send it again")
            })?;
            Ok(Form { fields: address::query(Some(text)), files: Vec::new() })
        }
        "multipart/form-data" => {
            DefaultBodyLimit::max(most_bytes).apply(&mut request);
            let parts = Multipart::from_request(request, &())
                .await
                .map_err(|error| broken(error.status(), &error.body_text()))?;
            of_parts(parts, limits).await
        }
        _ => Err(refused(
            StatusCode::UNSUPPORTED_MEDIA_TYPE,
            "what was sent is not a form".to_owned(),
            "send application/x-www-form-urlencoded or multipart/form-data",
        )),
    }
}

fn broken(status: StatusCode, why: &str) -> Reply {
    let what = format!("the form could not be read: {}", why.trim_end_matches('.'));
    refused(status, what, "send it again")
}

async fn of_parts(mut parts: Multipart, limits: Limits<'_>) -> Result<Form, Reply> {
    let most_bytes = limits.bytes;
    let mut form = Form::default();
    let failed = |error: axum::extract::multipart::MultipartError| match error.status() {
        StatusCode::PAYLOAD_TOO_LARGE => too_large(most_bytes),
        status => broken(status, &error.body_text()),
    };
    while let Some(part) = parts.next_field().await.map_err(failed)? {
        if form.fields.len() + form.files.len() >= MOST_PARTS {
            return Err(broken(StatusCode::BAD_REQUEST, "it has more than 2,000 fields"));
        }
        let field = part.name().unwrap_or_default().to_owned();
        match part.file_name().map(str::to_owned) {
            Some(name) => {
                if limits.token.is_some_and(|token| !form.carries(token)) {
                    return Err(refused(
                        StatusCode::FORBIDDEN,
                        "the form does not belong to this session, and nothing was read".to_owned(),
                        "open the page again and send it from there",
                    ));
                }
                let bytes = Arc::from(&part.bytes().await.map_err(failed)?[..]);
                form.files.push(SentFile { field, name, bytes });
            }
            None => form.fields.push((field, part.text().await.map_err(failed)?)),
        }
    }
    Ok(form)
}

#[cfg(test)]
mod tests {
    use super::*;

    async fn read_of(kind: &str, body: &str, most: usize) -> Result<Form, u16> {
        let request = Request::post("/")
            .header(CONTENT_TYPE, kind)
            .body(Body::from(body.to_owned()))
            .unwrap();
        let limits = Limits { bytes: most, ..Limits::SMALL };
        Form::read(request, limits).await.map_err(|reply| match reply {
            Reply::Denied { status, .. } => status.as_u16(),
            _ => 0,
        })
    }

    const URLENCODED: &str = "application/x-www-form-urlencoded";

    #[tokio::test]
    async fn both_kinds_of_form_are_read_within_their_limit() {
        let form =
            read_of(URLENCODED, "role=analyst&role=reader&why=a+b%0D%0Ac", 100).await.unwrap();
        assert_eq!(form.all("role").collect::<Vec<_>>(), ["analyst", "reader"]);
        assert_eq!(form.text("why"), "a b\nc");
        assert_eq!(read_of(URLENCODED, &"a".repeat(101), 100).await, Err(413));

        let body = "--x\r\nContent-Disposition: form-data; name=\"id\"\r\n\r\nFS-1\r\n--x\r\n\
            Content-Disposition: form-data; name=\"file\"; filename=\"../../c.xml\"\r\n\r\n<a/>\r\n\
            --x--\r\n";
        let kind = "multipart/form-data; boundary=x";
        let form = read_of(kind, body, 1000).await.unwrap();
        assert_eq!(form.text("id"), "FS-1");
        let file = form.file("file").unwrap();
        assert_eq!((file.name.as_str(), &file.bytes[..]), ("../../c.xml", b"<a/>".as_slice()));
        assert_eq!(read_of(kind, body, 100).await, Err(413));
        assert_eq!(read_of("multipart/form-data", body, 1000).await, Err(400));
        assert_eq!(read_of("text/plain", "id=1", 1000).await, Err(415));
    }

    #[tokio::test]
    async fn no_file_is_read_before_the_token() {
        let part = |name: &str, rest: &str, value: &str| {
            format!(
                "--x\r\nContent-Disposition: form-data; name=\"{name}\"{rest}\r\n\r\n{value}\r\n"
            )
        };
        let file = part("files", "; filename=\"a.csv\"", "1,2");
        for (body, status) in [
            (format!("{}{file}--x--\r\n", part(TOKEN, "", "right")), 0),
            (format!("{}{file}--x--\r\n", part(TOKEN, "", "wrong")), 403),
            (format!("{file}{}--x--\r\n", part(TOKEN, "", "right")), 403),
        ] {
            let kind = "multipart/form-data; boundary=x";
            let request =
                Request::post("/").header(CONTENT_TYPE, kind).body(Body::from(body)).unwrap();
            let read = Form::read(request, Limits::with_files(1000, "right")).await;
            let found = match read {
                Err(Reply::Denied { status, .. }) => status.as_u16(),
                _ => 0,
            };
            assert_eq!(found, status);
        }
    }

    #[test]
    fn only_the_whole_token_is_carried() {
        let form = Form::of(&[(TOKEN, "abcd")]);
        assert!(form.carries("abcd"));
        for wrong in ["", "abc", "abcde", "abcx"] {
            assert!(!form.carries(wrong), "{wrong}");
        }
        assert!(!Form::default().carries("abcd"));
    }

    #[test]
    fn a_password_is_never_shown_again() {
        let form = Form::of(&[("id", "a"), ("password", "p"), ("new", "p"), (TOKEN, "t")]);
        assert_eq!(form.typed(), [("id".to_owned(), "a".to_owned())]);
    }
}
