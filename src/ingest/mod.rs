//! Outside bytes to domain values.

pub mod trait_table;
