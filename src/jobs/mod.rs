//! Runner of long work.
