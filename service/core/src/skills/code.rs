//! A skill's code in one normal form.
//!
//! Grade 3–5 standards are written in many ways; `4.NF.3c`, `4.nf.b.3.c`, `CCSS.MATH.CONTENT.4.NF.B.3.C` all become
//! `4.NF.B.3c`. Where the cluster letter is left out, [`super::SkillGraph::resolve`] finds it. Any other text stays as given.

use std::fmt;
use std::sync::Arc;

/// Domains of grades 3 to 5.
const DOMAINS: [&str; 5] = ["OA", "NBT", "NF", "MD", "G"];

/// A skill's code; copies share one text, as a year of a school names the same few skills a hundred thousand times.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct SkillCode(Arc<str>);

impl SkillCode {
    /// Trims, and brings the spelling of a standard's code into its normal form. `None` for blank text.
    ///
    /// ```
    /// # use sheaf_core::skills::SkillCode;
    /// assert_eq!(SkillCode::parse("CCSS.Math.Content.4.NF.B.3.c").unwrap().as_str(), "4.NF.B.3c");
    /// assert_eq!(SkillCode::parse(" Place value ").unwrap().as_str(), "Place value");
    /// ```
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        if text.is_empty() {
            return None;
        }
        if is_in_normal_form(text) {
            return Some(SkillCode(text.into()));
        }
        let other = || text.split_whitespace().collect::<Vec<_>>().join(" ");
        Some(SkillCode(standard_form(text).unwrap_or_else(other).into()))
    }

    /// The code as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The grade that a standard's code begins with (`4` of `4.NF.B.3c`); `None` for other codes.
    #[must_use]
    pub fn grade(&self) -> Option<u8> {
        let (grade, rest) = self.0.split_once('.')?;
        (!rest.is_empty()).then(|| grade.parse().ok()).flatten()
    }
}

impl fmt::Display for SkillCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Whether a text is a standard's code as it should be; our own lists hold thousands of them.
fn is_in_normal_form(text: &str) -> bool {
    let mut parts = text.split('.');
    let (Some(grade), Some(domain), Some(third)) = (parts.next(), parts.next(), parts.next()) else { return false };
    let (cluster, number) = match parts.next() {
        Some(number) => (Some(third), number),
        None => (None, third),
    };
    let digits = number.trim_end_matches(|c: char| c.is_ascii_lowercase());
    matches!(grade.as_bytes(), [b'0'..=b'9'])
        && DOMAINS.contains(&domain)
        && cluster.is_none_or(|c| matches!(c.as_bytes(), [b'A'..=b'Z']))
        && !digits.is_empty()
        && digits.bytes().all(|b| b.is_ascii_digit())
        && number.len() - digits.len() <= 1
        && parts.next().is_none()
}

/// `GRADE.DOMAIN[.CLUSTER].NUMBER[letter]`, or `None` where the text is something else.
fn standard_form(text: &str) -> Option<String> {
    let upper = text.to_uppercase().replace([' ', '-', '_'], ".");
    let upper = ["CCSS.MATH.CONTENT.", "CCSS.MATH.", "CCSSM.", "CCSS."]
        .iter()
        .find_map(|prefix| upper.strip_prefix(prefix))
        .unwrap_or(&upper);
    let parts: Vec<&str> = upper.split('.').filter(|p| !p.is_empty()).collect();
    let (grade, rest) = parts.split_first()?;
    let (domain, rest) = rest.split_first()?;
    let is_grade = grade.len() == 1 && grade.chars().all(|c| c.is_ascii_digit());
    if !is_grade || !DOMAINS.contains(domain) {
        return None;
    }
    let (cluster, rest) = match rest.split_first()? {
        (c, rest) if c.len() == 1 && c.chars().all(|c| c.is_ascii_uppercase()) => (Some(*c), rest),
        _ => (None, rest),
    };
    let tail: String = rest.concat();
    let digits: String = tail.chars().take_while(char::is_ascii_digit).collect();
    let letter = &tail[digits.len()..];
    if digits.is_empty() || letter.len() > 1 || !letter.chars().all(|c| c.is_ascii_uppercase()) {
        return None;
    }
    let cluster = cluster.map(|c| format!(".{c}")).unwrap_or_default();
    Some(format!("{grade}.{domain}{cluster}.{digits}{}", letter.to_lowercase()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, expect: &str) {
        assert_eq!(SkillCode::parse(text).unwrap().as_str(), expect);
    }

    #[test]
    fn spellings_of_a_standard_become_one() {
        for text in
            ["4.NF.B.3.c", "4.nf.b.3c", "CCSS.MATH.CONTENT.4.NF.B.3.C", "CCSS.Math.Content.4.NF.B.3.c", "4 NF B 3c"]
        {
            check(text, "4.NF.B.3c");
        }
        check("5.NF.5", "5.NF.5");
        check("3.OA.A.1", "3.OA.A.1");
    }

    #[test]
    fn a_code_in_its_normal_form_is_known_as_such() {
        for text in ["4.NF.B.3c", "5.NF.5", "3.OA.A.1", "5.NBT.A.3b", "3.G.1"] {
            assert!(is_in_normal_form(text), "{text}");
            assert_eq!(standard_form(text).as_deref(), Some(text), "both ways agree on {text}");
        }
        for text in
            ["4.nf.b.3c", "4.NF.B.3.c", "44.NF.B.3", "4.NF.B.3cd", "4.NF.B.c", "4.XX.1", "4.NF.BB.3", "B1", "4.NF"]
        {
            assert!(!is_in_normal_form(text), "{text}");
        }
    }

    #[test]
    fn other_codes_stay_as_given() {
        for text in ["Place value", "B1", "fr-add", "4.XX.1", "5"] {
            check(text, text);
        }
    }

    #[test]
    fn only_a_standard_has_a_grade() {
        assert_eq!(SkillCode::parse("5.NF.B.5a").unwrap().grade(), Some(5));
        assert_eq!(SkillCode::parse("B1").unwrap().grade(), None);
    }
}
