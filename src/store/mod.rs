//! The only SQL: one text for SQLite and PostgreSQL.
