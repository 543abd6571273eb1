//! Addresses of people and machines on a network.

use super::token::{Shape, Token, before, past_space};
use std::net::{Ipv4Addr, Ipv6Addr};

/// Whether the middle of an e-mail address stands here: the at sign, or "at"
/// written for it.
pub(super) fn email(tokens: &[Token], at: usize) -> bool {
    if tokens[at].is_mark('@') {
        let tight = before(tokens, at).is_some_and(Token::is_word_or_digits)
            && tokens.get(at + 1).is_some_and(|token| token.shape == Shape::Word);
        return tight || is_domain(&tokens[past_space(tokens, at + 1)..]);
    }
    tokens[at].is_word_of(&["at"]) && (in_brackets(tokens, at) || has_spelt_domain(tokens, at + 1))
}

/// "(at)" or "[at]" between two words.
fn in_brackets(tokens: &[Token], at: usize) -> bool {
    let opens = |token: &Token| token.is_mark('(') || token.is_mark('[');
    let closes = |token: &Token| token.is_mark(')') || token.is_mark(']');
    before(tokens, at).is_some_and(opens)
        && tokens.get(at + 1).is_some_and(closes)
        && tokens.get(past_space(tokens, at + 2)).is_some_and(|token| token.shape == Shape::Word)
}

/// A word, "dot" and another word.
fn has_spelt_domain(tokens: &[Token], start: usize) -> bool {
    let words: Vec<_> = tokens[start..].iter().take(6).filter(|token| token.shape == Shape::Word).collect();
    matches!(words[..], [_, dot, _, ..] if dot.is_word_of(&["dot"]))
}

/// Labels joined by stops, such as mail.example, that begin with a word.
fn is_domain(tokens: &[Token]) -> bool {
    let label = |token: &&Token| token.is_word_or_digits() || token.is_mark('-');
    let first = tokens.iter().take(16).take_while(label).count();
    let ends = |token: &Token| {
        token.shape == Shape::Word && token.text.chars().count() >= 2 && !token.is_capitalised()
    };
    first > 0
        && tokens[0].shape == Shape::Word
        && tokens.get(first).is_some_and(|token| token.is_mark('.'))
        && tokens.get(first + 1).is_some_and(ends)
}

/// Whether a web address stands here: a scheme, "www." or a bare domain.
pub(super) fn web_address(tokens: &[Token], at: usize) -> bool {
    /// Endings of domains that are no English words, which follow a stop
    /// wherever somebody forgot the space.
    const ENDINGS: &[&str] = &[
        "com", "org", "net", "edu", "gov", "mil", "biz", "eu", "uk", "de", "fr", "nl", "ch", "dk", "pl",
        "cz", "jp", "cn", "br", "au", "nz", "se", "io", "example",
    ];
    let mark_at = |position: usize, mark| tokens.get(position).is_some_and(|t| t.is_mark(mark));
    if tokens[at].shape == Shape::Word && mark_at(at + 1, ':') {
        return mark_at(at + 2, '/') && mark_at(at + 3, '/');
    }
    if tokens[at].is_word_of(&["www"]) {
        return mark_at(at + 1, '.');
    }
    let host =
        before(tokens, at).is_some_and(|token| token.shape == Shape::Word && token.text.chars().count() >= 2);
    let ending = tokens.get(at + 1).is_some_and(|token| token.is_word_of(ENDINGS) && !token.is_capitalised());
    let goes_on = tokens.get(at + 2).is_some_and(Token::is_word_or_digits);
    tokens[at].is_mark('.') && host && ending && !goes_on
}

/// Whether an address of a machine begins here: IPv4, IPv6 or of its hardware.
pub(super) fn network_address(tokens: &[Token], at: usize) -> bool {
    let part =
        |token: &Token| token.is_word_or_digits() || [':', '.', '-'].iter().any(|mark| token.is_mark(*mark));
    if !part(&tokens[at]) || before(tokens, at).is_some_and(part) {
        return false;
    }
    let chain: String =
        tokens[at..].iter().take(40).take_while(|token| part(token)).map(|t| &*t.text).collect();
    let address = chain.trim_end_matches(['.', '-', ':']);
    let host = address.rsplit_once(':').map_or(address, |(host, _port)| host);
    let letters = address.bytes().any(|b| b.is_ascii_alphabetic());
    // "12::30" is an address to the letter of the standard, and a slip of the pen here.
    let version_six = address.parse::<Ipv6Addr>().is_ok() && (letters || address.matches(':').count() >= 4);
    version_six
        || address.parse::<Ipv4Addr>().is_ok()
        || host.parse::<Ipv4Addr>().is_ok()
        || is_hardware_address(address, ':')
        || (letters && is_hardware_address(address, '-'))
}

/// Six pairs of hexadecimal digits.
fn is_hardware_address(text: &str, mark: char) -> bool {
    let pair = |part: &str| part.len() == 2 && part.bytes().all(|b| b.is_ascii_hexdigit());
    text.split(mark).count() == 6 && text.split(mark).all(pair)
}
