/* Whether what a source gives is alive: sources that went silent or repeat one row, and channels that two
 * sources give. What is not alive is absent (NaN) for alarms, arming and the screen; what is stored
 * stays as it came. */
#include "desk/record_session.h"
#include <math.h>
#include <string.h>

#define SILENT_S    0.2 /* no sample for so long, and all of the source counts as absent */
#define UNKNOWN_S   2.0 /* the same, before its rate is known */
#define ROWS_KNOWN  3u
#define LEAST_COUNT 4u    /* channels: with fewer a whole row may well stay the same */
#define RUNNING_RPM 700.0 /* a row that says so cannot stay the same */

static void blank(struct ew_feed *f) {
  for (guint i = 0; i < f->channels->len; i++)
    f->inside[i] = NAN;
}

/* Longer than this source ever made us wait. */
static double patience_s(const struct ew_feed *f) {
  double least_s = f->rows < ROWS_KNOWN ? UNKNOWN_S : SILENT_S;
  return fmax(fmax(least_s, 3 * f->period_s), 2 * f->burst_s);
}

void ew_session_watch_silence(struct ew_feed *f, double now_s) {
  struct ew_session *live = f->live;
  if (!f->section || f->source->ended || !(now_s - f->arrival_s > patience_s(f)))
    return;
  blank(f);
  if (!f->silent && live->options->sees)
    live->options->sees(f->channels, f->last_s, f->inside, live->user);
  f->silent = TRUE;
  if (!live->alarms)
    return;
  live->clock.now_s = fmax(live->clock.now_s, f->last_s + f->clock.offset_s + now_s - f->arrival_s);
  ew_session_decide(f, live->clock.now_s);
}

static void report_stuck(struct ew_feed *f, double arrival_s) {
  struct ew_json json = ew_session_news(EW_RECORD_SOURCE);
  ew_json_text(&json, "source", f->source->url);
  ew_json_text(&json, "what", f->stuck ? "stuck" : "moving again");
  ew_json_number(&json, "for_s", arrival_s - f->row_still.since_s);
  ew_session_post(f->live, EW_RECORD_SOURCE, &json,
                  f->stuck ? g_strdup_printf("%s: the same row for %.1f s while it says that the "
                                             "engine runs: its channels count as absent",
                                             f->source->url, arrival_s - f->row_still.since_s)
                           : g_strdup_printf("%s: its rows change again", f->source->url));
}

void ew_feed_watch_rows(struct ew_feed *f, double arrival_s, const double *values) {
  guint count = f->section->channels;
  gboolean runs = f->speed >= 0 && f->inside[f->speed] > RUNNING_RPM;
  gboolean same = count >= LEAST_COUNT && memcmp(f->before, values, count * sizeof(double)) == 0;
  gboolean stuck = ew_row_stillness_step(&f->row_still, same, runs, arrival_s);
  memcpy(f->before, values, count * sizeof(double));
  if (stuck != f->stuck) {
    f->stuck = stuck;
    report_stuck(f, arrival_s);
  }
  if (stuck)
    blank(f);
}
