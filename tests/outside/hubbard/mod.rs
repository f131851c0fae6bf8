//! Hubbard Brook: the whole way from files to forecasts, by the commands, on real records.
//!
//! Source: Hubbard Brook Watershed Ecosystem Record, weekly sticky-trap counts of adult aquatic
//! insects 2018-2021 with stream temperature (see the README of the shared data).

pub(crate) mod brook;
mod commands;
mod dates;
mod doubts;
mod metamorphic;
mod sampled;
mod skill;
