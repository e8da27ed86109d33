//! Whether bands of total score would serve as well: where skills rise and fall together they do, and then it is said.
//!
//! In:  a seating with at least two groups a pool. Out: a finding, where groups of the same sizes made by total score would reach at
//! least [`AS_WELL`] of the expected useful minutes. Nobody is ever seated so.
//! Keeps: `bands_that_serve_as_well_are_told`. Source: simulations of this project: with skills that go together at .8 the gain over
//! total score is one to two points of a hundred.

use super::needs::Needs;
use super::seating::{SeatedGroup, target_of};
use crate::finding::Finding;
use crate::profile::Profiles;

/// Share of the useful minutes from which bands serve as well.
const AS_WELL: f64 = 0.98;

/// The finding, where there is something to say.
pub(super) fn bands_finding(
    needs: &Needs,
    profiles: &Profiles,
    groups: &[SeatedGroup],
    n_pools: usize,
) -> Option<Finding> {
    let (mut ours, mut bands, mut n_groups) = (0.0, 0.0, 0);
    for pool in 0..n_pools {
        let of_pool: Vec<&SeatedGroup> = groups.iter().filter(|g| g.pool == pool).collect();
        if of_pool.len() < 2 {
            continue;
        }
        n_groups += of_pool.len();
        ours += of_pool.iter().map(|g| useful(needs, &g.members)).sum::<f64>();
        bands += useful_in_bands(needs, profiles, &of_pool);
    }
    if n_groups == 0 || ours <= 0.0 || bands < AS_WELL * ours {
        return None;
    }
    let message = format!(
        "Skills rise and fall together here: groups by total score would reach {:.0} % of the useful minutes of these.",
        (100.0 * bands / ours).min(100.0)
    );
    Some(Finding::note("total-score-would-do", message, "seated by need all the same"))
}

/// Members who are expected to need the best target of theirs.
fn useful(needs: &Needs, members: &[usize]) -> f64 {
    let target = target_of(needs, members);
    members.iter().map(|&s| needs.gain[(s, target)]).sum()
}

fn useful_in_bands(needs: &Needs, profiles: &Profiles, groups: &[&SeatedGroup]) -> f64 {
    let mut students: Vec<usize> = groups.iter().flat_map(|g| g.members.iter().copied()).collect();
    let total = |s: usize| {
        let (got, possible) =
            profiles.reports[s].iter().fold((0.0, 0.0), |t, r| (t.0 + r.points, t.1 + r.points_possible));
        if possible > 0.0 { got / possible } else { 0.0 }
    };
    students.sort_by(|&a, &b| total(a).total_cmp(&total(b)).then(a.cmp(&b)));
    let mut rest = students.as_slice();
    let mut sum = 0.0;
    for group in groups {
        let (band, others) = rest.split_at(group.members.len());
        sum += useful(needs, band);
        rest = others;
    }
    sum
}
