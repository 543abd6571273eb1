//! Numbers that point to a person or to one product: telephone, hospital and
//! serial numbers, and ages above 89.

use super::token::{Group, Shape, Token, before, groups, unit_at};

/// Whether a number of five digits or more stands here.
pub(super) fn long_number(tokens: &[Token], at: usize) -> bool {
    tokens[at].shape == Shape::Digits && tokens[at].text.len() >= 5
}

/// Whether a telephone number begins here, by its shape or by a word for it.
pub(super) fn phone(tokens: &[Token], at: usize) -> bool {
    phone_after_word(tokens, at) || phone_by_shape(tokens, at)
}

fn phone_after_word(tokens: &[Token], at: usize) -> bool {
    const WORDS: &[&str] = &[
        "tel",
        "telephone",
        "phone",
        "mobile",
        "cellphone",
        "fax",
        "pager",
        "bleep",
        "ext",
        "extension",
        "whatsapp",
        "handy",
    ];
    if !tokens[at].is_word_of(WORDS) {
        return false;
    }
    let start = past_label(tokens, at + 1).end;
    let found = groups(tokens, start, 6, joins_phone);
    digits_in(&found) >= 3 && !found.last().is_some_and(|last| unit_at(tokens, last.end))
}

fn phone_by_shape(tokens: &[Token], at: usize) -> bool {
    let found = groups(tokens, at, 6, joins_phone);
    let prior = before(tokens, at);
    if prior.is_some_and(Token::is_word_or_digits) {
        return false;
    }
    let plus = prior.is_some_and(|token| token.is_mark('+'));
    (1..=found.len()).any(|count| {
        let part = &found[..count];
        is_phone(part, plus) && !unit_at(tokens, part[count - 1].end)
    })
}

/// Whether these numbers, all of them, have the shape of a telephone number.
fn is_phone(part: &[Group], plus: bool) -> bool {
    let total = digits_in(part);
    let lengths = lengths(part, part.len());
    let international = plus && (7..=15).contains(&total);
    let trunk = part[0].digits.starts_with('0') && (2..=5).contains(&lengths[0]);
    let national = trunk && part.len() >= 2 && (9..=15).contains(&total);
    // A range such as 300-1200 has the same shape, and round numbers without a leading zero.
    let local =
        lengths == [3, 4] && (part[0].gap == "-" || part[1].digits.starts_with('0')) && !is_range(part);
    international || national || local || lengths == [3, 3, 4]
}

/// Whether the first two numbers read as "from 300 to 1200": round and rising.
fn is_range(found: &[Group]) -> bool {
    found.iter().take(2).all(|group| group.digits.ends_with('0') && !group.digits.starts_with('0'))
}

fn joins_phone(gap: &str) -> bool {
    gap.chars().all(|c| matches!(c, ' ' | '-' | '.' | '/' | '(' | ')')) && gap != ". "
}

/// Whether a hospital or personal number begins here, by its shape or by a word for it.
pub(super) fn hospital_number(tokens: &[Token], at: usize) -> bool {
    personal_number_by_shape(tokens, at) || personal_number_after_word(tokens, at)
}

/// Digits in the groups of a social security or a payment card number.
fn personal_number_by_shape(tokens: &[Token], at: usize) -> bool {
    let found = groups(tokens, at, 4, |gap| matches!(gap, "-" | " "));
    lengths(&found, 3) == [3, 2, 4] || lengths(&found, 4) == [4, 4, 4, 4]
}

fn personal_number_after_word(tokens: &[Token], at: usize) -> bool {
    /// Words that need nothing but the number.
    const TELLING: &[&str] =
        &["mrn", "nhs", "ssn", "pid", "urn", "passport", "medicare", "casenote", "id", "uhid"];
    /// Words that also mean other things, so that "number" or its like must follow.
    const LABELLED: &[&str] = &[
        "hospital",
        "hosp",
        "patient",
        "patients",
        "pat",
        "pt",
        "record",
        "chart",
        "case",
        "file",
        "folder",
        "insurance",
        "policy",
        "account",
        "licence",
        "license",
        "identity",
        "member",
        "unit",
        "admission",
        "health",
        "security",
    ];
    let telling = tokens[at].is_word_of(TELLING);
    if !telling && !tokens[at].is_word_of(LABELLED) {
        return false;
    }
    let label = past_label(tokens, at + 1);
    (telling || label.named) && has_code(tokens, label.end, 3)
}

/// Whether a product's identifier begins here: an application identifier in
/// brackets, or a word for a serial or a lot with a code after it.
pub(super) fn product_identifier(tokens: &[Token], at: usize) -> bool {
    const WORDS: &[&str] = &["serial", "lot", "batch", "udi", "gtin", "imei", "ean"];
    if tokens[at].is_mark('(') {
        return application_identifier(tokens, at);
    }
    let short_form = tokens[at].is_word_of(&["s"])
        && tokens.get(at + 1).is_some_and(|token| token.is_mark('/'))
        && tokens.get(at + 2).is_some_and(|token| token.is_word_of(&["n"]));
    if !short_form && !tokens[at].is_word_of(WORDS) {
        return false;
    }
    let label = past_label(tokens, at + if short_form { 3 } else { 1 });
    // "A lot of 250 points" is an amount.
    let amount = tokens.get(at + 2).is_some_and(|token| token.is_word_of(&["of"]));
    !amount && has_code(tokens, label.end, 3)
}

