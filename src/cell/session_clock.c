/* The rule of session_clock.h: a sender is settled against the session when it is met or begins again, and followed
 * by the least delayed row of each ten seconds. Session time never goes back. O(1) a row. */
#include "cell/session_clock.h"
#include <math.h>

#define WINDOW_S  10.0
#define DRIFT     0.01 /* clocks apart by more are no clocks: a replay, or a practice at a pace */
#define LATE_PART 0.01

static void settle(struct ew_session_clock *session, struct ew_sender_clock *s, double time_s,
                   double arrival_s) {
  g_assert(session->begun);
  double by_arrival_s = session->first_time_s + (arrival_s - session->first_arrival_s);
  s->known = TRUE;
  /* began again: not before what was decided already */
  s->offset_s =
      (s->first || isfinite(s->last_s) ? fmax(by_arrival_s, session->now_s) : by_arrival_s) -
      time_s;
  s->least_s = s->before_s = s->level_s = INFINITY;
  s->window_s = arrival_s;
  s->late_s = 0;
}

static void follow(struct ew_session_clock *session, struct ew_sender_clock *s, double time_s,
                   double arrival_s) {
  double lag_s = (arrival_s - session->first_arrival_s) - (time_s - session->first_time_s);
  s->least_s = fmin(s->least_s, lag_s);
  s->late_s += LATE_PART * (lag_s - fmin(s->least_s, s->before_s) - s->late_s);
  double length_s = arrival_s - s->window_s;
  if (length_s < WINDOW_S)
    return;
  double level_s = s->first ? s->least_s : s->least_s - session->lag_s;
  double moved_s = isfinite(s->level_s) ? level_s - s->level_s : 0;
  if (s->first)
    session->lag_s += moved_s;
  else if (fabs(moved_s) < DRIFT * length_s)
    s->offset_s += moved_s;
  s->level_s = level_s;
  s->before_s = s->least_s;
  s->least_s = INFINITY;
  s->window_s = arrival_s;
}

double ew_session_clock_step(struct ew_session_clock *session, struct ew_sender_clock *s,
                             double time_s, double arrival_s, gboolean starts_anew) {
  if (!session->begun) {
    *session = (struct ew_session_clock){TRUE, arrival_s, time_s, time_s, 0};
    *s = (struct ew_sender_clock){.known = TRUE, .first = TRUE, .window_s = arrival_s};
    s->least_s = s->before_s = s->level_s = INFINITY;
    s->last_s = time_s;
  }
  if (!s->known || starts_anew || time_s < s->last_s)
    settle(session, s, time_s, arrival_s);
  follow(session, s, time_s, arrival_s);
  s->last_s = time_s;
  double before_s = session->now_s;
  session->now_s = fmax(session->now_s, time_s + s->offset_s);
  g_assert(!(session->now_s < before_s)); /* the alarms hold and trip by it */
  return session->now_s;
}
