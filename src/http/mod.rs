//! Routes, pages and feeds.
