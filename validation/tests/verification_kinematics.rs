//! Verification: crank kinematics, port timing, squish and areas against exact tables.

#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

use freshcharge_sim::crank::Crank;
use freshcharge_sim::geometry::{angle_area, squish_velocity};
use freshcharge_sim::spec::Window;
use freshcharge_sim::units::{DEG, angular_speed};
use freshcharge_validation::{Tolerance, reference};

const PRINTED: Tolerance = Tolerance::relative(2e-11, "digits of the printed table");

#[test]
fn slider_crank_follows_the_exact_table() {
    let table = reference!("slider_crank.csv");
    for row in 0..table.len() {
        let number = |head| table.number(row, head);
        let crank = Crank::new(number("r_m"), number("L_m"), number("e_m"));
        let omega = angular_speed(number("rpm"));
        let here = crank.at(number("theta_from_true_TDC_deg") * DEG);
        let near = PRINTED.or_absolute(1e-13);
        near.check("travel", here.drop, number("x_from_TDC_m"));
        PRINTED.or_absolute(2e-9).check("speed", here.slope * omega, number("v_m_s"));
        PRINTED.or_absolute(2e-6).check(
            "acceleration",
            here.curvature * omega * omega,
            number("a_m_s2"),
        );
    }
    assert!(table.len() > 10);
}

#[test]
fn port_timing_follows_the_exact_triangle() {
    let table = reference!("port_timing.csv");
    let crank = Crank::new(0.02725, 0.110, 0.0);
    for row in 0..table.len() {
        let opens = crank.angle_down(table.number(row, "x_from_TDC_m")).unwrap();
        PRINTED.check("opens", opens / DEG, table.number(row, "theta_open_deg"));
        let duration = 360.0 - 2.0 * opens / DEG;
        PRINTED.check("duration", duration, table.number(row, "duration_deg"));
    }
}

fn rectangle(chord: f64, roof: f64, floor: f64) -> Window {
    Window {
        centre: 0.0,
        chord,
        roof_depth: roof,
        floor_depth: floor,
        roof_radius: 0.0,
        floor_radius: 0.0,
        roof_arch: 0.0,
        axial_angle: 0.0,
        radial_angle: 0.0,
    }
}

#[test]
fn angle_areas_follow_the_worked_rectangles() {
    let table = reference!("time_area_worked.csv");
    let crank = Crank::new(0.02725, 0.110, 0.0);
    let near = Tolerance::relative(2e-9, "ten printed digits");
    let opens = |x: f64| crank.angle_down(x).unwrap();
    let exhaust = rectangle(0.040, 0.0275, 0.0545);
    let transfer = rectangle(0.090, 0.0425, 0.0545);
    for row in 0..table.len() {
        let (window, from, to) = match table.text(row, "port") {
            "exhaust whole open period" => {
                (&exhaust, opens(0.0275), freshcharge_sim::units::TURN - opens(0.0275))
            }
            "transfer whole open period" => {
                (&transfer, opens(0.0425), freshcharge_sim::units::TURN - opens(0.0425))
            }
            _ => (&exhaust, opens(0.0275), opens(0.0425)),
        };
        let area = angle_area(window, &crank, 0.0, (from, to)).unwrap();
        near.check(
            table.text(row, "port"),
            area / DEG * 1e6,
            table.number(row, "angle_area_mm2deg"),
        );
    }
}

#[test]
fn squish_velocity_follows_the_worked_case() {
    let table = reference!("squish_velocity.csv");
    let crank = Crank::new(0.02725, 0.110, 0.0);
    let near = Tolerance::relative(2e-7, "eight printed digits").or_absolute(1e-6);
    for row in 0..table.len() {
        let here = crank.at(table.number(row, "theta_deg_from_TDC") * DEG);
        let speed = here.slope * angular_speed(11_000.0);
        let v = squish_velocity(0.054, 0.030, 0.001 + here.drop, 8e-6, speed);
        near.check("squish velocity", v, table.number(row, "v_squish_m_s").abs());
    }
}

/// Workshop example: bore 55, stroke 51.5, rod 103 mm (invented engine, values computed exactly by
/// the triangle of crank, rod and bore axis).
#[test]
fn the_workshop_example_holds_to_its_printed_digits() {
    let crank = Crank::new(0.02575, 0.103, 0.0);
    let printed = Tolerance::absolute(6e-7, "six printed decimals");
    for (angle, travel) in
        [(0.0, 0.0), (45.0, 9.164149), (90.0, 29.020679), (119.5, 40.897735), (180.0, 51.5)]
    {
        printed.check("travel", crank.at(angle * DEG).drop * 1e3, travel);
    }
    for (travel, angle) in [
        (10.0, 47.194678),
        (20.0, 70.379512),
        (29.7, 91.516904),
        (40.9, 119.506626),
        (50.0, 157.406639),
    ] {
        printed.check("angle", crank.angle_down(travel * 1e-3).unwrap() / DEG, angle);
    }
    let (eo, to) = (crank.angle_down(0.0297).unwrap(), crank.angle_down(0.0409).unwrap());
    let area = angle_area(&rectangle(0.036, 0.0297, 0.0515), &crank, 0.0, (eo, to)).unwrap();
    Tolerance::absolute(6e-5, "four printed decimals").check(
        "angle-area",
        area / DEG * 1e6,
        5890.4704,
    );
    // a spacer of 1 mm: durations 181.4 and 126.7, blowdown 0.64° less
    let raised = |x: f64| 360.0 - 2.0 * crank.angle_down(x - 1e-3).unwrap() / DEG;
    Tolerance::absolute(0.06, "one printed decimal").check("exhaust", raised(0.0297), 181.4);
    Tolerance::absolute(0.06, "one printed decimal").check("transfer", raised(0.0409), 126.7);
}
