//! What the kit says of itself.

use super::KitFile;
use crate::study::comparison::CAUTIONS;

/// The text that stands first.
pub(super) fn readme(files: &[KitFile], provenance: &str, cases: u32, alone: usize) -> String {
    let mut text = format!(
        "COMPUTE IT AGAIN\n\n{provenance}\n\n\
         Rscript recheck.R computes the planned results from the tables in this folder with the\n\
         functions of base R and prints them beside what the registry found. It ends with the\n\
         largest deviation and fails if any number is further away than 1e-6. It needs no package.\n\n\
         KEEP IT AS YOU KEEP ROWS\n\n\
         The tables of patterns hold no code, date or name, and the order of their lines says\n\
         nothing. But a line is what the models see of one case or of several alike: of {cases} cases\n\
         in the largest table {alone} are alone in their line. Such a line speaks of one person. The\n\
         kit is for those who may read rows of the data cut, and is not for release.\n\n\
         WHAT IT RECOMPUTES\n\n\
         The crude difference with the limits of Miettinen and Nurminen and of Newcombe; the\n\
         difference within the plan's strata; marginal standardisation with CR2 by centre, and the same for\n\
         these centres only; the same with the use of intracardiac echo held alike, which is not the\n\
         total effect and decides nothing; overlap weights with CR2 by centre; Satterthwaite's degrees of freedom;\n\
         the level of this look at the data, by numerical integration over the looks before; the\n\
         decisions of both populations and the claims. Logistic models are fitted by glm().\n\n\
         WHAT IT TAKES AS GIVEN\n\n\
         Which looks were taken before and what each spent; which cases the plan leaves out, how the\n\
         outcome of a case follows from its record, and what stands for a covariate that is not\n\
         recorded: these need the records themselves. The model, sensitivity lines and\n\
         everything exploratory are not recomputed. Where the registry gave no estimate, the reason stands in results.csv and nothing is compared.\n\n\
         FILES\n\n"
    );
    for file in files {
        text.push_str(&format!("{}\n    {}\n", file.name, about(&file.name)));
    }
    text.push_str(
        "\nCentres are numbered in the order of their codes. Arm 1 is zero-fluoroscopy, 0 conventional;\n\
         differences are the first less the second, as proportions.\n\nREAD WITH CARE\n\n",
    );
    for caution in CAUTIONS {
        text.push_str(&format!("- {caution}\n"));
    }
    text
}

fn about(name: &str) -> &'static str {
    match name {
        "recheck.R" => "The script: Rscript recheck.R",
        "methods.R" => "The methods it calls.",
        "plan.json" => "The plan, as it was registered.",
        "plan.csv" => "What the script needs of it; benefit is 1 where more is better.",
        "looks.csv" => {
            "The looks up to this one: cases of each arm they tell as much as, level spent on one side so far."
        }
        "look.csv" => "Which look this is, and the level of the intervals that decide.",
        "counts.csv" => "Cases with a missing outcome, with a known one, and events, by stratum and arm.",
        "results.csv" => "What the registry found.",
        "decisions.csv" => "What both populations decide, and the claims.",
        name if name.ends_with("-with_echo.csv") => {
            "The same as intended, with the use of intracardiac echo among the covariates."
        }
        _ => "Cases by centre, arm, outcome and covariates, as the models see them.",
    }
}
