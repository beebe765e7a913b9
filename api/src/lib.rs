//! The Parings server.
