//! Head office's work: reference data, people and services, histories from files, restatements.

pub mod imports;
pub mod operator;
pub mod own_password;
pub mod people;
pub mod reference;
pub mod restatements;
pub mod services;
pub mod stores;
