//! Where a request comes from.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};

use actix_web::HttpRequest;
use actix_web::http::header::X_FORWARDED_FOR;
use actix_web::web::Data;

use crate::app::Deps;

/// The address of whoever sent a request: the peer's, or, behind the proxies that the settings name,
/// what the outermost of them was asked by.
pub fn address(request: &HttpRequest) -> IpAddr {
    let proxies = request.app_data::<Data<Deps>>().map_or(0, |deps| deps.config.http.proxies);
    let peer = request.peer_addr().map_or(IpAddr::V4(Ipv4Addr::UNSPECIFIED), |peer| peer.ip());
    forwarded(request, proxies).unwrap_or(peer).to_canonical()
}

/// Each proxy puts whom it was asked by at the end, so of as many entries as there are proxies the
/// leftmost is the client's. What stands before it the client wrote itself, and it is not read.
fn forwarded(request: &HttpRequest, proxies: usize) -> Option<IpAddr> {
    let sent = request.headers().get_all(X_FORWARDED_FOR);
    let lists: Vec<_> = sent.map(|value| value.to_str().unwrap_or_default()).collect();
    let entry =
        lists.iter().rev().flat_map(|list| list.rsplit(',')).nth(proxies.checked_sub(1)?)?;
    let entry = entry.trim();
    // Some proxies write the port too.
    entry.parse().or_else(|_| entry.parse().map(|with_port: SocketAddr| with_port.ip())).ok()
}

#[cfg(test)]
mod tests {
    use actix_web::http::header::X_FORWARDED_FOR;
    use actix_web::test::TestRequest;

    use super::forwarded;

    #[test]
    fn no_more_is_believed_than_the_proxies_wrote() {
        let read = |lists: &[&str], proxies| {
            let request = lists
                .iter()
                .fold(TestRequest::default(), |r, list| r.append_header((X_FORWARDED_FOR, *list)));
            forwarded(&request.to_http_request(), proxies).map(|address| address.to_string())
        };
        let three = ["203.0.113.1, 198.51.100.2", "192.0.2.3"];
        assert_eq!(read(&three, 0), None);
        assert_eq!(read(&three, 1).as_deref(), Some("192.0.2.3"));
        assert_eq!(read(&three, 2).as_deref(), Some("198.51.100.2"));
        assert_eq!(read(&three, 3).as_deref(), Some("203.0.113.1"));
        assert_eq!(read(&three, 4), None, "the proxies wrote less than they are");
        assert_eq!(read(&[], 1), None);
        assert_eq!(read(&["203.0.113.1, nonsense"], 1), None);
        assert_eq!(read(&["192.0.2.3:4711"], 1).as_deref(), Some("192.0.2.3"));
        assert_eq!(read(&["[2001:db8::1]:4711"], 1).as_deref(), Some("2001:db8::1"));
        assert_eq!(read(&["2001:db8::1"], 1).as_deref(), Some("2001:db8::1"));
    }
}
