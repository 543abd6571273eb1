//! How a member likes the pages. It changes nothing but their look and their keys.

use std::str::FromStr;

macro_rules! preference {
    ($(#[$doc:meta])* $name:ident { $($(#[$word_doc:meta])* $word:ident = $text:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
        pub enum $name { $($(#[$word_doc])* $word),+ }

        impl $name {
            /// As stored, and as it stands in the page for the stylesheet and the scripts.
            pub fn name(self) -> &'static str {
                match self { $($name::$word => $text),+ }
            }
        }

        impl FromStr for $name {
            type Err = UnknownPreference;

            fn from_str(text: &str) -> Result<Self, Self::Err> {
                match text { $($text => Ok($name::$word),)+ _ => Err(UnknownPreference) }
            }
        }
    };
}

/// None of the choices.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("choose one of the answers that are offered")]
pub struct UnknownPreference;

preference! {
    /// Light or dark.
    Theme {
        /// As the member's machine has it.
        #[default]
        System = "system",
        /// Always light.
        Light = "light",
        /// Always dark.
        Dark = "dark",
    }
}

preference! {
    /// Whether a single key does something outside text boxes. Whoever speaks to the machine
    /// turns them off, because a spoken word is many keys.
    SingleKeys {
        /// They work.
        #[default]
        On = "on",
        /// They do nothing.
        Off = "off",
    }
}

/// All preferences of a member.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Preferences {
    /// Light or dark.
    pub theme: Theme,
    /// Single keys.
    pub single_keys: SingleKeys,
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn names_read_back_and_nothing_else_does() {
        for theme in [Theme::System, Theme::Light, Theme::Dark] {
            assert_eq!(theme.name().parse::<Theme>().unwrap(), theme);
        }
        for keys in [SingleKeys::On, SingleKeys::Off] {
            assert_eq!(keys.name().parse::<SingleKeys>().unwrap(), keys);
        }
        for other in ["", "Dark", "dark\" onload=\""] {
            assert_eq!(other.parse::<Theme>(), Err(UnknownPreference));
        }
    }
}
