//! A drawing for paper: the same shapes, with the colours that the stylesheet gives them written
//! out, because paper has no stylesheet; and its words apart, so that they are set in the type of
//! the page, which a picture inside it does not know.

use std::fmt::Write;
use std::sync::OnceLock;

use scraper::{ElementRef, Node};
use serde::Serialize;

/// A drawing with its size.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Drawing {
    tag: &'static str,
    class: Vec<String>,
    /// The shapes.
    svg: String,
    /// The words on them.
    words: Vec<Words>,
    /// What it says, for those who do not see it.
    alt: String,
    /// Its width in px at full size.
    width: f64,
    /// Its height.
    height: f64,
    /// Nothing inside it is laid out as a page is.
    kids: [(); 0],
}

/// Words of a drawing.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct Words {
    x: f64,
    y: f64,
    /// How much of their width stands left of the place: 0, 0.5 or 1.
    before: f64,
    class: Vec<String>,
    text: String,
}

/// Marks in a line of text are at most this wide.
const SMALL: f64 = 48.0;

impl Drawing {
    /// Whether it is a mark that stands in a line of text.
    pub(super) fn is_small(&self) -> bool {
        self.width <= SMALL
    }

    /// Whether it is of a class.
    pub(super) fn is_of(&self, class: &str) -> bool {
        self.class.iter().any(|own| own == class)
    }

    /// Its height in px at full size.
    pub(super) fn height(&self) -> f64 {
        self.height
    }
}

/// Reads a drawing.
pub(super) fn read(element: ElementRef<'_>, class: Vec<String>) -> Drawing {
    let value = element.value();
    let view = value.attr("viewBox").unwrap_or("0 0 24 24");
    let sizes: Vec<f64> = view.split_whitespace().flat_map(str::parse).collect();
    let (box_width, box_height) = match sizes[..] {
        [_, _, width, height] if width > 0.0 => (width, height),
        _ => (SMALL, SMALL),
    };
    let width = number(element, "width").unwrap_or(box_width);
    let mut apart = Apart::default();
    apart.go_in(element, (0.0, 0.0));
    // Nothing but the size and the style stands on the outermost element.
    let svg = format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" width="{box_width}" height="{box_height}" stroke-width="1.2"><style>{}</style>{}</svg>"#,
        style(),
        apart.shapes,
    );
    let alt = value.attr("aria-label").unwrap_or_default().to_owned();
    let height = width * box_height / box_width;
    Drawing { tag: "svg", class, svg, words: apart.words, alt, width, height, kids: [] }
}

fn number(element: ElementRef<'_>, name: &str) -> Option<f64> {
    element.value().attr(name)?.parse().ok()
}

/// Shapes and words, told apart.
#[derive(Default)]
struct Apart {
    shapes: String,
    words: Vec<Words>,
}

impl Apart {
    fn go_in(&mut self, element: ElementRef<'_>, moved: (f64, f64)) {
        for kid in element.child_elements() {
            self.take(kid, moved);
        }
    }

    fn take(&mut self, element: ElementRef<'_>, moved: (f64, f64)) {
        let value = element.value();
        let turned = value.attr("transform").is_some_and(|how| !how.starts_with("translate("));
        if value.name() == "text" && !turned {
            return self.words.push(Words::read(element, moved));
        }
        // Writing into a text cannot fail.
        let _ = write!(self.shapes, "<{}", value.name());
        for (name, said) in value.attrs() {
            let _ = write!(self.shapes, " {name}=\"{}\"", escaped(said));
        }
        self.shapes.push('>');
        let shift = value.attr("transform").and_then(translation).unwrap_or_default();
        self.go_in(element, (moved.0 + shift.0, moved.1 + shift.1));
        let own = element.children().filter_map(|kid| match kid.value() {
            Node::Text(text) => Some(escaped(text)),
            _ => None,
        });
        self.shapes.extend(own);
        let _ = write!(self.shapes, "</{}>", value.name());
    }
}

impl Words {
    fn read(element: ElementRef<'_>, moved: (f64, f64)) -> Self {
        let at = |name| number(element, name).unwrap_or(0.0);
        Self {
            x: moved.0 + at("x"),
            y: moved.1 + at("y"),
            before: match element.value().attr("text-anchor") {
                Some("middle") => 0.5,
                Some("end") => 1.0,
                _ => 0.0,
            },
            class: element.value().classes().map(str::to_owned).collect(),
            text: element.text().collect::<String>(),
        }
    }
}

/// The shift of "translate(3 4)".
fn translation(how: &str) -> Option<(f64, f64)> {
    let inside = how.strip_prefix("translate(")?.strip_suffix(')')?;
    let mut numbers = inside.split([' ', ',']).flat_map(str::parse);
    Some((numbers.next()?, numbers.next().unwrap_or(0.0)))
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('"', "&quot;")
}

/// The rules for drawings with every property written out.
fn style() -> &'static str {
    static STYLE: OnceLock<String> = OnceLock::new();
    STYLE.get_or_init(|| written_out(FIGURES, TOKENS))
}

const FIGURES: &str = include_str!("../pages/style/figure.css");
const TOKENS: &str = include_str!("../pages/style/tokens.css");

/// Ground of paper: white, whatever the screen has.
const WHITE: [&str; 3] = ["page", "sheet", "lit"];

fn written_out(rules: &str, tokens: &str) -> String {
    let mut rules: Vec<String> = rules
        .lines()
        // Rules for drawings alone; what holds unless an attribute says otherwise is said on the outermost element.
        .filter(|line| line.starts_with("svg ") && !line.contains(":not("))
        .map(|line| line.trim_start_matches("svg ").to_owned())
        .collect();
    for line in tokens.lines() {
        let Some((name, value)) = line.trim().strip_prefix("--").and_then(|rest| rest.split_once(':')) else {
            continue;
        };
        let value = value.trim().trim_end_matches(';');
        let light =
            value.strip_prefix("light-dark(").and_then(|both| both.split(',').next()).unwrap_or(value);
        let light = if WHITE.contains(&name) { "#ffffff" } else { light };
        for rule in &mut rules {
            *rule = rule.replace(&format!("var(--{name})"), light);
        }
    }
    rules.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_colour_is_written_out() {
        let style = style();
        assert!(!style.contains("var("), "{style}");
        // The arm without fluoroscopy has the blue of Okabe and Ito's palette, as on the screen.
        assert!(style.contains(".zf { stroke: #0072b2;"), "{style}");
    }

    #[test]
    fn words_stand_where_the_drawing_has_them() {
        let markup = r#"<svg viewBox="0 0 340 50" aria-label="Two"><g transform="translate(10 5)"><path class="ink" d="M0 0"/><text class="strong" x="2" y="12" text-anchor="end">a &lt; b</text></g></svg>"#;
        let html = scraper::Html::parse_fragment(markup);
        let svg = html.root_element().child_elements().next().map(|svg| read(svg, Vec::new()));
        let drawing = svg.unwrap_or_else(|| unreachable!("the fragment holds a drawing"));
        let words = Words {
            x: 12.0,
            y: 17.0,
            before: 1.0,
            class: vec!["strong".to_owned()],
            text: "a < b".to_owned(),
        };
        assert_eq!(drawing.words, [words]);
        assert!(drawing.svg.contains(r#"<path class="ink" d="M0 0"></path>"#), "{}", drawing.svg);
        assert!(!drawing.svg.contains("<text"), "{}", drawing.svg);
    }
}
