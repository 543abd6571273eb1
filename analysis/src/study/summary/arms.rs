//! The arms of a comparison inside a summary: which of a strategy's cases its plan compares, which it
//! leaves out, how those of an arm went, and how all of them hang on the counts that are shown of the
//! strategy.

use super::super::arm::Arm;
use super::super::cohort::CaseRow;
use super::super::endpoint::Endpoint;
use super::super::plan::{AnalysisPlan, Eligibility};
use super::super::population::went_as_intended;
use super::super::published::OneOrAll;
use super::blocks::Given;
use super::counted::{BASE, Count, Measure};
use super::part::Part;
use super::placed::Placed;
use quietbeam_schema::vocabulary::{Coded, NearZeroCases, ProcedureGroup, Strategy};
use std::collections::BTreeMap;

/// The arm of a case, or of none.
pub(super) type InArm = Option<Arm>;

/// A case as far as a comparison compares it: nothing where no comparison is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    In(Arm, Went),
    /// Intended as near-zero, which the plan counts in neither arm.
    BetweenArms,
    /// Left out though its group is compared.
    LeftOut,
    /// Of a group that is not compared.
    Outside,
}

/// How a case of an arm went.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Went {
    AsIntended,
    CrossedOver,
}

impl Place {
    /// Where a plan puts a case; the groups are those of which it compares anything.
    pub(super) fn of(case: &CaseRow, plan: &AnalysisPlan, groups: &[ProcedureGroup]) -> Self {
        let is_compared = plan.eligibility().left_out(case).is_none();
        match plan.arm(case) {
            _ if !groups.contains(&case.procedure.group()) => Self::Outside,
            _ if !is_compared => Self::LeftOut,
            Some(arm) if went_as_intended(case, arm) => Self::In(arm, Went::AsIntended),
            Some(arm) => Self::In(arm, Went::CrossedOver),
            None => Self::BetweenArms,
        }
    }

    pub(super) fn arm(self) -> InArm {
        match self {
            Self::In(arm, _) => Some(arm),
            Self::BetweenArms | Self::LeftOut | Self::Outside => None,
        }
    }
}

/// What decides which cases a plan compares, and in which arm.
#[derive(Clone, PartialEq)]
struct Scope(Eligibility, NearZeroCases);

impl Scope {
    fn of(plan: &AnalysisPlan) -> Self {
        Self(plan.eligibility().clone(), plan.near_zero())
    }
}

/// The different scopes of all comparisons that are counted together: plans that compare the same
/// cases have one.
pub(super) struct Scopes(Vec<Scope>);

impl Scopes {
    pub(super) fn of<'p>(plans: impl IntoIterator<Item = &'p AnalysisPlan>) -> Self {
        let mut scopes = Vec::new();
        for scope in plans.into_iter().map(Scope::of) {
            if !scopes.contains(&scope) {
                scopes.push(scope);
            }
        }
        Self(scopes)
    }

    /// Where the scope of a plan stands among them.
    pub(super) fn place(&self, plan: &AnalysisPlan) -> usize {
        let own = Scope::of(plan);
        self.0.iter().position(|scope| *scope == own).unwrap_or(self.0.len())
    }
}

/// What is counted of an endpoint: the cases whose outcome is known, and those that had it.
pub(super) fn known_and_had(endpoint: Endpoint) -> [Measure; 2] {
    match endpoint {
        Endpoint::AcuteSuccess => [Measure::SuccessKnown, Measure::AcuteSuccess],
        Endpoint::MajorWithin30Days => [Measure::OutcomeKnown, Measure::Major],
        Endpoint::MajorBeforeDischarge => [Measure::DischargeKnown, Measure::MajorBeforeDischarge],
    }
}

/// What a comparison counts, in the order of its rows.
pub(super) fn measures(plan: &AnalysisPlan) -> Vec<Measure> {
    let endpoints = plan.endpoints().iter();
    let of_endpoints = endpoints.flat_map(|planned| known_and_had(planned.endpoint));
    [Measure::Cases].into_iter().chain(of_endpoints).collect()
}

/// Both arms.
pub(super) fn arms(scope: usize) -> [Part; 2] {
    Arm::BOTH.map(|arm| Part::Compared(scope, Some(arm)))
}

