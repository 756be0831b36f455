//! How to read the interval sheet, and its cautions.

use super::intervals::{LEAST_FAILURES, SheetQuestion, times_as_dear};
use crate::cautions;
use crate::number;
use sealspan_records::words::Outcome;
use sealspan_records::{Records, Seal};

/// How the note on least cost begins: a sheet of one page has no room for it.
pub const LEAST_COST: &str = "Least cost is";

/// How the note on too few failures begins.
pub const FEWER: &str = "With fewer than";

/// How the note on what the share is of begins: a sheet of one page says it beside the duties.
pub const OF_ALL: &str = "The share is one of all seals";

/// How the note on rounding begins.
pub const ROUNDED: &str = "Every interval is rounded down";

/// Said of a defect model that its records contradict, with the figures.
pub const STRAYS: &str = "findings and failures by number of look stray";
/// Said where chance is not ruled out.
pub const SOMEWHAT: &str = "findings and failures by number of look stray somewhat";

/// Whether a doubt says that the records contradict the law.
pub fn unsuited(doubt: &str) -> bool {
    (doubt.starts_with(STRAYS) && !doubt.starts_with(SOMEWHAT))
        || doubt.contains("does not suit these records")
}

/// Seals taken off worn.
pub(super) fn worn(records: &Records) -> usize {
    let worn = |s: &&Seal| s.outcome == Outcome::Worn;
    records.seals.iter().filter(worn).count()
}

/// How to read the sheet, a line each.
pub(super) fn notes(question: &SheetQuestion, worn: usize) -> Vec<String> {
    let share = number::percent(question.share);
    let mut out = vec![
        format!("{OF_ALL} of a group, as these records mix sites and duties: not of every customer's."),
        format!(
            "The interval by which at most {share} fail is a one-sided bound with {} confidence; that of least cost is at {}. The lesser of the two is what to state.",
            number::level(question.confidence),
            question.prices.as_ref().map_or_else(
                || "prices that are not stated".to_owned(),
                |p| format!(
                    "the prices of these records (a failure costs {} times a planned change)",
                    number::significant(times_as_dear(p), 2)
                )
            )
        ),
        format!("{FEWER} {LEAST_FAILURES} failures nothing is stated: wait for more, or join like groups."),
        format!("{ROUNDED}, to a finer step of the calendar where it is shorter than that. Of two clocks, whichever comes first ends a seal's time, so the share holds for both together too."),
        format!("{LEAST_COST} of a replacement age by itself at the estimates, rounded down; a plan weighed over what the estimates leave open, with looks and turns in it, may take another step of the calendar, and where the log does not tell what looks find it reads worn seals as sound, not as failed: it is for who runs the equipment, this sheet for who states an interval."),
        "They hold for the conditions of these records; heat, medium or duty beyond them need records or tests of their own. The maker's limit or a defect found comes first.".to_owned(),
    ];
    if worn > 0 {
        out.push(format!(
            "{} seals were taken off worn. Where the log tells defects they are read so: those intervals are of seals that nobody takes off. Where it cannot, the interval for a share reads them as failed that day (too short rather than too long), least cost as sound till then, as do groups with few of them.",
            number::count(worn as u64)
        ));
    }
    out
}

/// What to mind before an interval is stated.
pub(super) fn sheet_cautions() -> Vec<String> {
    let mut out = cautions::always();
    let more = cautions::all();
    out.extend(
        more.iter()
            .filter(|c| matches!(c.id, "shelf_life" | "extrapolation"))
            .map(|c| c.text.to_owned()),
    );
    out
}

#[cfg(test)]
mod tests {
    use super::{SOMEWHAT, STRAYS, unsuited};

    #[test]
    fn a_law_in_doubt_is_not_yet_unsuited() {
        assert!(unsuited(&format!("{STRAYS} from look 3")));
        assert!(!unsuited(&format!("{SOMEWHAT} from look 3")));
        assert!(unsuited(
            "the law fitted (weibull) does not suit these records (p < 0.004)"
        ));
        assert!(!unsuited("fewer than ten failures"));
    }
}
