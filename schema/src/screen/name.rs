//! Names and postal addresses, by the words that announce them.

use super::token::{Shape, Token, before, past_space};

/// Whether a title, a kinship or a label stands here with a name after it.
pub(super) fn titled_name(tokens: &[Token], at: usize) -> bool {
    /// Titles that are hardly ever anything else.
    const TITLES: &[&str] = &[
        "dr", "prof", "mrs", "herr", "frau", "mme", "mlle", "monsieur", "signor", "signora", "señor",
        "señora", "dott", "drs",
    ];
    /// Words that are a title only before a name.
    const ROLES: &[&str] = &[
        "doctor",
        "professor",
        "nurse",
        "sister",
        "miss",
        "sir",
        "dame",
        "madame",
        "madam",
        "matron",
        "wife",
        "husband",
        "daughter",
        "son",
        "mother",
        "father",
        "brother",
        "cousin",
    ];
    let word = &tokens[at];
    let stop = tokens.get(at + 1).is_some_and(|token| token.is_mark('.'));
    let next = past_space(tokens, at + 1 + usize::from(stop));
    if next == at + 1 || tokens.get(next).is_none_or(|token| token.shape != Shape::Word) {
        return is_label(tokens, at);
    }
    let name = &tokens[next];
    let named = name.is_capitalised() || is_initial(tokens, next) || name.is_word_of(PARTICLES);
    let mr = matches!(word.text.as_str(), "Mr" | "Ms" | "mr") && !is_finding(tokens, at);
    (mr && (named || stop) && !name.is_word_of(FINDINGS))
        || (word.is_word_of(TITLES) && (named || is_name_like(name)))
        || (word.is_word_of(ROLES) && named && !name.is_word_of(FINDINGS))
        || is_label(tokens, at)
}

/// Small words with which a family name can begin.
const PARTICLES: &[&str] = &["van", "von", "de", "del", "della", "di", "al", "el", "bin", "ter"];

/// Words after "Mr" typed for mitral regurgitation, or after a role that ends a sentence.
const FINDINGS: &[&str] =
    &["mild", "moderate", "severe", "trace", "trivial", "none", "grade", "jet", "scan", "then"];

/// Whether "mr" is mitral regurgitation, as in "trace mr", or "Ms" the unit after a number.
fn is_finding(tokens: &[Token], at: usize) -> bool {
    const DEGREES: &[&str] = &[
        "no",
        "mild",
        "moderate",
        "severe",
        "trace",
        "trivial",
        "residual",
        "significant",
        "new",
        "of",
        "with",
        "cardiac",
    ];
    at >= 2 && (tokens[at - 2].is_word_of(DEGREES) || tokens[at - 2].shape == Shape::Digits)
}

/// Whether a word after a title can be a name: not one of the little words that
/// follow when the title stands for the doctor.
fn is_name_like(token: &Token) -> bool {
    const LITTLE: &[&str] = &[
        "a", "agreed", "aware", "and", "asked", "at", "but", "by", "called", "for", "from", "had", "has",
        "in", "informed", "is", "not", "of", "on", "or", "present", "the", "to", "told", "was", "who",
        "with",
    ];
    token.text.chars().count() >= 2 && !token.is_word_of(LITTLE)
}

/// A single capital with a stop, an apostrophe or a name after it, as in "J. Tarn" or "O'Tarn".
fn is_initial(tokens: &[Token], at: usize) -> bool {
    let capital = tokens[at].text.chars().count() == 1 && tokens[at].text.chars().all(char::is_uppercase);
    let goes_on = |token: &Token| token.is_mark('.') || token.is_mark('\'') || token.is_capitalised();
    capital && tokens.get(past_space(tokens, at + 1)).is_some_and(goes_on)
}

/// "Surname: …", "initials AB" and "patient name: …".
fn is_label(tokens: &[Token], at: usize) -> bool {
    let next = past_space(tokens, at + 1);
    let filled = tokens.get(next).is_some_and(|token| token.is_mark(':') || token.is_mark('='));
    let owner = before(tokens, at.saturating_sub(1));
    let of_person = owner.is_none_or(|token| {
        token.is_word_of(&[
            "patient", "patients", "s", "pt", "full", "first", "last", "family", "given", "maiden", "middle",
            "relative",
        ]) || token.shape == Shape::Mark
    });
    filled
        && (tokens[at].is_word_of(&["surname", "forename", "initials"])
            || (tokens[at].is_word_of(&["name", "names"]) && of_person))
}

/// Whether a street with its number or a postcode begins here.
pub(super) fn postal_address(tokens: &[Token], at: usize) -> bool {
    is_street(tokens, at) || is_postcode(tokens, at)
}

/// "12 Elm Street", "12a Old Mill Lane" or "Gartenstraße 12".
fn is_street(tokens: &[Token], at: usize) -> bool {
    const STREETS: &[&str] =
        &["street", "road", "avenue", "lane", "crescent", "boulevard", "rd", "ave", "terrace"];
    let house_after = tokens.get(past_space(tokens, at + 1));
    let word = &tokens[at];
    if word.shape == Shape::Word && (word.lower.ends_with("straße") || word.lower.ends_with("strasse")) {
        return house_after.is_some_and(|token| token.shape == Shape::Digits);
    }
    if word.shape != Shape::Digits {
        return false;
    }
    let words: Vec<_> = tokens[at + 1..]
        .iter()
        .take(7)
        .take_while(|token| matches!(token.shape, Shape::Word | Shape::Space))
        .filter(|token| token.shape == Shape::Word)
        .collect();
    let street = words.iter().position(|token| token.is_word_of(STREETS));
    street.is_some_and(|street| street >= 1 && words[street - 1].is_capitalised())
}

/// A British postcode in capitals, such as ZZ9 9ZZ.
fn is_postcode(tokens: &[Token], at: usize) -> bool {
    let capitals = |token: &Token, most: usize| {
        token.shape == Shape::Word
            && token.text.len() <= most
            && token.text.bytes().all(|b| b.is_ascii_uppercase())
    };
    let [area, district, rest @ ..] = &tokens[at..] else { return false };
    let letter = usize::from(rest.first().is_some_and(|token| capitals(token, 1)));
    let Some([space, sector, unit, ..]) = rest.get(letter..) else { return false };
    let joined = before(tokens, at).is_some_and(|t| t.is_word_or_digits() || t.is_mark('-'));
    !joined
        && capitals(area, 2)
        && district.shape == Shape::Digits
        && district.text.len() <= 2
        && space.shape == Shape::Space
        && sector.shape == Shape::Digits
        && sector.text.len() == 1
        && capitals(unit, 2)
        && unit.text.len() == 2
        && !unit.is_word_of(&["mm", "ms", "mv", "ma", "ml", "cm", "hz"])
}
