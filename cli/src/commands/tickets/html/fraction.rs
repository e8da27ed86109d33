//! Text of an item as HTML: escaped, and a fraction such as `3/4` as MathML with `3/4` as its text alternative.
//!
//! Keeps: no character of the text can become markup (`text_never_becomes_markup`); dates and longer chains of slashes stay
//! text (`only_fractions_become_fractions`).

use std::fmt::Write as _;

/// Appends the text as HTML.
pub fn push_text(out: &mut String, text: &str) {
    let mut rest = text;
    let mut before = None;
    while let Some(first) = rest.chars().next() {
        let fraction = if before.is_some_and(joins) { None } else { fraction_at(rest) };
        let taken = if let Some((top, bottom)) = fraction {
            push_fraction(out, top, bottom);
            top.len() + 1 + bottom.len()
        } else {
            push_escaped(out, first);
            first.len_utf8()
        };
        before = rest[..taken].chars().next_back();
        rest = &rest[taken..];
    }
}

/// The text as HTML.
pub fn html_text(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    push_text(&mut out, text);
    out
}

/// Top and bottom of a fraction that the text begins with.
fn fraction_at(text: &str) -> Option<(&str, &str)> {
    let top = number_at(text)?;
    let bottom = number_at(text[top.len()..].strip_prefix('/')?)?;
    let mut after = text[top.len() + 1 + bottom.len()..].chars();
    let is_longer = match after.next() {
        Some('.' | ',') => after.next().is_some_and(|c| c.is_ascii_digit()),
        Some(c) => joins(c),
        None => false,
    };
    (!is_longer).then_some((top, bottom))
}

/// Digits, or the box that stands for an unknown number.
fn number_at(text: &str) -> Option<&str> {
    let is_box = |c: char| matches!(c, '\u{25a2}' | '\u{25a1}');
    if let Some(first) = text.chars().next().filter(|c| is_box(*c)) {
        return Some(&text[..first.len_utf8()]);
    }
    let n_digits = text.bytes().take_while(u8::is_ascii_digit).count();
    (n_digits > 0).then(|| &text[..n_digits])
}

/// Whether a character beside a fraction makes it part of something longer.
fn joins(c: char) -> bool {
    c.is_alphanumeric() || matches!(c, '/' | '.' | ',' | '_')
}

fn push_fraction(out: &mut String, top: &str, bottom: &str) {
    let part = |text: &str| if text.starts_with(|c: char| c.is_ascii_digit()) { "mn" } else { "mi" };
    let (t, b) = (part(top), part(bottom));
    let _ = write!(
        out,
        "<math displaystyle=\"true\" alttext=\"{top}/{bottom}\" aria-label=\"{top}/{bottom}\"><mfrac><{t}>{top}</{t}><{b}>{bottom}</{b}></mfrac></math>"
    );
}

fn push_escaped(out: &mut String, c: char) {
    match c {
        '&' => out.push_str("&amp;"),
        '<' => out.push_str("&lt;"),
        '>' => out.push_str("&gt;"),
        '"' => out.push_str("&quot;"),
        '\'' => out.push_str("&#39;"),
        '\n' => out.push_str("<br>"),
        c => out.push(c),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fraction_has_a_bar_and_a_text_alternative() {
        assert_eq!(
            html_text("Take 2 3/4 of it."),
            "Take 2 <math displaystyle=\"true\" alttext=\"3/4\" aria-label=\"3/4\"><mfrac><mn>3</mn><mn>4</mn></mfrac></math> of it."
        );
        assert!(html_text("▢/12 = 1/3.").contains("<mfrac><mi>▢</mi><mn>12</mn></mfrac></math> = <math"));
        assert_eq!(html_text("1/2, 3/4").matches("<mfrac>").count(), 2);
    }

    #[test]
    fn only_fractions_become_fractions() {
        for text in ["2/3/2026", "1/2.5", "0.1/2", "a1/2", "3 / 4", "/4", "km/h", "4/x", "1/2b"] {
            assert!(!html_text(text).contains("<math"), "{text}");
        }
    }

    #[test]
    fn text_never_becomes_markup() {
        assert_eq!(html_text("<b>\"7\" & '8'</b>\n"), "&lt;b&gt;&quot;7&quot; &amp; &#39;8&#39;&lt;/b&gt;<br>");
    }
}
