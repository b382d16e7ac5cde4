//! The raw geometry of saw, jig and joint, against the algebra of the joints.
//!
//! What is computed here shares nothing with the joints but the numbers that go in: points on cheeks from planes in
//! space, teeth one by one as they go round, squares pushed into a leg, boards stretched along and across their
//! rings. The algebra is first order in small angles; every tolerance says what it leaves out.

use kerfwise::joint::joints::{BoxJoint, Dowels, Frame, HalfLap, SlidingDovetail, StopCut};
use kerfwise::joint::wood::{Coefficient, Moisture, Movement, Species};
use kerfwise::joint::{
    BackStep, BladeHeight, CheekSize, CutAngle, Cuts, FaceStep, Flange, Heel, HollowChisel, Kerf,
    MoistureBetweenCuts, Mortise, RunOut, ShiftedTenon, Slant, StackedCutterTenon, TenonFit,
    Travel, TurnedTenon,
};
use kerfwise::source::{Dimension, Length, LengthUnits, MoistureContent, Quantity, Source};
use kerfwise::stack::{Band, Expr, Stack};
use kerfwise_numeric::float;
use proptest::prelude::*;

/// Rounding of some ten operations on numbers of about an inch.
const ROUNDING: f64 = 1e-14;

fn length(name: &str) -> Source {
    Source::new(name, 0.0.inch()).build().expect("a good name")
}

fn sized(name: &str, inches: f64) -> Source {
    let source = Source::new(name, inches.inch()).build();
    source.expect("a good name and length")
}

fn angle(name: &str, radians: f64) -> Source {
    let quantity = Quantity::new(radians, Dimension::ANGLE);
    Source::new(name, quantity).build().expect("a good name")
}

fn cuts(name: &str, errors: [f64; 2]) -> Cuts {
    Cuts {
        first: sized(&format!("{name}.first"), errors[0]),
        second: sized(&format!("{name}.second"), errors[1]),
    }
}

fn wide() -> Band {
    Band::within(1.inch()).expect("above 0")
}

#[track_caller]
fn value(stack: &Stack, outcome: &str) -> f64 {
    let outcome = stack.outcome(outcome).expect("the outcome is there");
    outcome.evaluate(&[]).expect("defined").raw()
}

type Point = [f64; 3];

fn dot(a: Point, b: Point) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// What one cut is off by, and how jig and blade stand.
#[derive(Debug, Clone, Copy)]
struct Cut {
    /// The work stands off the jig by so much.
    seat: f64,
    /// The kerf is wider than usual by so much.
    kerf: f64,
    /// The jig's face leans by so much at the top, away from square, about the way of the saw.
    jig_lean: f64,
    /// The blade leans the same way by so much.
    blade_lean: f64,
    /// The jig's face is turned by so much about the vertical.
    yaw: f64,
}

impl Cut {
    fn angle(&self) -> CutAngle {
        // The tip is down: a jig whose top leans towards the blade brings the tip away from it.
        let lean = self.jig_lean - self.blade_lean;
        CutAngle {
            lean: Expr::constant(Quantity::new(lean, Dimension::ANGLE)),
            yaw: Expr::constant(Quantity::new(self.yaw, Dimension::ANGLE)),
        }
    }

    /// How far, square to the face that lies against the jig, the cut is from a point of that face.
    ///
    /// The way of the saw is y, up is z, and the jig moves along x. The face of the jig goes through `jig` on
    /// the x-axis, in the middle of the cheek; the side of the cut through `blade`. `up` and `along` are the
    /// coordinates of the point on the face: along the length of the rail and along its width.
    fn distance(&self, jig: f64, blade: f64, up: f64, along: f64) -> f64 {
        let (sin_l, cos_l) = float::sin_cos(self.jig_lean);
        let (sin_y, cos_y) = float::sin_cos(self.yaw);
        // Axes of the work: square to its face, along its width, along its length; leaning about y, then
        // turned about z.
        let normal = [cos_l * cos_y, -cos_l * sin_y, -sin_l];
        let width = [sin_y, cos_y, 0.0];
        let length = [sin_l * cos_y, -sin_l * sin_y, cos_l];
        // The blade is a plane along y that leans about y.
        let (sin_b, cos_b) = float::sin_cos(self.blade_lean);
        let blade_normal = [cos_b, 0.0, -sin_b];
        let start: Point =
            std::array::from_fn(|i| along * width[i] + up * length[i] + self.seat * normal[i]);
        let start = [start[0] + jig, start[1], start[2]];
        let from_blade = dot(blade_normal, [start[0] - blade, start[1], start[2]]);
        -from_blade / dot(blade_normal, normal)
    }
}

