//! Commands that keep, sign and hand over records.

pub mod account;
pub mod acting;
pub mod attach;
pub mod bag;
pub mod checkpoint;
pub mod copy;
pub mod export;
pub mod export_tables;
pub mod items;
pub mod keys;
pub mod register;
pub mod restore;
pub mod review;
pub mod sign;
pub mod unit;