/// What of both arms went as intended.
pub(super) fn kept(scope: usize) -> [Part; 2] {
    Arm::BOTH.map(|arm| Part::Kept(scope, arm))
}

/// The rows of a comparison: its arms, and everything else.
pub(super) fn parts(scope: usize) -> Vec<Part> {
    arms(scope).into_iter().chain([Part::Compared(scope, None)]).collect()
}

/// The rows of a comparison per protocol: what of its arms went as intended, and everything else.
pub(super) fn parts_per_protocol(scope: usize) -> Vec<Part> {
    kept(scope).into_iter().chain([Part::NotKept(scope)]).collect()
}

/// The counts behind a comparison that no table shows, and how they add up.
#[derive(Default)]
pub(super) struct Arms {
    pub(super) counts: BTreeMap<Count, Vec<u64>>,
    /// The counts that add up, each with its parts.
    pub(super) totals: Vec<(Count, Vec<Count>)>,
    /// Which counts hold which: each pair a part and its whole.
    pub(super) nested: Vec<(Count, Count)>,
    /// Weighted sums that are not below zero.
    pub(super) never_below_zero: Vec<Vec<(Count, i64)>>,
    plan: Option<Plan>,
}

/// A plan as far as it says which cases stand where.
pub(super) struct Plan {
    pub(super) scope: usize,
    groups: Vec<ProcedureGroup>,
    /// The groups of which it may leave something out: readers of the plan know that of others it
    /// does not.
    thinned: Vec<ProcedureGroup>,
    /// The arm that each strategy fills.
    fills: Vec<(Strategy, Arm)>,
}

impl Plan {
    fn of(plan: &AnalysisPlan, scope: usize) -> Self {
        let arms = [
            (Strategy::Zero, Some(Arm::ZeroFluoroscopy)),
            (Strategy::NearZero, plan.near_zero_arm()),
            (Strategy::Conventional, Some(Arm::Conventional)),
        ];
        let groups = plan.eligibility().groups();
        Self {
            scope,
            thinned: groups.iter().copied().filter(|group| plan.eligibility().may_thin(*group)).collect(),
            groups,
            fills: arms.into_iter().filter_map(|(strategy, arm)| Some((strategy, arm?))).collect(),
        }
    }

    /// The strategies that fill an arm.
    pub(super) fn of_arm(&self, arm: Arm) -> impl Iterator<Item = Strategy> + Clone {
        self.fills.iter().filter(move |(_, of)| *of == arm).map(|(strategy, _)| *strategy)
    }

    /// What of a strategy is compared: all of the arm where it alone fills it.
    pub(super) fn compared(&self, measure: Measure, strategy: Strategy, arm: Arm) -> Count {
        let alone = self.of_arm(arm).nth(1).is_none();
        let strategy = if alone { OneOrAll::All } else { OneOrAll::One(strategy) };
        Count { measure, part: Part::Compared(self.scope, Some(arm)), strategy }
    }
}

impl Arms {
    pub(super) fn of(given: Given<'_>, (plan, scope): (&AnalysisPlan, usize), per_protocol: bool) -> Self {
        let (mut arms, mut measures) = (Self::default(), measures(plan));
        let plan = Plan::of(plan, scope);
        if per_protocol {
            arms.divide(given, &plan, &measures);
            measures.push(Measure::NoXRay);
        }
        for measure in &measures {
            arms.count(given, &plan, *measure);
        }
        arms.plan = Some(plan);
        for part in &measures {
            for whole in part.within().into_iter().filter(|whole| measures.contains(whole)) {
                let same = |count: &Count| Count { measure: whole, ..*count };
                let of = arms.counts.keys().filter(|count| count.measure == *part);
                let pairs = of.map(|count| (*count, same(count)));
                let pairs: Vec<_> = pairs.filter(|(_, whole)| arms.counts.contains_key(whole)).collect();
                let holds = |(part, whole): &(Count, Count)| {
                    let both = arms.counts.get(part).zip(arms.counts.get(whole));
                    both.is_some_and(|(part, whole)| {
                        part.iter().zip(whole).all(|(part, whole)| part <= whole)
                    })
                };
                if pairs.iter().all(holds) {
                    arms.nested.extend(pairs);
                }
            }
        }
        arms
    }

