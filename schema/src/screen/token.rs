//! Text cut into words, numbers, spaces and marks, with look-alike characters
//! folded so that another script's digits or dashes do not slip through.

/// What a token is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shape {
    /// Letters of any script.
    Word,
    /// Decimal digits, folded to ASCII.
    Digits,
    /// White space, folded to one space.
    Space,
    /// One character of any other kind.
    Mark,
}

/// A piece of the text.
#[derive(Debug)]
pub(super) struct Token {
    pub(super) shape: Shape,
    /// As written, folded.
    pub(super) text: String,
    /// In lower case.
    pub(super) lower: String,
}

impl Token {
    /// Whether it is a word of the list, which is in lower case.
    pub(super) fn is_word_of(&self, list: &[&str]) -> bool {
        self.shape == Shape::Word && list.contains(&self.lower.as_str())
    }

    /// Whether it is this one character.
    pub(super) fn is_mark(&self, mark: char) -> bool {
        self.shape == Shape::Mark && self.text.starts_with(mark)
    }

    /// Whether it is a word or a number.
    pub(super) fn is_word_or_digits(&self) -> bool {
        matches!(self.shape, Shape::Word | Shape::Digits)
    }

    /// Whether it is a word that begins with a capital and goes on in small
    /// letters, as names do and abbreviations do not.
    pub(super) fn is_capitalised(&self) -> bool {
        self.shape == Shape::Word
            && self.text.chars().next().is_some_and(char::is_uppercase)
            && self.text.chars().skip(1).any(char::is_lowercase)
    }

    /// Its value, if it is a number of at most four digits.
    pub(super) fn small_number(&self) -> Option<u16> {
        (self.shape == Shape::Digits && self.text.len() <= 4).then(|| self.text.parse().ok())?
    }
}

/// Cuts the text; the tokens joined are the folded text.
pub(super) fn tokens(text: &str) -> Vec<Token> {
    let mut tokens: Vec<Token> = Vec::new();
    for c in text.chars().map(folded) {
        let shape = shape(c);
        match tokens.last_mut() {
            Some(last) if last.shape == shape && shape == Shape::Space => {}
            Some(last) if last.shape == shape && shape != Shape::Mark => {
                last.text.push(c);
                last.lower.extend(c.to_lowercase());
            }
            _ => tokens.push(Token { shape, text: c.into(), lower: c.to_lowercase().collect() }),
        }
    }
    tokens
}

/// Numbers that stand together with only a gap of few marks between them.
pub(super) struct Group<'a> {
    /// The digits.
    pub(super) digits: &'a str,
    /// What stands between this number and the next of the group.
    pub(super) gap: String,
    /// The position of the token after the digits.
    pub(super) end: usize,
}

/// Up to `most` numbers from the token at `start` on, for as long as `joins`
/// takes the text between them for a part of one figure.
pub(super) fn groups(tokens: &[Token], start: usize, most: usize, joins: fn(&str) -> bool) -> Vec<Group<'_>> {
    let mut groups = Vec::new();
    let mut at = start;
    while let Some(token) = tokens.get(at).filter(|token| token.shape == Shape::Digits) {
        let end = at + 1;
        let between = tokens[end..].iter().take(3).take_while(|token| !token.is_word_or_digits());
        let gap: String = between.map(|token| token.text.as_str()).collect();
        at = end + gap.chars().count();
        groups.push(Group { digits: &token.text, gap, end });
        if groups.len() == most || !groups.last().is_some_and(|group| joins(&group.gap)) {
            break;
        }
    }
    groups
}

/// The position of the first token from `start` on that is not a space.
pub(super) fn past_space(tokens: &[Token], start: usize) -> usize {
    start + usize::from(tokens.get(start).is_some_and(|token| token.shape == Shape::Space))
}

/// The token before `at`, if there is one.
pub(super) fn before(tokens: &[Token], at: usize) -> Option<&Token> {
    at.checked_sub(1).and_then(|position| tokens.get(position))
}

/// Whether a unit of measurement stands at `at`, a space before it allowed.
pub(super) fn unit_at(tokens: &[Token], at: usize) -> bool {
    const UNITS: &[&str] = &[
        "w", "s", "sec", "secs", "seconds", "ms", "msec", "min", "mins", "minutes", "h", "mm", "cm", "ml",
        "l", "mg", "mcg", "µg", "ug", "g", "kg", "hz", "khz", "mv", "v", "ma", "j", "ohm", "ohms", "ω", "iu",
        "u", "units", "bpm", "mmhg", "fr", "f", "mgy",
    ];
    tokens
        .get(past_space(tokens, at))
        .is_some_and(|token| token.is_word_of(UNITS) || token.is_mark('%') || token.is_mark('°'))
}

fn shape(c: char) -> Shape {
    match c {
        '0'..='9' => Shape::Digits,
        ' ' => Shape::Space,
        '\u{300}'..='\u{36f}' => Shape::Word,
        _ if c.is_alphabetic() => Shape::Word,
        _ => Shape::Mark,
    }
}

/// Maps look-alikes to ASCII: digits of other scripts, wide forms, dashes and
/// spaces of every width.
fn folded(c: char) -> char {
    /// The zeros of the decimal digits of scripts in wide use.
    const ZEROS: [u32; 12] =
        [0x0660, 0x06F0, 0x07C0, 0x0966, 0x09E6, 0x0A66, 0x0AE6, 0x0B66, 0x0BE6, 0x0C66, 0x0E50, 0x1040];
    let code = u32::from(c);
    match c {
        _ if c.is_whitespace() => ' ',
        '\u{ff01}'..='\u{ff5e}' => char::from_u32(code - 0xfee0).unwrap_or(c),
        '\u{1d7ce}'..='\u{1d7ff}' => digit((code - 0x1d7ce) % 10),
        '\u{2010}'..='\u{2015}' | '\u{2212}' | '\u{fe63}' => '-',
        '\u{2018}' | '\u{2019}' | '\u{2bc}' => '\'',
        '\u{2024}' | '\u{3002}' => '.',
        _ => match ZEROS.iter().find(|zero| (**zero..**zero + 10).contains(&code)) {
            Some(zero) => digit(code - zero),
            None => c,
        },
    }
}

fn digit(value: u32) -> char {
    char::from_digit(value, 10).unwrap_or('0')
}

/// Whether the character shows nothing, so that it could split a number or a
/// name before the screen's eyes; tabs and line ends are spaces.
pub(super) fn is_unseen(c: char) -> bool {
    match c {
        '\t' | '\n' | '\r' => false,
        '\u{ad}' | '\u{feff}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' => true,
        '\u{2060}'..='\u{206f}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}' => true,
        _ => c.is_control(),
    }
}
