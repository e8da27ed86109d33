//! Where elements stand in an XML text: positions to cut at, never a tree to write back.
//!
//! In:  the text of a part. Out: the elements down to a depth, in order, each with the place of its tags.
//! Keeps: places are bytes of the text, so that whatever is not touched stays as it is
//! (`what_is_not_touched_stays_as_it_is` in `splice`); namespaces count and prefixes do not (`prefixes_do_not_matter`); a
//! document type is refused, as the format forbids one (`a_document_type_is_refused`). Source: ECMA-376 part 2 (packages).
//! Not here: cutting (`splice`), what elements mean.

use super::error::GraftError;
use quick_xml::events::{BytesStart, Event};
use quick_xml::name::{Namespace, ResolveResult};
use quick_xml::{NsReader, XmlVersion};
use std::ops::Range;

/// Namespaces that matter here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Space {
    /// Sheets, workbook, styles.
    Main,
    /// The strict form of the same.
    Strict,
    /// Content types of a package.
    Types,
    /// Relationships of a package.
    Relations,
    /// Any other, or none.
    Other,
}

/// Namespace of the sheets' own elements.
pub(super) const MAIN: &str = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
/// Namespace of the attribute that names a relationship.
pub(super) const RELATION_ID: &str = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";

fn space_of(resolved: &ResolveResult<'_>) -> Space {
    match resolved {
        ResolveResult::Bound(Namespace(MAIN)) => Space::Main,
        ResolveResult::Bound(Namespace("http://purl.oclc.org/ooxml/spreadsheetml/main")) => Space::Strict,
        ResolveResult::Bound(Namespace("http://schemas.openxmlformats.org/package/2006/content-types")) => Space::Types,
        ResolveResult::Bound(Namespace("http://schemas.openxmlformats.org/package/2006/relationships")) => {
            Space::Relations
        }
        _ => Space::Other,
    }
}

/// An element.
#[derive(Debug, Clone)]
pub(super) struct Node {
    /// Name without its prefix.
    pub local: String,
    /// Namespace.
    pub space: Space,
    /// 0 for the root.
    pub depth: usize,
    /// The start tag.
    pub open: Range<usize>,
    /// The element with all that it holds.
    pub whole: Range<usize>,
    /// What stands between its tags; empty where it is one tag.
    pub inner: Range<usize>,
    /// The relationship that the element names.
    pub relation: Option<String>,
}

impl Node {
    /// Whether it is one tag that closes itself.
    pub(super) fn is_one_tag(&self) -> bool {
        self.open == self.whole
    }
}

/// The elements of a text.
#[derive(Debug)]
pub(super) struct Outline<'t> {
    /// The text.
    pub text: &'t str,
    /// Elements in order; the first is the root.
    pub nodes: Vec<Node>,
}

impl<'t> Outline<'t> {
    /// Looks at the elements down to a depth.
    pub(super) fn of(text: &'t str, most_depth: usize) -> Result<Self, GraftError> {
        let mut reader = NsReader::from_str(text);
        let (mut nodes, mut open) = (Vec::<Node>::new(), Vec::<Option<usize>>::new());
        loop {
            let start = place(&reader);
            let (resolved, event) = reader.read_resolved_event().map_err(broken)?;
            let space = space_of(&resolved);
            match event {
                Event::Start(tag) => {
                    let keep = open.len() <= most_depth;
                    open.push(keep.then_some(nodes.len()));
                    if keep {
                        nodes.push(node(&reader, &tag, space, open.len() - 1, start));
                    }
                }
                Event::Empty(tag) if open.len() <= most_depth => {
                    nodes.push(node(&reader, &tag, space, open.len(), start));
                }
                Event::End(_) => close(&mut nodes, open.pop().flatten(), start, place(&reader)),
                Event::DocType(_) => return Err(GraftError::damaged("a part has a document type")),
                Event::Eof => break,
                _ => {}
            }
        }
        if nodes.is_empty() || !open.is_empty() {
            return Err(GraftError::damaged("a part is cut short"));
        }
        Ok(Outline { text, nodes })
    }

    /// The root.
    pub(super) fn root(&self) -> &Node {
        &self.nodes[0]
    }

