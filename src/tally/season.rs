//! Which harvest a season belongs to, and which winter a date can still serve.

use crate::block::{Block, Hemisphere};
use jiff::civil::Date;

/// The year of the vine in this block's hemisphere. A season begins with the dormant months before it and is
/// called by the calendar year of its harvest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Calendar {
    hemisphere: Hemisphere,
    /// First and last dormant month as in the northern hemisphere, 1 to 12.
    dormant: (i8, i8),
}

impl Calendar {
    /// The calendar that the block's hemisphere and assumptions give.
    pub fn of(block: &Block) -> Self {
        let month = |name| block.assumptions.get(name).clamp(1.0, 12.0).round() as i8;
        let dormant = (month("season.dormant_from_month"), month("season.dormant_to_month"));
        Calendar { hemisphere: block.hemisphere, dormant }
    }

    /// Calendar year of the harvest of the season in which `date` lies.
    pub fn season(&self, date: Date) -> i16 {
        let (year, month) = self.northern(date);
        if month >= self.dormant.0 { year + 1 } else { year }
    }

    /// Harvest after the dormant season in progress on `date`, or after the next one: the harvest of year 1 for a
    /// walk that ended then, and the first harvest that material to be had from then can be planted for.
    pub fn coming_harvest(&self, date: Date) -> i16 {
        self.season(date) + i16::from(!self.is_dormant(date))
    }

    /// First winter, counted from the one of the walk as 0, in which material to be had from `available` can be planted.
    pub fn first_winter(&self, walk: Date, available: Date) -> u32 {
        (self.coming_harvest(available) - self.coming_harvest(walk)).max(0) as u32
    }

    /// Seasons that a vine planted on `planted` has behind it in the winter of the walk; 0 if planted for the coming one.
    pub fn seasons_grown(&self, walk: Date, planted: Date) -> u32 {
        (self.coming_harvest(walk) - self.season(planted)).max(0) as u32
    }

    fn is_dormant(&self, date: Date) -> bool {
        let (month, (from, to)) = (self.northern(date).1, self.dormant);
        if from <= to { (from..=to).contains(&month) } else { month >= from || month <= to }
    }

    /// Year and month at which the season stands as far in the northern hemisphere.
    fn northern(&self, date: Date) -> (i16, i8) {
        match self.hemisphere {
            Hemisphere::North => (date.year(), date.month()),
            Hemisphere::South if date.month() > 6 => (date.year() + 1, date.month() - 6),
            Hemisphere::South => (date.year(), date.month() + 6),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn calendar(hemisphere: Hemisphere) -> Calendar {
        Calendar { hemisphere, dormant: (11, 3) }
    }

    #[test]
    fn a_northern_walk_looks_at_the_harvest_after_its_winter() {
        let c = calendar(Hemisphere::North);
        assert_eq!(c.coming_harvest(date(2025, 11, 20)), 2026); // in the dormant season
        assert_eq!(c.coming_harvest(date(2026, 2, 1)), 2026);
        assert_eq!(c.coming_harvest(date(2025, 8, 1)), 2026); // in leaf: the winter to come
        assert_eq!(c.seasons_grown(date(2025, 11, 20), date(2025, 5, 14)), 1);
        assert_eq!(c.seasons_grown(date(2025, 11, 20), date(2024, 11, 14)), 1);
        assert_eq!(c.first_winter(date(2025, 11, 20), date(2026, 11, 1)), 1);
        assert_eq!(c.first_winter(date(2025, 11, 20), date(2026, 3, 1)), 0);
        assert_eq!(c.first_winter(date(2025, 11, 20), date(2020, 3, 1)), 0);
    }

    #[test]
    fn a_southern_harvest_falls_in_the_year_after_its_winter() {
        let c = calendar(Hemisphere::South);
        assert_eq!(c.coming_harvest(date(2025, 6, 20)), 2026);
        assert_eq!(c.coming_harvest(date(2026, 2, 1)), 2027); // before this harvest, but in leaf
        assert_eq!(c.season(date(2025, 10, 1)), 2026);
        assert_eq!(c.seasons_grown(date(2026, 6, 20), date(2025, 9, 14)), 1);
    }
}
