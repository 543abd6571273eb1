//! The screen that short free text must pass: it refuses what looks like a
//! person's name, number, address or date. It reads shapes, not meaning, so
//! that passing it is no proof that a text names nobody.

mod date;
mod name;
mod network;
mod number;
#[cfg(test)]
mod tests;
mod token;

use thiserror::Error;
use token::Token;

/// What a text seems to hold that could point to a person. The text itself is
/// never repeated, because the message may end in a log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Error)]
pub enum Identifying {
    /// A control character or an invisible one.
    #[error("holds a control or invisible character; type the text again without it")]
    ControlCharacter,
    /// An e-mail address.
    #[error("holds what looks like an e-mail address; take it out")]
    Email,
    /// A web address.
    #[error("holds what looks like a web address; take it out")]
    WebAddress,
    /// An address of a computer on a network.
    #[error("holds what looks like a network address; take it out")]
    NetworkAddress,
    /// A product's serial, lot or identifier.
    #[error("holds what looks like a product's serial, lot or identifier; name the kind of product instead")]
    ProductIdentifier,
    /// A date, or a day or month of one.
    #[error("holds what looks like a date; write days or minutes from the procedure instead")]
    Date,
    /// An age above 89.
    #[error("holds what looks like an age above 89; write \"90 or more\" or leave it out")]
    GreatAge,
    /// A hospital, insurance or other personal number.
    #[error("holds what looks like a hospital or personal number; take it out")]
    HospitalNumber,
    /// A telephone number.
    #[error("holds what looks like a telephone number; take it out")]
    Phone,
    /// Five digits or more in a row.
    #[error(
        "holds a number of five digits or more; take it out, or write a quantity with a comma, such as 10,000"
    )]
    LongNumber,
    /// A name after a title, a kinship or a label.
    #[error("holds what looks like a person's name; write the role instead, such as \"the operator\"")]
    TitledName,
    /// A street or a postcode.
    #[error("holds what looks like a postal address; take it out")]
    PostalAddress,
}

/// Tells whether something identifying begins at one token of a text.
type Sign = fn(&[Token], usize) -> bool;

/// The signs in the order in which they are looked for: the more telling class
/// first, since a hospital number is often a long number too.
const SIGNS: [(Identifying, Sign); 11] = [
    (Identifying::Email, network::email),
    (Identifying::WebAddress, network::web_address),
    (Identifying::NetworkAddress, network::network_address),
    (Identifying::ProductIdentifier, number::product_identifier),
    (Identifying::Date, date::date),
    (Identifying::GreatAge, number::great_age),
    (Identifying::HospitalNumber, number::hospital_number),
    (Identifying::Phone, number::phone),
    (Identifying::LongNumber, number::long_number),
    (Identifying::TitledName, name::titled_name),
    (Identifying::PostalAddress, name::postal_address),
];

/// Refuses text that seems to hold something identifying. The time taken grows
/// in proportion to the length of the text.
///
/// # Errors
/// The first class found.
pub fn screen(text: &str) -> Result<(), Identifying> {
    if text.chars().any(token::is_unseen) {
        return Err(Identifying::ControlCharacter);
    }
    let tokens = token::tokens(text);
    for (class, sign) in SIGNS {
        if (0..tokens.len()).any(|at| sign(&tokens, at)) {
            return Err(class);
        }
    }
    Ok(())
}

/// Whether the text holds a date with day, month and year, in digits or with
/// the month as a word.
pub fn is_full_date(text: &str) -> bool {
    let tokens = token::tokens(text);
    (0..tokens.len()).any(|at| date::full_date(&tokens, at))
}
