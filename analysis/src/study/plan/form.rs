//! A plan as a person writes it, and how it becomes one that can be carried out. Everything
//! that must be mended is said at once.

use super::refusal::{BeyondAll, PlanRefusal, Trouble, shortened, unknown};
use super::{
    AnalysisPlan, Eligibility, LooksForm, PlannedEndpoint, PlannedLooks, RecurrenceForm, RecurrenceWindow,
    number,
};
use crate::study::endpoint::Endpoint;
use quietbeam_schema::vocabulary::{
    AgeBand, Coded, Covariate, Exclusion, MarginScale, MissingCovariate, NearZeroCases, PrimaryMethod,
    ProcedureGroup, ProcedureType, Sensitivity, Strata, SubgroupBy,
};
use serde::{Deserialize, Serialize};

/// A plan as written: words and numbers that nobody has checked.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PlanForm {
    /// A few words.
    pub title: String,
    /// The question in a sentence.
    pub question: String,
    /// Which cases are compared.
    pub eligibility: EligibilityForm,
    /// Code of where cases intended as near-zero are counted; in neither arm if left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub near_zero: Option<String>,
    /// Two-sided confidence level.
    pub level: f64,
    /// Code of the primary method.
    pub method: String,
    /// Code of what the arms are compared within; the centres if left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub strata: Option<String>,
    /// Codes of the covariates.
    pub covariates: Vec<String>,
    /// Code of what stands for a covariate that is not recorded.
    pub missing_covariates: String,
    /// Least share of known outcomes in each arm.
    pub least_known: f64,
    /// Codes of the analyses beside the primary one.
    pub sensitivity: Vec<String>,
    /// Codes of the kinds of patient by which planned endpoints are told apart.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub subgroups: Vec<String>,
    /// The endpoints in the order in which they are tested.
    pub endpoints: Vec<EndpointForm>,
    /// How often the data are looked at; once if left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub looks: Option<LooksForm>,
    /// In which days a recurrence counts; the usual ones if left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub recurrence: Option<RecurrenceForm>,
}

/// Which cases are compared, as written.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct EligibilityForm {
    /// Codes of the procedure groups that are compared whole.
    pub procedure_groups: Vec<String>,
    /// Codes of single procedure types of other groups.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub procedures: Vec<String>,
    /// Codes of the ages that are compared; all if left out.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub age_bands: Vec<String>,
    /// Codes of what is left out.
    pub exclude: Vec<String>,
    /// The least share of its eligible ablations that a centre must have sent in; only with the
    /// exclusion of centres that sent in too few.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_capture: Option<f64>,
}

/// An endpoint as written.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct EndpointForm {
    /// Code of the endpoint.
    pub endpoint: String,
    /// The margin: a proportion without a sign, or a ratio above 1.
    pub margin: f64,
    /// Code of the scale of the margin.
    pub scale: String,
    /// Which side is worse: `lower` for success, `higher` for harm and for a ratio.
    pub worse_when: String,
    /// Why so much worse would still be acceptable.
    pub reason: String,
    /// Where the reason comes from.
    pub source: String,
    /// The proportion expected in the conventional arm.
    pub expected: f64,
}

impl TryFrom<PlanForm> for AnalysisPlan {
    type Error = PlanRefusal;

    fn try_from(form: PlanForm) -> Result<Self, PlanRefusal> {
        Reading { troubles: Vec::new(), new: false }.whole(form)
    }
}

impl AnalysisPlan {
    /// Reads a plan that nobody has registered yet. Beside what every plan must be, each of its margins
    /// leaves room for what is expected; one from before that was asked is still read.
    ///
    /// # Errors
    /// Everything that must be mended.
    pub fn newly_written(form: PlanForm) -> Result<Self, PlanRefusal> {
        Reading { troubles: Vec::new(), new: true }.whole(form)
    }
}

