//! Labels that do not overlap.

use crate::base::math;
use std::ops::Range;

/// Where a label would like to be along one direction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// Its middle, pixels.
    pub middle: f64,
    /// Its length, pixels.
    pub length: f64,
}

/// Labels pushed against each other; they move as one.
struct Cluster {
    /// Start of the first label.
    start: f64,
    length: f64,
    /// Sum over its labels of where each would have the cluster start.
    wish: f64,
    /// The labels in order, each with its distance from the start.
    members: Vec<(usize, f64)>,
}

/// Places labels in a row (or column) so that none overlaps another and all lie within `room`.
///
/// Labels keep their order and are moved as little as possible in the sense of least squares; a
/// label nobody crowds is not moved at all. Where there is not room for all, those that come last
/// in `wanted` are dropped. Returns the middle of each label, `None` if it was dropped.
#[must_use]
pub fn spread(wanted: &[Wanted], room: Range<f64>, gap: f64) -> Vec<Option<f64>> {
    let mut order: Vec<usize> = (0..fitting(wanted, room.end - room.start, gap)).collect();
    order.sort_by(|&a, &b| wanted[a].middle.total_cmp(&wanted[b].middle));
    let mut clusters: Vec<Cluster> = Vec::new();
    for index in order {
        let Wanted { middle, length } = wanted[index];
        let wish = middle - length / 2.0;
        let alone = Cluster { start: wish, length, wish, members: vec![(index, 0.0)] };
        push(&mut clusters, settled(alone, &room), &room, gap);
    }
    let mut middles = vec![None; wanted.len()];
    for cluster in &clusters {
        for &(index, offset) in &cluster.members {
            middles[index] = Some(cluster.start + offset + wanted[index].length / 2.0);
        }
    }
    middles
}

/// How many of the labels, from the first, have room together.
fn fitting(wanted: &[Wanted], room: f64, gap: f64) -> usize {
    let mut used = -gap;
    wanted
        .iter()
        .take_while(|label| {
            used += label.length + gap;
            used <= room
        })
        .count()
}

fn push(clusters: &mut Vec<Cluster>, mut next: Cluster, room: &Range<f64>, gap: f64) {
    while let Some(last) = clusters.pop_if(|last| last.start + last.length + gap > next.start) {
        next = settled(joined(last, next, gap), room);
    }
    clusters.push(next);
}

fn joined(mut left: Cluster, right: Cluster, gap: f64) -> Cluster {
    let shift = left.length + gap;
    let count = math::from_usize(right.members.len());
    left.wish += right.wish - shift * count;
    left.members.extend(right.members.iter().map(|&(index, offset)| (index, shift + offset)));
    left.length = shift + right.length;
    left
}

/// The cluster at the mean of its members' wishes, held within the room.
fn settled(mut cluster: Cluster, room: &Range<f64>) -> Cluster {
    let mean = cluster.wish / math::from_usize(cluster.members.len());
    cluster.start = mean.min(room.end - cluster.length).max(room.start);
    cluster
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn wanted(labels: &[(f64, f64)]) -> Vec<Wanted> {
        labels.iter().map(|&(middle, length)| Wanted { middle, length }).collect()
    }

    #[test]
    fn labels_with_room_stay_where_they_were_wanted() {
        let placed = spread(&wanted(&[(20.0, 10.0), (50.0, 10.0)]), 0.0..100.0, 2.0);
        assert_eq!(placed, [Some(20.0), Some(50.0)]);
    }

    #[test]
    fn two_labels_wanted_at_one_place_part_evenly() {
        let placed = spread(&wanted(&[(50.0, 10.0), (50.0, 10.0)]), 0.0..100.0, 2.0);
        assert_eq!(placed, [Some(44.0), Some(56.0)]);
    }

    #[test]
    fn the_last_label_is_dropped_where_there_is_no_room() {
        let placed = spread(&wanted(&[(9.0, 10.0), (9.0, 10.0), (9.0, 10.0)]), 0.0..25.0, 2.0);
        assert_eq!(placed.iter().filter(|place| place.is_some()).count(), 2);
        assert_eq!(placed[2], None);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn no_two_labels_overlap_and_all_lie_in_the_room(
            labels in prop::collection::vec((-200.0..1200.0, 1.0..120.0), 0..30),
            gap in 0.0..12.0,
        ) {
            let labels = wanted(&labels);
            let placed = spread(&labels, 0.0..1000.0, gap);
            let mut boxes: Vec<(f64, f64)> = placed
                .iter()
                .zip(&labels)
                .filter_map(|(place, label)| place.map(|middle| (middle, label.length)))
                .map(|(middle, length)| (middle - length / 2.0, middle + length / 2.0))
                .collect();
            boxes.sort_by(|a, b| a.0.total_cmp(&b.0));
            prop_assert!(boxes.iter().all(|edge| edge.0 > -1e-6 && edge.1 < 1000.0 + 1e-6));
            prop_assert!(boxes.windows(2).all(|pair| pair[0].1 + gap < pair[1].0 + 1e-6));
        }

        #[test]
        fn labels_keep_their_order(middles in prop::collection::vec(0.0..1000.0, 2..10)) {
            let labels: Vec<(f64, f64)> = middles.iter().map(|&middle| (middle, 80.0)).collect();
            let placed = spread(&wanted(&labels), 0.0..1000.0, 4.0);
            for (a, b) in (0..middles.len()).flat_map(|a| (0..a).map(move |b| (a, b))) {
                if middles[a] < middles[b] {
                    prop_assert!(placed[a] < placed[b]);
                }
            }
        }
    }
}
