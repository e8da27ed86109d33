//! Items as QTI 3.0 `qti-assessment-item` documents.
//!
//! In:  an item. Out: one XML document: choice, several choices, match, text entry, or two choices for a two-part item.
//! Keeps: every identifier begins with a letter; text is escaped (`text_is_escaped`); a right answer is declared for every
//! interaction (`every_type_has_its_interaction_and_answer`); a picture is in the document itself (`a_picture_is_drawn_and_told`).
//! Source: 1EdTech QTI 3.0 assessment item; the official examples for the shape of each interaction. No schema file was at
//! hand to validate against.

use super::{TicketItem, TicketOption};
use crate::scores::ItemKind;
use std::fmt::Write as _;

const NAMESPACE: &str = "http://www.imsglobal.org/xsd/imsqtiasi_v3p0";
const SVG_NAMESPACE: &str = "http://www.w3.org/2000/svg";
const MATCH_CORRECT: &str =
    "<qti-response-processing template=\"https://purl.imsglobal.org/spec/qti/v3p0/rptemplates/match_correct.xml\"/>";

/// One item as an XML document. The identifier is made of model and number.
#[must_use]
pub fn item_qti(item: &TicketItem) -> String {
    let (declarations, body, processing) = match item.kind {
        ItemKind::Choice | ItemKind::MultiSelect => {
            (choice_declaration("RESPONSE", item), choice_interaction("RESPONSE", item), MATCH_CORRECT.to_owned())
        }
        ItemKind::Match => (match_declaration(item), match_interaction(item), MATCH_CORRECT.to_owned()),
        ItemKind::Numeric => (entry_declaration(item), entry_interaction(item), MATCH_CORRECT.to_owned()),
        ItemKind::TwoPart => two_parts(item),
    };
    let picture = item.picture.as_ref().map(|words| picture(item, words)).unwrap_or_default();
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <qti-assessment-item xmlns=\"{NAMESPACE}\" identifier=\"{}-{}\" title=\"{} {}\" time-dependent=\"false\" xml:lang=\"en-US\">\n\
         {declarations}\
         <qti-outcome-declaration identifier=\"SCORE\" cardinality=\"single\" base-type=\"float\"/>\n\
         <qti-item-body>{picture}{body}</qti-item-body>\n\
         {processing}\n\
         </qti-assessment-item>\n",
        escaped(&item.model),
        item.number,
        escaped(&item.skill),
        item.number,
    )
}

/// The picture within the document, so that it needs no file beside it; its words alone where it is not drawn.
fn picture(item: &TicketItem, words: &str) -> String {
    let Some(drawing) = &item.drawing else { return format!("<p>{}</p>", escaped(words)) };
    let svg = drawing.svg(words).replacen("<svg ", &format!("<svg xmlns=\"{SVG_NAMESPACE}\" "), 1);
    format!("<p><img src=\"data:image/svg+xml,{}\" alt=\"{}\"/></p>", in_address(&svg), escaped(words))
}

/// Bytes that an address cannot hold as they are, as `%` and two digits (RFC 3986).
fn in_address(text: &str) -> String {
    let mut out = String::with_capacity(text.len() * 2);
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/:,;=()".contains(&byte) {
            out.push(char::from(byte));
        } else {
            let _ = write!(out, "%{byte:02X}");
        }
    }
    out
}

fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c => out.push(c),
        }
    }
    out
}

fn declaration(identifier: &str, cardinality: &str, base: &str, values: &[String]) -> String {
    let mut out = format!(
        "<qti-response-declaration identifier=\"{identifier}\" cardinality=\"{cardinality}\" base-type=\"{base}\"><qti-correct-response>"
    );
    for value in values {
        let _ = write!(out, "<qti-value>{}</qti-value>", escaped(value));
    }
    out.push_str("</qti-correct-response></qti-response-declaration>\n");
    out
}

fn choice_declaration(identifier: &str, item: &TicketItem) -> String {
    let cardinality = if item.kind == ItemKind::MultiSelect { "multiple" } else { "single" };
    declaration(identifier, cardinality, "identifier", &item.key)
}

fn choice_interaction(identifier: &str, item: &TicketItem) -> String {
    // 0 means: as many as the student likes.
    let most = if item.kind == ItemKind::MultiSelect { 0 } else { 1 };
    let choices: String = item.options.iter().map(simple_choice).collect();
    format!(
        "<qti-choice-interaction response-identifier=\"{identifier}\" max-choices=\"{most}\"><qti-prompt>{}</qti-prompt>{choices}</qti-choice-interaction>",
        escaped(&item.stem)
    )
}

fn simple_choice(option: &TicketOption) -> String {
    format!("<qti-simple-choice identifier=\"{}\">{}</qti-simple-choice>", option.label, escaped(&option.text))
}

fn match_declaration(item: &TicketItem) -> String {
    let pairs = item.key.iter().enumerate().filter_map(|(row_idx, key)| {
        let column = item.columns.iter().position(|c| c == key)?;
        Some(format!("R{} C{}", row_idx + 1, column + 1))
    });
    declaration("RESPONSE", "multiple", "directedPair", &pairs.collect::<Vec<_>>())
}

fn match_interaction(item: &TicketItem) -> String {
    let n_rows = item.rows.len();
    let set = |prefix: char, texts: Vec<&String>, most: usize| {
        let choices: String = texts
            .iter()
            .enumerate()
            .map(|(idx, text)| {
                let text = escaped(text);
                format!(
                    "<qti-simple-associable-choice identifier=\"{prefix}{}\" match-max=\"{most}\">{text}</qti-simple-associable-choice>",
                    idx + 1
                )
            })
            .collect();
        format!("<qti-simple-match-set>{choices}</qti-simple-match-set>")
    };
    format!(
        "<qti-match-interaction response-identifier=\"RESPONSE\" max-associations=\"{n_rows}\"><qti-prompt>{}</qti-prompt>{}{}</qti-match-interaction>",
        escaped(&item.stem),
        set('R', item.rows.iter().map(|r| &r.text).collect(), 1),
        set('C', item.columns.iter().collect(), n_rows),
    )
}

