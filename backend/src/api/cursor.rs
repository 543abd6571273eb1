//! Where a list is read on. A cursor belongs to one member and one list with its
//! filters; with any other it is refused rather than misread.

use quietbeam_schema::audit::Actor;
use serde::{Deserialize, Serialize};

use super::problem::{BAD_CURSOR, BAD_QUERY, Problem};
use crate::store::{Page, PageRequest, sha256_hex};

/// The most rows of one answer.
const LONGEST: u32 = 200;
const USUAL: u32 = 50;

/// Which list is read, by whom and how filtered.
pub(crate) struct List(String);

impl List {
    pub(crate) fn of<F: Serialize>(name: &str, actor: Actor, filters: &F) -> Self {
        let filters = serde_json::to_string(filters).unwrap_or_default();
        Self(format!("{name}\n{actor}\n{filters}"))
    }

    /// The page asked for.
    pub(crate) fn page(&self, limit: Option<u32>, cursor: Option<&str>) -> Result<PageRequest, Problem> {
        let limit = limit.unwrap_or(USUAL);
        if !(1..=LONGEST).contains(&limit) {
            return Err(Problem::new(&BAD_QUERY, format!("limit: ask for 1 to {LONGEST} rows.")));
        }
        let after = cursor.map(|text| self.read(text)).transpose()?;
        Ok(PageRequest { after, limit: i64::from(limit) })
    }

    fn read(&self, text: &str) -> Result<i64, Problem> {
        let refused =
            || Problem::new(&BAD_CURSOR, "Read this list again from its beginning, without a cursor.");
        let place = text.split_once('.').and_then(|(place, _)| i64::from_str_radix(place, 36).ok());
        let place = place.filter(|place| *place >= 0).ok_or_else(refused)?;
        if self.write(place) == text { Ok(place) } else { Err(refused()) }
    }

    /// What leads to the rows after a place.
    fn write(&self, place: i64) -> String {
        format!("{}.{}", base_36(place), &sha256_hex(format!("{place}\n{}", self.0).as_bytes())[..24])
    }

    /// The rows with the cursor to the next ones.
    pub(crate) fn show<R, V>(&self, page: Page<R>, view: impl Fn(R) -> V) -> Rows<V> {
        Rows {
            next: page.next.map(|place| self.write(place)),
            items: page.rows.into_iter().map(view).collect(),
        }
    }
}

fn base_36(mut number: i64) -> String {
    let mut digits = Vec::new();
    loop {
        digits.push(char::from_digit((number % 36) as u32, 36).unwrap_or('0'));
        number /= 36;
        if number <= 0 {
            return digits.iter().rev().collect();
        }
    }
}

/// A page of a list.
#[derive(Debug, Serialize, Deserialize, utoipa::ToSchema)]
pub(crate) struct Rows<V> {
    /// The rows.
    pub(crate) items: Vec<V>,
    /// Hand this in as `cursor` to read on; null when there is nothing more.
    pub(crate) next: Option<String>,
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn a_cursor_serves_its_own_list_alone() {
        let list = List::of("cases", Actor::Operator, &("S07", 1));
        let cursor = list.write(1_234_567);
        assert_eq!(list.page(None, Some(&cursor)).unwrap().after, Some(1_234_567));
        for other in [
            List::of("cases", Actor::Nobody, &("S07", 1)),
            List::of("cases", Actor::Operator, &("S08", 1)),
            List::of("audit", Actor::Operator, &("S07", 1)),
        ] {
            assert!(other.page(None, Some(&cursor)).is_err());
        }
        for broken in ["", "1", "1.", "-1.00", "zz.zz", "1; DROP TABLE"] {
            assert!(list.page(None, Some(broken)).is_err(), "{broken}");
        }
    }

    #[test]
    fn a_page_has_1_to_200_rows() {
        let list = List::of("cases", Actor::Operator, &());
        assert!(list.page(Some(0), None).is_err());
        assert!(list.page(Some(201), None).is_err());
        assert_eq!(list.page(Some(200), None).unwrap().limit, 200);
        assert_eq!(list.page(None, None).unwrap().limit, 50);
    }
}
