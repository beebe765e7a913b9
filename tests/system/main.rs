//! Whole-system tests: HTTP against a real PostgreSQL, and what holds of the repository as a whole.

mod access_matrix;
mod acting;
mod bodies;
mod demo;
mod docs_page;
mod entries;
mod layers;
mod openapi;
mod operations;
mod partitions;
mod people;
mod reference;
mod rollups;
mod schema;
mod service;
mod sessions;
mod sheet;
mod till;
mod toplevel;
mod trace;
mod verify;
