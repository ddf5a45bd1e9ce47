//! The front: how people reach the workbench. On this machine alone, or
//! through a program before it that speaks TLS.

/// Under which names a workbench is addressed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Front {
    /// From this machine alone, on this port.
    Loopback(u16),
    /// Through a TLS front: the name, with its port where it is not 443, under
    /// which browsers know it.
    Tls(String),
}

impl Front {
    /// Reads the address of a TLS front such as `https://isobar.lab.example`;
    /// `None` where it is none.
    pub fn of_address(address: &str) -> Option<Self> {
        let name = address.strip_prefix("https://")?;
        let name = name.strip_suffix('/').unwrap_or(name);
        let (host, port) = name.split_once(':').unwrap_or((name, "443"));
        let letters = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || "-.".contains(c);
        let edges = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit();
        let named = !host.is_empty()
            && host.len() <= 253
            && host.chars().all(letters)
            && host.starts_with(edges)
            && host.ends_with(edges);
        let port: u16 = port.parse().ok().filter(|&port| port > 0)?;
        // A browser leaves out the port that `https` has anyway.
        let authority = if port == 443 { host.to_owned() } else { format!("{host}:{port}") };
        named.then_some(Self::Tls(authority))
    }

    /// The names under which it is addressed; any other name in a request
    /// means that a foreign page leads the browser here.
    pub fn hosts(&self) -> Vec<String> {
        match self {
            Self::Loopback(port) => {
                ["127.0.0.1", "localhost", "[::1]"].map(|host| format!("{host}:{port}")).into()
            }
            Self::Tls(authority) => vec![authority.clone()],
        }
    }

    /// The origin of a page that was asked for under this name.
    pub fn origin_of(&self, host: &str) -> String {
        match self {
            Self::Loopback(_) => format!("http://{host}"),
            Self::Tls(_) => format!("https://{host}"),
        }
    }

    /// Name of the cookie of a session. Cookies are not kept apart by port, so
    /// two workbenches on one machine need two names.
    pub fn cookie(&self) -> String {
        match self {
            Self::Loopback(port) => format!("isobar-{port}"),
            Self::Tls(_) => "__Host-isobar".to_owned(),
        }
    }

    /// True where a cookie must not travel without TLS.
    pub const fn is_tls(&self) -> bool {
        matches!(self, Self::Tls(_))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_front_is_an_https_name_and_nothing_more() {
        let tls = |name: &str| Some(Front::Tls(name.to_owned()));
        assert_eq!(Front::of_address("https://isobar.lab.example"), tls("isobar.lab.example"));
        assert_eq!(Front::of_address("https://isobar.lab.example/"), tls("isobar.lab.example"));
        assert_eq!(Front::of_address("https://a.example:8443"), tls("a.example:8443"));
        assert_eq!(Front::of_address("https://a.example:443"), tls("a.example"));
        for wrong in [
            "http://a.example",
            "a.example",
            "https://",
            "https://a.example/path",
            "https://A.example",
            "https://a.example:0",
            "https://a.example:99999",
            "https://user@a.example",
            "https://a.example:1:2",
            "https://-a",
        ] {
            assert_eq!(Front::of_address(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn two_workbenches_of_one_machine_have_two_cookies() {
        assert_ne!(Front::Loopback(1).cookie(), Front::Loopback(2).cookie());
    }
}
