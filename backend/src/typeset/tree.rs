//! The markup of a page as a tree for paper: what can be clicked is left out, white space is what a
//! browser makes of it, and of two drawings the one for paper stays.

use scraper::{ElementRef, Html, Node as Html5};
use serde::Serialize;

use super::drawing;

/// A piece of a page.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub(super) enum Node {
    /// Text.
    Text(String),
    /// An element with what is inside.
    Element(Element),
    /// A drawing.
    Drawing(drawing::Drawing),
}

/// An element.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Element {
    tag: String,
    class: Vec<String>,
    kids: Vec<Node>,
    /// Columns it goes over, of a cell of a table.
    span: usize,
    /// Rows it goes over.
    rows: usize,
}

/// What has no place on paper.
const LEFT_OUT: [&str; 7] = ["form", "button", "input", "select", "nav", "script", "template"];

/// Classes of what has no place on paper.
const LEFT_OUT_CLASSES: [&str; 2] = ["unseen", "not-on-paper"];

/// The classes of the two drawings of a figure.
const WIDE: &str = "on-a-desk";
const NARROW: &str = "on-a-phone";

/// A narrow drawing taller than this would be shrunk until nobody could read it.
const TALLEST: f64 = 1_200.0;

/// Elements that stand in a line of text.
const IN_LINE: [&str; 11] = ["a", "abbr", "b", "br", "code", "em", "i", "span", "strong", "sub", "sup"];

/// The tree of a fragment.
pub(super) fn read(markup: &str) -> Vec<Node> {
    kids_of(Html::parse_fragment(markup).root_element())
}

fn kids_of(element: ElementRef<'_>) -> Vec<Node> {
    let mut kids = Vec::new();
    for kid in element.children() {
        match kid.value() {
            Html5::Text(text) => kids.push(Node::Text(one_space(text))),
            Html5::Element(_) => kids.extend(ElementRef::wrap(kid).and_then(node_of)),
            _ => {}
        }
    }
    one_drawing(&mut kids);
    without_edges(&mut kids);
    kids.retain(|kid| !matches!(kid, Node::Text(text) if text.is_empty()));
    kids
}

fn node_of(element: ElementRef<'_>) -> Option<Node> {
    let value = element.value();
    let tag = value.name();
    let class: Vec<String> = value.classes().map(str::to_owned).collect();
    if LEFT_OUT.contains(&tag) || class.iter().any(|class| LEFT_OUT_CLASSES.contains(&class.as_str())) {
        return None;
    }
    if tag == "svg" {
        return Some(Node::Drawing(drawing::read(element, class)));
    }
    let over = |name| value.attr(name).and_then(|count| count.parse().ok()).unwrap_or(1);
    let (span, rows) = (over("colspan"), over("rowspan"));
    Some(Node::Element(Element { tag: tag.to_owned(), class, kids: kids_of(element), span, rows }))
}

/// Of two drawings the narrow one stays, or the wide one where the narrow is too tall for a page.
fn one_drawing(kids: &mut Vec<Node>) {
    let drawn = |kid: &Node, class| match kid {
        Node::Drawing(drawing) => drawing.is_of(class).then(|| drawing.height()),
        Node::Text(_) | Node::Element(_) => None,
    };
    let tall = kids.iter().filter_map(|kid| drawn(kid, NARROW)).any(|height| height > TALLEST);
    let goes = if tall { NARROW } else { WIDE };
    kids.retain(|kid| drawn(kid, goes).is_none());
}

/// White space as a browser shows it; a space that does not break stays.
fn one_space(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            ' ' | '\t' | '\n' | '\r' if out.ends_with(' ') => {}
            ' ' | '\t' | '\n' | '\r' => out.push(' '),
            other => out.push(other),
        }
    }
    out
}

/// Blank text beside what is no text is nothing.
fn without_edges(kids: &mut [Node]) {
    let stands_in_line = |node: &Node| match node {
        Node::Text(_) => true,
        Node::Element(element) => IN_LINE.contains(&element.tag.as_str()),
        Node::Drawing(drawing) => drawing.is_small(),
    };
    let in_line: Vec<bool> = kids.iter().map(stands_in_line).collect();
    let beside = |at: usize| in_line.get(at).copied().unwrap_or(false);
    for (at, kid) in kids.iter_mut().enumerate() {
        let Node::Text(text) = kid else { continue };
        let before = at.checked_sub(1).is_some_and(beside);
        let trimmed = match (before, beside(at + 1)) {
            (false, false) => text.trim_matches(' '),
            (false, true) => text.trim_start_matches(' '),
            (true, false) => text.trim_end_matches(' '),
            (true, true) => continue,
        };
        *text = trimmed.to_owned();
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

    use super::*;

    fn json(markup: &str) -> String {
        serde_json::to_string(&read(markup)).unwrap()
    }

    #[test]
    fn text_keeps_its_words_apart_and_its_edges_clean() {
        let read = json("<p> one <b>two</b>  three\u{a0}% </p> <p>four</p>");
        assert!(read.contains(r#""one ""#) && read.contains("\" three\u{a0}%\""), "{read}");
        assert!(!read.contains(r#"" ""#), "blank text between blocks: {read}");
    }

    #[test]
    fn what_can_be_clicked_is_left_out_and_hostile_text_stays_text() {
        let read = json("<form><p>gone</p></form><p>#read(&quot;x&quot;) &lt;script&gt;</p>");
        assert!(!read.contains("gone"), "{read}");
        assert!(read.contains(r#"#read(\"x\") <script>"#), "{read}");
    }

    #[test]
    fn one_drawing_of_two_stays() {
        let read = json(
            r#"<figure><svg class="on-a-desk" viewBox="0 0 1180 10"></svg><svg class="on-a-phone" viewBox="0 0 340 20" aria-label="In words"></svg></figure>"#,
        );
        assert_eq!(read.matches("\"svg\"").count(), 2, "one drawing, tag and text: {read}");
        assert!(read.contains(r#""width":340.0"#) && read.contains("In words"), "{read}");
        let tall = json(
            r#"<figure><svg class="on-a-desk" viewBox="0 0 1180 800"></svg><svg class="on-a-phone" viewBox="0 0 340 1526"></svg></figure>"#,
        );
        assert!(tall.contains(r#""width":1180.0"#) && !tall.contains(r#""width":340.0"#), "{tall}");
    }
}
