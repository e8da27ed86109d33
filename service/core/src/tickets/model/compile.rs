//! A model as written into a model as drawn: every formula read, every name known, every part that its type needs there.
//! A mistake is one sentence with its line; the other models of the file still load.

use super::file::{Placed, RawModel, RawOption, RawPart, RawRow};
use super::{Body, ChoiceSpec, Face, ItemModel, Lever, OptionSpec, Param, ParamRange, PartSpec, RowSpec};
use crate::scores::ItemKind;
use crate::skills::SkillCode;
use crate::tickets::formula::{Budget, Formula, FormulaError, Template, Value};
use std::collections::BTreeSet;

/// Why a model could not be compiled, and where in its text.
pub(super) struct CompileError {
    pub(super) at: usize,
    pub(super) reason: String,
}

type Compiled<T> = Result<T, CompileError>;

/// Names that a model may not give its parameters.
const RESERVED: [&str; 9] = ["turn", "if", "else", "and", "or", "not", "in", "True", "False"];

/// Most whole numbers in a span.
const WIDEST_SPAN: i64 = 1_000_000;

fn fail<T>(placed: &Placed, reason: impl Into<String>) -> Compiled<T> {
    Err(CompileError { at: placed.span().start, reason: reason.into() })
}

fn placed<T>(source: &Placed, result: Result<T, FormulaError>) -> Compiled<T> {
    result.map_err(|e| CompileError { at: source.span().start, reason: e.to_string() })
}

/// Compiles a model; `file` and `line` are kept for messages.
pub(super) fn compile(raw: &RawModel, file: &str, line: usize) -> Compiled<ItemModel> {
    let (params, names) = params_of(raw)?;
    let mut compiler = Compiler { names, patterns: BTreeSet::new() };
    let lets = compiler.lets(&raw.lets)?;
    let formulas = |texts: &[Placed]| texts.iter().map(|c| compiler.formula(c)).collect::<Compiled<Vec<_>>>();
    let conditions = formulas(&raw.conditions)?;
    let (easier, harder) = (formulas(&raw.easier_where)?, formulas(&raw.harder_where)?);
    let kind = match ItemKind::parse(raw.kind.get_ref()) {
        Some(kind) => kind,
        None => return fail(&raw.kind, format!("`{}` is not a type of item", raw.kind.get_ref())),
    };
    let body = compiler.body(raw, kind)?;
    Ok(ItemModel {
        slug: slug_of(&raw.slug)?,
        version: *raw.version.get_ref(),
        skill: skill_of(&raw.skill)?,
        kind,
        stem: compiler.template(&raw.stem)?,
        picture: raw.picture.as_ref().map(|p| compiler.template(p)).transpose()?,
        drawing: drawing_of(raw, &compiler)?,
        params,
        lets,
        conditions,
        body,
        easier: Lever { words: raw.easier.clone(), conditions: easier },
        harder: Lever { words: raw.harder.clone(), conditions: harder },
        patterns: compiler.patterns.into_iter().collect(),
        file: file.to_owned(),
        line,
    })
}

fn slug_of(slug: &Placed) -> Compiled<String> {
    let text = slug.get_ref();
    let is_slug = !text.is_empty() && text.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-');
    if is_slug { Ok(text.clone()) } else { fail(slug, "a slug has lower-case letters, digits and hyphens only") }
}

/// A drawing needs words for those who cannot see it.
fn drawing_of(raw: &RawModel, compiler: &Compiler) -> Compiled<Option<Template>> {
    match (&raw.draw, &raw.picture) {
        (Some(draw), None) => fail(draw, "a model with `draw` needs its text alternative, `picture`"),
        (draw, _) => draw.as_ref().map(|d| compiler.template(d)).transpose(),
    }
}

fn skill_of(skill: &Placed) -> Compiled<SkillCode> {
    match SkillCode::parse(skill.get_ref()) {
        Some(code) => Ok(code),
        None => fail(skill, "a model needs a skill"),
    }
}

fn params_of(raw: &RawModel) -> Compiled<(Vec<Param>, Vec<String>)> {
    let mut params = Vec::new();
    for (name, range) in &raw.params {
        if RESERVED.contains(&name.as_str()) {
            return fail(range, format!("`{name}` cannot be the name of a parameter"));
        }
        params.push(Param { name: name.clone(), range: range_of(range)? });
    }
    let names = params.iter().map(|p| p.name.clone()).collect();
    Ok((params, names))
}