fn any_cut() -> impl Strategy<Value = Cut> {
    let half_degree = 0.5_f64.to_radians();
    let small = move || -half_degree..half_degree;
    (-0.003..0.003, -0.002..0.002, small(), small(), small()).prop_map(
        |(seat, kerf, jig_lean, blade_lean, yaw)| Cut {
            seat,
            kerf,
            jig_lean,
            blade_lean,
            yaw,
        },
    )
}

const SIZE: CheekSize = CheekSize {
    length: Length::from_inches(1.25),
    width: Length::from_inches(3.0),
};

/// Middle and corners of a cheek: up the length (the tip is down, so up is towards the shoulder), and along the width
/// (the edge that leads in the first cut is at -1.5).
const MIDDLE: [f64; 2] = [0.0, 0.0];
const CORNERS: [[f64; 2]; 4] = [[-0.625, -1.5], [-0.625, 1.5], [0.625, -1.5], [0.625, 1.5]];

/// Thickness in the middle, tapers, and thickness at the fattest corner.
struct Felt {
    middle: f64,
    taper_length: f64,
    taper_width: f64,
    fattest: f64,
}

impl Felt {
    fn of(thickness: impl Fn([f64; 2]) -> f64) -> Self {
        let [tip_lead, tip_trail, root_lead, root_trail] = CORNERS.map(&thickness);
        Self {
            middle: thickness(MIDDLE),
            taper_length: (tip_lead + tip_trail - root_lead - root_trail) / 2.0,
            taper_width: (tip_lead + root_lead - tip_trail - root_trail) / 2.0,
            fattest: tip_lead.max(tip_trail).max(root_lead).max(root_trail),
        }
    }