impl From<AnalysisPlan> for PlanForm {
    fn from(plan: AnalysisPlan) -> Self {
        Self {
            title: plan.title,
            question: plan.question,
            eligibility: EligibilityForm {
                procedure_groups: codes_of(&plan.eligibility.procedure_groups),
                procedures: codes_of(&plan.eligibility.procedures),
                age_bands: codes_of(&plan.eligibility.age_bands),
                exclude: codes_of(&plan.eligibility.exclude),
                least_capture: plan.eligibility.least_capture,
            },
            near_zero: (plan.near_zero != NearZeroCases::InNeitherArm)
                .then(|| plan.near_zero.code().to_owned()),
            level: plan.level.level(),
            method: plan.method.code().to_owned(),
            strata: (plan.strata != Strata::Centres).then(|| plan.strata.code().to_owned()),
            covariates: codes_of(&plan.covariates),
            missing_covariates: plan.missing_covariates.code().to_owned(),
            least_known: plan.least_known,
            sensitivity: codes_of(&plan.sensitivity),
            subgroups: codes_of(&plan.subgroups),
            endpoints: plan.endpoints.into_iter().map(EndpointForm::from).collect(),
            looks: match plan.looks {
                PlannedLooks::One => None,
                PlannedLooks::Several(several) => Some(several.into()),
            },
            recurrence: plan.recurrence.form(),
        }
    }
}

impl From<PlannedEndpoint> for EndpointForm {
    fn from(planned: PlannedEndpoint) -> Self {
        let scale = planned.margin.scale();
        Self {
            endpoint: planned.endpoint.code().to_owned(),
            margin: planned.margin.size(),
            scale: scale.code().to_owned(),
            worse_when: planned.endpoint.worse_when(scale).to_owned(),
            reason: planned.reason,
            source: planned.source,
            expected: planned.expected,
        }
    }
}

fn codes_of<C: Coded>(codes: &[C]) -> Vec<String> {
    codes.iter().map(|code| code.code().to_owned()).collect()
}

/// What must be mended so far.
struct Reading {
    troubles: Vec<(String, Trouble)>,
    /// Nobody has registered it yet.
    new: bool,
}

impl Reading {
    fn whole(mut self, form: PlanForm) -> Result<AnalysisPlan, PlanRefusal> {
        match self.plan(form) {
            Some(plan) if self.troubles.is_empty() => Ok(plan),
            _ => Err(PlanRefusal(self.troubles)),
        }
    }

    fn plan(&mut self, form: PlanForm) -> Option<AnalysisPlan> {
        let title = self.text("/title", form.title.clone(), (3, 120));
        let question = self.text("/question", form.question.clone(), (20, 400));
        let eligibility = self.eligibility(&form.eligibility);
        let level = self.number("/level", number::level(form.level));
        let method = self.code::<PrimaryMethod>("/method", &form.method);
        let strata = self.code_or("/strata", form.strata.as_deref(), Strata::Centres);
        let covariates = self.covariates(&form.covariates);
        let missing_covariates =
            self.code::<MissingCovariate>("/missing_covariates", &form.missing_covariates);
        if !(0.5..=1.0).contains(&form.least_known) {
            self.add("/least_known", Trouble::LeastKnown(form.least_known));
        }
        let sensitivity = self.codes::<Sensitivity>("/sensitivity", &form.sensitivity);
        let subgroups = self.codes::<SubgroupBy>("/subgroups", &form.subgroups);
        if method == Some(PrimaryMethod::WithinCentres) && !covariates.is_empty() {
            self.add("/covariates", Trouble::CovariatesUnused);
        }
        if method.is_some_and(|method| method != PrimaryMethod::WithinCentres) && form.covariates.is_empty() {
            self.add("/covariates", Trouble::NoCovariates);
        }
        let endpoints = self.endpoints(&form.endpoints);
        let looks = self.looks(&form);
        let near_zero = self.code_or("/near_zero", form.near_zero.as_deref(), NearZeroCases::InNeitherArm);
        let recurrence = self.each(RecurrenceWindow::read(form.recurrence));
        Some(AnalysisPlan {
            title: title?,
            question: question?,
            eligibility,
            level: level?,
            method: method?,
            strata: strata?,
            covariates,
            missing_covariates: missing_covariates?,
            least_known: form.least_known,
            sensitivity,
            subgroups,
            endpoints,
            looks: looks?,
            near_zero: near_zero?,
            recurrence: recurrence?,
        })
    }