    /// Prefix of the root with its colon, which elements of ours take too.
    pub(super) fn prefix(&self) -> &'t str {
        let name = self.name(self.root());
        name.split_once(':').map_or("", |(prefix, _)| &name[..=prefix.len()])
    }

    /// Name as it stands.
    pub(super) fn name(&self, node: &Node) -> &'t str {
        let tag = &self.text[node.open.start + 1..node.open.end];
        &tag[..tag.find(|c: char| c.is_whitespace() || matches!(c, '/' | '>')).unwrap_or(tag.len())]
    }

    /// Children of the root, in the root's namespace.
    pub(super) fn parts(&self) -> impl Iterator<Item = &Node> {
        let space = self.root().space;
        self.nodes.iter().filter(move |n| n.depth == 1 && n.space == space)
    }

    /// A child of the root.
    pub(super) fn part(&self, local: &str) -> Option<&Node> {
        self.parts().find(|n| n.local == local)
    }

    /// Children of an element, in the root's namespace.
    pub(super) fn children<'s>(&'s self, parent: &'s Node, local: &'s str) -> impl Iterator<Item = &'s Node> {
        let space = self.root().space;
        let after = self.nodes.partition_point(|n| n.open.start <= parent.open.start);
        let inside = self.nodes[after..].iter().take_while(|n| n.open.start < parent.whole.end);
        inside.filter(move |n| n.depth == parent.depth + 1 && n.space == space && n.local == local)
    }

    /// Value of an attribute without a prefix.
    pub(super) fn attribute(&self, node: &Node, key: &str) -> Option<String> {
        let raw = self.raw_attribute(node, key)?;
        Some(
            quick_xml::escape::unescape(&self.text[raw.clone()]).map_or_else(|_| self.text[raw].to_owned(), Into::into),
        )
    }

    /// Place of an attribute's value.
    pub(super) fn raw_attribute(&self, node: &Node, key: &str) -> Option<Range<usize>> {
        let tag = &self.text[node.open.clone()];
        let content = tag.trim_start_matches('<').trim_end_matches('>').trim_end_matches('/');
        let tag = BytesStart::from_content(content, self.name(node).len());
        let found = tag.attributes().flatten().find(|a| a.key.as_ref() == key)?;
        // The value is a piece of the tag, so its place follows from where it lies in memory.
        let at = node.open.start + 1 + (found.value.as_ptr() as usize).checked_sub(content.as_ptr() as usize)?;
        (at + found.value.len() <= node.open.end).then(|| at..at + found.value.len())
    }

    /// Whether an attribute says yes.
    pub(super) fn is_on(&self, node: &Node, key: &str) -> bool {
        self.attribute(node, key).is_some_and(|v| matches!(v.trim(), "1" | "true" | "on"))
    }

    /// The text inside an element, without markup.
    pub(super) fn content(&self, node: &Node) -> String {
        let raw = &self.text[node.inner.clone()];
        quick_xml::escape::unescape(raw).map_or_else(|_| raw.to_owned(), Into::into)
    }
}

fn place(reader: &NsReader<&[u8]>) -> usize {
    usize::try_from(reader.buffer_position()).unwrap_or(usize::MAX)
}

fn broken(error: impl std::fmt::Display) -> GraftError {
    GraftError::damaged(format!("a part is not well formed: {error}"))
}

fn node(reader: &NsReader<&[u8]>, tag: &BytesStart<'_>, space: Space, depth: usize, start: usize) -> Node {
    let end = place(reader);
    let relation = tag.attributes().flatten().find_map(|a| {
        let (resolved, local) = reader.resolver().resolve_attribute(a.key);
        let is_id = local.as_ref() == "id" && resolved == ResolveResult::Bound(Namespace(RELATION_ID));
        is_id.then(|| a.normalized_value(XmlVersion::Implicit1_0).map(Into::into).ok()).flatten()
    });
    Node {
        local: tag.local_name().as_ref().to_owned(),
        space,
        depth,
        open: start..end,
        whole: start..end,
        inner: end..end,
        relation,
    }
}

fn close(nodes: &mut [Node], node_idx: Option<usize>, start: usize, end: usize) {
    if let Some(node) = node_idx.and_then(|idx| nodes.get_mut(idx)) {
        node.whole.end = end;
        node.inner.end = start;
    }
}

/// Whether the text's root is in the main namespace, or why not.
pub(super) fn must_be_main(outline: &Outline<'_>) -> Result<(), GraftError> {
    match outline.root().space {
        Space::Main => Ok(()),
        Space::Strict => Err(GraftError::Strict),
        _ => Err(GraftError::NotAWorkbook),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prefixes_do_not_matter() {
        let plain = format!("<workbook xmlns='{MAIN}'><sheets><sheet name='A &amp; B'/></sheets></workbook>");
        let prefixed =
            format!("<x:workbook xmlns:x='{MAIN}'><x:sheets ><x:sheet\n name = 'A &amp; B' /></x:sheets></x:workbook>");
        for text in [plain, prefixed] {
            let outline = Outline::of(&text, 2).unwrap();
            let sheets = outline.part("sheets").unwrap();
            let sheet = outline.children(sheets, "sheet").next().unwrap();
            assert_eq!(outline.attribute(sheet, "name").as_deref(), Some("A & B"));
            let raw = outline.raw_attribute(sheet, "name").unwrap();
            assert_eq!(&text[raw], "A &amp; B");
            assert!(sheet.is_one_tag() && !sheets.is_one_tag());
        }
    }

    #[test]
    fn a_relationship_is_known_by_its_namespace() {
        let text = format!("<a xmlns:q='{RELATION_ID}' xmlns:z='z'><b q:id='rId7' z:id='no'/></a>");
        assert_eq!(Outline::of(&text, 1).unwrap().nodes[1].relation.as_deref(), Some("rId7"));
    }

    #[test]
    fn a_document_type_is_refused() {
        for text in ["<!DOCTYPE a><a/>", "<a><b></a>", "<a>", ""] {
            assert!(matches!(Outline::of(text, 2), Err(GraftError::Damaged(_))), "{text}");
        }
    }
}