    /// What the algebra leaves out, with every angle up to ½° = 8.7e-3 rad: travel and distance are dialled square to
    /// the blade and count square to the face, up to (l² + y²)/2 + b·l = 1.5e-4 of the lengths that are taken together;
    /// a lean is a little less seen along the saw's way (two cuts, 1.25 · l · y²/2 = 4e-7); a yaw is a little more
    /// in a leaning jig (two cuts, 3 · y · (l²/2 + b·l) = 3e-6).
    fn check(&self, stack: &Stack, middle: f64, lengths: f64) -> Result<(), TestCaseError> {
        let square = 1.6e-4 * lengths;
        let [length, width] = [1e-6, 7e-6];
        prop_assert!(
            (middle - self.middle).abs() < square,
            "{middle} {}",
            self.middle
        );
        for (name, geometry, tolerance) in [
            (Slant::TAPER_LENGTH, self.taper_length, length),
            (Slant::TAPER_WIDTH, self.taper_width, width),
            (TenonFit::FIT, self.fattest, square + (length + width) / 2.0),
        ] {
            let algebra = value(stack, name);
            prop_assert!(
                (algebra - geometry).abs() < tolerance,
                "{name}: {algebra} {geometry}"
            );
        }
        Ok(())
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, ..ProptestConfig::default() })]

    /// Far cheek, jig moved over, near cheek: both measured from the same face.
    #[test]
    fn off_one_face(first in any_cut(), second in any_cut(), travel in 0.45..0.55_f64, kerf in 0.11..0.13_f64) {
        let (jig, blade) = (0.0, 0.6);
        let thickness = |[up, along]: [f64; 2]| {
            let far = first.distance(jig, blade - (kerf + first.kerf) / 2.0, up, along);
            let near = second.distance(jig + travel, blade + (kerf + second.kerf) / 2.0, up, along);
            far - near
        };
        let nothing = Mortise::at_feel(&length("mortise"));
        let joint = ShiftedTenon::new(Travel::of(travel.inch()).expect("above 0"), Kerf::from_source(&sized("kerf", kerf)), nothing)
            .seating(cuts("seat", [first.seat, second.seat]))
            .kerf_change(cuts("change", [first.kerf, second.kerf]));
        let middle = value(&joint.clone().stack().expect("sound"), "fit");
        let slant = Slant::off_one_face(SIZE, [&first.angle(), &second.angle()]);
        let stack = joint.slant(slant).stack().expect("sound");
        // Far cheek at 0.6 in, near cheek at 0.1 in.
        Felt::of(thickness).check(&stack, middle, 0.7)?;
    }

    /// One face against the jig, then the other: turned about its length, the edge in front goes to the back.
    #[test]
    fn turned_over(first in any_cut(), second in any_cut(), distance in 0.5..0.6_f64, stock in 0.7..0.8_f64) {
        let jig = 0.0;
        let side = |cut: &Cut| distance - cut.kerf / 2.0;
        let thickness = |[up, along]: [f64; 2]| {
            let one = first.distance(jig, side(&first), up, along);
            let other = second.distance(jig, side(&second), up, -along);
            one - (stock - other)
        };
        let tenon = TurnedTenon::new(sized("distance", distance), &sized("stock", stock))
            .seating(cuts("seat", [first.seat, second.seat]))
            .kerf_change(cuts("change", [first.kerf, second.kerf]))
            .tenon();
        let fit = |tenon| TenonFit::new(tenon, Mortise::at_feel(&length("mortise"))).stack().expect("sound");
        let middle = value(&fit(tenon.clone()), "fit");
        let slant = Slant::turned_over(SIZE, [&first.angle(), &second.angle()]);
        Felt::of(thickness).check(&fit(tenon.with_slant(slant)), middle, 2.0 * distance)?;
    }

    /// The work flat on the table, over a cutter; first on its reference face.
    #[test]
    fn stacked_cutter(height in 0.15..0.25_f64, stock in 0.7..0.8_f64, lift in [-0.003..0.003_f64, -0.003..0.003_f64]) {
        // Heights above the table: the face that lies down at each cut, and what is cut away above it.
        let near = height - lift[0];
        let far = stock - (height - lift[1]);
        let tenon = StackedCutterTenon::new(sized("height", height), &sized("stock", stock))
            .seating(cuts("lift", lift))
            .tenon();
        let joint = TenonFit::new(tenon, Mortise::at_feel(&length("mortise"))).face_step(length("wall"), wide());
        let stack = joint.stack().expect("sound");
        prop_assert!((value(&stack, "fit") - (far - near)).abs() < ROUNDING);
        prop_assert!((value(&stack, "face_step") - (far + near) / 2.0).abs() < ROUNDING);
    }

    /// The joint put together: the leg's reference face is at 0, the rail stands where its tenon sits in the middle
    /// of the mortise.
    #[test]
    fn steps_of_the_faces(
        seat in [-0.003..0.003_f64, -0.003..0.003_f64],
        distance in 0.5..0.6_f64,
        cheek in 0.6..0.7_f64,
        mortise in 0.37..0.38_f64,
        wall in 0.3..0.4_f64,
        rail in 0.7..0.8_f64,
        leg in 1.0..1.5_f64,
    ) {
        let mortise_of = Mortise::at_feel(&sized("mortise", mortise));
        let band = wide();
        let back = (sized("rail", rail), sized("leg", leg), band);
        let check = |stack: Stack, near: f64, far: f64| {
            let rail_face = wall + mortise / 2.0 - (near + far) / 2.0;
            let rail_back = rail_face + rail;
            // Proud in front is towards the viewer, below 0; proud at the back is beyond the leg.
            prop_assert!((value(&stack, "face_step") - -rail_face).abs() < ROUNDING);
            prop_assert!((value(&stack, "back_step") - (rail_back - leg)).abs() < ROUNDING);
            prop_assert!((value(&stack, "fit") - (far - near - mortise)).abs() < ROUNDING);
            Ok(())
        };
        let step = FaceStep { first_cheek: sized("cheek", cheek), wall: sized("wall", wall), band, back: Some(back.clone()) };
        let shifted = ShiftedTenon::new(Travel::of(0.5.inch()).expect("above 0"), Kerf::from_source(&sized("kerf", 0.125)), mortise_of.clone());
        let stack = shifted.seating(cuts("seat", seat)).face_step(step).stack().expect("sound");
        // The blade's inner side is at the far cheek; then the jig goes 0.5 towards it, and the kerf's outer side cuts.
        let (far, near) = (cheek - seat[0], cheek + 0.125 - (0.5 + seat[1]));
        check(stack, near, far)?;

        let tenon = TurnedTenon::new(sized("distance", distance), &back.0).seating(cuts("seat", seat)).tenon();
        let (rail_of, leg_of, band) = back;
        let joint = TenonFit::new(tenon, mortise_of)
            .face_step(sized("wall", wall), band)
            .back_step(BackStep { rail: rail_of, leg: leg_of, band });
        check(joint.stack().expect("sound"), rail - (distance - seat[1]), distance - seat[0])?;
    }

    /// The first cheek moves with the wood behind it before the second is cut.
    #[test]
    fn wood_that_swells_between_the_cuts(far in 0.5..0.75_f64, tenon in 0.3..0.4_f64, gain in -2.0..2.0_f64) {
        let coefficient = 0.00169;
        let near = far - tenon;
        let swollen = far * (1.0 + coefficient * gain);
        let per_percent = Dimension::NUMBER.per(Dimension::MOISTURE).expect("small exponents");
        let number = |name: &str, quantity: Quantity| Source::new(name, quantity).build().expect("a good name");
        let moisture = MoistureBetweenCuts {
            first_cheek: sized("far", far),
            coefficient: number("c", Quantity::new(coefficient, per_percent)),
            change: number("gain", MoistureContent::from_percent(gain).into()),
        };
        let travel = Travel::of((tenon + 0.125).inch()).expect("above 0");
        let joint = ShiftedTenon::new(travel, Kerf::from_source(&sized("kerf", 0.125)), Mortise::at_feel(&length("mortise")));
        let stack = joint.moisture(moisture).stack().expect("sound");
        prop_assert!((value(&stack, "fit") - (swollen - near)).abs() < ROUNDING);
    }

    /// Teeth one by one: each has its corners, and is brought to one side or the other by the wobble of plate and
    /// flange where it stands.
    #[test]
    fn teeth_on_a_wobbling_plate(
        count in 10_usize..80,
        plate in 0.0..0.004_f64,
        flange in 0.0..0.001_f64,
        phase in -3.1..3.1_f64,
        start in 0.0..std::f64::consts::TAU,
    ) {
        let (width, ratio) = (0.123, 4.0);
        let sides = (0..count).map(|i| {
            let at = start + std::f64::consts::TAU * i as f64 / count as f64;
            let off = plate / 2.0 * float::cos(at) + ratio * flange / 2.0 * float::cos(at + phase);
            (off - width / 2.0, off + width / 2.0)
        });
        let (left, right) = sides.fold((f64::MAX, f64::MIN), |(l, r), (a, b)| (l.min(a), r.max(b)));
        let on = Flange {
            run_out: sized("flange", flange),
            radius: 1.25.inch(),
            blade_radius: 5.inch(),
            phase: angle("phase", phase),
        };
        let rim = RunOut::of_plate(&sized("plate", plate)).on_flange(&on).expect("radii above 0");
        let kerf = Kerf::from_teeth(&sized("tooth", width), &rim);
        let stack = Stack::builder().outcome_without_band("kerf", kerf.expr()).build().expect("sound");
        let short = value(&stack, "kerf") - (right - left);
        // No tooth stands just where the wobble is widest: at most half a pitch from there on either side.
        let rim_run_out = value(&stack, "kerf") - width;
        let half_pitch = std::f64::consts::PI / count as f64;
        prop_assert!(short > -ROUNDING && short <= rim_run_out * (1.0 - float::cos(half_pitch)) + ROUNDING);
    }

    /// The blade as a thin board, askew: what it sweeps when the work goes by.
    #[test]
    fn a_blade_askew(heel in -0.02..0.02_f64, engaged in 1.0..8.0_f64) {
        let (thick, over): (f64, f64) = (0.125, 10.0);
        let askew = float::asin(heel / over);
        let (sine, cosine) = float::sin_cos(askew);
        // Corners of the engaged part: half its length along the blade, half its thickness across.
        let corners = [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)];
        let across = corners.map(|(along, side)| along * engaged / 2.0 * sine + side * thick / 2.0 * cosine);
        let swept = across.iter().fold(f64::MIN, |a, &b| a.max(b)) - across.iter().fold(f64::MAX, |a, &b| a.min(b));
        let heel = Heel { heel: sized("heel", heel), over: over.inch(), engaged: engaged.inch() };
        let kerf = Kerf::from_source(&sized("cut", thick)).heel(&heel).expect("lengths above 0");
        let stack = Stack::builder().outcome_without_band("kerf", kerf.expr()).build().expect("sound");
        // Thickness seen askew: 0.125 · (0.02/10)² / 2.
        prop_assert!((value(&stack, "kerf") - swept).abs() < 2.6e-7);
    }

    /// The teeth by their radii, the rail on its end.
    #[test]
    fn how_high_the_blade_cuts(
        radii in proptest::collection::vec(4.998..5.002_f64, 24),
        axis in -3.8..-3.7_f64,
        chip in [0.0..0.003_f64, 0.0..0.003_f64],
        shoulder in 1.2..1.3_f64,
    ) {
        let highest = radii.iter().fold(f64::MIN, |a, &b| a.max(b));
        let gauged = axis + radii[0];
        let joint = BladeHeight::new(sized("height", gauged), sized("shoulder", shoulder))
            .tips(&sized("tips", highest - radii[0]))
            .support(cuts("chip", chip))
            .mortise_depth(&sized("depth", 1.375), wide());
        let stack = joint.stack().expect("sound");
        for (name, chip) in [(BladeHeight::FIRST, chip[0]), (BladeHeight::SECOND, chip[1])] {
            // The rail's end stands on the chip, its shoulder line so much above.
            let overcut = axis + highest - (chip + shoulder);
            prop_assert!((value(&stack, name) - overcut).abs() < ROUNDING);
        }
        prop_assert!((value(&stack, BladeHeight::BOTTOM) - (1.375 - shoulder)).abs() < ROUNDING);
    }

    /// Squares pushed in one beside the other, each turned by the twist: the wall is how far they reach, place by place.
    #[test]
    fn a_twisted_hollow_chisel(twist in -0.02..0.02_f64, spacing in 0.05..0.34_f64) {
        let side = 0.375;
        // Height of the upper edge of a square about (0, 0) at x, if the square is there.
        let top = |x: f64| {
            let (sine, cosine) = float::sin_cos(twist);
            // The square is where |x cos + y sin| and |y cos − x sin| are at most half the side.
            let by_end = if sine.abs() > 1e-12 {
                let ends = [(side / 2.0 - x * cosine) / sine, (-side / 2.0 - x * cosine) / sine];
                ends[0].max(ends[1])
            } else if (x * cosine).abs() <= side / 2.0 {
                f64::MAX
            } else {
                f64::MIN
            };
            let by_side = (side / 2.0 + x * sine) / cosine;
            let y = by_end.min(by_side);
            let low = (-side / 2.0 + x * sine) / cosine;
            if y >= low { y } else { f64::MIN }
        };
        let wall = |x: f64| (-12..=12).map(|i| top(x - f64::from(i) * spacing)).fold(f64::MIN, f64::max);
        let places = (0..10_000).map(|i| (f64::from(i) / 10_000.0 - 0.5) * 2.0 * spacing);
        let (ridge, hollow) = places.fold((f64::MAX, f64::MIN), |(r, h), x| (r.min(wall(x)), h.max(wall(x))));
        let push = |spacing: f64| {
            let (chisel, twist) = (sized("chisel", side), angle("twist", twist));
            let mortise = Mortise::hollow_chisel(&HollowChisel { chisel, twist, spacing: spacing.inch() }).expect("close enough");
            let stack = Stack::builder().outcome_without_band("width", mortise.expr()).build().expect("sound");
            value(&stack, "width")
        };
        // The places are 2/10,000 of the spacing apart on walls that slope by 0.02: 1.4e-6 in; both walls are alike.
        prop_assert!((push(spacing) - 2.0 * ridge).abs() < 3e-6, "{} {}", push(spacing), 2.0 * ridge);
        prop_assert!((push(0.0) - 2.0 * hollow).abs() < 3e-6);
    }

    /// A stiff tenon between two leaning walls, looked at at many depths.
    #[test]
    fn walls_that_lean(first in -0.03..0.03_f64, second in -0.03..0.03_f64, reach in 0.5..2.0_f64) {
        let opening = |depth: f64| 0.375 - depth * float::tan(first) - depth * float::tan(second);
        let narrowest = (0..=100).map(|i| opening(reach * f64::from(i) / 100.0)).fold(f64::MAX, f64::min);
        let mortise = Mortise::geometric(&sized("width", 0.375)).leaning(reach.inch(), &angle("a", first), &angle("b", second));
        let stack = Stack::builder().outcome_without_band("width", mortise.expr()).build().expect("sound");
        prop_assert!((value(&stack, "width") - narrowest).abs() < ROUNDING);
    }

    /// A stiff straight tenon between two walls of any gentle arc: each cheek is a plane, and lies on the highest place
    /// of its wall or on both ends.
    #[test]
    fn walls_that_bow(first in -0.01..0.01_f64, second in -0.01..0.01_f64, long in 0.5..3.0_f64) {
        let wall = |bow: f64, at: f64| bow * (1.0 - float::powi(2.0 * at / long - 1.0, 2));
        let highest = |bow: f64| (0..=100).map(|i| wall(bow, long * f64::from(i) / 100.0)).fold(f64::MIN, f64::max);
        let mortise = Mortise::geometric(&sized("width", 0.375)).bowed(&sized("a", first), &sized("b", second));
        let stack = Stack::builder().outcome_without_band("width", mortise.expr()).build().expect("sound");
        prop_assert!((value(&stack, "width") - (0.375 - highest(first) - highest(second))).abs() < ROUNDING);
    }

    /// A line drawn on the end of a board at an angle to its radius: both ends move as radius and rings do.
    #[test]
    fn a_board_between_flatsawn_and_quartersawn(degrees in 0.0..90.0_f64, from in 6.0..14.0_f64, to in 6.0..14.0_f64) {
        let beech = Species::named("American beech").expect("in the table");
        let (radial, tangential) = (beech.radial().raw() * (to - from), beech.tangential().raw() * (to - from));
        let (sine, cosine) = float::sin_cos(degrees.to_radians());
        let stretched = float::hypot((1.0 + radial) * cosine, (1.0 + tangential) * sine) - 1.0;
        let rings = angle("rings", degrees.to_radians());
        let board = beech.factor("board").build().expect("a good name");
        let percent = |x| Moisture::known(MoistureContent::from_percent(x));
        let movement = Movement { size: 1.inch().into(), from: percent(from), to: percent(to) };
        let change = movement.linear(&Coefficient::at_ring_angle(beech, &rings, &board)).expect("in range");
        let stack = Stack::builder().outcome_without_band("change", &change).build().expect("sound");
        // A small strain turned is first order: (difference of the strains)² / 8, with 8 % of 0.0024 each.
        let left_out = (tangential - radial) * (tangential - radial) / 8.0;
        prop_assert!((value(&stack, "change") - stretched).abs() <= left_out * 1.05 + ROUNDING);
    }

    /// Two parts laid into each other's notch until the floors of the notches meet.
    #[test]
    fn a_half_lap(stock in [0.7..0.8_f64, 0.7..0.8_f64], cut in [0.3..0.4_f64, 0.3..0.4_f64]) {
        // The upper part from 0 up, notched from below; the lower part's notch floor meets it at cut[0].
        let lower_top = cut[0] + cut[1];
        let lower_bottom = lower_top - stock[1];
        let joint = HalfLap {
            upper_stock: sized("upper", stock[0]),
            lower_stock: sized("lower", stock[1]),
            upper_cut: (&sized("upper_cut", cut[0])).into(),
            lower_cut: (&sized("lower_cut", cut[1])).into(),
            band: wide(),
        };
        let stack = joint.stack().expect("sound");
        prop_assert!((value(&stack, HalfLap::TOP) - (lower_top - stock[0])).abs() < ROUNDING);
        prop_assert!((value(&stack, HalfLap::BOTTOM) - -lower_bottom).abs() < ROUNDING);
    }

    /// Notch by notch over the pin; then the parts are slid along each other to where the worst flank is best off.
    #[test]
    fn a_box_joint(
        pitch in [0.499..0.501_f64, 0.499..0.501_f64],
        notch in 0.248..0.252_f64,
        steps in proptest::collection::vec(-0.002..0.002_f64, 16),
    ) {
        let fingers = steps.len() / 2;
        let notches = |pitch: f64, steps: &[f64]| {
            let mut middles = vec![0.0];
            for step in steps {
                middles.push(middles[middles.len() - 1] + pitch + step);
            }
            middles
        };
        let (first, second) = (notches(pitch[0], &steps[..fingers]), notches(pitch[1], &steps[fingers..]));
        // Finger k of the second part stands between its notches k - 1 and k, and goes into notch k of the first. Slid by
        // x, it is jammed by so much on its left and on its right:
        let jams = |k: usize, x: f64| {
            let (from, to) = (second[k - 1] + notch / 2.0 + x, second[k] - notch / 2.0 + x);
            (first[k] - notch / 2.0 - from, to - (first[k] + notch / 2.0))
        };
        let worst = |x: f64| (1..=fingers).map(|k| jams(k, x).0.max(jams(k, x).1)).fold(f64::MIN, f64::max);
        // The worst jam falls and then rises: halve the way to its least.
        let (mut low, mut high) = (-2.0, 2.0);
        for _ in 0..200 {
            let third = (high - low) / 3.0;
            if worst(low + third) < worst(high - third) { high -= third } else { low += third }
        }
        let step = length("step");
        let joint = BoxJoint {
            fingers: u32::try_from(fingers).expect("eight"),
            pitch: pitch.map(|p| Expr::constant(p.inch())),
            notch: Expr::constant(notch.inch()),
            step: step.clone(),
            band: wide(),
        };
        let stack = joint.stack().expect("sound");
        let names: Vec<String> = (1..=steps.len()).map(|k| format!("step#{k}")).collect();
        let values: Vec<(&str, Quantity)> = names.iter().zip(&steps).map(|(n, &x)| (n.as_str(), x.inch().into())).collect();
        let fit = stack.outcome(BoxJoint::FIT).expect("there").evaluate(&values).expect("defined").raw();
        // At the best place both sides jam alike, each by half. The search ends within rounding of the sums.
        prop_assert!((fit / 2.0 - worst(low)).abs() < 1e-12, "{fit} {}", worst(low));
    }

    /// Two dowels in two pairs of holes: slid along each other, can both go in?
    #[test]
    fn two_dowels(spacing in [1.495..1.505_f64, 1.495..1.505_f64], hole in [0.375..0.379_f64, 0.375..0.379_f64]) {
        let dowel = 0.375;
        // A dowel joins two holes whose middles are no further apart than half of both clearances.
        let reach = (hole[0] - dowel) / 2.0 + (hole[1] - dowel) / 2.0;
        let go_in = (-4000..=4000).any(|i| {
            let slid = f64::from(i) * 5e-6;
            slid.abs() <= reach && (spacing[0] + slid - spacing[1]).abs() <= reach
        });
        let length = |name: &str, x: f64| Expr::source(&sized(name, x));
        let joint = Dowels {
            dowel: length("dowel", dowel),
            hole_rail: length("hole_rail", hole[0]),
            hole_leg: length("hole_leg", hole[1]),
            spacing_rail: length("spacing_rail", spacing[0]),
            spacing_leg: length("spacing_leg", spacing[1]),
            centre_rail: length("centre_rail", 0.375),
            centre_leg: length("centre_leg", 0.375),
            depth_rail: length("depth_rail", 1.0),
            depth_leg: length("depth_leg", 1.0),
            length: length("length", 2.0),
            fit_band: wide(),
            step_band: wide(),
        };
        let off = value(&joint.stack().expect("sound"), Dowels::SPACING);
        // The slides looked at are 5e-6 apart: nearer to the border than that they may all miss.
        prop_assert!((off <= 0.0) == go_in || off.abs() < 1e-5, "{off} {go_in}");
    }

    /// The flanks of tail and socket as lines, shoulder closed: how far they are apart, along the face, at many depths.
    #[test]
    fn a_sliding_dovetail(tail in 0.37..0.38_f64, bottom in 0.55..0.57_f64, depth in 0.3..0.4_f64, slope in 0.1..0.3_f64) {
        let tangent = float::tan(slope);
        let apart: Vec<f64> = (0..=10)
            .map(|i| {
                let down = depth * f64::from(i) / 10.0;
                let of_tail = tail / 2.0 + down * tangent;
                let of_socket = bottom / 2.0 - (depth - down) * tangent;
                of_tail - of_socket
            })
            .collect();
        let fit = 2.0 * apart.iter().fold(f64::MIN, |a, &b| a.max(b));
        let joint = SlidingDovetail {
            tail: Expr::constant(tail.inch()),
            tail_length: Expr::constant(0.2.inch()),
            bottom: Expr::constant(bottom.inch()),
            depth: Expr::source(&sized("depth", depth)),
            slope: angle("slope", slope),
            taper: Expr::constant(0.inch()),
            band: wide(),
        };
        prop_assert!((value(&joint.stack().expect("sound"), SlidingDovetail::FIT) - fit).abs() < ROUNDING);
    }

    /// Four corners in the plane: rails of different length hung between stiles, the whole racked.
    #[test]
    fn a_racked_frame(rails in [-0.05..0.05_f64, -0.05..0.05_f64], corners in [-0.01..0.01_f64, -0.01..0.01_f64, -0.01..0.01_f64, -0.01..0.01_f64]) {
        let (width, height) = (18.0, 24.0);
        // Mean rail and mean stile stand at a right angle less the rack; the ends lie half of them either way.
        let rack = (corners[0] - corners[1] + corners[2] - corners[3]) / 4.0;
        let across = [width + (rails[0] + rails[1]) / 2.0, 0.0];
        let up = [height * float::sin(rack), height * float::cos(rack)];
        // The top rail is longer than the bottom rail by so much: its ends stand out by a quarter each from the mean.
        let longer = (rails[0] - rails[1]) / 4.0;
        let corner = |right: f64, above: f64| {
            [right / 2.0 * across[0] + above / 2.0 * up[0] + right * above * longer, right / 2.0 * across[1] + above / 2.0 * up[1]]
        };
        let apart = |a: [f64; 2], b: [f64; 2]| float::hypot(a[0] - b[0], a[1] - b[1]);
        let one = apart(corner(-1.0, -1.0), corner(1.0, 1.0));
        let other = apart(corner(1.0, -1.0), corner(-1.0, 1.0));
        let part = |name: &str| length(name);
        let frame = Frame {
            rails: StopCut { stop: sized("rail_stop", 14.0), part: part("rail") },
            stiles: StopCut { stop: sized("stile_stop", 2.0), part: part("stile") },
            height: Expr::constant(height.inch()),
            movement: None,
            corner: angle("corner", 0.0),
            wanted_width: width.inch(),
            width_band: wide(),
            taper_band: wide(),
            diagonal_band: wide(),
        };
        let stack = frame.stack().expect("sound");
        let named = |name: &str, k: usize| format!("{name}#{k}");
        let names: Vec<String> = (1..=2).map(|k| named("rail", k)).chain((1..=4).map(|k| named("corner", k))).collect();
        let mut values: Vec<(&str, Quantity)> = Vec::new();
        for (name, &x) in names.iter().zip(rails.iter().chain(&corners)) {
            let dimension = if name.starts_with("rail") { Dimension::LENGTH } else { Dimension::ANGLE };
            values.push((name.as_str(), Quantity::new(x, dimension)));
        }
        let diagonal = stack.outcome(Frame::DIAGONAL).expect("there").evaluate(&values).expect("defined").raw();
        // Rounding of roots of about 900.
        prop_assert!((diagonal - (one - other)).abs() < 1e-12, "{diagonal} {}", one - other);
        let taper = stack.outcome(Frame::TAPER).expect("there").evaluate(&values[..2]).expect("defined").raw();
        prop_assert!((taper - (apart(corner(-1.0, 1.0), corner(1.0, 1.0)) - apart(corner(-1.0, -1.0), corner(1.0, -1.0)))).abs() < 1e-12);
    }
}
