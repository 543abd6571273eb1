//! Complexity is not recorded, but six recorded facts together explain three
//! quarters of it, so that adjustment does something and leaves something undone.

use crate::reading::{codes, records};
use quietbeam::demo::Scenario;
use quietbeam_schema::entries::Entries;

/// The recorded facts as an analyst would code them.
fn facts(case: &Entries) -> [f64; 6] {
    let number = |key: &str| case.given(key).unwrap().parse::<f64>().unwrap();
    let structural = match case.given("structural_hd").unwrap() {
        "none" => 0.0,
        "nicm" if case.given("proc_primary").unwrap().starts_with("vt_") => 0.0,
        _ => 1.0,
    };
    [
        number("lvef"),
        number("la_diameter"),
        number("bmi"),
        number("prior_ablation_n"),
        number("asa_class"),
        structural,
    ]
}

/// Solves a symmetric positive definite system by Gaussian elimination.
fn solve<const N: usize>(mut a: [[f64; N]; N], mut b: [f64; N]) -> [f64; N] {
    for pivot in 0..N {
        for row in pivot + 1..N {
            let factor = a[row][pivot] / a[pivot][pivot];
            let above = a[pivot];
            a[row].iter_mut().zip(above).for_each(|(cell, over)| *cell -= factor * over);
            b[row] -= factor * b[pivot];
        }
    }
    for row in (0..N).rev() {
        let known: f64 = (row + 1..N).map(|column| a[row][column] * b[column]).sum();
        b[row] = (b[row] - known) / a[row][row];
    }
    b
}

/// The type of procedure, the facts and the complexity of one case.
type Row = (String, [f64; 6], f64);

/// The share of the variance of complexity that the facts explain, by least
/// squares within types of procedure.
fn share_explained(mut rows: Vec<Row>) -> f64 {
    rows.sort_by(|one, other| one.0.cmp(&other.0));
    let (mut squares, mut products, mut total) = ([[0.0; 6]; 6], [0.0; 6], 0.0);
    for of_type in rows.chunk_by(|one, other| one.0 == other.0) {
        let count = of_type.len() as f64;
        let centre = |of: &dyn Fn(&Row) -> f64| of_type.iter().map(of).sum::<f64>() / count;
        let means: [f64; 6] = std::array::from_fn(|at| centre(&|row| row.1[at]));
        let mean = centre(&|row| row.2);
        for (_, facts, complexity) in of_type {
            for one in 0..6 {
                products[one] += (facts[one] - means[one]) * (complexity - mean);
                for other in 0..6 {
                    squares[one][other] += (facts[one] - means[one]) * (facts[other] - means[other]);
                }
            }
            total += (complexity - mean).powi(2);
        }
    }
    let slopes = solve(squares, products);
    slopes.iter().zip(products).map(|(slope, product)| slope * product).sum::<f64>() / total
}

#[test]
fn six_recorded_facts_explain_three_quarters_of_complexity() {
    let network = Scenario::generate(1, 30_000);
    let mut rows = Vec::new();
    for centre in network.centres.iter().filter(|centre| centre.centre.code.to_string() != "S05") {
        for (case, drawn) in records(&centre.files(&codes(centre)).cases).iter().zip(centre.drawn()) {
            rows.push((case.given("proc_primary").unwrap().to_owned(), facts(case), drawn.complexity));
        }
    }
    let count = rows.len() as f64;
    let share = share_explained(rows);
    println!("share explained: {share:.4}");
    // The standard error of a squared correlation R² is 2R(1 − R²)/√n: here
    // 0.0026; the band is four of them.
    let band = 4.0 * 2.0 * 0.75_f64.sqrt() * 0.25 / count.sqrt();
    assert!((share - 0.75).abs() < band, "{share}");
}
