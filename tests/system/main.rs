//! Whole-system tests: HTTP against a real PostgreSQL, and what holds of the repository as a whole.

mod access_matrix;
mod acting;
mod bodies;
mod docs_page;
mod layers;
mod nights;
mod openapi;
mod operations;
mod orders;
mod people;
mod races;
mod reference;
mod schema;
mod service;
mod sessions;
mod sheet;
mod spans;
mod toplevel;
mod worked;
