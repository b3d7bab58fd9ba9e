/* Cutting pulls out of a stream while it runs: a pull begins when the load has been on for 0.3 s and
 * ends when it has been off for 0.35 s. Load is a throttle above 85 %, or, without a throttle
 * channel, a torque above a third of the most that was seen. Common practice, no source. */
#pragma once
#include <glib.h>

enum ew_pull_news { EW_PULL_NOTHING, EW_PULL_BEGAN, EW_PULL_ENDED, EW_PULL_DROPPED };

struct ew_pull_watch {
  gboolean in_pull;
  double from_s, to_s; /* of the pull under way, or the last one */
  double on_s, off_s, most_n_m, highest_rpm, lowest_rpm, last_s;
  gboolean on;
};
void ew_pull_watch_reset(struct ew_pull_watch *watch);
/* NaN for what is not measured. DROPPED: load was on too shortly, or over too little speed and
 * time, to be a pull. */
enum ew_pull_news ew_pull_watch_step(struct ew_pull_watch *watch, double time_s, double speed_rpm,
                                     double throttle, double torque_n_m);
