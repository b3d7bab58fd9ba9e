/* What a live session asks of the outside: this machine's outputs, the heartbeat, a shut-down by hand. Alarm
 * and request as one machine: its table of events is in cell/alarm.h. Practice and replay reach
 * nothing but the practice cell. */
#include "cell/output_machine.h"
#include "base/error.h"
#include "base/language.h"
#include "desk/record_session.h"
#include <math.h>

#define SPEED_OLD_S 1.0 /* an older speed is not known any more */

/* A shut-down is tripped, or was asked for by hand, exactly while the request is not idle. */
void ew_session_check_request(const struct ew_session *live) {
  gboolean wanted =
      live->shut_by_hand ||
      (live->alarms && ew_alarms_standing(live->alarms, EW_ALARM_SHUT_DOWN, NULL) > 0);
  g_assert(wanted == (ew_outputs_state(live->outputs) != EW_REQUEST_IDLE));
}

/* Speed as the outputs may rely on it: read within the last second of real time. */
static double speed_now(const struct ew_session *live, double now_s) {
  return live->alarms && now_s - live->speed_arrival_s <= SPEED_OLD_S
             ? ew_alarms_speed(live->alarms)
             : (double)NAN;
}

void ew_session_step_outputs(struct ew_session *live, double now_s) {
  ew_outputs_step(live->outputs, now_s, speed_now(live, now_s));
  ew_session_check_request(live);
}

void ew_session_shut_down(struct ew_session *live) {
  live->shut_by_hand = TRUE;
  ew_outputs_ask(live->outputs);
  ew_session_step_outputs(live, ew_monotonic_s());
}

EW_MESSAGE(asked_for, "desk.asked-for", EW_NOTE, "asked for: {name}");
EW_MESSAGE(not_asked_for, "desk.not-asked-for", EW_DANGER, "COULD NOT ASK FOR: {name}: {why}");

static void output_says(const char *name, gboolean done, const ew_message *why, gpointer user) {
  struct ew_json json = ew_session_news(EW_RECORD_REQUEST);
  ew_json_text(&json, "name", name);
  ew_json_boolean(&json, "done", done);
  ew_session_write_fact(&json, "why", why);
  ew_session_post(
      user, EW_RECORD_REQUEST, &json,
      done ? ew_message(&asked_for, ew_say_text("name", name))
           : ew_message(&not_asked_for, ew_say_text("name", name), ew_say_message("why", why)));
}

static gboolean send_line(const char *line, gpointer user) {
  struct ew_session *live = user;
  guint asked = 0, took = 0;
  for (guint i = 0; i < live->feeds->len; i++) {
    struct ew_source *source = ((struct ew_feed *)g_ptr_array_index(live->feeds, i))->source;
    if (!ew_source_takes_requests(source))
      continue;
    asked++;
    took += ew_source_send(source, line) ? 1 : 0;
  }
  return asked > 0 && took == asked;
}

void ew_session_heartbeat(struct ew_session *live, double now_s) {
  const struct ew_alarm_table *table = live->machine;
  if (!table || isnan(table->heartbeat_s) || now_s < live->beat_s)
    return;
  send_line(table->heartbeat_line, live);
  live->beat_s = now_s + table->heartbeat_s;
}

static gboolean invented(const struct ew_feed *f) {
  return g_str_has_prefix(f->source->url, "practice:") ||
         g_str_has_prefix(f->source->url, "replay:");
}

/* In a session of both, what is invented would drive what is real. */
static gboolean all_of_a_kind(const struct ew_session *live, gboolean *practice, GError **error) {
  guint count = 0;
  for (guint i = 0; i < live->feeds->len; i++)
    count += invented(g_ptr_array_index(live->feeds, i)) ? 1 : 0;
  *practice = count > 0;
  return count == 0 || count == live->feeds->len ||
         ew_refuse(error, "source: practice or a replay can't be recorded together with a real "
                          "source: what is invented would drive what is real");
}

gboolean ew_session_open_outputs(struct ew_session *live, GError **error) {
  g_autofree char *from = NULL;
  if (!all_of_a_kind(live, &live->practice, error))
    return FALSE;
  live->machine = live->practice ? ew_outputs_parse(ew_outputs_usual,
                                                    ew_tr(EW_TEXT("the default lines")), error)
                                 : ew_outputs_of_machine(&from, error);
  if (!live->machine)
    return FALSE;
  live->outputs = ew_outputs_new(send_line, output_says, live);
  ew_outputs_use(live->outputs, live->machine->outputs);
  return TRUE;
}

#define STANDING "alarms standing" /* the setting */

void ew_session_write_standing(struct ew_session *live) {
  g_autoptr(GString) names = g_string_new(live->stood);
  if (!live->store || live->practice)
    return;
  if (live->alarms)
    ew_alarms_standing(live->alarms, EW_ALARM_SHUT_DOWN, names);
  ew_store_setting(live->store, STANDING, names->str);
}

EW_MESSAGE(stood_ended, "desk.shut-down-before-ended", EW_DANGER,
           "SHUT DOWN was not cleared when the last session ended: {names}; no pull is armed until "
           "'clear all'");
EW_MESSAGE(stood_crashed, "desk.shut-down-before-crashed", EW_DANGER,
           "SHUT DOWN was not cleared when the last session crashed: {names}; no pull is armed "
           "until 'clear all'; it is asked for again");

gboolean ew_session_read_stood(struct ew_session *live, struct ew_book *book, GError **error) {
  g_autofree char *names = NULL;
  if (!live->practice && !ew_setting_get(book, STANDING, &names, error))
    return FALSE;
  if (names && *names)
    live->stood = g_steal_pointer(&names);
  return TRUE;
}

void ew_session_take_up(struct ew_session *live) {
  if (!live->stood)
    return;
  struct ew_json json = ew_session_news(EW_RECORD_ALARM);
  ew_json_text(&json, "action", "stood");
  ew_json_text(&json, "names", live->stood);
  ew_json_boolean(&json, "asked_again", live->crashed);
  ew_session_post(
      live, EW_RECORD_ALARM, &json,
      ew_message(live->crashed ? &stood_crashed : &stood_ended, ew_say_text("names", live->stood)));
  if (live->crashed)
    ew_session_shut_down(live);
}
