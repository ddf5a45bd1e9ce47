//! Cookies: read from a request, written for an answer.

use axum::http::HeaderMap;
use axum::http::header::COOKIE;

use super::front::Front;

/// The value of a cookie, where it has the form of a token.
pub fn token(headers: &HeaderMap, name: &str) -> Option<String> {
    headers
        .get_all(COOKIE)
        .iter()
        .filter_map(|line| line.to_str().ok())
        .flat_map(|line| line.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .filter(|(key, _)| *key == name)
        .map(|(_, value)| value)
        .find(|value| value.len() == 32 && value.bytes().all(|byte| byte.is_ascii_hexdigit()))
        .map(str::to_owned)
}

/// The line that sets a cookie until the browser is closed. No script reads
/// it, no foreign page makes a browser send it.
pub fn set(front: &Front, name: &str, value: &str) -> String {
    let secure = if front.is_tls() { "; Secure" } else { "" };
    format!("{name}={value}; Path=/; HttpOnly; SameSite=Strict{secure}")
}

/// The line that takes a cookie away.
pub fn forget(front: &Front, name: &str) -> String {
    format!("{}; Max-Age=0", set(front, name, ""))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_token_of_this_name_is_read() {
        let of = |line: &str| {
            let mut headers = HeaderMap::new();
            headers.insert(COOKIE, line.parse().unwrap());
            token(&headers, "isobar-1")
        };
        let good = "0123456789abcdef0123456789abcdef";
        assert_eq!(of(&format!("a=b; isobar-1={good}")).as_deref(), Some(good));
        assert_eq!(of(&format!("isobar-2={good}")), None);
        assert_eq!(of(&format!("xisobar-1={good}")), None);
        assert_eq!(of("isobar-1=short"), None);
        assert_eq!(of(&format!("isobar-1=../..{}", &good[6..])), None);
    }

    #[test]
    fn a_cookie_is_closed_to_scripts_and_foreign_pages() {
        let line = set(&Front::Tls("a.example".to_owned()), "n", "v");
        assert_eq!(line, "n=v; Path=/; HttpOnly; SameSite=Strict; Secure");
        assert!(!set(&Front::Loopback(1), "n", "v").contains("Secure"));
    }
}
