/* Whether a figure that does not change is frozen, judged by what the same channel did before.
 *
 * A channel whose changes turn back by two of its own steps and more, time and again, has noise beyond its
 * resolution: such a figure cannot stay the same for long, whatever it measures. One without (a coolant
 * in whole degrees, a barometer, a level) may stay for minutes. Known of each channel, and learned from
 * the session: its step (the least change), the share of its changes that turn back by two steps, its
 * mean and its longest stay, and how far the speed moved in the longest. docs/methods.md has the rule,
 * its thresholds and how often it is wrong. Stays are counted in time, not in samples: other sources'
 * rows look at the same figure again. O(1) a sample. */
#pragma once
#include "pull/channel.h"

struct ew_stillness {
  double value, since_s, since_rpm; /* NaN: no figure now */
  double step, change;              /* least; the last one, signed */
  double low, high;
  double mean_s, longest_s, moved_rpm; /* of the stays; moved: by the speed, at most */
  double noisy, noisy_rpm;             /* share that turns back; mean speed at which it changed */
  guint64 changes;
};

void ew_stillness_begin(struct ew_stillness *s);
/* `value` NaN: none. Time may go back (another clock): the stay begins again. */
void ew_stillness_step(struct ew_stillness *s, double value, double time_s, double speed_rpm);
/* Seconds for which it has been frozen; 0: it is not, or it cannot be said. */
double ew_stillness_frozen_s(const struct ew_stillness *s, enum ew_channel channel, double time_s,
                             double speed_rpm);

/* The rows of one source that has no clock of its own: a whole row that stays the same while it says
 * that the engine runs is an old one, repeated. */
struct ew_row_stillness {
  double since_s, mean_s, longest_s; /* since NaN: no row yet */
  guint64 changes;
};
/* `same`: as the row before; `runs`: so it says of the engine. TRUE: it is stuck. */
gboolean ew_row_stillness_step(struct ew_row_stillness *s, gboolean same, gboolean runs,
                               double arrival_s);
