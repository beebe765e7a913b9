//! Files in and out: what is read of them, imports over HTTP and by the command, exports.

mod exports;
mod http;
mod page;
mod scene;
mod spectrum;
