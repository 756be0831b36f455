//! One position (or asset) under watch, and the events it had.
//!
//! ```
//! use sealspan_life::recurrence::system::History;
//! let watched = History::new(10.0, 100.0, vec![60.0, 20.0]).unwrap();
//! assert_eq!((watched.from(), watched.to(), watched.events()), (10.0, 100.0, &[20.0, 60.0][..]));
//! let ended = History::to_last_event(0.0, vec![20.0, 60.0]).unwrap();
//! assert_eq!(ended.to(), 60.0);
//! assert!(History::to_last_event(0.0, vec![]).is_err());
//! ```

/// What ended the watching of a system.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// A time fixed apart from the events.
    AtTime,
    /// Its last event: that event then tells nothing of its own time, and trend tests drop it.
    AtEvent,
}

/// Why a history is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NotAHistory {
    /// Not finite, or the end is not after the start.
    #[error("watching must end after it begins, at finite times")]
    Window,
    /// An event outside the watch.
    #[error("an event lies outside the time under watch")]
    Outside,
    /// The end is said to be an event, and there is none.
    #[error("watching is said to end at an event, and there was none")]
    NoEvent,
}

/// Events of one system, watched over (`from`, `to`] on one time axis.
#[derive(Debug, Clone, PartialEq)]
pub struct History {
    from: f64,
    to: f64,
    events: Vec<f64>,
    ended: Ended,
    whole: bool,
}

impl History {
    /// A history watched to a fixed time.
    ///
    /// # Errors
    /// When the window is empty or an event lies outside it.
    ///
    /// ```
    /// use sealspan_life::recurrence::system::History;
    /// let history = History::new(0.0, 100.0, vec![40.0, 10.0]).unwrap();
    /// assert_eq!(history.events(), [10.0, 40.0]);
    /// assert!(History::new(0.0, 100.0, vec![140.0]).is_err());
    /// ```
    pub fn new(from: f64, to: f64, mut events: Vec<f64>) -> Result<Self, NotAHistory> {
        if !(from.is_finite() && to.is_finite() && from < to) {
            return Err(NotAHistory::Window);
        }
        if !events.iter().all(|t| *t > from && *t <= to) {
            return Err(NotAHistory::Outside);
        }
        events.sort_by(f64::total_cmp);
        Ok(Self {
            from,
            to,
            events,
            ended: Ended::AtTime,
            whole: false,
        })
    }

    /// A history that ends with its last event.
    ///
    /// # Errors
    /// When there is no event after `from`.
    pub fn to_last_event(from: f64, events: Vec<f64>) -> Result<Self, NotAHistory> {
        let last = events.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if events.is_empty() {
            return Err(NotAHistory::NoEvent);
        }
        let mut history = Self::new(from, last, events)?;
        history.ended = Ended::AtEvent;
        Ok(history)
    }

    /// The same history, of a system that was new when watching began: its first gap is a whole one.
    #[must_use]
    pub fn new_at_start(self) -> Self {
        Self {
            whole: true,
            ..self
        }
    }

    /// Start of watching, in the unit of the times.
    #[must_use]
    pub fn from(&self) -> f64 {
        self.from
    }

    /// End of watching, in the unit of the times.
    #[must_use]
    pub fn to(&self) -> f64 {
        self.to
    }

    /// Event times, earliest first.
    #[must_use]
    pub fn events(&self) -> &[f64] {
        &self.events
    }

    /// Time under watch.
    #[must_use]
    pub(crate) fn span(&self) -> f64 {
        self.to - self.from
    }

    /// Times of the events since watching began, as far as they tell of a trend: without the last one
    /// when it ended the watch.
    pub(crate) fn telling(&self) -> impl Iterator<Item = f64> + '_ {
        let keep = match self.ended {
            Ended::AtTime => self.events.len(),
            Ended::AtEvent => self.events.len().saturating_sub(1),
        };
        self.events.iter().take(keep).map(|t| t - self.from)
    }

    /// Whole gaps between successive events.
    pub(crate) fn gaps(&self) -> Vec<f64> {
        let start = self.whole.then_some(self.from);
        let times: Vec<f64> = start
            .into_iter()
            .chain(self.events.iter().copied())
            .collect();
        times
            .iter()
            .zip(times.iter().skip(1))
            .map(|(a, b)| b - a)
            .collect()
    }
}
