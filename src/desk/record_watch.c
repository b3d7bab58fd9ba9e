/* Whether what a source gives is alive: sources that ended, went silent, or repeat one row. What is not alive
 * is absent (NaN) for alarms, arming and the screen; what is stored stays as it came. And the alarms of
 * the session's own, about sources: they latch as those of the table do, and can't be cleared while what
 * they report goes on. */
#include "desk/record_session.h"
#include "base/language.h"
#include <math.h>
#include <string.h>

#define SILENT_S    0.2 /* no sample for so long, and all of the source counts as absent */
#define UNKNOWN_S   2.0 /* the same, before its rate is known */
#define ROWS_KNOWN  3u
#define AROUND_S    5.0   /* samples to look at around an alarm */
#define LEAST_COUNT 4u    /* channels: with fewer a whole row may well stay the same */
#define RUNNING_RPM 700.0 /* a row that says so cannot stay the same */

static void blank(struct ew_feed *f) {
  for (guint i = 0; i < f->channels->len; i++)
    f->inside[i] = NAN;
}

/* Longer than this source makes us wait while it is well. */
static double patience_s(const struct ew_feed *f) {
  double least_s = f->rows < ROWS_KNOWN ? UNKNOWN_S : SILENT_S;
  return fmax(fmax(least_s, 3 * f->period_s), 2 * fmax(f->burst_s, f->fresh.rhythm_s));
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

void ew_feed_ended(struct ew_feed *f) {
  struct ew_session *live = f->live;
  if (f->section) {
    blank(f);
    if (live->options->sees)
      live->options->sees(f->channels, f->last_s, f->inside, live->user);
    if (live->alarms)
      ew_session_decide(f, live->clock.now_s);
  }
  ew_session_settle_both(live);
}

/* ---- the session's own alarms ---- */

struct raised {
  char *name;
  gboolean goes_on;
};

static void raised_free(struct raised *r) {
  g_free(r->name);
  g_free(r);
}

static struct raised *find_raised(const struct ew_session *live, const char *name) {
  for (guint i = 0; live->raised && i < live->raised->len; i++) {
    struct raised *r = g_ptr_array_index(live->raised, i);
    if (strcmp(r->name, name) == 0)
      return r;
  }
  return NULL;
}

void ew_session_raise(struct ew_feed *f, const struct ew_raising *what, ew_message *given) {
  struct ew_session *live = f->live;
  g_autoptr(ew_message) message = given;
  struct raised *r = find_raised(live, what->name);
  if (r) {
    r->goes_on = TRUE;
    return;
  }
  if (!live->raised)
    live->raised = g_ptr_array_new_with_free_func((GDestroyNotify)raised_free);
  r = g_new0(struct raised, 1);
  *r = (struct raised){g_strdup(what->name), TRUE};
  g_ptr_array_add(live->raised, r);
  const char *action = ew_alarm_action_names[EW_ALARM_NOTICE];
  double time_s = isnan(f->last_s) ? 0 : f->last_s;
  struct ew_trip_row row = {.time_s = time_s,
                            .from_s = time_s - AROUND_S,
                            .to_s = time_s + AROUND_S,
                            .value = what->value,
                            .bound = what->bound,
                            .name = what->name,
                            .action = action,
                            .says = what->says};
  if (f->section)
    ew_store_trip(live->store, &f->section, &time_s, 1, &row);
  struct ew_json json = ew_session_news(EW_RECORD_ALARM);
  ew_json_text(&json, "name", what->name);
  ew_json_text(&json, "action", action);
  ew_json_text(&json, "says", what->says);
  ew_json_text(&json, "watch", "source");
  ew_json_number(&json, "value", what->value);
  ew_json_number(&json, "bound", what->bound);
  ew_json_text(&json, "unit", what->unit);
  ew_json_number(&json, "time_s", time_s);
  ew_json_text(&json, "source", f->source->url);
  ew_session_write_fact(&json, "why", what->why);
  ew_session_post(live, EW_RECORD_ALARM, &json, g_steal_pointer(&message));
}

void ew_session_lower(struct ew_session *live, const char *name) {
  struct raised *r = find_raised(live, name);
  if (r)
    r->goes_on = FALSE;
}

guint ew_session_raised(const struct ew_session *live, GString *names) {
  guint count = live->raised ? live->raised->len : 0;
  for (guint i = 0; i < count; i++)
    g_string_append_printf(names, "%s%s", names->len ? ", " : "",
                           ((struct raised *)g_ptr_array_index(live->raised, i))->name);
  return count;
}

guint ew_session_clear_raised(struct ew_session *live, const char *name) {
  guint cleared = 0;
  for (guint i = live->raised ? live->raised->len : 0; i-- > 0;) {
    const struct raised *r = g_ptr_array_index(live->raised, i);
    if (r->goes_on || (name && strcmp(name, r->name) != 0))
      continue;
    g_ptr_array_remove_index(live->raised, i);
    cleared++;
  }
  return cleared;
}

/* ---- rows ---- */

static char *unreadable_name(const struct ew_feed *f) {
  return g_strdup_printf("rows cannot be read: %s", f->source->url);
}

EW_MESSAGE(unreadable_alarm, "desk.alarm-rows-unreadable", EW_CAUTION,
           "NOTICE: LOOK AT THE LOGGER ({source}: {why})");

void ew_feed_watch_event(struct ew_feed *f, enum ew_source_event event, const ew_message *what) {
  g_autofree char *name = NULL;
  if (event == EW_SOURCE_UNREADABLE) {
    name = unreadable_name(f);
    ew_session_raise(f,
                     &(struct ew_raising){name, EW_TEXT("look at the logger"), what, (double)NAN,
                                          (double)NAN, NULL},
                     ew_message(&unreadable_alarm, ew_say_text("source", f->source->url),
                                ew_say_message("why", what)));
  } else if (event == EW_SOURCE_READABLE || event == EW_SOURCE_ENDED) {
    name = unreadable_name(f);
    ew_session_lower(f->live, name);
  }
}

EW_MESSAGE(stuck_rows, "desk.rows-stuck", EW_CAUTION,
           "{source}: the same row for {time} although it shows the engine running: its channels "
           "count as absent");
EW_MESSAGE(moving_rows, "desk.rows-moving", EW_NOTE, "{source}: its rows change again");

static void report_stuck(struct ew_feed *f, double arrival_s) {
  struct ew_json json = ew_session_news(EW_RECORD_SOURCE);
  ew_json_text(&json, "source", f->source->url);
  ew_json_text(&json, "what", f->stuck ? "stuck" : "moving again");
  ew_json_number(&json, "for_s", arrival_s - f->row_still.since_s);
  ew_session_post(f->live, EW_RECORD_SOURCE, &json,
                  f->stuck ? ew_message(&stuck_rows, ew_say_text("source", f->source->url),
                                        ew_say_quantity("time", EW_KIND_TIME,
                                                        arrival_s - f->row_still.since_s, 1))
                           : ew_message(&moving_rows, ew_say_text("source", f->source->url)));
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
