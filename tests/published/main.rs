//! Published counts on their way through the whole registry, on both stores.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[allow(dead_code)]
#[path = "../study/arms.rs"]
mod arms;
mod bundle;
mod planned;
#[path = "../study/records.rs"]
mod records;
#[allow(dead_code)]
#[path = "../intake/sheet.rs"]
mod sheet;
mod studies;
