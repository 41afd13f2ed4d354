//! Time that was practised: from take to take, without the rests.

/// A longer pause between two takes is a rest, in seconds: five minutes every half hour (British Association for
/// Performing Arts Medicine).
pub const REST_S: f64 = 5.0 * 60.0;

/// Gives what counts as practised of the time between two takes, in seconds: all of it; `None` where it was a rest.
pub fn practised_s(apart_s: f64) -> Option<f64> {
    (apart_s <= REST_S).then_some(apart_s.max(0.0))
}
