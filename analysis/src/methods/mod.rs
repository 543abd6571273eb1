//! Statistical methods that know nothing of the registry.