/// An application identifier of the GS1 General Specifications in brackets,
/// such as (01) for the article and (21) for the serial number, and what it
/// announces. From memory: 00 container, 01 and 02 article, 10 lot, 11 to 17
/// dates, 20 variant, 21 serial, 240 and 241 article details, 250 second serial.
fn application_identifier(tokens: &[Token], at: usize) -> bool {
    const KNOWN: &[&str] =
        &["00", "01", "02", "10", "11", "12", "13", "15", "16", "17", "20", "21", "240", "241", "250"];
    let [_, code, close, rest @ ..] = &tokens[at..] else { return false };
    if !KNOWN.contains(&code.text.as_str()) || !close.is_mark(')') {
        return false;
    }
    let spaced = rest.first().is_some_and(|token| token.shape == Shape::Space);
    let (length, digits) = code_size(&rest[usize::from(spaced)..]);
    // "(10) lesions" and "(21)mm" are no identifiers.
    digits >= 1 && length >= if spaced { 6 } else { 3 }
}

/// Whether an age from 90 on stands here; "90 or more" is the pooled band and passes.
pub(super) fn great_age(tokens: &[Token], at: usize) -> bool {
    let old = tokens[at].small_number().is_some_and(|number| (90..=120).contains(&number));
    let word_at =
        |position: usize, list: &[&str]| tokens.get(position).is_some_and(|token| token.is_word_of(list));
    let joined = |token: &Token| token.shape == Shape::Space || token.is_mark('-');
    let tight = at + 1;
    let next = tight + usize::from(tokens.get(tight).is_some_and(joined));
    let pooled = tokens[at].text == "90" && word_at(next, &["or", "plus", "and"]);
    if !old || pooled || before(tokens, at).is_some_and(|token| token.is_mark('.')) {
        return false;
    }
    let words = tokens[..at].iter().rev().take(4).filter(|token| token.shape == Shape::Word);
    let announced = words.take(2).any(|token| token.is_word_of(&["age", "aged"]));
    (announced && !unit_at(tokens, tight))
        || word_at(next, &["yo"])
        || word_at(tight, &["y"])
        || (word_at(next, &["y"]) && word_at(next + 2, &["o"]))
        || (word_at(next, &["year", "years", "yr", "yrs"])
            && (word_at(next + 2, &["old"]) || word_at(next + 4, &["age"])))
}

/// What stands between a word such as "MRN" and its number.
struct Label {
    /// Whether "number", "no", "#" or the like is among it.
    named: bool,
    /// The position after it.
    end: usize,
}

fn past_label(tokens: &[Token], start: usize) -> Label {
    const NAMES: &[&str] = &["no", "nr", "num", "number", "numbers", "id", "identifier", "code"];
    let passes = |token: &Token| {
        token.shape == Shape::Space
            || token.is_word_of(NAMES)
            || token.is_word_of(&["is", "was", "of", "record", "security"])
            || ['.', ':', '#', '=', '-', '(', '+', 'º', '°'].iter().any(|mark| token.is_mark(*mark))
    };
    let rest = tokens.get(start..).unwrap_or_default();
    let label: Vec<_> = rest.iter().take(8).take_while(|token| passes(token)).collect();
    Label {
        named: label.iter().any(|token| token.is_word_of(NAMES) || token.is_mark('#')),
        end: start + label.len(),
    }
}

/// Whether a code with at least `least` digits begins at `start`, not a quantity.
fn has_code(tokens: &[Token], start: usize, least: usize) -> bool {
    let rest = tokens.get(start..).unwrap_or_default();
    code_size(rest).1 >= least && !unit_at(tokens, start + 1)
}

/// How many letters and digits, and how many digits, a code at the start has.
fn code_size(tokens: &[Token]) -> (usize, usize) {
    let code = tokens.iter().take(8).take_while(|token| {
        token.is_word_or_digits() || token.is_mark('-') || token.is_mark('/') || token.is_mark('.')
    });
    code.filter(|token| token.is_word_or_digits()).fold((0, 0), |(length, digits), token| {
        let more = token.text.chars().count();
        (length + more, digits + if token.shape == Shape::Digits { more } else { 0 })
    })
}

fn digits_in(found: &[Group]) -> usize {
    found.iter().map(|group| group.digits.len()).sum()
}

/// The lengths of the first `count` numbers, or of fewer if there are fewer.
fn lengths(found: &[Group], count: usize) -> Vec<usize> {
    found.iter().take(count).map(|group| group.digits.len()).collect()
}
