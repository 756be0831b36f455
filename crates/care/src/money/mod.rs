//! Money: what an hour and a failure cost and of what, what a change is worth today, when it pays back and how
//! likely it is to lose.

pub mod build_up;
pub mod worth;