fn entry_declaration(item: &TicketItem) -> String {
    let is_whole = item.key.iter().all(|k| k.chars().all(|c| c.is_ascii_digit()));
    let is_decimal = item.key.iter().all(|k| k.chars().all(|c| c.is_ascii_digit() || c == '.'));
    let base = match (is_whole, is_decimal) {
        (true, _) => "integer",
        (false, true) => "float",
        (false, false) => "string",
    };
    declaration("RESPONSE", "single", base, &item.key)
}

fn entry_interaction(item: &TicketItem) -> String {
    format!(
        "<p>{} <qti-text-entry-interaction response-identifier=\"RESPONSE\" expected-length=\"8\"/></p>",
        escaped(&item.stem)
    )
}

/// Declarations, body and processing of a two-part item: full points only when both parts are right.
fn two_parts(item: &TicketItem) -> (String, String, String) {
    let mut declarations = String::new();
    let mut body = format!("<p>{}</p>", escaped(&item.stem));
    let mut conditions = String::new();
    for part in &item.parts {
        let identifier = format!("RESPONSE{}", part.number);
        declarations.push_str(&choice_declaration(&identifier, part));
        body.push_str(&choice_interaction(&identifier, part));
        let _ = write!(
            conditions,
            "<qti-match><qti-variable identifier=\"{identifier}\"/><qti-correct identifier=\"{identifier}\"/></qti-match>"
        );
    }
    let score = |value: &str| {
        format!(
            "<qti-set-outcome-value identifier=\"SCORE\"><qti-base-value base-type=\"float\">{value}</qti-base-value></qti-set-outcome-value>"
        )
    };
    let processing = format!(
        "<qti-response-processing><qti-response-condition><qti-response-if><qti-and>{conditions}</qti-and>{}</qti-response-if><qti-response-else>{}</qti-response-else></qti-response-condition></qti-response-processing>",
        score("1"),
        score("0"),
    );
    (declarations, body, processing)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tickets::{ModelLibrary, draw_item};

    fn qti(slug: &str) -> String {
        item_qti(&draw_item(ModelLibrary::builtin().get(slug).unwrap(), 5).unwrap())
    }

    #[test]
    fn every_type_has_its_interaction_and_answer() {
        for (slug, interaction, n_answers) in [
            ("g5-scale-one", "<qti-choice-interaction", 1),
            ("g5-scale-multi", "max-choices=\"0\"", 1),
            ("g5-scale-grid", "<qti-match-interaction", 1),
            ("g3-fact-product", "<qti-text-entry-interaction", 1),
            ("g5-scale-explain", "<qti-choice-interaction", 2),
        ] {
            let xml = qti(slug);
            assert!(xml.contains(interaction), "{xml}");
            assert_eq!(xml.matches("<qti-correct-response>").count(), n_answers, "{xml}");
            assert_eq!(xml.matches("<qti-response-processing").count(), 1, "{xml}");
        }
    }

    #[test]
    fn a_match_item_names_one_column_a_row() {
        let item = draw_item(ModelLibrary::builtin().get("g5-scale-grid").unwrap(), 5).unwrap();
        let xml = item_qti(&item);
        let column = |word: &str| item.columns.iter().position(|c| c == word).unwrap() + 1;
        let drawn = [1, 2].map(|row| format!("R{row} C{}", column(&item.key[row - 1])));
        let always = ["R3 C2", "R4 C3", "R5 C1"].map(str::to_owned);
        for pair in drawn.iter().chain(&always) {
            assert!(xml.contains(&format!("<qti-value>{pair}</qti-value>")), "{pair} in {xml}");
        }
    }

    #[test]
    fn a_picture_is_drawn_and_told() {
        let item = draw_item(ModelLibrary::builtin().get("g3-clock-read").unwrap(), 5).unwrap();
        let xml = item_qti(&item);
        let (_, rest) = xml.split_once("<img src=\"data:image/svg+xml,").unwrap();
        let (address, rest) = rest.split_once('"').unwrap();
        assert!(address.bytes().all(|b| b.is_ascii_graphic() && !b"<>#&\"".contains(&b)), "{address}");
        let mut bytes = Vec::new();
        let mut left = address.bytes();
        while let Some(byte) = left.next() {
            let hex = |b: Option<u8>| char::from(b.unwrap()).to_digit(16).unwrap() as u8;
            bytes.push(if byte == b'%' { hex(left.next()) * 16 + hex(left.next()) } else { byte });
        }
        let svg = String::from_utf8(bytes).unwrap();
        let drawn = item.drawing.as_ref().unwrap().svg(item.picture.as_ref().unwrap());
        assert_eq!(svg.replacen(&format!("xmlns=\"{SVG_NAMESPACE}\" "), "", 1), drawn);
        assert!(rest.starts_with(&format!(" alt=\"{}\"", escaped(item.picture.as_ref().unwrap()))), "{rest}");
    }

    #[test]
    fn text_is_escaped() {
        let xml = qti("g4-decimal-compare");
        assert!(xml.contains("&lt;</qti-simple-choice>"), "{xml}");
        assert_eq!(escaped("a < b & \"c\""), "a &lt; b &amp; &quot;c&quot;");
    }
}
