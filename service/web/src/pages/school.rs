//! `/school`: the setup in force.
//!
//! In:  the setup and its text as the school wrote it. Out: rules in words, the timetable, rooms, stations.
//! Not here: changing any of it (`setup`), the list of students (`students`).

use super::{Frame, Here, PageAnswer, html, render};
use crate::service::{Service, run};
use askama::Template;
use sheaf_core::roster::{GroupCount, Include, OmittedCounts, School, Within};

struct BlockRow {
    id: String,
    when: String,
    leaders: String,
    others: String,
}

#[derive(Template)]
#[template(path = "school.html")]
struct SchoolPage {
    frame: Frame,
    rules: Vec<(&'static str, String)>,
    blocks: Vec<BlockRow>,
    rooms: Vec<(String, usize)>,
    stations: Vec<(String, String)>,
    toml: String,
}

/// The page.
pub(crate) async fn show(service: Service) -> PageAnswer {
    let body = run(&service, |s| {
        let setup = s.weeks.setup();
        let school = &setup.school;
        render(&SchoolPage {
            frame: Frame::new(s, Here::School, "School", None)?,
            rules: rules(school),
            blocks: blocks(school),
            rooms: school.rooms.iter().map(|r| (r.name.clone(), r.seats)).collect(),
            stations: school.stations.iter().map(|s| (s.name.clone(), station_words(s))).collect(),
            toml: setup.toml.clone(),
        })
    });
    Ok(html(body.await?))
}

fn rules(school: &School) -> Vec<(&'static str, String)> {
    let groups = &school.groups;
    let include = match groups.include {
        Include::Need => "students with an unmet skill",
        Include::All => "everyone with scores",
    };
    let within = match groups.within {
        Within::Grade => "students of one grade",
        Within::Homeroom => "students of one homeroom",
        Within::All => "anyone",
    };
    let count = match groups.count {
        GroupCount::Auto => "as many as the timetable can serve".to_owned(),
        GroupCount::Fixed(n) => n.to_string(),
    };
    let omitted = match school.mastery.omitted {
        OmittedCounts::Nothing => "neither for nor against the student",
        OmittedCounts::Wrong => "as wrong",
    };
    let sessions = groups.sessions.map_or_else(|| "as many as fit".to_owned(), |n| n.to_string());
    let apart = groups.keep_apart.iter().map(|(a, b)| format!("{a} and {b}")).collect::<Vec<_>>().join("; ");
    vec![
        ("Who gets a seat", include.to_owned()),
        ("Who may sit together", within.to_owned()),
        ("Group size", format!("{} to {} students", groups.min_size, groups.max_size)),
        ("Groups", count),
        ("Staffed sessions a week a group asks for", sessions),
        ("Kept apart", if apart.is_empty() { "nobody".to_owned() } else { apart }),
        (
            "A skill counts as met",
            format!(
                "from {:.0} of 100 points, confirmed on {} checks",
                school.mastery.cut * 100.0,
                school.mastery.confirm
            ),
        ),
        ("A blank answer counts", omitted.to_owned()),
        ("Items on a ticket", school.ticket.items.to_string()),
        (
            "Score sheets themselves stay",
            format!(
                "{} after their week; what was read stays",
                super::text::count(school.records.keep_originals_weeks, "week")
            ),
        ),
    ]
}

fn blocks(school: &School) -> Vec<BlockRow> {
    let row = |block: &sheaf_core::roster::Block| {
        let free = |leads: bool| {
            let staff = school.staff.iter().filter(|s| s.leads == leads && s.blocks.contains(&block.id));
            staff.map(|s| s.name.as_str()).collect::<Vec<_>>().join(", ")
        };
        BlockRow {
            id: block.id.clone(),
            when: format!("{} {}–{}", block.time.day.long(), block.time.start, block.time.end),
            leaders: free(true),
            others: free(false),
        }
    };
    school.blocks.iter().map(row).collect()
}

fn station_words(station: &sheaf_core::roster::Station) -> String {
    if station.staffed {
        "one group for each adult who leads".to_owned()
    } else {
        super::text::count(station.capacity, "group") + " at a time, nobody leads"
    }
}
