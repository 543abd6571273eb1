//! Which of the cases of an arm went as intended, and how they hang on those that crossed over.

use super::super::arm::Arm;
use super::super::published::OneOrAll;
use super::arms::{Arms, Plan};
use super::blocks::Given;
use super::counted::{Count, Measure};
use super::part::Part;
use quietbeam_schema::vocabulary::Strategy;

impl Arms {
    /// Divides both arms by how their cases went.
    pub(super) fn divide(&mut self, given: Given<'_>, plan: &Plan, measures: &[Measure]) {
        let count = |measure, part| Count { measure, part, strategy: OneOrAll::All };
        let cases = |part| count(Measure::Cases, part);
        let scope = plan.scope;
        for measure in measures {
            let mut not_kept = vec![count(*measure, Part::Compared(scope, None))];
            for arm in Arm::BOTH {
                let parts = [Part::Compared(scope, Some(arm)), Part::Kept(scope, arm)];
                let [whole, kept] = parts.map(|part| count(*measure, part));
                self.add(given, kept);
                // How many cases crossed over is what cases without X-ray leave of the others, and guarded
                // as such.
                if *measure == Measure::Cases {
                    self.nested.push((kept, whole));
                    continue;
                }
                let crossed = count(*measure, Part::CrossedOver(scope, arm));
                self.add(given, crossed);
                self.totals.push((whole, vec![kept, crossed]));
                let [all, kept] = parts.map(cases);
                self.never_below_zero.push(vec![(all, 1), (kept, -1), (crossed, -1)]);
                not_kept.push(crossed);
            }
            if *measure != Measure::Cases {
                self.totals.push((count(*measure, Part::NotKept(scope)), not_kept));
            }
        }
        self.tell_by_x_ray(given, plan);
    }

    /// A conventional case went as intended with X-ray, a zero-fluoroscopy case without; of those intended
    /// as near-zero nobody can tell.
    fn tell_by_x_ray(&mut self, given: Given<'_>, plan: &Plan) {
        let of = |measure, part| Count { measure, part, strategy: OneOrAll::All };
        let arm = |measure, arm| of(measure, Part::Compared(plan.scope, Some(arm)));
        let kept = |arm| of(Measure::Cases, Part::Kept(plan.scope, arm));
        Arm::BOTH.into_iter().for_each(|of| self.add(given, arm(Measure::NoXRay, of)));
        let conventional = arm(Measure::Cases, Arm::Conventional);
        let without = arm(Measure::NoXRay, Arm::Conventional);
        self.totals.push((conventional, vec![kept(Arm::Conventional), without]));
        let zero = Arm::ZeroFluoroscopy;
        let (kept, without) = (kept(zero), arm(Measure::NoXRay, zero));
        if plan.of_arm(zero).any(|strategy| strategy == Strategy::NearZero) {
            let without_of_zero = plan.compared(Measure::NoXRay, Strategy::Zero, zero);
            let near = plan.compared(Measure::Cases, Strategy::NearZero, zero);
            self.never_below_zero.push(vec![(kept, 1), (without, -1)]);
            self.never_below_zero.push(vec![(without_of_zero, 1), (near, 1), (kept, -1)]);
        } else {
            self.totals.push((kept, vec![without]));
        }
    }
}
