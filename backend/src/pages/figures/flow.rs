//! From everything that was done to what is compared: steps down the page, losses beside
//! them with their reasons, and a box for each arm.

use maud::{Markup, html};
use quietbeam_analysis::study::arm::Arm;
use quietbeam_schema::vocabulary::Strategy;

use super::figure::{Size, Svg};
use super::number;
use crate::pages::components::arm_shape;

/// One step, and what is lost after it.
pub(crate) struct FlowStep {
    /// What is counted.
    pub(crate) name: String,
    /// How many, as it is told.
    pub(crate) cases: String,
    /// What is lost before the next step: a sentence a reason.
    pub(crate) lost: Vec<String>,
}

/// Sentences in lines that fit a box of so many letters; whether a line is of the first.
fn wrapped(lost: &[String], letters: usize) -> Vec<(bool, String)> {
    let mut lines = Vec::new();
    for (at, sentence) in lost.iter().enumerate() {
        let mut line = String::new();
        for word in sentence.split(' ') {
            if !line.is_empty() && line.chars().count() + 1 + word.chars().count() > letters {
                lines.push((at == 0, std::mem::take(&mut line)));
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
        lines.push((at == 0, line));
    }
    lines
}

/// The box of an arm.
pub(crate) struct FlowArm {
    strategy: Strategy,
    name: &'static str,
    /// Lines with their numbers; a line in grey is subtracted.
    lines: Vec<(String, String, bool)>,
}

impl FlowArm {
    /// The box of an arm by what was intended.
    pub(crate) fn new(arm: Arm, lines: Vec<(String, String, bool)>) -> Self {
        let (strategy, name) = match arm {
            Arm::ZeroFluoroscopy => (Strategy::Zero, "Zero-fluoroscopy intended"),
            Arm::Conventional => (Strategy::Conventional, "Conventional intended"),
        };
        Self { strategy, name, lines }
    }
}

/// The figure.
pub(crate) struct Flow {
    /// The steps.
    pub(crate) steps: Vec<FlowStep>,
    /// The arms.
    pub(crate) arms: [FlowArm; 2],
    /// How wide the place on a desk is, in px.
    pub(crate) desk: f64,
}

const LINE: f64 = 24.0;

impl Flow {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        match size {
            Size::Wide => self.wide(),
            Size::Narrow => self.narrow(),
        }
    }

    fn wide(&self) -> Svg {
        let half = self.desk / 2.0 - 20.0;
        let (boxes, losses) = ((0.15 * half, 0.7 * half), (self.desk - half, half));
        let middle = boxes.0 + boxes.1 / 2.0;
        let mut top = 1.0;
        let mut drawn = Vec::new();
        for (at, step) in self.steps.iter().enumerate() {
            let why = wrapped(&step.lost, (half / 6.8) as usize);
            let lost = 20.0 * why.len() as f64 + 14.0;
            let gap = if step.lost.is_empty() { 36.0 } else { lost + 28.0 };
            let last = at + 1 == self.steps.len();
            drawn.push(html! {
                (step_box((boxes.0, top), boxes.1, step))
                @if !last || !step.lost.is_empty() { (arrow(middle, top + 38.0, top + 38.0 + gap)) }
                @if !step.lost.is_empty() {
                    @let y = top + 38.0 + gap / 2.0;
                    path.ink d={ "M" (number(middle)) " " (number(y)) "H" (number(losses.0 - 8.0)) "m0-4l7 4-7 4" } {}
                    (lost_box((losses.0, y - lost / 2.0), (losses.1, lost), &why))
                }
            });
            top += 38.0 + if last && step.lost.is_empty() { 0.0 } else { gap };
        }
        let arms = top + 44.0;
        let right = losses.0 + losses.1 / 2.0;
        let height = arms + self.arm_height();
        let content = html! {
            @for part in drawn { (part) }
            path.ink d={ "M" (number(middle)) " " (number(top)) "v22H" (number(right)) } {}
            (arrow(middle, top + 22.0, arms))
            (arrow(right, top + 22.0, arms))
            (self.arm(&self.arms[0], (1.0, arms), half - 1.0))
            (self.arm(&self.arms[1], (losses.0, arms), losses.1 - 1.0))
        };
        Svg { width: self.desk, height: height + 2.0, content }
    }

    fn narrow(&self) -> Svg {
        let mut top = 1.0;
        let mut drawn = Vec::new();
        for step in &self.steps {
            let why = wrapped(&step.lost, 44);
            let lost = if why.is_empty() { 0.0 } else { 20.0 * why.len() as f64 + 18.0 };
            let at = top;
            drawn.push(html! {
                (step_box((1.0, at), 338.0, step))
                @if !step.lost.is_empty() { (lost_box((24.0, at + 44.0), (315.0, lost - 6.0), &why)) }
                (arrow(10.0, at + 38.0, at + 58.0 + lost))
            });
            top += 58.0 + lost;
        }
        let second = top + self.arm_height() + 16.0;
        let content = html! {
            @for part in drawn { (part) }
            (self.arm(&self.arms[0], (1.0, top), 338.0))
            (self.arm(&self.arms[1], (1.0, second), 338.0))
        };
        Svg { width: 340.0, height: second + self.arm_height() + 2.0, content }
    }

    fn arm_height(&self) -> f64 {
        let lines = self.arms.iter().map(|arm| arm.lines.len()).max().unwrap_or(0);
        44.0 + LINE * lines as f64 + 10.0
    }

    fn arm(&self, arm: &FlowArm, (x, y): (f64, f64), width: f64) -> Markup {
        let class = if arm.strategy == Strategy::Zero { "zf" } else { "ink" };
        html! {
            rect.lit-fill x=(number(x)) y=(number(y)) width=(number(width)) height=(number(self.arm_height())) {}
            rect class=(class) stroke-width="2" x=(number(x)) y=(number(y)) width=(number(width)) height=(number(self.arm_height())) {}
            svg x=(number(x + 12.0)) y=(number(y + 9.0)) width="22" height="22" { (arm_shape(arm.strategy)) }
            text.strong x=(number(x + 42.0)) y=(number(y + 25.0)) { (arm.name) }
            path.hair d={ "M" (number(x + 1.0)) " " (number(y + 38.0)) "h" (number(width - 2.0)) } {}
            @for (at, (name, value, less)) in arm.lines.iter().enumerate() {
                @let line = y + 60.0 + LINE * at as f64;
                text.quiet[*less] x=(number(x + 14.0)) y=(number(line)) { (name) }
                text.strong[!*less].quiet[*less] x=(number(x + width - 14.0)) y=(number(line)) text-anchor="end" { (value) }
            }
        }
    }
}

fn step_box((x, y): (f64, f64), width: f64, step: &FlowStep) -> Markup {
    html! {
        rect.lit-fill x=(number(x)) y=(number(y)) width=(number(width)) height="38" {}
        rect.ink x=(number(x)) y=(number(y)) width=(number(width)) height="38" {}
        text x=(number(x + 14.0)) y=(number(y + 24.0)) { (step.name) }
        text.strong x=(number(x + width - 14.0)) y=(number(y + 24.0)) text-anchor="end" { (step.cases) }
    }
}

fn lost_box((x, y): (f64, f64), (width, height): (f64, f64), lost: &[(bool, String)]) -> Markup {
    html! {
        rect.edge x=(number(x)) y=(number(y)) width=(number(width - 1.0)) height=(number(height)) {}
        @for (at, (head, reason)) in lost.iter().enumerate() {
            text.strong[*head].quiet[!*head] x=(number(x + 12.0)) y=(number(y + 22.0 + 20.0 * at as f64)) { (reason) }
        }
    }
}

fn arrow(x: f64, from: f64, to: f64) -> Markup {
    html! { path.ink d={ "M" (number(x)) " " (number(from)) "V" (number(to - 1.0)) "m-4-7l4 7 4-7" } {} }
}
