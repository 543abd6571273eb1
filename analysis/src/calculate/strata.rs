//! Two arms in strata, for instance centres: the rows of a set are its strata.

use super::answer::Each;
use super::arms::Strata;
use super::calculation::Calculation;
use crate::methods::association::{
    breslow_day_tarone_test, breslow_day_test, cochran_mantel_haenszel_corrected_test,
    cochran_mantel_haenszel_test,
};
use crate::methods::interval::{Confidence, Interval, NotEstimable};
use crate::methods::mantel_haenszel::{
    mantel_haenszel_difference_greenland_robins, mantel_haenszel_difference_sato, mantel_haenszel_odds_ratio,
    mantel_haenszel_risk_ratio,
};
use crate::methods::null_test::NullDifference;
use crate::methods::stratified_newcombe::{
    stratified_newcombe_recovered_interval, stratified_newcombe_yan_su_interval, stratified_wilson_intervals,
};
use crate::methods::stratified_score::{
    stratified_mee_interval, stratified_miettinen_nurminen_interval, stratified_miettinen_nurminen_test,
};

pub(super) fn family() -> Vec<Calculation> {
    let mut family = mantel_haenszel();
    family.extend(score());
    family.extend(newcombe());
    family.extend(association());
    family
}

fn mantel_haenszel() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "mantel_haenszel_sato",
            "sato1989",
            "Mantel–Haenszel difference over strata with Sato's variance",
            |strata: Strata, level: Confidence| mantel_haenszel_difference_sato(&strata.counts, level),
        ),
        C::new(
            "mantel_haenszel_greenland_robins",
            "greenland_robins1985",
            "Mantel–Haenszel difference over strata with the variance of Greenland and Robins",
            |strata: Strata, level: Confidence| {
                mantel_haenszel_difference_greenland_robins(&strata.counts, level)
            },
        ),
        C::new(
            "mantel_haenszel_odds_ratio",
            "robins_breslow_greenland1986",
            "Mantel–Haenszel odds ratio over strata",
            |strata: Strata, level: Confidence| mantel_haenszel_odds_ratio(&strata.counts, level),
        ),
        C::new(
            "mantel_haenszel_risk_ratio",
            "greenland_robins1985",
            "Mantel–Haenszel risk ratio over strata",
            |strata: Strata, level: Confidence| mantel_haenszel_risk_ratio(&strata.counts, level),
        ),
    ]
}

fn score() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "stratified_miettinen_nurminen",
            "miettinen_nurminen1985",
            "Miettinen–Nurminen difference over strata with Mantel–Haenszel weights",
            |strata: Strata, level: Confidence| stratified_miettinen_nurminen_interval(&strata.counts, level),
        ),
        C::new(
            "stratified_mee",
            "mee1984",
            "Mee difference over strata with Mantel–Haenszel weights",
            |strata: Strata, level: Confidence| stratified_mee_interval(&strata.counts, level),
        ),
        C::new(
            "stratified_miettinen_nurminen_test",
            "miettinen_nurminen1985",
            "Miettinen–Nurminen test of a difference over strata",
            |strata: Strata, null: NullDifference| stratified_miettinen_nurminen_test(&strata.counts, null),
        ),
    ]
}

fn newcombe() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "stratified_wilson",
            "yan_su2010",
            "Wilson interval of each arm over strata",
            stratified_wilson,
        ),
        C::new(
            "stratified_newcombe_yan_su",
            "yan_su2010",
            "Newcombe difference over strata in the form of Yan and Su",
            |strata: Strata, level: Confidence| stratified_newcombe_yan_su_interval(&strata.counts, level),
        ),
        C::new(
            "stratified_newcombe_recovered",
            "zou_donner2008",
            "Newcombe difference over strata by recovered variances",
            |strata: Strata, level: Confidence| stratified_newcombe_recovered_interval(&strata.counts, level),
        ),
    ]
}

fn stratified_wilson(strata: Strata, level: Confidence) -> Each<Result<Interval, NotEstimable>> {
    let both = stratified_wilson_intervals(&strata.counts, level);
    Each::of([("1".to_owned(), both.map(|both| both.0)), ("2".to_owned(), both.map(|both| both.1))])
}

fn association() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "cochran_mantel_haenszel",
            "mantel_haenszel1959",
            "Cochran–Mantel–Haenszel test of no association in any stratum",
            |strata: Strata| cochran_mantel_haenszel_test(&strata.counts),
        ),
        C::new(
            "cochran_mantel_haenszel_corrected",
            "mantel_haenszel1959",
            "Cochran–Mantel–Haenszel test with continuity correction",
            |strata: Strata| cochran_mantel_haenszel_corrected_test(&strata.counts),
        ),
        C::new(
            "breslow_day",
            "breslow_day1980",
            "Breslow–Day test that the odds ratio is the same in every stratum",
            |strata: Strata| breslow_day_test(&strata.counts),
        ),
        C::new(
            "breslow_day_tarone",
            "tarone1985",
            "Breslow–Day test with Tarone's correction",
            |strata: Strata| breslow_day_tarone_test(&strata.counts),
        ),
    ]
}
