//! What an analysis plan chooses from. Each definition says what the choice does, so that a
//! plan explains itself.

use super::code_list;

code_list! {
    /// Cases that a plan may leave out, besides those of procedure groups it does not name.
    Exclusion = "exclusion" {
        /// Ventricular tachycardia from the epicardium, which is reached under X-ray almost
        /// everywhere, so that hardly any such case could be in the other arm.
        Epicardial = "epicardial", "Epicardial access";
        /// Congenital heart disease of any complexity, a usual exception to work without X-ray.
        Congenital = "congenital", "Congenital heart disease";
        /// Patients younger than 18, whose procedures and risks are others.
        Paediatric = "paediatric", "Younger than 18";
        /// Cases whose strategy was written down after the procedure had begun, or nobody knows
        /// when: the outcome may have coloured it.
        NotDeclaredBefore = "not_declared_before", "Strategy not declared beforehand";
        /// When the data cut was taken, the centre's ethics approval or its data agreement was not
        /// recorded, was withdrawn, or did not cover the whole quarter of the case.
        ApprovalMissing = "approval_missing", "Approval missing at the cut";
        /// When the data cut was taken, the screening log of the centre's quarter was not entered or
        /// not wholly signed, so that nobody vouches for the cases that were not sent in.
        DenominatorUnsigned = "denominator_unsigned", "Screening log unsigned at the cut";
        /// When the data cut was taken, a question about the strategy or an outcome of the case waited
        /// for an answer.
        QuestionOpen = "question_open", "Critical question open at the cut";
        /// By its screening log the centre had sent in less of its eligible ablations than the plan
        /// asks for, or nobody knows: perhaps only the good ones.
        LowCapture = "low_capture", "Too few of the eligible sent in";
    }
}

code_list! {
    /// Where a plan counts cases in which a brief use of X-ray was intended.
    NearZeroCases = "near_zero_cases" {
        /// They are a group of their own, described apart from both arms.
        InNeitherArm = "in_neither_arm", "In neither arm";
        /// They count with zero-fluoroscopy, and went as intended if X-ray was used no further than
        /// planned: the question is then whether little X-ray is as good.
        WithZeroFluoroscopy = "with_zero_fluoroscopy", "With zero-fluoroscopy";
        /// They count with conventional fluoroscopy, and went as intended if X-ray was used: the
        /// question is then whether none is as good as any.
        WithConventional = "with_conventional", "With conventional";
    }
}

code_list! {
    /// On which scale a margin stands, and everything that is held against it.
    MarginScale = "margin_scale" {
        /// The difference of the proportions, zero-fluoroscopy minus conventional: how many of a
        /// hundred patients more may fare worse.
        RiskDifference = "risk_difference", "Difference, in points";
        /// The ratio of the proportions of what nobody wants, failure or harm, zero-fluoroscopy over
        /// conventional: how many times as often it may happen.
        RiskRatio = "risk_ratio", "Ratio of failures or complications";
    }
}

code_list! {
    /// How the difference between the arms is estimated where a claim hangs on it.
    PrimaryMethod = "primary_method" {
        /// Logistic model of the outcome with arm, centre and covariates; every case is then taken
        /// as treated either way and the risks are averaged. Bias-reduced variance by centre (CR2)
        /// with Satterthwaite's degrees of freedom, which keeps its level with few centres.
        Standardised = "standardised", "Marginal standardisation, CR2 by centre";
        /// Cases weighted to the patients whom either arm might have treated, by a logistic model of
        /// the arm with centre and covariates; variance CR2 by centre.
        OverlapWeighted = "overlap_weighted", "Overlap weights, CR2 by centre";
        /// Difference within centres by Miettinen and Nurminen, without covariates. Speaks of these
        /// centres alone; differences in patients stay in it.
        WithinCentres = "within_centres", "Within centres, Miettinen–Nurminen";
    }
}

