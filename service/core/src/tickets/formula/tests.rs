//! Formulas against worked answers.
//! Each worked answer was done by hand; the digit-by-digit wrong procedures have examples of their own.
//! A property holds that no text at all makes reading or working out a formula panic.

use super::{Budget, EvalError, Formula, Template, Value};
use proptest::prelude::*;

fn value(source: &str) -> Result<Value, EvalError> {
    Formula::parse(source, &[]).unwrap().value(&[], &mut Budget::new(1_000))
}

fn check(source: &str, expect: &str) {
    assert_eq!(value(source).unwrap().plain(), expect, "{source}");
}

fn refused(source: &str) -> String {
    Formula::parse(source, &["a".to_owned(), "b".to_owned()]).unwrap_err().to_string()
}

#[test]
fn arithmetic_is_exact() {
    check("1 + 2 * 3 ** 2", "19");
    check("(7 - 9) % 5", "3");
    check("-7 // 2", "-4");
    check("F(1,3) + F(1,6)", "1/2");
    check("6 / 4", "3/2");
    check("ceil_div(88, 7)", "13");
}

#[test]
fn conditions_chain_and_choose() {
    check("1 < 2 < 3", "true");
    check("1 < 3 < 3", "false");
    check("3 not in (1, 2) and not 1 == 2", "true");
    check("'greater' if 5 >= 6 else 'less'", "less");
    check("len({4, 2 + 2, 5})", "2");
    check("(10, 20, 30)[1]", "20");
}

#[test]
fn written_forms_compare_by_value() {
    check("q(2,4) == q(1,2)", "true");
    check("q(2,4)", "2/4");
    check("mx(4,9,6)", "4 9/6");
    check("mx(4,9,6) == F(11,2)", "true");
    check("dec(7,2)", "0.07");
    check("dec(1250,2)", "12.50");
    check("cmp(dec(5,1), dec(50,2))", "=");
    check("rel(F(2,3), 1)", "less");
    check("simp(F(32,5))", "6 2/5");
    check("simp(F(12,4))", "3");
    check("clk(60*13+5)", "1:05");
    check("rem(11,2)", "11 R2");
    check("tv('2 + 2', 4) == 4", "true");
}

#[test]
fn numbers_have_digits_and_words() {
    check("dg(94625,2)", "6");
    check("first(94625)", "9");
    check("rnd(4350,100)", "4400");
    check("rnd(4349,100)", "4300");
    check("word(47075)", "forty-seven thousand seventy-five");
    check("parts(8)", "eighths");
    check("repeat('1/4', 3, ' + ')", "1/4 + 1/4 + 1/4");
    check("nfac(12)", "1, 2, 3, 4, 6, 12");
    check("isprime(51)", "false");
    check("int(str(4) + str(7))", "47");
    check("f'{2 + 3} of {q(1,2)}'", "5 of 1/2");
}

#[test]
fn each_wrong_procedure_gives_its_worked_answer() {
    check("add_no_carry(565,277)", "732");
    check("add_write_both(565,277)", "71312");
    check("add_carry_swap(565,277)", "1211");
    check("add_left_align(3266,539)", "8656");
    check("sub_smaller(922,249)", "727");
    check("sub_no_decrement(922,249)", "783");
    check("sub_zero_n(5203,1749)", "3444");
    check("sub_zero_zero(5203,1749)", "3404");
    check("sub_from_zero(703,168)", "635");
    check("sub_stop_zero(5203,1749)", "3464");
    check("sub_across_zero(703,168)", "445");
    check("mul_no_shift(54,38)", "594");
    check("mul_columns(54,38)", "1532");
    check("mul_drop_carry(62,9)", "548");
    check("mul_carry_first(62,9)", "638");
    check("mul_write_both(604,7)", "42028");
    check("mul_zero_as_n(604,7)", "4298");
    check("div_skip_zero(1030,5)", "26");
    check("div_digitwise(846,4)", "211");
}

#[test]
fn digits_are_grouped_only_where_a_child_reads_them() {
    assert_eq!(Value::whole(1_234_567).show().unwrap(), "1,234,567");
    assert_eq!(Value::whole(999).show().unwrap(), "999");
    check("str(1234)", "1234");
}

#[test]
fn a_number_below_zero_is_never_shown() {
    let template = Template::parse("{2 - 5} left", &[]).unwrap();
    assert_eq!(template.text(&[], &mut Budget::new(100)), Err(EvalError::Negative));
}

