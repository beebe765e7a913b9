//! The Parings server: `http | pages | jobs → app → {core, db}`.

pub mod app;
pub mod boot;
pub mod browser;
pub mod cluster;
pub mod config;
pub mod context;
pub mod db;
pub mod demo;
pub mod edge;
pub mod error;
pub mod files;
pub mod http;
pub mod jobs;
pub mod metrics;
pub mod openapi;
pub mod pages;
pub mod starting;
pub mod telemetry;