/// `2..9`, or `{2, 3, 4}`.
fn range_of(source: &Placed) -> Compiled<ParamRange> {
    let text = source.get_ref();
    if let Some((low, high)) = text.split_once("..") {
        let (Ok(low), Ok(high)) = (low.trim().parse::<i64>(), high.trim().parse::<i64>()) else {
            return fail(source, format!("`{text}` is not a span such as 2..9"));
        };
        if low > high || high.checked_sub(low).is_none_or(|width| width > WIDEST_SPAN) {
            return fail(source, format!("the span {text} is empty or too wide"));
        }
        return Ok(ParamRange::Span(low, high));
    }
    let value = placed(source, Formula::parse(text, &[]))?.value(&[], &mut Budget::new(1_000));
    match value {
        Ok(Value::List(values)) if !values.is_empty() => Ok(ParamRange::Set(values)),
        Ok(_) => fail(source, format!("`{text}` is neither a span such as 2..9 nor a set such as {{2, 3}}")),
        Err(e) => fail(source, e.to_string()),
    }
}

/// Reads formulas; knows the names so far and collects the codes.
struct Compiler {
    names: Vec<String>,
    patterns: BTreeSet<String>,
}

impl Compiler {
    fn formula(&self, source: &Placed) -> Compiled<Formula> {
        placed(source, Formula::parse(source.get_ref(), &self.names))
    }

    fn template(&self, source: &Placed) -> Compiled<Template> {
        placed(source, Template::parse(source.get_ref(), &self.names))
    }

    /// `name = formula`, each of which may use the ones before.
    fn lets(&mut self, sources: &[Placed]) -> Compiled<Vec<(String, Formula)>> {
        let mut lets = Vec::new();
        for source in sources {
            let Some((name, formula)) = source.get_ref().split_once('=') else {
                return fail(source, "write `let` as name = formula");
            };
            let name = name.trim().to_owned();
            if RESERVED.contains(&name.as_str()) || self.names.contains(&name) {
                return fail(source, format!("the name `{name}` is taken"));
            }
            lets.push((name.clone(), placed(source, Formula::parse(formula, &self.names))?));
            self.names.push(name);
        }
        Ok(lets)
    }

    fn body(&mut self, raw: &RawModel, kind: ItemKind) -> Compiled<Body> {
        match kind {
            ItemKind::Choice => self.choice_body(raw),
            ItemKind::MultiSelect => self.multi_select_body(raw),
            ItemKind::Match => self.match_body(raw),
            ItemKind::TwoPart => self.two_part_body(raw),
            ItemKind::Numeric => self.numeric_body(raw),
        }
    }

    fn choice_body(&mut self, raw: &RawModel) -> Compiled<Body> {
        let Some(key) = &raw.key else {
            return fail(&raw.kind, "a choice model needs a `key`");
        };
        if raw.wrong.len() < 3 {
            return fail(&raw.kind, "a choice model needs three `wrong` options or more");
        }
        key_is_not_wrong(key, &raw.wrong)?;
        Ok(Body::Choice(Box::new(ChoiceSpec {
            key: self.option(key, &raw.kind)?,
            wrong: self.wrong_options(&raw.wrong, &raw.kind)?,
            show: Vec::new(),
        })))
    }

    fn multi_select_body(&mut self, raw: &RawModel) -> Compiled<Body> {
        let Some(right_when) = &raw.right_when else {
            return fail(&raw.kind, "a multi-select model needs `right_when`");
        };
        if raw.options.len() < 3 {
            return fail(&raw.kind, "a multi-select model needs three `options` or more");
        }
        if self.names.iter().any(|name| name == "x") {
            return fail(right_when, "`x` is the number of an option here and cannot be a parameter");
        }
        let options = raw.options.iter().map(|o| self.option(o, &raw.kind)).collect::<Compiled<Vec<_>>>()?;
        let mut names = self.names.clone();
        names.push("x".to_owned());
        let right_when = placed(right_when, Formula::parse(right_when.get_ref(), &names))?;
        Ok(Body::MultiSelect { options, right_when })
    }

