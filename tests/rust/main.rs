//! The tests of the Rust side that need more than one stage: one program, so that the crate is linked once.
//!
//! A test that takes a second or more is marked `#[ignore = "slow"]`: `make test` leaves it out, `make test-slow` runs
//! it.

// Shared with the benches.
#[path = "../called/mod.rs"]
mod called;
#[path = "../studies/challengers.rs"]
mod challengers;
#[path = "../faulty/mod.rs"]
mod faulty;
#[path = "../instruments/mod.rs"]
mod instruments;
#[path = "../judged/mod.rs"]
mod judged;
#[path = "../levels/mod.rs"]
mod levels;
#[path = "../matched/mod.rs"]
mod matched;
#[path = "../open/mod.rs"]
mod open;
#[path = "../studies/mod.rs"]
mod studies;
#[path = "../worlds/mod.rs"]
mod worlds;

#[path = "../house.rs"]
mod house;

mod agitation;
mod agitation_recovers;
mod agreement;
mod any_hand;
mod arithmetic;
mod bad_logs;
mod bed;
mod bed_laws;
mod brew_json;
mod calibrated;
mod calibration;
mod certified_anova;
mod challenged;
mod conditions;
mod contrast;
mod crossed;
mod dialling;
mod errors;
mod estimate;
mod extraction;
mod faults;
mod golden;
mod habits;
mod hand;
mod hand_not_instrument;
mod labels;
mod live;
mod messages;
mod plan;
mod posterior;
mod profile;
mod profile_difference;
mod progress;
mod properties;
mod published_values;
mod reads_logs;
mod recovers_truth;
mod repeatability;
mod stamps;
mod strangers;
mod strangers_files;
mod stream_on_the_scale;
mod warning_limits;
mod water;
mod zero_key;
