//! Whole-system tests: HTTP against a real PostgreSQL, and what holds of the repository as a whole.

mod access_matrix;
mod acting;
mod bodies;
mod docs_page;
mod entries;
mod layers;
mod nights;
mod openapi;
mod operations;
mod orders;
mod people;
mod races;
mod reach;
mod reference;
mod rollups;
mod rows;
mod schema;
mod service;
mod sessions;
mod sheet;
mod spans;
mod till;
mod toplevel;
mod worked;
