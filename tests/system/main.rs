//! Whole-system tests.

mod service;
