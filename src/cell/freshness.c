/* The rule of freshness.h in code: a short memory of intervals, its median, and gaps that repeat. Asked with session
 * time only; it reads no clock. */
#include "cell/freshness.h"
#include <math.h>

#define INTERVALS 5.0 /* missed before it is lost */
#define LEAST     3u  /* intervals that make a rate */
#define ALIKE     1.5
#define RHYTHMS   2.0 /* twice the rhythm is waited for */
#define KEPT      3.0 /* rhythms without one of its gaps, and it is forgotten */

void ew_freshness_begin(struct ew_freshness *f, double fixed_s) {
  *f = (struct ew_freshness){.fixed_s = fixed_s, .heard_s = NAN, .median_s = NAN};
}

double ew_freshness_timeout_s(const struct ew_freshness *f) {
  if (!isnan(f->fixed_s))
    return f->fixed_s;
  double usual_s = f->arrivals >= LEAST ? INTERVALS * f->median_s : 0;
  return fmax(fmax(EW_FRESH_FLOOR_S, usual_s), RHYTHMS * f->rhythm_s);
}

gboolean ew_freshness_live(const struct ew_freshness *f, double now_s) {
  return now_s - f->heard_s <= ew_freshness_timeout_s(f); /* never heard: NaN, and no */
}

void ew_freshness_lost(struct ew_freshness *f) {
  f->heard_s = NAN;
}

static void take_median(struct ew_freshness *f) {
  double sorted[EW_FRESH_INTERVALS];
  guint count = MIN(f->arrivals, EW_FRESH_INTERVALS);
  g_assert(count > 0);
  for (guint i = 0; i < count; i++) {
    guint at = i;
    for (; at > 0 && sorted[at - 1] > f->intervals_s[i]; at--)
      sorted[at] = sorted[at - 1];
    sorted[at] = f->intervals_s[i];
  }
  f->median_s = sorted[count / 2];
}

static void take_interval(struct ew_freshness *f, double interval_s) {
  g_assert(interval_s >= 0);
  f->intervals_s[f->arrivals++ % EW_FRESH_INTERVALS] = interval_s;
  take_median(f);
}

/* Three gaps alike are a rhythm. */
static void take_gap(struct ew_freshness *f, double gap_s, double now_s) {
  g_assert(gap_s > 0);
  if (now_s - gap_s - f->gap_ended_s > KEPT * gap_s)
    f->gaps = 0; /* the one before is long ago: this is another story */
  f->gaps_s[f->gaps++ % EW_FRESH_GAPS] = gap_s;
  f->gap_ended_s = now_s;
  double shortest = INFINITY, longest = 0;
  for (guint i = 0; i < EW_FRESH_GAPS; i++) {
    shortest = fmin(shortest, f->gaps_s[i]);
    longest = fmax(longest, f->gaps_s[i]);
  }
  if (f->gaps >= EW_FRESH_GAPS && longest <= ALIKE * shortest)
    f->rhythm_s = longest;
}

void ew_freshness_heard(struct ew_freshness *f, double now_s) {
  double interval_s = now_s - f->heard_s;
  gboolean known = !isnan(interval_s) && interval_s >= 0;
  f->heard_s = now_s;
  if (!known)
    return;
  double short_s = fmax(EW_FRESH_FLOOR_S, f->arrivals >= LEAST ? INTERVALS * f->median_s : 0);
  if (interval_s <= short_s)
    take_interval(f, interval_s);
  else
    take_gap(f, interval_s, now_s);
  if (f->rhythm_s > 0 && now_s - f->gap_ended_s > KEPT * f->rhythm_s)
    f->rhythm_s = 0;
  g_assert(f->rhythm_s >= 0);
}
