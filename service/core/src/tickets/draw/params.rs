//! Parameters: drawn, stored with the item, and read back.
//! Stored parameters are enough to make the same item again, years later, from the same version of its model.

use super::{Scope, TURN};
use crate::tickets::ParamValue;
use crate::tickets::formula::Value;
use crate::tickets::model::{ItemModel, Param, ParamRange};
use rand::Rng;
use std::collections::BTreeMap;

/// One value for each parameter, every value of a range as likely as another.
pub(super) fn draw(model: &ItemModel, rng: &mut impl Rng) -> Vec<Value> {
    model.params.iter().map(|param| draw_one(&param.range, rng)).collect()
}

fn draw_one(range: &ParamRange, rng: &mut impl Rng) -> Value {
    match range {
        ParamRange::Span(low, high) => Value::whole(i128::from(rng.gen_range(*low..=*high))),
        ParamRange::Set(values) => {
            let at = rng.gen_range(0..values.len().max(1));
            values.get(at).cloned().unwrap_or(Value::whole(0))
        }
    }
}

/// The parameters as they are kept with the item.
pub(super) fn stored(model: &ItemModel, scope: &Scope) -> BTreeMap<String, ParamValue> {
    let mut params: BTreeMap<String, ParamValue> = model
        .params
        .iter()
        .zip(&scope.values)
        .map(|(param, value)| (param.name.clone(), stored_value(value)))
        .collect();
    if scope.turn > 0 {
        params.insert(TURN.to_owned(), ParamValue::Int(scope.turn as i64));
    }
    params
}

fn stored_value(value: &Value) -> ParamValue {
    let whole = value.number().filter(|n| n.is_integer()).and_then(|n| i64::try_from(n.to_integer()).ok());
    whole.map_or_else(|| ParamValue::Text(value.plain()), ParamValue::Int)
}

/// The values of stored parameters, in the model's order, and the turn of the options.
pub(super) fn from_stored(
    model: &ItemModel,
    params: &BTreeMap<String, ParamValue>,
) -> Result<(Vec<Value>, usize), String> {
    let unknown = params.keys().find(|name| *name != TURN && !model.params.iter().any(|p| p.name == **name));
    if let Some(name) = unknown {
        return Err(format!("it has no parameter {name}"));
    }
    let turn = match params.get(TURN) {
        None => 0,
        Some(ParamValue::Int(turn)) if (0..=8).contains(turn) => *turn as usize,
        Some(_) => return Err("the turn of the options is not a number from 0 to 8".to_owned()),
    };
    let values = model.params.iter().map(|param| value_of(param, params)).collect::<Result<_, _>>()?;
    Ok((values, turn))
}

fn value_of(param: &Param, params: &BTreeMap<String, ParamValue>) -> Result<Value, String> {
    let name = &param.name;
    let given = params.get(name).ok_or_else(|| format!("the parameter {name} is missing"))?;
    let found = match (&param.range, given) {
        (ParamRange::Span(low, high), ParamValue::Int(number)) if (*low..=*high).contains(number) => {
            Some(Value::whole(i128::from(*number)))
        }
        (ParamRange::Set(values), given) => values.iter().find(|v| stored_value(v) == *given).cloned(),
        (ParamRange::Span(..), _) => None,
    };
    found.ok_or_else(|| format!("{name} = {given} is outside what it may be"))
}
