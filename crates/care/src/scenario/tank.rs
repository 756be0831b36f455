//! One tank: its duty, its door, its counter, and the run of its positions.

use jiff::civil::Date;

use super::calendar::{day_after, days_between};
use super::clerk;
use super::draw::Draw;
use super::file::{Group, Plan, Site};
use super::position::{self, Log};
use super::rows::AssetRow;

/// What stays the same for a tank through the run. Times are days since the start of the burn-in.
pub(super) struct Tank<'a> {
    pub plan: &'a Plan,
    pub site: &'a Site,
    pub group: &'a Group,
    pub asset: String,
    /// Relative wear of each arc of the door frame.
    pub severity: Vec<f64>,
    pub cycles_per_week: f64,
    first_reading: f64,
    start: Date,
    pub records_from: f64,
    /// End of the cut-off day.
    pub end: f64,
}

impl<'a> Tank<'a> {
    /// The tank of that name. Its duty is drawn from the group's.
    pub fn new(
        plan: &'a Plan,
        site: &'a Site,
        group: &'a Group,
        asset: String,
        draw: &mut Draw,
    ) -> Self {
        let start = day_after(plan.records_from, -i64::from(plan.burn_in_days));
        let from = site.records_from.unwrap_or(plan.records_from);
        let severity = site
            .out_of_line
            .iter()
            .find(|door| door.tank == asset)
            .map_or_else(|| vec![1.0; plan.sectors], |door| door.severity.clone());
        Self {
            cycles_per_week: group.cycles_per_week * (1.0 + group.cycles_spread * draw.swing()),
            first_reading: 2000.0 * draw.share(),
            severity,
            start,
            records_from: days_between(start, from) as f64,
            end: (days_between(start, plan.cut_off) + 1) as f64,
            plan,
            site,
            group,
            asset,
        }
    }

    /// The calendar day of a time.
    pub fn day(&self, time: f64) -> Date {
        day_after(self.start, time.floor() as i64)
    }

    /// The cleaning counter at a time.
    pub fn reading(&self, time: f64) -> i64 {
        (self.first_reading + time * self.cycles_per_week / 7.0).floor() as i64
    }

    fn row(&self, conditions: &[String]) -> AssetRow {
        AssetRow {
            asset: self.asset.clone(),
            site: self.site.name.clone(),
            model: self.group.model.clone(),
            records_from: self.day(self.records_from),
            records_to: self.plan.cut_off,
            temperature_c: self.group.temperature_c,
            current_reading: self.reading(self.end),
            conditions: conditions
                .iter()
                .map(|column| self.group.conditions.get(column).cloned())
                .collect(),
        }
    }
}

/// Name and place of every tank, in the order of the file.
pub(super) fn roll(plan: &Plan) -> Vec<(&Site, &Group, String)> {
    let mut tanks = Vec::new();
    for site in &plan.sites {
        let groups = site
            .groups
            .iter()
            .flat_map(|group| std::iter::repeat_n(group, group.tanks));
        for (number, group) in (1..).zip(groups) {
            tanks.push((site, group, format!("{}-T{number:02}", site.code)));
        }
    }
    tanks
}

/// Runs one tank and lets its site's clerk write the rows.
pub(super) fn run(
    plan: &Plan,
    (site, group, asset): (&Site, &Group, String),
    conditions: &[String],
    seed: u64,
) -> (Log, AssetRow) {
    let mut draw = Draw::new(seed, &asset, "wear");
    let tank = Tank::new(plan, site, group, asset, &mut draw);
    let mut log = Log::default();
    let mut serial = 0;
    for name in &group.positions {
        let one = position::run(&tank, name, &mut serial, &mut draw);
        log.seals.extend(one.seals);
        log.inspections.extend(one.inspections);
    }
    if let Some(mess) = &site.mess {
        let mut pen = Draw::new(seed, &tank.asset, "clerk");
        log.seals = clerk::write(log.seals, mess, &mut pen);
    }
    (log, tank.row(conditions))
}