    fn match_body(&mut self, raw: &RawModel) -> Compiled<Body> {
        if raw.columns.len() < 2 || raw.rows.len() < 2 {
            return fail(&raw.kind, "a match model needs two `columns` and two `rows` or more");
        }
        let columns = raw.columns.iter().map(|c| self.template(c)).collect::<Compiled<_>>()?;
        let rows = raw.rows.iter().map(|r| self.row(r)).collect::<Compiled<_>>()?;
        Ok(Body::Match { columns, rows })
    }

    fn row(&mut self, raw: &RawRow) -> Compiled<RowSpec> {
        Ok(RowSpec {
            text: self.template(&raw.text)?,
            key: self.formula(&raw.key)?,
            wrong: self.wrong_options(&raw.wrong, &raw.text)?,
        })
    }

    fn two_part_body(&mut self, raw: &RawModel) -> Compiled<Body> {
        if raw.parts.len() != 2 {
            return fail(&raw.kind, "a two-part model needs two `parts`");
        }
        raw.parts.iter().map(|p| self.part(p)).collect::<Compiled<_>>().map(Body::TwoPart)
    }

    fn part(&mut self, raw: &RawPart) -> Compiled<PartSpec> {
        if !matches!((raw.show.len(), raw.wrong.len()), (4, 1..) | (0, 3..)) {
            return fail(&raw.stem, "a part needs three `wrong` options or more, or `show` with all four options");
        }
        key_is_not_wrong(&raw.key, &raw.wrong)?;
        Ok(PartSpec {
            stem: self.template(&raw.stem)?,
            choice: ChoiceSpec {
                key: self.option(&raw.key, &raw.stem)?,
                wrong: self.wrong_options(&raw.wrong, &raw.stem)?,
                show: raw.show.iter().map(|s| self.template(s)).collect::<Compiled<_>>()?,
            },
        })
    }

    fn numeric_body(&mut self, raw: &RawModel) -> Compiled<Body> {
        let Some(key) = raw.key.as_ref().and_then(|k| k.value.as_ref()) else {
            return fail(&raw.kind, "a numeric model needs a `key` with a `value`");
        };
        raw.key.as_ref().map_or(Ok(()), |key| key_is_not_wrong(key, &raw.wrong))?;
        Ok(Body::Numeric { key: self.formula(key)?, wrong: self.wrong_options(&raw.wrong, &raw.kind)? })
    }

    fn wrong_options(&mut self, raw: &[RawOption], near: &Placed) -> Compiled<Vec<OptionSpec>> {
        raw.iter()
            .map(|option| match option.pattern {
                Some(_) => self.option(option, near),
                None => fail(option_place(option).unwrap_or(near), "a wrong option needs a `pattern`"),
            })
            .collect()
    }

    fn option(&mut self, raw: &RawOption, near: &Placed) -> Compiled<OptionSpec> {
        let face = match (&raw.value, &raw.text, &raw.worth) {
            (Some(value), None, None) => Face::Value(self.formula(value)?),
            (None, Some(text), worth) => {
                Face::Text { text: self.template(text)?, worth: worth.as_ref().map(|w| self.formula(w)).transpose()? }
            }
            _ => {
                let place = option_place(raw).unwrap_or(near);
                return fail(place, "an option has either a `value`, or a `text` that may have a `worth`");
            }
        };
        let claim = raw.claim.as_ref().map(|c| self.formula(c)).transpose()?;
        let when = raw.when.as_ref().map(|w| self.formula(w)).transpose()?;
        let codes: Vec<String> = raw.pattern.iter().chain(&raw.also).map(|p| p.get_ref().clone()).collect();
        self.patterns.extend(codes.iter().cloned());
        Ok(OptionSpec { face, claim, when, codes })
    }
}

/// A wrong option that is written as the key is a slip; one that only sometimes has its value is dropped at the draw.
fn key_is_not_wrong(key: &RawOption, wrong: &[RawOption]) -> Compiled<()> {
    let written = |option: &RawOption| {
        option_place(option).map(|o| o.get_ref().chars().filter(|c| !c.is_whitespace()).collect::<String>())
    };
    let same = wrong.iter().find(|w| w.claim.is_none() && written(w) == written(key)).and_then(option_place);
    same.map_or(Ok(()), |place| fail(place, "a wrong option is written as the key"))
}

fn option_place(raw: &RawOption) -> Option<&Placed> {
    raw.value.as_ref().or(raw.text.as_ref()).or(raw.worth.as_ref())
}
