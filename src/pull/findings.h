/* What is found while a recording becomes curves, as messages (base/message.h): the kinds that more than one file makes,
 * and those that somebody looks for. */
#pragma once
#include "base/message.h"

extern const struct ew_message_kind ew_pull_no_throttle;      /* full load by torque alone */
extern const struct ew_message_kind ew_pull_no_rotor_inertia; /* a sweep reads low without it */
extern const struct ew_message_kind ew_pull_no_full_throttle;
extern const struct ew_message_kind ew_pull_stuck_samples;
extern const struct ew_message_kind ew_pull_factor;          /* {factor}: {reason} */
extern const struct ew_message_kind ew_pull_weather_unknown; /* nothing was corrected */
extern const struct ew_message_kind ew_pull_needs_fuel_flow; /* nothing was corrected */
extern const struct ew_message_kind ew_pull_altered;         /* {changes} */
