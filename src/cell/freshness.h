/* How old a channel may get before its last figure counts for nothing: learned from its own arrivals.
 *
 * The time-out is five of its usual intervals (the median of the last fifteen), half a second at least;
 * half a second alone until three intervals are known. A longer gap is a loss and teaches nothing,
 * until three of them in turn are alike within a half: then they are the channel's rhythm (a sender
 * that sends in batches, or seldom), and twice the rhythm is waited for, as long as it keeps to it.
 * A time-out given in the source's map goes before all that. Five intervals and the floor: common
 * practice, no source. O(15) an arrival, O(1) a question. */
#pragma once
#include <glib.h>

#define EW_FRESH_FLOOR_S   0.5
#define EW_FRESH_INTERVALS 15
#define EW_FRESH_GAPS      3

struct ew_freshness {
  double fixed_s; /* NaN: learned */
  double heard_s; /* NaN: never */
  double intervals_s[EW_FRESH_INTERVALS], gaps_s[EW_FRESH_GAPS];
  guint arrivals, gaps;
  double median_s, rhythm_s, gap_ended_s; /* rhythm 0: none */
};

void ew_freshness_begin(struct ew_freshness *f, double fixed_s);
void ew_freshness_heard(struct ew_freshness *f, double now_s);
/* What it carried cannot be read: absent at once, not when its time is over. */
void ew_freshness_lost(struct ew_freshness *f);
double ew_freshness_timeout_s(const struct ew_freshness *f);
gboolean ew_freshness_live(const struct ew_freshness *f, double now_s);
