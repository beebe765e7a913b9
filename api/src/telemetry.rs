//! Logs: one JSON object a line, each request in a span with its id and its W3C trace.

use std::io::Write;
use std::sync::Mutex;

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header;
use tracing::field::display;
use tracing::{Span, Subscriber};
use tracing_actix_web::{DefaultRootSpanBuilder, RootSpanBuilder, root_span};
use tracing_subscriber::fmt::MakeWriter;
use tracing_subscriber::fmt::format::FmtSpan;
use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::registry::LookupSpan;
use tracing_subscriber::util::SubscriberInitExt;
use tracing_subscriber::{EnvFilter, Layer};

use crate::http::client;

/// Starts logging to standard error; `RUST_LOG` narrows or widens it. A second call changes nothing.
pub fn start() {
    start_with(std::io::stderr);
}

/// Starts logging to a file, where a person reads standard error.
pub fn start_in(file: impl Write + Send + 'static) {
    start_with(Mutex::new(file));
}

fn start_with(writer: impl for<'w> MakeWriter<'w> + Send + Sync + 'static) {
    let filter = EnvFilter::try_from_default_env()
        .unwrap_or_else(|_| EnvFilter::new("info,actix_server=warn"));
    if tracing_subscriber::registry().with(filter).with(lines(writer)).try_init().is_err() {
        tracing::debug!("logging had started before");
    }
}

/// One line when a request is answered, with everything its span gathered.
fn lines<S: Subscriber + for<'s> LookupSpan<'s>>(
    writer: impl for<'w> MakeWriter<'w> + Send + Sync + 'static,
) -> impl Layer<S> {
    tracing_subscriber::fmt::layer()
        .json()
        .flatten_event(true)
        .with_span_list(false)
        .with_span_events(FmtSpan::CLOSE)
        .with_writer(writer)
}

/// A W3C `traceparent`: who asked before us, in which trace.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Traceparent {
    /// 32 hexadecimal digits, not all zero.
    pub trace_id: String,
    /// 16 hexadecimal digits, not all zero.
    pub parent_id: String,
    /// Whether the caller keeps the trace.
    pub sampled: bool,
}

impl Traceparent {
    /// Reads a header; `None` when it does not hold, and a new trace starts (W3C Trace Context,
    /// section 3.2: version ff is invalid, 00 has exactly four fields, later versions may add more).
    pub fn parse(header: &str) -> Option<Self> {
        let lower_hex = |text: &str, digits: usize| {
            text.len() == digits
                && text.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b))
        };
        let mut fields = header.split('-');
        let (version, trace_id, parent_id, flags) =
            (fields.next()?, fields.next()?, fields.next()?, fields.next()?);
        let more = fields.next().is_some();
        let shaped = lower_hex(version, 2)
            && lower_hex(trace_id, 32)
            && lower_hex(parent_id, 16)
            && lower_hex(flags, 2);
        let zero = |text: &str| text.bytes().all(|b| b == b'0');
        if !shaped
            || version == "ff"
            || (version == "00" && more)
            || zero(trace_id)
            || zero(parent_id)
        {
            return None;
        }
        let flags = u8::from_str_radix(flags, 16).ok()?;
        Some(Self {
            trace_id: trace_id.to_owned(),
            parent_id: parent_id.to_owned(),
            sampled: flags & 1 == 1,
        })
    }
}

/// Opens the span of a request, with the trace it belongs to.
pub struct RequestSpan;

impl RootSpanBuilder for RequestSpan {
    fn on_request_start(request: &ServiceRequest) -> Span {
        let mut sent = request.headers().get_all("traceparent");
        let trace = match (sent.next(), sent.next()) {
            (Some(one), None) => one.to_str().ok().and_then(Traceparent::parse),
            _ => None,
        };
        let span = match trace {
            Some(trace) => root_span!(
                request,
                trace.id = %trace.trace_id,
                trace.parent_id = %trace.parent_id,
                trace.sampled = trace.sampled
            ),
            None => root_span!(request),
        };
        // The library takes these from headers that any client may write.
        let host = request.headers().get(header::HOST).and_then(|host| host.to_str().ok());
        span.record("http.client_ip", display(client::address(request.request())));
        span.record("http.host", host.unwrap_or_default());
        span.record("http.scheme", "http");
        span
    }

