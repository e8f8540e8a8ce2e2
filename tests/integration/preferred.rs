//! Preferred values against the printed lists (IEC 60063).

use crate::published::rows;
use backporch::base::math;
use backporch::base::preferred::Series;

fn named(name: &str) -> Series {
    Series::NAMED.iter().find(|(known, _)| *known == name).unwrap().1
}

#[test]
fn the_lists_are_the_printed_ones() {
    for row in rows("preferred.csv") {
        let printed: Vec<u32> = row[1].split(' ').map(|word| word.parse().unwrap()).collect();
        let unit = if printed[0] == 10 { 10 } else { 1 };
        let printed: Vec<u32> = printed.into_iter().map(|figure| figure * unit).collect();
        assert_eq!(named(&row[0]).decade(), printed, "{}", row[0]);
    }
}

/// Eight of the 24 are not what the rounding formula gives.
#[test]
fn the_exceptions_of_e24_are_where_they_are_printed() {
    let formula =
        |index: usize| (10.0 * math::pow(10.0, math::from_usize(index) / 24.0)).round() * 10.0;
    let decade = Series::E24.decade();
    let differ: Vec<(u32, f64)> = (0..24)
        .map(|index| (decade[index], formula(index)))
        .filter(|(listed, formula)| (f64::from(*listed) - formula).abs() > 1.0)
        .collect();
    let printed = [
        (270, 260.0),
        (300, 290.0),
        (330, 320.0),
        (360, 350.0),
        (390, 380.0),
        (430, 420.0),
        (470, 460.0),
        (820, 830.0),
    ];
    assert_eq!(differ, printed);
}

/// Only 100 110 130 150 200 750 of E24 are in E96, so 470 is not.
#[test]
fn six_values_of_e24_are_in_e96() {
    let finer = Series::E96.decade();
    let common: Vec<u32> =
        Series::E24.decade().into_iter().filter(|figure| finer.contains(figure)).collect();
    assert_eq!(common, [100, 110, 130, 150, 200, 750]);
}

/// The one exception of E192: 920, where the formula gives 919 (from memory of IEC 60063).
#[test]
fn e192_has_920_and_not_919() {
    let decade = Series::E192.decade();
    assert!(decade.contains(&920) && !decade.contains(&919));
    assert_eq!(decade[184..188], [909, 920, 931, 942]);
}
