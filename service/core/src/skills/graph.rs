//! The skill graph: code, grade, plain name, direct prerequisites.
//!
//! In:  CSV text with the header `code,grade,name,prerequisites` (prerequisites separated by `;`).
//! Keeps: no cycle (`a_cycle_is_refused`); order of [`SkillGraph::rank`] puts every prerequisite before what needs it,
//! lower grades first among the rest (`prerequisites_come_first`).
//! Codes the graph does not know rank after all known ones, in order of their text.

use super::SkillCode;
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use thiserror::Error;

/// One skill.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Skill {
    /// Code in normal form.
    pub code: SkillCode,
    /// Grade in which it is taught.
    pub grade: u8,
    /// A few plain words.
    pub name: String,
    /// Direct prerequisites.
    pub prerequisites: Vec<SkillCode>,
}

/// Why a graph could not be built.
#[derive(Debug, Error)]
pub enum SkillGraphError {
    /// A row that is not a skill.
    #[error("line {line} of the skill list: {reason}")]
    Row {
        /// 1-based line.
        line: u64,
        /// What is wrong.
        reason: String,
    },
    /// A skill that, through others, needs itself.
    #[error("the skill list has {0} among its own prerequisites")]
    Cycle(SkillCode),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    code: String,
    grade: u8,
    name: String,
    prerequisites: String,
}

/// Skills by code.
#[derive(Debug, Clone, Default)]
pub struct SkillGraph {
    skills: BTreeMap<SkillCode, Skill>,
    rank: HashMap<SkillCode, usize>,
}

impl SkillGraph {
    /// Skills of grades 2–5 as shipped in `config/skills/standards.csv`.
    ///
    /// # Errors
    /// Never for the shipped file (a test builds it).
    pub fn builtin() -> Result<Self, SkillGraphError> {
        Self::parse(include_str!("../../../../config/skills/standards.csv"))
    }

    /// Reads the CSV described in the module header.
    ///
    /// # Errors
    /// [`SkillGraphError`] with the line, or the skill on a cycle.
    pub fn parse(csv_text: &str) -> Result<Self, SkillGraphError> {
        let mut skills = BTreeMap::new();
        let mut reader =
            csv::ReaderBuilder::new().comment(Some(b'#')).trim(csv::Trim::All).from_reader(csv_text.as_bytes());
        for row in reader.deserialize::<Row>() {
            let row = row.map_err(|e| SkillGraphError::Row {
                line: e.position().map_or(0, csv::Position::line),
                reason: e.to_string(),
            })?;
            let Some(code) = SkillCode::parse(&row.code) else {
                return Err(SkillGraphError::Row { line: 0, reason: "a skill without a code".to_owned() });
            };
            let prerequisites = row.prerequisites.split(';').filter_map(SkillCode::parse).collect();
            skills.insert(code.clone(), Skill { code, grade: row.grade, name: row.name, prerequisites });
        }
        let rank = rank_all(&skills)?;
        Ok(SkillGraph { skills, rank })
    }

    /// The skill of a code.
    #[must_use]
    pub fn get(&self, code: &SkillCode) -> Option<&Skill> {
        self.skills.get(code)
    }

    /// Every skill, by code.
    pub fn iter(&self) -> impl Iterator<Item = &Skill> {
        self.skills.values()
    }

    /// The known code that a spelling without its cluster letter means (`5.NF.5a` gives `5.NF.B.5a`), or the code itself.
    #[must_use]
    pub fn resolve(&self, code: &SkillCode) -> SkillCode {
        if self.skills.contains_key(code) {
            return code.clone();
        }
        let parts: Vec<&str> = code.as_str().split('.').collect();
        if let [grade, domain, number] = parts[..] {
            let mut hits = self.skills.keys().filter(|k| {
                let k: Vec<&str> = k.as_str().split('.').collect();
                k.len() == 4 && k[0] == grade && k[1] == domain && k[3] == number
            });
            if let (Some(hit), None) = (hits.next(), hits.next()) {
                return hit.clone();
            }
        }
        code.clone()
    }

    /// `code name`, or the code alone where the graph does not know it.
    #[must_use]
    pub fn name<'a>(&'a self, code: &'a SkillCode) -> &'a str {
        self.skills.get(code).map_or(code.as_str(), |s| s.name.as_str())
    }

    /// Grade of a skill: the graph's, else the one its code begins with.
    #[must_use]
    pub fn grade(&self, code: &SkillCode) -> Option<u8> {
        self.skills.get(code).map(|s| s.grade).or_else(|| code.grade())
    }

    /// Everything that a skill needs, directly or through others; not itself.
    #[must_use]
    pub fn all_prerequisites(&self, code: &SkillCode) -> BTreeSet<SkillCode> {
        let mut found = BTreeSet::new();
        let mut open = vec![code.clone()];
        while let Some(next) = open.pop() {
            for p in self.skills.get(&next).map_or(&[][..], |s| &s.prerequisites) {
                if found.insert(p.clone()) {
                    open.push(p.clone());
                }
            }
        }
        found
    }

    /// Place in the teaching order: prerequisites first, then lower grades, then by code; unknown codes last.
    #[must_use]
    pub fn rank(&self, code: &SkillCode) -> usize {
        self.rank.get(code).copied().unwrap_or(usize::MAX)
    }
}

/// Topological order; among the ready ones the lowest grade, then the lowest code.
fn rank_all(skills: &BTreeMap<SkillCode, Skill>) -> Result<HashMap<SkillCode, usize>, SkillGraphError> {
    let mut rank = HashMap::new();
    let mut open: BTreeSet<(u8, &SkillCode)> = skills.values().map(|s| (s.grade, &s.code)).collect();
    while !open.is_empty() {
        let ready = open
            .iter()
            .find(|(_, code)| {
                skills[*code].prerequisites.iter().all(|p| !skills.contains_key(p) || rank.contains_key(p))
            })
            .copied();
        let Some(ready) = ready else {
            let code = open.iter().next().map(|(_, c)| (*c).clone());
            return Err(
                code.map_or(SkillGraphError::Row { line: 0, reason: "empty".to_owned() }, SkillGraphError::Cycle)
            );
        };
        open.remove(&ready);
        rank.insert(ready.1.clone(), rank.len());
    }
    Ok(rank)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn graph(rows: &str) -> Result<SkillGraph, SkillGraphError> {
        SkillGraph::parse(&format!("code,grade,name,prerequisites\n{rows}"))
    }

    fn code(text: &str) -> SkillCode {
        SkillCode::parse(text).unwrap()
    }

    #[test]
    fn a_cycle_is_refused() {
        let error = graph("a,3,A,b\nb,3,B,a\n").unwrap_err();
        assert_eq!(error.to_string(), "the skill list has a among its own prerequisites");
    }

    #[test]
    fn prerequisites_come_first() {
        let g = graph("a,3,A,b\nb,5,B,\nc,4,C,\n").unwrap();
        assert!(g.rank(&code("b")) < g.rank(&code("a")));
        assert!(g.rank(&code("c")) < g.rank(&code("b")));
        assert_eq!(g.rank(&code("unknown")), usize::MAX);
    }

    #[test]
    fn the_shipped_list_builds_and_knows_its_way() {
        let g = SkillGraph::builtin().unwrap();
        assert!(g.all_prerequisites(&code("5.NF.B.5b")).contains(&code("4.NF.A.1")));
        assert_eq!(g.resolve(&code("5.NF.5a")), code("5.NF.B.5a"));
        assert_eq!(g.resolve(&code("4.NF.3.c")), code("4.NF.B.3c"));
    }
}