    fn eligibility(&mut self, form: &EligibilityForm) -> Eligibility {
        let groups = self.codes::<ProcedureGroup>("/eligibility/procedure_groups", &form.procedure_groups);
        if form.procedure_groups.is_empty() && form.procedures.is_empty() {
            self.add("/eligibility/procedure_groups", Trouble::NothingNamed(ProcedureGroup::LIST));
        }
        let procedures = self.procedures(&form.procedures, &groups);
        let age_bands = self.codes::<AgeBand>("/eligibility/age_bands", &form.age_bands);
        let exclude = self.codes::<Exclusion>("/eligibility/exclude", &form.exclude);
        if !age_bands.is_empty() && exclude.contains(&Exclusion::Paediatric) {
            self.add("/eligibility/exclude", Trouble::AgesNamedAndLeftOut);
        }
        self.least_capture(&exclude, form.least_capture);
        let least_capture = form.least_capture;
        Eligibility { procedure_groups: groups, procedures, age_bands, exclude, least_capture }
    }

    /// Each type once, by its group or by itself.
    fn procedures(&mut self, given: &[String], groups: &[ProcedureGroup]) -> Vec<ProcedureType> {
        const AT: &str = "/eligibility/procedures";
        let procedures = self.codes::<ProcedureType>(AT, given);
        for procedure in &procedures {
            if *procedure == ProcedureType::DiagnosticOnly {
                self.add(AT, Trouble::NoAblation);
            } else if groups.contains(&procedure.group()) {
                self.add(AT, Trouble::InItsGroup(*procedure));
            }
        }
        procedures
    }

    fn least_capture(&mut self, exclude: &[Exclusion], given: Option<f64>) {
        const AT: &str = "/eligibility/least_capture";
        match (exclude.contains(&Exclusion::LowCapture), given) {
            (true, Some(least)) if (0.5..=1.0).contains(&least) => {}
            (true, given) => self.add(AT, Trouble::LeastCapture(given)),
            (false, Some(_)) => self.add(AT, Trouble::LeastCaptureUnused),
            (false, None) => {}
        }
    }

    fn looks(&mut self, form: &PlanForm) -> Option<PlannedLooks> {
        self.each(PlannedLooks::read(form))
    }

    /// Nothing written is what plans did before there was a choice.
    fn code_or<C: Coded>(&mut self, pointer: &str, given: Option<&str>, usual: C) -> Option<C> {
        given.map_or(Some(usual), |code| self.code(pointer, code))
    }