code_list! {
    /// Within what the arms are compared where no model holds patients alike.
    Strata = "strata" {
        /// Each centre is compared with itself, so that its own level cancels; what its arms differ in
        /// by kind of procedure stays.
        Centres = "centre", "Centres";
        /// Each procedure group of a centre is compared with itself, so that the kind of procedure
        /// cancels too. It costs cases: those of a group that a centre treated in one way only tell
        /// nothing of a difference.
        CentresAndGroups = "centre_and_procedure_group", "Centres and procedure groups";
    }
}

code_list! {
    /// What was known before the procedure and may differ between the arms. The centre stands in
    /// every model and need not be named.
    Covariate = "covariate" {
        /// Age at the procedure, by the youngest year of its band.
        Age = "age", "Age";
        /// Sex as recorded.
        Sex = "sex", "Sex";
        /// Body mass index in kg/m².
        Bmi = "bmi", "Body mass index";
        /// Left ventricular ejection fraction in per cent.
        Lvef = "lvef", "Ejection fraction";
        /// Left atrial diameter in mm.
        LeftAtrium = "la_diameter", "Left atrial diameter";
        /// Structural heart disease of any kind.
        StructuralDisease = "structural_hd", "Structural heart disease";
        /// Congenital heart disease of any complexity.
        CongenitalDisease = "chd", "Congenital heart disease";
        /// Number of earlier ablations, three or more as three.
        EarlierAblations = "prior_ablation_n", "Earlier ablations";
        /// Anaesthesiologists' physical status class.
        PhysicalStatus = "asa_class", "Physical status class";
        /// Procedure group, one term for each but the first.
        ProcedureGroup = "procedure_group", "Procedure group";
        /// Quarters since the first of the cut: practice changes with time.
        CalendarTime = "calendar_time", "Calendar time";
    }
}

code_list! {
    /// What stands for a covariate that is not recorded in a case.
    MissingCovariate = "missing_covariate" {
        /// The median of the recorded values stands in, with a term that tells such cases apart.
        Indicator = "indicator", "Median and a term of its own";
        /// Cases with any covariate missing leave the adjusted estimates, and are counted.
        CompleteCases = "complete_cases", "Complete cases only";
    }
}

code_list! {
    /// Analyses beside the primary one that show whether one thing drives it.
    Sensitivity = "sensitivity" {
        /// The primary estimate again without each centre in turn.
        LeaveOneCentreOut = "leave_one_centre_out", "Without each centre in turn";
        /// Only cases whose strategy was declared before the first venous access.
        DeclaredBefore = "declared_before", "Declared before the procedure";
        /// The primary estimate within each procedure group.
        ByProcedureGroup = "by_procedure_group", "Within each procedure group";
    }
}

code_list! {
    /// How the error rate is spread over several planned looks at the data. A look earlier or later
    /// than planned spends what the function gives for the cases it has.
    SpendingFunction = "spending_function" {
        /// Hardly anything early, so that the last look decides almost as a single one would:
        /// O'Brien and Fleming's shape, by Lan and DeMets.
        ObrienFlemingType = "obrien_fleming_type", "O'Brien–Fleming type";
        /// Nearly the same at every look, which costs more cases: Pocock's shape, by Lan and DeMets.
        PocockType = "pocock_type", "Pocock type";
        /// A power of the share of the planned cases, with an exponent: 1 spends in proportion to
        /// the cases, more spends later.
        PowerFamily = "power_family", "Power of the cases";
    }
}

code_list! {
    /// Kinds of patient by which a planned endpoint is told apart. Those that a plan names are marked
    /// as planned, the others as exploratory; no verdict hangs on either.
    SubgroupBy = "subgroup" {
        /// Each procedure group by itself.
        ProcedureGroup = "procedure_group", "Procedure group";
        /// Women and men, where it is recorded.
        Sex = "sex", "Sex";
        /// Patients younger than 18 and all others.
        Paediatric = "paediatric", "Younger than 18";
        /// With and without structural heart disease, where it is recorded.
        StructuralDisease = "structural_hd", "Structural heart disease";
        /// With and without congenital heart disease, where it is recorded.
        CongenitalDisease = "chd", "Congenital heart disease";
    }
}