#[test]
fn the_largest_number_is_kept() {
    check("10**18", "1000000000000000000");
    assert_eq!(value("10**18 + 1"), Err(EvalError::TooLarge));
    assert_eq!(value("10**18 * 10**18"), Err(EvalError::TooLarge));
    assert_eq!(value("add_write_both(10**18, 10**18)"), Err(EvalError::TooLarge));
    assert_eq!(value("F(1, 0)"), Err(EvalError::ZeroDivision));
    assert_eq!(value("lcm(0, 4)"), Err(EvalError::ZeroDivision));
}

#[test]
fn a_formula_that_works_too_long_is_stopped() {
    let long = Formula::parse("1+1+1+1+1+1+1+1", &[]).unwrap();
    assert_eq!(long.value(&[], &mut Budget::new(10)), Err(EvalError::OutOfSteps));
    assert!(refused(&"(".repeat(60)).contains("nested more than"));
    assert!(refused(&"1+".repeat(600)).contains("longer than"));
    assert!(refused(&format!("{}1", "-".repeat(60))).contains("stands where a value should be"));
}

#[test]
fn unknown_names_are_told() {
    assert_eq!(refused("a + c"), "`c` is not a parameter; known are a, b");
    assert_eq!(refused("frac(a, b)"), "there is no function `frac`");
    assert_eq!(refused("q(a)"), "`q` takes 2 values, not 1");
    assert_eq!(refused("a +"), "the formula ends too early");
    assert_eq!(refused("a b"), "`b` stands where the formula should end");
    assert_eq!(refused("1.5"), "write a decimal as dec(15, 1) and not as 1.5; formulas are exact");
    assert_eq!(refused("a if b"), "`if` has no `else`");
}

#[test]
fn a_template_tells_a_brace_that_does_not_close() {
    let fault = |source: &str| Template::parse(source, &[]).unwrap_err().to_string();
    assert_eq!(fault("{1"), "a `{` is never closed");
    assert_eq!(fault("1}"), "a `}` closes nothing");
    let nested = Template::parse("{len({1, 2})}{' }' if 1 < 2 else ''}", &[]).unwrap();
    assert_eq!(nested.text(&[], &mut Budget::new(100)).unwrap(), "2 }");
}

/// Pieces of formulas, put together at random: many are nonsense, some compute.
fn scribble() -> impl Strategy<Value = String> {
    let pieces = [
        "a",
        "b",
        "7",
        "999999999999999999",
        "(",
        ")",
        "[",
        "]",
        "{",
        "}",
        ",",
        "+",
        "-",
        "*",
        "/",
        "//",
        "%",
        "**",
        "<",
        "==",
        " in ",
        " not ",
        " and ",
        " if ",
        " else ",
        "'t'",
        "f'{a}'",
        "q(",
        "F(",
        "mx(",
        "dec(",
        "lcm(",
        "rnd(",
        "repeat(",
        "sub_smaller(",
        "mul_columns(",
        "nfac(",
        "str(",
        "int(",
        "len(",
        "word(",
    ];
    prop::collection::vec(prop::sample::select(pieces.to_vec()), 0..14).prop_map(|pieces| pieces.concat())
}

proptest! {
    #[test]
    fn no_text_makes_the_engine_panic(text in prop_oneof![scribble(), ".{0,40}"], a in -9_i64..900, b in 0_i64..12) {
        let names = ["a".to_owned(), "b".to_owned()];
        let scope = [Value::whole(i128::from(a)), Value::whole(i128::from(b))];
        if let Ok(formula) = Formula::parse(&text, &names) {
            let _ = formula.value(&scope, &mut Budget::new(500)).and_then(|value| value.show());
        }
        if let Ok(template) = Template::parse(&text, &names) {
            let _ = template.text(&scope, &mut Budget::new(500));
        }
    }

    #[test]
    fn the_four_operations_agree_with_fractions_of_small_numbers(a in -50_i64..50, b in 1_i64..50, c in -50_i64..50, d in 1_i64..50) {
        use num_rational::Ratio;
        let (x, y) = (Ratio::new(a, b), Ratio::new(c, d));
        let text = |op: &str| value(&format!("F({a},{b}) {op} F({c},{d})")).map(|v| v.plain());
        prop_assert_eq!(text("+"), Ok((x + y).to_string()));
        prop_assert_eq!(text("-"), Ok((x - y).to_string()));
        prop_assert_eq!(text("*"), Ok((x * y).to_string()));
        if c == 0 {
            prop_assert_eq!(text("/"), Err(EvalError::ZeroDivision));
        } else {
            prop_assert_eq!(text("/"), Ok((x / y).to_string()));
            prop_assert_eq!(text("//"), Ok((x / y).floor().to_string()));
        }
    }
}
