//! Outside bytes to domain values.
