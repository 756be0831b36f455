//! Intervals where the inspection log cannot tell defects: seals taken off worn are read as failed that day, so that an
//! interval errs towards too short.

use sealspan_records::{Answer, Question, Records, Sample, ask};

/// The outcome of a seal taken off before it failed.
const WORN: &str = "worn";

/// The sample of every group of an answer with removals of worn seals as failures; `None` for one without such removals.
pub(super) fn as_failed(records: &Records, by: &[String], answer: &Answer) -> Vec<Option<Sample>> {
    let question = Question {
        by: by.to_vec(),
        clock: answer.clock,
        mode: Some(WORN.to_owned()),
    };
    let Ok(worn) = ask(records, &question) else {
        return answer.groups.iter().map(|_| None).collect();
    };
    let groups = answer.groups.iter();
    groups
        .map(|group| {
            let removed = worn.groups.iter().find(|g| g.key == group.key)?;
            joined(&group.sample, &removed.sample)
        })
        .collect()
}

/// Row by row: what ended as worn is taken as ended there.
fn joined(all: &Sample, worn: &Sample) -> Option<Sample> {
    let (all, worn) = (all.rows(), worn.rows());
    if all.len() != worn.len() || !worn.iter().any(|w| w.ended()) {
        return None;
    }
    let pairs = all.iter().zip(worn);
    let rows = pairs.map(|(o, w)| if w.ended() && !o.ended() { *w } else { *o });
    Some(Sample::new(rows.collect()))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use sealspan_records::Observation;

    #[test]
    fn a_removal_counts_as_a_failure_at_its_age() {
        let right = |age| Observation::right(age, 0.0, 1.0).unwrap();
        let exact = |age| Observation::exact(age, 0.0, 1.0).unwrap();
        let all = Sample::new(vec![exact(10.0), right(20.0), right(30.0)]);
        let worn = Sample::new(vec![right(10.0), exact(20.0), right(30.0)]);
        let both = joined(&all, &worn).unwrap();
        assert_eq!(both.rows(), [exact(10.0), exact(20.0), right(30.0)]);
        let none = Sample::new(vec![right(10.0), right(20.0), right(30.0)]);
        assert!(joined(&all, &none).is_none());
    }
}
