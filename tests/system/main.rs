//! Whole-system tests: HTTP against a real PostgreSQL, and what holds of the repository as a whole.

mod access_matrix;
mod acting;
mod docs_page;
mod layers;
mod openapi;
mod operations;
mod people;
mod rollups;
mod schema;
mod service;
mod sessions;
mod toplevel;
