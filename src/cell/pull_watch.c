/* Load on, load off, and the pull between them, on one thread, O(1) a sample.
 *
 *             load on                    on for ON_S (BEGAN)
 *     QUIET ----------> LOADED ------------------------------> IN PULL
 *       ^  <-- off -----+                                        |
 *       +---- off for OFF_S, on for LONGEST_S, another clock ----+
 *             (ENDED; DROPPED when it lasted less than LEAST_S)
 *
 * A sample without speed changes nothing; time that goes back, or jumps by over 5 s, ends what is under way. */
#include "cell/pull_watch.h"
#include <math.h>

#define ON_S      0.3
#define OFF_S     0.35
#define LEAST_S   1.5
#define LONGEST_S 300.0
#define LEAST_RPM 1200.0

void ew_pull_watch_reset(struct ew_pull_watch *w) {
  double most = w->most_n_m;
  *w = (struct ew_pull_watch){.most_n_m = most, .on_s = NAN, .off_s = NAN, .last_s = NAN};
}

static gboolean loaded(struct ew_pull_watch *w, double throttle, double torque_n_m) {
  if (torque_n_m > w->most_n_m)
    w->most_n_m = torque_n_m;
  if (!isnan(throttle))
    return throttle > 0.85;
  return torque_n_m > 20 && torque_n_m > 0.35 * w->most_n_m;
}

/* What holds after every sample of finite time, whatever it said. */
static void check_watch(const struct ew_pull_watch *w) {
  g_assert(!(w->on_s > w->last_s) && !(w->off_s > w->last_s)); /* nothing begins in the future */
  g_assert(w->in_pull || w->on || isnan(w->on_s));             /* QUIET remembers no load */
  g_assert(!w->in_pull || !w->on || isnan(w->off_s));          /* under load nothing is ending */
  g_assert(!w->in_pull || (w->from_s <= w->last_s && isfinite(w->on_s)));
  g_assert(!w->in_pull || !(w->lowest_rpm > w->highest_rpm));
}

static enum ew_pull_news finish(struct ew_pull_watch *w) {
  g_assert(w->in_pull && w->off_s >= w->from_s);
  w->in_pull = FALSE;
  w->to_s = w->off_s;
  w->on_s = NAN;
  return w->to_s - w->from_s >= LEAST_S ? EW_PULL_ENDED : EW_PULL_DROPPED;
}

static enum ew_pull_news step(struct ew_pull_watch *w, double time_s, double speed_rpm,
                              double throttle, double torque_n_m) {
  if (time_s < w->last_s || time_s > w->last_s + 5) { /* another clock, or a gap */
    gboolean was = w->in_pull;
    if (was)
      w->off_s = w->last_s;
    enum ew_pull_news news = was ? finish(w) : EW_PULL_NOTHING;
    double from = w->from_s, to = w->to_s;
    ew_pull_watch_reset(w);
    w->from_s = from;
    w->to_s = to;
    w->last_s = time_s;
    return news;
  }
  w->last_s = time_s;
  if (!isnan(speed_rpm))
    w->on = loaded(w, throttle, torque_n_m) && speed_rpm > LEAST_RPM;
  if (w->on) {
    w->off_s = NAN;
    if (isnan(w->on_s))
      w->on_s = time_s;
  } else if (isnan(w->off_s))
    w->off_s = time_s;
  if (!w->in_pull && w->on && time_s - w->on_s >= ON_S) {
    w->in_pull = TRUE;
    w->from_s = w->on_s;
    w->highest_rpm = w->lowest_rpm = speed_rpm;
    return EW_PULL_BEGAN;
  }
  if (!w->on && !w->in_pull)
    w->on_s = NAN;
  if (!w->in_pull)
    return EW_PULL_NOTHING;
  w->highest_rpm = fmax(w->highest_rpm, speed_rpm);
  w->lowest_rpm = fmin(w->lowest_rpm, speed_rpm);
  if (w->on && time_s - w->from_s > LONGEST_S)
    w->off_s = time_s;
  return !isnan(w->off_s) && time_s - w->off_s >= (w->on ? 0 : OFF_S) ? finish(w) : EW_PULL_NOTHING;
}

enum ew_pull_news ew_pull_watch_step(struct ew_pull_watch *w, double time_s, double speed_rpm,
                                     double throttle, double torque_n_m) {
  if (!isfinite(time_s)) /* no moment of anything */
    return EW_PULL_NOTHING;
  enum ew_pull_news news = step(w, time_s, speed_rpm, throttle, torque_n_m);
  check_watch(w);
  return news;
}
