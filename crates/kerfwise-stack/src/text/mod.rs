//! The algebra in text: read by `parse`, written by `print`.

mod lex;
mod near;
mod parse;
mod print;

pub(crate) use near::nearest;
pub(crate) use parse::parse;
pub(crate) use print::print;

/// The longest text that is written or read, in characters.
pub(crate) const LONGEST: usize = 1_000_000;

/// The deepest nesting that is read: brackets, signs and calls.
pub(crate) const DEEPEST: usize = 200;

/// What somebody wrote, of any length, for a message.
fn shortened(word: &str) -> String {
    const MOST: usize = 40;
    match word.char_indices().nth(MOST) {
        Some((end, _)) => format!("{}…", &word[..end]),
        None => word.to_owned(),
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests {
    use super::*;
    use crate::Expr;
    use crate::testing;
    use kerfwise_source::{LengthUnits, Quantity, Source};
    use proptest::prelude::*;

    fn shop() -> Vec<Source> {
        ["travel", "kerf", "seat.2", "mortise_width", "min"]
            .map(testing::length)
            .to_vec()
    }

    fn read(text: &str) -> Expr {
        Expr::parse(text, &shop()).unwrap_or_else(|error| panic!("{error}"))
    }

    fn message(text: &str) -> String {
        Expr::parse(text, &shop()).unwrap_err().to_string()
    }

    fn constant(text: &str) -> Quantity {
        match read(text).node().kind {
            crate::expr::Kind::Constant(value) => value,
            _ => panic!("{text} is no constant"),
        }
    }

    fn any_text(text: &str) -> Result<(), TestCaseError> {
        let sources = testing::sources();
        match Expr::parse(text, &sources) {
            Err(error) => prop_assert!(error.position().unwrap() <= text.chars().count()),
            Ok(expr) => {
                let back = Expr::parse(&expr.to_string(), &sources);
                prop_assert!(
                    back.as_ref().is_ok_and(|back| *back == expr),
                    "{expr} {back:?}"
                );
            }
        }
        Ok(())
    }

    proptest! {
        // Short expressions: several thousand take half a second.
        #![proptest_config(ProptestConfig::with_cases(4_000))]

        #[test]
        fn what_is_printed_reads_back_to_an_equal_expression(
            (sources, expr) in Just(testing::sources())
                .prop_flat_map(|sources| (Just(sources.clone()), testing::any_shape(sources)))
        ) {
            let text = expr.to_string();
            let back = Expr::parse(&text, &sources);
            prop_assert!(back.as_ref().is_ok_and(|back| *back == expr), "{text} {back:?}");
        }

        #[test]
        fn any_text_is_read_or_refused(text in "[a-z0-9 ._+*/^()#,%\\[\\]µé²°″−×·😀\u{a0}\u{301}-]{0,40}") {
            any_text(&text)?;
        }

        // Pieces that mean something go further into the reader than letters.
        #[test]
        fn any_pieces_are_read_or_refused(pieces in prop::collection::vec(prop::sample::select(vec![
            "a", "b", "a#2", "min(", "sqrt(", "exp", "5 µm", "3/8\"", "1-1/2 in", "1 1/2", "[2 in²]", "2°", "8 %MC", "^", "^-3", "-",
            "+", "*", "·", "×", "−", "/", "(", ")", "[", "]", ",", "#", "1e5", "1e999", "99999999999999999999", ".", "é", "😀", " ",
            "\n", "\0",
        ]), 0..12)) {
            any_text(&pieces.concat())?;
        }
    }

    #[test]
    fn brackets_are_as_few_as_can_be() {
        for text in [
            "travel - kerf - mortise_width + seat.2",
            "travel - (kerf - mortise_width)",
            "travel + (kerf + mortise_width)",
            "2 * (travel - kerf) / 3",
            "travel / (kerf * 2)",
            "travel * (kerf / 2)",
            "-travel + kerf",
            "-travel * kerf",
            "-(travel * kerf)",
            "travel - (-kerf)",
            "travel * (-2)",
            "-2 * travel",
            "-(2)",
            "-2^2",
            "(-2)^2",
            "-(-travel)",
            "(travel^2)^3",
            "travel^-1",
            "(travel * kerf)^2",
            "(-travel)^2",
            "-travel^2",
            "min(travel, -kerf)",
            "sqrt(square(travel) + square(kerf))",
            "travel / (8 in)",
            "(8 in)^2",
            "8 in / 2",
            "travel + [0.00274 /%MC]",
            "travel - (-0.005 in)",
            "travel + seat.2#2 - seat.2#3",
            "travel * [-2 in²]",
            "1e-9 * travel",
        ] {
            assert_eq!(read(text).to_string(), text);
        }
    }

    #[test]
    fn a_maker_writes_quantities_as_on_a_drawing() {
        for (text, inches) in [
            ("3/8 in", 0.375),
            ("3 / 8 in", 0.375),
            ("1 1/2 in", 1.5),
            ("[1-1/2 in]", 1.5),
            ("[ -1-1/2 in ]", -1.5),
            ("-3/8 in", -0.375),
            ("3/8\"", 0.375),
            ("2 thou", 0.002),
            ("0.375in", 0.375),
            ("25.4 mm", 1.0),
            (".5 in", 0.5),
            ("5e-1 in", 0.5),
        ] {
            assert_eq!(constant(text), inches.inch().into(), "{text}");
        }
        let at_one = |text: &str| read(text).evaluate(&|_| 1.0);
        assert_eq!(at_one("2 * 3/8 in"), 0.75);
        assert_eq!(at_one("travel - 3/8 in - 1/8 in"), 0.5);
        assert_eq!(at_one("1 / (8 in)"), 0.125);
        assert_eq!(at_one("3/8"), 0.375);
        assert_eq!(at_one("6 / 3 / 2"), 1.0);
        assert_eq!(at_one("3/8e2"), 0.00375);
        assert_eq!(at_one("1/0.5 in"), 2.0);
        assert_eq!(at_one("travel × 2 − kerf"), 1.0);
        assert_eq!(at_one("2 - 3 - 4"), -5.0);
        assert_eq!(at_one("2 * 3^2 / 6"), 3.0);
        assert_eq!(at_one("- 2 ^ 2"), -4.0);
        assert_eq!(at_one("min(3, 2) * max(3, 2)"), 6.0);
        // A source may share its name with a function.
        assert_eq!(at_one("min + min(min, 2)"), 2.0);
    }

    #[test]
    fn faults_name_place_and_way_out() {
        for (text, expected) in [
            ("", r#""", column 1: the expression is empty"#),
            (
                "travel -",
                r#""travel -", column 9: expected a number, a source, a function or "(", found the end"#,
            ),
            (
                "travel kerf",
                r#""travel kerf", column 8: expected an operator, found "kerf""#,
            ),
            ("(travel", r#""(travel", column 1: "(" without ")""#),
            ("travel)", r#""travel)", column 7: ")" without "(""#),
            (
                "2 kerf",
                r#""2 kerf", column 3: write a product with *, as in 2 * kerf"#,
            ),
            (
                "2 (kerf)",
                r#""2 (kerf)", column 3: write a product with *"#,
            ),
            (
                "kerf (2)",
                r#""kerf (2)", column 1: "kerf" is a source; write a product with *"#,
            ),
            (
                "2 3",
                r#""2 3", column 3: two numbers side by side; a mixed number needs a unit, as in 1 1/2 in"#,
            ),
            (
                "µ - kerff",
                r#""µ - kerff", column 1: 'µ' means nothing here"#,
            ),
            (
                "2 in - kerff",
                r#""2 in - kerff", column 8: unknown source "kerff": did you mean "kerf"?"#,
            ),
            (
                "thickness",
                r#""thickness", column 1: unknown source "thickness": known are travel, kerf, seat.2, mortise_width, min"#,
            ),
            (
                "sqr(kerf)",
                r#""sqr(kerf)", column 1: unknown function "sqr": did you mean "sqrt"?"#,
            ),
            (
                "frob(kerf)",
                r#""frob(kerf)", column 1: unknown function "frob": known are min, max, abs, square, sqrt, exp, ln, sin, cos, tan, asin, acos, atan"#,
            ),
            (
                "min(kerf)",
                r#""min(kerf)", column 9: min takes two arguments"#,
            ),
            (
                "abs(kerf, 2)",
                r#""abs(kerf, 2)", column 9: abs takes one argument"#,
            ),
            (
                "kerf^0.5",
                r#""kerf^0.5", column 6: an exponent is a whole number, as in x^2 or x^-1; for other powers use sqrt, or exp and ln"#,
            ),
            (
                "kerf^2^3",
                r#""kerf^2^3", column 7: write brackets: (x^2)^3"#,
            ),
            (
                "kerf^65",
                r#""kerf^65", column 6: an exponent lies from -64 to 64 (got 65)"#,
            ),
            (
                "kerf^-99999999999",
                r#""kerf^-99999999999", column 6: an exponent lies from -64 to 64 (got -99999999999)"#,
            ),
            (
                "2 sqrt(kerf)",
                r#""2 sqrt(kerf)", column 3: write a product with *, as in 2 * sqrt"#,
            ),
            (
                "5 µm × 2° − kerff",
                r#""5 µm × 2° − kerff", column 13: unknown source "kerff": did you mean "kerf"?"#,
            ),
            (
                "[5 µm²·ell] - 2",
                r#""[5 µm²·ell] - 2", column 8: "ell" is not a unit; units are in, thou, mm, um, cm, m, ft, deg, arcmin, arcsec, rad, mrad, %MC"#,
            ),
            ("kerf²", r#""kerf²", column 5: write a power as ^2"#),
            (
                "8 in^2",
                r#""8 in^2", column 5: write (8 in)^2 for the square of the quantity, or [8 in^2] for square units"#,
            ),
            ("[8 in", r#""[8 in", column 1: "[" without "]""#),
            (
                "[8 inn]",
                r#""[8 inn]", column 4: "inn" is not a unit; did you mean "in"? units are in, thou, mm, um, cm, m, ft, deg, arcmin, arcsec, rad, mrad, %MC"#,
            ),
            (
                "seat.2#x",
                r##""seat.2#x", column 8: after "#" comes the number of a draw, as in seat#2"##,
            ),
            ("1e999", r#""1e999", column 1: the number is too large"#),
        ] {
            assert_eq!(message(text), expected);
        }
    }

    #[test]
    fn nesting_and_length_are_capped() {
        let nested = |depth: usize| format!("{}kerf{}", "(".repeat(depth), ")".repeat(depth));
        // In a browser the whole stack is a mebibyte.
        let small = std::thread::Builder::new().stack_size(256 * 1024);
        let deepest = nested(DEEPEST);
        let work = small.spawn(move || Expr::parse(&deepest, &shop()).is_ok());
        assert!(work.unwrap().join().unwrap());
        for text in [
            nested(10_000),
            "-".repeat(10_000),
            "abs(".repeat(10_000),
            "(-".repeat(10_000),
            "(kerf - ".repeat(10_000),
        ] {
            let message = message(&text);
            assert!(message.contains("nested more than 200 deep"), "{message}");
        }
        let long = format!("kerf{}", " + kerf".repeat(LONGEST / 7 + 1));
        assert!(message(&long).contains("at most 1000000 characters"));
        let fits = format!("kerf{}", " + kerf".repeat(100_000));
        assert_eq!(read(&fits).evaluate(&|_| 1.0), 100_001.0);
    }

    #[test]
    fn two_sources_of_one_name_are_refused() {
        let twins = [testing::length("kerf"), testing::length("kerf")];
        assert_eq!(
            Expr::parse("kerf", &twins).unwrap_err().to_string(),
            r#""kerf", column 1: two different sources are named "kerf"; rename one"#,
        );
        let same = [twins[0].clone(), twins[0].clone()];
        assert!(Expr::parse("kerf", &same).is_ok());
    }

    #[test]
    fn a_text_without_end_is_cut_short() {
        let kerf = testing::length("kerf");
        let mut doubled = Expr::from(&kerf);
        for _ in 0..60 {
            doubled = &doubled + &doubled;
        }
        let text = doubled.to_string();
        assert_eq!(text.chars().count(), LONGEST);
        assert!(text.ends_with('…'));
        assert_eq!(doubled.brief().chars().count(), 48);
    }
}
