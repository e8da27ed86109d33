//! One item of a ticket swapped by hand, by form and by script: the rest stays, the form code is new, it can be undone.
//! What the model of an item cannot give is not offered, and refused where it is asked for.

use super::decide::{page, plan, send, tag_in};
use crate::served::Served;
use serde_json::{Value, json};

const WEEK: &str = "2026-02-02";

fn ticket<'a>(plan: &'a Value, group: &str, form: &str) -> &'a Value {
    let tickets = plan["tickets"].as_array().unwrap();
    tickets.iter().find(|t| t["group"] == group && t["form"] == form).unwrap()
}

fn form(tag: &str, item: usize, swap: &str) -> String {
    format!("tag={tag}&group=g1&form=A&item={item}&swap={swap}")
}

#[test]
fn a_person_swaps_one_item_and_may_undo_it() {
    let served = Served::demo();
    let (before, _) = plan(&served);
    let tickets = page(&served, &format!("/tickets/{WEEK}"));
    assert!(tickets.contains("Swap item 2") && !tickets.contains("Items that were swapped"));
    let sent = send(&served, &format!("/tickets/{WEEK}/swap"), form(&tag_in(&tickets), 2, "another"));
    assert_eq!(sent.status().as_u16(), 303);
    assert_eq!(sent.headers()["location"], format!("/tickets/{WEEK}#t-g1-A"));
    let (after, _) = plan(&served);
    let (old, new) = (ticket(&before, "g1", "A"), ticket(&after, "g1", "A"));
    assert_ne!(old["form_code"], new["form_code"]);
    for (was, is) in old["items"].as_array().unwrap().iter().zip(new["items"].as_array().unwrap()) {
        assert_eq!(was == is, was["number"] != 2, "{was}");
    }
    assert_eq!(ticket(&before, "g1", "B"), ticket(&after, "g1", "B"));
    assert_eq!(before["groups"], after["groups"]);
    assert_eq!(before["rotation"], after["rotation"]);
    let shown = page(&served, &format!("/tickets/{WEEK}"));
    assert!(shown.contains("Item 2 of form A of Group 1 is another of its kind."));
    assert!(shown.contains(new["form_code"].as_str().unwrap()));
    let undone = send(&served, &format!("/tickets/{WEEK}/undo"), format!("tag={}", tag_in(&shown)));
    assert_eq!(undone.status().as_u16(), 303);
    assert_eq!(plan(&served).0["tickets"], before["tickets"]);
}

#[test]
fn a_script_swaps_an_item_and_what_cannot_be_is_refused() {
    let served = Served::demo();
    let (before, tag) = plan(&served);
    let patch = |body: &Value| {
        let request = served.script("PATCH", &format!("/api/v1/weeks/{WEEK}/groups")).header("if-match", &tag);
        let answer = request.json(body).send().unwrap();
        (answer.status().as_u16(), serde_json::from_slice::<Value>(&answer.bytes().unwrap()).unwrap())
    };
    let ask = |item: usize, swap: &str| json!({"group": "g1", "form": "A", "item": item, "swap": swap});
    for (body, code) in [(ask(77, "another"), "no-such-item"), (ask(1, "nicer"), "no-such-swap")] {
        let (status, problem) = patch(&body);
        assert_eq!((status, problem["code"].as_str()), (422, Some(code)));
    }
    let (status, after) = patch(&ask(1, "other-kind"));
    assert_eq!(status, 200, "{after}");
    let model = |plan: &Value| ticket(plan, "g1", "A")["items"][0]["model"].clone();
    assert_ne!(model(&before), model(&after));
    assert_eq!(patch(&ask(1, "another")).0, 412, "on a plan that is no longer there");
}

#[test]
fn the_keys_say_how_sure_a_ticket_is() {
    let served = Served::demo();
    let keys = page(&served, &format!("/tickets/{WEEK}/keys"));
    for words in
        ["The cut is 4 of 5.", "52 to 94 %", "34 of 100", "11 of 100", "A child who only guesses has 4 of 5 right"]
    {
        assert!(keys.contains(words), "{words}");
    }
}