    fn each<T>(&mut self, read: Result<T, Vec<(&'static str, Trouble)>>) -> Option<T> {
        read.map_err(|troubles| troubles.into_iter().for_each(|(pointer, why)| self.add(pointer, why))).ok()
    }

    fn add(&mut self, pointer: &str, trouble: Trouble) {
        self.troubles.push((pointer.to_owned(), trouble));
    }

    fn text(&mut self, pointer: &str, text: String, (least, most): (usize, usize)) -> Option<String> {
        let text = text.trim().to_owned();
        let length = text.chars().count();
        let trouble = if length < least {
            Trouble::TooShort { length, least }
        } else if length > most {
            Trouble::TooLong { length, most }
        } else if text.chars().any(char::is_control) {
            Trouble::ControlCharacter
        } else {
            return Some(text);
        };
        self.add(pointer, trouble);
        None
    }

    fn code<C: Coded>(&mut self, pointer: &str, given: &str) -> Option<C> {
        let code = C::from_code(given);
        if code.is_none() {
            self.add(pointer, unknown(C::LIST, given));
        }
        code
    }

    fn codes<C: Coded>(&mut self, pointer: &str, given: &[String]) -> Vec<C> {
        let mut codes = Vec::new();
        for (at, text) in given.iter().enumerate() {
            if let Some(code) = self.code::<C>(&format!("{pointer}/{at}"), text) {
                codes.push(code);
            }
        }
        codes.sort_unstable();
        codes.dedup();
        codes
    }

    /// What the strategy itself brings about must not be held constant.
    fn covariates(&mut self, given: &[String]) -> Vec<Covariate> {
        const CAUSED: [&str; 3] = ["ice", "ice_used", "intracardiac_echo"];
        let caused =
            given.iter().position(|name| CAUSED.contains(&name.trim().to_ascii_lowercase().as_str()));
        if let Some(at) = caused {
            self.add(&format!("/covariates/{at}"), Trouble::OnTheWay);
            return Vec::new();
        }
        if let Some(at) = given.iter().position(|name| name.trim().eq_ignore_ascii_case("centre")) {
            self.add(&format!("/covariates/{at}"), Trouble::CentreIsAlwaysIn);
            return Vec::new();
        }
        self.codes("/covariates", given)
    }

    fn number<T>(&mut self, pointer: &str, read: Result<T, Trouble>) -> Option<T> {
        read.map_err(|trouble| self.add(pointer, trouble)).ok()
    }

    fn endpoints(&mut self, forms: &[EndpointForm]) -> Vec<PlannedEndpoint> {
        if forms.is_empty() {
            self.add("/endpoints", Trouble::NoEndpoint);
        }
        let mut endpoints: Vec<PlannedEndpoint> = Vec::new();
        for (at, form) in forms.iter().enumerate() {
            let Some(planned) = self.endpoint(&format!("/endpoints/{at}"), form) else { continue };
            if endpoints.iter().any(|earlier| earlier.endpoint == planned.endpoint) {
                self.add(&format!("/endpoints/{at}/endpoint"), Trouble::Twice(planned.endpoint));
            }
            endpoints.push(planned);
        }
        endpoints
    }

    fn endpoint(&mut self, at: &str, form: &EndpointForm) -> Option<PlannedEndpoint> {
        let endpoint = Endpoint::from_code(&form.endpoint);
        if endpoint.is_none() {
            self.add(&format!("{at}/endpoint"), Trouble::UnknownEndpoint(shortened(&form.endpoint)));
        }
        let scale = self.code::<MarginScale>(&format!("{at}/scale"), &form.scale);
        let side = endpoint
            .zip(scale)
            .filter(|(endpoint, scale)| form.worse_when.trim() != endpoint.worse_when(*scale));
        if let Some((endpoint, scale)) = side {
            self.add(&format!("{at}/worse_when"), Trouble::WrongSide(endpoint, scale));
        }
        let margin = endpoint.zip(scale).map(|of| number::planned_margin(of, form.margin));
        let margin = margin.and_then(|read| self.number(&format!("{at}/margin"), read));
        let reason = self.text(&format!("{at}/reason"), form.reason.clone(), (20, 800));
        let source = self.text(&format!("{at}/source"), form.source.clone(), (3, 300));
        let expected = self.number(&format!("{at}/expected"), number::expected(form.expected));
        let (endpoint, margin, expected) = (endpoint?, margin?, expected?);
        if self.new && !margin.leaves_room((endpoint, expected)) {
            let beyond = BeyondAll { endpoint, margin, expected };
            self.add(&format!("{at}/margin"), Trouble::BeyondAll(beyond));
        }
        Some(PlannedEndpoint { endpoint, margin, reason: reason?, source: source?, expected })
    }
}
