/* One clock for several senders. The first one's own clock is the session's; another is set against it by
 * when its rows arrive, and kept there: the earliest arrivals of each ten seconds say how the two
 * clocks have moved apart (the least delayed of many messages tells of clocks, the rest of the way:
 * common practice in time transfer, no source). The session's time never goes back: rows of one
 * sender that come a little behind another's count as of now. */
#pragma once
#include <glib.h>

struct ew_session_clock {
  gboolean begun;
  double first_arrival_s, first_time_s, now_s;
  double lag_s; /* how far the first sender's clock has moved since it began */
};
struct ew_sender_clock {
  gboolean known, first;
  double offset_s; /* session time = its own time + offset */
  double last_s;
  /* lag: how much later than at its first row a row arrives, by its own clock */
  double least_s, before_s; /* the least of the window at hand, and of the one before */
  double window_s, level_s; /* when the window began; the last least, against the first sender's */
  double late_s;            /* mean delay beyond the least, of the last hundred rows or so */
};
/* `starts_anew`: its clock may be another one now (new channels, a sender that began again). */
double ew_session_clock_step(struct ew_session_clock *session, struct ew_sender_clock *sender,
                             double time_s, double arrival_s, gboolean starts_anew);
