//! Helpers of the whole-system tests.