    /// Each strategy is what is compared of it, what is left out, and what is of other groups.
    fn count(&mut self, given: Given<'_>, plan: &Plan, measure: Measure) {
        let whole = |strategy| Count { measure, part: Part::All, strategy };
        for strategy in Strategy::all() {
            self.add(given, whole(OneOrAll::One(*strategy)));
        }
        if !BASE.contains(&measure) {
            let each = Strategy::all().iter().map(|strategy| whole(OneOrAll::One(*strategy)));
            self.totals.push((whole(OneOrAll::All), each.collect()));
        }
        for (strategy, arm) in &plan.fills {
            let of = OneOrAll::One(*strategy);
            let rest = [Part::LeftOut(plan.scope), Part::Outside(plan.scope)];
            let [left_out, outside] = rest.map(|part| Count { measure, part, strategy: of });
            let compared = plan.compared(measure, *strategy, *arm);
            let left_out = (!plan.thinned.is_empty()).then_some(left_out);
            let parts: Vec<Count> = [compared, outside].into_iter().chain(left_out).collect();
            parts.iter().for_each(|count| self.add(given, *count));
            self.totals.push((whole(of), parts));
            if BASE.contains(&measure) {
                let others = ProcedureGroup::all().iter().filter(|group| !plan.groups.contains(group));
                let of_group = |group: &ProcedureGroup| Count { part: Part::Group(*group), ..outside };
                self.totals.push((outside, others.map(of_group).collect()));
                let thinned = plan.thinned.iter().map(|group| (of_group(group), 1));
                let at_most = left_out.map(|left_out| thinned.chain([(left_out, -1)]).collect());
                self.never_below_zero.extend(at_most);
            }
        }
        for arm in Arm::BOTH {
            let all = Count { measure, part: Part::Compared(plan.scope, Some(arm)), strategy: OneOrAll::All };
            let each: Vec<Count> =
                plan.of_arm(arm).map(|strategy| plan.compared(measure, strategy, arm)).collect();
            if each != [all] {
                self.totals.push((all, each));
            }
        }
    }

    pub(super) fn add(&mut self, given: Given<'_>, count: Count) {
        let mut by_centre = vec![0; given.centres.len()];
        let counts = |case: &Placed<'_>| {
            let of_strategy =
                count.strategy == OneOrAll::All || count.strategy == OneOrAll::One(case.intended);
            of_strategy && count.part.holds(case) && count.measure.counts(case)
        };
        for case in given.cases.iter().filter(|case| counts(case)) {
            if let Ok(centre) = given.centres.binary_search(&case.centre) {
                by_centre[centre] += 1;
            }
        }
        self.counts.insert(count, by_centre);
    }

    /// Where a plain case of a group and a strategy stands, without X-ray or with it.
    pub(super) fn parts_of(&self, group: Part, strategy: Strategy, no_x_ray: bool) -> Vec<Part> {
        let Some(plan) = &self.plan else { return vec![] };
        let scope = plan.scope;
        let arm = plan.fills.iter().find(|(of, _)| *of == strategy).map(|(_, arm)| *arm);
        let is_of = |eligible: &ProcedureGroup| group == Part::Group(*eligible);
        match (plan.groups.iter().any(is_of), arm) {
            (true, Some(arm)) => {
                let kept = match arm {
                    Arm::ZeroFluoroscopy => no_x_ray || strategy == Strategy::NearZero,
                    Arm::Conventional => !no_x_ray,
                };
                let crossed = [Part::CrossedOver(scope, arm), Part::NotKept(scope)];
                let went = if kept { vec![Part::Kept(scope, arm)] } else { crossed.to_vec() };
                [Part::Compared(scope, Some(arm))].into_iter().chain(went).collect()
            }
            (true, None) => vec![Part::Compared(scope, None), Part::NotKept(scope)],
            (false, _) => vec![Part::Compared(scope, None), Part::NotKept(scope), Part::Outside(scope)],
        }
    }
}

/// The counts from which everyone could work out what a comparison finds of an endpoint in two arms, were
/// nothing adjusted for: their cases, those whose outcome is known, and those that had it.
pub(super) fn behind_a_difference(arms: [Part; 2], endpoint: Endpoint) -> impl Iterator<Item = Count> {
    let [known, had] = known_and_had(endpoint);
    let of_arm = move |part| {
        [Measure::Cases, known, had].map(|measure| Count { measure, part, strategy: OneOrAll::All })
    };
    arms.into_iter().flat_map(of_arm)
}