    fn on_request_end<B: MessageBody>(
        span: Span,
        outcome: &Result<ServiceResponse<B>, actix_web::Error>,
    ) {
        DefaultRootSpanBuilder::on_request_end(span, outcome);
    }
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::sync::Mutex;

    use actix_web::App;
    use actix_web::http::header::{FORWARDED, HOST, X_FORWARDED_FOR};
    use actix_web::test::{TestRequest, call_service, init_service};
    use serde_json::Value;
    use tracing::subscriber::set_default;
    use tracing_actix_web::TracingLogger;
    use tracing_subscriber::layer::SubscriberExt;
    use tracing_subscriber::registry;

    use super::{RequestSpan, Traceparent, lines};

    #[actix_web::test]
    async fn what_strangers_write_into_headers_is_not_told_as_where_they_are() {
        let log = tempfile::NamedTempFile::new().unwrap();
        let writer = Mutex::new(log.reopen().unwrap());
        let _logging = set_default(registry().with(lines(writer)));
        let app = init_service(App::new().wrap(TracingLogger::<RequestSpan>::new())).await;
        let request = TestRequest::default()
            .peer_addr("192.0.2.3:4711".parse().unwrap())
            .insert_header((HOST, "parings.example"))
            .insert_header((X_FORWARDED_FOR, "203.0.113.1"))
            .insert_header(("x-forwarded-host", "elsewhere.example"))
            .insert_header((FORWARDED, "for=203.0.113.2;host=elsewhere.example;proto=https"))
            .to_request();
        call_service(&app, request).await;
        let line: Value = serde_json::from_str(&fs::read_to_string(log.path()).unwrap()).unwrap();
        let told = &line["span"];
        assert_eq!(told["http.client_ip"], "192.0.2.3", "{line}");
        assert_eq!(told["http.host"], "parings.example", "{line}");
        assert_eq!(told["http.scheme"], "http", "{line}");
        assert!(!line.to_string().contains("203.0.113"), "{line}");
    }

    // W3C Trace Context, test/test.py of the w3c/trace-context repository (read in the repository).
    const TAKEN: &[&str] = &[
        "00-12345678901234567890123456789012-1234567890123456-01",
        "00-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01",
        "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-00",
        "cc-12345678901234567890123456789012-1234567890123456-01",
        "cc-12345678901234567890123456789012-1234567890123456-01-what-the-future-will-be-like",
    ];
    const REFUSED: &[&str] = &[
        "00-12345678901234567890123456789012-1234567890123456-01.",
        "00-12345678901234567890123456789012-1234567890123456-01-what-the-future-will-be-like",
        "cc-12345678901234567890123456789012-1234567890123456-01.what-the-future-will-be-like",
        "ff-12345678901234567890123456789012-1234567890123456-01",
        ".0-12345678901234567890123456789012-1234567890123456-01",
        "000-12345678901234567890123456789012-1234567890123456-01",
        "0-12345678901234567890123456789012-1234567890123456-01",
        "00-00000000000000000000000000000000-1234567890123456-01",
        "00-123456789012345678901234567890123-1234567890123456-01",
        "00-1234567890123456789012345678901-1234567890123456-01",
        "00-12345678901234567890123456789012-0000000000000000-01",
        "00-12345678901234567890123456789012-12345678901234567-01",
        "00-12345678901234567890123456789012-123456789012345-01",
        "00-12345678901234567890123456789012-1234567890123456-.0",
    ];

    #[test]
    fn traceparents_of_the_w3c_tests() {
        for header in TAKEN {
            assert!(Traceparent::parse(header).is_some(), "{header} was refused");
        }
        for header in REFUSED {
            assert_eq!(Traceparent::parse(header), None, "{header} was taken");
        }
        assert!(Traceparent::parse(TAKEN[0]).is_some_and(|t| t.sampled));
        assert!(Traceparent::parse(TAKEN[2]).is_some_and(|t| !t.sampled));
    }
}
