/* One live session behind the page: the recorder in a thread of its own, its latest figures and its
 * news to every viewer.
 *
 *   idle --start--> recording --stop, or every source ended--> idle
 *
 * A viewer gets the event "live" at up to 20 a second while samples come, at 4 as long as any figure is fresh,
 * and one a second always: a viewer that hears none for longer has lost the server, and may not show its last
 * figures as live. */
#pragma once
#include "serve/http.h"

struct ew_live; /* opaque */

struct ew_live *ew_live_new(const char *book_path, struct ew_http *http); /* main thread */
/* Ends the session and waits until all is stored. */
void ew_live_free(struct ew_live *live);

/* What a session is begun with. `book_path` NULL: the served book; `changed` NULL: nothing was said. Limit and rate of
 * today; NaN: the engine's and the cell's own. `alarms_yaml`: the table of alarms, with its name for messages; both NULL: the book's
 * own, else the template. */
struct ew_live_ask {
  const char *const *sources;
  const char *book_path, *changed;
  double limit_rpm, rate_rpm_s;
  const char *alarms_yaml, *alarms_name;
};
/* The rest from any thread. Refuses a second session. */
gboolean ew_live_start(struct ew_live *live, const struct ew_live_ask *ask, GError **error);
/* A line of control, as ew_record_takes() takes it; what may not be done in a pull is refused. */
gboolean ew_live_control(struct ew_live *live, const char *line, GError **error);
gboolean ew_live_stop(struct ew_live *live, GError **error);
gboolean ew_live_running(struct ew_live *live);
/* The limit given for the session under way; NaN: none was, or there is no session. */
double ew_live_limit_rpm(struct ew_live *live);
/* running, source, since, the set-up said, the alarms that stand, the last news, gauges, and the alarms in force. */
/* `here`: for the person at this machine, who is shown the words of a source that nobody could read. */
void ew_live_write_json(struct ew_live *live, gboolean here, struct ew_json *json);
